#include "cli/timings.h"

#include <stdlib.h>
#include <string.h>

enum { PIECE_STEPS = 256, STEPS = TIMER_PIECES * PIECE_STEPS, STEP_LEAST_NS = 1000, STEP_SHARE = 1000 };
#define NEAR_NS INT64_C(1000000000) /* a mark, a silence: common practice, no source */
#define HEARD_NS INT64_C(1100000)   /* at the end of the trace: a GoodCRC would have begun by then (tReceive) */

/* How things stood when the last packet of a port was over. */
struct standing {
    bool     any, lost, reset;     /* anything said; records missing since; a reset and no contract since */
    int64_t  end_ns, mark_ns;      /* of the last packet; of the last mark */
    uint8_t  asked, swap, last;    /* message without its answer; swap under way; last message */
    bool     accepted;             /* a Request, without PS_RDY */
    uint16_t open;                 /* streams whose last message was not acknowledged yet, a bit each */
    uint16_t counted;              /* ... and that count: it began between --since and --until */
    uint8_t  open_index[STREAMS];
    int64_t  open_end_ns[STREAMS];
};

struct port_timings {
    struct timer   *timers[RULES_MAX];
    struct health   health;
    struct standing now;
};

struct timings {
    const bool          *ports;
    int64_t              since_ns, until_ns;
    int64_t              mark_ns;      /* of the last mark about no port */
    unsigned             pieces;
    bool                 failed;
    struct port_timings *of[TIMINGS_PORTS];
    int64_t              steps[STEPS + 1]; /* where each begins */
};

const char *before_name(unsigned before)
{
    static const char *const names[] = {
        "records_missing", "reset", "no_goodcrc", "no_ps_rdy", "swap", "no_answer", "mark", "nothing", "silence", "message",
    };

    return before < BEFORE_KINDS ? names[before] : "message";
}

const char *reset_kind_name(unsigned kind)
{
    static const char *const names[] = { "hard", "soft", "cable" };

    return kind < RESET_KINDS ? names[kind] : "hard";
}

static struct port_timings *port_of(struct timings *t, unsigned port)
{
    if (port >= TIMINGS_PORTS || (t->ports && !t->ports[port]))
        return NULL;
    if (!t->of[port]) {
        t->of[port] = calloc(1, sizeof *t->of[port]);
        if (t->of[port])
            t->of[port]->now.mark_ns = INT64_MIN;
        else
            t->failed = true;
    }
    return t->of[port];
}

/* Timers. */

static unsigned step_of(const struct timings *t, int64_t ns)
{
    unsigned low = 0, high = STEPS - 1;

    while (low < high) {
        unsigned middle = (low + high + 1) / 2;

        if (ns >= t->steps[middle])
            low = middle;
        else
            high = middle - 1;
    }
    return low;
}

static void step_count(struct timings *t, struct timer *m, int64_t ns)
{
    unsigned   step = step_of(t, ns);
    uint32_t **piece = &m->pieces[step / PIECE_STEPS];

    if (!*piece && t->pieces < TIMINGS_PIECES) {
        *piece = calloc(PIECE_STEPS, sizeof **piece);
        t->pieces++;
    }
    if (!*piece || (*piece)[step % PIECE_STEPS] == UINT32_MAX)
        m->coarse = true;
    else
        (*piece)[step % PIECE_STEPS]++;
}

static void window_count(struct timer *m, const struct window *w)
{
    unsigned k = 0;

    while (k < m->window_count && (m->windows[k].window.parameter != w->parameter || m->windows[k].window.has_low != w->has_low ||
                                   m->windows[k].window.has_high != w->has_high || m->windows[k].window.low_ns != w->low_ns ||
                                   m->windows[k].window.high_ns != w->high_ns))
        k++;
    if (k == TIMER_WINDOWS) {
        m->windows_left_out = true;
        return;
    }
    if (k == m->window_count)
        m->windows[m->window_count++] = (struct timer_window){ .window = *w };
    m->windows[k].count++;
}

