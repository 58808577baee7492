/*
 * The BMC decoder on lines that the tests' own encoder made, and the encoder itself against the tables of Chromium EC (include/usb_pd.h and
 * the files beside it) and the worked example of the CRC (0x0101: 0x2FC51328).
 */
#include "tests/decode/bmc_line.h"
#include "tests/decode/testing.h"

#include "decode/bmc.h"
#include "decode/line_code.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { HEARD_MOST = 64 };

struct heard {
    struct bmc_frame frames[HEARD_MOST];
    uint8_t          bytes[HEARD_MOST][BMC_BYTES_MAX];
    size_t           count;
};

static const double us = 1e6, ns = 1e3; /* picoseconds */
static const double cell_ps = 1e12 / 300e3;

static void found(void *context, const struct bmc_frame *f)
{
    struct heard *h = context;

    assert_true(h->count < HEARD_MOST);
    memcpy(h->bytes[h->count], f->bytes, f->length);
    h->frames[h->count] = *f;
    h->frames[h->count].bytes = h->bytes[h->count];
    h->count++;
}

/* An analyser of 24 MS/s that sees everything right. */
static const struct wave_instrument plain = { .tick_ps = 1e12 / 24e6, .seed = 1 };

static void listen_to(struct heard *h, const struct wave *w, const struct wave_instrument *i)
{
    struct bmc_options o = { .tick_ps = i->tick_ps };
    struct bmc        *b = bmc_new(&o, found, h);
    struct wave_ticks  t = wave_see(w, i);

    assert_non_null(b);
    h->count = 0;
    bmc_take(b, t.at, t.count, t.level);
    bmc_reached(b, (int64_t)(w->now_ps / i->tick_ps));
    bmc_finish(b);
    bmc_free(b);
    free(t.at);
}

static void listen_plainly(struct heard *h, struct wave *w)
{
    wave_wait(w, 100 * us);
    listen_to(h, w, &plain);
    wave_free(w);
}

/* The message of the worked example, and a longer one. */
static const uint8_t goodcrc[6] = { 0x01, 0x01, 0x28, 0x13, 0xC5, 0x2F };

static size_t request(uint8_t *bytes)
{
    static const uint8_t words[6] = { 0x82, 0x10, 0x2C, 0xB1, 0x04, 0x13 };

    memcpy(bytes, words, sizeof words);
    return wave_crc_add(bytes, sizeof words);
}

static void assert_is(const struct heard *h, size_t k, enum wave_set set, const uint8_t *bytes, size_t length)
{
    const struct bmc_frame *f = &h->frames[k];

    assert_true(h->count > k);
    assert_false(f->reset);
    assert_int_equal(f->which, set);
    assert_int_equal(f->end, BMC_EOP);
    assert_int_equal(f->length, length);
    assert_memory_equal(f->bytes, bytes, length);
    assert_true(f->crc_good);
}

static void assert_near(double value, double expected, double by)
{
    if (!(fabs(value - expected) <= by))
        print_error("%.9g is not %.9g within %g\n", value, expected, by);
    assert_true(fabs(value - expected) <= by);
}

static void one_packet(struct wave *w, enum wave_set set)
{
    struct wave_packet p = wave_packet_of(set, goodcrc, sizeof goodcrc);

    (void)wave_send(w, &p);
}

/* ---- the encoder ---- */

/* All 32 symbols in order, b4 to b0: a digit of data, or S, T, U for Sync-1 to 3, R, Q for RST-1 and 2, E for EOP; '-' reserved. */
static const char symbols_in_order[33] = "------UR-145-E67-T" "89" "23AB" "SQCDEF0-";

static void the_tables_of_encoder_and_decoder_are_those_that_were_published(void **state)
{
    (void)state;
    static const char letters[] = "0123456789ABCDEF";

    for (unsigned s = 0; s < LINE_SYMBOLS; s++) {
        const struct line_symbol *row = &line_symbols[s];
        char                      letter = symbols_in_order[s], bits[6];
        bool                      data = letter != '-' && strchr(letters, letter) && s != 0x0D;

        for (unsigned k = 0; k < 5; k++)
            bits[k] = s >> (4 - k) & 1 ? '1' : '0';
        bits[5] = 0;
        assert_int_equal(row->kind, data ? LINE_SYMBOL_DATA : letter == '-' ? LINE_SYMBOL_RESERVED : LINE_SYMBOL_K_CODE);
        assert_non_null(row->source);
        if (data) {
            assert_int_equal(letters[row->nibble], letter);
            assert_string_equal(wave_symbol(row->nibble), bits);
        }
    }
}

static void ordered_sets_are_the_20_bits_that_were_worked_out_from_the_published_k_codes(void **state)
{
    (void)state;
    static const uint32_t values[WAVE_SETS] = { 0x8E318, 0x31B18, 0x360D8, 0x36738, 0x89B38, 0xC9CE7, 0x31F07 };

    for (unsigned set = 0; set < WAVE_SETS; set++) {
        struct wave_packet     p = wave_packet_of(set, NULL, 0);
        unsigned               right = 0;
        const struct line_set *row = line_set_find(values[set], &right);
        uint32_t               sent = 0;

        for (unsigned k = 0; k < 20; k++)
            sent |= (uint32_t)(p.codes[k / 5][4 - k % 5] == '1') << k;
        assert_int_equal(sent, values[set]);
        assert_ptr_equal(row, &line_sets[set]);
        assert_int_equal(right, 4);
        assert_int_equal(row->reset, set >= WAVE_HARD_RESET);
        assert_int_equal(row->number, row->reset ? set - WAVE_HARD_RESET : set);
    }
}

