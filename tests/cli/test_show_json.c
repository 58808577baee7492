/*
 * show --json: every key of "show --json, a line a record", on traces in the text form. The words are published ones: a vendor's table
 * of an 18 W source, the log of a sample application, examples of mailing lists; each is named beside its check.
 */
#include "tests/cli/program.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

static struct run shown;
static struct cJSON *line;

static void show(const struct lines *l, const char *option)
{
    shown = option ? RUN_ON(l->text, "show", "--json", option, "-") : RUN_ON(l->text, "show", "--json", "-");
    assert_int_equal(shown.status, 0);
}

static struct cJSON *line_get(unsigned n)
{
    cJSON_Delete(line);
    line = json_line_of(shown.out, n);
    assert_non_null(line);
    return line;
}

static int done(void **state)
{
    (void)state;
    cJSON_Delete(line);
    line = NULL;
    run_free(&shown);
    shown = (struct run){ 0 };
    return 0;
}

static const struct cJSON *element(const struct cJSON *array, int k)
{
    const struct cJSON *item = cJSON_GetArrayItem(array, k);

    assert_non_null(item);
    return item;
}

/* Word, position and supply. */
static void assert_pdo(const struct cJSON *pdo, const char *word, int position, const char *supply)
{
    assert_string_equal(text_of(pdo, "word"), word);
    assert_int_equal(number_of(pdo, "position"), position);
    assert_string_equal(text_of(pdo, "supply"), supply);
}

static void a_packet_has_its_keys(void **state)
{
    static const uint32_t words[] = { 0x0801912c }; /* H. Krogerus, linux-usb 2021: 5 V 3 A, Unconstrained Power */
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "10.000000000 0 V 5.0");
    packet_add(&l, "10.001200345", 0, "SOP", header_of(1, 1, 3, true), words, 1, false);
    show(&l, NULL);
    struct cJSON *j = line_get(1);

    assert_int_equal(number_of(j, "frame"), 2);
    assert_int_equal(number_of(j, "t_ns"), 1200345);
    assert_int_equal(number_of(j, "port"), 0);
    assert_string_equal(text_of(j, "kind"), "packet");
    assert_string_equal(text_of(j, "set"), "SOP");
    assert_string_equal(text_of(j, "from"), "source");
    assert_string_equal(text_of(j, "class"), "data");
    assert_string_equal(text_of(j, "type"), "Source_Capabilities");
    assert_int_equal(number_of(j, "id"), 3);
    assert_string_equal(text_of(j, "rev"), "3.x");
    assert_string_equal(text_of(j, "crc"), "good");
    assert_true(is_null(j, "duration_ns"));
    assert_int_equal(cJSON_GetArraySize(member(j, "flags")), 0);
    assert_int_equal(strncmp(text_of(j, "bytes"), "a1172c910108", 12), 0);
    assert_int_equal(strlen(text_of(j, "bytes")), 2 * (2 + 4 + 4));
    const struct cJSON *pdo = element(member(j, "objects"), 0);

    assert_pdo(pdo, "0x0801912c", 1, "fixed");
    assert_int_equal(number_of(pdo, "mv"), 5000);
    assert_int_equal(number_of(pdo, "ma"), 3000);
    assert_true(flag_of(pdo, "unconstrained"));
    assert_false(flag_of(pdo, "dual_role_power"));
    assert_false(flag_of(pdo, "usb_suspend"));
    assert_false(flag_of(pdo, "usb_comm"));
    assert_false(flag_of(pdo, "dual_role_data"));
    assert_false(flag_of(pdo, "unchunked"));
    assert_false(flag_of(pdo, "epr_capable"));
    assert_int_equal(number_of(pdo, "peak"), 0);
}

