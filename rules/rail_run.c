/* Many rows with no reading near a limit: whole blocks one after the other, each known by its sums alone. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"

/* What is found in a run: the outermost of its means, and the last of them. */
struct found {
    struct rail_value least, most, last[RAIL_STATICS];
    uint64_t          blocks, means;
};

static bool range_plain(const struct engine *e, const struct rail *r, const struct rail_value *least, const struct rail_value *most)
{
    const struct rail_steady *s = &r->steady;

    if (least->uv < s->window.low_uv || most->uv > s->window.high_uv || s->contract.mw > 0)
        return false;
    if (least->ua != RECORD_NO_READING && !rail_amps_plain(e, r, least, most))
        return false;
    return rail_fit_plain(&s->values, &r->trust, r->ma, least, most) && rail_fit_plain(&s->ceiling, &r->trust, r->ma, least, most) &&
           rail_fit_plain(&s->peaks, &r->trust, r->ma, least, most);
}

/* Are all readings between these two, and all their means, surely where they belong? Worked out once for a range, which then grows. */
static bool inside_plain(const struct engine *e, struct rail *r, const struct rail_value *least, const struct rail_value *most)
{
    struct rail_plain *p = &r->plain;
    struct rail_value  low = *least, high = *most;

    if (p->known && p->amps == (least->ua != RECORD_NO_READING)) {
        if (least->uv >= p->low_uv && most->uv <= p->high_uv && least->ua >= p->low_ua && most->ua <= p->high_ua)
            return true;
        low.uv = p->low_uv < low.uv ? p->low_uv : low.uv;
        high.uv = p->high_uv > high.uv ? p->high_uv : high.uv;
        low.ua = p->low_ua < low.ua ? p->low_ua : low.ua;
        high.ua = p->high_ua > high.ua ? p->high_ua : high.ua;
    }
    if (!range_plain(e, r, &low, &high))
        return range_plain(e, r, least, most);
    *p = (struct rail_plain){ .known = true, .amps = least->ua != RECORD_NO_READING, .low_uv = low.uv, .high_uv = high.uv,
                              .low_ua = low.ua, .high_ua = high.ua };
    return true;
}

/* Has all begun that begins once: the first static value, the level reached, the time that `later` counts from? */
static bool settled(const struct engine *e, const struct rail *r, int64_t t_ns, int64_t interval_ns)
{
    const struct rail_steady *s = &r->steady;
    const struct rail_limits *l = &e->rail_limits;

    return r->steady_kind == SECTION_CONTRACT && s->window.known && s->doubt == CAUSE_NONE && s->statics > 0 && s->reached_surely.frame &&
           s->peaks_later.least.frame && t_ns >= r->step_ns && t_ns >= s->from_ns + l->reach_ns + l->values.static_ns && interval_ns > 0 &&
           interval_ns <= l->values.static_ns;
}

static void block_note(struct rail *r, struct found *f)
{
    struct rail_sum  *s = &r->block;
    struct rail_value v = { .t_ns = s->from_ns, .frame = s->frame, .n = s->count, .uv = rail_mean_of(s->sum_uv, s->count),
                            .ua = s->amps ? rail_mean_of(s->sum_ua, s->amps) : RECORD_NO_READING };

    s->count = s->amps = 0;
    s->sum_uv = s->sum_ua = 0;
    rail_static_note(r, &v);
    if (f->blocks == 0 || v.uv < f->least.uv)
        f->least = v;
    if (f->blocks == 0 || v.uv > f->most.uv)
        f->most = v;
    f->last[f->blocks++ % RAIL_STATICS] = v;
}

/* The block and the mean in hand began before the run: what they hold is not known to be plain. */
static void sums_to(struct engine *e, struct port_book *b, int64_t t_ns, int64_t begun_ns, struct found *f)
{
    struct rail              *r = &b->rail;
    const struct rail_limits *l = &e->rail_limits;
    uint64_t                  frame = b->readings.record.frame;

    if (rail_sum_over(&r->block, t_ns, l->values.static_ns)) {
        if (r->block.from_ns < begun_ns)
            rail_block_done(e, b);
        else
            block_note(r, f);
    }
    if (rail_sum_over(&r->mean, t_ns, l->mean_ns)) {
        if (r->mean.from_ns < begun_ns || r->mean.amps == 0) {
            rail_mean_done(e, b);
        } else {
            f->means++;
            r->mean.amps = r->mean.count = 0;
            r->mean.sum_ua = 0;
        }
    }
    rail_sum_begin(&r->block, t_ns, frame, l->values.static_ns);
    rail_sum_begin(&r->mean, t_ns, frame, l->mean_ns);
}

static void sum_rows(struct rail *r, const struct record *rec, unsigned from, unsigned to)
{
    int64_t sums[RECORD_COLUMNS_MAX];

    record_sums(rec, from, to, sums);
    r->block.sum_uv += sums[0];
    r->block.count += to - from;
    r->mean.count += to - from;
    if (!(rec->power.columns & RECORD_IBUS))
        return;
    r->block.sum_ua += sums[1];
    r->block.amps += to - from;
    r->mean.sum_ua += sums[1];
    r->mean.amps += to - from;
}

