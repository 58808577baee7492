#include "capture/base/cursor.h"
#include "capture/record.h"

/* RECORD_NO_READING is the least of all numbers: one less than the next, counted from there, it is the greatest. */
static uint32_t rank(int32_t reading)
{
    return (uint32_t)reading - ((uint32_t)RECORD_NO_READING + 1);
}

bool record_column_range(const struct record *r, unsigned column, int32_t *least, int32_t *greatest)
{
    size_t         width = r->power.width, cells = r->power.rows * width;
    struct cursor  c = cursor_over(r->power.cells, cells * 4);
    const uint8_t *block = cursor_take(&c, cells * 4);
    uint32_t       low = UINT32_MAX;
    int32_t        high = RECORD_NO_READING;

    if (!block || column >= width)
        return false;
    for (size_t k = column; k < cells; k += width) {
        int32_t v = cursor_block_i32le(block, k);

        low = rank(v) < low ? rank(v) : low;
        high = v > high ? v : high;
    }
    *least = (int32_t)(low + ((uint32_t)RECORD_NO_READING + 1));
    *greatest = high;
    return high != RECORD_NO_READING;
}
