/* The rules of the group exchange. */
#include "rules/exchange_checks.h"
#include "rules/groups.h"
#include "rules/line_checks.h"

#include "decode/sources.h"

#include <stddef.h>

/* Packets that could not be read are no occasion of these rules; only the first copy of a message may have been one. */
static const char *const other_goodcrc[] = { "exchange.goodcrc-id", "time.goodcrc-turnaround", NULL };
static const char *const first_try_silenced[] = { "wire.crc", "exchange.goodcrc-id", "time.goodcrc-turnaround", NULL };
static const char *const unprompted_silenced[] = {
    "message.id-sequence", "message.id-after-reset", "exchange.goodcrc-id", "time.goodcrc-turnaround", NULL,
};
static const char *const retry_count_silenced[] = { "message.id-sequence", "message.id-after-reset", "time.goodcrc-turnaround", NULL };
static const char *const retry_count_parameters[] = { "nRetryCount@2.0", "nRetryCount@3.x", NULL };

static const char *const says_goodcrc[] = {
    [SAYS_NOT_HEARD] = "{0:m} was not acknowledged.",
    [SAYS_NEVER_HEARD] = "None of the {1} copies of {0:m} was acknowledged.",
};
static const char *const says_first_try[] = { "{0:m} was acknowledged only when it was sent again." };
static const char *const says_goodcrc_id[] = {
    [SAYS_ID_OTHER] = "GoodCRC has MessageID {0}; {2:m} just before it has {3}.",
    [SAYS_ID_OTHER_SET] = "GoodCRC with MessageID {0} on {1:set}; {2:m} just before it was sent on {4:set}, with MessageID {3}.",
};
static const char *const says_unprompted[] = { "GoodCRC with MessageID {0} on {1:set} acknowledges nothing: no packet ended just before "
                                               "it." };
static const char *const says_retry_count[] = {
    [SAYS_COUNT_PORT] = "{0:m} was sent {1} times; at most {2} are allowed.",
    [SAYS_COUNT_PLUG] = "{0:m} was sent {1} times; a cable plug does not repeat.",
};
static const char *const says_retry_same[] = {
    [SAYS_SAME_OTHER_BYTES] = "{0:m} with MessageID {1} was sent again with other bytes.",
    [SAYS_SAME_OTHER_TYPE] = "{0:m} has MessageID {1}, that of the unacknowledged message before it, which should have been repeated.",
};

#define SEEN_IN_STACKS "seen in " FROM_LINUX " and " FROM_MICROCHIP
#define LOSE_A_GOODCRC \
    "Disturb the line for a moment while a message is sent (a long cable, a contact that is moved), so that its GoodCRC stays away."
#define ANY_TALK "Attach any partner that speaks USB PD and let the two agree on a contract."

#define ON_SOP (1u << SET_SOP)
#define C(type) (UINT32_C(1) << CONTROL_##type)
#define D(type) (UINT32_C(1) << DATA_##type)
#define E(type) (UINT32_C(1) << EXTENDED_##type)
/* Messages that ask for an answer, in the catalogue's section 7, but Source_Capabilities, Request and Soft_Reset. */
#define SWAPS (C(DR_SWAP) | C(PR_SWAP) | C(VCONN_SWAP))
#define GETS                                                                                                                       \
    (C(GET_SOURCE_CAP_EXTENDED) | C(GET_SINK_CAP_EXTENDED) | C(GET_STATUS) | C(GET_PPS_STATUS) | C(GET_COUNTRY_CODES) |            \
     C(GET_SOURCE_INFO) | C(GET_REVISION))
#define ASK_CONTROL (C(GET_SINK_CAP) | C(DATA_RESET) | SWAPS | GETS)
#define ASK_DATA (D(GET_COUNTRY_INFO) | D(ENTER_USB))
#define ASK_EXTENDED \
    (E(GET_BATTERY_CAP) | E(GET_BATTERY_STATUS) | E(GET_MANUFACTURER_INFO) | E(SECURITY_REQUEST) | E(FIRMWARE_UPDATE_REQUEST) | E(CONTROL))