/* What the last piece, and the one before, hold of currents, for the steps to come. */
static void recent_note(struct rail *r, const struct record *rec, const unsigned at[3])
{
    struct column_sum c[RECORD_COLUMNS_MAX];

    if (!(rec->power.columns & RECORD_IBUS))
        return;
    for (unsigned k = 0; k < 2; k++)
        if (at[k] < at[k + 1]) {
            record_columns(rec, at[k], at[k + 1], c);
            rail_recent_take(&r->recent, rail_row_ns(rec, at[k]), c[1].least, c[1].greatest);
        }
}

static void statics_note(struct rail *r, const struct found *f)
{
    struct rail_steady *s = &r->steady;
    unsigned            fresh = f->blocks < RAIL_STATICS ? (unsigned)f->blocks : RAIL_STATICS;

    if (fresh == 0)
        return;
    for (unsigned k = RAIL_STATICS; k-- > fresh;)
        r->statics[k] = r->statics[k - fresh];
    for (unsigned k = 0; k < fresh; k++)
        r->statics[k] = f->last[(f->blocks - 1 - k) % RAIL_STATICS];
    rail_fit_bulk(&s->ceiling, f->blocks, &f->least, &f->most);
    rail_fit_bulk(&s->values, f->blocks, &f->least, &f->most);
    rail_fit_bulk(&s->later, f->blocks, &f->least, &f->most);
    s->limit.sagging = false;
    s->level.running = s->level_may.running = false;
}

static void rows_note(const struct rail_limits *l, struct rail *r, const struct record *rec, unsigned from, unsigned to, const struct rail_value *least,
                      const struct rail_value *most)
{
    struct rail_steady *s = &r->steady;
    int64_t             first_ns = rail_row_ns(rec, from);

    rail_fit_bulk(&s->peaks, to - from, least, most);
    rail_fit_bulk(&s->peaks_later, to - from, least, most);
    if (s->steady_from_ns == INT64_MIN)
        s->steady_from_ns = first_ns;
    else if (r->last_row_ns != INT64_MIN && first_ns - r->last_row_ns > s->spacing_most_ns)
        s->spacing_most_ns = first_ns - r->last_row_ns;
    if (to - from > 1 && rec->power.interval_ns > s->spacing_most_ns)
        s->spacing_most_ns = rec->power.interval_ns;
    r->loose = rail_row(rec, to - 1);
    s->last_ns = r->last_row_ns = r->loose.t_ns;
    rail_drop_over(s, l, first_ns);
    r->followed = true;
    if (rec->power.columns & RECORD_IBUS) {
        r->step_seen_ns = r->loose.t_ns;
        r->step_seen_ua = r->loose.ua;
    }
}

static bool take_run(struct engine *e, struct port_book *b, unsigned from, unsigned to, const struct rail_value *least,
                     const struct rail_value *most)
{
    struct rail         *r = &b->rail;
    const struct record *rec = &b->readings.record;
    int64_t              begun_ns = least->t_ns;
    struct found         f = { .blocks = 0 };
    unsigned             pieces[3] = { from, from, from };

    /* A new outermost reading is put down where it stands: row by row. */
    if (least->uv < r->steady.peaks_later.least.uv || most->uv > r->steady.peaks_later.most.uv || !inside_plain(e, r, least, most) ||
        (least->ua != RECORD_NO_READING && rail_recent_span(&r->recent, least->ua, most->ua) > e->rail_limits.values.step_ua))
        return false;
    for (unsigned k = from, n; k < to; k += n) {
        int64_t t_ns = rail_row_ns(rec, k);

        sums_to(e, b, t_ns, begun_ns, &f);
        n = rail_rows_until(rec, k, to, rail_piece_end(r, &e->rail_limits, t_ns));
        sum_rows(r, rec, k, k + n);
        pieces[0] = pieces[1];
        pieces[1] = k;
        pieces[2] = k + n;
    }
    recent_note(r, rec, pieces);
    statics_note(r, &f);
    r->steady.load.count += f.means;
    rows_note(&e->rail_limits, r, rec, from, to, least, most);
    return true;
}

bool rail_run_whole(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    const struct readings *s = &b->readings;
    struct rail_value      least = { .t_ns = rail_row_ns(&s->record, from), .frame = s->record.frame, .n = 1 }, most = least;
    bool                   amps = s->record.power.columns & RECORD_IBUS;

    if (!settled(e, &b->rail, least.t_ns, s->record.power.interval_ns) || !s->volts.all || (amps && !s->amps.all))
        return false;
    least.uv = s->volts.least;
    most.uv = s->volts.greatest;
    least.ua = amps ? s->amps.least : RECORD_NO_READING;
    most.ua = amps ? s->amps.greatest : RECORD_NO_READING;
    return take_run(e, b, from, to, &least, &most);
}

bool rail_run(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    const struct record *rec = &b->readings.record;
    struct rail_value    least = { .t_ns = rail_row_ns(rec, from), .frame = rec->frame, .n = 1 }, most = least;
    bool                 amps = rec->power.columns & RECORD_IBUS;
    struct column_sum    c[RECORD_COLUMNS_MAX];

    if (!settled(e, &b->rail, least.t_ns, rec->power.interval_ns))
        return false;
    record_columns(rec, from, to, c);
    if (c[0].count != to - from || (amps && c[1].count != to - from))
        return false;
    least.uv = c[0].least;
    most.uv = c[0].greatest;
    least.ua = amps ? c[1].least : RECORD_NO_READING;
    most.ua = amps ? c[1].greatest : RECORD_NO_READING;
    return take_run(e, b, from, to, &least, &most);
}
