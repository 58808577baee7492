/*
 * rules/line.h - the line watcher: what the rules about single packets, their GoodCRCs and their repeats need, packet by packet.
 *
 * Every packet is an occasion of several of these rules, and nearly all packets are in order. The watcher holds integers against
 * windows that were shrunk by the uncertainty of a stamp beforehand, counts what is plainly in order without a call, and hands the
 * rest to the checks (WAKE_LINE), one occasion after the other. A rule says with `line` which of them it judges.
 */
#pragma once
#include "rules/span.h"

enum line_rule {
    LINE_NONE, LINE_CRC, LINE_CRC_REPEATED, LINE_BIT_RATE, LINE_FRAME_GAP, LINE_GOODCRC, LINE_FIRST_TRY, LINE_GOODCRC_ID,
    LINE_UNPROMPTED, LINE_RETRY_COUNT, LINE_RETRY_SAME, LINE_TURNAROUND, LINE_RETRY, LINE_RULES
};

enum { LINE_EVIDENCE = 8 };

/* One occasion. What a rule has no use for is 0. */
struct line_case {
    bool     fault;           /* what is demanded is not there ... */
    uint8_t  cause;           /* ... unless this (enum cause) explains it; CAUSE_NONE: nothing does. Without fault: why even that is not sure */
    uint8_t  says;            /* which sentence of the rule, where it has several */
    uint8_t  side, player;    /* whom it is about */
    uint8_t  set, index, id, wanted_set, wanted_id; /* of the packet it is about, and what a GoodCRC should have said */
    uint64_t frame;
    int64_t  t_ns;
    uint64_t subjects[2];     /* further frames it is about */
    struct wire from, to;     /* a time: from the end of from, or from its start where both are the same packet */
    uint32_t bytes, bits;     /* on the wire, CRC included; 0 bytes: a reset signal */
    uint32_t count, most;     /* copies */
    const struct parameter *parameter;
    uint8_t  evidence_count;
    uint64_t evidence[LINE_EVIDENCE];
};
