#include "cli/missing.h"

#include "cli/check_json.h"
#include "cli/json_out.h"
#include "cli/trace_json.h"

static const char *state_name(unsigned state)
{
    switch ((enum missing_state)state) {
    case MISSING_NOT_COUNTED: return "not_counted";
    case MISSING_SHOWN:       return "shown";
    case MISSING_UNDECIDED:   return "undecided";
    case MISSING_TO_DO:       return "to_do";
    case MISSING_READINGS:    return "needs_readings";
    case MISSING_FEATURE:     return "not_offered";
    case MISSING_BROKEN:      return "only_by_fault";
    case MISSING_NO_ACTION:   return "no_action";
    case MISSING_STATES:      return "";
    }
    return "";
}

static void readings_json(struct json *j, uint16_t lacks)
{
    json_array(j, "readings");
    for (uint16_t bit = EVIDENCE_VBUS; bit <= EVIDENCE_INSTRUMENT_TIME; bit = (uint16_t)(bit << 1))
        if (lacks & bit)
            json_text(j, NULL, evidence_name(bit));
    json_array_end(j);
}

static bool wants(unsigned state)
{
    return state == MISSING_TO_DO || state == MISSING_UNDECIDED || state == MISSING_READINGS;
}

static void rule_json(struct json *j, const struct missing *m, const struct missing_port *p, unsigned k)
{
    const struct rule         *r = &m->settings->rules.rows[k];
    const struct rule_actions *a = rule_actions_find(r->id);

    json_object(j, NULL);
    json_text(j, "rule", r->id);
    json_text(j, "level", level_name(r->level));
    json_text(j, "state", state_name(p->state[k]));
    json_text(j, "action", wants(p->state[k]) && p->action[k] < ACTIONS ? actions_all[p->action[k]].id : NULL);
    readings_json(j, p->state[k] == MISSING_READINGS ? missing_evidence(m, p, k) : 0);
    json_text(j, "feature", p->state[k] == MISSING_FEATURE && a ? features_all[a->feature].id : NULL);
    json_object_end(j);
}

static void port_json(struct json *j, const struct missing *m, unsigned port)
{
    const struct missing_port *p = m->ports[port];
    unsigned                   total = 0;

    json_object(j, NULL);
    json_u64(j, "port", port);
    json_text(j, "name", p->name);
    for (unsigned s = MISSING_SHOWN; s < MISSING_STATES; s++)
        total += p->counts[s];
    json_u64(j, "total", total);
    json_u64(j, "covered", p->counts[MISSING_SHOWN]);
    for (unsigned s = MISSING_UNDECIDED; s < MISSING_STATES; s++)
        json_u64(j, state_name(s), p->counts[s]);
    json_array(j, "missing");
    for (unsigned k = 0; k < m->settings->rules.count; k++)
        if (p->state[k] > MISSING_SHOWN)
            rule_json(j, m, p, k);
    json_array_end(j);
    json_object_end(j);
}

/* Rules that the action shows on this port, and those that it would with other readings. */
static void action_rules(struct json *j, const struct missing *m, const struct missing_port *p, unsigned action, const char *key,
                         bool readings)
{
    json_array(j, key);
    for (unsigned k = 0; k < m->settings->rules.count; k++)
        if (wants(p->state[k]) && p->action[k] == action && (p->state[k] == MISSING_READINGS) == readings)
            json_text(j, NULL, m->settings->rules.rows[k].id);
    json_array_end(j);
}

static bool acts_on(const struct missing *m, const struct missing_port *p, unsigned action)
{
    for (unsigned k = 0; p && k < m->settings->rules.count; k++)
        if (wants(p->state[k]) && p->action[k] == action)
            return true;
    return false;
}

static void action_json(struct json *j, const struct missing *m, unsigned action)
{
    const struct action *a = &actions_all[action];

    json_object(j, NULL);
    json_text(j, "action", a->id);
    json_u64(j, "rank", a->rank);
    json_text(j, "text", a->sentence);
    json_text(j, "needs", a->needs);
    json_text(j, "caution", a->caution);
    json_bool(j, "only_with_other_readings", !(m->to_do >> action & 1));
    json_array(j, "ports");
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct missing_port *p = m->ports[port];

        if (!acts_on(m, p, action))
            continue;
        json_object(j, NULL);
        json_u64(j, "port", port);
        action_rules(j, m, p, action, "rules", false);
        action_rules(j, m, p, action, "with_other_readings", true);
        json_object_end(j);
    }
    json_array_end(j);
    json_object_end(j);
}

void missing_json(struct out *o, const struct missing *m)
{
    struct json  object = json_over(o);
    struct json *j = &object;

    json_object(j, NULL);
    schema_json(j);
    json_text(j, "device", m->device.used ? m->device.text : NULL);
    json_bool(j, "devices_differ", m->devices_differ);
    json_bool(j, "invented", m->invented);
    json_array(j, "traces");
    for (unsigned k = 0; k < m->trace_count; k++)
        json_text(j, NULL, m->traces[k]);
    json_array_end(j);
    json_array(j, "ports");
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++)
        if (m->ports[port])
            port_json(j, m, port);
    json_array_end(j);
    json_array(j, "actions");
    for (unsigned a = 0; a < ACTIONS; a++)
        if ((m->to_do | m->beside) >> a & 1)
            action_json(j, m, a);
    json_array_end(j);
    json_object(j, "catalogue");
    json_u64(j, "judged", m->settings->rules.count);
    json_u64(j, "of", RULE_CATALOGUE_SIZE);
    json_object_end(j);
    if (m->options->about_path)
        json_text(j, "about", m->options->about_path);
    limits_json(j, &m->settings->limits);
    json_object_end(j);
    json_line(j);
}
