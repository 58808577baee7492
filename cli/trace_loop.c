#define _POSIX_C_SOURCE 200809L /* S_ISREG, stat */
#include "cli/trace_loop.h"

#include "cli/fault_text.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { HELD_MAX = 64, NOTICES_SHOWN = 3, FILE_TEXT_MAX = 1 << 20, TEXT_BYTES = 300, NS_PER_S = 1000000000 };

/* A record that came before the zero of time was known, copied. */
struct trace_loop_held {
    struct trace_loop_held *next;
    struct record           record;
    bool                    stepped_back;
    uint8_t                 bytes[];
};

static int64_t clock_now(void *context)
{
    struct timespec now;

    (void)context;
    timespec_get(&now, TIME_UTC);
    return (int64_t)now.tv_sec * NS_PER_S + now.tv_nsec;
}

static int idle_take(void *context)
{
    struct trace_loop *l = context;

    return l->idle && !l->held && !l->handed ? l->idle(l->idle_context) : -1;
}

static void progress_clear(struct trace_loop *l)
{
    if (l->progress_shown)
        fputs("\r\033[K", stderr);
    l->progress_shown = false;
}

/* Twice a second at most; the clock is asked now and then only. */
static void progress_show(struct trace_loop *l, const struct record *r)
{
    enum { PROGRESS_RECORDS = 1 << 14, PROGRESS_NS = 500000000 };

    if (++l->progress_records % PROGRESS_RECORDS != 0)
        return;
    int64_t now_ns = clock_now(NULL);

    if (now_ns - l->progress_ns < PROGRESS_NS)
        return;
    l->progress_ns = now_ns;
    l->progress_shown = true;
    fprintf(stderr, "\r%" PRIu64 " records, %" PRId64 " s of the trace\033[K", l->progress_records,
            (r->t_ns - l->zero_ns) / NS_PER_S);
    fflush(stderr);
}

static void notice_text(const struct trace_notice *n, char *out, size_t cap)
{
    int64_t us = n->step_ns / 1000;

    switch (n->code) {
    case TRACE_STEP_IN_STREAM:
        snprintf(out, cap, "frame %" PRIu64 " starts %" PRId64 " us before the one before it of its kind and port", n->frame, us);
        return;
    case TRACE_STEP_BACK:
        snprintf(out, cap, "frame %" PRIu64 " steps back by %" PRId64 ".%03" PRId64 " s: taken as a loss on all ports", n->frame,
                 us / 1000000, us / 1000 % 1000);
        return;
    case TRACE_HELD_TOO_MUCH:
        snprintf(out, cap, "frame %" PRIu64 ": more records at once than can be put in order; taken as they stand", n->frame);
        return;
    case TRACE_CAME_LATE:
        snprintf(out, cap, "frame %" PRIu64 " came %" PRId64 " us too late to be put in order while it was recorded", n->frame, us);
        return;
    case TRACE_CUT_OFF:
        snprintf(out, cap, "cut off after frame %" PRIu64 "%s%s; taken as far as it goes", n->frame, n->words ? ": " : "",
                 n->words ? n->words : "");
        return;
    }
}

static void notice_take(void *context, const struct trace_notice *n)
{
    struct trace_loop *l = context;
    char               text[TEXT_BYTES];

    if (l->flags & TRACE_LOOP_AGAIN)
        return;
    /* A file that is cut off is always said: the spec of the format asks for it. */
    if (l->notices[n->code]++ >= NOTICES_SHOWN || (l->options->quiet && n->code != TRACE_CUT_OFF))
        return;
    notice_text(n, text, sizeof text);
    progress_clear(l);
    complain("%s: %s", subject_of(l->path), text);
}

/* Remembers records that cannot be used, for the line at the end. */
static void unsound_note(struct trace_loop *l, const struct record *r)
{
    if (r->soundness == RECORD_SOUND)
        return;
    unsigned k = r->soundness - RECORD_DAMAGED;

    if (l->unsound[k] < TRACE_LOOP_NAMED)
        l->named[k][l->unsound[k]] = r->frame;
    l->unsound[k]++;
}

static bool read_next(struct trace_loop *l, const struct record **r)
{
    struct fault f; /* set by trace_next when there is no record; clearing it for each would show */

    if (l->ended)
        return false;
    if (trace_next(l->trace, r, &f)) {
        if (l->progress)
            progress_show(l, *r);
        return true;
    }
    l->ended = true;
    progress_clear(l);
    if (f.code != FAULT_NONE) {
        complain_fault(&f, subject_of(l->path));
        l->failed = true;
    }
    return false;
}

static struct trace_loop_held *held_copy(const struct trace_loop *l, const struct record *r)
{
    struct trace_loop_held *h = malloc(sizeof *h + r->length);

