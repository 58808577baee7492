#include "cli/check_json.h"

#include "cli/finding_text.h"
#include "cli/time_text.h"
#include "cli/timings_tell.h"
#include "cli/volts_tell.h"
#include "cli/trace_json.h"

const char *evidence_name(unsigned bit)
{
    switch ((enum evidence)bit) {
    case EVIDENCE_VBUS:            return "vbus";
    case EVIDENCE_IBUS:            return "ibus";
    case EVIDENCE_CC:              return "cc";
    case EVIDENCE_EDGES:           return "edges";
    case EVIDENCE_PORTS:           return "other_ports";
    case EVIDENCE_VBUS_RATE:       return "vbus_rate";
    case EVIDENCE_IBUS_RATE:       return "ibus_rate";
    case EVIDENCE_DURATIONS:       return "durations";
    case EVIDENCE_INSTRUMENT_TIME: return "instrument_time";
    case EVIDENCE_WIRE:            return "wire";
    }
    return "vbus";
}

static void spacing_json(struct json *j, const char *key, int64_t ns)
{
    struct phrase p = phrase_empty();

    if (ns == 0)
        return;
    spacing_text(&p, ns);
    json_text(j, key, p.text);
}

static void unjudged_json(struct json *j, const struct check *c, unsigned port)
{
    struct unjudged u;

    json_array(j, "unjudged");
    for (unsigned k = 0; engine_unjudged(c->engine, c->settings->rules.told, k, &u); k++) {
        if (u.port != port)
            continue;
        json_object(j, NULL);
        json_text(j, "missing", evidence_name(u.missing));
        json_u64(j, "rules", u.rules);
        spacing_json(j, "needs", u.needs_ns);
        spacing_json(j, "has", u.has_ns);
        json_object_end(j);
    }
    json_array_end(j);
}

static void ports_json(struct json *j, const struct check *c)
{
    json_array(j, "ports");
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct about_port  *about = about_port(bench_about(engine_bench(c->engine)), (uint8_t)port);
        const struct port_record *r = collector_port(&c->collector, port);

        if (!check_has_port(c, port))
            continue;
        json_object(j, NULL);
        port_head_json(j, port, about);
        offers_json(j, r, about, c->zero_ns);
        contracts_json(j, r, c->zero_ns);
        who_or_null_json(j, r, about, c->zero_ns);
        unjudged_json(j, c, port);
        json_object_end(j);
    }
    json_array_end(j);
}

static void rules_json(struct json *j, const struct check *c)
{
    json_array(j, "rules");
    for (unsigned k = 0; k < engine_rules(c->engine); k++) {
        struct result r = engine_result(c->engine, k);

        if (!check_tells(c, k))
            continue;
        json_object(j, NULL);
        json_text(j, "rule", r.rule->id);
        json_text(j, "verdict", verdict_name(r.verdict));
        json_text(j, "level", level_name(r.rule->level));
        json_text(j, "who", whom_name(r.whom));
        json_u64(j, "judged", r.counts.passed + r.counts.failed + r.counts.undecided);
        json_u64(j, "failed", r.counts.failed);
        json_u64(j, "undecided", r.counts.undecided);
        json_object_end(j);
    }
    json_array_end(j);
}

static void amount_json(struct json *j, const struct finding *f, const char *key, bool has, int64_t amount)
{
    if (has)
        json_decimal(j, key, amount, finding_decimals(f));
    else
        json_null(j, key);
}

const char *edge_name(unsigned kind)
{
    static const char *const names[] = { "none", "start", "end", "acknowledged", "heard", "state", "reading" };

    return names[kind < sizeof names / sizeof names[0] ? kind : EDGE_NONE];
}

void edge_json(struct json *j, const struct edge *e, int64_t zero_ns)
{
    json_text(j, "edge", edge_name(e->kind));
    json_u64(j, "frame", e->frame);
    json_i64(j, "early_ns", e->early_ns - zero_ns);
    json_i64(j, "late_ns", e->late_ns - zero_ns);
}

