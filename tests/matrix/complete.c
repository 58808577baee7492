/* Every rule of this build stands in every table, so that a new one comes with its rows. */
#include "tests/matrix/matrix.h"

#include "rules/groups.h"

#include <string.h>

static const struct table { const char *name; unsigned field; const char *what; } tables[] = {
    { "faults.txt", 2, "fails" }, { "blinds.txt", 0, "is undecided" }, { "unseen.txt", 0, "is not seen" }, { "clean.txt", 0, "passes" },
};
enum { TABLES = sizeof tables / sizeof tables[0] };

static bool stands_in(const struct table *t, const char *rule)
{
    struct fields f = { 0 };
    FILE         *file = table_open(t->name);
    bool          there = false;

    while (!there && table_next(file, &f))
        there = has_word(f.field[t->field], rule);
    fclose(file);
    return there;
}

static bool is_rule(const char *word)
{
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++)
            if (strcmp(r->id, word) == 0)
                return true;
    return false;
}

/* A word in a table that no rule has would never be looked for. */
static unsigned strangers_in(const struct table *t)
{
    struct fields f = { 0 };
    FILE         *file = table_open(t->name);
    char          word[FIELD_BYTES];
    unsigned      strangers = 0;

    while (table_next(file, &f))
        for (unsigned k = 0; word_of(f.field[t->field], k, word, sizeof word); k++)
            if (!is_rule(word)) {
                fprintf(stderr, "%s:%u: there is no rule %s\n", t->name, f.line, word);
                strangers++;
            }
    fclose(file);
    return strangers;
}

bool matrix_complete(void)
{
    unsigned missing = 0, strangers = 0, rules = 0;

    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++, rules++)
            for (unsigned k = 0; k < TABLES; k++)
                if (!stands_in(&tables[k], r->id)) {
                    fprintf(stderr, "%s: no line where %s %s\n", tables[k].name, r->id, tables[k].what);
                    missing++;
                }
    for (unsigned k = 0; k < TABLES; k++)
        strangers += strangers_in(&tables[k]);
    printf("  %u rules, %u lines missing for them in the tables\n", rules, missing);
    return missing == 0 && strangers == 0;
}
