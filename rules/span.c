/* Ranges of time. */
#include "rules/span.h"

#include "decode/times.h"

#include <string.h>

const char *edge_kind_name(unsigned kind)
{
    static const char *const names[] = { "", "start", "end", "acknowledged", "heard, no GoodCRC recorded", "record", "reading" };

    return kind < sizeof names / sizeof names[0] ? names[kind] : "";
}

static struct edge edge_at(const struct port *p, enum edge_kind kind, uint64_t frame, int64_t t_ns, unsigned flags)
{
    int64_t stamp_ns = bench_stamp_ns(p->bench, p->number, flags);

    return (struct edge){ .early_ns = t_ns - stamp_ns, .late_ns = t_ns + stamp_ns, .frame = frame, .kind = (uint8_t)kind };
}

struct edge edge_moment(const struct port *p, enum edge_kind kind, uint64_t frame, int64_t t_ns, unsigned flags)
{
    return edge_at(p, kind, frame, t_ns, flags);
}

/* How far a nominal length may be off, between the least and the greatest rate of bits. */
int64_t length_least_ns(const struct bench *b, int64_t nominal_ns)
{
    return nominal_ns * PD_BIT_RATE_NOMINAL / bench_limits(b)->rate_most;
}

int64_t length_most_ns(const struct bench *b, int64_t nominal_ns)
{
    int64_t least = bench_limits(b)->rate_least;

    return (nominal_ns * PD_BIT_RATE_NOMINAL + least - 1) / least;
}

struct edge edge_start(const struct port *p, const struct wire *w)
{
    int64_t     nominal_ns = w->end_ns - w->start_ns;
    bool        stamped = w->measured || !(w->flags & RECORD_END_TIME);
    struct edge e = edge_at(p, EDGE_START, w->frame, stamped ? w->start_ns : w->end_ns, w->flags);

    e.length_ns = nominal_ns;
    if (stamped)
        return e;
    /* Stamped at its end: the start lies a length before it that nobody measured. */
    e.early_ns -= length_most_ns(p->bench, nominal_ns);
    e.late_ns -= length_least_ns(p->bench, nominal_ns);
    return e;
}

struct edge edge_end(const struct port *p, const struct wire *w)
{
    int64_t     nominal_ns = w->end_ns - w->start_ns;
    bool        stamped = w->measured || (w->flags & RECORD_END_TIME);
    struct edge e = edge_at(p, EDGE_END, w->frame, stamped ? w->end_ns : w->start_ns, w->flags);

    e.length_ns = nominal_ns;
    if (stamped)
        return e;
    e.early_ns += length_least_ns(p->bench, nominal_ns);
    e.late_ns += length_most_ns(p->bench, nominal_ns);
    return e;
}

struct edge edge_done(const struct port *p, const struct sent *m)
{
    struct wire w = sent_goodcrc(m);

    if (m->delivery == DELIVERY_PROVEN && w.frame) {
        struct edge e = edge_end(p, &w);

        e.kind = EDGE_DONE;
        return e;
    }
    w = sent_last(m);
    struct edge e = edge_end(p, &w);

    e.kind = EDGE_DONE_UNSEEN;
    e.late_ns += bench_limits(p->bench)->receive_most_ns;
    return e;
}

struct wire record_wire(const struct record *r)
{
    return (struct wire){ .frame = r->frame, .start_ns = r->t_ns, .end_ns = r->t_ns + record_span_ns(r), .flags = r->flags,
                          .measured = r->duration_ns != 0 };
}

/* Readings may have a clock of their own. Between them and something else the worse of both counts. */
static double clock_between(const struct port *p, const struct edge *from, const struct edge *to, bool *known)
{
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);
    bool   own = i->given & ABOUT_POWER_CLOCK_PPM && (from->kind == EDGE_ROW || to->kind == EDGE_ROW);
    bool   common = i->given & ABOUT_CLOCK_PPM && !(own && from->kind == EDGE_ROW && to->kind == EDGE_ROW);
    double ppm = common ? i->clock_ppm : 0;

    *known = own || common;
    return own && i->power_clock_ppm > ppm ? i->power_clock_ppm : ppm;
}

struct span span_between(const struct port *p, struct edge from, struct edge to)
{
    struct span s = { .from = from, .to = to, .low_ns = to.early_ns - from.late_ns, .high_ns = to.late_ns - from.early_ns };
    double      ppm = clock_between(p, &from, &to, &s.has_clock);

    if (ppm > 0) {
        double  length_ns = (double)(s.high_ns > 0 ? s.high_ns : 0);
        double  off_ns = 2e-6 * ppm * length_ns;
        int64_t clock_ns = off_ns < 1e15 ? (int64_t)(off_ns + 0.5) : INT64_C(1000000000000000);

        s.low_ns -= clock_ns;
        s.high_ns += clock_ns;
    }
    return s;
}

struct window window_of(const struct parameter *q)
{
    struct window w = { .has_low = q->min != PARAMETER_NONE, .has_high = q->max != PARAMETER_NONE, .parameter = q };
    int64_t       unit_ns = strcmp(q->unit, "s") == 0 ? 1000000 : strcmp(q->unit, "us") == 0 ? 1 : 1000; /* of a thousandth */

    w.low_ns = w.has_low ? q->min * unit_ns : 0;
    w.high_ns = w.has_high ? q->max * unit_ns : 0;
    return w;
}

enum fit span_fit(const struct span *s, const struct window *w)
{
    return range_fit(s->low_ns, s->high_ns, w->has_low ? w->low_ns : INT64_MIN, w->has_high ? w->high_ns : INT64_MAX);
}
