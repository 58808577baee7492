/* What VBUS did, as JSON. */
#include "cli/volts.h"
#include "cli/volts_tell.h"
#include "decode/field.h"

#include <math.h>

static void time_json(struct json *j, const char *key, bool known, const struct volt_time *t)
{
    if (!known) {
        json_null(j, key);
        return;
    }
    json_object(j, key);
    json_i64(j, "least_ns", t->least_ns);
    if (t->most_ns == INT64_MAX)
        json_null(j, "most_ns");
    else
        json_i64(j, "most_ns", t->most_ns);
    json_object_end(j);
}

static void current_json(struct json *j, const char *key, int32_t ua)
{
    if (ua == RECORD_NO_READING)
        json_null(j, key);
    else
        json_i64(j, key, ua);
}

static void value_json(struct json *j, const char *key, const struct volt_value *v, int64_t zero_ns)
{
    if (!v->frame) {
        json_null(j, key);
        return;
    }
    json_object(j, key);
    json_i64(j, "uv", v->uv);
    current_json(j, "ua", v->ua);
    json_i64(j, "t_ns", v->t_ns - zero_ns);
    json_u64(j, "frame", v->frame);
    json_object_end(j);
}

static void spacing_json(struct json *j, int64_t ns)
{
    if (ns > 0)
        json_i64(j, "spacing_ns", ns);
    else
        json_null(j, "spacing_ns");
}

static void point_json(struct json *j, const struct contract *k)
{
    json_u64(j, "position", k->position);
    json_text(j, "supply", supply_name(k->supply));
    json_i64(j, "mv", k->mv);
    json_i64(j, "ma", k->ma);
    if (k->mw)
        json_i64(j, "mw", k->mw);
}

static void beyond_json(struct json *j, const char *key, const char *how_long, const struct volt_change *v, int64_t uv, const struct volt_time *t)
{
    bool known = v->limits_known && v->highest.frame;

    if (known)
        json_i64(j, key, uv);
    else
        json_null(j, key);
    time_json(j, how_long, known, t);
}

static void change_json(struct json *j, const struct volt_change *v, int64_t zero_ns)
{
    if (!v->seen) {
        json_null(j, "change");
        return;
    }
    json_object(j, "change");
    json_u64(j, "request_frame", v->request_frame);
    json_u64(j, "accept_frame", v->accept_frame);
    json_i64(j, "accept_t_ns", v->accept_ns - zero_ns);
    if (v->ready_frame)
        json_u64(j, "ready_frame", v->ready_frame);
    else
        json_null(j, "ready_frame");
    json_bool(j, "another_level", v->level);
    time_json(j, "ready", v->timed && v->ready_frame, &v->ready);
    time_json(j, "begins_to_move", v->timed && v->moved, &v->move);
    time_json(j, "reached", v->timed && v->reached, &v->reach);
    json_bool(j, "reached_late", v->late);
    json_bool(j, "inside_throughout", v->inside);
    json_u64(j, "readings", v->readings);
    spacing_json(j, v->spacing_ns);
    value_json(j, "highest", &v->highest, zero_ns);
    value_json(j, "lowest", &v->lowest, zero_ns);
    beyond_json(j, "overshoot_uv", "overshoot", v, v->over_uv, &v->over);
    beyond_json(j, "undershoot_uv", "undershoot", v, v->under_uv, &v->under);
    json_bool(j, "extremes_are_least", v->slow);
    json_bool(j, "records_missing", v->doubt != CAUSE_NONE);
    json_object_end(j);
}

static void window_json(struct json *j, const struct volt_line *l)
{
    if (!l->window.known) {
        json_null(j, "window");
        return;
    }
    json_object(j, "window");
    json_text(j, "parameter", l->window.parameter ? l->window.parameter->name : NULL);
    json_i64(j, "low_uv", l->window.low_uv);
    json_i64(j, "high_uv", l->window.high_uv);
    json_bool(j, "high_side_only", l->high_only);
    json_object_end(j);
}

static void static_json(struct json *j, const struct volt_line *l, int64_t zero_ns)
{
    json_object(j, "static");
    json_u64(j, "count", l->statics);
    json_u64(j, "left_out", l->left_out);
    json_u64(j, "fewest_readings", l->thinnest);
    if (l->median_known)
        json_i64(j, "median_uv", l->median_uv);
    else
        json_null(j, "median_uv");
    value_json(j, "min", &l->least, zero_ns);
    value_json(j, "max", &l->most, zero_ns);
    json_object_end(j);
    if (!l->margin.known) {
        json_null(j, "margin");
        return;
    }
    json_object(j, "margin");
    json_i64(j, "uv", l->margin.uv);
    json_i64(j, "uncertainty_uv", l->margin.u_uv);
    json_text(j, "limit", l->margin.low ? "low" : "high");
    value_json(j, "at", &l->margin.value, zero_ns);
    json_object_end(j);
}

static const char *slope_state_name(enum volt_slope_state state)
{
    switch (state) {
    case SLOPE_KNOWN:      return NULL;
    case SLOPE_NO_CURRENT: return "no_current";
    case SLOPE_FEW:        return "few_values";
    case SLOPE_NARROW:     return "loads_too_alike";
    case SLOPE_PATH:       return "path_unknown";
    }
    return NULL;
}

