/* Time of a port, its duties while nothing is said, and one step after the other. */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

#include <string.h>

/* Noise, loads and the shape of a ramp move the moment at which VBUS passes a level by less than MODEL_MARGIN_NS. */
enum { MS_NS = 1000000, SLICE_MS = 1000, MODEL_MARGIN_NS = 2 * MS_NS };

bool synth_both(const struct life *l, unsigned edition)
{
    return l->partner[0].edition >= edition && l->partner[1].edition >= edition;
}

void synth_to(struct life *l, int64_t t_ns)
{
    if (t_ns <= l->now_ns)
        return;
    while (l->rp_ok_ns <= t_ns) {
        if (l->rp_ok_ns > l->now_ns)
            l->now_ns = l->rp_ok_ns;
        synth_power_to(l, l->now_ns);
        synth_rp(l, RP_3_0);
    }
    l->now_ns = t_ns;
    synth_power_to(l, t_ns);
}

void synth_idle(struct life *l, int64_t us)
{
    synth_to(l, l->now_ns + us * 1000);
}

int64_t synth_margin_ns(const struct life *l)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  edge = 2 * (i->host_time ? i->host_time_ns : i->time_ns) + i->step_ns;

    return 3 * edge + (i->durations ? 0 : 160000);
}

/* Whose times are made wrong, where both sides have such a time: the side that the catalogue's faults are about. */
static bool may_fail(const struct life *l, enum synth_timer timer, unsigned player)
{
    if (player == PLAYER_PLUG)
        return false;
    if (timer == TIMER_GOODCRC || timer == TIMER_CHUNK_REQUEST)
        return l->contract && player == sink_of(l);
    return timer != TIMER_CHUNK_RESPONSE || player == l->source;
}

static int64_t legal_within_ns(struct life *l, enum synth_timer timer, int64_t more_ns)
{
    const struct synth_timer_row *row = &synth_timer_rows[timer];
    int64_t least = row->least_us * 1000, most = row->most_us * 1000;
    int64_t margin = more_ns + synth_margin_ns(l) + most / 1000000 * 4 * l->plan->instrument.clock_ppm;

    if (most - least <= 2 * margin)
        return (least + most) / 2;
    return chance_between(&l->chance, least + margin, most - margin);
}

static int64_t legal_ns(struct life *l, enum synth_timer timer)
{
    return legal_within_ns(l, timer, 0);
}

int64_t synth_draw_ns(struct life *l, enum synth_timer timer, unsigned player)
{
    const struct injected *f = may_fail(l, timer, player) ? synth_fault(l, synth_timer_rows[timer].number.timer) : NULL;

    if (!f || !f->plan->has_amount)
        return legal_ns(l, timer);
    synth_blame_next(l, f, player);
    return f->plan->amount_ns;
}

int64_t synth_draw_vbus_ns(struct life *l, enum synth_timer timer, int64_t from_ns, bool above, int32_t uv)
{
    return synth_draw_off_ns(l, timer, from_ns, above, uv, 0);
}

int64_t synth_draw_off_ns(struct life *l, enum synth_timer timer, int64_t from_ns, bool above, int32_t uv, int64_t natural_ns)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, synth_timer_rows[timer].number.timer) : NULL;

    if (!f || !f->plan->has_amount)
        return natural_ns ? natural_ns : l->modelled ? legal_within_ns(l, timer, MODEL_MARGIN_NS) : legal_ns(l, timer);
    synth_blame_reading(l, f, l->source, from_ns, above, uv);
    return f->plan->amount_ns;
}

void synth_wait(struct life *l, enum synth_timer timer, unsigned player)
{
    synth_to(l, l->now_ns + synth_draw_ns(l, timer, player));
}

void synth_wait_from(struct life *l, int64_t edge_ns, enum synth_timer timer, unsigned player)
{
    synth_to(l, edge_ns + synth_draw_ns(l, timer, player));
}

/* What the contract asks for while nothing else is said: since which edge, and which timer. False: nothing. */
static bool duty(const struct life *l, int64_t *edge_ns, enum synth_timer *timer)
{
    *edge_ns = l->epr_mode ? l->sink_end_ns : l->request_end_ns;
    *timer = l->epr_mode ? TIMER_EPR_KEEPALIVE : TIMER_PPS_KEEPALIVE;
    return l->epr_mode || (l->contract && l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS);
}

bool synth_live_until(struct life *l, int64_t t_ns)
{
    int64_t                edge;
    enum synth_timer       timer;
    const struct injected *f;

    while (duty(l, &edge, &timer)) {
        int64_t due = edge + legal_ns(l, timer);

        if (due >= t_ns)
            break;
        /* Only a duty that falls due can be late. */
        f = synth_fault(l, synth_timer_rows[timer].number.timer);
        if (f && f->plan->has_amount) {
            /* The rule about EPR mode counts from the last message of either side. */
            due = (l->epr_mode ? l->sent_end_ns : edge) + f->plan->amount_ns;
            synth_blame_next(l, f, sink_of(l));
        }
        if (due < l->now_ns + MS_NS)
            due = l->now_ns + MS_NS; /* overdue since an exchange that has just ended */
        synth_to(l, due);
        if (!(l->epr_mode ? synth_keep_alive(l) : synth_repeat_request(l)))
            return false;
        /* What comes next does not follow on the heels of it. */
        if (t_ns < l->now_ns + 2 * MS_NS)
            t_ns = l->now_ns + 2 * MS_NS;
    }
    synth_to(l, t_ns);
    return true;
}

