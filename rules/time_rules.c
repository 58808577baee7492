/* The rules of the group time. */
#include "rules/groups.h"
#include "rules/line_checks.h"
#include "rules/time_checks.h"
#include "rules/time_volts.h"

#include "decode/sources.h"

#include <stddef.h>

#define TIMER_LIST "a published PD timer table that names USB PD R3.2 (secondary)"

static const char *const turnaround_parameters[] = { "tTransmit", NULL };
static const char *const retry_parameters[] = { "tReceive", "tRetry", NULL };

static const char *const says_turnaround[] = {
    "GoodCRC to {0:m} began {4:ms} after the end of the message; at most {5:ms} is allowed.",
};
static const char *const says_retry[] = {
    "{0:m} was repeated {4:ms} after the end of the copy before; at most {5:ms} is allowed.",
    "{0:m} was repeated {4:ms} after the end of the copy before; its sender has to wait at least {5:ms} for the GoodCRC.",
};

#define BIT(class, type) (UINT32_C(1) << class##_##type)
#define REQUESTS { .data = BIT(DATA, REQUEST) | BIT(DATA, EPR_REQUEST) }
#define ON_SOP (1u << SET_SOP)
#define A_SEQUENCE (EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH))
#define LATE_DOUBT "The uncertainty of the stamps reaches over the limit; or records are missing, or could not be read, in between."
#define EARLY_DOUBT "The uncertainty of the stamps reaches over the limit; or records are missing, or could not be read, in between, and it was not too early."
#define PLAIN_SUPPLIES (1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_BATTERY)
#define AVS_SUPPLIES (1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS)
#define ANSWERED_ALONE (1u << ASK_ANSWERED)
#define PS_RDY_ROW \
    .sets = ON_SOP, .wakes = EVENT_BIT(WAKE_TALK), .messages = { .control = BIT(CONTROL, PS_RDY) }, .silenced_by = power_exchange
#define BENCH_NEGOTIATE "Attach the sink and let it negotiate."
#define BENCH_SWAPS "Join two dual-role ports and have each of them ask for "
#define FROM_MANY FROM_ZEPHYR ", " FROM_CHROMIUM " and " FROM_LINUX

/* A message that is not to be there is answered as another rule says. */
static const char *const not_to_be_there[] = {
    "message.reserved-type", "message.direction", "message.set-allowed", "message.allowed-in-revision", NULL,
};
/* What a partner that waits in vain then does is another matter, to the next reset. */
static const char *const power_exchange[] = {
    "exchange.request-answered", "exchange.request-after-caps", "exchange.ready-after-accept", NULL,
};
static const char *const heard_by_nobody[] = { "exchange.goodcrc", NULL };

static const char *const receiver_parameters[] = { [ANSWER_MOST] = "tReceiverResponse", NULL };
static const char *const source_parameters[] = {
    [ANSWER_MOST] = "tReceiverResponse", [ANSWER_PATIENCE] = SENDER_RESPONSE_PARAMETERS, NULL,
};
static const char *const sender_parameters[] = { SENDER_RESPONSE_PARAMETERS, NULL };
static const char *const interval_parameters[] = { "tTypeCSendSourceCap", NULL };
static const char *const give_up_parameters[] = { [GIVE_UP_COUNT] = "nCapsCount", [GIVE_UP_END] = "caps_end_s", NULL };
static const char *const spr_parameters[] = { [READY_MOST] = "tSrcTransReq@spr", [READY_MOST_OTHER] = "tSrcTransReq@epr", NULL };
static const char *const epr_parameters[] = { [READY_MOST] = "tSrcTransReq@epr", NULL };
static const char *const pps_small_parameters[] = { [STEP_MOST] = "tPpsSrcTransSmall", [STEP_SIZE] = "vPpsSmallStep", NULL };
static const char *const pps_large_parameters[] = {
    [STEP_MOST] = "tPpsSrcTransLarge", [STEP_SIZE] = "vPpsSmallStep", [STEP_MOST_ENTRY] = "tSrcTransReq@spr", NULL,
};
static const char *const avs_small_parameters[] = { [STEP_MOST] = "tAvsSrcTransSmall", [STEP_SIZE] = "vAvsSmallStep", NULL };
static const char *const avs_large_parameters[] = {
    [STEP_MOST] = "tAvsSrcTransLarge", [STEP_SIZE] = "vAvsSmallStep", [STEP_MOST_ENTRY] = "tSrcTransReq@epr", NULL,
};
static const char *const transition_parameters[] = {
    [WAIT_SPR] = "tPSTransition@spr", [WAIT_EPR] = "tPSTransition@epr", [WAIT_RESET] = "tHardReset", NULL,
};
static const char *const after_wait_parameters[] = { "tSinkRequest", NULL };
static const char *const keepalive_parameters[] = { "tPPSRequest", NULL };
static const char *const timeout_parameters[] = {
    [PPS_TIMEOUT] = "tPPSTimeout", [PPS_RESET] = "tHardReset", [PPS_SILENCE] = "pps_silence_s", [PPS_SAME] = "pps_early_same_s", NULL,
};
static const char *const epr_alive_parameters[] = { "tSinkEPRKeepAlive", NULL };
static const char *const epr_timeout_parameters[] = {
    [EPR_TIMEOUT] = "tSourceEPRKeepAlive", [EPR_RESET] = "tHardReset", [EPR_ALIVE] = "tSinkEPRKeepAlive", NULL,
};
static const char *const chunk_request_parameters[] = { "tChunkReceiverRequest", NULL };
static const char *const chunk_response_parameters[] = { "tChunkReceiverResponse", NULL };
static const char *const swap_off_parameters[] = {
    [SWAP_STEP_SPR] = "tPSSourceOff@spr", [SWAP_STEP_EPR] = "tPSSourceOff@epr", [SWAP_STEP_NEVER] = "swap_step_s", NULL,
};
static const char *const swap_on_parameters[] = { [SWAP_ON] = "tPSSourceOn", [SWAP_ON_NEVER] = "swap_step_s", NULL };
static const char *const swap_start_parameters[] = { "tSwapSourceStart", NULL };
static const char *const fr_parameters[] = {
    [FR_STEP] = "tFRSwap5V", [FR_COMPLETE] = "tFRSwapComplete", [FR_NEVER] = "swap_step_s", NULL,
};
static const char *const vconn_parameters[] = { [VCONN_ON] = "tVCONNSourceOn", [VCONN_NEVER] = "tVCONNSourceTimeout", NULL };
static const char *const vdm_parameters[] = {
    [VDM_ANSWER] = "tVDMReceiverResponse", [VDM_ENTER] = "tVDMEnterMode", [VDM_EXIT] = "tVDMExitMode", NULL,
};
static const char *const busy_parameters[] = { "tVDMBusy", NULL };
static const char *const soft_reset_parameters[] = { [SOFT_RESET_MOST] = "tSoftReset", [SOFT_RESET_RECEIVE] = "tReceive", NULL };
static const char *const identity_parameters[] = { "tDiscoverIdentity", NULL };
static const char *const data_reset_parameters[] = { [DATA_RESET_MOST] = "tDataReset", [DATA_RESET_FAIL] = "tDataResetFail", NULL };
static const char *const sink_tx_parameters[] = { "tSinkTx", "answer_none_ms", NULL };

