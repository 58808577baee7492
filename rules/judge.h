/*
 * rules/judge.h - what a check function may say and ask. A check says nothing (no occasion), or for each occasion one of
 * pass, fail, undecided.
 */
#pragma once
#include "rules/engine.h"
#include "rules/line.h"
#include "rules/parameter.h"
#include "rules/talk.h"

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
    uint32_t per_unit;             /* measured, low, high count in this part of the unit; 0: thousandths */
    int64_t  uncertainty;
    bool     has_uncertainty, has_probability;
    double   probability;          /* of conformance */
    const struct parameter *parameter; /* whose value was the limit, or NULL */
    bool     has_span;
    struct span span;              /* how the time was worked out: set by judge_time */
    uint32_t bits;                 /* of a rate: how many bits lasted that time; else 0 */
    uint64_t subjects[2];          /* further frames this failure is about, for judge_silenced_on; frame itself always is. 0: none */
    int64_t  spacing_ns;           /* with CAUSE_RATE: how close the readings were */
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
/*
 * The same before there is an outcome: true where nobody would hear of one at that time, so that it is counted and that is all. False:
 * judge_undecided is to be called. spacing_ns: as in the outcome.
 */
bool judge_unheard(struct judge *j, int64_t t_ns, enum cause cause, int64_t spacing_ns);

