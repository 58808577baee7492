/*
 * rules/rail_inside.h - shared by the files that follow the supply line (rail*.c) and the engine, for nobody else.
 */
#pragma once
#include "rules/rail.h"

struct engine;
struct port_book;

/* The numbers that the line is followed by, looked up once. */
struct rail_limits {
    const struct parameter *window[VOLT_WINDOWS]; /* VOLT_WINDOW_PARAMETERS */
    const struct parameter *safe_5v, *safe_0v;
    const struct parameter *cl_small, *cl_large;  /* iPpsCLNew up to 3 A, above */
    const struct parameter *shutdown;             /* vPpsShutdown */
    struct volt_static      values;               /* static_ms, tSrcTransient, load_step_ma */
    int64_t after_ready_ns;                       /* a change lasts so long beyond PS_RDY */
    int64_t never_ready_ns;                       /* ... and no longer than this without one */
    int64_t mean_ns;                              /* current_mean_ms */
    int64_t over_ua, back_ua;                     /* sink_current_margin_ma, reverse_ma */
    int64_t still_uv, move_uv;
    int64_t floor_uv;                             /* vSrcNeg */
    int64_t ceiling_uv;                           /* what VBUS may be outside EPR mode */
    int64_t level_uv, level_share, level_spread, level_hold_ns;
    int64_t drop_ns;
    int64_t reach_ns;                             /* level_reach_ms */
    int64_t mark_ns;                              /* mark_time_ns */
    int64_t cold_ns, watch_ns;
    double  share, plus_ua;                       /* assumed_amp_share, assumed_amp_ma */
};
bool rail_take_limits(struct engine *e, struct rail_limits *l);

/* Sums of the block in hand. */
struct rail_sum { int64_t from_ns, sum_uv, sum_ua; uint32_t count, amps; uint64_t frame; };

/* Greatest and least current of the last millisecond or two, by whole pieces. */
struct rail_recent { int64_t from_ns[2]; int32_t least[2], most[2]; bool any[2]; };

/* Readings between which nothing is near a limit of the section; known: found out since it began. */
struct rail_plain { int32_t low_uv, high_uv, low_ua, high_ua; bool known, amps; };

/* The window worked out last, and what it was worked out of. */
struct rail_window { uint32_t pdo_word; int32_t mv; uint8_t position, supply; bool any; struct volt_window window; };

enum { RAIL_NEAR = 64, RAIL_STATICS = 6, RAIL_NEAR_NS = 1000000, RAIL_STEP_UA = 50000 };
struct rail {
    bool     steady_on, change_on, cycle_on;
    bool     trusted;               /* trust and amp are there */
    bool     followed;              /* no row before the next one was left out */
    uint8_t  steady_kind;           /* SECTION_CONTRACT, SECTION_FIRST, SECTION_EMPTY */
    unsigned next;                  /* row of the record in hand that comes next */
    int64_t  steady_from_ns;        /* rows of the steady section count from here; INT64_MAX: not now */
    int64_t  finest_ns;             /* least distance of two rows with VBUS; INT64_MAX: none */
    int64_t  row_ns;                /* the last row of them; INT64_MIN: none yet */
    int64_t  last_row_ns;           /* of VBUS; INT64_MIN: none since the section began */
    int32_t  ma;                    /* contract's current, for what an unknown path takes */
    unsigned about;                 /* about_generation that trust and amp are of */
    struct volt_trust trust;
    struct amp_trust { double gain, offset_ua, noise_ua; bool assumed, offset_known; } amp;
    struct rail_sum   block, mean;  /* static value; mean of the current */
    int64_t  step_ns;               /* no static value before; INT64_MIN */
    int64_t  stepped_ns;            /* when the load stepped last; INT64_MIN */
    int64_t  step_seen_ns;
    int32_t  step_seen_ua;
    struct rail_recent recent;
    struct rail_plain plain;
    struct rail_window window;
    struct rail_value statics[RAIL_STATICS]; /* the last ones, newest first */
    struct rail_value loose;        /* the last reading */
    struct rail_value near_[RAIL_NEAR]; /* the last millisecond, thinned out where there are more */
    unsigned near_count;
    struct rail_steady steady;
    struct rail_change change;
    struct rail_cycle  cycle;
    struct { struct rail_value last; bool any; int32_t load_ua; bool load_known; int64_t moving_ns; } row; /* of a change or cycle */
    struct { uint64_t request_frame; struct rail_value first; int way; } stray; /* since this Request was sent VBUS has left where it stood,
                                                                                   up 1, down -1, first here */
};