static const char *const says_answer[] = {
    [ANSWER_LATE] = "{0:m} began {4:ms} after {1:m} was acknowledged; at most {5:ms} is allowed.", NULL,
};
static const char *const says_source_answer[] = {
    [ANSWER_LATE] = "{0:m} began {4:ms} after {1:m} was acknowledged; at most {5:ms} is allowed.",
    [ANSWER_LATE_RESET] = "{0:m} began {4:ms} after {1:m} was acknowledged; at most {5:ms} is allowed, and a sink resets after {2:ms}.", NULL,
};
static const char *const says_request[] = {
    [ANSWER_LATE] = "{0:m} began {4:ms} after {1:m} was acknowledged; the source waits at most {5:ms}.", NULL,
};
static const char *const says_patience[] = {
    [PATIENCE_ENDED] = "{0:m} was not answered, and the reset came {4:ms} after it was acknowledged.",
    [PATIENCE_SHORT] = "The reset came {4:ms} after {0:m} was acknowledged; its sender has to wait at least {5:ms} for the answer.", NULL,
};
static const char *const says_interval[] = {
    [INTERVAL_LATE] = "Unacknowledged Source_Capabilities were sent again after {4:ms}; at most {5:ms} is allowed.",
    [INTERVAL_EARLY] = "Unacknowledged Source_Capabilities were sent again after {4:ms}; at least {5:ms} has to pass.", NULL,
};
static const char *const says_give_up[] = {
    [GAVE_UP] = "The source gave up after {0} unacknowledged Source_Capabilities; it has to send {1}.", NULL,
};
static const char *const says_ready[] = {
    [READY_LATE] = "PS_RDY began {4:ms} after Accept was acknowledged ({0:k} supply); at most {5:ms} is allowed.",
    [READY_UNKNOWN] = "When PS_RDY was due is not known: it depends on the object requested, or on EPR mode.", NULL,
};
static const char *const says_step[] = {
    [READY_LATE] = "PS_RDY began {4:ms} after Accept was acknowledged ({0:k} supply, from {2:V} to {1:V}); at most {5:ms} is allowed.",
    [READY_UNKNOWN] = "When PS_RDY was due is not known: it depends on the contract before.", NULL,
};
static const char *const says_transition[] = {
    [RESET_LATE] = "PS_RDY did not come, and the Hard Reset began {4:ms} after Accept was acknowledged; a sink waits at most {5:ms}.",
    [RESET_EARLY] = "PS_RDY did not come, and the Hard Reset began {4:ms} after Accept was acknowledged; a sink has to wait at least "
                    "{5:ms}.", NULL,
};
static const char *const says_after_wait[] = {
    [AGAIN_NONE] = "The Request came {4:ms} after Wait.",
    [AGAIN_EARLY] = "The Request came {4:ms} after Wait was acknowledged; at least {5:ms} has to pass.", NULL,
};
static const char *const says_keepalive[] = {
    [ALIVE_LATE] = "The Request came {4:s} after the one before; in a PPS contract the sink has to repeat it within {5:s}.",
    [ALIVE_NEVER] = "No Request followed this one for {4:s}, until the contract or the trace ended; in a PPS contract the sink has to "
                    "repeat it within {5:s}.",
    NULL,
};
static const char *const says_timeout[] = {
    [SILENCE_LATE] = "The Hard Reset came {4:s} after the last PPS Request was acknowledged; the limit is {5:s}.",
    [SILENCE_EARLY] = "The Hard Reset came {4:s} after the last PPS Request was acknowledged; a source has to wait at least {5:s}.",
    [SILENCE_NEVER] = "After this Request the sink fell silent, and the source went on with the PPS contract; it has to reset within {5:s}.", NULL,
};
static const char *const says_epr_alive[] = {
    [ALIVE_LATE] = "{0:m} came {4:ms} after the message before; in EPR mode the sink has to send something within {5:ms}.",
    [ALIVE_NEVER] = "In EPR mode the sink sent nothing for {4:ms} after this message; at most {5:ms} is allowed.", NULL,
};
static const char *const says_epr_timeout[] = {
    [SILENCE_LATE] = "The Hard Reset came {4:ms} after the sink's last message in EPR mode; the limit is {5:ms}.",
    [SILENCE_EARLY] = "The Hard Reset came {4:ms} after the sink's last message in EPR mode; the source has to wait at least {5:ms}.",
    [SILENCE_NEVER] = "In EPR mode the sink fell silent after this message, and the source went on; it has to reset within {5:ms}.", NULL,
};
static const char *const says_chunk_request[] = {
    "The request for chunk {0} of {1:m} began {4:ms} after the chunk before was acknowledged; at most {5:ms} is allowed.", NULL,
};
static const char *const says_chunk_response[] = {
    "Chunk {0} of {1:m} began {4:ms} after it was requested; at most {5:ms} is allowed.", NULL,
};
static const char *const says_swap_off[] = { "PS_RDY of the old source began {4:ms} after Accept was acknowledged; at most {5:ms} is allowed.", NULL };
static const char *const says_swap_on[] = {
    "PS_RDY of the new source began {4:ms} after that of the old one was acknowledged; at most {5:ms} is allowed.", NULL,
};
static const char *const says_swap_start[] = {
    [START_NONE] = "The new source sent Source_Capabilities {4:ms} after its PS_RDY.",
    [START_EARLY] = "The new source sent Source_Capabilities {4:ms} after its PS_RDY was acknowledged; at least {5:ms} has to pass.", NULL,
};
static const char *const says_vconn[] = { "PS_RDY began {4:ms} after the Accept of VCONN_Swap was acknowledged; at most {5:ms} is allowed.", NULL };
static const char *const says_busy[] = {
    [AGAIN_NONE] = "The VDM request was repeated {4:ms} after BUSY.",
    [AGAIN_EARLY] = "The VDM request was repeated {4:ms} after BUSY was acknowledged; at least {5:ms} has to pass.", NULL,
};
static const char *const says_soft_reset[] = {
    [SOFT_LATE] = "{0:m} was not acknowledged, and Soft_Reset began {4:ms} after its last copy; at most {5:ms} is allowed.", NULL,
};
static const char *const says_identity[] = {
    [AGAIN_NONE] = "Discover Identity came again after {4:ms}.",
    [AGAIN_EARLY] = "Unanswered Discover Identity was sent again {4:ms} after its end; at least {5:ms} has to pass.", NULL,
};
static const char *const says_data_reset[] = {
    [DATA_RESET_LATE] = "Data_Reset_Complete began {4:ms} after Accept was acknowledged; at most {5:ms} is allowed.",
    [DATA_RESET_NEVER] = "Data_Reset was accepted, but no Data_Reset_Complete came within {5:ms}: it has failed.", NULL,
};
static const char *const says_sink_tx[] = {
    [TX_LATE] = "The source opened an exchange with {0:m} {4:ms} after it set Rp to 1.5 A (SinkTxNG).",
    [TX_EARLY] = "The source opened an exchange with {0:m} {4:ms} after it set Rp to 1.5 A (SinkTxNG); at least {5:ms} has to pass.",
    [TX_ALLOWED] = "The source opened an exchange with {0:m} without setting Rp to 1.5 A (SinkTxNG) first.", NULL,
};

