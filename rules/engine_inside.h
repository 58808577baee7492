/*
 * rules/engine_inside.h - shared by the files of the engine, for nobody else.
 */
#pragma once
#include "rules/judge.h"
#include "rules/line_inside.h"
#include "rules/mutant.h"
#include "rules/talk_inside.h"
#include "rules/rail_inside.h"
#include "rules/volt_table_inside.h"
#include "rules/volts.h"

enum {
    ENGINE_PORTS = 255,
    HELD_OFFERS = 16,       /* distinct offers of an attach kept until its end; more: the oldest is judged at once */
    FAILURES = 64,          /* kept a port, for silencing what is judged later */
    SEEN_OFFERS = 64,       /* digests of offers of the attach that were judged or are held */
    SILENCES = 8,           /* failures a port that a LOST may still make undecided; more: the oldest is told */
    LATE_PER_RULE = 100,    /* undecided findings held to the end, a rule and port */
    SUPPLIES = SUPPLY_RESERVED + 1,
    SET_GROUPS = 2,         /* wake lists are kept apart for SOP and for the other ordered sets */
    RULE_WORDS = RULES_MAX / 64,
};

/* Events that the engine itself works on, beside the rules. */
#define ENGINE_OWN_EVENTS                                                                                                    \
    (EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_HARD_RESET) |            \
     EVENT_BIT(EVENT_SOFT_RESET) | EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |            \
     EVENT_BIT(EVENT_CABLE_RESET) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_POWER) |                                         \
     EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) |       \
     EVENT_BIT(EVENT_CC) | EVENT_BIT(EVENT_END))

struct rule_set { uint64_t word[RULE_WORDS]; };

/* Rules to wake for something: a slice of the engine's order list. */
struct wake_list { uint32_t from, count; };

/* A rule in a wake list, with what calling it takes. */
struct wake_entry {
    void             (*check)(struct judge *j, const struct event *e);
    const struct rule *rule;
    uint16_t           number, ends;
    uint8_t            supplies;
};

struct held {
    struct held_offer it;
    uint64_t          digest;
    bool              open;     /* the first Request after it has not come */
};

struct failure { uint64_t frames[3]; int64_t t_ns; uint16_t rule; };

struct late { struct finding *list; size_t count, room; uint8_t kept[RULES_MAX]; }; /* kept: of each rule */

/* A failure by silence, kept while it may have another reason. */
enum silence_doubt {
    SILENCE_GAP,       /* no packet has come since: the gap of a LOST may yet reach back over it */
    SILENCE_OPEN,      /* CC shows nothing attached */
    SILENCE_UNTIED,    /* told by readings, which may go ahead of the packets: those may have ended before */
    SILENCE_UNSEEN,    /* neither CC nor VBUS is recorded, and nobody has answered since: the plug may have been pulled */
};
struct silence_held { struct finding finding; int64_t held_ns; uint16_t rule; uint8_t doubt, player; };
/* The instrument's clock on a port: stamps are k = 2, share is twice its own uncertainty. */
struct clock { unsigned generation; bool known; int64_t stamp_ns; double share; };

