/*
 * tests/rules/line_words.h - packets one by one, with their times in hand: for the rules that the line watcher judges.
 */
#pragma once
#include "tests/rules/bench_lines.h"

/* Attach and a contract: 4 messages with their GoodCRCs, revision 3; then 5 ms of quiet, and no more pauses of itself. */
void line_begin(struct lines *l);
enum { BEGIN_PACKETS = 8, BEGIN_MESSAGES = 4, BEGIN_GAPS = 6 }; /* gaps: before 4 GoodCRCs, Request, Accept */

/* One packet, whatever it is; what is 0 is SOP, control, no objects. */
struct one {
    uint8_t  side, set, type, id, words;  /* words > 0: a data message; the words are 0x01000000 + n */
    uint8_t  state;                       /* of the record: RECORD_NO_CRC, RECORD_CRC_BAD, RECORD_TRUNCATED */
    bool     bad;                         /* its CRC does not fit */
    uint32_t other;                       /* added to the first word */
};
uint64_t line_put(struct lines *l, const struct one *o);
uint64_t line_alert(struct lines *l, unsigned side);          /* a message that nobody has to answer, with the next MessageID */
uint64_t line_alert_again(struct lines *l, unsigned side);    /* the same once more */
uint64_t line_alert_bad(struct lines *l, unsigned side);      /* the next one, its CRC wrong; the MessageID is not used up */
uint64_t line_goodcrc(struct lines *l, unsigned side);        /* to the last message of the other side */
uint64_t line_exchange(struct lines *l, unsigned side);       /* an Alert and, 60 us later, its GoodCRC; then 2 ms of quiet */

/*
 * Plays the trace twice, once counting what is plainly in order without a call and once looking at every packet: both must come to
 * the same counts. What stays is the first.
 */
void line_play(struct lines *l);
/* Of the twelve rules none fails or is undecided but those named. */
void line_expect_only(const struct lines *l, const char *ids);
