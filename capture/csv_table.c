#include "capture/csv_table_inside.h"

#include <csv.h>
#include <stdlib.h>
#include <string.h>

enum { BUFFER_BYTES = 4 * CSV_LINE_MAX };

struct csv_table {
    struct byte_source *bytes;
    struct csv_parser   parser;
    uint8_t            *buffer;
    struct cursor       head; /* the first fill of the buffer, for going back */
    struct cursor       rest; /* of the buffer, not taken */
    bool                ended, refilled, in_long;
    uint64_t            line, taken;

    uint8_t      *text; /* the cells' bytes */
    size_t        text_used;
    struct cursor cells[CSV_CELLS_MAX];
    size_t        count, rows;
};

/* Fills up the buffer behind what is left in it. */
static void table_fill(struct csv_table *t)
{
    size_t left = t->rest.left;

    if (left > 0)
        memmove(t->buffer, t->rest.at, left);
    while (!t->ended && left < BUFFER_BYTES) {
        size_t more = byte_source_read(t->bytes, t->buffer + left, BUFFER_BYTES - left);

        t->ended = more == 0;
        left += more;
    }
    t->rest = cursor_over(t->buffer, left);
}

static bool starts_with(const struct cursor *c, const char *mark, size_t n)
{
    return c->left >= n && memcmp(c->at, mark, n) == 0;
}

/* Why reading ended before the data did, if it did. */
static void table_fault(const struct csv_table *t, struct fault *f)
{
    int         sys;
    const char *words = byte_source_broken(t->bytes, &sys);

    if (words)
        fault_set(f, sys != 0 ? FAULT_READ : FAULT_COMPRESSION, sys, 0, words);
}

static bool table_begin(struct csv_table *t, struct fault *f)
{
    table_fill(t);
    if (t->rest.left == 0) {
        fault_set(f, FAULT_EMPTY, 0, 0, NULL);
        table_fault(t, f);
        return false;
    }
    if (starts_with(&t->rest, "\xFF\xFE", 2) || starts_with(&t->rest, "\xFE\xFF", 2))
        return fault_set(f, FAULT_TABLE, 0, TABLE_UTF16, NULL);
    if (starts_with(&t->rest, "\xEF\xBB\xBF", 3))
        t->taken = cursor_take(&t->rest, 3) ? 3 : 0;
    t->head = t->rest;
    return true;
}

struct csv_table *csv_table_new(struct byte_source *bytes, struct fault *f)
{
    struct csv_table *t = calloc(1, sizeof *t);

    if (t) {
        t->bytes = bytes;
        t->buffer = malloc(BUFFER_BYTES);
        t->text = malloc(CSV_LINE_MAX);
    }
    if (!t || !t->buffer || !t->text || csv_init(&t->parser, 0) != 0) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        csv_table_free(t);
        return NULL;
    }
    if (!table_begin(t, f)) {
        csv_table_free(t);
        return NULL;
    }
    return t;
}

void csv_table_free(struct csv_table *t)
{
    if (!t)
        return;
    csv_free(&t->parser);
    free(t->buffer);
    free(t->text);
    free(t);
}

void csv_table_separator(struct csv_table *t, char separator)
{
    csv_set_delim(&t->parser, (unsigned char)separator);
}

bool csv_table_in_head(const struct csv_table *t)
{
    const uint8_t *end = t->head.at + (t->head.left < CSV_HEAD_BYTES ? t->head.left : CSV_HEAD_BYTES);

    if (t->refilled || t->rest.left == 0 || t->rest.at >= end)
        return false;
    return memchr(t->rest.at, '\n', t->rest.left) != NULL || t->ended;
}

void csv_table_rewind(struct csv_table *t)
{
    if (t->refilled)
        return;
    t->taken -= t->head.left - t->rest.left;
    t->rest = t->head;
    t->line = 0;
}

uint64_t csv_table_taken(const struct csv_table *t)
{
    return t->taken;
}

/* libcsv hands over one cell, and the end of a row. A line's cells are never longer than the line. */
static void cell_take(void *cell, size_t length, void *context)
{
    struct csv_table *t = context;

    if (t->rows > 0 || t->count == CSV_CELLS_MAX || length > CSV_LINE_MAX - t->text_used)
        return;
    if (length > 0)
        memcpy(t->text + t->text_used, cell, length);
    t->cells[t->count++] = cursor_over(t->text + t->text_used, length);
    t->text_used += length;
}

static void row_take(int end, void *context)
{
    struct csv_table *t = context;

    (void)end;
    t->rows++;
}

/* False: no memory. *state is undefined then. */
static bool line_split(struct csv_table *t, struct cursor line, enum csv_state *state)
{
    bool whole;

    t->count = t->rows = t->text_used = 0;
    whole = csv_parse(&t->parser, line.at, line.left, cell_take, row_take, t) == line.left &&
            csv_parse(&t->parser, "\n", 1, cell_take, row_take, t) == 1;
    *state = t->rows > 1 ? CSV_SPLIT : CSV_SOUND;
    if (t->rows == 0) {
        csv_fini(&t->parser, cell_take, row_take, t);
        if (t->rows > 0)
            *state = CSV_QUOTE_OPEN;
    }
    return whole;
}

/* The next line without its end. False at the end of the file. *whole: it is all there; else it is too long, and its rest comes next. */
static bool line_take(struct csv_table *t, struct cursor *line, bool *whole)
{
    const uint8_t *end = t->rest.left > 0 ? memchr(t->rest.at, '\n', t->rest.left) : NULL;
    size_t         n;

    if (!end && !t->ended) {
        t->refilled = true;
        table_fill(t);
        end = t->rest.left > 0 ? memchr(t->rest.at, '\n', t->rest.left) : NULL;
    }
    if (t->rest.left == 0)
        return false;
    n = end ? (size_t)(end - t->rest.at) : t->rest.left;
    *whole = end || t->ended;
    *line = cursor_over(t->rest.at, n);
    cursor_take(&t->rest, n + (end != NULL));
    t->taken += n + (end != NULL);
    return true;
}

static struct cursor without_return(struct cursor line)
{
    if (line.left > 0 && line.at[line.left - 1] == '\r')
        line.left--;
    return line;
}

/* A line that has no room: its beginning is what is told of it. */
static void long_row(struct csv_table *t, struct cursor line, struct csv_row *row)
{
    memcpy(t->text, line.at, 64);
    *row = (struct csv_row){ .line = t->line, .state = CSV_TOO_LONG, .whole = cursor_over(t->text, 64) };
}

bool csv_table_next(struct csv_table *t, struct csv_row *row, struct fault *f)
{
    struct cursor line;
    bool          whole;

    while (line_take(t, &line, &whole)) {
        bool           goes_on = t->in_long;
        enum csv_state state;

        t->in_long = !whole;
        if (goes_on)
            continue;
        t->line++;
        line = without_return(line);
        if (line.left > CSV_LINE_MAX || !whole) {
            long_row(t, line, row);
            return true;
        }
        if (!line_split(t, line, &state))
            return fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        if (t->rows > 0) {
            *row = (struct csv_row){ .line = t->line, .state = state, .whole = line, .cells = t->cells, .count = t->count };
            return true;
        }
    }
    fault_set(f, FAULT_NONE, 0, 0, NULL);
    table_fault(t, f);
    return false;
}

void csv_table_skip_to(struct csv_table *t, uint64_t line)
{
    struct cursor skipped;
    bool          whole;

    while (t->line + 1 < line && line_take(t, &skipped, &whole)) {
        t->line += !t->in_long;
        t->in_long = !whole;
    }
}
