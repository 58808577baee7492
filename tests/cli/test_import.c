/* import: what is said on the command line, inputs of several clocks merged on one base, bad lines, and outputs that fail. All INVENTED. */
#include "capture/trace.h"
#include "cli/import_date.h"
#include "cli/import_order.h"
#include "tests/cli/program.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RECORDS_MAX = 64, BYTES_MAX = 4096 };
#define START_NS INT64_C(1769853600000000000) /* 2026-01-31T10:00:00Z */

/* A trace as read back, in the order that it stands in. */
struct kept {
    unsigned      count;
    struct record records[RECORDS_MAX];
    uint8_t       bytes[RECORDS_MAX][BYTES_MAX];
};
static struct kept k;

static void trace_read(const char *path)
{
    struct trace_options options = { .file_order = true };
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(path, &options, &f);
    const struct record *r;

    assert_non_null(t);
    for (k.count = 0; trace_next(t, &r, &f); k.count++) {
        assert_true(k.count < RECORDS_MAX && r->length <= BYTES_MAX);
        memcpy(k.bytes[k.count], r->bytes, r->length);
        record_read(k.bytes[k.count], r->length, false, r->stamp_ns, r->frame, &k.records[k.count]);
    }
    trace_close(t);
}

static const char *about_of(unsigned n)
{
    static char text[BYTES_MAX];

    assert_true(n < k.count);
    assert_int_equal(k.records[n].kind, RECORD_ABOUT);
    snprintf(text, sizeof text, "%.*s", (int)k.records[n].about.length, k.records[n].about.text);
    return text;
}

/* Imports and reads the trace; what was said on standard error stays in said. */
static char said[4096];

static void import_ok(const char *input, const char *const *arguments)
{
    const char *all[24] = { "import", "--overwrite", "-o", file_path("import.pcap") };

    for (unsigned n = 0; arguments[n]; n++)
        all[4 + n] = arguments[n];
    struct run r = program_run(input, all);

    if (r.status != 0)
        fail_msg("%s", r.err);
    snprintf(said, sizeof said, "%s", r.err);
    assert_string_equal(r.out, "");
    run_free(&r);
    trace_read(file_path("import.pcap"));
}
#define IMPORT(...) import_ok(NULL, (const char *const[]){ __VA_ARGS__, NULL })
#define IMPORT_ON(input, ...) import_ok(input, (const char *const[]){ __VA_ARGS__, NULL })

static const char *kind_path(const char *kind_and_keys, const char *name)
{
    static char texts[8][600];
    static unsigned next;
    char *text = texts[next++ % 8];

    snprintf(text, sizeof texts[0], "%s:%s", kind_and_keys, file_path(name));
    return text;
}

static void text_write(const char *name, const char *text)
{
    file_write(name, text, strlen(text));
}

static void text_alone_is_the_trace_that_it_tells(void **state)
{
    (void)state;
    IMPORT_ON("# a comment\n1769853600.5 0 HARD_RESET\n1769853601 * MARK note here\n1769853600.9 1 V 5.0\n", "text:-");
    assert_int_equal(k.count, 3);
    assert_int_equal(k.records[0].kind, RECORD_RESET_SIGNAL);
    assert_int_equal(k.records[0].t_ns, START_NS + 500000000);
    assert_int_equal(k.records[1].kind, RECORD_MARK); /* one trace alone keeps its order */
    assert_int_equal(k.records[2].kind, RECORD_POWER);
    assert_non_null(strstr(said, "3 records"));
}

static void several_inputs_are_merged_by_start_time(void **state)
{
    (void)state;
    text_write("a.txt", "1769853600 0 HARD_RESET\n1769853602 0 HARD_RESET\n1769853604 0 HARD_RESET\n");
    text_write("b.txt", "1769853601 0 CABLE_RESET\n1769853602 0 CABLE_RESET\n");
    IMPORT("-q", file_path("b.txt"), file_path("a.txt"));
    static const struct { int64_t s; uint8_t which; } wanted[] = {
        { 0, RECORD_HARD_RESET }, { 1, RECORD_CABLE_RESET }, { 2, RECORD_CABLE_RESET }, { 2, RECORD_HARD_RESET }, { 4, RECORD_HARD_RESET },
    };

    assert_string_equal(said, "");
    assert_int_equal(k.count, 5);
    for (unsigned n = 0; n < 5; n++) {
        assert_int_equal(k.records[n].t_ns, START_NS + wanted[n].s * 1000000000);
        assert_int_equal(k.records[n].reset.which, wanted[n].which);
    }
}

