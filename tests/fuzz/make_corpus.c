/*
 * Writes the starting points of the fuzz targets: make_corpus FOLDER makes FOLDER/record/, FOLDER/message/ and FOLDER/meter_log/.
 *
 * All of it is made up here, by hand, from the tables of traces/FORMAT.md: every kind of record whole, cut and out of range, a
 * small trace in every form of file, and the exchanges that a port and its partner have. What the fuzzer found later is added beside.
 */
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>
#include <zstd.h>

struct bytes { uint8_t at[4096]; size_t used; };

static void put(struct bytes *b, const void *bytes, size_t length)
{
    if (b->used + length > sizeof b->at)
        abort();
    memcpy(b->at + b->used, bytes, length);
    b->used += length;
}

static void put_u8(struct bytes *b, unsigned value)
{
    put(b, &(uint8_t){ (uint8_t)value }, 1);
}

static void put_u16(struct bytes *b, unsigned value)
{
    put_u8(b, value & 255);
    put_u8(b, value >> 8 & 255);
}

static void put_u32(struct bytes *b, uint32_t value)
{
    put_u16(b, value & 65535);
    put_u16(b, value >> 16);
}

static void put_u32_big(struct bytes *b, uint32_t value)
{
    for (int shift = 24; shift >= 0; shift -= 8)
        put_u8(b, value >> shift & 255);
}

static void put_text(struct bytes *b, const char *text)
{
    put(b, text, strlen(text));
}

static void save_as(const char *kind, const char *name, const void *bytes, size_t length)
{
    char  path[1024];
    FILE *f;

    if (mkdir(kind, 0777) != 0 && errno != EEXIST) {
        perror(kind);
        exit(1);
    }
    snprintf(path, sizeof path, "%s/%s", kind, name);
    f = fopen(path, "wb");
    if (!f || fwrite(bytes, 1, length, f) != length || fclose(f) != 0) {
        perror(path);
        exit(1);
    }
}

/* Header of a record; its body follows. */
static void record_start(struct bytes *b, unsigned kind, unsigned port, unsigned flags, uint32_t duration_ns)
{
    put_u8(b, 1);
    put_u8(b, kind);
    put_u8(b, port);
    put_u8(b, flags);
    put_u32(b, duration_ns);
}

/* A message with its CRC as a PD_PACKET record. */
static void record_packet(struct bytes *b, unsigned set, const void *message, size_t length)
{
    record_start(b, 1, 0, 0, (uint32_t)((89 + 10 * (length + 4)) * 10000 / 3));
    put_u8(b, set);
    put_u8(b, 0);
    put_u16(b, 0);
    put(b, message, length);
    put_u32(b, (uint32_t)crc32(0, message, (uInt)length));
}

static struct bytes single(unsigned cut)
{
    struct bytes b = { .used = 0 };

    put_u8(&b, 0);
    put_u8(&b, cut);
    put_u32(&b, 0x5a3c0000);
    put_u32(&b, 0x18900000);
    return b;
}

static void save_record(const char *name, const struct bytes *b)
{
    save_as("record", name, b->at, b->used);
}

static const uint8_t good_crc[] = { 0x41, 0x01 };
/* Source_Capabilities, revision 3, id 0: 5 V 3 A, 9 V 3 A. */
static const uint8_t two_profiles[] = { 0xa1, 0x21, 0x2c, 0x91, 0x01, 0x08, 0x2c, 0xd1, 0x02, 0x00 };

static void packets(void)
{
    struct bytes b = single(0);

    record_packet(&b, 0, two_profiles, sizeof two_profiles);
    save_record("packet", &b);
    b.at[sizeof two_profiles]++;
    save_record("packet_bad_crc", &b);
    b = single(1);
    record_packet(&b, 3, good_crc, sizeof good_crc);
    save_record("packet_cut", &b);
    b = single(0);
    record_start(&b, 1, 0, 2, 0);
    put_u32(&b, 0x0601); /* SOP', TRUNCATED and NO_CRC, a lone byte */
    put_u8(&b, 0x61);
    save_record("packet_truncated_end_time", &b);
    b = single(0);
    record_start(&b, 1, 0, 0, 0);
    put_u32(&b, 7); /* no such ordered set */
    save_record("packet_bad_set", &b);
}

