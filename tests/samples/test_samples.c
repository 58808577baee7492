/* The samples in traces/ tell what the life told that they were made from: the same packets at the same times, and the same verdicts. */
#include "tests/cli/program.h"

#include "capture/trace.h"
#include "capture/writer.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FRAMES_MAX = 200, BYTES_MAX = 300 };

/* A packet or a reset: since the first record of its trace. */
struct frame {
    int64_t  t_ns;
    uint32_t duration_ns;
    uint8_t  kind, set, state;
    size_t   length;
    uint8_t  bytes[BYTES_MAX];
};
struct frames { struct frame frame[FRAMES_MAX]; unsigned count; int64_t first_ns; };

static void frame_take(struct frames *f, const struct record *r)
{
    struct frame *to = &f->frame[f->count++];

    assert_true(f->count < FRAMES_MAX);
    *to = (struct frame){ .t_ns = r->t_ns, .duration_ns = r->duration_ns, .kind = r->kind };
    if (r->kind == RECORD_RESET_SIGNAL) {
        to->set = r->reset.which;
        return;
    }
    assert_true(r->packet.length <= BYTES_MAX);
    to->set = r->packet.set;
    to->state = r->packet.state;
    to->length = r->packet.length;
    memcpy(to->bytes, r->packet.bytes, r->packet.length);
}

static void frames_read(const char *path, struct frames *f)
{
    struct fault         fault = { .code = FAULT_NONE };
    struct trace        *t = trace_open(path, NULL, &fault);
    const struct record *r;

    memset(f, 0, sizeof *f);
    assert_non_null(t);
    for (bool first = true; trace_next(t, &r, &fault); first = false) {
        assert_int_equal(r->soundness, RECORD_SOUND);
        f->first_ns = first ? r->t_ns : f->first_ns;
        if (r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL)
            frame_take(f, r);
    }
    trace_close(t);
}

static void life_play(void)
{
    struct run r = RUN("synth", "-o", file_path("life.pcap"), SAMPLES_DIR "/life.json");

    assert_int_equal(r.status, 0);
    run_free(&r);
}

static void import(const char *input)
{
    struct run r = RUN("import", "--overwrite", "-o", file_path("import.pcap"), input);

    if (r.status != 0)
        fail_msg("%s: %s", input, r.err);
    run_free(&r);
}

static char *operand(const char *kind, const char *name)
{
    static char text[600];

    snprintf(text, sizeof text, "%s:%s/%s", kind, TRACES, name);
    return text;
}

/*
 * Frames from..from + count - 1 of the life, and no others, are in the import: the same bytes; times and lengths within so much. The import
 * begins at begin_ns of the life.
 */
static void same_frames(const struct frames *life, unsigned from, unsigned count, int64_t begin_ns, const struct frames *found, int64_t within_ns)
{
    assert_int_equal(found->count, count);
    for (unsigned k = 0; k < count; k++) {
        const struct frame *a = &life->frame[from + k], *b = &found->frame[k];

        assert_int_equal(b->kind, a->kind);
        assert_int_equal(b->set, a->set);
        assert_int_equal(b->state, 0);
        assert_int_equal(b->length, a->length);
        assert_memory_equal(b->bytes, a->bytes, a->length);
        assert_true(llabs(b->t_ns - found->first_ns - (a->t_ns - life->first_ns - begin_ns)) <= within_ns);
        assert_true(llabs((int64_t)b->duration_ns - (int64_t)a->duration_ns) <= within_ns);
    }
}

static struct frames life, found;

static void all_packets_are_in_the_value_changes(void **state)
{
    (void)state;
    life_play();
    frames_read(file_path("life.pcap"), &life);
    assert_true(life.count >= 18);
    import(operand("vcd,cc1=bench.cc1,cc2=cc2", "cc-line.vcd"));
    frames_read(file_path("import.pcap"), &found);
    assert_int_equal(found.first_ns, life.first_ns); /* $date says when it began */
    /* A tick is 10 ns: half of one at a start, and at the end of a packet as much as its clock is fitted to. */
    same_frames(&life, 0, life.count, 0, &found, 20);
}

