/* The rules about what a reset brings about, and what brought it about. */
#include "rules/groups.h"
#include "rules/reset_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define ON_SOP (1u << SET_SOP)
#define HARD_RESET_STEPS "linux-usb mailing list, Hard Reset test steps quoting the compliance checks"
#define BENCH_HARD_RESET "Let a sink with USB PD attach and agree, then make it send a Hard Reset; record until the next contract."
#define BENCH_SOFT_RESET "In a contract, make the sink send a Soft_Reset; record until the next contract."

static const char *const says_cycle[] = {
    [CYCLE_LATE] = "VBUS was back at {0:V} {4:ms} after it had fallen below {1:V}; the limit is {5:ms}.",
    [CYCLE_MISSING] = "VBUS went off after the Hard Reset and did not come back within {5:ms}.",
    NULL,
};
static const char *const says_keeps[] = {
    [KEEPS_BELOW] = "After the Soft_Reset VBUS fell to {0:V}; {1:V} is the least that the contract allows.",
    [KEEPS_ABOVE] = "After the Soft_Reset VBUS rose to {0:V}; {2:V} is the most that the contract allows.",
    [KEEPS_UNSURE] = "After the Soft_Reset VBUS was too close to the limits of the contract, {1:V} and {2:V}, to decide.",
    [KEEPS_UNREAD] = "VBUS was not read between the Soft_Reset and what followed.",
    NULL,
};
static const char *const says_unexplained[] = {
    [UNEXPLAINED_HARD] = "Hard Reset in a contract, and nothing in the {0:s} before it explains it.",
    [UNEXPLAINED_SOFT] = "Soft_Reset in a contract, and nothing in the {0:s} before it explains it.",
    NULL,
};
static const char *const says_restart[] = {
    [RESTART_LATE] = "The first Source_Capabilities after the Hard Reset came after {4:s}; the limit is {5:s}.",
    [RESTART_WRONG] = "The source's first message after the Hard Reset is {0:m}; it has to be Source_Capabilities.",
    [RESTART_MISSING] = "The sink is still there, but no Source_Capabilities came within {5:s} of the Hard Reset.",
    NULL,
};
static const char *const says_anew[] = {
    [ANEW_LATE] = "{0:m} came {4:ms} after the Accept of the Soft_Reset; the limit is {5:ms}.",
    [ANEW_WRONG] = "The source's next message after the Soft_Reset is {0:m}; it has to be Source_Capabilities.",
    [ANEW_MISSING] = "No capabilities came within {5:ms} of the Accept of the Soft_Reset.",
    NULL,
};
static const char *const says_contract[] = {
    [CONTRACT_LATE] = "The next contract came {4:s} after the Hard Reset; the limit is {5:s}.",
    [CONTRACT_MISSING] = "The sink spoke, but {5:s} after the Hard Reset there is no contract.",
    NULL,
};
static const char *const says_repeated[] = {
    [REPEATED_TOO_OFTEN] = "Hard Reset number {0} in a row without a contract between them; after {1} a port has to give up.",
    NULL,
};
static const char *const says_cable[] = {
    [CABLE_RESET_UNSURE] = "{0:m} came {4:ms} after the Cable Reset.",
    [CABLE_RESET_BY_SINK] = "A sink that neither is the DFP nor sources VCONN sent {0:m} {4:ms} after the Cable Reset: most likely the "
                            "reset was its own.",
    NULL,
};

static const char *const silences_restart[] = { "reset.hard-reset-vbus-cycle", NULL };
static const char *const silences_contract[] = { "reset.hard-reset-vbus-cycle", "reset.restart-with-caps", NULL };

static const char *const silences_cycle[] = { "volt.safe0v-after-hard-reset", NULL };
static const char *const silences_keeps[] = { "volt.unasked-change", NULL };
static const char *const silences_unexplained[] = {
    "exchange.request-answered", "exchange.request-after-caps", "exchange.ready-after-accept", "pps.limit-no-reset",
    "time.pps-keepalive", "time.pps-timeout", "vdm.survives", NULL,
};

