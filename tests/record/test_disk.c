#define _GNU_SOURCE /* F_SETPIPE_SZ, mkdtemp */
#include "capture/disk.h"
#include "capture/trace.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

enum { PATH_ROOM = 600 };

static char folder[200];

static int folder_make(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "%s/portassay-disk-XXXXXX", getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
    return mkdtemp(folder) ? 0 : -1;
}

static int folder_remove(void **state)
{
    char command[PATH_ROOM];

    (void)state;
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command) == 0 ? 0 : -1;
}

static const char *in_folder(const char *name)
{
    static char paths[4][PATH_ROOM];
    static unsigned next;
    char *path = paths[next++ % 4];

    snprintf(path, PATH_ROOM, "%s/%s", folder, name);
    return path;
}

/* A note, INVENTED, with a number and padding. */
static bool note_put(struct disk *d, unsigned number, size_t padding)
{
    uint8_t body[2048] = { RECORD_NOTE, RECORD_PORT_NONE }, bytes[2100];
    int     n = snprintf((char *)body + 8, sizeof body - 8, "%u", number);

    memset(body + 8 + n, '.', padding);
    size_t length = record_put(bytes, sizeof bytes, RECORD_MARK, RECORD_PORT_BENCH, RECORD_INVENTED, 0, body, 8 + (size_t)n + padding);

    return disk_put(d, INT64_C(1700000000000000000) + number, bytes, length);
}

struct content { unsigned count, first, last, jumps; bool cut_off; };

static struct content content_of(const char *path)
{
    struct fault         f;
    struct trace        *t = trace_open(path, NULL, &f);
    const struct record *r;
    struct content       c = { 0 };

    assert_non_null(t);
    while (trace_next(t, &r, &f)) {
        unsigned number = (unsigned)strtoul(r->mark.text, NULL, 10);

        assert_int_equal(r->soundness, RECORD_SOUND);
        assert_int_equal(r->kind, RECORD_MARK);
        if (c.count > 0 && number != c.last + 1)
            c.jumps++;
        c.first = c.count++ == 0 ? number : c.first;
        c.last = number;
    }
    c.cut_off = trace_facts(t)->cut_off;
    trace_close(t);
    return c;
}

static void what_is_put_stands_in_the_file(void **state)
{
    const char         *path = in_folder("plain.pcap");
    struct disk_options o = { .path = path };
    struct fault        f;
    struct disk        *d = disk_open(&o, &f);

    (void)state;
    assert_non_null(d);
    for (unsigned k = 1; k <= 5000; k++)
        assert_true(note_put(d, k, 100));
    assert_true(disk_close(d, &f));
    struct content c = content_of(path);

    assert_int_equal(c.count, 5000);
    assert_int_equal(c.first, 1);
    assert_int_equal(c.jumps, 0);
}

static void a_file_that_is_there_is_not_written_over_unless_told(void **state)
{
    const char         *path = in_folder("there.pcap");
    struct disk_options o = { .path = path };
    struct fault        f;
    struct disk        *d = disk_open(&o, &f);

    (void)state;
    note_put(d, 1, 0);
    assert_true(disk_close(d, &f));
    assert_null(disk_open(&o, &f));
    assert_int_equal(f.code, FAULT_OPEN);
    assert_int_equal(f.sys, EEXIST);
    assert_int_equal(content_of(path).count, 1);
    o.overwrite = true;
    d = disk_open(&o, &f);
    assert_non_null(d);
    assert_true(disk_close(d, &f));
    assert_int_equal(content_of(path).count, 0);
}

static void files_are_numbered_after_those_that_are_there(void **state)
{
    struct disk_options o = { .path = in_folder("night.pcap"), .numbered = true };
    char                path[DISK_PATH_BYTES];
    struct fault        f;
    struct disk        *d;

    (void)state;
    close(open(in_folder("night-0041.pcap"), O_CREAT | O_WRONLY, 0600));
    close(open(in_folder("night-99.pcap"), O_CREAT | O_WRONLY, 0600)); /* none of ours: two digits */
    d = disk_open(&o, &f);
    assert_non_null(d);
    disk_path(d, path);
    assert_string_equal(path, in_folder("night-0042.pcap"));
    note_put(d, 1, 0);
    assert_true(disk_next(d));
    note_put(d, 2, 0);
    assert_true(disk_close(d, &f));
    assert_int_equal(content_of(in_folder("night-0042.pcap")).last, 1);
    assert_int_equal(content_of(in_folder("night-0043.pcap")).first, 2);
}

