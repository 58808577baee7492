#include "capture/text_form.h"

#include "capture/text_line_inside.h"
#include "capture/text_notes_inside.h"

#include <stdlib.h>
#include <string.h>

enum { POWER_HEAD_BYTES = 16, CELL_BYTES = 4, DAMAGED_BYTES = RECORD_HEADER_BYTES };

/* A POWER record whose rows come line by line. */
struct block {
    bool     open;
    uint64_t line;
    int64_t  t_ns;
    uint8_t  port;
    uint16_t rows; /* read so far */
    size_t   cells;
    int32_t *cell; /* room for as many as a record can hold */
};

struct text_reader {
    int64_t (*now_ns)(void *context);
    void             *context;
    struct text_notes notes, row_notes;
    uint64_t          notes_line; /* 0: nothing is noted */
    struct block      block;
    int64_t           last_ns; /* time of the last line that had one */
    bool              again, cut;
    size_t            length; /* of the record in bytes */
    int64_t           stamp_ns;
    uint8_t           bytes[RECORD_BYTES_MAX];
};

struct text_reader *text_reader_new(int64_t (*now_ns)(void *), void *context)
{
    struct text_reader *r = calloc(1, sizeof *r);

    if (r) {
        r->now_ns = now_ns;
        r->context = context;
    }
    return r;
}

void text_reader_free(struct text_reader *r)
{
    if (!r)
        return;
    free(r->notes.bytes);
    free(r->row_notes.bytes);
    free(r->block.cell);
    free(r);
}

bool text_reader_again(const struct text_reader *r)
{
    return r->again;
}

bool text_reader_cut(const struct text_reader *r)
{
    return r->cut;
}

static void notes_done(struct text_reader *r)
{
    notes_clear(&r->notes);
    r->notes_line = 0;
}

/* A header that says as much as could be read. */
static enum text_line damaged(struct text_reader *r, uint8_t kind, uint8_t port, int64_t t_ns)
{
    notes_done(r);
    r->block.open = false;
    r->length = record_put(r->bytes, sizeof r->bytes, kind, port, 0, 0, NULL, 0);
    r->stamp_ns = t_ns;
    return TEXT_DAMAGED;
}

/* Little-endian bytes of a record's body, counted. */
struct body { uint8_t *at; size_t used; };

static void body_u8(struct body *b, uint8_t value)
{
    b->at[b->used++] = value;
}

static void body_u32(struct body *b, uint32_t value)
{
    for (int shift = 0; shift < 32; shift += 8)
        body_u8(b, (uint8_t)(value >> shift));
}

/* False if it does not fit a record. */
static bool body_text(struct text_reader *r, struct body *b, const struct word *text)
{
    const void *from = notes_have(&r->notes, NOTE_TEXT) ? (const void *)r->notes.bytes : (const void *)text->at;
    size_t      length = notes_have(&r->notes, NOTE_TEXT) ? r->notes.length : text->length;

    if (length > sizeof r->bytes - RECORD_HEADER_BYTES - b->used)
        return false;
    if (length > 0)
        memcpy(b->at + b->used, from, length);
    b->used += length;
    return true;
}

static bool body_make(struct text_reader *r, const struct line_parts *l, struct body *b)
{
    const struct text_notes *n = &r->notes;
    size_t                   length;

    switch ((enum record_kind)l->kind) {
    case RECORD_PD_PACKET:
        body_u32(b, l->set | (uint32_t)(l->state | n->state) << 8);
        if (!word_hex(&l->text, b->at + b->used, sizeof r->bytes - RECORD_HEADER_BYTES - b->used, &length))
            return false;
        b->used += length;
        return true;
    case RECORD_RESET_SIGNAL:
        body_u32(b, l->which);
        return true;
    case RECORD_CC_STATE:
        body_u32(b, l->attach | (uint32_t)l->rp << 8 | (uint32_t)(notes_have(n, NOTE_CC1) ? n->cc1_mv : UINT16_MAX) << 16);
        body_u32(b, notes_have(n, NOTE_CC2) ? n->cc2_mv : UINT16_MAX);
        return true;
    case RECORD_MARK:
        body_u32(b, l->action | (uint32_t)l->subject << 8);
        body_u32(b, (uint32_t)(l->action == RECORD_LOAD_SET ? l->value : n->value));
        return body_text(r, b, &l->text);
    case RECORD_TEMPERATURE:
        body_u32(b, l->probe);
        body_u32(b, (uint32_t)l->value);
        return body_text(r, b, &l->text);
    case RECORD_LOST:
        body_u32(b, l->count);
        body_u32(b, n->where);
        return true;
    case RECORD_ABOUT:
        return body_text(r, b, &l->text);
    case RECORD_POWER:
    case RECORD_CC_EDGES: break; /* rows have their own way, edges no line */
    }
    return false;
}