static void the_encoder_reckons_the_crc_of_the_worked_example(void **state)
{
    (void)state;
    uint8_t bytes[6] = { 0x01, 0x01 };

    assert_int_equal(wave_crc_add(bytes, 2), 6);
    assert_memory_equal(bytes, goodcrc, 6);
}

/* 0x0101 and its CRC as nibbles 1 0 1 0, 8 2 3 1 5 C F 2: each symbol as it is sent, b0 first. */
static void the_encoder_sends_the_worked_example_bit_by_bit(void **state)
{
    (void)state;
    static const char bits[] = "01010101" "01010101" "01010101" "01010101" "01010101" "01010101" "01010101" "01010101"
                               "00011" "00011" "00011" "10001"
                               "10010" "01111" "10010" "01111"
                               "01001" "00101" "10101" "10010" "11010" "01011" "10111" "00101"
                               "10110";
    struct wave       w;
    size_t            change = 0;
    double            half = cell_ps / 2;

    wave_begin(&w, true);
    one_packet(&w, WAVE_SOP);
    for (size_t k = 0; k < strlen(bits); k++) {
        assert_near(w.at_ps[change++], (double)k * cell_ps, 1);
        if (bits[k] == '1')
            assert_near(w.at_ps[change++], (double)k * cell_ps + half, 1);
    }
    assert_near(w.at_ps[change++], (double)strlen(bits) * cell_ps, 1);
    assert_true(w.count <= change + 1);
    assert_false(wave_high(&w));
    wave_free(&w);
}

/* ---- what is read ---- */

static void packets_of_every_set_and_resets_are_read_whichever_level_the_line_begins_with(void **state)
{
    (void)state;
    for (unsigned high = 0; high < 2; high++) {
        struct heard h;
        struct wave  w;

        wave_begin(&w, high);
        wave_wait(&w, 50 * us);
        for (unsigned set = 0; set < WAVE_SETS; set++) {
            one_packet(&w, set);
            wave_wait(&w, 30 * us);
        }
        listen_plainly(&h, &w);
        assert_int_equal(h.count, WAVE_SETS);
        for (unsigned set = 0; set < WAVE_HARD_RESET; set++)
            assert_is(&h, set, set, goodcrc, sizeof goodcrc);
        for (unsigned set = WAVE_HARD_RESET; set < WAVE_SETS; set++) {
            assert_true(h.frames[set].reset);
            assert_int_equal(h.frames[set].which, set - WAVE_HARD_RESET);
            assert_int_equal(h.frames[set].length, 0);
            assert_int_equal(h.frames[set].bits, 84);
        }
    }
}

static void start_length_bits_and_gap_are_those_that_were_sent(void **state)
{
    (void)state;
    uint8_t           bytes[16];
    size_t            length = request(bytes);
    struct heard      h;
    struct wave       w;
    struct wave_truth t[2];

    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    for (unsigned k = 0; k < 2; k++) {
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);

        p.rate_hz = k ? 330e3 : 280e3;
        t[k] = wave_send(&w, &p);
        wave_wait(&w, 41 * us);
    }
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 2);
    for (unsigned k = 0; k < 2; k++) {
        const struct bmc_frame *f = &h.frames[k];

        assert_is(&h, k, WAVE_SOP, bytes, length);
        assert_int_equal(f->start_tick, (int64_t)ceil(t[k].start_ps / plain.tick_ps));
        assert_near((double)f->span_parts / BMC_PARTS, (t[k].end_ps - t[k].start_ps) / plain.tick_ps, 1);
        assert_int_equal(f->bits, 64 + 20 + 10 * 10 + 5);
        assert_int_equal(f->bits, t[k].bits);
        assert_int_equal(f->preamble_bits, 64);
        assert_true(f->preamble_begins_0 && f->preamble_whole);
        assert_near(f->cell_ticks, 24e6 / (k ? 330e3 : 280e3), 1.0 / 189);
        assert_near(f->preamble_cell_ticks, 24e6 / (k ? 330e3 : 280e3), 1.0 / 32);
        assert_int_equal(f->kcodes_right, 4);
        assert_false(f->kcode_unsure || f->reserved_symbol);
    }
    assert_int_equal(h.frames[0].gap_parts, -1);
    assert_near((double)h.frames[1].gap_parts / BMC_PARTS, (t[1].start_ps - t[0].end_ps) / plain.tick_ps, 1.5);
}

static void rates_from_150_to_600_kilobit_are_found_and_measured(void **state)
{
    (void)state;
    for (double rate = 150e3; rate <= 600e3; rate += 12.5e3) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP1, goodcrc, sizeof goodcrc);

        p.rate_hz = rate;
        wave_begin(&w, true);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_is(&h, 0, WAVE_SOP1, goodcrc, sizeof goodcrc);
        assert_near(h.frames[0].cell_ticks, 24e6 / rate, 1.5 / 149);
    }
}

