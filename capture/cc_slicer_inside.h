/*
 * capture/cc_slicer_inside.h - one CC line as an analogue instrument sees it: when it changes between low and high, and where it rests.
 * Within capture only.
 *
 * Readings are 16-bit steps. They are looked at in windows of about eight bit cells. A window in which the line swings to and fro
 * between two levels tells what these are, here and now (partners differ, and current lifts the ground of one against the other);
 * the thresholds lie a sixth to a quarter of the swing above and below the middle, and a change counts from where the line last
 * went through the middle, the place between two readings by a straight line. Three windows in which the line rests at one level make it a level outside of
 * packets; nothing is a change there, however the noise compares with the thresholds, unless the level itself has moved across.
 */
#pragma once
#include "capture/cc_line.h"

struct cc_slicer_options {
    unsigned line;
    double   sample_ns;       /* from one reading to the next */
    double   sample_ticks;    /* the same in ticks */
    bool     timed;           /* each reading's time is put with it; else one is sample_ticks after the other */
    double   step_mv, zero_mv; /* a reading r is r x step_mv + zero_mv; step_mv 0: not known, then there are no levels and thresholds are told in steps */
    int32_t  low_mv, high_mv; /* thresholds that were told (steps where step_mv is 0); both 0: found */
    void (*notice)(void *context, const struct cc_notice *n); /* CC_THRESHOLDS; may be NULL */
    void    *context;
};

struct cc_slicer;

struct cc_slicer *cc_slicer_new(const struct cc_slicer_options *o); /* NULL: no memory */
void cc_slicer_free(struct cc_slicer *s);

/*
 * Where the next readings go, and how many there is room for (1 at the least). *ticks is NULL if not timed. Then
 * cc_slicer_put says how many were laid there. Ask for the block before there is no room left.
 */
size_t cc_slicer_room(struct cc_slicer *s, int16_t **readings, int64_t **ticks);
void cc_slicer_put(struct cc_slicer *s, size_t count);
/* So many readings are missing here (each sample_ticks long), or the next ones are of another time: a hole. */
void cc_slicer_break(struct cc_slicer *s, uint64_t missing);
/* No more will come. */
void cc_slicer_end(struct cc_slicer *s);
/* What can be told by now, until the next call of any of these. False: nothing. After a break or the end ask until there is no more. */
bool cc_slicer_block(struct cc_slicer *s, struct cc_block *block);
/* Standard uncertainty of a change's time, from noise, steepness and spacing of the readings: mean of all so far; 0: none yet. */
double cc_slicer_edge_ns(const struct cc_slicer *s);

/* A reading of so many steps, held within 16 bits. */
int16_t cc_slicer_step(double steps);
/*
 * The tick, in picoseconds, for readings that are so far apart: 1, 2 or 5 with zeros, a quarter of the distance at the most, or half of it
 * where an edge passes between two readings. A place between readings is found as well as that or better; who judges by edges takes two
 * ticks for what they may be off, so a finer tick would promise too much where there is noise.
 */
uint64_t cc_slicer_tick_ps(double sample_ns);

/* What a window looks like; in steps. */
struct cc_window {
    bool  there;       /* else before the first or after the last one */
    bool  busy;        /* the line swings between low and high */
    float mean, spread; /* spread: standard deviation */
    float low, high;   /* busy */
};
struct cc_window cc_window_of(const int16_t *readings, size_t count);
/* First of from..to-1 that is below (or above) limit; to if there is none. */
size_t cc_readings_below(const int16_t *readings, size_t from, size_t to, int16_t limit);
size_t cc_readings_above(const int16_t *readings, size_t from, size_t to, int16_t limit);
