/*
 * The signal itself: wire.bit-drift, wire.preamble, wire.ordered-set, wire.end-of-packet. Numbers typed from the catalogue: a drift of 0.25 %
 * at the most, of every 32 bits against the last 32 of the preamble, give or take two ticks in 32 bits; 64 bits of preamble, the first a 0;
 * fewer are undecided where the edges begin less than 20 us before them; four right K-codes; EOP, and no reserved symbol.
 */
#include "tests/decode/bmc_line.h"
#include "tests/rules/line_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static const char *const four[] = { "wire.bit-drift", "wire.preamble", "wire.ordered-set", "wire.end-of-packet" };
enum { FOUR = 4, TICK_24_MS = 41667, TICK_FINE = 1000 };

/* A packet on the line: its bytes, how they are sent, and what of it is recorded. What is 0 is as it should be. */
struct shot {
    uint8_t            side, set, id;   /* SET_SOP, SET_SOP1 */
    uint8_t            bytes[10];       /* an Alert; with its CRC */
    size_t             length;
    struct wave_packet wave;
    double             tick_ps, lead_us, tail_us, jitter_ps;
    uint64_t           seed;            /* of the jitter */
    double             shift_cells;     /* change number `shifted` comes so many cells late */
    size_t             shifted;
    bool               no_record, no_edges, bad;
    unsigned           pieces;          /* records of edges */
    double             hole_us;         /* between them */
    uint64_t           edges_frame;     /* of the first, once it is sent */
};

static struct shot shot_of(struct lines *l, unsigned side, unsigned set)
{
    struct shot s = { .side = (uint8_t)side, .set = (uint8_t)set, .tick_ps = TICK_24_MS, .lead_us = 30, .tail_us = 25, .pieces = 1 };
    unsigned    header = DATA_ALERT | (unsigned)l->revision << 6 | (unsigned)l->next_id[set][side] << 9 | 1u << 12;

    header |= set == SET_SOP ? (side == SIDE_SOURCE ? 0x120u : 0) : (side == SIDE_CABLE ? 0x100u : 0);
    s.bytes[0] = (uint8_t)header;
    s.bytes[1] = (uint8_t)(header >> 8);
    s.bytes[5] = 0x01;
    s.length = wave_crc_add(s.bytes, 6);
    s.wave = wave_packet_of(set == SET_SOP ? WAVE_SOP : WAVE_SOP1, NULL, s.length);
    return s;
}

static struct shot by_source(struct lines *l)
{
    return shot_of(l, SIDE_SOURCE, SET_SOP);
}

/* Piece k of n, cut at a change: the next begins at the last change of the one before, or so much later. */
static void put_piece(struct lines *l, struct shot *s, int64_t start_ns, const struct wave_ticks *seen, int64_t until, unsigned k)
{
    size_t        from = seen->count * k / s->pieces, to = seen->count * (k + 1) / s->pieces;
    int64_t       begin = k ? seen->at[from - 1] : 0, gap = k ? (int64_t)(s->hole_us * 1e6 / s->tick_ps) : 0;
    int64_t      *at = calloc(to - from + 1, sizeof *at);
    struct edges  e = { .tick_ps = (uint32_t)s->tick_ps, .level = seen->level != (from % 2 != 0), .at = at };
    double        duration_ns = k + 1 == s->pieces ? (double)(until - begin) * s->tick_ps / 1000 : 0;

    assert_non_null(at);
    for (; from < to; from++)
        if (seen->at[from] - begin >= gap)
            at[e.count++] = seen->at[from] - begin - gap;
        else
            e.level = !e.level;
    e.start_ns = start_ns + (int64_t)((double)(begin + gap) * s->tick_ps / 1000);
    e.duration_ns = (uint32_t)(duration_ns - (double)gap * s->tick_ps / 1000 * (k + 1 == s->pieces));
    uint64_t frame = lines_edges(l, &e);

    s->edges_frame = k ? s->edges_frame : frame;
    free(at);
}

