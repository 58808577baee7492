/*
 * Readings that are off against packets, CC and marks by no more than ABOUT says (instrument.align_ns, k = 1; rules take twice that) accuse
 * nobody: lives of sound ports with the electrical model, POWER and TEMPERATURE shifted by a drawn amount. What fails unshifted may fail, and
 * nothing else. Everything is drawn from the number of the life.
 */
#include "tests/matrix/scenario_words.h"

#include "cli/synth/synth.h"
#include "rules/engine.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* As many lives of each scenario as MATRIX_TIE says, else so many; each is played with every tie, with CC_STATE and without. */
enum { LIVES = 20, TOLD = 60, ABOUT_BYTES = 256 };
static const int64_t ties_ns[] = { 500000, 20000000, 1000000000 };
static const char *const scenarios[] = { "random-model", "random-model-mean", "swaps-volts", "pps-volts", "avs-volts", "resets-volts", "epr-volts",
                                         "fast-volts", "battery-volts" };
enum { TIES = sizeof ties_ns / sizeof ties_ns[0], SCENARIOS = sizeof scenarios / sizeof scenarios[0] };

struct kept { int64_t stamp_ns, t_ns; uint8_t *bytes; size_t length, number; };
struct life { struct kept *kept; size_t count, room; };
struct outcome_of_life { bool failed[RULES_MAX]; struct finding first[RULES_MAX]; }; /* first: of those that fail */
struct tie { int64_t align_ns, shift_ns; bool without_cc; };

static uint64_t drawn(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15)); /* SplitMix64 */

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static bool keep(struct life *l, const struct synth_record *made)
{
    if (l->count == l->room) {
        size_t       room = l->room ? l->room * 2 : 4096;
        struct kept *list = realloc(l->kept, room * sizeof *list);

        if (!list)
            return false;
        l->kept = list;
        l->room = room;
    }
    struct kept *k = &l->kept[l->count];

    *k = (struct kept){ .stamp_ns = made->stamp_ns, .length = made->length, .number = l->count, .bytes = malloc(made->length) };
    if (!k->bytes)
        return false;
    memcpy(k->bytes, made->bytes, made->length);
    l->count++;
    return true;
}

static void life_free(struct life *l)
{
    for (size_t k = 0; k < l->count; k++)
        free(l->kept[k].bytes);
    free(l->kept);
    *l = (struct life){ 0 };
}

static bool life_make(struct life *l, const struct cJSON *scenario, uint64_t seed)
{
    struct synth_trouble trouble;
    struct synth        *s = synth_open(scenario, (int64_t)seed, &trouble);
    struct synth_record  made;
    bool                 good = s != NULL;

    while (good && synth_next(s, &made))
        good = keep(l, &made);
    good = good && !synth_failed(s);
    synth_close(s);
    return good;
}

static uint8_t kind_of(const struct kept *k)
{
    struct record r;

    record_read(k->bytes, k->length, false, k->stamp_ns, 1, &r);
    return r.kind;
}

static int by_time(const void *a, const void *b)
{
    const struct kept *x = a, *y = b;

    return x->t_ns != y->t_ns ? (x->t_ns < y->t_ns ? -1 : 1) : (x->number > y->number) - (x->number < y->number);
}

/* The records as they would have come: readings by their own clock, ABOUT before all. */
static struct kept *in_order(const struct life *l, const struct tie *t)
{
    struct kept *list = malloc(l->count * sizeof *list);

    for (size_t k = 0; list && k < l->count; k++) {
        uint8_t kind = kind_of(&l->kept[k]);

        list[k] = l->kept[k];
        list[k].stamp_ns += kind == RECORD_POWER || kind == RECORD_TEMPERATURE ? t->shift_ns : 0;
        list[k].t_ns = kind == RECORD_ABOUT ? INT64_MIN : record_start_ns(list[k].bytes, list[k].length, list[k].stamp_ns);
    }
    if (list)
        qsort(list, l->count, sizeof *list, by_time);
    return list;
}


/* The first failure of each rule, its rule being found again by its name when all is over. */
struct heard { unsigned count; struct finding finding[RULES_MAX]; };

static void hear(void *context, const struct finding *f)
{
    struct heard *h = context;

    if (f->verdict == VERDICT_FAIL && h->count < RULES_MAX)
        h->finding[h->count++] = *f;
}

static bool feed_about(struct engine *e, int64_t stamp_ns, int64_t align_ns)
{
    char          body[ABOUT_BYTES];
    uint8_t       bytes[ABOUT_BYTES + RECORD_HEADER_BYTES];
    struct record r;
    int           n = snprintf(body, sizeof body, "{\"instrument\":{\"align_ns\":%lld}}", (long long)align_ns);
    size_t        length = record_put(bytes, sizeof bytes, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_INVENTED, 0, (const uint8_t *)body, (size_t)n);

    record_read(bytes, length, false, stamp_ns, 1, &r);
    return r.soundness == RECORD_SOUND && engine_feed(e, &r, false);
}

static bool feed(struct engine *e, const struct kept *list, size_t count, const struct tie *t)
{
    int64_t last_ns = 0;
    bool    said = t->align_ns == 0;

    for (size_t k = 0; k < count; k++) {
        struct record r;

        record_read(list[k].bytes, list[k].length, false, list[k].stamp_ns, list[k].number + 1, &r);
        if (t->without_cc && r.kind == RECORD_CC_STATE)
            continue;
        if (!said && r.kind != RECORD_ABOUT) {
            said = true;
            if (!feed_about(e, r.t_ns, t->align_ns))
                return false;
        }
        if (!engine_feed(e, &r, false))
            return false;
        last_ns = r.t_ns + record_span_ns(&r) > last_ns ? r.t_ns + record_span_ns(&r) : last_ns;
    }
    engine_end(e, last_ns);
    return true;
}

