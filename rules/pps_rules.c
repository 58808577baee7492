/* The rules about programmable supplies. */
#include "rules/groups.h"
#include "rules/pps_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define VBUS_READ "VBUS was not read there, or stands too near the limit."
#define AMPS_READ "The current was not read there, or stands too near the limit."
#define A_CONTRACT EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CONTRACT)
#define BENCH_POINT "Ask for a programmable voltage "
#define BENCH_LIMIT "Ask for a programmable voltage at 1 A or more and raise the load slowly beyond that, with VBUS and IBUS recorded."
#define LIMITING "Where it limits its current (the current has come to the one asked for, within iPpsCLNew, and VBUS is below the window) "

static const char *const says_window[] = {
    [WINDOW_BELOW] = "VBUS is at {0:V}, below {1:V}.",
    [WINDOW_ABOVE] = "VBUS is at {0:V}, above {2:V}.",
    [WINDOW_UNSURE] = "VBUS at {0:V} is too near the limit ({1:V} to {2:V}) to tell.",
    [WINDOW_FEW] = "VBUS was not read at this operating point.",
    NULL,
};
static const char *const says_step[] = {
    [STEP_OFF] = "A step of {1} mV was asked for; VBUS made one of {0} mV.",
    [STEP_BLUNT] = "A step of {1} mV was asked for; the readings are too noisy to tell.",
    [STEP_UNSURE] = "A step of {1} mV was asked for; VBUS made one of {0} mV, too near what is tolerated to tell.",
    NULL,
};
static const char *const says_turn[] = {
    [TURN_WRONG] = "A step of {1} mV was asked for; VBUS went the other way, by {0} mV.",
    [TURN_BLUNT] = "A step of {1} mV was asked for; the readings are too noisy to tell which way VBUS went.",
    NULL,
};
static const char *const says_limit[] = {
    [CURRENT_BEYOND] = "{0:A} flow, with {3:A} asked for as the limit; {1:A} is the most.",
    [CURRENT_UNSURE] = "{0:A} flow, with {3:A} asked for as the limit, too near {1:A} to tell.",
    NULL,
};
static const char *const says_early[] = {
    [CURRENT_BEYOND] = "VBUS sags to {2:V} at {0:A} already; with {3:A} asked for it may not before {1:A}.",
    [CURRENT_UNSURE] = "VBUS sags to {2:V} at {0:A}, too near {1:A} to tell whether that is its current limit.",
    NULL,
};
static const char *const says_trip[] = {
    [TRIP_RESET] = "While its current was limited, a Hard Reset came within {5:ms}.",
    [TRIP_OFF] = "While its current was limited, the supply switched off within {5:ms}.",
    NULL,
};
static const char *const says_flag[] = {
    [FLAG_CLEAR] = "PPS_Status says that the current is not limited; at {1:V} and {3:A} it is.",
    [FLAG_SET] = "PPS_Status says that the current is limited; at {3:A} it is not.",
    [FLAG_VOLTS] = "PPS_Status says {0:V}; VBUS is at {1:V}.",
    [FLAG_AMPS] = "PPS_Status says {2:A}; {3:A} flow.",
    [FLAG_UNREAD] = "In the 50 ms before PPS_Status VBUS and the current were not read often enough.",
    [FLAG_UNSURE] = "PPS_Status says {0:V} and {2:A}; VBUS is at {1:V}, and {3:A} flow: too near what is tolerated to tell.",
    NULL,
};
static const char *const says_action[] = {
    [ACTION_WRONG] = "After {5:s} without a Request the source sent {0:m} instead of a Hard Reset.",
    [ACTION_OFF] = "After {5:s} without a Request the source took VBUS away without a Hard Reset.",
    NULL,
};

#define STATIC_PARAMETERS "static_ms", "tSrcTransient", "load_step_ma"
static const char *const window_parameters[] = { [PPS_TRANSITION] = "transition_ms", "vPpsNew", STATIC_PARAMETERS, NULL };
static const char *const step_parameters[] = { "pps_step_tol_mv", NULL };
static const char *const limit_parameters[] = { "iPpsCLNew@to-3A", "iPpsCLNew@above-3A", "vPpsShutdown", NULL };
static const char *const flag_parameters[] = { "iPpsCLNew@to-3A", "iPpsCLNew@above-3A", NULL };
static const char *const trip_parameters[] = { [TRIP_WITHIN] = "pps_trip_s", NULL };
static const char *const action_parameters[] = { [ACTION_AFTER] = "tPPSTimeout", NULL };

static const char *const silences_window[] = {
    "volt.unasked-change", "volt.level-not-reached", "epr.high-voltage-outside",
    "reset.soft-reset-keeps-vbus", NULL,
};
static const char *const silences_end[] = { "volt.level-not-reached", "epr.high-voltage-outside", "reset.soft-reset-keeps-vbus", NULL };
static const char *const silences_early[] = { "volt.level-not-reached", NULL };
static const char *const silences_limit[] = { "pps.limit-no-reset", NULL };
static const char *const silences_action[] = { "time.pps-timeout", NULL };