static void a_shift_moves_an_input_and_a_start_says_when_it_began(void **state)
{
    (void)state;
    text_write("a.txt", "1769853600 0 HARD_RESET\n");
    text_write("b.txt", "12.5 0 CABLE_RESET\n14 0 CABLE_RESET\n");
    IMPORT(file_path("a.txt"), kind_path("text,shift=-1.5,start=2026-01-31T11:00:02.25+01:00", "b.txt"));
    assert_int_equal(k.count, 3);
    assert_int_equal(k.records[0].t_ns, START_NS);
    assert_int_equal(k.records[1].t_ns, START_NS + 750000000);
    assert_int_equal(k.records[2].t_ns, START_NS + 2250000000);
}

static void ports_are_moved_in_headers_marks_and_about(void **state)
{
    (void)state;
    text_write("a.txt", "1 * ABOUT {\"ports\":[{\"port\":0,\"name\":\"C1\"}]}\n2 1 HARD_RESET\n3 * MARK plugged 1 it\n4 * MARK note\n");
    IMPORT(kind_path("text,port=3", "a.txt"));
    assert_int_equal(k.count, 4);
    assert_string_equal(about_of(0), "{\"ports\":[{\"port\":3,\"name\":\"C1\"}]}");
    assert_int_equal(k.records[0].port, RECORD_PORT_BENCH);
    assert_int_equal(k.records[1].port, 4);
    assert_int_equal(k.records[2].mark.subject, 4);
    assert_int_equal(k.records[3].mark.subject, RECORD_PORT_NONE);
    struct run r = RUN("import", kind_path("text,port=254", "a.txt"));

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "its port would lie beyond 254"));
    run_free(&r);
}

static void about_of_the_user_lies_over_that_of_the_inputs(void **state)
{
    (void)state;
    text_write("about.json", "{\"device\":\"Harbor 96\",\"instrument\":{\"time_ns\":5}}");
    text_write("a.txt", "1 * ABOUT {\"device\":\"Lumenbrick 65\",\"sample\":\"2\"}\n2 1 HARD_RESET\n");
    IMPORT("--about", file_path("about.json"), file_path("a.txt"));
    assert_int_equal(k.count, 3);
    assert_string_equal(about_of(1), "{\"device\":\"Harbor 96\",\"sample\":\"2\",\"instrument\":{\"time_ns\":5}}");
}

static void every_record_can_be_flagged_as_invented(void **state)
{
    (void)state;
    text_write("a.txt", "1 * ABOUT {}\n2 1 HARD_RESET\n3 0 V 5\n");
    IMPORT("--invented", file_path("a.txt"));
    assert_int_equal(k.count, 3);
    for (unsigned n = 0; n < k.count; n++)
        assert_int_equal(k.records[n].flags, RECORD_INVENTED);
}

/* Two lines of a dump with nothing on them but one change. */
static const char dump[] = "$timescale 1 us $end\n$scope module top $end\n$var wire 1 a cc1 $end\n$var wire 1 b cc2 $end\n$upscope $end\n"
                           "$enddefinitions $end\n#0\n0a\n0b\n#3000000\n1a\n#3000010\n";

static void a_recording_without_a_time_of_its_own_begins_with_the_earliest_that_has_one(void **state)
{
    (void)state;
    text_write("line.vcd", dump);
    text_write("a.txt", "1769853600 * MARK note begin\n");
    IMPORT(kind_path("vcd,cc1=cc1,cc2=cc2", "line.vcd"), file_path("a.txt"));
    assert_int_equal(k.records[0].t_ns, START_NS);
    /* It ends 3.00001 s later, and nothing was found. */
    assert_int_equal(k.records[k.count - 1].kind, RECORD_ABOUT);
    assert_int_equal(k.records[k.count - 1].t_ns, START_NS + 3000010000);
    assert_non_null(strstr(said, "cc1: no packet was found"));
    IMPORT(kind_path("vcd,cc1=cc1,shift=0.5", "line.vcd"), file_path("a.txt"));
    assert_int_equal(k.records[k.count - 1].t_ns, START_NS + 3500010000);
    /* Times below a year count from a beginning too. */
    text_write("b.txt", "2.5 * MARK note there\n");
    IMPORT(kind_path("vcd,cc1=cc1", "line.vcd"), file_path("b.txt"));
    assert_int_equal(k.records[0].t_ns, 0);
    assert_int_equal(k.records[k.count - 1].t_ns, 3000010000);
}