static void put_edges(struct lines *l, struct shot *s, int64_t start_ns)
{
    struct wave       w;
    struct wave_ticks seen;

    wave_begin(&w, false);
    wave_wait(&w, s->lead_us * 1e6);
    wave_send(&w, &s->wave);
    if (s->shift_cells != 0)
        w.at_ps[s->shifted] += s->shift_cells * 1e12 / s->wave.rate_hz;
    seen = wave_see(&w, &(struct wave_instrument){ .tick_ps = s->tick_ps, .jitter_ps = s->jitter_ps, .seed = s->seed });
    for (unsigned k = 0; k < s->pieces; k++)
        put_piece(l, s, start_ns - (int64_t)(s->lead_us * 1000), &seen, (int64_t)((w.now_ps + s->tail_us * 1e6) / s->tick_ps), k);
    free(seen.at);
    wave_free(&w);
}

/* Sends it at `now`; then 2 ms of quiet. Its frame: that of the packet, or where there is none of the edges. */
static uint64_t shoot(struct lines *l, struct shot *s)
{
    int64_t start_ns = l->now_ns;

    s->wave.bytes = s->bytes;
    if (!s->no_edges)
        put_edges(l, s, start_ns);
    uint64_t frame = s->edges_frame;

    if (!s->no_record) {
        uint8_t bytes[10];

        memcpy(bytes, s->bytes, s->length);
        bytes[6] ^= s->bad ? 0x10 : 0;
        frame = lines_raw(l, s->set, 0, bytes, s->length);
        if (!s->bad)
            l->next_id[s->set][s->side] = (l->next_id[s->set][s->side] + 1) & 7;
    } else {
        lines_wait(l, MS(1));
    }
    lines_wait(l, MS(2));
    return frame;
}

/* None of the four fails or is undecided but this one, on that packet. */
static void expect_alone(struct lines *l, const char *id)
{
    for (unsigned k = 0; k < FOUR; k++)
        if (!id || strcmp(four[k], id) != 0)
            expect_counts(l, four[k], (unsigned)lines_result(l, four[k]).counts.passed, 0, 0);
}

static void every_sound_packet_passes(void **state)
{
    struct lines *l = *state;
    struct shot   s;

    line_begin(l);
    for (unsigned side = SIDE_SOURCE; side <= SIDE_SINK; side++) {
        s = shot_of(l, side, SET_SOP);
        shoot(l, &s);
    }
    s = shot_of(l, SIDE_CABLE, SET_SOP1);
    shoot(l, &s);
    lines_run(l, NULL);
    for (unsigned k = 0; k < FOUR; k++)
        expect_counts(l, four[k], 3, 0, 0);
}

static void without_edges_nothing_is_seen_and_that_is_said(void **state)
{
    struct lines   *l = *state;
    struct unjudged u;
    bool            said = false;

    line_begin(l);
    lines_run(l, NULL);
    for (unsigned k = 0; k < FOUR; k++)
        expect_verdict(l, four[k], VERDICT_NOT_SEEN);
    for (unsigned k = 0; engine_unjudged(l->engine, NULL, k, &u); k++)
        said = said || (u.missing == EVIDENCE_EDGES && u.rules == FOUR && u.port == 0);
    assert_true(said);
}

static void with_edges_none_are_missing(void **state)
{
    struct lines   *l = *state;
    struct shot     s;
    struct unjudged u;

    line_begin(l);
    s = by_source(l);
    shoot(l, &s);
    lines_run(l, NULL);
    for (unsigned k = 0; engine_unjudged(l->engine, NULL, k, &u); k++)
        assert_int_not_equal(u.missing, EVIDENCE_EDGES);
}

static uint64_t reset_with_edges(struct lines *l, unsigned which, const char *wrong)
{
    struct shot s = { .tick_ps = TICK_24_MS, .lead_us = 30, .tail_us = 25, .pieces = 1 };

    s.wave = wave_packet_of(which == RECORD_HARD_RESET ? WAVE_HARD_RESET : WAVE_CABLE_RESET, NULL, 0);
    if (wrong)
        s.wave.codes[1] = wrong;
    put_edges(l, &s, l->now_ns);
    return lines_reset(l, which);
}