static const char *const cycle_parameters[] = {
    [CYCLE_RECOVER] = "tSrcRecover@epr", [CYCLE_TURN_ON] = "tSrcTurnOn", [CYCLE_WATCH] = "return_watch_ms", [CYCLE_OFF] = "vSafe0V",
    [CYCLE_ON] = "vSafe5V", NULL,
};
static const char *const keeps_parameters[] = { VOLT_WINDOW_PARAMETERS, NULL };
static const char *const unexplained_parameters[] = {
    [UNEXPLAINED_CAUSE] = "reset_cause_s", [UNEXPLAINED_CAUSE_PPS] = "reset_cause_s@pps", [UNEXPLAINED_OVERLOAD] = "overload_share",
    [UNEXPLAINED_SILENCE] = "pps_silence_s", [UNEXPLAINED_SAME] = "pps_early_same_s",
    [UNEXPLAINED_READY] = "tPSTransition@spr", VOLT_WINDOW_PARAMETERS, NULL,
};
static const char *const restart_parameters[] = { [RESTART_LIMIT] = "restart_caps_s", NULL };
static const char *const anew_parameters[] = { [ANEW_WAIT] = "tTypeCSinkWaitCap", NULL };
static const char *const contract_parameters[] = { [CONTRACT_LIMIT] = "contract_after_reset_s", NULL };
static const char *const repeated_parameters[] = { [REPEATED_COUNT] = "nHardResetCount", NULL };
static const char *const cable_parameters[] = { [CABLE_RESET_AFTER] = "cable_reset_ms", NULL };

