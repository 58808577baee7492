/*
 * capture/hold_inside.h - holds records back until none that starts earlier can come, and gives them out by start time, equal
 * times in the order they came in. Within capture only.
 *
 * Bytes lie one behind the other in one buffer. A record that comes in its place, as nearly all do, costs a copy; only those
 * that start before the last one held go through a heap. What is held has an end: HOLD_POWER_BYTES of POWER records,
 * HOLD_OTHER_BYTES or HOLD_OTHER_RECORDS of others; beyond that the earliest go out at once.
 */
#pragma once
#include "capture/record.h"

enum {
    HOLD_POWER_BYTES = 4 << 20,
    HOLD_OTHER_BYTES = 2 << 20,
    HOLD_OTHER_RECORDS = 32768,
    HOLD_RECORD_BYTES_MAX = 262144, /* the snapshot length; libpcap gives no longer ones of link type USER0 */
};

struct hold;

enum held_mark { HELD_CUT = 1, HELD_STEPPED_BACK = 2, HELD_TEXT_DAMAGED = 4 };

struct held {
    int64_t        t_ns, stamp_ns;
    uint64_t       frame;
    const uint8_t *bytes;
    uint32_t       length;
    uint8_t        kind;
    uint8_t        marks; /* enum held_mark */
    uint8_t        place; /* the hold's own */
};

struct hold *hold_new(void);
void hold_free(struct hold *h);

/* False: no memory. A record marked HELD_STEPPED_BACK waits until all before it have gone out; put no more until hold_waits is false. */
bool hold_put(struct hold *h, const struct held *record);
bool hold_waits(const struct hold *h);

/*
 * Gives out the earliest, if it starts at or before until_ns or there is too much; it lasts until the next call of anything
 * here. NULL: nothing to give.
 */
const struct held *hold_take(struct hold *h, int64_t until_ns);

/* The latest start given out because there was too much: a record before it came too late. */
int64_t hold_spilled_ns(const struct hold *h);

/* When the earliest starts; INT64_MAX: nothing is held. Takes back what was given out last. */
int64_t hold_first_ns(struct hold *h);
