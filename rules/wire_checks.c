/* The line itself: CRCs, the bit rate, the quiet between packets. */
#include "rules/line_checks.h"

#define BITS_A_NS INT64_C(1000000000) /* of one bit/s */

struct outcome line_outcome(struct judge *j)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o = judge_outcome_at(j, c->frame, c->t_ns);

    if (judge_rule(j)->whom == WHO_EACH)
        outcome_by(&o, c->side, c->player);
    o.sentence = c->says;
    o.subjects[0] = c->subjects[0];
    o.subjects[1] = c->subjects[1];
    o.parameter = c->parameter;
    for (unsigned k = 0; k < c->evidence_count; k++)
        outcome_evidence(&o, c->evidence[k]);
    return o;
}

void line_say(struct judge *j, const struct outcome *o)
{
    const struct line_case *c = judge_line(j);

    if (c->cause == CAUSE_NONE)
        judge_fail(j, o);
    else
        judge_undecided(j, o, c->cause);
}

/* wire.crc */
void wire_check_crc(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->bytes;
    o.values[1] = c->set;
    line_say(j, &o);
}

/* wire.crc-repeated */
void wire_check_crc_repeated(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->count;
    o.values[1] = c->set;
    o.values[2] = c->most;
    o.values[3] = c->side;
    line_say(j, &o);
}

/* wire.bit-rate */
struct window line_length_window(const struct parameter *rate, uint32_t bits)
{
    /* A thousandth of a kbit/s is a bit/s. The whole nanoseconds inside of the window. */
    struct window w = { .parameter = rate, .has_low = rate->max > 0, .has_high = rate->min > 0 };

    w.low_ns = w.has_low ? (bits * BITS_A_NS + rate->max - 1) / rate->max : 0;
    w.high_ns = w.has_high ? bits * BITS_A_NS / rate->min : INT32_MAX;
    return w;
}

/* The same rate as the length of a thousand bits: what is comparable between packets of different lengths. */
static void tell_distribution(struct judge *j, const struct span *s, uint32_t bits)
{
    struct span   of_1000 = *s;
    struct window w = line_length_window(judge_parameter(j, 0), 1000);

    of_1000.low_ns = s->low_ns * 1000 / bits;
    of_1000.high_ns = s->high_ns * 1000 / bits;
    judge_timing(j, &of_1000, &w);
}

static void fill_rate(struct outcome *o, const struct span *s, const struct window *w, const struct line_case *c)
{
    int64_t middle_ns = s->low_ns + (s->high_ns - s->low_ns) / 2;
    int64_t half_ns = (s->high_ns - s->low_ns) / 2;

    o->has_measured = o->has_low = o->has_high = o->has_uncertainty = o->has_span = true;
    o->measured = middle_ns > 0 ? c->bits * BITS_A_NS / middle_ns : 0;
    o->uncertainty = middle_ns > 0 ? (int64_t)((double)o->measured * (double)half_ns / (double)middle_ns + 0.5) : 0;
    o->low = w->parameter->min;
    o->high = w->parameter->max;
    o->has_low = w->has_high;
    o->has_high = w->has_low;
    o->unit = "kbit/s";
    o->parameter = w->parameter;
    o->span = *s;
    o->bits = c->bits;
    o->values[0] = c->index;
    o->values[1] = c->bytes;
    o->values[2] = c->bits;
    o->values[4] = middle_ns;
}

void wire_check_bit_rate(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    const struct port      *p = e->port;
    struct window           w = line_length_window(judge_parameter(j, 0), c->bits);
    struct span             s = span_between(p, edge_start(p, &c->from), edge_end(p, &c->to));
    enum fit                fit = span_fit(&s, &w);

    tell_distribution(j, &s, c->bits);
    if (fit == FIT_INSIDE) {
        judge_pass(j);
        return;
    }
    struct outcome o = line_outcome(j);
    bool           slow = fit == FIT_ABOVE || (fit == FIT_UNSURE && s.high_ns > w.high_ns);

    o.sentence = c->bytes ? (slow ? SAYS_RATE_LOW : SAYS_RATE_HIGH) : (slow ? SAYS_RATE_RESET_LOW : SAYS_RATE_RESET_HIGH);
    fill_rate(&o, &s, &w, c);
    if (fit == FIT_UNSURE)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (c->cause == CAUSE_NONE && c->side == SIDE_UNKNOWN)
        judge_undecided(j, &o, c->bytes ? CAUSE_ROLES : CAUSE_ORIGIN);
    else
        line_say(j, &o);
}

/* wire.inter-frame-gap */
void wire_check_frame_gap(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    const struct port      *p = e->port;
    struct window           w = judge_window(j, 0);
    struct span             s = span_between(p, edge_end(p, &c->from), edge_start(p, &c->to));
    struct outcome          o = line_outcome(j);

    o.values[0] = c->index;
    /* Whose it is, is not known: nobody is accused. */
    judge_time(j, &o, &s, &w, c->side == SIDE_UNKNOWN ? CAUSE_ROLES : CAUSE_NONE, false);
}