static void every_source_object_has_its_own_keys(void **state)
{
    static const uint32_t words[] = {
        0x0801912c, /* fixed 5 V 3 A */
        0xc8dc2128, /* vendor source table: PPS 3.3..11 V 2 A, power limited */
        0xe006414f, /* SPR AVS 4 A, 3.35 A: sysfs sample of the 2025-10-15 patch, linux-usb list */
        0x4641912c, /* battery 5..5 V...: bits 31:30 = 01, by the layout */
        0x8f0190c8, /* variable 5..12 V 2 A: kernel usb-connector.yaml PDO_VAR(5000, 12000, 2000) */
        0xd230968c, /* EPR AVS 15..28 V 140 W: derived from the layout, no publication */
        0xf0000001, /* reserved: bits 31:28 all set */
    };
    static struct lines l;

    (void)state;
    l.used = 0;
    packet_add(&l, "1", 2, "SOP", header_of(1, 7, 0, true), words, 7, false);
    show(&l, NULL);
    const struct cJSON *objects = member(line_get(0), "objects");

    assert_int_equal(cJSON_GetArraySize(objects), 7);
    const struct cJSON *pps = element(objects, 1), *avs = element(objects, 2), *battery = element(objects, 3);
    const struct cJSON *variable = element(objects, 4), *epr = element(objects, 5);

    assert_pdo(pps, "0xc8dc2128", 2, "pps");
    assert_int_equal(number_of(pps, "min_mv"), 3300);
    assert_int_equal(number_of(pps, "max_mv"), 11000);
    assert_int_equal(number_of(pps, "ma"), 2000);
    assert_true(flag_of(pps, "limited"));
    assert_pdo(avs, "0xe006414f", 3, "spr_avs");
    assert_int_equal(number_of(avs, "ma_9_15v"), 4000);
    assert_int_equal(number_of(avs, "ma_15_20v"), 3350);
    /* 0x4641912c: 29:20 = 100 (5 V), 19:10 = 100 (5 V), 9:0 = 300 (75 W). */
    assert_pdo(battery, "0x4641912c", 4, "battery");
    assert_int_equal(number_of(battery, "min_mv"), 5000);
    assert_int_equal(number_of(battery, "max_mv"), 5000);
    assert_int_equal(number_of(battery, "mw"), 75000);
    assert_pdo(variable, "0x8f0190c8", 5, "variable");
    assert_int_equal(number_of(variable, "min_mv"), 5000);
    assert_int_equal(number_of(variable, "max_mv"), 12000);
    assert_int_equal(number_of(variable, "ma"), 2000);
    assert_pdo(epr, "0xd230968c", 6, "epr_avs");
    assert_int_equal(number_of(epr, "min_mv"), 15000);
    assert_int_equal(number_of(epr, "max_mv"), 28000);
    assert_int_equal(number_of(epr, "pdp_w"), 140);
    assert_pdo(element(objects, 6), "0xf0000001", 7, "reserved");
    assert_null(member(pps, "unconstrained")); /* flags stand in the first fixed object alone */
}

static void a_sink_object_has_a_sinks_flags(void **state)
{
    static const uint32_t words[] = { 0x3601912c, 0x000640e1 }; /* H. Krogerus, linux-usb 2021: port sink PDO1 and PDO2 */
    static struct lines l;

    (void)state;
    l.used = 0;
    packet_add(&l, "1", 0, "SOP", header_of(4, 2, 0, false), words, 2, false);
    show(&l, NULL);
    const struct cJSON *objects = member(line_get(0), "objects");
    const struct cJSON *first = element(objects, 0), *second = element(objects, 1);

    assert_string_equal(text_of(line, "type"), "Sink_Capabilities");
    assert_string_equal(text_of(line, "from"), "sink");
    assert_true(flag_of(first, "dual_role_power"));
    assert_true(flag_of(first, "higher_capability"));
    assert_true(flag_of(first, "usb_comm"));
    assert_true(flag_of(first, "dual_role_data"));
    assert_false(flag_of(first, "unconstrained"));
    assert_int_equal(number_of(first, "fr_swap"), 0);
    assert_int_equal(number_of(second, "mv"), 20000);
    assert_int_equal(number_of(second, "ma"), 2250);
    assert_null(member(second, "fr_swap"));
    assert_null(member(first, "epr_capable"));
}

