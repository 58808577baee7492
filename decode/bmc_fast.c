/*
 * The same as bmc_step, many changes at a time, for cells without any doubt; whatever else comes is left to bmc_step. Which of the two
 * reads a cell makes no difference to what is read.
 */
#include "decode/bmc_inside.h"
#include "decode/line_code.h"

#include <string.h>

/* What changes from cell to cell in a packet's data, kept by itself so that it stays in registers. */
struct cells {
    const int64_t *at;  /* the next change that is not used yet */
    int64_t        base, border, cell, last_border_at;
    int64_t        skew[2]; /* to be added, by the level after the change */
    uint64_t       rising;  /* the level after the next change */
    uint64_t       jitter_sum, jitter_count;
    unsigned       jitter_shift;
};

static inline int64_t fine_of(const struct cells *c, size_t ahead)
{
    int64_t ticks = (int64_t)bmc_spacing(c->base, c->at[ahead]);

    return ticks * FINE_PER_TICK + c->skew[(c->rising ^ ahead) & 1] - c->border;
}

/* The next cell, if nothing is odd about it: neither its changes nor that after them. Three changes have to be there. */
static inline bool cell_clean(const struct cells *c, struct bmc_cell *cell)
{
    int64_t first = fine_of(c, 0), second = fine_of(c, 1), third = fine_of(c, 2), quarter = bmc_shifted(c->cell, 2);
    bool    one = first < c->cell - quarter;

    cell->one = one;
    cell->sure = true;
    cell->used = 1U + one;
    cell->mid = first;
    cell->end = one ? second : first;
    if (bmc_first_doubtful(first, c->cell))
        return false;
    return (first >= quarter) & (cell->end >= c->cell - quarter) & (cell->end < c->cell + quarter) &
           ((one ? third : second) >= bmc_cell_most(c->cell));
}

static inline void cell_follow(struct cells *c, const struct bmc_cell *cell)
{
    int64_t late = cell->end - c->cell, mid_late = cell->one ? cell->mid - bmc_shifted(c->cell, 1) : 0;
    int64_t off = bmc_shifted(late, c->jitter_shift), mid_off = bmc_shifted(mid_late, c->jitter_shift);

    c->jitter_sum += (uint64_t)(off * off + mid_off * mid_off);
    c->jitter_count += cell->used;
    c->last_border_at = c->border + cell->end;
    c->border += bmc_phase_step(c->cell, late + mid_late);
    c->cell += bmc_cell_step(late + mid_late);
    c->at += cell->used;
    c->rising ^= cell->used;
}

static struct cells cells_begin(const struct bmc *b, const int64_t *at)
{
    return (struct cells){ .at = at, .base = b->base, .border = b->border, .cell = b->cell, .last_border_at = b->last_border_at,
                           .skew = { b->skew, -b->skew }, .rising = bmc_rising(b, b->next), .jitter_sum = b->jitter_sum,
                           .jitter_count = b->jitter_count, .jitter_shift = b->jitter_shift };
}

/* The changes from..at-1 are used now; those that may still be asked for are kept. */
static void cells_end(struct bmc *b, const struct cells *c, const int64_t *from)
{
    size_t used = (size_t)(c->at - from), first = used > RING_EDGES ? used - RING_EDGES : 0;

    for (size_t k = first; k < used; k++)
        b->edges[(b->next + k) % RING_EDGES] = from[k];
    b->next += used;
    b->stored = b->stored > b->next ? b->stored : b->next;
    b->border = c->border;
    b->cell = c->cell;
    b->last_border_at = c->last_border_at;
    b->last_border = b->next - 1;
    b->jitter_sum = c->jitter_sum;
    b->jitter_count = c->jitter_count;
}

enum { SYMBOL_CHANGES_MOST = 2 * LINE_SYMBOL_BITS + 1 }; /* with the change that shows that the last cell is over */

/* The cells of a symbol as far as they are clean, and where they end. */
static inline unsigned symbol_read(struct cells *c, unsigned *symbol, int64_t *ends)
{
    struct bmc_cell cell;
    unsigned        bit = 0;

    *symbol = 0;
    for (; bit < LINE_SYMBOL_BITS && cell_clean(c, &cell); bit++) {
        *symbol |= (unsigned)cell.one << bit;
        cell_follow(c, &cell);
        ends[bit] = c->last_border_at;
    }
    return bit;
}

/* Whole symbols of data, as long as they are data and their cells clean. How many of the changes are used. */
static size_t data_follow(struct bmc *b, const int64_t *at, size_t count)
{
    struct cells now = cells_begin(b, at), sound = now;
    unsigned     symbol;
    int64_t      ends[LINE_SYMBOL_BITS];

    while ((size_t)(sound.at - at) + SYMBOL_CHANGES_MOST <= count && b->frame.length < BMC_BYTES_MAX) {
        if (symbol_read(&now, &symbol, ends) < LINE_SYMBOL_BITS || line_symbols[symbol].kind != LINE_SYMBOL_DATA)
            break;
        sound = now;
        bmc_nibble_take(b, line_symbols[symbol].nibble);
        b->bits += LINE_SYMBOL_BITS;
        b->run_bits += LINE_SYMBOL_BITS;
        if (b->run_bits >= RUN_BITS) {
            b->run_bits -= RUN_BITS;
            bmc_run_end(b, ends[LINE_SYMBOL_BITS - 1 - b->run_bits]);
        }
    }
    if (sound.at != at)
        cells_end(b, &sound, at);
    return (size_t)(sound.at - at);
}

/* One clean cell of whatever is under way. How many changes it has. */
static size_t cell_take(struct bmc *b, const int64_t *at)
{
    struct cells    c = cells_begin(b, at);
    struct bmc_cell cell;

    if (!cell_clean(&c, &cell))
        return 0;
    for (unsigned k = 0; k < cell.used; k++)
        b->edges[(b->next + k) % RING_EDGES] = at[k];
    b->next += cell.used;
    b->stored = b->stored > b->next ? b->stored : b->next;
    bmc_cell_end(b, b->next - 1, &cell);
    return cell.used;
}

size_t bmc_follow_fast(struct bmc *b, const int64_t *at, size_t count)
{
    size_t used = 0, more = 1;

    while (more && count - used >= 3 && b->state != BMC_SEARCH) {
        more = b->state == BMC_DATA && b->symbol_bits == 0 ? data_follow(b, at + used, count - used) : 0;
        if (more == 0)
            more = cell_take(b, at + used);
        used += more;
    }
    return used;
}
