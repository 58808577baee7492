/* See rules/mutant.h: of use in a test build only. */
#include "rules/mutant.h"

#include "rules/span.h"

#include <stdio.h>
#include <string.h>

const char *mutant_kind_name(unsigned kind)
{
    static const char *const names[] = { "none", "limit", "turned", "skipped", "edge", "suppression" };

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
    int64_t      by_ns = e->kind == EDGE_START ? e->length_ns : -e->length_ns;

    e->early_ns += by_ns;
    e->late_ns += by_ns;
    s->low_ns += which ? by_ns : -by_ns;
    s->high_ns += which ? by_ns : -by_ns;
}
#endif
