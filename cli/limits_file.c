#include "cli/limits_file.h"

#include "capture/json.h"
#include "cli/fault_text.h"
#include "cli/rule_names.h"
#include "cli/trace_loop.h"
#include "rules/engine.h"
#include "rules/limits.h"

#include <math.h>
#include <stdlib.h>

#include <cjson/cJSON.h>

enum { NAME_SHOWN = 64, LEVELS = LEVEL_NOTE + 1, CHANGES_TOLD = 12 };

/* A place in the file, for complaints: "parameters.tSrcTransition.min". */
struct place { const char *file, *table, *name, *side; };

static bool complain_at(const struct place *at, const char *what)
{
    complain("%s: %s%s%.*s%s%s: %s", at->file, at->table, at->name ? "." : "", NAME_SHOWN, at->name ? at->name : "",
             at->side ? "." : "", at->side ? at->side : "", what);
    return false;
}

void parameter_phrase(struct phrase *p, const struct parameter *q)
{
    bool low = q->min != PARAMETER_NONE, high = q->max != PARAMETER_NONE;

    if (limit_is_either_way(q)) {
        phrase_add(p, "+-");
        phrase_short(p, q->max, 3);
    } else if (low && high && q->min != q->max) {
        phrase_short(p, q->min, 3);
        phrase_add(p, " to ");
        phrase_short(p, q->max, 3);
    } else {
        phrase_add(p, low && high ? "" : low ? "at least " : "at most ");
        phrase_short(p, low ? q->min : q->max, 3);
    }
    if (q->unit[0])
        phrase_format(p, " %s", q->unit);
}

/* What the parameter takes, after "expected is". */
static void expected_phrase(struct phrase *p, const struct parameter *q)
{
    const char *number = limit_is_whole(q) ? "a whole number" : "a number";

    phrase_add(p, number);
    if (q->unit[0])
        phrase_format(p, " (%s)", q->unit);
    if (limit_is_single(q))
        return;
    if (q->min != PARAMETER_NONE && q->max != PARAMETER_NONE)
        phrase_format(p, "%s{\"min\":..,\"max\":..}", limit_is_either_way(q) ? ", or " : " for each of min and max, or for one of them: ");
    else
        phrase_format(p, ", or {\"%s\":..}", q->min != PARAMETER_NONE ? "min" : "max");
}

static void fault_phrase(struct phrase *p, const struct parameter *q, enum limit_fault fault)
{
    switch (fault) {
    case LIMIT_SET:      return;
    case LIMIT_NOTHING:  phrase_add(p, "an empty object"); return;
    case LIMIT_WINDOW:   phrase_add(p, "one number, but it has two sides"); return;
    case LIMIT_NO_LEAST: phrase_add(p, "it has no least value"); return;
    case LIMIT_NO_MOST:  phrase_add(p, "it has no greatest value"); return;
    case LIMIT_SINGLE:   phrase_add(p, "it is one value, not a window"); return;
    case LIMIT_CROSSED:  phrase_add(p, "the least would be above the greatest"); return;
    case LIMIT_SIGN:     phrase_add(p, q->max != PARAMETER_NONE && q->max > 0 ? "below 0" : "it may not change its sign"); return;
    case LIMIT_ZERO:     phrase_add(p, "a rate of 0"); return;
    case LIMIT_WHOLE:    phrase_add(p, "a fraction, but it is counted"); return;
    case LIMIT_GREAT:
        phrase_add(p, "greater than ");
        phrase_short(p, limit_most(q), 3);
        return;
    }
}

static bool complain_limit(const struct place *at, const struct parameter *q, const char *why)
{
    struct phrase p = phrase_empty();

    phrase_format(&p, "%s; expected is ", why);
    expected_phrase(&p, q);
    phrase_add(&p, "; now ");
    parameter_phrase(&p, q);
    return complain_at(at, p.text);
}

/* Thousandths, exactly. */
static bool amount_take(const struct place *at, const struct parameter *q, const cJSON *item, int64_t *amount)
{
    if (!cJSON_IsNumber(item))
        return complain_limit(at, q, "not a number");
    double thousandths = item->valuedouble * 1000, nearest = round(thousandths);

    if (!(fabs(thousandths) < 1e15))
        return complain_limit(at, q, "far too great");
    if (fabs(thousandths - nearest) > 1e-6)
        return complain_limit(at, q, "finer than a thousandth");
    *amount = (int64_t)nearest;
    return true;
}

static bool side_take(struct place *at, const struct parameter *q, const cJSON *item, struct limit *l)
{
    bool least = strcmp(item->string, "min") == 0;
    bool *has = least ? &l->has_min : &l->has_max;

    at->side = item->string;
    if (!least && strcmp(item->string, "max") != 0)
        return complain_at(at, "there is no such key; min and max are expected");
    if (*has)
        return complain_at(at, "given twice; leave one of them out");
    *has = true;
    return amount_take(at, q, item, least ? &l->min : &l->max);
}