void timings_take(struct timings *t, unsigned port, unsigned rule, const struct span *span, const struct window *window)
{
    int64_t middle_ns = span->low_ns + (span->high_ns - span->low_ns) / 2, half_ns = (span->high_ns - span->low_ns) / 2;

    if (rule >= RULES_MAX || span->to.late_ns < t->since_ns || span->to.early_ns > t->until_ns)
        return;
    struct port_timings *p = port_of(t, port);

    if (p && !p->timers[rule])
        p->timers[rule] = calloc(1, sizeof *p->timers[rule]);
    if (!p || !p->timers[rule]) {
        t->failed = t->failed || p;
        return;
    }
    struct timer *m = p->timers[rule];

    m->least_ns = m->count == 0 || middle_ns < m->least_ns ? middle_ns : m->least_ns;
    m->greatest_ns = m->count == 0 || middle_ns > m->greatest_ns ? middle_ns : m->greatest_ns;
    m->unsure_ns = half_ns > m->unsure_ns ? half_ns : m->unsure_ns;
    m->count++;
    step_count(t, m, middle_ns);
    window_count(m, window);
}

bool timings_share(const struct timings *t, const struct timer *m, unsigned percent, int64_t *ns)
{
    uint64_t rank = m->count / 100 * percent + (m->count % 100 * percent + 99) / 100, seen = 0; /* so many, rounded up */

    if (m->coarse || m->count == 0)
        return false;
    for (unsigned piece = 0; piece < TIMER_PIECES; piece++)
        for (unsigned k = 0; m->pieces[piece] && k < PIECE_STEPS; k++) {
            const int64_t *step = &t->steps[piece * PIECE_STEPS + k];

            seen += m->pieces[piece][k];
            if (seen < rank || seen == 0)
                continue;
            *ns = step[0] + (step[1] - step[0]) / 2;
            *ns = *ns < m->least_ns ? m->least_ns : *ns > m->greatest_ns ? m->greatest_ns : *ns;
            return true;
        }
    return false;
}

/* Health. */

static bool inside(const struct timings *t, int64_t t_ns)
{
    return t_ns >= t->since_ns && t_ns <= t->until_ns;
}

/* No GoodCRC will come any more for the message of that stream. */
static void give_up(struct port_timings *p, unsigned stream)
{
    uint16_t bit = (uint16_t)(1u << stream);

    if (p->now.open & p->now.counted & bit)
        p->health.unacknowledged[stream >= 2 * SET_SOP1]++;
    p->now.open &= (uint16_t)~bit;
}

static void give_up_all(struct port_timings *p)
{
    for (unsigned k = 0; k < STREAMS; k++)
        give_up(p, k);
}

static void open_message(struct port_timings *p, const struct speech *s, bool counts)
{
    unsigned stream = stream_index(s->m.set, s->player);
    uint16_t bit = (uint16_t)(1u << stream);

    if (stream >= STREAMS)
        return;
    if (!s->copy)
        give_up(p, stream);
    p->now.open |= bit;
    p->now.counted = (uint16_t)(counts ? p->now.counted | bit : p->now.counted & ~bit);
    p->now.open_index[stream] = s->m.index;
    p->now.open_end_ns[stream] = s->end_ns;
    p->now.last = s->m.index;
}

static void note_packet(struct port_timings *p, const struct event *e, bool counts)
{
    const struct speech *s = e->speech;
    const struct port   *port = e->port;
    bool                 goodcrc = s->good && s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC);

    if (!s->good) {
        p->health.crc_errors += counts && s->m.crc == CRC_BAD;
        p->health.repeats += counts && port->bad_first.frame != s->frame; /* one more bad copy of the same message */
    } else if (!goodcrc) {
        bool first = !s->copy && s->spoilt.frame == 0;

        p->health.messages += counts && !s->copy;
        p->health.repeats += counts && !first;
        open_message(p, s, counts);
    } else if (s->acknowledged) {
        p->now.open &= (uint16_t)~(1u << stream_index(s->m.set, s->acknowledged->player));
    }
    p->now.any = true;
    p->now.lost = false;
    p->now.end_ns = s->end_ns;
    p->now.asked = port->asked_index;
    p->now.accepted = port->request.held && port->request.state == REQUEST_ACCEPTED;
    p->now.swap = port->swap;
}

