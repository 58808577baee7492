#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <string.h>

struct reading reading_into(const struct reading *r, const char *key, int index)
{
    struct reading own = { .trouble = r->trouble };
    const char    *dot = r->path[0] ? "." : "";

    if (index < 0)
        snprintf(own.path, sizeof own.path, "%.30s%s%.20s", r->path, dot, key);
    else
        snprintf(own.path, sizeof own.path, "%.30s%s%.20s[%d]", r->path, dot, key, index);
    return own;
}

bool reading_no(struct reading *r, const char *key, const char *expected)
{
    snprintf(r->trouble->path, sizeof r->trouble->path, "%s%s%.30s", r->path, r->path[0] && key[0] ? "." : "", key);
    snprintf(r->trouble->text, sizeof r->trouble->text, "%.200s expected", expected);
    return false;
}

bool reading_choice(const char *text, const char *const *choices, unsigned *index)
{
    for (unsigned k = 0; choices[k]; k++)
        if (strcmp(choices[k], text) == 0) {
            *index = k;
            return true;
        }
    return false;
}

static bool number(struct reading *r, const struct key_row *row, const cJSON *item, void *into)
{
    char text[64];

    if (!cJSON_IsNumber(item) || item->valuedouble < (double)row->least || item->valuedouble > (double)row->most) {
        snprintf(text, sizeof text, "a number from %lld to %lld", (long long)row->least, (long long)row->most);
        return reading_no(r, row->key, text);
    }
    if (row->kind == KEY_COUNT)
        *(unsigned *)into = (unsigned)item->valuedouble;
    else
        *(int64_t *)into = (int64_t)item->valuedouble;
    return true;
}

static bool choice(struct reading *r, const struct key_row *row, const cJSON *item, void *into)
{
    char   text[160] = "one of";
    size_t used = strlen(text);

    if (cJSON_IsString(item) && reading_choice(item->valuestring, row->choices, into))
        return true;
    for (unsigned k = 0; row->choices[k] && used < sizeof text; k++)
        used += (size_t)snprintf(text + used, sizeof text - used, " \"%s\"", row->choices[k]);
    return reading_no(r, row->key, text);
}

static bool value(struct reading *r, const struct key_row *row, const cJSON *item, void *base)
{
    void *into = (char *)base + row->offset;

    switch (row->kind) {
    case KEY_FLAG:
        *(bool *)into = cJSON_IsTrue(item);
        return cJSON_IsBool(item) || reading_no(r, row->key, "true or false");
    case KEY_COUNT: case KEY_LONG:
        return number(r, row, item, into);
    case KEY_TEXT:
        if (!cJSON_IsString(item) || strlen(item->valuestring) >= (size_t)row->most)
            return reading_no(r, row->key, "a short text");
        strcpy(into, item->valuestring);
        return true;
    case KEY_CHOICE:
        return choice(r, row, item, into);
    case KEY_OTHER:
        return true;
    }
    return false;
}

bool reading_keys(struct reading *r, const struct cJSON *from, const struct key_row *rows, void *into)
{
    for (const cJSON *item = from->child; item; item = item->next) {
        const struct key_row *row = rows;

        while (row->key && strcmp(row->key, item->string) != 0)
            row++;
        if (!row->key)
            return reading_no(r, item->string, "no such key here; another name is");
        if (!value(r, row, item, into))
            return false;
    }
    return true;
}

