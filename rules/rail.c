/* The supply line of a port, row by row or many rows at once; sections begin and end. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Limits. */

/* In a test build a limit of one rule may be wrong: the line is then followed by the wrong one. */
static const struct parameter *limit_named(const struct engine *e, const char *name)
{
#ifdef PORTASSAY_MUTANTS
    if ((e->mutant.kind == MUTANT_LIMIT || e->mutant.kind == MUTANT_UNREAD) && e->moved.name && strcmp(e->moved.name, name) == 0)
        for (unsigned k = 0; k < e->count; k++)
            if (e->rules[k]->sections && strcmp(e->rules[k]->id, e->mutant.rule) == 0)
                return &e->moved;
#endif
    return parameter_in(e->parameters, name);
}

/* A number with one side, or with two the same. */
static int64_t limit_of(const struct engine *e, const char *name)
{
    const struct parameter *q = limit_named(e, name);

    return q->max == PARAMETER_NONE ? q->min : q->max;
}

static int64_t limit_ns(const struct engine *e, const char *name)
{
    struct window w = window_of(limit_named(e, name));

    return w.has_high ? w.high_ns : w.low_ns;
}

bool rail_take_limits(struct engine *e, struct rail_limits *l)
{
    static const char *const windows[VOLT_WINDOWS] = { VOLT_WINDOW_PARAMETERS };

    for (unsigned k = 0; k < VOLT_WINDOWS; k++)
        l->window[k] = limit_named(e, windows[k]);
    l->safe_5v = limit_named(e, "vSafe5V");
    l->safe_0v = limit_named(e, "vSafe0V");
    l->cl_small = limit_named(e, "iPpsCLNew@to-3A");
    l->cl_large = limit_named(e, "iPpsCLNew@above-3A");
    l->shutdown = limit_named(e, "vPpsShutdown");
    l->values = (struct volt_static){ .static_ns = limit_ns(e, "static_ms"), .transient_ns = limit_ns(e, "tSrcTransient"),
                                      .step_ua = (int32_t)limit_of(e, "load_step_ma") };
    l->after_ready_ns = limit_ns(e, "transition_ms");
    l->never_ready_ns = limit_ns(e, "tPSTransition@epr");
    l->mean_ns = limit_ns(e, "current_mean_ms");
    l->over_ua = limit_of(e, "sink_current_margin_ma");
    l->back_ua = limit_of(e, "reverse_ma");
    l->still_uv = limit_of(e, "still_mv");
    l->move_uv = limit_of(e, "move_mv");
    l->floor_uv = limit_of(e, "vSrcNeg") * 1000;
    l->ceiling_uv = limit_of(e, "spr_volt_max") * 1000;
    l->level_uv = limit_of(e, "unasked_step") * 1000;
    l->level_share = limit_of(e, "unasked_step_share");
    l->level_spread = limit_of(e, "unasked_steadiness");
    l->level_hold_ns = limit_ns(e, "unasked_hold");
    l->drop_ns = limit_ns(e, "tSrcTransient");
    l->reach_ns = limit_ns(e, "level_reach_ms");
    l->mark_ns = limit_ns(e, "mark_time_ns");
    l->cold_ns = limit_ns(e, "cold_socket_ms");
    l->watch_ns = limit_ns(e, "detach_watch_ms");
    l->share = (double)limit_of(e, "assumed_amp_share") * 1e-5;
    l->plus_ua = (double)limit_of(e, "assumed_amp_ma");
    return true;
}

/* Rows. */

void rail_start(struct rail *r)
{
    r->steady_from_ns = r->finest_ns = INT64_MAX;
    r->row_ns = r->last_row_ns = r->step_ns = r->stepped_ns = r->step_seen_ns = INT64_MIN;
}

