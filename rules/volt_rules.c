/* The rules about VBUS and the current, whatever the contract. */
#include "rules/groups.h"
#include "rules/volt_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define VBUS_READ "VBUS was not read there, or stands too near the limit."
#define MISSING "Records are missing: what was agreed on may have changed."
#define SPARSE(needs) "The readings are too far apart, or the instrument too slow: a pass takes one every " needs "."
#define STATIC_VALUE "static value of VBUS, a mean over {static_ms:most} that begins {tSrcTransient:most} after a load step or later,"
#define A_CONTRACT EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CONTRACT)
/* What a change showed is told at its contract's end. */
#define A_CHANGE_AND_CONTRACT EVENT_BIT(WAKE_SECTION), .releases = SECTION_BIT(SECTION_CONTRACT), .sections = SECTION_BIT(SECTION_CHANGE) | SECTION_BIT(SECTION_CONTRACT)
/* A programmable supply has rules of its own for this. */
#define BUT_PPS (1 << SUPPLY_FIXED | 1 << SUPPLY_BATTERY | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_EPR_AVS | 1 << SUPPLY_SPR_AVS)
#define A_CHANGE EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CHANGE)
#define A_CYCLE EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CYCLE)
#define A_CHANGE_OR_CYCLE EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CHANGE) | SECTION_BIT(SECTION_CYCLE)

