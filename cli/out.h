/*
 * cli/out.h - text to standard output or a file, through one buffer of 64 KiB, without printf on the way.
 *
 * A write that fails is remembered, what follows is dropped, and out_close tells. A reader that has gone (a closed pipe) is
 * no fault: out_gone says so, and whoever writes may stop early.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

enum { OUT_BYTES = 65536 };

/* Our few ways of setting something apart; nothing but plain text unless colour is on. */
enum out_style {
    OUT_PLAIN,
    OUT_QUIET, /* what may be passed over: acknowledgements, retries */
    OUT_STRONG,/* what the eye looks for */
    OUT_GOOD, OUT_BAD, OUT_DOUBT,
    OUT_STYLES
};

struct out {
    size_t      used;
    size_t      line;     /* where in the buffer the line in hand began */
    size_t      escapes;  /* bytes of it that take no room on the screen */
    int         fd;
    int         sys;      /* errno of the write that failed, or 0 */
    bool        color, terminal;
    const char *path;     /* for the complaint; NULL: standard output */
    char        buffer[OUT_BYTES + 64];
};

struct options;

/* Opens the file of -o, or standard output, and settles colour (--color, NO_COLOR, TERM, terminal). NULL: it was said on standard error. */
struct out *out_open(const struct options *o);
/* The same for nothing but memory that is written to path (NULL: standard output). */
struct out *out_open_path(const char *path, unsigned color);
/* Writes what is left and frees. False: it could not be written; one line on standard error says so. NULL is allowed: true. */
bool out_close(struct out *o);
void out_flush(struct out *o);
/* The reader has closed its end, or writing failed: stop. */
static inline bool out_gone(const struct out *o)
{
    return o->sys != 0;
}

void out_bytes_slow(struct out *o, const char *bytes, size_t length);

/* Room for n more bytes (n at most 4096). */
static inline void out_room(struct out *o, size_t n)
{
    if (o->used + n > OUT_BYTES)
        out_flush(o);
}

static inline void out_bytes(struct out *o, const char *bytes, size_t length)
{
    if (length > 512) {
        out_bytes_slow(o, bytes, length);
        return;
    }
    out_room(o, length);
    memcpy(o->buffer + o->used, bytes, length);
    o->used += length;
}

static inline void out_char(struct out *o, char c)
{
    out_room(o, 1);
    o->buffer[o->used++] = c;
}

static inline void out_text(struct out *o, const char *text)
{
    out_bytes(o, text, strlen(text));
}

/* Places on the screen that the line in hand has come. */
static inline size_t out_place(const struct out *o)
{
    return o->used - o->line - o->escapes;
}

/* Ends the line; on a terminal it appears at once. */
static inline void out_line(struct out *o)
{
    out_char(o, '\n');
    o->line = o->used;
    o->escapes = 0;
    if (o->terminal)
        out_flush(o);
}

void out_spaces(struct out *o, size_t n);
/* Blanks up to a column of the line (from 0); one blank at least if it is there already and is not at the line's start. */
void out_column(struct out *o, size_t column);

void out_u64(struct out *o, uint64_t value);
void out_i64(struct out *o, int64_t value);
/* Right-aligned in width. */
void out_u64_wide(struct out *o, uint64_t value, unsigned width);
void out_hex(struct out *o, uint64_t value, unsigned digits);
void out_hex_bytes(struct out *o, const uint8_t *bytes, size_t length);

/* value x 10^-scale with so many decimals (rounded half away from zero), right-aligned in width (0: as it comes). */
void out_fixed(struct out *o, int64_t value, unsigned scale, unsigned decimals, unsigned width);
/* The same with no zeros at its end: 5 V, 3.25 A, 20.1 V (from thousandths: scale 3). */
void out_short(struct out *o, int64_t value, unsigned scale);

/* Text from a trace or a file: valid UTF-8 stays, control characters become "\x1b", bytes that are no UTF-8 too. */
void out_clean(struct out *o, const char *text, size_t length);
/* The same, cut or filled up with blanks to so many characters. */
void out_clean_wide(struct out *o, const char *text, size_t length, size_t width);
/* Left-aligned in width, not cut. */
void out_text_wide(struct out *o, const char *text, size_t width);

void out_style(struct out *o, enum out_style style); /* until the next; OUT_PLAIN ends it */

enum { OUT_COLUMNS = 100 };
/* Where the next item of a list begins, in the buffer; up to 1000 bytes may follow. */
static inline size_t out_item(struct out *o)
{
    out_room(o, 2048);
    return o->used;
}
/* Ends the item that began there, with its separator: moved to a line of its own at indent if it ran over OUT_COLUMNS. */
void out_item_end(struct out *o, size_t item, size_t indent);

/* out_clean, word by word: what runs over the line goes on at indent. */
void out_words(struct out *o, const char *text, size_t length, size_t indent);

/* Nanoseconds as seconds with six decimals, right-aligned. */
void out_seconds(struct out *o, int64_t ns, unsigned width);
/* A length of time in seven places, three or four digits and a unit: "1.24 ms", " 850 us", "12.3 s ". */
void out_span(struct out *o, int64_t ns);
