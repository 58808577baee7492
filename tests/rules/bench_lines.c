#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include <zlib.h>

enum { GOODCRC_AFTER_US = 100, PACKET_MAX = 2 + 2 + 260 + 8 + 4 };

static void at_start(struct lines *l)
{
    l->now_ns = START_NS;
    l->pause_ns = MS(2);
    l->revision = HEADER_R3;
}

struct lines *lines_new(void)
{
    struct lines *l = calloc(1, sizeof *l);

    assert_non_null(l);
    at_start(l);
    return l;
}

void lines_clear(struct lines *l)
{
    engine_free(l->engine);
    memset(l, 0, offsetof(struct lines, line));
    l->engine = NULL;
    l->findings = 0;
    at_start(l);
}

void lines_free(struct lines *l)
{
    if (l)
        engine_free(l->engine);
    free(l);
}

int lines_setup(void **state)
{
    *state = lines_new();
    return 0;
}

int lines_teardown(void **state)
{
    lines_free(*state);
    return 0;
}

void lines_again(void **state)
{
    lines_teardown(state);
    lines_setup(state);
}

void lines_wait(struct lines *l, int64_t ns)
{
    l->now_ns += ns;
}

static uint64_t line_added(struct lines *l, size_t length)
{
    assert_true(length > 0 && l->count < LINES_MAX);
    l->line[l->count].t_ns = l->now_ns;
    l->line[l->count].at = l->used;
    l->line[l->count].length = length;
    l->used += length;
    return ++l->count;
}

static uint64_t line_add(struct lines *l, unsigned kind, unsigned port, const uint8_t *body, size_t length)
{
    return line_added(l, record_put(l->bytes + l->used, sizeof l->bytes - l->used, (uint8_t)kind, (uint8_t)port,
                                    RECORD_INVENTED, 0, body, length));
}

static void put_le(uint8_t *out, uint32_t value, unsigned bytes)
{
    for (unsigned i = 0; i < bytes; i++)
        out[i] = (uint8_t)(value >> (8 * i));
}

/* One packet as it is: bytes without CRC. Moves now to its end. */
static uint64_t packet_add(struct lines *l, unsigned set, unsigned state, uint8_t *bytes, size_t length, bool spoilt, bool host)
{
    uint32_t crc = (uint32_t)crc32(0, bytes, (uInt)length);
    int64_t  duration_ns = record_nominal_ns(length + 4) + l->length_off_ns;
    int64_t  written_ns = l->unmeasured ? 0 : duration_ns;

    put_le(bytes + length, spoilt ? crc ^ 1 : crc, 4);

    uint64_t frame = line_added(l, record_put_packet(l->bytes + l->used, sizeof l->bytes - l->used, l->port,
        (uint8_t)(RECORD_INVENTED | (host ? RECORD_HOST_TIME : 0)), (uint32_t)written_ns, (uint8_t)set, (uint8_t)state,
        bytes, state & (RECORD_NO_CRC | RECORD_TRUNCATED) ? length : length + 4));

    l->now_ns += duration_ns;
    return frame;
}

static uint16_t header_of(const struct lines *l, unsigned side, unsigned set, unsigned type, unsigned id)
{
    bool source = side == SIDE_SOURCE;
    unsigned header = type | (unsigned)l->revision << 6 | id << 9;

    if (set == SET_SOP)
        header |= (unsigned)source << 8 | (unsigned)(source != l->source_is_ufp) << 5;
    else
        header |= (unsigned)(side == SIDE_CABLE) << 8;
    return (uint16_t)header;
}

/* Who hears it: the plug, or, from the plug, the source (it sources VCONN). */
static unsigned listener(unsigned side, unsigned set)
{
    if (set != SET_SOP)
        return side == SIDE_CABLE ? SIDE_SOURCE : SIDE_CABLE;
    return side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE;
}