static void about_says_where_it_comes_from_and_how_fine_its_times_are(void **state)
{
    (void)state;
    text_write("line.vcd", dump);
    IMPORT(kind_path("vcd,cc1=cc1", "line.vcd"));
    /* A tick of 1 us: 1 us / sqrt 12 = 288.675 ns, rounded up. */
    assert_string_equal(about_of(0), "{\"imported\":{\"with\":\"portassay 0.1.0\",\"from\":[{\"kind\":\"vcd\",\"file\":\"line.vcd\"}]},"
                                     "\"instrument\":{\"time_ns\":288.676,\"clock_ppm\":50}}");
}

static void a_meter_that_nothing_ties_is_taken_as_a_second_off_and_one_shifted_by_hand_as_10_ms(void **state)
{
    (void)state;
    text_write("line.vcd", dump);
    text_write("log.csv", "Time (s),VBUS (V),IBUS (A)\n0,5.0,0.1\n0.5,5.1,0.2\n");
    IMPORT(kind_path("vcd,cc1=cc1", "line.vcd"), file_path("log.csv"));
    assert_non_null(strstr(said, "nothing ties the clock"));
    assert_non_null(strstr(about_of(0), "\"align_ns\":1000000000"));
    IMPORT(kind_path("vcd,cc1=cc1", "line.vcd"), kind_path("meter,shift=20ms", "log.csv"));
    assert_null(strstr(said, "nothing ties the clock"));
    assert_non_null(strstr(about_of(0), "\"align_ns\":10000000"));
    assert_int_equal(k.records[1].kind, RECORD_POWER);
    assert_int_equal(k.records[1].t_ns, 20000000);
    text_write("about.json", "{\"instrument\":{\"align_ns\":500}}");
    IMPORT("--about", file_path("about.json"), kind_path("vcd,cc1=cc1", "line.vcd"), file_path("log.csv"));
    assert_non_null(strstr(about_of(0), "\"align_ns\":500"));
}

static void lines_of_several_grains_tell_theirs_for_their_ports(void **state)
{
    (void)state;
    static char finer[sizeof dump + 10];

    text_write("line.vcd", dump);
    snprintf(finer, sizeof finer, "$timescale 10 ns%s", dump + strlen("$timescale 1 us"));
    text_write("finer.vcd", finer);
    IMPORT(kind_path("vcd,cc1=cc1", "line.vcd"), kind_path("vcd,port=2,cc1=cc1", "finer.vcd"));
    assert_string_equal(about_of(1), "{\"instrument\":{\"time_ns\":288.676,\"clock_ppm\":50}}");
    assert_int_equal(k.records[1].port, 0);
    assert_string_equal(about_of(2), "{\"instrument\":{\"time_ns\":2.887,\"clock_ppm\":50}}");
    assert_int_equal(k.records[2].port, 2);
}

static void a_meters_columns_can_be_said_for_all_or_for_one(void **state)
{
    (void)state;
    text_write("log.csv", "t,a,b\n0,5000,100\n0.5,5100,200\n");
    IMPORT("--columns", "time=t:s,vbus=a:mV,ibus=b:mA", kind_path("meter", "log.csv"));
    assert_int_equal(k.records[1].kind, RECORD_POWER);
    assert_int_equal(record_cell(&k.records[1], 0, 0), 5000000);
    assert_int_equal(record_cell(&k.records[1], 0, 1), 100000);
    IMPORT(kind_path("meter,sign=-1,port=4,columns=time=1:s+vbus=2:mV+ibus=3:mA", "log.csv"));
    assert_int_equal(record_cell(&k.records[1], 0, 1), -100000);
    assert_int_equal(k.records[1].port, 4);
}