static void power(void)
{
    struct bytes b = single(0);

    record_start(&b, 3, 2, 0, 0);
    put_u32(&b, 1000000);
    put_u16(&b, 3);
    put_u16(&b, 3);
    for (uint32_t row = 0; row < 3; row++) {
        put_u32(&b, 5012345 + row);
        put_u32(&b, row == 1 ? 0x80000000 : 1500000);
    }
    save_record("power", &b);
    b.used -= 4;
    save_record("power_short", &b);
    b = single(0);
    record_start(&b, 3, 255, 4, 123456);
    put_u32(&b, 0);
    put_u16(&b, 1);
    put_u16(&b, 7);
    for (unsigned k = 0; k < 3; k++)
        put_u32(&b, 0xfffffff0);
    put_text(&b, "later version");
    save_record("power_single_bench", &b);
    b = single(0);
    record_start(&b, 3, 0, 0, 0);
    put_u32(&b, 10);
    put_u16(&b, 0);
    put_u16(&b, 9);
    save_record("power_no_rows", &b);
}

static void bench(void)
{
    struct bytes b = single(0);

    record_start(&b, 5, 255, 5, 0);
    put_u8(&b, 3);
    put_u8(&b, 1);
    put_u16(&b, 0);
    put_u32(&b, 1500);
    put_text(&b, "load \xc3\xa0 1.5 A");
    save_record("mark", &b);
    put_u8(&b, 0xff);
    save_record("mark_no_utf8", &b);
    b = single(0);
    record_start(&b, 5, 255, 4, 0);
    put_u32(&b, 0xff00);
    put_u32(&b, 7);
    put_text(&b, "two\nlines # and 'quotes'");
    save_record("mark_two_lines", &b);
    b = single(0);
    record_start(&b, 8, 255, 0, 0);
    put_text(&b, "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\"}],\"instrument\":{\"time_ns\":20}}");
    save_record("about", &b);
    b.used--;
    save_record("about_no_json", &b);
    b = single(0);
    record_start(&b, 6, 0, 0, 0);
    put_u32(&b, 0xffffffff);
    put_u32(&b, 2);
    save_record("lost", &b);
    b = single(0);
    record_start(&b, 7, 255, 0, 0);
    put_u32(&b, 1);
    put_u32(&b, (uint32_t)-1250);
    put_text(&b, "ambient");
    save_record("temperature", &b);
}

static void line(void)
{
    struct bytes b = single(0);

    record_start(&b, 2, 0, 0, 280000);
    put_u32(&b, 0);
    save_record("hard_reset", &b);
    b = single(0);
    record_start(&b, 4, 0, 0, 0);
    put_u8(&b, 1);
    put_u8(&b, 3);
    put_u16(&b, 1650);
    put_u16(&b, 0xffff);
    put_u16(&b, 0);
    save_record("cc", &b);
    b = single(0);
    record_start(&b, 9, 0, 0, 0);
    put_u32(&b, 8333);
    put_u32(&b, 1);
    put_text(&b, "\xb0\x02\x50\x50\x81\x01");
    save_record("edges", &b);
    put_u8(&b, 0x80);
    save_record("edges_unfinished", &b);
    b = single(0);
    record_start(&b, 0x81, 0, 0, 0);
    put_text(&b, "private");
    save_record("private", &b);
    b = single(0);
    put_u8(&b, 2);
    put_u32(&b, 1);
    save_record("short_header", &b);
}

/* A record of a pcap file. */
static void pcap_record(struct bytes *file, uint32_t s, uint32_t part, const struct bytes *r)
{
    put_u32(file, s);
    put_u32(file, part);
    put_u32(file, (uint32_t)r->used);
    put_u32(file, (uint32_t)r->used);
    put(file, r->at, r->used);
}

static struct bytes sample_record(unsigned k)
{
    struct bytes r = { .used = 0 };

    if (k == 0) {
        record_start(&r, 8, 255, 4, 0);
        put_text(&r, "{\"note\":\"made up\"}");
    } else if (k == 1) {
        record_packet(&r, 0, two_profiles, sizeof two_profiles);
    } else if (k == 2) {
        record_packet(&r, 0, good_crc, sizeof good_crc);
    } else {
        record_start(&r, 3, 0, 0, 0);
        put_u32(&r, 1000);
        put_u32(&r, 0x10001);
        put_u32(&r, 5100000);
    }
    return r;
}

