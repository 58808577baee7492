#define _POSIX_C_SOURCE 200809L /* isatty, fstat, clock_gettime */
#include "cli/import_run.h"

#include <inttypes.h>
#include <stdio.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { TURNS = 256, NS_PER_S = 1000000000 };
static const int64_t every_ns = INT64_C(500000000);

static int64_t clock_ns(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * NS_PER_S + t.tv_nsec;
}

/* Where it disturbs nothing: the trace goes to a file. */
void import_progress_start(struct import *i)
{
    struct stat out;
    bool        to_file = i->options->output_path || (fstat(STDOUT_FILENO, &out) == 0 && S_ISREG(out.st_mode));

    i->progress.wanted = !i->options->quiet && to_file && isatty(STDERR_FILENO) == 1;
    i->progress.shown_ns = clock_ns();
}

void import_progress_clear(struct import *i)
{
    if (i->progress.shown)
        fputs("\r\033[K", stderr);
    i->progress.shown = false;
}

static void show(struct import *i)
{
    uint64_t done = 0, total = 0;
    bool     known = true;

    for (unsigned k = 0; k < i->count; k++) {
        const struct import_input *in = &i->inputs[k];
        struct import_progress     p = in->kind->progress(in);

        known = known && p.total > 0;
        done += p.done;
        total += p.total > 0 ? (uint64_t)p.total : 0;
    }
    fputc('\r', stderr);
    if (known && total > 0)
        fprintf(stderr, "%u %% read, ", (unsigned)(done < total ? (double)done / (double)total * 100 : 100));
    fprintf(stderr, "%" PRIu64 " records, %" PRId64 " s of the trace\033[K", i->written, i->started ? (i->to_ns - i->from_ns) / NS_PER_S : 0);
    fflush(stderr);
    i->progress.shown = true;
}

/* Twice a second at most; the clock is asked now and then only. */
void import_progress_turn(struct import *i)
{
    if (!i->progress.wanted || i->progress.turns++ % TURNS != 0)
        return;
    int64_t now_ns = clock_ns();

    if (now_ns - i->progress.shown_ns < every_ns)
        return;
    i->progress.shown_ns = now_ns;
    show(i);
}
