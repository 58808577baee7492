/*
 * capture/byte_source_inside.h - the bytes of a file, a pipe or memory, unpacked if they are gzip (any number of members) or zstd
 * (any number of frames). Within capture only.
 *
 * Reading asks for no more input than it takes to give something: a pipe is read as far as it has come.
 */
#pragma once
#include "capture/base/cursor.h"
#include "capture/base/fault.h"

#include <stddef.h>
#include <stdio.h>

struct byte_source;

/* path "-" is standard input. NULL with FAULT_OPEN, FAULT_READ or FAULT_NO_MEMORY. */
struct byte_source *byte_source_open(const char *path, struct fault *f);
/* The bytes must last as long as the source. */
struct byte_source *byte_source_over(const uint8_t *bytes, size_t length, struct fault *f);
void byte_source_close(struct byte_source *s);

/*
 * Will reading give something, or the end, within so many milliseconds? True without waiting where that cannot be told: memory, packed
 * bytes, a stream that reads ahead by itself.
 */
bool byte_source_ready(const struct byte_source *s, int timeout_ms);
/* Up to cap bytes, 0 at the end. */
size_t byte_source_read(struct byte_source *s, uint8_t *out, size_t cap);
/* What comes next, n bytes (at most BYTE_PEEK_MAX) or as many as there are, without taking it. *bytes last until the next call. */
size_t byte_source_peek(struct byte_source *s, size_t n, const uint8_t **bytes);
enum { BYTE_PEEK_MAX = 64 };

/*
 * The same as a stdio stream that nobody else touches; fclose it before the source is closed. What is read through it is
 * also kept, up to BYTE_KEPT_MAX, until byte_source_forget. exact: nothing is read before it is asked for, so that reading may
 * go on beside the stream, with byte_source_ahead.
 */
FILE *byte_source_stream(struct byte_source *s, bool exact);
/* What comes next, n bytes at the least; what is taken is taken. NULL: the source has fewer, or n is more than is read ahead. */
struct cursor *byte_source_ahead(struct byte_source *s, size_t n);
size_t byte_source_kept(struct byte_source *s, const uint8_t **bytes);
void byte_source_forget(struct byte_source *s);
enum { BYTE_KEPT_MAX = 1 << 20 };

/* How many bytes there are from where the source began; -1 where that cannot be told: a pipe, packed bytes. */
int64_t byte_source_size(const struct byte_source *s);
/* How much of the file, packed as it is, has been read; -1: it is none. */
int64_t byte_source_at(const struct byte_source *s);
/* Why reading ended before the data did (broken packing, a read error), in words, or NULL. *sys: errno or 0. */
const char *byte_source_broken(const struct byte_source *s, int *sys);