static void a_line_that_is_nothing_but_noise_gives_no_frame(void **state)
{
    (void)state;
    uint64_t seed = 1;

    for (unsigned mean = 4; mean <= 256; mean *= 2) {
        struct bmc_options o = { .tick_ps = plain.tick_ps };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, found, &h);
        int64_t            at[1000], now = 0;

        for (unsigned k = 0; k < 200; k++) {
            for (unsigned j = 0; j < LENGTH(at); j++)
                at[j] = now += 1 + random_word(&seed) % (2 * mean);
            bmc_take(b, at, LENGTH(at), false);
        }
        bmc_finish(b);
        bmc_free(b);
        assert_int_equal(h.count, 0);
    }
}

/* Changes at random right before a packet (less than a half cell away), between packets, and after the last. */
static void garbage_between_packets_costs_nothing_but_its_time(void **state)
{
    (void)state;
    uint64_t     seed = 7;
    struct heard h;
    struct wave  w;

    wave_begin(&w, true);
    wave_wait(&w, 50 * us);
    for (unsigned k = 0; k < 40; k++) {
        for (unsigned j = 0; j < 100 + k * 7; j++) {
            wave_wait(&w, 300 * ns + random_word(&seed) % 3000 * ns);
            wave_change(&w);
        }
        wave_wait(&w, 400 * ns + random_word(&seed) % 1000 * ns);
        one_packet(&w, WAVE_SOP);
    }
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 40);
    for (unsigned k = 0; k < 40; k++) {
        assert_is(&h, k, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_in_range(h.frames[k].preamble_bits, 62, 66); /* a change right before may spoil the first bit, or pass for one */
        assert_false(h.frames[k].preamble_whole);
    }
}

static void a_packet_may_follow_another_at_once(void **state)
{
    (void)state;
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

    p.no_last_change = true; /* the first change of the next is it */
    p.hold_low = false;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    for (unsigned k = 0; k < 10; k++)
        (void)wave_send(&w, &p);
    wave_change(&w);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 10);
    for (unsigned k = 0; k < 10; k++) {
        assert_is(&h, k, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[k].preamble_bits, 64);
        assert_in_range(h.frames[k].gap_parts + 1, k ? 1 : 0, k ? 1 + BMC_PARTS : 0);
    }
}

/* One transmitter stops anywhere in its packet, and another begins at once, whatever the phase. */
static void a_packet_that_breaks_into_another_is_read_and_the_other_ends_before_it(void **state)
{
    (void)state;
    uint64_t seed = 3;
    uint8_t  bytes[34];
    size_t   length;
    unsigned firsts = 0, by_chance = 0;

    for (unsigned k = 0; k < 30; k++)
        bytes[k] = (uint8_t)random_word(&seed);
    length = wave_crc_add(bytes, 30);
    for (unsigned k = 0; k < 500; k++) {
        struct heard            h;
        struct wave             w;
        struct wave_packet      p = wave_packet_of(WAVE_SOP2, bytes, length);
        double                  second;
        const struct bmc_frame *f;

        wave_begin(&w, k % 2);
        wave_wait(&w, 50 * us);
        p.rate_hz = 285e3;
        (void)wave_send(&w, &p);
        second = 50 * us + (90 + random_word(&seed) % 300) * cell_ps + random_word(&seed) % 3300 * ns;
        wave_cut(&w, second);
        one_packet(&w, WAVE_SOP);
        listen_plainly(&h, &w);
        assert_in_range(h.count, 1, 2);
        assert_is(&h, h.count - 1, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_in_range(h.frames[h.count - 1].preamble_bits, 50, 74); /* the first may end with bits that look like some of it */
        f = &h.frames[0];
        if (h.count == 2) {
            firsts++;
            assert_false(f->crc_good);
            by_chance += f->end == BMC_EOP; /* a symbol half of one and half of the other */
            assert_true(f->start_tick + f->span_parts / BMC_PARTS <= h.frames[1].start_tick + 2 * 80);
            assert_true(f->end == BMC_EOP || h.frames[1].gap_parts == -1);
        }
    }
    assert_true(firsts > 450 && by_chance < 50);
}

/* ---- ordered sets ---- */

static unsigned bits_apart(const char *a, const char *b)
{
    unsigned n = 0;

    for (unsigned k = 0; k < 5; k++)
        n += a[k] != b[k];
    return n;
}

/* Is it the one set that has three of the codes and least wrong bits? */
static bool set_is_plain(const struct wave_packet *p, enum wave_set set)
{
    unsigned least = 100, of = 0, ties = 0;

    for (unsigned s = 0; s < WAVE_SETS; s++) {
        struct wave_packet other = wave_packet_of(s, NULL, 0);
        unsigned           wrong = 0, right = 0;

        for (unsigned k = 0; k < 4; k++) {
            wrong += bits_apart(p->codes[k], other.codes[k]);
            right += strcmp(p->codes[k], other.codes[k]) == 0;
        }
        if (right < 3 || wrong > least)
            continue;
        ties = wrong == least;
        least = wrong;
        of = s;
    }
    return of == set && !ties;
}

static void with_wrong_code(struct wave *w, enum wave_set set, unsigned k, const char *code, unsigned *plainly)
{
    struct heard       h;
    struct wave_packet p = wave_packet_of(set, goodcrc, sizeof goodcrc);
    bool               same;

    if (strcmp(p.codes[k], code) == 0)
        return;
    if (set == WAVE_SOP1_DEBUG && k == 2 && strcmp(code, "01001") == 0)
        return; /* two bits earlier stands a Hard Reset with a wrong first K-code */
    p.codes[k] = code;
    wave_begin(w, false);
    wave_wait(w, 50 * us);
    (void)wave_send(w, &p);
    listen_plainly(&h, w);
    same = set_is_plain(&p, set);
    *plainly += same;
    if (!same)
        return; /* as near to another set */
    assert_int_equal(h.count, 1);
    assert_int_equal(h.frames[0].preamble_bits, 64);
    assert_int_equal(h.frames[0].which, set % WAVE_HARD_RESET);
    assert_int_equal(h.frames[0].reset, p.reset);
    assert_true(h.frames[0].kcodes_right == 3);
    assert_true(p.reset || h.frames[0].crc_good);
    for (unsigned j = 0; j < 4; j++)
        assert_int_equal(h.frames[0].symbols[j], strtoul(p.codes[j], NULL, 2));
}

static void one_wrong_k_code_of_four_is_taken_whichever_it_is_and_kept_as_it_came(void **state)
{
    (void)state;
    unsigned plainly = 0;

    for (unsigned set = 0; set < WAVE_SETS; set++)
        for (unsigned k = 0; k < 4; k++)
            for (unsigned s = 0; s < 32; s++) {
                struct wave w;
                char        code[6];

                for (unsigned j = 0; j < 5; j++)
                    code[j] = s >> (4 - j) & 1 ? '1' : '0';
                code[5] = 0;
                with_wrong_code(&w, set, k, code, &plainly);
            }
    assert_true(plainly > 700); /* of 7 x 4 x 31; the rest is as near to another set */
}

static void two_wrong_k_codes_of_four_are_no_packet(void **state)
{
    (void)state;
    for (unsigned set = 0; set < WAVE_SETS; set++)
        for (unsigned k = 0; k < 16; k++) {
            struct heard       h;
            struct wave        w;
            struct wave_packet p = wave_packet_of(set, goodcrc, sizeof goodcrc);

            if (k / 4 == k % 4)
                continue;
            p.codes[k / 4] = "01111"; /* data */
            p.codes[k % 4] = "10010";
            wave_begin(&w, false);
            wave_wait(&w, 50 * us);
            (void)wave_send(&w, &p);
            listen_plainly(&h, &w);
            assert_int_equal(h.count, 0);
        }
}

static void a_border_in_the_ordered_set_that_could_not_be_told_is_told(void **state)
{
    (void)state;
    for (unsigned k = 0; k < 3; k++) { /* as it should be; a change 40 % of half a cell late; in the data instead */
        struct heard      h;
        struct wave       w;
        size_t            change = 96 + 2; /* 64 bits of preamble have 96 changes */

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        one_packet(&w, WAVE_SOP);
        change += k == 2 ? 40 : 0;
        w.at_ps[change] += k ? 0.4 * cell_ps / 2 : 0;
        listen_plainly(&h, &w);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].kcode_unsure, k == 1);
    }
}

