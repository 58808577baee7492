/*
 * Fuzz target: the BMC decoder. Changes of a line, drawn or sent as packets; the same changes in pieces of any size give the same frames.
 *
 *   u8 tick   which of the ticks below
 *   u8 glitch width of the filter, times 10 ns; 0: its default
 *   then steps until the bytes run out:
 *     0x00..0xBF   a change, so many 32nds of half a cell (and one) after the last
 *     0xC0..0xDF   so many times two bits of a preamble
 *     0xE0..0xE6   an ordered set
 *     0xE7         a byte of data, which follows
 *     0xE8         EOP
 *     0xE9         five bits, which follow
 *     0xEA         nothing for 200 us, and it is told
 *     0xEB         nothing is known for 200 us
 *     0xEC         the level is another than it was
 *     0xED         a time, which follows in eight bytes
 *     0xEE, 0xEF   a change 1 tick later, or at the same
 *     else         the end of the last bit, then nothing for so many 16ths of a cell
 */
#include "capture/base/cursor.h"
#include "decode/bmc.h"
#include "decode/line_code.h"
#include "tests/fuzz/check.h"

#include <string.h>

enum { STEPS_MOST = 8000, FRAMES_MOST = 300 };

enum step_kind { STEP_CHANGE, STEP_STILL, STEP_HOLE, STEP_END };
struct step { enum step_kind kind; int64_t at; bool level; /* before it */ };

struct line {
    struct step steps[STEPS_MOST];
    int64_t     at[STEPS_MOST]; /* a piece of them */
    size_t      count;
    int64_t     now, half; /* ticks */
    bool        level;
};

struct frames {
    struct bmc      *decoder;
    struct bmc_frame all[FRAMES_MOST];
    uint32_t         sums[FRAMES_MOST]; /* of their bytes */
    size_t           count;
    int64_t          settled;
};

static const double ticks_ps[] = { 0.001, 1, 1000, 10000, 41666.7, 166666.7, 500000, 833333.3, 2e6, 1e-9, 1e15 };

static void step_put(struct line *l, enum step_kind kind)
{
    if (l->count == STEPS_MOST)
        return;
    l->steps[l->count++] = (struct step){ kind, l->now, l->level };
    if (kind == STEP_CHANGE)
        l->level = !l->level;
}

static void later(struct line *l, int64_t ticks)
{
    l->now = l->now < INT64_MAX - ticks ? l->now + ticks : INT64_MAX;
}

static void bits_put(struct line *l, unsigned bits, unsigned count)
{
    for (unsigned k = 0; k < count; k++) {
        step_put(l, STEP_CHANGE);
        later(l, l->half);
        if (bits >> k & 1)
            step_put(l, STEP_CHANGE);
        later(l, l->half);
    }
}

static unsigned symbol_of(unsigned nibble)
{
    for (unsigned k = 0; k < LINE_SYMBOLS; k++)
        if (line_symbols[k].kind == LINE_SYMBOL_DATA && line_symbols[k].nibble == nibble)
            return k;
    NEVER("a nibble without a symbol");
}

static void byte_put(struct line *l, unsigned byte)
{
    bits_put(l, symbol_of(byte & 15), LINE_SYMBOL_BITS);
    bits_put(l, symbol_of(byte >> 4), LINE_SYMBOL_BITS);
}

static void set_put(struct line *l, unsigned which)
{
    for (unsigned k = 0; k < LINE_SET_SYMBOLS; k++)
        bits_put(l, line_sets[which].codes[k], LINE_SYMBOL_BITS);
}

static void pause_put(struct line *l, enum step_kind kind)
{
    later(l, l->half * 120); /* 200 us where a cell lasts 3.3 */
    step_put(l, kind);
}

static void odd_put(struct line *l, unsigned code, struct cursor *c)
{
    switch (code) {
    case 0xEC:
        l->level = !l->level;
        return;
    case 0xED: {
        int64_t at = (int64_t)cursor_u64le(c);

        l->now = at > l->now ? at : l->now;
        return;
    }
    case 0xEE:
    case 0xEF:
        later(l, 0xEF - code);
        step_put(l, STEP_CHANGE);
        return;
    default:
        step_put(l, STEP_CHANGE);
        later(l, l->half * (code & 15) / 8);
        return;
    }
}

static void step_read(struct line *l, struct cursor *c)
{
    unsigned code = cursor_u8(c);

    if (code < 0xC0) {
        later(l, (code + 1) * l->half / 32);
        step_put(l, STEP_CHANGE);
    } else if (code < 0xE0) {
        for (unsigned k = 0; k < (code & 31); k++)
            bits_put(l, 2, 2);
    } else if (code < 0xE0 + LINE_SETS) {
        set_put(l, code - 0xE0);
    } else if (code == 0xE7) {
        byte_put(l, cursor_u8(c));
    } else if (code <= 0xE9) {
        bits_put(l, code == 0xE8 ? K_EOP : cursor_u8(c), LINE_SYMBOL_BITS);
    } else if (code <= 0xEB) {
        pause_put(l, code == 0xEA ? STEP_STILL : STEP_HOLE);
    } else {
        odd_put(l, code, c);
    }
}

