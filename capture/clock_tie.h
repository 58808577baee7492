/*
 * capture/clock_tie.h - the clock of an instrument tied to the host's, so that several instruments share one time base.
 *
 * The host asks for the instrument's time now and then. The answer was given somewhere between the question (asked_ns) and its return
 * (heard_ns): the middle is the best guess, half the round trip the most it can be off. At first every answer is kept, later the one with
 * the shortest round trip of every 8 s, for about eight minutes; through these goes a line (least squares, weighted by round trip, those
 * off the line left out), and that gives offset and rate. From clock_tie_go on clock_tie_host_ns has no steps: after a new answer it runs a little faster or
 * slower until it is on the line again, and it never goes back. So ask 32 times or so
 * before the first record is written.
 *
 * An instrument that answers no questions is tied by its earliest arrivals: a record comes some time after it was stamped, never before.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum { CLOCK_TIE_POINTS = 64 };

struct clock_tie_point {
    int64_t device_ns, host_ns;
    int64_t half_ns;  /* how far off it can be, either side; of an arrival: -1 */
    double  residual; /* of the line, ns */
};

/* The line: host = host_ns + (device - device_ns) * (1 + rate). */
struct clock_tie_line { int64_t device_ns, host_ns; double rate; };

struct clock_tie {
    struct clock_tie_point points[CLOCK_TIE_POINTS];
    unsigned               count;
    int64_t                window_ns;     /* of each so long one point is kept, device time */
    int64_t                from_ns;       /* when the last point's window began */
    struct clock_tie_point first;         /* best of the first window: for the drift over all */
    struct clock_tie_line  line;          /* through the points */
    struct clock_tie_line  now, before;   /* what clock_tie_host_ns goes by: from now.device_ns on, and before that */
    int64_t                asked_last_ns; /* latest device time that clock_tie_host_ns was asked for: what it said of it stands */
    bool                   tied, going, by_arrivals, settled; /* settled: `first` stands */
};

void clock_tie_start(struct clock_tie *c);
/* asked_ns, heard_ns: host time. An answer whose device time is before the last one's is left out. */
void clock_tie_answer(struct clock_tie *c, int64_t device_ns, int64_t asked_ns, int64_t heard_ns);
/* A record stamped device_ns came at heard_ns. Left out once there was an answer. */
void clock_tie_arrival(struct clock_tie *c, int64_t device_ns, int64_t heard_ns);
/* Times are written from now on. */
static inline void clock_tie_go(struct clock_tie *c)
{
    c->going = true;
}
/* Is there anything to go by? */
static inline bool clock_tie_tied(const struct clock_tie *c)
{
    return c->tied;
}
/* Host time of a device time; device times may lie a little before the ones of earlier calls. */
int64_t clock_tie_host_ns(struct clock_tie *c, int64_t device_ns);

/* What came of it: how fast the instrument's clock runs against the host's, and standard uncertainties (k = 1). */
struct clock_tie_result { double ppm, ppm_u; int64_t offset_ns_u; };
struct clock_tie_result clock_tie_result(const struct clock_tie *c);
