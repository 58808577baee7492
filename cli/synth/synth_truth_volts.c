/* What the truth says of voltages and currents: a line for each contract, kept up to a limit, and for the steps of its load. */
#include "cli/synth/synth_inside.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdlib.h>

enum { CONTRACTS_MAX = 1000, LOADS_MAX = 16, FRAMES_BACK = 64 };

struct load_truth { int64_t t_ns, dip_ns; int32_t from_ua, to_ua, from_uv, to_uv, dip_uv; };

struct contract_truth {
    unsigned          life;
    uint64_t          serial, frame;
    int64_t           t_ns;
    int32_t           mv, ma, set_uv;
    struct move_truth move;
    uint64_t          seen;                 /* instants that were read */
    double            least_v, most_v, least_a, most_a;
    unsigned          loads;                /* more than LOADS_MAX: the rest is left out */
    struct load_truth load[LOADS_MAX];
};

void truth_forget(struct synth *s)
{
    s->contract_count = s->contracts_left_out = 0;
}

void truth_free(struct synth *s)
{
    free(s->contracts);
    s->contracts = NULL;
}

static struct contract_truth *room(struct synth *s)
{
    if (s->contract_count == CONTRACTS_MAX) {
        s->contracts_left_out++;
        return NULL;
    }
    if (s->contract_count == s->contracts_cap) {
        size_t                 cap = s->contracts_cap ? 2 * s->contracts_cap : 16;
        struct contract_truth *more = realloc(s->contracts, cap * sizeof *more);

        if (!more) {
            s->failed = true;
            return NULL;
        }
        s->contracts = more;
        s->contracts_cap = cap;
    }
    return &s->contracts[s->contract_count++];
}

void truth_contract(struct life *l, const struct move_truth *m)
{
    struct contract_truth *c = l->s->counting || l->muted ? NULL : room(l->s);

    l->truth = c ? l->s->contract_count : 0;
    if (!c)
        return;
    *c = (struct contract_truth){ .life = l->index, .serial = l->sent_serial, .mv = l->contract_mv, .ma = l->contract_ma,
                                  .set_uv = wave_end(&l->vbus), .move = *m };
}

static struct contract_truth *contract_of(const struct life *l)
{
    return l->truth && l->contract ? &l->s->contracts[l->truth - 1] : NULL;
}

static int32_t under_load_uv(const struct life *l, int32_t ua)
{
    return wave_end(&l->vbus) - (int32_t)(ua * l->plan->ports[l->index].output.regulation_mohm / 1000);
}

void truth_load(struct life *l, int32_t to_ua)
{
    struct contract_truth *c = contract_of(l);
    int32_t                from_ua = wave_end(&l->ibus);

    if (!c || from_ua == to_ua || ++c->loads > LOADS_MAX)
        return;
    struct ramp r = { .from_ns = l->now_ns, .until_ns = l->now_ns + synth_load_ns(l), .to = to_ua };
    double      dip = l->plan->ports[l->index].output.dip_mohm ? volts_dip(l, &r, from_ua, r.until_ns) : 0;

    c->load[c->loads - 1] = (struct load_truth){ .t_ns = l->now_ns, .from_ua = from_ua, .to_ua = to_ua, .from_uv = under_load_uv(l, from_ua),
                                                 .to_uv = under_load_uv(l, to_ua), .dip_uv = (int32_t)lround(dip * 1e6), .dip_ns = r.until_ns };
}

/* While a change is under way the old contract is over, and the new one has not begun. */
void truth_seen(struct life *l, int64_t t_ns, double volt, double amp)
{
    struct contract_truth *c = contract_of(l);

    if (!c || l->powering || t_ns < l->sent_end_ns)
        return;
    bool first = c->seen++ == 0;

    c->least_v = first || volt < c->least_v ? volt : c->least_v;
    c->most_v = first || volt > c->most_v ? volt : c->most_v;
    c->least_a = first || amp < c->least_a ? amp : c->least_a;
    c->most_a = first || amp > c->most_a ? amp : c->most_a;
}

void truth_frame(struct synth *s, const struct life *l, const struct record_entry *e, uint64_t frame)
{
    size_t back = 0;

    for (size_t k = s->contract_count; k-- > 0 && back++ < FRAMES_BACK;) {
        struct contract_truth *c = &s->contracts[k];

        if (c->frame || c->life != l->index || c->serial != e->serial)
            continue;
        c->frame = frame;
        c->t_ns = e->stamp_ns;
    }
}

static void add_ns(const struct synth *s, cJSON *into, const char *key, int64_t t_ns)
{
    cJSON_AddNumberToObject(into, key, (double)(t_ns - s->first_ns));
}

static void add_move(const struct synth *s, cJSON *into, const struct move_truth *m)
{
    cJSON *move;

    if (!m->begin_ns)
        return;
    move = cJSON_AddObjectToObject(into, "change");
    cJSON_AddNumberToObject(move, "from_uv", m->from_uv);
    add_ns(s, move, "begin_ns", m->begin_ns);
    if (m->window_ns)
        add_ns(s, move, "window_ns", m->window_ns);
    add_ns(s, move, "end_ns", m->end_ns);
    if (!m->over_uv)
        return;
    cJSON_AddNumberToObject(move, "overshoot_uv", m->over_uv);
    add_ns(s, move, "overshoot_ns", m->over_ns);
}