/* An offer of 5 V, 9 V and PPS, and a request to it. */
static void offer_and_request(struct lines *l, uint32_t request)
{
    static const uint32_t words[] = { 0x0801912c, 0x0002d12c, 0xc8dc2128 };

    l->used = 0;
    packet_add(l, "1.000", 0, "SOP", header_of(1, 3, 0, true), words, 3, false);
    packet_add(l, "1.001", 0, "SOP", header_of(1, 0, 0, false), NULL, 0, false); /* GoodCRC */
    packet_add(l, "1.002", 0, "SOP", header_of(2, 1, 0, false), &request, 1, false);
    show(l, NULL);
    line_get(2);
}

static void a_request_is_read_against_the_object_that_it_asks_for(void **state)
{
    static struct lines l;

    (void)state;
    /* Position 2, operating 3 A, at most 3 A, USB Communications, No USB Suspend. */
    offer_and_request(&l, 2u << 28 | 1u << 25 | 1u << 24 | 300u << 10 | 300u);
    const struct cJSON *rdo = element(member(line, "objects"), 0);

    assert_string_equal(text_of(line, "type"), "Request");
    assert_string_equal(text_of(rdo, "word"), "0x2304b12c");
    assert_int_equal(number_of(rdo, "position"), 2);
    assert_int_equal(number_of(rdo, "op_ma"), 3000);
    assert_int_equal(number_of(rdo, "max_ma"), 3000);
    assert_true(flag_of(rdo, "usb_comm"));
    assert_true(flag_of(rdo, "no_usb_suspend"));
    assert_false(flag_of(rdo, "mismatch"));
    assert_false(flag_of(rdo, "unchunked"));
    assert_false(flag_of(rdo, "epr_capable"));
    assert_false(flag_of(rdo, "give_back"));
    done(NULL);
    /* Position 3, the programmable one: 8.00 V in steps of 20 mV, 1.5 A in steps of 50 mA, Capability Mismatch. */
    offer_and_request(&l, 3u << 28 | 1u << 26 | 400u << 9 | 30u);
    rdo = element(member(line, "objects"), 0);
    assert_int_equal(number_of(rdo, "mv"), 8000);
    assert_int_equal(number_of(rdo, "op_ma"), 1500);
    assert_true(flag_of(rdo, "mismatch"));
    assert_null(member(rdo, "max_ma"));
}

static void a_request_of_the_published_log_reads_as_published(void **state)
{
    /* Sample application's log: RDO 0x1680292c: position 1, mismatch, USB communications, unchunked; 100 mA, at most 3 A. */
    static struct lines l;

    (void)state;
    offer_and_request(&l, 0x1680292c);
    const struct cJSON *rdo = element(member(line, "objects"), 0);

    assert_int_equal(number_of(rdo, "position"), 1);
    assert_int_equal(number_of(rdo, "op_ma"), 100);
    assert_int_equal(number_of(rdo, "max_ma"), 3000);
    assert_true(flag_of(rdo, "mismatch"));
    assert_true(flag_of(rdo, "usb_comm"));
    assert_true(flag_of(rdo, "unchunked"));
    assert_false(flag_of(rdo, "no_usb_suspend"));
}

static void a_type_without_a_name_is_reserved_with_its_number(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    packet_add(&l, "1", 0, "SOP", header_of(30, 0, 0, true), NULL, 0, false);
    show(&l, NULL);
    assert_string_equal(text_of(line_get(0), "class"), "control");
    assert_string_equal(text_of(line, "type"), "reserved");
    assert_int_equal(number_of(line, "number"), 30);
}

