/*
 * capture/base/cursor.h - the only way bytes from a wire, a file or a device are read.
 *
 * A cursor is a place in some bytes and how many are left. A read beyond the end moves nothing,
 * yields zero and sets short_read, which stays set: read everything, ask once.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct cursor {
    const uint8_t *at;
    size_t         left;
    bool           short_read;
};

static inline struct cursor cursor_over(const uint8_t *bytes, size_t length)
{
    return (struct cursor){ .at = bytes, .left = length, .short_read = false };
}

/* The one place where the pointer moves. NULL once the bytes have run out (or n is 0 of none). */
static inline const uint8_t *cursor_take(struct cursor *c, size_t n)
{
    if (c->short_read || n > c->left) {
        c->short_read = true;
        return NULL;
    }
    if (n == 0)
        return c->at; /* the cursor may stand on no bytes at all, that is on NULL */
    const uint8_t *p = c->at;

    c->at += n;
    c->left -= n;
    return p;
}

static inline uint8_t cursor_u8(struct cursor *c)
{
    const uint8_t *p = cursor_take(c, 1);

    return p ? p[0] : 0;
}

static inline uint16_t cursor_u16le(struct cursor *c)
{
    const uint8_t *p = cursor_take(c, 2);

    if (!p)
        return 0;
    return (uint16_t)((unsigned)p[0] | (unsigned)p[1] << 8);
}

static inline uint32_t cursor_u32le(struct cursor *c)
{
    const uint8_t *p = cursor_take(c, 4);

    return p ? (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24 : 0;
}

static inline uint64_t cursor_u64le(struct cursor *c)
{
    const uint8_t *p = cursor_take(c, 8);
    uint64_t       v = 0;

    for (unsigned k = 8; p && k > 0; k--)
        v = v << 8 | p[k - 1];
    return v;
}

static inline int32_t cursor_i32le(struct cursor *c)
{
    return (int32_t)cursor_u32le(c);
}

/* Eight bytes from byte k on of a block that cursor_take gave: the caller knows that they are there. For long rows of samples and text. */
static inline uint64_t cursor_block_u64le(const uint8_t *block, size_t k)
{
    const uint8_t *p = block + k;

    return (uint64_t)p[0] | (uint64_t)p[1] << 8 | (uint64_t)p[2] << 16 | (uint64_t)p[3] << 24 | (uint64_t)p[4] << 32 | (uint64_t)p[5] << 40 |
           (uint64_t)p[6] << 48 | (uint64_t)p[7] << 56;
}

/* Word k of a block of words that cursor_take gave: the caller has asked for at least k + 1 of them. For long rows of readings. */
static inline int32_t cursor_block_i32le(const uint8_t *block, size_t k)
{
    const uint8_t *p = block + 4 * k;

    return (int32_t)((uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24);
}
