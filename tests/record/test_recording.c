#define _GNU_SOURCE /* mkdtemp */
#include "capture/recording.h"
#include "capture/trace.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

enum { PATH_ROOM = 600 };
#define MS INT64_C(1000000)
static const int64_t T0 = INT64_C(1700000000000000000);

static char folder[200];

static int folder_make(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "%s/portassay-recording-XXXXXX", getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
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

static void power_put(struct recording *r, int64_t at_ns, uint8_t port, int32_t uv, int64_t now_ns)
{
    uint8_t bytes[64];
    size_t  length = record_put_power(bytes, sizeof bytes, port, RECORD_INVENTED, 0, 0, 1, RECORD_VBUS, &uv);

    assert_true(recording_put(r, at_ns, bytes, length, now_ns));
}

static void cc_put(struct recording *r, int64_t at_ns, uint8_t port, uint8_t attach)
{
    uint8_t body[8] = { attach, 3, 0xff, 0xff, 0xff, 0xff, 0, 0 }, bytes[64];
    size_t  length = record_put(bytes, sizeof bytes, RECORD_CC_STATE, port, RECORD_INVENTED, 0, body, sizeof body);

    assert_true(recording_put(r, at_ns, bytes, length, at_ns));
}

static void about_put(struct recording *r, int64_t at_ns, const char *json)
{
    uint8_t bytes[300];
    size_t  length = record_put(bytes, sizeof bytes, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_INVENTED, 0, (const uint8_t *)json, strlen(json));

    assert_true(recording_put(r, at_ns, bytes, length, at_ns));
}

struct seen { int64_t t_ns, stamp_ns; uint8_t kind, port, flags; char about[200]; };
struct listing { struct seen items[4000]; unsigned count; };

/* The records as they stand in the file. */
static struct listing *listing_of(const char *path)
{
    struct trace_options o = { .file_order = true };
    struct fault         f;
    struct trace        *t = trace_open(path, &o, &f);
    const struct record *r;
    struct listing      *l = calloc(1, sizeof *l);

    assert_non_null(t);
    assert_non_null(l);
    while (trace_next(t, &r, &f)) {
        struct seen *s = &l->items[l->count++];

        assert_int_equal(r->soundness, RECORD_SOUND);
        assert_true(l->count < sizeof l->items / sizeof l->items[0]);
        *s = (struct seen){ .t_ns = r->t_ns, .stamp_ns = r->stamp_ns, .kind = r->kind, .port = r->port, .flags = r->flags };
        if (r->kind == RECORD_ABOUT)
            snprintf(s->about, sizeof s->about, "%.*s", (int)r->about.length, r->about.text);
    }
    assert_int_equal(trace_facts(t)->time_steps, 0);
    trace_close(t);
    return l;
}

static void records_of_two_sources_stand_in_order_of_time(void **state)
{
    const char              *path = in_folder("order.pcap");
    struct recording_options o = { .disk = { .path = path } };
    struct fault             f;
    struct recording        *r = recording_open(&o, &f);

    (void)state;
    assert_non_null(r);
    power_put(r, T0 + 30 * MS, 0, 5000000, T0 + 31 * MS);
    power_put(r, T0 + 10 * MS, 1, 9000000, T0 + 32 * MS);
    assert_true(recording_waits_ns(r) == T0 + 10 * MS);
    recording_advance(r, T0 + 15 * MS);
    power_put(r, T0 + 20 * MS, 1, 9000000, T0 + 33 * MS);
    recording_advance(r, T0 + 40 * MS);
    assert_true(recording_waits_ns(r) == INT64_MAX);
    assert_true(recording_close(r, &f));
    struct listing *l = listing_of(path);

    assert_int_equal(l->count, 3);
    for (unsigned k = 0; k < 3; k++)
        assert_true(l->items[k].t_ns == T0 + 10 * MS * (k + 1));
    free(l);
}

static void times_that_no_trace_may_have_become_the_moment_of_arrival(void **state)
{
    const char              *path = in_folder("late.pcap");
    struct recording_options o = { .disk = { .path = path } };
    struct fault             f;
    struct recording        *r = recording_open(&o, &f);

    (void)state;
    power_put(r, T0 + 5000 * MS, 0, 5000000, T0 + 5000 * MS);
    recording_advance(r, T0 + 5000 * MS);
    power_put(r, T0 + 4500 * MS, 1, 5000000, T0 + 5001 * MS);  /* late, within the second of the format */
    power_put(r, T0 + 3000 * MS, 2, 5000000, T0 + 5002 * MS);  /* two seconds late */
    power_put(r, T0 + 60000 * MS, 3, 5000000, T0 + 5003 * MS); /* a minute ahead */
    recording_advance(r, T0 + 5010 * MS);
    assert_int_equal(recording_counts(r).restamped, 2);
    assert_true(recording_close(r, &f));
    struct listing *l = listing_of(path);

    assert_int_equal(l->count, 4);
    assert_true(l->items[1].t_ns == T0 + 4500 * MS && !(l->items[1].flags & RECORD_HOST_TIME));
    assert_true(l->items[2].t_ns == T0 + 5002 * MS && (l->items[2].flags & RECORD_HOST_TIME));
    assert_true(l->items[3].t_ns == T0 + 5003 * MS && (l->items[3].flags & RECORD_HOST_TIME));
    free(l);
}

static void each_file_begins_with_what_was_said_of_the_bench_and_the_state_of_its_ports(void **state)
{
    struct recording_options o = { .disk = { .path = in_folder("parts.pcap"), .numbered = true }, .rotate_ns = 1000 * MS };
    struct fault             f;
    struct recording        *r = recording_open(&o, &f);

    (void)state;
    about_put(r, T0, "{\"device\":\"Harbor 96\",\"bench\":\"2\"}");
    cc_put(r, T0, 1, 0);
    cc_put(r, T0 + MS, 1, 2);
    about_put(r, T0 + 2 * MS, "{\"bench\":\"3\"}");
    for (unsigned k = 0; k < 25; k++)
        power_put(r, T0 + 100 * MS * (int64_t)(k + 1), 0, 5000000, T0 + 100 * MS * (int64_t)(k + 1));
    recording_advance(r, INT64_MAX);
    assert_int_equal(recording_counts(r).files, 3);
    assert_true(recording_close(r, &f));
    struct listing *l = listing_of(in_folder("parts-0002.pcap"));

    assert_int_equal(l->items[0].kind, RECORD_ABOUT);
    assert_string_equal(l->items[0].about, "{\"device\":\"Harbor 96\",\"bench\":\"3\"}");
    assert_int_equal(l->items[1].kind, RECORD_CC_STATE);
    assert_int_equal(l->items[1].port, 1);
    assert_true(l->items[0].t_ns == l->items[2].t_ns);
    assert_true(l->items[2].t_ns == T0 + 1000 * MS);
    assert_int_equal(l->count, 12);
    free(l);
}

static void files_turn_by_size(void **state)
{
    struct recording_options o = { .disk = { .path = in_folder("size.pcap"), .numbered = true }, .rotate_bytes = 2000 };
    struct fault             f;
    struct recording        *r = recording_open(&o, &f);
    unsigned                 files, records = 0;

    (void)state;
    for (unsigned k = 0; k < 300; k++)
        power_put(r, T0 + MS * (int64_t)k, 0, 5000000, T0 + MS * (int64_t)k);
    recording_advance(r, INT64_MAX);
    files = recording_counts(r).files;
    assert_true(recording_close(r, &f));
    for (unsigned k = 1; k <= files; k++) {
        char            name[40];
        struct stat     about;
        struct listing *l;

        snprintf(name, sizeof name, "size-%04u.pcap", k);
        assert_int_equal(stat(in_folder(name), &about), 0);
        assert_true(about.st_size >= 2000 || k == files);
        assert_true(about.st_size < 2100);
        l = listing_of(in_folder(name));
        records += l->count;
        free(l);
    }
    assert_int_equal(records, 300);
    assert_true(files > 4);
}

static void what_does_not_fit_becomes_a_lost_record_at_the_disk(void **state)
{
    const char              *path = in_folder("slow");
    struct recording_options o = { .disk = { .path = path, .queue_bytes = 200000 } };
    struct fault             f;
    char                     room[65536];
    int                      copy = open(in_folder("slow.pcap"), O_CREAT | O_WRONLY, 0600);

    (void)state;
    assert_int_equal(mkfifo(path, 0600), 0);
    int               reader = open(path, O_RDONLY | O_NONBLOCK);
    struct recording *r = recording_open(&o, &f);
    int64_t           t_ns = T0;

    assert_non_null(r);
    for (unsigned k = 0; k < 20000; k++, t_ns += MS)
        power_put(r, t_ns, 0, 5000000, t_ns);
    recording_advance(r, t_ns);
    uint64_t lost = recording_counts(r).lost_at_disk;

    assert_true(lost > 0 && lost < 20000);
    disk_push(recording_disk(r));
    for (unsigned k = 0; k < 200; k++) { /* the reader catches up */
        ssize_t n = read(reader, room, sizeof room);

        if (n > 0)
            assert_int_equal(write(copy, room, (size_t)n), n);
        else
            usleep(1000);
    }
    power_put(r, t_ns, 0, 5000000, t_ns);
    assert_true(recording_close(r, &f));
    for (ssize_t n; (n = read(reader, room, sizeof room)) > 0;)
        assert_int_equal(write(copy, room, (size_t)n), n);
    close(reader);
    close(copy);
    struct trace        *t = trace_open(in_folder("slow.pcap"), NULL, &f);
    const struct record *record;
    uint64_t             power = 0, said = 0;

    assert_non_null(t);
    while (trace_next(t, &record, &f)) {
        power += record->kind == RECORD_POWER ? 1 : 0;
        if (record->kind == RECORD_LOST) {
            said += record->lost.count;
            assert_int_equal(record->lost.where, 3); /* at the disk: traces/FORMAT.md, LOST */
        }
    }
    trace_close(t);
    assert_int_equal(said, lost);
    assert_int_equal(power, 20001 - lost);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(records_of_two_sources_stand_in_order_of_time),
        cmocka_unit_test(times_that_no_trace_may_have_become_the_moment_of_arrival),
        cmocka_unit_test(each_file_begins_with_what_was_said_of_the_bench_and_the_state_of_its_ports),
        cmocka_unit_test(files_turn_by_size),
        cmocka_unit_test(what_does_not_fit_becomes_a_lost_record_at_the_disk),
    };

    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