struct pdo_read { unsigned supply; int64_t mv, ma, min_mv, max_mv, mw, pdp_w, ma_9_15v, ma_15_20v, peak; bool limited; };
static const char *const supplies[] = { "fixed", "battery", "variable", "pps", "epr_avs", "spr_avs", NULL };
#define D(member) offsetof(struct pdo_read, member)
static const struct key_row pdo_keys[] = {
    { "supply", KEY_CHOICE, D(supply), supplies, 0, 0 }, { "mv", KEY_LONG, D(mv), NULL, 1, 48000 }, { "ma", KEY_LONG, D(ma), NULL, 1, 5000 },
    { "min_mv", KEY_LONG, D(min_mv), NULL, 1, 48000 }, { "max_mv", KEY_LONG, D(max_mv), NULL, 1, 48000 },
    { "mw", KEY_LONG, D(mw), NULL, 1, 100000 }, { "pdp_w", KEY_LONG, D(pdp_w), NULL, 1, 240 },
    { "ma_9_15v", KEY_LONG, D(ma_9_15v), NULL, 1, 5000 }, { "ma_15_20v", KEY_LONG, D(ma_15_20v), NULL, 0, 5000 },
    { "limited", KEY_FLAG, D(limited), NULL, 0, 0 }, { "peak", KEY_LONG, D(peak), NULL, 0, 3 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};

static uint32_t word_of(const struct pdo_read *p)
{
    switch (p->supply) {
    case SUPPLY_FIXED: return pdo_fixed((int32_t)p->mv, (int32_t)p->ma) | (uint32_t)p->peak << 20;
    case SUPPLY_BATTERY: return pdo_battery((int32_t)p->min_mv, (int32_t)p->max_mv, (int32_t)p->mw);
    case SUPPLY_VARIABLE: return pdo_variable((int32_t)p->min_mv, (int32_t)p->max_mv, (int32_t)p->ma);
    case SUPPLY_PPS: return pdo_pps((int32_t)p->min_mv, (int32_t)p->max_mv, (int32_t)p->ma) | (p->limited ? PDO_PPS_LIMITED : 0);
    case SUPPLY_EPR_AVS: return pdo_epr_avs((int32_t)p->min_mv, (int32_t)p->max_mv, (int32_t)p->pdp_w);
    case SUPPLY_SPR_AVS: return pdo_spr_avs((int32_t)p->ma_9_15v, (int32_t)p->ma_15_20v);
    default: return 0;
    }
}

/* What its kind cannot be without. */
static const char *lacking(const struct pdo_read *p)
{
    switch (p->supply) {
    case SUPPLY_FIXED: return p->mv && p->ma ? NULL : "mv and ma";
    case SUPPLY_BATTERY: return p->min_mv && p->max_mv >= p->min_mv && p->mw ? NULL : "min_mv, max_mv and mw";
    case SUPPLY_VARIABLE: case SUPPLY_PPS: return p->min_mv && p->max_mv >= p->min_mv && p->ma ? NULL : "min_mv, max_mv and ma";
    case SUPPLY_EPR_AVS: return p->min_mv && p->max_mv >= p->min_mv && p->pdp_w ? NULL : "min_mv, max_mv and pdp_w";
    default: return p->ma_9_15v ? NULL : "ma_9_15v";
    }
}

bool reading_pdos(struct reading *r, const struct cJSON *list, uint32_t *words, unsigned *count, uint32_t *epr, unsigned *epr_count)
{
    *count = 0;
    for (int k = 0; k < cJSON_GetArraySize(list); k++) {
        struct pdo_read p = { 0 };
        struct reading  own = reading_into(r, "pdos", k);
        const cJSON    *item = cJSON_GetArrayItem(list, k);

        if (!cJSON_IsObject(item))
            return reading_no(&own, "", "an object");
        if (!reading_keys(&own, item, pdo_keys, &p))
            return false;
        if (lacking(&p))
            return reading_no(&own, "", lacking(&p));
        bool beyond = p.supply == SUPPLY_EPR_AVS || (p.supply == SUPPLY_FIXED && p.mv > 20000);

        if (beyond && (!epr || *epr_count == EPR_MAX))
            return reading_no(&own, "", "no object of EPR mode here; another is");
        if (!beyond && *count == SPR_MAX)
            return reading_no(&own, "", "at most 7 objects are");
        if (beyond)
            epr[(*epr_count)++] = word_of(&p);
        else
            words[(*count)++] = word_of(&p);
    }
    return cJSON_IsArray(list) && *count ? true : reading_no(r, "pdos", "a list of objects");
}