/* Between which edges a time was measured, and the range that it has. */
static void edges_json(struct json *j, const struct span *s, int64_t zero_ns)
{
    json_object(j, "edges");
    json_object(j, "from");
    edge_json(j, &s->from, zero_ns);
    json_object_end(j);
    json_object(j, "to");
    edge_json(j, &s->to, zero_ns);
    json_object_end(j);
    json_i64(j, "low_ns", s->low_ns);
    json_i64(j, "high_ns", s->high_ns);
    json_bool(j, "clock_known", s->has_clock);
    json_object_end(j);
}

static void finding_keys(struct json *j, const struct finding *f, int64_t zero_ns)
{
    struct phrase text = phrase_empty();

    finding_text(&text, f);
    json_text(j, "rule", f->rule->id);
    json_text(j, "verdict", finding_verdict_name(f));
    json_text(j, "level", level_name(f->rule->level));
    json_text(j, "who", whom_name(f->whom));
    json_text(j, "party", party_name(f->party));
    json_u64(j, "port", f->port);
    json_u64(j, "frame", f->frame);
    json_i64(j, "t_ns", f->t_ns - zero_ns);
    amount_json(j, f, "measured", f->has_measured, f->measured);
    amount_json(j, f, "low", f->has_low, f->low);
    amount_json(j, f, "high", f->has_high, f->high);
    json_text(j, "unit", f->unit);
    json_text(j, "parameter", f->parameter ? f->parameter->name : NULL);
    amount_json(j, f, "uncertainty", f->has_uncertainty, f->uncertainty);
    if (f->has_probability)
        json_decimal(j, "probability", (int64_t)(f->probability * 1e6 + 0.5), 6);
    json_array(j, "evidence");
    for (unsigned k = 0; k < f->evidence_count; k++)
        json_u64(j, NULL, f->evidence[k]);
    if (f->evidence_count == 0) /* the packet speaks for itself */
        json_u64(j, NULL, f->frame);
    json_array_end(j);
    if (f->has_span)
        edges_json(j, &f->span, zero_ns);
    json_text_n(j, "text", text.text, text.used);
}

void finding_json(struct json *j, const char *key, const struct finding *f, int64_t zero_ns)
{
    json_object(j, key);
    finding_keys(j, f, zero_ns);
    json_object_end(j);
}

void finding_json_told(struct json *j, const struct finding *f, int64_t zero_ns, const char *told)
{
    json_object(j, NULL);
    finding_keys(j, f, zero_ns);
    if (told)
        json_text(j, "told", told);
    json_object_end(j);
}

static uint64_t findings_json(struct json *j, struct check *c)
{
    struct finding f;
    uint64_t       number = 0;

    json_array(j, "findings");
    finding_list_rewind(&c->findings);
    while (finding_list_next(&c->findings, &f, &number))
        finding_json(j, NULL, &f, c->zero_ns);
    json_array_end(j);
    return number;
}

void check_json(struct out *o, struct check *c)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    schema_json(&j);
    trace_json(&j, c->path, &c->facts, bench_about(engine_bench(c->engine)));
    json_text(&j, "verdict", verdict_name(c->verdict));
    ports_json(&j, c);
    rules_json(&j, c);
    uint64_t listed = findings_json(&j, c);

    json_u64(&j, "findings_left_out", c->told_findings > listed ? c->told_findings - listed : 0);
    json_object(&j, "catalogue");
    json_u64(&j, "judged", engine_rules(c->engine));
    json_u64(&j, "of", RULE_CATALOGUE_SIZE);
    json_object_end(&j);
    if (c->timings)
        timings_json(&j, c);
    if (c->volts)
        volts_json(&j, c);
    if (c->options->about_path)
        json_text(&j, "about", c->options->about_path);
    limits_json(&j, &c->settings->limits);
    json_object_end(&j);
    json_line(&j);
}