const struct rule pps_rules[] = {
    {
        .id = "pps.window",
        .title = "A programmable supply gives the voltage that was asked for",
        .requirement = "At each operating point more than 100 mV from both ends of its object, from {transition_ms:most} after PS_RDY on, every static value of VBUS is "
                       "within {vPpsNew:most} of the voltage asked for (vPpsNew). " LIMITING "its low side is not judged, nor where the current was not read "
                       "or less than 1 A was asked for, nor under more than a tenth of the current asked for: that is pps.limits-early.",
        .source = "USB PD, vPpsNew; seen in Linux drivers/usb/typec/tcpm and " FROM_ONSEMI,
        .why = "A battery that is charged directly from it takes what comes.",
        .undecided = VBUS_READ,
        .bench = BENCH_POINT "in the middle of the range, hold it for a second, with VBUS and IBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = window_parameters, .silenced_by = silences_window, .sentences = says_window,
        .supplies = 1 << SUPPLY_PPS, .check = pps_check_window,
    },
    {
        .id = "pps.min-voltage",
        .title = "At the low end of its range a programmable supply gives what was asked for",
        .requirement = "At an operating point within 100 mV of the object's least voltage every static value of VBUS is within 0.95 times that least "
                       "voltage and 1.05 times the voltage asked for (vPpsMinVoltage).",
        .source = "USB PD, vPpsMinVoltage: from memory",
        .why = "At the low end a cell that is nearly empty is charged.",
        .undecided = VBUS_READ,
        .bench = BENCH_POINT "at the lower end of the range, hold it for a second, with VBUS recorded.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = window_parameters, .silenced_by = silences_end, .sentences = says_window, .supplies = 1 << SUPPLY_PPS, .check = pps_check_min,
    },
    {
        .id = "pps.max-voltage",
        .title = "At the high end of its range a programmable supply gives what was asked for",
        .requirement = "At an operating point within 100 mV of the object's greatest voltage every static value of VBUS is within 0.95 times the voltage "
                       "asked for and 1.05 times that greatest voltage (vPpsMaxVoltage).",
        .source = "USB PD, vPpsMaxVoltage: from memory",
        .why = "At the high end a device's input is nearest to what it stands.",
        .undecided = VBUS_READ,
        .bench = BENCH_POINT "at the upper end of the range, hold it for a second, with VBUS recorded.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = window_parameters, .silenced_by = silences_end, .sentences = says_window, .supplies = 1 << SUPPLY_PPS, .check = pps_check_max,
    },
    {
        .id = "pps.step-accuracy",
        .title = "Small steps of a programmable supply have the size that was asked for",
        .requirement = "In a run of five accepted Requests or more with steps of 20 to 100 mV the same way, the current steady within 100 mA, each step "
                       "of the mean of VBUS is within {pps_step_tol_mv:most} of the one asked for. Gain and offset of the instrument do not count.",
        .source = "USB PD, PPS step of 20 mV seen in " FROM_LINUX "; common practice for the tolerance",
        .why = "Chargers in the device regulate by these steps.",
        .undecided = "The noise of the readings is above 20 mV, or leaves it open.",
        .bench = "Go up by 20 mV ten times, 0.3 s each, with VBUS recorded.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .decision_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_SECTION) | EVENT_BIT(EVENT_END) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_HARD_RESET),
        .sections = SECTION_BIT(SECTION_CONTRACT), .parameters = step_parameters, .sentences = says_step,
        .state_size = sizeof(struct steps), .check = pps_check_step,
    },
    {
        .id = "pps.monotonic",
        .title = "A programmable supply that is asked for more does not give less",
        .requirement = "At each accepted step within one PPS object, the current steady within 100 mA, a higher Request gives no lower voltage, and a lower "
                       "one no higher, beyond the noise of the means.",
        .source = "common practice, no source",
        .why = "A device that regulates by steps runs away.",
        .undecided = "The noise of the readings is above the step.",
        .bench = "Go through the whole range in small steps, with VBUS recorded.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .sentences = says_turn, .state_size = sizeof(struct steps), .check = pps_check_monotonic,
    },
    {
        .id = "pps.current-limit",
        .title = "A programmable supply keeps the current to what was asked for",
        .requirement = "Where 1 A or more was asked for and the static current has come to it, the current is at most {iPpsCLNew@to-3A:most} (above 3 A: {iPpsCLNew@above-3A:most}) "
                       "more, while VBUS is above {vPpsShutdown:least} times the object's least voltage. The first 50 ms after a load step do not count.",
        .source = "USB PD, iPpsCLNew: one PPS firmware's published source, and from memory; vPpsShutdown seen in Linux "
                  "drivers/usb/typec/tcpm/tcpci.c",
        .why = "A device that charges its battery directly relies on that limit.",
        .undecided = AMPS_READ,
        .bench = BENCH_LIMIT,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_VBUS | EVIDENCE_IBUS,
        .wakes = A_CONTRACT, .parameters = limit_parameters, .silenced_by = silences_limit, .sentences = says_limit,
        .state_size = sizeof(struct limited), .supplies = 1 << SUPPLY_PPS, .check = pps_check_limit,
    },
    {
        .id = "pps.limits-early",
        .title = "A programmable supply gives all the current that was asked for",
        .requirement = "Where two static values of VBUS after each other, at the same current, are below the window and above the object's least voltage, under a tenth of the current asked for or more, "
                       "the static current is at least the one asked for less "
                       "{iPpsCLNew@to-3A:most} (above 3 A: {iPpsCLNew@above-3A:most}): it limits, it does not sag before. The first 50 ms after a load step do not count.",
        .source = "USB PD, iPpsCLNew: one PPS firmware's published source, and from memory",
        .why = "The device was promised that current.",
        .undecided = AMPS_READ,
        .bench = BENCH_LIMIT,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_VBUS | EVIDENCE_IBUS,
        .wakes = A_CONTRACT, .parameters = limit_parameters, .silenced_by = silences_early, .sentences = says_early, .supplies = 1 << SUPPLY_PPS, .check = pps_check_early,
    },
    {
        .id = "pps.limit-no-reset",
        .title = "A programmable supply at its current limit goes on",
        .requirement = "While it limits, with VBUS above 0.95 times the object's least voltage, no Hard Reset of the source comes within {pps_trip_s:most}, nor does VBUS go "
                       "below 0.8 V.",
        .source = "USB PD, PPS current limit; seen in " FROM_ONSEMI,
        .why = "Limiting is what it is there for.",
        .undecided = "Who sent the Hard Reset is not known.",
        .bench = BENCH_LIMIT,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_VBUS | EVIDENCE_IBUS,
        .wakes = EVENT_BIT(WAKE_SECTION) | EVENT_BIT(EVENT_HARD_RESET), .sections = SECTION_BIT(SECTION_CONTRACT),
        .parameters = trip_parameters, .sentences = says_trip, .state_size = sizeof(struct trip), .check = pps_check_trip,
    },
    {
        .id = "pps.limit-flag",
        .title = "PPS_Status says what is",
        .requirement = "At a PPS_Status, by the 50 ms before: bit 3 of byte 3 is 1 where the current is limited (it has come to what was asked for, within "
                       "{iPpsCLNew@to-3A:most}, above 3 A {iPpsCLNew@above-3A:most}, and VBUS is below the window), 0 where it is clearly not (300 mA below what "
                       "was asked for); the voltage is within 5 % and 40 mV of what VBUS was in that time, the current within 200 mA, unless it says that it does not know.",
        .source = "USB PD, PPS Status Data Block; seen in " FROM_INFINEON "; its units from memory",
        .why = "A device that cannot measure goes by it.",
        .undecided = "VBUS and the current were not read in the 50 ms before, or are not known well enough.",
        .bench = "Ask for PPS_Status at half load and at the current limit, with VBUS and IBUS recorded.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .decision_evidence = EVIDENCE_VBUS | EVIDENCE_IBUS,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .extended = UINT32_C(1) << EXTENDED_PPS_STATUS }, .sets = 1u << SET_SOP,
        .parameters = flag_parameters, .sentences = says_flag, .check = pps_check_flag,
    },
    {
        .id = "pps.timeout-action",
        .title = "A source ends a PPS silence by a Hard Reset",
        .requirement = "Where no Request came for more than {tPPSTimeout:least} (tPPSTimeout) and the source ends that, it does so by a Hard Reset, not by Soft_Reset, "
                       "Source_Capabilities or switching VBUS off alone.",
        .source = "USB PD, tPPSTimeout: a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "Only a Hard Reset takes the voltage that nobody watches any more away.",
        .undecided = "Records are missing in the second before.",
        .bench = "Set up a PPS contract, and let the sink say nothing for 16 s.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) |
                 EVENT_BIT(EVENT_HARD_RESET),
        .messages = { .control = UINT32_C(1) << CONTROL_SOFT_RESET,
                      .data = UINT32_C(1) << DATA_SOURCE_CAPABILITIES | UINT32_C(1) << DATA_REQUEST | UINT32_C(1) << DATA_EPR_REQUEST },
        .sets = 1u << SET_SOP, .parameters = action_parameters, .silenced_by = silences_action,
        .sentences = says_action, .state_size = sizeof(struct silence), .check = pps_check_action,
    },
    { .id = NULL },
};