/* The first frame of the life that starts at t_ns or later. */
static unsigned frame_from(int64_t t_ns)
{
    unsigned k = 0;

    while (k < life.count && life.frame[k].t_ns - life.first_ns < t_ns)
        k++;
    return k;
}

/* What lies in a window of the life: as make_samples.c has them. */
static void window_imported(const char *input, int64_t from_ns, int64_t to_ns, int64_t within_ns)
{
    unsigned from = frame_from(from_ns), count = frame_from(to_ns) - from;

    life_play();
    import(input);
    frames_read(file_path("import.pcap"), &found);
    assert_true(count >= 2);
    same_frames(&life, from, count, from_ns, &found, within_ns);
}

static void packed_samples_hold_the_negotiation(void **state)
{
    (void)state;
    frames_read(file_path("life.pcap"), &life);
    window_imported(operand("bits,rate=2.4M", "cc-line.bits"), 200000000, 750000000, 420); /* a sample is 417 ns */
}

static void readings_of_16_bits_hold_the_offer_and_its_acceptance(void **state)
{
    (void)state;
    frames_read(file_path("life.pcap"), &life);
    /* A sample is 500 ns; a change counts where the line is half way, up to 200 ns after it began. */
    window_imported(operand("samples,rate=2M,scale=100", "cc-line.s16"), 294000000, 336000000, 500);
}

static void readings_as_a_table_hold_the_offer(void **state)
{
    (void)state;
    frames_read(file_path("life.pcap"), &life);
    window_imported(operand("volts", "cc-line.csv"), 294900000, 297400000, 400);
}

/* The life without what a CC line does not show. */
static void life_strip(void)
{
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(file_path("life.pcap"), NULL, &f);
    struct trace_writer *w = trace_writer_open(file_path("stripped.pcap"), &f);
    const struct record *r;

    assert_true(t && w);
    while (trace_next(t, &r, &f))
        if (r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL || r->kind == RECORD_ABOUT)
            assert_true(trace_writer_put(w, r->stamp_ns, r->bytes, r->length, &f));
    assert_true(trace_writer_close(w, &f));
    trace_close(t);
}

/* Of every rule: id, verdict and how often it was judged. */
static char *verdicts_of(const char *path, const char *about)
{
    struct run r = RUN("check", "--json", "--about", about, path);

    assert_true(r.status == 0 || r.status == 1);
    cJSON *check = cJSON_Parse(r.out), *rule, *list = cJSON_CreateArray();

    assert_non_null(check);
    assert_int_equal(flag_of(member(check, "trace"), "cut_off"), false);
    cJSON_ArrayForEach(rule, member(check, "rules"))
    {
        char line[200];

        snprintf(line, sizeof line, "%s %s %" PRId64 " %" PRId64, text_of(rule, "rule"), text_of(rule, "verdict"), number_of(rule, "judged"),
                 number_of(rule, "failed"));
        cJSON_AddItemToArray(list, cJSON_CreateString(line));
    }
    assert_true(cJSON_GetArraySize(list) > 100);
    char *text = cJSON_Print(list);

    cJSON_Delete(list);
    cJSON_Delete(check);
    run_free(&r);
    return text;
}

static void the_verdicts_of_all_rules_are_those_of_the_life(void **state)
{
    (void)state;
    static const char about[] = "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"source\",\"rated_w\":65}]}";

    file_write("about.json", about, sizeof about - 1);
    life_play();
    life_strip();
    import(operand("vcd,cc1=cc1,cc2=cc2", "cc-line.vcd"));
    char *of_life = verdicts_of(file_path("stripped.pcap"), file_path("about.json"));
    char *of_import = verdicts_of(file_path("import.pcap"), file_path("about.json"));

    assert_string_equal(of_import, of_life);
    assert_non_null(strstr(of_life, "time.ready-spr undecided 2 0"));
    free(of_life);
    free(of_import);
}

