/* VBUS and the current while nothing changes: in a contract, before the first one, with nothing attached. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"
#include "rules/sequence.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

/* So many rows at a time are tried as a whole where all of a record cannot be taken so. */
enum { RUN_ROWS = 128 };
enum { PERCENT_MILLI = 100000, UV_OF_MV = 1000, PPS_NEAR_END_MV = 100 };

/* Blocks. */

bool rail_sum_over(const struct rail_sum *s, int64_t t_ns, int64_t length_ns)
{
    return s->count && t_ns - s->from_ns >= length_ns;
}

void rail_sum_begin(struct rail_sum *s, int64_t t_ns, uint64_t frame, int64_t length_ns)
{
    if (s->count)
        return;
    s->frame = frame;
    if (s->from_ns != INT64_MIN && t_ns - s->from_ns < length_ns)
        return; /* begun, without a reading yet */
    /* End to end where sampling is quick enough, else from this reading on. */
    s->from_ns = s->from_ns != INT64_MIN && t_ns - s->from_ns < 2 * length_ns ? s->from_ns + length_ns : t_ns;
    if (s->from_ns > t_ns)
        s->from_ns = t_ns;
}

/* What is whole at t_ns is done, also where the load steps just then. */
static void sums_over(struct engine *e, struct port_book *b, int64_t t_ns)
{
    struct rail              *r = &b->rail;
    const struct rail_limits *l = &e->rail_limits;

    if (rail_sum_over(&r->block, t_ns, l->values.static_ns))
        rail_block_done(e, b);
    if (rail_sum_over(&r->mean, t_ns, l->mean_ns))
        rail_mean_done(e, b);
}

static void sums_to(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame)
{
    struct rail              *r = &b->rail;
    const struct rail_limits *l = &e->rail_limits;

    sums_over(e, b, t_ns);
    if (t_ns >= r->step_ns)
        rail_sum_begin(&r->block, t_ns, frame, l->values.static_ns);
    rail_sum_begin(&r->mean, t_ns, frame, l->mean_ns);
}

static void spacing(struct rail *r, int64_t t_ns)
{
    struct rail_steady *s = &r->steady;

    if (s->steady_from_ns == INT64_MIN)
        s->steady_from_ns = t_ns;
    else if (r->last_row_ns != INT64_MIN && t_ns - r->last_row_ns > s->spacing_most_ns)
        s->spacing_most_ns = t_ns - r->last_row_ns;
    r->last_row_ns = s->last_ns = t_ns;
}

/* Load steps. */

static void step_row(struct rail *r, const struct rail_limits *l, const struct rail_value *v)
{
    if (v->ua == RECORD_NO_READING)
        return;
    rail_recent_take(&r->recent, v->t_ns, v->ua, v->ua); /* for the pieces that follow */
    if (r->step_seen_ns != INT64_MIN && llabs((int64_t)v->ua - r->step_seen_ua) > l->values.step_ua) {
        r->stepped_ns = v->t_ns;
        r->step_ns = v->t_ns + l->values.transient_ns;
        r->block.count = r->block.amps = 0;
        r->block.sum_uv = r->block.sum_ua = 0;
        r->block.from_ns = INT64_MIN;
    }
    if (r->step_seen_ns == INT64_MIN || v->t_ns - r->step_seen_ns >= RAIL_NEAR_NS || r->step_ns > v->t_ns) {
        r->step_seen_ns = v->t_ns;
        r->step_seen_ua = v->ua;
    }
}

/* From the least to the greatest of these currents and those of the last millisecond. */
int64_t rail_recent_span(const struct rail_recent *c, int32_t least, int32_t most)
{
    for (unsigned k = 0; k < 2; k++)
        if (c->any[k]) {
            least = c->least[k] < least ? c->least[k] : least;
            most = c->most[k] > most ? c->most[k] : most;
        }
    return (int64_t)most - least;
}

