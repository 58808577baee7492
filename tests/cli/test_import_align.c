/*
 * import --align: lives whose readings are taken out, written as a meter's log by a clock of its own, and tied to the rest again. The truth is
 * where the readings stood. All INVENTED.
 */
#include "capture/trace.h"
#include "capture/writer.h"
#include "tests/cli/program.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SCENARIO_BYTES = 4000, COLUMN_VBUS = 0, COLUMN_IBUS = 1, ROWS_AT_ONCE = 65536 };

/* How the meter's log differs from the truth: wire = first true reading + own x (1 + ppm / 1e6). */
struct log_of { int64_t first_ns, last_ns, pull_ns, load_ns; uint64_t rows; };

static uint32_t draw(uint64_t *state, uint32_t below)
{
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407); /* Knuth, MMIX */
    return (uint32_t)((*state >> 33) % below);
}

/* Plugged in, so many changes of contract at times of their own, pulled. */
static const char *scenario_make(uint64_t seed, unsigned changes, unsigned pause_ms, unsigned interval_us)
{
    static char text[SCENARIO_BYTES];
    size_t      used;
    unsigned    at = 1;

    used = (size_t)snprintf(text, sizeof text,
                            "{\"schema\":1,\"instrument\":{\"power\":true,\"power_interval_us\":%u},\"ports\":[{\"sink\":{\"policy\":\"least_voltage\"},"
                            "\"cable\":{\"kind\":\"passive\"},\"steps\":[{\"do\":\"wait\",\"ms\":700},{\"do\":\"attach\"}", interval_us);
    for (unsigned k = 0; k < changes; k++) {
        unsigned next = 1 + draw(&seed, 4);

        next = next == at ? at % 4 + 1 : next;
        at = next;
        used += (size_t)snprintf(text + used, sizeof text - used, ",{\"do\":\"wait\",\"ms\":%u},{\"do\":\"request\",\"position\":%u,\"ma\":%u}",
                                 1000 + draw(&seed, pause_ms), at, 500 + 250 * k % 1500);
    }
    snprintf(text + used, sizeof text - used, ",{\"do\":\"wait\",\"ms\":1500},{\"do\":\"load\",\"ma\":450},{\"do\":\"wait\",\"ms\":1500},{\"do\":\"detach\"},{\"do\":\"wait\",\"ms\":1000}]}]}");
    return text;
}

static void life_make(const char *name, uint64_t seed, const char *scenario)
{
    char       number[24];
    struct run r;

    snprintf(number, sizeof number, "%" PRIu64, seed);
    r = RUN_ON(scenario, "synth", "-s", number, "-o", file_path(name), "-");
    if (r.status != 0)
        fail_msg("synth: %s", r.err);
    run_free(&r);
}

static void rows_write(FILE *csv, const struct record *r, unsigned every, double ppm, struct log_of *l)
{
    for (unsigned row = 0; row < r->power.rows; row++) {
        int64_t t_ns = r->t_ns + (int64_t)row * r->power.interval_ns;
        int32_t uv = record_cell(r, row, COLUMN_VBUS), ua = record_cell(r, row, COLUMN_IBUS);

        if (l->load_ns == 0 && ua > 300000)
            l->load_ns = t_ns;
        if (l->rows++ % every != 0)
            continue;
        if (l->first_ns == 0)
            l->first_ns = t_ns;
        l->last_ns = t_ns;
        fprintf(csv, "%.7f;%.6f;%.6f\n", (double)(t_ns - l->first_ns) / 1e9 / (1 + ppm / 1e6), uv / 1e6, ua / 1e6);
    }
}

/* life.pcap into wire.pcap (all but readings and the mark of the pull) and log.csv (each so manieth reading). */
static struct log_of life_part(const char *name, unsigned every, double ppm)
{
    struct fault          f = { .code = FAULT_NONE };
    struct trace         *t = trace_open(file_path(name), NULL, &f);
    struct trace_writer  *w = trace_writer_open(file_path("wire.pcap"), &f);
    FILE                 *csv = fopen(file_path("log.csv"), "w");
    struct log_of         l = { 0 };
    const struct record  *r;

