#include "capture/base/cursor.h"
#include "capture/record.h"

enum { CELL_BYTES = 4 };

/* RECORD_NO_READING is the least of all numbers: one less than the next, counted from there, it is the greatest. */
static uint32_t rank(int32_t reading)
{
    return (uint32_t)reading - ((uint32_t)RECORD_NO_READING + 1);
}

/* Least by rank, and greatest, of the cells seen so far. */
struct extremes { uint32_t low; int32_t high; };

static inline void take(struct extremes *x, int32_t v)
{
    x->low = rank(v) < x->low ? rank(v) : x->low;
    x->high = v > x->high ? v : x->high;
}

static const struct extremes nothing = { .low = UINT32_MAX, .high = RECORD_NO_READING };

static struct extremes column_extremes(const uint8_t *block, size_t cells, size_t column, size_t width)
{
    struct extremes x = nothing;

    for (size_t k = column; k < cells; k += width)
        take(&x, cursor_block_i32le(block, k));
    return x;
}

static struct record_range range_of(struct extremes x)
{
    return (struct record_range){ .least = (int32_t)(x.low + ((uint32_t)RECORD_NO_READING + 1)), .greatest = x.high,
                                  .any = x.high != RECORD_NO_READING };
}

/* The cells of a POWER record; NULL: it has not as many as it says. */
static const uint8_t *block_of(const struct record *r, size_t *cells)
{
    *cells = (size_t)r->power.rows * r->power.width;

    struct cursor c = cursor_over(r->power.cells, *cells * CELL_BYTES);

    return cursor_take(&c, *cells * CELL_BYTES);
}

bool record_column_range(const struct record *r, unsigned column, int32_t *least, int32_t *greatest)
{
    size_t         cells;
    const uint8_t *block = block_of(r, &cells);

    if (!block || column >= r->power.width)
        return false;
    struct record_range range = range_of(column_extremes(block, cells, column, r->power.width));

    *least = range.least;
    *greatest = range.greatest;
    return range.any;
}

void record_power_ranges(const struct record *r, struct record_range *volts, struct record_range *amps)
{
    size_t          cells;
    const uint8_t  *block = block_of(r, &cells);
    struct extremes v = nothing, a = nothing;

    *volts = *amps = range_of(nothing);
    if (!block)
        return;
    if (r->power.columns != (RECORD_VBUS | RECORD_IBUS)) {
        if (r->power.columns & RECORD_VBUS)
            *volts = range_of(column_extremes(block, cells, 0, r->power.width));
        if (r->power.columns & RECORD_IBUS)
            *amps = range_of(column_extremes(block, cells, r->power.columns & RECORD_VBUS ? 1 : 0, r->power.width));
        return;
    }
    for (size_t k = 0; k < cells; k += 2) { /* the usual two columns, in one pass */
        take(&v, cursor_block_i32le(block, k));
        take(&a, cursor_block_i32le(block, k + 1));
    }
    *volts = range_of(v);
    *amps = range_of(a);
}
