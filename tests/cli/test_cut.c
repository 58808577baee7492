/* cut: what is kept is kept byte for byte; ABOUT, joining, findings, and what --anonymous leaves out. All INVENTED. */
#include "capture/trace.h"
#include "tests/cli/program.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RECORDS_MAX = 64, BYTES_MAX = 4096 };

/* A trace as read back. */
struct kept {
    unsigned      count;
    struct record records[RECORDS_MAX];
    uint8_t       bytes[RECORDS_MAX][BYTES_MAX];
};

static void trace_read(const char *path, struct kept *k)
{
    struct trace_options options = { .file_order = true };
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(path, &options, &f);
    const struct record *r;

    assert_non_null(t);
    for (k->count = 0; trace_next(t, &r, &f); k->count++) {
        assert_true(k->count < RECORDS_MAX && r->length <= BYTES_MAX);
        memcpy(k->bytes[k->count], r->bytes, r->length);
        record_read(k->bytes[k->count], r->length, false, r->stamp_ns, r->frame, &k->records[k->count]);
    }
    trace_close(t);
}

static const char *about_text(const struct record *r)
{
    static char text[BYTES_MAX];

    assert_int_equal(r->kind, RECORD_ABOUT);
    snprintf(text, sizeof text, "%.*s", (int)r->about.length, r->about.text);
    return text;
}

static const struct lines *bench(void)
{
    static struct lines l;

    l.used = 0;
    line_add(&l, "1769853600.0 * ABOUT {\"device\":\"Lumenbrick 65\",\"operator\":\"A. Person\",\"sample\":\"3\"}");
    line_add(&l, "1769853601.0 0 HARD_RESET");
    line_add(&l, "1769853602.0 1 ABOUT {\"instrument\":{\"serial\":\"S-77\",\"volt\":{\"gain_ppm\":100}}}");
    line_add(&l, "1769853603.0 * ABOUT {\"sample\":null,\"firmware\":\"1.2\"}");
    line_add(&l, "1769853604.0 1 HARD_RESET");
    line_add(&l, "1769853605.0 0 V 5.0 I 1.0");
    line_add(&l, "1769853606.0 * MARK note * log in /home/someone/log.txt at 10:15 on 2026-01-31, load 3/4 by a@b.example");
    line_add(&l, "1769853607.0 0 CABLE_RESET");
    return &l;
}

static struct kept a, b;

static void cut_ok(const struct lines *l, const char *const *arguments)
{
    const char *all[16] = { "cut", "-o", file_path("cut.pcap"), "-" };

    for (unsigned i = 0; arguments[i]; i++)
        all[4 + i] = arguments[i];
    struct run r = program_run(l->text, all);

    if (r.status != 0)
        fail_msg("%s", r.err);
    run_free(&r);
    trace_read(file_path("cut.pcap"), &b);
}
#define CUT(l, ...) cut_ok(l, (const char *const[]){ __VA_ARGS__, NULL })

static void a_cut_of_everything_is_the_same_records(void **state)
{
    (void)state;
    file_write("all.txt", bench()->text, bench()->used);
    trace_read(file_path("all.txt"), &a);
    CUT(bench(), "-q");
    assert_int_equal(a.count, 8);
    assert_int_equal(b.count, a.count);
    for (unsigned i = 0; i < a.count; i++) {
        assert_int_equal(a.records[i].stamp_ns, b.records[i].stamp_ns);
        assert_int_equal(a.records[i].length, b.records[i].length);
        assert_memory_equal(a.bytes[i], b.bytes[i], a.records[i].length);
    }
}