    assert_true(t && w && csv);
    fprintf(csv, "Time (s);Bus (V);Current (A)\n");
    while (trace_next(t, &r, &f)) {
        if (r->kind == RECORD_POWER)
            rows_write(csv, r, every, ppm, &l);
        else if (r->kind == RECORD_MARK && r->mark.action == RECORD_UNPLUGGED)
            l.pull_ns = r->t_ns;
        else
            assert_true(trace_writer_put(w, r->stamp_ns, r->bytes, r->length, &f));
    }
    trace_close(t);
    assert_true(trace_writer_close(w, &f));
    fclose(csv);
    return l;
}

/* Where readings stand in the trace, and what ABOUT says of the tie. */
struct read_back { int64_t first_ns, last_ns; double align_ns, clock_ppm; };

static double number_behind(const struct record *r, const char *key)
{
    char        text[4096];
    const char *at;

    snprintf(text, sizeof text, "%.*s", (int)r->about.length, r->about.text);
    at = strstr(text, key);
    return at ? strtod(at + strlen(key), NULL) : -1;
}

static struct read_back read_out(void)
{
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(file_path("out.pcap"), NULL, &f);
    struct read_back     b = { .align_ns = -1, .clock_ppm = -1 };
    const struct record *r;

    assert_non_null(t);
    while (trace_next(t, &r, &f)) {
        if (r->kind == RECORD_ABOUT) {
            b.align_ns = fmax(b.align_ns, number_behind(r, "\"align_ns\":"));
            b.clock_ppm = fmax(b.clock_ppm, number_behind(r, "\"power_clock_ppm\":"));
        }
        if (r->kind != RECORD_POWER)
            continue;
        b.first_ns = b.first_ns ? b.first_ns : r->t_ns;
        b.last_ns = r->t_ns + (int64_t)(r->power.rows - 1) * r->power.interval_ns;
    }
    trace_close(t);
    return b;
}

static struct run align(const char *how, const char *shift)
{
    char meter[600];

    snprintf(meter, sizeof meter, "meter,shift=%s:%s", shift, file_path("log.csv"));
    return RUN("import", "--overwrite", "--align", how, "-o", file_path("out.pcap"), file_path("wire.pcap"), meter);
}

/* Evenly spread: no farther than sqrt 3 of the standard uncertainty, at either end. */
static void expect_back(const struct log_of *l, const struct read_back *b)
{
    double most = sqrt(3) * b->align_ns + 1e5;

    assert_true(b->align_ns > 0);
    if (fabs((double)(b->first_ns - l->first_ns)) > most || fabs((double)(b->last_ns - l->last_ns)) > most)
        fail_msg("off by %.3f and %.3f ms; said to be worth %.3f ms", (double)(b->first_ns - l->first_ns) / 1e6, (double)(b->last_ns - l->last_ns) / 1e6,
                 b->align_ns / 1e6);
}

static void a_log_is_tied_where_it_belongs_within_what_the_tie_is_worth(void **state)
{
    (void)state;
    static const unsigned every[] = { 100, 20, 5, 1 }; /* 10 Hz to 1 kHz */
    static const char *const shifts[] = { "7.5s", "-20s", "1h", "0" };

    for (uint64_t seed = 1; seed <= 3; seed++) {
        life_make("life.pcap", seed, scenario_make(seed * 77, 5, 3000, 1000));
        for (unsigned k = 0; k < 4; k++) {
            struct log_of l = life_part("life.pcap", every[k], 0);
            struct run    r = align("best", shifts[k]);

            if (r.status != 0)
                fail_msg("%s", r.err);
            assert_non_null(strstr(r.err, "moves of VBUS that messages and CC tell of lie in their windows; standard uncertainty"));
            run_free(&r);
            struct read_back b = read_out();

            expect_back(&l, &b);
            assert_true(b.align_ns < 80e6 && b.clock_ppm == 50); /* as without */
        }
    }
}

