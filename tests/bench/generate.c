/*
 * Writes the trace of the benchmark: generate RECORDS FILE. Three ports of an invented charger, interleaved, fault-free; every
 * twentieth record a POWER record of 100 rows. The same trace at every run.
 */
#include "tests/bench/story.h"

#include "capture/record.h"
#include "capture/writer.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool put_about(struct trace_writer *w, int64_t t_ns, struct fault *fault)
{
    uint8_t record[1024];
    size_t  length = record_put(record, sizeof record, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_INVENTED, 0,
                                (const uint8_t *)story_about, strlen(story_about));

    return trace_writer_put(w, t_ns, record, length, fault);
}

/* The story whose next record is the earliest. */
static struct story *next_story(struct story *stories[STORY_PORTS])
{
    struct story *first = NULL;

    for (unsigned k = 0; k < STORY_PORTS; k++) {
        struct talk *t = &stories[k]->talk;

        while (t->head == t->count)
            story_go_on(stories[k]);
        if (!first || t->queue[t->head].t_ns < first->talk.queue[first->talk.head].t_ns)
            first = stories[k];
    }
    return first;
}

static bool write_trace(struct trace_writer *w, unsigned long records, struct fault *fault)
{
    const int64_t start_ns = INT64_C(1767261600000000000); /* 2026-01-01 10:00 UTC */
    struct story *stories[STORY_PORTS];
    bool          good = put_about(w, start_ns, fault);

    for (unsigned k = 0; k < STORY_PORTS; k++) {
        stories[k] = malloc(sizeof *stories[k]);
        if (!stories[k])
            abort();
        story_start(stories[k], k, start_ns + (k + 1) * INT64_C(50000000));
    }
    for (unsigned long n = 1; good && n < records; n++) {
        struct talk *t = &next_story(stories)->talk;

        good = trace_writer_put(w, t->queue[t->head].t_ns, t->bytes + t->queue[t->head].at, t->queue[t->head].length, fault);
        t->head++;
    }
    for (unsigned k = 0; k < STORY_PORTS; k++)
        free(stories[k]);
    return good;
}

int main(int argc, char **argv)
{
    struct fault  fault = { 0 };
    unsigned long records = argc == 3 ? strtoul(argv[1], NULL, 10) : 0;

    if (records == 0) {
        fputs("usage: bench_generate RECORDS FILE\n", stderr);
        return 2;
    }
    struct trace_writer *w = trace_writer_open(argv[2], &fault);

    if (!w || !write_trace(w, records, &fault) || !trace_writer_close(w, &fault)) {
        fprintf(stderr, "%s: cannot be written (fault %d, errno %d)\n", argv[2], (int)fault.code, fault.sys);
        return 2;
    }
    return 0;
}
