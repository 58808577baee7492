/*
 * Samples without a head: bits packed eight to a byte, and bytes of which each line is one bit. Sixty-four samples of a line are made one
 * word; where neighbours differ, a word moved by one sample and held against itself has ones.
 */
#include "capture/cc_bytes_inside.h"
#include "capture/cc_line.h"

#include <stdlib.h>
#include <string.h>

enum { WORD_SAMPLES = 64, CHANGES_MAX = 16 * 1024, STILL_BYTES = 64, BITS_A_BYTE = 8 };

enum layout { LAYOUT_BITS_LEAST_FIRST, LAYOUT_BITS_MOST_FIRST, LAYOUT_BYTES };

struct lane {
    unsigned bit;   /* of each byte; bytes only */
    bool     level; /* of the sample before */
    size_t   at;    /* bytes of the window that were looked through */
};

struct cc_file {
    struct cc_bytes *bytes;
    struct cc_tick   tick;
    enum layout      layout;
    unsigned         lanes;
    struct lane      lane[CC_LINES_MAX];
    int64_t          first; /* sample that the window begins with */
    size_t           count;
    int64_t          change[CHANGES_MAX];
};

static size_t samples_of_byte(enum layout layout)
{
    return layout == LAYOUT_BYTES ? 1 : BITS_A_BYTE;
}

/* Bits of each byte turned round. */
static uint64_t word_turned(uint64_t w)
{
    w = (w >> 1 & 0x5555555555555555) | (w & 0x5555555555555555) << 1;
    w = (w >> 2 & 0x3333333333333333) | (w & 0x3333333333333333) << 2;
    return (w >> 4 & 0x0F0F0F0F0F0F0F0F) | (w & 0x0F0F0F0F0F0F0F0F) << 4;
}

/* One bit of each of 64 bytes. The product moves bit 0 of byte i to bit 56 + i. */
static uint64_t word_of_bytes(const uint8_t *block, size_t at, unsigned bit)
{
    uint64_t word = 0;

    for (unsigned k = 0; k < WORD_SAMPLES / 8; k++)
        word |= (cursor_block_u64le(block, at + 8 * k) >> bit & 0x0101010101010101) * 0x0102040810204080 >> 56 << 8 * k;
    return word;
}

/* The next 64 samples, the first in bit 0. Behind the end of the block stands anything (CC_BYTES_BEHIND). */
static inline uint64_t word_at(enum layout layout, const uint8_t *block, size_t at, unsigned bit)
{
    switch (layout) {
    case LAYOUT_BITS_LEAST_FIRST: return cursor_block_u64le(block, at);
    case LAYOUT_BITS_MOST_FIRST:  return word_turned(cursor_block_u64le(block, at));
    case LAYOUT_BYTES:            return word_of_bytes(block, at, bit);
    }
    return 0;
}

/* From `at`, as far as the line keeps its level, in steps of STILL_BYTES. */
static size_t still_until(const uint8_t *block, size_t at, size_t end, uint64_t fill, uint64_t mask)
{
    while (end - at >= STILL_BYTES) {
        uint64_t differs = 0;

        for (size_t k = 0; k < STILL_BYTES; k += 8)
            differs |= cursor_block_u64le(block, at + k) ^ fill;
        if (differs & mask)
            break;
        at += STILL_BYTES;
    }
    return at;
}

/*
 * Marks: bit k for a change before sample `first` + k. Two of them, as many as a word of a busy line has at the usual rates, are put
 * down without asking whether they are there: asking would guess wrong too often.
 */
static inline size_t changes_put(int64_t *change, size_t count, int64_t first, uint64_t marks)
{
    const uint64_t top = (uint64_t)1 << 63;

    for (unsigned k = 0; k < 2; k++) {
        change[count] = first + __builtin_ctzll(marks | top);
        count += marks != 0;
        marks &= marks - (marks != 0);
    }
    for (; marks != 0; marks &= marks - 1)
        change[count++] = first + __builtin_ctzll(marks);
    return count;
}

/* Looks through bytes of the window from lane->at on, until its end or until there is no more room for changes. */
static void lane_read(struct cc_file *c, struct lane *lane, const uint8_t *block, size_t end)
{
    const enum layout layout = c->layout;
    const size_t      a_byte = samples_of_byte(layout), step = WORD_SAMPLES / a_byte;
    const uint64_t    mask = layout == LAYOUT_BYTES ? (uint64_t)0x0101010101010101 << lane->bit : UINT64_MAX;
    uint64_t          before = lane->level;
    size_t            at = lane->at, count = 0;

    while (at < end && count <= CHANGES_MAX - WORD_SAMPLES) {
        uint64_t word = word_at(layout, block, at, lane->bit), marks = word ^ (word << 1 | before);
        int64_t  first = c->first + (int64_t)(at * a_byte);

        if (end - at < step) { /* the last word may be less than one */
            unsigned samples = (unsigned)((end - at) * a_byte);

            marks &= ((uint64_t)1 << samples) - 1;
            before = word >> (samples - 1) & 1;
            count = changes_put(c->change, count, first, marks);
            at = end;
            break;
        }
        before = word >> 63;
        at += step;
        if (marks == 0)
            at = still_until(block, at, end, before ? UINT64_MAX : 0, mask);
        else
            count = changes_put(c->change, count, first, marks);
    }
    lane->level = before;
    lane->at = at;
    c->count = count;
}

/* The lane that is furthest behind. */
static struct lane *lane_next(struct cc_file *c)
{
    struct lane *least = &c->lane[0];