/* ---- the preamble ---- */

static void the_beginning_of_a_preamble_may_be_missing_and_is_counted_as_missing(void **state)
{
    (void)state;
    for (unsigned left = 1; left <= 64; left++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);
        struct wave_truth  t;

        p.preamble_bits = left;
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        t = wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, left >= 8 ? 1 : 0);
        if (left < 8)
            continue;
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].preamble_bits, left);
        assert_int_equal(h.frames[0].preamble_begins_0, left % 2 == 0);
        assert_int_equal(h.frames[0].start_tick, (int64_t)ceil(t.start_ps / plain.tick_ps));
        assert_int_equal(h.frames[0].bits, left + 20 + 60 + 5);
    }
}

static void a_preamble_of_any_length_is_counted(void **state)
{
    (void)state;
    static const unsigned lengths[] = { 65, 66, 100, 127, 128, 129, 500, 5000, 65535, 70000 };

    for (size_t k = 0; k < LENGTH(lengths); k++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

        p.preamble_bits = lengths[k];
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].preamble_bits, lengths[k] < 65535 ? lengths[k] : 65535);
        assert_int_equal(h.frames[0].bits, lengths[k] + 20 + 60 + 5);
    }
}

static void a_preamble_is_whole_where_the_line_was_known_and_still_for_20_us_before(void **state)
{
    (void)state;
    struct { double known_us, change_us; bool whole; } cases[] = {
        { 0, 0, true }, { 29, 0, true }, { 31, 0, false }, { 0, 29, true }, { 0, 31, false }, { 0, 45, false },
    };

    for (size_t k = 0; k < LENGTH(cases); k++) {
        struct heard       h = { 0 };
        struct wave        w;
        struct bmc_options o = { .tick_ps = 10 * ns, .known_from = (int64_t)(cases[k].known_us * 100) };
        struct bmc        *b = bmc_new(&o, found, &h);
        struct wave_ticks  t;

        wave_begin(&w, false);
        wave_wait(&w, cases[k].change_us * us);
        if (cases[k].change_us > 0)
            wave_change(&w);
        wave_wait(&w, (50 - cases[k].change_us) * us);
        one_packet(&w, WAVE_SOP);
        t = wave_see(&w, &(struct wave_instrument){ .tick_ps = 10 * ns });
        bmc_take(b, t.at, t.count, t.level);
        bmc_finish(b);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].preamble_whole, cases[k].whole);
        bmc_free(b);
        free(t.at);
        wave_free(&w);
    }
}

