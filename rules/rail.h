/*
 * rules/rail.h - the supply line of a port, as its POWER records tell it: followed once for all rules about VBUS and IBUS.
 *
 * The line's time falls into sections, each told to the rules that ask for its kind (struct rule, sections) when it is over:
 *
 *   contract  from 50 ms after its PS_RDY on, changes under way left out, to its end: static values (means of 10 ms, laid end to
 *             end, from 5 ms after a load step on), single readings, means of the current over 100 ms
 *   change    from an Accept to 50 ms after PS_RDY, row by row
 *   cycle     from an attach, a detach or a Hard Reset until VBUS is up again, or for good down, row by row
 *   first     from VBUS in vSafe5V after an attach or a Hard Reset to the first Accept
 *   empty     nothing attached, from 1 s on
 *
 * Rows are taken many at once (record_columns) and looked at one by one only where a limit is near, the load steps or readings are
 * missing. Rows of a record count from their own time on. Nothing is said of a port without VBUS readings.
 *
 * Uncertainty: volts.h. A verdict over n values takes the noise with k_n (the catalogue's section 3); since n is not known before
 * the end, what lies beyond a limit is kept for each step of k.
 */
#pragma once
#include "rules/volts.h"

/* A mean of n readings begun at t_ns, or one reading (n = 1). ua: RECORD_NO_READING where there is none. */
struct rail_value { int64_t t_ns; uint64_t frame; int32_t uv, ua; uint32_t n; };

/* Where values lie against two limits at the source's receptacle. */
enum { FIT_STEPS = VOLT_NOISE_STEPS };
struct rail_fit {
    int64_t  low_uv, high_uv;            /* INT64_MIN, INT64_MAX: no limit */
    uint64_t count;
    bool              peaks;             /* of single readings */
    bool              marked;            /* below, above or unsure hold something; else they need not be looked at */
    uint8_t           lone;              /* where noise is unknown: enum rail_side of the reading before, which alone proves nothing */
    struct rail_value least, most;       /* by reading */
    struct rail_value lone_value;
    struct rail_value below[FIT_STEPS], above[FIT_STEPS]; /* first surely beyond, by step of k; frame 0: none */
    struct rail_value unsure[FIT_STEPS]; /* first neither surely inside nor surely beyond */
};
enum rail_side { RAIL_INSIDE, RAIL_BELOW, RAIL_ABOVE, RAIL_UNSURE };
/* Over all values. *value: the first beyond, else the first unsure one. No value: inside. */
enum rail_side rail_fit_side(const struct rail_fit *f, const struct rail_value **value);
/* The same against the upper limit alone, or the lower. */
enum rail_side rail_fit_side_of(const struct rail_fit *f, bool high, const struct rail_value **value);

/* Currents against one limit, by step of k as above: the first surely beyond it, the first that may be. */
struct rail_amps { bool marked; struct rail_value beyond[FIT_STEPS], unsure[FIT_STEPS]; }; /* marked: they hold something */
/* Over so many of them: RAIL_INSIDE, RAIL_UNSURE, or RAIL_ABOVE: beyond. *value as above. */
enum rail_side rail_amps_side(const struct rail_amps *a, uint64_t count, const struct rail_value **value);

/* Current limits: means over 100 ms. */
struct rail_load {
    uint64_t count;
    struct rail_amps over, back;
};

enum section_kind { SECTION_CONTRACT, SECTION_CHANGE, SECTION_CYCLE, SECTION_FIRST, SECTION_EMPTY, SECTION_KINDS };
#define SECTION_BIT(kind) (1u << (kind))

/* A voltage between two readings: from the last surely on the one side to the first surely beyond; after_ns INT64_MIN: not (yet). */
struct rail_moment { int64_t before_ns, after_ns; uint64_t before_frame, after_frame; struct row_time before_row, after_row; };

/* VBUS at a level that nobody asked for. */
struct rail_level { struct rail_value first; int32_t least_uv, most_uv; int64_t to_ns; bool running, found, early; };
/* Below the wide window under load: surely; and where readings may be below, and how long with the time before and after them. */
struct rail_drop {
    struct rail_value first, last;
    bool    running, found, unloaded;    /* unloaded: the load went first */
    struct rail_value may_first;
    int64_t may_since_ns;
    bool    may_running, may;
};
/*
 * Pairs of readings. up, down: the steepest, uV/ns, less twice the uncertainty of a reading; up_most, down_most: the steepest with the
 * uncertainty of their difference added, in which an offset has no part.
 */