const struct rule reset_rules[] = {
    {
        .id = "reset.hard-reset-vbus-cycle",
        .title = "After a Hard Reset the supply comes back",
        .requirement = "Where VBUS went below {vSafe0V:most} after a Hard Reset, and the partner was not unplugged, VBUS is back at "
                       "{vSafe5V:least} before {tSrcRecover@epr:most+tSrcTurnOn:most+return_watch_ms:most} have passed: the longest "
                       "recovery, {tSrcRecover@epr:most}, the longest rise, {tSrcTurnOn:most}, and {return_watch_ms:most} of ours.",
        .source = "USB PD, Hard Reset; recovery seen in " FROM_CHROMIUM ", " FROM_ONSEMI " and " HARD_RESET_STEPS
                  "; rise seen in " FROM_LINUX "; the 300 ms are ours",
        .why = "A device that resets to get its supply right must not lose it for good.",
        .undecided = "VBUS was not read when it should have been back.",
        .bench = BENCH_HARD_RESET,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_END),
        .parameters = cycle_parameters, .silenced_by = silences_cycle, .sentences = says_cycle,
        .state_size = sizeof(struct cycle_state), .check = reset_check_cycle,
    },
    {
        .id = "reset.restart-with-caps",
        .title = "After a Hard Reset the source begins anew with Source_Capabilities",
        .requirement = "Where the sink is still there, the source's first message on SOP after a Hard Reset is Source_Capabilities, and it "
                       "comes before {restart_caps_s:most}: more than the longest recovery (ours).",
        .source = "USB PD, Hard Reset; recovery times seen in " FROM_CHROMIUM ", " FROM_ONSEMI " and " HARD_RESET_STEPS
                  "; the 2 s are ours",
        .why = "A device that a reset should have freed stays without power until it is unplugged.",
        .undecided = "Records are missing, or could not be read, between the reset and the source's first message.",
        .bench = BENCH_HARD_RESET,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_END),
        .parameters = restart_parameters, .silenced_by = silences_restart, .sentences = says_restart,
        .state_size = sizeof(struct restart_state), .check = reset_check_restart,
    },
    {
        .id = "reset.soft-reset-renegotiates",
        .title = "After a Soft_Reset the source offers its capabilities again",
        .requirement = "The source's next message on SOP after an accepted Soft_Reset is Source_Capabilities (in EPR mode also "
                       "EPR_Source_Capabilities), and it starts within {tTypeCSinkWaitCap:least} of the Accept's acknowledgement, before "
                       "the sink's patience can end.",
        .source = "USB PD, Soft Reset; tTypeCSinkWaitCap seen in " FROM_ZEPHYR ", " FROM_LINUX " and " FROM_CHROMIUM
                  "; that the capabilities follow: notes on PD R3.2 V1.2 (secondary)",
        .why = "The sink waits for a new offer; without it, it resets the hard way and loses its supply.",
        .undecided = "Records are missing, or could not be read, in between; or the sink asked something first.",
        .bench = BENCH_SOFT_RESET,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_END),
        .messages = { .control = UINT32_C(1) << CONTROL_SOFT_RESET }, .sets = ON_SOP,
        .parameters = anew_parameters, .sentences = says_anew,
        .state_size = sizeof(struct anew_state), .check = reset_check_anew,
    },
    {
        .id = "reset.soft-reset-keeps-vbus",
        .title = "A Soft_Reset leaves the supply alone",
        .requirement = "From the Accept of a Soft_Reset in a contract to the next Accept of a Request or of a swap of power roles, or "
                       "a reset, VBUS stays in the window of the contract and {vSrcValid:most} on either side.",
        .source = "USB PD, Soft Reset: from memory; vSrcNew and vSrcValid seen in Linux drivers/usb/typec/tcpm",
        .why = "A Soft_Reset is there to mend the talk without the device losing its supply.",
        .undecided = "VBUS was not read in between, or too near a limit.",
        .bench = BENCH_SOFT_RESET,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_END),
        .messages = { .control = UINT32_C(1) << CONTROL_SOFT_RESET | UINT32_C(1) << CONTROL_PR_SWAP | UINT32_C(1) << CONTROL_FR_SWAP }, .sets = ON_SOP,
        .parameters = keeps_parameters, .silenced_by = silences_keeps, .sentences = says_keeps,
        .state_size = sizeof(struct keeps_state), .check = reset_check_keeps_vbus,
    },
    {
        .id = "reset.contract-after-reset",
        .title = "A Hard Reset ends in a new contract",
        .requirement = "Where the sink spoke after a Hard Reset, or after one of a run of them, there is a contract within "
                       "{contract_after_reset_s:most} of it (of the first one of the run).",
        .source = "USB PD, Hard Reset; tNoResponse 4.5 to 5.5 s seen in " FROM_ZEPHYR ", " FROM_LINUX " and " FROM_CHROMIUM
                  "; its middle is ours",
        .why = "Two devices that do not get over a reset look broken to their owner, whichever of them is.",
        .undecided = "Records are missing, or could not be read, in the 5 s.",
        .bench = BENCH_HARD_RESET,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_LINK,
        .wakes = EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_END),
        .parameters = contract_parameters, .silenced_by = silences_contract, .sentences = says_contract,
        .state_size = sizeof(struct contract_state), .check = reset_check_contract,
    },
    {
        .id = "reset.repeated",
        .title = "Hard Resets do not go on and on",
        .requirement = "Without a contract, a detach or an attach between them a Hard Reset is followed by at most {nHardResetCount:most} "
                       "more in a row (nHardResetCount).",
        .source = "USB PD, HardResetCounter; seen in " FROM_LINUX ", " FROM_ZEPHYR ", " FROM_MICROCHIP " and " FROM_ONSEMI,
        .why = "A loop of resets switches the supply on and off until somebody pulls the plug.",
        .undecided = "Records are missing, or could not be read, in the run: a contract may have been among them.",
        .bench = "Attach a partner that never answers the source's offer and count the Hard Resets until both give up.",
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_LINK,
        .wakes = EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_END),
        .parameters = repeated_parameters, .sentences = says_repeated,
        .state_size = sizeof(struct repeated_state), .check = reset_check_repeated,
    },
    {
        .id = "reset.unexplained",
        .title = "Nobody resets a contract without a reason",
        .requirement = "In the {reset_cause_s:most} before a Hard or Soft Reset in a contract (programmable supply: "
                       "{reset_cause_s@pps:most}, and all of the silence since its last Request) lies what may have caused it: something "
                       "that a rule found wrong, a message that was repeated or never answered, an Accept whose PS_RDY did not come in "
                       "{tPSTransition@spr:least}, a power swap that got no further, a current {overload_share:most} above the contract, VBUS "
                       "outside its window, a mark, something plugged or unplugged on another port.",
        .source = "no demand of the standard; ours",
        .why = "Resets out of the blue are what owners see as a charger that drops out now and then.",
        .undecided = "Records are missing, or could not be read, in that time; or the trace begins inside it.",
        .bench = "Leave a contract alone for an hour, with VBUS and current recorded.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_LINK,
        .wakes = EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_POWER) | EVENT_BIT(EVENT_ATTACH) |
                 EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_END),
        .messages = { .control = UINT32_C(1) << CONTROL_SOFT_RESET }, .sets = ON_SOP,
        .parameters = unexplained_parameters, .silenced_by = silences_unexplained, .sentences = says_unexplained,
        .state_size = sizeof(struct unexplained_state), .check = reset_check_unexplained,
    },
    {
        .id = "reset.cable-reset",
        .title = "A Cable Reset comes from the port that may send it",
        .requirement = "Within {cable_reset_ms:least} after a Cable Reset no sink speaks that neither is the DFP nor sources VCONN.",
        .source = "USB PD, Cable Reset, who sends it: from memory; the 1 ms is ours",
        .why = "A plug that is reset by the wrong side loses the state that the other side relies on.",
        .undecided = "Who is the DFP or sources VCONN is not known.",
        .bench = "With a marked cable, make the VCONN source reset the plug (most do so before they look for its identity again).",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_LINK,
        .wakes = EVENT_BIT(EVENT_CABLE_RESET) | EVENT_BIT(EVENT_DETACH),
        .parameters = cable_parameters, .sentences = says_cable,
        .state_size = sizeof(struct cable_reset_state), .check = reset_check_cable,
    },
    { .id = NULL },
};
