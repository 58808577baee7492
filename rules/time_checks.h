/*
 * rules/time_checks.h - the checks of time.* that no packet by itself settles, which of its sentences each may say, and the order of
 * its parameters. For the table in time_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"

/* A time against a window that has a high side only, or a low side only: nothing is said of it twice. */
void time_at_most(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause gap);
/* Whoever waits long enough may have done so from something else on that was missed: then a pass is doubtful, a fail is not. */
void time_at_least(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause gap);
/* May a message on that ordered set have been missed since that frame, which ended at end_ns? */
enum cause time_gap(const struct port *p, unsigned set, uint64_t frame, int64_t end_ns);
/* A failure before, since the port last began anew, settles it (silenced_by). */
bool time_silenced(const struct judge *j);

/* time_answers.c */
enum { ANSWER_LATE, ANSWER_LATE_RESET };
enum { ANSWER_MOST, ANSWER_PATIENCE }; /* source-response: from the second on tSenderResponse */
enum { VDM_ANSWER, VDM_ENTER, VDM_EXIT };
enum { PATIENCE_ENDED, PATIENCE_SHORT };
struct busy { struct kept kept; uint32_t word; uint8_t set, player; };
enum { BUSY_SLOTS = 3 }; /* SOP, SOP', SOP'' */
struct vdm_busy { struct busy slot[BUSY_SLOTS]; };
enum { AGAIN_NONE, AGAIN_EARLY };
void time_check_receiver_response(struct judge *j, const struct event *e);
void time_check_source_response(struct judge *j, const struct event *e);
void time_check_first_request(struct judge *j, const struct event *e);
void time_check_sender_patience(struct judge *j, const struct event *e);
void time_check_chunk_request(struct judge *j, const struct event *e);
void time_check_chunk_response(struct judge *j, const struct event *e);
void time_check_vdm_response(struct judge *j, const struct event *e);
void time_check_vdm_busy(struct judge *j, const struct event *e);

/* time_again.c: what is said again, or after nobody heard */
enum { INTERVAL_LATE, INTERVAL_EARLY };
enum { GAVE_UP };
enum { GIVE_UP_COUNT, GIVE_UP_END };
struct give_up {
    bool     fresh;      /* attach or Hard Reset, no capabilities since */
    bool     open, gap;
    uint32_t count;
    uint64_t frame;      /* of the last capabilities */
};
struct after_wait { struct kept wait; };
enum { SOFT_LATE };
enum { SOFT_RESET_MOST, SOFT_RESET_RECEIVE };
void time_check_caps_interval(struct judge *j, const struct event *e);
void time_check_caps_give_up(struct judge *j, const struct event *e);
void time_check_request_after_wait(struct judge *j, const struct event *e);
void time_check_soft_reset(struct judge *j, const struct event *e);
void time_check_discover_identity(struct judge *j, const struct event *e);

/* time_power.c */
enum { READY_LATE, READY_UNKNOWN };
enum { READY_MOST, READY_MOST_OTHER };
enum { STEP_MOST, STEP_SIZE, STEP_MOST_ENTRY }; /* small steps: the first two */
enum { RESET_LATE, RESET_EARLY };
enum { WAIT_SPR, WAIT_EPR, WAIT_RESET };
void time_check_ready_spr(struct judge *j, const struct event *e);
void time_check_ready_epr(struct judge *j, const struct event *e);
void time_check_pps_small(struct judge *j, const struct event *e);
void time_check_pps_large(struct judge *j, const struct event *e);
void time_check_avs_small(struct judge *j, const struct event *e);
void time_check_avs_large(struct judge *j, const struct event *e);
void time_check_ps_transition(struct judge *j, const struct event *e);

/* time_alive.c */
enum { ALIVE_LATE, ALIVE_NEVER };
struct pps_alive {
    bool        active;   /* a PPS contract is in force */
    bool        have;     /* a Request in it, or for it */
    struct edge end;      /* of the last Request */
    uint64_t    frame;    /* its last copy */
    int64_t     t_ns, anew_ns;
};
enum { SILENCE_LATE, SILENCE_EARLY, SILENCE_NEVER };
enum { PPS_TIMEOUT, PPS_RESET, PPS_SILENCE, PPS_SAME };
enum { EARLY_KEPT = 4 };
struct pps_timeout {
    bool        active, have, told;
    struct edge done;     /* last Request acknowledged */
    uint64_t    frame;
    int64_t     t_ns, anew_ns;
    int64_t     early_ns[EARLY_KEPT]; /* delays of resets that came before their time */
    unsigned    early_count;
};
struct epr_alive { bool on; };
enum { EPR_TIMEOUT, EPR_RESET, EPR_ALIVE };
/* A message from whose end on the sink is waited for. */
struct sink_wait { uint64_t frame; int64_t t_ns, end_ns; struct edge end; };
struct epr_timeout {
    bool             on;
    uint64_t         told;   /* last message of the silence that was told */
    struct sink_wait since;  /* EPR mode entered, or the last PS_RDY: until then the sink had to wait itself */
};
void time_check_pps_keepalive(struct judge *j, const struct event *e);
void time_check_pps_timeout(struct judge *j, const struct event *e);
void time_check_epr_keepalive(struct judge *j, const struct event *e);
void time_check_epr_timeout(struct judge *j, const struct event *e);

/* time_swaps.c */
enum { SWAP_LATE };
enum { SWAP_STEP_SPR, SWAP_STEP_EPR, SWAP_STEP_NEVER }; /* pr-swap-off */
enum { SWAP_ON, SWAP_ON_NEVER };
enum { FR_STEP, FR_COMPLETE, FR_NEVER };
enum { VCONN_ON, VCONN_NEVER };
struct swap_step_wait {
    struct kept from;        /* frame 0: none under way */
    uint8_t     old_source;  /* player */
    bool        epr, second; /* second: the old source is off */
};
enum { START_NONE, START_EARLY };
enum { DATA_RESET_LATE, DATA_RESET_NEVER };
enum { DATA_RESET_MOST, DATA_RESET_FAIL };
struct data_reset_wait { struct kept accept; uint8_t dfp; /* player */ };
enum { TX_LATE, TX_EARLY, TX_ALLOWED };
enum { TX_TIME, TX_ANSWER };
struct sink_tx {
    bool        seen, changed;  /* changed: rp came to be so inside the trace */
    uint8_t     rp;             /* as in CC_STATE */
    struct edge since;
};
void time_check_pr_swap_off(struct judge *j, const struct event *e);
void time_check_pr_swap_on(struct judge *j, const struct event *e);
void time_check_pr_swap_start(struct judge *j, const struct event *e);
void time_check_fr_swap(struct judge *j, const struct event *e);
void time_check_vconn_on(struct judge *j, const struct event *e);
void time_check_data_reset(struct judge *j, const struct event *e);
void time_check_sink_tx(struct judge *j, const struct event *e);
