/*
 * capture/usb_frames.h - the byte stream of a USB sniffer cut into frames (traces/FORMAT.md, "over USB").
 *
 * A frame is 16 bytes of head (u16 magic 0x5044, u16 length of the record, u32 sequence, u64 time_ns since START) and the record.
 * Frames cross the borders of transfers. A frame is sound if its length, version, kind and port may be, its sequence goes on, and
 * either the next two bytes are the magic or nothing more has come for 20 ms. Whatever is no sound frame is passed over byte by byte
 * and counted.
 *
 *     while (n > 0) {
 *         size_t k = usb_frames_feed(f, bytes, n, now_ns);
 *         while (usb_frames_next(f, now_ns, &frame)) use(&frame);
 *         bytes += k, n -= k;
 *     }
 *     ... and usb_frames_next again when usb_frames_wake_ns has come.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    USB_FRAME_MAGIC = 0x5044,
    USB_FRAME_HEAD_BYTES = 16,
    USB_FRAME_JUMP_MAX = 1 << 20, /* a sequence further ahead than that marks a false frame */
    USB_FRAME_RESTARTS = 8,       /* so many frames in a row, sound but for their sequence: the sniffer has begun anew */
};
#define USB_FRAME_QUIET_NS INT64_C(20000000)  /* nothing more for so long: the frame is whole without a magic behind it */
#define USB_FRAME_STUCK_NS INT64_C(1000000000) /* begun, and nothing more for so long: it never ends */

struct usb_frames;

struct usb_frame {
    uint32_t       sequence, missing; /* missing: how many frames are not there just before this one */
    uint64_t       time_ns;           /* since START */
    int64_t        arrived_ns;        /* when its first byte was fed, at the latest */
    const uint8_t *record;            /* until the next call of usb_frames_feed */
    size_t         length;
};

struct usb_frame_counts {
    uint64_t frames, missing, skipped_bytes, skips; /* skips: places where bytes were passed over */
    bool     restarted; /* USB_FRAME_RESTARTS frames whose sequence does not go on: ask for START again, and usb_frames_reset */
};

/* ports: of DESCRIBE. NULL: no memory. */
struct usb_frames *usb_frames_new(unsigned ports);
void usb_frames_free(struct usb_frames *f);
/* After START: sequence 0 is next; what is left of the bytes before is dropped, uncounted. The counts go on. */
void usb_frames_reset(struct usb_frames *f);
/* Takes as many of the bytes as there is room for, all of them if usb_frames_next has said false since the last call. */
size_t usb_frames_feed(struct usb_frames *f, const uint8_t *bytes, size_t length, int64_t now_ns);
bool usb_frames_next(struct usb_frames *f, int64_t now_ns, struct usb_frame *frame);
/* When usb_frames_next may say more without more bytes; INT64_MAX: not before they come. */
int64_t usb_frames_wake_ns(const struct usb_frames *f);
/* The sequence that the next frame has to have. */
uint32_t usb_frames_due(const struct usb_frames *f);
/* The sniffer has made frames up to that sequence, and no more will come: how many are not there, counted. */
uint32_t usb_frames_end(struct usb_frames *f, uint32_t sequence);
const struct usb_frame_counts *usb_frames_counts(const struct usb_frames *f);