/* ---- how frames end ---- */

static void the_transmitters_last_changes_neither_lengthen_a_packet_nor_make_another(void **state)
{
    (void)state;
    /* ends with a change; then pulled low one cell later; no change at the end; a change a cell and a half, three, or 20 cells later */
    static const double later[] = { 0, 0, 0, 1.5, 3, 20 };

    for (unsigned k = 0; k < LENGTH(later) * 2 * 2; k++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(k % 4 / 2 ? WAVE_CABLE_RESET : WAVE_SOP, goodcrc, sizeof goodcrc);
        unsigned           way = k / 4;
        struct wave_truth  t;

        p.no_last_change = way >= 2;
        p.hold_low = way == 1;
        wave_begin(&w, k % 2);
        wave_wait(&w, 50 * us);
        t = wave_send(&w, &p);
        wave_wait(&w, later[way] * cell_ps);
        if (later[way] > 0)
            wave_change(&w);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, BMC_EOP);
        assert_true(h.frames[0].reset || h.frames[0].crc_good);
        assert_near((double)h.frames[0].span_parts / BMC_PARTS, (t.end_ps - t.start_ps) / plain.tick_ps, 1.5);
    }
}

static void a_frame_with_a_wrong_crc_is_handed_over(void **state)
{
    (void)state;
    uint8_t            bytes[6] = { 0x01, 0x09, 0x28, 0x13, 0xC5, 0x2F };
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, sizeof bytes);

    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_int_equal(h.frames[0].end, BMC_EOP);
    assert_false(h.frames[0].crc_good);
    assert_int_equal(h.frames[0].length, 6);
    assert_memory_equal(h.frames[0].bytes, bytes, 6);
}

static void one_bad_symbol(size_t at, const char *symbol, bool reserved)
{
    uint8_t            bytes[16];
    size_t             length = request(bytes);
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);

    p.bad_symbol_at = at;
    p.bad_symbol = symbol;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    wave_wait(&w, 40 * us);
    one_packet(&w, WAVE_SOP);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 2);
    assert_int_equal(h.frames[0].end, BMC_BAD_SYMBOL);
    assert_int_equal(h.frames[0].reserved_symbol, reserved);
    assert_int_equal(h.frames[0].length, at / 2);
    assert_memory_equal(h.frames[0].bytes, bytes, at / 2);
    assert_int_equal(h.frames[0].bits, 64 + 20 + 5 * (at + 1));
    assert_is(&h, 1, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[1].gap_parts, -1);
}

static void a_frame_ends_with_a_symbol_that_has_no_place_and_tells_what_was_before_it(void **state)
{
    (void)state;
    for (size_t at = 0; at <= 20; at++) {
        one_bad_symbol(at, "00001", true);
        one_bad_symbol(at, "11111", true);
        one_bad_symbol(at, "11000", false);
    }
}

static void an_eop_in_the_midst_of_a_packet_ends_it_with_its_whole_bytes(void **state)
{
    (void)state;
    for (size_t at = 0; at < 20; at++) {
        uint8_t            bytes[16];
        size_t             length = request(bytes);
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);

        p.bad_symbol_at = at;
        p.bad_symbol = "01101";
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, BMC_EOP);
        assert_int_equal(h.frames[0].length, at / 2);
        assert_false(h.frames[0].crc_good);
    }
}

static void a_packet_without_eop_ends_by_silence_and_its_crc_may_be_good(void **state)
{
    (void)state;
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

    p.no_eop = true;
    p.hold_low = false;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_int_equal(h.frames[0].end, BMC_NO_EOP);
    assert_true(h.frames[0].crc_good);
    assert_int_equal(h.frames[0].bits, 64 + 20 + 60);
}

static void a_packet_that_is_cut_anywhere_is_handed_over_as_far_as_it_goes(void **state)
{
    (void)state;
    uint8_t bytes[16];
    size_t  length = request(bytes);

    for (unsigned cells = 1; cells < 64 + 20 + 100 + 5; cells++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        unsigned           symbols = cells > 84 ? (cells - 84) / 5 : 0;

        wave_begin(&w, cells % 2);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        wave_cut(&w, 50 * us + (cells + 0.1) * cell_ps); /* its last change ends that cell */
        wave_wait(&w, 40 * us);
        one_packet(&w, WAVE_SOP);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, cells >= 83 ? 2 : 1); /* the last bit of SOP is a 1: its second half alone is enough */
        assert_is(&h, h.count - 1, WAVE_SOP, goodcrc, sizeof goodcrc);
        if (h.count == 1)
            continue;
        assert_int_equal(h.frames[0].end, cells == 188 ? BMC_EOP : BMC_NO_EOP);
        assert_int_equal(h.frames[0].length, symbols / 2);
        assert_memory_equal(h.frames[0].bytes, bytes, symbols / 2);
    }
}