bool rail_columns(const struct readings *s, unsigned from, unsigned to, struct column_sum out[RECORD_COLUMNS_MAX])
{
    const struct record *r = &s->record;
    bool                 amps = r->power.columns & RECORD_IBUS;
    int64_t              sums[RECORD_COLUMNS_MAX];

    if (from > 0 || to < r->power.rows || !s->volts.all || (amps && !s->amps.all)) {
        record_columns(r, from, to, out);
        return out[0].count == to - from && (!amps || out[1].count == to - from);
    }
    record_sums(r, from, to, sums);
    out[0] = (struct column_sum){ .least = s->volts.least, .greatest = s->volts.greatest, .count = to - from, .sum = sums[0] };
    out[1] = (struct column_sum){ .least = s->amps.least, .greatest = s->amps.greatest, .count = amps ? to - from : 0, .sum = sums[1] };
    return true;
}

struct rail_value rail_row(const struct record *r, unsigned row)
{
    unsigned amps = 1; /* IBUS stands behind VBUS */

    return (struct rail_value){ .t_ns = r->t_ns + (int64_t)row * r->power.interval_ns, .frame = r->frame, .n = 1,
                                .uv = record_cell(r, row, 0),
                                .ua = r->power.columns & RECORD_IBUS ? record_cell(r, row, amps) : RECORD_NO_READING };
}

/* The last millisecond and what has not been taken out yet of before: where more readings came in it than there is room, every other one is kept. */
static void keep_near(struct rail *r, const struct rail_value *v)
{
    unsigned kept = 0;

    if (r->near_count == RAIL_NEAR) {
        for (unsigned k = 0; k < RAIL_NEAR; k++)
            if (v->t_ns - r->near_[k].t_ns <= RAIL_NEAR_NS)
                r->near_[kept++] = r->near_[k];
        if (kept == RAIL_NEAR) {
            for (unsigned k = 0; k < RAIL_NEAR / 2; k++)
                r->near_[k] = r->near_[2 * k];
            kept = RAIL_NEAR / 2;
        }
        r->near_count = kept;
    }
    r->near_[r->near_count++] = *v;
}

static void take_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail *r = &b->rail;

    if (v->uv == RECORD_NO_READING)
        return;
    if (r->change_on)
        rail_change_row(e, b, v);
    if (r->cycle_on)
        rail_cycle_row(e, b, v);
    if (r->steady_on && v->t_ns >= r->steady_from_ns)
        rail_steady_row(e, b, v);
    keep_near(r, v);
    r->loose = *v;
    r->followed = true;
}

/* While VBUS is down and stays there, not below what it may be, nothing happens to a cycle that waits for it to come back. */
static bool stays_down(struct rail *r, const struct record *rec, unsigned from, unsigned to)
{
    struct column_sum c[RECORD_COLUMNS_MAX];

    if (r->change_on || r->steady_on || !rail_cycle_waits(r))
        return false;
    record_columns(rec, from, to, c);
    struct rail_value least = rail_row(rec, from), most = rail_row(rec, to - 1);

    least.uv = c[0].least;
    most.uv = c[0].greatest;
    if (c[0].count != to - from || rail_against(r, &most, r->cycle.down_uv) != RAIL_BELOW ||
        !rail_fit_plain(&r->cycle.floor, &r->trust, r->ma, &least, &least))
        return false;
    rail_fit_bulk(&r->cycle.floor, to - from - 1, &least, &most); /* the last of them is taken as a row */
    return true;
}

/* Nobody asks for these rows; the last of them may begin something. */
static void take_idle(struct engine *e, struct port_book *b, unsigned row)
{
    struct rail_value v = rail_row(&b->readings.record, row);

    if (v.uv == RECORD_NO_READING)
        return;
    rail_cycle_idle(e, b, &v);
    b->rail.loose = v;
    b->rail.followed = false;
}

/* How close the rows of a record stand together, and its first to the last one before. */
static void row_distance(struct rail *r, const struct record *rec)
{
    int64_t last_ns = rec->t_ns + (int64_t)(rec->power.rows - 1) * rec->power.interval_ns;

    if (r->row_ns != INT64_MIN && rec->t_ns > r->row_ns && rec->t_ns - r->row_ns < r->finest_ns)
        r->finest_ns = rec->t_ns - r->row_ns;
    if (rec->power.rows > 1 && rec->power.interval_ns < r->finest_ns)
        r->finest_ns = rec->power.interval_ns;
    r->row_ns = last_ns;
}