void rail_recent_take(struct rail_recent *c, int64_t from_ns, int32_t least, int32_t most)
{
    if (!c->any[0] || from_ns - c->from_ns[0] >= RAIL_NEAR_NS) {
        c->any[1] = c->any[0];
        c->least[1] = c->least[0];
        c->most[1] = c->most[0];
        c->any[0] = true;
        c->from_ns[0] = from_ns;
        c->least[0] = least;
        c->most[0] = most;
    } else {
        c->least[0] = least < c->least[0] ? least : c->least[0];
        c->most[0] = most > c->most[0] ? most : c->most[0];
    }
}

/* A piece's currents: may they, with those of the last millisecond, hold a step? Then row by row. */
static bool may_step(struct rail *r, const struct rail_limits *l, int64_t from_ns, int32_t least, int32_t most)
{
    struct rail_recent *c = &r->recent;
    int64_t             span_ua = rail_recent_span(c, least, most);

    rail_recent_take(c, from_ns, least, most);
    return span_ua > l->values.step_ua || r->step_ns > from_ns;
}

void rail_drop_over(struct rail_steady *s, const struct rail_limits *l, int64_t t_ns)
{
    s->drop.running = false;
    if (s->drop.may_running && t_ns - s->drop.may_since_ns > l->drop_ns)
        s->drop.may = true;
    s->drop.may_running = false;
}

/* A reading that may be below the wide window: the time since the last one that is not counts. */
static void drop_may(const struct rail_limits *l, struct rail *r, const struct rail_value *v, int32_t ua, int64_t agreed_ua)
{
    struct rail_drop *d = &r->steady.drop;

    if (d->may)
        return;
    if (!d->may_running) {
        d->may_running = ua == RECORD_NO_READING || ua <= agreed_ua;
        d->may_first = *v;
        d->may_since_ns = r->loose.frame ? r->loose.t_ns : v->t_ns;
    }
    d->may = d->may_running && v->t_ns - d->may_since_ns > l->drop_ns;
}

/* VBUS below the wide window while the load is what was agreed. */
static void drop_row(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_steady *s = &r->steady;

    if (r->steady_kind != SECTION_CONTRACT || !s->window.known || s->drop.found)
        return;
    enum rail_side side = rail_against(r, v, s->peaks.low_uv);

    if (side == RAIL_ABOVE) {
        rail_drop_over(s, l, v->t_ns);
        return;
    }
    int32_t ua = r->loose.frame ? r->loose.ua : v->ua;
    int64_t agreed_ua = rail_agreed_ua(r);

    drop_may(l, r, v, ua, agreed_ua);
    if (side != RAIL_BELOW) {
        s->drop.running = false;
        return;
    }
    if (!s->drop.running) {
        s->drop.running = ua != RECORD_NO_READING && agreed_ua > 0 && ua <= agreed_ua;
        s->drop.unloaded = ua < agreed_ua / 10; /* the load went first: it may have locked itself out */
        s->drop.first = *v;
    }
    s->drop.last = *v;
    s->drop.found = s->drop.running && (!s->drop.unloaded || s->loaded) && v->t_ns - s->drop.first.t_ns > l->drop_ns;
}

static void fast_step(struct rail *r, const struct rail_value *v)
{
    const struct rail_value *last = &r->loose;

    if (last->frame == 0 || v->ua == RECORD_NO_READING || last->ua == RECORD_NO_READING || v->t_ns <= last->t_ns)
        return;
    int64_t by_ua = llabs((int64_t)v->ua - last->ua);

    int64_t agreed_ua = rail_agreed_ua(r);

    /* 150 mA/us = 150 uA/ns */
    if (by_ua > 150 * (v->t_ns - last->t_ns) || (agreed_ua > 0 && v->ua > agreed_ua))
        r->steady.fast_step = r->steady.fast_step || by_ua > RAIL_STEP_UA;
}

/* A reading against the wide window, unless volt.contract-window speaks for it. */
static void peak_row(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_steady *s = &r->steady;
    bool in_doubt = s->doubt != CAUSE_NONE && v->t_ns >= s->doubt_ns, later = v->t_ns >= s->from_ns + l->reach_ns;

    if (v->t_ns < s->failed_until_ns) {
        s->peaks_left_out = s->peaks_left_out || !rail_fit_plain(&s->peaks, &r->trust, r->ma, v, v);
        rail_fit_bulk(&s->peaks, 1, v, v);
        if (later)
            rail_fit_bulk(&s->peaks_later, 1, v, v);
        return;
    }
    rail_fit_take(&s->peaks, &r->trust, r->ma, v, in_doubt);
    if (later)
        rail_fit_take(&s->peaks_later, &r->trust, r->ma, v, in_doubt);
}