static void goodcrc_add(struct lines *l, const struct say *s, unsigned id)
{
    uint8_t  bytes[6];
    unsigned header = header_of(l, listener(s->side, s->set), s->set, CONTROL_GOODCRC, id) ^ s->goodcrc_flip;

    l->now_ns += US(GOODCRC_AFTER_US);
    put_le(bytes, header, 2);
    packet_add(l, s->set, s->state & RECORD_NO_CRC, bytes, 2, false, s->host_time);
}

static unsigned id_take(struct lines *l, const struct say *s)
{
    uint8_t *next = &l->next_id[s->set][s->side];
    unsigned id = s->id_given ? s->id : *next;

    if (s->again)
        id = (*next + 7u) & 7;
    if (s->message_class == CLASS_CONTROL && s->type == CONTROL_SOFT_RESET && !s->id_given) {
        for (unsigned side = SIDE_SOURCE; side <= SIDE_CABLE; side++)
            l->next_id[s->set][side] = 0;
        id = 0;
    }
    if (!s->spoilt)
        *next = (uint8_t)((id + 1) & 7);
    return id;
}

/* Body after the message header; sets the number of data objects. */
static size_t body_put(uint8_t *out, const struct say *s, unsigned *objects)
{
    size_t length = 0;

    *objects = s->count;
    if (s->message_class == CLASS_EXTENDED) {
        unsigned header = s->extended_header ? s->extended_header : (s->unchunked ? 0u : 0x8000u) | s->size;

        assert_true(s->size <= 260);
        put_le(out, header, 2);
        if (s->size)
            memcpy(out + 2, s->block, s->size);
        length = (2u + s->size + 3u) & ~(size_t)3;
        *objects = header & 0x8000 ? (unsigned)(length / 4) : 0;
    } else {
        for (unsigned i = 0; i < s->count; i++)
            put_le(out + 4 * i, s->words[i], 4);
        length = 4u * s->count;
    }
    return (size_t)((int)length + s->bytes_off);
}

uint64_t lines_say(struct lines *l, const struct say *s)
{
    uint8_t  bytes[PACKET_MAX] = { 0 };
    unsigned objects, id = id_take(l, s);
    size_t   length = 2 + body_put(bytes + 2, s, &objects);
    unsigned header = header_of(l, s->side, s->set, s->type, id);

    objects = (objects + (unsigned)(s->objects_off + 8)) & 7;
    header |= objects << 12 | (s->message_class == CLASS_EXTENDED ? 0x8000u : 0);
    if (s->revision_given)
        header = (header & ~0xc0u) | (unsigned)s->revision << 6;
    put_le(bytes, header ^ s->flip, 2);

    uint64_t frame = packet_add(l, s->set, s->state, bytes, length, s->spoilt, s->host_time);

    if (!s->quiet && !s->spoilt)
        goodcrc_add(l, s, (header ^ s->flip) >> 9 & 7);
    l->now_ns += l->pause_ns;
    return frame;
}

uint64_t lines_control(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_CONTROL, .type = (uint8_t)type });
}

uint64_t lines_data(struct lines *l, unsigned side, unsigned type, unsigned count, const uint32_t *words)
{
    struct say s = { .side = (uint8_t)side, .message_class = CLASS_DATA, .type = (uint8_t)type, .count = (uint8_t)count };

    assert_true(count <= 7);
    memcpy(s.words, words, count * sizeof *words);
    return lines_say(l, &s);
}

uint64_t lines_extended(struct lines *l, unsigned side, unsigned type, const void *block, unsigned size)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
                                       .block = block, .size = (uint16_t)size });
}

uint64_t lines_chunks(struct lines *l, unsigned side, unsigned type, const void *block, unsigned size)
{
    static const uint8_t none[2];
    const uint8_t *bytes = block;
    uint64_t frame = 0;

    for (unsigned chunk = 0; chunk == 0 || chunk * 26 < size; chunk++) {
        unsigned left = size - chunk * 26;
        struct say say = { .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
                           .block = bytes + chunk * 26, .size = (uint16_t)(left < 26 ? left : 26),
                           .extended_header = (uint16_t)(0x8000 | chunk << 11 | size) };
        struct say ask = { .side = (uint8_t)listener(side, SET_SOP), .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
                           .block = none, .size = 2, .extended_header = (uint16_t)(0x8400 | chunk << 11) };

        if (chunk)
            lines_say(l, &ask);
        frame = lines_say(l, &say);
    }
    return frame;
}