static void a_hole_in_a_packet_ends_it_and_the_packet_after_is_read(void **state)
{
    (void)state;
    for (unsigned cut = 0; cut < 200; cut += 3) { /* changes that are seen of it */
        struct bmc_options o = { .tick_ps = plain.tick_ps };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, found, &h);
        struct wave        w;
        struct wave_ticks  t;
        size_t             seen = 0;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        for (unsigned k = 0; k < 3; k++) {
            one_packet(&w, WAVE_SOP);
            wave_wait(&w, 40 * us);
            seen = k == 0 ? w.count + cut : seen;
        }
        t = wave_see(&w, &plain);
        bmc_take(b, t.at, seen, t.level);
        bmc_broken(b, t.at[seen + 10] - 1);
        bmc_take(b, t.at + seen + 10, t.count - seen - 10, t.level != ((seen + 10) % 2 != 0));
        bmc_finish(b);
        assert_in_range(h.count, 2, 3);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_is(&h, h.count - 1, WAVE_SOP, goodcrc, sizeof goodcrc);
        if (h.count == 3 && h.frames[1].end != BMC_EOP) {
            assert_int_equal(h.frames[1].end, BMC_NO_EOP);
            assert_false(h.frames[1].crc_good);
        } else if (h.count == 3) {
            assert_int_equal(h.frames[1].gap_parts, -1); /* the hole was in its preamble */
            assert_true(h.frames[1].preamble_bits < 64 && !h.frames[1].preamble_whole);
        }
        bmc_free(b);
        free(t.at);
        wave_free(&w);
    }
}

static void a_packet_longer_than_any_ends_where_it_is_too_long(void **state)
{
    (void)state;
    uint8_t bytes[400];

    for (size_t length = BMC_BYTES_MAX - 1; length < sizeof bytes; length += length < 272 ? 1 : 100) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        bool               fits = length <= BMC_BYTES_MAX;

        for (size_t k = 0; k < length; k++)
            bytes[k] = (uint8_t)(k * 3 + 7);
        (void)wave_crc_add(bytes, length - 4);
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, fits ? BMC_EOP : BMC_TOO_LONG);
        assert_int_equal(h.frames[0].crc_good, fits);
        assert_int_equal(h.frames[0].length, fits ? length : BMC_BYTES_MAX);
        assert_memory_equal(h.frames[0].bytes, bytes, h.frames[0].length);
    }
}

static void a_carrier_without_end_is_no_packet_and_the_packet_after_it_is_read(void **state)
{
    (void)state;
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

    p.preamble_bits = 200000;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    wave_cut(&w, 50 * us + 199999.5 * cell_ps);
    wave_wait(&w, 30 * us);
    one_packet(&w, WAVE_SOP);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[0].preamble_bits, 64);
}

/* ---- what is measured ---- */

static void drift_is_measured_against_the_last_32_bits_of_the_preamble(void **state)
{
    (void)state;
    static const double drifts[] = { 0, 0.001, -0.001, 0.0025, -0.0025, 0.01, -0.01, 0.02 };
    uint8_t             bytes[34] = { 0 };
    size_t              length = wave_crc_add(bytes, 30);

    for (size_t k = 0; k < LENGTH(drifts); k++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        double             tick_error = 2e6 / (32 * 80);

        p.drift = drifts[k];
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_is(&h, 0, WAVE_SOP, bytes, length);
        assert_int_equal(h.frames[0].drift_runs, (20 + 340 + 5) / 32);
        assert_near(h.frames[0].drift_ppm_least, drifts[k] * 1e6, tick_error);
        assert_near(h.frames[0].drift_ppm_most, drifts[k] * 1e6, tick_error);
        assert_near(h.frames[0].preamble_cell_ticks, 80, 1.0 / 32);
    }
}

/* Together with what the ticks add: a twelfth of a tick squared. The clock goes along a little with each change. */
static void jitter_is_measured_to_within_a_tenth(void **state)
{
    (void)state;
    uint8_t bytes[34] = { 1, 2, 3 };
    size_t  length = wave_crc_add(bytes, 30);

    for (double percent = 1; percent <= 6; percent++) {
        struct wave_instrument i = { .tick_ps = 10 * ns, .jitter_ps = cell_ps / 2 * percent / 100, .seed = (uint64_t)percent };
        struct wave_packet     p = wave_packet_of(WAVE_SOP, bytes, length);
        struct heard           h;
        struct wave            w;
        double                 sum = 0;

        wave_begin(&w, false);
        for (unsigned k = 0; k < 20; k++) {
            wave_wait(&w, 50 * us);
            (void)wave_send(&w, &p);
        }
        wave_wait(&w, 100 * us);
        listen_to(&h, &w, &i);
        wave_free(&w);
        assert_int_equal(h.count, 20);
        for (unsigned k = 0; k < 20; k++)
            sum += h.frames[k].jitter_ticks * h.frames[k].jitter_ticks / 20;
        assert_near(sqrt(sum), sqrt(pow(i.jitter_ps / i.tick_ps, 2) + 1.0 / 12), 0.1 * i.jitter_ps / i.tick_ps);
    }
}

static void unequal_edges_change_nothing_of_what_is_measured(void **state)
{
    (void)state;
    for (int k = -4; k <= 4; k++) {
        struct wave_instrument i = { .tick_ps = 10 * ns, .skew_ps = k * 150 * ns };
        struct wave_packet     p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);
        struct heard           h;
        struct wave            w;
        struct wave_truth      t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        t = wave_send(&w, &p);
        wave_wait(&w, 100 * us);
        listen_to(&h, &w, &i);
        wave_free(&w);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_near((double)h.frames[0].span_parts / BMC_PARTS, (t.end_ps - t.start_ps) / i.tick_ps, 1.5);
        assert_near(h.frames[0].drift_ppm_least, 0, 2e6 / (32 * 333));
        assert_near(h.frames[0].drift_ppm_most, 0, 2e6 / (32 * 333));
        assert_true(h.frames[0].jitter_ticks < 1);
        assert_near(h.frames[0].cell_ticks, 1e8 / 300e3, 0.01);
    }
}