static struct bytes pcap_trace(uint32_t magic)
{
    struct bytes file = { .used = 0 };

    put_u32(&file, magic);
    put_u32(&file, 0x00040002);
    put_u32(&file, 0);
    put_u32(&file, 0);
    put_u32(&file, 262144);
    put_u32(&file, 147);
    for (unsigned k = 0; k < 4; k++) {
        struct bytes r = sample_record(k);

        pcap_record(&file, 1770000000, 1000 * k, &r);
    }
    return file;
}

static struct bytes pcap_trace_big(void)
{
    struct bytes file = { .used = 0 }, r = sample_record(1);

    put_u32_big(&file, 0xa1b2c3d4);
    put_u32_big(&file, 0x00020004);
    put_u32_big(&file, 0);
    put_u32_big(&file, 0);
    put_u32_big(&file, 65535);
    put_u32_big(&file, 147);
    put_u32_big(&file, 1770000000);
    put_u32_big(&file, 999999);
    put_u32_big(&file, (uint32_t)r.used);
    put_u32_big(&file, (uint32_t)r.used);
    put(&file, r.at, r.used);
    return file;
}

static void ng_block(struct bytes *file, uint32_t type, const struct bytes *body)
{
    static const uint8_t zeros[4];
    uint32_t             padded = (uint32_t)(body->used + 3) & ~3u;

    put_u32(file, type);
    put_u32(file, padded + 12);
    put(file, body->at, body->used);
    put(file, zeros, padded - body->used);
    put_u32(file, padded + 12);
}

static struct bytes pcapng_trace(void)
{
    struct bytes file = { .used = 0 }, body = { .used = 0 };

    put_u32(&body, 0x1a2b3c4d);
    put_u32(&body, 1);
    put_u32(&body, 0xffffffff);
    put_u32(&body, 0xffffffff);
    ng_block(&file, 0x0a0d0d0a, &body);
    body.used = 0;
    put_u32(&body, 147);
    put_u32(&body, 262144);
    put_u32(&body, 0x00010009); /* if_tsresol, one byte: nanoseconds */
    put_u32(&body, 9);
    put_u32(&body, 0);
    ng_block(&file, 1, &body);
    for (unsigned k = 0; k < 4; k++) {
        struct bytes r = sample_record(k);

        body.used = 0;
        put_u32(&body, 0);
        put_u32(&body, 0x18900000);
        put_u32(&body, 1000 * k);
        put_u32(&body, (uint32_t)r.used);
        put_u32(&body, (uint32_t)r.used);
        put(&body, r.at, r.used);
        ng_block(&file, 6, &body);
    }
    return file;
}

static void save_packed(const struct bytes *file)
{
    struct bytes gz = { .used = sizeof gz.at }, zst = { .used = 0 };
    z_stream     z = { .avail_in = (uInt)file->used, .next_out = gz.at, .avail_out = sizeof gz.at };
    struct bytes in = *file; /* zlib wants its input writable */

    z.next_in = in.at;
    /* 16 more window bits: a gzip header */
    if (deflateInit2(&z, 9, Z_DEFLATED, 31, 8, Z_DEFAULT_STRATEGY) != Z_OK || deflate(&z, Z_FINISH) != Z_STREAM_END)
        abort();
    gz.used = z.total_out;
    deflateEnd(&z);
    save_record("trace_gzip", &gz);
    zst.used = ZSTD_compress(zst.at, sizeof zst.at, file->at, file->used, 3);
    if (ZSTD_isError(zst.used))
        abort();
    save_record("trace_zstd", &zst);
}

static const char text_trace[] =
    "# a charger says what it has\n"
    "0 * ABOUT {\"device\":\"Lumenbrick 65\"}\n"
    "0.000001 0 CC 1 3.0A\n"
    "0.2 0 SOP a121\t2c91010 82cd10200! until 0.2005\n"
    "0.201 0 SOP a1212c9101082cd10200! until 0.2015\n"
    "0.203 0 SOP' 41010000000\n"
    "0.25 0 V 5.012 I 0.001\n"
    "0.26 0 V - I -1.5 VC 4.9\n"
    "0.3 * MARK load 0 1500 to 1.5 A\n"
    "0.4 0 T 0 31.250 case\n"
    "0.5 0 LOST 3\n"
    "0.6 0 HARD_RESET\n"
    "- 0 CABLE_RESET\n"
    "no line at all\n";

