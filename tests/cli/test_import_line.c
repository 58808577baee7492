/*
 * CC lines through `import`, from lines that the tests' own encoder makes: packets, resets, damage and holes as records, of several pins and ports.
 * INVENTED.
 */
#include "capture/trace.h"
#include "tests/cli/program.h"
#include "tests/decode/bmc_line.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RECORDS_MAX = 64, BYTES_MAX = 400, LINES = 4 };
#define MS_PS 1e9

struct kept { unsigned count; struct record records[RECORDS_MAX]; uint8_t bytes[RECORDS_MAX][BYTES_MAX]; };
static struct kept k;
static char said[4096];
static double told_ns; /* instrument.time_ns, as it was told last */

static void told_read(const struct record *r)
{
    char  text[2000];
    char *at;

    snprintf(text, sizeof text, "%.*s", (int)r->about.length, (const char *)r->about.text);
    at = strstr(text, "\"time_ns\":");
    if (at)
        told_ns = strtod(at + strlen("\"time_ns\":"), NULL);
}

static void trace_read(const char *path)
{
    struct trace_options options = { .file_order = true };
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(path, &options, &f);
    const struct record *r;

    assert_non_null(t);
    for (k.count = 0; trace_next(t, &r, &f);) {
        assert_int_equal(r->soundness, RECORD_SOUND);
        if (r->kind == RECORD_ABOUT) {
            told_read(r);
            continue;
        }
        assert_true(k.count < RECORDS_MAX && r->length <= BYTES_MAX);
        memcpy(k.bytes[k.count], r->bytes, r->length);
        record_read(k.bytes[k.count], r->length, false, r->stamp_ns, r->frame, &k.records[k.count]);
        k.count++;
    }
    trace_close(t);
}

/* Writes lines as a dump in steps of 1 ns, cut after until_ps; from unknown_ps[0] to [1] line 0 is x (none: 0, 0). */
static void dump_write(struct wave *const *waves, unsigned count, double from_ps, double until_ps, const double *unknown_ps)
{
    static char  text[400000];
    size_t       used = 0, next[LINES] = { 0 };
    bool         high[LINES];
    int          stage = 0;

#define SAY(...) used += (size_t)snprintf(text + used, sizeof text - used, __VA_ARGS__)
    SAY("$timescale 1 ns $end\n$scope module t $end\n");
    for (unsigned n = 0; n < count; n++) {
        SAY("$var wire 1 %c l%u $end\n", 'a' + (int)n, n);
        high[n] = waves[n]->begins_high;
        for (; next[n] < waves[n]->count && waves[n]->at_ps[next[n]] < from_ps; next[n]++)
            high[n] = !high[n];
    }
    SAY("$upscope $end\n$enddefinitions $end\n#0\n");
    for (unsigned n = 0; n < count; n++)
        SAY("%d%c\n", high[n], 'a' + (int)n);
    for (;;) {
        unsigned first = count;

        for (unsigned n = 0; n < count; n++)
            if (next[n] < waves[n]->count && (first == count || waves[n]->at_ps[next[n]] < waves[first]->at_ps[next[first]]))
                first = n;
        double at_ps = first < count ? waves[first]->at_ps[next[first]] : until_ps;

        if (unknown_ps && stage < 2 && at_ps > unknown_ps[stage]) {
            SAY("#%.0f\n", (unknown_ps[stage] - from_ps) / 1000);
            SAY("%ca\n", stage == 0 ? 'x' : high[0] ? '1' : '0');
            stage++;
            continue;
        }
        if (at_ps >= until_ps)
            break;
        high[first] = !high[first];
        next[first]++;
        if (!unknown_ps || first != 0 || stage != 1)
            SAY("#%.0f\n%d%c\n", (at_ps - from_ps) / 1000, high[first], 'a' + (int)first);
    }
    SAY("#%.0f\n", (until_ps - from_ps) / 1000);
#undef SAY
    file_write("line.vcd", text, used);
}

static void import(const char *keys)
{
    char       operand[1000];
    struct run r;

    snprintf(operand, sizeof operand, "vcd,%s:%s", keys, file_path("line.vcd"));
    r = RUN("import", "--overwrite", "-o", file_path("line.pcap"), operand);
    if (r.status != 0)
        fail_msg("%s", r.err);
    snprintf(said, sizeof said, "%s", r.err);
    run_free(&r);
    trace_read(file_path("line.pcap"));
}

static const uint8_t offer[] = { 0x61, 0x11, 0x2c, 0x91, 0x01, 0x08 }, goodcrc[] = { 0x41, 0x00 };

