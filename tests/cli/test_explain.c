/*
 * check --explain: the frames around a finding and how its value was worked out. Times are added up here by hand, from the stamps
 * and lengths that the traces were given: 189 bits of a Request and 149 of a GoodCRC at 300 kbit/s (traces/FORMAT.md, section 1).
 */
#define _POSIX_C_SOURCE 200809L /* mkstemp */
#include "tests/cli/cli_try.h"

#include "cli/explain.h"
#include "cli/rule_names.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { REQUEST_NS = 630000, GOODCRC_NS = 496667 };

/* A trace, judged, whose only finding is the one that the test made. */
struct made {
    struct options         options;
    struct check_settings *settings;
    struct check           check;
    struct finding         finding;
    char                   output[64];
};

static void made_start(struct made *m, const char *path, const char *rule, bool json)
{
    *m = (struct made){ .options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .json = json } };
    m->settings = malloc(sizeof *m->settings);
    assert_non_null(m->settings);
    assert_true(check_settings_read(m->settings, "check", &(struct check_words){ .standard = 0 }));
    assert_true(check_run(&m->check, path, &m->options, m->settings));
    m->finding = (struct finding){ .rule = rule_find(rule), .verdict = VERDICT_FAIL, .per_unit = 1000 };
}

/* A time between two edges against a window that has an upper side. */
static void made_span(struct made *m, struct edge from, struct edge to, int64_t clock_ns, int64_t high_ns)
{
    struct finding *f = &m->finding;

    f->has_span = f->has_measured = f->has_uncertainty = f->has_high = true;
    f->span = (struct span){ .from = from, .to = to, .has_clock = clock_ns > 0, .low_ns = to.early_ns - from.late_ns - clock_ns,
                             .high_ns = to.late_ns - from.early_ns + clock_ns };
    f->measured = f->span.low_ns + (f->span.high_ns - f->span.low_ns) / 2;
    f->uncertainty = (f->span.high_ns - f->span.low_ns) / 2;
    f->high = high_ns;
    f->per_unit = 1000000;
    f->unit = "ms";
    f->parameter = parameter_find("tReceiverResponse");
    f->frame = to.frame;
    f->t_ns = to.early_ns;
    f->evidence_count = 2;
    f->evidence[0] = from.frame;
    f->evidence[1] = to.frame;
}

/* Explains it; what came out. */
static struct try made_explain(struct made *m)
{
    struct try t = { .status = 0 };

    finding_list_free(&m->check.findings);
    finding_list_start(&m->check.findings, FINDINGS_ALL);
    finding_list_add(&m->check.findings, &m->finding);
    assert_true(finding_list_sort(&m->check.findings));
    strcpy(m->output, "/tmp/portassay-test-XXXXXX");
    int fd = mkstemp(m->output);

    assert_true(fd >= 0);
    close(fd);
    struct out *o = out_open_path(m->output, COLOR_NEVER);

    assert_non_null(o);
    assert_true(explain_finding(o, &m->check, 1));
    assert_true(out_close(o));
    FILE *f = fopen(m->output, "rb");

    t.text = calloc(1, 1 << 18);
    assert_non_null(t.text);
    assert_true(fread(t.text, 1, (1 << 18) - 1, f) > 0);
    fclose(f);
    unlink(m->output);
    t.json = cJSON_Parse(t.text);
    check_free(&m->check);
    free(m->settings);
    return t;
}

