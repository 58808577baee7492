/*
 * rules/volt_checks.h - the checks of volt.*, which of its sentences each may say, and the order of its parameters. For the table
 * in volt_rules.c alone, but for what volt_tell.c lends to the other groups that look at VBUS.
 */
#pragma once
#include "rules/rail.h"
#include "rules/sequence.h"

/* volt_tell.c: outcomes about a reading. */
/* values[0] = the reading in mV, [1], [2] = the limits (0 where there is none); measured, limits, uncertainty, probability. */
struct outcome volt_outcome(const struct judge *j, const struct rail_value *v, int64_t low_uv, int64_t high_uv, int64_t u_uv,
                            unsigned player, uint64_t opened_frame);
struct volt_says { uint8_t below, above, unsure, few; };
/* A fit against its limits: fails, passes, or is undecided. doubt: turns a failure into undecided. needs: fewer values than this settle nothing. */
void volt_judge_fit(struct judge *j, const struct rail_fit *f, const struct rail_steady *s, const struct volt_says *says,
                    const struct parameter *parameter, enum cause doubt, uint64_t needs);
/* May readings of from..to be of before or after what holds, since packets and readings go by clocks of their own? */
bool volt_untied(const struct judge *j, const struct rail_steady *s, int64_t from_ns, int64_t to_ns);
/* Does a finding of a rule that silences this one speak for the value? */
bool volt_spoken_for(const struct judge *j, const struct rail_steady *s, const struct rail_value *v);
/* The static values that W is held against. */
const struct rail_fit *volt_values(const struct judge *j, const struct rail_steady *s);
/* Nothing to go by: undecided, about the contract or change that began with that frame. */
void volt_undecided(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, unsigned sentence, enum cause cause);
/* The same for want of readings that are close enough. */
void volt_sparse(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, unsigned sentence, int64_t spacing_ns);

/* volt.safe5v-before-contract, volt.contract-window, volt.transient-window, volt.cold-socket */
enum { WINDOW_BELOW, WINDOW_ABOVE, WINDOW_UNSURE, WINDOW_FEW };
enum { WINDOW_FIXED, WINDOW_VARIABLE, WINDOW_BATTERY, WINDOW_AVS, WINDOW_VALID, WINDOW_STATIC, WINDOW_TRANSIENT, WINDOW_STEP,
       WINDOW_TRANSITION };
void volt_check_safe5v(struct judge *j, const struct event *e);
void volt_check_contract(struct judge *j, const struct event *e);
void volt_check_transient(struct judge *j, const struct event *e);
void volt_check_cold(struct judge *j, const struct event *e);

/* volt.ready-inside-window */
enum { READY_OUTSIDE, READY_UNSURE, READY_UNREAD };
/* A failure that is told once it is known whether VBUS ever came to its level. */
struct volt_held { struct outcome outcome; int64_t since_ns; bool held; };
void volt_hold(struct judge *j, const struct port *p, const struct outcome *o, int64_t since_ns);
void volt_release(struct judge *j, const struct port *p);
void volt_check_ready(struct judge *j, const struct event *e);

/* volt.level-not-reached */
enum { REACH_NEVER, REACH_UNREAD, REACH_UNSURE };
enum { REACH_WITHIN, REACH_FIXED };
void volt_check_reached(struct judge *j, const struct event *e);

/* volt.overshoot, volt.undershoot, volt.slew-up, volt.slew-down, volt.monotonic, volt.negative */
enum { PEAK_BEYOND, PEAK_UNSURE, PEAK_SPARSE };
enum { PEAK_5V, PEAK_VALID, PEAK_FIXED };
void volt_check_overshoot(struct judge *j, const struct event *e);
void volt_check_undershoot(struct judge *j, const struct event *e);
enum { SLEW_FAST, SLEW_SPARSE, SLEW_UNSURE };
enum { SLEW_LIMIT };
void volt_check_slew_up(struct judge *j, const struct event *e);
void volt_check_slew_down(struct judge *j, const struct event *e);
enum { MONOTONIC_BACK, MONOTONIC_SPARSE, MONOTONIC_UNSURE };
void volt_check_monotonic(struct judge *j, const struct event *e);
enum { NEGATIVE_BELOW, NEGATIVE_UNSURE };
enum { NEGATIVE_LIMIT };
void volt_check_negative(struct judge *j, const struct event *e);

/* volt.safe0v-after-hard-reset, volt.safe0v-after-detach */
enum { SAFE0V_NEVER, SAFE0V_UNREAD, SAFE0V_UNSURE };
enum { SAFE0V_LEVEL, SAFE0V_RESPONSE, SAFE0V_FALL, SAFE0V_WATCH };
void volt_check_safe0v_reset(struct judge *j, const struct event *e);
void volt_check_safe0v_detach(struct judge *j, const struct event *e);

/* volt.unasked-change, volt.drop-under-load */
enum { UNASKED_LEVEL, UNASKED_EARLY, UNASKED_UNSURE };
void volt_check_unasked(struct judge *j, const struct event *e);
enum { DROP_FOR };
enum { DROP_LONG, DROP_UNSURE, DROP_SPARSE };
void volt_check_drop(struct judge *j, const struct event *e);

/* volt.sink-over-contract, volt.reverse-current */
enum { LOAD_OVER, LOAD_UNSURE };
void volt_check_over(struct judge *j, const struct event *e);
void volt_check_reverse(struct judge *j, const struct event *e);