static bool limit_take(struct place *at, const struct parameter *q, const cJSON *item, struct limit *l)
{
    const cJSON *side;

    if (!cJSON_IsObject(item)) {
        l->has_value = true;
        return amount_take(at, q, item, &l->value);
    }
    cJSON_ArrayForEach(side, item)
        if (!side_take(at, q, side, l))
            return false;
    at->side = NULL;
    return true;
}

static bool no_parameter(const struct place *at)
{
    const struct parameter *best = NULL;
    unsigned                least = 100;
    struct phrase           p = phrase_empty();
    size_t                  length = strlen(at->name);

    for (const struct parameter *q = parameters_all; q->name; q++) {
        unsigned d = word_distance(at->name, length, q->name, strlen(q->name));
        /* "tSrcTransReq" for "tSrcTransReq@spr" */
        bool     family = strncmp(at->name, q->name, length) == 0 && q->name[length] == '@';

        if (family || d < least) {
            best = q;
            least = family ? 0 : d;
        }
    }
    phrase_add(&p, "there is no parameter of that name; ");
    if (best && least * 2 <= length)
        phrase_format(&p, "did you mean %s? ", best->name);
    phrase_add(&p, "portassay rules --parameters lists them");
    return complain_at(at, p.text);
}

static bool parameter_take(struct limits *l, struct place *at, const cJSON *item)
{
    struct parameter *q = l->parameters;
    struct limit      asked = { 0 };
    struct phrase     why = phrase_empty();

    while (q->name && strcmp(q->name, item->string) != 0)
        q++;
    if (!q->name)
        return no_parameter(at);
    if (!limit_take(at, q, item, &asked))
        return false;
    enum limit_fault fault = limit_set(q, &asked, &at->side);

    if (fault == LIMIT_SET)
        return true;
    fault_phrase(&why, q, fault);
    return complain_limit(at, q, why.text);
}

static bool level_take(struct limits *l, struct place *at, const cJSON *item)
{
    const struct rule *r = rule_find(item->string);
    unsigned           level = 0;
    char               near[RULE_NAME_BYTES];
    struct phrase      p = phrase_empty();

    if (!r) {
        phrase_add(&p, "this build judges no rule of that name; ");
        if (rule_nearest(item->string, strlen(item->string), near))
            phrase_format(&p, "did you mean %s? ", near);
        phrase_add(&p, "portassay rules lists them");
        return complain_at(at, p.text);
    }
    while (level < LEVELS && !(cJSON_IsString(item) && strcmp(level_name(level), item->valuestring) == 0))
        level++;
    if (level == LEVELS)
        return complain_at(at, "expected is one of \"must\", \"should\", \"note\"");
    if (!level_may_be(r, level))
        return complain_at(at, "only a rule about a maker's claim can be a claim; expected is \"must\", \"should\" or \"note\"");
    l->levels[l->level_count++] = (struct level_set){ .rule = r, .level = (uint8_t)level };
    return true;
}

static bool given_before(const cJSON *table, const cJSON *item)
{
    for (const cJSON *k = table->child; k != item; k = k->next)
        if (strcmp(k->string, item->string) == 0)
            return true;
    return false;
}

typedef bool entry_take(struct limits *l, struct place *at, const cJSON *item);

static bool table_take(struct limits *l, const cJSON *table, entry_take *take)
{
    struct place at = { .file = l->path, .table = table->string };
    const cJSON *item;

    if (!cJSON_IsObject(table))
        return complain_at(&at, "an object is expected: {\"name\":value, ..}");
    cJSON_ArrayForEach(item, table) {
        at.name = item->string;
        at.side = NULL;
        if (given_before(table, item))
            return complain_at(&at, "given twice; leave one of them out");
        if (!take(l, &at, item))
            return false;
    }
    return true;
}

static bool key_take(struct limits *l, const cJSON *whole, const cJSON *item)
{
    struct place at = { .file = l->path, .table = item->string };

    if (given_before(whole, item))
        return complain_at(&at, "given twice; leave one of them out");
    if (strcmp(item->string, "parameters") == 0)
        return table_take(l, item, parameter_take);
    if (strcmp(item->string, "levels") == 0)
        return table_take(l, item, level_take);
    if (strcmp(item->string, "schema") != 0)
        return complain_at(&at, "there is no such key; schema, parameters and levels are expected");
    if (!cJSON_IsNumber(item) || item->valuedouble < 1 || item->valuedouble > 1)
        return complain_at(&at, "1 is expected; this build reads no other form of the file");
    return true;
}

static bool file_take(struct limits *l, const cJSON *whole)
{
    const cJSON *item;

    if (!cJSON_GetObjectItemCaseSensitive(whole, "schema")) {
        complain("%s: schema: is missing; \"schema\":1 is expected", l->path);
        return false;
    }
    cJSON_ArrayForEach(item, whole)
        if (!key_take(l, whole, item))
            return false;
    return true;
}

static unsigned line_at(const char *text, size_t at)
{
    unsigned line = 1;

    for (size_t k = 0; k < at; k++)
        line += text[k] == '\n';
    return line;
}