/* A message with its CRC in room; its length. */
static size_t message(uint8_t room[20], const uint8_t *bytes, size_t length)
{
    memcpy(room, bytes, length);
    return wave_crc_add(room, length);
}

/* Sends it at that rate; where it started and ended. */
static struct wave_truth send(struct wave *w, enum wave_set set, const uint8_t *bytes, size_t length, double rate_hz)
{
    struct wave_packet p = wave_packet_of(set, bytes, length);

    p.rate_hz = rate_hz;
    struct wave_truth t = wave_send(w, &p);

    wave_wait(w, MS_PS);
    return t;
}

static void near_ns(int64_t found_ns, double wanted_ps, int64_t within_ns)
{
    if (llabs(found_ns - (int64_t)(wanted_ps / 1000)) > within_ns)
        fail_msg("%lld ns instead of %.0f", (long long)found_ns, wanted_ps / 1000);
}

static void packets_resets_and_their_rates_are_measured(void **state)
{
    (void)state;
    struct wave       w;
    uint8_t           a[20], b[20];
    size_t            na = message(a, offer, sizeof offer), nb = message(b, goodcrc, sizeof goodcrc);
    struct wave_truth t[5];

    wave_begin(&w, false);
    wave_wait(&w, MS_PS);
    t[0] = send(&w, WAVE_SOP, a, na, 300e3);
    t[1] = send(&w, WAVE_SOP1, b, nb, 255e3); /* slower than allowed */
    t[2] = send(&w, WAVE_SOP2_DEBUG, b, nb, 345e3);
    t[3] = send(&w, WAVE_HARD_RESET, NULL, 0, 270e3);
    t[4] = send(&w, WAVE_CABLE_RESET, NULL, 0, 330e3);
    dump_write(&(struct wave *){ &w }, 1, 0, w.now_ps, NULL);
    import("cc1=l0,port=2");
    assert_int_equal(k.count, 5);
    for (unsigned n = 0; n < 5; n++) {
        assert_int_equal(k.records[n].port, 2);
        near_ns(k.records[n].t_ns, t[n].start_ps, 2);
        near_ns(k.records[n].duration_ns, t[n].end_ps - t[n].start_ps, 3);
        assert_int_equal(k.records[n].kind, n < 3 ? RECORD_PD_PACKET : RECORD_RESET_SIGNAL);
    }
    assert_int_equal(k.records[1].packet.set, 1);
    assert_int_equal(k.records[2].packet.set, 4);
    assert_int_equal(k.records[3].reset.which, RECORD_HARD_RESET);
    assert_int_equal(k.records[4].reset.which, RECORD_CABLE_RESET);
    assert_int_equal(k.records[0].packet.length, na);
    assert_memory_equal(k.records[0].packet.bytes, a, na);
    assert_non_null(strstr(said, "l0: 3 packets, 1 Hard Reset, 1 Cable Reset; 255.0 to 345.0 kbit/s"));
    wave_free(&w);
}

static void both_pins_of_a_port_and_several_ports_come_in_order(void **state)
{
    (void)state;
    struct wave waves[4];
    uint8_t     b[20];
    size_t      nb = message(b, goodcrc, sizeof goodcrc);

    for (unsigned n = 0; n < 4; n++) {
        wave_begin(&waves[n], false);
        wave_wait(&waves[n], (n + 1) * MS_PS * 0.6);
        for (unsigned times = 0; times < 3; times++) {
            send(&waves[n], WAVE_SOP, b, nb, 300e3);
            wave_wait(&waves[n], 2 * MS_PS);
        }
    }
    dump_write((struct wave *[]){ &waves[0], &waves[1], &waves[2], &waves[3] }, 4, 0, 12 * MS_PS, NULL);
    import("cc1=l0,cc2=l1,cc1@3=l2,cc2@3=l3");
    assert_int_equal(k.count, 12);
    for (unsigned n = 0; n < 12; n++) {
        assert_int_equal(k.records[n].port, n % 4 < 2 ? 0 : 3);
        assert_true(n == 0 || k.records[n].t_ns >= k.records[n - 1].t_ns);
    }
    for (unsigned n = 0; n < 4; n++)
        wave_free(&waves[n]);
}

