/*
 * The BMC decoder on lines that the tests' own encoder made, and the encoder itself against the tables of Chromium EC (include/usb_pd.h and
 * the files beside it) and the worked example of the CRC (0x0101: 0x2FC51328).
 */
#include "tests/decode/bmc_heard.h"

#include "decode/line_code.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
        struct bmc        *b = bmc_new(&o, heard_take, &h);
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
        struct bmc        *b = bmc_new(&o, heard_take, &h);
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
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
