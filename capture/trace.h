/*
 * capture/trace.h - reading a trace: pcap or pcapng (either byte order, micro- or nanoseconds), plain, gzip or
 * zstd, or the text form, from a file, a pipe or standard input; records merged by start time.
 *
 * One pass, bounded memory: at most one second of records is held back, and of these at most 4 MiB of POWER and 2 MiB or 32,768 of
 * others. A stream packed by zstd needs its window besides (8 MiB for the highest usual level).
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/record.h"

struct trace;

enum trace_notice_code {
    TRACE_STEP_IN_STREAM, /* a record of a stream starts before the one before it */
    TRACE_STEP_BACK,      /* a record starts more than 1 s before one that stands earlier: taken as a loss on all ports */
    TRACE_HELD_TOO_MUCH,  /* more than can be held back: this record starts before one that had to go out already */
    TRACE_CAME_LATE,      /* live: this record starts before one that went out already */
    TRACE_CUT_OFF,        /* the file ends inside a record, or libpcap refuses to read on; words = its words */
};
struct trace_notice {
    enum trace_notice_code code;
    uint64_t               frame;
    int64_t                step_ns; /* how far back */
    const char            *words;   /* or NULL */
};

struct trace_options {
    void (*notice)(void *context, const struct trace_notice *notice); /* may be NULL */
    int64_t (*now_ns)(void *context); /* the clock for "-" in the text form; NULL: such a line is damaged */
    void *context;
    /* live: nothing more has come. Returns after how many ms it wants to be asked again if nothing comes until then; below 0: not. NULL: nobody
     * wants to know. */
    int (*idle)(void *context);
    bool  live; /* judge while it is recorded: by the clock now_ns, a record waits for earlier ones no longer than TRACE_LIVE_NS, twice */
    bool  file_order; /* do not merge: records as they stand (cut, conversion) */
};

#define TRACE_LIVE_NS INT64_C(10000000)

enum trace_form { TRACE_PCAP, TRACE_PCAPNG, TRACE_TEXT };

/* What is known of the file so far; complete once trace_next has returned false. */
struct trace_facts {
    enum trace_form form;
    int64_t  default_time_ns; /* uncertainty of a stamp where ABOUT says none: 0 nanosecond file, 1000 microsecond, pcapng by if_tsresol, text 0 */
    uint64_t records;         /* every packet of the file */
    uint64_t unknown, damaged, unreadable;
    uint64_t lost;            /* sum over LOST records, unknown counts as 1 */
    bool     lost_unknown;
    uint64_t time_steps;
    bool     cut_off, invented;
    bool     has_zero;
    int64_t  zero_ns;         /* start of the first record of the file with a readable header: t_ns of the output counts from here;
                                 one that stands later may start earlier and comes out before it */
    int64_t  last_ns;         /* latest end of a record */
};

/* path "-" is standard input. NULL with *f set when it cannot be read as a trace at all. */
struct trace *trace_open(const char *path, const struct trace_options *options, struct fault *f);
/* The same over bytes in memory (tests, fuzzing); they must last as long as the trace. */
struct trace *trace_open_memory(const uint8_t *bytes, size_t length, const struct trace_options *options, struct fault *f);

/*
 * The next record in order of start time (equal times: file order), sound or not. It and all it points to last
 * until the next call. False at the end: f->code is FAULT_NONE, also for a cut-off file (facts say so), or FAULT_NO_MEMORY.
 */
bool trace_next(struct trace *t, const struct record **record, struct fault *f);

/* True if the record last returned begins after a step back in time of more than 1 s. */
bool trace_stepped_back(const struct trace *t);

const struct trace_facts *trace_facts(const struct trace *t);
/* How much of the file, packed as it is, has been read so far, in bytes; -1: it is no file. */
int64_t trace_bytes_read(const struct trace *t);
void trace_close(struct trace *t);