/* A Request was sent in the contract in force, or is accepted just now. */
static bool request_waits(const struct port_book *b)
{
    const struct rail    *r = &b->rail;
    const struct request *q = &b->port->request;

    return r->steady_on && r->steady_kind == SECTION_CONTRACT && r->steady_from_ns != INT64_MAX && !r->change_on && !r->cycle_on && q->held &&
           (q->state == REQUEST_SENT || q->state == REQUEST_ACCEPTED);
}

/* A change that only waits for its first move, which the first of these rows shows: it ends with the second, and the contract takes all of them. */
static void change_moves(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    struct rail         *r = &b->rail;
    const struct record *rec = &b->readings.record;

    if (!r->change_on || r->cycle_on || b->volts || to - from < 2 || !b->readings.volts.all || !r->steady_on || rail_row_ns(rec, from) < r->steady_from_ns)
        return;
    struct rail_value first = rail_row(rec, from);

    if (rail_change_moves(e, b, &first, rail_row_ns(rec, from + 1)))
        rail_change_end(e, b, rail_row_ns(rec, from + 1), rec->frame);
}

static void catch_up(struct engine *e, struct port_book *b, int64_t t_ns)
{
    struct rail         *r = &b->rail;
    const struct record *rec = &b->readings.record;
    unsigned             from = r->next, to;

    to = readings_before(rec, t_ns);
    if (to <= from)
        return;
    r->next = to;
    if (!(rec->power.columns & RECORD_VBUS))
        return;
    if (from == 0)
        row_distance(r, rec);
    if (r->about != about_generation(bench_about(e->bench)))
        rail_trust(e, b);
    volt_trust_rows(&r->trust, rec);
    if (stays_down(r, rec, from, to))
        from = to - 1;
    /* Where a change ends with the first of these rows, the contract may take all of them at once. */
    if (r->change_on && !r->cycle_on && b->readings.volts.all && rail_change_over(&e->rail_limits, &r->change, rail_row_ns(rec, from)))
        rail_change_end(e, b, rail_row_ns(rec, from), rec->frame);
    bool asked = request_waits(b);

    change_moves(e, b, from, to);
    bool     rows = r->cycle_on || (r->change_on && !rail_change_waits(e, b, from, to));
    unsigned first = from;

    while (from < to && rows) {
        struct rail_value v = rail_row(rec, from++);

        take_row(e, b, &v);
        rows = r->change_on || r->cycle_on;
    }
    if (from < to && r->steady_on)
        rail_steady_bulk(e, b, from, to);
    else if (from < to)
        take_idle(e, b, to - 1);
    if (asked)
        rail_stray_rows(e, b, first, to);
}

void rail_catch_up(struct engine *e, struct port_book *b, int64_t t_ns)
{
    if (b->readings.cells && b->rail.next < b->readings.record.power.rows)
        catch_up(e, b, t_ns);
}

/* Sections. */

/* Rules for whom this section holds anything. */
static struct wake_list section_list(const struct engine *e, const struct port_book *b, const struct section *s)
{
    if (b->holding)
        return e->by_section[s->kind];
    if (s->kind == SECTION_CONTRACT)
        return e->by_contract[s->steady->contract.supply < SUPPLY_RESERVED ? s->steady->contract.supply : SUPPLY_RESERVED];
    return s->kind == SECTION_CHANGE && s->change->readings == 0 && s->change->moved.after_ns == INT64_MIN ? e->by_unread_change
                                                                                                           : e->by_section[s->kind];
}

