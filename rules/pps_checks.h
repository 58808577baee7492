/*
 * rules/pps_checks.h - the checks of pps.*, which of its sentences each may say, and the order of its parameters. For the table in
 * pps_rules.c alone.
 */
#pragma once
#include "rules/volt_checks.h"

/* pps.window, pps.min-voltage, pps.max-voltage: sentences of WINDOW_... */
enum { PPS_TRANSITION };
void pps_check_window(struct judge *j, const struct event *e);
void pps_check_min(struct judge *j, const struct event *e);
void pps_check_max(struct judge *j, const struct event *e);

/* pps.step-accuracy, pps.monotonic */
enum { STEP_OFF, STEP_BLUNT, STEP_UNSURE };
struct operating_point { uint64_t frame; uint32_t pdo_word; uint8_t position; int32_t mv; double mean_uv; int64_t u_uv; int32_t least_ua, most_ua; bool amps; };
enum { STEP_RUN = 5 };
struct steps {
    struct operating_point last;
    int     way;              /* of the run: 1, -1 */
    unsigned count;           /* accepted requests in the run */
    struct { bool off, blunt; uint64_t frame, before_frame; int64_t t_ns, asked_uv, seen_uv, u_uv; } run; /* the first that is off */
    int64_t from_ns;
    uint8_t player;
    bool    untied;           /* readings may be of another operating point */
};
void pps_check_step(struct judge *j, const struct event *e);
enum { TURN_WRONG, TURN_BLUNT };
void pps_check_monotonic(struct judge *j, const struct event *e);

/* pps.current-limit, pps.limits-early */
enum { CURRENT_BEYOND, CURRENT_UNSURE };
struct limited { bool waits; struct rail_steady steady; };
void pps_check_limit(struct judge *j, const struct event *e);
void pps_check_early(struct judge *j, const struct event *e);

/* pps.limit-no-reset */
enum { TRIP_RESET, TRIP_OFF, TRIP_UNKNOWN };
enum { TRIP_WITHIN };
struct trip { bool limiting; int64_t t_ns; uint64_t frame, contract_frame; uint8_t player; };
void pps_check_trip(struct judge *j, const struct event *e);

/* pps.limit-flag */
enum { FLAG_CLEAR, FLAG_SET, FLAG_VOLTS, FLAG_AMPS, FLAG_UNREAD, FLAG_UNSURE };
void pps_check_flag(struct judge *j, const struct event *e);

/* pps.timeout-action */
enum { ACTION_WRONG, ACTION_OFF };
enum { ACTION_AFTER };
struct silence { bool held; uint64_t frame; int64_t begin_ns, t_ns; }; /* the last Request: its begin and end */
void pps_check_action(struct judge *j, const struct event *e);