struct rail_slew { double up, down, up_most, down_most; struct rail_value up_at, down_at, up_most_at, down_most_at; };

enum pps_end { PPS_INSIDE, PPS_AT_MIN, PPS_AT_MAX };

/* What holds for a contract, or for VBUS before one. */
struct rail_steady {
    struct contract contract;            /* first, empty: held is false */
    uint8_t  player;                     /* of the source */
    bool     epr_mode, epr_certain;      /* when it began; certain: where it is not, that is known */
    int64_t  from_ns, to_ns;             /* PS_RDY; end */
    struct volt_window window;           /* W; first: vSafe5V */
    uint64_t statics, overloads, limitings; /* how many; with too much load; of a PPS that limits its current */
    struct rail_value first_static;
    struct rail_value reached;           /* first static value in the wide window, or too near to tell; frame 0: none */
    struct rail_value reached_surely;
    int32_t  settled_uv;                 /* battery: last static value that VBUS stood at in its window; 0: none yet */
    int64_t  steady_from_ns;             /* first row that counts; INT64_MIN: none */
    int64_t  paused_ns;                  /* when VBUS first was allowed to move, or its end */
    int64_t  last_ns;                    /* last row that counted */
    int64_t  failed_until_ns;            /* single readings up to here are of a static value surely outside W, or beside it; INT64_MIN */
    bool     peaks_left_out;             /* ... and one of them may be beyond the wide window */
    bool     fast_step;                  /* a load step faster than the standard allows, or to above the contract */
    enum cause doubt;                    /* records are missing in it */
    int64_t  doubt_ns;                   /* ... since */
    struct rail_level level, level_may;  /* another level; may: or too near to tell */
    struct rail_drop drop;
    bool     loaded;                     /* a static current between 10 % and 100 % of the contract */
    enum pps_end end;                    /* PPS: asked for within 100 mV of an end of its object */
    bool     high_only;                  /* PPS: its current limit cannot be told, the low side is not judged */
    double   sum_uv;                     /* of the static values */
    uint64_t static_rows;                /* readings that they are means of */
    uint64_t statics_ua;                 /* static values with a current */
    int32_t  static_least_ua, static_most_ua;
    struct { int64_t limiting_ns; uint64_t frame; } trip; /* last static value while limiting, VBUS above 0.95 of the object's least; INT64_MIN: none */
    int64_t  spacing_least_ns, spacing_most_ns;
    /* Large, and mostly empty: from here on each has its own way to begin (rail_steady_begin). */
    struct rail_fit values;              /* static values against W, those with too much load left out */
    struct rail_fit later;               /* the same from 500 ms after PS_RDY on */
    struct rail_fit peaks;               /* single readings against the wide window */
    struct rail_fit peaks_later;         /* the same from 500 ms after PS_RDY on */
    struct rail_fit ceiling;             /* static values against what may be outside EPR mode */
    struct rail_load load;
    struct { struct rail_amps over, under; uint64_t count, sag_count, sag_pairs; bool sagging; } limit; /* PPS: current */
};

/* A change of the contract, or VBUS coming up. */
struct rail_change {
    struct contract old, now;            /* old.held false: there was none; now: as asked for */
    uint8_t  player;
    bool     first;                      /* from vSafe5V */
    bool     done;                       /* PS_RDY came */
    int8_t   way;                        /* rail_change_way */
    struct wire request, accept, ready;
    uint64_t accept_frame;
    struct edge accepted;                /* done(Accept); kind EDGE_NONE: gone */
    int64_t  to_ns;                      /* when it was over */
    struct volt_window old_window, new_window;
    struct rail_value before;            /* static value of the 10 ms before; frame 0: none */
    struct rail_moment moved;            /* begins to move */
    bool     load_step;                  /* between Accept and the move */
    bool     load_moves;                 /* IBUS left +- 250 mA of what it was */
    struct { struct rail_value at; int32_t by_uv; int32_t extreme_uv; bool entered; } reversal; /* the largest; frame 0: none */
    int64_t  align_ns;                   /* packets and readings may be so far apart: expanded, what a mean about PS_RDY takes in left out */
    struct { int64_t inside_before_ns, outside_before_ns, inside_after_ns, outside_after_ns; } beside; /* align_ns > 0: the nearest readings
                                                                   surely inside and outside of the new window, on either side of PS_RDY */
    struct { struct rail_value mean, around[2]; int64_t sum_uv, sum_ua; } at_ready; /* within 1 ms of PS_RDY, n 0: none; the readings
                                                                                   before and after it */
    uint64_t readings;
    int64_t  spacing_most_ns, spacing_least_ns;
    enum cause doubt;
    struct rail_slew slew;               /* from the first reading on; this and what follows begins by itself */
    struct rail_fit peaks;               /* single readings against the outer limits of both windows and vSrcValid */
    struct rail_fit floor;               /* single readings against vSrcNeg */
};

