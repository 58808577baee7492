/*
 * decode/alignment.h - two recordings of one port put on one time base: what was said (decode/wire_moves.h), by one clock, and how VBUS
 * moved (decode/moves.h), by another.
 *
 *   time of the wire = reading's time + shift_ns + (reading's time - first reading) x rate
 *
 * Every change of contract moves VBUS between Accept and PS_RDY, every plug between CC and the first offer. A shift is wanted that lets as
 * many moves as possible, each between the levels that were agreed on, lie whole within their windows. What is then left open, the range of
 * shifts that all of them allow, is what the tie is worth: its half width / sqrt 3 (evenly spread: JCGM 100, 4.3.7). The supply is taken to keep to
 * its windows as a rule; those moves that do not are left out of the tie, if the others agree.
 */
#pragma once
#include "decode/moves.h"
#include "decode/wire_moves.h"

enum { ALIGN_MOVES_MAX = 2048, ALIGN_TIES_LEAST = 3 };

enum align_end {
    ALIGN_DONE,
    ALIGN_NO_MEMORY,
    ALIGN_FEW,        /* fewer than three moves can be tied */
    ALIGN_AMBIGUOUS,  /* another shift ties nearly as many: other_ns, other_ties */
    ALIGN_DISAGREES,  /* more than two fifths of what was said moved nothing: ties, expected */
};

struct volt_move { struct move move; uint8_t port; };

struct alignment {
    const struct wire_move *wire;       /* by time */
    unsigned                wire_count;
    const struct volt_move *volts;      /* by time */
    unsigned                volt_count;
    int64_t wire_from_ns, wire_to_ns;   /* of each recording: first and last record */
    int64_t volt_from_ns, volt_to_ns;
};

struct align_result {
    enum align_end end;
    int64_t  shift_ns;
    double   rate_ppm;        /* 0 where the recording does not tell it */
    bool     rate_told;
    double   shift_u_ns;      /* standard uncertainty, anywhere in the recording */
    double   rate_u_ppm;      /* the same, where rate_told */
    unsigned ties, expected;  /* moves tied; moves that were said and lie within the readings */
    double   delay_ns, rms_ns; /* from the beginning of a window of a contract to the move: mean, and its root mean square scatter */
    int64_t  other_ns;
    unsigned other_ties;
};

struct align_result align_best(const struct alignment *a);

/* One window and one move that belongs into it, whatever else there is. */
struct align_result align_one(int64_t from_ns, int64_t to_ns, const struct move *m);