void rail_steady_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail        *r = &b->rail;
    struct rail_steady *s = &r->steady;

    spacing(r, v->t_ns);
    sums_over(e, b, v->t_ns);
    step_row(r, &e->rail_limits, v);
    fast_step(r, v);
    sums_to(e, b, v->t_ns, v->frame);
    if (v->t_ns >= r->step_ns) {
        r->block.sum_uv += v->uv;
        r->block.count++;
        if (v->ua != RECORD_NO_READING) {
            r->block.sum_ua += v->ua;
            r->block.amps++;
        }
    }
    r->mean.count++;
    if (v->ua != RECORD_NO_READING) {
        r->mean.sum_ua += v->ua;
        r->mean.amps++;
    }
    if (s->window.known && r->steady_kind == SECTION_CONTRACT)
        peak_row(&e->rail_limits, r, v);
    drop_row(&e->rail_limits, r, v);
    if (b->volts)
        volt_table_row(e, b, v);
}

unsigned rail_rows_until(const struct record *rec, unsigned from, unsigned to, int64_t t_ns)
{
    int64_t at_ns = rail_row_ns(rec, from), n;

    if (rec->power.interval_ns == 0 || t_ns - at_ns >= (int64_t)(to - from) * rec->power.interval_ns)
        return to - from;
    n = (t_ns - at_ns + rec->power.interval_ns - 1) / rec->power.interval_ns;
    return n < 1 ? 1 : (unsigned)n;
}

/* Is nothing to be looked at one by one in these rows? Then they are taken as a whole. */
static bool take_plain(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    struct rail         *r = &b->rail;
    struct rail_steady  *s = &r->steady;
    const struct record *rec = &b->readings.record;
    bool                 amps = rec->power.columns & RECORD_IBUS;
    struct rail_value    first = rail_row(rec, from), last = rail_row(rec, to - 1), least = first, most = first;
    struct column_sum    c[RECORD_COLUMNS_MAX];

    if (!rail_columns(&b->readings, from, to, c))
        return false;
    if (amps && may_step(r, &e->rail_limits, first.t_ns, c[1].least, c[1].greatest))
        return false;
    least.uv = c[0].least;
    most.uv = c[0].greatest;
    least.ua = amps ? c[1].least : RECORD_NO_READING;
    most.ua = amps ? c[1].greatest : RECORD_NO_READING;
    if (b->volts && !volt_table_plain(e, b, &least, &most, first.t_ns, last.t_ns, to - from))
        return false;
    if (s->window.known && r->steady_kind == SECTION_CONTRACT) {
        if (!rail_fit_plain(&s->peaks, &r->trust, r->ma, &least, &most))
            return false;
        rail_fit_bulk(&s->peaks, to - from, &least, &most);
        if (first.t_ns >= s->from_ns + e->rail_limits.reach_ns)
            rail_fit_bulk(&s->peaks_later, to - from, &least, &most);
    }
    spacing(r, first.t_ns);
    if (to - from > 1 && rec->power.interval_ns > s->spacing_most_ns)
        s->spacing_most_ns = rec->power.interval_ns;
    s->last_ns = r->last_row_ns = last.t_ns;
    rail_drop_over(s, &e->rail_limits, first.t_ns);
    r->block.sum_uv += c[0].sum;
    r->block.count += to - from;
    r->mean.count += to - from;
    if (amps) {
        r->step_seen_ns = last.t_ns;
        r->step_seen_ua = last.ua;
        r->block.sum_ua += c[1].sum;
        r->block.amps += to - from;
        r->mean.sum_ua += c[1].sum;
        r->mean.amps += to - from;
    }
    r->loose = last;
    r->followed = true;
    if (b->volts)
        volt_watch_skip(b);
    return true;
}

