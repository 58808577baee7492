#include "cli/missing.h"

#include "cli/fault_text.h"
#include "cli/missing_cover.h"
#include "cli/trace_head.h"
#include "cli/who.h"

#include <stdlib.h>
#include <string.h>

static bool no_memory(void)
{
    complain("check: out of memory; close something and try again");
    return false;
}

bool missing_start(struct missing *m, const struct options *options, const struct check_settings *settings)
{
    *m = (struct missing){ .options = options, .settings = settings };
    m->traces = calloc(options->operand_count + 1, sizeof *m->traces);
    return m->traces || no_memory();
}

void missing_free(struct missing *m)
{
    for (unsigned k = 0; k < COLLECTOR_PORTS; k++)
        free(m->ports[k]);
    free(m->traces);
    *m = (struct missing){ .options = NULL };
}

static uint8_t roles_of(const struct missing *m, const struct about_port *about)
{
    unsigned whom = m->settings->judged_whom;

    if (whom)
        return (uint8_t)((whom >> WHO_SOURCE & 1 ? ROLE_SOURCE : 0) | (whom >> WHO_SINK & 1 ? ROLE_SINK : 0));
    switch (about->kind) {
    case ABOUT_SOURCE: return ROLE_SOURCE;
    case ABOUT_SINK:
    case ABOUT_INPUT:  return ROLE_SINK;
    case ABOUT_DUAL:   return ROLE_EITHER;
    }
    return ROLE_SOURCE;
}

static uint32_t features_of(const struct pdo *p)
{
    uint32_t bits = 0;

    if (p->word == 0)
        return 0;
    bits |= p->supply == SUPPLY_VARIABLE ? 1u << FEATURE_VARIABLE : 0;
    bits |= p->supply == SUPPLY_BATTERY ? 1u << FEATURE_BATTERY : 0;
    bits |= p->supply == SUPPLY_PPS ? 1u << FEATURE_PPS : 0;
    bits |= p->limited ? 1u << FEATURE_PPS_LIMITED : 0;
    bits |= p->supply == SUPPLY_SPR_AVS || p->supply == SUPPLY_EPR_AVS ? 1u << FEATURE_AVS : 0;
    bits |= p->epr_capable ? 1u << FEATURE_EPR : 0;
    bits |= p->max_ma > 3000 || p->max_ma_20v > 3000 ? 1u << FEATURE_OVER_3A : 0;
    bits |= p->peak ? 1u << FEATURE_PEAK : 0;
    bits |= p->dual_role_power ? 1u << FEATURE_DUAL_POWER : 0;
    bits |= p->dual_role_data ? 1u << FEATURE_DUAL_DATA : 0;
    bits |= p->unchunked ? 1u << FEATURE_UNCHUNKED : 0;
    return bits;
}

static uint32_t features_of_offer(const struct announcement *a)
{
    uint32_t bits = 0;
    unsigned augmented = 0;

    for (unsigned k = 0; k < a->count; k++) {
        struct pdo p = announcement_pdo(a, k);

        bits |= features_of(&p);
        augmented += p.word && (p.supply == SUPPLY_PPS || p.supply == SUPPLY_SPR_AVS);
    }
    return bits | (augmented > 1 ? 1u << FEATURE_TWO_APDOS : 0);
}

/* What the device offered; where ABOUT says that the port is both, either player may be it. */
static void offers_take(struct missing_port *p, const struct port_record *r, const struct about_port *about)
{
    for (size_t k = 0; r && k < r->offers.count; k++) {
        const struct announcement *a = &r->offers.items[k];

        if (about->kind != ABOUT_DUAL && a->player != device_player(about))
            continue;
        p->offered = true;
        p->features |= features_of_offer(a);
    }
}

static uint16_t lacks_of(const struct check *c, unsigned port)
{
    struct unjudged u;
    uint16_t        lacks = 0;

    for (unsigned k = 0; engine_unjudged(c->engine, NULL, k, &u); k++)
        if (u.port == port)
            lacks |= u.missing;
    return lacks;
}

static bool port_take(struct missing *m, const struct check *c, unsigned port)
{
    const struct about_port *about = about_port(bench_about(engine_bench(c->engine)), (uint8_t)port);
    struct missing_port     *p = m->ports[port];

    if (!p) {
        p = m->ports[port] = calloc(1, sizeof *p);
        if (!p)
            return no_memory();
        p->lacks = UINT16_MAX;
    }
    if (!p->name[0] || about->name[0])
        port_name(about, port, p->name, sizeof p->name);
    p->roles |= roles_of(m, about);
    p->captive = p->captive || about->plug == ABOUT_CAPTIVE;
    p->lacks &= lacks_of(c, port);
    offers_take(p, collector_port(&c->collector, port), about);
    for (unsigned k = 0; k < m->settings->rules.count; k++) {
        struct counts n = engine_port_counts(c->engine, k, port);

        p->judged[k] += n.passed + n.failed;
        p->undecided[k] += n.undecided;
    }
    return true;
}

