/* See rules/mutant.h: of use in a test build only. */
#include "rules/mutant.h"

#include "rules/parameter.h"
#include "rules/span.h"

#include <stdio.h>
#include <string.h>

const char *mutant_kind_name(unsigned kind)
{
    static const char *const names[] = { "none", "limit", "turned", "skipped", "edge", "suppression", "unread" };

    return kind < MUTANT_KINDS ? names[kind] : "none";
}

#ifdef PORTASSAY_MUTANTS
struct mutant mutant_named(const char *text)
{
    struct mutant m = { 0 };
    char          kind[16];

    if (!text || sscanf(text, "%15s %47s %u", kind, m.rule, &m.index) != 3)
        return (struct mutant){ 0 };
    for (unsigned k = MUTANT_LIMIT; k < MUTANT_KINDS; k++)
        if (strcmp(kind, mutant_kind_name(k)) == 0)
            m.kind = (uint8_t)k;
    return m;
}

bool mutant_is(const struct mutant *m, enum mutant_kind kind, const char *rule)
{
    return m->kind == kind && strcmp(m->rule, rule) == 0;
}

void mutant_move_edge(struct span *s, unsigned which)
{
    struct edge *e = which ? &s->to : &s->from;
    int64_t      by_ns = e->kind == EDGE_START ? e->length_ns : -e->length_ns, wide_ns = e->late_ns - e->early_ns;

    if (e->kind == EDGE_ROW) {
        e->early_ns = e->late_ns;
        s->low_ns += which ? wide_ns : 0;
        s->high_ns -= which ? 0 : wide_ns;
        return;
    }

    e->early_ns += by_ns;
    e->late_ns += by_ns;
    s->low_ns += which ? by_ns : -by_ns;
    s->high_ns += which ? by_ns : -by_ns;
}

static int64_t step_of(const struct parameter *p, int64_t value)
{
    enum { ONE = 1000 }; /* parameters count in thousandths */
    bool    counts = p->unit[0] == '\0' && value % ONE == 0;
    int64_t step = (value < 0 ? -value : value) / 5;

    return counts && step < ONE ? ONE : step;
}

void mutant_move_limit(struct parameter *p, unsigned side)
{
    if (p->min == p->max)
        p->min = p->max = p->max - step_of(p, p->max);
    else if (side == 0 && p->min != PARAMETER_NONE)
        p->min -= p->min < 0 ? -step_of(p, p->min) : step_of(p, p->min);
    else if (side == 1 && p->max != PARAMETER_NONE)
        p->max += step_of(p, p->max);
}

void mutant_spoil_limit(struct parameter *p, unsigned side)
{
    if (side == 0 && p->min != PARAMETER_NONE)
        p->min = 3 * (p->max == PARAMETER_NONE ? p->min : p->max);
    else if (side == 1 && p->max != PARAMETER_NONE)
        p->max = 0;
}
#endif
