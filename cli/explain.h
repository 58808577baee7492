/*
 * cli/explain.h - `check --explain N`: a finding, the decoded frames around it, and how its value was worked out, so that it can
 * be done again by hand.
 *
 * The trace is read again, twice: once to choose the frames, once to decode them from the beginning. Memory is bounded: of a
 * long stretch between two frames that the finding rests on, its two ends are shown.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/json_out.h"
#include "cli/show.h"

enum {
    EXPLAIN_BEFORE = 6, /* frames before the first that the finding rests on */
    EXPLAIN_AFTER = 4,  /* ... and after the last */
    EXPLAIN_NEAR = 8,   /* ... after one, and before the next, where more lie between */
    EXPLAIN_RESTS = FINDING_EVIDENCE + 3,
    EXPLAIN_ROWS = EXPLAIN_RESTS * (1 + 2 * EXPLAIN_NEAR) + EXPLAIN_AFTER,
};

/* A frame that is shown. */
struct explain_row {
    uint64_t frame;
    uint64_t left_out; /* frames of this port between the row above and this one */
    bool     rests;    /* the finding rests on it */
};

/* What an edge was worked out from: the record that it is an edge of. */
struct explain_edge {
    struct edge edge;
    const struct bench *bench;  /* of the check: the limits it went by */
    bool     found;       /* the parts below add up to the edge */
    bool     at_end;      /* stamped at its end */
    bool     measured;    /* its length was */
    bool     host_time;   /* stamped by the computer */
    bool     given;       /* ABOUT says how exact such a stamp is */
    int64_t  stamped_ns;  /* since 1970 */
    int64_t  length_ns;   /* measured, or nominal */
    int64_t  half_ns;     /* uncertainty of the stamp */
    int64_t  unheard_ns;  /* EDGE_DONE_UNSEEN: how much later a GoodCRC may have ended */
    uint64_t acknowledged; /* frame of the message that a GoodCRC acknowledges; 0: none */
    char     name[40];    /* of the message, "" if it is none */
};

struct explain {
    const struct check   *check;
    const struct finding *finding;
    uint64_t              number;
    uint64_t              rests[EXPLAIN_RESTS];
    unsigned              rest_count;
    struct explain_row    rows[EXPLAIN_ROWS];
    unsigned              row_count;
    struct explain_edge   edges[2]; /* finding->span.from, .to, once the frames are decoded */
    struct out           *out;
    struct json          *json;     /* NULL: text */
};

/* What is read more than once has to stay where it is. False: no file, said on standard error. */
bool explain_possible(const char *path);
/* Prints finding number `number` of c. False: one line on standard error said why. */
bool explain_finding(struct out *o, struct check *c, uint64_t number);

/* explain_frames.c: fills rests and rows. False: the trace could not be read again, said. */
bool explain_choose(struct explain *x);
/* explain_edges.c: takes what the record in hand says of the finding's edges. */
void explain_edges_take(struct explain *x, const struct show *s);
/* ... and tells it as a sum, line by line; as the object "worked_out". */
void explain_edges_text(const struct explain *x);
void explain_edges_json(const struct explain *x);
/* The finding's window; has_low, has_high as there. */
struct window explain_window(const struct finding *f);