#define ANSWER_EXTENDED                                                                                                        \
    (E(SOURCE_CAPABILITIES) | E(SINK_CAPABILITIES) | E(STATUS) | E(PPS_STATUS) | E(BATTERY_CAPABILITIES) | E(MANUFACTURER_INFO) | \
     E(SECURITY_RESPONSE) | E(FIRMWARE_UPDATE_RESPONSE) | E(COUNTRY_INFO) | E(COUNTRY_CODES) | E(CONTROL) | E(EPR_SINK_CAPABILITIES))
/* Types that no edition names (decode/message_kinds.c). */
#define RESERVED_CONTROL UINT32_C(0xfe000001)  /* 0, 25 .. 31 */
#define RESERVED_DATA UINT32_C(0xffff6001)     /* 0, 13, 14, 16 .. 31 */
#define RESERVED_EXTENDED UINT32_C(0xbff80001) /* 0, 19 .. 29, 31 */
#define OFFERS_DATA D(SOURCE_CAPABILITIES)
#define OFFERS_EXTENDED E(EPR_SOURCE_CAPABILITIES)
#define REQUESTS (D(REQUEST) | D(EPR_REQUEST))

/* Messages that should not be there, or are broken, need no answer. What nobody acknowledged is exchange.goodcrc's affair by itself. */
static const char *const answer_silenced[] = {
    "message.direction", "message.set-allowed", "message.length", "message.object-count", NULL,
};
static const char *const kind_silenced[] = {
    "message.direction", "message.set-allowed", "message.allowed-in-revision", "message.length", "message.object-count", NULL,
};
/* A plain Request in EPR mode is refused by a Hard Reset. */
static const char *const request_silenced[] = {
    "message.allowed-in-revision", "message.length", "message.object-count", "epr.request-kind", NULL,
};
static const char *const caps_silenced[] = { "message.length", NULL };
static const char *const source_caps_silenced[] = { "message.length", "message.object-count", NULL };
static const char *const soft_reset_silenced[] = { "message.length", NULL };
/* A refusal of what was unexpected itself is no second fault. */
static const char *const unexpected_silenced[] = {
    "message.direction", "message.set-allowed", "message.allowed-in-revision", "message.length", "message.object-count",
    "exchange.unexpected-message", NULL,
};
static const char *const one_silenced[] = {
    "message.direction", "message.allowed-in-revision", "message.length", "message.object-count", NULL,
};

static const char *const answer_parameters[] = { "tSenderResponse", "answer_none_ms", NULL };
static const char *const soft_reset_parameters[] = { "tSenderResponse", "answer_none_ms", "crossing_ms", NULL };
static const char *const ready_parameters[] = { "tPSTransition@spr", "tPSTransition@epr", NULL };
static const char *const one_parameters[] = {
    "tSenderResponse", "answer_none_ms", "tPSTransition@spr", "tPSTransition@epr", "tVCONNSourceTimeout", "crossing_ms", NULL,
};
static const char *const sink_tx_parameters[] = { "rp_steady_ms", "answer_none_ms", NULL };
static const char *const waits_parameters[] = { "wait_max", NULL };
static const char *const no_reset_parameters[] = {
    SENDER_RESPONSE_PARAMETERS, "tPSTransition@spr", "tPSTransition@epr", "tHardReset", "reset_follows_ms", NULL,
};

