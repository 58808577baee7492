#include "capture/text_notes_inside.h"

#include "capture/record.h"

#include <stdlib.h>

enum { RAW_BYTES_MAX = 262144 }; /* a capture's longest record */

const char *const text_note_keys[] = {
    [NOTE_FLAGS] = "flags",       [NOTE_END] = "end",           [NOTE_DURATION] = "duration_ns", [NOTE_STATE] = "state",
    [NOTE_CC1] = "cc1_mv",        [NOTE_CC2] = "cc2_mv",        [NOTE_WHERE] = "where",          [NOTE_VALUE] = "value",
    [NOTE_TEXT] = "text",         [NOTE_ROWS] = "rows",         [NOTE_INTERVAL] = "interval_ns", [NOTE_COLUMNS] = "columns",
    [NOTE_ROW] = "row",           [NOTE_TIME] = "time",         [NOTE_PORT] = "port",            [NOTE_RAW] = "raw",
    [NOTE_CUT] = "cut",           [NOTE_COUNT] = NULL,
};

void notes_clear(struct text_notes *n)
{
    *n = (struct text_notes){ .bytes = n->bytes, .capacity = n->capacity };
}

static bool bytes_note(struct text_notes *n, const struct word *value)
{
    size_t need = value->length / 2;

    if (need > RAW_BYTES_MAX)
        return false;
    if (need > n->capacity) {
        uint8_t *larger = realloc(n->bytes, need);

        if (!larger)
            return false;
        n->bytes = larger;
        n->capacity = need;
    }
    return word_hex(value, n->bytes, n->capacity, &n->length);
}

static bool value_read(struct text_notes *n, enum note note, const struct word *value)
{
    int64_t number = 0;
    int     place;
    bool    good;

    switch (note) {
    case NOTE_FLAGS:    return word_bits(value, text_flags, &n->flags);
    case NOTE_STATE:    return word_bits(value, text_states, &n->state);
    case NOTE_COLUMNS:  return word_bits(value, text_columns, &n->columns) && n->columns > 0 && n->columns < 8;
    case NOTE_END:      return word_time(value, &n->end_ns);
    case NOTE_TIME:     return word_time(value, &n->time_ns);
    case NOTE_TEXT:
    case NOTE_RAW:      return bytes_note(n, value);
    case NOTE_ROW:      return word_is(value, "none");
    case NOTE_CUT:      return word_is(value, "yes");
    case NOTE_WHERE:
        place = word_find(value, text_places);
        n->where = (uint32_t)place;
        return place >= 0;
    case NOTE_DURATION: good = word_integer(value, 0, UINT32_MAX, &number); n->duration_ns = (uint32_t)number; return good;
    case NOTE_INTERVAL: good = word_integer(value, 0, UINT32_MAX, &number); n->interval_ns = (uint32_t)number; return good;
    case NOTE_CC1:      good = word_integer(value, 0, UINT16_MAX, &number); n->cc1_mv = (uint16_t)number; return good;
    case NOTE_CC2:      good = word_integer(value, 0, UINT16_MAX, &number); n->cc2_mv = (uint16_t)number; return good;
    case NOTE_ROWS:     good = word_integer(value, 1, UINT16_MAX, &number); n->rows = (uint16_t)number; return good;
    case NOTE_VALUE:    good = word_integer(value, INT32_MIN, INT32_MAX, &number); n->value = (int32_t)number; return good;
    case NOTE_PORT:     good = word_integer(value, 0, RECORD_PORT_BENCH, &number); n->port = (uint8_t)number; return good;
    case NOTE_COUNT:    break;
    }
    return false;
}

bool notes_read(struct text_notes *n, struct cursor *line)
{
    struct word value, key;

    while (word_next(line, &value)) {
        bool pair = word_cut(&value, '=', &key);
        int  note = word_find(&key, text_note_keys);

        if (!pair || note < 0)
            continue; /* a later version may say more */
        if (!value_read(n, (enum note)note, &value))
            return false;
        n->given |= UINT32_C(1) << note;
    }
    return true;
}