static const char *const says_5v[] = {
    [WINDOW_BELOW] = "Before any contract VBUS is at {0:V}; {1:V} is the least.",
    [WINDOW_ABOVE] = "Before any contract VBUS is at {0:V}; {2:V} is the most.",
    [WINDOW_UNSURE] = "Before any contract VBUS is at {0:V}, too near the limit ({1:V} to {2:V}) to tell.",
    [WINDOW_FEW] = "VBUS was not read before the first contract.",
    NULL,
};
static const char *const says_window[] = {
    [WINDOW_BELOW] = "VBUS is at {0:V}, below {1:V}.",
    [WINDOW_ABOVE] = "VBUS is at {0:V}, above {2:V}.",
    [WINDOW_UNSURE] = "VBUS at {0:V} is too near the limit ({1:V} to {2:V}) to tell.",
    [WINDOW_FEW] = "VBUS was read too seldom in this contract.",
    NULL,
};
static const char *const says_peak_window[] = {
    [WINDOW_BELOW] = "VBUS dips to {0:V}, below {1:V}.",
    [WINDOW_ABOVE] = "VBUS peaks at {0:V}, above {2:V}.",
    [WINDOW_UNSURE] = "VBUS at {0:V} may be beyond the limit ({1:V} to {2:V}): the reading does not tell.",
    [WINDOW_FEW] = "VBUS was not read in this contract.",
    NULL,
};
static const char *const says_cold[] = {
    [WINDOW_BELOW] = "",
    [WINDOW_ABOVE] = "Nothing is attached, and VBUS is at {0:V}; {2:V} is the most.",
    [WINDOW_UNSURE] = "Nothing is attached, and VBUS at {0:V} is too near {2:V} to tell.",
    [WINDOW_FEW] = "VBUS was not read while nothing was attached.",
    NULL,
};
static const char *const says_ready[] = {
    [READY_OUTSIDE] = "At PS_RDY VBUS is at {0:V}; the window is {1:V} to {2:V}.",
    [READY_UNSURE] = "VBUS about PS_RDY, {0:V}, does not tell whether it was within {1:V} to {2:V}.",
    [READY_UNREAD] = "VBUS was not read within 5 ms of PS_RDY.",
    NULL,
};
static const char *const says_reached[] = {
    [REACH_NEVER] = "{5:ms} after PS_RDY VBUS has not come to within {1:V} to {2:V}; it stands at {0:V}.",
    [REACH_UNREAD] = "VBUS was not read in time after PS_RDY.",
    [REACH_UNSURE] = "After PS_RDY VBUS, at {0:V}, is too near {1:V} to {2:V} to tell whether it has come to that.",
    NULL,
};
static const char *const says_over[] = {
    [PEAK_BEYOND] = "VBUS overshoots to {0:V}; {2:V} is the most.",
    [PEAK_UNSURE] = "VBUS at {0:V} is too near {2:V} to tell.",
    [PEAK_SPARSE] = "No reading shows an overshoot, but there may have been one between them.",
    NULL,
};
static const char *const says_under[] = {
    [PEAK_BEYOND] = "VBUS undershoots to {0:V}; {1:V} is the least.",
    [PEAK_UNSURE] = "VBUS at {0:V} is too near {1:V} to tell.",
    [PEAK_SPARSE] = "No reading shows an undershoot, but there may have been one between them.",
    NULL,
};
static const char *const says_up[] = {
    [SLEW_FAST] = "VBUS rises by {0} mV/us at the least; {1} mV/us is the limit.",
    [SLEW_SPARSE] = "Between two readings VBUS may have risen faster than they show.",
    [SLEW_UNSURE] = "VBUS rises by up to {0} mV/us, by what the readings are worth; {1} mV/us is the limit.",
    NULL,
};
static const char *const says_down[] = {
    [SLEW_FAST] = "VBUS falls by {0} mV/us at the least; {1} mV/us is the limit.",
    [SLEW_SPARSE] = "Between two readings VBUS may have fallen faster than they show.",
    [SLEW_UNSURE] = "VBUS falls by up to {0} mV/us, by what the readings are worth; {1} mV/us is the limit.",
    NULL,
};
static const char *const says_monotonic[] = {
    [MONOTONIC_BACK] = "On its way VBUS turns back by {0:V}, to {1:V}.",
    [MONOTONIC_SPARSE] = "Between two readings VBUS may have turned back.",
    [MONOTONIC_UNSURE] = "On its way VBUS turns back by {0:V}, to {1:V}: too near {2:V} to tell.",
    NULL,
};
static const char *const says_negative[] = {
    [NEGATIVE_BELOW] = "VBUS is at {0:V}; {1:V} is the least.",
    [NEGATIVE_UNSURE] = "VBUS at {0:V} is too near {1:V} to tell.",
    NULL,
};
static const char *const says_safe0v_reset[] = {
    [SAFE0V_NEVER] = "{5:ms} after the Hard Reset VBUS is still at {0:V}; it should be below {2:V}.",
    [SAFE0V_UNREAD] = "After the Hard Reset VBUS was not read often enough.",
    [SAFE0V_UNSURE] = "After the Hard Reset VBUS, at {0:V}, is too near {2:V} to tell.",
    NULL,
};
static const char *const says_safe0v_detach[] = {
    [SAFE0V_NEVER] = "{5:ms} after the plug was pulled VBUS is still at {0:V}; it should be below {2:V}.",
    [SAFE0V_UNREAD] = "After the plug was pulled VBUS was not read often enough.",
    [SAFE0V_UNSURE] = "After the plug was pulled VBUS, at {0:V}, is too near {2:V} to tell.",
    NULL,
};
static const char *const says_unasked[] = {
    [UNASKED_LEVEL] = "VBUS leaves {3:V} for {0:V} and stays there for {5:ms}; nobody asked for that.",
    [UNASKED_EARLY] = "VBUS leaves {3:V}, to {0:V}, before the Request is accepted.",
    [UNASKED_UNSURE] = "VBUS leaves {3:V} for {0:V} and stays there for {5:ms}: too near to tell whether that is another level.",
    NULL,
};
static const char *const says_drop[] = {
    [DROP_LONG] = "At {3:A} VBUS is below {1:V} for {5:ms} at the least, first at {0:V}.",
    [DROP_UNSURE] = "At {3:A} VBUS, at {0:V}, may be below {1:V} for longer than it may be.",
    [DROP_SPARSE] = "No readings show a drop, but there may have been one between them.",
    NULL,
};
static const char *const says_sink_over[] = {
    [LOAD_OVER] = "The sink takes {0:A} in the mean over 100 ms; the contract and the margin allow {1:A}.",
    [LOAD_UNSURE] = "The sink takes {0:A} in the mean over 100 ms, too near {1:A} to tell.",
    NULL,
};
static const char *const says_reverse[] = {
    [LOAD_OVER] = "A current of {0:A} flows into the source, in the mean over 100 ms.",
    [LOAD_UNSURE] = "A current of {0:A}, in the mean over 100 ms, is too small to be told from the instrument's own.",
    NULL,
};