static void columns_of_several_ports_are_told_with_their_port(void **state)
{
    (void)state;
    text_write("log.csv", "t,a,b\n0,5,9\n0.5,5.1,9\n");
    IMPORT("--columns", "time=t:s,vbus=a:V,vbus@1=b:V", kind_path("meter,port=4", "log.csv"));
    assert_non_null(strstr(said, "2 rows in 0.500 s: time (s) from column 1, VBUS of port 4 (V) from column 2, VBUS of port 5 (V) from column 3"));
}

static void a_bad_line_costs_itself_and_is_named(void **state)
{
    (void)state;
    text_write("log.csv", "Time (s),VBUS (V),IBUS (A)\n0,5.0,0.1\nrubbish\n1.5,5.1,0.2\n");
    IMPORT(file_path("log.csv"));
    assert_non_null(strstr(said, "line 3 cannot be read and is passed over: \"rubbish\""));
    assert_int_equal(k.count, 3);
    IMPORT_ON("1 0 HARD_RESET\nrubbish\n2 0 HARD_RESET\n", "text:-");
    assert_non_null(strstr(said, "frame 2"));
    assert_int_equal(k.count, 3);
    assert_int_equal(k.records[1].soundness, RECORD_DAMAGED); /* it may have been a packet */
}

static void what_a_file_is_shows_in_its_name_or_its_first_bytes(void **state)
{
    (void)state;
    text_write("one", dump);
    text_write("two", "Time (s);VBUS (V);IBUS (A)\n0;5,0;0,1\n1,5;5,1;0,2\n");
    text_write("three", "[    1.000000] CC1: 0 -> 0, CC2: 0 -> 5 [state TOGGLING, polarity 0, connected]\n");
    IMPORT(file_path("two"));
    assert_int_equal(record_cell(&k.records[2], 0, 0), 5100000);
    IMPORT(file_path("three"));
    assert_non_null(strstr(about_of(0), "\"kind\":\"klog\""));
    struct run r = RUN("import", file_path("one"));

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "which is the CC line? There is top.cc1, top.cc2"));
    run_free(&r);
}

/* Each is refused, with one line that says what is wrong. */
static void wrong_use_is_said_in_one_line(void **state)
{
    (void)state;
    static const struct { const char *argument, *words; } wrong[] = {
        { "vcd,foo=1:x", "foo: there is no such key" },
        { "vcd,rate=1M:x", "rate: an input of the kind vcd takes no such key" },
        { "bits:x", "x: cannot be opened" },
        { "text:/", "/: is a folder; name a file in it" },
        { "bits,rate=fast:x", "rate=fast: samples a second" },
        { "bits,rate=-1:x", "rate=-1: samples a second" },
        { "text,port=255:x", "port=255: the number of a port" },
        { "text,shift=soon:x", "shift=soon: a time" },
        { "text,start=2026-02-30T10:00:00:x", "start=2026-02-30T10:00:00: a moment" },
        { "text,port:x", "port: KEY=VALUE is expected" },
        { "volts,low=500:x", "low= below high=" },
        { "volts,low=500,high=400:x", "low= below high=" },
        { "vcd,glitch=0:x", "glitch=0: a width" },
        { "vcd,cc3=a:x", "cc3: there is no such key" },
        { "vcd,cc1@x=a:x", "cc1@PORT" },
        { "vcd,cc1=a,cc1=b:x", "cc1=b: each pin of a port once" },
        { "vcd,cc1@2=a,cc@2=b:x", "cc@2=b: each pin of a port once" },
        { "vcd,cc1=a,cc2=a:x", "cc2=a: another signal" },
        { "meter,sign=2:x", "sign=2: 1 or -1" },
        { "samples,scale=0:x", "scale=0: microvolts a step" },
        { "scope:x", "scope is no kind of input; these are: vcd" },
        { "text:-", "standard input can be one input only" },
    };

    for (unsigned n = 0; n < sizeof wrong / sizeof wrong[0]; n++) {
        struct run r = RUN("import", "-o", file_path("none.pcap"), wrong[n].argument, "text:-");
        const char *newline = strchr(r.err, '\n');

        if (r.status != 2 || !strstr(r.err, wrong[n].words) || !newline || newline[1])
            fail_msg("%s: %d: %s", wrong[n].argument, r.status, r.err);
        run_free(&r);
    }
    FILE *none = fopen(file_path("none.pcap"), "rb");

    assert_null(none); /* nothing is written before all inputs are open */
    struct run r = RUN("import", "--columns", "time=1", "text:-");

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "--columns is for a meter's log"));
    run_free(&r);
}

