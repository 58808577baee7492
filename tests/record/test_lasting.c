/* Nothing of the night is lost: killed at any moment, on a full disk, with a look at what reaches the disk. */
#define _GNU_SOURCE /* unshare */
#include "tests/record/running.h"

#include "capture/trace.h"

#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { KILLS = 10, SEED = 20260131, MAY_NOT_MOUNT = 77 };

/* Notes with rising numbers: how many there are; the first is number 1, and none is missing between. */
static unsigned notes_in_order(const char *path)
{
    struct fault         f;
    struct trace        *t = trace_open(path, NULL, &f);
    const struct record *r;
    unsigned             count = 0;

    assert_non_null(t);
    while (trace_next(t, &r, &f)) {
        assert_int_equal(r->soundness, RECORD_SOUND);
        if (r->kind == RECORD_MARK)
            assert_int_equal(strtoul(r->mark.text + 1, NULL, 10), ++count);
    }
    assert_int_equal(f.code, FAULT_NONE);
    trace_close(t);
    return count;
}

/* Killed so many milliseconds after its first line. */
static void killed_after(long ms, unsigned round)
{
    struct place   from = pipe_make("kill"), file = place_of("kill.pcap");
    struct running r;
    unsigned       said = 0, said_before = 0; /* up to a second before the end */
    int64_t        began, now;

    unlink(file.path);
    START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", file.path);
    int fd = pipe_write(from.path);

    began = clock_ms();
    do {
        for (unsigned k = 0; k < 10; k++)
            say(fd, "- * MARK note n%u and some words to fill the line\n", ++said);
        pause_ms(5);
        now = clock_ms();
        if (now <= began + ms - 1000)
            said_before = said;
    } while (now < began + ms);
    assert_int_equal(running_stop(&r, SIGKILL), 128 + SIGKILL);
    close(fd);
    unsigned kept = notes_in_order(file.path);

    if (kept < said_before || kept > said)
        fail_msg("round %u, %ld ms: %u of %u notes kept, %u were older than a second", round, ms, kept, said, said_before);
    struct run checked = RUN("check", file.path);

    assert_true(checked.status == 0 || checked.status == 1);
    run_free(&checked);
}

/* RECORD_KILLS: how often; tests/run.sh --long asks for 200. */
static void killed_at_any_moment_it_has_lost_a_second_at_the_most(void **state)
{
    const char *asked = getenv("RECORD_KILLS");
    unsigned    kills = asked ? (unsigned)strtoul(asked, NULL, 10) : KILLS;

    (void)state;
    srand(SEED);
    for (unsigned k = 0; k < kills; k++)
        killed_after(rand() % (k % 4 == 0 ? 2000 : 300), k);
}

/* The recorder, its files limited or its disk small, fed until it stops by itself. */
static void fills_up(const char *path, const char *says)
{
    struct place   from = pipe_make("full");
    struct running r;
    unsigned       said = 0;
    int            status, fd;

    signal(SIGPIPE, SIG_IGN);
    START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", path);
    fd = pipe_write(from.path);
    fcntl(fd, F_SETFL, O_NONBLOCK);
    for (unsigned k = 0; k < 20000; k++) {
        char line[200];
        int  n = snprintf(line, sizeof line, "- * MARK note n%u %0120d\n", said + 1, 0);

        if (write(fd, line, (size_t)n) == n)
            said++;
        else if (errno == EPIPE)
            break;
        if (k % 50 == 0)
            pause_ms(2);
    }
    status = running_wait(&r);
    close(fd);
    assert_int_equal(status, 2);
    assert_int_equal(lines_with(r.heard, "cannot be written"), 1);
    if (!strstr(r.heard, says))
        fail_msg("\"%s\" does not say \"%s\"", r.heard, says);
    unsigned kept = notes_in_order(path);

    assert_true(kept > 100 && kept < said);
}

static void when_a_file_cannot_grow_it_says_so_and_keeps_what_it_has(void **state)
{
    struct rlimit before, limit;

    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    limit = before;
    limit.rlim_cur = 200000;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
    fills_up(place_of("limit.pcap").path, "File too large");
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
}

/* Where this user may not mount, the test above stands for it. The disk is mounted by this program, run once more: its mounts go with it. */
static void a_full_disk_is_said_and_what_was_written_is_kept(void **state)
{
    struct place folder = place_of("small");
    char         command[2000], self[1000] = "";
    int          status;

    (void)state;
    assert_int_equal(mkdir(folder.path, 0700), 0);
    assert_true(readlink("/proc/self/exe", self, sizeof self - 1) > 0);
    snprintf(command, sizeof command, "'%s' --on-a-small-disk '%s'", self, folder.path);
    status = system(command);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == MAY_NOT_MOUNT)
        print_message("a small disk cannot be mounted by this user\n");
    else
        assert_int_equal(WEXITSTATUS(status), 0);
}

static void fill_small_disk(void **state)
{
    fills_up(*state, "No space left on device");
}

static int on_a_small_disk(const char *folder)
{
    char path[1000];
    void *file = path;
    const struct CMUnitTest tests[] = { cmocka_unit_test_prestate(fill_small_disk, file) };

    snprintf(path, sizeof path, "%s/full.pcap", folder);
    if (unshare(CLONE_NEWNS) != 0 || mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
        mount("tmpfs", folder, "tmpfs", 0, "size=256k") != 0)
        return MAY_NOT_MOUNT;
    return cmocka_run_group_tests(tests, NULL, files_remove);
}

/* strace tells when the system is asked to put the file's data on the disk. */
static void data_reach_the_disk_every_second(void **state)
{
    struct place from = pipe_make("sync"), file = place_of("sync.pcap"), log = place_of("sync.log");
    char         command[4000];

    (void)state;
    if (system("command -v strace >/dev/null 2>&1") != 0) {
        print_message("there is no strace here\n");
        skip();
    }
    snprintf(command, sizeof command,
             "(i=0; while [ $i -lt 30 ]; do echo '- 0 V 5.0'; sleep 0.1; i=$((i+1)); done) >'%s' & "
             "ASAN_OPTIONS=detect_leaks=0 strace -f -ttt -e trace=fdatasync -o '%s' '%s' record -f '%s' -o '%s' --for 3.2", from.path,
             log.path, PORTASSAY_PROGRAM, from.source, file.path);
    assert_int_equal(system(command), 0);
    FILE    *f = fopen(log.path, "r");
    char     line[300];
    unsigned calls = 0;
    double   last = 0, widest = 0;

    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        double at = 0;

        if (!strstr(line, "fdatasync(") || sscanf(line, "%*d %lf", &at) != 1)
            continue;
        if (calls++ > 0 && at - last > widest)
            widest = at - last;
        last = at;
    }
    fclose(f);
    print_message("%u times on the disk in 3.2 s, at most %.2f s apart\n", calls, widest);
    assert_true(calls >= 3);
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "--on-a-small-disk") == 0)
        return on_a_small_disk(argv[2]);

    const struct CMUnitTest tests[] = {
        cmocka_unit_test(killed_at_any_moment_it_has_lost_a_second_at_the_most),
        cmocka_unit_test(when_a_file_cannot_grow_it_says_so_and_keeps_what_it_has),
        cmocka_unit_test(a_full_disk_is_said_and_what_was_written_is_kept),
        cmocka_unit_test(data_reach_the_disk_every_second),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
