/* Readings of VBUS and IBUS. */
#include "rules/engine_inside.h"
#include "rules/uncertainty.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { UV_OF_MV = 1000, CELL_BYTES = 4 };
enum { DEFAULT_MA = 500 }; /* what USB without a contract gives at the least */

/* Rows, when their time has passed. */

static void readings_tell(struct engine *e, struct port_book *b)
{
    const struct rule_set now = b->reading;
    struct event event = { .kind = (enum event_kind)WAKE_READINGS, .port = b->port, .frame = b->readings.record.frame,
                           .t_ns = b->readings.record.t_ns + (int64_t)b->readings.from * b->readings.record.power.interval_ns };
    struct judge j = { .engine = e, .book = b, .event = &event, .inside = engine_inside_window(e, event.t_ns) };

    engine_new_subject(e);
    for (unsigned w = 0; w < RULE_WORDS; w++)
        for (uint64_t bits = now.word[w]; bits; bits &= bits - 1) {
            j.number = w * 64 + (unsigned)__builtin_ctzll(bits);
            j.rule = e->rules[j.number];
            j.rule->check(&j, &event);
        }
}

/* Rows of the record in hand that lie before t_ns. */
unsigned readings_before(const struct record *r, int64_t t_ns)
{
    int64_t interval_ns = r->power.interval_ns;

    if (t_ns == INT64_MAX)
        return r->power.rows;
    if (t_ns <= r->t_ns)
        return 0;
    if (interval_ns == 0 || (t_ns - r->t_ns - 1) / interval_ns >= r->power.rows)
        return r->power.rows;
    return (unsigned)((t_ns - r->t_ns - 1) / interval_ns) + 1;
}

void readings_pass(struct engine *e, struct port_book *b, int64_t t_ns)
{
    struct readings *s = &b->readings;
    unsigned         to;

    if (s->next >= s->record.power.rows)
        return;
    to = readings_before(&s->record, t_ns);
    if (to <= s->next)
        return;
    s->from = s->next;
    s->to = s->next = to;
    if (b->any_reading)
        readings_tell(e, b);
}

void readings_take(struct engine *e, struct port_book *b, const struct record *r)
{
    struct readings *s = &b->readings;
    size_t           bytes = (size_t)r->power.rows * r->power.width * CELL_BYTES;

    readings_pass(e, b, INT64_MAX); /* what is left of the record before */
    if (e->any_section)
        rail_catch_up(e, b, INT64_MAX);
    if (bytes > s->room) {
        uint8_t *room = realloc(s->cells, bytes);

        if (!room) {
            e->no_memory = true;
            return;
        }
        s->cells = room;
        s->room = bytes;
    }
    memcpy(s->cells, r->power.cells, bytes);
    s->record = *r;
    s->record.power.cells = s->cells;
    s->volts = b->port->volts;
    s->amps = b->port->amps;
    s->next = s->from = s->to = 0;
    b->rail.next = 0;
}

bool judge_volts_range(const struct judge *j, int32_t *least_uv, int32_t *most_uv)
{
    const struct port *p = j->book->port;

    *least_uv = p->volts.least;
    *most_uv = p->volts.greatest;
    return p->volts.any;
}

bool judge_amps_range(const struct judge *j, int32_t *least_ua, int32_t *most_ua)
{
    const struct port *p = j->book->port;

    *least_ua = p->amps.least;
    *most_ua = p->amps.greatest;
    return p->amps.any;
}

void judge_read(struct judge *j, const struct port *p, bool on)
{
    struct port_book *b = j->engine->books[p->number];
    uint64_t          bit = UINT64_C(1) << j->number % 64;

    if (!b || (!on && !(b->reading.word[j->number / 64] & bit)))
        return;
    if (on && !b->any_reading && b->readings.next < b->readings.record.power.rows) {
        /* Nobody read so far: what lies before now is not told. */
        unsigned passed = readings_before(&b->readings.record, j->event->t_ns);

        if (passed > b->readings.next)
            b->readings.next = passed;
    }
    if (on)
        b->reading.word[j->number / 64] |= bit;
    else
        b->reading.word[j->number / 64] &= ~bit;
    b->any_reading = false;
    for (unsigned w = 0; w < RULE_WORDS; w++)
        b->any_reading = b->any_reading || b->reading.word[w];
}

