#include "tests/fuzz/check.h"

#include "capture/text_form.h"

#include <string.h>

static bool inside(const struct record *r, const void *part, size_t length)
{
    const uint8_t *p = part;

    return length == 0 || (p >= r->bytes && p + length <= r->bytes + r->length);
}

/* Reads every byte, so that a sanitizer sees a pointer that only looks right. */
static unsigned touch(const void *part, size_t length)
{
    const uint8_t *p = part;
    unsigned       sum = 0;

    for (size_t k = 0; k < length; k++)
        sum += p[k];
    return sum;
}

static void check_power(const struct record *r)
{
    unsigned width = 0;

    for (unsigned bit = 0; bit < 3; bit++)
        width += r->power.columns >> bit & 1;
    MUST(r->power.columns < 8 && width > 0 && r->power.width == width);
    MUST(r->power.rows > 0 && (r->power.rows == 1 || r->power.interval_ns > 0));
    MUST(inside(r, r->power.cells, (size_t)r->power.rows * width * 4));
    for (unsigned column = 0; column < width; column++) {
        int32_t least = 0, greatest = 0, low = INT32_MAX, high = INT32_MIN;
        bool    any = false;

        for (unsigned row = 0; row < r->power.rows; row++) {
            int32_t cell = record_cell(r, row, column);

            if (cell == RECORD_NO_READING)
                continue;
            any = true;
            low = cell < low ? cell : low;
            high = cell > high ? cell : high;
        }
        MUST(record_column_range(r, column, &least, &greatest) == any);
        MUST(!any || (least == low && greatest == high));
    }
}

static void check_body(const struct record *r)
{
    switch ((enum record_kind)r->kind) {
    case RECORD_PD_PACKET:
        MUST(r->packet.set <= 4 && r->port != RECORD_PORT_BENCH);
        MUST((r->packet.state & RECORD_TRUNCATED) || r->packet.length >= ((r->packet.state & RECORD_NO_CRC) ? 2u : 6u));
        MUST(inside(r, r->packet.bytes, r->packet.length));
        return;
    case RECORD_RESET_SIGNAL:
        MUST(r->reset.which <= 1 && r->port != RECORD_PORT_BENCH);
        return;
    case RECORD_POWER:
        check_power(r);
        return;
    case RECORD_CC_STATE:
        MUST(r->cc.attach <= 4 && r->cc.rp <= 3 && r->port != RECORD_PORT_BENCH);
        return;
    case RECORD_MARK:
        MUST(r->mark.action <= 6 && inside(r, r->mark.text, r->mark.length));
        return;
    case RECORD_LOST:
        MUST(r->lost.where <= 3);
        return;
    case RECORD_TEMPERATURE:
        MUST(inside(r, r->temperature.label, r->temperature.length));
        return;
    case RECORD_ABOUT:
        MUST(inside(r, r->about.text, r->about.length));
        return;
    case RECORD_CC_EDGES:
        MUST(r->edges.level <= 1 && r->edges.tick_ps > 0 && inside(r, r->edges.leb, r->edges.length));
        return;
    }
    NEVER("a sound record of a kind that is not in the table");
}

void check_record(const struct record *r)
{
    MUST((r->soundness == RECORD_SOUND) == (r->why == RECORD_WHY_NONE));
    (void)touch(r->bytes, r->length);
    MUST(record_span_ns(r) >= 0);
    if (r->soundness != RECORD_SOUND)
        return;
    MUST(r->version == RECORD_VERSION && r->length >= RECORD_HEADER_BYTES && r->length <= RECORD_BYTES_MAX);
    MUST(r->flags & RECORD_END_TIME ? r->t_ns <= r->stamp_ns : r->t_ns == r->stamp_ns);
    check_body(r);
}

struct text { char *bytes; size_t used, room; };

static void text_put(void *context, const char *bytes, size_t length)
{
    struct text *t = context;

    if (t->used + length > t->room) {
        t->room = (t->used + length) * 2 + 4096;
        t->bytes = realloc(t->bytes, t->room);
        MUST(t->bytes);
    }
    if (length)
        memcpy(t->bytes + t->used, bytes, length);
    t->used += length;
}

/* What came out of the reader, if anything: the record r again. */
static unsigned text_compare(enum text_line got, const struct record *r, const uint8_t *bytes, size_t length, int64_t stamp_ns)
{
    if (got == TEXT_NOTHING)
        return 0;
    MUST(got == TEXT_RECORD);
    MUST(stamp_ns == r->stamp_ns);
    MUST(length == r->length && memcmp(bytes, r->bytes, length) == 0);
    return 1;
}

/* Reads every line; returns how many records came out. */
static unsigned text_read(struct text_reader *reader, const struct text *text, const struct record *r)
{
    const uint8_t *bytes = NULL;
    size_t         length = 0, at = 0;
    int64_t        stamp_ns = 0;
    uint64_t       first = 0, number = 0;
    unsigned       records = 0;
    enum text_line got;

    while (at < text->used) {
        const char *line = text->bytes + at;
        size_t      n = (size_t)((const char *)memchr(line, '\n', text->used - at) - line);

        number++;
        got = text_reader_take(reader, line, n, number, &bytes, &length, &stamp_ns, &first);
        MUST(!text_reader_again(reader) && !text_reader_cut(reader));
        records += text_compare(got, r, bytes, length, stamp_ns);
        at += n + 1;
    }
    got = text_reader_end(reader, &bytes, &length, &stamp_ns, &first);
    return records + text_compare(got, r, bytes, length, stamp_ns);
}

void check_text_round_trip(const struct record *r)
{
    struct text         text = { 0 };
    struct text_reader *reader = text_reader_new(NULL, NULL);

    MUST(reader);
    text_write(r, text_put, &text);
    MUST(text.used > 0 && text.bytes[text.used - 1] == '\n');
    MUST(text_read(reader, &text, r) == 1);
    text_reader_free(reader);
    free(text.bytes);
}
