/* Bits to frames: the ordered set, symbols and bytes, and the numbers that are measured on the way. */
#include "capture/base/cursor.h"
#include "decode/bmc_inside.h"
#include "decode/line_code.h"

#include <math.h>
#include <string.h>
#include <zlib.h>

/*
 * How much of a preamble has to be there. A receiver may lose part of it; how much it may be is a choice: chance makes 8 alternating bits
 * and four K-codes once in 2^25 bits, 16 and three of four as seldom. The first two equal bits stand where an ordered set begins, or up to
 * seven bits later where the first K-code is wrong and goes on alternating, or one earlier.
 */
enum { PREAMBLE_LEAST = 8, PREAMBLE_LEAST_DOUBTFUL = 16, BREAK_LEAST = LINE_SET_BITS - 7, BREAK_MOST = LINE_SET_BITS };

/* So many alternating bits inside a packet that ends badly are the preamble of another; fewer are enough where they go on at its end. */
enum { COLLISION_WINDOWS = 15, COLLISION_WINDOWS_LAST = 5 }; /* 4 bits, and 2 more each */

enum { CRC_BYTES = 4, HEADER_BYTES = 2 };

/* The bit before the one that begins with change `from`, at `border`. */
static bool bit_before(const struct bmc *b, uint64_t from, int64_t border, struct bmc_cell *cell)
{
    int64_t  at[CELL_CHANGES_MOST], most = bmc_cell_most(b->cell);
    unsigned count = 0;

    for (uint64_t k = from; k > b->floor && k > bmc_kept(b) && count < CELL_CHANGES_MOST; k--) {
        if (bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far || border - bmc_fine(b, k - 1) >= most)
            break;
        at[count++] = border - bmc_fine(b, k - 1);
    }
    return bmc_cell_read(at, count, b->cell, cell);
}

/* Still for 20 us before change k, and known? */
static bool still_before(const struct bmc *b, uint64_t k)
{
    int64_t at = bmc_edge(b, k);

    if (at < b->known_from || bmc_spacing(b->known_from, at) < b->still)
        return false;
    return k == 0 || k <= bmc_kept(b) || bmc_edge(b, k - 1) < b->known_from ||
           bmc_spacing(bmc_edge(b, k - 1), at) >= b->still;
}

/*
 * Back from bit 8 after the lock (or 4), when the clock is known: the lock itself may have had a change in it that is none of the preamble's.
 * What comes before a preamble may look like bits of it: where it begins, two bits have to stand well in their places.
 */
void bmc_preamble_extend(struct bmc *b)
{
    unsigned        from = b->bits >= LINE_SET_BITS + 2 * LOCK_BITS ? 2 * LOCK_BITS : LOCK_BITS, bits = 0;
    uint64_t        k = b->cell_ends[from], start = k;
    int64_t         border = bmc_fine(b, k);
    bool            one = true, sure = true, sure_before = true; /* bit 8 is a 1 */
    struct bmc_cell cell;

    b->extra_bits = -(int64_t)from;
    while ((sure || sure_before) && bit_before(b, k, border, &cell) && cell.one == one) {
        k -= cell.used;
        border -= b->cell;
        border += (bmc_fine(b, k) - border) / 4;
        one = !one;
        bits++;
        sure_before = sure;
        sure = bmc_cell_sure(&cell, b->cell);
        if (sure && sure_before) {
            start = k;
            b->extra_bits = (int64_t)bits - from;
        }
    }
    b->extended = true;
    b->floor = start;
    b->start_tick = bmc_edge(b, start);
    b->start_rising = bmc_rising(b, start);
    b->start_whole = still_before(b, start);
}

static int64_t gap_before(const struct bmc *b)
{
    uint64_t ticks = bmc_spacing(b->end_start_tick, b->start_tick);
    int64_t  gap;

    if (!b->has_end || !b->end_good)
        return -1;
    if (ticks > (uint64_t)INT64_MAX / BMC_PARTS)
        return INT64_MAX;
    gap = (int64_t)ticks * BMC_PARTS - b->end_span_parts;
    return gap > 0 ? gap : 0;
}