static void of_a_reset_signal_the_ordered_set_alone_is_judged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    reset_with_edges(l, RECORD_HARD_RESET, NULL);
    lines_wait(l, MS(5));
    reset_with_edges(l, RECORD_CABLE_RESET, NULL);
    lines_wait(l, MS(5));
    lines_run(l, NULL);
    expect_counts(l, "wire.ordered-set", 2, 0, 0);
    expect_verdict(l, "wire.bit-drift", VERDICT_NOT_SEEN);
    expect_verdict(l, "wire.preamble", VERDICT_NOT_SEEN);
    expect_verdict(l, "wire.end-of-packet", VERDICT_NOT_SEEN);
}

static void nobody_is_accused_of_a_reset_signal(void **state)
{
    for (unsigned which = RECORD_HARD_RESET; which <= RECORD_CABLE_RESET; which++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        uint64_t frame = reset_with_edges(l, which, "11110");

        lines_wait(l, MS(5));
        lines_run(l, NULL);
        expect_undecided(l, "wire.ordered-set", frame, CAUSE_ORIGIN);
    }
}

/* Two ticks in 32 bits of 300 kbit/s: 0.0019 % where they last 1 ns, 0.078 % at 24 MS/s, 0.31 % at 6 MS/s. */
static void a_drift_is_held_against_a_quarter_of_a_per_cent(void **state)
{
    static const struct { double drift, tick_ps; unsigned verdict, cause; } cases[] = {
        { 0.00245, TICK_FINE, VERDICT_PASS, 0 },  { -0.00245, TICK_FINE, VERDICT_PASS, 0 },
        { 0.0025, TICK_FINE, VERDICT_UNDECIDED, CAUSE_UNCERTAINTY }, { -0.0025, TICK_FINE, VERDICT_UNDECIDED, CAUSE_UNCERTAINTY },
        { 0.00255, TICK_FINE, VERDICT_FAIL, 0 },  { -0.00255, TICK_FINE, VERDICT_FAIL, 0 },
        { 0.0005, TICK_24_MS, VERDICT_PASS, 0 },  { 0.0025, TICK_24_MS, VERDICT_UNDECIDED, CAUSE_UNCERTAINTY },
        { 0.0045, TICK_24_MS, VERDICT_FAIL, 0 },  { -0.0045, TICK_24_MS, VERDICT_FAIL, 0 },
        { 0, 135000, VERDICT_UNDECIDED, CAUSE_TICK }, { 0, 166667, VERDICT_UNDECIDED, CAUSE_TICK },
        { 0.02, 166667, VERDICT_UNDECIDED, CAUSE_TICK },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.wave.drift = cases[k].drift;
        s.tick_ps = cases[k].tick_ps;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_verdict(l, "wire.bit-drift", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "wire.bit-drift", frame, WHO_SOURCE);
        if (cases[k].verdict == VERDICT_UNDECIDED)
            expect_undecided(l, "wire.bit-drift", frame, cases[k].cause);
        expect_alone(l, "wire.bit-drift");
    }
}

static void a_drift_is_told_in_per_cent_with_what_two_ticks_are_worth(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.drift = -0.005;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    const struct finding *f = lines_finding(l, "wire.bit-drift", VERDICT_FAIL, 0);

    assert_non_null(f);
    assert_true(f->measured >= -580 && f->measured <= -420); /* thousandths of a per cent */
    assert_int_equal(f->uncertainty, 78);
    assert_int_equal(f->low, -250);
    assert_int_equal(f->high, 250);
    assert_string_equal(f->unit, "%");
    assert_string_equal(f->parameter->name, "pBitRate");
    assert_int_equal(f->evidence_count, 2);
    assert_int_equal(f->evidence[0], s.edges_frame);
    assert_int_equal(f->evidence[1], frame);
}

/*
 * Changes scattered by 160 ns rms put the means of 32 bits off by 160 ns * sqrt 2 in 106.7 us, 0.21 %: one that is far off there is nobody's
 * fault. By 10 ns, that is 0.013 %.
 */
static void scattered_changes_are_not_taken_for_drift(void **state)
{
    static const struct { double jitter_ps; unsigned verdict; } cases[] = { { 160e3, VERDICT_UNDECIDED }, { 10e3, VERDICT_PASS } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        for (unsigned n = 1; n <= 30; n++) {
            struct shot s = by_source(l);

            s.jitter_ps = cases[k].jitter_ps;
            s.tick_ps = TICK_FINE;
            s.seed = n;
            shoot(l, &s);
        }
        lines_run(l, NULL);
        expect_verdict(l, "wire.bit-drift", cases[k].verdict);
        expect_alone(l, "wire.bit-drift");
    }
}