/* Rows up to the end of the block or the mean in hand. */
static unsigned take_piece(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    struct rail         *r = &b->rail;
    const struct record *rec = &b->readings.record;
    int64_t              t_ns = rail_row_ns(rec, from);

    sums_to(e, b, t_ns, rec->frame);
    unsigned n = rail_rows_until(rec, from, to, rail_piece_end(r, &e->rail_limits, t_ns));

    if (t_ns < r->step_ns || !take_plain(e, b, from, from + n))
        for (unsigned k = from; k < from + n; k++) {
            struct rail_value v = rail_row(rec, k);

            if (v.uv == RECORD_NO_READING)
                continue;
            rail_steady_row(e, b, &v);
            r->loose = v;
            r->followed = true;
        }
    return n;
}

int64_t rail_piece_end(const struct rail *r, const struct rail_limits *l, int64_t t_ns)
{
    int64_t end_ns = r->mean.from_ns + l->mean_ns;

    if (t_ns >= r->step_ns && r->block.from_ns + l->values.static_ns < end_ns)
        end_ns = r->block.from_ns + l->values.static_ns;
    return end_ns;
}

void rail_steady_bulk(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    struct rail         *r = &b->rail;
    const struct record *rec = &b->readings.record;
    unsigned             apart = from; /* rows before it are looked at piece by piece */

    if (r->steady_from_ns == INT64_MAX)
        return;
    if (rail_row_ns(rec, from) < r->steady_from_ns)
        from += rail_rows_until(rec, from, to, r->steady_from_ns);
    if (from < to && !b->volts && rail_run_whole(e, b, from, to))
        return;
    while (from < to) {
        unsigned end = to - from < RUN_ROWS ? to : from + RUN_ROWS;

        if (from >= apart && !b->volts && rail_run(e, b, from, end)) {
            from = end;
            continue;
        }
        if (from >= apart)
            apart = end;
        from += take_piece(e, b, from, to);
    }
}

/* Begin and end. */

/* PPS near an end of its object: W reaches to beyond that end. Where its current limit may be at work unseen: the high side alone. */
static void pps_window(const struct port *p, struct rail_steady *s, const struct rail_limits *l)
{
    const struct contract  *c = &s->contract;
    const struct parameter *q = l->window[VOLT_PPS];
    struct pdo              pdo = pdo_read_source(c->pdo_word, c->position);

    if (c->mv - pdo.min_mv <= PPS_NEAR_END_MV) {
        s->end = PPS_AT_MIN;
        s->window.low_uv = (int64_t)pdo.min_mv * UV_OF_MV + (int64_t)pdo.min_mv * UV_OF_MV / PERCENT_MILLI * q->min;
    } else if (pdo.max_mv - c->mv <= PPS_NEAR_END_MV) {
        s->end = PPS_AT_MAX;
        s->window.high_uv = (int64_t)pdo.max_mv * UV_OF_MV + (int64_t)pdo.max_mv * UV_OF_MV / PERCENT_MILLI * q->max;
    }
    s->high_only = !p->ibus_seen || c->ma < 1000;
    rail_fit_start(&s->values, s->high_only ? INT64_MIN : s->window.low_uv, s->window.high_uv, false);
}

/* What is large is cleared only where something stands in it. */
static void steady_clear(struct rail_steady *s)
{
    memset(s, 0, offsetof(struct rail_steady, values));
    rail_fit_start(&s->values, INT64_MIN, INT64_MAX, false);
    rail_fit_start(&s->peaks, INT64_MIN, INT64_MAX, true);
    rail_fit_start(&s->peaks_later, INT64_MIN, INT64_MAX, true);
    rail_fit_start(&s->ceiling, INT64_MIN, INT64_MAX, false);
    rail_amps_start(&s->load.over);
    rail_amps_start(&s->load.back);
    rail_amps_start(&s->limit.over);
    rail_amps_start(&s->limit.under);
    s->load.count = s->limit.count = s->limit.sag_count = s->limit.sag_pairs = 0;
    s->limit.sagging = false;
}