uint64_t lines_caps(struct lines *l, unsigned count, const uint32_t *words)
{
    return lines_data(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, count, words);
}

uint64_t lines_request(struct lines *l, uint32_t word)
{
    return lines_data(l, SIDE_SINK, DATA_REQUEST, 1, &word);
}

uint64_t lines_epr_request(struct lines *l, uint32_t word, uint32_t copy)
{
    return lines_data(l, SIDE_SINK, DATA_EPR_REQUEST, 2, (const uint32_t[]){ word, copy });
}

void lines_accept_and_ready(struct lines *l)
{
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(100));
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
}

uint64_t lines_negotiate(struct lines *l, unsigned count, const uint32_t *words, uint32_t request)
{
    lines_caps(l, count, words);

    uint64_t frame = lines_request(l, request);

    lines_accept_and_ready(l);
    return frame;
}

uint64_t lines_cable_identity(struct lines *l, unsigned current, unsigned volts, bool epr)
{
    struct say ask = { .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                       .count = 1, .words = { 0xff00a001 } };
    /* ID Header: passive cable (3 in bits 29:27); Cert Stat, Product; Passive Cable VDO: bits 17 EPR, 10:9 VBUS, 6:5 current. */
    struct say answer = { .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                          .count = 5, .words = { 0xff00a041, 0x18000000 | 0x1209, 0, 0x00010000,
                              0x000c2000 | (uint32_t)epr << 17 | volts << 9 | current << 5 } };

    lines_say(l, &ask);
    return lines_say(l, &answer);
}

uint64_t lines_enter_epr(struct lines *l)
{
    /* EPR_Mode actions (bits 31:24): 1 Enter with the sink's PDP, 2 Enter Acknowledged, 3 Enter Succeeded. */
    lines_data(l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x018c0000 });
    lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x02000000 });
    return lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x03000000 });
}

uint64_t lines_epr_caps(struct lines *l, unsigned count, const uint32_t *words)
{
    uint8_t block[4 * PDO_MAX];

    assert_true(count <= PDO_MAX);
    for (unsigned i = 0; i < count; i++)
        put_le(block + 4 * i, words[i], 4);
    return lines_chunks(l, SIDE_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, 4 * count);
}

uint64_t lines_cc(struct lines *l, unsigned attach, unsigned rp)
{
    const uint8_t body[8] = { (uint8_t)attach, (uint8_t)rp, 0xff, 0xff, 0xff, 0xff };

    return line_add(l, RECORD_CC_STATE, l->port, body, sizeof body);
}

uint64_t lines_attach(struct lines *l)
{
    lines_cc(l, 0, 0);
    lines_wait(l, MS(10));

    uint64_t frame = lines_cc(l, 1, 3);

    lines_wait(l, MS(150));
    return frame;
}

uint64_t lines_detach(struct lines *l)
{
    uint64_t frame = lines_cc(l, 0, 0);

    lines_ids_reset(l);
    lines_wait(l, MS(10));
    return frame;
}

void lines_ids_reset(struct lines *l)
{
    memset(l->next_id, 0, sizeof l->next_id);
}

void lines_power_swap(struct lines *l)
{
    enum { POWER_ROLE = 1 << 8 };

    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(50));
    /* The old source shows the sink's role already with its PS_RDY. */
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_ROLE });
    lines_wait(l, MS(50));
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_ROLE, .goodcrc_flip = POWER_ROLE });
    lines_ids_reset(l);
    l->source_is_ufp = !l->source_is_ufp;
    lines_wait(l, MS(30));
}

