/* The rules of the group time. */
#include "rules/groups.h"
#include "rules/line_checks.h"

#include <stddef.h>

#define TIMER_LIST "a published PD timer table that names USB PD R3.2 (secondary)"

static const char *const turnaround_parameters[] = { "tTransmit", NULL };
static const char *const retry_parameters[] = { "tReceive", "tRetry", NULL };

static const char *const says_turnaround[] = {
    "GoodCRC to {0:m} began {4:ms} after the end of the message; at most {5:ms} is allowed.",
};
static const char *const says_retry[] = {
    "{0:m} again {4:ms} after the end of the copy before; it is due after at most {5:ms}.",
    "{0:m} again {4:ms} after the end of the copy before; its GoodCRC has to be waited for, at least {5:ms}.",
};

const struct rule time_rules[] = {
    {
        .id = "time.goodcrc-turnaround",
        .title = "A GoodCRC comes at once",
        .requirement = "From the end of the message, or of its copy, to the start of the GoodCRC that answers it pass at most tTransmit. "
                       "The least is wire.inter-frame-gap.",
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
        .requirement = "From the end of a copy to the start of the next one pass tReceive, least, to tReceive and tRetry, most: 0.9 to "
                       "1.295 ms.",
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
    { .id = NULL },
};
