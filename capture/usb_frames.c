#include "capture/usb_frames.h"

#include "capture/base/cursor.h"
#include "capture/record.h"

#include <stdlib.h>
#include <string.h>

enum { CHUNK_MAX = 65536, ROOM = USB_FRAME_HEAD_BYTES + RECORD_BYTES_MAX + 2 + CHUNK_MAX, KIND_LAST = RECORD_CC_EDGES, KIND_PRIVATE = 0x80 };

struct usb_frames {
    unsigned                ports;
    size_t                  from, to;   /* bytes[from..to) are not used up */
    int64_t                 fed_ns;     /* when the last byte came */
    int64_t                 first_ns;   /* when the byte at `from` came, at the latest */
    uint32_t                next;       /* the sequence that is due */
    unsigned                odd;        /* frames in a row that are sound but for their sequence */
    uint32_t                odd_next;
    bool                    skipping;
    struct usb_frame_counts counts;
    uint8_t                 bytes[ROOM];
};

struct usb_frames *usb_frames_new(unsigned ports)
{
    struct usb_frames *f = calloc(1, sizeof *f);

    if (f)
        f->ports = ports;
    return f;
}

void usb_frames_free(struct usb_frames *f)
{
    free(f);
}

void usb_frames_reset(struct usb_frames *f)
{
    f->from = f->to = 0;
    f->next = 0;
    f->odd = 0;
    f->skipping = false;
    f->counts.restarted = false;
}

size_t usb_frames_feed(struct usb_frames *f, const uint8_t *bytes, size_t length, int64_t now_ns)
{
    if (f->from > 0) {
        memmove(f->bytes, f->bytes + f->from, f->to - f->from);
        f->to -= f->from;
        f->from = 0;
    }
    size_t taken = length < ROOM - f->to ? length : ROOM - f->to;

    if (taken == 0)
        return 0;
    if (f->to == 0)
        f->first_ns = now_ns;
    memcpy(f->bytes + f->to, bytes, taken);
    f->to += taken;
    f->fed_ns = now_ns;
    return taken;
}

/* What the bytes at `from` are. */
enum frame_look { FRAME_SOUND, FRAME_FALSE, FRAME_WAIT, FRAME_OUT_OF_ORDER };

/* Version, kind and port of a record, as far as they are there: may it be one? */
static bool record_may_be(const struct usb_frames *f, struct cursor c)
{
    if (c.left >= 1 && cursor_u8(&c) != RECORD_VERSION)
        return false;
    if (c.left >= 1) {
        uint8_t kind = cursor_u8(&c);

        if (kind == 0 || (kind > KIND_LAST && kind < KIND_PRIVATE))
            return false;
    }
    if (c.left >= 1) {
        uint8_t port = cursor_u8(&c);

        return port < f->ports || port == RECORD_PORT_BENCH;
    }
    return true;
}

static bool magic_may_be(struct cursor c)
{
    if (c.left == 1)
        return cursor_u8(&c) == (USB_FRAME_MAGIC & 0xFF);
    return c.left == 0 || cursor_u16le(&c) == USB_FRAME_MAGIC;
}

/* Bytes after the frame: the magic, or nothing for long enough. */
static enum frame_look look_behind(const struct usb_frames *f, struct cursor behind, int64_t now_ns)
{
    if (!magic_may_be(behind))
        return FRAME_FALSE;
    if (behind.left >= 2 || now_ns - f->fed_ns >= USB_FRAME_QUIET_NS)
        return FRAME_SOUND;
    return FRAME_WAIT;
}

static enum frame_look look(const struct usb_frames *f, int64_t now_ns, struct usb_frame *frame)
{
    struct cursor c = cursor_over(f->bytes + f->from, f->to - f->from), head = c;

    if (!magic_may_be(c))
        return FRAME_FALSE;
    cursor_u16le(&head);
    size_t length = cursor_u16le(&head);

    if (!head.short_read && length < RECORD_HEADER_BYTES)
        return FRAME_FALSE;
    *frame = (struct usb_frame){ .length = length, .arrived_ns = f->first_ns };
    frame->sequence = cursor_u32le(&head);
    frame->time_ns = cursor_u64le(&head);
    if (head.short_read || head.left < length) {
        if (!head.short_read && !record_may_be(f, head))
            return FRAME_FALSE;
        return now_ns - f->fed_ns >= USB_FRAME_STUCK_NS ? FRAME_FALSE : FRAME_WAIT;
    }
    if (!record_may_be(f, head))
        return FRAME_FALSE;
    frame->record = cursor_take(&head, length);
    frame->missing = frame->sequence - f->next;
    enum frame_look behind = look_behind(f, head, now_ns);

    return behind == FRAME_SOUND && frame->missing > USB_FRAME_JUMP_MAX ? FRAME_OUT_OF_ORDER : behind;
}

static void skip(struct usb_frames *f)
{
    f->from++;
    f->counts.skipped_bytes++;
    if (!f->skipping)
        f->counts.skips++;
    f->skipping = true;
}

/* Frames that follow each other, but not the ones before: not chance any more, once there are enough of them. */
static void count_odd(struct usb_frames *f, const struct usb_frame *frame)
{
    f->odd = f->odd > 0 && frame->sequence == f->odd_next ? f->odd + 1 : 1;
    f->odd_next = frame->sequence + 1;
    if (f->odd >= USB_FRAME_RESTARTS)
        f->counts.restarted = true;
}

bool usb_frames_next(struct usb_frames *f, int64_t now_ns, struct usb_frame *frame)
{
    while (f->from < f->to) {
        switch (look(f, now_ns, frame)) {
        case FRAME_SOUND:
            f->from += USB_FRAME_HEAD_BYTES + frame->length;
            f->first_ns = f->fed_ns;
            f->next = frame->sequence + 1;
            f->odd = 0;
            f->skipping = false;
            f->counts.frames++;
            f->counts.missing += frame->missing;
            return true;
        case FRAME_WAIT:
            return false;
        case FRAME_OUT_OF_ORDER:
            count_odd(f, frame);
            skip(f);
            break;
        case FRAME_FALSE:
            skip(f);
            break;
        }
    }
    return false;
}

int64_t usb_frames_wake_ns(const struct usb_frames *f)
{
    struct cursor c = cursor_over(f->bytes + f->from, f->to - f->from);

    if (c.left == 0)
        return INT64_MAX;
    cursor_u16le(&c);
    size_t length = cursor_u16le(&c);

    cursor_take(&c, USB_FRAME_HEAD_BYTES - 4);
    return f->fed_ns + (c.short_read || c.left < length ? USB_FRAME_STUCK_NS : USB_FRAME_QUIET_NS);
}

uint32_t usb_frames_due(const struct usb_frames *f)
{
    return f->next;
}

uint32_t usb_frames_end(struct usb_frames *f, uint32_t sequence)
{
    uint32_t missing = sequence - f->next;

    if (missing > USB_FRAME_JUMP_MAX) /* it counts anew after STOP, or says nothing of use */
        return 0;
    f->next = sequence;
    f->counts.missing += missing;
    return missing;
}

const struct usb_frame_counts *usb_frames_counts(const struct usb_frames *f)
{
    return &f->counts;
}