static void a_wrong_crc_and_a_packet_that_breaks_off_say_so(void **state)
{
    (void)state;
    struct wave w;
    uint8_t     a[20];
    size_t      na = message(a, offer, sizeof offer);

    a[3] ^= 4;
    wave_begin(&w, true);
    wave_wait(&w, MS_PS);
    send(&w, WAVE_SOP, a, na, 300e3);
    a[3] ^= 4;
    struct wave_truth t = send(&w, WAVE_SOP, a, na, 300e3);

    /* The recording ends within the second: after preamble, ordered set and some bytes. */
    dump_write(&(struct wave *){ &w }, 1, 0, t.start_ps + (t.end_ps - t.start_ps) * 0.75, NULL);
    import("cc1=l0");
    assert_int_equal(k.count, 2);
    assert_int_equal(k.records[0].packet.state, RECORD_CRC_BAD);
    assert_int_equal(k.records[0].packet.length, na);
    assert_int_equal(k.records[1].packet.state, RECORD_TRUNCATED);
    assert_true(k.records[1].packet.length < na && k.records[1].packet.length >= 2);
    assert_memory_equal(k.records[1].packet.bytes, a, k.records[1].packet.length);
    near_ns(k.records[1].t_ns, t.start_ps, 2);
    assert_non_null(strstr(said, "2 packets, 1 with a wrong CRC, 1 broken off"));
    wave_free(&w);
}

static void a_packet_whose_beginning_was_missed_starts_where_it_would_have(void **state)
{
    (void)state;
    struct wave w;
    uint8_t     a[20];
    size_t      na = message(a, offer, sizeof offer);

    wave_begin(&w, false);
    wave_wait(&w, MS_PS);
    struct wave_truth t = send(&w, WAVE_SOP, a, na, 310e3);
    double            from_ps = t.start_ps + 60e6; /* some 18 bits of the preamble */

    dump_write(&(struct wave *){ &w }, 1, from_ps, w.now_ps, NULL);
    import("cc1=l0,start=2026-01-31T10:00:00");
    assert_int_equal(k.count, 1);
    assert_int_equal(k.records[0].packet.state, 0);
    near_ns(k.records[0].t_ns - INT64_C(1769853600000000000), t.start_ps - from_ps, 1700); /* half a cell */
    near_ns(k.records[0].duration_ns, t.end_ps - t.start_ps, 1700);
    wave_free(&w);
}

static void what_passed_while_the_line_was_unknown_is_lost(void **state)
{
    (void)state;
    struct wave w;
    uint8_t     b[20];
    size_t      nb = message(b, goodcrc, sizeof goodcrc);

    wave_begin(&w, false);
    wave_wait(&w, MS_PS);
    send(&w, WAVE_SOP, b, nb, 300e3);
    struct wave_truth t = send(&w, WAVE_SOP, b, nb, 300e3);

    send(&w, WAVE_SOP, b, nb, 300e3);
    const double unknown_ps[] = { t.start_ps - 2e8, t.end_ps + 3e8 };

    dump_write(&(struct wave *){ &w }, 1, 0, w.now_ps, unknown_ps);
    import("cc1=l0");
    assert_int_equal(k.count, 3);
    assert_int_equal(k.records[0].kind, RECORD_PD_PACKET);
    assert_int_equal(k.records[1].kind, RECORD_LOST);
    assert_int_equal(k.records[1].lost.count, RECORD_LOST_UNKNOWN);
    assert_int_equal(k.records[1].lost.where, 1); /* in the instrument */
    near_ns(k.records[1].t_ns, unknown_ps[1], 2);
    assert_int_equal(k.records[2].kind, RECORD_PD_PACKET);
    assert_non_null(strstr(said, "l0 is not known (x or z)"));
    assert_non_null(strstr(said, "2 packets; 300.0 to 300.0 kbit/s; 1 time not known"));
    wave_free(&w);
}

static void a_preamble_of_another_length_leaves_the_length_unmeasured(void **state)
{
    (void)state;
    struct wave        w;
    uint8_t            b[20];
    size_t             nb = message(b, goodcrc, sizeof goodcrc);
    struct wave_packet p = wave_packet_of(WAVE_SOP, b, nb);

    p.preamble_bits = 70;
    wave_begin(&w, false);
    wave_wait(&w, MS_PS);
    struct wave_truth t = wave_send(&w, &p);

    wave_wait(&w, MS_PS);
    dump_write(&(struct wave *){ &w }, 1, 0, w.now_ps, NULL);
    import("cc1=l0");
    assert_int_equal(k.count, 1);
    near_ns(k.records[0].t_ns, t.start_ps, 2);
    assert_int_equal(k.records[0].duration_ns, 0);
    wave_free(&w);
}

/* Normal by the sum of twelve even draws. */
static double noise(uint64_t *seed)
{
    double sum = -6;

    for (unsigned n = 0; n < 12; n++) {
        *seed = *seed * 6364136223846793005u + 1442695040888963407u;
        sum += (double)(*seed >> 11) * 0x1p-53;
    }
    return sum;
}

