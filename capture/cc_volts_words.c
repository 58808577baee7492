/* The words in the heading of a table of volts. */
#include "capture/cc_volts_inside.h"

#include <string.h>

static const struct { const char *word; int power; bool seconds; } units[] = {
    { "s", 0, true },         { "sec", 0, true },   { "second", 0, true }, { "seconds", 0, true }, { "ms", -3, true },      { "us", -6, true },
    { "\xC2\xB5s", -6, true }, { "\xCE\xBCs", -6, true }, { "\xB5s", -6, true }, { "ns", -9, true }, { "ps", -12, true },
    { "v", 0, false },        { "volt", 0, false }, { "volts", 0, false }, { "mv", -3, false },    { "uv", -6, false },
    { "\xC2\xB5v", -6, false }, { "\xCE\xBCv", -6, false }, { "\xB5v", -6, false }, { "kv", 3, false },
};

static char small(uint8_t c)
{
    return (char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

bool volts_words_begin(struct cursor a, const char *b)
{
    for (; *b; b++) {
        if (a.left == 0 || small(cursor_u8(&a)) != small((uint8_t)*b))
            return false;
    }
    return true;
}

bool volts_words_same(struct cursor a, const char *b)
{
    return a.left == strlen(b) && volts_words_begin(a, b);
}

bool volts_words_hold(struct cursor a, const char *b)
{
    for (; a.left > 0; cursor_take(&a, 1)) {
        if (volts_words_begin(a, b))
            return true;
    }
    return false;
}

bool volts_unit_read(struct cursor word, bool *seconds, int *power)
{
    for (size_t k = 0; k < sizeof units / sizeof units[0]; k++) {
        if (!volts_words_same(word, units[k].word))
            continue;
        *seconds = units[k].seconds;
        *power = units[k].power;
        return true;
    }
    return false;
}

static bool is_around(uint8_t c)
{
    return c == ' ' || c == '\t' || c == '"' || c == '(' || c == ')' || c == '[' || c == ']' || c == '/' || c == '_' || c == ':' || c == '\r';
}

static struct cursor trimmed(struct cursor c)
{
    while (c.left > 0 && is_around(c.at[0]))
        cursor_take(&c, 1);
    while (c.left > 0 && is_around(c.at[c.left - 1]))
        c.left--;
    return c;
}

/* Behind the last of these a unit may stand: "CC1 (mV)", "cc1/V", "cc1_mv", "Time in s". */
static bool parts_unit(uint8_t c)
{
    return c == ' ' || c == '(' || c == '[' || c == '/' || c == '_';
}

void volts_heading_part(struct cursor heading, struct cursor *name, struct cursor *unit)
{
    struct cursor whole = trimmed(heading), front = whole;
    bool          seconds;
    int           power;

    *name = whole;
    *unit = cursor_over(NULL, 0);
    for (size_t n = whole.left; n > 0; n--) {
        struct cursor behind = whole;

        if (!parts_unit(whole.at[n - 1]))
            continue;
        cursor_take(&behind, n);
        if (volts_unit_read(trimmed(behind), &seconds, &power)) {
            front.left = n - 1;
            *name = trimmed(front);
            *unit = trimmed(behind);
        }
        return;
    }
    if (volts_unit_read(whole, &seconds, &power) && whole.left <= 2)
        *unit = whole;
}

bool volts_cell_number(struct cursor cell, char *mark, struct csv_number *n, struct cursor *rest)
{
    enum { UNIT_LETTERS = 4 };

    if (!csv_number_read(&cell, mark, n) || cell.left > UNIT_LETTERS)
        return false;
    cell = trimmed(cell);
    if (rest)
        *rest = cell;
    for (; cell.left > 0; cursor_take(&cell, 1)) {
        char c = small(cell.at[0]);

        if (c != ' ' && !(c >= 'a' && c <= 'z') && cell.at[0] < 0x80)
            return false;
    }
    return true;
}

bool volts_row_next(struct csv_table *t, char separator, struct volts_cells *room, struct csv_row *row, struct fault *f)
{
    size_t count = 0;

    if (!csv_table_next(t, row, f))
        return false;
    if (separator != ' ')
        return true;
    for (size_t k = 0; k < row->count; k++) {
        if (row->cells[k].left > 0)
            room->cell[count++] = row->cells[k];
    }
    row->cells = room->cell;
    row->count = count;
    return true;
}