static void traces(void)
{
    struct bytes file = pcap_trace(0xa1b23c4d), other;

    save_record("trace_nano", &file);
    save_packed(&file);
    file.used -= 3;
    save_record("trace_cut", &file);
    other = pcap_trace(0xa1b2c3d4);
    other.at[20] = 148;
    save_record("trace_link_type", &other);
    other = pcap_trace_big();
    save_record("trace_big_micro", &other);
    other = pcapng_trace();
    save_record("trace_ng", &other);
    save_as("record", "trace_text", text_trace, strlen(text_trace));
    save_as("record", "nothing", "", 0);
}

/* Steps of fuzz_message. WHAT: a packet with its CRC and a GoodCRC, pause 0.2 ms; see there. */
enum { SAY = 0x18, SAY_LATER = 0x78, AS_IT_IS = 0x12, RECORD = 0x13 };

static void say(struct bytes *b, unsigned what, unsigned how, unsigned header, unsigned count, const uint32_t *words)
{
    put_u8(b, what);
    put_u8(b, how);
    put_u8(b, 2 + 4 * count);
    put_u16(b, header | count << 12);
    for (unsigned k = 0; k < count; k++)
        put_u32(b, words[k]);
}

static void raw(struct bytes *b, const struct bytes *record)
{
    put_u8(b, RECORD);
    put_u8(b, (unsigned)record->used);
    put(b, record->at, record->used);
}

/* From the source: 0x1a0 role source and DFP, revision 3; from the sink 0x080. */
enum { FROM_SOURCE = 0x1a0, FROM_SINK = 0x080, ID = 0x200 };

static void attach(struct bytes *b)
{
    struct bytes r = { .used = 0 };

    record_start(&r, 4, 0, 0, 0);
    put_u32(&r, 0);
    put_u32(&r, 0);
    raw(b, &r);
    r.at[8] = 1;
    r.at[9] = 3;
    raw(b, &r);
}

static void negotiate(struct bytes *b, unsigned id)
{
    static const uint32_t caps[] = { 0x0801912c, 0x0002d12c, 0x0004b12c, 0x00064145, 0xc8dc213c };
    static const uint32_t ask[] = { 0x2304b12c };

    say(b, SAY_LATER, 0, FROM_SOURCE | 1 | id * ID, 5, caps);
    say(b, SAY, 0, FROM_SINK | 2 | id * ID, 1, ask);
    say(b, SAY, 0, FROM_SOURCE | 3 | (id + 1) * ID, 0, NULL);
    say(b, SAY_LATER, 0, FROM_SOURCE | 6 | (id + 2) * ID, 0, NULL);
}

static void save_message(const char *name, const struct bytes *b)
{
    save_as("message", name, b->at, b->used);
}

static void negotiations(void)
{
    static const uint32_t pps[] = { 0x50012c3c }, wrong[] = { 0x7304b12c };
    struct bytes          b = { .used = 0 };

    attach(&b);
    negotiate(&b, 0);
    save_message("contract", &b);
    say(&b, SAY_LATER, 0, FROM_SINK | 2 | 1 * ID, 1, pps);
    say(&b, SAY, 0, FROM_SOURCE | 3 | 3 * ID, 0, NULL);
    say(&b, SAY, 0, FROM_SOURCE | 6 | 4 * ID, 0, NULL);
    save_message("pps", &b);
    say(&b, SAY_LATER, 0, FROM_SINK | 2 | 2 * ID, 1, wrong);
    say(&b, SAY, 0, FROM_SOURCE | 4 | 5 * ID, 0, NULL);
    save_message("refused", &b);
    say(&b, SAY_LATER, 0, FROM_SINK | 13, 0, NULL);
    say(&b, SAY, 0, FROM_SOURCE | 3, 0, NULL);
    negotiate(&b, 1);
    save_message("soft_reset", &b);
}

