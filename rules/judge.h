/*
 * rules/judge.h - what a check function may say and ask. A check says nothing (no occasion), or for each occasion one of
 * pass, fail, undecided.
 */
#pragma once
#include "rules/engine.h"
#include "rules/parameter.h"

/* An outcome to be told; start from judge_outcome. */
struct outcome {
    uint8_t  whom;       /* set from the rule; for WHO_EACH the check sets it (outcome_by) */
    uint8_t  player;     /* enum player of the one it is about; PLAYER_UNKNOWN: by role */
    uint8_t  sentence, cause, position;  /* position: object it is about, 0 none */
    uint64_t frame;
    int64_t  t_ns;
    int64_t  values[FINDING_VALUES];
    bool     has_measured, has_low, has_high;
    int64_t  measured, low, high;  /* thousandths of unit */
    const char *unit;
    uint8_t  evidence_count;
    uint64_t evidence[FINDING_EVIDENCE];
};

struct outcome judge_outcome(const struct judge *j, const struct event *e);
/* The same for an occasion that was remembered. */
struct outcome judge_outcome_at(const struct judge *j, uint64_t frame, int64_t t_ns);
void outcome_by(struct outcome *o, unsigned side, unsigned player);
void outcome_evidence(struct outcome *o, uint64_t frame);

void judge_pass(struct judge *j);
void judge_pass_at(struct judge *j, int64_t t_ns); /* an occasion that was remembered: its time decides --since, --until */
void judge_fail(struct judge *j, const struct outcome *o);
void judge_undecided(struct judge *j, const struct outcome *o, enum cause cause);

void *judge_state(struct judge *j, const struct port *p);   /* state_size bytes of this rule and port */
const struct rule *judge_rule(const struct judge *j);
/* An offer that stood in an attach, with what was known when it came; event->offer is its offer. */
struct held_offer {
    struct offer    offer;
    uint8_t         agreed;        /* enum agreed_revision of the first Request after it; AGREED_UNKNOWN: none came before a reset or the end */
    struct identity cable;         /* last SOP' identity when it came; frame 0: unknown */
    struct edition  edition;       /* of the offering side, by the end of the attach */
    bool            first;         /* first offer of its attach (or since its beginning in the trace) */
    bool            attach_seen;
    uint64_t        present_frame; /* last Source_Info of the offering side while this offer stood; 0: none */
    uint8_t         present_low_w, present_high_w; /* least and largest Port Present PDP they said, W */
};
/* WAKE_OFFER_SETTLED only. Ratings known by the attach's end: event->port->ratings (frame 0: not seen in this attach). */
const struct held_offer *judge_held(const struct judge *j);
enum answer { ANSWER_NO, ANSWER_YES, ANSWER_UNKNOWN };
/* Does a rule's "applies" hold for this agreed revision and edition (and --standard)? */
enum answer rule_applies(const struct rule *r, unsigned agreed, const struct edition *edition, unsigned standard);
/* Why it is uncertain which offer stands: a bad packet, records that are missing; otherwise: it is not. */
unsigned judge_gap_cause(const struct port *p, unsigned otherwise);
/* What ABOUT says of the port. */
const struct about_port *judge_about(const struct judge *j, const struct port *p);
/* True if a rule named in silenced_by failed on this object (position) of the subject in hand. */
bool judge_silenced(const struct judge *j, unsigned position);
/* Wake this rule's check with WAKE_TIME once a record of any port starts at or after t_ns. One at a time per rule and port. */
void judge_wake_at(struct judge *j, const struct port *p, int64_t t_ns);
unsigned judge_standard(const struct judge *j);