static struct reading reading_of(const struct record *r, unsigned row)
{
    unsigned amps = r->power.columns & RECORD_VBUS ? 1 : 0;

    return (struct reading){
        .t_ns = r->t_ns + (int64_t)row * r->power.interval_ns, .frame = r->frame,
        .uv = r->power.columns & RECORD_VBUS ? record_cell(r, row, 0) : RECORD_NO_READING,
        .ua = r->power.columns & RECORD_IBUS ? record_cell(r, row, amps) : RECORD_NO_READING,
    };
}

unsigned judge_readings(const struct judge *j)
{
    return j->book->readings.to - j->book->readings.from;
}

struct reading judge_reading(const struct judge *j, unsigned k)
{
    return reading_of(&j->book->readings.record, j->book->readings.from + k);
}

bool judge_reading_before(const struct judge *j, struct reading *out)
{
    const struct record *r = &j->book->readings.record;
    unsigned             rows = j->book->readings.cells ? readings_before(r, j->event->t_ns) : 0;

    for (unsigned k = rows; k-- > 0;) {
        *out = reading_of(r, k);
        if (out->uv != RECORD_NO_READING)
            return true;
    }
    return false;
}

/* What a reading is worth. */

struct volt_trust volt_trust(const struct judge *j, const struct port *p)
{
    struct volt_trust t = engine_volt_trust(j->engine, p);

    volt_trust_rows(&t, &j->book->readings.record);
    return t;
}

void volt_trust_rows(struct volt_trust *t, const struct record *r)
{
    t->row = (struct row_time){ .flags = r->flags, .lasts_ns = t->means ? r->power.interval_ns : 0 };
}

/* The parts of an uncertainty added up are more than the root of their squares. */
static void trust_far(struct volt_trust *t)
{
    struct volt_noise noise = volt_noise(VOLT_NOISE_STEPS - 1, t->noise_uv, VOLT_SINGLE + 1);
    double            most_a = VOLT_FAR_UA * 1e-6;

    t->far_share = t->assumed ? t->share : 2 * t->gain;
    t->far_uv = (t->assumed ? t->plus_uv : 2 * t->offset_uv) + noise.sure + noise.rest + 2;
    if (t->at_sink)
        t->far_uv += t->path_known ? most_a * (t->path_ohm + 2 * t->path_u_ohm) * 1e6 : t->path_drop_uv;
}

struct volt_trust engine_volt_trust(const struct engine *e, const struct port *p)
{
    const struct about_instrument *i = about_instrument(bench_about(e->bench), p->number);
    const struct about_port       *port = about_port(bench_about(e->bench), p->number);
    struct volt_trust              t = { .gain = 0 };

    t.assumed = !(i->given & (ABOUT_VOLT_GAIN | ABOUT_VOLT_OFFSET | ABOUT_VOLT_NOISE));
    t.noise_known = i->given & ABOUT_VOLT_NOISE;
    t.means = i->mean_sampling;
    t.gain = i->given & ABOUT_VOLT_GAIN ? i->volt.gain_ppm * 1e-6 : 0;
    t.offset_uv = i->given & ABOUT_VOLT_OFFSET ? i->volt.offset_uv : 0;
    t.noise_uv = t.noise_known ? i->volt.noise_uv : 0;
    t.share = (double)e->assumed_share->max * 1e-5;            /* thousandths of a percent */
    t.plus_uv = (double)e->assumed_mv->max;                    /* thousandths of a millivolt */
    t.at_sink = port && port->volt_at == ABOUT_VOLT_SINK;
    t.path_known = port && port->path_mohm >= 0;
    t.path_ohm = t.path_known ? port->path_mohm * 1e-3 : 0;
    t.path_u_ohm = t.path_known && port->path_mohm_u > 0 ? port->path_mohm_u * 1e-3 : 0;
    t.path_drop_uv = (double)e->path_drop_mv->max;
    trust_far(&t);
    return t;
}