static void in_a_long_recording_the_rate_of_the_clock_is_found(void **state)
{
    (void)state;
    life_make("life.pcap", 5, scenario_make(5, 16, 240000, 50000)); /* half an hour */
    struct log_of l = life_part("life.pcap", 1, 180);
    struct run    r = align("best", "3m");

    if (r.status != 0)
        fail_msg("%s", r.err);
    if (!strstr(r.err, "ppm slow (standard uncertainty"))
        fail_msg("%s", r.err);
    run_free(&r);
    struct read_back b = read_out();

    expect_back(&l, &b);
    assert_true(b.clock_ppm > 0 && b.clock_ppm < 60);
    assert_true(fabs((double)(l.last_ns - l.first_ns) / (double)(b.last_ns - b.first_ns) - 1) < 4 * b.clock_ppm / 1e6);
}

/* The tie counts in what is judged across streams: the same readings, the same messages. */
static void what_the_tie_is_worth_decides_what_can_be_judged(void **state)
{
    (void)state;
    static const struct { const char *how; int verdict; } cases[] = { { "known", 0 }, { "best", 1 } };

    life_make("life.pcap", 3, scenario_make(3, 5, 3000, 1000));
    struct log_of l = life_part("life.pcap", 1, 0);
    int64_t       zero_ns = l.first_ns / 1000000000 * 1000000000;

    for (unsigned k = 0; k < 2; k++) {
        char how[80];

        /* Without a shift the log begins with the wire's first record, at the whole second. */
        snprintf(how, sizeof how, "offset:%.9f,1us", (double)(l.first_ns - zero_ns) / 1e9);
        struct run r = align(cases[k].verdict ? "best" : how, "0");

        if (r.status != 0)
            fail_msg("%s", r.err);
        run_free(&r);
        r = RUN("check", file_path("out.pcap"));
        assert_int_equal(r.status, 0);
        bool undecided = strstr(r.out, "time.src-transition (must)") != NULL;

        assert_int_equal(undecided, cases[k].verdict);
        assert_int_equal(strncmp(r.out, cases[k].verdict ? "UNDECIDED" : "PASS", 4), 0);
        run_free(&r);
    }
}

static void the_first_rise_of_vbus_ties_to_the_plug(void **state)
{
    (void)state;
    life_make("life.pcap", 4, scenario_make(4, 0, 3000, 1000));
    struct log_of l = life_part("life.pcap", 5, 0);
    struct run    r = align("vbus", "40s");

    if (r.status != 0)
        fail_msg("%s", r.err);
    assert_non_null(strstr(r.err, "between the plug and the first offer"));
    run_free(&r);
    struct read_back b = read_out();

    expect_back(&l, &b);
}

/* The synth marks the plug and its loads as the bench did them; a mark of ours tells the load anew. */
static void a_mark_ties_to_the_step_that_it_names(void **state)
{
    (void)state;
    char         meter[600], load[80];
    struct lines marks = { .used = 0 };
    static const struct { const char *how; double worth_ns; } cases[] = { { "mark", 138e6 }, { "mark:lamp", 40e6 }, { "mark:pulled", 42e6 } };

    life_make("life.pcap", 6, scenario_make(6, 3, 3000, 1000));
    struct log_of l = life_part("life.pcap", 20, 0);

    snprintf(load, sizeof load, "%" PRId64 ".%09" PRId64, l.load_ns / 1000000000, l.load_ns % 1000000000);
    line_add(&marks, "%s * MARK load 0 450 the lamp", load);
    line_add(&marks, "%" PRId64 ".%09" PRId64 " * MARK unplugged 0 pulled by hand", l.pull_ns / 1000000000, l.pull_ns % 1000000000);
    file_write("marks.txt", marks.text, marks.used);
    snprintf(meter, sizeof meter, "meter,shift=9s:%s", file_path("log.csv"));
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct run r = RUN("import", "--overwrite", "--align", cases[k].how, "-o", file_path("out.pcap"), file_path("wire.pcap"), meter,
                           file_path("marks.txt"));

        if (r.status != 0)
            fail_msg("%s: %s", cases[k].how, r.err);
        run_free(&r);
        struct read_back b = read_out();

        expect_back(&l, &b);
        assert_true(b.align_ns < cases[k].worth_ns);
    }
}