static void frame_begin(struct bmc *b, uint64_t k, const struct line_set *set, unsigned right)
{
    uint64_t last = b->bits - LINE_SET_BITS, preamble = (uint64_t)((int64_t)last + b->extra_bits);
    uint64_t mean = last < RUN_BITS ? last : RUN_BITS;

    memset(&b->frame, 0, sizeof b->frame);
    b->frame.reset = set->reset;
    b->frame.which = set->number;
    for (unsigned j = 0; j < LINE_SET_SYMBOLS; j++)
        b->frame.symbols[j] = b->history >> (32 - LINE_SET_BITS + j * LINE_SYMBOL_BITS) & (LINE_SYMBOLS - 1);
    b->frame.kcodes_right = (uint8_t)right;
    b->frame.kcode_unsure = b->unsure >> (32 - LINE_SET_BITS) != 0;
    b->frame.preamble_bits = preamble < UINT16_MAX ? (uint16_t)preamble : UINT16_MAX;
    b->frame.preamble_begins_0 = b->extra_bits % 2 == 0; /* as the lock does */
    b->frame.preamble_whole = b->start_whole;
    b->frame.start_tick = b->start_tick;
    b->frame.gap_parts = gap_before(b);
    b->run_from = bmc_fine(b, b->cell_ends[last % RING_CELLS]);
    b->frame.preamble_cell_ticks =
        (double)(b->run_from - bmc_fine(b, b->cell_ends[(last - mean) % RING_CELLS])) / (double)mean / FINE_PER_TICK;
    b->run_bits = LINE_SET_BITS;
    b->set_from = b->cell_ends[last % RING_CELLS];
    b->data_from = k;
    b->data_bits = b->bits;
    b->symbol = b->symbol_bits = 0;
    b->low_nibble = true;
    b->state = BMC_DATA;
}

/* Are the last 20 bits an ordered set? A set with a wrong K-code has to follow a 1, as preambles end: five bits early some look right too. */
static bool set_begins(struct bmc *b, uint64_t k)
{
    const struct line_set *set;
    unsigned               right = 0;
    int64_t                preamble;

    if (b->bits < LINE_SET_BITS + LOCK_BITS)
        return false;
    set = line_set_find(b->history >> (32 - LINE_SET_BITS), &right);
    if (!set || (right < LINE_SET_SYMBOLS && !(b->history >> (31 - LINE_SET_BITS) & 1)))
        return false;
    if (!b->extended)
        bmc_preamble_extend(b);
    preamble = (int64_t)b->bits - LINE_SET_BITS + b->extra_bits;
    if (preamble < (right == LINE_SET_SYMBOLS ? PREAMBLE_LEAST : PREAMBLE_LEAST_DOUBTFUL))
        return false;
    frame_begin(b, k, set, right);
    if (set->reset)
        bmc_frame_end(b, BMC_EOP);
    return true;
}

void bmc_set_bit(struct bmc *b, uint64_t k)
{
    b->since_break++;
    if (b->since_break >= BREAK_LEAST && set_begins(b, k))
        return;
    if (b->since_break >= BREAK_MOST)
        b->state = BMC_SEARCH;
}

static void symbol_take(struct bmc *b, unsigned symbol)
{
    const struct line_symbol *s = &line_symbols[symbol];

    if (s->kind == LINE_SYMBOL_DATA && b->frame.length < BMC_BYTES_MAX) {
        bmc_nibble_take(b, s->nibble);
        return;
    }
    if (s->kind == LINE_SYMBOL_DATA) {
        bmc_frame_end(b, BMC_TOO_LONG);
        return;
    }
    b->frame.reserved_symbol = s->kind == LINE_SYMBOL_RESERVED;
    bmc_frame_end(b, symbol == K_EOP ? BMC_EOP : BMC_BAD_SYMBOL);
}

void bmc_run_end(struct bmc *b, int64_t at)
{
    double cell = (double)(at - b->run_from) / RUN_BITS / FINE_PER_TICK;
    double ppm = (b->frame.preamble_cell_ticks / cell - 1) * 1e6;

    if (b->frame.drift_runs == 0 || ppm < b->frame.drift_ppm_least)
        b->frame.drift_ppm_least = ppm;
    if (b->frame.drift_runs == 0 || ppm > b->frame.drift_ppm_most)
        b->frame.drift_ppm_most = ppm;
    b->frame.drift_runs++;
    b->run_from = at;
}

void bmc_data_bit(struct bmc *b, bool one)
{
    unsigned symbol = b->symbol | (unsigned)one << b->symbol_bits;

    if (++b->run_bits == RUN_BITS) {
        b->run_bits = 0;
        bmc_run_end(b, b->last_border_at);
    }
    if (++b->symbol_bits < LINE_SYMBOL_BITS) {
        b->symbol = symbol;
        return;
    }
    b->symbol = b->symbol_bits = 0;
    symbol_take(b, symbol);
}

/*
 * Where a packet was broken into by another, that one's alternating preamble was read as data for a while (the phase of the clock went
 * along). True: the change with which it begins, if it is still kept and comes before `until`.
 */