static void a_crc_is_good_bad_or_absent(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    packet_add(&l, "1", 0, "SOP", header_of(3, 0, 0, true), NULL, 0, true);
    line_add(&l, "2 0 SOP a301!");
    /* Annex example of the standard, as re-typed in public code: message 01 01, CRC 0x2FC51328. */
    line_add(&l, "4 0 SOP 01012813c52f");
    show(&l, NULL);
    assert_string_equal(text_of(line_get(0), "crc"), "bad");
    assert_string_equal(text_of(line_get(1), "crc"), "absent");
    assert_string_equal(text_of(line_get(2), "crc"), "good");
    assert_string_equal(text_of(line, "type"), "GoodCRC");
    assert_string_equal(text_of(line, "rev"), "1.0");
}

static void ordered_sets_and_speakers_are_named(void **state)
{
    static const char *const sets[] = { "SOP'", "SOP''", "SOP'_Debug", "SOP''_Debug" };
    static struct lines l;

    (void)state;
    l.used = 0;
    for (unsigned i = 0; i < 4; i++)
        packet_add(&l, "1", 0, sets[i], 0x0100 | 0x0080 | 16, NULL, 0, false); /* Not_Supported from a cable plug */
    show(&l, NULL);
    for (unsigned i = 0; i < 4; i++) {
        assert_string_equal(text_of(line_get(i), "set"), sets[i]);
        if (i < 2)
            assert_string_equal(text_of(line, "from"), "cable");
    }
}

/* EPR_Source_Capabilities in two chunks: 7 SPR objects with fillers, then positions 8 to 11. */
static void chunks_stand_on_lines_and_the_objects_on_the_last(void **state)
{
    static const uint32_t words[11] = { 0x0801912c, 0x0002d12c, 0, 0, 0, 0, 0, 0x0008c1f4, 0xd230968c, 0, 0x0008c1f4 };
    static struct lines l;
    uint8_t block[44];

    (void)state;
    for (unsigned k = 0; k < 11; k++)
        for (unsigned i = 0; i < 4; i++)
            block[4 * k + i] = (uint8_t)(words[k] >> 8 * i);
    l.used = 0;
    extended_add(&l, "1.000", 0, "SOP", header_of(17, 7, 0, true) | HEADER_EXTENDED, 0x8000 | 44, block, 26);
    extended_add(&l, "1.010", 0, "SOP", header_of(17, 1, 0, false) | HEADER_EXTENDED, 0x8000 | 1u << 11 | 1u << 10, NULL, 0);
    extended_add(&l, "1.020", 0, "SOP", header_of(17, 5, 1, true) | HEADER_EXTENDED, 0x8000 | 1u << 11 | 44, block + 26, 18);
    show(&l, NULL);
    const struct cJSON *chunk = member(line_get(0), "chunk");

    assert_string_equal(text_of(line, "class"), "extended");
    assert_string_equal(text_of(line, "type"), "EPR_Source_Capabilities");
    assert_int_equal(number_of(chunk, "number"), 0);
    assert_false(flag_of(chunk, "request"));
    assert_int_equal(number_of(chunk, "size"), 44);
    assert_null(member(line, "objects"));
    chunk = member(line_get(1), "chunk");
    assert_int_equal(number_of(chunk, "number"), 1);
    assert_true(flag_of(chunk, "request"));
    chunk = member(line_get(2), "chunk");
    assert_int_equal(number_of(chunk, "number"), 1);
    const struct cJSON *objects = member(line, "objects");

    assert_int_equal(cJSON_GetArraySize(objects), 5);
    assert_pdo(element(objects, 1), "0x0002d12c", 2, "fixed");
    assert_pdo(element(objects, 2), "0x0008c1f4", 8, "fixed");
    assert_int_equal(number_of(element(objects, 2), "mv"), 28000);
    assert_int_equal(number_of(element(objects, 2), "ma"), 5000);
    assert_pdo(element(objects, 3), "0xd230968c", 9, "epr_avs");
    assert_pdo(element(objects, 4), "0x0008c1f4", 11, "fixed");
}