void engine_wake_section(struct engine *e, struct port_book *b, const struct event *event, const struct section *s)
{
    struct judge             j; /* field by field, as in engine_wake */
    const struct wake_list   list = section_list(e, b, s);
    const struct wake_entry *entry = e->order + list.from, *end = entry + list.count;

    j.engine = e;
    j.book = b;
    j.event = event;
    j.section = s;
    j.held = NULL;
    j.ask = NULL;
    j.line = NULL;
    j.inside = engine_inside_window(e, event->t_ns);
#ifdef PORTASSAY_MUTANTS
    j.turning = false;
#endif
    for (; entry < end; entry++) {
        j.number = entry->number;
        j.rule = entry->rule;
        entry->check(&j, event);
    }
}

const struct section *judge_section(const struct judge *j)
{
    return j->section;
}

void rail_tell(struct engine *e, struct port_book *b, const struct section *s, int64_t t_ns, uint64_t frame)
{
    const struct event event = { .kind = (enum event_kind)WAKE_SECTION, .port = b->port, .frame = frame, .t_ns = t_ns };

    engine_new_subject(e);
    engine_wake_section(e, b, &event, s);
}

static void end_all(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame)
{
    if (b->rail.change_on)
        rail_change_end(e, b, t_ns, frame);
    if (b->rail.cycle_on)
        rail_cycle_end(e, b, t_ns, frame);
    if (b->rail.steady_on)
        rail_steady_end(e, b, t_ns, frame);
}

/* Nothing is attached by CC: from some time on VBUS has to be down. */
static void begin_empty(struct engine *e, struct port_book *b, int64_t t_ns)
{
    const struct port *p = b->port;

    if (!p->cc_seen || p->cc_attach != 0 || b->rail.steady_on || p->contract.held)
        return;
    rail_steady_begin(e, b, SECTION_EMPTY, NULL, t_ns, t_ns + e->rail_limits.cold_ns);
}

static void take_contract(struct engine *e, struct port_book *b, const struct event *event)
{
    if (b->rail.change_on)
        rail_change_ready(e, b, event);
    if (b->rail.steady_on && event->kind == EVENT_RENEWED) {
        b->rail.steady_from_ns = event->t_ns + e->rail_limits.after_ready_ns;
        b->rail.steady.contract.most_ma = event->contract->most_ma;
        b->rail.steady.contract.most_mw = event->contract->most_mw;
        return;
    }
    if (b->rail.steady_on)
        rail_steady_end(e, b, event->t_ns, event->frame);
    rail_steady_begin(e, b, SECTION_CONTRACT, event->contract, event->t_ns, event->t_ns + e->rail_limits.after_ready_ns);
}

/* What is missing lies between the packet before and here: what was read meanwhile may belong to another contract. */
static void take_loss(struct port_book *b, int64_t from_ns)
{
    struct rail        *r = &b->rail;
    struct rail_steady *s = &r->steady;

    if (r->steady_on && s->doubt == CAUSE_NONE) {
        s->doubt = CAUSE_LOST;
        s->doubt_ns = from_ns;
        rail_fit_doubt(&s->values, from_ns);
        rail_fit_doubt(&s->later, from_ns);
        rail_fit_doubt(&s->peaks, from_ns);
        rail_fit_doubt(&s->peaks_later, from_ns);
        rail_fit_doubt(&s->ceiling, from_ns);
    }
    if (r->change_on)
        r->change.doubt = CAUSE_LOST;
    if (r->cycle_on)
        r->cycle.doubt = CAUSE_LOST;
}

static void take_answer(struct engine *e, struct port_book *b, const struct event *event)
{
    if (event->request->state != REQUEST_ACCEPTED)
        return;
    if (b->rail.change_on)
        rail_change_end(e, b, event->t_ns, event->frame);
    if (b->rail.cycle_on)
        rail_cycle_end(e, b, event->t_ns, event->frame); /* VBUS is on its way again */
    rail_change_begin(e, b, event);
    if (b->rail.steady_on && b->rail.steady_kind != SECTION_CONTRACT)
        rail_steady_end(e, b, event->t_ns, event->frame);
    else if (b->rail.steady_on)
        rail_steady_pause(e, b, event->t_ns);
}

