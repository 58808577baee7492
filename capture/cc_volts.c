/* CC lines as a CSV file of volts over time, one column a line. */
#include "capture/cc_slicer_inside.h"
#include "capture/cc_volts_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WORDS_TOLD = 60 };
/*
 * What lies further apart may have more than one change between: a quarter of a bit cell of the fastest legal rate (from memory), and no
 * reading is missing in less than one and a half of the usual distance. Where readings are too far apart for packets, some may be missing.
 */
static const double hole_ps = 800000, hole_samples = 1.5, coarse_ps = 1100000, hole_samples_coarse = 8;

struct lane {
    struct cc_slicer *slicer;
    int16_t *readings; /* room in the slicer, and how much of it is laid */
    int64_t *ticks;
    size_t   room, laid;
    int64_t  last;
    bool     begun, ever; /* begun: since the last hole */
};

struct volts_row {
    uint64_t line;
    int64_t  time; /* as it stands there, in units that times are kept in; rows that have none: their number */
    int64_t  ticks;
    bool     has[CC_LINES_MAX];
    int16_t  steps[CC_LINES_MAX];
    char     words[WORDS_TOLD];
    size_t   words_length;
};

struct cc_file {
    struct byte_source *bytes;
    struct csv_table   *table;
    struct volts_cells  cells;
    struct volts_layout layout;
    unsigned            lines;
    struct lane         lane[CC_LINES_MAX];
    double              tick_ps, ticks_a_time;
    int64_t             hole;  /* more ticks than that between two rows are a hole */
    int64_t             total;
    void (*notice)(void *context, const struct cc_notice *n);
    void               *context;
    uint64_t            unreadable;
    struct fault        end;
    bool                ended, drained; /* drained: all is sliced and told that was put */
    int64_t             first, last; /* times of the first row that was believed, and of the latest */
    bool                begun;
    uint64_t            rows;
    struct volts_row    held; /* one that lies in the past or far ahead: the next tells whether it is right */
    bool                holds;
    struct volts_row    queue[2]; /* believed, not laid */
    unsigned            queued;
};

static void row_tell(struct cc_file *c, enum cc_news news, uint64_t line, const char *words, size_t length)
{
    struct cc_notice n = { .news = news, .number = line, .words = words, .words_length = length };

    c->unreadable++;
    if (c->notice)
        c->notice(c->context, &n);
}

static bool lanes_open(struct cc_file *c, const struct cc_options *o)
{
    for (unsigned k = 0; k < c->lines; k++) {
        struct cc_slicer_options s = {
            .line = k,
            .sample_ns = c->layout.sample_ps / 1000,
            .sample_ticks = c->layout.sample_ps / c->tick_ps,
            .timed = true,
            .step_mv = 1.0 / VOLTS_STEPS_MV,
            .low_mv = o->low_mv, .high_mv = o->high_mv,
            .notice = o->notice, .context = o->context,
        };

        c->lane[k].slicer = cc_slicer_new(&s);
        if (!c->lane[k].slicer)
            return false;
    }
    return true;
}

static void volts_close(struct cc_file *c)
{
    if (!c)
        return;
    for (unsigned k = 0; k < c->lines; k++)
        cc_slicer_free(c->lane[k].slicer);
    csv_table_free(c->table);
    byte_source_close(c->bytes);
    free(c);
}

static void times_settle(struct cc_file *c)
{
    double most = c->layout.sample_ps * (c->layout.sample_ps > coarse_ps ? hole_samples_coarse : hole_samples);

    c->tick_ps = (double)cc_slicer_tick_ps(c->layout.sample_ps / 1000);
    c->ticks_a_time = (c->layout.timed ? (c->layout.keep_power == -9 ? 1000 : 1) : c->layout.sample_ps) / c->tick_ps;
    c->hole = (int64_t)((most > hole_ps ? most : hole_ps) / c->tick_ps);
}

/* bytes is this function's to close. */
static struct cc_file *volts_new(struct byte_source *bytes, const struct cc_options *o, struct fault *f)
{
    struct cc_file   *c = bytes ? calloc(1, sizeof *c) : NULL;
    struct cc_options options = *o;

