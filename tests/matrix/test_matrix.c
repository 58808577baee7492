/*
 * Rules on traces that the model made: clean, with one fault, just inside and just outside a window; and random lives. Expectations:
 * faults.txt, windows.txt, typed from the catalogue. The model (cli/synth) knows nothing of the rules. It makes every fault that a line
 * names.
 */
#include "tests/matrix/matrix.h"
#include "tests/matrix/random_lives.h"
#include "tests/matrix/scenario_words.h"

#include <cjson/cJSON.h>
#include <string.h>

/* As many lines may name a fault that the model does not make: a new one is made before its line comes. */
enum { TO_COME_MOST = 0 };

/* Failing rules against the expected ones. */
void matrix_compare(struct matrix *m, const char *expected, const char *where)
{
    char word[FIELD_BYTES];

    for (unsigned k = 0; k < engine_rules(m->played.engine); k++) {
        struct result r = engine_result(m->played.engine, k);

        if (r.verdict != VERDICT_FAIL || has_word(expected, r.rule->id))
            continue;
        const struct finding *f = played_finding(&m->played, r.rule->id, VERDICT_FAIL);

        score_wrong(&m->score, r.rule->id);
        fprintf(stderr, "%s: %s fails too, in frame %llu\n", where, r.rule->id, f ? (unsigned long long)f->frame : 0ull);
    }
    for (unsigned k = 0; word_of(expected, k, word, sizeof word); k++) {
        if (played_result(&m->played, word).verdict == VERDICT_FAIL) {
            score_hit(&m->score, word);
            continue;
        }
        score_missed(&m->score, word);
        fprintf(stderr, "%s: %s does not fail, it is %s\n", where, word, verdict_name(played_result(&m->played, word).verdict));
    }
}

bool matrix_play(struct matrix *m, const struct cJSON *scenario, uint64_t seed, const char *where)
{
    m->score.runs++;
    if (!played_run(&m->played, scenario, seed)) {
        score_trouble(&m->score, "%s: %s", where, m->played.trouble);
        return false;
    }
    for (unsigned k = 0; k < engine_rules(m->played.engine); k++)
        m->undecided[k] = m->undecided[k] || engine_result(m->played.engine, k).counts.undecided;
    return true;
}

/* The rules that have to fail, and of those that may the ones that do. */
static const char *expected_failures(const struct matrix *m, const char *rules, const char *may, char *out, size_t cap)
{
    char   word[FIELD_BYTES];
    size_t n = (size_t)snprintf(out, cap, "%s", rules);

    for (unsigned k = 0; word_of(may, k, word, sizeof word); k++)
        if (played_result(&m->played, word).verdict == VERDICT_FAIL)
            n += (size_t)snprintf(out + n, cap - n, " %s", word);
    return out;
}

/* Nothing fails but what the scenario may bring (besides), and these pass. */
static void clean_run(struct matrix *m, const struct cJSON *scenario, uint64_t seed, const char *rules, const char *besides,
                      const char *where)
{
    char word[FIELD_BYTES], expected[FIELD_BYTES * 2 + 2];

    if (!matrix_play(m, scenario, seed, where))
        return;
    matrix_compare(m, expected_failures(m, "", besides, expected, sizeof expected), where);
    /* Without an occasion: clean.txt says which rules only a fault gives one. */
    for (unsigned k = 0; word_of(rules, k, word, sizeof word); k++)
        if (played_result(&m->played, word).verdict != VERDICT_NOT_SEEN && played_result(&m->played, word).verdict != VERDICT_PASS)
            score_trouble(&m->score, "%s: clean, and %s is %s", where, word, verdict_name(played_result(&m->played, word).verdict));
    played_free(&m->played);
}

/* The fault is found where the model made it, once, about the right one. */
static void compare_place(struct matrix *m, const char *rule, const char *who, const char *where)
{
    const struct finding *f = played_finding(&m->played, rule, VERDICT_FAIL);

    if (!f)
        return;
    if (m->played.faults == 0)
        score_trouble(&m->score, "%s: the model made no fault", where);
    else if (f->frame != m->played.fault[0].frame)
        score_trouble(&m->score, "%s: %s in frame %llu, made in frame %llu", where, rule, (unsigned long long)f->frame,
                      (unsigned long long)m->played.fault[0].frame);
    if (*who && strcmp(whom_name(f->whom), who) != 0)
        score_trouble(&m->score, "%s: %s is about the %s, expected the %s", where, rule, whom_name(f->whom), who);
}