static void take_cycle(struct engine *e, struct port_book *b, const struct event *event, enum cycle_by by)
{
    if (b->rail.change_on)
        rail_change_end(e, b, event->t_ns, event->frame);
    if (b->rail.cycle_on && b->rail.cycle.by != CYCLE_BY_NOTHING)
        rail_cycle_end(e, b, event->t_ns, event->frame);
    if (b->rail.steady_on)
        rail_steady_end(e, b, event->t_ns, event->frame);
    rail_cycle_begin(e, b, event, by);
    if (by == CYCLE_BY_DETACH)
        begin_empty(e, b, event->t_ns);
}

void rail_take_message(struct engine *e, struct port_book *b, const struct event *event)
{
    const struct port *p = b->port;
    unsigned           index = event->speech->m.index, swap = p->swap != SWAP_NONE ? p->swap : p->swap_asked;

    if (b->rail.change_on && index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_PS_RDY))
        rail_change_accept(b);
    if (index != MESSAGE_INDEX(CLASS_CONTROL, CONTROL_ACCEPT))
        return;
    if (swap != SWAP_PR && swap != SWAP_FR)
        return;
    rail_catch_up(e, b, event->t_ns);
    if (b->rail.change_on)
        rail_change_end(e, b, event->t_ns, event->frame);
    if (b->rail.steady_on)
        rail_steady_pause(e, b, event->t_ns);
}

void rail_take_event(struct engine *e, struct port_book *b, const struct event *event)
{
    rail_catch_up(e, b, event->kind == EVENT_END ? INT64_MAX : event->t_ns);
    switch ((int)event->kind) {
    case EVENT_ATTACH:
        take_cycle(e, b, event, CYCLE_BY_ATTACH);
        break;
    case EVENT_DETACH:
        take_cycle(e, b, event, CYCLE_BY_DETACH);
        break;
    case EVENT_HARD_RESET:
        take_cycle(e, b, event, CYCLE_BY_HARD_RESET);
        break;
    case EVENT_ANSWERED:
        take_answer(e, b, event);
        break;
    case EVENT_CONTRACT:
    case EVENT_RENEWED:
        take_contract(e, b, event);
        break;
    case EVENT_CONTRACT_END:
        if (b->rail.change_on && event->contract->ended_by != CONTRACT_RENEGOTIATED)
            rail_change_end(e, b, event->t_ns, event->frame);
        if (b->rail.steady_on && b->rail.steady_kind == SECTION_CONTRACT)
            rail_steady_end(e, b, event->t_ns, event->frame);
        break;
    case EVENT_SWAPPED:
        if (event->swap == SWAP_PR || event->swap == SWAP_FR) {
            end_all(e, b, event->t_ns, event->frame);
            b->rail.statics[0].frame = 0; /* of another source */
        }
        break;
    case EVENT_LOSS:
        take_loss(b, b->port->loss_from_ns);
        break;
    case EVENT_CC:
        begin_empty(e, b, event->t_ns);
        break;
    default: /* EVENT_END */
        end_all(e, b, event->t_ns, 0);
        break;
    }
}

/* Readings against levels. */

static struct volt_range value_range(const struct rail *r, const struct rail_value *v)
{
    const struct reading one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    return volt_mean_range(&r->trust, &one, r->ma, v->n);
}

enum rail_side rail_against(const struct rail *r, const struct rail_value *v, int64_t level_uv)
{
    int64_t far_uv = volt_far_uv(&r->trust, v->uv, v->ua);

    if (v->uv + far_uv < level_uv)
        return RAIL_BELOW;
    if (v->uv - far_uv > level_uv)
        return RAIL_ABOVE;
    struct volt_range at = value_range(r, v);

    return at.high_uv < level_uv ? RAIL_BELOW : at.low_uv > level_uv ? RAIL_ABOVE : RAIL_UNSURE;
}

void rail_moment_before(struct rail_moment *m, const struct rail *r, const struct rail_value *v)
{
    m->before_ns = v->t_ns;
    m->before_frame = v->frame;
    m->before_row = r->trust.row;
}