static uint8_t flags_of(const struct text_reader *r)
{
    return (uint8_t)(r->notes.flags | (notes_have(&r->notes, NOTE_END) ? RECORD_END_TIME : 0));
}

/* The body, if it has not been put in its place yet, stands there already. */
static enum text_line record_done(struct text_reader *r, const struct line_parts *l, size_t body_length)
{
    uint32_t duration_ns = l->ends ? (uint32_t)(l->end_ns - l->t_ns) : r->notes.duration_ns;

    record_put(r->bytes, RECORD_HEADER_BYTES, l->kind, l->port, (uint8_t)(flags_of(r) | (l->now ? RECORD_HOST_TIME : 0)),
               duration_ns, NULL, 0);
    r->length = RECORD_HEADER_BYTES + body_length;
    r->stamp_ns = notes_have(&r->notes, NOTE_END) ? r->notes.end_ns : l->t_ns;
    notes_done(r);
    return TEXT_RECORD;
}

/* A row alone: columns that have no word stay out. */
static enum text_line row_record(struct text_reader *r, const struct line_parts *l)
{
    int32_t cells[TEXT_COLUMNS];
    size_t  width = 0;
    uint8_t flags = (uint8_t)(flags_of(r) | (l->now ? RECORD_HOST_TIME : 0));

    for (unsigned c = 0; c < TEXT_COLUMNS; c++) {
        if (l->columns >> c & 1)
            cells[width++] = l->cells[c];
    }
    r->length = record_put_power(r->bytes, sizeof r->bytes, l->port, flags, r->notes.duration_ns, r->notes.interval_ns, 1,
                                 l->columns, cells);
    r->stamp_ns = notes_have(&r->notes, NOTE_END) ? r->notes.end_ns : l->t_ns;
    notes_done(r);
    return TEXT_RECORD;
}

/* Blocks of rows. */

static size_t block_width(const struct text_reader *r)
{
    uint8_t columns = r->notes.columns;

    return (columns & 1u) + (columns >> 1 & 1u) + (columns >> 2 & 1u);
}

static bool block_announced(const struct text_reader *r)
{
    return notes_have(&r->notes, NOTE_ROWS);
}

static enum text_line block_done(struct text_reader *r)
{
    struct block *b = &r->block;

    b->open = false;
    r->length = record_put_power(r->bytes, sizeof r->bytes, b->port, flags_of(r), r->notes.duration_ns, r->notes.interval_ns,
                                 b->rows, r->notes.columns, b->cell);
    r->stamp_ns = notes_have(&r->notes, NOTE_END) ? r->notes.end_ns : b->t_ns;
    notes_done(r);
    return TEXT_RECORD;
}

/* Does the line go on with the block, or begin it? */
static bool block_takes(const struct text_reader *r, const struct line_parts *l)
{
    return l->kind == RECORD_POWER && (l->columns & ~r->notes.columns) == 0 && (!r->block.open || l->port == r->block.port);
}

static enum text_line block_row(struct text_reader *r, const struct line_parts *l, uint64_t number)
{
    struct block *b = &r->block;

    if (!b->cell)
        b->cell = malloc(RECORD_BYTES_MAX);
    if (!b->cell)
        return damaged(r, l->kind, l->port, l->t_ns);
    if (!b->open)
        *b = (struct block){ .open = true, .line = number, .t_ns = l->t_ns, .port = l->port, .cell = b->cell };
    if (l->now)
        r->notes.flags |= RECORD_HOST_TIME;
    for (unsigned c = 0; c < TEXT_COLUMNS; c++) {
        if (r->notes.columns >> c & 1)
            b->cell[b->cells++] = l->columns >> c & 1 ? l->cells[c] : RECORD_NO_READING;
    }
    return ++b->rows == r->notes.rows ? block_done(r) : TEXT_NOTHING;
}

/* Another line comes before the block's rows are complete: what there is of it comes out, and the line is asked for again. */
static enum text_line block_break(struct text_reader *r)
{
    r->again = true;
    if (r->block.open)
        return block_done(r);
    return damaged(r, RECORD_POWER, RECORD_PORT_BENCH, r->last_ns);
}

/* Lines. */

static enum text_line record_take(struct text_reader *r, struct line_parts *l, uint64_t number, uint64_t *first_line)
{
    struct body body = { r->bytes + RECORD_HEADER_BYTES, 0 };

