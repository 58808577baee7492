/*
 * Every rule on traces that the model made: clean, with one fault, just inside and just outside its window, blinded, and without
 * occasion. Expectations: faults.txt, windows.txt, blinds.txt, unseen.txt, typed from the catalogue. The model (cli/synth) knows
 * nothing of the rules.
 */
#include "tests/matrix/lines_of.h"
#include "tests/matrix/played.h"
#include "tests/matrix/random_lives.h"
#include "tests/matrix/score.h"

#include "rules/groups.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

enum { SEEDS = 3 };

struct matrix {
    struct score  score;
    struct played played;
    char          wanted[128]; /* only lines that hold this; "" all */
};

static struct cJSON *scenario_named(const char *name)
{
    char          path[512];
    struct cJSON *s;

    snprintf(path, sizeof path, "%s/scenarios/%s.json", MATRIX_DIR, name);
    s = scenario_read(path);
    if (!s) {
        fprintf(stderr, "%s cannot be read\n", path);
        exit(2);
    }
    return s;
}

/* "name [variant] [amount]" into the scenario's list of that name ("faults", "blinds"). */
static void scenario_add(struct cJSON *scenario, const char *list, const char *key, const char *words)
{
    struct cJSON *all = cJSON_GetObjectItem(scenario, list), *one = cJSON_CreateObject();
    char          word[FIELD_BYTES];

    if (!all)
        all = cJSON_AddArrayToObject(scenario, list);
    for (unsigned k = 0; word_of(words, k, word, sizeof word); k++) {
        char  *end;
        double amount = strtod(word, &end);

        if (k == 0)
            cJSON_AddStringToObject(one, key, word);
        else if (*end == '\0')
            cJSON_AddNumberToObject(one, "amount_ms", amount);
        else if (strncmp(word, "at=", 3) == 0)
            cJSON_AddNumberToObject(one, "at", atoi(word + 3));
        else
            cJSON_AddStringToObject(one, "variant", word);
    }
    cJSON_AddItemToArray(all, one);
}

/* Failing rules against the expected ones. */
static void compare_failures(struct matrix *m, const char *expected, const char *where)
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

static bool play(struct matrix *m, const struct cJSON *scenario, uint64_t seed, const char *where)
{
    m->score.runs++;
    if (played_run(&m->played, scenario, seed))
        return true;
    score_trouble(&m->score, "%s: %s", where, m->played.trouble);
    return false;
}

/* Nothing fails, and these pass. */
static void clean_run(struct matrix *m, const struct cJSON *scenario, uint64_t seed, const char *rules, const char *where)
{
    char word[FIELD_BYTES];

    if (!play(m, scenario, seed, where))
        return;
    compare_failures(m, "", where);
    for (unsigned k = 0; word_of(rules, k, word, sizeof word); k++)
        if (played_result(&m->played, word).verdict != VERDICT_PASS)
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

    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        char          where[1700];
        struct cJSON *scenario = scenario_named(f->field[1]);

        snprintf(where, sizeof where, "faults.txt:%u %s (%s, seed %u)", f->line, f->field[0], f->field[1], (unsigned)seed);
        clean_run(m, scenario, seed, f->field[2], where);
        scenario_add(scenario, "faults", "fault", f->field[0]);
        if (play(m, scenario, seed, where)) {
            compare_failures(m, f->field[2], where);
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
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        char          where[1700], fault[FIELD_BYTES * 2], expected[FIELD_BYTES * 2];
        struct cJSON *scenario = scenario_named(f->field[1]);

        snprintf(where, sizeof where, "windows.txt:%u %s %s (%s, seed %u)", f->line, f->field[0], amount, f->field[1], (unsigned)seed);
        snprintf(fault, sizeof fault, "%s %s", f->field[0], amount);
        snprintf(expected, sizeof expected, "%s %s", f->field[0], f->field[4]);
        scenario_add(scenario, "faults", "fault", fault);
        if (!outside)
            clean_run(m, scenario, seed, f->field[0], where);
        else if (play(m, scenario, seed, where)) {
            compare_failures(m, expected, where);
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

/* Evidence is taken away: undecided, and nothing fails. rule | scenario | blind | fault as well (may be empty). */
static void blind_line(struct matrix *m, const struct fields *f)
{
    char where[1700];

    if (strcmp(f->field[1], "-") == 0)
        return; /* nothing can leave it undecided: the line says why */
    struct cJSON *scenario = scenario_named(f->field[1]);

    snprintf(where, sizeof where, "blinds.txt:%u %s (%s, %s)", f->line, f->field[0], f->field[1], f->field[2]);
    scenario_add(scenario, "blinds", "blind", f->field[2]);
    if (f->field[3][0])
        scenario_add(scenario, "faults", "fault", f->field[3]);
    if (play(m, scenario, 1, where)) {
        compare_failures(m, f->field[4], where);
        if (played_result(&m->played, f->field[0]).counts.undecided == 0)
            score_trouble(&m->score, "%s: not undecided but %s", where, verdict_name(played_result(&m->played, f->field[0]).verdict));
        played_free(&m->played);
    }
    cJSON_Delete(scenario);
}

static void unseen_line(struct matrix *m, const struct fields *f)
{
    char          where[1700];
    struct cJSON *scenario = scenario_named(f->field[1]);

    snprintf(where, sizeof where, "unseen.txt:%u %s (%s)", f->line, f->field[0], f->field[1]);
    if (play(m, scenario, 1, where)) {
        compare_failures(m, "", where);
        if (played_result(&m->played, f->field[0]).verdict != VERDICT_NOT_SEEN)
            score_trouble(&m->score, "%s: not not-seen but %s", where, verdict_name(played_result(&m->played, f->field[0]).verdict));
        played_free(&m->played);
    }
    cJSON_Delete(scenario);
}

/* Goes through a table, or, with seen, only notes which rules its column names. */
static void go_through(struct matrix *m, const char *table, void (*line)(struct matrix *, const struct fields *), unsigned column, char *seen)
{
    struct fields f = { 0 };
    FILE         *file = table_open(table);

    while (table_next(file, &f)) {
        strcat(strcat(seen, " "), f.field[column]);
        if (!m->wanted[0] || strstr(f.field[0], m->wanted) || strstr(f.field[1], m->wanted))
            line(m, &f);
    }
    fclose(file);
}

static void every_rule_is_in(struct matrix *m, const char *table, const char *seen)
{
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++)
            if (!has_word(seen, r->id))
                score_trouble(&m->score, "%s: nothing about %s", table, r->id);
}

int main(int argc, char **argv)
{
    static struct matrix m;
    static struct { const char *table; void (*line)(struct matrix *, const struct fields *); unsigned column; } tables[] = {
        { "faults.txt", fault_line, 2 }, { "windows.txt", window_line, 0 }, { "blinds.txt", blind_line, 0 },
        { "unseen.txt", unseen_line, 0 },
    };

    if (argc > 1)
        snprintf(m.wanted, sizeof m.wanted, "%s", argv[1]);
    for (unsigned k = 0; k < sizeof tables / sizeof tables[0]; k++) {
        static char seen[1 << 17];

        seen[0] = '\0';
        go_through(&m, tables[k].table, tables[k].line, tables[k].column, seen);
        if (k != 1 && !m.wanted[0])
            every_rule_is_in(&m, tables[k].table, seen);
    }
    bool good = score_print(&m.score, "Matrix");

    if (!m.wanted[0])
        good = random_lives() && good;
    return good ? 0 : 1;
}