/*
 * Of n values of a normal distribution: k, above which the greatest lies once in 1 / 0.0228 times, phi(k) = 1 - 0.0228 / n (k_n of the
 * catalogue's section 3; n = 1: 2), and the mean of the greatest (tables of normal order statistics; above 100 values Blom's
 * approximation), by steps.
 */
static const struct { uint64_t n; double k, mean; } noise_steps[VOLT_NOISE_STEPS] = {
    { 1, 2.00, 0 },        { 10, 2.84, 1.54 },     { 100, 3.50, 2.51 },     { 1000, 4.08, 3.24 },
    { 10000, 4.58, 3.85 }, { 100000, 5.04, 4.39 }, { 1000000, 5.47, 4.86 }, { UINT64_MAX, 6.58, 6.09 },
};

uint64_t volt_noise_values(unsigned step)
{
    return noise_steps[step].n;
}

unsigned volt_noise_step(uint64_t values)
{
    unsigned s = 0;

    while (values > noise_steps[s].n)
        s++;
    return s;
}

double volt_root(uint32_t n)
{
    return n > 1 ? sqrt(n) : 1;
}

struct volt_noise volt_noise(unsigned step, double noise, uint32_t n)
{
    double one = noise / volt_root(n);

    return (struct volt_noise){ .sure = noise_steps[step].mean * one, .rest = (noise_steps[step].k - noise_steps[step].mean) * one };
}

double volt_expanded(double systematic, struct volt_noise noise)
{
    return noise.sure + sqrt(systematic * systematic + noise.rest * noise.rest);
}

/* floor, without a call: this is asked of every reading near a limit. */
static int64_t whole_below(double x)
{
    int64_t k = (int64_t)x;

    return (double)k > x ? k - 1 : k;
}

static struct volt_range range_of(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, struct volt_noise noise)
{
    double amps = r->ua == RECORD_NO_READING ? 0 : r->ua * 1e-6;
    double at_uv = r->uv, least_uv = 0, most_uv = 0, path_uv = 0;

    if (t->at_sink && t->path_known) {
        least_uv = most_uv = amps * t->path_ohm * 1e6;
        path_uv = 2 * fabs(amps) * t->path_u_ohm * 1e6;
    } else if (t->at_sink) {
        /* Without a contract the least current that a source offers counts: the path takes the most of it then. */
        double share = r->ua != RECORD_NO_READING ? fabs(amps) * 1000 / (contract_ma > 0 ? contract_ma : DEFAULT_MA) : 1;

        most_uv = t->path_drop_uv * (share < 1 ? share : 1);
    }
    const struct uncertain parts[] = {
        { at_uv, t->assumed ? 0 : 2 * t->gain },
        { 1, t->assumed ? t->share * fabs(at_uv) + t->plus_uv : 2 * t->offset_uv },
        { 1, path_uv },
    };
    double u_uv = volt_expanded(uncertainty_combined(parts, sizeof parts / sizeof parts[0], NULL), noise);

    return (struct volt_range){ .low_uv = whole_below(at_uv + least_uv - u_uv), .high_uv = -whole_below(-(at_uv + most_uv + u_uv)) };
}

struct volt_range volt_range_noise(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, struct volt_noise noise)
{
    return range_of(t, r, contract_ma, noise);
}

struct volt_range volt_mean_range(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, unsigned n)
{
    return range_of(t, r, contract_ma, volt_noise(0, t->noise_uv, n));
}

struct volt_range volt_peak_range(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, uint64_t n)
{
    return range_of(t, r, contract_ma, volt_noise(volt_noise_step(n), t->noise_uv, 1));
}

/* Windows. */

static int64_t share_uv(int32_t mv, int64_t thousandths_of_percent)
{
    return (int64_t)mv * UV_OF_MV + (int64_t)mv * UV_OF_MV / 1000 * thousandths_of_percent / 100;
}