void synth_open_exchange(struct life *l, unsigned player)
{
    /* A duty that broke off may have led to a new contract: the same holds in it. */
    (void)synth_live_until(l, l->now_ns + chance_between(&l->chance, 3, l->epr_mode ? 40 : 120) * MS_NS);
    if (!l->contract || !revision_3(l))
        return;
    if (player == l->source) {
        if (l->rp != RP_1_5)
            synth_rp(l, RP_1_5);
        l->rp_ok_ns = INT64_MAX;
        synth_wait_from(l, l->rp_since_ns, TIMER_SINK_TX, player);
    } else {
        if (l->rp != RP_3_0)
            synth_to(l, l->rp_ok_ns < INT64_MAX ? l->rp_ok_ns : l->now_ns);
        synth_rp(l, RP_3_0);
        synth_to(l, l->rp_since_ns + 9 * MS_NS + 3 * synth_margin_ns(l));
        faults_packet_sink_begins(l);
    }
}

void synth_close_exchange(struct life *l)
{
    if (l->rp == RP_1_5 && l->rp_ok_ns == INT64_MAX)
        l->rp_ok_ns = l->now_ns + synth_draw_ns(l, TIMER_SRC_HOLDS_BUS, l->source);
}

void life_begin(struct life *l, struct synth *s, unsigned index)
{
    const struct port_plan *p = &s->plan.ports[index];

    synth_queue_free(l);
    memset(l, 0, sizeof *l);
    l->plan = &s->plan;
    l->s = s;
    l->index = index;
    l->port = (uint8_t)p->port;
    l->chance = chance_of(s->plan.seed, index + 1);
    l->now_ns = l->last_stamp_ns = l->power_from_ns = SYNTH_BEGIN_NS + (int64_t)(index + 1) * 3 * MS_NS;
    struct chance own = chance_of(s->plan.seed, UINT64_C(1) << 32 | index);

    l->vbus_ppm = chance_between(&own, -8000, 8000);
    l->volts = own;
    l->edges = chance_of(s->plan.seed, UINT64_C(2) << 32 | index);
    volts_begin(l);
    memcpy(l->partner, p->partner, sizeof l->partner);
    l->plug = p->plug;
    for (unsigned k = 0; k < PLAYERS; k++)
        l->bit_ps[k] = chance_between(&l->chance, 3120000, 3600000);
    l->vconn = l->dfp = l->source = PLAYER_FIRST;
    l->rp_ok_ns = INT64_MAX;
    l->serial = (uint64_t)index << 48;
    l->muted = p->in_contract;
    if (!l->muted)
        synth_put_cc(l, 0, 0);
}

static bool next_step(struct life *l, struct step *out)
{
    const struct port_plan *p = &l->plan->ports[l->index];

    if (p->random_steps)
        return synth_step_draw(l, out);
    if (l->step >= p->step_count)
        return false;
    *out = p->steps[l->step++];
    return true;
}

/* How far the farthest of the other ports is; all_told: and whether none has a step left. */
static int64_t others_ns(const struct life *l, bool *all_told)
{
    const struct synth *s = l->s;
    int64_t             t_ns = 0;

    *all_told = l->told;
    for (unsigned k = 0; k < s->plan.port_count; k++) {
        if (&s->lives[k] != l && s->lives[k].now_ns > t_ns)
            t_ns = s->lives[k].now_ns;
        *all_told = *all_told && s->lives[k].told;
    }
    return t_ns;
}

/* A block of readings bears the time of its first one: it is out before the others go on. */
bool life_waits(const struct life *l)
{
    bool    all_told;
    int64_t t_ns = others_ns(l, &all_told);

    return l->told && !all_told && (l->plan->instrument.power ? l->power_from_ns : l->now_ns) >= t_ns;
}

/* A partner does not fall silent because its story ends: all go on until the last one is told, and a little longer. */
static void outlive(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;
    bool                     all_told;
    int64_t                  until_ns;

    l->told = true;
    until_ns = others_ns(l, &all_told);
    if (all_told && l->s->end_ns == 0)
        l->s->end_ns = (l->now_ns > until_ns ? l->now_ns : until_ns) + 400 * MS_NS;
    if (all_told)
        until_ns = l->s->end_ns;
    else if (i->power)
        until_ns += 2 * i->power_interval_us * i->power_rows * 1000;
    if (l->now_ns < until_ns && (l->epr_mode || l->s->plan.port_count > 1) && !l->muted)
        (void)synth_live_until(l, until_ns);
    synth_to(l, until_ns);
    if (!all_told)
        return;
    synth_power_close(l);
    l->over = true;
}

void life_go_on(struct life *l)
{
    struct step s;

    synth_queue_tidy(l);
    if (l->idle_until_ns > l->now_ns) {
        int64_t slice = l->now_ns + (int64_t)SLICE_MS * MS_NS;

        if (!synth_live_until(l, slice < l->idle_until_ns ? slice : l->idle_until_ns))
            l->idle_until_ns = l->now_ns;
        return;
    }
    if (!next_step(l, &s)) {
        outlive(l);
        return;
    }
    synth_step_do(l, &s);
    synth_close_exchange(l);
    if (l->contract && !l->muted)
        (void)(faults_packet_idle(l) && faults_message_idle(l) && faults_exchange_idle(l) && faults_reset_idle(l) && faults_epr_idle(l) && faults_caps_idle(l) && faults_cable_idle(l) &&
               faults_alive_idle(l) && faults_volt_idle(l) && faults_pps_idle(l));
    if (l->muted && l->contract) {
        synth_idle(l, 500000);
        l->muted = false;
        l->power_from_ns = l->now_ns;
        l->rows = 0;
    }
}

void life_free(struct life *l)
{
    synth_queue_free(l);
}