uint64_t lines_reset(struct lines *l, unsigned which)
{
    const uint8_t body[4] = { (uint8_t)which };
    int64_t  duration_ns = record_nominal_ns(0) + l->length_off_ns;
    uint64_t frame = line_added(l, record_put(l->bytes + l->used, sizeof l->bytes - l->used, RECORD_RESET_SIGNAL, l->port, RECORD_INVENTED,
                                              l->resets_measured ? (uint32_t)duration_ns : 0, body, sizeof body));

    if (which == RECORD_HARD_RESET)
        lines_ids_reset(l);
    else
        memset(l->next_id[SET_SOP1], 0, sizeof l->next_id - sizeof l->next_id[SET_SOP]);
    l->now_ns += duration_ns;
    return frame;
}

uint64_t lines_lost(struct lines *l, uint32_t count)
{
    uint8_t body[8] = { 0 };

    put_le(body, count, 4);
    return line_add(l, RECORD_LOST, l->port, body, sizeof body);
}

uint64_t lines_power(struct lines *l, int32_t vbus_uv, int32_t ibus_ua)
{
    const int32_t cells[] = { vbus_uv, ibus_ua };

    return line_added(l, record_put_power(l->bytes + l->used, sizeof l->bytes - l->used, l->port, RECORD_INVENTED, 0, 0, 1,
                                          RECORD_VBUS | RECORD_IBUS, cells));
}

uint64_t lines_power_rows(struct lines *l, int64_t interval_ns, unsigned rows, unsigned columns, const int32_t *cells)
{
    return line_added(l, record_put_power(l->bytes + l->used, sizeof l->bytes - l->used, l->port,
                                          RECORD_INVENTED | l->power_flags, 0, rows > 1 ? (uint32_t)interval_ns : 0, (uint16_t)rows, (uint8_t)columns, cells));
}

uint64_t lines_power_block(struct lines *l, int32_t vbus_uv, uint16_t rows)
{
    int32_t cells[LINES_ROWS];

    assert_true(rows <= LINES_ROWS);
    for (unsigned k = 0; k < rows; k++)
        cells[k] = vbus_uv;
    return line_added(l, record_put_power(l->bytes + l->used, sizeof l->bytes - l->used, l->port, RECORD_INVENTED, 0, MS(1), rows,
                                          RECORD_VBUS, cells));
}

uint64_t lines_about(struct lines *l, unsigned port, const char *json)
{
    return line_add(l, RECORD_ABOUT, port, (const uint8_t *)json, strlen(json));
}

uint64_t lines_mark(struct lines *l, unsigned action, unsigned subject)
{
    const uint8_t body[8] = { (uint8_t)action, (uint8_t)subject };

    return line_add(l, RECORD_MARK, RECORD_PORT_BENCH, body, sizeof body);
}

uint64_t lines_mark_by_hand(struct lines *l, unsigned action, unsigned subject)
{
    const uint8_t body[8] = { (uint8_t)action, (uint8_t)subject };

    return line_added(l, record_put(l->bytes + l->used, sizeof l->bytes - l->used, RECORD_MARK, RECORD_PORT_BENCH,
                                    RECORD_INVENTED | RECORD_HOST_TIME, 0, body, sizeof body));
}

uint64_t lines_raw(struct lines *l, unsigned set, unsigned state, const void *bytes, size_t length)
{
    int64_t  duration_ns = record_nominal_ns(length) + l->length_off_ns;
    uint64_t frame = line_added(l, record_put_packet(l->bytes + l->used, sizeof l->bytes - l->used, l->port, RECORD_INVENTED,
                                                     l->unmeasured ? 0 : (uint32_t)duration_ns, (uint8_t)set, (uint8_t)state, bytes, length));

    l->now_ns += duration_ns + l->pause_ns;
    return frame;
}

