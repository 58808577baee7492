#include "capture/meter_log_inside.h"

#include <string.h>

enum { PROBES_MAX = 32, PORT_MOST = 254 };

static const struct { const char *key; enum meter_quantity quantity; } keys_all[] = {
    { "time", METER_TIME }, { "date", METER_DATE }, { "vbus", METER_VBUS }, { "ibus", METER_IBUS }, { "vconn", METER_VCONN }, { "power", METER_POWER },
    { "energy", METER_ENERGY }, { "charge", METER_CHARGE },
};

struct text { const char *at; size_t length; };

static struct text text_trimmed(const char *at, size_t length)
{
    while (length > 0 && *at == ' ') {
        at++;
        length--;
    }
    while (length > 0 && at[length - 1] == ' ')
        length--;
    return (struct text){ at, length };
}

/* All of it in digits, up to most. */
static bool number_of(struct text t, unsigned most, unsigned *number)
{
    *number = 0;
    for (size_t i = 0; i < t.length; i++) {
        if (t.at[i] < '0' || t.at[i] > '9')
            return false;
        *number = *number * 10 + (unsigned)(t.at[i] - '0');
        if (*number > most)
            return false;
    }
    return t.length > 0;
}

static bool key_read(struct text key, struct meter_map_entry *e)
{
    unsigned probe;

    for (size_t i = 0; i < sizeof keys_all / sizeof keys_all[0]; i++) {
        if (meter_same_words(keys_all[i].key, strlen(keys_all[i].key), key.at, key.length)) {
            e->quantity = keys_all[i].quantity;
            return true;
        }
    }
    if (key.length < 5 || !meter_same_words("temp", 4, key.at, 4) || !number_of((struct text){ key.at + 4, key.length - 4 }, PROBES_MAX - 1, &probe))
        return false;
    e->quantity = METER_TEMPERATURE;
    e->probe = (uint8_t)probe;
    return true;
}

/* The unit behind a colon: the first colon with a unit of the key's kind behind it, as units may hold colons themselves. */
static const struct meter_unit *unit_split(struct text *column, enum meter_quantity quantity)
{
    for (size_t i = 0; i < column->length; i++) {
        struct text              rest = text_trimmed(column->at + i + 1, column->length - i - 1);
        const struct meter_unit *unit = column->at[i] == ':' ? meter_unit_find(rest.at, rest.length) : NULL;

        if (unit && unit->dimension == meter_dimension_of(quantity)) {
            *column = text_trimmed(column->at, i);
            return unit;
        }
    }
    return NULL;
}

static bool column_read(struct text column, struct meter_map_entry *e)
{
    struct text name = column;
    bool        quoted = column.length > 0 && *column.at == '"';

    if (quoted) {
        const char *end = memchr(column.at + 1, '"', column.length - 1);
        struct text rest;

        if (!end)
            return false;
        name = (struct text){ column.at + 1, (size_t)(end - column.at) - 1 };
        rest = text_trimmed(end + 1, column.length - name.length - 2);
        e->unit = unit_split(&rest, e->quantity);
        if (rest.length > 0)
            return false;
    } else {
        e->none = name.length == 1 && *name.at == '-';
        e->unit = unit_split(&name, e->quantity);
    }
    if (!quoted && (e->none || number_of(name, CSV_CELLS_MAX, &e->number)))
        return e->none || e->number > 0;
    if (name.length == 0 || name.length >= METER_NAME_MAX || (!quoted && *name.at >= '0' && *name.at <= '9'))
        return false;
    memcpy(e->name, name.at, name.length);
    return true;
}

/* KEY, KEY@PORT */
static bool left_read(struct text left, struct meter_map_entry *e)
{
    const char *at = memchr(left.at, '@', left.length);
    unsigned    port;

    if (at) {
        if (!number_of((struct text){ at + 1, left.length - (size_t)(at - left.at) - 1 }, PORT_MOST, &port))
            return false;
        e->port = (uint8_t)port;
        e->port_told = true;
        left.length = (size_t)(at - left.at);
    }
    return key_read(left, e);
}

static bool entry_read(struct text entry, struct meter_map *map, struct meter_map_entry *now)
{
    const char            *equals = memchr(entry.at, '=', entry.length);
    struct meter_map_entry e = { .port = now->port, .port_told = now->port_told };
    struct text            left, right;
    unsigned               port;

    if (!equals || map->count == METER_COLUMNS_MAX)
        return false;
    left = text_trimmed(entry.at, (size_t)(equals - entry.at));
    right = text_trimmed(equals + 1, entry.length - (size_t)(equals - entry.at) - 1);
    if (meter_same_words("port", 4, left.at, left.length)) {
        if (!number_of(right, PORT_MOST, &port))
            return false;
        now->port = (uint8_t)port;
        now->port_told = true;
        return true;
    }
    if (!left_read(left, &e) || !column_read(right, &e))
        return false;
    for (unsigned i = 0; i < map->count; i++) {
        const struct meter_map_entry *o = &map->entry[i];

        if (o->quantity == e.quantity && o->port == e.port && o->probe == e.probe)
            return false; /* the same twice */
    }
    map->entry[map->count++] = e;
    return true;
}

/* To the next comma that stands in no quotes. */
static size_t entry_length(const char *text)
{
    bool   quoted = false;
    size_t n = 0;

    for (; text[n] && (quoted || text[n] != ','); n++)
        quoted ^= text[n] == '"';
    return n;
}

bool meter_map_read(const char *text, struct meter_map *map, struct fault *f)
{
    struct meter_map_entry now = { 0 };

    *map = (struct meter_map){ .count = 0 };
    for (;;) {
        size_t      n = entry_length(text);
        struct text entry = text_trimmed(text, n);

        if (!entry_read(entry, map, &now)) {
            char words[METER_NAME_MAX];

            n = entry.length < sizeof words - 1 ? entry.length : sizeof words - 1;
            memcpy(words, entry.at, n);
            words[n] = 0;
            return fault_set(f, FAULT_TABLE, 0, TABLE_MAP, words);
        }
        if (text[n] == 0)
            return true;
        text += n + 1;
    }
}
