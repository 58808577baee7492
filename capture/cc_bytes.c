#include "capture/cc_bytes_inside.h"

#include "capture/byte_source_inside.h"
#include "capture/cc_line.h"

#include <stdlib.h>
#include <string.h>

struct cc_bytes {
    struct byte_source *source;
    struct cursor       window; /* within buffer */
    bool                ended;
    uint64_t            read;
    int64_t             total;
    size_t              at_once;
    size_t              room;   /* in buffer, without what is behind */
    uint8_t             buffer[];
};

enum { BUFFER_BYTES = 2 * CC_READ_BYTES };

static struct cc_bytes *bytes_new(struct byte_source *source, size_t read_bytes, struct fault *f)
{
    int64_t          total = source ? byte_source_size(source) : 0;
    size_t           room = total >= 0 && total < BUFFER_BYTES ? (size_t)total + 1 : BUFFER_BYTES; /* one more than there is: its end has to be met */
    struct cc_bytes *b = source ? malloc(sizeof *b + room + CC_BYTES_BEHIND) : NULL;

    if (!b) {
        if (source)
            fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        byte_source_close(source);
        return NULL;
    }
    *b = (struct cc_bytes){ .source = source, .total = total, .room = room };
    b->at_once = read_bytes > 0 && read_bytes < CC_READ_BYTES ? read_bytes : CC_READ_BYTES;
    memset(b->buffer + room, 0, CC_BYTES_BEHIND);
    b->window = cursor_over(b->buffer, 0);
    if (cc_bytes_more(b))
        return b;
    cc_bytes_end_fault(b, f);
    if (f->code == FAULT_NONE)
        fault_set(f, FAULT_EMPTY, 0, 0, NULL);
    cc_bytes_close(b);
    return NULL;
}

struct cc_bytes *cc_bytes_open(const char *path, size_t read_bytes, struct fault *f)
{
    return bytes_new(byte_source_open(path, f), read_bytes, f);
}

struct cc_bytes *cc_bytes_over(const uint8_t *bytes, size_t length, size_t read_bytes, struct fault *f)
{
    return bytes_new(byte_source_over(bytes, length, f), read_bytes, f);
}

void cc_bytes_close(struct cc_bytes *b)
{
    if (!b)
        return;
    byte_source_close(b->source);
    free(b);
}

struct cursor *cc_bytes_window(struct cc_bytes *b)
{
    return &b->window;
}

bool cc_bytes_more(struct cc_bytes *b)
{
    size_t left = b->window.left, n = b->room - left < b->at_once ? b->room - left : b->at_once;

    if (b->ended || n == 0)
        return false;
    if (left > 0)
        memmove(b->buffer, b->window.at, left);
    n = byte_source_read(b->source, b->buffer + left, n);
    b->ended = n == 0;
    b->read += n;
    b->buffer[left + n] = 0;
    b->window = cursor_over(b->buffer, left + n);
    return n > 0;
}

bool cc_bytes_ended(const struct cc_bytes *b)
{
    return b->ended;
}

bool cc_bytes_end_fault(const struct cc_bytes *b, struct fault *f)
{
    int         sys;
    const char *words = byte_source_broken(b->source, &sys);

    if (!words)
        return fault_set(f, FAULT_NONE, 0, 0, NULL);
    return fault_set(f, sys != 0 ? FAULT_READ : FAULT_COMPRESSION, sys, 0, words);
}

uint64_t cc_bytes_read(const struct cc_bytes *b)
{
    return b->read;
}

int64_t cc_bytes_total(const struct cc_bytes *b)
{
    return b->total;
}