void rail_steady_begin(struct engine *e, struct port_book *b, enum section_kind kind, const struct contract *c, int64_t from_ns,
                       int64_t counts_from_ns)
{
    struct rail              *r = &b->rail;
    const struct rail_limits *l = &e->rail_limits;
    struct rail_steady       *s = &r->steady;

    steady_clear(s);
    s->from_ns = from_ns;
    s->paused_ns = INT64_MAX;
    s->steady_from_ns = s->last_ns = s->trip.limiting_ns = s->failed_until_ns = INT64_MIN;
    s->player = (uint8_t)player_source(b->port);
    for (unsigned k = 0; k < RAIL_STATICS; k++)
        r->statics[k].frame = 0;
    r->ma = 0;
    rail_trust_now(e, b);
    if (c) {
        struct volt_window wide;

        s->contract = *c;
        s->epr_mode = b->port->epr_mode_known && b->port->epr_mode;
        s->epr_certain = b->port->epr_mode_known || b->port->attach_seen != ATTACH_UNSEEN;
        s->window = rail_window(r, l, c);
        wide = volt_window_wide(l->window, &s->window);
        r->ma = c->ma;
        rail_fit_start(&s->values, s->window.low_uv, s->window.high_uv, false);
        rail_fit_start(&s->peaks, wide.low_uv, wide.high_uv, true);
        rail_fit_start(&s->peaks_later, wide.low_uv, wide.high_uv, true);
        rail_fit_start(&s->ceiling, INT64_MIN, l->ceiling_uv, false);
        if (c->supply == SUPPLY_PPS)
            pps_window(b->port, s, l);
    } else if (kind == SECTION_FIRST) {
        s->window = (struct volt_window){ .low_uv = l->safe_5v->min * UV_OF_MV, .high_uv = l->safe_5v->max * UV_OF_MV, .known = true,
                                          .parameter = l->safe_5v };
        rail_fit_start(&s->values, s->window.low_uv, s->window.high_uv, false);
    } else {
        s->window = (struct volt_window){ .low_uv = INT64_MIN, .high_uv = l->safe_0v->max * UV_OF_MV, .known = true, .parameter = l->safe_0v };
        rail_fit_start(&s->values, INT64_MIN, s->window.high_uv, false);
    }
    rail_fit_start(&s->later, s->values.low_uv, s->values.high_uv, false);
    r->steady_on = true;
    r->steady_kind = (uint8_t)kind;
    r->steady_from_ns = counts_from_ns;
    r->block = r->mean = (struct rail_sum){ .from_ns = INT64_MIN };
    r->step_ns = r->stepped_ns = r->step_seen_ns = r->last_row_ns = INT64_MIN;
    r->recent = (struct rail_recent){ .any = { false, false } };
    r->plain.known = false;
    if (b->volts)
        volt_table_begin(e, b, kind == SECTION_CONTRACT);
}

/* Closes the blocks that are whole at t_ns, and drops what is begun: it would hold rows of another state. */
void rail_steady_pause(struct engine *e, struct port_book *b, int64_t t_ns)
{
    struct rail *r = &b->rail;

    if (b->volts)
        volt_table_pause(e, b);
    if (rail_sum_over(&r->block, t_ns, e->rail_limits.values.static_ns))
        rail_block_done(e, b);
    if (rail_sum_over(&r->mean, t_ns, e->rail_limits.mean_ns))
        rail_mean_done(e, b);
    r->block = r->mean = (struct rail_sum){ .from_ns = INT64_MIN };
    r->last_row_ns = r->step_ns = r->step_seen_ns = INT64_MIN;
    r->recent = (struct rail_recent){ .any = { false, false } };
    r->steady.drop.running = r->steady.drop.may_running = r->steady.level.running = r->steady.level_may.running = false;
    r->steady_from_ns = INT64_MAX;
    r->steady.paused_ns = t_ns < r->steady.paused_ns ? t_ns : r->steady.paused_ns;
}

void rail_steady_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame)
{
    struct rail         *r = &b->rail;
    const struct section s = { .kind = (enum section_kind)r->steady_kind, .steady = &r->steady };

    rail_steady_pause(e, b, t_ns);
    r->steady.to_ns = t_ns;
    if (r->steady.contract.frame == b->port->contract.frame)
        r->steady.contract.ended_by = b->port->contract.ended_by;
    r->steady_on = false;
    if (b->volts)
        volt_table_end(e, b);
    rail_tell(e, b, &s, t_ns, frame);
}
