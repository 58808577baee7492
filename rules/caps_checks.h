/*
 * rules/caps_checks.h - the checks of caps.*, and which of its sentences each may say. For the table in caps_rules.c alone.
 */
#pragma once
#include "rules/judge.h"
#include "rules/power_rules.h"

/*
 * The offer in hand (WAKE_OFFER_SETTLED), or NULL if this rule has no occasion on it: another revision, a revision that
 * was never agreed, or a rule that speaks for this one has failed on it.
 */
const struct held_offer *caps_held(struct judge *j);
/* Does the rule hold for this revision? Unknown counts as yes where the message itself is of R3.1 or later. */
bool caps_applies(const struct judge *j, unsigned agreed, const struct edition *edition, bool epr_message);
/* Starts an outcome about the source of an offer, in the frame of that offer. */
struct outcome caps_outcome(const struct judge *j, const struct offer *o, unsigned sentence);
void caps_pass(struct judge *j, const struct offer *o);
/* measured and limits in thousandths of unit; PARAMETER_NONE: none. */
void caps_measured(struct outcome *o, const char *unit, int64_t measured, int64_t low, int64_t high);

/* caps_form.c */
enum { FIRST_OTHER_KIND, FIRST_OTHER_VOLTAGE };
enum { COUNT_EPR };
enum { ORDER_KIND, ORDER_VOLTAGE };
enum { APDO_ORDER_KIND, APDO_ORDER_VOLTAGE };
enum { UNIQUE_TWICE };
enum { ZERO_WORD, ZERO_VOLTAGE, ZERO_AMOUNT };
enum { FIRST_ONLY_SET };
enum { RESERVED_SET, RESERVED_TYPE };
enum { REVISION_AUGMENTED };
enum { SPR_OVER_VOLTAGE, SPR_OVER_CURRENT, SPR_OVER_POWER };
enum { RANGE_ZERO, RANGE_TURNED };
enum { PPS_RANGE_LOW, PPS_RANGE_HIGH, PPS_RANGE_TURNED, PPS_RANGE_LOW_FAMILY };
void check_first_5v(struct judge *j, const struct event *e);
void check_count(struct judge *j, const struct event *e);
void check_order(struct judge *j, const struct event *e);
void check_apdo_order(struct judge *j, const struct event *e);
void check_unique_voltage(struct judge *j, const struct event *e);
void check_zero_object(struct judge *j, const struct event *e);
void check_first_only_flags(struct judge *j, const struct event *e);
void check_reserved_bits(struct judge *j, const struct event *e);
void check_apdo_in_revision(struct judge *j, const struct event *e);
void check_spr_limits(struct judge *j, const struct event *e);
void check_variable_range(struct judge *j, const struct event *e);
void check_battery_range(struct judge *j, const struct event *e);
void check_pps_range(struct judge *j, const struct event *e);
void check_sink_first_5v(struct judge *j, const struct event *e);
void check_sink_order(struct judge *j, const struct event *e);

/* caps_power.c */
enum { PPS_CURRENT_DECLARED, PPS_CURRENT_INFERRED };
enum { PPS_LIMITED_CLEAR, PPS_LIMITED_UNKNOWN };
enum { VOLTAGES_ONE, VOLTAGES_TWO, VOLTAGES_THREE };
enum { CURRENTS_DECLARED, CURRENTS_INFERRED };
enum { OVER_RATING_SPR, OVER_RATING_EPR };
enum { EXTENDED_RATING_MORE };
enum { SOURCE_INFO_REPORTED, SOURCE_INFO_LOST };
enum { AVS_MISSING };
void check_pps_current(struct judge *j, const struct event *e);
void check_pps_power_limited(struct judge *j, const struct event *e);
void check_power_rules_voltages(struct judge *j, const struct event *e);
void check_power_rules_currents(struct judge *j, const struct event *e);
void check_over_rating(struct judge *j, const struct event *e);
void check_agrees_with_extended_rating(struct judge *j, const struct event *e);
void check_agrees_with_source_info(struct judge *j, const struct event *e);
void check_avs_required(struct judge *j, const struct event *e);

/* caps_epr.c */
enum { OVER_3A_CABLE };
enum { EPR_CABLE_MARKS, EPR_CABLE_UNKNOWN };
enum { EPR_POSITION_LOW, EPR_POSITION_CHANGED, EPR_POSITION_HIGH };
enum { EPR_PADDING_BETWEEN, EPR_PADDING_EPR };
enum { AVS_EPR_MIN, AVS_EPR_MAX, AVS_EPR_PDP, AVS_SPR_RISING, AVS_SPR_20V };
enum { EPR_FLAG_OFFER, EPR_FLAG_ENTRY, EPR_FLAG_UNKNOWN };
enum { PEAK_BLOCK_ZERO };
void check_over_3a_needs_cable(struct judge *j, const struct event *e);
void check_epr_needs_cable(struct judge *j, const struct event *e);
void check_epr_positions(struct judge *j, const struct event *e);
void check_epr_padding(struct judge *j, const struct event *e);
void check_avs_range(struct judge *j, const struct event *e);
void check_epr_flag(struct judge *j, const struct event *e);
void check_peak_current(struct judge *j, const struct event *e);
/* What epr-flag remembers of a port: it is judged once an attach, and told at its end: the entry into EPR mode may speak for it. */
struct epr_flag_state { bool done, noted; uint8_t verdict, cause; struct outcome out; };

/* caps_again.c */
enum { CHANGED_WORDS, CHANGED_LOST, CHANGED_BEGINNING };
enum { REPEATS_MANY };
/* What each of the two remembers of a port. */
struct changed_state { bool seen, lost_since; };
enum { REPEATS_KEPT = 16 };
struct repeats_state {
    int64_t  t_ns[REPEATS_KEPT]; /* of the last repeats, in a ring */
    uint64_t frame[REPEATS_KEPT];
    unsigned count;              /* kept */
    unsigned next;
    bool     told;               /* this run has been found too long already */
};
void check_changed_unannounced(struct judge *j, const struct event *e);
void check_repeats_identical(struct judge *j, const struct event *e);
