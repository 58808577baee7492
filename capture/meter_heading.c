#include "capture/meter_log_inside.h"

#include <string.h>

/* English words of headings, and what they speak of. Common practice of such logs, no source. */
static const struct { const char *word; enum meter_quantity quantity; bool exact; } words_all[] = {
    { "time", METER_TIME, false }, { "timestamp", METER_TIME, false }, { "elapsed", METER_TIME, false }, { "clock", METER_TIME, false },
    { "datetime", METER_TIME, false }, { "uptime", METER_TIME, false }, { "epoch", METER_TIME, false }, { "unix", METER_TIME, false },
    { "date", METER_DATE, false },
    { "vbus", METER_VBUS, true }, { "ubus", METER_VBUS, true }, { "voltage", METER_VBUS, false }, { "volt", METER_VBUS, false },
    { "volts", METER_VBUS, false }, { "v", METER_VBUS, false }, { "u", METER_VBUS, false },
    { "ibus", METER_IBUS, true }, { "current", METER_IBUS, false }, { "amp", METER_IBUS, false }, { "amps", METER_IBUS, false },
    { "i", METER_IBUS, false },
    { "vconn", METER_VCONN, true },
    { "temperature", METER_TEMPERATURE, false }, { "temp", METER_TEMPERATURE, false },
    { "power", METER_POWER, false }, { "p", METER_POWER, false },
    { "energy", METER_ENERGY, false }, { "charge", METER_CHARGE, false }, { "capacity", METER_CHARGE, false },
};

/* Beside what is looked for: extremes, settings, other lines of the connector, other places. */
static const char *const aside_words[] = {
    "d", "dp", "dm", "cc", "sbu", "set", "setpoint", "target", "limit", "max", "min", "peak", "maximum", "minimum", "ripple", "shunt",
    "battery", "bat", "vbat", "range", "offset", "requested", "rated", "noise",
};

/* Fit to be taken, but behind one without such a word. */
static const char *const mean_words[] = { "avg", "average", "mean" };

/* A letter behind one of these is its name, not a unit: "port A", "type C". */
static const char *const label_words[] = { "port", "ch", "channel", "usb", "type", "probe", "sensor", "output", "input", "out", "in", "cell", "phase" };

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c & 0x80);
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool word_among(const char *const *list, size_t count, const char *word, size_t length)
{
    for (size_t i = 0; i < count; i++) {
        if (meter_same_words(list[i], strlen(list[i]), word, length))
            return true;
    }
    return false;
}

/* A part of a text, blanks around it taken off. */
struct part { const char *at; size_t length; };

static struct part part_of(const char *text, size_t from, size_t to)
{
    while (from < to && is_blank(text[from]))
        from++;
    while (to > from && is_blank(text[to - 1]))
        to--;
    return (struct part){ text + from, to - from };
}

static size_t last_of(const char *text, size_t length, const char *wanted)
{
    while (length > 0 && !strchr(wanted, text[length - 1]))
        length--;
    return length; /* behind it; 0: none */
}

static bool label_before(const char *text, size_t length)
{
    size_t end = length, from;

    while (end > 0 && !is_letter(text[end - 1]))
        end--;
    for (from = end; from > 0 && is_letter(text[from - 1]); from--)
        continue;
    return word_among(label_words, sizeof label_words / sizeof label_words[0], text + from, end - from);
}

/* In the last pair of brackets: "Voltage (V) 1". *after: where the rest of the name begins. */
static const struct meter_unit *unit_in_brackets(const char *text, size_t length, size_t *name_length, size_t *after)
{
    size_t                   open = last_of(text, length, "([{"), close = open;
    const struct meter_unit *unit = NULL;

    while (close < length && !strchr(")]}", text[close]))
        close++;
    if (open > 0 && close < length) {
        struct part inside = part_of(text, open, close);

        unit = meter_unit_find(inside.at, inside.length);
    }
    if (unit) {
        *name_length = part_of(text, 0, open - 1).length;
        *after = close + 1;
    }
    return unit;
}