uint64_t lines_edges(struct lines *l, const struct edges *e)
{
    static uint8_t body[RECORD_BYTES_MAX];
    size_t         used = 8;
    int64_t        now_ns = l->now_ns, last = 0;

    memset(body, 0, used);
    put_le(body, e->tick_ps, 4);
    body[4] = e->level;
    for (size_t k = 0; k < e->count; k++) {
        uint64_t step = (uint64_t)(e->at[k] - last);

        last = e->at[k];
        do {
            assert_true(used < sizeof body);
            body[used++] = (uint8_t)((step & 0x7f) | (step > 0x7f ? 0x80 : 0));
            step >>= 7;
        } while (step > 0);
    }
    l->now_ns = e->start_ns;
    uint64_t frame = line_added(l, record_put(l->bytes + l->used, sizeof l->bytes - l->used, RECORD_CC_EDGES, l->port, RECORD_INVENTED,
                                              e->duration_ns, body, used));

    l->now_ns = now_ns;
    return frame;
}

uint32_t word_fixed(unsigned mv, unsigned ma)
{
    return mv / 50 << 10 | ma / 10;
}

uint32_t word_variable(unsigned min_mv, unsigned max_mv, unsigned ma)
{
    return UINT32_C(2) << 30 | max_mv / 50 << 20 | min_mv / 50 << 10 | ma / 10;
}

uint32_t word_battery(unsigned min_mv, unsigned max_mv, unsigned mw)
{
    return UINT32_C(1) << 30 | max_mv / 50 << 20 | min_mv / 50 << 10 | mw / 250;
}

uint32_t word_pps(unsigned min_mv, unsigned max_mv, unsigned ma)
{
    return UINT32_C(0xc) << 28 | max_mv / 100 << 17 | min_mv / 100 << 8 | ma / 50;
}

uint32_t word_epr_avs(unsigned min_mv, unsigned max_mv, unsigned watts)
{
    return UINT32_C(0xd) << 28 | max_mv / 100 << 17 | min_mv / 100 << 8 | watts;
}

uint32_t word_spr_avs(unsigned ma_15v, unsigned ma_20v)
{
    return UINT32_C(0xe) << 28 | ma_15v / 10 << 10 | ma_20v / 10;
}

uint32_t word_ask_fixed(unsigned position, unsigned op_ma, unsigned max_ma)
{
    return (uint32_t)position << 28 | op_ma / 10 << 10 | max_ma / 10;
}

uint32_t word_ask_battery(unsigned position, unsigned op_mw, unsigned max_mw)
{
    return (uint32_t)position << 28 | op_mw / 250 << 10 | max_mw / 250;
}

uint32_t word_ask_pps(unsigned position, unsigned mv, unsigned ma)
{
    return (uint32_t)position << 28 | mv / 20 << 9 | ma / 50;
}

uint32_t word_ask_avs(unsigned position, unsigned mv, unsigned ma)
{
    return (uint32_t)position << 28 | mv / 25 << 9 | ma / 50;
}

static void finding_keep(void *context, const struct finding *f)
{
    struct lines *l = context;

    assert_true(l->findings < LINES_FINDINGS);
    l->finding[l->findings++] = *f;
}

struct place { int64_t t_ns; unsigned line; };

static int place_order(const void *a, const void *b)
{
    const struct place *one = a, *other = b;

    if (one->t_ns != other->t_ns)
        return one->t_ns < other->t_ns ? -1 : 1;
    return one->line < other->line ? -1 : 1;
}

/* Frames are numbers of lines as they were added; played in order of time, equal times as added. */
static void play_in_order(struct lines *l)
{
    struct place *places = calloc(l->count + 1u, sizeof *places);

    assert_non_null(places);
    for (unsigned n = 0; n < l->count; n++)
        places[n] = (struct place){ l->line[n].t_ns, n };
    qsort(places, l->count, sizeof *places, place_order);
    for (unsigned n = 0; n < l->count; n++) {
        unsigned      k = places[n].line;
        struct record r;

        record_read(l->bytes + l->line[k].at, l->line[k].length, false, l->line[k].t_ns, k + UINT64_C(1), &r);
        assert_true(engine_feed(l->engine, &r, false));
    }
    free(places);
}