static struct volt_window window_about(const struct parameter *q, int32_t mv)
{
    return (struct volt_window){ .low_uv = share_uv(mv, q->min), .high_uv = share_uv(mv, q->max), .known = mv > 0, .parameter = q };
}

/* Thousandths of the object's ends. */
static struct volt_window window_of_object(const struct parameter *q, const struct pdo *pdo)
{
    return (struct volt_window){ .low_uv = pdo->min_mv * q->min, .high_uv = pdo->max_mv * q->max, .known = pdo->max_mv > 0,
                                 .parameter = q };
}

struct volt_window volt_window_wide(const struct parameter *const *q, const struct volt_window *w)
{
    struct volt_window wide = *w;

    wide.low_uv += q[VOLT_VALID]->min * UV_OF_MV;
    wide.high_uv += q[VOLT_VALID]->max * UV_OF_MV;
    return wide;
}

struct volt_window volt_window_by(const struct parameter *const *q, const struct contract *c, bool wide)
{
    struct volt_window w = { .known = false };
    struct pdo         pdo;

    switch ((enum supply)c->supply) {
    case SUPPLY_FIXED:
        w = window_about(q[VOLT_FIXED], c->mv);
        break;
    case SUPPLY_VARIABLE:
        pdo = pdo_read_source(c->pdo_word, c->position);
        w = window_of_object(q[VOLT_VARIABLE], &pdo);
        break;
    case SUPPLY_BATTERY:
        pdo = pdo_read_source(c->pdo_word, c->position);
        w = window_of_object(q[VOLT_BATTERY], &pdo);
        break;
    case SUPPLY_PPS:
        w = window_about(q[VOLT_PPS], c->mv);
        break;
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:
        w = window_about(q[VOLT_AVS], c->mv);
        break;
    case SUPPLY_RESERVED:
        break;
    }
    return wide ? volt_window_wide(q, &w) : w;
}

struct volt_window volt_window(const struct judge *j, const struct contract *c, unsigned k, bool wide)
{
    const struct parameter *q[VOLT_WINDOWS];

    for (unsigned n = 0; n < VOLT_WINDOWS; n++)
        q[n] = judge_parameter(j, k + n);
    return volt_window_by(q, c, wide);
}

/* Static values. */

void volt_block_start(struct volt_block *b)
{
    *b = (struct volt_block){ .from_ns = INT64_MIN, .step_ns = INT64_MIN, .step_seen_ns = INT64_MIN };
}

enum { STEP_WITHIN_NS = 1000000 }; /* load_step_ma: in 1 ms */

static void look_for_step(struct volt_block *b, const struct volt_static *s, const struct reading *r)
{
    if (r->ua == RECORD_NO_READING)
        return;
    if (b->step_seen_ns != INT64_MIN && llabs((int64_t)r->ua - b->step_ua) > s->step_ua) {
        b->step_ns = r->t_ns + s->transient_ns;
        b->from_ns = INT64_MIN;
    }
    if (b->step_seen_ns == INT64_MIN || r->t_ns - b->step_seen_ns >= STEP_WITHIN_NS || b->step_ns > r->t_ns) {
        b->step_seen_ns = r->t_ns;
        b->step_ua = r->ua;
    }
}

bool volt_block_take(struct volt_block *b, const struct volt_static *s, const struct reading *r, struct reading *mean, unsigned *count)
{
    bool complete = false;

    look_for_step(b, s, r);
    if (r->uv == RECORD_NO_READING)
        return false;
    if (b->from_ns != INT64_MIN && r->t_ns - b->from_ns >= s->static_ns) {
        complete = b->count > 0;
        *count = b->count;
        *mean = (struct reading){ .t_ns = b->from_ns, .frame = b->frame, .uv = (int32_t)lround(b->sum_uv / b->count),
                                  .ua = b->amps ? (int32_t)lround(b->sum_ua / b->amps) : RECORD_NO_READING };
        /* End to end where sampling is quick enough, else from this reading on. */
        b->from_ns = r->t_ns - b->from_ns < 2 * s->static_ns ? b->from_ns + s->static_ns : r->t_ns;
        b->sum_uv = b->sum_ua = 0;
        b->count = b->amps = 0;
    }
    if (r->t_ns < b->step_ns)
        return complete;
    if (b->from_ns == INT64_MIN) {
        b->from_ns = r->t_ns;
        b->sum_uv = b->sum_ua = 0;
        b->count = b->amps = 0;
    }
    if (b->count == 0)
        b->frame = r->frame;
    b->sum_uv += r->uv;
    b->count++;
    if (r->ua != RECORD_NO_READING) {
        b->sum_ua += r->ua;
        b->amps++;
    }
    return complete;
}

