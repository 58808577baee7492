#include "tests/matrix/random_lives.h"

#include "tests/matrix/played.h"

#include "rules/groups.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Of lives with the electrical model, and of those with the edges of the CC line, there is one for so many others: they are long. */
enum { LIVES = 10000, NEEDED_OF_LIVES = 50, TOLD = 40, OTHERS_OF_MODEL = 20, OTHERS_OF_EDGES = 50 };

/* Must rules whose occasion is itself somebody's fault: clean lives do not give it to them. */
static const char *const by_fault[] = {
    "wire.crc-repeated", "exchange.not-supported", "request.invalid-refused", "time.pps-timeout", "pps.timeout-action", "time.epr-timeout",
    "epr.spr-caps-in-mode", NULL,
};

static bool only_by_fault(const char *id)
{
    for (unsigned k = 0; by_fault[k]; k++)
        if (strcmp(by_fault[k], id) == 0)
            return true;
    return false;
}

struct lives { unsigned count, failed, told; unsigned passed_in[RULES_MAX]; };

static unsigned lives_wanted(void)
{
    const char *text = getenv("MATRIX_RANDOM");

    return text ? (unsigned)strtoul(text, NULL, 10) : LIVES;
}

static void look_at(struct lives *l, const struct played *p, uint64_t seed)
{
    for (unsigned k = 0; k < engine_rules(p->engine); k++) {
        struct result r = engine_result(p->engine, k);

        l->passed_in[k] += r.counts.passed > 0 && r.counts.failed == 0;
        if (r.counts.failed == 0)
            continue;
        const struct finding *f = played_finding(p, r.rule->id, VERDICT_FAIL);

        if (r.rule->level == LEVEL_MUST)
            l->failed++;
        if (r.rule->level != LEVEL_NOTE && l->told++ < TOLD)
            fprintf(stderr, "life %llu: %s (%s) fails in frame %llu\n", (unsigned long long)seed, r.rule->id,
                    level_name(r.rule->level), f ? (unsigned long long)f->frame : 0ull);
    }
}

/* How many lives each binding rule passed in; false if one is short. */
static bool tell(const struct lives *l)
{
    unsigned needed = l->count * NEEDED_OF_LIVES / LIVES, k = 0, short_of = 0;

    printf("Random clean lives: %u, failures of must rules: %u\n", l->count, l->failed);
    printf("  must rules and the lives that each passed in (at least %u):\n", needed);
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++, k++) {
            bool few = r->level == LEVEL_MUST && l->passed_in[k] < needed && !only_by_fault(r->id);

            if (r->level == LEVEL_MUST)
                printf("  %-34s %6u%s\n", r->id, l->passed_in[k], few ? "  TOO FEW" : only_by_fault(r->id) ? "  (only a fault gives it an occasion)" : "");
            short_of += few;
        }
    return l->failed == 0 && short_of == 0;
}

static unsigned passed_in(const struct lives *l, const char *id)
{
    unsigned k = 0;

    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++, k++)
            if (strcmp(r->id, id) == 0)
                return l->passed_in[k];
    return 0;
}

/* They are worth something where VBUS is judged in them: in most, and that without a finding. */
static bool tell_model(const struct lives *l)
{
    unsigned judged = passed_in(l, "volt.contract-window");

    printf("Random clean lives with all of the electrical model: %u, failures of must rules: %u, volt.contract-window passed in %u\n", l->count,
           l->failed, judged);
    return l->failed == 0 && judged > l->count / 2;
}

static bool play(struct lives *l, const char *file, unsigned wanted)
{
    static struct played p;
    struct cJSON        *scenario = scenario_read(file);
    bool                 all = scenario != NULL;

    for (uint64_t seed = 1; all && seed <= wanted; seed++) {
        all = played_run(&p, scenario, seed);
        if (!all) {
            fprintf(stderr, "%s, life %llu: %s\n", file, (unsigned long long)seed, p.trouble);
            break;
        }
        look_at(l, &p, seed);
        l->count++;
        played_free(&p);
    }
    cJSON_Delete(scenario);
    return all;
}

bool random_lives(void)
{
    static struct lives plain, model;
    unsigned            wanted = lives_wanted(), fewer = (wanted + OTHERS_OF_MODEL - 1) / OTHERS_OF_MODEL;
    unsigned            with_edges = (wanted + OTHERS_OF_EDGES - 1) / OTHERS_OF_EDGES;

    if (wanted == 0)
        return true;
    if (!play(&plain, MATRIX_DIR "/scenarios/random.json", wanted) ||
        !play(&plain, MATRIX_DIR "/scenarios/random-edges.json", with_edges) || !play(&model, MATRIX_DIR "/scenarios/random-model.json", fewer) ||
        !play(&model, MATRIX_DIR "/scenarios/random-model-mean.json", fewer))
        return false;
    bool sound = tell_model(&model);

    return tell(&plain) && sound;
}