static void an_extended_block_is_data_by_its_rows(void **state)
{
    /* PPS_Status: 9000 mV in 20 mV steps, 1.5 A in 50 mA steps, mode bit 3 = current limit. */
    static const uint8_t block[] = { 0xc2, 0x01, 30, 0x08 };
    static const uint8_t unknown[] = { 0xff, 0xff, 0xff, 0x00 };
    static struct lines l;

    (void)state;
    l.used = 0;
    extended_add(&l, "1.0", 0, "SOP", header_of(12, 2, 0, true) | HEADER_EXTENDED, 0x8000 | 4, block, 4);
    extended_add(&l, "1.1", 0, "SOP", header_of(12, 2, 1, true) | HEADER_EXTENDED, 0x8000 | 4, unknown, 4);
    show(&l, NULL);
    const struct cJSON *data = member(line_get(0), "data");

    assert_string_equal(text_of(line, "type"), "PPS_Status");
    assert_int_equal(number_of(data, "mv"), 9000);
    assert_int_equal(number_of(data, "ma"), 1500);
    assert_int_equal(number_of(data, "operating_mode"), 1);
    data = member(line_get(1), "data");
    assert_true(is_null(data, "mv")); /* 0xFFFF, 0xFF: not supported, so no quantity */
    assert_true(is_null(data, "ma"));
}

static void other_objects_have_their_word_and_fields(void **state)
{
    static const uint32_t revision = 0x32100000; /* Chromium EC test usb_pd_rev3.c: revision 3.2, version 1.0 */
    static const uint32_t identity[] = { 0xff008041, 0x6c001234, 0, 0x56780100 };
    static struct lines l;

    (void)state;
    l.used = 0;
    packet_add(&l, "1.0", 0, "SOP", header_of(12, 1, 0, true), &revision, 1, false);
    packet_add(&l, "1.1", 0, "SOP", header_of(15, 4, 1, true), identity, 4, false);
    show(&l, NULL);
    const struct cJSON *o = element(member(line_get(0), "objects"), 0);

    assert_string_equal(text_of(line, "type"), "Revision");
    assert_string_equal(text_of(o, "word"), "0x32100000");
    assert_string_equal(text_of(o, "object"), "revision");
    const struct cJSON *objects = member(line_get(1), "objects");

    assert_int_equal(cJSON_GetArraySize(objects), 4);
    o = element(objects, 0);
    assert_string_equal(text_of(o, "word"), "0xff008041");
    assert_int_equal(number_of(o, "svid"), 0xff00);
    assert_int_equal(number_of(o, "command"), 1);
    assert_int_equal(number_of(o, "command_type"), 1);
    o = element(objects, 1);
    assert_string_equal(text_of(o, "object"), "id_header");
    assert_int_equal(number_of(o, "vid"), 0x1234);
    assert_int_equal(number_of(element(objects, 3), "pid"), 0x5678);
}