static void slope_json(struct json *j, const struct volt_slope *s, int64_t zero_ns)
{
    bool known = s->state == SLOPE_KNOWN && fabs(s->mohm) < 1e9 && s->u_mohm < 1e9;

    json_object(j, "load_regulation");
    if (known) {
        json_decimal(j, "mohm", llround(s->mohm * 1000), 3);
        json_decimal(j, "uncertainty_mohm", llround(s->u_mohm * 1000), 3);
    } else {
        json_null(j, "mohm");
        json_null(j, "uncertainty_mohm");
    }
    json_text(j, "because", slope_state_name(s->state));
    json_u64(j, "values", s->values);
    value_json(j, "lightest", &s->lightest, zero_ns);
    value_json(j, "heaviest", &s->heaviest, zero_ns);
    json_object_end(j);
}

static void steps_json(struct json *j, const struct volt_steps *s)
{
    json_object(j, "load_steps");
    json_u64(j, "up", s->up);
    json_u64(j, "down", s->down);
    json_u64(j, "current_at_limit", s->limiting);
    json_u64(j, "readings_too_far_apart", s->coarse);
    json_u64(j, "not_settled", s->unsettled);
    json_u64(j, "not_recovered", s->unrecovered);
    if (s->deepest.frame)
        json_i64(j, "deepest_dip_uv", s->deepest.depth_uv);
    else
        json_null(j, "deepest_dip_uv");
    time_json(j, "slowest_recovery", s->slowest.frame, &s->slowest.recovery);
    json_object_end(j);
}

static void contract_line(struct json *j, const struct volt_line *l, int64_t zero_ns)
{
    const struct contract *k = &l->contract;

    json_u64(j, "frame", k->frame);
    json_i64(j, "t_ns", k->t_ns - zero_ns);
    point_json(j, k);
    json_u64(j, "renewed", k->renewed);
    json_i64(j, "until_ns", l->to_ns - zero_ns);
    json_text(j, "ended_by", contract_end_name(k->ended_by));
    change_json(j, &l->change, zero_ns);
    window_json(j, l);
    static_json(j, l, zero_ns);
    json_u64(j, "readings", l->readings);
    spacing_json(j, l->spacing_ns);
    value_json(j, "lowest", &l->lowest, zero_ns);
    value_json(j, "highest", &l->highest, zero_ns);
    time_json(j, "outside", l->window.known && l->readings, &l->outside);
    json_u64(j, "times_outside", l->outside_count);
    slope_json(j, &l->slope, zero_ns);
    steps_json(j, &l->steps);
    json_bool(j, "records_missing", l->doubt != CAUSE_NONE);
}

static void line_json(struct json *j, const struct volt_line *l, int64_t zero_ns)
{
    json_object(j, NULL);
    json_u64(j, "port", l->port);
    if (l->agreed) {
        contract_line(j, l, zero_ns);
    } else {
        json_null(j, "frame");
        point_json(j, &l->change.asked);
        change_json(j, &l->change, zero_ns);
    }
    json_text(j, "measured_at", l->at_sink ? "sink" : "source");
    if (l->at_sink)
        json_bool(j, "path_known", l->path_known);
    json_bool(j, "uncertainty_assumed", l->assumed);
    json_object_end(j);
}

static void step_json(struct json *j, const struct volt_step *s, int64_t zero_ns)
{
    json_object(j, NULL);
    json_u64(j, "port", s->port);
    json_u64(j, "contract_frame", s->contract_frame);
    json_u64(j, "frame", s->frame);
    json_i64(j, "from_t_ns", s->from_ns - zero_ns);
    json_i64(j, "to_t_ns", s->to_ns - zero_ns);
    json_text(j, "load", s->up ? "up" : "down");
    current_json(j, "from_ua", s->from_ua);
    current_json(j, "to_ua", s->to_ua);
    json_bool(j, "current_at_limit", s->limiting);
    json_i64(j, "before_uv", s->before_uv);
    if (s->settled)
        json_i64(j, "final_uv", s->final_uv);
    else
        json_null(j, "final_uv");
    value_json(j, "extreme", &s->extreme, zero_ns);
    json_i64(j, s->up ? "dip_uv" : "rise_uv", s->depth_uv);
    json_i64(j, "noise_uv", s->noise_uv);
    time_json(j, "outside", s->extreme.frame, &s->outside);
    time_json(j, "beyond_valid", s->extreme.frame, &s->beyond);
    json_bool(j, "in_band_throughout", s->settled && s->in_band);
    time_json(j, "recovery", s->settled && s->recovered, &s->recovery);
    spacing_json(j, s->spacing_ns);
    json_i64(j, "watched_ns", s->watched_ns);
    json_object_end(j);
}

static void rest_json(struct json *j, const struct volts *v)
{
    uint64_t lines = 0, steps = 0;

    for (unsigned port = 0; port < VOLTS_PORTS; port++) {
        const struct volts_rest *r = volts_rest(v, port);

        lines += r ? r->lines : 0;
        steps += r ? r->steps : 0;
    }
    json_u64(j, "volts_left_out", lines);
    json_u64(j, "load_steps_left_out", steps);
}

void volts_json(struct json *j, const struct check *c)
{
    const struct volt_line *l;
    const struct volt_step *s;

    json_array(j, "volts");
    for (size_t k = 0; (l = volts_line(c->volts, k)) != NULL; k++)
        line_json(j, l, c->zero_ns);
    json_array_end(j);
    json_array(j, "load_steps");
    for (size_t k = 0; (s = volts_step(c->volts, k)) != NULL; k++)
        step_json(j, s, c->zero_ns);
    json_array_end(j);
    rest_json(j, c->volts);
}