/* 5 MS/s, a step a millivolt, low at 0, high at 1125 mV, ramps of 400 ns, and noise. */
static void readings_write(const struct wave *w, double noise_mv)
{
    enum { STEP_PS = 200000, RAMP_PS = 400000, HIGH_MV = 1125 };
    size_t   count = (size_t)(w->now_ps / STEP_PS), next = 0;
    uint8_t *bytes = malloc(2 * count);
    uint64_t seed = 1;
    bool     high = false;

    assert_non_null(bytes);
    for (size_t n = 0; n < count; n++) {
        double at_ps = (double)n * STEP_PS, share = 0;

        for (; next < w->count && w->at_ps[next] + RAMP_PS / 2 <= at_ps; next++)
            high = !high;
        if (next < w->count && w->at_ps[next] - RAMP_PS / 2 < at_ps)
            share = (at_ps - w->at_ps[next] + RAMP_PS / 2) / RAMP_PS;
        int mv = (int)lround((high ? 1 - share : share) * HIGH_MV + noise(&seed) * noise_mv);

        bytes[2 * n] = (uint8_t)mv;
        bytes[2 * n + 1] = (uint8_t)((unsigned)mv >> 8);
    }
    file_write("line.s16", bytes, 2 * count);
    free(bytes);
}

/* How far the starts of packets of a noisy recording are scattered about the true ones, which lie at all places between two readings. */
static double starts_spread(double noise_mv, const char *about)
{
    struct wave       w;
    struct wave_truth t[40];
    uint8_t           a[20];
    size_t            na = message(a, offer, sizeof offer);
    double            sum = 0, squares = 0;
    char              operand[1000];

    wave_begin(&w, false);
    wave_wait(&w, 20 * MS_PS);
    for (unsigned n = 0; n < 40; n++) {
        t[n] = send(&w, WAVE_SOP, a, na, 300e3);
        wave_wait(&w, 17e3 * n); /* elsewhere between two readings */
    }
    readings_write(&w, noise_mv);
    snprintf(operand, sizeof operand, "samples,rate=5M,scale=1000:%s", file_path("line.s16"));
    struct run r = RUN("import", "-q", "--overwrite", "-o", file_path("line.pcap"), operand, about ? "--about" : "-q", about ? about : "-q");

    if (r.status != 0)
        fail_msg("%s", r.err);
    run_free(&r);
    trace_read(file_path("line.pcap"));
    wave_free(&w);
    unsigned found = 0;

    for (unsigned n = 0; n < k.count; n++) {
        if (k.records[n].kind != RECORD_PD_PACKET)
            continue;
        double late_ns = (double)k.records[n].t_ns - t[found++].start_ps / 1000;

        sum += late_ns;
        squares += late_ns * late_ns;
    }
    assert_int_equal(found, 40);
    return sqrt(squares / 40 - sum / 40 * (sum / 40));
}

static void how_sure_times_of_noisy_readings_are_is_told(void **state)
{
    static const double noises_mv[] = { 5, 60, 120 };

    (void)state;
    for (unsigned n = 0; n < 3; n++) {
        told_ns = 0;
        double spread_ns = starts_spread(noises_mv[n], NULL);

        if (told_ns < spread_ns / 1.3 || told_ns > spread_ns * 3)
            fail_msg("with %.0f mV of noise %.1f ns are told, %.1f are true", noises_mv[n], told_ns, spread_ns);
    }
}

static void what_the_user_says_of_times_is_not_outranked(void **state)
{
    (void)state;
    file_write("about.json", "{\"instrument\":{\"time_ns\":7}}", strlen("{\"instrument\":{\"time_ns\":7}}"));
    starts_spread(60, file_path("about.json"));
    assert_true(told_ns > 6.9 && told_ns < 7.1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(packets_resets_and_their_rates_are_measured),
        cmocka_unit_test(both_pins_of_a_port_and_several_ports_come_in_order),
        cmocka_unit_test(a_wrong_crc_and_a_packet_that_breaks_off_say_so),
        cmocka_unit_test(a_packet_whose_beginning_was_missed_starts_where_it_would_have),
        cmocka_unit_test(what_passed_while_the_line_was_unknown_is_lost),
        cmocka_unit_test(a_preamble_of_another_length_leaves_the_length_unmeasured),
        cmocka_unit_test(how_sure_times_of_noisy_readings_are_is_told),
        cmocka_unit_test(what_the_user_says_of_times_is_not_outranked),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