static void colons_in_times_and_paths_are_no_end_of_the_keys(void **state)
{
    (void)state;
    text_write("a:b.txt", "1769853600 0 HARD_RESET\n");
    IMPORT(file_path("a:b.txt"));
    assert_int_equal(k.records[0].t_ns, START_NS);
    IMPORT(kind_path("text,start=2026-01-31T10:00:01Z", "a:b.txt"));
    assert_int_equal(k.records[0].t_ns, START_NS + 1000000000);
}

static void a_file_that_is_there_is_not_written_over_unasked(void **state)
{
    (void)state;
    text_write("there.pcap", "precious");
    struct run r = RUN_ON("1 0 HARD_RESET\n", "import", "-o", file_path("there.pcap"), "-");

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "is there already"));
    run_free(&r);
    text_write("own.txt", "1 0 HARD_RESET\n");
    r = RUN("import", "--overwrite", "-o", file_path("own.txt"), file_path("own.txt"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "would be destroyed"));
    run_free(&r);
    IMPORT(file_path("own.txt"));
    assert_int_equal(k.count, 1);
}

static void a_full_disk_is_one_line_and_exit_2(void **state)
{
    (void)state;
    text_write("a.txt", "1 0 HARD_RESET\n");
    struct run r = program_run_to("/dev/full", NULL, (const char *const[]){ "import", file_path("a.txt"), NULL });

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "standard output: cannot be written: No space left on device"));
    assert_non_null(strchr(r.err, '\n'));
    assert_string_equal(strchr(r.err, '\n'), "\n");
    run_free(&r);
}

static void a_reader_that_has_gone_is_no_fault(void **state)
{
    (void)state;
    char command[3000];

    text_write("a.txt", "1 0 HARD_RESET\n");
    /* 20 inputs of a small trace each, so that more comes than a pipe holds. */
    FILE *big = fopen(file_path("big.txt"), "w");

    assert_non_null(big);
    for (unsigned n = 0; n < 20000; n++)
        fprintf(big, "%u.5 0 HARD_RESET\n", n + 1);
    fclose(big);
    snprintf(command, sizeof command, "bash -c \"set -o pipefail; '%s' import '%s' '%s' 2>'%s' | head -c 100 >/dev/null\"", PORTASSAY_PROGRAM,
             file_path("big.txt"), file_path("a.txt"), file_path("said"));
    assert_int_equal(system(command), 0);
    struct run r = RUN("import", file_path("said")); /* nothing was said: an empty file is no trace */

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "0 bytes"));
    run_free(&r);
}

static void a_time_that_no_trace_can_hold_is_said(void **state)
{
    (void)state;
    text_write("a.txt", "1 0 HARD_RESET\n2 0 HARD_RESET\n");
    struct run r = RUN("import", "-o", file_path("early.pcap"), kind_path("text,shift=-1h", "a.txt"));

    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "before 1970 or after 2106"));
    run_free(&r);
}

static void an_input_that_tells_nothing_makes_an_empty_trace(void **state)
{
    (void)state;
    IMPORT_ON("# nothing\n", "text:-");
    assert_int_equal(k.count, 0);
    text_write("line.vcd", dump);
    IMPORT(kind_path("vcd,cc2=cc2", "line.vcd"));
    assert_int_equal(k.count, 2); /* what it comes from, and that it ended without more */
}