    if (l->kind != RECORD_POWER)
        return body_make(r, l, &body) ? record_done(r, l, body.used) : damaged(r, l->kind, l->port, l->t_ns);
    if (!block_announced(r))
        return row_record(r, l);
    enum text_line got = block_row(r, l, number);

    *first_line = r->block.line;
    return got;
}

static enum text_line line_take(struct text_reader *r, struct cursor line, uint64_t number, uint64_t *first_line)
{
    struct line_parts l;
    bool             good = text_line_read(line, &l);

    if (block_announced(r) && !(good && block_takes(r, &l))) {
        *first_line = r->block.open ? r->block.line : r->notes_line;
        return block_break(r);
    }
    if (l.now && r->now_ns)
        l.t_ns = r->now_ns(r->context);
    if (l.timed && !(l.now && !r->now_ns))
        r->last_ns = l.t_ns;
    if (!good || (l.now && !r->now_ns))
        return damaged(r, l.kind, l.port, r->last_ns);
    return record_take(r, &l, number, first_line);
}

/* A record that has no line of its own. */
static enum text_line raw_take(struct text_reader *r, const uint8_t **bytes)
{
    if (!notes_have(&r->notes, NOTE_TIME))
        return damaged(r, RECORD_PD_PACKET, RECORD_PORT_BENCH, r->last_ns);
    *bytes = r->notes.bytes ? r->notes.bytes : r->bytes;
    r->length = r->notes.length;
    r->stamp_ns = r->notes.time_ns;
    r->cut = notes_have(&r->notes, NOTE_CUT);
    notes_done(r);
    return TEXT_RECORD;
}

/* A row of a block without any reading. What else its line says must not change the block. */
static enum text_line empty_row_take(struct text_reader *r, struct cursor line, uint64_t number, uint64_t *first_line)
{
    struct line_parts l = { .timed = true, .kind = RECORD_POWER };

    notes_clear(&r->row_notes);
    if (!notes_read(&r->row_notes, &line))
        return damaged(r, RECORD_POWER, RECORD_PORT_BENCH, r->last_ns);
    l.t_ns = r->row_notes.time_ns;
    l.port = r->row_notes.port;
    return record_take(r, &l, number, first_line);
}

static bool block_fits(const struct text_reader *r)
{
    size_t room = (RECORD_BYTES_MAX - POWER_HEAD_BYTES) / CELL_BYTES;

    return notes_have(&r->notes, NOTE_COLUMNS) && r->notes.rows * block_width(r) <= room;
}

static bool row_comes(struct cursor line)
{
    struct word w;

    return word_next(&line, &w) && word_is(&w, "row=none");
}

static enum text_line notes_take(struct text_reader *r, struct cursor line, uint64_t number, const uint8_t **bytes,
                                 uint64_t *first_line)
{
    if (block_announced(r) && row_comes(line))
        return empty_row_take(r, line, number, first_line);
    if (block_announced(r)) {
        *first_line = r->block.open ? r->block.line : r->notes_line;
        return block_break(r);
    }
    if (r->notes_line == 0)
        r->notes_line = number;
    if (!notes_read(&r->notes, &line) || notes_have(&r->notes, NOTE_ROW) || (block_announced(r) && !block_fits(r)))
        return damaged(r, RECORD_PD_PACKET, RECORD_PORT_BENCH, r->last_ns);
    return notes_have(&r->notes, NOTE_RAW) ? raw_take(r, bytes) : TEXT_NOTHING;
}

enum text_line text_reader_take(struct text_reader *r, const char *line, size_t length, uint64_t number,
                                const uint8_t **bytes, size_t *record_length, int64_t *stamp_ns, uint64_t *first_line)
{
    struct cursor  c = cursor_over((const uint8_t *)line, length), ahead = c;
    struct word    w;
    enum text_line got = TEXT_NOTHING;

    r->again = r->cut = false;
    *first_line = number;
    *bytes = r->bytes;
    if (!word_next(&ahead, &w))
        return TEXT_NOTHING;
    if (word_is(&w, "#="))
        got = notes_take(r, ahead, number, bytes, first_line);
    else if (w.at[0] != '#')
        got = line_take(r, c, number, first_line);
    *record_length = r->length;
    *stamp_ns = r->stamp_ns;
    return got;
}

enum text_line text_reader_end(struct text_reader *r, const uint8_t **bytes, size_t *record_length, int64_t *stamp_ns,
                               uint64_t *first_line)
{
    r->again = r->cut = false;
    if (!block_announced(r))
        return TEXT_NOTHING;
    *first_line = r->block.open ? r->block.line : r->notes_line;
    enum text_line got = block_break(r);

    r->again = false;
    *bytes = r->bytes;
    *record_length = r->length;
    *stamp_ns = r->stamp_ns;
    return got;
}
