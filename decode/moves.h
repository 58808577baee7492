/*
 * decode/moves.h - where readings leave one steady level for another, reading by reading: what a meter's log shows of a change of contract.
 *
 *   _ns  nanoseconds      levels and readings in one unit, millivolt or milliampere
 *
 * Rules of thumb (common practice, no source): a level is steady where readings keep within `band` of its mean for MOVE_HOLD_NS, two readings at
 * the least, or where nothing is read for MOVE_QUIET_NS and ten times the last spacing: some loggers write down changes alone. Smaller and slower
 * changes are drift of the level.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

#define MOVE_HOLD_NS INT64_C(20000000)
#define MOVE_QUIET_NS INT64_C(200000000)

/* A move. Of its true beginning and end it is known that the one lies at begin_ns or before, the other at end_ns or after. */
struct move {
    int64_t steady_ns; /* last reading at the old level: the move begins after it */
    int64_t begin_ns;  /* first reading that is off the old level */
    int64_t end_ns;    /* last reading that is not yet at the new one; with few readings earlier than begin_ns */
    int32_t from, to;  /* levels */
};

struct move_watch {
    int32_t band, least;    /* least: a smaller move is drift */
    bool    any, moving;
    int64_t level;          /* x 256: the mean of the last readings */
    int64_t steady_ns;      /* last reading at the level */
    int64_t off_ns;         /* first one off it */
    int64_t stop_ns, before_ns; /* where the readings may have come to rest; the reading before */
    int64_t stop_sum, last_ns;
    int32_t stop;           /* the reading there */
    uint32_t stop_count;
};

struct move_watch move_watch_begin(int32_t band, int32_t least);
/* The next reading; times increase. True: *m is a move that has come to rest. */
bool move_watch_take(struct move_watch *w, int64_t t_ns, int32_t reading, struct move *m);
/* Readings are missing: what was steady before is forgotten. */
void move_watch_break(struct move_watch *w);