static void records_of_every_other_kind_have_their_keys(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "1.0 0 HARD_RESET");
    line_add(&l, "1.1 1 CABLE_RESET");
    line_add(&l, "1.2 0 V 9.012 I -1.503");
    line_add(&l, "1.3 0 CC 1 3.0A");
    line_add(&l, "1.4 * MARK load 1 1500 a \"step\"");
    line_add(&l, "1.5 * MARK plugged 0 in");
    line_add(&l, "1.6 0 LOST 3");
    line_add(&l, "1.7 0 T 2 31.250 case top");
    line_add(&l, "1.8 * ABOUT {\"device\":\"Lumenbrick 65\",\"big\":9007199254740993}");
    show(&l, NULL);
    assert_string_equal(text_of(line_get(0), "kind"), "reset");
    assert_string_equal(text_of(line, "which"), "hard");
    assert_string_equal(text_of(line_get(1), "which"), "cable");
    assert_int_equal(number_of(line, "port"), 1);
    assert_string_equal(text_of(line_get(2), "kind"), "power");
    assert_int_equal(number_of(line, "rows"), 1);
    assert_string_equal(element(member(line, "columns"), 0)->valuestring, "vbus_uv");
    assert_string_equal(element(member(line, "columns"), 1)->valuestring, "ibus_ua");
    assert_int_equal(element(member(line, "first"), 0)->valueint, 9012000);
    assert_int_equal(element(member(line, "min"), 1)->valueint, -1503000);
    assert_int_equal(element(member(line, "max"), 0)->valueint, 9012000);
    assert_int_equal(number_of(line, "interval_ns"), 0);
    assert_null(member(line, "values"));
    assert_string_equal(text_of(line_get(3), "kind"), "cc");
    assert_int_equal(number_of(line, "attach"), 1);
    assert_int_equal(number_of(line, "rp"), 3);
    assert_true(is_null(line, "cc1_mv"));
    assert_true(is_null(line, "cc2_mv"));
    assert_string_equal(text_of(line_get(4), "kind"), "mark");
    assert_int_equal(number_of(line, "port"), 255);
    assert_int_equal(number_of(line, "action"), 3);
    assert_int_equal(number_of(line, "subject"), 1);
    assert_int_equal(number_of(line, "value"), 1500);
    assert_string_equal(text_of(line, "text"), "a \"step\"");
    assert_int_equal(number_of(line_get(5), "action"), 1);
    assert_string_equal(text_of(line_get(6), "kind"), "lost");
    assert_int_equal(number_of(line, "count"), 3);
    assert_int_equal(number_of(line, "where"), 0);
    assert_string_equal(text_of(line_get(7), "kind"), "temperature");
    assert_int_equal(number_of(line, "probe"), 2);
    assert_int_equal(number_of(line, "mc"), 31250);
    assert_string_equal(text_of(line, "label"), "case top");
    assert_string_equal(text_of(line_get(8), "kind"), "about");
    assert_string_equal(text_of(member(line, "about"), "device"), "Lumenbrick 65");
    assert_non_null(strstr(shown.out, "9007199254740993")); /* every digit */
    for (unsigned n = 0; n < 9; n++) {
        assert_int_equal(number_of(line_get(n), "frame"), n + 1);
        assert_int_equal(number_of(line, "t_ns"), (int64_t)n * 100000000);
        assert_true(is_null(line, "duration_ns"));
        assert_true(cJSON_IsArray(member(line, "flags")));
    }
}

static void v_lists_every_row_of_a_power_record(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "1.2 0 V 9.012 I 1.503");
    show(&l, "-v");
    const struct cJSON *row = element(member(line_get(0), "values"), 0);

    assert_int_equal(element(row, 0)->valueint, 9012000);
    assert_int_equal(element(row, 1)->valueint, 1503000);
}

static void a_line_that_cannot_be_read_is_a_damaged_record_with_its_number(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "1.0 0 HARD_RESET");
    line_add(&l, "1.1 0 SOP zz");
    line_add(&l, "1.2 0 CABLE_RESET");
    show(&l, NULL);
    assert_string_equal(text_of(line_get(1), "kind"), "damaged");
    assert_int_equal(number_of(line, "frame"), 2);
    assert_true(strlen(text_of(line, "why")) > 0);
    assert_string_equal(text_of(line_get(2), "which"), "cable");
}