static void about_of_before_the_cut_stands_merged_at_its_start(void **state)
{
    (void)state;
    CUT(bench(), "--since=4", "--until=5");
    assert_int_equal(b.count, 4);
    assert_int_equal(b.records[0].port, RECORD_PORT_BENCH);
    assert_string_equal(about_text(&b.records[0]), "{\"device\":\"Lumenbrick 65\",\"operator\":\"A. Person\",\"firmware\":\"1.2\"}");
    assert_int_equal(b.records[1].port, 1);
    assert_string_equal(about_text(&b.records[1]), "{\"instrument\":{\"serial\":\"S-77\",\"volt\":{\"gain_ppm\":100}}}");
    assert_int_equal(b.records[2].kind, RECORD_RESET_SIGNAL);
    assert_int_equal(b.records[3].kind, RECORD_POWER);
    /* The ABOUT that stands holds from the first record that was kept. */
    assert_int_equal(b.records[0].t_ns, b.records[2].t_ns);
}

static void ports_that_are_not_asked_for_are_left_out_with_their_about(void **state)
{
    (void)state;
    CUT(bench(), "--since=4", "--port=0");
    assert_int_equal(b.count, 4); /* ABOUT of the bench, power, mark of the bench, reset */
    assert_int_equal(b.records[0].kind, RECORD_ABOUT);
    assert_int_equal(b.records[1].kind, RECORD_POWER);
    assert_int_equal(b.records[2].kind, RECORD_MARK);
    assert_int_equal(b.records[3].kind, RECORD_RESET_SIGNAL);
}

static void about_given_by_hand_is_laid_over_every_about(void **state)
{
    static const char over[] = "{\"sample\":\"9\",\"instrument\":{\"volt\":{\"gain_ppm\":50}}}";

    (void)state;
    file_write("over.json", over, sizeof over - 1);
    CUT(bench(), "--about", file_path("over.json"));
    assert_int_equal(b.count, 8);
    assert_string_equal(about_text(&b.records[0]), "{\"device\":\"Lumenbrick 65\",\"operator\":\"A. Person\",\"sample\":\"9\","
                                                   "\"instrument\":{\"volt\":{\"gain_ppm\":50}}}");
    assert_string_equal(about_text(&b.records[2]), "{\"instrument\":{\"serial\":\"S-77\",\"volt\":{\"gain_ppm\":50}}}");
    struct cJSON *later = cJSON_Parse(about_text(&b.records[3]));

    assert_string_equal(text_of(later, "sample"), "9");
    assert_string_equal(text_of(later, "firmware"), "1.2");
    cJSON_Delete(later);
}

static void about_given_by_hand_becomes_one_where_there_was_none(void **state)
{
    static struct lines l;

    (void)state;
    l.used = 0;
    line_add(&l, "5.0 0 HARD_RESET");
    file_write("over.json", "{\"sample\":\"9\"}", 14);
    CUT(&l, "--about", file_path("over.json"));
    assert_int_equal(b.count, 2);
    assert_string_equal(about_text(&b.records[0]), "{\"sample\":\"9\"}");
    assert_int_equal(b.records[0].stamp_ns, INT64_C(5000000000));
}

static void several_traces_are_joined_by_time(void **state)
{
    static const char one[] = "1.0 0 HARD_RESET\n3.0 0 HARD_RESET\n5.0 0 HARD_RESET\n";
    static const char two[] = "2.0 1 HARD_RESET\n3.0 1 HARD_RESET\n4.0 1 HARD_RESET\n";

    (void)state;
    file_write("one.txt", one, sizeof one - 1);
    file_write("two.txt", two, sizeof two - 1);
    struct run r = RUN("cut", "-o", file_path("both.pcap"), file_path("one.txt"), file_path("two.txt"), "--since=1", "--until=3");

    assert_int_equal(r.status, 0);
    run_free(&r);
    trace_read(file_path("both.pcap"), &b);
    assert_int_equal(b.count, 4); /* since and until count from the earliest: 2 s to 4 s */
    static const struct { int64_t ns; uint8_t port; } expected[] = {
        { INT64_C(2000000000), 1 }, { INT64_C(3000000000), 0 }, { INT64_C(3000000000), 1 }, { INT64_C(4000000000), 1 },
    };

    for (unsigned i = 0; i < 4; i++) {
        assert_int_equal(b.records[i].stamp_ns, expected[i].ns);
        assert_int_equal(b.records[i].port, expected[i].port);
    }
}

