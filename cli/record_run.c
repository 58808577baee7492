#define _GNU_SOURCE /* signalfd, ppoll */
#include "cli/record_run.h"

#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/sources.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <inttypes.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <time.h>
#include <unistd.h>

enum { OWN_WATCHED = 3, WATCHED = OWN_WATCHED + LIVE_WATCHED * 4, NS_PER_S = 1000000000, MARK_RECORD_BYTES = 600, KEYS = 64 };

static int64_t clock_ns(clockid_t which)
{
    struct timespec t;

    clock_gettime(which, &t);
    return (int64_t)t.tv_sec * NS_PER_S + t.tv_nsec;
}

/* Time since 1970 that does not jump when the system's clock is set, nor stand still while the machine sleeps. */
int64_t record_now(void *recorder)
{
    const struct recorder *r = recorder;

    return r->real_ns + (clock_ns(CLOCK_BOOTTIME) - r->monotonic_ns);
}

static void mark_keep(struct recorder *r, const struct typed_mark *m)
{
    uint8_t bytes[MARK_RECORD_BYTES];
    size_t  length = mark_put(m, bytes, sizeof bytes);
    int64_t now_ns = record_now(r);

    recording_put(r->recording, now_ns, bytes, length, now_ns);
}

void record_note(struct recorder *r, const char *text)
{
    struct typed_mark m = { .action = RECORD_NOTE, .subject = RECORD_PORT_NONE };

    m.length = (size_t)snprintf(m.text, sizeof m.text, "%s", text);
    if (m.length >= sizeof m.text)
        m.length = sizeof m.text - 1;
    if (utf8_valid(m.text, m.length))
        mark_keep(r, &m);
}

/* A source hands a record over. */
static void take_record(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct recorder *r = context;

    if (!recording_put(r->recording, stamp_ns, bytes, length, record_now(r)) && r->end == RECORD_RUNS)
        r->end = RECORD_NO_MEMORY;
}

static bool any_attached(const struct bench *b)
{
    for (unsigned k = 0; k < RECORD_PORT_BENCH; k++) {
        const struct port *p = bench_port(b, k);

        if (p && p->attached)
            return true;
    }
    return false;
}

/* A record was written. */
static void take_written(void *context, const struct record *record)
{
    struct recorder *r = context;

    if (record->kind == RECORD_ABOUT && record->soundness == RECORD_SOUND)
        about_merge(r->about, record->port, record->about.text, record->about.length);
    status_take(&r->status, record);
    if (r->bench)
        bench_feed(r->bench, record, false);
    if (!r->words->until_detached || r->end != RECORD_RUNS)
        return;
    bool attached = any_attached(r->status.engine ? engine_bench(r->status.engine) : r->bench);

    if (r->seen_attached && !attached)
        r->end = RECORD_DETACHED;
    r->seen_attached = r->seen_attached || attached;
}

static void line_typed(struct recorder *r)
{
    struct typed_mark m;
    char              said[200];

    if (mark_read(&m, r->typing.line, r->about)) {
        if (!utf8_valid(m.text, m.length)) {
            status_clear(&r->status);
            complain("record: the mark is no UTF-8 text; type it again");
        } else {
            mark_keep(r, &m);
            mark_say(&m, r->about, said, sizeof said);
            status_clear(&r->status);
            if (!r->options->quiet)
                complain("marked: %s%s%s", said, m.length > 0 ? ": " : "", m.text);
        }
    }
    typing_next(&r->typing);
}

static void keys_take(struct recorder *r)
{
    char    keys[KEYS];
    ssize_t n = read(STDIN_FILENO, keys, sizeof keys);

    if (n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR))
        typing_end(&r->typing); /* the terminal has gone */
    for (ssize_t k = 0; k < n; k++)
        if (typing_take(&r->typing, keys[k]))
            line_typed(r);
}

static void disk_look(struct recorder *r)
{
    struct fault            f;
    struct recording_counts counts = recording_counts(r->recording);

    if (disk_failed(recording_disk(r->recording), &f))
        r->end = f.sys == EPIPE ? RECORD_READER_GONE : RECORD_NOT_WRITTEN;
    if (counts.lost_at_disk > 0 && !r->lost_said && r->end == RECORD_RUNS) {
        r->lost_said = true;
        status_clear(&r->status);
        complain("%s: does not take records fast enough: some are lost, and LOST records say where", r->target);
    }
}