static void frame_check(const struct frames *all, const struct bmc_frame *f)
{
    const struct bmc_frame *before = all->count ? &all->all[all->count - 1] : NULL;

    MUST(f->length <= BMC_BYTES_MAX && f->bytes && f->which < (f->reset ? 2 : 5));
    MUST(f->kcodes_right == 4 || f->kcodes_right == 3);
    MUST(f->preamble_bits >= 8 && f->bits >= (unsigned)LINE_SET_BITS + f->preamble_bits);
    MUST(f->bits >= f->preamble_bits + LINE_SET_BITS + 10 * f->length);
    MUST(f->span_parts > 0 && f->cell_ticks > 0 && f->preamble_cell_ticks > 0 && f->jitter_ticks >= 0);
    MUST(!f->reset || (f->length == 0 && f->end == BMC_EOP));
    MUST(!f->crc_good || f->length >= 6);
    MUST(f->gap_parts >= -1 && f->drift_ppm_least <= f->drift_ppm_most);
    MUST(f->drift_runs == (f->bits - f->preamble_bits) / 32 || f->end != BMC_EOP);
    MUST(!before || f->start_tick > before->start_tick);
    MUST(f->start_tick >= all->settled);
}

static void frame_take(void *context, const struct bmc_frame *f)
{
    struct frames *all = context;
    uint32_t       sum = 0;

    frame_check(all, f);
    MUST(all->count < FRAMES_MOST);
    for (size_t k = 0; k < f->length; k++)
        sum = sum * 31 + f->bytes[k];
    all->sums[all->count] = sum;
    all->all[all->count++] = *f;
}

static void settled_check(struct frames *all)
{
    int64_t settled = bmc_settled(all->decoder);

    MUST(settled >= all->settled);
    all->settled = settled;
}

/* How many changes follow one another, `most` at most. */
static size_t piece_take(struct frames *all, struct line *l, size_t k, size_t most)
{
    size_t count = 0;

    while (count < most && k + count < l->count && l->steps[k + count].kind == STEP_CHANGE &&
           (count == 0 || l->steps[k + count].level != l->steps[k + count - 1].level)) {
        l->at[count] = l->steps[k + count].at;
        count++;
    }
    bmc_take(all->decoder, l->at, count, l->steps[k].level);
    return count;
}

/* pieces: of how many changes; 0: of all that there are. tell: how far the line is known is told before each piece. */
static void play(struct frames *all, struct line *l, const struct bmc_options *o, size_t pieces, bool tell)
{
    all->count = 0;
    all->settled = INT64_MIN;
    all->decoder = bmc_new(o, frame_take, all);
    MUST(all->decoder);
    for (size_t k = 0; k < l->count;) {
        const struct step *s = &l->steps[k];

        if (s->kind == STEP_CHANGE) {
            /* Where a change is missing it counts how far the line is known. */
            if (tell || (k > 0 && s->level == s[-1].level))
                bmc_reached(all->decoder, s->at);
            k += piece_take(all, l, k, pieces ? 1 + k * 7 % pieces : STEPS_MOST);
        } else {
            if (s->kind == STEP_STILL)
                bmc_reached(all->decoder, s->at);
            else
                bmc_broken(all->decoder, s->at);
            k++;
        }
        settled_check(all);
    }
    bmc_finish(all->decoder);
    bmc_free(all->decoder);
}

static void frames_compare(const struct frames *a, const struct frames *b)
{
    MUST(a->count == b->count);
    MUST(memcmp(a->sums, b->sums, a->count * sizeof *a->sums) == 0);
    for (size_t k = 0; k < a->count; k++) {
        struct bmc_frame f = b->all[k];

        f.bytes = a->all[k].bytes;
        MUST(memcmp(&f, &a->all[k], sizeof f) == 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    struct cursor      c = cursor_over(bytes, length);
    struct line       *l = calloc(1, sizeof *l);
    struct frames     *whole = calloc(1, sizeof *whole), *other = calloc(1, sizeof *other);
    struct bmc_options o = { .tick_ps = ticks_ps[cursor_u8(&c) % (sizeof ticks_ps / sizeof *ticks_ps)] };

    MUST(l && whole && other);
    o.glitch_ps = cursor_u8(&c) * UINT64_C(10000);
    l->half = (int64_t)(1e12 / 600e3 / o.tick_ps);
    l->half = l->half ? l->half : 1;
    while (c.left > 0 && l->count < STEPS_MOST)
        step_read(l, &c);
    play(whole, l, &o, 0, false);
    play(other, l, &o, 1, false);
    frames_compare(whole, other);
    play(other, l, &o, 1, true);
    frames_compare(whole, other);
    play(other, l, &o, 9, false);
    frames_compare(whole, other);
    play(other, l, &o, 300, true);
    frames_compare(whole, other);
    free(l);
    free(whole);
    free(other);
    return 0;
}