struct port_book {
    bool               told;               /* what comes of this port was told by a kernel, not seen on a wire */
    const struct port *port;
    struct clock       clock;
    const struct parameter *parameters;    /* the engine's */
    uint64_t           passed[RULES_MAX], failed[RULES_MAX], undecided[RULES_MAX]; /* each together: a pass is counted for nearly every record */
    uint64_t           messages[SET_GROUPS][MESSAGE_INDEXES]; /* seen: what settled rules are counted by */
    uint64_t           plain[MESSAGE_INDEXES]; /* plain ones among them that woke no rule with `plain` */
    uint64_t           plain_requests[SUPPLIES];
    int64_t            wake_at[RULES_MAX]; /* INT64_MAX: not asked for */
    struct rule_set    waiting;            /* rules that asked */
    int64_t            next_wake;          /* the soonest of them, or sooner */
    struct talk        talk;
    struct line        line;
    struct rule_set    listening;          /* rules that judge_listen turned on */
    bool               any_listening;
    struct readings    readings;           /* the last POWER record, as far as its rows are still to come */
    struct rail        rail;
    struct volt_table *volts;              /* NULL: nobody asked for numbers */
    struct rule_set    reading;            /* rules that judge_read turned on */
    bool               any_reading;
    struct failure     failures[FAILURES];
    unsigned           failure_count;
    struct rule_set    failed_ever;        /* rules that failed on this port */
    uint64_t           failed_frame;       /* the latest frame that any of them was about: later ones have nothing to look for */
    int64_t            failed_ns[RULES_MAX], last_failed_ns; /* INT64_MIN: never */
    struct held       *held;               /* HELD_OFFERS of them, made with the first */
    unsigned           held_count;
    struct open_request noted;             /* the last Request */
    unsigned           standing;           /* place of the offer that stands among them */
    uint64_t           seen[SEEN_OFFERS];
    unsigned           seen_count;
    bool               any_held;
    bool               swapped;            /* power roles were, since the attach: no offer is its first any more */
    unsigned           holding;            /* failures that rules of VBUS hold back (volt_hold) */
    struct late        late;
    struct sparse { uint64_t count; int64_t least_ns; } sparse[RULES_MAX]; /* left undecided by CAUSE_RATE; how close readings were at best */
    struct silence_held silences[SILENCES];
    uint8_t            silence_count;
    uint8_t           *state;
};

struct judge {
    struct engine      *engine;
    struct port_book   *book;
    const struct rule  *rule;
    unsigned            number;
    const struct event *event;
    const struct held_offer *held;
    const struct ask   *ask;
    const struct line_case *line;
    const struct section *section;
    bool                inside;  /* the event lies between --since and --until */
#ifdef PORTASSAY_MUTANTS
    bool                turning;
#endif
};

enum { MARKS_KEPT = 16 };
struct engine {
    struct engine_options options;
    struct bench         *bench;
    const struct rule    *rules[RULES_MAX];
    unsigned              count;
    struct rule_set       silenced_by[RULES_MAX];
    size_t                state_at[RULES_MAX], state_bytes;
    uint8_t               found_whom[RULES_MAX]; /* bits 1 << enum about_whom of its findings */
    struct port_book     *books[ENGINE_PORTS];
    struct wake_entry    *order;
    struct wake_list      by_kind[WAKE_KINDS], by_supply[SUPPLIES];
    struct wake_list      by_message[SET_GROUPS][MESSAGE_INDEXES], by_packet[SET_GROUPS][MESSAGE_INDEXES];
    struct wake_list      by_plain[MESSAGE_INDEXES]; /* EVENT_MESSAGE on SOP, a plain one */
    struct wake_list      by_plain_supply[SUPPLIES]; /* EVENT_REQUEST, a plain one */
    bool                  any_settled, any_plain;
    int64_t               role_quiet_ns;   /* of message.power-role */
    struct wake_list      by_section[SECTION_KINDS];
    /* While nothing is held back: a change without rows; contracts, by their supply. */
    struct wake_list      by_unread_change, by_contract[SUPPLIES];
    bool                  any_section;
    struct rail_limits    rail_limits;
    const struct parameter *assumed_share, *assumed_mv, *path_drop_mv; /* of what readings are worth */
    const struct parameter *parameters;    /* as overridden */
    uint16_t              line_rule[LINE_RULES]; /* number of the rule; RULES_MAX: not in this build */
    bool                  line_watched;    /* any of them is */
    bool                  line_careful;    /* nothing is counted without a call */
    bool                  between_packets; /* the record in hand is no packet, reset or loss: more may have been lost before it */
    int64_t               now_ns, reach_ns; /* start of the last record; how far a block of readings reaches, INT64_MIN: none */
    int64_t               last_mark_ns;    /* of any mark; INT64_MIN: none */
    int64_t               marks_ns[MARKS_KEPT]; /* of the last ones, in a ring */
    uint32_t              mark_count;
    int64_t               answer_none_ns;  /* how long silence is waited for */
    const struct parameter **values;       /* of all rules, one list after the other */
    struct window        *windows;         /* the same as windows of time */
    uint32_t              values_at[RULES_MAX];
    struct wake_list      by_ask[SET_GROUPS][MESSAGE_INDEXES], by_talk[SET_GROUPS][MESSAGE_INDEXES];
    /* the subject in hand: what failed on it */
    bool                  any_failed;
    uint64_t              failed_frame; /* of the event at which the last of them failed */
    struct rule_set       failed;
    uint16_t              failed_at[RULES_MAX]; /* positions 1..15; bit 0: the whole subject */
    bool                  must_failed, must_undecided, must_passed;
    unsigned              volt_pieces;     /* in use by all ports' medians */
    bool                  no_memory;
#ifdef PORTASSAY_MUTANTS
    struct mutant         mutant;
    struct parameter      moved;  /* the limit that was moved */
#endif
};