static bool limits_parse(struct limits *l, const char *text, size_t length)
{
    size_t at = 0;
    cJSON *whole = json_object_parse(text, length, &at);

    if (!whole) {
        complain("%s: line %u, byte %zu: no JSON object; correct the file, see portassay-check(1)", l->path, line_at(text, at), at);
        return false;
    }
    bool done = file_take(l, whole);

    cJSON_Delete(whole);
    return done;
}

bool limits_read(struct limits *l, const char *path)
{
    size_t length;

    *l = (struct limits){ .path = path };
    if (!path)
        return true;
    char *text = file_text(path, &length);

    if (!text)
        return false;
    l->parameters = limits_copy();
    if (!l->parameters)
        complain("%s: out of memory; close something and try again", path);
    bool done = l->parameters && limits_parse(l, text, length);

    free(text);
    if (!done)
        limits_free(l);
    return done;
}

void limits_free(struct limits *l)
{
    free(l->parameters);
    *l = (struct limits){ .path = NULL };
}

const struct parameter *limits_table(const struct limits *l)
{
    return l->parameters ? l->parameters : parameters_all;
}

const struct parameter *limits_before(const struct limits *l, const struct parameter *q)
{
    const struct parameter *before = l->parameters ? &parameters_all[q - l->parameters] : q;

    return before->min != q->min || before->max != q->max ? before : NULL;
}

bool parameter_by_limits(const struct parameter *q)
{
    const struct parameter *usual = parameter_find(q->name);

    return usual && (usual->min != q->min || usual->max != q->max);
}

void parameter_source_phrase(struct phrase *p, const struct parameter *q)
{
    if (!parameter_by_limits(q)) {
        phrase_add(p, q->source);
        return;
    }
    phrase_add(p, "--limits, instead of ");
    parameter_phrase(p, parameter_find(q->name));
}

unsigned limits_level(const struct limits *l, const struct rule *r)
{
    for (unsigned k = 0; k < l->level_count; k++)
        if (strcmp(l->levels[k].rule->id, r->id) == 0)
            return l->levels[k].level;
    return r->level;
}

static void changed_phrase(struct phrase *p, const struct parameter *q, const struct parameter *before)
{
    phrase_format(p, "%s ", q->name);
    parameter_phrase(p, q);
    phrase_add(p, " instead of ");
    parameter_phrase(p, before);
    if (!limit_matters(q->name))
        phrase_add(p, " (no rule of this build goes by it)");
}

static bool level_changed(const struct level_set *s)
{
    return s->level != s->rule->level;
}

void limits_phrase(struct phrase *p, const struct limits *l)
{
    unsigned said = 0;

    phrase_format(p, "Limits by %s: ", l->path);
    for (const struct parameter *q = l->parameters; q->name; q++) {
        const struct parameter *before = limits_before(l, q);

        if (!before || said++ >= CHANGES_TOLD)
            continue;
        phrase_add(p, said > 1 ? "; " : "");
        changed_phrase(p, q, before);
    }
    for (unsigned k = 0; k < l->level_count; k++) {
        const struct level_set *s = &l->levels[k];

        if (level_changed(s) && said++ < CHANGES_TOLD)
            phrase_format(p, "%s%s is a %s instead of a %s", said > 1 ? "; " : "", s->rule->id, level_name(s->level),
                          level_name(s->rule->level));
    }
    if (said > CHANGES_TOLD)
        phrase_format(p, "; and %u more, which --json lists", said - CHANGES_TOLD);
    phrase_add(p, said ? "." : "it changes nothing.");
}

static void side_json(struct json *j, const char *key, int64_t thousandths)
{
    if (thousandths == PARAMETER_NONE)
        json_null(j, key);
    else
        json_decimal(j, key, thousandths, 3);
}

void parameter_sides_json(struct json *j, const struct parameter *q)
{
    side_json(j, "min", q->min);
    side_json(j, "max", q->max);
}

static void changed_json(struct json *j, const struct parameter *q, const struct parameter *before)
{
    json_object(j, NULL);
    json_text(j, "name", q->name);
    parameter_sides_json(j, q);
    json_text(j, "unit", q->unit);
    json_object(j, "instead_of");
    parameter_sides_json(j, before);
    json_object_end(j);
    json_bool(j, "used", limit_matters(q->name));
    json_object_end(j);
}

void limits_json(struct json *j, const struct limits *l)
{
    if (!l->path)
        return;
    json_object(j, "limits");
    json_text(j, "file", l->path);
    json_array(j, "parameters");
    for (const struct parameter *q = l->parameters; q->name; q++)
        if (limits_before(l, q))
            changed_json(j, q, limits_before(l, q));
    json_array_end(j);
    json_array(j, "levels");
    for (unsigned k = 0; k < l->level_count; k++) {
        const struct level_set *s = &l->levels[k];

        if (!level_changed(s))
            continue;
        json_object(j, NULL);
        json_text(j, "rule", s->rule->id);
        json_text(j, "level", level_name(s->level));
        json_text(j, "instead_of", level_name(s->rule->level));
        json_object_end(j);
    }
    json_array_end(j);
    json_object_end(j);
}
