/*
 * rules/exchange_checks.h - the checks of exchange.* that rest on questions and answers (rules/talk.h), which of its sentences each
 * may say, and the order of its parameters. For the table in exchange_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"

/*
 * exchange_answers.c. A question is unanswered if nothing came for answer_none_ms, or until it was given up (something else asked, a
 * reset) at a time when the shortest patience of any edition, tSenderResponse, was over.
 */
enum { ANSWER_PATIENCE, ANSWER_NONE, ANSWER_CROSSING /* exchange.soft-reset-accept alone */ };
enum { SAYS_SILENT, SAYS_GIVEN_UP, SAYS_CUT_SHORT, SAYS_REFUSED, SAYS_RESET };
enum { SAYS_KIND, SAYS_KIND_SINK, SAYS_KIND_SOURCE };
void exchange_check_answer(struct judge *j, const struct event *e);
void exchange_check_answer_kind(struct judge *j, const struct event *e);
void exchange_check_request_answered(struct judge *j, const struct event *e);
void exchange_check_request_after_caps(struct judge *j, const struct event *e);
void exchange_check_source_caps_answer(struct judge *j, const struct event *e);
void exchange_check_not_supported(struct judge *j, const struct event *e);
void exchange_check_soft_reset_accept(struct judge *j, const struct event *e);

/* Was the question heard, and did nothing come of it? The rule's first parameter is tSenderResponse. */
enum silence { SILENCE_NONE, SILENCE_LONG, SILENCE_GIVEN_UP };
enum silence ask_silence(const struct judge *j, const struct port *p, const struct ask *a, struct span *waited);

/* exchange_order.c */
enum { UNEXPECTED_PATIENCE, UNEXPECTED_NONE };
enum { SAYS_UNEXPECTED, SAYS_UNEXPECTED_CHUNK, SAYS_UNEXPECTED_TWICE };
enum { ONE_PATIENCE, ONE_NONE, ONE_READY_SPR, ONE_READY_EPR, ONE_VCONN, ONE_CROSSING };
enum { SAYS_PARTNER_WAITS, SAYS_OWN_OPEN, SAYS_POWER_OPEN, SAYS_VCONN_OPEN, SAYS_MAYBE_OPEN };
enum { SAYS_TX_NOT_OK, SAYS_TX_UNSURE };
enum { SINK_TX_STEADY, SINK_TX_ANSWER };
struct unexpected_state {
    uint64_t data_reset_frame;   /* an accepted Data_Reset that is not complete; 0: none */
    uint64_t entry_frame;        /* EPR_Mode Enter Acknowledged that is not ended */
    bool     sink_caps_seen[2];  /* by player: unasked Sink_Capabilities came */
};
struct sink_tx_state {
    uint8_t  rp;                 /* 0: not known */
    uint64_t frame;
    int64_t  since_ns;
};
void exchange_check_unexpected(struct judge *j, const struct event *e);
void exchange_check_one_at_a_time(struct judge *j, const struct event *e);
void exchange_check_sink_tx(struct judge *j, const struct event *e);

/* exchange_ready.c */
enum { READY_SPR, READY_EPR };
enum { SAYS_READY_LATE, SAYS_READY_MISSING };
struct ready_state {
    uint64_t accept_frame;       /* of an accepted Request whose PS_RDY is waited for; 0: none */
    uint64_t request_frame;
    int64_t  t_ns, end_ns;       /* of the Accept */
    bool     epr, epr_unknown;
};
void exchange_check_ready(struct judge *j, const struct event *e);
enum { SAYS_READY_UNASKED };
struct ready_unasked_state {
    uint64_t ready_frame;        /* last PS_RDY */
    uint64_t goto_min_frame;     /* last GotoMin without PS_RDY since; 0: none */
};
void exchange_check_ready_unasked(struct judge *j, const struct event *e);
enum { WAITS_MOST };
enum { SAYS_WAITS };
struct waits_state {
    unsigned count;
    uint32_t word;               /* of the Request */
    uint64_t first_frame, last_frame;
    int64_t  first_ns, last_ns;
    uint8_t  player;             /* of the source */
    bool     told, lost;
};
void exchange_check_wait_endless(struct judge *j, const struct event *e);
enum { RESET_PATIENCE, RESET_READY_SPR = 6 /* RESET_PATIENCE and on: tSenderResponse in its editions */, RESET_READY_EPR, RESET_SIGNAL, RESET_FOLLOWS };
enum { SAYS_NO_RESET, SAYS_NO_RESET_READY };
struct no_reset_state {
    struct ready_state ready;
    /* What calls for a Hard Reset; frame 0: nothing. */
    uint64_t frame, last_frame;
    int64_t  t_ns, end_ns, due_ns;
    uint8_t  side, player, index;
};
void exchange_check_no_reset(struct judge *j, const struct event *e);