static void ticks_of_a_femtosecond_and_times_near_the_ends_of_their_range_are_taken(void **state)
{
    (void)state;
    static const double  tick_ps[] = { 0.001, 1, 1000 };
    static const int64_t offsets[] = { 0, INT64_MIN / 2, INT64_MAX / 2, INT64_MAX - 1000000000000 };

    for (unsigned k = 0; k < 12; k++) {
        struct bmc_options o = { .tick_ps = tick_ps[k / 4], .known_from = offsets[k % 4] };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, found, &h);
        struct wave        w;
        struct wave_ticks  t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        one_packet(&w, WAVE_SOP);
        t = wave_see(&w, &(struct wave_instrument){ .tick_ps = o.tick_ps });
        for (size_t j = 0; j < t.count; j++)
            t.at[j] += offsets[k % 4];
        bmc_take(b, t.at, t.count, t.level);
        bmc_finish(b);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].start_tick, t.at[0]);
        assert_near(h.frames[0].cell_ticks * o.tick_ps, cell_ps, o.tick_ps);
        bmc_free(b);
        free(t.at);
        wave_free(&w);
    }
}

/* ---- glitches ---- */

/* Pulses of that length in the middle of every fifth spacing. */
static struct wave pulsed(const struct wave *w, double length_ps)
{
    struct wave p;

    wave_begin(&p, w->begins_high);
    for (size_t k = 0; k < w->count; k++) {
        p.now_ps = w->at_ps[k];
        wave_change(&p);
        if (k % 5 || k + 1 == w->count)
            continue;
        p.now_ps = (w->at_ps[k] + w->at_ps[k + 1]) / 2;
        wave_change(&p);
        wave_wait(&p, length_ps);
        wave_change(&p);
    }
    p.now_ps = w->now_ps;
    return p;
}

static void pulses_shorter_than_the_filter_are_not_there_and_its_width_can_be_set(void **state)
{
    (void)state;
    struct { double pulse_ns; uint64_t filter_ps; bool gone; } cases[] = {
        { 240, 0, true }, { 30, 0, true }, { 260, 0, false }, { 240, 100000, false }, { 90, 100000, true }, { 390, 400000, true },
    };

    for (size_t k = 0; k < LENGTH(cases); k++) {
        struct bmc_options o = { .tick_ps = 10 * ns, .glitch_ps = cases[k].filter_ps };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, found, &h);
        struct wave        w, p;
        struct wave_ticks  t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        one_packet(&w, WAVE_SOP);
        p = pulsed(&w, cases[k].pulse_ns * ns);
        t = wave_see(&p, &(struct wave_instrument){ .tick_ps = 10 * ns });
        bmc_take(b, t.at, t.count, t.level);
        bmc_finish(b);
        assert_int_equal(h.count == 1 && !h.frames[0].kcode_unsure && h.frames[0].crc_good, cases[k].gone);
        bmc_free(b);
        free(t.at);
        wave_free(&w);
        wave_free(&p);
    }
    assert_int_equal(BMC_GLITCH_PS, 250000);
}

static void a_longer_pulse_inside_a_cell_is_seen_to_be_no_part_of_it(void **state)
{
    (void)state;
    for (double length_ns = 260; length_ns < 800; length_ns += 60) {
        for (size_t change = 0; change < 200; change += 3) {
            struct heard h;
            struct wave  w, p;

            wave_begin(&w, false);
            wave_wait(&w, 50 * us);
            one_packet(&w, WAVE_SOP);
            wave_begin(&p, false);
            for (size_t k = 0; k < w.count; k++) {
                p.now_ps = w.at_ps[k];
                wave_change(&p);
                if (k != change)
                    continue;
                wave_wait(&p, 300 * ns);
                wave_change(&p);
                wave_wait(&p, length_ns * ns);
                wave_change(&p);
            }
            listen_plainly(&h, &p);
            wave_free(&w);
            assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        }
    }
}

/* ---- pieces ---- */

static void what_is_known_of_a_line_decides_when_a_frame_comes_out_and_not_what_it_is(void **state)
{
    (void)state;
    struct wave        w;
    struct wave_ticks  t;
    struct bmc_options o = { .tick_ps = plain.tick_ps };
    struct heard       whole = { 0 };
    struct wave_packet p = wave_packet_of(WAVE_HARD_RESET, NULL, 0);
    struct bmc        *b;

    wave_begin(&w, true);
    wave_wait(&w, 50 * us);
    for (unsigned k = 0; k < 5; k++) {
        one_packet(&w, k);
        wave_wait(&w, 40 * us);
    }
    (void)wave_send(&w, &p);
    wave_wait(&w, 100 * us);
    listen_to(&whole, &w, &plain);
    assert_int_equal(whole.count, 6);
    t = wave_see(&w, &plain);
    for (size_t piece = 1; piece < 400; piece += 1 + piece / 3) {
        struct heard h = { 0 };
        int64_t      settled = INT64_MIN;

        b = bmc_new(&o, found, &h);
        for (size_t k = 0; k < t.count; k += piece) {
            size_t count = t.count - k < piece ? t.count - k : piece, before = h.count;

            bmc_take(b, t.at + k, count, t.level != (k % 2 != 0));
            for (size_t j = before; j < h.count; j++)
                assert_true(h.frames[j].start_tick >= settled);
            assert_true(bmc_settled(b) >= settled);
            settled = bmc_settled(b);
        }
        bmc_reached(b, t.at[t.count - 1] + 2400);
        assert_int_equal(h.count, 6); /* nothing waits for the end */
        assert_int_equal(bmc_settled(b), t.at[t.count - 1] + 2400);
        bmc_finish(b);
        assert_int_equal(h.count, 6);
        bmc_free(b);
        for (size_t k = 0; k < 6; k++) {
            h.frames[k].bytes = whole.frames[k].bytes;
            assert_memory_equal(&h.frames[k], &whole.frames[k], sizeof h.frames[k]);
        }
    }
    free(t.at);
    wave_free(&w);
}