/* So far no source can say anything that starts earlier. */
static int64_t reached_ns(const struct recorder *r, int64_t now_ns)
{
    int64_t reached = now_ns;

    for (unsigned k = 0; k < r->count; k++) {
        int64_t one = live_reached_ns(r->sources[k]);

        if (one < reached)
            reached = one;
    }
    return reached;
}

static void status_turn(struct recorder *r, int64_t now_ns, bool typed)
{
    char words[sizeof r->status.last];

    if (!r->status.engine || (!typed && r->status.shown && now_ns - r->status.shown_ns < STATUS_EVERY_NS))
        return;
    status_words(&r->status, r->about, recording_counts(r->recording).lost, now_ns - r->real_ns,
                 r->typing.on ? r->typing.line : "", words, sizeof words);
    status_draw(&r->status, words, now_ns);
}

/* Everybody that is watched; each source's share of fds ends at ends[k]. */
static unsigned watch_all(struct recorder *r, struct pollfd *fds, unsigned *ends, int64_t *wake_ns)
{
    unsigned n = OWN_WATCHED;

    fds[0] = (struct pollfd){ .fd = r->signals, .events = POLLIN };
    fds[1] = (struct pollfd){ .fd = disk_fd(recording_disk(r->recording)), .events = POLLIN };
    fds[2] = (struct pollfd){ .fd = r->typing.on ? STDIN_FILENO : -1, .events = POLLIN };
    for (unsigned k = 0; k < r->count; k++) {
        n += live_watch(r->sources[k], fds + n, WATCHED - n, wake_ns);
        ends[k] = n;
    }
    return n;
}

static void wait_for(struct recorder *r, struct pollfd *fds, unsigned n, int64_t wake_ns)
{
    int64_t         now_ns = record_now(r), left = wake_ns > now_ns ? wake_ns - now_ns : 0;
    struct timespec t = { 0 };

    if (left > 0) {
        t.tv_sec = (time_t)(left / NS_PER_S);
        t.tv_nsec = (long)(left % NS_PER_S);
    }
    if (ppoll(fds, n, wake_ns == INT64_MAX ? NULL : &t, NULL) < 0)
        for (unsigned k = 0; k < n; k++)
            fds[k].revents = 0;
}

static void wake_earlier(int64_t *wake_ns, int64_t at_ns)
{
    if (at_ns < *wake_ns)
        *wake_ns = at_ns;
}

static int64_t wake_own(struct recorder *r)
{
    int64_t wake_ns = INT64_MAX, waits_ns = recording_waits_ns(r->recording), now_ns = record_now(r);

    if (r->words->for_ns > 0)
        wake_earlier(&wake_ns, r->real_ns + r->words->for_ns);
    if (r->status.engine)
        wake_earlier(&wake_ns, r->status.shown_ns + STATUS_EVERY_NS);
    if (waits_ns != INT64_MAX) /* what sources have reached moves on with time */
        wake_earlier(&wake_ns, now_ns + (waits_ns - reached_ns(r, now_ns)));
    return wake_ns;
}

static bool all_over(const struct recorder *r)
{
    for (unsigned k = 0; k < r->count; k++)
        if (!live_over(r->sources[k]))
            return false;
    return true;
}

static void turn(struct recorder *r)
{
    struct pollfd fds[WATCHED];
    unsigned      ends[RECORD_SOURCES];
    int64_t       wake_ns = wake_own(r);
    unsigned      n = watch_all(r, fds, ends, &wake_ns);

    wait_for(r, fds, n, wake_ns);
    if (fds[2].revents)
        keys_take(r);
    for (unsigned k = 0, from = OWN_WATCHED; k < r->count; from = ends[k++])
        live_work(r->sources[k], fds + from, ends[k] - from);
    int64_t now_ns = record_now(r);

    recording_advance(r->recording, reached_ns(r, now_ns));
    disk_push(recording_disk(r->recording));
    disk_look(r);
    status_turn(r, now_ns, fds[2].revents != 0);
    if (r->end != RECORD_RUNS)
        return;
    if (fds[0].revents)
        r->end = RECORD_STOPPED;
    else if (r->words->for_ns > 0 && now_ns - r->real_ns >= r->words->for_ns)
        r->end = RECORD_TIME_UP;
    else if (all_over(r))
        r->end = RECORD_SOURCES_ENDED;
}