/* rail_fit.c */
void rail_fit_start(struct rail_fit *f, int64_t low_uv, int64_t high_uv, bool peaks);
/* Is this value surely outside, of however many it is one? */
bool rail_fit_outside(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v);
/* What was taken from then on tells nothing: something else speaks for it. True if there was something that was not surely inside. */
bool rail_fit_forget(struct rail_fit *f, int64_t from_ns);
/* Are all values between these two surely inside, however many they are? */
bool rail_fit_plain(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *least,
                    const struct rail_value *most);
void rail_fit_bulk(struct rail_fit *f, uint64_t count, const struct rail_value *least, const struct rail_value *most);
/* Expanded uncertainty of a value of this fit, the noise as the verdict over all of them takes it. */
int64_t rail_fit_uncertainty_uv(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v);
/* Values since then prove nothing any more. */
void rail_fit_doubt(struct rail_fit *f, int64_t from_ns);
void rail_fit_take(struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v, bool in_doubt);

/* rail_run.c: rows none of whose readings is near a limit, as many blocks as they are. False: nothing is taken. */
bool rail_run(struct engine *e, struct port_book *b, unsigned from, unsigned to);
bool rail_run_whole(struct engine *e, struct port_book *b, unsigned from, unsigned to); /* by what was told of the whole record */

/* rail.c: the engine's side. */
struct rail_value rail_row(const struct record *r, unsigned row);
static inline int64_t rail_row_ns(const struct record *r, unsigned row)
{
    return r->t_ns + (int64_t)row * r->power.interval_ns;
}
/* What rows from..to-1 hold, by what was told of the record where they are all of it. False: readings are missing. */
bool rail_columns(const struct readings *s, unsigned from, unsigned to, struct column_sum out[RECORD_COLUMNS_MAX]);
#define RAIL_EVENTS                                                                                                          \
    (EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_ANSWERED) |           \
     EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_SWAPPED) |       \
     EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_CC) | EVENT_BIT(EVENT_END))
void rail_start(struct rail *r);
/* Rows before t_ns are taken; INT64_MAX: all of the record in hand. */
void rail_catch_up(struct engine *e, struct port_book *b, int64_t t_ns);
/* An event of the port: sections begin and end. Before the rules hear of it. */
void rail_take_event(struct engine *e, struct port_book *b, const struct event *event);
/* A message, not taken by the port model yet: Accept of a swap of power roles ends what the contract says of VBUS. */
void rail_take_message(struct engine *e, struct port_book *b, const struct event *event);
/* Tells the rules of a section that is over. */
void rail_tell(struct engine *e, struct port_book *b, const struct section *s, int64_t t_ns, uint64_t frame);

/* rail_static.c */
void rail_amps_start(struct rail_amps *a);
/* iPpsCLNew about the current asked for. */
int64_t rail_limit_tolerance_ua(const struct rail_limits *l, int32_t ma);
int32_t rail_mean_of(int64_t sum, uint32_t count);
/* A current at which no mean and no static value comes near what the contract allows. */
bool rail_amps_plain(const struct engine *e, const struct rail *r, const struct rail_value *least, const struct rail_value *most);
/* What every static value adds, wherever it lies: to the section, not to the last ones. */
void rail_static_note(struct rail *r, const struct rail_value *v);
void rail_trust(struct engine *e, struct port_book *b); /* what ABOUT says now */
void rail_trust_now(struct engine *e, struct port_book *b); /* the same, looked up only where ABOUT has changed */
/* The current that the contract in force gives; of a battery object by its power and the voltage that VBUS last stood at in its window. 0: not known. */
int64_t rail_agreed_ua(const struct rail *r);
/* The sum in hand is over: what its mean says. */
void rail_block_done(struct engine *e, struct port_book *b);
void rail_mean_done(struct engine *e, struct port_book *b);

