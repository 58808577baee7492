#include "tests/matrix/random_lives.h"

#include "tests/matrix/played.h"

#include "rules/groups.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LIVES = 10000, NEEDED_OF_LIVES = 50, TOLD = 40 };

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

bool random_lives(void)
{
    static struct lives  l;
    static struct played p;
    unsigned             wanted = lives_wanted();
    struct cJSON        *scenario = scenario_read(MATRIX_DIR "/scenarios/random.json");

    if (wanted == 0) {
        cJSON_Delete(scenario);
        return true;
    }
    for (uint64_t seed = 1; seed <= wanted; seed++) {
        if (!scenario || !played_run(&p, scenario, seed)) {
            fprintf(stderr, "life %llu: %s\n", (unsigned long long)seed, scenario ? p.trouble : "no scenario");
            return false;
        }
        look_at(&l, &p, seed);
        l.count++;
        played_free(&p);
    }
    cJSON_Delete(scenario);
    return tell(&l);
}