    if (!h)
        return NULL;
    h->next = NULL;
    h->stepped_back = trace_stepped_back(l->trace);
    if (r->length > 0)
        memcpy(h->bytes, r->bytes, r->length);
    /* Read anew, so that every pointer goes into the copy. */
    record_read(h->bytes, r->length, r->why == RECORD_WHY_CUT, r->stamp_ns, r->frame, &h->record);
    if (h->record.soundness != r->soundness || h->record.why != r->why) {
        h->record.soundness = r->soundness;
        h->record.why = r->why;
    }
    h->record.t_ns = r->t_ns;
    return h;
}

/* Reads until the zero of time is known; what was read is handed out first afterwards. */
static bool zero_find(struct trace_loop *l)
{
    struct trace_loop_held **last = &l->held;
    const struct record     *r;

    for (unsigned n = 0; n < HELD_MAX && read_next(l, &r); n++) {
        *last = held_copy(l, r);
        if (!*last) {
            complain("%s: out of memory; close something and try again", subject_of(l->path));
            return false;
        }
        last = &(*last)->next;
        if (l->facts->has_zero)
            break;
    }
    if (l->failed)
        return false;
    l->zero_ns = l->facts->has_zero ? l->facts->zero_ns : l->held ? l->held->record.t_ns : 0;
    return true;
}

/* a + b, held inside the range of int64_t: a stamp may be anything. */
static int64_t added(int64_t a, int64_t b)
{
    if (b > 0 && a > INT64_MAX - b)
        return INT64_MAX;
    if (b < 0 && a < INT64_MIN - b)
        return INT64_MIN;
    return a + b;
}

/* Writing over the trace while it is read would destroy it. */
static bool overwrites(const char *path, const char *output_path)
{
    struct stat in, out;

    return output_path && strcmp(path, "-") != 0 && strcmp(output_path, "-") != 0 && stat(path, &in) == 0 &&
           stat(output_path, &out) == 0 && S_ISREG(out.st_mode) && in.st_dev == out.st_dev && in.st_ino == out.st_ino;
}

/* Where it disturbs nothing: the output goes to a file, or to the terminal when all is read. Never beside a pager. */
static bool progress_wanted(const struct options *options, unsigned flags)
{
    struct stat out;

    if (flags & TRACE_LOOP_NO_PROGRESS)
        return false;
    if (options->output_path)
        return true;
    if (isatty(STDOUT_FILENO) == 1)
        return (flags & TRACE_LOOP_PROGRESS) != 0;
    return fstat(STDOUT_FILENO, &out) == 0 && S_ISREG(out.st_mode);
}

bool trace_loop_open(struct trace_loop *l, const char *path, const struct options *options, unsigned flags)
{
    *l = (struct trace_loop){ .path = path, .options = options, .flags = flags };
    if (overwrites(path, options->output_path)) {
        complain("-o %s is the trace that is read, and would destroy it; name another file", options->output_path);
        return false;
    }
    struct trace_options reading = {
        .notice = notice_take, .now_ns = clock_now, .idle = idle_take, .context = l, .file_order = (flags & TRACE_LOOP_FILE_ORDER) != 0,
        .live = (flags & TRACE_LOOP_LIVE) != 0,
    };
    struct fault f = { .code = FAULT_NONE };

    l->progress = !options->quiet && isatty(STDERR_FILENO) == 1 && progress_wanted(options, flags);
    l->progress_ns = clock_now(NULL);
    l->trace = trace_open(path, &reading, &f);
    if (!l->trace) {
        complain_fault(&f, subject_of(path));
        return false;
    }
    l->facts = trace_facts(l->trace);
    if (!zero_find(l)) {
        trace_loop_close(l);
        return false;
    }
    l->since_ns = options->since_ns == INT64_MIN ? INT64_MIN : added(l->zero_ns, options->since_ns);
    l->until_ns = options->until_ns == INT64_MAX ? INT64_MAX : added(l->zero_ns, options->until_ns);
    return true;
}

char *file_text(const char *path, size_t *length)
{
    FILE *file = fopen(path, "rb");
    char *text = file ? malloc(FILE_TEXT_MAX + 1) : NULL;

    if (!file) {
        complain("%s: cannot be opened: %s; check the name and the rights", path, strerror(errno));
        return NULL;
    }
    if (!text)
        complain("%s: out of memory; close something and try again", path);
    size_t n = text ? fread(text, 1, FILE_TEXT_MAX + 1, file) : 0;

    if (text && (ferror(file) || n > FILE_TEXT_MAX)) {
        if (ferror(file))
            complain("%s: cannot be read: %s", path, strerror(errno));
        else
            complain("%s: larger than 1 MiB; name the small JSON file that is meant", path);
        free(text);
        text = NULL;
    }
    fclose(file);
    *length = n;
    return text;
}