static void resets(void)
{
    struct bytes b = { .used = 0 }, r = { .used = 0 };

    attach(&b);
    negotiate(&b, 0);
    record_start(&r, 2, 0, 0, 280000);
    put_u32(&r, 0);
    raw(&b, &r);
    negotiate(&b, 0);
    r.used = 0;
    record_start(&r, 6, 255, 0, 0);
    put_u32(&r, 5);
    put_u32(&r, 1);
    raw(&b, &r);
    negotiate(&b, 5);
    save_message("hard_reset_and_loss", &b);
    b.used = 0;
    for (unsigned copy = 0; copy < 4; copy++)
        say(&b, 0x30, 0, FROM_SOURCE | 1, 1, &(uint32_t){ 0x0801912c });
    say(&b, AS_IT_IS, 0x10, FROM_SINK | 2, 1, &(uint32_t){ 0x1304b12c });
    say(&b, AS_IT_IS, 0x40, FROM_SINK | 2, 1, &(uint32_t){ 0x1304b12c });
    save_message("retries_and_bad_crc", &b);
}

static void swaps(void)
{
    struct bytes b = { .used = 0 };

    attach(&b);
    negotiate(&b, 0);
    say(&b, SAY_LATER, 0, FROM_SINK | 10 | 1 * ID, 0, NULL);
    say(&b, SAY, 0, FROM_SOURCE | 3 | 3 * ID, 0, NULL);
    say(&b, SAY_LATER, 0, 0x0a0 | 6 | 4 * ID, 0, NULL);
    say(&b, SAY_LATER, 0, 0x180 | 6 | 2 * ID, 0, NULL);
    say(&b, SAY_LATER, 0, 0x180 | 1, 1, &(uint32_t){ 0x0801912c });
    save_message("power_swap", &b);
    b.used = 0;
    negotiate(&b, 0);
    for (unsigned type = 9; type <= 11; type += 2) {
        say(&b, SAY_LATER, 0, FROM_SOURCE | type | (type - 6) * ID, 0, NULL);
        say(&b, SAY, 0, FROM_SINK | 3 | (type - 8) * ID, 0, NULL);
    }
    say(&b, SAY_LATER, 0, FROM_SINK | 19 | 4 * ID, 0, NULL);
    save_message("data_and_vconn_swap", &b);
}

static void vendor(void)
{
    static const uint32_t ask[] = { 0xff00a001 };
    static const uint32_t cable[] = { 0xff00a041, 0x18000000, 0, 0, 0x00082052 };
    static const uint32_t partner[] = { 0xff00a041, 0xd0000000, 0, 0x12340000, 0x21000000, 0x01000000 };
    static const uint32_t unstructured[] = { 0x12340001, 0xdeadbeef };
    struct bytes          b = { .used = 0 };

    attach(&b);
    say(&b, SAY, 1, 0x080 | 15, 1, ask);
    say(&b, SAY, 1, 0x180 | 15, 5, cable);
    negotiate(&b, 0);
    say(&b, SAY, 0, FROM_SOURCE | 15 | 3 * ID, 1, ask);
    say(&b, SAY, 0, FROM_SINK | 15 | 1 * ID, 6, partner);
    say(&b, SAY, 0, FROM_SOURCE | 15 | 4 * ID, 2, unstructured);
    say(&b, SAY, 0, FROM_SINK | 16 | 2 * ID, 0, NULL);
    save_message("identity", &b);
}

/* A chunk of an extended message: extended header, then bytes in words. */
static void chunk(struct bytes *b, unsigned header, unsigned extended, unsigned bytes, uint32_t filler)
{
    unsigned length = (bytes + 2 + 3) & ~3u;

    put_u8(b, SAY);
    put_u8(b, 0);
    put_u8(b, 2 + length);
    put_u16(b, header | 0x8000 | length / 4 << 12);
    put_u16(b, extended);
    for (unsigned k = 2; k < length; k++)
        put_u8(b, k - 2 < bytes ? filler >> 8 * (k & 3) & 255 : 0);
}