    if (!c) {
        if (bytes)
            fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        byte_source_close(bytes);
        return NULL;
    }
    options.lines = o->lines < 1 ? 1 : o->lines > CC_LINES_MAX ? CC_LINES_MAX : o->lines;
    c->bytes = bytes;
    c->total = byte_source_size(bytes);
    c->notice = o->notice;
    c->context = o->context;
    c->table = csv_table_new(bytes, f);
    if (!c->table || !volts_layout_find(c->table, &options, &c->layout, f)) {
        volts_close(c);
        return NULL;
    }
    times_settle(c);
    c->lines = options.lines;
    if (!lanes_open(c, o)) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        volts_close(c);
        return NULL;
    }
    return c;
}

static struct cc_file *volts_open(const char *path, const struct cc_options *o, struct fault *f)
{
    return volts_new(byte_source_open(path, f), o, f);
}

static struct cc_file *volts_open_memory(const uint8_t *bytes, size_t length, const struct cc_options *o, struct fault *f)
{
    return volts_new(byte_source_over(bytes, length, f), o, f);
}

/* A number in units of 10^keep; a unit beside it outranks that of the column. */
static bool cell_read(struct cursor cell, char *mark, int power, int keep, int64_t factor, int64_t *value)
{
    struct csv_number n;
    struct cursor     unit;
    bool              seconds;

    if (!volts_cell_number(cell, mark, &n, &unit))
        return false;
    if (unit.left > 0)
        volts_unit_read(unit, &seconds, &power);
    return csv_number_scaled(&n, power - keep, factor, value);
}

/* A line's cells as numbers. False: not one of them is a reading, or there is no time. */
static bool row_read(struct cc_file *c, const struct csv_row *row, struct volts_row *out)
{
    const struct volts_layout *l = &c->layout;
    unsigned                   lost = 0;
    int64_t                    steps;

    *out = (struct volts_row){ .line = row->line, .time = (int64_t)c->rows };
    if (row->state != CSV_SOUND)
        return false;
    if (l->timed && (l->time_index >= row->count ||
                     !cell_read(row->cells[l->time_index], &c->layout.mark, l->time_power, l->keep_power, 1, &out->time)))
        return false;
    for (unsigned k = 0; k < c->lines; k++) {
        const struct volts_column *column = &l->column[k];

        if (column->index < row->count &&
            cell_read(row->cells[column->index], &c->layout.mark, column->power, -3, VOLTS_STEPS_MV, &steps)) {
            out->has[k] = true;
            out->steps[k] = cc_slicer_step((double)steps);
        } else {
            lost++;
        }
    }
    return lost < c->lines;
}

static int64_t row_ticks(const struct cc_file *c, int64_t time)
{
    const int64_t most = INT64_MAX / 4;
    double        ticks = ((double)time - (double)c->first) * c->ticks_a_time;

    if (time < most && time > -most && c->first < most && c->first > -most)
        ticks = (double)(time - c->first) * c->ticks_a_time;
    if (!(ticks > -(double)most))
        return -most;
    return ticks < (double)most ? (int64_t)floor(ticks + 0.5) : most;
}

static void row_believe(struct cc_file *c, const struct volts_row *row)
{
    if (!c->begun)
        c->first = row->time;
    c->begun = true;
    c->last = row->time;
    c->queue[c->queued] = *row;
    c->queue[c->queued++].ticks = row_ticks(c, row->time);
}

static bool row_doubtful(const struct cc_file *c, const struct volts_row *row)
{
    if (!c->layout.timed)
        return false;
    return !c->begun || row->time < c->last || row_ticks(c, row->time) - row_ticks(c, c->last) > c->hole;
}

static void held_keep(struct cc_file *c, const struct volts_row *row, struct cursor whole)
{
    c->held = *row;
    c->held.words_length = whole.left < WORDS_TOLD ? whole.left : WORDS_TOLD;
    if (c->held.words_length > 0)
        memcpy(c->held.words, cursor_take(&whole, c->held.words_length), c->held.words_length);
    c->holds = true;
}

/* next: the row behind the one that is held, NULL at the end. A number that is wrong costs its own row alone. */
static void held_settle(struct cc_file *c, const struct volts_row *next)
{
    if (!c->holds)
        return;
    c->holds = false;
    if ((!c->begun || c->held.time > c->last) && (!next || next->time >= c->held.time))
        row_believe(c, &c->held);
    else
        row_tell(c, CC_TIME_BACK, c->held.line, c->held.words, c->held.words_length);
}

static bool row_is_remark(const struct csv_row *row)
{
    return row->whole.left > 0 && row->whole.at[0] == '#';
}