static void fault_line(struct matrix *m, const struct fields *f)
{
    char first[FIELD_BYTES];

    if (!model_makes(f->field[0])) {
        m->to_come++;
        return;
    }
    for (uint64_t seed = 1; seed <= SEEDS + 1; seed++) {
        char          where[WHERE_BYTES], expected[FIELD_BYTES * 2 + 2];
        bool          quiet = seed > SEEDS;
        struct cJSON *scenario = scenario_named(f->field[1]);

        if (quiet)
            scenario_add_quiet(scenario);
        snprintf(where, sizeof where, "faults.txt:%u %s (%s, seed %u%s)", f->line, f->field[0], f->field[1], (unsigned)seed,
                 quiet ? ", long after the plugging in" : "");
        clean_run(m, scenario, seed, f->field[2], f->field[4], where);
        scenario_add_faults(scenario, f->field[0]);
        if (matrix_play(m, scenario, seed, where)) {
            matrix_compare(m, expected_failures(m, f->field[2], f->field[4], expected, sizeof expected), where);
            if (word_of(f->field[2], 0, first, sizeof first))
                compare_place(m, first, f->field[3], where);
            played_free(&m->played);
        }
        cJSON_Delete(scenario);
    }
}

/* One amount of a time: the rule passes with it, or fails and what is named besides. */
static void window_amount(struct matrix *m, const struct fields *f, const char *amount, bool outside)
{
    for (uint64_t seed = 1; seed <= SEEDS + 1; seed++) {
        char          where[WHERE_BYTES], fault[FIELD_BYTES * 2 + 2], expected[FIELD_BYTES * 2 + 2], rule[FIELD_BYTES];
        struct cJSON *scenario = scenario_named(f->field[1]);

        if (!word_of(f->field[0], 0, rule, sizeof rule))
            rule[0] = '\0';
        if (seed > SEEDS)
            scenario_add_quiet(scenario);

        snprintf(where, sizeof where, "windows.txt:%u %s %s (%s, seed %u)", f->line, f->field[0], amount, f->field[1], (unsigned)seed);
        snprintf(fault, sizeof fault, "%s %s", f->field[5][0] ? f->field[5] : f->field[0], amount);
        snprintf(expected, sizeof expected, "%s %s", outside ? rule : "", f->field[4]);
        scenario_add_faults(scenario, fault);
        if (matrix_play(m, scenario, seed, where)) {
            matrix_compare(m, expected, where);
            if (!outside && played_result(&m->played, rule).counts.passed == 0)
                score_trouble(&m->score, "%s: inside, and it did not pass", where);
            played_free(&m->played);
        }
        cJSON_Delete(scenario);
    }
}

static void window_line(struct matrix *m, const struct fields *f)
{
    char amount[FIELD_BYTES];

    for (unsigned k = 0; word_of(f->field[2], k, amount, sizeof amount); k++)
        window_amount(m, f, amount, false);
    for (unsigned k = 0; word_of(f->field[3], k, amount, sizeof amount); k++)
        window_amount(m, f, amount, true);
}

void matrix_go_through(struct matrix *m, const char *table, void (*line)(struct matrix *, const struct fields *))
{
    struct fields f = { 0 };
    FILE         *file = table_open(table);

    while (table_next(file, &f))
        if (!m->wanted[0] || strstr(f.field[0], m->wanted) || strstr(f.field[1], m->wanted))
            line(m, &f);
    fclose(file);
}

int main(int argc, char **argv)
{
    static struct matrix m;

    if (argc > 1)
        snprintf(m.wanted, sizeof m.wanted, "%s", argv[1]);
    matrix_go_through(&m, "faults.txt", fault_line);
    matrix_go_through(&m, "suppressed.txt", suppressed_line);
    matrix_go_through(&m, "windows.txt", window_line);
    matrix_go_through(&m, "blinds.txt", blind_line);
    matrix_go_through(&m, "unseen.txt", unseen_line);
    matrix_go_through(&m, "clean.txt", clean_line);
    matrix_never_undecided(&m);
    matrix_go_through(&m, "faults.txt", stray_line);
    bool good = score_print(&m.score, "Matrix");

    printf("  %u lines name a fault that the model does not make, at most %u may\n", m.to_come, TO_COME_MOST);
    good = m.to_come <= TO_COME_MOST && good;
    printf("  %u random lives with a fault at a place that was drawn\n", m.strays);
    good = (m.strays > 0 || m.wanted[0]) && good;
    good = matrix_complete() && good;
    good = numbers_agree() && good;
    if (!m.wanted[0])
        good = random_lives() && good;
    return good ? 0 : 1;
}
