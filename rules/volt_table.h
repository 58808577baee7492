/*
 * rules/volt_table.h - what VBUS did in each contract and at each load step, in numbers: for whoever asks (struct engine_options,
 * volts and load_step). Nothing is judged here, and nothing is kept or added up where nobody asks.
 *
 * Everything is told for the source's receptacle: where VBUS was taken at the sink and the path is known, current x path is added. A
 * path that is not known stands in the uncertainties of margins alone. Uncertainties are expanded, k = 2; the noise of an extreme is
 * taken for as many values as it is the extreme of (the catalogue's section 3).
 *
 * static value  mean of 10 ms, as the rules take it (rules/rail.h); from 50 ms after PS_RDY on, 5 ms after a load step on
 * median        of the static values, counted in bins of 1 mV: right to half of one; nothing told where there was no room for bins
 * margin        of a static value to the nearer limit of W, inward positive
 * time          a range: what lies surely outside between readings that both are, and at most up to the readings around that are
 *               surely inside (VOLT_ANY_NUMBER of readings: noise x 6.58)
 * recovery      from the load step to within 1 % of the final value, to stay for 5 ms at least; a band known to 0.1 % of the voltage.
 *               Final value: the last mean of 10 ms in the 100 ms that a step is watched
 *
 *   _uv microvolt  _ua microampere
 */
#pragma once
#include "rules/rail.h"

enum { VOLT_ANY_NUMBER = VOLT_NOISE_STEPS - 1 };

/* most_ns INT64_MAX: no end is known. */
struct volt_time { int64_t least_ns, most_ns; };

/* n readings' mean, or one reading. frame 0: none. */
struct volt_value { int64_t uv; int32_t ua; int64_t t_ns; uint64_t frame; uint32_t n; };

/* From an Accept to 50 ms after PS_RDY (1.02 s where none comes). */
struct volt_change {
    bool     seen;                     /* else the Accept was not recorded, or lies outside of --since .. --until */
    bool     level;                    /* VBUS has to go to another level */
    bool     first;                    /* there was no contract before */
    uint64_t request_frame, accept_frame, ready_frame; /* ready 0: it never came */
    int64_t  accept_ns;                /* start of the Accept */
    struct contract asked;
    bool     timed;                    /* when the Accept was acknowledged is known; times below count from there */
    struct volt_time ready;            /* to the start of PS_RDY */
    bool     moved, reached, inside;   /* inside: no reading was outside of the new window, there is nothing to reach */
    struct volt_time move, reach;      /* begins to move; inside the new window, to stay there up to the change's end */
    bool     late;                     /* it came there after the change's end only: reach is the first time */
    uint64_t readings;
    int64_t  spacing_ns;               /* greatest; 0: fewer than two readings */
    struct volt_value highest, lowest; /* readings */
    bool     limits_known;
    int64_t  high_uv, low_uv;          /* upper limit of the higher window of old and new, lower limit of the lower one */
    int64_t  over_uv, under_uv;        /* of highest and lowest beyond them; 0: not beyond */
    struct volt_time over, under;
    bool     slow;                     /* the readings are too far apart to show the extremes: those are least amounts */
    enum cause doubt;                  /* records are missing in it */
};

/* How VBUS follows the load, by a straight line through the static values. */
enum volt_slope_state { SLOPE_KNOWN, SLOPE_NO_CURRENT, SLOPE_FEW, SLOPE_NARROW, SLOPE_PATH };
/* FEW: fewer than 3 values with a current; NARROW: their currents lie less than load_step_ma apart; PATH: that of the meter is unknown. */
struct volt_slope {
    enum volt_slope_state state;
    double   mohm, u_mohm;             /* falls by so much: positive */
    uint64_t values;
    struct volt_value lightest, heaviest; /* static values with the least and the greatest current */
};

/* The load changed by more than load_step_ma within 1 ms (or between two readings that are farther apart, but no more than tSrcTransient). */
struct volt_step {
    uint8_t  port;
    uint64_t contract_frame, frame;    /* of the contract's PS_RDY; of the first reading with the new load */
    int64_t  from_ns, to_ns;           /* it happened between these readings */
    bool     up;                       /* more load: VBUS dips; less: it rises */
    int32_t  from_ua, to_ua;
    int64_t  before_uv, final_uv;
    bool     settled;                  /* final_uv is known */
    bool     limiting;                 /* a PPS whose current came to its limit, or from there: VBUS may give way */
    struct volt_value extreme;         /* lowest of an up step, highest of another */
    int64_t  depth_uv;                 /* beyond both the value before and the final one; 0: none was read */
    int64_t  noise_uv;                 /* so much the noise alone may make of it, over so many readings */
    bool     recovered, in_band;       /* in_band: no reading was beyond 1 % of the final value */
    struct volt_time recovery;
    struct volt_time outside, beyond;  /* outside of W; beyond the wide window (vSrcValid) */
    int64_t  spacing_ns;               /* greatest distance of two readings: what is shorter may not show */
    int64_t  watched_ns;
};

struct volt_steps {
    uint64_t up, down, limiting;       /* limiting: among them; they do not count below */
    uint64_t coarse;                   /* so great a change between readings that are too far apart to tell a step from a slope */
    struct volt_step deepest, slowest; /* of those up; of those that recovered. frame 0: none */
    struct volt_step highest;          /* of those down */
    uint64_t unsettled, unrecovered;
};

struct volt_line {
    uint8_t  port;
    bool     agreed;                   /* else the Request was accepted, and PS_RDY did not come: only change counts */
    struct contract contract;
    int64_t  to_ns;
    struct volt_window window;         /* W; of a PPS near an end of its object with what lies beyond that end */
    bool     high_only;                /* PPS whose limiting cannot be told: the low side does not count */
    struct volt_change change;
    uint64_t statics, left_out;        /* left out: with too much load, or while a PPS limits its current; the others count below */
    uint32_t thinnest;                 /* readings in the static value that has the fewest */
    bool     median_known;
    int64_t  median_uv;
    struct volt_value least, most;     /* static values */
    uint64_t readings;
    struct volt_value lowest, highest; /* readings outside of changes, whatever the load */
    struct { bool known, low; int64_t uv, u_uv; struct volt_value value; } margin; /* the least one; low: to the lower limit */
    struct volt_time outside;          /* of W, all readings outside of changes */
    uint64_t outside_count;            /* how often a reading surely outside followed one that was not */
    int64_t  spacing_ns;               /* greatest distance of two readings */
    struct volt_slope slope;
    struct volt_steps steps;
    bool     assumed, at_sink, path_known; /* what ABOUT says of VBUS readings on this port */
    enum cause doubt;
};