static void anonymous_leaves_out_who_where_and_when(void **state)
{
    (void)state;
    CUT(bench(), "--anonymous");
    assert_int_equal(b.count, 8);
    assert_int_equal(b.records[0].stamp_ns, 0);
    assert_int_equal(b.records[7].stamp_ns, INT64_C(7000000000));
    assert_string_equal(about_text(&b.records[0]), "{\"device\":\"Lumenbrick 65\",\"sample\":\"3\"}");
    assert_string_equal(about_text(&b.records[2]), "{\"instrument\":{\"volt\":{\"gain_ppm\":100}}}");
    char note[200];

    snprintf(note, sizeof note, "%.*s", (int)b.records[6].mark.length, b.records[6].mark.text);
    assert_string_equal(note, "log in - at - on - load 3/4 by -");
    for (unsigned i = 0; i < b.count; i++)
        for (size_t at = 0; at + 4 <= b.records[i].length; at++) {
            assert_memory_not_equal(b.bytes[i] + at, "S-77", 4);
            assert_memory_not_equal(b.bytes[i] + at, "Pers", 4);
            assert_memory_not_equal(b.bytes[i] + at, "home", 4);
        }
}

static void packets_and_readings_stay_as_they_are_when_anonymous(void **state)
{
    (void)state;
    file_write("all.txt", bench()->text, bench()->used);
    trace_read(file_path("all.txt"), &a);
    CUT(bench(), "--anonymous");
    static const unsigned same[] = { 1, 4, 5, 7 };

    for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
        assert_int_equal(a.records[same[i]].length, b.records[same[i]].length);
        assert_memory_equal(a.bytes[same[i]], b.bytes[same[i]], a.records[same[i]].length);
    }
}

/* Object 2 below object 1: the order of Source_Capabilities is wrong. And the Request is not answered. */
static void wrong_write(void)
{
    static struct lines l;
    static const uint32_t offer[] = { 0x0801912c, 0x0003c12c, 0x0002d12c };
    static const uint32_t request = 1u << 28 | 300u << 10 | 300u;

    l.used = 0;
    line_add(&l, "1.0 0 CC 0 -");
    line_add(&l, "2.0 0 CC 1 3.0A");
    packet_add(&l, "3.0000", 0, "SOP", header_of(1, 3, 0, true), offer, 3, false);
    packet_add(&l, "3.0015", 0, "SOP", header_of(1, 0, 0, false), NULL, 0, false);
    packet_add(&l, "3.0030", 0, "SOP", header_of(2, 1, 0, false), &request, 1, false);
    packet_add(&l, "3.0040", 0, "SOP", header_of(1, 0, 0, true), NULL, 0, false);
    line_add(&l, "9.0 0 CC 0 -");
    file_write("wrong.txt", l.text, l.used);
}

/* The same number means the same finding as for check, whatever is left out. */
static void a_finding_has_the_number_that_check_gave_it_with_the_same_options(void **state)
{
    static const struct { const char *option, *word; bool other; } cases[] = {
        { "--only", "exchange", true }, { "--skip", "caps", true }, { "--standard", "2.0", false }, { "--findings", "1", false },
        { "--only", "caps.order", false },
    };

    (void)state;
    wrong_write();
    struct run plain = RUN("cut", "--finding", "1", "-o", file_path("cut.pcap"), file_path("wrong.txt"));

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct run    check = RUN("check", "--json", cases[k].option, cases[k].word, file_path("wrong.txt"));
        struct cJSON *json = json_line_of(check.out, 0);
        struct run    r = RUN("cut", cases[k].option, cases[k].word, "--finding", "1", "-o", file_path("cut.pcap"), file_path("wrong.txt"));
        const struct cJSON *first = cJSON_GetArrayItem(member(json, "findings"), 0);
        char frame[48];

        assert_int_equal(r.status, 0);
        assert_non_null(first);
        snprintf(frame, sizeof frame, "%lld is now", (long long)number_of(first, "frame"));
        assert_non_null(strstr(r.err, frame));
        assert_int_equal(strcmp(r.err, plain.err) != 0, cases[k].other);
        cJSON_Delete(json);
        run_free(&r);
        run_free(&check);
    }
    run_free(&plain);
    struct run r = RUN("cut", "--only", "exchange", "-o", file_path("cut.pcap"), file_path("wrong.txt"));

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "--only"));
    run_free(&r);
    r = RUN("cut", "--only", "exchang", "--finding", "1", "-o", file_path("cut.pcap"), file_path("wrong.txt"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "exchange"));
    run_free(&r);
}

