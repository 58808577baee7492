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

/* Lanes that divide by every width: lane l holds column l % width, whatever the width, and the compiler takes several at a time. */
enum { LANES = 12, HALF_BITS = 16 };

struct lane_extremes { int32_t low[LANES], high[LANES]; };

static void extremes_start(struct lane_extremes *n)
{
    for (unsigned l = 0; l < LANES; l++) {
        n->low[l] = INT32_MAX;
        n->high[l] = RECORD_NO_READING;
    }
}

static inline void extremes_take(struct lane_extremes *n, const uint8_t *block)
{
    for (unsigned l = 0; l < LANES; l++) {
        int32_t v = cursor_block_i32le(block, l);

        n->low[l] = v < n->low[l] ? v : n->low[l];
        n->high[l] = v > n->high[l] ? v : n->high[l];
    }
}

static inline void range_take(struct record_range *r, int32_t v)
{
    r->least = v < r->least ? v : r->least;
    r->greatest = v > r->greatest ? v : r->greatest;
}

/* Of all columns at once. False: a reading is missing, and each column is to be looked at by itself. */
static bool ranges_plain(const uint8_t *block, size_t cells, size_t width, struct record_range out[RECORD_COLUMNS_MAX])
{
    struct lane_extremes n;
    size_t               taken = cells / LANES * LANES, column = 0;

    for (size_t c = 0; c < width; c++)
        out[c] = (struct record_range){ .least = INT32_MAX, .greatest = RECORD_NO_READING, .any = true, .all = true };
    if (taken > 0) {
        extremes_start(&n);
        for (size_t k = 0; k < taken; k += LANES)
            extremes_take(&n, block + k * CELL_BYTES);
        for (size_t l = 0; l < LANES; l++, column = column + 1 < width ? column + 1 : 0) {
            range_take(&out[column], n.low[l]);
            range_take(&out[column], n.high[l]);
        }
    }
    for (size_t k = taken; k < cells; k++, column = column + 1 < width ? column + 1 : 0)
        range_take(&out[column], cursor_block_i32le(block, k));
    for (size_t c = 0; c < width; c++)
        if (out[c].least == RECORD_NO_READING)
            return false;
    return cells > 0;
}

static bool column_whole(const uint8_t *block, size_t cells, size_t column, size_t width)
{
    for (size_t k = column; k < cells; k += width)
        if (cursor_block_i32le(block, k) == RECORD_NO_READING)
            return false;
    return true;
}

void record_power_ranges(const struct record *r, struct record_range *volts, struct record_range *amps)
{
    size_t              cells;
    const uint8_t      *block = block_of(r, &cells);
    struct record_range by_column[RECORD_COLUMNS_MAX];
    size_t              width = r->power.width, next = 0;

    *volts = *amps = range_of(nothing);
    if (!block || width == 0 || width > RECORD_COLUMNS_MAX)
        return;
    if (!ranges_plain(block, cells, width, by_column))
        for (size_t column = 0; column < width; column++) {
            by_column[column] = range_of(column_extremes(block, cells, column, width));
            by_column[column].all = column_whole(block, cells, column, width);
        }
    if (r->power.columns & RECORD_VBUS)
        *volts = by_column[next++];
    if (r->power.columns & RECORD_IBUS)
        *amps = by_column[next];
}

/* Sums of the halves stay below 32 bits over 65,535 rows. */
struct lanes { struct lane_extremes at; int32_t upper[LANES]; uint32_t lower[LANES]; };

static void lanes_start(struct lanes *n)
{
    extremes_start(&n->at);
    for (unsigned l = 0; l < LANES; l++) {
        n->upper[l] = 0;
        n->lower[l] = 0;
    }
}

static void lanes_take(struct lanes *n, const uint8_t *block, size_t cells)
{
    for (size_t k = 0; k + LANES <= cells; k += LANES)
        for (unsigned l = 0; l < LANES; l++) {
            int32_t v = cursor_block_i32le(block, k + l);

            n->at.low[l] = v < n->at.low[l] ? v : n->at.low[l];
            n->at.high[l] = v > n->at.high[l] ? v : n->at.high[l];
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
        if (n->at.low[l] == RECORD_NO_READING)
            return false;
    for (size_t l = 0, column = 0; l < LANES; l++, column = column + 1 < width ? column + 1 : 0) {
        struct column_sum *s = &out[column];

        s->least = n->at.low[l] < s->least ? n->at.low[l] : s->least;
        s->greatest = n->at.high[l] > s->greatest ? n->at.high[l] : s->greatest;
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
    if (rounds > 0) {
        lanes_start(&n);
        lanes_take(&n, block, cells);
        if (!lanes_tell(&n, width, rounds, out))
            taken = 0; /* each by itself */
    }
    for (size_t k = taken, column = 0; k < cells; k++, column = column + 1 < width ? column + 1 : 0) /* LANES divide by width */
        cell_take(&out[column], cursor_block_i32le(block, k));
}

/* Two columns in one pass: four sums in registers. Lanes as above would go through memory for each few cells. */
static void sum_pairs(const uint8_t *block, size_t from, size_t last, int64_t out[RECORD_COLUMNS_MAX])
{
    int64_t even[2] = { 0, 0 }, odd[2] = { 0, 0 };
    size_t  k = 2 * from, end = 2 * last;

    for (; k + 4 <= end; k += 4) {
        even[0] += cursor_block_i32le(block, k);
        odd[0] += cursor_block_i32le(block, k + 1);
        even[1] += cursor_block_i32le(block, k + 2);
        odd[1] += cursor_block_i32le(block, k + 3);
    }
    out[0] = even[0] + even[1];
    out[1] = odd[0] + odd[1];
    for (; k < end; k++)
        out[k % 2] += cursor_block_i32le(block, k);
}

void record_sums(const struct record *r, unsigned from, unsigned to, int64_t out[RECORD_COLUMNS_MAX])
{
    size_t         cells, width = r->power.width;
    const uint8_t *block = block_of(r, &cells);
    size_t         last = to < r->power.rows ? to : r->power.rows;

    out[0] = out[1] = out[2] = 0;
    if (!block)
        return;
    if (width == 2) { /* the usual two columns */
        sum_pairs(block, from, last, out);
        return;
    }
    for (size_t column = 0; column < width && column < RECORD_COLUMNS_MAX; column++)
        for (size_t row = from; row < last; row++)
            out[column] += cursor_block_i32le(block, row * width + column);
}
