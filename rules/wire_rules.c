/* The rules of the group wire: the line itself, packet by packet. */
#include "rules/groups.h"
#include "rules/line_checks.h"

#include "decode/sources.h"

#include <stddef.h>

static const char *const repeated_first[] = { "wire.crc-repeated", NULL };
static const char *const rate_parameters[] = { "fBitRate", NULL };
static const char *const gap_parameters[] = { "tInterFrameGap", NULL };

static const char *const says_crc[] = {
    [SAYS_CRC_WRONG] = "The CRC of a packet of {0} bytes on {1:set} is wrong.",
    [SAYS_CRC_ANSWERED] = "The CRC of a packet of {0} bytes on {1:set} is wrong, but a GoodCRC followed.",
    [SAYS_CRC_FITS] = "The instrument flags the CRC of a packet of {0} bytes on {1:set} as bad, but it is right.",
    [SAYS_CRC_CUT] = "A packet on {1:set} was cut off after {0} bytes.",
};
static const char *const says_crc_repeated[] = {
    [SAYS_REPEATED_ALL] = "The {3:side} sent a message {0} times on {1:set}, and every copy has a wrong CRC.",
    [SAYS_REPEATED_BY_NOBODY] = "A message was sent {0} times on {1:set}, every copy with a wrong CRC; who sent it is not known.",
    [SAYS_REPEATED_FEWER] = "A message was sent {0} times on {1:set} with a wrong CRC; a sender has {2} copies.",
};
static const char *const says_bit_rate[] = {
    [SAYS_RATE_HIGH] = "{0:m}: {2} bits in {4:ms}: the bit rate is too high.",
    [SAYS_RATE_LOW] = "{0:m}: {2} bits in {4:ms}: the bit rate is too low.",
    [SAYS_RATE_RESET_HIGH] = "A reset signal: {2} bits in {4:ms}: the bit rate is too high.",
    [SAYS_RATE_RESET_LOW] = "A reset signal: {2} bits in {4:ms}: the bit rate is too low.",
};
static const char *const says_frame_gap[] = {
    "{0:m} began {4:ms} after the end of the packet before it.",
    "{0:m} began {4:ms} after the end of the packet before it.",
};

#define ANY_TALK "Attach any partner that speaks USB PD and let the two agree on a contract."

const struct rule wire_rules[] = {
    {
        .id = "wire.crc",
        .title = "The CRC of a packet fits its bytes",
        .requirement = "The CRC-32 over message header and data equals the last four bytes of the packet.",
        .source = "USB PD, CRC; polynomial, order and a worked example seen in public code that types off the standard's annex",
        .why = "A packet that arrives damaged has to be sent again; many of them say that the line is noisy or the transmitter weak.",
        .undecided = "The instrument calls the CRC bad although it fits; or a GoodCRC follows within tReceive, so that the receiver had "
                     "it whole; or the packet was cut off.",
        .bench = ANY_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_LINK, .line = LINE_CRC,
        .silenced_by = repeated_first, .sentences = says_crc, .check = wire_check_crc,
    },
    {
        .id = "wire.crc-repeated",
        .title = "Not every copy of a message is damaged",
        .requirement = "Of the nRetryCount + 1 copies of a message, same length, each 0.9 to 1.4 ms after the end of the last, at least one "
                       "has a CRC that fits.",
        .source = "USB PD, CRC and retries; retry counts seen in " FROM_LINUX " and " FROM_MICROCHIP "; that a bad packet is dropped "
                  "without a GoodCRC: secondary, notes on PD R3.2 V1.2, and from memory",
        .why = "Noise hits one copy or two. A sender whose every copy is damaged computes its CRC wrongly or cannot drive the line.",
        .undecided = "Fewer copies are in the recording than a sender has, or records are missing; or what followed does not show who sent "
                     "them: a Soft_Reset, or the same capabilities once more, would.",
        .bench = "Let the two ports talk for a while, also with a long cable; a copy that could not be read and is sent again shows it.",
        .basis = BASIS_FOUND | BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_CRC_REPEATED,
        .sentences = says_crc_repeated, .check = wire_check_crc_repeated,
    },
    {
        .id = "wire.bit-rate",
        .title = "Bits are sent at the rate of the standard",
        .requirement = "The number of bits of a packet (preamble 64, ordered set 20, ten a byte with the CRC, EOP 5) or of a reset signal "
                       "(84) over its length lies within fBitRate, {fBitRate:both}.",
        .source = "USB PD, BMC bit rate: from memory",
        .why = "A receiver finds the bits by their length; beyond the limits it loses packets.",
        .undecided = "The uncertainty of the stamps and of the clock reaches over a limit; or the packet could not be read, and it was "
                     "outside.",
        .bench = "Record with an instrument that measures how long each packet lasts; any talk shows it.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_BIT_RATE,
        .occasion_evidence = EVIDENCE_DURATIONS, .decision_evidence = EVIDENCE_INSTRUMENT_TIME,
        .parameters = rate_parameters, .sentences = says_bit_rate, .check = wire_check_bit_rate,
    },
    {
        .id = "wire.inter-frame-gap",
        .title = "The line is quiet between two packets",
        .requirement = "From the end of a packet to the start of the next one of the same sender, and from the end of any packet to the "
                       "start of its GoodCRC, pass at least {tInterFrameGap:least} (tInterFrameGap). Other pairs are not judged.",
        .source = "USB PD, tInterFrameGap: from memory; the same 25 us in a published PD timer table that names USB PD R3.2 (secondary)",
        .why = "A receiver needs this pause to see that one packet is over and the next begins.",
        .undecided = "Where the length of the first packet was not measured its end is uncertain by the spread of the bit rate.",
        .bench = "Record with an instrument that measures how long each packet lasts; any talk shows it.",
        .basis = BASIS_MEMORY | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH, .line = LINE_FRAME_GAP,
        .decision_evidence = EVIDENCE_DURATIONS | EVIDENCE_INSTRUMENT_TIME,
        .parameters = gap_parameters, .sentences = says_frame_gap, .check = wire_check_frame_gap,
    },
    { .id = NULL },
};
