/*
 * cli/synth/synth.h - a model of ports, partners and cables that plays a scenario and gives the records of its trace.
 *
 *   _ns  int64_t  nanoseconds since 1970
 *
 * Written from the standard; it includes nothing of decode/ and rules/, and holds its own copy of every number
 * (synth_timers.c), so that the rules can be held against it. Every record is flagged INVENTED. What may be chosen is drawn from
 * the seed: the same scenario and seed give the same bytes. Memory does not grow with the length of the trace.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct cJSON;
struct synth;

enum { SYNTH_TROUBLE_BYTES = 256, SYNTH_INJECTIONS = 16 };

/* What is wrong with a scenario: the path of the key, and what is expected there. */
struct synth_trouble { char path[96]; char text[SYNTH_TROUBLE_BYTES]; };

/*
 * Reads the scenario and stands at its beginning. seed: instead of the scenario's own, if >= 0. The scenario is not kept.
 * NULL: *t says what is wrong.
 */
struct synth *synth_open(const struct cJSON *scenario, int64_t seed, struct synth_trouble *t);
void synth_close(struct synth *s); /* NULL is allowed */

/* A record with header and body; bytes stay until the next call. */
struct synth_record { int64_t stamp_ns; const uint8_t *bytes; size_t length; };

/* The next record in the order of the file. False: the end, or no memory (synth_failed). */
bool synth_next(struct synth *s, struct synth_record *r);
bool synth_failed(const struct synth *s);

/* One fault of the scenario, and what became of it. Complete when synth_next has said false. */
struct synth_made {
    const char *fault, *variant; /* variant: "" if none was named */
    const char *blind;           /* instead of fault: evidence that was taken away */
    const char *who;             /* source, sink, cable, link */
    const char *party;           /* device, partner, cable, link */
    const char *expect;          /* ids of the rules that should fail, with blanks between */
    unsigned    port;
    bool        has_ns, has_uv, has_ma; /* the amount of it, where it has one: */
    int64_t     amount_ns;
    int32_t     amount_uv, amount_ma;
    bool        made;            /* there was an occasion for it */
    uint64_t    frame;           /* where the rule should fail; 0: not in the trace */
    int64_t     t_ns;            /* since the trace's first record */
};
unsigned synth_made_count(const struct synth *s);
struct synth_made synth_made(const struct synth *s, unsigned k);
/* The same as JSON, for --truth. Free with cJSON_Delete; NULL: no memory. */
struct cJSON *synth_truth(const struct synth *s);

/* What can be made wrong. */
struct synth_fault {
    const char *name;    /* a rule's id, or a name of its own */
    const char *variant; /* NULL: the usual one */
    const char *who;     /* whose fault it is, or NULL: told by the occasion */
    const char *what;    /* one sentence */
    const char *expect;  /* rules that fail, with blanks between */
};
/* Fault k of all, in the order of the families; NULL after the last. */
const struct synth_fault *synth_fault_row(unsigned k);
/* Blind k: name and one sentence; NULL after the last. */
struct synth_blind { const char *name, *what; };
const struct synth_blind *synth_blind_row(unsigned k);

/* The numbers that the model goes by, to be compared with those of the rules. */
struct synth_number {
    const char *timer;        /* the rule whose time it is, or a name of its own */
    const char *parameter;    /* the standard's name, as in the catalogue of parameters; NULL: none there */
    int64_t     min_us, max_us; /* the standard's window, microseconds; SYNTH_OPEN: open on that side */
    const char *from;         /* where the number was seen */
};
#define SYNTH_OPEN INT64_MIN
const struct synth_number *synth_number_row(unsigned k); /* NULL after the last */
