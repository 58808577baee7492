/* Each fault of faults.txt in random lives, at a place that is drawn: nothing fails but what the line names, whatever the trace shows of it. */
#include "tests/matrix/matrix.h"
#include "tests/matrix/scenario_words.h"

#include <cjson/cJSON.h>
#include <string.h>

enum { STRAY_SEEDS = 8, STRAY_FIRST = 20001 };

/* Beyond those named; remarks are left out: some are made where nothing is wrong. */
static void compare_strays(struct matrix *m, const char *expected, const char *where)
{
    for (unsigned k = 0; k < engine_rules(m->played.engine); k++) {
        struct result r = engine_result(m->played.engine, k);

        if (r.verdict != VERDICT_FAIL || r.rule->level == LEVEL_NOTE || has_word(expected, r.rule->id))
            continue;
        const struct finding *f = played_finding(&m->played, r.rule->id, VERDICT_FAIL);

        score_wrong(&m->score, r.rule->id);
        fprintf(stderr, "%s: %s fails too, in frame %llu\n", where, r.rule->id, f ? (unsigned long long)f->frame : 0ull);
    }
}

/* Lives in EPR mode are too rare among all to be waited for; edges are not recorded unless they are asked for. */
static struct cJSON *life_for(const struct fields *f)
{
    return scenario_named(strncmp(f->field[1], "epr", 3) == 0     ? "random-epr"
                          : strncmp(f->field[1], "edges", 5) == 0 ? "random-edges"
                                                                  : "random");
}

void stray_line(struct matrix *m, const struct fields *f)
{
    char words[FIELD_BYTES + 16];

    if (!model_makes(f->field[0]))
        return;
    snprintf(words, sizeof words, "%s at=random", f->field[0]);
    for (uint64_t seed = STRAY_FIRST; seed < STRAY_FIRST + STRAY_SEEDS; seed++) {
        char          where[WHERE_BYTES];
        struct cJSON *life = life_for(f);

        snprintf(where, sizeof where, "faults.txt:%u %s (random life, seed %u)", f->line, f->field[0], (unsigned)seed);
        scenario_add_faults(life, words);
        if (played_run(&m->played, life, seed)) {
            m->strays++;
            compare_strays(m, f->field[2], where);
            played_free(&m->played);
        } else if (m->played.findings == 0 && m->played.records == 0) {
            score_trouble(&m->score, "%s: %s", where, m->played.trouble);
        }
        cJSON_Delete(life);
    }
}
