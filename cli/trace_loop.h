/*
 * cli/trace_loop.h - a trace as every command reads it: opened, its notices on standard error, --about laid over its ABOUT,
 * --since, --until and --port applied.
 *
 *     struct trace_loop l;
 *     if (!trace_loop_open(&l, path, &options, 0)) return STATUS_NOT_DONE;
 *     ... bench_new, or engine_new with l.since_ns, l.until_ns; then trace_loop_about(&l, bench_about(bench)) ...
 *     while (trace_loop_next(&l, &r)) {
 *         feed(r, trace_loop_stepped_back(&l));
 *         if (trace_loop_inside(&l, r)) ...
 *     }
 *     end(trace_loop_end_ns(&l));
 *     if (!trace_loop_close(&l)) return STATUS_NOT_DONE;
 */
#pragma once
#include "capture/about.h"
#include "capture/trace.h"
#include "cli/options.h"

enum trace_loop_flag {
    TRACE_LOOP_FILE_ORDER = 1, /* records as they stand */
    TRACE_LOOP_PROGRESS = 4, /* nothing is printed while it is read: a terminal shows on standard error how far it has come */
    TRACE_LOOP_NAME_UNSOUND = 2, /* name damaged, unreadable and unknown records on standard error at the end (show lists them itself) */
    TRACE_LOOP_LIVE = 16, /* while it is recorded: records come as soon as they can */
    TRACE_LOOP_NO_PROGRESS = 32, /* whoever reads it shows how far it has come */
    TRACE_LOOP_AGAIN = 8, /* read before, its notices were said then */
};

enum { TRACE_LOOP_NOTICES = 5, TRACE_LOOP_NAMED = 8 };
struct trace_loop_held; /* records read before the zero of time was known */

struct trace_loop {
    const char           *path;
    const struct options *options;
    unsigned              flags;
    struct trace         *trace;
    const struct trace_facts *facts;    /* complete once trace_loop_next has returned false; stays after trace_loop_close */
    struct trace_facts    facts_kept;
    int64_t               zero_ns;      /* since 1970: what t_ns and --since count from */
    int64_t               since_ns, until_ns; /* since 1970; INT64_MIN, INT64_MAX: no limit */
    uint64_t              notices[TRACE_LOOP_NOTICES]; /* by enum trace_notice_code: how often */
    uint64_t              named[3][TRACE_LOOP_NAMED], unsound[3]; /* damaged, unreadable, unknown: the first frames, how many */
    struct trace_loop_held *held, *handed;
    bool                  stepped_back, ended, failed;
    bool                  progress, progress_shown;
    int                 (*idle)(void *context); /* TRACE_LOOP_LIVE: as in struct trace_options; may be set once it is open */
    void                 *idle_context;
    uint64_t              progress_records;
    int64_t               progress_ns;  /* when it was shown last */
};

/* Opens and reads as far as the zero of time. False: one line on standard error said why. flags: enum trace_loop_flag. */
bool trace_loop_open(struct trace_loop *l, const char *path, const struct options *options, unsigned flags);
/* Lays --about over a (nothing without that option). False: one line on standard error said why. */
bool trace_loop_about(const struct trace_loop *l, struct about *a);
/* The next record, sound or not, outside of the window too. False at the end. */
bool trace_loop_next(struct trace_loop *l, const struct record **r);
bool trace_loop_stepped_back(const struct trace_loop *l);
/* Does it touch the time between --since and --until, and speak of a port of --port (records of the bench do)? */
bool trace_loop_inside(const struct trace_loop *l, const struct record *r);
/* The last time of the trace, for bench_end and engine_end. */
int64_t trace_loop_end_ns(const struct trace_loop *l);
/* Closes; sums up the notices. False if reading broke down (no memory); it was said. */
bool trace_loop_close(struct trace_loop *l);

/* The text of a small file, at most 1 MiB; free it. NULL: one line on standard error said why. */
char *file_text(const char *path, size_t *length);
