/* Undecided, not seen, passed: what the tables say of a rule besides its failures. */
#include "tests/matrix/matrix.h"
#include "tests/matrix/scenario_words.h"

#include "rules/groups.h"

#include <cjson/cJSON.h>
#include <string.h>

static struct cJSON *made(const char *scenario, const char *faults, const char *blinds)
{
    struct cJSON *s = scenario_named(scenario);

    scenario_add_faults(s, faults);
    scenario_add_blinds(s, blinds);
    return s;
}

static void expect(struct matrix *m, const char *rule, unsigned verdict, const char *where)
{
    unsigned seen = played_result(&m->played, rule).verdict;

    if (seen != verdict)
        score_trouble(&m->score, "%s: %s is %s, expected %s", where, rule, verdict_name(seen), verdict_name(verdict));
}

/* What is hidden leaves it undecided, and what is shown does not. */
static void blind_run(struct matrix *m, const struct fields *f, uint64_t seed)
{
    const char   *rule = f->field[0], *blinds = f->field[3];
    char          where[WHERE_BYTES];
    struct cJSON *scenario = made(f->field[1], f->field[2], blinds);

    snprintf(where, sizeof where, "blinds.txt:%u %s (%s, seed %u)", f->line, rule, f->field[1], (unsigned)seed);
    if (matrix_play(m, scenario, seed, where)) {
        matrix_compare(m, f->field[4], where);
        expect(m, rule, VERDICT_UNDECIDED, where);
        played_free(&m->played);
    }
    cJSON_Delete(scenario);
    if (!blinds[0])
        return;
    scenario = made(f->field[1], f->field[2], "");
    if (matrix_play(m, scenario, seed, where)) {
        if (played_result(&m->played, rule).verdict == VERDICT_UNDECIDED)
            score_trouble(&m->score, "%s: %s is undecided although nothing is hidden", where, rule);
        played_free(&m->played);
    }
    cJSON_Delete(scenario);
}

void blind_line(struct matrix *m, const struct fields *f)
{
    if (f->field[5][0])
        return; /* never undecided: matrix_never_undecided */
    if (f->field[2][0] && !model_makes(f->field[2])) {
        m->to_come++;
        return;
    }
    for (uint64_t seed = 1; seed <= SEEDS; seed++)
        blind_run(m, f, seed);
}

void unseen_line(struct matrix *m, const struct fields *f)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        char          where[WHERE_BYTES];
        struct cJSON *scenario = made(f->field[1], "", f->field[2]);

        snprintf(where, sizeof where, "unseen.txt:%u %s (%s, seed %u)", f->line, f->field[0], f->field[1], (unsigned)seed);
        if (matrix_play(m, scenario, seed, where)) {
            matrix_compare(m, "", where);
            expect(m, f->field[0], VERDICT_NOT_SEEN, where);
            played_free(&m->played);
        }
        cJSON_Delete(scenario);
    }
}

/* Every word of the first field is a rule that passes. Without a scenario: only a fault gives it an occasion. */
void clean_line(struct matrix *m, const struct fields *f)
{
    char word[FIELD_BYTES];

    for (uint64_t seed = 1; f->field[1][0] && seed <= SEEDS; seed++) {
        char          where[WHERE_BYTES];
        struct cJSON *scenario = made(f->field[1], "", "");

        snprintf(where, sizeof where, "clean.txt:%u (%s, seed %u)", f->line, f->field[1], (unsigned)seed);
        if (matrix_play(m, scenario, seed, where)) {
            matrix_compare(m, "", where);
            for (unsigned k = 0; word_of(f->field[0], k, word, sizeof word); k++)
                expect(m, word, VERDICT_PASS, where);
            played_free(&m->played);
        }
        cJSON_Delete(scenario);
    }
}

/* Two things are wrong with it, and one is told. */
void suppressed_line(struct matrix *m, const struct fields *f)
{
    if (!model_makes(f->field[0])) {
        m->to_come++;
        return;
    }
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        char          where[WHERE_BYTES];
        struct cJSON *scenario = made(f->field[1], f->field[0], "");

        snprintf(where, sizeof where, "suppressed.txt:%u %s (%s, seed %u)", f->line, f->field[0], f->field[1], (unsigned)seed);
        if (matrix_play(m, scenario, seed, where)) {
            matrix_compare(m, f->field[2], where);
            played_free(&m->played);
        }
        cJSON_Delete(scenario);
    }
}

static void never_line(struct matrix *m, const struct fields *f)
{
    unsigned n = 0;

    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++, n++)
            if (f->field[5][0] && strcmp(r->id, f->field[0]) == 0 && m->undecided[n])
                score_trouble(&m->score, "blinds.txt:%u: %s was undecided in a run, and should never be", f->line, r->id);
}

void matrix_never_undecided(struct matrix *m)
{
    matrix_go_through(m, "blinds.txt", never_line);
}