static enum before before_of(const struct standing *now, int64_t bench_mark_ns, uint64_t unheard, int64_t t_ns)
{
    int64_t mark_ns = now->mark_ns > bench_mark_ns ? now->mark_ns : bench_mark_ns;

    if (now->lost)
        return BEFORE_LOST;
    if (now->reset)
        return BEFORE_RESET;
    if (unheard)
        return BEFORE_UNHEARD;
    if (now->accepted)
        return BEFORE_READY;
    if (now->swap != SWAP_NONE)
        return BEFORE_SWAP;
    if (now->asked)
        return BEFORE_QUESTION;
    if (mark_ns != INT64_MIN && t_ns - mark_ns <= NEAR_NS)
        return BEFORE_MARK;
    if (!now->any)
        return BEFORE_NOTHING;
    return t_ns - now->end_ns >= NEAR_NS ? BEFORE_SILENCE : BEFORE_MESSAGE;
}

/* The message on SOP that is open; on the other sets for a Cable Reset. 0: none. */
static uint8_t unheard_message(const struct standing *now, enum reset_kind kind)
{
    unsigned from = kind == RESET_CABLE ? 2 * SET_SOP1 : 0, to = kind == RESET_CABLE ? STREAMS : 2 * SET_SOP1;

    for (unsigned k = from; k < to; k++)
        if (now->open >> k & 1)
            return now->open_index[k];
    return 0;
}

static struct before_row *row_of(struct health *h, enum reset_kind kind, enum before before, uint8_t index)
{
    unsigned k = 0;

    while (k < h->before_count && (h->befores[k].reset != kind || h->befores[k].before != before || h->befores[k].index != index))
        k++;
    if (k == BEFORES)
        return NULL;
    if (k == h->before_count)
        h->befores[h->before_count++] = (struct before_row){ .reset = (uint8_t)kind, .before = (uint8_t)before, .index = index,
                                                             .least_ns = INT64_MAX, .greatest_ns = INT64_MIN };
    return &h->befores[k];
}

static void note_reset(const struct timings *t, struct port_timings *p, const struct event *e, enum reset_kind kind)
{
    uint8_t     unheard = unheard_message(&p->now, kind);
    enum before before = before_of(&p->now, t->mark_ns, unheard, e->t_ns);
    uint8_t     index = before == BEFORE_UNHEARD ? unheard : before == BEFORE_QUESTION ? p->now.asked
                        : before == BEFORE_MESSAGE ? p->now.last : 0;
    struct before_row *row = row_of(&p->health, kind, before, index);
    int64_t            wait_ns = e->t_ns - p->now.end_ns;

    p->health.resets[kind]++;
    if (!row) {
        p->health.befores_left_out++;
        return;
    }
    row->frame = row->count++ == 0 ? e->frame : row->frame;
    if (!p->now.any)
        return;
    row->least_ns = wait_ns < row->least_ns ? wait_ns : row->least_ns;
    row->greatest_ns = wait_ns > row->greatest_ns ? wait_ns : row->greatest_ns;
}

static void take_reset(struct timings *t, struct port_timings *p, const struct event *e, enum reset_kind kind)
{
    if (inside(t, e->t_ns))
        note_reset(t, p, e, kind);
    if (kind == RESET_CABLE)
        return;
    if (kind == RESET_HARD) {
        give_up_all(p);
        p->now.asked = 0;
        p->now.swap = SWAP_NONE;
    }
    p->now.accepted = false;
    p->now.reset = true;
}

