/*
 * rules/swap_checks.h - the checks of swap.*, which of its sentences each may say, and the order of its parameters. For the table
 * in swap_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"
#include "rules/volts.h"

/* swap.pr-order, swap.fr-order: two PS_RDY, and after a PR_Swap capabilities. */
enum { ORDER_WRONG, ORDER_OLD_MISSING, ORDER_NEW_MISSING, ORDER_CAPS_MISSING, ORDER_BY_SOURCE };
enum { ORDER_STEP, ORDER_OFF_SPR, ORDER_OFF_EPR, ORDER_ON, ORDER_CAPS };
enum swap_step { STEP_NONE, STEP_OLD_OFF, STEP_NEW_ON, STEP_CAPS };
struct power_swap {
    uint8_t     step;        /* enum swap_step that comes next */
    uint8_t     old_source;  /* player */
    bool        epr;         /* the longer patience of EPR mode holds */
    bool        epr_unknown;
    uint8_t     gap;         /* enum cause: something may have been missed between the question and its Accept */
    uint64_t    asked_frame;
    int64_t     t_ns;
    struct kept last;        /* the last step that was taken */
};
void swap_check_pr_order(struct judge *j, const struct event *e);
void swap_check_fr_order(struct judge *j, const struct event *e);

/* swap.dr-order */
enum { DATA_ROLE_KEPT };
struct data_swap {
    bool     open, failed, seen[2], dfp[2]; /* dfp: what each player has to show */
    uint64_t asked_frame, accept_frame;
    int64_t  t_ns, end_ns;
    uint8_t  gap;            /* enum cause, as of struct power_swap */
};
void swap_check_dr_order(struct judge *j, const struct event *e);

/* swap.vconn-order */
enum { VCONN_LATE, VCONN_WRONG, VCONN_MISSING };
enum { VCONN_WAIT };
struct vconn_swap {
    struct kept accept;      /* frame 0: none under way */
    uint64_t    asked_frame;
    int64_t     t_ns;
    bool        overdue;
    uint64_t    swapped_frame; /* the last VCONN_Swap since the attach or Hard Reset was completed: who sources VCONN is seen; 0: none was */
    uint8_t     new_player;  /* who is to source VCONN; PLAYER_UNKNOWN: not known */
};
void swap_check_vconn_order(struct judge *j, const struct event *e);

/* swap.pr-vbus-off (swap_volts.c) */
enum { OFF_STILL_ON, OFF_UNSURE, OFF_UNREAD };
enum { OFF_LEVEL };
enum off_phase { OFF_IDLE, OFF_ACCEPTED, OFF_READY };
/* The readings of 2 ms, those of 1/16 ms together: what is asked for at PS_RDY is the mean about a moment that was not known before. */
enum { OFF_HEAPS = 40 };
struct reading_heap { int64_t from_ns, sum_uv, sum_ua; uint64_t frame; uint32_t count, amps; };
struct vbus_off {
    uint8_t        phase;     /* enum off_phase */
    bool           was_low;   /* since the Accept: surely below 0.8 V once */
    bool           raised;    /* ... and surely above it after that: by the new source */
    uint8_t        player;    /* the old source */
    uint64_t       asked_frame, ready_frame;
    int64_t        ready_ns;
    struct reading before;    /* the last reading before PS_RDY; frame 0: none */
    struct reading after;     /* the first one since; frame 0: none yet */
    struct reading_heap heaps[OFF_HEAPS];
    uint8_t        newest;    /* of them */
};
void swap_check_vbus_off(struct judge *j, const struct event *e);

/* swap.fr-vbus (swap_volts.c) */
enum { DIP_LONG, DIP_UNSURE, DIP_UNREAD };
enum { DIP_MOST, DIP_LEVEL };
struct fr_dip {
    uint64_t asked_frame;     /* 0: no fast swap under way */
    int64_t  t_ns;
    uint8_t  player;          /* the new source */
    unsigned read;            /* readings in it */
    bool     unsure;
    int64_t  above_ns;        /* last reading surely above; INT64_MIN: none */
    int64_t  below_ns;        /* first and last of the readings surely below since; INT64_MIN: none */
    int64_t  below_last_ns, last_ns;
    uint64_t below_frame;
};
void swap_check_fr_vbus(struct judge *j, const struct event *e);

/* swap.dual-role-flag */
enum { DUAL_ROLE_SOURCE, DUAL_ROLE_SINK };
struct dual_role { uint64_t frame[2]; bool set[2]; }; /* by player: the last capabilities that say it; 0: none */
void swap_check_dual_role(struct judge *j, const struct event *e);
