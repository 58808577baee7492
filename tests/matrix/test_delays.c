/*
 * Live, nobody waits for a finding: each fault is played, and where its finding comes later than 100 ms after the last of its evidence,
 * because its rule speaks only when something is over, it has to be there already if the trace ends at that time: that is what
 * check --follow tells (cli/check_early.h). delays.txt says which rules wait for something by their own demand. And a trace without a
 * fault that ends anywhere shows none.
 */
#include "tests/matrix/matrix.h"
#include "tests/matrix/scenario_words.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

enum { TABLE = 64, SCENARIOS = 128, CUTS = 8 };
#define NS_A_MS INT64_C(1000000)
static const int64_t told_within_ns = 100 * NS_A_MS;
static const int64_t look_ns = 50 * NS_A_MS; /* so much later the program looks, at most: LOOK_MOST_MS of cli/check_early.c */

struct wait { char rule[64]; int64_t ms; unsigned line; bool needed; };

struct delays {
    struct played whole, part;
    struct wait   waits[TABLE];
    unsigned      wait_count;
    char          scenarios[SCENARIOS][64];
    unsigned      scenario_count;
    unsigned      at_once, early, waited, cuts, troubles;
};

static void waits_read(struct delays *d)
{
    struct fields f = { 0 };
    FILE         *file = table_open("delays.txt");

    while (table_next(file, &f) && d->wait_count < TABLE) {
        struct wait *w = &d->waits[d->wait_count++];

        snprintf(w->rule, sizeof w->rule, "%.60s", f.field[0]);
        w->ms = atoi(f.field[1]);
        w->line = f.line;
    }
    fclose(file);
}

static struct wait *wait_of(struct delays *d, const char *rule)
{
    for (unsigned k = 0; k < d->wait_count; k++)
        if (strcmp(d->waits[k].rule, rule) == 0)
            return &d->waits[k];
    return NULL;
}

/* Does the rule fail if the trace ends there? */
static bool fails_by(struct delays *d, const struct cJSON *scenario, uint64_t seed, const char *rule, int64_t until_ns)
{
    bool fails = false;

    d->part.until_ns = until_ns;
    if (!played_run(&d->part, scenario, seed))
        return false;
    fails = played_finding(&d->part, rule, VERDICT_FAIL) != NULL;
    played_free(&d->part);
    return fails;
}

static void judge_delay(struct delays *d, const struct cJSON *scenario, const struct fields *f, unsigned k)
{
    const char  *rule = d->whole.finding[k].rule->id;
    int64_t      shown_ns = d->whole.shown_ns[k];
    struct wait *w = wait_of(d, rule);

    if (d->whole.told_ns[k] - shown_ns <= told_within_ns) {
        d->at_once++;
    } else if (fails_by(d, scenario, 1, rule, shown_ns + told_within_ns - look_ns)) {
        d->early++;
    } else if (w && fails_by(d, scenario, 1, rule, shown_ns + w->ms * NS_A_MS + told_within_ns - look_ns)) {
        w->needed = true;
        d->waited++;
    } else {
        d->troubles++;
        fprintf(stderr, "faults.txt:%u %s: %s comes %.0f ms after its evidence, and not before\n", f->line, f->field[0], rule,
                (double)(d->whole.told_ns[k] - shown_ns) / (double)NS_A_MS);
    }
}

static void scenario_note(struct delays *d, const char *name)
{
    for (unsigned k = 0; k < d->scenario_count; k++)
        if (strcmp(d->scenarios[k], name) == 0)
            return;
    if (d->scenario_count < SCENARIOS)
        snprintf(d->scenarios[d->scenario_count++], sizeof d->scenarios[0], "%.60s", name);
}

static void fault_line(struct delays *d, const struct fields *f)
{
    struct cJSON *scenario = scenario_named(f->field[1]);

    scenario_note(d, f->field[1]);
    scenario_add_faults(scenario, f->field[0]);
    d->whole.until_ns = 0;
    if (played_run(&d->whole, scenario, 1)) {
        for (unsigned k = 0; k < d->whole.findings; k++)
            if (d->whole.finding[k].verdict == VERDICT_FAIL && has_word(f->field[2], d->whole.finding[k].rule->id))
                judge_delay(d, scenario, f, k);
        played_free(&d->whole);
    } else {
        d->troubles++;
        fprintf(stderr, "faults.txt:%u %s: %s\n", f->line, f->field[0], d->whole.trouble);
    }
    cJSON_Delete(scenario);
}

/* Any place from the first record to the last. */
static int64_t drawn_ns(const struct played *p, uint64_t *state)
{
    int64_t first_ns = p->end_ns[0], span_ns = p->end_ns[p->records - 1] - first_ns;

    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return first_ns + (int64_t)((double)(*state >> 33) / (double)(UINT64_C(1) << 31) * (double)span_ns);
}

/* What fails in a part fails in the whole. */
static void cut_anywhere(struct delays *d, const char *name, uint64_t *state)
{
    struct cJSON *scenario = scenario_named(name);

    d->whole.until_ns = 0;
    if (played_run(&d->whole, scenario, 1)) {
        for (unsigned n = 0; n < CUTS; n++) {
            d->part.until_ns = drawn_ns(&d->whole, state);
            if (!played_run(&d->part, scenario, 1))
                continue;
            d->cuts++;
            for (unsigned k = 0; k < d->part.findings; k++)
                if (d->part.finding[k].verdict == VERDICT_FAIL && !played_finding(&d->whole, d->part.finding[k].rule->id, VERDICT_FAIL)) {
                    d->troubles++;
                    fprintf(stderr, "%s, ended %.3f ms after its first record: %s fails in frame %llu\n", name,
                            (double)(d->part.until_ns - d->whole.end_ns[0]) / (double)NS_A_MS, d->part.finding[k].rule->id,
                            (unsigned long long)d->part.finding[k].frame);
                }
            played_free(&d->part);
        }
        played_free(&d->whole);
    }
    cJSON_Delete(scenario);
}

int main(void)
{
    static struct delays d;
    struct fields        f = { 0 };
    FILE                *file = table_open("faults.txt");
    uint64_t             state = 1;

    waits_read(&d);
    while (table_next(file, &f))
        fault_line(&d, &f);
    fclose(file);
    for (unsigned k = 0; k < d.wait_count; k++)
        if (!d.waits[k].needed) {
            d.troubles++;
            fprintf(stderr, "delays.txt:%u: %s waits for nothing\n", d.waits[k].line, d.waits[k].rule);
        }
    for (unsigned k = 0; k < d.scenario_count; k++)
        cut_anywhere(&d, d.scenarios[k], &state);
    printf("findings of faults: %u within 100 ms of their evidence, %u told so far by then, %u after what they wait for\n"
           "traces without a fault that end anywhere: %u\n", d.at_once, d.early, d.waited, d.cuts);
    return d.troubles == 0 && d.at_once > 0 && d.early > 0 && d.cuts > 0 ? 0 : 1;
}
