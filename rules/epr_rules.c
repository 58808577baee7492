/* The rules about the extended power range: entry, what is said in it, and exit. */
#include "rules/groups.h"
#include "rules/epr_checks.h"
#include "rules/rail.h"

#include "decode/sources.h"

#include <stddef.h>

#define MISSING_BETWEEN "Records are missing, or could not be read, in between."
#define ON_SOP (1u << SET_SOP)
#define EPR_MODE_MESSAGES { .data = 1u << DATA_EPR_MODE }
#define ACTIONS "actions of EPR_Mode seen in " FROM_CHROMIUM " and " FROM_INFINEON
#define BENCH_EPR "With an EPR cable, let a sink that asks for more than 100 W attach and enter EPR mode"
/* What ends a sequence. */
#define ENDS (EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_END))

static const char *const says_entry[] = {
    [ENTRY_LATE] = "{0:m} ended the entry into EPR mode {4:ms} after Enter; the limit is {5:ms}.",
    [ENTRY_WRONG] = "The source sent {0:m} in the middle of an entry into EPR mode.",
    [ENTRY_MISSING] = "Neither Enter Succeeded nor Enter Failed followed Enter Acknowledged within {5:ms} of Enter.",
    [ENTRY_UNACKNOWLEDGED] = "Enter was received, but the source did not answer it within {5:ms}.",
    NULL,
};
static const char *const says_cable[] = {
    [NEEDS_CABLE_MARKS] = "EPR mode is entered; the cable says EPR Capable {0}, maximum VBUS voltage {1}, VBUS current {2}; an EPR cable "
                          "says 1, 3 (50 V) and 2 (5 A).",
    [NEEDS_CABLE_UNSEEN] = "EPR mode is entered, and the cable plug has not been identified since the attach.",
    NULL,
};
static const char *const says_capable[] = {
    [NEEDS_OFFER_FLAG] = "EPR mode is entered; object 1 of the last Source_Capabilities ({0:x}) has bit 23 (EPR Capable) clear.",
    [NEEDS_REQUEST_FLAG] = "EPR mode is entered; the sink's last Request ({0:x}) has bit 22 (EPR Capable) clear.",
    [NEEDS_UNKNOWN] = "The last Source_Capabilities or the last Request is not in the recording.",
    NULL,
};
static const char *const says_mode[] = {
    [OWED_LATE] = "{0:m} came {4:ms} after Enter Succeeded; the limit is {5:ms}.",
    [OWED_WRONG] = "The source sent {0:m} after Enter Succeeded; EPR_Source_Capabilities has to come first.",
    [OWED_MISSING] = "No EPR_Source_Capabilities came within {5:ms} of Enter Succeeded.",
    NULL,
};
static const char *const says_spr_caps[] = {
    [SPR_CAPS_UNASKED] = "The source sent Source_Capabilities in EPR mode, and the sink had not asked for them.",
    NULL,
};
static const char *const says_kind[] = {
    [REQUEST_KIND_PLAIN] = "The sink sent Request in EPR mode, where it has to send EPR_Request.",
    [REQUEST_KIND_EPR] = "The sink sent EPR_Request outside EPR mode, where it has to send Request.",
    [REQUEST_KIND_UNKNOWN] = "Whether EPR mode is active is not known.",
    NULL,
};
static const char *const says_keepalive[] = {
    [KEEPALIVE_MISSING] = "EPR_KeepAlive was received, but no EPR_KeepAlive_Ack came.",
    [KEEPALIVE_OTHER] = "EPR_KeepAlive was answered with {0:m} instead of EPR_KeepAlive_Ack.",
    [KEEPALIVE_GIVEN_UP] = "A Hard Reset came {4:ms} after EPR_KeepAlive was acknowledged, and no EPR_KeepAlive_Ack before it.",
    [KEEPALIVE_CUT_SHORT] = "A Hard Reset came {4:ms} after EPR_KeepAlive was acknowledged, before an EPR_KeepAlive_Ack was due.",
    NULL,
};
static const char *const says_exit[] = {
    [OWED_LATE] = "{0:m} came {4:ms} after Exit; the limit is {5:ms}.",
    [OWED_MISSING] = "No Source_Capabilities came within {5:ms} of Exit.",
    [OWED_HIGH] = "EPR mode was left with a contract of {0:V}, and no Hard Reset followed.",
    NULL,
};

static const char *const says_high[] = {
    [HIGH_ABOVE] = "Outside EPR mode VBUS is at {0:V}.",
    [HIGH_UNSURE] = "VBUS is too close to the limit to decide.",
    [HIGH_UNREAD] = "VBUS was not read during this contract.",
    NULL,
};