static void only_the_last_files_stay_and_only_own_ones_go(void **state)
{
    struct disk_options o = { .path = in_folder("kept.pcap"), .numbered = true, .keep = 2 };
    struct fault        f;
    struct disk        *d;
    struct stat         about;

    (void)state;
    close(open(in_folder("kept-0001.pcap"), O_CREAT | O_WRONLY, 0600)); /* somebody else's */
    d = disk_open(&o, &f);
    for (unsigned k = 1; k <= 4; k++) {
        note_put(d, k, 0);
        if (k < 4)
            assert_true(disk_next(d));
    }
    assert_true(disk_close(d, &f));
    assert_int_equal(stat(in_folder("kept-0001.pcap"), &about), 0);
    assert_int_not_equal(stat(in_folder("kept-0002.pcap"), &about), 0);
    assert_int_not_equal(stat(in_folder("kept-0003.pcap"), &about), 0);
    assert_int_equal(content_of(in_folder("kept-0004.pcap")).first, 3);
    assert_int_equal(content_of(in_folder("kept-0005.pcap")).first, 4);
}

/* The kernel itself refuses: no file may grow beyond this limit. */
static void a_write_that_fails_is_told_and_leaves_whole_records(void **state)
{
    const char         *path = in_folder("limited.pcap");
    struct disk_options o = { .path = path };
    struct rlimit       before, limit;
    struct fault        f;
    struct disk        *d;
    char                told;
    unsigned            put = 0;

    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    limit = before;
    limit.rlim_cur = 100001;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
    d = disk_open(&o, &f);
    assert_non_null(d);
    while (put < 100000 && note_put(d, put + 1, 33)) {
        put++;
        disk_push(d);
        if (put % 100 == 0)
            usleep(1000);
    }
    assert_int_equal(read(disk_fd(d), &told, 1), 1);
    assert_true(disk_failed(d, &f));
    assert_int_equal(f.code, FAULT_WRITE);
    assert_int_equal(f.sys, EFBIG);
    assert_false(disk_close(d, &f));
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    struct content c = content_of(path);

    assert_false(c.cut_off);
    assert_int_equal(c.jumps, 0);
    assert_true(c.count > 0 && c.count < 100000);
    struct stat about;

    assert_int_equal(stat(path, &about), 0);
    assert_true(about.st_size <= 100001 && about.st_size > 100001 - 200);
}

static void a_full_device_is_told_at_once(void **state)
{
    struct disk_options o = { .path = "/dev/full" };
    struct fault        f;

    (void)state;
    assert_null(disk_open(&o, &f));
    assert_int_equal(f.code, FAULT_WRITE);
    assert_int_equal(f.sys, ENOSPC);
}

static void a_reader_that_does_not_read_holds_nobody_up(void **state)
{
    const char         *path = in_folder("pipe");
    struct disk_options o = { .path = path, .queue_bytes = 300000 };
    struct fault        f;
    unsigned            put = 0;

    (void)state;
    assert_int_equal(mkfifo(path, 0600), 0);
    int          reader = open(path, O_RDONLY | O_NONBLOCK);
    struct disk *d = disk_open(&o, &f);

    assert_non_null(d);
    while (put < 100000 && note_put(d, put + 1, 1000)) {
        put++;
        disk_push(d);
    }
    assert_true(put > 250 && put < 100000); /* what may wait, and what the pipe holds */
    assert_false(disk_failed(d, NULL));
    char   room[65536];
    size_t got = 0;

    for (unsigned k = 0; k < 500 && got < put * 1000u; k++) {
        ssize_t n = read(reader, room, sizeof room);

        got += n > 0 ? (size_t)n : 0;
        if (n <= 0)
            usleep(1000);
    }
    assert_true(note_put(d, put + 1, 10)); /* there is room again */
    assert_true(disk_close(d, &f));
    close(reader);
}

static void a_reader_that_has_gone_is_told(void **state)
{
    const char         *path = in_folder("gone");
    struct disk_options o = { .path = path };
    struct fault        f;
    char                told;

    (void)state;
    signal(SIGPIPE, SIG_IGN);
    assert_int_equal(mkfifo(path, 0600), 0);
    int          reader = open(path, O_RDONLY | O_NONBLOCK);
    struct disk *d = disk_open(&o, &f);

    close(reader);
    note_put(d, 1, 0);
    disk_push(d);
    assert_int_equal(read(disk_fd(d), &told, 1), 1);
    assert_false(disk_close(d, &f));
    assert_int_equal(f.sys, EPIPE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_put_stands_in_the_file),
        cmocka_unit_test(a_file_that_is_there_is_not_written_over_unless_told),
        cmocka_unit_test(files_are_numbered_after_those_that_are_there),
        cmocka_unit_test(only_the_last_files_stay_and_only_own_ones_go),
        cmocka_unit_test(a_write_that_fails_is_told_and_leaves_whole_records),
        cmocka_unit_test(a_full_device_is_told_at_once),
        cmocka_unit_test(a_reader_that_does_not_read_holds_nobody_up),
        cmocka_unit_test(a_reader_that_has_gone_is_told),
    };

    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
