/*
 * capture/text_notes_inside.h - lines "#= key=value ...": what the line after them cannot say. Within capture only.
 */
#pragma once
#include "capture/text_words_inside.h"

enum note {
    NOTE_FLAGS,       /* host_time, invented, 0x.. */
    NOTE_END,         /* the stamp of a record with END_TIME; the line has its start */
    NOTE_DURATION,    /* duration_ns, where the line has no "until" */
    NOTE_STATE,       /* of a packet: crc_bad, truncated, 0x.. */
    NOTE_CC1, NOTE_CC2, /* millivolt */
    NOTE_WHERE,       /* of LOST */
    NOTE_VALUE,       /* of a mark that sets no load */
    NOTE_TEXT,        /* hex: mark's text, label or JSON as it was, where it does not fit a line */
    NOTE_ROWS, NOTE_INTERVAL, NOTE_COLUMNS, /* a POWER record of so many lines */
    NOTE_ROW,         /* "none": a row of such a record without a reading; time and port beside it */
    NOTE_TIME, NOTE_PORT,
    NOTE_RAW,         /* hex: a whole record that has no line; time beside it */
    NOTE_CUT,         /* "yes": of such a record, captured shorter than it was */
    NOTE_COUNT,
};
extern const char *const text_note_keys[]; /* by enum note, then NULL */

struct text_notes {
    uint32_t given; /* bits 1 << enum note */
    uint8_t  flags, state, columns, port;
    uint16_t cc1_mv, cc2_mv, rows;
    uint32_t where, duration_ns, interval_ns;
    int32_t  value;
    int64_t  end_ns, time_ns;
    uint8_t *bytes; /* of text or raw */
    size_t   length, capacity;
};

static inline bool notes_have(const struct text_notes *n, enum note note)
{
    return n->given >> note & 1;
}

/* Forgets what was said; keeps the room for bytes. */
void notes_clear(struct text_notes *n);
/* The rest of a line behind "#=". Keys nobody knows are passed over. False: a value cannot be read, or no memory. */
bool notes_read(struct text_notes *n, struct cursor *line);