static const char *const high_parameters[] = {
    [HIGH_LIMIT] = "spr_volt_max", [HIGH_STATIC] = "static_ms", [HIGH_TRANSIENT] = "tSrcTransient", [HIGH_STEP] = "load_step_ma",
    [HIGH_AFTER] = "transition_ms", NULL,
};
static const char *const silences_high[] = { "time.epr-timeout", NULL };
static const char *const entry_parameters[] = { [ENTRY_WAIT] = "tEnterEPR", NULL };
static const char *const mode_parameters[] = { [OWED_LIMIT] = "epr_caps_ms", [OWED_ENTRY] = "tEnterEPR", NULL };
static const char *const keepalive_parameters[] = { "tSenderResponse", "answer_none_ms", NULL }; /* in the order of ask_silence */
static const char *const exit_parameters[] = { [OWED_LIMIT] = "epr_caps_ms", NULL };

static const char *const silences_entry[] = { "epr.entry-order", NULL };
/*
 * Messages that should not be there need no answer. (Both types are defined, either side may send them, nobody looks for them on SOP',
 * and where they are not allowed in the revision these rules of 3.1 have no occasion.)
 */
static const char *const silences_owner[] = { "message.length", "message.object-count", NULL };

const struct rule epr_rules[] = {
    {
        .id = "epr.entry-order",
        .title = "The source answers an entry into EPR mode step by step",
        .requirement = "After an EPR_Mode Enter that was heard the source says Enter Acknowledged and then Enter Succeeded, or Enter "
                       "Failed at either place (a source that knows no EPR mode: Not_Supported), before {tEnterEPR:most} have passed since "
                       "Enter was acknowledged; on SOP it says nothing else in between but what a VCONN_Swap takes.",
        .source = "USB PD, EPR mode entry; " ACTIONS "; tEnterEPR seen in " FROM_CHROMIUM " and " FROM_INFINEON "; the order from memory",
        .why = "A sink that is left hanging here falls back, and its owner never sees the power paid for.",
        .undecided = MISSING_BETWEEN,
        .bench = BENCH_EPR ".",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK) | ENDS, .messages = EPR_MODE_MESSAGES, .sets = ON_SOP,
        .parameters = entry_parameters, .silenced_by = silences_owner, .sentences = says_entry,
        .state_size = sizeof(struct entry_state), .check = epr_check_entry_order,
    },
    {
        .id = "epr.entry-needs-cable",
        .title = "A source enters EPR mode only with a cable that is made for it",
        .requirement = "At Enter Succeeded the last Discover Identity of the plug (SOP') since the attach says EPR Capable 1, 50 V and 5 A. A "
                       "captive cable has no occasion.",
        .source = "USB PD, EPR cables; fields of the cable VDO seen in " FROM_LINUX_VDO " and " FROM_INFINEON "; EPR Capable from a public "
                  "field table and from memory",
        .why = "48 V on a cable that was never tested for it can draw an arc when it is pulled.",
        .undecided = "The attach lies before the trace, or records are missing since: the plug may have been asked there.",
        .bench = BENCH_EPR "; then the same with a cable that is not made for EPR: the entry has to fail.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = EPR_MODE_MESSAGES, .sets = ON_SOP,
        .parameters = entry_parameters, .silenced_by = silences_entry, .sentences = says_cable,
        .check = epr_check_entry_needs_cable,
    },
    {
        .id = "epr.entry-needs-capable",
        .title = "A source enters EPR mode only if both sides have said that they can",
        .requirement = "At Enter Succeeded bit 23 (EPR Capable) of object 1 in the last Source_Capabilities and bit 22 of the sink's last "
                       "Request are 1.",
        .source = "USB PD, EPR mode entry; the bits seen in " FROM_CHROMIUM ", " FROM_INFINEON " and " FROM_FUCHSIA,
        .why = "Either side may take the other for a device that cannot stand more than 20 V.",
        .undecided = "The last Source_Capabilities or the last Request is not in the recording.",
        .bench = BENCH_EPR ".",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = EPR_MODE_MESSAGES, .sets = ON_SOP,
        .parameters = entry_parameters, .silenced_by = silences_entry, .sentences = says_capable,
        .check = epr_check_entry_needs_capable,
    },
    {
        .id = "epr.caps-in-mode",
        .title = "In EPR mode the source offers first of all what it has there",
        .requirement = "The source's next message on SOP after Enter Succeeded is EPR_Source_Capabilities, begun within {epr_caps_ms:most} "
                       "(ours). What the sink asks for by Extended_Control meanwhile, and its answer, are let pass.",
        .source = "USB PD, EPR_Source_Capabilities; type seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; the order from memory",
        .why = "Without that offer the sink has nothing to ask for and has to leave again.",
        .undecided = MISSING_BETWEEN " The sink asked for something else first.",
        .bench = BENCH_EPR ".",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK) | ENDS, .messages = EPR_MODE_MESSAGES, .sets = ON_SOP,
        .parameters = mode_parameters, .silenced_by = silences_entry, .sentences = says_mode,
        .state_size = sizeof(struct owed_caps), .check = epr_check_caps_in_mode,
    },
    {
        .id = "epr.spr-caps-in-mode",
        .title = "In EPR mode Source_Capabilities come only if they are asked for",
        .requirement = "Source_Capabilities in EPR mode answer a Get_Source_Cap of the sink, or follow a Soft_Reset.",
        .source = "USB PD, policy engine of the sink, EPR mode: notes on PD R3.2 V1.2 (secondary)",
        .why = "A sink that gets them unasked has to answer with a Hard Reset: the supply is gone.",
        .undecided = "Records are missing, or could not be read, since the sink's last message: it may have asked.",
        .bench = BENCH_EPR ", stay there for a minute, and have the sink ask for the source's capabilities.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = { .data = 1u << DATA_SOURCE_CAPABILITIES }, .sets = ON_SOP,
        .sentences = says_spr_caps, .check = epr_check_spr_caps,
    },
    {
        .id = "epr.request-kind",
        .title = "A sink asks by EPR_Request in EPR mode, and by Request outside",
        .requirement = "In EPR mode the sink asks by EPR_Request, outside by Request. A plain Request is judged of sinks alone that are seen to "
                       "know EPR.",
        .source = "USB PD, EPR_Request: from memory",
        .why = "The source cannot tell which of its offers is meant.",
        .undecided = "Whether EPR mode is active is not known.",
        .bench = BENCH_EPR ", ask for more than 20 V, leave EPR mode and ask for 9 V.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_EPR_ENTERED) |
                 EVENT_BIT(EVENT_EPR_LEFT),
        .messages = { .data = 1u << DATA_REQUEST | 1u << DATA_EPR_REQUEST }, .sets = ON_SOP, .sentences = says_kind,
        .state_size = sizeof(struct request_kind), .check = epr_check_request_kind,
    },
    {
        .id = "epr.keepalive-ack",
        .title = "A source acknowledges every EPR_KeepAlive",
        .requirement = "Each EPR_KeepAlive that was heard is answered by EPR_KeepAlive_Ack before {answer_none_ms:most} have passed, or "
                       "before a Hard Reset that comes when the shortest patience of a sink, {tSenderResponse:least}, is over.",
        .source = "USB PD, Extended_Control; types seen in " FROM_ZEPHYR ", " FROM_CHROMIUM " and " FROM_INFINEON,
        .why = "Unanswered, the sink takes the source for gone and resets.",
        .undecided = MISSING_BETWEEN " Both sides spoke at once. A Hard Reset came while the answer might have come yet.",
        .bench = BENCH_EPR " and stay there for some seconds without any other traffic.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_ASK), .messages = { .extended = UINT32_C(1) << EXTENDED_CONTROL }, .sets = ON_SOP,
        .parameters = keepalive_parameters, .silenced_by = silences_owner, .sentences = says_keepalive, .check = epr_check_keepalive,
    },
    {
        .id = "epr.exit",
        .title = "EPR mode is left from a contract that may go on outside it",
        .requirement = "At an EPR_Mode Exit that was heard the contract is at most 20 V (programmable supply: 21 V), or a Hard Reset "
                       "follows; and Source_Capabilities of the source follow within {epr_caps_ms:most} (ours).",
        .source = "USB PD, EPR mode exit; " ACTIONS "; the order from memory",
        .why = "A device that thinks that it left EPR mode must not find 28 V at its input.",
        .undecided = MISSING_BETWEEN,
        .bench = BENCH_EPR ", ask for 20 V, and leave it again.",
        .basis = BASIS_FOUND | BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(WAKE_TALK) | ENDS, .messages = EPR_MODE_MESSAGES, .sets = ON_SOP,
        .parameters = exit_parameters, .sentences = says_exit,
        .state_size = sizeof(struct owed_caps), .check = epr_check_exit,
    },
    {
        .id = "epr.high-voltage-outside",
        .title = "Outside EPR mode VBUS stays below what EPR mode is for",
        .requirement = "In a contract outside EPR mode every static value of VBUS, a mean over {static_ms:most}, is at most "
                       "{spr_volt_max:most}: the highest a programmable supply may give, with its tolerance. Changes under way are left "
                       "out.",
        .source = "USB PD, SPR voltages; 21 V seen in a Zephyr sample log; 5 % seen in Linux drivers/usb/typec/tcpm",
        .why = "A device that never asked for EPR mode need not stand more.",
        .undecided = "VBUS was not read during the contract, or stands too near the limit; or whether the two are in EPR mode is not known and "
                     "the attach was not seen.",
        .bench = "Ask for the highest voltage of every kind outside EPR mode, with VBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CONTRACT),
        .parameters = high_parameters, .silenced_by = silences_high, .sentences = says_high, .check = epr_check_high_voltage,
    },
    { .id = NULL },
};
