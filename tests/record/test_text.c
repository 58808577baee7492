#define _GNU_SOURCE /* pty */
#include "tests/record/running.h"

#include "capture/trace.h"

#include <cjson/cJSON.h>
#include <fcntl.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

/* All records of a trace in file order, told one by one; how many. Nothing may be out of order. */
static unsigned each_record(const char *path, void (*tell)(void *context, const struct record *r), void *context)
{
    struct fault         f;
    struct trace_options o = { .file_order = true };
    struct trace        *t = trace_open(path, &o, &f);
    const struct record *r;
    unsigned             count = 0;

    assert_non_null(t);
    for (; trace_next(t, &r, &f); count++)
        tell(context, r);
    assert_int_equal(trace_facts(t)->time_steps, 0);
    assert_false(trace_facts(t)->cut_off);
    trace_close(t);
    return count;
}

struct tally {
    unsigned kinds[16], jumps, out_of_order, damaged;
    int64_t  last_ns;
    int32_t  last_mv;
    uint8_t  ports[16]; /* of the last record of each kind */
};

static void tally_take(void *context, const struct record *r)
{
    struct tally *t = context;

    if (r->soundness != RECORD_SOUND) {
        t->damaged++;
        return;
    }
    t->kinds[r->kind]++;
    t->ports[r->kind] = r->port;
    t->out_of_order += r->t_ns < t->last_ns ? 1 : 0;
    t->last_ns = r->t_ns;
    if (r->kind == RECORD_POWER) {
        int32_t mv = record_cell(r, 0, 0) / 1000;

        t->jumps += mv != t->last_mv + 1 ? 1 : 0;
        t->last_mv = mv;
    }
}

static struct tally tally_of(const char *path)
{
    struct tally t = { .last_ns = INT64_MIN };

    each_record(path, tally_take, &t);
    return t;
}

static void a_named_pipe_goes_on_when_its_writer_goes_and_another_comes(void **state)
{
    struct place   from = pipe_make("writers"), file = place_of("writers.pcap");
    struct running r;

    (void)state;
    START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", file.path);
    for (unsigned k = 1; k <= 20; k++) {
        int fd = pipe_write(from.path);

        say(fd, "- 0 V 0.%03u\n", k);
        if (k == 7)
            say(fd, "- 0 V 0.9"); /* it goes in the middle of a line: what stands there is taken as it is */
        close(fd);
        pause_ms(k % 3 == 0 ? 20 : 0);
        if (k == 7)
            pause_ms(100);
    }
    pause_ms(200);
    assert_int_equal(running_stop(&r, SIGTERM), 0);
    struct tally t = tally_of(file.path);

    assert_int_equal(t.kinds[RECORD_POWER], 21);
    assert_int_equal(t.damaged, 0);
}

static void a_terminal_device_at_a_thousand_lines_a_second_loses_none_with_garbage_between(void **state)
{
    enum { LINES = 3000, GARBAGE = 60 };
    struct place   file = place_of("tty.pcap");
    struct running r;
    char           name[200], source[300], more[60];
    int            ours, theirs;
    struct termios before, now;

    (void)state;
    assert_int_equal(openpty(&ours, &theirs, name, NULL, NULL), 0);
    assert_int_equal(tcgetattr(theirs, &before), 0);
    snprintf(source, sizeof source, "text:%s@115200", name);
    START(&r, RUNNING_PLAIN, "record", "-f", source, "-o", file.path);
    for (unsigned k = 0; k < 500; k++) { /* until it is set raw */
        assert_int_equal(tcgetattr(theirs, &now), 0);
        if (!(now.c_lflag & ICANON))
            break;
        pause_ms(5);
    }
    assert_false(now.c_lflag & (ICANON | ECHO));
    assert_int_equal(cfgetispeed(&now), B115200);
    int64_t began = clock_ms();

    for (unsigned k = 1; k <= LINES; k++) {
        say(ours, "- 0 V %u.%03u I 0.5\r\n", k / 1000, k % 1000);
        if (k % (LINES / GARBAGE) == 0)
            say(ours, k % 2 ? "- 0 V \xff\xfe\x01zz\n" : "%%&/ 12:%u\n", k);
        if (clock_ms() - began < (int64_t)k)
            pause_ms(1);
    }
    pause_ms(200);
    assert_int_equal(running_stop(&r, SIGINT), 0);
    assert_int_equal(tcgetattr(theirs, &now), 0); /* set back */
    assert_int_equal(now.c_lflag & (ICANON | ECHO), before.c_lflag & (ICANON | ECHO));
    assert_int_equal(cfgetispeed(&now), cfgetispeed(&before));
    close(ours);
    close(theirs);
    struct tally t = tally_of(file.path);

    assert_int_equal(t.kinds[RECORD_POWER], LINES);
    assert_int_equal(t.jumps, 0);
    assert_int_equal(t.out_of_order, 0);
    assert_int_equal(lines_with(r.heard, "cannot be read"), 3 + 1); /* three in full, and how many more */
    snprintf(more, sizeof more, "%d more lines that cannot be read", GARBAGE - 3);
    assert_non_null(strstr(r.heard, more));
}

static void garbage_where_packets_come_from_is_a_possible_loss(void **state)
{
    struct place  file = place_of("garbage.pcap");
    struct lines *l = calloc(1, sizeof *l);

    (void)state;
    assert_non_null(l);
    line_add(l, "- 1 V 5.0");
    line_add(l, "is no line");
    line_add(l, "- 0 CC 1 3.0A");
    line_add(l, "neither is this");
    line_add(l, "- 1 V 5..0");
    struct run r = RUN_ON(l->text, "record", "-f", "text:-", "-o", file.path);

    assert_int_equal(r.status, 0);
    assert_int_equal(lines_with(r.err, "cannot be read"), 3);
    assert_non_null(strstr(r.err, "line 4"));
    assert_non_null(strstr(r.err, "neither is this"));
    run_free(&r);
    r = RUN("show", "--json", file.path);
    assert_int_equal(lines_with(r.out, "\"kind\":\"lost\""), 1); /* line 4, on port 0: packets come from no other, and line 5 is a reading */
    assert_non_null(strstr(r.out, "\"port\":0,\"kind\":\"lost\",\"count\":1"));
    run_free(&r);
    free(l);
}