/* Crossings. */

void volt_crossing_start(struct volt_crossing *c, int64_t level_uv, bool rising)
{
    *c = (struct volt_crossing){ .level_uv = level_uv, .rising = rising, .before_ns = INT64_MIN };
}

bool volt_crossing_take(struct volt_crossing *c, const struct volt_trust *t, const struct reading *r, int64_t from_ns)
{
    if (c->done || r->uv == RECORD_NO_READING)
        return false;
    struct volt_range v = volt_mean_range(t, r, 0, 1);

    if (c->rising ? v.high_uv < c->level_uv : v.low_uv > c->level_uv) {
        c->before_ns = r->t_ns;
        c->before_frame = r->frame;
        c->before_row = t->row;
    } else if (c->rising ? v.low_uv > c->level_uv : v.high_uv < c->level_uv) {
        c->done = true;
        c->after_ns = r->t_ns;
        c->frame = r->frame;
        c->row = t->row;
        if (c->before_ns < from_ns)
            c->before_ns = from_ns;
    }
    return c->done;
}

/* How far a row's time may be off. */
static int64_t row_stamp_ns(const struct port *p, uint8_t flags, bool other_stream)
{
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);
    int64_t                        stamp_ns = bench_stamp_ns(p->bench, p->number, flags);

    if (!(flags & RECORD_HOST_TIME) && i->given & ABOUT_POWER_TIME_NS && i->power_time_ns < 1e15)
        stamp_ns = (int64_t)(2 * i->power_time_ns + 0.5);
    if (other_stream && i->given & ABOUT_ALIGN_NS && i->align_ns < 1e15)
        stamp_ns += (int64_t)(2 * i->align_ns + 0.5);
    return stamp_ns;
}

struct edge volt_crossing_edge(const struct port *p, const struct volt_crossing *c, bool other_stream)
{
    return (struct edge){ .kind = EDGE_ROW, .frame = c->frame, .early_ns = c->before_ns - row_stamp_ns(p, c->before_row.flags, other_stream),
                          .late_ns = c->after_ns + c->row.lasts_ns + row_stamp_ns(p, c->row.flags, other_stream) };
}

/* Current above the contract. */

/* Microampere; 0: no contract that says a current. */
static int64_t overload_ua(const struct judge *j, const struct port *p, unsigned k)
{
    const struct contract *c = &p->contract;

    if (!c->held || c->ma <= 0)
        return 0;
    return (int64_t)c->ma * 1000 + (int64_t)c->ma * 1000 / 1000 * judge_parameter(j, k)->max / 100;
}

bool overload_possible(const struct judge *j, const struct event *e, unsigned k)
{
    int64_t limit_ua = overload_ua(j, e->port, k);
    int32_t least_ua, most_ua;

    return limit_ua > 0 && judge_amps_range(j, &least_ua, &most_ua) && most_ua > limit_ua;
}

void overload_take(const struct judge *j, const struct event *e, unsigned k, struct overload *o)
{
    int64_t limit_ua = overload_ua(j, e->port, k);

    for (unsigned n = judge_readings(j); limit_ua > 0 && n-- > 0;) {
        struct reading r = judge_reading(j, n);

        if (r.ua == RECORD_NO_READING || r.ua <= limit_ua)
            continue;
        o->last_ns = r.t_ns;
        o->frame = r.frame;
        return;
    }
}
