/* The rules about swaps of power role, data role and VCONN. */
#include "rules/groups.h"
#include "rules/swap_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define MISSING_BETWEEN "Records are missing, or could not be read, in between."
#define ON_SOP (1u << SET_SOP)
#define ASKED_BY(type) { .control = UINT32_C(1) << CONTROL_##type }
#define A_SEQUENCE (EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH))
#define BENCH_SWAPS "Join two dual-role ports and have each of them ask for "

static const char *const says_power[] = {
    [ORDER_WRONG] = "{0:m} came in the swap where {1:m} has to come.",
    [ORDER_OLD_MISSING] = "The swap was accepted, but PS_RDY of the old source never came.",
    [ORDER_NEW_MISSING] = "The old source is off, but PS_RDY of the new source never came.",
    [ORDER_CAPS_MISSING] = "The new source is on, but its Source_Capabilities never came.",
    [ORDER_BY_SOURCE] = "FR_Swap was sent by the source; only the sink may send it.",
    NULL,
};
static const char *const says_off[] = {
    [OFF_STILL_ON] = "The old source says PS_RDY while VBUS is still at {0:V}.",
    [OFF_UNSURE] = "VBUS at PS_RDY of the old source is too close to the limit to decide, or already driven by the new source.",
    [OFF_UNREAD] = "VBUS was not read within 5 ms of PS_RDY of the old source.",
    NULL,
};
static const char *const says_dip[] = {
    [DIP_LONG] = "In the fast role swap VBUS stayed below {0:V} for more than {5:ms}.",
    [DIP_UNSURE] = "VBUS was read too seldom in the fast role swap to tell how long it was below {0:V}.",
    [DIP_UNREAD] = "VBUS was not read in the fast role swap.",
    NULL,
};
static const char *const says_data[] = {
    [DATA_ROLE_KEPT] = "{0:m} from the {1:side} still has the data role from before the accepted DR_Swap.",
    NULL,
};
static const char *const says_vconn[] = {
    [VCONN_LATE] = "PS_RDY came {4:ms} after the Accept of VCONN_Swap; the limit is {5:ms}.",
    [VCONN_WRONG] = "PS_RDY came from the old VCONN source; it has to come from the new one.",
    [VCONN_MISSING] = "VCONN_Swap was accepted, but no PS_RDY came within {5:ms}.",
    NULL,
};
static const char *const says_dual[] = {
    [DUAL_ROLE_SOURCE] = "The source takes part in a PR_Swap; object 1 of its capabilities has bit 29 (Dual-Role Power) clear.",
    [DUAL_ROLE_SINK] = "The sink takes part in a PR_Swap; object 1 of its capabilities has bit 29 (Dual-Role Power) clear.",
    NULL,
};

static const char *const power_parameters[] = {
    [ORDER_STEP] = "swap_step_s", [ORDER_OFF_SPR] = "tPSSourceOff@spr", [ORDER_OFF_EPR] = "tPSSourceOff@epr",
    [ORDER_ON] = "tPSSourceOn", [ORDER_CAPS] = "tTypeCSinkWaitCap", NULL,
};
static const char *const vconn_parameters[] = { [VCONN_WAIT] = "tVCONNSourceTimeout", NULL };
static const char *const off_parameters[] = { [OFF_LEVEL] = "vSafe0V", NULL };
static const char *const dip_parameters[] = { [DIP_MOST] = "fr_dip_ms", [DIP_LEVEL] = "vSafe5V", NULL };
static const char *const silences_fr[] = { "message.direction", NULL };

static const char *const silences_data[] = { "message.data-role", NULL };