/* A real drift of 2 % is more than that scatter makes. */
static void a_drift_beyond_all_scatter_fails(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.drift = 0.02;
    s.jitter_ps = 60e3;
    s.tick_ps = TICK_FINE;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_fail(l, "wire.bit-drift", frame, WHO_SOURCE);
}

static void on_a_noisy_line_a_bit_of_preamble_more_or_less_may_be_noise(void **state)
{
    static const struct { unsigned bits, verdict; } cases[] = {
        { 62, VERDICT_UNDECIDED }, { 63, VERDICT_UNDECIDED }, { 65, VERDICT_UNDECIDED }, { 66, VERDICT_UNDECIDED }, { 56, VERDICT_FAIL }, { 80, VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.wave.preamble_bits = cases[k].bits;
        s.jitter_ps = 120e3;
        s.tick_ps = TICK_FINE;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_verdict(l, "wire.preamble", cases[k].verdict);
        if (cases[k].verdict == VERDICT_UNDECIDED)
            expect_undecided(l, "wire.preamble", frame, CAUSE_NOISE);
        else
            expect_fail(l, "wire.preamble", frame, WHO_SOURCE);
    }
}

static void a_preamble_has_64_bits(void **state)
{
    static const struct { unsigned bits; double lead_us; unsigned verdict; } cases[] = {
        { 64, 30, VERDICT_PASS }, { 64, 5, VERDICT_PASS },       { 63, 30, VERDICT_FAIL },      { 60, 30, VERDICT_FAIL },
        { 65, 30, VERDICT_FAIL }, { 66, 30, VERDICT_FAIL },      { 66, 5, VERDICT_FAIL },       { 96, 30, VERDICT_FAIL },
        { 60, 5, VERDICT_UNDECIDED }, { 60, 19, VERDICT_UNDECIDED }, { 60, 21, VERDICT_FAIL }, { 63, 5, VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.wave.preamble_bits = cases[k].bits;
        s.lead_us = cases[k].lead_us;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_verdict(l, "wire.preamble", cases[k].verdict);
        expect_alone(l, "wire.preamble");
        if (cases[k].verdict == VERDICT_PASS)
            continue;
        const struct finding *f = lines_finding(l, "wire.preamble", cases[k].verdict, 0);

        assert_int_equal(f->frame, frame);
        assert_int_equal(f->whom, WHO_SOURCE);
        assert_int_equal(f->measured, cases[k].bits * 1000);
        assert_int_equal(f->values[0], cases[k].bits);
        assert_int_equal(f->cause, cases[k].verdict == VERDICT_UNDECIDED ? CAUSE_EDGES : CAUSE_NONE);
    }
}

static void a_sender_owes_all_four_k_codes(void **state)
{
    for (unsigned wrong = 0; wrong < 4; wrong++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.wave.codes[wrong] = "00111"; /* RST-1 */
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_fail(l, "wire.ordered-set", frame, WHO_SOURCE);
        expect_verdict(l, "wire.end-of-packet", VERDICT_NOT_SEEN); /* no sound ordered set */
        expect_alone(l, "wire.ordered-set");
        const struct finding *f = lines_finding(l, "wire.ordered-set", VERDICT_FAIL, 0);

        assert_int_equal(f->values[0], wrong + 1);
        assert_int_equal(f->values[2], 0x07);
    }
}

static void with_two_wrong_k_codes_there_is_no_packet(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.codes[1] = s.wave.codes[2] = "00111";
    shoot(l, &s);
    lines_run(l, NULL);
    for (unsigned k = 0; k < FOUR; k++)
        expect_verdict(l, four[k], VERDICT_NOT_SEEN);
}

/* 64 bits of preamble have 96 changes, Sync-1 seven; of RST-1, sent 1 1 1 0 0, the second is the middle of its first bit. */
static void a_k_code_whose_bits_cannot_be_told_is_not_held_against_anybody(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.codes[2] = "00111";
    s.shifted = 96 + 2 * 7 + 1;
    s.shift_cells = 0.21;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_undecided(l, "wire.ordered-set", frame, CAUSE_CELL);
}

static void a_packet_ends_with_eop(void **state)
{
    static const struct { const char *symbol; bool missing; double tail_us; unsigned verdict, cause; } cases[] = {
        { NULL, false, 25, VERDICT_PASS, 0 },         { "00110", false, 25, VERDICT_FAIL, 0 }, /* Sync-3 */
        { "00000", false, 25, VERDICT_FAIL, 0 },      { NULL, true, 25, VERDICT_FAIL, 0 },
        { NULL, true, 2, VERDICT_UNDECIDED, CAUSE_EDGES }, { NULL, false, 2, VERDICT_PASS, 0 },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.wave.bad_symbol_at = cases[k].symbol ? 2 * s.length : SIZE_MAX;
        s.wave.bad_symbol = cases[k].symbol;
        s.wave.no_eop = cases[k].missing;
        s.tail_us = cases[k].tail_us;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_verdict(l, "wire.end-of-packet", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "wire.end-of-packet", frame, WHO_SOURCE);
        if (cases[k].verdict == VERDICT_UNDECIDED)
            expect_undecided(l, "wire.end-of-packet", frame, cases[k].cause);
        expect_alone(l, "wire.end-of-packet");
    }
}

/* At 1.2 MS/s half a cell has two ticks: what looks like another bit may be where one falls. */
static void with_few_ticks_a_bit_nobody_is_accused_of_the_end_of_a_packet(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l), again = s;

    s.bad = true;
    s.tick_ps = 833333;
    s.wave.bad_symbol_at = 3;
    s.wave.bad_symbol = "00000";
    uint64_t frame = shoot(l, &s);

    lines_wait(l, -MS(1));
    again.no_edges = true;
    shoot(l, &again);
    lines_run(l, NULL);
    expect_undecided(l, "wire.end-of-packet", frame, CAUSE_TICK);
}

/* All symbols that mean nothing: the fourth of the data is each of them in turn. The good copy 1 ms later shows whose it was. */
static void no_symbol_is_a_reserved_one(void **state)
{
    static const char *const reserved[] = { "00000", "00001", "00010", "00011", "00100", "00101", "01000", "01100", "10000", "11111" };

    for (unsigned k = 0; k < sizeof reserved / sizeof reserved[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l), again = s;

        s.bad = true;
        s.wave.bad_symbol_at = 3;
        s.wave.bad_symbol = reserved[k];
        uint64_t frame = shoot(l, &s);

        lines_wait(l, -MS(1));
        again.no_edges = true;
        shoot(l, &again);
        lines_run(l, NULL);
        expect_fail(l, "wire.end-of-packet", frame, WHO_SOURCE);
    }
}

static void without_a_good_copy_nobody_knows_whose_it_was(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l), later = s;

    s.bad = true;
    s.wave.bad_symbol_at = 3;
    s.wave.bad_symbol = "00000";
    uint64_t frame = shoot(l, &s);

    lines_wait(l, MS(20));
    later.no_edges = true;
    shoot(l, &later);
    lines_run(l, NULL);
    expect_undecided(l, "wire.end-of-packet", frame, CAUSE_BAD_PACKET);
}