bool missing_take(struct missing *m, const struct check *c)
{
    struct phrase device = phrase_empty();

    m->traces[m->trace_count++] = c->path;
    m->invented = m->invented || c->facts.invented;
    if (device_phrase(&device, bench_about(engine_bench(c->engine)))) {
        if (!m->device.used)
            m->device = device;
        else if (strcmp(m->device.text, device.text) != 0)
            m->devices_differ = true;
    }
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++)
        if (check_has_port(c, port) && !port_take(m, c, port))
            return false;
    return true;
}

static bool counts_rule(const struct missing *m, const struct missing_port *p, unsigned k)
{
    unsigned judged = m->settings->judged_whom;

    if (!m->settings->rules.told[k])
        return false;
    switch ((enum about_whom)m->settings->rules.rows[k].whom) {
    case WHO_SOURCE: return p->roles & ROLE_SOURCE;
    case WHO_SINK:   return p->roles & ROLE_SINK;
    case WHO_CABLE:  return judged ? judged >> WHO_CABLE & 1 : p->captive;
    case WHO_LINK:   return judged ? judged >> WHO_LINK & 1 : true;
    case WHO_EACH:   return p->roles != 0;
    }
    return false;
}

uint16_t missing_evidence(const struct missing *m, const struct missing_port *p, unsigned k)
{
    const struct rule *r = &m->settings->rules.rows[k];

    return (uint16_t)((r->occasion_evidence | r->decision_evidence) & p->lacks);
}

/* Does the rule ask for what the device, as a source, never offered? */
static bool lacks_feature(const struct missing *m, const struct missing_port *p, unsigned k, const struct rule_actions *a)
{
    unsigned whom = m->settings->rules.rows[k].whom;

    if (a->feature == FEATURE_NONE || !p->offered || whom == WHO_SINK || (whom != WHO_SOURCE && p->roles & ROLE_SINK))
        return false;
    return !(p->features >> a->feature & 1);
}

/* Actions of the device's roles, and of what it offers if it is a source alone. */
static uint64_t actions_for(const struct missing_port *p, const struct rule_actions *a)
{
    unsigned roles = p->roles ? p->roles : ROLE_EITHER;
    bool     known = p->offered && roles == ROLE_SOURCE;
    uint64_t fit = 0;

    for (unsigned k = 0; a && k < ACTIONS; k++) {
        unsigned feature = actions_all[k].feature;

        if (actions_all[k].roles & roles && (feature == FEATURE_NONE || !known || p->features >> feature & 1))
            fit |= a->actions & ACTION_BIT(k);
    }
    return fit;
}

static enum missing_state state_of(const struct missing *m, const struct missing_port *p, unsigned k)
{
    const struct rule_actions *a = rule_actions_find(m->settings->rules.rows[k].id);

    if (!counts_rule(m, p, k))
        return MISSING_NOT_COUNTED;
    if (p->judged[k])
        return MISSING_SHOWN;
    if (a && a->only_broken)
        return MISSING_BROKEN;
    if (a && !p->undecided[k] && lacks_feature(m, p, k, a))
        return MISSING_FEATURE;
    if (actions_for(p, a) == 0)
        return MISSING_NO_ACTION;
    if (p->undecided[k])
        return MISSING_UNDECIDED;
    return missing_evidence(m, p, k) ? MISSING_READINGS : MISSING_TO_DO;
}

/* The gentlest of these that shows the rule; they are numbered by rank. */
static void action_choose(const struct missing *m, struct missing_port *p, unsigned k, uint64_t chosen)
{
    uint64_t fit = actions_for(p, rule_actions_find(m->settings->rules.rows[k].id)) & chosen;

    p->action[k] = (uint8_t)(fit ? __builtin_ctzll(fit) : ACTIONS);
}

static bool wants_action(unsigned state, bool readings)
{
    return readings ? state == MISSING_READINGS : state == MISSING_TO_DO || state == MISSING_UNDECIDED;
}

/* The actions for all that is missing and that the readings at hand, or others, would show. */
static uint64_t cover(const struct missing *m, bool readings, uint64_t done)
{
    uint64_t needs[RULES_MAX * 2];
    uint8_t  ranks[64] = { 0 };
    unsigned count = 0;

    for (unsigned a = 0; a < ACTIONS; a++)
        ranks[a] = actions_all[a].rank;
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct missing_port *p = m->ports[port];

        for (unsigned k = 0; p && k < m->settings->rules.count; k++) {
            uint64_t need = wants_action(p->state[k], readings)
                                ? actions_for(p, rule_actions_find(m->settings->rules.rows[k].id)) : 0;
            bool     known = need == 0;

            for (unsigned i = 0; i < count && !known; i++)
                known = needs[i] == need;
            if (!known && count < RULES_MAX * 2)
                needs[count++] = need;
        }
    }
    return cover_shortest(needs, count, ranks, done);
}

void missing_settle(struct missing *m)
{
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        struct missing_port *p = m->ports[port];

        for (unsigned k = 0; p && k < m->settings->rules.count; k++) {
            p->state[k] = (uint8_t)state_of(m, p, k);
            p->counts[p->state[k]]++;
        }
    }
    m->to_do = cover(m, false, 0);
    m->beside = cover(m, true, m->to_do);
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        struct missing_port *p = m->ports[port];

        for (unsigned k = 0; p && k < m->settings->rules.count; k++)
            action_choose(m, p, k, p->state[k] == MISSING_READINGS ? m->to_do | m->beside : m->to_do);
    }
}