/* Signals that ask to stop come through a descriptor; once one came, the next one ends the program at once. */
static bool signals_take(struct recorder *r, sigset_t *asked)
{
    sigemptyset(asked);
    sigaddset(asked, SIGINT);
    sigaddset(asked, SIGTERM);
    sigaddset(asked, SIGHUP);
    sigprocmask(SIG_BLOCK, asked, NULL);
    r->signals = signalfd(-1, asked, SFD_CLOEXEC | SFD_NONBLOCK);
    return r->signals >= 0;
}

static void signals_give_back(struct recorder *r, const sigset_t *asked)
{
    struct signalfd_siginfo one;

    while (r->signals >= 0 && read(r->signals, &one, sizeof one) > 0)
        ;
    if (r->signals >= 0)
        close(r->signals);
    sigprocmask(SIG_UNBLOCK, asked, NULL);
}

static bool out_of_memory(void)
{
    complain("record: out of memory; close something and try again");
    return false;
}

static bool source_open(struct recorder *r, const char *from)
{
    struct live_hands hands = { .put = take_record, .notice = record_notice, .now_ns = record_now, .context = r, .edges = r->words->edges };
    struct fault      f;

    r->sources[r->count] = live_open(sources_all, from, &hands, &f);
    if (r->sources[r->count]) {
        r->count++;
        return true;
    }
    if (f.code == FAULT_NONE)
        complain("record: --from %s: there is no such source; " PORTASSAY_NAME " record --help tells which there are", from);
    else if (f.code == FAULT_OPEN && f.sys == ENODEV)
        complain("record: --from %s: no such sniffer is plugged in; " PORTASSAY_NAME " ports lists what is", from);
    else if (f.code == FAULT_OPEN && f.sys == ENXIO)
        complain("record: --from %s: this kernel shows no such Type-C port in /sys/class/typec; " PORTASSAY_NAME " ports lists what there is", from);
    else if (f.code == FAULT_USB && f.number == 0)
        complain("record: --from %s: the sniffer cannot be used: %s", from, f.detail);
    else if (f.code == FAULT_OPEN && f.sys == EACCES && strcmp(f.detail, "usb") == 0)
        complain("record: --from %s: no right to open the sniffer; install the udev rules that come with " PORTASSAY_NAME " (README, "
                 "\"Recording\"), and plug it in again", from);
    else if (f.code == FAULT_OPEN && f.sys == EINVAL && f.number > 0)
        complain("record: --from %s: %" PRId64 " is no baud rate of this system; name another one", from, f.number);
    else
        complain_fault(&f, from);
    return false;
}

/* usb:SERIAL without a port of its own. */
static bool is_serial(const char *from)
{
    return strncmp(from, "usb:", 4) == 0 && !strchr(from, '=');
}

/* Those given one by one become one source, so that their ports are numbered one after the other. */
static bool sniffers_open(struct recorder *r)
{
    char   from[600] = "usb:";
    size_t used = 4;

    for (unsigned k = 0; k < r->words->from.count; k++) {
        const char *one = r->words->from.items[k];

        if (!is_serial(one))
            continue;
        int n = snprintf(from + used, sizeof from - used, "%s%s", used > 4 ? "," : "", one + 4);

        if (n < 0 || (size_t)n >= sizeof from - used) {
            complain("record: --from %s: too many sniffers; record from all of them with --from usb", one);
            return false;
        }
        used += (size_t)n;
    }
    return used == 4 || source_open(r, from);
}

static bool target_open(struct recorder *r)
{
    const struct record_words *w = r->words;
    struct recording_options   o = {
          .disk = { .path = r->options->output_path ? r->options->output_path : "-", .overwrite = w->overwrite,
                    .numbered = w->rotate != NULL, .keep = (unsigned)w->keep },
          .rotate_bytes = w->rotate_bytes, .rotate_ns = w->rotate_ns, .written = take_written, .context = r,
    };
    struct fault f;

    r->target = strcmp(o.disk.path, "-") == 0 ? "standard output" : o.disk.path;
    r->recording = recording_open(&o, &f);
    if (r->recording)
        return true;
    if (f.code == FAULT_OPEN && f.sys == EEXIST)
        complain("%s: is there already, and is not written over; name another file, or say --overwrite", r->target);
    else
        complain_fault(&f, r->target);
    return false;
}

