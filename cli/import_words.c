/* What stands on the command line for an input: KIND,KEY=VALUE,...:PATH, or a path alone. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/import.h"
#include "cli/import_date.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { WORD_BYTES = 400, PS_PER_NS = 1000, MV_MOST = 100000, PORT_MOST = 254 };
static const int64_t shift_most_ns = INT64_C(1) << 61;

/* The keys while they are taken apart; why: what is wrong, a sentence's end. */
struct reading {
    struct import_words *w;
    const char          *key, *value;
    char                *why;
};

static bool wrong(const struct reading *r, const char *expected)
{
    snprintf(r->why, WORD_BYTES, "%s=%s: %s is expected", r->key, r->value, expected);
    return false;
}

/* A number with decimals, and its power of ten behind it: "24M". */
static bool decimal_read(const char *text, double *value)
{
    static const struct { char letter; double times; } powers[] = { { 'k', 1e3 }, { 'M', 1e6 }, { 'G', 1e9 } };
    bool     negative = *text == '-', any = false;
    double   number = 0, place = 1;

    text += negative ? 1 : 0;
    for (; *text >= '0' && *text <= '9'; text++, any = true)
        number = number * 10 + (*text - '0');
    if (*text == '.')
        for (text++; *text >= '0' && *text <= '9'; text++, any = true)
            number += (*text - '0') * (place /= 10);
    for (size_t k = 0; k < sizeof powers / sizeof powers[0] && *text; k++)
        if (*text == powers[k].letter) {
            number *= powers[k].times;
            text++;
            break;
        }
    *value = negative ? -number : number;
    return any && *text == '\0';
}

static bool port_take(const struct reading *r)
{
    char         *end;
    unsigned long port = strtoul(r->value, &end, 10);

    if (*r->value < '0' || *r->value > '9' || *end || port > PORT_MOST)
        return wrong(r, "the number of a port, 0 to 254,");
    r->w->port = (unsigned)port;
    return true;
}

static bool shift_take(const struct reading *r)
{
    if (!options_time(r->value, &r->w->shift_ns) || r->w->shift_ns > shift_most_ns || r->w->shift_ns < -shift_most_ns)
        return wrong(r, "a time like 1.5, -200ms or 2m");
    return true;
}

static bool start_take(const struct reading *r)
{
    r->w->start_given = true;
    return date_read(r->value, &r->w->start_ns) || wrong(r, "a moment like 2026-01-31T10:00:00, with decimals and Z or +01:00 as needed,");
}

static bool rate_take(const struct reading *r)
{
    return (decimal_read(r->value, &r->w->rate_hz) && r->w->rate_hz > 0) || wrong(r, "samples a second, like 24M or 500k,");
}

static bool glitch_take(const struct reading *r)
{
    double ns;

    if (!decimal_read(r->value, &ns) || ns < 0.001 || ns > 1e6)
        return wrong(r, "a width in nanoseconds above zero");
    r->w->glitch_ps = (int64_t)(ns * PS_PER_NS + 0.5);
    return true;
}

static bool millivolts_take(const struct reading *r, int32_t *mv)
{
    double value;

    if (!decimal_read(r->value, &value) || value < -MV_MOST || value > MV_MOST)
        return wrong(r, "millivolts");
    *mv = (int32_t)(value < 0 ? value - 0.5 : value + 0.5);
    return true;
}

static bool low_take(const struct reading *r)
{
    return millivolts_take(r, &r->w->low_mv);
}

static bool high_take(const struct reading *r)
{
    return millivolts_take(r, &r->w->high_mv);
}

static bool scale_take(const struct reading *r)
{
    return (decimal_read(r->value, &r->w->scale_uv) && r->w->scale_uv != 0) || wrong(r, "microvolts a step");
}

static bool offset_take(const struct reading *r)
{
    return decimal_read(r->value, &r->w->offset_mv) || wrong(r, "millivolts");
}