/* What the line shows of a packet says who sent it, where the instrument could not read it. */
static void the_line_knows_more_than_a_record_that_could_not_be_read(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.bad = true;
    s.wave.preamble_bits = 60;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_fail(l, "wire.preamble", frame, WHO_SOURCE);
}

/* Two changes are missing, half a bit apart: from them on the line cannot be followed. 96 changes of preamble, 28 of SOP, then data. */
static void a_line_that_cannot_be_followed_is_undecided(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.shifted = 96 + 28 + 7;
    s.shift_cells = 0.5;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_undecided(l, "wire.end-of-packet", frame, CAUSE_CELL);
}

/* The instrument had the packet whole: whoever kept the edges misheard a symbol. */
static void edges_that_contradict_a_sound_record_accuse_nobody(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.bad_symbol_at = 5;
    s.wave.bad_symbol = "00001";
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_undecided(l, "wire.end-of-packet", frame, CAUSE_CAPTURE);
}

static void the_sender_is_the_one_of_the_packet(void **state)
{
    static const struct { unsigned side, set, whom; } cases[] = {
        { SIDE_SOURCE, SET_SOP, WHO_SOURCE }, { SIDE_SINK, SET_SOP, WHO_SINK }, { SIDE_CABLE, SET_SOP1, WHO_CABLE },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = shot_of(l, cases[k].side, cases[k].set);

        s.wave.preamble_bits = 62;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_fail(l, "wire.preamble", frame, cases[k].whom);
    }
}