static void add_loads(const struct synth *s, cJSON *into, const struct contract_truth *c)
{
    cJSON   *list = cJSON_AddArrayToObject(into, "loads");
    unsigned kept = c->loads < LOADS_MAX ? c->loads : LOADS_MAX;

    for (unsigned k = 0; k < kept; k++) {
        const struct load_truth *t = &c->load[k];
        cJSON                   *one = cJSON_CreateObject();

        cJSON_AddItemToArray(list, one);
        add_ns(s, one, "t_ns", t->t_ns);
        cJSON_AddNumberToObject(one, "from_ua", t->from_ua);
        cJSON_AddNumberToObject(one, "to_ua", t->to_ua);
        cJSON_AddNumberToObject(one, "from_uv", t->from_uv);
        cJSON_AddNumberToObject(one, "to_uv", t->to_uv);
        cJSON_AddNumberToObject(one, "dip_uv", t->dip_uv);
        add_ns(s, one, "dip_ns", t->dip_ns);
    }
    if (c->loads > kept)
        cJSON_AddNumberToObject(into, "loads_left_out", c->loads - kept);
}

static void add_contract(const struct synth *s, cJSON *list, const struct contract_truth *c)
{
    cJSON *one = cJSON_CreateObject();

    cJSON_AddItemToArray(list, one);
    cJSON_AddNumberToObject(one, "port", s->plan.ports[c->life].port);
    cJSON_AddNumberToObject(one, "frame", (double)c->frame);
    cJSON_AddNumberToObject(one, "t_ns", c->frame ? (double)(c->t_ns - s->first_ns) : 0);
    cJSON_AddNumberToObject(one, "mv", c->mv);
    cJSON_AddNumberToObject(one, "ma", c->ma);
    cJSON_AddNumberToObject(one, "set_uv", c->set_uv);
    if (c->seen) {
        cJSON_AddNumberToObject(one, "vbus_min_uv", (double)llround(c->least_v * 1e6));
        cJSON_AddNumberToObject(one, "vbus_max_uv", (double)llround(c->most_v * 1e6));
        cJSON_AddNumberToObject(one, "ibus_min_ua", (double)llround(c->least_a * 1e6));
        cJSON_AddNumberToObject(one, "ibus_max_ua", (double)llround(c->most_a * 1e6));
    }
    add_move(s, one, &c->move);
    add_loads(s, one, c);
}

static void add_errors(const struct synth *s, cJSON *all)
{
    cJSON *instrument, *volt, *amp;

    if (!s->plan.instrument.errors)
        return;
    instrument = cJSON_AddObjectToObject(all, "instrument");
    cJSON_AddNumberToObject(instrument, "clock_ppm", s->drawn.clock_ppm);
    volt = cJSON_AddObjectToObject(instrument, "volt");
    cJSON_AddNumberToObject(volt, "gain_ppm", s->drawn.gain_ppm);
    cJSON_AddNumberToObject(volt, "offset_uv", s->drawn.offset_uv);
    amp = cJSON_AddObjectToObject(instrument, "amp");
    cJSON_AddNumberToObject(amp, "gain_ppm", s->drawn.amp_gain_ppm);
    cJSON_AddNumberToObject(amp, "offset_ua", s->drawn.amp_offset_ua);
}

static void add_output(cJSON *port, const struct output *o)
{
    static const char *const shapes[] = { [RAMP_STRAIGHT] = "straight", [RAMP_EXPONENTIAL] = "exponential", [RAMP_S] = "S" };
    cJSON                   *output = cJSON_AddObjectToObject(port, "output");
    const struct { const char *key; int64_t value; } rows[] = {
        { "slew_uv_us", o->slew_uv_us }, { "noise_uv", o->noise_uv }, { "regulation_mohm", o->regulation_mohm }, { "dip_mohm", o->dip_mohm },
        { "recovery_us", o->recovery_us }, { "load_us", o->load_us }, { "overshoot_percent", o->overshoot_percent },
        { "overshoot_us", o->overshoot_us }, { "discharge_us", o->discharge_us }, { "bleed_us", o->bleed_us }, { "hold_up_ms", o->hold_up_ms },
    };

    cJSON_AddStringToObject(output, "ramp", shapes[o->ramp]);
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++)
        cJSON_AddNumberToObject(output, rows[k].key, (double)rows[k].value);
}

void truth_volts(const struct synth *s, cJSON *all)
{
    cJSON *ports, *list;

    add_errors(s, all);
    ports = cJSON_AddArrayToObject(all, "ports");
    for (unsigned k = 0; k < s->plan.port_count; k++) {
        const struct port_plan *p = &s->plan.ports[k];
        cJSON                  *one = cJSON_CreateObject();

        cJSON_AddItemToArray(ports, one);
        cJSON_AddNumberToObject(one, "port", p->port);
        cJSON_AddNumberToObject(one, "off_ppm", (double)s->lives[k].vbus_ppm);
        if (p->path_mohm >= 0)
            cJSON_AddNumberToObject(one, "path_mohm", s->lives[k].path_ohm * 1000);
        if (p->output.given)
            add_output(one, &p->output);
    }
    list = cJSON_AddArrayToObject(all, "contracts");
    for (size_t k = 0; k < s->contract_count; k++)
        add_contract(s, list, &s->contracts[k]);
    if (s->contracts_left_out)
        cJSON_AddNumberToObject(all, "contracts_left_out", (double)s->contracts_left_out);
}