/* rail_steady.c */
/* How many of the rows from `from` on lie before t_ns; one at least. */
unsigned rail_rows_until(const struct record *rec, unsigned from, unsigned to, int64_t t_ns);
/* What a sum that began here and may last so long has to do with a row at t_ns: ends it, begins the next. */
bool rail_sum_over(const struct rail_sum *s, int64_t t_ns, int64_t length_ns);
void rail_sum_begin(struct rail_sum *s, int64_t t_ns, uint64_t frame, int64_t length_ns);
/* VBUS is surely not below the wide window from t_ns on. */
void rail_drop_over(struct rail_steady *s, const struct rail_limits *l, int64_t t_ns);
int64_t rail_piece_end(const struct rail *r, const struct rail_limits *l, int64_t t_ns);
int64_t rail_recent_span(const struct rail_recent *c, int32_t least, int32_t most);
void rail_recent_take(struct rail_recent *c, int64_t from_ns, int32_t least, int32_t most);
void rail_steady_begin(struct engine *e, struct port_book *b, enum section_kind kind, const struct contract *c, int64_t from_ns,
                       int64_t counts_from_ns);
void rail_steady_bulk(struct engine *e, struct port_book *b, unsigned from, unsigned to);
void rail_steady_row(struct engine *e, struct port_book *b, const struct rail_value *v);
void rail_steady_pause(struct engine *e, struct port_book *b, int64_t t_ns);
void rail_steady_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame);

/* rail_change.c */
/* Window W of a contract: mostly the one that was asked for last. */
struct volt_window rail_window(struct rail *r, const struct rail_limits *l, const struct contract *c);
void rail_change_begin(struct engine *e, struct port_book *b, const struct event *event);
/* These rows came while a Request waits for its answer, in the contract in force. */
void rail_stray_rows(struct engine *e, struct port_book *b, unsigned from, unsigned to);
void rail_change_accept(struct port_book *b); /* when the Accept was acknowledged, while it is known */
void rail_change_ready(struct engine *e, struct port_book *b, const struct event *event);
/* It ends with a reading at t_ns. */
bool rail_change_over(const struct rail_limits *l, const struct rail_change *c, int64_t t_ns);
/* It is over but for its first move, and with a reading at next_ns if that is this one: taken. */
bool rail_change_moves(struct engine *e, struct port_book *b, const struct rail_value *v, int64_t next_ns);
/* It is over but for its first move, and these rows, which the contract takes, hold none: they are taken. */
bool rail_change_waits(struct engine *e, struct port_book *b, unsigned from, unsigned to);
void rail_change_row(struct engine *e, struct port_book *b, const struct rail_value *v);
void rail_change_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame);

/* The static value of the 10 ms before t_ns; frame 0: none. */
struct rail_value rail_value_before(const struct rail *r, const struct rail_limits *l, int64_t t_ns);
void rail_row_start(struct rail *r, const struct rail_value *before);

/* rail_cycle.c */
void rail_cycle_idle(struct engine *e, struct port_book *b, const struct rail_value *v);
/* VBUS is down, and the cycle waits for it to come back. */
bool rail_cycle_waits(const struct rail *r);
void rail_cycle_begin(struct engine *e, struct port_book *b, const struct event *event, enum cycle_by by);
void rail_cycle_row(struct engine *e, struct port_book *b, const struct rail_value *v);
void rail_cycle_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame);

/* Where a reading lies against a level, noise as of one value. */
enum rail_side rail_against(const struct rail *r, const struct rail_value *v, int64_t level_uv);
/* The last reading before something, the first one after it. */
void rail_moment_before(struct rail_moment *m, const struct rail *r, const struct rail_value *v);
void rail_moment_after(struct rail_moment *m, const struct rail *r, const struct rail_value *v);
/* One more reading toward a crossing: the last surely before, the first surely beyond. True: it is crossed now. */
bool rail_cross(struct rail_moment *m, const struct rail *r, const struct rail_value *v, int64_t level_uv, bool rising);
/*
 * Expanded uncertainty of the difference of two readings, each the worst of so many: an offset is the same in both, the noise is not, and
 * makes the difference of two that were picked greater than it is.
 */
double rail_difference_uv(const struct volt_trust *t, double by_uv, uint64_t readings);
/* One more pair of readings, one of so many. */
void rail_slope(const struct rail *r, const struct rail_value *last, const struct rail_value *v, uint64_t readings, struct rail_slew *s);
