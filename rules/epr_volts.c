/* The voltage of a contract outside EPR mode. */
#include "rules/epr_checks.h"

enum { UV_A_MILLI = 1000 }; /* thousandths of a volt */

static int64_t high_limit_uv(struct judge *j)
{
    return judge_parameter(j, HIGH_LIMIT)->max * UV_A_MILLI;
}

/* May a record whose greatest reading this is hold a static value above the limit, or too near it to tell? */
static bool worth_a_look(struct judge *j, const struct port *p, int32_t most_uv)
{
    struct volt_trust    t = volt_trust(j, p);
    const struct reading most = { .uv = most_uv, .ua = RECORD_NO_READING };

    return volt_mean_range(&t, &most, p->contract.ma, 1).high_uv > high_limit_uv(j) / 100 * 95;
}

static void high_stop(struct judge *j, const struct port *p, struct high_state *s)
{
    s->frame = 0;
    judge_read(j, p, false);
}

static void high_begin(struct judge *j, const struct event *e, struct high_state *s)
{
    const struct port *p = e->port;
    bool               inside = s->power_end_ns > e->t_ns; /* the record in hand began before, and goes on */

    high_stop(j, p, s);
    if (e->contract->epr || (p->epr_mode_known && p->epr_mode))
        return;
    s->frame = e->contract->frame;
    s->t_ns = e->contract->t_ns;
    s->read = inside;
    s->unsure = false;
    s->certain = p->epr_mode_known || p->attach_seen != ATTACH_UNSEEN;
    volt_block_start(&s->block);
    if (inside && !s->power_low)
        judge_read(j, p, true);
}

static void high_power(struct judge *j, const struct event *e, struct high_state *s)
{
    int32_t least_uv, most_uv;

    if (!judge_volts_range(j, &least_uv, &most_uv))
        return;
    s->power_end_ns = e->record->t_ns + record_span_ns(e->record);
    s->power_low = !worth_a_look(j, e->port, most_uv);
    if (!s->frame)
        return;
    s->read = true;
    if (s->power_low)
        volt_block_start(&s->block);
    judge_read(j, e->port, !s->power_low);
}

static void high_value(struct judge *j, const struct port *p, struct high_state *s, const struct volt_trust *t, const struct reading *mean,
                       unsigned count)
{
    struct volt_range v = volt_mean_range(t, mean, p->contract.ma, count);
    int64_t           limit_uv = high_limit_uv(j);

    if (v.high_uv <= limit_uv)
        return;
    if (v.low_uv <= limit_uv) {
        s->unsure = true;
        return;
    }
    struct outcome o = judge_outcome_at(j, mean->frame, mean->t_ns);

    o.player = (uint8_t)player_source(p);
    o.sentence = HIGH_ABOVE;
    o.values[0] = mean->uv / 1000;
    o.has_measured = o.has_high = o.has_uncertainty = true;
    o.measured = mean->uv;
    o.uncertainty = (v.high_uv - v.low_uv) / 2;
    o.high = limit_uv;
    o.per_unit = 1000000;
    o.unit = "V";
    o.parameter = judge_parameter(j, HIGH_LIMIT);
    outcome_evidence(&o, s->frame);
    outcome_evidence(&o, mean->frame);
    if (judge_silenced_since(j, s->t_ns)) {
        /* What went wrong is told. */
    } else if (s->certain) {
        judge_fail(j, &o);
    } else {
        judge_undecided(j, &o, CAUSE_BEGINNING);
    }
    high_stop(j, p, s);
}

/* A change is under way from its Accept to some time after its PS_RDY. */
static bool in_transition(struct judge *j, const struct port *p, const struct high_state *s, const struct reading *r)
{
    return (p->request.held && p->request.state == REQUEST_ACCEPTED) || r->t_ns < s->t_ns + judge_window(j, HIGH_AFTER).high_ns;
}

static void high_rows(struct judge *j, const struct port *p, struct high_state *s)
{
    const struct volt_static rule = { .static_ns = judge_window(j, HIGH_STATIC).high_ns,
                                      .transient_ns = judge_window(j, HIGH_TRANSIENT).high_ns,
                                      .step_ua = (int32_t)judge_parameter(j, HIGH_STEP)->max };
    struct volt_trust t = volt_trust(j, p);

    for (unsigned k = 0; k < judge_readings(j) && s->frame; k++) {
        struct reading r = judge_reading(j, k), mean;
        unsigned       count;

        if (r.t_ns < s->t_ns)
            continue;
        if (in_transition(j, p, s, &r))
            volt_block_start(&s->block);
        else if (volt_block_take(&s->block, &rule, &r, &mean, &count))
            high_value(j, p, s, &t, &mean, count);
    }
}

static void high_end(struct judge *j, const struct event *e, struct high_state *s)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome_at(j, s->frame, s->t_ns);
    int64_t            short_ns = judge_window(j, HIGH_AFTER).high_ns + judge_window(j, HIGH_STATIC).high_ns;

    o.player = (uint8_t)player_source(p);
    if (s->read && !s->unsure) {
        judge_pass_at(j, s->t_ns);
    } else if (s->read || e->contract->until_ns - s->t_ns > short_ns) {
        o.sentence = s->read ? HIGH_UNSURE : HIGH_UNREAD;
        judge_undecided(j, &o, s->read ? CAUSE_UNCERTAINTY : CAUSE_NO_READING);
    }
    high_stop(j, p, s);
}

void epr_check_high_voltage(struct judge *j, const struct event *e)
{
    struct high_state *s = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_POWER:
        high_power(j, e, s);
        break;
    case WAKE_READINGS:
        if (s->frame)
            high_rows(j, e->port, s);
        break;
    case EVENT_CONTRACT:
        high_begin(j, e, s);
        break;
    default: /* EVENT_CONTRACT_END */
        if (s->frame)
            high_end(j, e, s);
        break;
    }
}
