/* The model has its own copy of every number. Here the two lists meet, number by number. */
#include "tests/matrix/matrix.h"

#include "cli/synth/synth.h"
#include "rules/parameter.h"

#include <string.h>

enum { US_PER_S = 1000000 };

/* A side of a window in microseconds; SYNTH_OPEN: open. Parameters are in thousandths of their unit. */
static int64_t side_us(const struct parameter *p, int64_t side)
{
    return side == PARAMETER_NONE ? SYNTH_OPEN : strcmp(p->unit, "s") == 0 ? side * (US_PER_S / 1000) : side;
}

/* What has no least may take no time; what has no most may take for ever. */
static int64_t add_least(int64_t sum, int64_t least)
{
    return least == SYNTH_OPEN ? sum : sum == SYNTH_OPEN ? least : sum + least;
}

static int64_t add_most(int64_t sum, int64_t most)
{
    return sum == SYNTH_OPEN || most == SYNTH_OPEN ? SYNTH_OPEN : sum + most;
}

static bool differs(const struct synth_number *n, const char *names, int64_t min_us, int64_t max_us)
{
    if (n->min_us == min_us && n->max_us == max_us)
        return false;
    fprintf(stderr, "%s: the model has %lld to %lld us, the rules (%s) %lld to %lld\n", n->timer, (long long)n->min_us, (long long)n->max_us,
            names, (long long)min_us, (long long)max_us);
    return true;
}

/* A time is named; a number that is none of a time could not be compared here. */
static const struct parameter *time_named(const struct synth_number *n, const char *name)
{
    const struct parameter *p = parameter_find(name);

    if (p && (strcmp(p->unit, "ms") == 0 || strcmp(p->unit, "s") == 0))
        return p;
    fprintf(stderr, "%s: the rules have no time %s\n", n->timer, name);
    return NULL;
}

static bool own_name_agrees(const struct synth_number *n)
{
    const struct parameter *p = time_named(n, n->parameter);

    return p && !differs(n, p->name, side_us(p, p->min), side_us(p, p->max));
}

/* The line of numbers.txt: its parameters added up; or - and a reason. */
static bool line_agrees(const struct synth_number *n, const struct fields *f)
{
    char    name[FIELD_BYTES];
    int64_t min_us = SYNTH_OPEN, max_us = 0;

    if (strcmp(f->field[1], "-") == 0)
        return f->field[2][0] != '\0';
    for (unsigned k = 0; word_of(f->field[1], k, name, sizeof name); k++) {
        const struct parameter *p = time_named(n, name);

        if (!p)
            return false;
        min_us = add_least(min_us, side_us(p, p->min));
        max_us = add_most(max_us, side_us(p, p->max));
    }
    /* An end that the reason does not speak of is open in the model. */
    return !differs(n, f->field[1], n->min_us == SYNTH_OPEN ? SYNTH_OPEN : min_us, n->max_us == SYNTH_OPEN ? SYNTH_OPEN : max_us);
}

static bool in_table(const struct synth_number *n, bool *agrees)
{
    struct fields f = { 0 };
    FILE         *file = table_open("numbers.txt");
    char          name[FIELD_BYTES];
    bool          there = false;

    while (!there && table_next(file, &f))
        if (word_of(f.field[0], 0, name, sizeof name) && strcmp(name, n->timer) == 0) {
            there = true;
            *agrees = line_agrees(n, &f);
        }
    fclose(file);
    return there;
}

bool numbers_agree(void)
{
    const struct synth_number *n;
    unsigned                   k, wrong = 0, own = 0;

    for (k = 0; (n = synth_number_row(k)) != NULL; k++) {
        bool agrees = false;

        if (n->parameter) {
            own++;
            agrees = own_name_agrees(n);
        } else if (!in_table(n, &agrees)) {
            fprintf(stderr, "%s: numbers.txt has no line for it\n", n->timer);
        }
        wrong += !agrees;
    }
    printf("  %u numbers of the model, %u under the name that the rules give them, %u do not agree\n", k, own, wrong);
    return wrong == 0 && own > 0;
}
