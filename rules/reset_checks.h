/*
 * rules/reset_checks.h - the checks of reset.*, which of its sentences each may say, and the order of its parameters. For the
 * table in reset_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"

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
