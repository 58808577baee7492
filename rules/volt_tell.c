/* What a finding about a reading says, and how many of them are judged against limits. */
#include "rules/engine_inside.h"
#include "rules/uncertainty.h"
#include "rules/volt_checks.h"

enum { UV_A_MV = 1000, UV_A_V = 1000000, SPOKEN_FOR_NS = 100000000, MEAN_NS = 10000000 /* the longest of which a value is the mean */ };

struct outcome volt_outcome(const struct judge *j, const struct rail_value *v, int64_t low_uv, int64_t high_uv, int64_t u_uv,
                            unsigned player, uint64_t opened_frame)
{
    struct outcome o = judge_outcome_at(j, v->frame, v->t_ns);

    o.player = (uint8_t)player;
    o.has_low = low_uv != INT64_MIN;
    o.has_high = high_uv != INT64_MAX;
    o.values[0] = v->uv / UV_A_MV;
    o.values[1] = o.has_low ? low_uv / UV_A_MV : 0;
    o.values[2] = o.has_high ? high_uv / UV_A_MV : 0;
    o.has_measured = o.has_uncertainty = o.has_probability = true;
    o.measured = v->uv;
    o.low = low_uv;
    o.high = high_uv;
    o.uncertainty = u_uv;
    o.probability = conformance_probability(v->uv, u_uv, low_uv, high_uv);
    o.per_unit = UV_A_V;
    o.unit = "V";
    outcome_evidence(&o, opened_frame);
    outcome_evidence(&o, v->frame);
    return o;
}

void volt_hold(struct judge *j, const struct port *p, const struct outcome *o, int64_t since_ns)
{
    struct volt_held *h = judge_state(j, p);

    j->book->holding += !h->held;
    *h = (struct volt_held){ .outcome = *o, .since_ns = since_ns, .held = true };
}

void volt_release(struct judge *j, const struct port *p)
{
    if (j->book->holding == 0)
        return;
    struct volt_held *h = judge_state(j, p);

    j->book->holding -= h->held;
    if (h->held && !judge_silenced_since(j, h->since_ns))
        judge_fail(j, &h->outcome);
    h->held = false;
}

void volt_undecided(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, unsigned sentence, enum cause cause)
{
    if (judge_unheard(j, t_ns, cause, 0))
        return;
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player;
    o.sentence = (uint8_t)sentence;
    outcome_evidence(&o, frame);
    judge_undecided(j, &o, cause);
}

/*
 * Another finding speaks for a value from its own moment on, or a little before it, as blocks of readings go; a drop under load for
 * all values with a load. What was wrong before stands for itself.
 */
bool volt_spoken_for(const struct judge *j, const struct rail_steady *s, const struct rail_value *v)
{
    bool load = v->ua != RECORD_NO_READING && v->ua >= (int64_t)s->contract.ma * 100;

    return judge_silenced_between(j, s->from_ns, v->t_ns + SPOKEN_FOR_NS) ||
           (load && judge_silenced_since(j, s->from_ns) && judge_failed_since(j, "volt.drop-under-load", s->from_ns));
}

bool volt_untied(const struct judge *j, const struct rail_steady *s, int64_t from_ns, int64_t to_ns)
{
    int64_t apart_ns = rail_align_ns(j->book->port);

    /* Where VBUS alone shows the plug, somebody else may have been plugged in since. */
    if (apart_ns > 0 && !j->book->port->cc_seen && j->book->port->missed_ns > s->from_ns)
        return true;
    return apart_ns > 0 && (from_ns < s->from_ns + apart_ns || to_ns + MEAN_NS > s->paused_ns - apart_ns);
}

void volt_sparse(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, unsigned sentence, int64_t spacing_ns)
{
    if (judge_unheard(j, t_ns, CAUSE_RATE, spacing_ns))
        return;
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player;
    o.sentence = (uint8_t)sentence;
    o.spacing_ns = spacing_ns;
    outcome_evidence(&o, frame);
    judge_undecided(j, &o, CAUSE_RATE);
}

void volt_judge_fit(struct judge *j, const struct rail_fit *f, const struct rail_steady *s, const struct volt_says *says,
                    const struct parameter *parameter, enum cause doubt, uint64_t needs)
{
    const struct rail_value *v;
    enum rail_side           side = rail_fit_side(f, &v);
    uint64_t                 opened = s->contract.frame;

    if (side == RAIL_INSIDE && f->count < needs) {
        if (!judge_silenced_since(j, s->from_ns))
            volt_undecided(j, opened, s->from_ns, s->player, says->few, s->doubt != CAUSE_NONE ? s->doubt : CAUSE_NO_READING);
        return;
    }
    if (side == RAIL_INSIDE) {
        judge_pass_at(j, s->from_ns);
        return;
    }
    if (volt_spoken_for(j, s, v))
        return;
    struct outcome o = volt_outcome(j, v, f->low_uv, f->high_uv, judge_value_uncertainty(j, f, v), s->player, opened);

    o.parameter = parameter;
    /* Where something else than the reading leaves it open, it is said what was read. */
    if (side == RAIL_UNSURE && f->low_uv != INT64_MIN && v->uv + o.uncertainty < f->low_uv)
        o.sentence = says->below;
    else if (side == RAIL_UNSURE && f->high_uv != INT64_MAX && v->uv - o.uncertainty > f->high_uv)
        o.sentence = says->above;
    else
        o.sentence = side == RAIL_BELOW ? says->below : side == RAIL_ABOVE ? says->above : says->unsure;
    if (side == RAIL_UNSURE)
        judge_undecided(j, &o, s->doubt != CAUSE_NONE && v->t_ns >= s->doubt_ns ? s->doubt : CAUSE_UNCERTAINTY);
    else if (doubt != CAUSE_NONE)
        judge_undecided(j, &o, doubt);
    else if (volt_untied(j, s, v->t_ns, v->t_ns))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}