static void moments_are_read_as_people_write_them(void **state)
{
    (void)state;
    static const struct { const char *text; int64_t ns; } right[] = {
        { "1970-01-01T00:00:00", 0 },
        { "2026-01-31T10:00:00Z", START_NS },
        { "2026-01-31 11:00:00+01:00", START_NS },
        { "2026-01-31T05:30:00-0430", START_NS },
        { "2026-01-31T12:00:00+02", START_NS },
        { "2026-01-31T10:00:00.123456789", START_NS + 123456789 },
        { "2000-02-29T00:00:00", INT64_C(951782400000000000) },
        { "2024-03-01T00:00:00", INT64_C(1709251200000000000) },
    };
    static const char *const wrong[] = { "", "2026-01-31", "2026-01-31T10:00", "2026-02-29T10:00:00", "2026-13-01T10:00:00", "2026-01-31T24:00:00",
                                         "1969-12-31T23:59:59", "2026-01-31T10:00:00x", "2026-01-31T10:00:00.", "1970-01-01T00:00:00+01:00",
                                         "2107-01-01T00:00:00" };
    int64_t ns;

    for (unsigned n = 0; n < sizeof right / sizeof right[0]; n++) {
        ns = -1;
        assert_true(date_read(right[n].text, &ns));
        assert_int_equal(ns, right[n].ns);
    }
    for (unsigned n = 0; n < sizeof wrong / sizeof wrong[0]; n++)
        if (date_read(wrong[n], &ns))
            fail_msg("%s was taken", wrong[n]);
}

static void records_come_out_in_order_whatever_order_they_came_in(void **state)
{
    (void)state;
    struct import_order *o = import_order_new();
    uint32_t             drawn = 1;
    uint8_t              bytes[100] = { 0 };
    int64_t              last_ns = -1;
    uint64_t             last_sequence = 0;
    unsigned             count = 0, last_input = 0;

    assert_non_null(o);
    for (unsigned n = 0; n < 5000; n++) {
        drawn = drawn * 1664525u + 1013904223u;
        bytes[0] = (uint8_t)n;
        assert_true(import_order_put(o, drawn >> 24, drawn >> 24, drawn >> 8 & 3, bytes, 1 + drawn % 100));
    }
    assert_null(import_order_take(o, -1));
    for (const struct import_held *h; (h = import_order_take(o, INT64_MAX)) != NULL; count++) {
        assert_true(h->t_ns > last_ns || (h->t_ns == last_ns && (h->input > last_input || (h->input == last_input && h->sequence > last_sequence))));
        assert_int_equal(h->bytes[0], h->sequence & 0xFF);
        last_ns = h->t_ns;
        last_input = h->input;
        last_sequence = h->sequence;
    }
    assert_int_equal(count, 5000);
    import_order_free(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_alone_is_the_trace_that_it_tells),
        cmocka_unit_test(several_inputs_are_merged_by_start_time),
        cmocka_unit_test(a_shift_moves_an_input_and_a_start_says_when_it_began),
        cmocka_unit_test(ports_are_moved_in_headers_marks_and_about),
        cmocka_unit_test(about_of_the_user_lies_over_that_of_the_inputs),
        cmocka_unit_test(every_record_can_be_flagged_as_invented),
        cmocka_unit_test(a_recording_without_a_time_of_its_own_begins_with_the_earliest_that_has_one),
        cmocka_unit_test(about_says_where_it_comes_from_and_how_fine_its_times_are),
        cmocka_unit_test(a_meter_that_nothing_ties_is_taken_as_a_second_off_and_one_shifted_by_hand_as_10_ms),
        cmocka_unit_test(lines_of_several_grains_tell_theirs_for_their_ports),
        cmocka_unit_test(a_meters_columns_can_be_said_for_all_or_for_one),
        cmocka_unit_test(columns_of_several_ports_are_told_with_their_port),
        cmocka_unit_test(a_bad_line_costs_itself_and_is_named),
        cmocka_unit_test(what_a_file_is_shows_in_its_name_or_its_first_bytes),
        cmocka_unit_test(wrong_use_is_said_in_one_line),
        cmocka_unit_test(colons_in_times_and_paths_are_no_end_of_the_keys),
        cmocka_unit_test(a_file_that_is_there_is_not_written_over_unasked),
        cmocka_unit_test(a_full_disk_is_one_line_and_exit_2),
        cmocka_unit_test(a_reader_that_has_gone_is_no_fault),
        cmocka_unit_test(a_time_that_no_trace_can_hold_is_said),
        cmocka_unit_test(an_input_that_tells_nothing_makes_an_empty_trace),
        cmocka_unit_test(moments_are_read_as_people_write_them),
        cmocka_unit_test(records_come_out_in_order_whatever_order_they_came_in),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