static bool sign_take(const struct reading *r)
{
    r->w->turned = strcmp(r->value, "-1") == 0;
    return r->w->turned || strcmp(r->value, "1") == 0 || strcmp(r->value, "+1") == 0 || wrong(r, "1 or -1");
}

static bool first_take(const struct reading *r)
{
    r->w->most_first = strcmp(r->value, "msb") == 0;
    return r->w->most_first || strcmp(r->value, "lsb") == 0 || wrong(r, "msb or lsb");
}

/* + stands for the commas of a map, which part the keys here. */
static bool columns_take(const struct reading *r)
{
    char *map = r->w->text + (r->value - r->w->text);

    for (char *at = map; *at; at++)
        if (*at == '+')
            *at = ',';
    r->w->columns = map;
    return *map || wrong(r, "a map of columns, with + for its commas,");
}

/* cc, cc1, cc2, each with @PORT behind it or not. */
static bool wire_take(const struct reading *r)
{
    struct import_wire wire = { .name = r->value };
    const char        *at = r->key + 2;
    char              *end;

    if (*at == '1' || *at == '2')
        wire.pin = (uint8_t)(*at++ - '0');
    if (*at == '@') {
        unsigned long port = strtoul(at + 1, &end, 10);

        if (at[1] < '0' || at[1] > '9' || *end || port > PORT_MOST)
            return wrong(r, "cc1@PORT or cc2@PORT, with a port from 0 to 254,");
        wire.port = (uint8_t)port;
    }
    if (!*r->value)
        return wrong(r, "the name of a signal or the number of a column");
    for (unsigned k = 0; k < r->w->wire_count; k++) {
        if (r->w->wires[k].port == wire.port && (wire.pin == 0 || r->w->wires[k].pin == 0 || r->w->wires[k].pin == wire.pin))
            return wrong(r, "each pin of a port once, or cc= alone,");
        if (strcmp(r->w->wires[k].name, wire.name) == 0)
            return wrong(r, "another signal than one that was named before");
    }
    if (r->w->wire_count == CC_LINES_MAX)
        return wrong(r, "no more than 16 lines");
    r->w->wires[r->w->wire_count++] = wire;
    return true;
}

static const struct {
    const char     *name;
    enum import_key key;
    bool          (*take)(const struct reading *r);
} keys_all[] = {
    { "port", IMPORT_PORT, port_take },       { "shift", IMPORT_SHIFT, shift_take },       { "start", IMPORT_START, start_take },
    { "rate", IMPORT_RATE, rate_take },       { "glitch", IMPORT_GLITCH, glitch_take },    { "scale", IMPORT_SCALE, scale_take },
    { "offset", IMPORT_SCALE, offset_take },  { "low", IMPORT_LEVELS, low_take },          { "high", IMPORT_LEVELS, high_take },
    { "columns", IMPORT_COLUMNS, columns_take }, { "sign", IMPORT_SIGN, sign_take },
    { "first", IMPORT_FIRST, first_take },
    { "cc", IMPORT_WIRES, wire_take },        { "cc1", IMPORT_WIRES, wire_take },          { "cc2", IMPORT_WIRES, wire_take },
};
enum { KEYS = sizeof keys_all / sizeof keys_all[0] };

static bool key_take(const struct reading *r)
{
    size_t length = strcspn(r->key, "@");
    bool   at = r->key[length] == '@';

    for (size_t k = 0; k < KEYS; k++) {
        if (strlen(keys_all[k].name) != length || memcmp(keys_all[k].name, r->key, length) != 0 || (at && keys_all[k].key != IMPORT_WIRES))
            continue;
        if (!(r->w->kind->keys & keys_all[k].key)) {
            snprintf(r->why, WORD_BYTES, "%s: an input of the kind %s takes no such key", r->key, r->w->kind->word);
            return false;
        }
        r->w->given |= keys_all[k].key;
        return keys_all[k].take(r);
    }
    snprintf(r->why, WORD_BYTES, "%s: there is no such key", r->key);
    return false;
}

