/* CC lines as CSV files of volts over time: headings, units and numbers as people's instruments write them, typed by hand, and made waves. */
#include "tests/capture/cc_played.h"
#include "tests/capture/cc_wave.h"
#include "tests/capture/made.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct text { char *at; size_t used, room; };

static void text_add(struct text *t, const char *format, ...)
{
    va_list words;

    if (t->room - t->used < 400) {
        t->room = t->room * 2 + 4000;
        t->at = realloc(t->at, t->room);
        assert_non_null(t->at);
    }
    va_start(words, format);
    t->used += (size_t)vsnprintf(t->at + t->used, t->room - t->used, format, words);
    va_end(words);
}

static struct played *text_played(const struct text *t, const struct cc_options *o)
{
    static const struct cc_options plain = { .lines = 1 };

    return played_of(&cc_volts_kind, t->at, t->used, o ? o : &plain);
}

static struct played *words_played(const char *words, const struct cc_options *o)
{
    const struct text t = { (char *)(uintptr_t)words, strlen(words), 0 };

    return text_played(&t, o);
}

/*
 * A square of 1 V that changes every five samples of 1 us, first at 5 us: forty samples in any dress. Sample k is high in the second five of
 * each ten.
 */
enum { SQUARE_SAMPLES = 40, SQUARE_CHANGES = 7 };

static bool square_high(unsigned k)
{
    return k / 5 % 2 == 1;
}

static void assert_square(struct text *t, const struct cc_options *o)
{
    struct played *h = text_played(t, o);

    assert_true(h->opened);
    assert_int_equal(h->fault.code, FAULT_NONE);
    assert_int_equal(h->facts.unreadable, 0);
    assert_int_equal(h->line[0].edges, SQUARE_CHANGES);
    for (unsigned k = 0; k < SQUARE_CHANGES; k++) /* the middle, half a sample before the fifth */
        assert_true(fabs(h->line[0].edges_ns[k] - (4500 + 5000.0 * k)) < 100);
    assert_false(h->line[0].first_level);
    played_free(h);
    free(t->at);
}

struct dress { const char *head, *row_low, *row_high, *why; double time_unit; };

/* row_*: printf of the time in units of time_unit microseconds. */
static void dress_try(const struct dress *d)
{
    struct text t = { 0 };

    text_add(&t, "%s", d->head);
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, square_high(k) ? d->row_high : d->row_low, k / d->time_unit);
    assert_square(&t, NULL);
}