/* A meter that stamps its lines with the host's time, and packets from an instrument with a clock of its own that began at 100 s. */
static void a_meter_and_a_packet_source_become_one_trace_in_order(void **state)
{
    struct place         meter = pipe_make("meter"), wire = pipe_make("wire"), file = place_of("both.pcap");
    static struct lines  l;
    char                 shifted[640], time[40];
    struct running       r;
    const uint32_t       offer = 0x0801912c;

    (void)state;
    snprintf(shifted, sizeof shifted, "%s=3", meter.source);
    START(&r, RUNNING_PLAIN, "record", "-f", shifted, "-f", wire.source, "-o", file.path);
    int     volts = pipe_write(meter.path), packets = pipe_write(wire.path);
    int64_t began = clock_ms();

    for (unsigned k = 1; k <= 400; k++) {
        int64_t ms = clock_ms() - began;

        say(volts, "- 0 V 0.%03u\n", k);
        if (k % 4 == 0) {
            l.used = 0;
            snprintf(time, sizeof time, "%lld.%03lld", 100 + (long long)(ms / 1000), (long long)(ms % 1000));
            packet_add(&l, time, 0, "SOP", header_of(1, 1, k / 4 % 8, true), &offer, 1, false);
            assert_int_equal(write(packets, l.text, l.used), l.used);
        }
        pause_ms(3);
    }
    pause_ms(200);
    assert_int_equal(running_stop(&r, SIGINT), 0);
    close(volts);
    close(packets);
    assert_int_equal(lines_with(r.heard, "has a clock of its own"), 1);
    struct tally t = tally_of(file.path);

    assert_int_equal(t.kinds[RECORD_POWER], 400);
    assert_int_equal(t.kinds[RECORD_PD_PACKET], 100);
    assert_int_equal(t.jumps, 0);
    assert_int_equal(t.out_of_order, 0);
    assert_int_equal(t.ports[RECORD_POWER], 3);
    assert_int_equal(t.ports[RECORD_PD_PACKET], 0);
    struct run shown = RUN("show", "--json", file.path);

    assert_non_null(strstr(shown.out, "\"align_ns\":5000000"));
    assert_non_null(strstr(shown.out, "\"drift\":[{\"serial\":\"text:"));
    run_free(&shown);
}

static void ports_move_inside_of_marks_and_of_about_too(void **state)
{
    struct place from = place_of("moved.txt"), file = place_of("moved.pcap");
    char         source[640];
    const char   text[] = "- 1 CC 1 3.0A\n- * MARK plugged 0\n- * ABOUT {\"ports\":[{\"port\":1,\"name\":\"C2\"}]}\n- 253 V 5.0\n- * MARK note quiet\n";

    (void)state;
    file_write("moved.txt", text, sizeof text - 1);
    snprintf(source, sizeof source, "%s=4", from.source);
    struct run r = RUN("record", "-f", source, "-o", file.path);

    assert_int_equal(r.status, 0);
    assert_int_equal(lines_with(r.err, "line 4 cannot be read"), 1); /* there is no port 257 */
    run_free(&r);
    r = RUN("show", "--json", file.path);
    assert_non_null(strstr(r.out, "\"port\":5,\"kind\":\"cc\""));
    assert_non_null(strstr(r.out, "\"action_name\":\"plugged\",\"subject\":4"));
    assert_non_null(strstr(r.out, "{\"port\":5,\"name\":\"C2\"}"));
    assert_non_null(strstr(r.out, "\"subject\":null,\"value\":0,\"text\":\"quiet\""));
    run_free(&r);
}

static void times_of_this_machine_are_taken_as_they_are(void **state)
{
    struct place    from = pipe_make("stamped"), file = place_of("stamped.pcap");
    struct timespec now;
    struct running  r;
    char            wanted[60];

    (void)state;
    START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", file.path);
    int fd = pipe_write(from.path);

    timespec_get(&now, TIME_UTC);
    long long second = (long long)now.tv_sec - (now.tv_nsec < 500000000 ? 1 : 0); /* half a second to a second ago */

    say(fd, "%lld.%09ld 0 V 5.0\n", second, 1 + (now.tv_nsec + 500000000) % 1000000000);
    pause_ms(200);
    assert_int_equal(running_stop(&r, SIGINT), 0);
    assert_string_equal(r.heard, "");
    close(fd);
    struct run shown = RUN("show", "--text", file.path);

    snprintf(wanted, sizeof wanted, "%lld.%09ld 0 V 5", second, 1 + (now.tv_nsec + 500000000) % 1000000000);
    assert_non_null(strstr(shown.out, wanted));
    run_free(&shown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_named_pipe_goes_on_when_its_writer_goes_and_another_comes),
        cmocka_unit_test(a_terminal_device_at_a_thousand_lines_a_second_loses_none_with_garbage_between),
        cmocka_unit_test(garbage_where_packets_come_from_is_a_possible_loss),
        cmocka_unit_test(a_meter_and_a_packet_source_become_one_trace_in_order),
        cmocka_unit_test(ports_move_inside_of_marks_and_of_about_too),
        cmocka_unit_test(times_of_this_machine_are_taken_as_they_are),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
