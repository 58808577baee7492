/* The rules about what a reset brings about, and what brought it about. */
#include "rules/groups.h"
#include "rules/reset_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define ON_SOP (1u << SET_SOP)
#define HARD_RESET_STEPS "linux-usb mailing list, Hard Reset test steps quoting the compliance checks"
#define BENCH_HARD_RESET "Let a sink with USB PD attach and agree, then make it send a Hard Reset; record until the next contract."
#define BENCH_SOFT_RESET "In a contract, make the sink send a Soft_Reset; record until the next contract."

static const char *const says_restart[] = {
    [RESTART_LATE] = "The first Source_Capabilities after the Hard Reset came after {4:s}; {5:s} is the limit.",
    [RESTART_WRONG] = "The source's first message after the Hard Reset is {0:m}; it has to begin anew with Source_Capabilities.",
    [RESTART_MISSING] = "The sink is still there, but no Source_Capabilities came within {5:s} of the Hard Reset.",
    NULL,
};
static const char *const says_anew[] = {
    [ANEW_LATE] = "{0:m} came {4:ms} after the Accept of the Soft_Reset; {5:ms} is the limit.",
    [ANEW_WRONG] = "The source's next message after the Soft_Reset is {0:m}; it has to offer its capabilities again.",
    [ANEW_MISSING] = "No capabilities came within {5:ms} of the Accept of the Soft_Reset.",
    NULL,
};
static const char *const says_contract[] = {
    [CONTRACT_LATE] = "The next contract came {4:s} after the Hard Reset; {5:s} is the limit.",
    [CONTRACT_MISSING] = "The sink spoke, but {5:s} after the Hard Reset there is no contract.",
    NULL,
};
static const char *const says_repeated[] = {
    [REPEATED_TOO_OFTEN] = "Hard Reset number {0} in a row, no contract between; after {1} a port gives up.",
    NULL,
};
static const char *const says_cable[] = {
    [CABLE_RESET_UNSURE] = "{0:m} follows the Cable Reset after {4:ms}.",
    [CABLE_RESET_BY_SINK] = "{0:m} of a sink that neither is the DFP nor sources VCONN follows the Cable Reset after {4:ms}: it most "
                            "likely sent that too.",
    NULL,
};

static const char *const silences_restart[] = { "reset.hard-reset-vbus-cycle", NULL };
static const char *const silences_contract[] = { "reset.hard-reset-vbus-cycle", "reset.restart-with-caps", NULL };

static const char *const restart_parameters[] = { [RESTART_LIMIT] = "restart_caps_s", NULL };
static const char *const anew_parameters[] = { [ANEW_WAIT] = "tTypeCSinkWaitCap", NULL };
static const char *const contract_parameters[] = { [CONTRACT_LIMIT] = "contract_after_reset_s", NULL };
static const char *const repeated_parameters[] = { [REPEATED_COUNT] = "nHardResetCount", NULL };
static const char *const cable_parameters[] = { [CABLE_RESET_AFTER] = "cable_reset_ms", NULL };

const struct rule reset_rules[] = {
    {
        .id = "reset.restart-with-caps",
        .title = "After a Hard Reset the source begins anew with Source_Capabilities",
        .requirement = "Where the sink is still there, the source's first message on SOP after a Hard Reset is Source_Capabilities, and it "
                       "comes before 3.425 s: the longest recovery, 1.425 s, and 2 s of ours.",
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
                       "EPR_Source_Capabilities), and it starts within 310 ms of the Accept's acknowledgement, before the sink's patience "
                       "can end.",
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
        .id = "reset.contract-after-reset",
        .title = "A Hard Reset ends in a new contract",
        .requirement = "Where the sink spoke after a Hard Reset, or after one of a run of them, there is a contract within 5 s of it (of the "
                       "first one of the run).",
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
        .requirement = "Without a contract, a detach or an attach between them there are at most three Hard Resets in a row: "
                       "nHardResetCount, 2, and the first one.",
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
        .id = "reset.cable-reset",
        .title = "A Cable Reset comes from the port that may send it",
        .requirement = "Within 1 ms after a Cable Reset no sink speaks that neither is the DFP nor sources VCONN.",
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