/* An object that a kernel did not tell stands there. */
bool judge_hole(const struct judge *j, const struct pdo *p);
void *judge_state(struct judge *j, const struct port *p);   /* state_size bytes of this rule and port */
const struct rule *judge_rule(const struct judge *j);
/* A Request that waits for its answer, as it was judged when it came. */
struct open_request {
    uint64_t frame;  /* 0: none, or a malformed one that no rule judges */
    unsigned faults; /* enum request_fault (request_demands.h) */
    bool     known;  /* the offer was */
};
/* An offer that stood in an attach, with what was known when it came; event->offer is its offer. */
struct held_offer {
    struct offer    offer;
    uint8_t         agreed;        /* enum agreed_revision of the first Request after it; AGREED_UNKNOWN: none came before a reset or the end */
    struct identity cable;         /* last SOP' identity when it came; frame 0: unknown */
    uint8_t         cable_gap;     /* enum cause: another one may have come since, which was not recorded; CAUSE_NONE: no */
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
/* The same for an occasion that was remembered: a rule named in silenced_by failed about this frame (of the last 64 failures of the port). */
bool judge_silenced_on(const struct judge *j, uint64_t frame);
/* ... failed at or after this time: the same attach, reset, swap, silence. */
bool judge_silenced_since(const struct judge *j, int64_t since_ns);
/* ... and not after until_ns. */
bool judge_silenced_between(const struct judge *j, int64_t since_ns, int64_t until_ns);
/* Did that rule fail at or after since_ns? For what is asked seldom: by its id. */
bool judge_failed_since(const struct judge *j, const char *id, int64_t since_ns);
/* Did any rule at all fail on this port at or after since_ns? */
bool judge_anything_failed_since(const struct judge *j, int64_t since_ns);
/* ... about something at from_ns to to_ns, both included (of the last 64 failures of the port). */
bool judge_anything_failed_between(const struct judge *j, int64_t from_ns, int64_t to_ns);
/*
 * Wake this rule's check with WAKE_TIME once t_ns has passed: before the port's next packet, reset or CC_STATE at or after t_ns is
 * looked at (after it, if that is a LOST or may have been a packet, so that the loss is known), or at the end of the trace if it
 * reaches t_ns. event->t_ns is t_ns. One at a time per rule and port; INT64_MAX takes it back.
 */
void judge_wake_at(struct judge *j, const struct port *p, int64_t t_ns);
/*
 * While on, this rule's check hears every message of the port, on all ordered sets, as WAKE_HEARD: once the question that it settles
 * is settled, before WAKE_TALK; judge_ask is that question. Not the message in hand. For sequences that are under way: else off.
 */
void judge_listen(struct judge *j, const struct port *p, bool on);
/* The rule's k-th parameter, as overridden. */
const struct parameter *judge_parameter(const struct judge *j, unsigned k);
struct window judge_window(const struct judge *j, unsigned k);
/*
 * Which of an edition's values applies to this player, by its agreed revision, its Revision message, what it uses, --standard:
 * SINCE_R2, SINCE_R30, SINCE_R31, SINCE_R32; SINCE_R1: 3.x and no more known, or the revision itself unknown (then *known is false).
 */
unsigned judge_edition(const struct judge *j, const struct port *p, unsigned player, bool *known);
/* tSenderResponse for that player; the rule's parameters from k on are tSenderResponse, @2.0, @3.0, @3.1, @3.2, @3.2-1.2. */
struct window judge_sender_response(const struct judge *j, const struct port *p, unsigned player, unsigned k);
/* The same, where the revision is known by the message in hand: enum agreed_revision. */
struct window judge_sender_response_agreed(const struct judge *j, const struct port *p, unsigned player, unsigned k, unsigned agreed);
#define SENDER_RESPONSE_PARAMETERS \
    "tSenderResponse", "tSenderResponse@2.0", "tSenderResponse@3.0", "tSenderResponse@3.1", "tSenderResponse@3.2", "tSenderResponse@3.2-1.2"

/* WAKE_ASK: the question that is settled. WAKE_TALK: the one that this message settled, or NULL. */
const struct ask *judge_ask(const struct judge *j);
/* The question of this player on this ordered set that is open, or NULL. */
const struct ask *judge_open_ask(const struct judge *j, unsigned set, unsigned player);
/* The last one that was settled, whatever its end; NULL: none since the attach. settled_ns: when. */
const struct ask *judge_last_ask(const struct judge *j, unsigned set, unsigned player, int64_t *settled_ns);

/* When a question of a port partner on SOP last came to nothing, other than by an answer of another kind; INT64_MIN: never since the attach. */
int64_t judge_unanswered_ns(const struct judge *j);

/*
 * A time against its window. Fills measured (the middle), uncertainty (half the width), limits, parameter and both edges as
 * evidence into o, passes, fails or is undecided by the range (CAUSE_UNCERTAINTY), and feeds the timer's distribution. doubt: a cause
 * that leaves an otherwise failing occasion undecided (CAUSE_NONE: none); doubt_pass: also a passing one. Sentences: o->sentence
 * for above the window (and undecided), o->sentence + 1 below it if the window has a low side. values[4] = measured ns, [5] = limit ns.
 */
enum fit judge_time(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause doubt, bool doubt_pass);
/* The usual case, without an outcome: true if it passes; then it is counted and the distribution fed. False: judge_time tells. */
bool judge_time_passed(struct judge *j, const struct span *s, const struct window *w);
/*
 * From done(from) to the start of a packet, where both were measured and stamped by the instrument: most are. low_ns and high_ns are
 * those of span_between. False: they are not, or the whole span is wanted.
 */
struct plain_span { int64_t low_ns, high_ns; };
bool judge_plain_span(struct judge *j, const struct sent *from, const struct wire *to, struct plain_span *out);
/* judge_time_passed for such a span: false where it is none. */
bool judge_plainly_passed(struct judge *j, const struct sent *from, const struct wire *to, const struct window *w);
/* Feeds the distribution alone. */
void judge_timing(struct judge *j, const struct span *s, const struct window *w);

/* Who most likely sent the Hard Reset in hand (EVENT_HARD_RESET and WAKE_ASK by it): the catalogue's section 6. */
enum reset_origin { ORIGIN_UNKNOWN, ORIGIN_SOURCE, ORIGIN_SINK };
enum reset_origin judge_reset_origin(const struct judge *j);
unsigned judge_standard(const struct judge *j);
/* WAKE_LINE: the occasion. */
const struct line_case *judge_line(const struct judge *j);