static void extended(void)
{
    static const uint32_t enter[] = { 0x018c0000 }, entered[] = { 0x02000000 }, done[] = { 0x03000000 };
    struct bytes          b = { .used = 0 };

    attach(&b);
    negotiate(&b, 0);
    say(&b, SAY_LATER, 0, FROM_SINK | 10 | 1 * ID, 1, enter);
    say(&b, SAY, 0, FROM_SOURCE | 10 | 3 * ID, 1, entered);
    say(&b, SAY, 0, FROM_SOURCE | 10 | 4 * ID, 1, done);
    chunk(&b, FROM_SOURCE | 17 | 5 * ID, 0x8000 | 44, 26, 0x0002d12c);
    chunk(&b, FROM_SINK | 17 | 2 * ID, 0x8c00, 0, 0);
    chunk(&b, FROM_SOURCE | 17 | 6 * ID, 0x8800 | 44, 18, 0x0008c12c);
    say(&b, SAY, 0, FROM_SINK | 9 | 3 * ID, 2, (uint32_t[]){ 0x8000012c, 0x0008c12c });
    chunk(&b, FROM_SINK | 16 | 4 * ID, 0x8002, 2, 0x00000300);
    save_message("epr", &b);
    b.used = 0;
    negotiate(&b, 0);
    for (unsigned type = 1; type <= 18; type++) {
        static const uint8_t sizes[] = { 0, 25, 7, 1, 1, 9, 2, 20, 4, 4, 4, 4, 4, 6, 6, 24, 2, 16, 16 };

        chunk(&b, FROM_SOURCE | type | (type + 2) % 8 * ID, 0x8000u | sizes[type], sizes[type], 0x01020304 * type);
    }
    save_message("extended_each", &b);
}

static void every_type(void)
{
    struct bytes b = { .used = 0 };

    negotiate(&b, 0);
    for (unsigned type = 0; type < 32; type++)
        say(&b, SAY_LATER, type % 5, FROM_SOURCE | type | (type + 3) % 8 * ID, 0, NULL);
    save_message("control_each", &b);
    b.used = 0;
    for (unsigned type = 0; type < 32; type++)
        say(&b, SAY_LATER | 4, 0, FROM_SINK | type | type % 8 * ID, 1 + type % 2,
            (uint32_t[]){ 0x10000000 | type << 20 | 0x12c, 0xffffffff });
    save_message("data_each", &b);
}

static void readings(void)
{
    struct bytes b = { .used = 0 }, r = { .used = 0 };

    attach(&b);
    record_start(&r, 3, 0, 0, 0);
    put_u32(&r, 1000000);
    put_u16(&r, 4);
    put_u16(&r, 3);
    for (uint32_t row = 0; row < 4; row++) {
        put_u32(&r, row * 1700000);
        put_u32(&r, row * 20000);
    }
    raw(&b, &r);
    negotiate(&b, 0);
    raw(&b, &r);
    r.used = 0;
    record_start(&r, 5, 255, 0, 0);
    put_u32(&r, 0x0002);
    put_u32(&r, 0);
    raw(&b, &r);
    r.used = 0;
    record_start(&r, 8, 255, 0, 0);
    put_text(&r, "{\"ports\":[{\"port\":0,\"kind\":\"dual\",\"rated_w\":65}]}");
    raw(&b, &r);
    attach(&b);
    negotiate(&b, 0);
    save_message("readings", &b);
}

/* Ticks of 50 ns: 33 to half a cell. A symbol is sent from its lowest bit on. */
enum { HALF = 33, SYNC_1 = 0x18, SYNC_2 = 0x11, EOP = 0x0d };

static void edges_bits(struct bytes *r, unsigned bits, unsigned count, unsigned *since)
{
    for (unsigned k = 0; k < count; k++) {
        put_u8(r, *since);
        if (bits >> k & 1)
            put_u8(r, HALF);
        *since = bits >> k & 1 ? HALF : 2 * HALF;
    }
}

