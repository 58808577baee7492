/* Judged while it is recorded: record -o - into check --follow. */
#define _GNU_SOURCE /* pipe2 */
#include "tests/record/running.h"

#include "capture/trace.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* Both programs, joined by a pipe; the second one's output is ours to read. */
struct pair { pid_t recorder, judge; int out; };

static struct pair pair_start(const char *source, bool json)
{
    struct pair p;
    int         between[2], out[2];

    assert_int_equal(pipe2(between, O_CLOEXEC) | pipe2(out, O_CLOEXEC), 0);
    fflush(NULL);
    p.recorder = fork();
    if (p.recorder == 0) {
        dup2(between[1], 1);
        execl(PORTASSAY_PROGRAM, "portassay", "record", "-q", "-f", source, (char *)NULL);
        _exit(127);
    }
    p.judge = fork();
    if (p.judge == 0) {
        dup2(between[0], 0);
        dup2(out[1], 1);
        execl(PORTASSAY_PROGRAM, "portassay", "check", "--follow", "-", json ? "--json" : (char *)NULL, (char *)NULL);
        _exit(127);
    }
    assert_true(p.recorder > 0 && p.judge > 0);
    close(between[0]);
    close(between[1]);
    close(out[1]);
    p.out = out[0];
    return p;
}

/* What the judge has said, up to these words; the rest stays. */
static void hear(struct pair *p, const char *words, char *heard, size_t room)
{
    struct pollfd one = { .fd = p->out, .events = POLLIN };
    size_t        used = strlen(heard);

    while (!strstr(heard, words)) {
        if (poll(&one, 1, 30000) != 1)
            fail_msg("\"%s\" was not said; said was: %s", words, heard);
        ssize_t n = read(p->out, heard + used, room - 1 - used);

        if (n <= 0)
            fail_msg("\"%s\" was not said before the end; said was: %s", words, heard);
        used += (size_t)n;
        heard[used] = '\0';
    }
}