void lines_play(struct lines *l, const struct engine_options *options)
{
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX };

    if (options)
        o = *options;
    o.finding = finding_keep;
    o.context = l;
#ifdef PORTASSAY_MUTANTS
    o.mutant = getenv("PORTASSAY_MUTANT");
#endif
    engine_free(l->engine);
    l->findings = 0;
    l->engine = engine_new(&o);
    assert_non_null(l->engine);
    play_in_order(l);
}

void lines_run(struct lines *l, const struct engine_options *options)
{
    lines_play(l, options);
    engine_end(l->engine, l->now_ns);
}

struct result lines_result(const struct lines *l, const char *id)
{
    for (unsigned i = 0; i < engine_rules(l->engine); i++) {
        struct result r = engine_result(l->engine, i);

        if (strcmp(r.rule->id, id) == 0)
            return r;
    }
    fail_msg("no rule %s in this build", id);
    return (struct result){ 0 };
}

const struct finding *lines_finding(const struct lines *l, const char *id, unsigned verdict, unsigned k)
{
    for (unsigned i = 0; i < l->findings; i++)
        if (l->finding[i].verdict == verdict && strcmp(l->finding[i].rule->id, id) == 0 && k-- == 0)
            return &l->finding[i];
    return NULL;
}

void expect_verdict(const struct lines *l, const char *id, unsigned verdict)
{
    struct result r = lines_result(l, id);

    if (r.verdict != verdict)
        fail_msg("%s: %s, expected %s", id, verdict_name(r.verdict), verdict_name(verdict));
}

void expect_counts(const struct lines *l, const char *id, unsigned passed, unsigned failed, unsigned undecided)
{
    struct counts c = lines_result(l, id).counts;

    if (c.passed != passed || c.failed != failed || c.undecided != undecided)
        fail_msg("%s: %u passed %u failed %u undecided, expected %u %u %u", id, (unsigned)c.passed, (unsigned)c.failed,
                 (unsigned)c.undecided, passed, failed, undecided);
}

static void expect_finding(const struct lines *l, const char *id, unsigned verdict, uint64_t frame, const struct finding **out)
{
    const struct finding *f = lines_finding(l, id, verdict, 0);

    expect_verdict(l, id, verdict);
    if (!f)
        fail_msg("%s: no finding", id);
    if (f->frame != frame)
        fail_msg("%s: found in frame %u, expected %u", id, (unsigned)f->frame, (unsigned)frame);
    if (lines_finding(l, id, verdict, 1))
        fail_msg("%s: a second finding, in frame %u", id, (unsigned)lines_finding(l, id, verdict, 1)->frame);
    *out = f;
}

void expect_fail(const struct lines *l, const char *id, uint64_t frame, unsigned whom)
{
    const struct finding *f;

    expect_finding(l, id, VERDICT_FAIL, frame, &f);
    if (f->whom != whom)
        fail_msg("%s: about the %s, expected the %s", id, whom_name(f->whom), whom_name(whom));
}

void expect_undecided(const struct lines *l, const char *id, uint64_t frame, unsigned cause)
{
    const struct finding *f;

    expect_finding(l, id, VERDICT_UNDECIDED, frame, &f);
    if (f->cause != cause)
        fail_msg("%s: cause %u, expected %u", id, (unsigned)f->cause, cause);
}

static bool named(const char *ids, const char *id)
{
    const char *at = ids ? strstr(ids, id) : NULL;

    return at && (at == ids || at[-1] == ' ') && (at[strlen(id)] == ' ' || at[strlen(id)] == '\0');
}

void expect_only(const struct lines *l, const char *group, const char *ids)
{
    for (unsigned i = 0; i < engine_rules(l->engine); i++) {
        struct result r = engine_result(l->engine, i);
        bool found = r.verdict == VERDICT_FAIL || r.verdict == VERDICT_UNDECIDED;

        if (strncmp(r.rule->id, group, strlen(group)) == 0 && found != named(ids, r.rule->id))
            fail_msg("%s: %s", r.rule->id, verdict_name(r.verdict));
    }
}