void rail_moment_after(struct rail_moment *m, const struct rail *r, const struct rail_value *v)
{
    m->after_ns = v->t_ns;
    m->after_frame = v->frame;
    m->after_row = r->trust.row;
}

bool rail_cross(struct rail_moment *m, const struct rail *r, const struct rail_value *v, int64_t level_uv, bool rising)
{
    enum rail_side side = rail_against(r, v, level_uv);

    if (m->after_ns != INT64_MIN)
        return false;
    if (side == (rising ? RAIL_BELOW : RAIL_ABOVE)) {
        rail_moment_before(m, r, v);
    } else if (side == (rising ? RAIL_ABOVE : RAIL_BELOW)) {
        rail_moment_after(m, r, v);
        return true;
    }
    return false;
}

double rail_difference_uv(const struct volt_trust *t, double by_uv, uint64_t readings)
{
    struct volt_noise one = volt_noise(volt_noise_step(readings), t->noise_uv, 1);

    if (t->assumed)
        return t->share * fabs(by_uv) + t->plus_uv * sqrt(2.0);
    return volt_expanded(2 * t->gain * by_uv, (struct volt_noise){ .sure = 2 * one.sure, .rest = one.rest * sqrt(2.0) });
}

void rail_slope(const struct rail *r, const struct rail_value *last, const struct rail_value *v, uint64_t readings, struct rail_slew *s)
{
    const struct reading one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };
    double by_uv = (double)v->uv - last->uv, ns = (double)(v->t_ns - last->t_ns);

    if (ns <= 0)
        return;
    struct volt_range at = volt_range_noise(&r->trust, &one, r->ma, volt_noise(volt_noise_step(readings), r->trust.noise_uv, 1));
    double            less_uv = (double)(at.high_uv - at.low_uv); /* 2 U */
    double            more_uv = rail_difference_uv(&r->trust, by_uv, 1);

    if ((by_uv - less_uv) / ns > s->up) {
        s->up = (by_uv - less_uv) / ns;
        s->up_at = *v;
    }
    if ((-by_uv - less_uv) / ns > s->down) {
        s->down = (-by_uv - less_uv) / ns;
        s->down_at = *v;
    }
    if (s->up_most_at.frame == 0 || (by_uv + more_uv) / ns > s->up_most) {
        s->up_most = (by_uv + more_uv) / ns;
        s->up_most_at = *v;
    }
    if (s->down_most_at.frame == 0 || (-by_uv + more_uv) / ns > s->down_most) {
        s->down_most = (-by_uv + more_uv) / ns;
        s->down_most_at = *v;
    }
}

const struct rail_cycle *judge_cycle(struct judge *j)
{
    if (!j->engine->any_section)
        return NULL;
    rail_catch_up(j->engine, j->book, j->event->t_ns);
    return j->book->rail.cycle.t_ns ? &j->book->rail.cycle : NULL;
}

int64_t judge_value_uncertainty(const struct judge *j, const struct rail_fit *f, const struct rail_value *v)
{
    const struct rail *r = &j->book->rail;

    if (f)
        return rail_fit_uncertainty_uv(f, &r->trust, r->ma, v);
    struct volt_range at = value_range(r, v);

    return (at.high_uv - at.low_uv) / 2;
}

struct volt_range judge_value_range(const struct judge *j, const struct rail_value *v)
{
    return value_range(&j->book->rail, v);
}

enum rail_side judge_against(const struct judge *j, const struct rail_value *v, int64_t level_uv)
{
    return rail_against(&j->book->rail, v, level_uv);
}

const struct rail_value *judge_statics(struct judge *j, unsigned *count)
{
    *count = 0;
    if (!j->engine->any_section)
        return NULL;
    rail_catch_up(j->engine, j->book, j->event->t_ns);
    while (*count < RAIL_STATICS && j->book->rail.statics[*count].frame)
        (*count)++;
    return j->book->rail.statics;
}