static void flags_of_a_record_are_words(void **state)
{
    /* A pcap file by hand: nanosecond magic, link type 147, one HARD_RESET with all three flags and 273333 ns. */
    static const uint8_t bytes[] = {
        0x4d, 0x3c, 0xb2, 0xa1, 2, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 0, 147, 0, 0, 0,
        100, 0, 0, 0, 0, 0, 0, 0, 12, 0, 0, 0, 12, 0, 0, 0,
        1, 2, 0, 7, 0xb5, 0x2b, 0x04, 0x00, 0, 0, 0, 0,
    };

    (void)state;
    file_write("flags.pcap", bytes, sizeof bytes);
    shown = RUN("show", "--json", file_path("flags.pcap"));
    assert_int_equal(shown.status, 0);
    const struct cJSON *flags = member(line_get(0), "flags");

    assert_int_equal(number_of(line, "duration_ns"), 273333);
    assert_int_equal(number_of(line, "t_ns"), 0);
    assert_int_equal(cJSON_GetArraySize(flags), 3);
    assert_string_equal(element(flags, 0)->valuestring, "host_time");
    assert_string_equal(element(flags, 1)->valuestring, "end_time");
    assert_string_equal(element(flags, 2)->valuestring, "invented");
}

static void filters_leave_the_lines_asked_for(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "1.0 0 HARD_RESET");
    line_add(&l, "2.0 1 HARD_RESET");
    line_add(&l, "3.0 * MARK note - hello");
    line_add(&l, "4.0 * MARK plugged 1");
    packet_add(&l, "5.0", 1, "SOP", header_of(3, 0, 0, true), NULL, 0, false);
    packet_add(&l, "6.0", 1, "SOP", header_of(6, 0, 1, true), NULL, 0, false);
    static const struct { const char *options[3]; const char *frames; } cases[] = {
        { { "--port=0" }, "1 3 " },
        { { "--port=1" }, "2 3 4 5 6 " },
        { { "--since=3" }, "4 5 6 " },
        { { "--until=1" }, "1 2 " },
        { { "--since=1", "--until=2" }, "2 3 " },
        { { "--kind=reset" }, "1 2 " },
        { { "--kind=reset", "--kind=mark" }, "1 2 3 4 " },
        { { "--message=Accept" }, "5 " },
        { { "--message=Accept", "--kind=reset" }, "1 2 5 " },
        { { "--message=Accept", "--message=PS_RDY", "--kind=packet" }, "5 6 " },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const char *arguments[8] = { "show", "--json", "-" };
        char        frames[64] = "";

        for (unsigned k = 0; k < 3 && cases[i].options[k]; k++)
            arguments[3 + k] = cases[i].options[k];
        shown = program_run(l.text, arguments);
        assert_int_equal(shown.status, 0);
        for (unsigned n = 0; (line = json_line_of(shown.out, n)); n++) {
            size_t used = strlen(frames);

            frames[used] = (char)('0' + number_of(line, "frame"));
            frames[used + 1] = ' ';
            cJSON_Delete(line);
        }
        assert_string_equal(frames, cases[i].frames);
        done(NULL);
    }
}

#define SHOWS(test) cmocka_unit_test_teardown(test, done)

int main(void)
{
    const struct CMUnitTest tests[] = {
        SHOWS(a_packet_has_its_keys),
        SHOWS(every_source_object_has_its_own_keys),
        SHOWS(a_sink_object_has_a_sinks_flags),
        SHOWS(a_request_is_read_against_the_object_that_it_asks_for),
        SHOWS(a_request_of_the_published_log_reads_as_published),
        SHOWS(a_type_without_a_name_is_reserved_with_its_number),
        SHOWS(a_crc_is_good_bad_or_absent),
        SHOWS(ordered_sets_and_speakers_are_named),
        SHOWS(chunks_stand_on_lines_and_the_objects_on_the_last),
        SHOWS(an_extended_block_is_data_by_its_rows),
        SHOWS(other_objects_have_their_word_and_fields),
        SHOWS(records_of_every_other_kind_have_their_keys),
        SHOWS(v_lists_every_row_of_a_power_record),
        SHOWS(a_line_that_cannot_be_read_is_a_damaged_record_with_its_number),
        SHOWS(flags_of_a_record_are_words),
        SHOWS(filters_leave_the_lines_asked_for),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
