/*
 * capture/unpack_inside.h - takes the packing off a stream of bytes: gzip, zstd, or none. Within capture only.
 */
#pragma once
#include "capture/base/cursor.h"

struct unpack;

/* read gives up to cap bytes, 0 at the end. NULL: no memory. */
struct unpack *unpack_new(size_t (*read)(void *context, uint8_t *out, size_t cap), void *context);
void unpack_free(struct unpack *u);

/* Reads the first bytes and settles the packing; how many there were. Call it once, before the rest. */
size_t unpack_begin(struct unpack *u);
/* True if there is no packing: the bytes come as they stand. */
bool unpack_plain(const struct unpack *u);
/* Bytes were read that have not been given out yet. */
bool unpack_waiting(const struct unpack *u);
/* Up to cap bytes, 0 at the end. */
size_t unpack_read(struct unpack *u, uint8_t *out, size_t cap);
/* Why the packed stream could not be read to its end, or NULL. */
const char *unpack_broken(const struct unpack *u);