static void a_level_that_is_not_what_the_changes_make_it_is_a_hole(void **state)
{
    (void)state;
    struct wave        w;
    struct wave_ticks  t;
    struct bmc_options o = { .tick_ps = plain.tick_ps };
    struct heard       h = { 0 };
    struct bmc        *b = bmc_new(&o, found, &h);

    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    one_packet(&w, WAVE_SOP);
    wave_wait(&w, 40 * us);
    one_packet(&w, WAVE_SOP);
    t = wave_see(&w, &plain);
    bmc_take(b, t.at, 150, t.level);
    bmc_take(b, t.at + 151, t.count - 151, t.level != (151 % 2 != 0));
    bmc_finish(b);
    assert_int_equal(h.count, 2);
    assert_int_equal(h.frames[0].end, BMC_NO_EOP);
    assert_is(&h, 1, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[1].gap_parts, -1);
    bmc_free(b);
    free(t.at);
    wave_free(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_tables_of_encoder_and_decoder_are_those_that_were_published),
        cmocka_unit_test(ordered_sets_are_the_20_bits_that_were_worked_out_from_the_published_k_codes),
        cmocka_unit_test(the_encoder_reckons_the_crc_of_the_worked_example),
        cmocka_unit_test(the_encoder_sends_the_worked_example_bit_by_bit),
        cmocka_unit_test(packets_of_every_set_and_resets_are_read_whichever_level_the_line_begins_with),
        cmocka_unit_test(start_length_bits_and_gap_are_those_that_were_sent),
        cmocka_unit_test(rates_from_150_to_600_kilobit_are_found_and_measured),
        cmocka_unit_test(a_line_that_is_nothing_but_noise_gives_no_frame),
        cmocka_unit_test(garbage_between_packets_costs_nothing_but_its_time),
        cmocka_unit_test(a_packet_may_follow_another_at_once),
        cmocka_unit_test(a_packet_that_breaks_into_another_is_read_and_the_other_ends_before_it),
        cmocka_unit_test(one_wrong_k_code_of_four_is_taken_whichever_it_is_and_kept_as_it_came),
        cmocka_unit_test(two_wrong_k_codes_of_four_are_no_packet),
        cmocka_unit_test(a_border_in_the_ordered_set_that_could_not_be_told_is_told),
        cmocka_unit_test(the_beginning_of_a_preamble_may_be_missing_and_is_counted_as_missing),
        cmocka_unit_test(a_preamble_of_any_length_is_counted),
        cmocka_unit_test(a_preamble_is_whole_where_the_line_was_known_and_still_for_20_us_before),
        cmocka_unit_test(the_transmitters_last_changes_neither_lengthen_a_packet_nor_make_another),
        cmocka_unit_test(a_frame_with_a_wrong_crc_is_handed_over),
        cmocka_unit_test(a_frame_ends_with_a_symbol_that_has_no_place_and_tells_what_was_before_it),
        cmocka_unit_test(an_eop_in_the_midst_of_a_packet_ends_it_with_its_whole_bytes),
        cmocka_unit_test(a_packet_without_eop_ends_by_silence_and_its_crc_may_be_good),
        cmocka_unit_test(a_packet_that_is_cut_anywhere_is_handed_over_as_far_as_it_goes),
        cmocka_unit_test(a_hole_in_a_packet_ends_it_and_the_packet_after_is_read),
        cmocka_unit_test(a_packet_longer_than_any_ends_where_it_is_too_long),
        cmocka_unit_test(a_carrier_without_end_is_no_packet_and_the_packet_after_it_is_read),
        cmocka_unit_test(drift_is_measured_against_the_last_32_bits_of_the_preamble),
        cmocka_unit_test(jitter_is_measured_to_within_a_tenth),
        cmocka_unit_test(unequal_edges_change_nothing_of_what_is_measured),
        cmocka_unit_test(ticks_of_a_femtosecond_and_times_near_the_ends_of_their_range_are_taken),
        cmocka_unit_test(pulses_shorter_than_the_filter_are_not_there_and_its_width_can_be_set),
        cmocka_unit_test(a_longer_pulse_inside_a_cell_is_seen_to_be_no_part_of_it),
        cmocka_unit_test(what_is_known_of_a_line_decides_when_a_frame_comes_out_and_not_what_it_is),
        cmocka_unit_test(a_level_that_is_not_what_the_changes_make_it_is_a_hole),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
