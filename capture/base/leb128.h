/*
 * capture/base/leb128.h - unsigned LEB128: seven bits a byte, least significant first, bit 7 set while more follow.
 */
#pragma once
#include "capture/base/cursor.h"

/* False: the bytes ran out inside the number, or it does not fit 64 bits. *value is then 0. */
static inline bool leb128_read(struct cursor *c, uint64_t *value)
{
    uint64_t number = 0;

    *value = 0;
    for (unsigned shift = 0; shift < 70; shift += 7) {
        uint8_t byte = cursor_u8(c);

        if (c->short_read || (shift == 63 && byte > 1))
            return false;
        number |= (uint64_t)(byte & 0x7F) << shift;
        if (!(byte & 0x80)) {
            *value = number;
            return true;
        }
    }
    return false;
}
