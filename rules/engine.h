/*
 * rules/engine.h - feeds records to the port models, wakes the rules, counts verdicts and hands over findings.
 *
 * One pass, fixed memory per port and rule. A rule that nothing woke costs nothing: rows are sorted by event and message once.
 */
#pragma once
#include "rules/rule.h"
#include "rules/span.h"

enum verdict { VERDICT_PASS, VERDICT_FAIL, VERDICT_UNDECIDED, VERDICT_NOT_SEEN };
const char *verdict_name(unsigned verdict); /* pass fail undecided not-seen */
const char *level_name(unsigned level);
const char *whom_name(unsigned whom);       /* source sink cable link (each: link) */
const char *applies_name(unsigned applies); /* all 2.0 3.x 3.1+ 3.2 */

enum party { PARTY_DEVICE, PARTY_PARTNER, PARTY_CABLE, PARTY_LINK };
const char *party_name(unsigned party);

/* Why an occasion is undecided. */
enum cause {
    CAUSE_NONE, CAUSE_LOST, CAUSE_BAD_PACKET, CAUSE_BEGINNING, CAUSE_REVISION, CAUSE_UNKNOWN_OFFER, CAUSE_UNKNOWN_CABLE,
    CAUSE_INFERRED_RATING, CAUSE_UNCERTAINTY, CAUSE_NO_READING, CAUSE_UNSEEN_WORDS, CAUSE_RECENT_OFFER,
    CAUSE_ORIGIN,      /* who sent a Hard Reset is not known */
    CAUSE_NO_GOODCRC,  /* heard, but no GoodCRC was recorded */
    CAUSE_CROSSING,    /* both sides spoke at once */
    CAUSE_ROLES,       /* who has which role is not known */
    CAUSE_CAPTURE,     /* the receiver was content, the capture was not; or the other way round */
    CAUSE_ONCE,        /* seen once; it takes a second time to tell */
    CAUSE_CUT,         /* the instrument kept only the beginning of the packet */
    CAUSE_RP,          /* Rp changed just before */
    CAUSE_RESET,       /* a reset came while the answer might have come yet */
    CAUSE_LOAD,        /* the load changed too fast, or was more than agreed */
    CAUSE_LIGHT,       /* no load pulls VBUS down, so that it falls too slowly to show when it began */
    CAUSE_RATE,        /* readings are too far apart to rule it out */
    CAUSE_TICK,        /* the ticks of the CC line's edges are too long */
    CAUSE_CELL,        /* the edges do not show where a bit ends */
    CAUSE_EDGES,       /* the edges begin or end inside the packet */
    CAUSE_NOISE,       /* the edges are scattered so far that one of them may be noise */
    CAUSE_TIE,         /* packets and readings go by clocks that may be so far apart */
};

enum { FINDING_VALUES = 6, FINDING_EVIDENCE = 16 };
struct finding {
    const struct rule *rule;
    uint8_t  verdict;            /* VERDICT_FAIL or VERDICT_UNDECIDED */
    uint8_t  cause;              /* enum cause, undecided only */
    uint8_t  whom;               /* enum about_whom, settled */
    uint8_t  party, port;
    uint64_t frame;
    int64_t  t_ns;               /* since 1970 */
    uint8_t  sentence;           /* index into rule->sentences */
    int64_t  values[FINDING_VALUES];
    bool     has_measured, has_low, has_high, has_uncertainty;
    int64_t  measured, low, high, uncertainty; /* in parts of unit */
    bool     has_probability;
    double   probability;        /* of conformance, where it was computed */
    uint32_t per_unit;           /* so many parts make the unit: 1000, or 1000000 for a time in ms told in ns */
    const char *unit;            /* "V" "mA" "ms" "W" "", or NULL */
    const struct parameter *parameter; /* whose value the limit was, or NULL */
    bool     has_span;
    struct span span;            /* the edges that the time was measured between */
    uint32_t bits;               /* not 0: so many bits lasted that time, and measured, low and high are their rate */
    uint8_t  evidence_count;
    uint64_t evidence[FINDING_EVIDENCE]; /* frames, rising */
};

struct counts { uint64_t passed, failed, undecided; };
struct result {
    const struct rule *rule;
    uint8_t       verdict;
    uint8_t       whom;          /* of its findings if all agree, else WHO_LINK for a rule about each */
    struct counts counts;        /* over all ports that are judged */
};
/* What a port's recording can never settle. */
struct unjudged { uint8_t port; uint16_t missing; /* one enum evidence bit */ unsigned rules; int64_t needs_ns, has_ns; /* 0: none */ };

struct volt_line;
struct volt_step;
struct engine_options {
    bool     ports_given;         /* judge only these ports */
    bool     ports[256];
    int64_t  since_ns, until_ns;  /* since 1970; judge only what happens inside; INT64_MIN, INT64_MAX: no limit */
    uint8_t  judged_parties;      /* bits 1 << enum party that decide the verdict; 0: device */
    uint8_t  judged_whom;         /* bits 1 << enum about_whom from --judge; 0: by party */
    uint8_t  standard;            /* 0: as seen; SINCE_R2, SINCE_R30, SINCE_R31, SINCE_R32 */
    const struct rule *const *groups; /* NULL: rules_groups (tests give their own) */
    const struct parameter *parameters; /* NULL: parameters_all; a copy of it in the same order, with values overridden */
    /* Every time that a rule measured: number of the rule, window it was held against. NULL: nobody wants to know. */
    void   (*timing)(void *context, unsigned port, unsigned rule, const struct span *span, const struct window *window);
    /* What VBUS did in each contract that is over, and at each load step in one: rules/volt_table.h. NULL: nobody wants to know. */
    void   (*volts)(void *context, const struct volt_line *line);
    void   (*load_step)(void *context, const struct volt_step *step); /* only with volts */
#ifdef PORTASSAY_MUTANTS
    const char *mutant;           /* rules/mutant.h */
#endif
    void   (*finding)(void *context, const struct finding *f); /* called as they are settled, not in order of time */
    void    *context;
};

struct engine;
struct engine *engine_new(const struct engine_options *options); /* NULL: no memory */
void engine_free(struct engine *e);
struct bench *engine_bench(struct engine *e);
bool engine_feed(struct engine *e, const struct record *r, bool stepped_back); /* false: no memory */
void engine_end(struct engine *e, int64_t t_ns);

unsigned engine_rules(const struct engine *e);
struct result engine_result(const struct engine *e, unsigned rule);
/* Counts of one rule on one port. */
struct counts engine_port_counts(const struct engine *e, unsigned rule, unsigned port);
/* Verdict over the judged parties: fail, undecided or pass. */
enum verdict engine_verdict(const struct engine *e);
/* Entry k of the list of what cannot be judged; false past its end. Complete after engine_end. told: for each rule, is it asked for; NULL: all. */
bool engine_unjudged(const struct engine *e, const bool *told, unsigned k, struct unjudged *out);