    for (unsigned k = 1; k < c->lanes; k++)
        if (c->lane[k].at < least->at)
            least = &c->lane[k];
    return least;
}

/* The whole window has been looked through: the next one. False: there is none. */
static bool window_next(struct cc_file *c)
{
    struct cursor *window = cc_bytes_window(c->bytes);

    c->first += (int64_t)(window->left * samples_of_byte(c->layout));
    cursor_take(window, window->left);
    for (unsigned k = 0; k < c->lanes; k++)
        c->lane[k].at = 0;
    return cc_bytes_more(c->bytes);
}

static bool samples_next(struct cc_file *c, struct cc_block *block, struct fault *f)
{
    struct lane  *lane = lane_next(c);
    struct cursor window = *cc_bytes_window(c->bytes);

    if (lane->at == window.left) {
        if (!window_next(c))
            return cc_bytes_end_fault(c->bytes, f);
        lane = &c->lane[0];
        window = *cc_bytes_window(c->bytes);
    }
    size_t         end = window.left, a_byte = samples_of_byte(c->layout), from = lane->at;
    const uint8_t *bytes = cursor_take(&window, end);
    bool           level = lane->level;

    lane_read(c, lane, bytes, end);
    *block = (struct cc_block){ .line = (unsigned)(lane - c->lane), .level = level, .at = c->change, .count = c->count };
    block->from = c->first + (int64_t)(from * a_byte);
    block->until = c->first + (int64_t)(lane->at * a_byte);
    return true;
}

static bool lanes_choose_bits(struct cc_file *c, const struct cc_options *options, struct fault *f)
{
    for (unsigned k = 0; k < options->lines; k++)
        if (k > 0 || (options->names[k] && strcmp(options->names[k], "0") != 0))
            return fault_set(f, FAULT_NOT_THERE, 0, k, "one line only, of the name 0");
    c->layout = options->most_first ? LAYOUT_BITS_MOST_FIRST : LAYOUT_BITS_LEAST_FIRST;
    return true;
}

static bool lanes_choose_bytes(struct cc_file *c, const struct cc_options *options, struct fault *f)
{
    for (unsigned k = 0; k < options->lines; k++) {
        const char *name = options->names[k] ? options->names[k] : "0";

        if (name[0] < '0' || name[0] > '7' || name[1] != '\0')
            return fault_set(f, FAULT_NOT_THERE, 0, k, "0, 1, 2, 3, 4, 5, 6, 7: the bits of each byte");
        c->lane[k].bit = (unsigned)(name[0] - '0');
    }
    c->layout = LAYOUT_BYTES;
    return true;
}

static void samples_close(struct cc_file *c)
{
    if (!c)
        return;
    cc_bytes_close(c->bytes);
    free(c);
}

typedef bool lanes_choose(struct cc_file *c, const struct cc_options *options, struct fault *f);

/* Takes the bytes over, NULL too: then *f says why already. */
static struct cc_file *samples_new(struct cc_bytes *bytes, const struct cc_options *options, lanes_choose *choose, struct fault *f)
{
    struct cc_file *c = bytes ? calloc(1, sizeof *c) : NULL;
    bool            good = c != NULL;

    if (bytes && !c)
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    if (!c) {
        cc_bytes_close(bytes);
        return NULL;
    }
    c->bytes = bytes;
    c->lanes = options->lines;
    if (!cc_tick_of_rate(options->rate_hz, &c->tick))
        good = fault_set(f, FAULT_RATE, 0, 0, NULL);
    if (!good || !choose(c, options, f)) {
        samples_close(c);
        return NULL;
    }
    struct cursor  window = *cc_bytes_window(bytes);
    const uint8_t *block = cursor_take(&window, window.left);

    for (unsigned k = 0; k < c->lanes; k++)
        c->lane[k].level = word_at(c->layout, block, 0, c->lane[k].bit) & 1;
    return c;
}

static struct cc_file *bits_open(const char *path, const struct cc_options *options, struct fault *f)
{
    return samples_new(cc_bytes_open(path, options->read_bytes, f), options, lanes_choose_bits, f);
}

static struct cc_file *bits_open_memory(const uint8_t *bytes, size_t length, const struct cc_options *options, struct fault *f)
{
    return samples_new(cc_bytes_over(bytes, length, options->read_bytes, f), options, lanes_choose_bits, f);
}

static struct cc_file *bytes_open(const char *path, const struct cc_options *options, struct fault *f)
{
    return samples_new(cc_bytes_open(path, options->read_bytes, f), options, lanes_choose_bytes, f);
}

static struct cc_file *bytes_open_memory(const uint8_t *bytes, size_t length, const struct cc_options *options, struct fault *f)
{
    return samples_new(cc_bytes_over(bytes, length, options->read_bytes, f), options, lanes_choose_bytes, f);
}

static struct cc_tick samples_tick(const struct cc_file *c)
{
    return c->tick;
}

static struct cc_facts samples_facts(const struct cc_file *c)
{
    return (struct cc_facts){ .bytes = cc_bytes_read(c->bytes), .bytes_total = cc_bytes_total(c->bytes) };
}

const struct cc_kind cc_bits_kind = { "bits", bits_open, bits_open_memory, samples_next, samples_tick, samples_facts, samples_close };
const struct cc_kind cc_bytes_kind = { "bytes", bytes_open, bytes_open_memory, samples_next, samples_tick, samples_facts, samples_close };
