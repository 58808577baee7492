/*
 * rules/volt_table_inside.h - shared by the files that put what VBUS did into numbers (volt_table*.c), rail*.c that feeds them, and
 * the engine; for nobody else.
 */
#pragma once
#include "rules/volt_table.h"

struct engine;
struct port_book;

/* How long readings lie beyond a limit. */
struct volt_spell {
    bool     any, sure, maybe;         /* there was a reading; it was surely beyond; it may have been */
    int64_t  last_ns;
    struct volt_time time;
    uint64_t count;
};
void volt_spell_take(struct volt_spell *s, int64_t t_ns, bool sure, bool maybe);

/* Counts of static values by millivolt, in pieces made as they are needed. */
enum { BINS_LEAST_MV = -1024, BIN_PIECE = 256, BIN_PIECES = 256, BIN_PIECES_ALL = 4096 };
struct volt_bins {
    uint32_t *pieces[BIN_PIECES];
    uint64_t  count;
    unsigned  made;
    bool      lost;                    /* one found no room */
};
void volt_bins_clear(struct volt_bins *b);
void volt_bins_free(struct volt_bins *b);
/* made: pieces in use by all ports. */
void volt_bins_take(struct volt_bins *b, unsigned *made, int64_t uv);
bool volt_bins_median(const struct volt_bins *b, int64_t *uv);

/* Sums about the first value, so that a small slope on a high voltage keeps its digits. */
struct volt_sums { uint64_t n; double first_uv, first_ua, v, i, vv, ii, iv; };
void volt_sums_take(struct volt_sums *s, const struct volt_value *v);
/* Slope in uV/uA = ohm, positive where VBUS falls, and its uncertainty (k = 2) by what the line leaves over; noise_uv: at least so much is. */
bool volt_sums_slope(const struct volt_sums *s, double noise_uv, double *ohm, double *u_ohm);

enum { STEP_BINS = 401 };
struct volt_watch {
    bool     open;
    struct volt_step step;
    int64_t  ref_ns;                   /* the reading that a step is told against; INT64_MIN: none */
    int32_t  ref_ua;
    int64_t  still_ns;                 /* the last reading with nearly that load */
    struct volt_value low, high;       /* since then */
    int64_t  block_ns;                 /* begin of the mean in hand */
    double   sum_uv, sum_ua;
    uint32_t count, amps;
    uint64_t readings;
    int64_t  final_ns;                 /* end of the last whole mean */
    int64_t  last_ns;
    unsigned last_bin;
    struct { int64_t last_ns, next_ns; } bins[STEP_BINS]; /* by 0.1 % of before_uv: last reading there, the reading after it; 0: none */
    struct volt_spell outside, beyond;
};

struct volt_table {
    unsigned *pieces;                  /* the engine's count */
    struct volt_bins bins;
    struct volt_sums sums;
    struct volt_line line;             /* of the contract in force */
    bool     on, awaits_change;
    bool     late_open;                /* the change is over, and VBUS has not come into the window yet */
    struct { struct volt_value value; int64_t mid_uv; } lowest, highest; /* static values, worst by the middle of their range */
    struct volt_spell outside;
    struct volt_watch watch;
    struct {                           /* of the change under way */
        struct volt_change told;
        struct volt_spell  over, under;
        struct rail_moment reach;      /* of the new window: last reading surely outside, first of those surely inside */
    } change;
};

struct volt_table *volt_table_new(unsigned *pieces); /* NULL: no memory */
void volt_table_free(struct volt_table *t);          /* NULL is allowed */

/* From rail*.c, only where there is a table. */
void volt_table_begin(struct engine *e, struct port_book *b, bool contract); /* a steady section begins */
void volt_table_pause(struct engine *e, struct port_book *b);                /* a change begins, or the section ends */
void volt_table_end(struct engine *e, struct port_book *b);
void volt_table_row(struct engine *e, struct port_book *b, const struct rail_value *v);
/* Rows that hold nothing new: may they be left out? first, last: their times. */
bool volt_table_plain(struct engine *e, struct port_book *b, const struct rail_value *least, const struct rail_value *most, int64_t first_ns,
                      int64_t last_ns, unsigned rows);
void volt_table_static(struct engine *e, struct port_book *b, const struct rail_value *v, bool used);
void volt_table_change_begin(struct engine *e, struct port_book *b);
void volt_table_change_row(struct engine *e, struct port_book *b, const struct rail_value *v);
void volt_table_change_end(struct engine *e, struct port_book *b);

/* volt_steps.c */
void volt_watch_row(struct engine *e, struct port_book *b, const struct rail_value *v, const struct volt_range *r);
void volt_watch_skip(struct port_book *b);                                   /* rows were left out; what a step is told against is the last */
void volt_watch_close(struct engine *e, struct port_book *b);

/* At the source's receptacle. */
struct volt_value volt_value_of(const struct volt_trust *t, const struct rail_value *v);
