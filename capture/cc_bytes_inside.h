/*
 * capture/cc_bytes_inside.h - the bytes of a recording of a CC line, a large piece at a time. Within capture only.
 *
 * A reader takes what it can use from the window and asks for more; what it left then stands at the window's beginning.
 */
#pragma once
#include "capture/base/cursor.h"
#include "capture/base/fault.h"

/* So many bytes behind the window may be read without harm, for readers that compare words: a zero, then anything. */
enum { CC_BYTES_BEHIND = 64 };

struct cc_bytes;

/* path "-" is standard input. read_bytes: of struct cc_options. NULL with FAULT_OPEN, FAULT_READ, FAULT_EMPTY, FAULT_COMPRESSION or FAULT_NO_MEMORY. */
struct cc_bytes *cc_bytes_open(const char *path, size_t read_bytes, struct fault *f);
/* The bytes must last as long as the reader. */
struct cc_bytes *cc_bytes_over(const uint8_t *bytes, size_t length, size_t read_bytes, struct fault *f);
void cc_bytes_close(struct cc_bytes *b);

/* What lies there. Taken is what was taken with cursor_take. */
struct cursor *cc_bytes_window(struct cc_bytes *b);
/* Lays more behind what is left. False: no more comes, or a whole buffer is left over and there is no room (CC_READ_BYTES at the least). */
bool cc_bytes_more(struct cc_bytes *b);
/* Has all been read? The window may still hold some of it. */
bool cc_bytes_ended(const struct cc_bytes *b);
/* At the end: FAULT_NONE, or why the bytes ended before their time. Always false. */
bool cc_bytes_end_fault(const struct cc_bytes *b, struct fault *f);
/* Read so far, what still lies in the window included; and how many there are, -1 if that cannot be told. */
uint64_t cc_bytes_read(const struct cc_bytes *b);
int64_t cc_bytes_total(const struct cc_bytes *b);