/* Nobody recorded the packet itself: the header says whose it is, and the edges stand for it. */
static void without_a_record_of_the_packet_its_bytes_say_who_sent_it(void **state)
{
    static const struct { unsigned side, set, whom; } cases[] = {
        { SIDE_SOURCE, SET_SOP, WHO_SOURCE }, { SIDE_SINK, SET_SOP, WHO_SINK }, { SIDE_CABLE, SET_SOP1, WHO_CABLE },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = shot_of(l, cases[k].side, cases[k].set);

        s.no_record = true;
        s.wave.preamble_bits = 62;
        shoot(l, &s);
        lines_run(l, NULL);
        expect_fail(l, "wire.preamble", s.edges_frame, cases[k].whom);
    }
}

static void a_port_that_speaks_to_a_plug_is_not_named_by_its_bytes_alone(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = shot_of(l, SIDE_SOURCE, SET_SOP1);

    s.no_record = true;
    s.wave.preamble_bits = 62;
    shoot(l, &s);
    lines_run(l, NULL);
    expect_undecided(l, "wire.preamble", s.edges_frame, CAUSE_ROLES);
}

static void a_trace_of_edges_alone_is_judged_by_these_rules(void **state)
{
    struct lines *l = *state;
    struct shot   s = by_source(l);

    s.no_record = true;
    lines_wait(l, MS(5));
    shoot(l, &s);
    lines_run(l, NULL);
    for (unsigned k = 0; k < FOUR; k++)
        expect_counts(l, four[k], 1, 0, 0);
    expect_verdict(l, "wire.crc", VERDICT_NOT_SEEN);
}

static void records_that_follow_one_another_are_one_line(void **state)
{
    for (unsigned pieces = 2; pieces <= 20; pieces++) {
        struct lines *l = *state;

        lines_clear(l);
        line_begin(l);
        struct shot s = by_source(l);

        s.pieces = pieces;
        s.wave.preamble_bits = 62;
        uint64_t frame = shoot(l, &s);

        lines_run(l, NULL);
        expect_fail(l, "wire.preamble", frame, WHO_SOURCE);
        expect_counts(l, "wire.end-of-packet", 1, 0, 0);
        expect_counts(l, "wire.bit-drift", 1, 0, 0);
        assert_int_equal(lines_finding(l, "wire.preamble", VERDICT_FAIL, 0)->evidence[0], s.edges_frame);
    }
}

/* 7 us are missing in the middle of the packet: what comes before it has no end, what comes after is no packet. */
static void a_hole_between_records_is_no_end(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.pieces = 2;
    s.hole_us = 7;
    uint64_t frame = shoot(l, &s);

    lines_run(l, NULL);
    expect_undecided(l, "wire.end-of-packet", frame, CAUSE_EDGES);
    expect_counts(l, "wire.preamble", 1, 0, 0);
}