static const char *const says_first_caps[] = {
    [EDGE_LATE] = "The first Source_Capabilities came {4:ms} after VBUS was up; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "", [EDGE_UNREAD] = "VBUS was not read.",
    [EDGE_MISSING] = "VBUS is up, but no Source_Capabilities came within {5:ms}, nor later.",
    NULL,
};
static const char *const says_move[] = {
    [EDGE_LATE] = "VBUS began to move {4:ms} after the Accept was heard; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "VBUS began to move {4:ms} after the Accept was heard; the sink has at least {5:ms} to take its load off.",
    [EDGE_UNREAD] = "VBUS was not read about the Accept.",
    NULL,
};
static const char *const says_response[] = {
    [EDGE_LATE] = "VBUS began to fall {4:ms} after the Hard Reset; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "VBUS began to fall {4:ms} after the Hard Reset; the sink has at least {5:ms} to take its load off.",
    [EDGE_UNREAD] = "VBUS was not read before the Hard Reset.",
    NULL,
};
static const char *const says_fall[] = { [EDGE_LATE] = "VBUS took {4:ms} to fall below 0.8 V; at most {5:ms} is allowed.", NULL };
static const char *const says_recover[] = {
    [EDGE_LATE] = "VBUS rose again {4:ms} after it was below 0.8 V; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "VBUS rose again {4:ms} after it was below 0.8 V; it stays down for at least {5:ms}.",
    NULL,
};
static const char *const says_turn_on[] = { [EDGE_LATE] = "VBUS took {4:ms} from 0.8 V to 4.75 V; at most {5:ms} is allowed.", NULL };
static const char *const says_vbus_on[] = {
    [EDGE_LATE] = "VBUS came up to 4.75 V {4:ms} after the attach; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "", [EDGE_UNREAD] = "VBUS was not read.",
    [EDGE_MISSING] = "{5:ms} after the attach VBUS is not up; it stands at {0:V}.",
    NULL,
};
static const char *const says_vbus_off[] = {
    [EDGE_LATE] = "VBUS was below 0.8 V {4:ms} after the plug was pulled; at most {5:ms} is allowed.",
    [EDGE_EARLY] = "", [EDGE_UNREAD] = "After the plug was pulled VBUS was not read at the source.",
    NULL,
};
static const char *const first_caps_parameters[] = { [CAPS_DUE] = "tFirstSourceCap", [CAPS_ON] = "vSafe5V", NULL };
static const char *const move_parameters[] = { [EDGE_MOST] = "tSrcTransition", "still_mv", "move_mv", NULL };
static const char *const response_parameters[] = { [EDGE_MOST] = "tPSHardReset", "still_mv", "move_mv", NULL };
static const char *const fall_parameters[] = { [EDGE_MOST] = "tSafe0V", "vSafe0V", NULL };
static const char *const recover_parameters[] = { [EDGE_MOST] = "tSrcRecover@spr", [EDGE_MOST_EPR] = "tSrcRecover@epr", "vSafe0V", NULL };
static const char *const turn_on_parameters[] = { [EDGE_MOST] = "tSrcTurnOn", "vSafe0V", "vSafe5V", NULL };
static const char *const vbus_on_parameters[] = { [EDGE_MOST] = "tVBUSON", [EDGE_MOST_EPR] = "tCCDebounce", "vSafe5V", NULL };
static const char *const vbus_off_parameters[] = { [EDGE_MOST] = "tVBUSOFF", [EDGE_MOST_EPR] = "tSRCDisconnect", "vSafe0V", NULL };
static const char *const silences_first_caps[] = { "reset.hard-reset-vbus-cycle", "reset.restart-with-caps", NULL };
static const char *const silences_transition[] = { "exchange.no-ready-without-accept", "volt.unasked-change", NULL };
static const char *const silences_reset[] = { "volt.safe0v-after-hard-reset", NULL };
static const char *const silences_return[] = { "volt.safe0v-after-hard-reset", "reset.hard-reset-vbus-cycle", NULL };
static const char *const silences_vbus_off[] = { "volt.safe0v-after-detach", NULL };

#define READ_DOUBT "VBUS was read too seldom there: a crossing is known between two readings. Records are missing in between."
#define A_CYCLE .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CYCLE)

