/*
 * Lists every mutant that rules/mutant.h can make of the rules of this build, a line each: kind, rule, index. With an argument: the
 * limits alone, and behind each its parameter and side, "least" or "most" (a single value: "most").
 */
#include "rules/groups.h"
#include "rules/mutant.h"
#include "rules/parameter.h"

#include <stdio.h>
#include <string.h>

static void tell(enum mutant_kind kind, const struct rule *r, unsigned index)
{
    printf("%s %s %u\n", mutant_kind_name(kind), r->id, index);
}

static void tell_limit(const struct rule *r, unsigned index, bool named)
{
    if (named)
        printf("%s %s %u %s %s\n", mutant_kind_name(MUTANT_LIMIT), r->id, index, r->parameters[index / 2], index % 2 ? "most" : "least");
    else
        tell(MUTANT_LIMIT, r, index);
}

/* A limit can be moved where there is one; a single value has but one side. */
static void list_limits(const struct rule *r, bool named)
{
    for (unsigned k = 0; r->parameters && r->parameters[k]; k++) {
        const struct parameter *q = parameter_find(r->parameters[k]);

        if (!q)
            continue;
        if (q->min != PARAMETER_NONE && q->min != 0 && q->min != q->max)
            tell_limit(r, 2 * k, named);
        if (q->max != PARAMETER_NONE && q->max != 0)
            tell_limit(r, 2 * k + 1, named);
    }
}

static bool in_this_build(const char *id)
{
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++)
            if (strcmp(r->id, id) == 0)
                return true;
    return false;
}

static bool measures_time(const struct rule *r)
{
    return strncmp(r->id, "time.", 5) == 0 || strcmp(r->id, "wire.inter-frame-gap") == 0;
}

static void list_rule(const struct rule *r)
{
    tell(MUTANT_SKIPPED, r, 0);
    tell(MUTANT_TURNED, r, 0);
    list_limits(r, false);
    for (unsigned k = 0; measures_time(r) && k < 2; k++)
        tell(MUTANT_EDGE, r, k);
    for (unsigned k = 0; r->silenced_by && r->silenced_by[k]; k++)
        if (in_this_build(r->silenced_by[k])) /* else there is nothing that could be silenced by it */
            tell(MUTANT_SUPPRESSION, r, k);
}

int main(int count, char **words)
{
    (void)words;
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++)
            if (count > 1)
                list_limits(r, true);
            else
                list_rule(r);
    return 0;
}
