/* The rules of the group exchange. */
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
    [SAYS_NOT_HEARD] = "No GoodCRC came to {0:m}.",
    [SAYS_NEVER_HEARD] = "No GoodCRC came to any of the {1} copies of {0:m}.",
};
static const char *const says_first_try[] = { "{0:m} was acknowledged only when it was sent again." };
static const char *const says_goodcrc_id[] = {
    [SAYS_ID_OTHER] = "GoodCRC has MessageID {0}; {2:m} just before it has {3}.",
    [SAYS_ID_OTHER_SET] = "GoodCRC with MessageID {0} on {1:set}; {2:m} just before it was sent on {4:set}, with MessageID {3}.",
};
static const char *const says_unprompted[] = { "GoodCRC with MessageID {0} on {1:set}, and nothing before it to acknowledge." };
static const char *const says_retry_count[] = {
    [SAYS_COUNT_PORT] = "{0:m} was sent {1} times; {2} are the most.",
    [SAYS_COUNT_PLUG] = "{0:m} was sent {1} times; a cable plug sends once.",
};
static const char *const says_retry_same[] = {
    [SAYS_SAME_OTHER_BYTES] = "{0:m} with MessageID {1} was sent again with other bytes.",
    [SAYS_SAME_OTHER_TYPE] = "{0:m} with MessageID {1}, where the message before, never acknowledged, was to be sent again with that "
                             "MessageID.",
};

#define SEEN_IN_STACKS "seen in " FROM_LINUX " and " FROM_MICROCHIP
#define LOSE_A_GOODCRC \
    "Disturb the line for a moment while a message is sent (a long cable, a contact that is moved), so that its GoodCRC stays away."
#define ANY_TALK "Attach any partner that speaks USB PD and let the two agree on a contract."

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
        .requirement = "A message is sent at most nRetryCount + 1 times: 4 under revision 2.0 and while no revision is agreed on, 3 under 3.x; "
                       "by a cable plug once.",
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
    { .id = NULL },
};