#define SILENT_WORDS "No answer to {0:m} came within {1:ms}; its sender waits at most {2:ms}."
#define GIVEN_UP_WORDS "{0:m} was not answered: its sender went on {4:ms} after it was acknowledged."
#define CUT_SHORT_WORDS "A reset came {4:ms} after {0:m} was acknowledged, before any answer."
static const char *const says_answer[] = {
    [SAYS_SILENT] = SILENT_WORDS, [SAYS_GIVEN_UP] = GIVEN_UP_WORDS, [SAYS_CUT_SHORT] = CUT_SHORT_WORDS, NULL,
};
static const char *const says_kind[] = {
    [SAYS_KIND] = "{0:m} was answered with {1:m}, which is not a valid answer.",
    [SAYS_KIND_SINK] = "{0:m} was answered with {1:m}; the sink has to send its capabilities.",
    [SAYS_KIND_SOURCE] = "{0:m} was answered with {1:m}; the source has to send its capabilities.",
    NULL,
};
static const char *const says_not_supported[] = {
    [SAYS_SILENT] = "No Not_Supported came within {1:ms} of a message of a reserved type; its sender waits at most {2:ms}.",
    [SAYS_GIVEN_UP] = "A message of a reserved type was not answered with Not_Supported: its sender went on {4:ms} after it was "
                      "acknowledged.",
    [SAYS_CUT_SHORT] = "A reset came {4:ms} after a message of a reserved type was acknowledged, before Not_Supported.",
    [SAYS_REFUSED] = "A message of a reserved type was answered with {1:m} instead of Not_Supported.",
    [SAYS_RESET] = "A message of a reserved type was answered with Soft_Reset instead of Not_Supported.",
    NULL,
};
static const char *const says_soft_reset[] = {
    [SAYS_SILENT] = "No Accept came within {1:ms} of the Soft_Reset; its sender waits at most {2:ms}.",
    [SAYS_GIVEN_UP] = "The Soft_Reset was not accepted: its sender went on {4:ms} after it was acknowledged.",
    [SAYS_CUT_SHORT] = "A Hard Reset came {4:ms} after the Soft_Reset was acknowledged, before any Accept.",
    [SAYS_REFUSED] = "The Soft_Reset was followed by {1:m} instead of Accept.",
    NULL,
};
static const char *const says_ready[] = {
    [SAYS_READY_LATE] = "PS_RDY came {4:ms} after the Accept was acknowledged; a sink waits at most {5:ms}.",
    [SAYS_READY_MISSING] = "The Request was accepted, but no PS_RDY followed within {5:ms}, or before the sink gave up.",
    NULL,
};
static const char *const says_ready_unasked[] = { [SAYS_READY_UNASKED] = "PS_RDY without an accepted Request before it.", NULL };
static const char *const says_unexpected[] = {
    [SAYS_UNEXPECTED] = "{0:m} came although no exchange was open that it could answer or end.",
    [SAYS_UNEXPECTED_CHUNK] = "A chunk of {0:m} was requested, but the partner's last message was not a chunk.",
    [SAYS_UNEXPECTED_TWICE] = "{0:m} was sent again, unasked.",
    NULL,
};
static const char *const says_one[] = {
    [SAYS_PARTNER_WAITS] = "{0:m} was sent while the partner was waiting for the answer to its {1:m} (it waits at most {2:ms}).",
    [SAYS_OWN_OPEN] = "{0:m} was sent before the sender's own {1:m} was answered (it has to wait for that, at most {2:ms}).",
    [SAYS_POWER_OPEN] = "{0:m} was sent between the Accept of a Request and its PS_RDY (the sink waits for that at most {2:ms}).",
    [SAYS_VCONN_OPEN] = "{0:m} was sent between the Accept of a VCONN_Swap and its PS_RDY (which is waited for at most {2:ms}).",
    [SAYS_MAYBE_OPEN] = "{0:m}: an exchange that is not in the recording may have been open.",
    NULL,
};
static const char *const says_sink_tx[] = {
    [SAYS_TX_NOT_OK] = "The sink opened an exchange with {0:m} while Rp was not at 3.0 A (SinkTxOK); CC_STATE rp = {1}.",
    [SAYS_TX_UNSURE] = "The sink opened an exchange with {0:m} just as Rp changed; CC_STATE rp = {1} now.",
    NULL,
};
static const char *const says_waits[] = { [SAYS_WAITS] = "Wait number {0} in a row to the same Request; at most {1} are tolerated.", NULL };
static const char *const says_no_reset[] = {
    [SAYS_NO_RESET] = "{0:m} was not answered, and no Hard Reset followed.",
    [SAYS_NO_RESET_READY] = "PS_RDY did not follow the Accept, and the sink sent no Hard Reset.",
    NULL,
};