static void recordings_of_two_lives_are_refused(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        life_make("other.pcap", seed + 10, scenario_make(seed + 100, 6, 3000, 2000));
        life_part("other.pcap", 1, 0);
        rename(file_path("log.csv"), file_path("other.csv"));
        life_make("life.pcap", seed, scenario_make(seed, 6, 3000, 2000));
        life_part("life.pcap", 1, 0);
        rename(file_path("other.csv"), file_path("log.csv"));
        struct run r = align("best", "0");

        assert_int_equal(r.status, 2);
        assert_non_null(strstr(r.err, "cannot be tied: "));
        run_free(&r);
    }
}

static void what_cannot_be_tied_is_one_line_each(void **state)
{
    (void)state;
    static const struct { const char *how, *says; } cases[] = {
        { "best", "no shift ties three of them" },
        { "nearly", "--align nearly: best, vbus, mark, mark:TEXT, offset:TIME or offset:TIME,UNCERTAINTY is expected" },
        { "offset:", "is expected" }, { "offset:1s,", "is expected" }, { "offset:1s,0", "is expected" },
        { "mark:of the moon", "no mark holds that text" },
    };

    life_make("life.pcap", 8, scenario_make(8, 0, 3000, 2000));
    life_part("life.pcap", 1, 0);
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct run r = align(cases[k].how, "0");

        assert_int_equal(r.status, 2);
        if (!strstr(r.err, cases[k].says))
            fail_msg("%s: %s", cases[k].how, r.err);
        run_free(&r);
    }
    struct run r = RUN_ON("1;5\n", "import", "--align", "best", "-o", file_path("new.pcap"), file_path("wire.pcap"), "meter:-");

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "standard input: cannot be read twice"));
    run_free(&r);
    r = RUN("import", "--align", "best", "-o", file_path("new.pcap"), file_path("wire.pcap"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "no input has readings of VBUS or the current alone"));
    run_free(&r);
}

static void readings_of_another_port_are_told_of(void **state)
{
    (void)state;
    char meter[600];

    life_make("life.pcap", 9, scenario_make(9, 4, 3000, 2000));
    life_part("life.pcap", 1, 0);
    snprintf(meter, sizeof meter, "meter,port=2:%s", file_path("log.csv"));
    struct run r = RUN("import", "--align", "best", "-o", file_path("new.pcap"), file_path("wire.pcap"), meter);

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "messages and CC speak of other ports than its readings; port=N puts them on the same"));
    run_free(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(a_log_is_tied_where_it_belongs_within_what_the_tie_is_worth, files_remove),
        cmocka_unit_test_teardown(in_a_long_recording_the_rate_of_the_clock_is_found, files_remove),
        cmocka_unit_test_teardown(what_the_tie_is_worth_decides_what_can_be_judged, files_remove),
        cmocka_unit_test_teardown(the_first_rise_of_vbus_ties_to_the_plug, files_remove),
        cmocka_unit_test_teardown(a_mark_ties_to_the_step_that_it_names, files_remove),
        cmocka_unit_test_teardown(recordings_of_two_lives_are_refused, files_remove),
        cmocka_unit_test_teardown(what_cannot_be_tied_is_one_line_each, files_remove),
        cmocka_unit_test_teardown(readings_of_another_port_are_told_of, files_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
