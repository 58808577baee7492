#include "capture/unpack_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>
#include <zstd.h>

enum { INPUT_BYTES = 64 * 1024, MAGIC_BYTES = 4 };
enum { GZIP_WINDOW = 15 + 16 }; /* zlib.h, inflateInit2: largest window, gzip wrapping only */

enum packing { PACKING_NONE, PACKING_GZIP, PACKING_ZSTD };

struct unpack {
    size_t (*read)(void *context, uint8_t *out, size_t cap);
    void         *context;
    enum packing  packing;
    uint8_t       input[INPUT_BYTES];
    struct cursor waiting; /* of the input */
    z_stream      gzip;
    ZSTD_DStream *zstd;
    bool          inside; /* a member or frame has begun and not ended */
    bool          filled; /* the last output was filled to the brim: more may come without more input */
    bool          broken;
    char          words[100];
};

struct unpack *unpack_new(size_t (*read)(void *context, uint8_t *out, size_t cap), void *context)
{
    struct unpack *u = calloc(1, sizeof *u);

    if (u) {
        u->read = read;
        u->context = context;
        u->waiting = cursor_over(u->input, 0);
    }
    return u;
}

void unpack_free(struct unpack *u)
{
    if (!u)
        return;
    if (u->packing == PACKING_GZIP)
        inflateEnd(&u->gzip);
    ZSTD_freeDStream(u->zstd);
    free(u);
}

static size_t broken_set(struct unpack *u, const char *words)
{
    u->broken = true;
    snprintf(u->words, sizeof u->words, "%s", words ? words : "unknown");
    return 0;
}

const char *unpack_broken(const struct unpack *u)
{
    return u->broken ? u->words : NULL;
}

static bool input_fill(struct unpack *u)
{
    u->waiting = cursor_over(u->input, u->read(u->context, u->input, sizeof u->input));
    return u->waiting.left > 0;
}

/* RFC 1952, 2.3.1 (gzip ID1, ID2); RFC 8878, 3.1.1 and 3.1.2 (zstd frame and skippable frame). */
static enum packing packing_of(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    uint16_t      low = cursor_u16le(&c), high = cursor_u16le(&c);

    if (length >= 2 && low == 0x8B1F)
        return PACKING_GZIP;
    if (c.short_read)
        return PACKING_NONE;
    if ((low == 0xB528 && high == 0xFD2F) || ((low & 0xFFF0) == 0x2A50 && high == 0x184D))
        return PACKING_ZSTD;
    return PACKING_NONE;
}

size_t unpack_begin(struct unpack *u)
{
    size_t n = 0;

    while (n < MAGIC_BYTES) {
        size_t more = u->read(u->context, u->input + n, sizeof u->input - n);

        if (more == 0)
            break;
        n += more;
    }
    u->waiting = cursor_over(u->input, n);
    u->packing = packing_of(u->input, n);
    if (u->packing == PACKING_GZIP && inflateInit2(&u->gzip, GZIP_WINDOW) != Z_OK) {
        u->packing = PACKING_NONE;
        broken_set(u, "out of memory");
    }
    if (u->packing == PACKING_ZSTD) {
        u->zstd = ZSTD_createDStream();
        if (!u->zstd)
            broken_set(u, "out of memory");
    }
    return n;
}

static size_t plain_read(struct unpack *u, uint8_t *out, size_t cap)
{
    size_t n = u->waiting.left < cap ? u->waiting.left : cap;

    if (n == 0)
        return u->read(u->context, out, cap);
    memcpy(out, cursor_take(&u->waiting, n), n);
    return n;
}

/* Between members: zeros may pad to the end (RFC 1952 says nothing, tapes do it); anything else begins a member. */
static bool gzip_member_begin(struct unpack *u)
{
    struct cursor ahead = u->waiting;

    if (cursor_u8(&ahead) == 0) {
        u->waiting = ahead;
        return false;
    }
    inflateReset(&u->gzip);
    u->inside = true;
    return true;
}

static void gzip_step(struct unpack *u)
{
    size_t before = u->waiting.left;

    u->gzip.next_in = (z_const Bytef *)u->waiting.at;
    u->gzip.avail_in = (uInt)before;
    int result = inflate(&u->gzip, Z_NO_FLUSH);

    cursor_take(&u->waiting, before - u->gzip.avail_in);
    if (result == Z_STREAM_END)
        u->inside = false;
    else if (result != Z_OK && result != Z_BUF_ERROR)
        broken_set(u, u->gzip.msg);
}

static size_t gzip_read(struct unpack *u, uint8_t *out, size_t cap)
{
    u->gzip.next_out = out;
    u->gzip.avail_out = (uInt)cap;
    while (u->gzip.avail_out == cap && !u->broken) {
        bool filled = u->filled && u->inside;

        u->filled = false;
        if (u->waiting.left == 0 && !filled && !input_fill(u)) {
            if (u->inside)
                broken_set(u, "the gzip stream ends early");
            break;
        }
        if (u->inside || gzip_member_begin(u))
            gzip_step(u);
    }
    u->filled = u->gzip.avail_out == 0;
    return cap - u->gzip.avail_out;
}

static void zstd_step(struct unpack *u, ZSTD_outBuffer *to)
{
    ZSTD_inBuffer from = { u->waiting.at, u->waiting.left, 0 };
    size_t        result = ZSTD_decompressStream(u->zstd, to, &from);

    cursor_take(&u->waiting, from.pos);
    if (ZSTD_isError(result))
        broken_set(u, ZSTD_getErrorName(result));
    else
        u->inside = result != 0;
}

static size_t zstd_read(struct unpack *u, uint8_t *out, size_t cap)
{
    ZSTD_outBuffer to = { out, cap, 0 };

    while (to.pos == 0 && !u->broken) {
        bool filled = u->filled && u->inside;

        u->filled = false;
        if (u->waiting.left == 0 && !filled && !input_fill(u)) {
            if (u->inside)
                broken_set(u, "the zstd stream ends early");
            break;
        }
        zstd_step(u, &to);
    }
    u->filled = to.pos == cap;
    return to.pos;
}

bool unpack_plain(const struct unpack *u)
{
    return u->packing == PACKING_NONE;
}

bool unpack_waiting(const struct unpack *u)
{
    return u->waiting.left > 0;
}

size_t unpack_read(struct unpack *u, uint8_t *out, size_t cap)
{
    if (cap > (1u << 30))
        cap = 1u << 30; /* zlib counts in unsigned int */
    if (u->broken || cap == 0)
        return 0;
    switch (u->packing) {
    case PACKING_NONE: return plain_read(u, out, cap);
    case PACKING_GZIP: return gzip_read(u, out, cap);
    case PACKING_ZSTD: return zstd_read(u, out, cap);
    }
    return 0;
}