static void expect_line(const struct try *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void expect_line(const struct try *t, const char *format, ...)
{
    char    text[200];
    va_list arguments;

    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    expect_text(t, text);
}

/* "0.123456789" */
static const char *seconds(int64_t ns)
{
    static char texts[4][32];
    static int  next;
    char       *text = texts[next++ % 4];

    snprintf(text, sizeof texts[0], "%" PRId64 ".%09" PRId64, ns / 1000000000, ns % 1000000000);
    return text;
}

static const char *milliseconds(int64_t ns)
{
    static char texts[4][32];
    static int  next;
    char       *text = texts[next++ % 4];

    snprintf(text, sizeof texts[0], "%" PRId64 ".%06" PRId64, ns / 1000000, ns % 1000000);
    return text;
}

static const uint32_t offered[] = { 0x0001912c, 0x0002d12c }; /* 5 V 3 A, 9 V 3 A */

/* Frame of the Request; the next two are its GoodCRC and the Accept. */
static uint64_t negotiated(struct lines *l, const char *instrument)
{
    char about[200];

    snprintf(about, sizeof about, "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\"}],\"instrument\":%s}", instrument);
    lines_about(l, 255, about);
    lines_attach(l);
    lines_caps(l, 2, offered);
    uint64_t frame = lines_request(l, word_ask_fixed(2, 3000, 3000));

    lines_accept_and_ready(l);
    lines_wait(l, MS(5));
    return frame;
}

static void a_time_is_a_sum_that_can_be_done_again_by_hand(void **state)
{
    struct lines *l = *state;
    uint64_t      request = negotiated(l, "{\"time_ns\":500,\"clock_ppm\":20}");
    int64_t       goodcrc = l->line[request].t_ns - START_NS, accept = l->line[request + 1].t_ns - START_NS;
    int64_t       end = goodcrc + GOODCRC_NS, low = accept - end - 2000, high = accept - end + 2000;
    struct edge   from = { START_NS + end - 1000, START_NS + end + 1000, request + 1, EDGE_DONE, GOODCRC_NS };
    struct edge   to = { START_NS + accept - 1000, START_NS + accept + 1000, request + 2, EDGE_START, GOODCRC_NS };
    char          path[64];
    struct made   m;

    try_save(l, path);
    made_start(&m, path, "request.valid-accepted", false);
    made_span(&m, from, to, 80, US(1500));
    struct try t = made_explain(&m);

    expect_line(&t, "end of frame %" PRIu64 " (GoodCRC), which acknowledges frame %" PRIu64, request + 1, request);
    expect_line(&t, "   %s s ", seconds(goodcrc));
    expect_line(&t, "+  0.000496667 s");
    expect_text(&t, "its length, measured");
    expect_line(&t, "+- 0.000001000 s");
    expect_text(&t, "2 x time_ns of ABOUT");
    expect_line(&t, "=  %s .. %s s", seconds(end - 1000), seconds(end + 1000));
    expect_line(&t, "start of frame %" PRIu64 " (Accept)", request + 2);
    expect_line(&t, "=  %s .. %s s", seconds(accept - 1000), seconds(accept + 1000));
    expect_line(&t, "%s .. %s ms", milliseconds(low), milliseconds(high));
    expect_line(&t, "+- 0.000080 ms");
    expect_text(&t, "2 x clock_ppm of ABOUT");
    expect_line(&t, "=  %s .. %s ms", milliseconds(low - 80), milliseconds(high + 80));
    expect_text(&t, "at most 1.5 ms: tReceiverResponse");
    expect_text(&t, "The whole range lies above the window");
    expect_text(&t, "So the demand is not met.");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void the_same_sum_stands_in_json(void **state)
{
    struct lines *l = *state;
    uint64_t      request = negotiated(l, "{\"time_ns\":500}");
    int64_t       end = l->line[request].t_ns + GOODCRC_NS, accept = l->line[request + 1].t_ns;
    struct edge   from = { end - 1000, end + 1000, request + 1, EDGE_DONE, GOODCRC_NS };
    struct edge   to = { accept - 1000, accept + 1000, request + 2, EDGE_START, GOODCRC_NS };
    char          path[64];
    struct made   m;

    try_save(l, path);
    made_start(&m, path, "request.valid-accepted", true);
    made_span(&m, from, to, 0, accept - end); /* the middle of the range: it straddles */
    m.finding.verdict = VERDICT_UNDECIDED;
    m.finding.cause = CAUSE_UNCERTAINTY;
    struct try t = made_explain(&m);

    assert_non_null(t.json);
    assert_int_equal(number_at(t.json, "number"), 1);
    assert_string_equal(text_at(t.json, "finding.rule"), "request.valid-accepted");
    assert_string_equal(text_at(t.json, "finding.edges.from.edge"), "acknowledged");
    assert_string_equal(text_at(t.json, "finding.edges.to.edge"), "start");
    assert_true(number_at(t.json, "finding.edges.low_ns") == (double)(accept - end - 2000));
    assert_string_equal(text_at(t.json, "demand.parameter"), "tReceiverResponse");
    assert_string_equal(text_at(t.json, "worked_out.from.message"), "GoodCRC");
    assert_int_equal(number_at(t.json, "worked_out.from.acknowledges"), request);
    assert_true(number_at(t.json, "worked_out.from.stamped_ns") == (double)(l->line[request].t_ns - START_NS));
    assert_int_equal(number_at(t.json, "worked_out.from.stamp_uncertainty_ns"), 1000);
    assert_int_equal(number_at(t.json, "worked_out.from.length_least_ns"), GOODCRC_NS);
    assert_true(true_at(t.json, "worked_out.from.length_measured"));
    assert_true(cJSON_IsNull(at(t.json, "worked_out.clock_ns")));
    assert_string_equal(text_at(t.json, "worked_out.fit"), "straddles");
    const cJSON *frames = at(t.json, "frames");
    unsigned     rests = 0;

    for (int k = 0; k < cJSON_GetArraySize(frames); k++) {
        const cJSON *f = cJSON_GetArrayItem(frames, k);

        rests += true_at(f, "rests");
        if (number_at(f, "frame") == (double)(request + 2))
            assert_string_equal(text_at(f, "type"), "Accept");
        if (number_at(f, "frame") == (double)request)
            assert_true(number_at(f, "end_ns") == (double)(l->line[request - 1].t_ns - START_NS + REQUEST_NS));
    }
    assert_int_equal(rests, 2);
    try_free(&t);
    try_remove(path);
}

/* A trace in the text form, whose frames are its lines: a Request, its GoodCRC and an Accept, no length measured. */
static void text_save(char path[64], const char *accept)
{
    strcpy(path, "/tmp/portassay-test-XXXXXX");
    int   fd = mkstemp(path);
    FILE *f = fdopen(fd, "w");

    assert_non_null(f);
    fprintf(f, "1000 0 SOP 821045150540b3ffd63f\n1000.002 0 SOP a101c1afc281\n%s 0 SOP a3036facfa5d\n", accept);
    assert_int_equal(fclose(f), 0);
}

/* 630 us at 330 and at 270 kbit/s instead of 300: 572.727 and 700 us. */
static void a_length_that_nobody_measured_is_a_range_and_a_goodcrc_that_nobody_heard_adds_another(void **state)
{
    const int64_t start = INT64_C(1000000000000);
    struct edge   from = { start + 572727, start + 700000 + 1100000, 1, EDGE_DONE_UNSEEN, REQUEST_NS };
    struct edge   to = { start + MS(30), start + MS(30), 3, EDGE_START, GOODCRC_NS };
    char          path[64];
    struct made   m;

    (void)state;
    text_save(path, "1000.030");
    made_start(&m, path, "request.valid-accepted", false);
    made_span(&m, from, to, 0, MS(15));
    struct try t = made_explain(&m);

    expect_text(&t, "end of frame 1 (Request), whose GoodCRC was not recorded");
    expect_text(&t, "+  0.000572727 .. 0.000700000 s");
    expect_text(&t, "630 us at the nominal rate");
    expect_text(&t, "+  0.000000000 .. 0.001100000 s");
    expect_text(&t, "ABOUT gives no time_ns");
    expect_text(&t, "=  0.000572727 .. 0.001800000 s");
    expect_text(&t, "28.200000 .. 29.427273 ms");
    expect_text(&t, "ABOUT gives no clock_ppm");
    expect_text(&t, "630 us at the nominal rate, not measured");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void stamps_of_the_computer_and_stamps_at_the_end_are_named(void **state)
{
    const int64_t start = INT64_C(1000000000000);
    struct edge   from = { start, start, 1, EDGE_START, REQUEST_NS };
    /* The Accept is stamped at its end, by the computer: 2 x 1 ms; its start a length of 451.515 to 551.853 us before. */
    struct edge   to = { start + MS(30) - 551853 - MS(2), start + MS(30) - 451515 + MS(2), 4, EDGE_START, GOODCRC_NS };
    char          path[64];
    struct made   m;

    (void)state;
    text_save(path, "#= end=1000.030 flags=host_time\n1000.029503333");
    made_start(&m, path, "request.valid-accepted", false);
    made_span(&m, from, to, 0, MS(100));
    m.finding.verdict = VERDICT_UNDECIDED;
    m.finding.cause = CAUSE_LOST;
    struct try t = made_explain(&m);

    expect_text(&t, "stamped, at its end");
    expect_text(&t, "-  0.000451515 .. 0.000551853 s");
    expect_text(&t, "+- 0.002000000 s");
    expect_text(&t, "by the computer: ABOUT gives no host_time_ns");
    expect_text(&t, "by the computer's clock");
    expect_text(&t, "The whole range lies inside the window. Not decided all the same: records are missing");
    try_free(&t);
    try_remove(path);
}

static void frames_between_are_shown_and_of_many_the_two_ends(void **state)
{
    struct lines *l = *state;
    uint64_t      first, last;
    char          path[64];
    struct made   m;

    lines_attach(l);
    lines_caps(l, 2, offered);
    first = lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_accept_and_ready(l);
    for (unsigned k = 0; k < 50; k++)
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    last = lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_accept_and_ready(l);
    try_save(l, path);
    made_start(&m, path, "request.position", true);
    m.finding.frame = last;
    m.finding.evidence_count = 2;
    m.finding.evidence[0] = first;
    m.finding.evidence[1] = last;
    struct try   t = made_explain(&m);
    const cJSON *frames = at(t.json, "frames");
    int          count = cJSON_GetArraySize(frames);

    assert_int_equal(count, EXPLAIN_BEFORE - 2 + 2 + 2 * EXPLAIN_NEAR + EXPLAIN_AFTER); /* only four frames come before */
    uint64_t left_out = 0;

    for (int k = 0; k < count; k++)
        left_out += (uint64_t)number_at(cJSON_GetArrayItem(frames, k), "left_out_before");
    assert_int_equal(left_out, last - first - 1 - 2 * EXPLAIN_NEAR);
    assert_true(cJSON_IsNull(at(t.json, "worked_out")));
    try_free(&t);
    try_remove(path);
}

static void a_finding_without_a_time_shows_every_field_that_it_rests_on(void **state)
{
    struct lines *l = *state;
    char          path[64], frame[40];

    lines_attach(l);
    lines_caps(l, 2, offered);
    uint64_t request = lines_request(l, word_ask_fixed(5, 1000, 1000)); /* there are two objects */

    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    try_save(l, path);
    struct try t = try_run(&command_check, "--only", "request.position", "--explain", "1", path, NULL);

    assert_int_equal(t.status, 0); /* the sink is the partner: the verdict is that of check */
    snprintf(frame, sizeof frame, "frame %" PRIu64, request);
    expect_text(&t, frame);
    expect_text(&t, "request.position (must)");
    expect_text(&t, "required");
    expect_text(&t, "matters");
    expect_text(&t, "Object Position                             5");
    expect_text(&t, "Decided by");
    expect_text(&t, "decision");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "request.position", "--judge", "sink", "--explain", "1", path, NULL);
    assert_int_equal(t.status, 1);
    assert_int_equal(number_at(t.json, "finding.frame"), request);
    assert_true(cJSON_IsNull(at(t.json, "worked_out")));
    assert_non_null(text_at(t.json, "demand.why"));
    try_free(&t);
    try_remove(path);
}

static void a_number_that_is_none_and_a_trace_that_is_no_file_are_said_in_a_line(void **state)
{
    struct lines *l = *state;
    char          path[64];

    lines_attach(l);
    lines_caps(l, 2, offered);
    lines_request(l, word_ask_fixed(5, 1000, 1000));
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    try_save(l, path);
    struct try t = try_run(&command_check, "--only", "request.position", "--explain", "2", path, NULL);

    assert_int_equal(t.status, 2);
    expect_complaint(&t, "there is no finding 2");
    expect_complaint(&t, "from 1 to 1");
    try_free(&t);
    t = try_run(&command_check, "--explain", "0", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "numbered from 1");
    try_free(&t);
    t = try_run(&command_check, "--explain", "1", "-", NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "needs it as a file");
    try_free(&t);
    t = try_run(&command_check, "--explain", "1", "--missing", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "choose one");
    try_free(&t);
    /* Each trace has its own number 1; one that has none does not keep the others back. */
    t = try_run(&command_check, "--only", "request.position", "--explain", "1", "/nowhere/none.pcap", path, NULL);
    assert_int_equal(t.status, 2);
    expect_text(&t, "Finding 1 of");
    try_free(&t);
    try_remove(path);
}

/* From the trace to the sum: a GoodCRC that starts 0.5 ms after the Request's end, where 0.195 ms are allowed. */
static void a_late_goodcrc_is_worked_out_from_the_trace(void **state)
{
    char path[] = "/tmp/portassay-test-XXXXXX";
    FILE *f = fdopen(mkstemp(path), "w");

    (void)state;
    assert_non_null(f);
    fputs("1000 * ABOUT {\"device\":\"Lumenbrick 65\",\"instrument\":{\"clock_ppm\":20,\"time_ns\":100}}\n"
          "1000.5 0 CC 1 3.0A\n"
          "1000.729132664 0 SOP 821045150540b3ffd63f until 1000.729762664\n"
          "1000.730262664 0 SOP a101c1afc281 until 1000.730759330\n"
          "1000.732121330 0 SOP a3036facfa5d until 1000.732617996\n", f);
    assert_int_equal(fclose(f), 0);
    struct try t = try_run(&command_check, "--only", "time.goodcrc-turnaround", "--explain", "1", path, NULL);

    assert_int_equal(t.status, 1);
    expect_text(&t, "end of frame 3 (Request)");
    expect_text(&t, "+  0.000630000 s");
    expect_text(&t, "=  0.729762464 .. 0.729762864 s");
    expect_text(&t, "start of frame 4 (GoodCRC)");
    expect_text(&t, "=  0.730262464 .. 0.730262864 s");
    expect_text(&t, "0.499600 .. 0.500400 ms");
    expect_text(&t, "+- 0.000020 ms"); /* 2 x 20 ppm of 0.5 ms */
    expect_text(&t, "=  0.499580 .. 0.500420 ms");
    expect_text(&t, "at most 0.195 ms: tTransmit");
    expect_text(&t, "The whole range lies above the window");
    try_free(&t);
    try_remove(path);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_time_is_a_sum_that_can_be_done_again_by_hand),
        TEST(the_same_sum_stands_in_json),
        cmocka_unit_test(a_length_that_nobody_measured_is_a_range_and_a_goodcrc_that_nobody_heard_adds_another),
        cmocka_unit_test(stamps_of_the_computer_and_stamps_at_the_end_are_named),
        cmocka_unit_test(a_late_goodcrc_is_worked_out_from_the_trace),
        TEST(frames_between_are_shown_and_of_many_the_two_ends),
        TEST(a_finding_without_a_time_shows_every_field_that_it_rests_on),
        TEST(a_number_that_is_none_and_a_trace_that_is_no_file_are_said_in_a_line),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