static void a_finding_is_cut_out_with_the_frames_it_rests_on(void **state)
{
    (void)state;
    wrong_write();
    struct run check = RUN("check", "--json", file_path("wrong.txt"));
    struct cJSON *json = json_line_of(check.out, 0);

    assert_non_null(json);
    const struct cJSON *first = cJSON_GetArrayItem(member(json, "findings"), 0);

    assert_non_null(first);
    int64_t frame = number_of(first, "frame");
    struct run r = RUN("cut", "--finding", "1", "-o", file_path("cut.pcap"), file_path("wrong.txt"));

    assert_int_equal(r.status, 0);
    trace_read(file_path("cut.pcap"), &b);
    trace_read(file_path("wrong.txt"), &a);
    bool there = false;

    for (unsigned i = 0; i < b.count; i++) {
        const struct record *wanted = &a.records[frame - 1];

        there = there || (b.records[i].stamp_ns == wanted->stamp_ns && b.records[i].length == wanted->length &&
                          memcmp(b.bytes[i], a.bytes[frame - 1], wanted->length) == 0);
    }
    assert_true(there);
    assert_true(b.count < a.count); /* and not everything */
    run_free(&r);
    r = RUN("cut", "--finding", "999", "-o", file_path("cut.pcap"), file_path("wrong.txt"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "999"));
    cJSON_Delete(json);
    run_free(&r);
    run_free(&check);
}

static void the_trace_that_is_read_is_never_written_over(void **state)
{
    (void)state;
    file_write("all.txt", bench()->text, bench()->used);
    struct run r = RUN("cut", "-o", file_path("all.txt"), file_path("all.txt"));

    assert_int_equal(r.status, 2);
    run_free(&r);
    trace_read(file_path("all.txt"), &a);
    assert_int_equal(a.count, 8);
}

static void what_lies_outside_leaves_an_empty_trace_and_a_word(void **state)
{
    (void)state;
    struct run r = RUN_ON(bench()->text, "cut", "--since=100", "-o", file_path("cut.pcap"), "-");

    assert_int_equal(r.status, 0);
    assert_non_null(strstr(r.err, "nothing"));
    run_free(&r);
    trace_read(file_path("cut.pcap"), &b);
    assert_int_equal(b.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_of_everything_is_the_same_records),
        cmocka_unit_test(about_of_before_the_cut_stands_merged_at_its_start),
        cmocka_unit_test(ports_that_are_not_asked_for_are_left_out_with_their_about),
        cmocka_unit_test(about_given_by_hand_is_laid_over_every_about),
        cmocka_unit_test(about_given_by_hand_becomes_one_where_there_was_none),
        cmocka_unit_test(several_traces_are_joined_by_time),
        cmocka_unit_test(anonymous_leaves_out_who_where_and_when),
        cmocka_unit_test(packets_and_readings_stay_as_they_are_when_anonymous),
        cmocka_unit_test(a_finding_is_cut_out_with_the_frames_it_rests_on),
        cmocka_unit_test(a_finding_has_the_number_that_check_gave_it_with_the_same_options),
        cmocka_unit_test(the_trace_that_is_read_is_never_written_over),
        cmocka_unit_test(what_lies_outside_leaves_an_empty_trace_and_a_word),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
