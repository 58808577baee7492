/*
 * rules/reset_checks.h - the checks of reset.*, which of its sentences each may say, and the order of its parameters. For the
 * table in reset_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"
#include "rules/volts.h"

/* reset_volts.c */

/* reset.hard-reset-vbus-cycle */
enum { CYCLE_LATE, CYCLE_MISSING };
enum { CYCLE_RECOVER, CYCLE_TURN_ON, CYCLE_WATCH, CYCLE_OFF, CYCLE_ON };
enum cycle_phase { CYCLE_IDLE, CYCLE_FALLING, CYCLE_RETURNING };
struct cycle_state {
    uint8_t              phase;      /* enum cycle_phase */
    struct wire          reset;
    struct volt_crossing off, on;
    struct edge          off_edge;
    bool                 unsure;     /* since VBUS went below: a reading that may have been vSafe5V, and may not */
};
void reset_check_cycle(struct judge *j, const struct event *e);

/* reset.soft-reset-keeps-vbus */
enum { KEEPS_BELOW, KEEPS_ABOVE, KEEPS_UNSURE, KEEPS_UNREAD };
enum { KEEPS_WINDOW };
struct keeps_state {
    uint64_t           accept_frame, reset_frame; /* accept_frame 0: nothing is watched */
    int64_t            t_ns;
    struct volt_window window;
    int32_t            ma;
    uint64_t           readings;
    bool               unsure, failed;
    struct reading     beyond;       /* the first reading outside; frame 0: none */
    struct reading     previous;     /* ... of which it is not certain yet that it is one; frame 0: none */
};
void reset_check_keeps_vbus(struct judge *j, const struct event *e);

/* reset.unexplained */
enum { UNEXPLAINED_HARD, UNEXPLAINED_SOFT };
enum { UNEXPLAINED_CAUSE, UNEXPLAINED_CAUSE_PPS, UNEXPLAINED_OVERLOAD, UNEXPLAINED_SILENCE, UNEXPLAINED_SAME, UNEXPLAINED_READY, UNEXPLAINED_WINDOW };
struct causeless {
    uint64_t frame, contract_frame; /* frame 0: none */
    int64_t  t_ns, since_ns;
    int64_t  silence_ns;            /* since the last PPS Request, 0: no matter */
    bool     soft, waited;          /* waited: for a PS_RDY that did not come */
    uint8_t  gap;                   /* enum cause */
};
struct unexplained_state {
    struct overload  overload;
    int64_t          outside_ns, plug_ns; /* VBUS outside its window; an attach or detach of this port: 0 never */
    struct causeless reset;               /* without a cause so far: what failed before it may still turn out */
    struct causeless impatient;           /* one that a second after the same silence explains: time.pps-timeout */
    bool             impatient_again;     /* such a second came */
};
void reset_check_unexplained(struct judge *j, const struct event *e);

/* reset_checks.c */

/* reset.restart-with-caps */
enum { RESTART_LATE, RESTART_WRONG, RESTART_MISSING };
enum { RESTART_LIMIT };
struct restart_state {
    struct wire reset;    /* frame 0: none waited for */
    bool        sink_spoke, overdue;
};
void reset_check_restart(struct judge *j, const struct event *e);

/* reset.soft-reset-renegotiates */
enum { ANEW_LATE, ANEW_WRONG, ANEW_MISSING };
enum { ANEW_WAIT };
struct anew_state {
    struct kept accept;   /* frame 0: none waited for */
    uint64_t    reset_frame;
    int64_t     t_ns;
    bool        overdue, sink_asked;
    uint8_t     gap;      /* enum cause: the Accept may belong to something that was missed since the Soft_Reset */
};
void reset_check_anew(struct judge *j, const struct event *e);

/* reset.contract-after-reset */
enum { CONTRACT_LATE, CONTRACT_MISSING };
enum { CONTRACT_LIMIT };
struct contract_state {
    struct wire reset;    /* the first of a run; frame 0: none waited for */
    bool        sink_spoke, overdue;
};
void reset_check_contract(struct judge *j, const struct event *e);

/* reset.repeated */
enum { REPEATED_TOO_OFTEN };
enum { REPEATED_COUNT };
struct repeated_state {
    unsigned count;
    uint64_t first_frame, frames[3];
    int64_t  first_ns;
    bool     told;
};
void reset_check_repeated(struct judge *j, const struct event *e);

/* reset.cable-reset */
enum { CABLE_RESET_UNSURE, CABLE_RESET_BY_SINK };
enum { CABLE_RESET_AFTER };
struct cable_reset_state { struct wire reset; };
void reset_check_cable(struct judge *j, const struct event *e);