/* Edges in one record, of which a message and its GoodCRC are records of their own that come after it. */
static void one_record_may_hold_many_packets(void **state)
{
    struct lines     *l = *state;
    struct wave       w;
    struct wave_ticks seen;
    uint64_t          frames[3];

    line_begin(l);
    struct shot s[3] = { by_source(l), shot_of(l, SIDE_SINK, SET_SOP), shot_of(l, SIDE_CABLE, SET_SOP1) };

    wave_begin(&w, false);
    for (unsigned k = 0; k < 3; k++) {
        s[k].wave.bytes = s[k].bytes;
        s[k].wave.preamble_bits = 62 + k;
        w.now_ps = 1e9 * (1 + 2 * k); /* 1, 3 and 5 ms after the start of the record */
        wave_send(&w, &s[k].wave);
    }
    seen = wave_see(&w, &(struct wave_instrument){ .tick_ps = TICK_24_MS });
    lines_edges(l, &(struct edges){ .start_ns = l->now_ns, .tick_ps = TICK_24_MS, .at = seen.at, .count = seen.count, .duration_ns = 6000000 });
    for (unsigned k = 0; k < 3; k++) {
        lines_wait(l, k ? MS(1) : MS(1));
        int64_t start_ns = l->now_ns;

        frames[k] = lines_raw(l, s[k].set, 0, s[k].bytes, s[k].length);
        l->now_ns = start_ns + MS(1);
    }
    lines_run(l, NULL);
    expect_counts(l, "wire.preamble", 1, 2, 0);
    for (unsigned k = 0; k < 2; k++) {
        const struct finding *f = lines_finding(l, "wire.preamble", VERDICT_FAIL, k);

        assert_int_equal(f->frame, frames[k]);
        assert_int_equal(f->whom, k ? WHO_SINK : WHO_SOURCE);
    }
    free(seen.at);
    wave_free(&w);
}

/* The edges of a packet begin 2 us after the record of the packet does: the packet is known already. */
static void edges_may_come_after_their_packet(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    s.wave.bytes = s.bytes;
    s.wave.preamble_bits = 66;
    s.lead_us = 0;
    int64_t  start_ns = l->now_ns;
    uint64_t frame = lines_raw(l, SET_SOP, 0, s.bytes, s.length);

    put_edges(l, &s, start_ns + US(2));
    lines_wait(l, MS(2));
    lines_run(l, NULL);
    expect_fail(l, "wire.preamble", frame, WHO_SOURCE);
}

static void only_what_lies_in_the_time_asked_for_is_judged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    struct shot s = by_source(l);

    shoot(l, &s);
    struct engine_options late = { .since_ns = l->now_ns, .until_ns = INT64_MAX };

    s = by_source(l);
    shoot(l, &s);
    lines_run(l, &late);
    for (unsigned k = 0; k < FOUR; k++)
        expect_counts(l, four[k], 1, 0, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(every_sound_packet_passes),
        TEST(without_edges_nothing_is_seen_and_that_is_said),
        TEST(with_edges_none_are_missing),
        TEST(of_a_reset_signal_the_ordered_set_alone_is_judged),
        TEST(nobody_is_accused_of_a_reset_signal),
        TEST(a_drift_is_held_against_a_quarter_of_a_per_cent),
        TEST(a_drift_is_told_in_per_cent_with_what_two_ticks_are_worth),
        TEST(scattered_changes_are_not_taken_for_drift),
        TEST(a_drift_beyond_all_scatter_fails),
        TEST(on_a_noisy_line_a_bit_of_preamble_more_or_less_may_be_noise),
        TEST(a_preamble_has_64_bits),
        TEST(a_sender_owes_all_four_k_codes),
        TEST(with_two_wrong_k_codes_there_is_no_packet),
        TEST(a_k_code_whose_bits_cannot_be_told_is_not_held_against_anybody),
        TEST(a_packet_ends_with_eop),
        TEST(with_few_ticks_a_bit_nobody_is_accused_of_the_end_of_a_packet),
        TEST(no_symbol_is_a_reserved_one),
        TEST(without_a_good_copy_nobody_knows_whose_it_was),
        TEST(the_line_knows_more_than_a_record_that_could_not_be_read),
        TEST(a_line_that_cannot_be_followed_is_undecided),
        TEST(edges_that_contradict_a_sound_record_accuse_nobody),
        TEST(the_sender_is_the_one_of_the_packet),
        TEST(without_a_record_of_the_packet_its_bytes_say_who_sent_it),
        TEST(a_port_that_speaks_to_a_plug_is_not_named_by_its_bytes_alone),
        TEST(a_trace_of_edges_alone_is_judged_by_these_rules),
        TEST(records_that_follow_one_another_are_one_line),
        TEST(a_hole_between_records_is_no_end),
        TEST(one_record_may_hold_many_packets),
        TEST(edges_may_come_after_their_packet),
        TEST(only_what_lies_in_the_time_asked_for_is_judged),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