static bool play(const struct life *l, const struct tie *t, struct outcome_of_life *out)
{
    static struct heard   heard;
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .finding = hear, .context = &heard };
    struct kept          *list = in_order(l, t);
    struct engine        *e;
    bool                  good;

#ifdef PORTASSAY_MUTANTS
    o.mutant = getenv("PORTASSAY_MUTANT");
#endif
    e = engine_new(&o);
    heard.count = 0;
    *out = (struct outcome_of_life){ .failed = { false } };
    good = list && e && feed(e, list, l->count, t);
    for (unsigned k = 0; good && k < engine_rules(e); k++) {
        struct result r = engine_result(e, k);

        out->failed[k] = r.counts.failed > 0 && r.rule->level != LEVEL_NOTE;
        for (unsigned n = heard.count; n-- > 0;)
            if (heard.finding[n].rule == r.rule)
                out->first[k] = heard.finding[n];
    }
    engine_free(e);
    free(list);
    return good;
}

struct found { unsigned played, accused; };

/* No rule fails that does not without the shift. */
static void compare(struct found *f, const char *where, const struct tie *t, const struct outcome_of_life *before, const struct outcome_of_life *after)
{
    f->played++;
    for (unsigned k = 0; k < RULES_MAX; k++) {
        if (!after->failed[k] || before->failed[k])
            continue;
        if (f->accused++ < TOLD)
            fprintf(stderr, "%s, readings %+.3f ms off, align_ns %.3f ms%s: %s fails at %.3f ms in frame %llu: sentence %u, measured %lld\n", where,
                    (double)t->shift_ns / 1e6, (double)t->align_ns / 1e6, t->without_cc ? ", no CC" : "", after->first[k].rule->id,
                    (double)(after->first[k].t_ns % INT64_C(1000000000000)) / 1e6, (unsigned long long)after->first[k].frame, (unsigned)after->first[k].sentence,
                    (long long)after->first[k].measured);
    }
}

/* Up to what the rules take: twice the standard uncertainty. */
static int64_t shift_drawn(uint64_t *state, int64_t align_ns)
{
    return (int64_t)(drawn(state) % (uint64_t)(4 * align_ns + 1)) - 2 * align_ns;
}

static bool life_tied(struct found *f, const char *name, const struct life *l, uint64_t seed)
{
    static struct outcome_of_life before[2], after;
    uint64_t                      state = seed * 7919;
    char                          where[96];

    snprintf(where, sizeof where, "%s, life %llu", name, (unsigned long long)seed);
    for (unsigned without = 0; without < 2; without++)
        if (!play(l, &(struct tie){ .without_cc = without }, &before[without]))
            return false;
    for (unsigned k = 0; k < TIES * 2; k++) {
        struct tie t = { .align_ns = ties_ns[k / 2], .shift_ns = shift_drawn(&state, ties_ns[k / 2]), .without_cc = k % 2 };

        if (!play(l, &t, &after))
            return false;
        compare(f, where, &t, &before[t.without_cc], &after);
    }
    return true;
}

static bool scenario_tied(struct found *f, const char *name, uint64_t lives)
{
    struct cJSON *scenario = scenario_named(name);
    bool          good = true;

    for (uint64_t seed = 1; good && seed <= lives; seed++) {
        struct life l = { 0 };

        good = life_make(&l, scenario, seed) && life_tied(f, name, &l, seed);
        life_free(&l);
    }
    cJSON_Delete(scenario);
    return good;
}

/* What no shift of 40 ms explains is told all the same. */
static bool fault_told(const char *rule, const char *name)
{
    static struct outcome_of_life out;
    struct cJSON                 *scenario = scenario_named(name);
    struct life                   l = { 0 };
    bool                          told = false;

    scenario_add_faults(scenario, rule);
    if (life_make(&l, scenario, 1) && play(&l, &(struct tie){ .align_ns = 20000000, .shift_ns = 15000000 }, &out))
        for (unsigned k = 0; k < RULES_MAX; k++)
            told = told || (out.failed[k] && strcmp(out.first[k].rule->id, rule) == 0);
    if (!told)
        fprintf(stderr, "%s (%s) is not told where packets and readings may be 40 ms apart\n", rule, name);
    life_free(&l);
    cJSON_Delete(scenario);
    return told;
}

static bool faults_told(void)
{
    static const struct { const char *rule, *scenario; } faults[] = {
        { "volt.contract-window", "volts" },
        { "volt.level-not-reached", "volts" },
        { "volt.slew-up", "close" },
        { "volt.negative", "volts" },
        { "volt.safe0v-after-hard-reset", "resets-volts" },
        { "volt.drop-under-load", "volts" },
        { "volt.reverse-current", "long-blocks" },
        { "pps.current-limit", "pps-limit" } };
    bool good = true;

    for (unsigned k = 0; k < sizeof faults / sizeof faults[0]; k++)
        good = fault_told(faults[k].rule, faults[k].scenario) && good;
    return good;
}

int main(void)
{
    const char  *text = getenv("MATRIX_TIE");
    uint64_t     lives = text ? strtoull(text, NULL, 10) : LIVES;
    struct found f = { 0 };

    for (unsigned k = 0; k < SCENARIOS; k++) {
        if (!scenario_tied(&f, scenarios[k], lives)) {
            fprintf(stderr, "%s could not be played\n", scenarios[k]);
            return 1;
        }
    }
    printf("Lives of sound ports with readings off by what ABOUT says: %u, rules that accuse somebody for it: %u\n", f.played, f.accused);
    return faults_told() && f.accused == 0 && f.played > 0 ? 0 : 1;
}