/* A control message and the edges that hold it, which lie 2 s around it: it is found in them. with_eop: else it breaks off. */
static void edges_of(unsigned header, bool with_eop, const char *name)
{
    static const uint8_t symbols[16] = { 30, 9, 20, 21, 10, 11, 14, 15, 18, 19, 22, 23, 26, 27, 28, 29 };
    uint8_t              bytes[6] = { (uint8_t)header, (uint8_t)(header >> 8) };
    uint32_t             crc = (uint32_t)crc32(0, bytes, 2);
    struct bytes         b = { .used = 0 }, r = { .used = 0 };
    unsigned             since = 31; /* with the byte before it 4000 ticks, 200 us: so long before the message the record begins */

    for (unsigned k = 0; k < 4; k++)
        bytes[2 + k] = (uint8_t)(crc >> 8 * k);
    record_start(&r, 9, 0, 0, 2000000000);
    put_u32(&r, 50000);
    put_u32(&r, 0);
    put_u8(&r, 0xa0);
    for (unsigned k = 0; k < 32; k++)
        edges_bits(&r, 2, 2, &since);
    edges_bits(&r, SYNC_1 | SYNC_1 << 5 | SYNC_1 << 10 | SYNC_2 << 15, 20, &since);
    for (unsigned k = 0; k < 12; k++)
        edges_bits(&r, symbols[bytes[k / 2] >> (k % 2 ? 4 : 0) & 15], 5, &since);
    if (with_eop)
        edges_bits(&r, EOP, 5, &since);
    attach(&b);
    negotiate(&b, 0);
    raw(&b, &r);
    say(&b, SAY, 0, header, 0, NULL);
    save_message(name, &b);
}

/* Logs of meters behind a byte of options. */
static void meter_logs(void)
{
    static const struct { const char *name, *text; } logs[] = {
        { "seconds", "\x00Time (s),Voltage (V),Current (A),Power (W)\n0,5.0123,1.5,7.5\n0.1,9,0,0\n0.25,8.95,-0.25,1\n" },
        { "even", "\x80t_ms,VBUS_mv,IBUS_ma\n0,5000,1\n1,5001,2\n2,5002,3\n3,5003,\n4,,5\n5,5005,6\n6,5006,7\n7,5007,8\n8,5008,9\n12,5009,9\n" },
        { "comma", "\x18" "Bench 2;\r\nDatum;Uhrzeit;Spannung V;Strom mA;T1 \xB0" "C\r\n31.01.2026;10:00:00,5;5,01;100;20,5\r\n31.01.2026;10:00:01;-;1;x\r\n" },
        { "iso", "\x02Time|U/V|I/mA\n2026-01-31T10:00:00.123Z|5|1\n2026-01-31T10:00:00.120+01:00|5|1\n2026-01-31 10:00:01|5|1\n" },
        { "ports", "\x00Time (s)\tV1 (V)\tI1 (A)\tV2 (V)\tI2 (A)\tVCONN (V)\n1\t5\t1\t9\t2\t5\n2.5\t5\t1\t\t\t\n" },
        { "midnight", "\x00Time,Voltage\n23:59:59,1\n00:00:01,2\n\"00:00:02,3\n00:00:03,4\n" },
        { "counter", "\x00t (us),V (mV)\n4294967000,1\n4294967290,2\n104,3\n" },
        { "rate", "\x01V,A\n5,1\n5.1,1e-1\n5.2,\n" },
        { "map", "\x04time=1:ms,vbus=b:mV,port=2,ibus=\"c, d\":uA,temp3=4:C\na;b;c, d;e\n1;5000;7;20\n2;5000;7;21\n" },
        { "numbers", "\x05vbus=1,ibus=2:mA\n5.0;100\n5.1;200\n" },
        { "set_back", "\x00Time (s),Voltage (V)\n100,1\n101,2\n3,3\n4,4\n900,5\n6,6\n2,7\n" },
        { "units_below", "\x00Time,Voltage,Current,Temp\n[s],[V],[mA],[deg C]\n1,5,100,20\n2,5,100,20\n" },
    };

    for (size_t i = 0; i < sizeof logs / sizeof logs[0]; i++)
        save_as("meter_log", logs[i].name, logs[i].text, 1 + strlen(logs[i].text + 1));
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fputs("usage: make_corpus FOLDER\n", stderr);
        return 2;
    }
    if (chdir(argv[1]) != 0) {
        perror(argv[1]);
        return 1;
    }
    packets();
    power();
    bench();
    line();
    traces();
    negotiations();
    resets();
    swaps();
    vendor();
    extended();
    every_type();
    readings();
    edges_of(FROM_SOURCE | 18 | 3 * ID, true, "edges_of_a_message");
    edges_of(FROM_SOURCE | 18 | 3 * ID, false, "edges_without_end");
    meter_logs();
    return 0;
}
