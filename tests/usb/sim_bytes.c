/* Records as the simulated sniffers send them, byte by byte. */
#include "tests/usb/sim_bytes.h"

#include <string.h>

size_t put(uint8_t *at, uint64_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        at[k] = (uint8_t)(value >> 8 * k);
    return bytes;
}

/* CC_EDGES of five half bits at 300 kbit/s, a tick being a nanosecond: LEB128. */
size_t edges_put(uint8_t *at)
{
    size_t n = put(at, 1000, 4) + put(at + 4, 1, 4); /* tick_ps, level */

    for (unsigned k = 0; k < 5; k++)
        n += put(at + n, 0x83 | 0x0D << 8, 2); /* 1667 */
    return n;
}

size_t mark_put(uint8_t *at, long number)
{
    return put(at, 3, 1) + put(at + 1, 255, 1) + put(at + 2, 0, 2) + put(at + 4, (uint64_t)number, 4) + put(at + 8, 0x21212121, 4);
}

size_t talk_packet(uint8_t *at)
{
    static const uint8_t goodcrc[] = { 0xa1, 0x01, 0xc1, 0xaf, 0xc2, 0x81 };
    size_t               n = put(at, 0, 4);

    memcpy(at + n, goodcrc, sizeof goodcrc);
    return n + sizeof goodcrc;
}

size_t talk_power(uint8_t *at, long seed)
{
    size_t n = put(at, 100000, 4) + put(at + 4, TALK_ROWS, 2) + put(at + 6, 3, 2);

    for (long k = 0; k < TALK_ROWS; k++)
        n += put(at + n, (uint64_t)(9000000 + (seed + k) % 977), 4) + put(at + n + 4, (uint64_t)(1500000 + (seed + k) % 311), 4);
    return n;
}
