#include "cli/requirement.h"

#include "cli/limits_file.h"

#include <string.h>

enum { NAME_BYTES = 48 };

/* One "name:side" of a placeholder. */
struct part { const struct parameter *q; bool both; int64_t amount; };

static bool rule_has(const struct rule *r, const char *name)
{
    for (const char *const *n = r->parameters; n && *n; n++)
        if (strcmp(*n, name) == 0)
            return true;
    return false;
}

static bool side_take(struct part *part, const char *side, size_t length)
{
    bool least = length == 5 && strncmp(side, "least", length) == 0, most = length == 4 && strncmp(side, "most", length) == 0;

    part->both = length == 4 && strncmp(side, "both", length) == 0;
    part->amount = least ? part->q->min : part->q->max;
    return part->both || ((least || most) && part->amount != PARAMETER_NONE);
}

/* "tSenderResponse:most", length bytes of it. */
static bool part_read(struct part *part, const struct rule *r, const struct parameter *table, const char *text, size_t length)
{
    char        name[NAME_BYTES];
    const char *colon = memchr(text, ':', length);
    size_t      size = colon ? (size_t)(colon - text) : 0;

    if (size == 0 || size >= sizeof name)
        return false;
    memcpy(name, text, size);
    name[size] = '\0';
    part->q = rule_has(r, name) ? parameter_in(table, name) : NULL;
    return part->q && side_take(part, colon + 1, length - size - 1);
}

/* What stands between braces: one part, or several of one unit to be added. */
static bool number_fill(struct phrase *p, const struct rule *r, const struct parameter *table, const char *text, size_t length)
{
    const char *unit = NULL;
    int64_t     sum = 0;

    for (const char *at = text, *end = text + length; at < end;) {
        const char *plus = memchr(at, '+', (size_t)(end - at));
        size_t      size = plus ? (size_t)(plus - at) : (size_t)(end - at);
        struct part part;

        if (!part_read(&part, r, table, at, size) || (unit && strcmp(unit, part.q->unit) != 0) || (plus && plus + 1 == end))
            return false;
        if (part.both) {
            parameter_phrase(p, part.q);
            return size == length;
        }
        unit = part.q->unit;
        sum += part.amount;
        at += size + (plus != NULL);
    }
    phrase_short(p, sum, 3);
    if (unit && *unit)
        phrase_format(p, " %s", unit);
    return unit != NULL;
}

bool requirement_phrase(struct phrase *p, const struct rule *r, const struct parameter *table)
{
    bool sound = true;

    for (const char *at = r->requirement; *at;) {
        const char *end = *at == '{' ? strchr(at, '}') : NULL;
        char        letter[2] = { *at, '\0' };

        if (end && number_fill(p, r, table, at + 1, (size_t)(end - at - 1))) {
            at = end + 1;
            continue;
        }
        sound = sound && *at != '{';
        phrase_add(p, letter);
        at++;
    }
    return sound;
}