static int pair_end(struct pair *p)
{
    int status = 0;

    kill(p->recorder, SIGINT);
    waitpid(p->recorder, NULL, 0);
    waitpid(p->judge, &status, 0);
    close(p->out);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* A source offers; then its next message has a MessageID out of order: a fault that its packet alone shows. */
static void offer_say(int fd, struct lines *l, uint32_t offer)
{
    line_add(l, "- 0 CC 0 -");
    line_add(l, "- 0 CC 1 3.0A");
    packet_add(l, "-", 0, "SOP", header_of(1, 1, 0, true), &offer, 1, false);
    packet_add(l, "-", 0, "SOP", header_of(1, 0, 0, false), NULL, 0, false);
    assert_int_equal(write(fd, l->text, l->used), l->used);
}

static void attach_say(int fd, struct lines *l)
{
    offer_say(fd, l, 0x0801912c); /* 5 V, 3 A */
}

static void fault_say(int fd, struct lines *l)
{
    l->used = 0;
    packet_add(l, "-", 0, "SOP", header_of(2, 0, 5, true), NULL, 0, false); /* GotoMin with MessageID 5, where 1 is due */
    packet_add(l, "-", 0, "SOP", header_of(1, 0, 5, false), NULL, 0, false);
    assert_int_equal(write(fd, l->text, l->used), l->used);
}

static void a_finding_is_told_while_the_recording_runs(void **state)
{
    struct place         from = pipe_make("follow");
    static struct lines  l;
    static char          heard[1 << 16];
    struct pair          p = pair_start(from.source, false);
    int                  fd = pipe_write(from.path);

    (void)state;
    attach_say(fd, &l);
    pause_ms(300);
    int64_t began = clock_ms();

    fault_say(fd, &l);
    hear(&p, "message.id-sequence", heard, sizeof heard);
    print_message("a finding was told %lld ms after its packet\n", (long long)(clock_ms() - began));
    assert_int_equal(kill(p.recorder, 0), 0); /* it still records */
    assert_null(strstr(heard, "FAIL"));       /* the verdict comes at the end */
    kill(p.recorder, SIGINT);
    hear(&p, "Not met", heard, sizeof heard);
    assert_non_null(strstr(heard, "FAIL"));
    assert_int_equal(pair_end(&p), 1);
    close(fd);
}

static void in_json_each_finding_is_a_line_and_the_whole_comes_last(void **state)
{
    struct place        from = pipe_make("follow");
    static struct lines l;
    static char         heard[1 << 18];
    struct pair         p = pair_start(from.source, true);
    int                 fd = pipe_write(from.path);

    (void)state;
    attach_say(fd, &l);
    fault_say(fd, &l);
    hear(&p, "}\n", heard, sizeof heard);
    assert_int_equal(strncmp(heard, "{\"rule\":\"", 9), 0);
    kill(p.recorder, SIGINT);
    hear(&p, "\"catalogue\"", heard, sizeof heard);
    assert_non_null(strstr(heard, "\n{\"schema\":1"));
    assert_int_equal(pair_end(&p), 1);
    close(fd);
}

static unsigned times_said(const char *heard, const char *words)
{
    unsigned n = 0;

    for (const char *at = strstr(heard, words); at; at = strstr(at + 1, words))
        n++;
    return n;
}

/* Offers are judged for good when the plug is pulled: who watches is told at once, and once. */
static void an_offer_is_told_of_while_it_stands(void **state)
{
    struct place         from = pipe_make("follow");
    static struct lines  l;
    static char          heard[1 << 16];
    struct pair          p = pair_start(from.source, false);
    int                  fd = pipe_write(from.path);

    (void)state;
    heard[0] = '\0';
    l.used = 0;
    int64_t began = clock_ms();

    offer_say(fd, &l, 0x0002d12c); /* 9 V, 3 A, and nothing else */
    hear(&p, "caps.first-5v (must, so far)", heard, sizeof heard);
    print_message("an offer was told of %lld ms after its packet\n", (long long)(clock_ms() - began));
    kill(p.recorder, SIGINT);
    hear(&p, "Not met", heard, sizeof heard);
    *strstr(heard, "FAIL") = '\0'; /* the whole, which lists it again */
    assert_int_equal(times_said(heard, "caps.first-5v (must"), 1);
    assert_null(strstr(heard, "taken back"));
    assert_int_equal(pair_end(&p), 1);
    close(fd);
}

/* Nobody answers, and nothing else comes: time passes all the same. Then it shows that records are missing there. */
static void silence_is_told_of_while_nothing_comes_and_taken_back(void **state)
{
    struct place         from = pipe_make("follow");
    static struct lines  l;
    static char          heard[1 << 16];
    struct pair          p = pair_start(from.source, true);
    int                  fd = pipe_write(from.path);

    (void)state;
    heard[0] = '\0';
    l.used = 0;
    attach_say(fd, &l);
    hear(&p, "\"told\":\"so_far\"}\n", heard, sizeof heard);
    assert_int_equal(strncmp(heard, "{\"rule\":\"exchange.request-after-caps\"", 37), 0);
    assert_int_equal(write(fd, "- 0 LOST 2\n", 11), 11);
    hear(&p, "\"told\":\"taken_back\"}\n", heard, sizeof heard);
    pair_end(&p);
    close(fd);
}

static void a_record_that_comes_too_late_for_that_is_said_and_counted(void **state)
{
    /* The trace of another writer: a POWER record stands 400 ms after what it is earlier than. */
    struct run  made = RUN_ON("1000.5 0 CC 1 3.0A\n1000.1 1 V 5.0\n1000.6 1 V 5.0\n", "cut", "-", "-o", file_path("late.pcap"));
    char        command[3000];
    struct run  r;
    struct place in = place_of("late.pcap"), out = place_of("late.out");

    (void)state;
    run_free(&made);
    /* As a file it can be put in order ... */
    r = RUN("check", "--json", in.path);
    assert_non_null(strstr(r.out, "\"time_steps\":0"));
    run_free(&r);
    /* ... and live, with a pause before the second record, only with a word on it. */
    snprintf(command, sizeof command,
             "(printf '1000.5 0 CC 1 3.0A\\n'; sleep 0.3; printf '1000.1 1 V 5.0\\n1000.6 1 V 5.0\\n') | "
             "'%s' check --follow --json - >'%s' 2>&1; true", PORTASSAY_PROGRAM, out.path);
    assert_int_equal(system(command), 0);
    snprintf(command, sizeof command, "grep -q 'too late' '%s' && grep -q '\"time_steps\":1' '%s'", out.path, out.path);
    assert_int_equal(system(command), 0);
}

static void follow_takes_one_trace(void **state)
{
    struct run r = RUN("check", "--follow", "a.pcap", "b.pcap");

    (void)state;
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "--follow takes one trace"));
    run_free(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_finding_is_told_while_the_recording_runs),
        cmocka_unit_test(in_json_each_finding_is_a_line_and_the_whole_comes_last),
        cmocka_unit_test(an_offer_is_told_of_while_it_stands),
        cmocka_unit_test(silence_is_told_of_while_nothing_comes_and_taken_back),
        cmocka_unit_test(a_record_that_comes_too_late_for_that_is_said_and_counted),
        cmocka_unit_test(follow_takes_one_trace),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
