/* VBUS and the current while nothing changes. */
#include "rules/engine_inside.h"
#include "rules/volt_checks.h"

enum { UV_OF_MV = 1000, STATICS_NEEDED = 3, UA_A_MA = 1000, UA_A_A = 1000000, COLD_SINCE_NS = 10000000, NEAR_READY_NS = 5000000 };

static const struct volt_says window_says = { WINDOW_BELOW, WINDOW_ABOVE, WINDOW_UNSURE, WINDOW_FEW };

/* Where VBUS was not there at PS_RDY, that is told: what it does counts from 500 ms on. */
static bool ready_failed(const struct judge *j, const struct rail_steady *s, const struct rail_fit *f)
{
    const struct rail_value *v;

    return rail_fit_side(f, &v) != RAIL_INSIDE && judge_failed_since(j, "volt.ready-inside-window", s->from_ns - 2 * NEAR_READY_NS);
}

const struct rail_fit *volt_values(const struct judge *j, const struct rail_steady *s)
{
    return ready_failed(j, s, &s->values) ? &s->later : &s->values;
}

/* Did it last long enough for as many static values as it takes, if they had been read? */
static bool long_enough(struct judge *j, const struct rail_steady *s)
{
    return s->to_ns - s->from_ns >= judge_window(j, WINDOW_TRANSITION).high_ns + STATICS_NEEDED * judge_window(j, WINDOW_STATIC).high_ns;
}

void volt_check_safe5v(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (s->statics > 0 && !judge_silenced_since(j, s->from_ns))
        volt_judge_fit(j, &s->values, s, &window_says, s->window.parameter, CAUSE_NONE, 1);
}

void volt_check_contract(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (s->contract.supply == SUPPLY_PPS || !s->window.known)
        return;
    if (s->values.count < STATICS_NEEDED && !long_enough(j, s))
        return;
    volt_judge_fit(j, volt_values(j, s), s, &window_says, s->window.parameter, CAUSE_NONE, STATICS_NEEDED);
}

void volt_check_transient(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (s->contract.supply == SUPPLY_PPS || !s->window.known || (s->peaks.count == 0 && !long_enough(j, s)))
        return;

    const struct rail_fit   *f = ready_failed(j, s, &s->peaks) ? &s->peaks_later : &s->peaks;
    const struct rail_value *v;

    /* Where volt.contract-window speaks for some peaks, another one is told, but no pass. */
    if (s->peaks_left_out && rail_fit_side(f, &v) == RAIL_INSIDE)
        return;
    volt_judge_fit(j, f, s, &window_says, judge_parameter(j, WINDOW_VALID), s->fast_step ? CAUSE_LOAD : CAUSE_NONE, 1);
}

void volt_check_cold(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;
    const struct about_port  *about = judge_about(j, e->port);

    if (s->statics == 0 || about->plug == ABOUT_TYPE_A || about->plug == ABOUT_CAPTIVE || about->plug == ABOUT_PLUG_OTHER ||
        judge_silenced_since(j, s->from_ns - COLD_SINCE_NS))
        return;
    volt_judge_fit(j, &s->values, s, &window_says, s->window.parameter, CAUSE_NONE, 1);
}

/* volt.level-not-reached */

void volt_check_reached(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;
    int64_t                   within_ns = judge_window(j, REACH_WITHIN).high_ns;

    (void)e;
    if (!s->window.known || s->limitings > 0 || s->to_ns - s->from_ns < within_ns || judge_silenced_since(j, s->from_ns))
        return;
    if (s->reached_surely.frame && s->reached_surely.t_ns - s->from_ns <= within_ns) {
        judge_pass_at(j, s->from_ns);
    } else if (s->reached.frame && s->reached.t_ns - s->from_ns <= within_ns) {
        struct outcome o = volt_outcome(j, &s->reached, s->peaks.low_uv, s->peaks.high_uv, judge_value_uncertainty(j, &s->values, &s->reached),
                                        s->player, s->contract.frame);

        o.sentence = REACH_UNSURE;
        o.parameter = s->window.parameter;
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    } else if (s->statics == 0 || s->first_static.t_ns - s->from_ns > within_ns || s->high_only) {
        if (s->statics == 0 || s->first_static.t_ns - s->from_ns > within_ns)
            volt_undecided(j, s->contract.frame, s->from_ns, s->player, REACH_UNREAD, CAUSE_NO_READING);
    } else {
        struct outcome o = volt_outcome(j, &s->first_static, s->peaks.low_uv, s->peaks.high_uv,
                                        judge_value_uncertainty(j, &s->values, &s->first_static), s->player, s->contract.frame);

        o.sentence = REACH_NEVER;
        o.values[5] = within_ns;
        o.parameter = s->window.parameter;
        if (s->doubt != CAUSE_NONE && s->doubt_ns <= s->from_ns + within_ns)
            judge_undecided(j, &o, s->doubt);
        else if (volt_untied(j, s, s->from_ns + within_ns, s->first_static.t_ns))
            judge_undecided(j, &o, CAUSE_TIE);
        else
            judge_fail(j, &o);
    }
}

/* volt.unasked-change */