static bool models_start(struct recorder *r)
{
    bool terminal = isatty(STDERR_FILENO) == 1 && !r->options->quiet;

    r->about = about_new();
    if (!r->about || !status_start(&r->status, terminal))
        return out_of_memory();
    if (r->words->until_detached && !r->status.engine) {
        r->bench = bench_new();
        if (!r->bench)
            return out_of_memory();
    }
    return true;
}

/* Standard input may be one of the sources; then no marks are typed on it. */
static bool stdin_free(const struct recorder *r)
{
    for (unsigned k = 0; k < r->words->from.count; k++)
        if (strncmp(r->words->from.items[k], "text:-", 6) == 0)
            return false;
    return !r->options->quiet && isatty(STDERR_FILENO) == 1;
}

static bool open_all(struct recorder *r)
{
    if (!models_start(r))
        return false;
    if (!sniffers_open(r))
        return false;
    for (unsigned k = 0; k < r->words->from.count; k++)
        if (!is_serial(r->words->from.items[k]) && !source_open(r, r->words->from.items[k]))
            return false;
    cJSON *about = record_about_make(r); /* before the file is there: it may be wrong */

    bool   opened = about && target_open(r) && record_about_put_json(r, about);

    cJSON_Delete(about);
    return opened;
}

/* On a terminal: what there is now. */
static void summary(struct recorder *r, const struct recording_counts *counts, int64_t ran_ns)
{
    int64_t seconds = ran_ns / NS_PER_S;

    if (!r->status.engine)
        return;
    status_clear(&r->status);
    complain("%s: %" PRIu64 " records in %" PRId64 ":%02" PRId64 ":%02" PRId64 ", %" PRIu64 " lost, %" PRIu64 " finding%s%s", r->target,
             counts->records, seconds / 3600, seconds / 60 % 60, seconds % 60, counts->lost, r->status.failed,
             r->status.failed == 1 ? "" : "s", r->status.failed ? "; " PORTASSAY_NAME " check tells them" : "");
}

static int close_all(struct recorder *r, bool opened)
{
    struct fault            f = { .code = FAULT_NONE };
    struct recording_counts counts = { 0 };
    int64_t                 ran_ns = record_now(r) - r->real_ns;

    typing_end(&r->typing);
    for (unsigned k = 0; opened && k < r->count; k++)
        live_stop(r->sources[k]);
    if (opened && r->end != RECORD_NOT_WRITTEN) {
        recording_advance(r->recording, INT64_MAX);
        record_about_close(r);
        recording_advance(r->recording, INT64_MAX);
    }
    if (r->recording)
        counts = recording_counts(r->recording);
    bool written = recording_close(r->recording, &f);

    status_clear(&r->status);
    if (opened && !written && f.sys != EPIPE)
        complain("%s: cannot be written: %s; recording has stopped, and what was written up to then is kept", r->target, strerror(f.sys));
    if (opened && r->end == RECORD_NO_MEMORY)
        written = out_of_memory();
    if (opened) {
        record_notices_sum(r, counts.restamped);
        summary(r, &counts, ran_ns);
    }
    for (unsigned k = 0; k < r->count; k++)
        live_close(r->sources[k]);
    status_end(&r->status);
    bench_free(r->bench);
    about_free(r->about);
    return opened && (written || f.sys == EPIPE) ? STATUS_DONE : STATUS_NOT_DONE;
}

int record_run(const struct options *options, const struct record_words *words)
{
    struct recorder *r = calloc(1, sizeof *r);
    sigset_t         asked;

    if (!r) {
        out_of_memory();
        return STATUS_NOT_DONE;
    }
    r->options = options;
    r->words = words;
    r->real_ns = clock_ns(CLOCK_REALTIME);
    r->monotonic_ns = clock_ns(CLOCK_BOOTTIME);
    bool opened = open_all(r);

    if (opened && !signals_take(r, &asked)) {
        complain("record: signals cannot be waited for: %s", strerror(errno));
        opened = false;
    }
    if (opened && stdin_free(r))
        typing_start(&r->typing);
    while (opened && r->end == RECORD_RUNS)
        turn(r);
    if (opened)
        signals_give_back(r, &asked);
    int status = close_all(r, opened);

    free(r);
    return status;
}
