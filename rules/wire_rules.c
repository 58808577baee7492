/* The rules of the group wire: the line itself, packet by packet. */
#include "rules/groups.h"
#include "rules/edge_checks.h"
#include "rules/line_checks.h"

#include "decode/sources.h"

#include <stddef.h>

static const char *const repeated_first[] = { "wire.crc-repeated", NULL };
static const char *const rate_parameters[] = { "fBitRate", NULL };
static const char *const drift_parameters[] = { "pBitRate", NULL };
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
static const char *const says_bit_drift[] = {
    "The bit rate of a packet on {1:set} drifts away from that of its preamble.",
};
static const char *const says_preamble[] = {
    [SAYS_PREAMBLE_BITS] = "The preamble of a packet on {1:set} has {0} bits; it should have {2}.",
    [SAYS_PREAMBLE_BEGINS_1] = "The preamble of a packet on {1:set} begins with a 1; it should begin with a 0.",
};
static const char *const says_ordered_set[] = {
    [SAYS_SET_PACKET] = "One of the four K-codes of {1:set} is not what it should be: number {0} was sent as {2:xb}.",
    [SAYS_SET_HARD] = "One of the four K-codes of Hard Reset is not what it should be: number {0} was sent as {2:xb}.",
    [SAYS_SET_CABLE] = "One of the four K-codes of Cable Reset is not what it should be: number {0} was sent as {2:xb}.",
};
static const char *const says_end_of_packet[] = {
    [SAYS_END_RESERVED] = "A packet on {1:set} has a reserved symbol behind its ordered set, after {0} whole bytes.",
    [SAYS_END_KCODE] = "A packet on {1:set} has another K-code than EOP behind its {0} bytes.",
    [SAYS_END_SILENT] = "A packet on {1:set} stops without EOP after {0} whole bytes.",
    [SAYS_END_ENDLESS] = "A packet on {1:set} goes on without EOP after {0} bytes.",
    [SAYS_END_CELL] = "The line of a packet on {1:set} could not be followed to its end, after {0} whole bytes.",
};
static const char *const says_frame_gap[] = {
    "{0:m} began {4:ms} after the end of the packet before it.",
    "{0:m} began {4:ms} after the end of the packet before it.",
};

#define ANY_TALK "Attach any partner that speaks USB PD and let the two agree on a contract."
#define EDGES_TALK "Record the edges of the CC line, with a logic analyser for example; any talk shows it."

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
        .id = "wire.bit-drift",
        .title = "The bit rate does not drift inside a packet",
        .requirement = "The mean rate of every 32 bits after the preamble lies within pBitRate, {pBitRate:both}, of the mean rate of the last 32 "
                       "bits of the preamble. The measurement may be off by two ticks of the edges in 32 bits, and "
                       "by what the edges are scattered.",
        .source = "USB PD, pBitRate: from memory",
        .why = "A receiver sets its clock by the preamble; a sender whose rate walks away from it loses long packets first.",
        .undecided = "Two ticks of the edges in 32 bits alone exceed pBitRate, as below 7.5 million samples a second, or with four standard "
                     "deviations of the edges' scatter reach over the limit; or the packet could not be read, and it was outside.",
        .bench = EDGES_TALK,
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .occasion_evidence = EVIDENCE_EDGES, .wakes = EVENT_BIT(EVENT_FRAME),
        .parameters = drift_parameters, .sentences = says_bit_drift, .check = wire_check_bit_drift,
    },
    {
        .id = "wire.preamble",
        .title = "The preamble has 64 bits and begins with a 0",
        .requirement = "Before the first K-code of a packet stand 64 bits, 0 and 1 by turns, the first a 0 and the last a 1.",
        .source = "USB PD, Preamble; 64 bits seen in " FROM_CHROMIUM_LINE "; the first bit from memory",
        .why = "A receiver finds the bit clock in the preamble; a short one leaves it too little time.",
        .undecided = "Fewer than 64 bits, and the edges begin less than 20 us before the first of them; one or two bits more or less, and the edges are "
                     "scattered as on a noisy line; or the packet could not be read, and it was wrong.",
        .bench = EDGES_TALK,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .occasion_evidence = EVIDENCE_EDGES, .wakes = EVENT_BIT(EVENT_FRAME), .sentences = says_preamble, .check = wire_check_preamble,
    },
    {
        .id = "wire.ordered-set",
        .title = "All four K-codes of an ordered set are right",
        .requirement = "The four K-codes before a packet, or of a reset signal, are those of one ordered set. (A receiver takes one of them "
                       "wrong; a sender owes all four.)",
        .source = "USB PD, ordered sets; seen in " FROM_CHROMIUM_LINE "; three of four for a receiver: "
                  "from memory",
        .why = "Who sends a wrong one uses up what a receiver allows for noise.",
        .undecided = "A change of level inside the ordered set lies where neither a bit nor half of one ends; or it is a reset signal, whose "
                     "sender is not known.",
        .bench = EDGES_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .occasion_evidence = EVIDENCE_EDGES, .wakes = EVENT_BIT(EVENT_FRAME), .sentences = says_ordered_set, .check = wire_check_ordered_set,
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
    {
        .id = "wire.end-of-packet",
        .title = "A packet ends with EOP, and holds no reserved symbol",
        .requirement = "Behind the CRC of a packet with a sound ordered set comes the K-code EOP, and no symbol in between is one of the reserved ones.",
        .source = "USB PD, 4b5b coding and EOP; all 32 symbols seen in " FROM_CHROMIUM_LINE,
        .why = "Without EOP a receiver does not know that the packet is over, and drops it.",
        .undecided = "The edges end before the packet does, or cannot be followed to its end, or they show another packet than its record, "
                     "which is sound; or the packet could not be read, and no copy shows who sent it, or a bit has less than six ticks.",
        .bench = EDGES_TALK,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .occasion_evidence = EVIDENCE_EDGES, .wakes = EVENT_BIT(EVENT_FRAME), .sentences = says_end_of_packet, .check = wire_check_end_of_packet,
    },
    { .id = NULL },
};