bool engine_sort_rules(struct engine *e); /* wake lists; false: no memory */
bool engine_take_parameters(struct engine *e); /* of every rule, as overridden: judge_time.c; false: no memory */
uint32_t engine_wants(const struct engine *e);
struct wake_list engine_list(const struct engine *e, const struct event *event);

struct port_book *engine_book(struct engine *e, const struct port *p);
void engine_wake(struct engine *e, struct port_book *b, const struct event *event, struct wake_list list,
                 const struct held_offer *held);
void engine_new_subject(struct engine *e);
void engine_wake_ask(struct engine *e, struct port_book *b, const struct event *event, const struct ask *ask);

/* wake_lists.c: is this message one of those that the row names? */
bool wakes_on_index(const struct rule *r, unsigned index);

/* plain.c */
bool message_plain(const struct engine *e, const struct port *p, const struct speech *s);
bool request_plain(const struct engine *e, const struct port *p, const struct request *q);
uint64_t plain_passes(const struct port_book *b, const struct rule *r); /* counted without a look */

/* origin.c */
enum reset_origin origin_of_reset(struct port_book *b, const struct event *event);

/* Rules that ask for this kind of section. */
void engine_wake_section(struct engine *e, struct port_book *b, const struct event *event, const struct section *s);

/* volts.c */
/* Rows of a record that lie before t_ns; INT64_MAX: all. */
unsigned readings_before(const struct record *r, int64_t t_ns);
void readings_take(struct engine *e, struct port_book *b, const struct record *r);
/* Rows before t_ns are told to those that read; INT64_MAX: all of them. */
void readings_pass(struct engine *e, struct port_book *b, int64_t t_ns);

/* offer_book.c */
void offers_hold(struct engine *e, struct port_book *b, const struct event *event);
void offers_present(struct port_book *b, const struct event *event);
void offers_agree(struct port_book *b);
void offers_reset(struct port_book *b);
void offers_settle(struct engine *e, struct port_book *b, const struct event *event);

/* outcome.c */
bool engine_inside_window(const struct engine *e, int64_t t_ns);
enum party engine_party(const struct engine *e, const struct port *p, unsigned whom, unsigned player);
void engine_count_failure(struct engine *e, struct port_book *b, unsigned rule, const struct finding *f);
void engine_count_undecided(struct engine *e, struct port_book *b, unsigned rule, const struct finding *f);
void engine_tell_late(struct engine *e, struct port_book *b);
/* What the port's readings are too far apart for; false: nothing. */
bool engine_too_coarse(const struct engine *e, const struct port_book *b, unsigned rule);
/* silence.c */
void silence_pass_packet(struct engine *e, struct port_book *b, const struct record *r); /* once the port model has taken it */
void silence_lose(struct engine *e, struct port_book *b);   /* EVENT_LOSS */
void silence_detach(struct port_book *b);                   /* EVENT_DETACH */
void silence_end(struct engine *e, struct port_book *b, int64_t end_ns);
bool silence_hold(const struct judge *j, const struct finding *f, unsigned player); /* false: nothing to wait for, or no such failure */
uint16_t engine_missing(const struct engine *e, const struct port *p);