/* The next rows that are believed go into the queue. False: there are no more. */
static bool rows_queue(struct cc_file *c)
{
    struct csv_row   row;
    struct volts_row next;

    while (c->queued == 0) {
        if (!volts_row_next(c->table, c->layout.separator, &c->cells, &row, &c->end)) {
            held_settle(c, NULL);
            return c->queued > 0;
        }
        if (row.line < c->layout.data_line || row_is_remark(&row))
            continue;
        c->rows++;
        if (!row_read(c, &row, &next)) {
            row_tell(c, CC_UNREADABLE, row.line, (const char *)row.whole.at, row.whole.left < WORDS_TOLD ? row.whole.left : WORDS_TOLD);
            continue;
        }
        held_settle(c, &next);
        if (row_doubtful(c, &next))
            held_keep(c, &next, row.whole);
        else
            row_believe(c, &next);
    }
    return true;
}

/* What was laid goes to the slicers, which then have to be asked what they can tell. */
static void lanes_flush(struct cc_file *c)
{
    for (unsigned k = 0; k < c->lines; k++) {
        if (c->lane[k].laid > 0)
            cc_slicer_put(c->lane[k].slicer, c->lane[k].laid);
        c->lane[k].laid = c->lane[k].room = 0;
    }
    c->drained = false;
}

/* Is the row no neighbour of what the lane has? */
static bool lane_apart(const struct cc_file *c, unsigned k, const struct volts_row *row)
{
    return row->has[k] && c->lane[k].begun && row->ticks - c->lane[k].last > c->hole;
}

/* False: what was laid has to be told first. */
static bool lanes_ready(struct cc_file *c, const struct volts_row *row)
{
    bool ready = true;

    for (unsigned k = 0; k < c->lines; k++)
        ready = ready && c->lane[k].laid < c->lane[k].room && !lane_apart(c, k, row);
    if (ready)
        return true;
    lanes_flush(c);
    for (unsigned k = 0; k < c->lines; k++) {
        if (!lane_apart(c, k, row))
            continue;
        cc_slicer_break(c->lane[k].slicer, 0);
        c->lane[k].begun = false;
    }
    return false;
}

static void row_lay(struct cc_file *c, const struct volts_row *row)
{
    for (unsigned k = 0; k < c->lines; k++) {
        struct lane *lane = &c->lane[k];

        if (!row->has[k])
            continue;
        if (!lane->ever || row->ticks > lane->last)
            lane->last = row->ticks;
        else
            lane->last++; /* two rows of one time, as written */
        lane->readings[lane->laid] = row->steps[k];
        lane->ticks[lane->laid++] = lane->last;
        lane->ever = lane->begun = true;
    }
}

/* Lays rows until the lanes are full, or something ends. */
static void rows_take(struct cc_file *c)
{
    while (c->queued > 0 || rows_queue(c)) {
        if (!lanes_ready(c, &c->queue[0]))
            return;
        row_lay(c, &c->queue[0]);
        c->queue[0] = c->queue[1];
        c->queued--;
    }
    lanes_flush(c);
    for (unsigned k = 0; k < c->lines; k++)
        cc_slicer_end(c->lane[k].slicer);
    c->ended = true;
}

static bool volts_next(struct cc_file *c, struct cc_block *block, struct fault *f)
{
    for (;;) {
        for (unsigned k = 0; k < c->lines && !c->drained; k++) {
            if (cc_slicer_block(c->lane[k].slicer, block))
                return true;
        }
        if (c->ended) {
            *f = c->end;
            return false;
        }
        c->drained = true;
        for (unsigned k = 0; k < c->lines; k++)
            c->lane[k].room = cc_slicer_room(c->lane[k].slicer, &c->lane[k].readings, &c->lane[k].ticks);
        rows_take(c);
    }
}

static struct cc_tick volts_tick(const struct cc_file *c)
{
    return (struct cc_tick){ (uint64_t)c->tick_ps, 1 };
}

static struct cc_facts volts_facts(const struct cc_file *c)
{
    struct cc_facts facts = { .bytes = csv_table_taken(c->table), .unreadable = c->unreadable, .bytes_total = c->total };

    for (unsigned k = 0; k < c->lines; k++)
        facts.edge_ns = fmax(facts.edge_ns, cc_slicer_edge_ns(c->lane[k].slicer));
    return facts;
}

const struct cc_kind cc_volts_kind = {
    "volts", volts_open, volts_open_memory, volts_next, volts_tick, volts_facts, volts_close,
};
