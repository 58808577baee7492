/*
 * cli/behaviour.h - what was done at each port of a trace, by its meaning: for comparing traces, and for keeping what is expected of one.
 *
 * A deed is what somebody did: an attach, an offer, a Request, a contract, a reset, a message of any other kind. When it was done,
 * which MessageID it had and who acknowledged it is not part of it. Repeats are folded into a count: a Request for the point that is
 * in force (as a PPS sink sends all the time), an offer again while nobody answers, polling (up to BEHAVIOUR_CYCLE messages over and
 * over again). Of each port the first BEHAVIOUR_DEEDS are kept, the others are counted.
 *
 * An observer of the bench (decode/port.h); offers and contracts in full stand in cli/collector.h, times in cli/timings.h, volts in
 * cli/volts.h, verdicts in rules/engine.h: struct check (cli/check_run.h) holds all of them.
 */
#pragma once
#include "cli/json_out.h"
#include "cli/phrase.h"
#include "decode/port.h"

enum { BEHAVIOUR_PORTS = 255, BEHAVIOUR_DEEDS = 4096, BEHAVIOUR_CYCLE = 6 };

enum deed_kind {
    DEED_ATTACH, DEED_DETACH,
    DEED_OFFER,       /* of a source */
    DEED_SINK_OFFER,  /* what a sink needs, or a source that can be a sink */
    DEED_REQUEST,
    DEED_CONTRACT,    /* begins; times - 1: so often renewed */
    DEED_SUPPLY_LOST, /* VBUS went away in a contract */
    DEED_HARD_RESET, DEED_SOFT_RESET, DEED_CABLE_RESET,
    DEED_SWAPPED,     /* detail: enum swap */
    DEED_EPR_ENTERED, DEED_EPR_LEFT,
    DEED_SAID,        /* any other message: index, set */
    DEED_KINDS
};

struct deed {
    uint8_t  kind;           /* enum deed_kind */
    uint8_t  side;           /* enum side: who did it; SIDE_UNKNOWN where that is not known, or nobody's doing */
    uint8_t  index, set;     /* DEED_SAID: MESSAGE_INDEX, enum ordered_set */
    uint8_t  position, supply; /* of a Request or contract */
    bool     epr, mismatch;
    uint8_t  count;          /* words of an offer */
    int32_t  mv, ma, mw;     /* of a Request or contract: what is asked for; mw: battery */
    uint32_t detail;         /* DEED_SAID: VDM header without version and position; action of EPR_Mode, type of Extended_Control in bits 31:24; DEED_SWAPPED: enum swap */
    uint32_t words[PDO_MAX]; /* of an offer */
    /* Not part of what was done: */
    uint32_t times;          /* in a row, this and folded ones, from 1 */
    uint32_t cycle;          /* DEED_SAID: so many deeds, of which this is the last, were done `times` times over; else 1 */
    uint64_t frame;          /* of the first */
    int64_t  t_ns;           /* since 1970 */
};

struct behaviour_port {
    struct deed *deeds;
    size_t       count, room;
    uint64_t     left_out;   /* deeds after the first BEHAVIOUR_DEEDS */
    uint64_t     losses;     /* places where records are, or may be, missing */
};

struct behaviour;

/* Watches the bench, which must not outlive it. ports: 256 flags, or NULL for all. NULL: no memory. */
struct behaviour *behaviour_new(struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns);
void behaviour_free(struct behaviour *b); /* NULL is allowed */
/* NULL: nothing was done there. */
const struct behaviour_port *behaviour_port(const struct behaviour *b, unsigned number);
/* Memory ran out. */
bool behaviour_failed(const struct behaviour *b);

/* The same was done, whenever and however often. */
bool deed_same(const struct deed *a, const struct deed *b);
/* The same kind of thing: offers of the same kind, Requests, contracts; for messages as deed_same. What they carry may differ. */
bool deed_alike(const struct deed *a, const struct deed *b);
/* "source offers 5 V 3 A, 9 V 3 A", "sink requests #2 9 V 3 A", "contract 9 V 3 A", "Hard Reset", "sink: Get_Status": stable words. */
void deed_phrase(struct phrase *p, const struct deed *d);
/* One object of an offer, in the words of deed_phrase: "9 V 3 A", "3.3-11 V 3 A prog". */
void pdo_phrase(struct phrase *p, uint32_t word, bool sink, unsigned position);
/* "sequence" of an open object: deed_phrase of each deed, in order; with what was left out. p NULL: empty. */
void behaviour_json(struct json *j, const struct behaviour_port *p);
