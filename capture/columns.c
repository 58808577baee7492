#include "capture/base/cursor.h"
#include "capture/record.h"

bool record_column_range(const struct record *r, unsigned column, int32_t *least, int32_t *greatest)
{
    unsigned      width = r->power.width;
    size_t        rows = r->power.rows;
    struct cursor c = cursor_over(r->power.cells, rows * width * 4);
    int32_t       low = INT32_MAX, high = INT32_MIN;

    cursor_take(&c, (size_t)column * 4);
    for (size_t k = 0; k < rows; k++) {
        int32_t v = cursor_i32le(&c);

        if (c.short_read)
            break;
        if (k + 1 < rows)
            cursor_take(&c, (size_t)(width - 1) * 4);
        if (v == RECORD_NO_READING)
            continue;
        low = v < low ? v : low;
        high = v > high ? v : high;
    }
    *least = low;
    *greatest = high;
    return low <= high;
}