/* Two thresholds only make sense together, and one below the other. */
static bool levels_sound(const struct import_words *w, char *why)
{
    if (!(w->given & IMPORT_LEVELS) || w->low_mv < w->high_mv)
        return true;
    snprintf(why, WORD_BYTES, "low and high: both thresholds are expected, low= below high=");
    return false;
}

/* operand up to colon as kind and keys. False: why says what is wrong with them. */
static bool words_try(struct import_words *w, const char *operand, size_t colon, char *why)
{
    size_t length = strlen(operand), kind = strcspn(operand, ",:");

    memset(w, 0, offsetof(struct import_words, text));
    memcpy(w->text, operand, length + 1);
    w->text[colon] = '\0';
    w->path = w->text + colon + 1;
    w->kind = import_kind_find(operand, kind);
    for (char *at = w->text + kind, *next; at < w->text + colon; at = next) {
        struct reading r = { .w = w, .key = at + 1, .value = "", .why = why };

        next = at + 1 + strcspn(at + 1, ",");
        *next = '\0';
        char *equals = strchr(at + 1, '=');

        if (equals) {
            *equals = '\0';
            r.value = equals + 1;
        }
        if (!equals || !key_take(&r)) {
            if (!equals)
                snprintf(why, WORD_BYTES, "%s: KEY=VALUE is expected", at + 1);
            return false;
        }
    }
    return levels_sound(w, why);
}

static bool path_there(const char *path)
{
    return strcmp(path, "-") == 0 || access(path, F_OK) == 0;
}

/* Values may hold a colon (a time of day), and paths too: the first colon counts that leaves a path that is there, else the first that leaves
 * keys in order. */
static bool colon_find(struct import_words *w, const char *operand, char *why)
{
    size_t good = 0;

    for (const char *at = strchr(operand, ':'); at; at = strchr(at + 1, ':')) {
        size_t colon = (size_t)(at - operand);

        if (!words_try(w, operand, colon, why))
            continue;
        if (path_there(w->path))
            return true;
        good = good == 0 ? colon : good;
    }
    return good > 0 && words_try(w, operand, good, why);
}

static bool kinds_say(const char *operand, size_t word)
{
    char   list[WORD_BYTES] = "";
    size_t used = 0;

    for (unsigned k = 0; import_kinds[k]; k++) {
        int n = snprintf(list + used, sizeof list - used, " %s", import_kinds[k]->word);

        used += n > 0 && (size_t)n < sizeof list - used ? (size_t)n : 0;
    }
    complain("import: %.*s is no kind of input; these are:%s", (int)word, operand, list);
    return false;
}

/* No kind is named; what looks like one, and is no file, was meant as one. */
static bool path_alone(struct import_words *w, const char *operand, size_t word)
{
    size_t letters = strspn(operand, "abcdefghijklmnopqrstuvwxyz");

    memset(w, 0, offsetof(struct import_words, text));
    memcpy(w->text, operand, strlen(operand) + 1);
    w->path = w->text;
    if (!path_there(operand) && letters == word && strchr(operand, ':'))
        return kinds_say(operand, word);
    w->kind = import_kind_guess(w->path);
    return w->kind != NULL;
}

bool import_words_read(struct import_words *w, const char *operand)
{
    char   why[WORD_BYTES] = "";
    size_t kind = strcspn(operand, ",:");

    if (strlen(operand) >= sizeof w->text) {
        complain("import: an input of more than %d bytes; give it a shorter name", IMPORT_WORDS_BYTES - 1);
        return false;
    }
    if (operand[kind] == '\0' || !import_kind_find(operand, kind) || !strchr(operand, ':')) {
        return path_alone(w, operand, kind);
    }
    if (colon_find(w, operand, why))
        return true;
    complain("import: %s: %s; see " PORTASSAY_NAME " import --help", operand, why);
    return false;
}