void volt_check_unasked(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (!s->window.known || s->statics == 0 || judge_silenced_since(j, s->from_ns))
        return;
    const struct rail_level *a = s->level.found ? &s->level : &s->level_may;

    if (!a->found) {
        judge_pass_at(j, s->from_ns);
        return;
    }
    struct outcome o = volt_outcome(j, &a->first, s->window.low_uv, s->window.high_uv, judge_value_uncertainty(j, &s->values, &a->first),
                                    s->player, s->contract.frame);

    o.sentence = !s->level.found ? UNASKED_UNSURE : a->early ? UNASKED_EARLY : UNASKED_LEVEL;
    o.values[3] = s->contract.mv;
    o.values[5] = a->to_ns - a->first.t_ns;
    o.parameter = s->window.parameter;
    if (!s->level.found)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (s->overloads)
        judge_undecided(j, &o, CAUSE_LOAD);
    else if (s->doubt != CAUSE_NONE && s->level.to_ns >= s->doubt_ns)
        judge_undecided(j, &o, s->doubt);
    else if (volt_untied(j, s, a->first.t_ns, a->to_ns))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

/* volt.drop-under-load */

/* No drop was seen for sure. */
static void no_drop(struct judge *j, const struct rail_steady *s)
{
    struct outcome o = volt_outcome(j, &s->drop.may_first, s->peaks.low_uv, INT64_MAX, judge_value_uncertainty(j, NULL, &s->drop.may_first),
                                    s->player, s->contract.frame);

    if (s->drop.may) {
        o.sentence = DROP_UNSURE;
        o.values[3] = s->drop.may_first.ua / UA_A_MA;
        o.parameter = s->window.parameter;
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    } else if (s->spacing_most_ns > judge_window(j, DROP_FOR).high_ns) {
        volt_sparse(j, s->contract.frame, s->from_ns, s->player, DROP_SPARSE, s->spacing_most_ns);
    } else {
        judge_pass_at(j, s->from_ns);
    }
}

void volt_check_drop(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (!s->loaded || !s->window.known || s->limitings)
        return;
    if (!s->drop.found) {
        if (!judge_silenced_since(j, s->from_ns))
            no_drop(j, s);
        return;
    }
    if (volt_spoken_for(j, s, &s->drop.first))
        return;
    struct outcome o = volt_outcome(j, &s->drop.first, s->peaks.low_uv, INT64_MAX, judge_value_uncertainty(j, NULL, &s->drop.first),
                                    s->player, s->contract.frame);

    o.sentence = DROP_LONG;
    o.values[3] = s->drop.first.ua / UA_A_MA;
    o.values[5] = s->drop.last.t_ns - s->drop.first.t_ns;
    o.parameter = s->window.parameter;
    if (s->drop.unloaded)
        judge_undecided(j, &o, CAUSE_LOAD);
    else if (s->doubt != CAUSE_NONE && s->drop.last.t_ns >= s->doubt_ns)
        judge_undecided(j, &o, s->doubt);
    else if (volt_untied(j, s, s->drop.first.t_ns, s->drop.last.t_ns))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

/* volt.sink-over-contract, volt.reverse-current */

static struct outcome amp_outcome(const struct judge *j, const struct rail_value *v, uint64_t count, unsigned player, uint64_t opened)
{
    struct outcome o = judge_outcome_at(j, v->frame, v->t_ns);

    o.player = (uint8_t)player;
    o.has_measured = o.has_uncertainty = true;
    o.measured = v->ua;
    o.uncertainty = judge_amp_uncertainty(j, v, count);
    o.per_unit = UA_A_A;
    o.unit = "A";
    o.values[0] = v->ua / UA_A_MA;
    outcome_evidence(&o, opened);
    outcome_evidence(&o, v->frame);
    return o;
}

void volt_check_over(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;
    const struct contract    *c = &s->contract;
    int64_t                   margin_ua = judge_parameter(j, 0)->max;

    (void)e;
    if (c->supply == SUPPLY_PPS || s->load.count == 0 || (c->most_ma <= 0 && c->most_mw <= 0))
        return;
    const struct rail_value *v;
    enum rail_side           side = rail_amps_side(&s->load.over, s->load.count, &v);

    if (side == RAIL_INSIDE) {
        judge_pass_at(j, s->from_ns);
        return;
    }
    struct outcome o = amp_outcome(j, v, s->load.count, player_other(s->player), c->frame);

    o.sentence = side == RAIL_ABOVE ? LOAD_OVER : LOAD_UNSURE;
    o.has_high = c->most_mw <= 0 || v->uv >= UV_OF_MV;
    o.high = (c->most_mw <= 0 ? (int64_t)c->most_ma * UA_A_MA : o.has_high ? (int64_t)c->most_mw * UA_A_A / (v->uv / UV_OF_MV) : 0) + margin_ua;
    o.values[1] = o.high / UA_A_MA;
    o.values[2] = c->most_mw;
    o.parameter = judge_parameter(j, 0);
    if (side == RAIL_ABOVE && s->doubt == CAUSE_NONE && volt_untied(j, s, v->t_ns, v->t_ns))
        judge_undecided(j, &o, CAUSE_TIE);
    else if (side == RAIL_ABOVE && (s->doubt == CAUSE_NONE || v->t_ns < s->doubt_ns))
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, side == RAIL_ABOVE ? s->doubt : CAUSE_UNCERTAINTY);
}

void volt_check_reverse(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    if (judge_about(j, e->port)->kind != ABOUT_SOURCE || s->load.count == 0)
        return;
    const struct rail_value *v;
    enum rail_side           side = rail_amps_side(&s->load.back, s->load.count, &v);

    if (side == RAIL_INSIDE) {
        judge_pass_at(j, s->from_ns);
        return;
    }
    struct outcome o = amp_outcome(j, v, s->load.count, s->player, s->contract.frame);

    o.sentence = side == RAIL_ABOVE ? LOAD_OVER : LOAD_UNSURE;
    o.has_low = true;
    o.low = -judge_parameter(j, 0)->max;
    o.values[1] = o.low / UA_A_MA;
    o.parameter = judge_parameter(j, 0);
    if (side == RAIL_ABOVE && volt_untied(j, s, v->t_ns, v->t_ns))
        judge_undecided(j, &o, CAUSE_TIE);
    else if (side == RAIL_ABOVE)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
}
