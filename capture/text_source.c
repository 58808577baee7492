#include "capture/text_form.h"
#include "capture/text_line_inside.h"
#include "capture/trace_source_inside.h"

#include <stdlib.h>
#include <string.h>

enum {
    LINE_ROOM_LEAST = 64 * 1024,
    LINE_BYTES_MAX = 640 * 1024, /* the longest record a capture can hold, in hex */
};

struct text_source {
    struct byte_source *bytes;
    struct text_reader *reader;
    bool                clock; /* "-" can be read */
    char               *room;
    size_t              capacity, start, end; /* what has been read and not taken */
    uint64_t            number;               /* of the line taken last */
    struct cursor       line;                 /* that line */
    bool                waiting;              /* it is to be given to the reader (again) */
    bool                too_long, ended, out_of_memory;
};

/* Reads on behind what is there. False: nothing more comes. */
static bool room_fill(struct text_source *s)
{
    if (s->start > 0) {
        memmove(s->room, s->room + s->start, s->end - s->start);
        s->end -= s->start;
        s->start = 0;
    }
    if (s->end == s->capacity) {
        size_t capacity = s->capacity == 0 ? LINE_ROOM_LEAST : s->capacity * 2;
        char  *larger = realloc(s->room, capacity);

        if (!larger) {
            s->out_of_memory = true;
            return false;
        }
        s->room = larger;
        s->capacity = capacity;
    }
    size_t n = byte_source_read(s->bytes, (uint8_t *)s->room + s->end, s->capacity - s->end);

    s->end += n;
    return n > 0;
}

/* Passes over the rest of a line that is longer than any can be. */
static void long_line_skip(struct text_source *s)
{
    const char *newline = NULL;

    s->too_long = true;
    do {
        newline = s->end > s->start ? memchr(s->room + s->start, '\n', s->end - s->start) : NULL;
        s->start = newline ? (size_t)(newline - s->room) + 1 : s->end;
    } while (!newline && room_fill(s));
    s->line = cursor_over((const uint8_t *)s->room, 0);
}

/* The next line, without its end. False at the end of the file. */
static bool line_next(struct text_source *s)
{
    const char *newline = NULL;
    size_t      seen = 0; /* of what is there, up to where no newline is */

    s->too_long = false;
    for (;;) {
        if (s->end - s->start > seen)
            newline = memchr(s->room + s->start + seen, '\n', s->end - s->start - seen);
        seen = s->end - s->start;
        if (newline || seen > LINE_BYTES_MAX || !room_fill(s))
            break;
    }
    if (s->out_of_memory || (!newline && seen == 0))
        return false;
    s->number++;
    if (!newline && seen > LINE_BYTES_MAX) {
        long_line_skip(s);
        return true;
    }
    size_t length = newline ? (size_t)(newline - s->room) - s->start : seen;

    s->line = cursor_over((const uint8_t *)s->room + s->start, length);
    s->start += newline ? length + 1 : length;
    if (length > 0 && s->room[s->start - (newline ? 2 : 1)] == '\r')
        s->line.left--;
    return true;
}

/* Some editors begin a file of text with it (Unicode, byte order mark in UTF-8). */
static void byte_order_mark_skip(struct text_source *s)
{
    struct cursor ahead = s->line;

    if (cursor_u8(&ahead) == 0xEF && cursor_u8(&ahead) == 0xBB && cursor_u8(&ahead) == 0xBF)
        s->line = ahead;
}

static bool control_inside(struct cursor c)
{
    while (c.left > 0) {
        uint8_t byte = cursor_u8(&c);

        if (byte < 0x20 && byte != '\t')
            return true;
    }
    return false;
}

/* A program or a picture shows in its first bytes that it is no text; no need to read on for its first line. */
static bool looks_like_text(struct byte_source *bytes)
{
    const uint8_t *first;
    size_t         n = byte_source_peek(bytes, 4, &first);
    struct cursor  c = cursor_over(first, n);

    while (c.left > 0) {
        uint8_t byte = cursor_u8(&c);

        if (byte < 0x20 && byte != '\t' && byte != '\n' && byte != '\r')
            return false;
    }
    return true;
}

/* Whether this is the text form at all shows in the first line that is no comment; comments alone are an empty trace. */
static bool form_check(struct text_source *s)
{
    bool commented = false;

    if (!looks_like_text(s->bytes))
        return false;
    while (line_next(s)) {
        struct cursor line;
        struct word   w;

        if (s->number == 1)
            byte_order_mark_skip(s);
        if (s->too_long || control_inside(s->line))
            return false;
        line = s->line;
        if (!word_next(&line, &w))
            continue;
        s->waiting = w.at[0] != '#' || word_is(&w, "#="); /* for the reader, as any line after it */
        if (s->waiting)
            return w.at[0] == '#' || text_line_looks_right(s->line);
        commented = true;
    }
    return commented;
}

struct text_source *text_source_new(struct byte_source *bytes, const struct trace_options *options, struct fault *f)
{
    struct text_source *s = calloc(1, sizeof *s);

    if (s) {
        s->bytes = bytes;
        s->reader = text_reader_new(options->now_ns, options->context);
    }
    bool right = s && s->reader && form_check(s);

    if (right && !s->out_of_memory)
        return s;
    fault_set(f, !s || !s->reader || s->out_of_memory ? FAULT_NO_MEMORY : FAULT_NOT_A_CAPTURE, 0, 0, NULL);
    text_source_free(s);
    return NULL;
}

void text_source_free(struct text_source *s)
{
    if (!s)
        return;
    text_reader_free(s->reader);
    free(s->room);
    free(s);
}

bool text_source_has_line(const struct text_source *s)
{
    return s->waiting || s->ended || (s->end > s->start && memchr(s->room + s->start, '\n', s->end - s->start) != NULL);
}

/* Gives the reader the line it waits for, or the end. */
static enum text_line reader_feed(struct text_source *s, struct arrival *a, size_t *length)
{
    if (!s->waiting && !line_next(s)) {
        s->ended = true;
        return text_reader_end(s->reader, &a->bytes, length, &a->stamp_ns, &a->frame);
    }
    if (s->too_long) /* any line that cannot be read will do */
        s->line = cursor_over((const uint8_t *)"?", 1);
    enum text_line got = text_reader_take(s->reader, (const char *)s->line.at, s->line.left, s->number, &a->bytes, length,
                                          &a->stamp_ns, &a->frame);

    s->waiting = text_reader_again(s->reader);
    return got;
}

enum arrival_end text_source_next(struct text_source *s, struct arrival *a)
{
    enum text_line got = TEXT_NOTHING;
    size_t         length = 0;

    while (got == TEXT_NOTHING) {
        if (s->ended)
            return s->out_of_memory ? ARRIVAL_NO_MEMORY : ARRIVAL_END;
        got = reader_feed(s, a, &length);
    }
    a->length = (uint32_t)length;
    a->cut = text_reader_cut(s->reader);
    a->text_damaged = got == TEXT_DAMAGED;
    return ARRIVAL_MORE;
}
