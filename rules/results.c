/* What came of a trace, rule by rule: what was told is added up with what was counted without a look. */
#include "rules/engine_inside.h"

unsigned engine_rules(const struct engine *e)
{
    return e->count;
}

/* Passes of a rule that were counted without a look. */
static uint64_t settled_passes(const struct port_book *b, const struct rule *r)
{
    uint64_t n = 0;

    for (unsigned m = 0; r->settled && m < SET_GROUPS * MESSAGE_INDEXES; m++) {
        unsigned group = m / MESSAGE_INDEXES, index = m % MESSAGE_INDEXES;

        if (b->messages[group][index] && r->settled(index) && (!r->sets || (r->sets & (group ? ~1u : 1u))))
            n += b->messages[group][index];
    }
    return n;
}

struct counts engine_port_counts(const struct engine *e, unsigned rule, unsigned port)
{
    struct counts c = { 0 };

    if (port >= ENGINE_PORTS || !e->books[port] || (e->books[port]->told && !e->rules[rule]->as_told))
        return c;
    c = (struct counts){ e->books[port]->passed[rule], e->books[port]->failed[rule], e->books[port]->undecided[rule] };
    c.passed += settled_passes(e->books[port], e->rules[rule]);
    c.passed += plain_passes(e->books[port], e->rules[rule]);
    if (e->rules[rule]->goodcrcs_pass)
        c.passed += e->books[port]->port->ordinary_goodcrcs;
    c.passed += line_passes(&e->books[port]->line, e->rules[rule]->line);
    return c;
}

static uint8_t settled_whom(const struct engine *e, unsigned rule)
{
    uint8_t found = e->found_whom[rule];

    if (e->rules[rule]->whom != WHO_EACH)
        return e->rules[rule]->whom;
    for (uint8_t who = WHO_SOURCE; who <= WHO_CABLE; who++)
        if (found == 1u << who)
            return who;
    return WHO_LINK;
}

struct result engine_result(const struct engine *e, unsigned rule)
{
    struct result r = { .rule = e->rules[rule], .whom = settled_whom(e, rule) };

    for (unsigned p = 0; p < ENGINE_PORTS; p++) {
        struct counts c = engine_port_counts(e, rule, p);

        r.counts.passed += c.passed;
        r.counts.failed += c.failed;
        r.counts.undecided += c.undecided;
    }
    r.verdict = r.counts.failed      ? VERDICT_FAIL
                : r.counts.undecided ? VERDICT_UNDECIDED
                : r.counts.passed    ? VERDICT_PASS
                                     : VERDICT_NOT_SEEN;
    return r;
}

/* What a kernel told takes no other reason. */
static struct unjudged unjudged_of_told(const struct engine *e, const bool *told, unsigned port)
{
    struct unjudged u = { .port = (uint8_t)port, .missing = EVIDENCE_WIRE };

    for (unsigned r = 0; r < e->count; r++)
        u.rules += (!told || told[r]) && !e->rules[r]->as_told ? 1 : 0;
    return u;
}

enum verdict engine_verdict(const struct engine *e)
{
    if (e->must_failed)
        return VERDICT_FAIL;
    return e->must_undecided || !e->must_passed ? VERDICT_UNDECIDED : VERDICT_PASS;
}

/* Were the readings of this port at none of the rule's occasions as close as a pass takes? */
bool engine_too_coarse(const struct engine *e, const struct port_book *b, unsigned rule)
{
    return e->rules[rule]->needs_ns > 0 && b->sparse[rule].count > 0 && b->passed[rule] == 0;
}

/* What this port's readings are too far apart for: entry k, each the rules that need the same, those that need the most first. */
static bool engine_coarse(const struct engine *e, const struct port_book *b, const bool *told, unsigned k, struct unjudged *out)
{
    int64_t above_ns = 0;

    for (;; k--) {
        *out = (struct unjudged){ .port = b->port->number, .missing = EVIDENCE_VBUS_RATE, .needs_ns = INT64_MAX };
        for (unsigned r = 0; r < e->count; r++) {
            int64_t needs = e->rules[r]->needs_ns, has = b->sparse[r].least_ns;

            if ((told && !told[r]) || needs <= above_ns || needs > out->needs_ns || !engine_too_coarse(e, b, r))
                continue;
            if (needs < out->needs_ns)
                *out = (struct unjudged){ .port = out->port, .missing = out->missing, .needs_ns = needs, .has_ns = INT64_MAX };
            out->rules++;
            out->has_ns = has < out->has_ns ? has : out->has_ns;
        }
        if (out->rules == 0 || k == 0)
            return out->rules > 0;
        above_ns = out->needs_ns;
    }
}

static unsigned coarse_entries(const struct engine *e, const struct port_book *b, const bool *told)
{
    struct unjudged out;
    unsigned        n = 0;

    while (engine_coarse(e, b, told, n, &out))
        n++;
    return n;
}

/* Rules that are asked for and need that evidence. */
static unsigned rules_in_need(const struct engine *e, const bool *told, uint16_t bit)
{
    unsigned rules = 0;

    for (unsigned r = 0; r < e->count; r++)
        rules += (!told || told[r]) && (e->rules[r]->occasion_evidence | e->rules[r]->decision_evidence) & bit ? 1 : 0;
    return rules;
}

bool engine_unjudged(const struct engine *e, const bool *told, unsigned k, struct unjudged *out)
{
    for (unsigned p = 0; p < ENGINE_PORTS; p++) {
        if (!e->books[p])
            continue;
        if (e->books[p]->told) {
            struct unjudged u = unjudged_of_told(e, told, p);

            if (u.rules == 0 || k-- > 0)
                continue;
            *out = u;
            return true;
        }
        uint16_t missing = engine_missing(e, e->books[p]->port);

        for (uint16_t bit = EVIDENCE_VBUS; bit <= EVIDENCE_INSTRUMENT_TIME; bit = (uint16_t)(bit << 1)) {
            unsigned rules = missing & bit ? rules_in_need(e, told, bit) : 0;

            if (rules == 0 || k-- > 0)
                continue;
            *out = (struct unjudged){ .port = (uint8_t)p, .missing = bit, .rules = rules };
            return true;
        }
        unsigned coarse = coarse_entries(e, e->books[p], told);

        if (k < coarse)
            return engine_coarse(e, e->books[p], told, k, out);
        k -= coarse;
    }
    return false;
}