static bool collision_find(const struct bmc *b, uint64_t until, uint64_t *at)
{
    uint64_t from = (b->set_from > bmc_kept(b) ? b->set_from : bmc_kept(b)) + LOCK_SPACINGS;
    unsigned fitting[3] = { 0 }; /* windows one after the other, each two bits (three changes) on */

    for (uint64_t k = from; k < until; k++) {
        unsigned least = k + 3 >= until ? COLLISION_WINDOWS_LAST : COLLISION_WINDOWS;

        fitting[k % 3] = bmc_window_fits(b, k) ? fitting[k % 3] + 1 : 0;
        if (fitting[k % 3] >= least) {
            *at = k - LOCK_SPACINGS - 3 * (fitting[k % 3] - 1);
            return true;
        }
    }
    return false;
}

/* The frame ends where the other began, to the next border of its own cells. */
static void frame_clip(struct bmc *b, uint64_t at)
{
    uint64_t body = b->bits - b->data_bits, cells = (uint64_t)((b->last_border_at - bmc_fine(b, at)) / b->cell) + 1, whole;

    cells = cells < body ? cells : body;
    b->bits -= cells;
    b->last_border_at -= (int64_t)cells * b->cell;
    whole = (body - cells) / (2 * LINE_SYMBOL_BITS);
    if (b->frame.length > whole)
        b->frame.length = (size_t)whole;
    b->frame.reserved_symbol = false;
}

static bool crc_right(const uint8_t *bytes, size_t length)
{
    struct cursor c;

    if (length < HEADER_BYTES + CRC_BYTES)
        return false;
    c = cursor_over(bytes, length);
    (void)cursor_take(&c, length - CRC_BYTES);
    return cursor_u32le(&c) == (uint32_t)crc32_z(0, bytes, length - CRC_BYTES);
}

static void frame_measure(struct bmc *b)
{
    int64_t start = (int64_t)bmc_spacing(b->base, b->start_tick) * FINE_PER_TICK + (b->start_rising ? -b->skew : b->skew);
    int64_t span = b->last_border_at - start, bits = (int64_t)b->bits + b->extra_bits;

    b->frame.bits = (uint32_t)(bits < UINT32_MAX ? bits : UINT32_MAX);
    b->frame.span_parts = (span + FINE_PER_PART / 2) / FINE_PER_PART;
    b->frame.cell_ticks = (double)span / FINE_PER_TICK / (double)bits;
    if (b->jitter_count)
        b->frame.jitter_ticks = ldexp(sqrt((double)b->jitter_sum / (double)b->jitter_count), (int)b->jitter_shift - FINE_BITS);
    b->frame.bytes = b->bytes;
    b->frame.crc_good = crc_right(b->bytes, b->frame.length);
}

void bmc_frame_end(struct bmc *b, enum bmc_end why)
{
    bool     sound = why == BMC_EOP && (b->frame.reset || crc_right(b->bytes, b->frame.length));
    uint64_t other = b->last_border;
    bool     by_symbol = why == BMC_EOP || why == BMC_BAD_SYMBOL || why == BMC_TOO_LONG;
    bool     broken_into = !sound && collision_find(b, by_symbol ? b->next : b->stored, &other);

    b->frame.end = broken_into ? BMC_BAD_CELL : why;
    b->floor = other;
    b->state = BMC_SEARCH;
    if (broken_into) {
        b->next = other;
        if (other < b->data_from)
            return; /* that was no ordered set, but the other's preamble */
        frame_clip(b, other);
    }
    frame_measure(b);
    b->has_end = true;
    b->end_good = b->frame.end == BMC_EOP;
    b->end_start_tick = b->start_tick;
    b->end_span_parts = b->frame.span_parts;
    b->found(b->context, &b->frame);
}

/* The cell that is under way ends by the clock. Four bits of data may look like those of EOP: it was that if the CRC is right. */
static void cell_assume(struct bmc *b)
{
    b->last_border++;
    b->last_border_at = b->border + b->cell;
    b->bits++;
}

bool bmc_frame_completes(struct bmc *b, bool one)
{
    if (b->state == BMC_DATA) {
        if (b->symbol_bits != LINE_SYMBOL_BITS - 1 || (b->symbol | (unsigned)one << b->symbol_bits) != K_EOP ||
            !crc_right(b->bytes, b->frame.length))
            return false;
        cell_assume(b);
        bmc_data_bit(b, one);
        return true;
    }
    if (b->state != BMC_SET)
        return false;
    cell_assume(b);
    b->since_break++;
    b->history = b->history >> 1 | (uint32_t)one << 31;
    b->unsure >>= 1;
    b->cell_ends[b->bits % RING_CELLS] = b->last_border;
    return b->since_break >= BREAK_LEAST && set_begins(b, b->last_border) && b->frame.reset;
}