const struct rule swap_rules[] = {
    {
        .id = "swap.pr-order",
        .title = "A swap of power roles goes step by step",
        .requirement = "After an accepted PR_Swap the next messages on SOP are PS_RDY of the old source, PS_RDY of the new source, and "
                       "Source_Capabilities of the new source; or a Hard Reset ends it. A step that has not begun after "
                       "{swap_step_s:most}, or was overdue when the Hard Reset came, is missing.",
        .source = "USB PD, PR_Swap, order of messages: from memory; tPSSourceOff and tPSSourceOn seen in " FROM_LINUX " and " FROM_CHROMIUM
                  "; the 2 s are ours",
        .why = "Two ports that both drive VBUS, or neither, end in a reset or in an unpowered device.",
        .undecided = MISSING_BETWEEN " Or whether the two are in EPR mode, where a sink waits longer, is not known.",
        .bench = BENCH_SWAPS "the other power role.",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = A_SEQUENCE, .messages = ASKED_BY(PR_SWAP), .sets = ON_SOP,
        .parameters = power_parameters, .sentences = says_power,
        .state_size = sizeof(struct power_swap), .check = swap_check_pr_order,
    },
    {
        .id = "swap.pr-vbus-off",
        .title = "The old source is off when it says so",
        .requirement = "At the start of the old source's PS_RDY in a PR_Swap VBUS is below {vSafe0V:most}: the mean of the readings within "
                       "1 ms of it; where there are none the last reading before it and the first one after it, one of them at most 5 ms "
                       "away.",
        .source = "USB PD, PR_Swap; vSafe0V seen in " FROM_ZEPHYR "; the 1 ms and the 5 ms are ours",
        .why = "The new source switches on at that message: two supplies would meet.",
        .undecided = "VBUS was not read near PS_RDY, passes through 0.8 V just there, or had been off and is raised by the new source.",
        .bench = BENCH_SWAPS "the other power role, with VBUS recorded every millisecond.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = A_SEQUENCE | EVENT_BIT(EVENT_END), .messages = ASKED_BY(PR_SWAP), .sets = ON_SOP,
        .parameters = off_parameters, .sentences = says_off,
        .state_size = sizeof(struct vbus_off), .check = swap_check_vbus_off,
    },
    {
        .id = "swap.dr-order",
        .title = "After a swap of data roles both sides show the other one",
        .requirement = "After an accepted DR_Swap the next message on SOP of each side has the Port Data Role that the partner had in "
                       "DR_Swap and Accept.",
        .source = "USB PD, DR_Swap; Port Data Role in the header seen in " FROM_LINUX " and " FROM_ZEPHYR,
        .why = "Ports that disagree on who is the host drop the connection, power and all.",
        .undecided = "Records are missing, or could not be read, since the Accept: the roles may have been swapped back.",
        .bench = BENCH_SWAPS "the other data role; record a few messages more.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_END),
        .messages = ASKED_BY(DR_SWAP), .sets = ON_SOP, .silenced_by = silences_data, .sentences = says_data,
        .state_size = sizeof(struct data_swap), .check = swap_check_dr_order,
    },
    {
        .id = "swap.vconn-order",
        .title = "After a swap of VCONN the new VCONN source says when it is ready",
        .requirement = "After an accepted VCONN_Swap, PS_RDY comes from the port that did not source VCONN before, within "
                       "{tVCONNSourceTimeout:most} of the Accept's acknowledgement and before a reset. A reset before "
                       "{tVCONNSourceTimeout:least} ends it without a verdict.",
        .source = "USB PD, VCONN_Swap; tVCONNSourceTimeout: a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "While nobody sources VCONN the plug is without supply and forgets what it was told.",
        .undecided = "Records are missing, or could not be read, in between. Where it was not seen who sourced VCONN (no plug spoke), either PS_RDY "
                     "passes.",
        .bench = BENCH_SWAPS "VCONN.",
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = A_SEQUENCE | EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_END), .messages = ASKED_BY(VCONN_SWAP), .sets = ON_SOP,
        .parameters = vconn_parameters, .sentences = says_vconn,
        .state_size = sizeof(struct vconn_swap), .check = swap_check_vconn_order,
    },
    {
        .id = "swap.fr-order",
        .title = "A fast swap of power roles goes step by step",
        .requirement = "FR_Swap comes from the sink. Once it is accepted, PS_RDY of the old source and PS_RDY of the new source follow in "
                       "this order; or a Hard Reset ends it. A step that has not begun after {swap_step_s:most}, or was overdue when the "
                       "Hard Reset came, is missing.",
        .source = "USB PD, FR_Swap; type seen in " FROM_LINUX " and " FROM_ZEPHYR "; its sender and the order from memory; the 2 s are ours",
        .why = "The fast swap is there to keep a hub alive when its supply is pulled; out of order, everything behind it goes dark.",
        .undecided = MISSING_BETWEEN,
        .bench = "On a dock that can swap fast, take the supply away from it while a dual-role port is attached.",
        .basis = BASIS_FOUND | BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = A_SEQUENCE | EVENT_BIT(WAKE_TALK), .messages = ASKED_BY(FR_SWAP), .sets = ON_SOP,
        .parameters = power_parameters, .silenced_by = silences_fr, .sentences = says_power,
        .state_size = sizeof(struct power_swap), .check = swap_check_fr_order,
    },
    {
        .id = "swap.fr-vbus",
        .title = "A fast swap keeps VBUS up",
        .requirement = "From the Accept of FR_Swap to the new source's PS_RDY VBUS never stays below {vSafe5V:least} for more than "
                       "{fr_dip_ms:most} (ours; the standard's 0.15 ms is finer than most recordings).",
        .source = "USB PD, fast role swap; tSrcFRSwap from memory; the 5 ms are ours",
        .why = "A hub behind the port loses its devices when VBUS drops.",
        .undecided = "VBUS was not read at least every 5 ms.",
        .bench = "On a dock that can swap fast, take its supply away, with VBUS recorded every millisecond.",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_VBUS,
        .wakes = A_SEQUENCE | EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_END), .messages = ASKED_BY(FR_SWAP), .sets = ON_SOP,
        .parameters = dip_parameters, .sentences = says_dip,
        .state_size = sizeof(struct fr_dip), .check = swap_check_fr_vbus,
    },
    {
        .id = "swap.dual-role-flag",
        .title = "A port that swaps power roles has said before that it can",
        .requirement = "When a PR_Swap is accepted, bit 29 (Dual-Role Power) of object 1 is 1 in the last capabilities of each side that were "
                       "seen since the attach.",
        .source = "USB PD, PR_Swap; the bit seen in " FROM_LINUX ", " FROM_ZEPHYR " and " FROM_INFINEON,
        .why = "Partners go by the flag when they decide whether to ask.",
        .undecided = "Records are missing since the capabilities that were seen: others may have come.",
        .bench = BENCH_SWAPS "the other power role, after both were asked for their capabilities.",
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH),
        .messages = ASKED_BY(PR_SWAP), .sets = ON_SOP, .sentences = says_dual,
        .state_size = sizeof(struct dual_role), .check = swap_check_dual_role,
    },
    { .id = NULL },
};