static void take_end(struct port_timings *p, const struct event *e)
{
    for (unsigned k = 0; k < STREAMS; k++)
        if (e->t_ns - p->now.open_end_ns[k] > HEARD_NS)
            give_up(p, k);
}

static void take_attach(struct port_timings *p)
{
    give_up_all(p);
    p->now = (struct standing){ .mark_ns = p->now.mark_ns };
}

static void timings_event(void *context, const struct event *e)
{
    struct timings      *t = context;
    struct port_timings *p = port_of(t, e->port->number);

    if (!p)
        return;
    switch ((int)e->kind) {
    case EVENT_PACKET:     note_packet(p, e, inside(t, e->speech->start_ns)); break;
    case EVENT_HARD_RESET: take_reset(t, p, e, RESET_HARD); break;
    case EVENT_SOFT_RESET: take_reset(t, p, e, RESET_SOFT); break;
    case EVENT_CABLE_RESET: take_reset(t, p, e, RESET_CABLE); break;
    case EVENT_CONTRACT:
    case EVENT_RENEWED:    p->now.reset = false; break;
    case EVENT_MARK:       p->now.mark_ns = e->t_ns; break;
    case EVENT_LOSS:       p->now.lost = true; break;
    case EVENT_END:        take_end(p, e); break;
    default:               take_attach(p); break; /* EVENT_ATTACH, EVENT_DETACH */
    }
}

void timings_bench_mark(struct timings *t, int64_t t_ns)
{
    t->mark_ns = t_ns;
}

struct timings *timings_new(struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns)
{
    struct timings *t = calloc(1, sizeof *t);

    if (!t)
        return NULL;
    t->ports = ports;
    t->since_ns = since_ns;
    t->until_ns = until_ns;
    t->mark_ns = INT64_MIN;
    for (unsigned k = 0; k < STEPS; k++) {
        int64_t step = t->steps[k] / STEP_SHARE;

        t->steps[k + 1] = t->steps[k] + (step > STEP_LEAST_NS ? step : STEP_LEAST_NS);
    }
    bench_observe(bench,
                  EVENT_BIT(EVENT_PACKET) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) | EVENT_BIT(EVENT_CABLE_RESET) |
                      EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_MARK) | EVENT_BIT(EVENT_LOSS) |
                      EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_END),
                  timings_event, t);
    return t;
}

static void timer_free(struct timer *m)
{
    for (unsigned k = 0; m && k < TIMER_PIECES; k++)
        free(m->pieces[k]);
    free(m);
}

void timings_free(struct timings *t)
{
    for (unsigned port = 0; t && port < TIMINGS_PORTS; port++) {
        for (unsigned rule = 0; t->of[port] && rule < RULES_MAX; rule++)
            timer_free(t->of[port]->timers[rule]);
        free(t->of[port]);
    }
    free(t);
}

const struct timer *timings_timer(const struct timings *t, unsigned port, unsigned rule)
{
    return port < TIMINGS_PORTS && t->of[port] && rule < RULES_MAX ? t->of[port]->timers[rule] : NULL;
}

const struct health *timings_health(const struct timings *t, unsigned port)
{
    const struct port_timings *p = port < TIMINGS_PORTS ? t->of[port] : NULL;

    return p && (p->health.messages || p->health.crc_errors || p->health.before_count) ? &p->health : NULL;
}

bool timer_is_bit_rate(const struct timer *m)
{
    const struct parameter *q = m->window_count ? m->windows[0].window.parameter : NULL;

    return q && strcmp(q->unit, "kbit/s") == 0;
}

int64_t timer_bit_rate(int64_t ns_of_1000)
{
    return ns_of_1000 > 0 ? (INT64_C(1000000000000) + ns_of_1000 / 2) / ns_of_1000 : 0;
}

bool timings_failed(const struct timings *t)
{
    return t->failed;
}