/* Behind a slash, "U/mV", or as the last word, "temp °C", "VBUS_mv", "t-ms". */
static const struct meter_unit *unit_behind(const char *text, size_t length, const char *borders, size_t *name_length)
{
    size_t                   from = last_of(text, length, borders);
    bool                     slash = *borders == '/';
    struct part              last = part_of(text, from, length);
    const struct meter_unit *unit = from > 0 ? meter_unit_find(last.at, last.length) : NULL;

    if (!unit || (!slash && last.length == 1 && label_before(text, from)))
        return NULL;
    if (!slash && meter_same_words(last.at, last.length, "min", 3))
        return NULL; /* the least reading, as often as not */
    *name_length = part_of(text, 0, from - 1).length;
    return unit;
}

static const struct meter_unit *heading_unit(const char *text, size_t length, size_t *name_length, size_t *after)
{
    const struct meter_unit *unit;

    *name_length = *after = length;
    unit = unit_in_brackets(text, length, name_length, after);
    if (!unit)
        unit = unit_behind(text, length, "/", name_length);
    if (!unit)
        unit = unit_behind(text, length, " _-,.:;", name_length);
    return unit ? unit : meter_unit_find(text, length);
}

static enum meter_quantity quantity_of(enum meter_dimension dimension)
{
    switch (dimension) {
    case METER_NO_DIMENSION: return METER_NOTHING;
    case METER_SECONDS:      return METER_TIME;
    case METER_VOLTS:        return METER_VBUS;
    case METER_AMPERES:      return METER_IBUS;
    case METER_WATTS:        return METER_POWER;
    case METER_WATT_HOURS:   return METER_ENERGY;
    case METER_AMPERE_HOURS: return METER_CHARGE;
    case METER_CELSIUS:      return METER_TEMPERATURE;
    }
    return METER_NOTHING;
}

/* What one word of the name adds. */
static void heading_word(struct meter_heading *h, const char *word, size_t length)
{
    enum meter_quantity quantity = METER_NOTHING;
    bool                exact = false;

    if (word_among(mean_words, sizeof mean_words / sizeof mean_words[0], word, length))
        h->mean = true;
    if (word_among(aside_words, sizeof aside_words / sizeof aside_words[0], word, length))
        h->aside = true;
    if (length == 1 && (*word == 't' || *word == 'T'))
        quantity = *word == 't' ? METER_TIME : METER_TEMPERATURE;
    for (size_t i = 0; i < sizeof words_all / sizeof words_all[0]; i++) {
        if (meter_same_words(words_all[i].word, strlen(words_all[i].word), word, length)) {
            quantity = words_all[i].quantity;
            exact = words_all[i].exact;
        }
    }
    if (quantity == METER_NOTHING || (h->unit && meter_dimension_of(quantity) != h->unit->dimension))
        return;
    if (!h->by_name || exact || quantity == METER_TIME) { /* "date and time" is a time */
        h->quantity = quantity;
        h->by_name = true;
        h->exact = exact;
    }
}

static void heading_words(struct meter_heading *h, const char *text, size_t from, size_t to)
{
    bool counted = h->number >= 0; /* the first number counts */

    while (from < to) {
        size_t end = from;

        while (end < to && is_letter(text[end]))
            end++;
        if (end > from) {
            heading_word(h, text + from, end - from);
            counted = counted || h->number >= 0;
        } else if (is_digit(text[from]) && !counted) {
            h->number = h->number < 1000 ? (h->number < 0 ? 0 : h->number * 10) + (text[from] - '0') : h->number;
        } else {
            counted = counted || h->number >= 0;
        }
        from = end > from ? end : from + 1;
    }
}

/* A number, perhaps with a unit, is a reading and no heading. */
static bool begins_with_number(const char *text, size_t length)
{
    struct cursor     c = cursor_over((const uint8_t *)text, length);
    struct csv_number n;
    char              mark = 0;

    return csv_number_read(&c, &mark, &n);
}

void meter_heading_read(const char *text, size_t length, struct meter_heading *h)
{
    size_t after;

    *h = (struct meter_heading){ .quantity = METER_NOTHING, .number = -1, .name_length = length };
    if (length == 0 || begins_with_number(text, length))
        return;
    h->unit = heading_unit(text, length, &h->name_length, &after);
    h->quantity = h->unit ? quantity_of(h->unit->dimension) : METER_NOTHING;
    heading_words(h, text, 0, h->name_length);
    heading_words(h, text, after, length);
}