#define ENDS_ATTACH (EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH))
#define TYPES_SEEN "message types seen in " FROM_ZEPHYR " and " FROM_CHROMIUM
#define ANSWER_TIME "the 100 ms after which silence counts are ours"
#define MAY_BE_LOST "Records are missing, or could not be read, before the answer would have been due."
#define MAY_BE_CUT_SHORT MAY_BE_LOST " A reset came before that, so that it will never be known whether there would have been one."
#define ASK_EVERYTHING \
    "In a contract, let the partner ask for everything that the standard has a question for (status, extended capabilities, battery, " \
    "revision, sink capabilities, swaps)."

const struct rule exchange_rules[] = {
    {
        .id = "exchange.goodcrc",
        .title = "Every message is acknowledged",
        .requirement = "A message to a partner that has spoken on that ordered set since the attach or the last Hard Reset is answered by a "
                       "GoodCRC within tReceive, at least to one of its copies.",
        .source = "USB PD, GoodCRC; the sequence seen in " FROM_LINUX " and " FROM_ZEPHYR,
        .why = "A sender that hears nothing repeats, then resets the protocol, and at last the power.",
        .undecided = "The partner answers as only one can who has heard it, although no GoodCRC is in the recording; or a packet that could "
                     "not be read, or missing records, may have been the GoodCRC; or both sides spoke at once.",
        .bench = ANY_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_GOODCRC,
        .silenced_by = other_goodcrc, .sentences = says_goodcrc, .check = exchange_check_goodcrc,
    },
    {
        .id = "exchange.first-try",
        .title = "A message is acknowledged the first time",
        .requirement = "Of a message that was sent more than once and at last acknowledged, the first copy was acknowledged already.",
        .source = "USB PD, GoodCRC; the sequence seen in " FROM_LINUX " and " FROM_ZEPHYR "; that once is a fault: ours",
        .why = "Noise excuses it now and then; a receiver that often needs a second copy is slow or deaf.",
        .undecided = "A packet that could not be read, or missing records, just after the first copy may have been its GoodCRC.",
        .bench = LOSE_A_GOODCRC,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_EACH, .line = LINE_FIRST_TRY,
        .silenced_by = first_try_silenced, .sentences = says_first_try, .check = exchange_check_first_try,
    },
    {
        .id = "exchange.goodcrc-id",
        .title = "A GoodCRC names the message that it acknowledges",
        .requirement = "A GoodCRC that begins within 1.4 ms after the end of a message has its MessageID and its ordered set.",
        .source = "USB PD, GoodCRC; MessageID seen in " FROM_LINUX " and " FROM_ZEPHYR,
        .why = "The sender takes another number for no GoodCRC at all, and repeats what was heard.",
        .undecided = "A packet that could not be read lies between, and it may be the one that is acknowledged.", .bench = ANY_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_GOODCRC_ID,
        .sentences = says_goodcrc_id, .check = exchange_check_goodcrc_id,
    },
    {
        .id = "exchange.goodcrc-unprompted",
        .title = "A GoodCRC is an answer",
        .requirement = "In the 1.4 ms before a GoodCRC a packet of the other side ended, readable or not.",
        .source = "USB PD, GoodCRC; that it is sent for packets received alone seen in " FROM_ZEPHYR "; from memory",
        .why = "A GoodCRC out of nothing may be taken for the acknowledgement of the next message.",
        .undecided = "Records are missing just before it, or the recording begins there.", .bench = ANY_TALK,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_UNPROMPTED,
        .silenced_by = unprompted_silenced, .sentences = says_unprompted, .check = exchange_check_goodcrc_unprompted,
    },
    {
        .id = "exchange.retry-count",
        .title = "A message is not repeated too often",
        .requirement = "A message is sent once and repeated at most nRetryCount times: {nRetryCount@2.0:most} under revision 2.0 and while "
                       "no revision is agreed on, {nRetryCount@3.x:most} under 3.x; by a cable plug never.",
        .source = "USB PD, RetryCounter; " SEEN_IN_STACKS "; that a cable plug does not repeat: secondary, notes on PD R3.2 V1.2",
        .why = "Whoever goes on repeating holds the line, and the receiver takes the rest for new messages.",
        .undecided = "Some of the copies could not be read, and only with them they are too many; or records are missing after the last.",
        .bench = LOSE_A_GOODCRC,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_RETRY_COUNT,
        .silenced_by = retry_count_silenced, .parameters = retry_count_parameters, .sentences = says_retry_count,
        .check = exchange_check_retry_count,
    },
    {
        .id = "exchange.retry-same",
        .title = "A repeated message is the same message",
        .requirement = "Every byte of a copy equals that of the first copy.",
        .source = "USB PD, retries; MessageID kept in a retry: " FROM_LINUX " and " FROM_ZEPHYR,
        .why = "The receiver throws a copy away unread: what changed in it is lost.",
        .undecided = "Nothing beyond what holds for every rule.", .bench = LOSE_A_GOODCRC,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_RETRY_SAME,
        .sentences = says_retry_same, .check = exchange_check_retry_same,
    },
    {
        .id = "exchange.answer",
        .title = "What is asked is answered",
        .requirement = "To a message that asks for one (Get_..., swaps, Data_Reset, Enter_USB, security and firmware requests) an answer "
                       "comes within {answer_none_ms:most} of its acknowledgement, or at least before its sender, having waited "
                       "tSenderResponse, gives it up. Under 2.0 only Get_Sink_Cap to a sink has to be answered.",
        .source = "USB PD, message sequences; tSenderResponse seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; " ANSWER_TIME,
        .why = "The asker waits in vain; some give the partner up, or reset it.",
        .undecided = MAY_BE_CUT_SHORT " Which revision was agreed on is not known.", .bench = ASK_EVERYTHING,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .control = ASK_CONTROL | C(FR_SWAP), .data = ASK_DATA, .extended = ASK_EXTENDED },
        .parameters = answer_parameters, .silenced_by = answer_silenced, .sentences = says_answer, .check = exchange_check_answer,
    },
    {
        .id = "exchange.answer-kind",
        .title = "An answer is one that belongs to the question",
        .requirement = "The partner's next message after a question is one of the answers that the standard has for it, or begins something "
                       "of its own. A sink does not refuse Get_Sink_Cap, a source not Get_Source_Cap; under 3.x Reject is no answer to "
                       "Get_Sink_Cap. A sink that asked for the capabilities in a contract need not send a Request.",
        .source = "USB PD, message sequences; " TYPES_SEEN "; which answers which: from memory",
        .why = "The asker takes it for a protocol error and resets.",
        .undecided = "Records are missing, or could not be read, between question and answer.", .bench = ASK_EVERYTHING,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .control = ASK_CONTROL | C(GET_SOURCE_CAP) | C(FR_SWAP), .data = ASK_DATA | OFFERS_DATA | REQUESTS | D(VENDOR_DEFINED),
                      .extended = ASK_EXTENDED | OFFERS_EXTENDED },
        .silenced_by = kind_silenced, .sentences = says_kind, .check = exchange_check_answer_kind,
    },
    {
        .id = "exchange.request-answered",
        .title = "A Request is answered",
        .requirement = "To a Request or EPR_Request that was heard the source says Accept, Reject or Wait within {answer_none_ms:most} of "
                       "the acknowledgement, and before the sink, having waited tSenderResponse, gives up.",
        .source = "USB PD, policy engine of the source; tSenderResponse seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; " ANSWER_TIME,
        .why = "The sink has to send a Hard Reset, and its supply goes off and on.",
        .undecided = MAY_BE_LOST " A Soft_Reset came before that, or a Hard Reset sooner than the sink may give up.", .bench = ANY_TALK,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .data = REQUESTS }, .sets = ON_SOP,
        .parameters = answer_parameters, .silenced_by = request_silenced, .sentences = says_answer,
        .check = exchange_check_request_answered,
    },
    {
        .id = "exchange.request-after-caps",
        .title = "Capabilities are followed by a Request",
        .requirement = "After Source_Capabilities (in EPR mode EPR_Source_Capabilities) that were heard, were not asked for or are the "
                       "first since an attach or reset, the sink sends Request or EPR_Request within {answer_none_ms:most} of the "
                       "acknowledgement, and before the source, having waited tSenderResponse, gives up.",
        .source = "USB PD, policy engine of the sink; tSenderResponse seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; " ANSWER_TIME,
        .why = "A sink that keeps to an offer that was withdrawn draws power that nobody has promised.",
        .undecided = MAY_BE_LOST, .bench = ANY_TALK,
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SINK, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .data = OFFERS_DATA, .extended = OFFERS_EXTENDED }, .sets = ON_SOP,
        .parameters = answer_parameters, .silenced_by = caps_silenced, .sentences = says_answer,
        .check = exchange_check_request_after_caps,
    },
    {
        .id = "exchange.source-caps-answer",
        .title = "A source that is asked tells its capabilities",
        .requirement = "To Get_Source_Cap (in EPR mode also to Extended_Control EPR_Get_Source_Cap) of the sink the source answers with "
                       "its capabilities within {answer_none_ms:most} of the acknowledgement, and before the sink, having waited "
                       "tSenderResponse, gives up.",
        .source = "USB PD, Get_Source_Cap; type seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; " ANSWER_TIME,
        .why = "A sink that wants more, or less, cannot find out what there is.",
        .undecided = MAY_BE_CUT_SHORT, .bench = "In a contract, make the sink ask for the source's capabilities (Get_Source_Cap).",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .control = C(GET_SOURCE_CAP), .extended = E(CONTROL) }, .sets = ON_SOP,
        .parameters = answer_parameters, .silenced_by = source_caps_silenced, .sentences = says_answer,
        .check = exchange_check_source_caps_answer,
    },
    {
        .id = "exchange.ready-after-accept",
        .title = "An accepted Request ends with PS_RDY",
        .requirement = "After the Accept of a Request PS_RDY begins within {tPSTransition@spr:most} of the acknowledgement, in EPR mode, "
                       "and for AVS, within {tPSTransition@epr:most} (tPSTransition): else the sink must reset. A Hard Reset before the "
                       "sink's shortest patience, {tPSTransition@spr:least} and {tPSTransition@epr:least}, takes the occasion away.",
        .source = "USB PD, PS_RDY; tPSTransition seen in " FROM_ZEPHYR " and " FROM_CHROMIUM,
        .why = "The sink waits at reduced power, then resets the supply.",
        .undecided = "Records are missing, or could not be read, after the Accept; or the reset came when the sink's patience may have been over, "
                     "or not.",
        .bench = ANY_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) | ENDS_ATTACH,
        .messages = { .control = C(ACCEPT) | C(PS_RDY) }, .sets = ON_SOP, .parameters = ready_parameters,
        .sentences = says_ready, .state_size = sizeof(struct ready_state), .check = exchange_check_ready,
    },
    {
        .id = "exchange.no-ready-without-accept",
        .title = "PS_RDY comes only after an Accept",
        .requirement = "Outside of swaps a source says PS_RDY only after it has accepted a Request (under 2.0 also after GotoMin).",
        .source = "USB PD, PS_RDY; from memory",
        .why = "The sink believes in power that was never agreed on.",
        .undecided = "The Accept may lie before the recording, or among records that are missing or could not be read.",
        .bench = ANY_TALK,
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .wakes = EVENT_BIT(EVENT_MESSAGE),
        .messages = { .control = C(PS_RDY) | C(GOTOMIN) }, .sets = ON_SOP,
        .sentences = says_ready_unasked, .state_size = sizeof(struct ready_unasked_state), .check = exchange_check_ready_unasked,
    },
    {
        .id = "exchange.unexpected-message",
        .title = "Answers come to those who have asked",
        .requirement = "A message that only answers, or carries on what was begun, comes while something is open that the other side "
                       "began, or less than {answer_none_ms:most} after the asker's patience ran out. Sink_Capabilities may come once "
                       "unasked.",
        .source = "USB PD, message sequences; from memory",
        .why = "A message out of nothing is a protocol error: the other side resets.",
        .undecided = "The recording begins, or records are missing or could not be read, just before it; or who has which role is not known.",
        .bench = ASK_EVERYTHING,
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) | ENDS_ATTACH,
        .messages = { .control = C(ACCEPT) | C(REJECT) | C(WAIT) | C(PS_RDY) | C(NOT_SUPPORTED) | C(DATA_RESET_COMPLETE),
                      .data = D(SINK_CAPABILITIES) | D(BATTERY_STATUS) | D(SOURCE_INFO) | D(REVISION) | D(EPR_MODE) | D(VENDOR_DEFINED),
                      .extended = ANSWER_EXTENDED },
        .parameters = answer_parameters, .silenced_by = unexpected_silenced, .sentences = says_unexpected,
        .state_size = sizeof(struct unexpected_state), .check = exchange_check_unexpected,
    },
    {
        .id = "exchange.not-supported",
        .title = "A message of an unknown type is answered with Not_Supported",
        .requirement = "To a message of a reserved type that was heard in an explicit contract under 3.x the partner answers Not_Supported "
                       "within {answer_none_ms:most}: it neither keeps silent, nor rejects it, nor resets.",
        .source = "USB PD, Not_Supported; type seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; its use: notes on PD R3.2 V1.2 (secondary)",
        .why = "It is how a device of today gets along with one of tomorrow.",
        .undecided = MAY_BE_CUT_SHORT, .bench = "In a contract under 3.x, send one message of a type that no edition defines.",
        .basis = BASIS_FOUND | BASIS_SECONDARY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .control = RESERVED_CONTROL, .data = RESERVED_DATA, .extended = RESERVED_EXTENDED }, .sets = ON_SOP,
        .parameters = answer_parameters, .sentences = says_not_supported,
        .check = exchange_check_not_supported,
    },
    {
        .id = "exchange.soft-reset-accept",
        .title = "A Soft_Reset is accepted",
        .requirement = "The partner's next message after a Soft_Reset that was heard is Accept, within {answer_none_ms:most} of the "
                       "acknowledgement, and before the sender, having waited tSenderResponse, gives up. Where both reset at once each "
                       "accepts the other's.",
        .source = "USB PD, Soft Reset; type seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; " ANSWER_TIME,
        .why = "What could have been mended quietly ends in a Hard Reset.",
        .undecided = MAY_BE_CUT_SHORT " The partner had begun its message before it heard the Soft_Reset.",
        .bench = "In a contract, make the partner send a Soft_Reset.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH, .wakes = EVENT_BIT(WAKE_ASK),
        .messages = { .control = C(SOFT_RESET) },
        .parameters = soft_reset_parameters, .silenced_by = soft_reset_silenced, .sentences = says_soft_reset,
        .check = exchange_check_soft_reset_accept,
    },
    {
        .id = "exchange.one-at-a-time",
        .title = "One thing is settled before the next is begun",
        .requirement = "A message that opens an exchange on SOP comes while no other is open there: no question of either side unanswered "
                       "within the shortest tSenderResponse, {tSenderResponse:least}, no accepted Request without PS_RDY. Structured VDMs "
                       "may be interrupted; Soft_Reset, FR_Swap, Alert and Attention may come at any time.",
        .source = "USB PD, atomic message sequences; from memory",
        .why = "The other side may take the second question for an answer to the first, or for a protocol error.",
        .undecided = "Both sides began at the same time; or records are missing or could not be read just before it.",
        .bench = ASK_EVERYTHING,
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3, .wakes = EVENT_BIT(EVENT_MESSAGE),
        .messages = { .control = ASK_CONTROL | C(GET_SOURCE_CAP),
                      .data = ASK_DATA | OFFERS_DATA | REQUESTS | D(EPR_MODE) | D(VENDOR_DEFINED),
                      .extended = ASK_EXTENDED | OFFERS_EXTENDED },
        .sets = ON_SOP, .parameters = one_parameters, .silenced_by = one_silenced, .sentences = says_one,
        .check = exchange_check_one_at_a_time,
    },
    {
        .id = "exchange.sink-tx",
        .title = "The sink begins only while the source lets it",
        .requirement = "In an explicit contract under 3.x the sink opens an exchange only while Rp says 3.0 A (SinkTxOK). Answers, Soft_Reset and "
                       "FR_Swap are free.",
        .source = "USB PD, collision avoidance; SinkTxOK seen in " FROM_ZEPHYR " and " FROM_CHROMIUM,
        .why = "With both talking at once messages are lost, and in the end somebody resets.",
        .undecided = "Rp changed less than 5 ms (ours) before the message. A Request less than 100 ms after a packet that could not be read may "
                     "answer an offer.",
        .bench = "Record CC with the messages, and let both sides have much to ask.",
        .basis = BASIS_FOUND | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_CC,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_CC) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_DETACH) |
                 EVENT_BIT(EVENT_SWAPPED),
        .messages = { .control = ASK_CONTROL | C(GET_SOURCE_CAP), .data = ASK_DATA | REQUESTS | D(EPR_MODE) | D(VENDOR_DEFINED),
                      .extended = ASK_EXTENDED },
        .sets = ON_SOP, .parameters = sink_tx_parameters, .sentences = says_sink_tx,
        .state_size = sizeof(struct sink_tx_state), .check = exchange_check_sink_tx,
    },
    {
        .id = "exchange.wait-endless",
        .title = "A source does not answer Wait for ever",
        .requirement = "The same Request, with the same words, is answered with Wait at most {wait_max:most} times in a row without new "
                       "capabilities in between.",
        .source = "ours, common practice: the standard sets no limit",
        .why = "The device asks on and on, and never gets the power that the label promises.",
        .undecided = "Records are missing in the row.",
        .bench = "Load the other ports of the source, then attach a sink that asks for more than is left.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_LOSS) |
                 ENDS_ATTACH | EVENT_BIT(EVENT_END),
        .parameters = waits_parameters, .sentences = says_waits, .state_size = sizeof(struct waits_state),
        .check = exchange_check_wait_endless,
    },
    {
        .id = "exchange.hard-reset-after-timeout",
        .title = "Who waits in vain for power resets",
        .requirement = "Where a Request was not answered, PS_RDY did not come, or in an explicit contract capabilities were not followed "
                       "by a Request, a Hard Reset follows within the longest patience of who waits, tHardReset ({tHardReset:most}) and "
                       "{reset_follows_ms:most} (ours).",
        .source = "USB PD, Hard Reset; timers seen in " FROM_ZEPHYR " and " FROM_CHROMIUM "; that they end in a Hard Reset: from memory",
        .why = "Two devices that both wait for the other stay stuck until somebody pulls the plug.",
        .undecided = "Records are missing, or could not be read, in that time.",
        .bench = "Attach a partner that leaves a Request unanswered, or accepts it and never says PS_RDY.",
        .basis = BASIS_FOUND | BASIS_MEMORY | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(WAKE_TALK) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) | ENDS_ATTACH,
        .messages = { .data = OFFERS_DATA | REQUESTS, .extended = OFFERS_EXTENDED }, .ends = (uint16_t)~(1u << ASK_ANSWERED),
        .talk = { .control = C(ACCEPT) | C(PS_RDY) }, .sets = ON_SOP,
        .parameters = no_reset_parameters, .sentences = says_no_reset,
        .state_size = sizeof(struct no_reset_state), .check = exchange_check_no_reset,
    },
    { .id = NULL },
};