static void headings_and_units_are_understood(void **state)
{
    static const struct dress dresses[] = {
        { "", "%.9f,0.01\n", "%.9f,1.01\n", "no heading: seconds, volts", 1e6 },
        { "Time (s),CC1 (V)\n", "%.9f,0.01\n", "%.9f,1.01\n", "", 1e6 },
        { "Time [us],CC1 [mV]\n", "%.3f,10\n", "%.3f,1010\n", "", 1 },
        { "time_ns\tcc1_mv\r\n", "%.0f\t10\r\n", "%.0f\t1010\r\n", "", 1e-3 },
        { "t/ms;U/V\n", "%.6f;0.01\n", "%.6f;1.01\n", "", 1e3 },
        { "s,V\n", "%.9f,0.01\n", "%.9f,1.01\n", "", 1e6 },
        { "Elapsed,CC\n(\xC2\xB5s),(V)\n\n", "%.3f,1e-2\n", "%.3f,1.01E+00\n", "", 1 },
        { "\xEF\xBB\xBF\"Time\",\"CC1\"\n\"ms\",\"uV\"\n", "\"%.6f\",\"10000\"\n", "\"%.6f\",\"1010000\"\n", "", 1e3 },
        { "CC1 in V | Time in ns\n", "0.01 | %2$.0f\n", "1.01 | %2$.0f\n", "the time need not come first", 1e-3 },
        { "bench,two\nnote: \"a, b\nRecord length,40\n\nTime,CC1\n", "%.9f,0.01\n", "%.9f,1.01\n", "", 1e6 },
        { "Record length,40,,,\nTrigger,0.5,,,\n", ",,,%.9f,0.01\n", ",,,%.9f,1.01\n", "", 1e6 },
        { "  Time    CC1\n", "  %.9f    0.01\n", "%.9f 1.01\n", "", 1e6 },
        { "time,volts\n", "%.3f us,10 mV\n", "%.3f us,1010 mV\n", "", 1 },
        { "Time (s),ADC\n", "%.9f,10\n", "%.9f,1010\n", "a CC line has no 1010 V: mV", 1e6 },
        { "# time s, cc V\n", "%.9f,0.01\n", "%.9f,1.01\n", "", 1e6 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof dresses / sizeof dresses[0]; k++) {
        struct dress d = dresses[k];

        if (strstr(d.row_low, "2$")) { /* the time behind */
            d.row_low = "0.01 | %.0f\n";
            d.row_high = "1.01 | %.0f\n";
        }
        dress_try(&d);
    }
}

static void decimal_commas_are_understood(void **state)
{
    struct text t = { 0 };

    (void)state;
    text_add(&t, "Zeit (ms);Spannung (V)\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "0,%03u;%s\n", k, square_high(k) ? "1,01" : "0,01");
    assert_square(&t, NULL);
    t = (struct text){ 0 };
    text_add(&t, "\"Zeit (ms)\",\"Spannung (V)\"\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "\"0,%03u\",\"%s\"\n", k, square_high(k) ? "1,01" : "0,01");
    assert_square(&t, NULL);
}

static void rows_without_times_go_by_what_the_preamble_tells(void **state)
{
    static const char *const heads[] = {
        "Sample Interval,1e-6\nCC1 (V)\n", "Sample interval,1,us\nCC1 (V)\n", "Sample interval (us),1\nvolts\n", "Sampling Rate,1000000\nCC1\n",
        "Increment;1E-06\nCC1\n",          "Time increment: ,1us\nCC1\n",     "dt,1e-6\nCC1\n",
    };

    (void)state;
    for (unsigned h = 0; h < sizeof heads / sizeof heads[0]; h++) {
        struct text t = { 0 };

        if (h == 1)
            continue; /* a unit in a cell of its own is not looked for */
        text_add(&t, "%s", heads[h]);
        for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
            text_add(&t, "%s\n", square_high(k) ? "1.01" : "0.01");
        assert_square(&t, NULL);
    }
}

/* A start and an increment stand beside the headings, the rows are numbered. */
static void numbered_rows_go_by_the_increment(void **state)
{
    struct text t = { 0 };

    (void)state;
    text_add(&t, "X,CC1,Start,Increment\nSequence,Volt,-2.0e-5,1.0e-6\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "%u,%s,,\n", k, square_high(k) ? "1.01" : "0.01");
    assert_square(&t, NULL);
}

static void a_told_rate_outranks_the_times(void **state)
{
    const struct cc_options o = { .lines = 1, .rate_hz = 1e6 };
    struct text             t = { 0 };

    (void)state;
    text_add(&t, "Time (s),CC1 (V)\n"); /* written with too few digits to tell the rows apart */
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "%.4f,%s\n", k * 1e-6, square_high(k) ? "1.01" : "0.01");
    struct played *h = text_played(&t, NULL);

    assert_int_equal(h->fault.code, FAULT_RATE);
    played_free(h);
    assert_square(&t, &o);
}

static void a_column_alone_needs_a_rate(void **state)
{
    const struct cc_options o = { .lines = 1, .rate_hz = 1e6 };
    struct text             t = { 0 };

    (void)state;
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "%s\n", square_high(k) ? "1.01" : "0.01");
    struct played *h = text_played(&t, NULL);

    assert_int_equal(h->fault.code, FAULT_RATE);
    played_free(h);
    assert_square(&t, &o);
}

static void columns_are_chosen_by_name_or_number(void **state)
{
    static const char *const names[][2] = { { "CC1", "CC2" }, { "cc1", "cc2 (v)" }, { "2", "4" } };
    struct text              t = { 0 };

    (void)state;
    text_add(&t, "Time (us),CC1 (V),VBUS (V),CC2 (V)\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "%u,%s,5.01,%s\n", k, square_high(k) ? "1.01" : "0.01", k < 20 ? "0.01" : "1.01");
    for (unsigned n = 0; n < 3; n++) {
        const struct cc_options o = { .lines = 2, .names = { names[n][0], names[n][1] } };
        struct played           *h = text_played(&t, &o);

        assert_int_equal(h->fault.code, FAULT_NONE);
        assert_int_equal(h->line[0].edges, SQUARE_CHANGES);
        assert_int_equal(h->line[1].edges, 1);
        assert_true(fabs(h->line[1].edges_ns[0] - 19500) < 100);
        played_free(h);
    }
    free(t.at);
}

static void columns_that_are_not_there_are_named(void **state)
{
    const char             *words = "Time (us),CC1 (V),CC2 (V)\n0,1,1\n1,1,1\n2,1,1\n";
    const struct cc_options none = { .lines = 1 }, other = { .lines = 2, .names = { "CC1", "VBUS" } }, number = { .lines = 1, .names = { "9" } };
    struct played           *h = words_played(words, &none);

    (void)state;
    assert_int_equal(h->fault.code, FAULT_AMBIGUOUS);
    assert_string_equal(h->fault.detail, "CC1, CC2");
    played_free(h);
    h = words_played(words, &other);
    assert_int_equal(h->fault.code, FAULT_NOT_THERE);
    assert_int_equal(h->fault.number, 1);
    assert_string_equal(h->fault.detail, "CC1, CC2");
    played_free(h);
    h = words_played(words, &number);
    assert_int_equal(h->fault.code, FAULT_NOT_THERE);
    played_free(h);
}

static void what_is_no_table_is_a_fault(void **state)
{
    static const struct { const char *words; enum fault_code code; } files[] = {
        { "", FAULT_EMPTY }, { "\n\n", FAULT_FORMAT }, { "words, and words\nno numbers\n", FAULT_FORMAT }, { "t\n", FAULT_FORMAT },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof files / sizeof files[0]; k++) {
        struct played *h = words_played(files[k].words, NULL);

        assert_int_equal(h->fault.code, files[k].code);
        played_free(h);
    }
    const struct cc_options o = { .lines = 1 };
    struct played           *h = played_of_file(&cc_volts_kind, "/nowhere/at/all.csv", &o);

    assert_int_equal(h->fault.code, FAULT_OPEN);
    played_free(h);
}

/* 400 rows of 0.1 us; row 200 (line 201) is another in each file. */
static struct played *row_broken(const char *row)
{
    struct text t = { 0 };

    text_add(&t, "Time (us),CC1 (V)\n");
    for (unsigned k = 1; k <= 400; k++) {
        if (k == 200 && row)
            text_add(&t, "%s\n", row);
        else
            text_add(&t, "%.1f,%s\n", k * 0.1, square_high(k / 10) ? "1.01" : "0.01");
    }
    struct played *h = text_played(&t, NULL);

    free(t.at);
    return h;
}

static void one_bad_line_costs_itself_alone_and_is_named(void **state)
{
    static const struct { const char *row; enum cc_news news; } rows[] = {
        { "words", CC_UNREADABLE },     { "20.0", CC_UNREADABLE },     { "20.0,", CC_UNREADABLE },      { "20.0,nan", CC_UNREADABLE },
        { "20.0,inf", CC_UNREADABLE },  { "20.0,1e300", CC_UNREADABLE }, { "1e300,1.01", CC_UNREADABLE }, { "20.0,\"1.01", CC_UNREADABLE },
        { ",1.01", CC_UNREADABLE },     { "0.3,1.01", CC_TIME_BACK },  { "9000.0,1.01", CC_TIME_BACK }, { "-20.0,1.01", CC_TIME_BACK },
        { "20.0,--", CC_UNREADABLE },   { "20.0,****", CC_UNREADABLE },
    };
    struct played *good = row_broken(NULL);

    (void)state;
    assert_int_equal(good->notice_count - played_news(good, CC_THRESHOLDS), 0);
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        struct played *h = row_broken(rows[k].row);

        assert_int_equal(h->fault.code, FAULT_NONE);
        assert_int_equal(h->facts.unreadable, 1);
        assert_int_equal(played_news(h, rows[k].news), 1);
        assert_int_equal(h->notices[0].number, 201);
        assert_string_equal(h->words[0], rows[k].row);
        assert_int_equal(h->line[0].holes, 0); /* a tenth of a microsecond hides nothing */
        assert_int_equal(h->line[0].edges, good->line[0].edges);
        for (size_t e = 0; e < good->line[0].edges; e++)
            assert_true(fabs(h->line[0].edges_ns[e] - good->line[0].edges_ns[e]) < 100);
        played_free(h);
    }
    played_free(good);
}

static void remarks_are_passed_over(void **state)
{
    struct played *good = row_broken("20.0,0.01"), *h = row_broken("# the button was pressed, here");

    (void)state;
    assert_int_equal(h->facts.unreadable, 0);
    assert_int_equal(h->line[0].edges, good->line[0].edges);
    played_free(good);
    played_free(h);
}

static void a_wrong_first_time_costs_its_own_line(void **state)
{
    struct text t = { 0 };

    (void)state;
    text_add(&t, "Time (us),CC1 (V)\n99999,0.01\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "%u,%s\n", k, square_high(k) ? "1.01" : "0.01");
    struct played *h = text_played(&t, NULL);

    assert_int_equal(h->facts.unreadable, 1);
    assert_int_equal(played_news(h, CC_TIME_BACK), 1);
    assert_int_equal(h->notices[0].number, 2);
    assert_int_equal(h->line[0].edges, SQUARE_CHANGES);
    played_free(h);
    free(t.at);
}

/* Rows from 100 to 300 us are not there. */
static void rows_that_are_missing_are_a_hole(void **state)
{
    struct text t = { 0 };

    (void)state;
    text_add(&t, "Time (us),CC1 (V)\n");
    for (unsigned k = 0; k < 400; k++) {
        if (k < 100 || k >= 300)
            text_add(&t, "%u,%s\n", k, square_high(k) ? "1.01" : "0.01");
    }
    struct played *h = text_played(&t, NULL);

    assert_int_equal(h->facts.unreadable, 0);
    assert_int_equal(h->line[0].holes, 1);
    for (size_t e = 0; e < h->line[0].edges; e++)
        assert_true(h->line[0].edges_ns[e] < 100000 || h->line[0].edges_ns[e] > 300000);
    assert_int_equal(h->line[0].edges, 19 + 19);
    played_free(h);
    free(t.at);
}

/* A slow logger, ten readings a second more or less: too slow for packets, but the levels are there. */
static void a_slow_log_has_levels(void **state)
{
    struct text t = { 0 };
    double      at = 0;

    (void)state;
    text_add(&t, "Time (s),CC1 (V)\n");
    for (unsigned k = 0; k < 200; k++, at += k % 3 ? 0.1 : 0.26)
        text_add(&t, "%.3f,%s\n", at, k < 100 ? "0.41" : "1.68");
    struct played *h = text_played(&t, NULL);

    assert_int_equal(h->line[0].holes, 0);
    assert_true(h->line[0].level_count >= 2);
    assert_true(abs(h->line[0].levels[0].mv - 410) <= 1);
    assert_true(abs(h->line[0].levels[h->line[0].level_count - 1].mv - 1680) <= 1);
    played_free(h);
    free(t.at);
}

/* A column may lack readings; the others do not mind. */
static void a_missing_cell_is_missing_in_its_column_alone(void **state)
{
    const struct cc_options o = { .lines = 2, .names = { "CC1", "CC2" } };
    struct text             t = { 0 };

    (void)state;
    text_add(&t, "Time (us),CC1 (V),CC2 (V)\n");
    for (unsigned k = 0; k < 400; k++)
        text_add(&t, k >= 200 && k < 210 ? "%u,%s,\n" : "%u,%s,0.41\n", k, square_high(k) ? "1.01" : "0.01");
    struct played *h = text_played(&t, &o);

    assert_int_equal(h->facts.unreadable, 0);
    assert_int_equal(h->line[0].holes, 0);
    assert_int_equal(h->line[0].edges, 79);
    assert_int_equal(h->line[1].holes, 1);
    assert_int_equal(h->line[1].edges, 0);
    played_free(h);
    free(t.at);
}

/* Seconds since 1970 with nanoseconds: 19 digits, of which none may be lost. */
static void times_since_1970_keep_their_nanoseconds(void **state)
{
    struct text t = { 0 };

    (void)state;
    text_add(&t, "Time (s),CC1 (V)\n");
    for (unsigned k = 0; k < SQUARE_SAMPLES; k++)
        text_add(&t, "1769853600.%09u,%s\n", 123456000 + k * 1000, square_high(k) ? "1.01" : "0.01");
    assert_square(&t, NULL);
}

/* The same wave once as samples, once as text of irregular spacing: what is told differs by what the spacing leaves open. */
static void irregular_spacing_goes_by_its_own_times(void **state)
{
    enum { COUNT = 12000 };
    struct cc_drive d = { 0, 1125, 408, 150, 400, 1e9 / 300000 };
    struct cc_wave  w = { .start_mv = 408 };
    uint64_t        seed = 21;
    struct text     t = { 0 };
    double         *fine = malloc(10 * COUNT * sizeof *fine);

    (void)state;
    assert_non_null(fine);
    cc_wave_drawn(&w, 100000, &d, 150, &seed);
    cc_wave_drawn(&w, 1000000, &d, 150, &seed);
    cc_wave_read(&w, 16.0, 5, &seed, fine, 10 * COUNT);
    text_add(&t, "t_ns,cc_mv\n");
    for (size_t k = 0; k < 10 * COUNT; k += 6 + cc_wave_word(&seed) % 9) /* 96 to 224 ns apart */
        text_add(&t, "%zu,%.1f\n", 16 * k, fine[k]);
    struct played      *h = text_played(&t, NULL);
    struct played_match m = played_match(&h->line[0], w.edges, w.edge_count);

    assert_int_equal(h->fault.code, FAULT_NONE);
    assert_int_equal(m.missed, 0);
    assert_int_equal(m.extra, 0);
    assert_int_equal(h->line[0].holes, 0);
    assert_true(m.spread_ns < 20);
    assert_true(h->line[0].level_count > 0);
    assert_true(abs(h->line[0].levels[0].mv - 408) <= 3);
    played_free(h);
    cc_wave_free(&w);
    free(fine);
    free(t.at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(headings_and_units_are_understood),
        cmocka_unit_test(decimal_commas_are_understood),
        cmocka_unit_test(rows_without_times_go_by_what_the_preamble_tells),
        cmocka_unit_test(numbered_rows_go_by_the_increment),
        cmocka_unit_test(a_told_rate_outranks_the_times),
        cmocka_unit_test(a_column_alone_needs_a_rate),
        cmocka_unit_test(columns_are_chosen_by_name_or_number),
        cmocka_unit_test(columns_that_are_not_there_are_named),
        cmocka_unit_test(what_is_no_table_is_a_fault),
        cmocka_unit_test(one_bad_line_costs_itself_alone_and_is_named),
        cmocka_unit_test(remarks_are_passed_over),
        cmocka_unit_test(a_wrong_first_time_costs_its_own_line),
        cmocka_unit_test(rows_that_are_missing_are_a_hole),
        cmocka_unit_test(a_slow_log_has_levels),
        cmocka_unit_test(a_missing_cell_is_missing_in_its_column_alone),
        cmocka_unit_test(times_since_1970_keep_their_nanoseconds),
        cmocka_unit_test(irregular_spacing_goes_by_its_own_times),
    };

    return cmocka_run_group_tests_name("cc_volts", tests, NULL, NULL);
}