#define STATIC_PARAMETERS "static_ms", "tSrcTransient", "load_step_ma"
static const char *const safe5v_parameters[] = { "vSafe5V", STATIC_PARAMETERS, NULL };
static const char *const window_parameters[] = {
    "vSrcNew@fixed", "vSrcNew@variable", "vSrcNew@battery", "vAvsNew", "vSrcValid", STATIC_PARAMETERS, "transition_ms", NULL,
};
static const char *const cold_parameters[] = { "vSafe0V", "cold_socket_ms", STATIC_PARAMETERS, NULL };
static const char *const ready_parameters[] = { VOLT_WINDOW_PARAMETERS, NULL };
static const char *const reach_parameters[] = { [REACH_WITHIN] = "level_reach_ms", VOLT_WINDOW_PARAMETERS, STATIC_PARAMETERS, NULL };
static const char *const peak_parameters[] = { [PEAK_5V] = "vSafe5V", [PEAK_VALID] = "vSrcValid", "vSrcNew@fixed", "vSrcNew@variable",
                                               "vSrcNew@battery", "vPpsNew", "vAvsNew", "transition_ms", NULL };
static const char *const up_parameters[] = { [SLEW_LIMIT] = "vSrcSlewPos", NULL };
static const char *const down_parameters[] = { [SLEW_LIMIT] = "vSrcSlewNeg", NULL };
static const char *const monotonic_parameters[] = { "monotonic_mv", "move_mv", NULL };
static const char *const negative_parameters[] = { [NEGATIVE_LIMIT] = "vSrcNeg", NULL };
static const char *const reset_parameters[] = {
    [SAFE0V_LEVEL] = "vSafe0V", [SAFE0V_RESPONSE] = "tPSHardReset", [SAFE0V_FALL] = "tSafe0V", [SAFE0V_WATCH] = "safe0v_watch_ms", NULL,
};
static const char *const detach_parameters[] = { [SAFE0V_LEVEL] = "vSafe0V", [SAFE0V_RESPONSE] = "detach_watch_ms", NULL };
static const char *const unasked_parameters[] = {
    "unasked_step", "unasked_step_share", "unasked_steadiness", "unasked_hold", "move_mv", NULL,
};
static const char *const drop_parameters[] = { [DROP_FOR] = "tSrcTransient", VOLT_WINDOW_PARAMETERS, NULL };
static const char *const over_parameters[] = { "sink_current_margin_ma", "current_mean_ms", NULL };
static const char *const reverse_parameters[] = { "reverse_ma", "current_mean_ms", NULL };

/* What is far too high, or gone after a Soft_Reset, is told as that. */
#define HIGH "epr.high-voltage-outside"
#define GROSS HIGH, "reset.soft-reset-keeps-vbus"
static const char *const silences_contract[] = {
    "volt.unasked-change", "volt.drop-under-load", "volt.level-not-reached", "time.pps-timeout", GROSS, NULL,
};
/* volt.contract-window speaks for the readings of its own static values alone: they are no peaks (rail_static.c). */
static const char *const silences_transient[] = {
    "volt.unasked-change", "volt.drop-under-load", "volt.level-not-reached", GROSS, NULL,
};
static const char *const silences_ready[] = { "exchange.no-ready-without-accept", "volt.level-not-reached", HIGH, NULL };
static const char *const silences_reached[] = { GROSS, NULL };
static const char *const silences_peak[] = { "volt.level-not-reached", HIGH, NULL };
static const char *const silences_monotonic[] = { "volt.overshoot", "volt.undershoot", NULL };
static const char *const silences_drop[] = { "volt.unasked-change", GROSS, NULL };
static const char *const silences_unasked[] = { GROSS, NULL };
static const char *const silences_cold[] = { "volt.safe0v-after-detach", NULL };