const struct rule time_rules[] = {
    {
        .id = "time.goodcrc-turnaround",
        .title = "A GoodCRC comes at once",
        .requirement = "From the end of the message, or of its copy, to the start of the GoodCRC that answers it pass at most "
                       "{tTransmit:most} (tTransmit). The least is wire.inter-frame-gap.",
        .source = "USB PD, tTransmit; seen in " TIMER_LIST,
        .why = "The sender waits for about a millisecond; a GoodCRC that comes late meets the repeat on the line.",
        .undecided = "The uncertainty of the stamps, or of a length that was not measured, reaches over the limit; or a packet that could "
                     "not be read lies between.",
        .bench = "Any talk between the two ports shows it, recorded with an instrument that stamps the packets itself.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_TURNAROUND,
        .decision_evidence = EVIDENCE_INSTRUMENT_TIME,
        .parameters = turnaround_parameters, .sentences = says_turnaround, .check = time_check_goodcrc_turnaround,
    },
    {
        .id = "time.retry",
        .title = "A message is repeated neither too early nor too late",
        .requirement = "From the end of a copy to the start of the next one pass tReceive, least, to tReceive and tRetry, most: "
                       "{tReceive:least} to {tReceive:most+tRetry:most}.",
        .source = "USB PD, tReceive and tRetry; seen in " TIMER_LIST "; that the second begins where the first runs out: from memory",
        .why = "Too early, and the repeat meets the GoodCRC; too late, and the receiver may take it for another message.",
        .undecided = "The copy before could not be read, or was acknowledged, and the time is outside; or the uncertainty of the stamps "
                     "reaches over a limit. Where another packet held the line when the copy was due it is not judged.",
        .bench = "Disturb the line for a moment while a message is sent (a long cable, a contact that is moved), so that its GoodCRC "
                 "stays away.",
        .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_RETRY,
        .decision_evidence = EVIDENCE_INSTRUMENT_TIME,
        .parameters = retry_parameters, .sentences = says_retry, .check = time_check_retry,
    },
    {
        .id = "time.receiver-response",
        .title = "An answer comes soon",
        .requirement = "From the GoodCRC of a message that wants an answer to the start of the answer pass at most tReceiverResponse, "
                       "{tReceiverResponse:most}. Not judged here: Source_Capabilities, Request, structured VDMs, chunks.",
        .source = "USB PD, tReceiverResponse; " FROM_LINUX " and " FROM_INFINEON "; counted from the end of the GoodCRC, which is lenient",
        .why = "Whoever asks gives up after 24 ms, and then resets the connection.",
        .undecided = LATE_DOUBT,
        .bench = "Ask the port for what it knows of itself: Get_Sink_Cap, Get_Source_Cap_Extended, Get_Status, Get_Revision.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { UINT32_MAX,
                      ~(BIT(DATA, SOURCE_CAPABILITIES) | BIT(DATA, REQUEST) | BIT(DATA, EPR_REQUEST) | BIT(DATA, VENDOR_DEFINED)),
                      ~BIT(EXTENDED, EPR_SOURCE_CAPABILITIES) },
        .parameters = receiver_parameters, .silenced_by = not_to_be_there, .sentences = says_answer,
        .ends = ANSWERED_ALONE, .check = time_check_receiver_response,
    },
    {
        .id = "time.source-response",
        .title = "A source answers a Request soon",
        .requirement = "From the GoodCRC of a Request or EPR_Request to the start of Accept, Reject or Wait pass at most "
                       "tReceiverResponse, {tReceiverResponse:most}.",
        .source = "USB PD, tReceiverResponse; " FROM_LINUX " and " FROM_INFINEON "; counted from the end of the GoodCRC, which is lenient",
        .why = "A sink that waits too long resets the connection, and the device loses power for a second.",
        .undecided = LATE_DOUBT,
        .bench = BENCH_NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .wakes = EVENT_BIT(WAKE_ASK), .messages = REQUESTS, .sets = ON_SOP,
        .parameters = source_parameters, .silenced_by = power_exchange, .sentences = says_source_answer,
        .ends = ANSWERED_ALONE, .check = time_check_source_response,
    },
    {
        .id = "time.first-request",
        .title = "A sink answers an offer before the source gives up",
        .requirement = "From the GoodCRC of Source_Capabilities or EPR_Source_Capabilities to the start of the Request pass at most the "
                       "longest tSenderResponse: {tSenderResponse@2.0:most} in 2.0, {tSenderResponse@3.0:most} in 3.0, "
                       "{tSenderResponse@3.1:most} in 3.1, {tSenderResponse@3.2:most} in 3.2 (from V1.2 on "
                       "{tSenderResponse@3.2-1.2:most}), {tSenderResponse:most} where it is not known.",
        .source = "USB PD, tSenderResponse; " FROM_MANY "; 33 ms in " FROM_INFINEON "; 50 ms " SECONDARY,
        .why = "The source resets a sink that is slower, again and again: the device never charges.",
        .undecided = LATE_DOUBT,
        .bench = BENCH_NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SINK, .wakes = EVENT_BIT(WAKE_ASK), .sets = ON_SOP,
        .messages = { .data = BIT(DATA, SOURCE_CAPABILITIES), .extended = BIT(EXTENDED, EPR_SOURCE_CAPABILITIES) },
        .parameters = sender_parameters, .silenced_by = power_exchange, .sentences = says_request,
        .ends = ANSWERED_ALONE, .check = time_check_first_request,
    },
    {
        .id = "time.sender-patience",
        .title = "Whoever asks waits for the answer before it resets",
        .requirement = "Where a message was acknowledged but not answered, at least the shortest tSenderResponse passes from its GoodCRC "
                       "to the Soft_Reset or Hard Reset of its sender: {tSenderResponse@2.0:least} in 2.0, {tSenderResponse@3.0:least} in "
                       "3.0, {tSenderResponse@3.1:least} in 3.1, {tSenderResponse@3.2:least} in 3.2 (from V1.2 on "
                       "{tSenderResponse@3.2-1.2:least}), {tSenderResponse:least} where it is not known.",
        .source = "USB PD, tSenderResponse; " FROM_MANY "; 27 ms in " FROM_INFINEON,
        .why = "A reset that comes too soon throws away an answer that was on its way.",
        .undecided = "Who sent the Hard Reset is not known; or records are missing, or could not be read, in between; or the uncertainty of the "
                     "stamps reaches over the limit.",
        .bench = "Leave a message of the port unanswered, but acknowledge it.",
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_HARD_RESET),
        .messages = { .control = BIT(CONTROL, SOFT_RESET) },
        .parameters = sender_parameters, .silenced_by = heard_by_nobody, .sentences = says_patience,
        .check = time_check_sender_patience,
    },
    {
        .id = "time.first-caps",
        .title = "A source speaks soon after VBUS is up",
        .requirement = "From VBUS crossing {vSafe5V:least} after an attach or a Hard Reset to the start of the first Source_Capabilities at most "
                       "{tFirstSourceCap:most} pass "
                       "(tFirstSourceCap). A source that spoke earlier in the trace may not stay silent.",
        .source = "USB PD, tFirstSourceCap: " TIMER_LIST "; a mail to the Linux USB list",
        .why = "A sink that hears nothing takes the port for a plain 5 V supply, and charges slowly.",
        .undecided = READ_DOUBT " An attach that was not seen is not judged.",
        .bench = "Plug a sink in several times, and have it send a Hard Reset, with VBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_LOSS) |
                 EVENT_BIT(WAKE_TIME) | EVENT_BIT(WAKE_ATTACH_END) | EVENT_BIT(WAKE_SECTION),
        .sections = SECTION_BIT(SECTION_CYCLE),
        .messages = { .data = BIT(DATA, SOURCE_CAPABILITIES) }, .sets = ON_SOP, .parameters = first_caps_parameters,
        .silenced_by = silences_first_caps, .sentences = says_first_caps, .state_size = sizeof(struct first_caps), .check = time_check_first_caps,
    },
    {
        .id = "time.caps-interval",
        .title = "A source that nobody hears offers again at a steady pace",
        .requirement = "From the end of Source_Capabilities that nobody acknowledged, in its last copy, to the start of the next one, with "
                       "no packet between, pass {tTypeCSendSourceCap:both} (tTypeCSendSourceCap).",
        .source = "USB PD, tTypeCSendSourceCap; " FROM_ZEPHYR ", " FROM_LINUX " and " FROM_INFINEON,
        .why = "Too slow, and a device waits in vain; too fast, and it finds the line busy.",
        .undecided = "Records are missing in between; or the uncertainty of the stamps reaches over a limit.",
        .bench = "Attach a plain 5.1 kOhm sink that knows no USB PD, and record for a few seconds.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .wakes = EVENT_BIT(WAKE_TALK), .sets = ON_SOP,
        .messages = { .data = BIT(DATA, SOURCE_CAPABILITIES) },
        .parameters = interval_parameters, .sentences = says_interval, .check = time_check_caps_interval,
    },
    {
        .id = "time.caps-give-up",
        .title = "A source does not give up too soon",
        .requirement = "A run of Source_Capabilities that nobody acknowledges, from an attach or a Hard Reset on, that ends (for "
                       "{caps_end_s:most} none follows) while the partner stays attached and VBUS stays on has at least {nCapsCount:least} "
                       "of them (nCapsCount).",
        .source = "USB PD, nCapsCount; " FROM_ZEPHYR ", " FROM_MICROCHIP " and " FROM_INFINEON "; the 1 s is ours",
        .why = "A device that takes a while to start, such as a phone with an empty battery, is not offered anything any more.",
        .undecided = "Records are missing in the run.",
        .bench = "Attach a plain 5.1 kOhm sink that knows no USB PD, and record for 15 s, with CC or VBUS.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .sets = ON_SOP,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(WAKE_TIME) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_HARD_RESET),
        .messages = { .data = BIT(DATA, SOURCE_CAPABILITIES) },
        .parameters = give_up_parameters, .sentences = says_give_up, .state_size = sizeof(struct give_up),
        .check = time_check_caps_give_up,
    },
    {
        .id = "time.src-transition",
        .title = "VBUS begins to move neither too soon nor too late after Accept",
        .requirement = "After the Accept of a Request for a fixed, variable or battery supply more than 0.5 V away, VBUS begins to move {tSrcTransition:both} after the "
                       "Accept was acknowledged (tSrcTransition): from the last reading within {still_mv:most} of its level to the first one more than "
                       "{move_mv:most} from it.",
        .source = "USB PD, tSrcTransition; seen in " FROM_ZEPHYR " and " FROM_LINUX "; the 20 and 200 mV are ours",
        .why = "Before that the sink has not taken its load off; a device that is not ready sees its supply move.",
        .undecided = READ_DOUBT " The load stepped in between.",
        .bench = "Go through all profiles, up and down, with VBUS recorded every millisecond.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE, .needs_ns = 10000000,
        .wakes = EVENT_BIT(WAKE_SECTION), .sections = SECTION_BIT(SECTION_CHANGE), .parameters = move_parameters,
        .silenced_by = silences_transition, .sentences = says_move, .check = time_check_src_transition,
    },
    {
        .id = "time.ready-spr",
        .title = "The power that was accepted is there soon",
        .requirement = "For a fixed, variable or battery object outside EPR mode at most {tSrcTransReq@spr:most} (tSrcTransReq) pass from "
                       "the GoodCRC of Accept to the start of PS_RDY. Where the mode is not known: {tSrcTransReq@epr:most}.",
        .source = "USB PD, tSrcTransition and tSrcReady; 325 ms in the constants of one Rust PD stack (one source), the sum of the two timers is 320 ms",
        .why = "The sink draws next to nothing until then, and gives the source up after 450 ms.",
        .undecided = "What was asked for, or the mode, is not in the trace; or records are missing, or could not be read, in between; or the "
                     "uncertainty of the stamps reaches over the limit.",
        .bench = "Ask for every fixed object, from the lowest voltage to the highest and back.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, PS_RDY_ROW, .parameters = spr_parameters, .sentences = says_ready,
        .supplies = PLAIN_SUPPLIES, .check = time_check_ready_spr,
    },
    {
        .id = "time.ready-epr",
        .title = "The power that was accepted in EPR mode is there soon",
        .requirement = "For a fixed, variable or battery object in EPR mode at most {tSrcTransReq@epr:most} (tSrcTransReq) pass from the "
                       "GoodCRC of Accept to the start of PS_RDY.",
        .source = "USB PD, tSrcTransition and tSrcReady; 760 ms in the constants of one Rust PD stack (one source); the timers from memory",
        .why = "The sink draws next to nothing until then, and gives the source up after 830 ms.",
        .undecided = LATE_DOUBT,
        .bench = "In EPR mode ask for every fixed object, from the lowest voltage to the highest and back.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31, PS_RDY_ROW,
        .parameters = epr_parameters, .sentences = says_ready, .supplies = PLAIN_SUPPLIES, .check = time_check_ready_epr,
    },
    {
        .id = "time.pps-small",
        .title = "A small PPS step is there at once",
        .requirement = "Where a PPS contract is followed by another voltage of the same object, at most {vPpsSmallStep:most} away, at most "
                       "{tPpsSrcTransSmall:most} (tPpsSrcTransSmall) pass from the GoodCRC of Accept to the start of PS_RDY.",
        .source = "USB PD, tPpsSrcTransSmall; " FROM_MICROCHIP " and " FROM_ONSEMI,
        .why = "A phone that charges its battery directly steps the voltage several times a second.",
        .undecided = LATE_DOUBT,
        .bench = "Within a PPS object step the voltage by 20 mV to 500 mV, up and down.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, PS_RDY_ROW,
        .parameters = pps_small_parameters, .sentences = says_step, .supplies = 1 << SUPPLY_PPS, .check = time_check_pps_small,
    },
    {
        .id = "time.pps-large",
        .title = "A large PPS step, and the way into PPS, take no longer than they may",
        .requirement = "A step of more than {vPpsSmallStep:most}, or one from another PPS object, takes at most {tPpsSrcTransLarge:most} "
                       "(tPpsSrcTransLarge) from the GoodCRC of Accept to the start of PS_RDY; from another kind of object, or from no "
                       "contract, at most {tSrcTransReq@spr:most}. What stood before is not known: only more than {tSrcTransReq@spr:most} "
                       "is judged.",
        .source = "USB PD, tPpsSrcTransLarge; " FROM_ONSEMI " and " FROM_MICROCHIP "; 325 ms in the constants of one Rust PD stack (one source)",
        .why = "The sink draws next to nothing until then.",
        .undecided = LATE_DOUBT,
        .bench = "Go into a PPS object, and from one end of its range to the other.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, PS_RDY_ROW,
        .parameters = pps_large_parameters, .sentences = says_step, .supplies = 1 << SUPPLY_PPS, .check = time_check_pps_large,
    },
    {
        .id = "time.avs-small",
        .title = "A small AVS step is there soon",
        .requirement = "Where an AVS contract is followed by another voltage of the same object, at most {vAvsSmallStep:most} away, at "
                       "most {tAvsSrcTransSmall:most} (tAvsSrcTransSmall) pass from the GoodCRC of Accept to the start of PS_RDY.",
        .source = "USB PD, tAvsSrcTransSmall; " FROM_LINUX_LIST "; " FROM_INFINEON,
        .why = "A device that follows its own need with small steps waits for each of them.",
        .undecided = LATE_DOUBT,
        .bench = "Within an AVS object step the voltage by 100 mV to 1 V, up and down.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31, PS_RDY_ROW,
        .parameters = avs_small_parameters, .sentences = says_step, .supplies = AVS_SUPPLIES, .check = time_check_avs_small,
    },
    {
        .id = "time.avs-large",
        .title = "A large AVS step, and the way into AVS, take no longer than they may",
        .requirement = "A step of more than {vAvsSmallStep:most} takes at most {tAvsSrcTransLarge:most} (tAvsSrcTransLarge) from the "
                       "GoodCRC of Accept to the start of PS_RDY; from another object, or from no contract, at most "
                       "{tSrcTransReq@epr:most}. What stood before is not known: only more than {tSrcTransReq@epr:most} is judged.",
        .source = "USB PD, tAvsSrcTransLarge; " FROM_LINUX_LIST "; " FROM_INFINEON "; 760 ms in the constants of one Rust PD stack (one source)",
        .why = "The sink draws next to nothing until then.",
        .undecided = LATE_DOUBT,
        .bench = "Go into an AVS object, and from one end of its range to the other.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31, PS_RDY_ROW,
        .parameters = avs_large_parameters, .sentences = says_step, .supplies = AVS_SUPPLIES, .check = time_check_avs_large,
    },
    {
        .id = "time.ps-transition",
        .title = "A sink waits for PS_RDY as long as it has to, and no longer",
        .requirement = "Where PS_RDY stays away, the sink's Hard Reset begins {tPSTransition@spr:least} to "
                       "{tPSTransition@spr:most+tHardReset:most} after the GoodCRC of Accept (tPSTransition and tHardReset), in EPR mode "
                       "{tPSTransition@epr:least} to {tPSTransition@epr:most+tHardReset:most}.",
        .source = "USB PD, tPSTransition; " FROM_MANY "; tHardReset in a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "Too soon, and a slow but good source is reset; too late, and the device sits without power.",
        .undecided = "It is not sure that the sink sent the Hard Reset; or records are missing, or could not be read, in between; or the "
                     "uncertainty of the stamps reaches over a limit.",
        .bench = "Accept a Request of the sink, and leave out PS_RDY.",
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_SHOULD, .whom = WHO_SINK, .wakes = EVENT_BIT(EVENT_HARD_RESET),
        .parameters = transition_parameters, .sentences = says_transition, .check = time_check_ps_transition,
    },
    {
        .id = "time.hard-reset-response",
        .title = "VBUS begins to fall 25 to 35 ms after a Hard Reset",
        .requirement = "From the end of a Hard Reset in a contract to VBUS beginning to fall {tPSHardReset:both} pass (tPSHardReset).",
        .source = "USB PD, tPSHardReset; seen in " FROM_ZEPHYR "; a mail to the Linux USB list",
        .why = "The sink has this time to take its load off.",
        .undecided = READ_DOUBT " Without a load VBUS may fall so slowly that its beginning does not show: then it is not called late.",
        .bench = "Have the sink send a Hard Reset in a contract under load, with VBUS recorded every millisecond.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .decision_evidence = EVIDENCE_VBUS | EVIDENCE_VBUS_RATE, .needs_ns = 10000000,
        A_CYCLE, .parameters = response_parameters, .silenced_by = silences_reset, .sentences = says_response, .check = time_check_reset_response,
    },
    {
        .id = "time.safe0v",
        .title = "After a Hard Reset VBUS is down soon",
        .requirement = "From VBUS beginning to fall after a Hard Reset to its crossing {vSafe0V:most} at most {tSafe0V:most} pass (tSafe0V).",
        .source = "USB PD, tSafe0V; seen in " FROM_ZEPHYR " and " FROM_CHROMIUM,
        .why = "Until then the sink may not hope for its fresh start.",
        .undecided = READ_DOUBT,
        .bench = "Have the sink send a Hard Reset in a contract, with VBUS recorded every 10 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        A_CYCLE, .parameters = fall_parameters, .silenced_by = silences_reset, .sentences = says_fall, .check = time_check_safe0v,
    },
    {
        .id = "time.src-recover",
        .title = "After a Hard Reset VBUS stays down long enough, and not too long",
        .requirement = "From VBUS crossing {vSafe0V:most} after a Hard Reset to its leaving that again {tSrcRecover@spr:both} pass; out of EPR mode "
                       "{tSrcRecover@epr:both} "
                       "(tSrcRecover).",
        .source = "USB PD, tSrcRecover; seen in " FROM_CHROMIUM "; the EPR value from memory and one source, the wider taken",
        .why = "Too short, and the device has not forgotten its fault; too long, and it has given the source up.",
        .undecided = READ_DOUBT,
        .bench = "Have the sink send a Hard Reset in a contract, in and out of EPR mode, with VBUS recorded every 10 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        A_CYCLE, .parameters = recover_parameters, .silenced_by = silences_return, .sentences = says_recover, .check = time_check_src_recover,
    },
    {
        .id = "time.turn-on",
        .title = "VBUS comes up quickly",
        .requirement = "When VBUS rises from below {vSafe0V:most} after an attach or a Hard Reset, at most {tSrcTurnOn:most} pass from there to "
                       "{vSafe5V:least} (tSrcTurnOn).",
        .source = "USB PD, tSrcTurnOn; seen in " FROM_LINUX "; a mail to the Linux USB list",
        .why = "A slow rise starts the device half.",
        .undecided = READ_DOUBT,
        .bench = "Plug a sink in several times, with VBUS recorded every 10 ms.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        A_CYCLE, .parameters = turn_on_parameters, .silenced_by = silences_return, .sentences = says_turn_on, .check = time_check_turn_on,
    },
    {
        .id = "time.vbus-on",
        .title = "VBUS is up soon after the plug goes in",
        .requirement = "From CC showing a partner to VBUS crossing {vSafe5V:least} at most these pass: {tCCDebounce:most} to be sure of it (tCCDebounce), "
                       "{tVBUSON:most} to switch on "
                       "(tVBUSON).",
        .source = "USB Type-C, tCCDebounce and tVBUSON; seen in Zephyr usbc_tc.h",
        .why = "A device with an empty battery waits for it.",
        .undecided = READ_DOUBT,
        .bench = "Plug a sink in several times, with CC and VBUS recorded.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS | EVIDENCE_CC,
        A_CYCLE, .parameters = vbus_on_parameters, .sentences = says_vbus_on, .check = time_check_vbus_on,
    },
    {
        .id = "time.vbus-off-detach",
        .title = "VBUS is down soon after the plug is pulled",
        .requirement = "From the detach to VBUS crossing {vSafe0V:most} at most these pass: {tSRCDisconnect:most} to notice (tSRCDisconnect), "
                       "{tVBUSOFF:most} to fall (tVBUSOFF).",
        .source = "USB Type-C, tSRCDisconnect and tVBUSOFF; seen in Zephyr usbc_tc.h",
        .why = "The next device gets the last one's voltage.",
        .undecided = READ_DOUBT " A mark made by hand does not say when the plug was pulled.",
        .bench = "Pull the plug in a contract, with CC recorded, and VBUS at the port under test.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .occasion_evidence = EVIDENCE_VBUS,
        A_CYCLE, .parameters = vbus_off_parameters, .silenced_by = silences_vbus_off, .sentences = says_vbus_off, .check = time_check_vbus_off,
    },
    {
        .id = "time.sink-request-after-wait",
        .title = "A sink that was asked to wait does wait",
        .requirement = "From the GoodCRC of Wait, in answer to a Request, to the start of the next Request pass at least "
                       "{tSinkRequest:least} (tSinkRequest), unless the source offers anew in between.",
        .source = "USB PD, tSinkRequest; " FROM_MANY,
        .why = "A source that shares its power needs the time to take it from another port.",
        .undecided = EARLY_DOUBT,
        .bench = "Answer a Request of the sink with Wait.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SINK, .sets = ON_SOP,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH),
        .messages = { .control = BIT(CONTROL, WAIT) },
        .parameters = after_wait_parameters, .sentences = says_after_wait, .state_size = sizeof(struct after_wait),
        .check = time_check_request_after_wait,
    },
    {
        .id = "time.pps-keepalive",
        .title = "A sink asks for its PPS contract again before the source gives it up",
        .requirement = "While a PPS contract is in force at most {tPPSRequest:most} (tPPSRequest) pass from the end of a Request to the "
                       "start of the next one, and from the last one to the end of the contract.",
        .source = "USB PD, tPPSRequest; " FROM_ONSEMI "; a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "The source takes the silence for a device that has crashed, and switches off.",
        .undecided = LATE_DOUBT,
        .bench = "Let the sink charge from a PPS object for a minute without touching it.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_R3, .sets = ON_SOP, .messages = REQUESTS,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_CONTRACT_END),
        .parameters = keepalive_parameters, .silenced_by = power_exchange, .sentences = says_keepalive,
        .state_size = sizeof(struct pps_alive), .supplies = 1 << SUPPLY_PPS, .check = time_check_pps_keepalive,
    },
    {
        .id = "time.pps-timeout",
        .title = "A source resets when the sink of a PPS contract falls silent, and not before",
        .requirement = "Where no Request comes in a PPS contract, a Hard Reset begins {tPPSTimeout:both} (tPPSTimeout, and "
                       "{tHardReset:most} tHardReset) after the GoodCRC of the last one. Earlier: only where it happens twice, within "
                       "{pps_early_same_s:most} of the same delay, and nothing else explains it.",
        .source = "USB PD, tPPSTimeout; a published PD timer table that names USB PD R3.2 (secondary); the two in 0.5 s are ours",
        .why = "A device that crashed goes on being charged at a voltage that it set for a moment; or one that works is cut off.",
        .undecided = "It was too early, but seen once; who sent the Hard Reset is not known; or records are missing, or could not be read, in "
                     "between; or the uncertainty of the stamps reaches over a limit.",
        .bench = "Set up a PPS contract, and let the sink say nothing for 16 s.",
        .basis = BASIS_SECONDARY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .sets = ON_SOP,
        .messages = REQUESTS,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(WAKE_ASK) | EVENT_BIT(WAKE_TIME) | EVENT_BIT(EVENT_CONTRACT) |
                 EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_HARD_RESET),
        .parameters = timeout_parameters, .silenced_by = power_exchange, .sentences = says_timeout,
        .state_size = sizeof(struct pps_timeout), .supplies = 1 << SUPPLY_PPS, .check = time_check_pps_timeout,
    },
    {
        .id = "time.epr-keepalive",
        .title = "In EPR mode a sink shows that it is there",
        .requirement = "In EPR mode at most {tSinkEPRKeepAlive:most} (tSinkEPRKeepAlive) pass from the end of a message, of either side, "
                       "to the start of the sink's next one. Not judged while PS_RDY is waited for, or a swap is under way.",
        .source = "USB PD, tSinkEPRKeepAlive; " FROM_CHROMIUM "; that either side's message starts it anew is lenient, and ours",
        .why = "Above 20 V the source may not take silence for a good sign: it switches off.",
        .undecided = LATE_DOUBT,
        .bench = "Let the sink charge in EPR mode for a minute without touching it.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(EVENT_EPR_ENTERED) | EVENT_BIT(EVENT_EPR_LEFT) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_END),
        .parameters = epr_alive_parameters, .sentences = says_epr_alive, .state_size = sizeof(struct epr_alive),
        .check = time_check_epr_keepalive,
    },
    {
        .id = "time.epr-timeout",
        .title = "In EPR mode a source resets when the sink falls silent",
        .requirement = "Where the sink says nothing in EPR mode, a Hard Reset begins {tSourceEPRKeepAlive:least} to "
                       "{tSourceEPRKeepAlive:most+tHardReset:most} (tSourceEPRKeepAlive and tHardReset) after its last message, or after "
                       "the PS_RDY that it had to wait for.",
        .source = "USB PD, tSourceEPRKeepAlive; " FROM_ONSEMI "; a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "Up to 48 V stay on a plug that may have been pulled.",
        .undecided = "Who sent the Hard Reset is not known; or records are missing, or could not be read, in between; or the uncertainty of the "
                     "stamps reaches over a limit.",
        .bench = "Set up a contract in EPR mode, and let the sink say nothing for 2 s.",
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(EVENT_EPR_ENTERED) | EVENT_BIT(EVENT_EPR_LEFT) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(WAKE_TIME),
        .parameters = epr_timeout_parameters, .sentences = says_epr_timeout, .state_size = sizeof(struct epr_timeout),
        .check = time_check_epr_timeout,
    },
    {
        .id = "time.chunk-request",
        .title = "The next chunk of a message is asked for soon",
        .requirement = "From the GoodCRC of a chunk to the start of the request for the next one pass at most {tChunkReceiverRequest:most} "
                       "(tChunkReceiverRequest).",
        .source = "USB PD, tChunkReceiverRequest; " FROM_INFINEON " and " FROM_ONSEMI,
        .why = "The sender gives a long message up after 24 ms, and an EPR offer is such a message.",
        .undecided = LATE_DOUBT,
        .bench = "Have a message of more than 26 bytes sent to the port, such as EPR_Source_Capabilities or Manufacturer_Info.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3, .wakes = EVENT_BIT(WAKE_TALK),
        .messages = { .extended = UINT32_MAX },
        .parameters = chunk_request_parameters, .sentences = says_chunk_request, .check = time_check_chunk_request,
    },
    {
        .id = "time.chunk-response",
        .title = "A chunk that was asked for comes soon",
        .requirement = "From the GoodCRC of the request for a chunk to the start of that chunk pass at most {tChunkReceiverResponse:most} "
                       "(tChunkReceiverResponse).",
        .source = "USB PD, tChunkReceiverResponse; " FROM_INFINEON " and " FROM_ONSEMI,
        .why = "The receiver gives a long message up after 24 ms, and an EPR offer is such a message.",
        .undecided = LATE_DOUBT,
        .bench = "Have the port send a message of more than 26 bytes, such as EPR_Source_Capabilities or Manufacturer_Info.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3, .wakes = EVENT_BIT(WAKE_TALK),
        .messages = { .extended = UINT32_MAX },
        .parameters = chunk_response_parameters, .sentences = says_chunk_response, .check = time_check_chunk_response,
    },
    {
        .id = "time.pr-swap-off",
        .title = "In a swap of power roles the old source is off in time",
        .requirement = "From the GoodCRC of the Accept of PR_Swap to the start of PS_RDY of the old source pass at most "
                       "{tPSSourceOff@spr:most} (the shortest legal wait, tPSSourceOff), in EPR mode {tPSSourceOff@epr:most}. After "
                       "{swap_step_s:most} swap.pr-order judges it.",
        .source = "USB PD, tPSSourceOff; " FROM_CHROMIUM " and " FROM_LINUX "; as a limit of the old source it is ours",
        .why = "The new source gives up, and both ports are without power.",
        .undecided = LATE_DOUBT,
        .bench = BENCH_SWAPS "the other power role.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .sets = ON_SOP, .wakes = A_SEQUENCE,
        .messages = { .control = BIT(CONTROL, PR_SWAP) },
        .parameters = swap_off_parameters, .sentences = says_swap_off, .state_size = sizeof(struct swap_step_wait),
        .check = time_check_pr_swap_off,
    },
    {
        .id = "time.pr-swap-on",
        .title = "In a swap of power roles the new source is on in time",
        .requirement = "From the GoodCRC of the old source's PS_RDY to the start of the new source's pass at most {tPSSourceOn:most} (the "
                       "shortest legal wait, tPSSourceOn). After {swap_step_s:most} swap.pr-order judges it.",
        .source = "USB PD, tPSSourceOn; " FROM_CHROMIUM " and " FROM_LINUX "; as a limit of the new source it is ours",
        .why = "The old source gives up, and both ports are without power.",
        .undecided = LATE_DOUBT,
        .bench = BENCH_SWAPS "the other power role.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .sets = ON_SOP, .wakes = A_SEQUENCE,
        .messages = { .control = BIT(CONTROL, PR_SWAP) },
        .parameters = swap_on_parameters, .sentences = says_swap_on, .state_size = sizeof(struct swap_step_wait),
        .check = time_check_pr_swap_on,
    },
    {
        .id = "time.pr-swap-start",
        .title = "After a swap of power roles the new source does not offer too soon",
        .requirement = "From the GoodCRC of the new source's PS_RDY to the start of its first Source_Capabilities pass at least "
                       "{tSwapSourceStart:least} (tSwapSourceStart).",
        .source = "USB PD, tSwapSourceStart; " FROM_MANY,
        .why = "The new sink is still turning round, and misses the offer.",
        .undecided = EARLY_DOUBT,
        .bench = BENCH_SWAPS "the other power role.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH),
        .parameters = swap_start_parameters, .sentences = says_swap_start, .state_size = sizeof(struct swap_step_wait),
        .check = time_check_pr_swap_start,
    },
    {
        .id = "time.fr-swap",
        .title = "A fast swap of power roles is fast",
        .requirement = "From the GoodCRC of the Accept of FR_Swap to the start of PS_RDY of the old source pass at most "
                       "{tFRSwap5V:most+tFRSwapComplete:most} (tFRSwap5V and tFRSwapComplete). After {swap_step_s:most} swap.fr-order "
                       "judges it.",
        .source = "USB PD, tFRSwap5V and tFRSwapComplete; a published PD timer table that names USB PD R3.2 (secondary); what they span: from memory",
        .why = "What hangs on the hub drops out, which is what the fast swap is for.",
        .undecided = LATE_DOUBT,
        .bench = "Pull the charger of a hub that knows the fast swap.",
        .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .sets = ON_SOP,
        .wakes = A_SEQUENCE, .messages = { .control = BIT(CONTROL, FR_SWAP) },
        .parameters = fr_parameters, .sentences = says_swap_off, .state_size = sizeof(struct swap_step_wait),
        .check = time_check_fr_swap,
    },
    {
        .id = "time.vconn-on",
        .title = "In a swap of VCONN the new source of it is on in time",
        .requirement = "From the GoodCRC of the Accept of VCONN_Swap to the start of PS_RDY pass at most {tVCONNSourceOn:most} "
                       "(tVCONNSourceOn; from 3.1 on 50 ms, which is not demanded here). After {tVCONNSourceTimeout:most} swap.vconn-order "
                       "judges it.",
        .source = "USB PD, tVCONNSourceOn; " FROM_LINUX " and " FROM_CHROMIUM,
        .why = "A cable without VCONN is dead, and with it what it carries beside power.",
        .undecided = LATE_DOUBT,
        .bench = BENCH_SWAPS "VCONN.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .sets = ON_SOP, .wakes = A_SEQUENCE,
        .messages = { .control = BIT(CONTROL, VCONN_SWAP) },
        .parameters = vconn_parameters, .sentences = says_vconn, .state_size = sizeof(struct swap_step_wait),
        .check = time_check_vconn_on,
    },
    {
        .id = "time.vdm-response",
        .title = "A structured VDM is answered soon",
        .requirement = "From the GoodCRC of the request to the start of ACK, NAK or BUSY pass at most {tVDMReceiverResponse:most} "
                       "(tVDMReceiverResponse), for Enter Mode {tVDMEnterMode:most} (tVDMEnterMode), for Exit Mode {tVDMExitMode:most} "
                       "(tVDMExitMode).",
        .source = "USB PD, tVDMReceiverResponse, tVDMEnterMode, tVDMExitMode; " FROM_LINUX " and " FROM_CHROMIUM,
        .why = "A cable that answers late is taken for one without electronics, and 5 A are not offered.",
        .undecided = LATE_DOUBT,
        .bench = "Have the port, or the plug, asked for its identity.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .data = BIT(DATA, VENDOR_DEFINED) },
        .parameters = vdm_parameters, .silenced_by = not_to_be_there, .sentences = says_answer, .check = time_check_vdm_response,
    },
    {
        .id = "time.vdm-busy",
        .title = "After BUSY a VDM request is not repeated at once",
        .requirement = "From the GoodCRC of BUSY to the start of the same request again (SVID, command and object position) pass at least "
                       "{tVDMBusy:least} (tVDMBusy).",
        .source = "USB PD, tVDMBusy; " FROM_CHROMIUM " and " FROM_MICROCHIP,
        .why = "The busy partner gets no time to become free.",
        .undecided = EARLY_DOUBT,
        .bench = "Answer a VDM request of the port with BUSY.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = A_SEQUENCE,
        .messages = { .data = BIT(DATA, VENDOR_DEFINED) },
        .parameters = busy_parameters, .sentences = says_busy, .state_size = sizeof(struct vdm_busy), .check = time_check_vdm_busy,
    },
    {
        .id = "time.soft-reset",
        .title = "A message that nobody acknowledges is followed by Soft_Reset at once",
        .requirement = "Where the last copy of a message in an explicit contract was not acknowledged and its sender then sends "
                       "Soft_Reset, that begins at most {tSoftReset:most} (tSoftReset) after the wait for the GoodCRC, {tReceive:most} "
                       "(tReceive), has run out.",
        .source = "USB PD, tSoftReset; a published PD timer table that names USB PD R3.2 (secondary); its meaning " SECONDARY,
        .why = "Until then neither side knows what the other has heard.",
        .undecided = LATE_DOUBT,
        .bench = "Leave a message of the port, and its repeats, without GoodCRC.",
        .basis = BASIS_SECONDARY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .sets = ON_SOP, .wakes = EVENT_BIT(WAKE_TALK),
        .messages = { .control = BIT(CONTROL, SOFT_RESET) },
        .parameters = soft_reset_parameters, .sentences = says_soft_reset, .check = time_check_soft_reset,
    },
    {
        .id = "time.discover-identity",
        .title = "A plug that does not answer is not asked again at once",
        .requirement = "From the end of a Discover Identity on SOP' that was not answered to the start of the next one pass at least "
                       "{tDiscoverIdentity:least} (tDiscoverIdentity).",
        .source = "USB PD, tDiscoverIdentity; " FROM_CHROMIUM " and " FROM_INFINEON,
        .why = "A plug that has just got its power is given no time to start, and 5 A are not offered.",
        .undecided = LATE_DOUBT,
        .bench = "Attach a cable without electronics.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .sets = 1u << SET_SOP1, .wakes = EVENT_BIT(WAKE_TALK),
        .messages = { .data = BIT(DATA, VENDOR_DEFINED) },
        .parameters = identity_parameters, .sentences = says_identity, .check = time_check_discover_identity,
    },
    {
        .id = "time.data-reset",
        .title = "A Data_Reset is done in time",
        .requirement = "From the GoodCRC of the Accept of Data_Reset to the start of Data_Reset_Complete pass at most {tDataReset:most} "
                       "(tDataReset). None within {tDataResetFail:most} (tDataResetFail): it has failed.",
        .source = "USB PD, tDataReset and tDataResetFail; " FROM_CHROMIUM " and " FROM_INFINEON "; 400 ms in a published PD timer table that names "
                  "USB PD R3.2 (secondary)",
        .why = "The data connection stays down, or the ports start all over.",
        .undecided = LATE_DOUBT,
        .bench = "Join two ports that know USB4, and have one of them ask for Data_Reset.",
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3, .sets = ON_SOP,
        .wakes = A_SEQUENCE | EVENT_BIT(WAKE_TIME), .messages = { .control = BIT(CONTROL, DATA_RESET) },
        .parameters = data_reset_parameters, .sentences = says_data_reset, .state_size = sizeof(struct data_reset_wait),
        .check = time_check_data_reset,
    },
    {
        .id = "time.sink-tx",
        .title = "Before a source opens an exchange it keeps the sink from doing the same",
        .requirement = "In an explicit contract Rp has been at 1.5 A (SinkTxNG) for at least {tSinkTx:least} (tSinkTx) when a message of "
                       "the source that opens an exchange begins. Not judged: capabilities that were asked for or are owed to a reset, "
                       "Soft_Reset, answers.",
        .source = "USB PD, tSinkTx and collision avoidance; " FROM_MANY,
        .why = "Both speak at once, and the exchange ends in a reset.",
        .undecided = "Rp was at 1.5 A when the recording began; or the uncertainty of the stamps reaches over the limit. Capabilities less than "
                     "100 ms after records that are missing or could not be read may have been asked for.",
        .bench = "Record CC, and have the source offer anew or ask something in a contract: plug and unplug its other port.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .occasion_evidence = EVIDENCE_CC, .sets = ON_SOP,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_CC) | EVENT_BIT(EVENT_LOSS),
        .messages = { ~BIT(CONTROL, SOFT_RESET) & ~BIT(CONTROL, ACCEPT) & ~BIT(CONTROL, PS_RDY),
                      ~(BIT(DATA, REQUEST) | BIT(DATA, EPR_REQUEST)), UINT32_MAX },
        .parameters = sink_tx_parameters, .sentences = says_sink_tx, .state_size = sizeof(struct sink_tx),
        .check = time_check_sink_tx,
    },
    { .id = NULL },
};