int rail_change_way(const struct rail_change *c); /* 1 up, -1 down, 0 the same level, or not known */

enum cycle_by { CYCLE_BY_NOTHING, CYCLE_BY_ATTACH, CYCLE_BY_HARD_RESET, CYCLE_BY_DETACH }; /* NOTHING: never told */
struct rail_cycle {
    uint8_t  by;                         /* enum cycle_by */
    uint8_t  player;
    bool     epr, epr_known, in_contract, by_mark, by_vbus; /* epr: in EPR mode; in_contract: the reset ended one */
    struct edge opened;                  /* attach, detach; end of the reset */
    uint64_t frame;
    int64_t  t_ns, to_ns;                /* to_ns: when it was given up or ended by something else */
    struct rail_value before;            /* static value before; frame 0: none */
    struct rail_moment fell;             /* begins to fall */
    struct rail_moment off, on, up;      /* crosses 0.8 V falling, rising; crosses 4.75 V rising */
    int64_t  down_uv;                    /* vSafe0V */
    bool     risen;                      /* it is so far above vSafe0V that it has begun to move */
    int32_t  fell_uv, fell_ua;           /* reading at fell */
    bool     crossed;                    /* VBUS came or went before it began, by clocks so far apart that it may have been after */
    bool     light_slow;                 /* no load, or none is known, and VBUS falls slower than 1 mV/us */
    struct rail_slew slew;
    struct rail_value last;              /* last reading */
    struct rail_value above;             /* last reading surely above 0.8 V before the first that is not; frame 0: none */
    bool     left_above;                 /* there was one that is not */
    struct rail_fit floor, turn_on;      /* single readings against vSrcNeg; those in the 50 ms after turn-on against vSafe5V and vSrcValid */
    uint64_t readings;
    int64_t  spacing_most_ns, last_ns;
    enum cause doubt;
};

/* WAKE_SECTION: what is over. */
struct section {
    enum section_kind kind;
    union { const struct rail_steady *steady; const struct rail_change *change; const struct rail_cycle *cycle; };
};
const struct section *judge_section(const struct judge *j);
/* By the clocks of packets and readings, is this moment perhaps of before the cycle, or another one hidden by that? */
bool rail_cycle_untied(const struct port *p, const struct rail_cycle *c, const struct rail_moment *m);
/* How far apart packets and readings of a port may be (expanded), by ABOUT; 0: they go by one clock. */
int64_t rail_align_ns(const struct port *p);

/* The last static values, newest first, rows up to the event in hand taken. */
const struct rail_value *judge_statics(struct judge *j, unsigned *count);
/* What a value of a section is worth: expanded; f: the noise as a verdict over the whole fit takes it, NULL: alone. */
int64_t judge_value_uncertainty(const struct judge *j, const struct rail_fit *f, const struct rail_value *v);
int64_t judge_amp_uncertainty(const struct judge *j, const struct rail_value *v, uint64_t count); /* one of so many */
/* ... and between what it lies, at the source's receptacle. */
struct volt_range judge_value_range(const struct judge *j, const struct rail_value *v);
enum rail_side judge_against(const struct judge *j, const struct rail_value *v, int64_t level_uv);
/* The cycle that is under way or was last, rows up to the event in hand taken; NULL: none yet. */
const struct rail_cycle *judge_cycle(struct judge *j);