bool trace_loop_about(const struct trace_loop *l, struct about *a)
{
    if (!l->options->about_path)
        return true;
    size_t       length;
    char        *text = file_text(l->options->about_path, &length);
    struct fault f = { .code = FAULT_NONE };

    if (!text)
        return false;
    bool done = about_override(a, text, length, &f);

    free(text);
    if (!done)
        complain_fault(&f, l->options->about_path);
    return done;
}

static void handed_free(struct trace_loop *l)
{
    free(l->handed);
    l->handed = NULL;
}

bool trace_loop_next(struct trace_loop *l, const struct record **r)
{
    if (l->held || l->handed) {
        handed_free(l);
        if (l->held) {
            l->handed = l->held;
            l->held = l->held->next;
            *r = &l->handed->record;
            l->stepped_back = l->handed->stepped_back;
            unsound_note(l, *r);
            return true;
        }
    }
    if (!read_next(l, r))
        return false;
    l->stepped_back = trace_stepped_back(l->trace);
    unsound_note(l, *r);
    return true;
}

bool trace_loop_stepped_back(const struct trace_loop *l)
{
    return l->stepped_back;
}

static bool port_inside(const struct option_ports *ports, const struct record *r)
{
    if (r->soundness == RECORD_SOUND && r->kind == RECORD_MARK && r->mark.subject != RECORD_PORT_NONE)
        return ports->wanted[r->mark.subject];
    /* What is said of the bench, and what cannot be read, may concern any port. */
    return r->soundness == RECORD_UNREADABLE || r->port == RECORD_PORT_BENCH || ports->wanted[r->port];
}

bool trace_loop_inside(const struct trace_loop *l, const struct record *r)
{
    if (l->options->ports.given && !port_inside(&l->options->ports, r))
        return false;
    if (l->since_ns == INT64_MIN && l->until_ns == INT64_MAX)
        return true;
    if (r->t_ns > l->until_ns)
        return false;
    int64_t span = r->soundness == RECORD_SOUND ? record_span_ns(r) : 0;

    return r->t_ns >= l->since_ns || added(r->t_ns, span) > l->since_ns;
}

int64_t trace_loop_end_ns(const struct trace_loop *l)
{
    return l->facts->has_zero ? l->facts->last_ns : l->zero_ns;
}

static void unsound_say(const struct trace_loop *l, unsigned k, const char *what)
{
    char   frames[TEXT_BYTES] = "";
    size_t used = 0;

    for (uint64_t i = 0; i < l->unsound[k] && i < TRACE_LOOP_NAMED; i++) {
        int n = snprintf(frames + used, sizeof frames - used, "%s%" PRIu64, i ? ", " : "", l->named[k][i]);

        if (n > 0 && (size_t)n < sizeof frames - used)
            used += (size_t)n;
    }
    if (l->unsound[k] > 0)
        complain("%s: passed over %" PRIu64 " %s record%s: frame%s %s%s", subject_of(l->path), l->unsound[k], what,
                 l->unsound[k] > 1 ? "s" : "", l->unsound[k] > 1 ? "s" : "", frames,
                 l->unsound[k] > TRACE_LOOP_NAMED ? " ..." : "");
}

bool trace_loop_close(struct trace_loop *l)
{
    static const char *const what[TRACE_LOOP_NOTICES] = {
        [TRACE_STEP_IN_STREAM] = "steps back inside a stream", [TRACE_STEP_BACK] = "steps back in time",
        [TRACE_HELD_TOO_MUCH] = "records taken as they stand", [TRACE_CAME_LATE] = "records that came too late",
        [TRACE_CUT_OFF] = "notices of the same kind",
    };

    progress_clear(l);
    if (!l->trace)
        return !l->failed;
    for (unsigned k = 0; k < TRACE_LOOP_NOTICES && !l->options->quiet && !(l->flags & TRACE_LOOP_AGAIN); k++)
        if (l->notices[k] > NOTICES_SHOWN)
            complain("%s: %" PRIu64 " more %s", subject_of(l->path), l->notices[k] - NOTICES_SHOWN, what[k]);
    if ((l->flags & TRACE_LOOP_NAME_UNSOUND) && !l->options->quiet) {
        unsound_say(l, 0, "damaged");
        unsound_say(l, 1, "unreadable");
        unsound_say(l, 2, "unknown");
    }
    handed_free(l);
    while (l->held) {
        l->handed = l->held;
        l->held = l->held->next;
        handed_free(l);
    }
    l->facts_kept = *l->facts;
    l->facts = &l->facts_kept;
    trace_close(l->trace);
    l->trace = NULL;
    return !l->failed;
}