static void line_meter_and_marks_become_one_trace(void **state)
{
    (void)state;
    struct run r = RUN("import", "-q", "--invented", "--overwrite", "-o", file_path("bench.pcap"), operand("vcd,cc1=cc1", "cc-line.vcd"),
                       TRACES "/meter.csv", TRACES "/marks.txt");

    assert_int_equal(r.status, 0);
    assert_string_equal(r.err, "");
    run_free(&r);
    r = RUN("check", "--json", file_path("bench.pcap"));
    assert_int_equal(r.status, 1);
    cJSON *check = json_line_of(r.out, 0);

    assert_true(flag_of(member(check, "trace"), "invented"));
    assert_string_equal(text_of(member(member(check, "trace"), "about"), "device"), "Lumenbrick 65");
    assert_string_equal(text_of(check, "verdict"), "fail");
    const cJSON *contracts = member(cJSON_GetArrayItem(member(check, "ports"), 0), "contracts");

    assert_int_equal(cJSON_GetArraySize(contracts), 2);
    assert_int_equal(number_of(cJSON_GetArrayItem(contracts, 0), "mv"), 20000);
    assert_int_equal(number_of(cJSON_GetArrayItem(contracts, 1), "mv"), 9000);
    cJSON_Delete(check);
    run_free(&r);
}

/* The meter's clock is off by less than ABOUT says (twice 1 s): whatever that does to the trace, only what is wrong is told. */
static void a_clock_that_is_off_within_what_is_said_accuses_nobody(void **state)
{
    (void)state;
    static const char  about[] = "{\"instrument\":{\"align_ns\":1e9}}";
    static const char *const shifts[] = { "-2s", "-1.5s", "-1s", "-700ms", "-500ms", "-300ms", "-100ms", "-50ms", "0", "50ms", "150ms", "300ms", "500ms",
                                          "700ms", "1s", "1.5s", "1.9s" };

    file_write("tie.json", about, sizeof about - 1);
    for (unsigned n = 0; n < sizeof shifts / sizeof shifts[0]; n++) {
        char keys[80], meter[600];

        snprintf(keys, sizeof keys, "meter,shift=%s", shifts[n]);
        snprintf(meter, sizeof meter, "%s", operand(keys, "meter.csv"));
        struct run r = RUN("import", "-q", "--overwrite", "--about", file_path("tie.json"), "-o", file_path("off.pcap"),
                           operand("vcd,cc1=cc1", "cc-line.vcd"), meter, TRACES "/marks.txt");

        assert_int_equal(r.status, 0);
        run_free(&r);
        r = RUN("check", "--json", file_path("off.pcap"));
        cJSON *check = json_line_of(r.out, 0), *finding;

        assert_non_null(check);
        cJSON_ArrayForEach(finding, member(check, "findings"))
        {
            if (strcmp(text_of(finding, "verdict"), "fail") == 0 && strcmp(text_of(finding, "rule"), "time.ready-spr") != 0)
                fail_msg("%s off: %s: %s", shifts[n], text_of(finding, "rule"), text_of(finding, "text"));
        }
        cJSON_Delete(check);
        run_free(&r);
    }
}

static void the_samples_are_what_the_life_makes_of_them(void **state)
{
    (void)state;
    static const char *const names[] = { "cc-line.vcd", "cc-line.bits", "cc-line.s16", "cc-line.csv", "meter.csv", "marks.txt" };
    char command[2000];

    snprintf(command, sizeof command, "'%s' '%s/life.json' '%s'", MAKE_SAMPLES, SAMPLES_DIR, file_path("."));
    assert_int_equal(system(command), 0);
    for (unsigned k = 0; k < sizeof names / sizeof names[0]; k++) {
        snprintf(command, sizeof command, "cmp '%s/%s' '%s'", TRACES, names[k], file_path(names[k]));
        if (system(command) != 0)
            fail_msg("traces/%s is not what tests/samples/make.sh makes; run it", names[k]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_packets_are_in_the_value_changes),
        cmocka_unit_test(packed_samples_hold_the_negotiation),
        cmocka_unit_test(readings_of_16_bits_hold_the_offer_and_its_acceptance),
        cmocka_unit_test(readings_as_a_table_hold_the_offer),
        cmocka_unit_test(the_verdicts_of_all_rules_are_those_of_the_life),
        cmocka_unit_test(line_meter_and_marks_become_one_trace),
        cmocka_unit_test(a_clock_that_is_off_within_what_is_said_accuses_nobody),
        cmocka_unit_test(the_samples_are_what_the_life_makes_of_them),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
