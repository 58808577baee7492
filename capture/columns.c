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

/*
 * Lanes that divide by every width: lane l holds column l % width, whatever the width, and the compiler takes several at a time.
 * Sums of the halves stay below 32 bits over 65,535 rows.
 */
enum { LANES = 12, HALF_BITS = 16 };

struct lanes { int32_t low[LANES], high[LANES], upper[LANES]; uint32_t lower[LANES]; };

static void lanes_start(struct lanes *n)
{
    for (unsigned l = 0; l < LANES; l++) {
        n->low[l] = INT32_MAX;
        n->high[l] = RECORD_NO_READING;
        n->upper[l] = 0;
        n->lower[l] = 0;
    }
}

static void lanes_take(struct lanes *n, const uint8_t *block, size_t cells)
{
    for (size_t k = 0; k + LANES <= cells; k += LANES)
        for (unsigned l = 0; l < LANES; l++) {
            int32_t v = cursor_block_i32le(block, k + l);

            n->low[l] = v < n->low[l] ? v : n->low[l];
            n->high[l] = v > n->high[l] ? v : n->high[l];
            n->lower[l] += (uint32_t)v & UINT16_MAX;
            n->upper[l] += v >> HALF_BITS;
        }
}

static void cell_take(struct column_sum *s, int32_t v)
{
    if (v == RECORD_NO_READING)
        return;
    s->least = v < s->least ? v : s->least;
    s->greatest = v > s->greatest ? v : s->greatest;
    s->sum += v;
    s->count++;
}

/* False: a reading is missing among them. */
static bool lanes_tell(const struct lanes *n, size_t width, size_t rounds, struct column_sum *out)
{
    for (unsigned l = 0; l < LANES; l++)
        if (n->low[l] == RECORD_NO_READING)
            return false;
    for (unsigned l = 0; l < LANES && rounds; l++) {
        struct column_sum *s = &out[l % width];

        s->least = n->low[l] < s->least ? n->low[l] : s->least;
        s->greatest = n->high[l] > s->greatest ? n->high[l] : s->greatest;
        s->sum += (int64_t)n->upper[l] * (1 << HALF_BITS) + n->lower[l];
        s->count += (uint32_t)rounds;
    }
    return true;
}

void record_columns(const struct record *r, unsigned from, unsigned to, struct column_sum out[RECORD_COLUMNS_MAX])
{
    size_t         width = r->power.width, last = to < r->power.rows ? to : r->power.rows;
    struct cursor  c = cursor_over(r->power.cells, (size_t)r->power.rows * width * 4);
    const uint8_t *block = cursor_take(&c, (size_t)r->power.rows * width * 4);
    struct lanes   n;

    for (unsigned k = 0; k < RECORD_COLUMNS_MAX; k++)
        out[k] = (struct column_sum){ .least = INT32_MAX, .greatest = RECORD_NO_READING };
    if (!block || from >= last || width == 0 || width > RECORD_COLUMNS_MAX)
        return;
    size_t cells = (last - from) * width, rounds = cells / LANES, taken = rounds * LANES;

    block += from * width * 4;
    lanes_start(&n);
    lanes_take(&n, block, cells);
    if (!lanes_tell(&n, width, rounds, out))
        taken = 0; /* each by itself */
    for (size_t k = taken; k < cells; k++)
        cell_take(&out[k % width], cursor_block_i32le(block, k));
}
