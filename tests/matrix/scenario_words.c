#include "tests/matrix/scenario_words.h"

#include "tests/matrix/lines_of.h"
#include "tests/matrix/played.h"

#include "cli/synth/synth.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

enum { QUIET_MS = 18000 }; /* longer than any rule looks back */

struct cJSON *scenario_named(const char *name)
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

/* Step by step into a new list: cJSON 1.7.15 of some distributions inserts nothing into the middle of one. */
static void add_quiet_to(struct cJSON *port)
{
    struct cJSON *old = cJSON_DetachItemFromObject(port, "steps"), *fresh = cJSON_AddArrayToObject(port, "steps"), *one;

    while ((one = cJSON_DetachItemFromArray(old, 0)) != NULL) {
        const char *act = cJSON_GetStringValue(cJSON_GetObjectItem(one, "do"));

        cJSON_AddItemToArray(fresh, one);
        if (!act || strcmp(act, "attach") != 0)
            continue;
        one = cJSON_CreateObject();
        cJSON_AddStringToObject(one, "do", "wait");
        cJSON_AddNumberToObject(one, "ms", QUIET_MS);
        cJSON_AddItemToArray(fresh, one);
    }
    cJSON_Delete(old);
}

void scenario_add_quiet(struct cJSON *scenario)
{
    struct cJSON *port, *ports = cJSON_GetObjectItem(scenario, "ports");

    cJSON_ArrayForEach(port, ports)
        add_quiet_to(port);
}

/* Part k of a field with ; between. */
static bool part_of(const char *field, unsigned k, char *out, size_t cap)
{
    for (; k > 0; k--) {
        field = strchr(field, ';');
        if (!field)
            return false;
        field++;
    }
    size_t length = strcspn(field, ";");

    if (length >= cap)
        return false;
    memcpy(out, field, length);
    out[length] = '\0';
    return true;
}

static void add_value(struct cJSON *object, const char *key, const char *value)
{
    char  *end;
    double number = strtod(value, &end);

    cJSON_DeleteItemFromObject(object, key);
    if (*end == '\0')
        cJSON_AddNumberToObject(object, key, number);
    else
        cJSON_AddStringToObject(object, key, value);
}

/* A number of milliseconds; with mV or mA behind it of these: the key of it. NULL: no number. */
static const char *amount_key(const char *word)
{
    char *end;

    (void)strtod(word, &end);
    if (end == word)
        return NULL;
    return *end == '\0' ? "amount_ms" : strcmp(end, "mV") == 0 ? "amount_mv" : strcmp(end, "mA") == 0 ? "amount_ma" : NULL;
}

static void add_word(struct cJSON *object, char *word)
{
    char *equals = strchr(word, '=');

    if (equals) {
        *equals = '\0';
        add_value(object, word, equals + 1);
    } else if (amount_key(word)) {
        cJSON_AddNumberToObject(object, amount_key(word), strtod(word, NULL));
    } else {
        add_value(object, "variant", word);
    }
}

static struct cJSON *in_list(struct cJSON *scenario, const char *list, const char *key, const char *name)
{
    struct cJSON *all = cJSON_GetObjectItem(scenario, list), *one = cJSON_CreateObject();

    if (!all)
        all = cJSON_AddArrayToObject(scenario, list);
    cJSON_AddStringToObject(one, key, name);
    cJSON_AddItemToArray(all, one);
    return one;
}

static struct cJSON *instrument_of(struct cJSON *scenario)
{
    struct cJSON *own = cJSON_GetObjectItem(scenario, "instrument");

    return own ? own : cJSON_AddObjectToObject(scenario, "instrument");
}

static void add_parts(struct cJSON *scenario, const char *list, const char *key, const char *words)
{
    char part[FIELD_BYTES], word[FIELD_BYTES];

    for (unsigned k = 0; part_of(words, k, part, sizeof part); k++) {
        struct cJSON *one;

        if (!word_of(part, 0, word, sizeof word))
            continue;
        one = strcmp(word, "clock") == 0 ? instrument_of(scenario) : in_list(scenario, list, key, word);
        for (unsigned n = 1; word_of(part, n, word, sizeof word); n++)
            add_word(one, word);
    }
}

void scenario_add_faults(struct cJSON *scenario, const char *words)
{
    add_parts(scenario, "faults", "fault", words);
}

void scenario_add_blinds(struct cJSON *scenario, const char *words)
{
    add_parts(scenario, "blinds", "blind", words);
}

static bool makes_one(const char *words)
{
    char                       name[FIELD_BYTES], second[FIELD_BYTES];
    const struct synth_fault  *f;
    const struct synth_number *n;
    bool                       variant = false, amount = false;

    if (!word_of(words, 0, name, sizeof name))
        return false;
    if (word_of(words, 1, second, sizeof second)) {
        amount = amount_key(second) != NULL;
        variant = !amount && !strchr(second, '=');
    }
    for (unsigned k = 0; (f = synth_fault_row(k)) != NULL; k++)
        if (strcmp(f->name, name) == 0 && (variant ? f->variant && strcmp(f->variant, second) == 0 : f->variant == NULL))
            return true;
    for (unsigned k = 0; amount && (n = synth_number_row(k)) != NULL; k++)
        if (strcmp(n->timer, name) == 0)
            return true;
    return false;
}

bool model_makes(const char *words)
{
    char part[FIELD_BYTES];

    for (unsigned k = 0; part_of(words, k, part, sizeof part); k++)
        if (!makes_one(part))
            return false;
    return true;
}