const struct rule volt_rules[] = {
    {
        .id = "volt.safe5v-before-contract",
        .title = "Before any contract VBUS is 5 V",
        .requirement = "From {tSrcTransient:most} after VBUS came up past {vSafe5V:least}, after an attach or a Hard Reset, to the first Accept every " STATIC_VALUE
                       " is within {vSafe5V:both} (vSafe5V).",
        .source = "USB PD, vSafe5V; seen in " FROM_ZEPHYR,
        .why = "A device that does not speak USB Power Delivery stands no more than that.",
        .undecided = VBUS_READ,
        .bench = "Plug in a sink that does not speak USB Power Delivery, with VBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_FIRST),
        .parameters = safe5v_parameters, .sentences = says_5v, .check = volt_check_safe5v,
    },
    {
        .id = "volt.contract-window",
        .title = "In a contract VBUS stays in its window",
        .requirement = "In a contract for a fixed, variable, battery or AVS supply, changes under way left out, every " STATIC_VALUE
                       " is within the window at the source's receptacle: fixed {vSrcNew@fixed:most} and AVS {vAvsNew:most} about the voltage, variable and "
                       "battery {vSrcNew@variable:least} times the object's least to {vSrcNew@variable:most} times its greatest voltage. Values with more than 105 % of the agreed current are left out.",
        .source = "USB PD, vSrcNew; fixed: secondary notes on PD R3.2 V1.2, Linux drivers/usb/typec/tcpm; the others from memory, widened",
        .why = "It is what the device was built to stand, and to run from.",
        .undecided = VBUS_READ " Fewer than three static values.",
        .bench = "Ask for each profile in turn and hold it for a second without load, at half and at full load, with VBUS and IBUS recorded.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = window_parameters, .silenced_by = silences_contract, .sentences = says_window,
        .supplies = BUT_PPS, .check = volt_check_contract,
    },
    {
        .id = "volt.transient-window",
        .title = "Nor does VBUS leave its window by more than 0.5 V for a moment",
        .requirement = "In the same contracts every single reading is within the window widened by {vSrcValid:most} (vSrcValid) on each side.",
        .source = "USB PD, vSrcValid; seen in Linux drivers/usb/typec/tcpm/tcpci.c",
        .why = "Dips make devices restart, peaks break them.",
        .undecided = VBUS_READ " The load rose faster than 150 mA/us, or above the contract.",
        .bench = "In each contract switch the load between a tenth and the whole of the agreed current, with VBUS recorded every 0.1 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = window_parameters, .silenced_by = silences_transient, .sentences = says_peak_window,
        .supplies = BUT_PPS, .check = volt_check_transient,
    },
    {
        .id = "volt.ready-inside-window",
        .title = "When the source says that it is ready, VBUS is in the new window",
        .requirement = "At the start of PS_RDY after an Accept VBUS is in the window of the new contract: the mean of the readings within 1 ms, "
                       "or else the two readings around, both within 5 ms. Of a programmable supply that may be limiting its current the low "
                       "side is not judged. Where packets and readings have clocks of their own, that has to hold however the clocks lie.",
        .source = "USB PD, PS_RDY and vSrcNew; seen in " FROM_ZEPHYR,
        .why = "From that message on the sink draws the full current.",
        .undecided = VBUS_READ " The two readings around PS_RDY do not agree.",
        .bench = "Go through all profiles, up and down, with VBUS recorded every millisecond.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE, .needs_ns = 10000000,
        .wakes = A_CHANGE_AND_CONTRACT, .parameters = ready_parameters, .silenced_by = silences_ready, .sentences = says_ready,
        .state_size = sizeof(struct volt_held), .check = volt_check_ready,
    },
    {
        .id = "volt.level-not-reached",
        .title = "VBUS comes to the level that was agreed on",
        .requirement = "In a contract that lasts at least {level_reach_ms:most} a " STATIC_VALUE " lies in its window, or beside it by less "
                       "than {vSrcValid:most}, within that time after PS_RDY (ours).",
        .source = "common practice, no source",
        .why = "The profile is offered, accepted, and never given.",
        .undecided = VBUS_READ,
        .bench = "Ask for each profile and hold it for a second, with VBUS recorded.",
        .basis = BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = reach_parameters, .silenced_by = silences_reached, .sentences = says_reached,
        .check = volt_check_reached,
    },
    {
        .id = "volt.overshoot",
        .title = "VBUS does not overshoot on its way",
        .requirement = "From the Accept to {transition_ms:most} after PS_RDY no reading is above the upper limit of the higher of both windows and "
                       "{vSrcValid:most}; as long after VBUS came up, above {vSafe5V:most+vSrcValid:most}.",
        .source = "USB PD, vSrcNew and vSrcValid; public design notes for their sum",
        .why = "The peak goes straight into the device.",
        .undecided = VBUS_READ " " SPARSE("millisecond"),
        .bench = "Go through all profiles, upward above all, with VBUS recorded every 0.1 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 1000000, .wakes = A_CHANGE_OR_CYCLE | SECTION_BIT(SECTION_CONTRACT), .releases = SECTION_BIT(SECTION_CONTRACT), .parameters = peak_parameters, .silenced_by = silences_peak, .sentences = says_over,
        .state_size = sizeof(struct volt_held), .check = volt_check_overshoot, .needs_rows = true,
    },
    {
        .id = "volt.undershoot",
        .title = "VBUS does not undershoot on its way",
        .requirement = "From the Accept to {transition_ms:most} after PS_RDY no reading is below the lower limit of the lower of both windows less "
                       "{vSrcValid:most}.",
        .source = "USB PD, vSrcNew and vSrcValid; public design notes for their sum",
        .why = "A device that runs on the lower of both voltages restarts.",
        .undecided = VBUS_READ " " SPARSE("millisecond"),
        .bench = "Go through all profiles, downward above all, with VBUS recorded every 0.1 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 1000000, .wakes = A_CHANGE_AND_CONTRACT, .parameters = peak_parameters, .silenced_by = silences_peak, .sentences = says_under,
        .state_size = sizeof(struct volt_held), .check = volt_check_undershoot, .needs_rows = true,
    },
    {
        .id = "volt.slew-up",
        .title = "VBUS does not rise too fast",
        .requirement = "In a change of contract and when VBUS comes up the rise between two readings, less twice their uncertainty, is at most "
                       "{vSrcSlewPos:most} (vSrcSlewPos).",
        .source = "USB PD, vSrcSlewPos: public design notes citing application notes and test laboratories",
        .why = "The current that loads the device's capacitors rises with it.",
        .undecided = SPARSE("20 us") " Two readings show the mean of the rise between them, which is less than its steepest part.",
        .bench = "Go through all profiles upward with VBUS recorded every 10 us.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 20000, .wakes = A_CHANGE_OR_CYCLE, .parameters = up_parameters, .sentences = says_up, .check = volt_check_slew_up, .needs_rows = true,
    },
    {
        .id = "volt.slew-down",
        .title = "VBUS does not fall too fast",
        .requirement = "In a change to a lower contract, after a Hard Reset and after a detach the fall between two readings, less twice their "
                       "uncertainty, is no steeper than {vSrcSlewNeg:least} (vSrcSlewNeg).",
        .source = "USB PD, vSrcSlewNeg: from memory, as vSrcSlewPos",
        .why = "The device's capacitors feed it back into the source.",
        .undecided = SPARSE("20 us") " Two readings show the mean of the fall between them, which is less than its steepest part.",
        .bench = "Go through all profiles downward with VBUS recorded every 10 us.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 20000, .wakes = A_CHANGE_OR_CYCLE, .parameters = down_parameters, .sentences = says_down, .check = volt_check_slew_down, .needs_rows = true,
    },
    {
        .id = "volt.monotonic",
        .title = "VBUS does not turn back on its way",
        .requirement = "In a change between levels more than 1 V apart, the current steady within 250 mA, VBUS turns back by no more than {monotonic_mv:most}, or "
                       "four times the noise, between its first move, by {move_mv:most}, and its entry into the new window.",
        .source = "common practice, no source",
        .why = "A step on the way is a supply that switches over badly; devices reset on it.",
        .undecided = SPARSE("5 ms") " Or a step back is too near the limit to tell.",
        .bench = "Go through all profiles, up and down, with VBUS recorded every millisecond.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 5000000, .wakes = A_CHANGE_AND_CONTRACT, .parameters = monotonic_parameters, .silenced_by = silences_monotonic,
        .sentences = says_monotonic, .state_size = sizeof(struct volt_held), .check = volt_check_monotonic, .needs_rows = true,
    },
    {
        .id = "volt.negative",
        .title = "VBUS does not go negative",
        .requirement = "After a Hard Reset, after a detach and in a change of contract every reading is at least {vSrcNeg:least} (vSrcNeg).",
        .source = "USB PD, vSrcNeg: from memory",
        .why = "Inputs of the device conduct backwards.",
        .undecided = VBUS_READ,
        .bench = "Pull the plug under load, with VBUS recorded every 0.1 ms.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CHANGE_OR_CYCLE, .parameters = negative_parameters, .sentences = says_negative, .check = volt_check_negative, .needs_rows = true,
    },
    {
        .id = "volt.safe0v-after-hard-reset",
        .title = "A Hard Reset takes VBUS away",
        .requirement = "After a Hard Reset while VBUS is above {vSafe0V:most}, VBUS goes below that before these have passed: {tPSHardReset:most} to "
                       "respond, {tSafe0V:most} to fall, and {safe0v_watch_ms:most} more (ours).",
        .source = "USB PD, Hard Reset; tPSHardReset and tSafe0V seen in " FROM_LINUX " and " FROM_ZEPHYR "; the 100 ms are ours",
        .why = "It is the only way to bring a device that hangs back to its senses.",
        .undecided = "VBUS was not read every 100 ms, or stands too near 0.8 V.",
        .bench = "Have the sink send a Hard Reset in a contract, with VBUS recorded.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CYCLE, .parameters = reset_parameters, .sentences = says_safe0v_reset, .check = volt_check_safe0v_reset,
    },
    {
        .id = "volt.safe0v-after-detach",
        .title = "Pulling the plug takes VBUS away",
        .requirement = "After a detach with VBUS above {vSafe0V:most}, VBUS goes below that within {detach_watch_ms:most} (ours; how soon is time.vbus-off-detach).",
        .source = "USB Type-C, tVBUSOFF; seen in Zephyr usbc_tc.h; the 2 s are ours",
        .why = "The next device that is plugged in would get the last one's voltage.",
        .undecided = "VBUS was not read after the detach, or stands too near 0.8 V.",
        .bench = "Pull the plug in a contract, with VBUS recorded at the port under test for 3 s more.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CYCLE, .parameters = detach_parameters, .sentences = says_safe0v_detach, .check = volt_check_safe0v_detach,
    },
    {
        .id = "volt.cold-socket",
        .title = "A socket with nothing in it is cold",
        .requirement = "While CC shows for more than {cold_socket_ms:most} that nothing is attached, every " STATIC_VALUE " is below {vSafe0V:most} from "
                       "then on.",
        .source = "USB Type-C, VBUS of an unattached source; vSafe0V seen in " FROM_ZEPHYR,
        .why = "Metal in a hot socket, or another charger plugged into it, ends badly.",
        .undecided = VBUS_READ,
        .bench = "Record CC and VBUS of a port with nothing plugged in for some seconds.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_CC, .decision_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_EMPTY),
        .parameters = cold_parameters, .silenced_by = silences_cold, .sentences = says_cold, .check = volt_check_cold,
    },
    {
        .id = "volt.unasked-change",
        .title = "VBUS does not go to another level that nobody asked for",
        .requirement = "In a contract VBUS does not leave its window by more than {unasked_step:least} and {unasked_step_share:least} for another level, steady within "
                       "{unasked_steadiness:most} for {unasked_hold:least}, without a "
                       "reset, an Accept or a detach before; nor does it move between a Request and its Accept while the current is steady.",
        .source = "USB PD, explicit contract; common practice for the numbers",
        .why = "The device goes by a contract that is no longer kept.",
        .undecided = "More current than agreed flowed. " MISSING,
        .bench = "Hold each contract for a minute while others are plugged into the other ports, with VBUS recorded.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_CONTRACT, .parameters = unasked_parameters, .silenced_by = silences_unasked, .sentences = says_unasked, .check = volt_check_unasked,
    },
    {
        .id = "volt.drop-under-load",
        .title = "VBUS holds under the load that was agreed on",
        .requirement = "In a contract with a static current between a tenth and the whole of the agreed one, VBUS is not below the window less {vSrcValid:most} "
                       "for more than {tSrcTransient:most}.",
        .source = "USB PD, vSrcValid; seen in Linux drivers/usb/typec/tcpm/tcpci.c; tSrcTransient from memory",
        .why = "The label's watts are there on paper alone.",
        .undecided = VBUS_READ " The load went before VBUS did. " MISSING " " SPARSE("5 ms"),
        .bench = "Load each contract slowly up to the agreed current and hold it, with VBUS and IBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_IBUS, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE,
        .needs_ns = 5000000,
        .wakes = A_CONTRACT, .parameters = drop_parameters, .silenced_by = silences_drop, .sentences = says_drop, .check = volt_check_drop,
    },
    {
        .id = "volt.sink-over-contract",
        .title = "The sink takes no more than was agreed on",
        .requirement = "In a contract, programmable supplies left out, the current outside changes is at most the maximum operating current of the Request and "
                       "{sink_current_margin_ma:most} (ours), in every mean over {current_mean_ms:most}; with GiveBack the operating current; of a battery supply, the power by the voltage.",
        .source = "USB PD, Request; common practice for the margin",
        .why = "What the source does then is not its fault.",
        .undecided = "The current is too near the limit. " MISSING,
        .bench = "Load a contract to the full with the real device, with IBUS recorded.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SINK, .occasion_evidence = EVIDENCE_IBUS,
        .wakes = A_CONTRACT, .parameters = over_parameters, .sentences = says_sink_over, .supplies = BUT_PPS, .check = volt_check_over,
    },
    {
        .id = "volt.reverse-current",
        .title = "No current flows into a source",
        .requirement = "In a contract and with nothing attached the current of a port that is a source flows into it by no more than {reverse_ma:most} "
                       "(ours), in every mean over {current_mean_ms:most}.",
        .source = "common practice, no source",
        .why = "One port is fed by another, or a battery by the device that it should charge.",
        .undecided = "The instrument's offset is not known and the current is below 200 mA.",
        .bench = "Plug a power bank into one port while another port carries a load, with IBUS recorded.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_IBUS,
        .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CONTRACT) | SECTION_BIT(SECTION_EMPTY),
        .parameters = reverse_parameters, .sentences = says_reverse, .check = volt_check_reverse,
    },
    { .id = NULL },
};
