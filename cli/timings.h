/*
 * cli/timings.h - `check --timings`: how long everything took that a rule measured, and how well the talk went, while the trace is
 * read.
 *
 * For each timer (a rule on a port) count, least and greatest are exact. Median and 95th percentile come from a histogram whose
 * steps are 0.1 % of the value, or 1 us where that is more. A time that is known as a range counts by its middle. Memory is
 * taken for the timers that are in use, in pieces, and no more than TIMINGS_PIECES of them.
 */
#pragma once
#include "decode/port.h"
#include "rules/rule.h"
#include "rules/span.h"

enum {
    TIMINGS_PORTS = 256,
    TIMINGS_PIECES = 4096,  /* of 1 KiB: counts of 256 neighbouring steps */
    TIMER_PIECES = 86,      /* enough for 15 days; what is longer counts in the last step */
    TIMER_WINDOWS = 8,
    BEFORES = 32,
};

struct timer_window { struct window window; uint64_t count; };

struct timer {
    uint64_t count;
    int64_t  least_ns, greatest_ns; /* middles of ranges */
    int64_t  unsure_ns;             /* half the width of the widest range */
    struct timer_window windows[TIMER_WINDOWS];
    unsigned window_count;
    bool     windows_left_out, coarse; /* coarse: not everything is in the histogram, as there was no room */
    uint32_t *pieces[TIMER_PIECES];
};

/* What came before a reset, the first of these that holds. */
enum before {
    BEFORE_LOST,     /* records are missing just before it */
    BEFORE_RESET,    /* another reset, with no contract since */
    BEFORE_UNHEARD,  /* a message that nobody acknowledged */
    BEFORE_READY,    /* a Request was accepted, its PS_RDY did not come */
    BEFORE_SWAP,     /* a swap of power or VCONN was under way */
    BEFORE_QUESTION, /* a message that nobody answered */
    BEFORE_MARK,     /* a mark in the second before */
    BEFORE_NOTHING,  /* nothing was said since the attach, or in the trace */
    BEFORE_SILENCE,  /* nothing was said for a second or longer */
    BEFORE_MESSAGE,  /* a message, acknowledged, with nothing left open */
    BEFORE_KINDS
};
const char *before_name(unsigned before); /* records_missing reset no_goodcrc ... as in JSON */
enum reset_kind { RESET_HARD, RESET_SOFT, RESET_CABLE, RESET_KINDS };
const char *reset_kind_name(unsigned kind); /* hard soft cable */

/* Resets of one kind with the same before them. */
struct before_row {
    uint8_t  reset, before;
    uint8_t  index;                 /* the message, where one is meant, else 0 */
    uint64_t count, frame;          /* frame: of the first */
    int64_t  least_ns, greatest_ns; /* from the end of the packet before; least above greatest: there was none */
};

struct health {
    uint64_t messages;              /* each once, GoodCRCs not */
    uint64_t repeats;               /* copies after the first */
    uint64_t crc_errors;
    uint64_t unacknowledged[2];     /* never, by a port partner; by a cable's plug */
    uint64_t resets[RESET_KINDS];
    struct before_row befores[BEFORES];
    unsigned before_count;
    uint64_t befores_left_out;      /* resets that found no room */
};

struct timings;

/* Watches the bench, which must not outlive it. ports: 256 flags, or NULL for all. NULL: no memory. */
struct timings *timings_new(struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns);
void timings_free(struct timings *t); /* NULL is allowed */
/* As in struct engine_options. */
void timings_take(struct timings *t, unsigned port, unsigned rule, const struct span *span, const struct window *window);

/* A mark about no port: it stands before what happens on all of them. */
void timings_bench_mark(struct timings *t, int64_t t_ns);

/* NULL: nothing was measured there. */
const struct timer *timings_timer(const struct timings *t, unsigned port, unsigned rule);
/* NULL: nothing was said there. */
const struct health *timings_health(const struct timings *t, unsigned port);
/* The value that so many of 100 do not exceed: the middle of its step, never outside least .. greatest. False: it is not known. */
bool timings_share(const struct timings *t, const struct timer *timer, unsigned percent, int64_t *ns);
/* Not a wait, but how long 1000 bits took; and the rate that this is, in bit/s. */
bool timer_is_bit_rate(const struct timer *m);
int64_t timer_bit_rate(int64_t ns_of_1000);
/* Memory ran out. */
bool timings_failed(const struct timings *t);
