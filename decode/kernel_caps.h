/*
 * decode/kernel_caps.h - what a kernel tells of a partner's capabilities (capture/kernel_ports.h), put together again as the message that it
 * was told in. Nobody saw that message on a wire: whoever records it says so ("rebuilt" of ABOUT).
 *
 * The kernel gives each object's numbers and position; words, header and CRC it does not keep. Objects stand at their own positions. One
 * that the kernel left out before another (Linux 6.12 leaves out all augmented ones but programmable supplies), or whose numbers it does
 * not tell, is KERNEL_CAPS_HOLE. What a partner may have named behind the last object that is told cannot be known. Of the header, type,
 * roles and number of objects are told; the revision is the partner's where the kernel knows it, else 3.x; the MessageID is the caller's.
 */
#pragma once
#include "capture/kernel_ports.h"

enum { KERNEL_CAPS_OBJECTS = 7, KERNEL_CAPS_BYTES = 2 + 4 * KERNEL_CAPS_OBJECTS };
/* An augmented object of the reserved type, all else zero: no partner sends it. */
#define KERNEL_CAPS_HOLE UINT32_C(0xF0000000)

struct kernel_message {
    uint8_t  bytes[KERNEL_CAPS_BYTES]; /* message header and objects, no CRC */
    size_t   length;                   /* 0: there is nothing to tell */
    unsigned unknown;                  /* holes, and objects beyond the seventh */
};

/*
 * Message header (Linux include/linux/usb/pd.h, PD_HEADER): type, data role, revision, power role or cable plug, MessageID, number of objects.
 * Revision: the speaker's where the kernel knows it, else 3.x.
 */
enum kernel_speaker { KERNEL_FROM_PARTNER, KERNEL_FROM_CABLE };
uint16_t kernel_message_header(const struct kernel_port *port, enum kernel_speaker speaker, unsigned type, unsigned id, unsigned objects);

/* Source_Capabilities of port's partner; sink: its Sink_Capabilities. */
struct kernel_message kernel_caps_message(const struct kernel_port *port, bool sink, unsigned id);
/*
 * The words of a list by themselves: as many as the last position that is told. *unknown: how many of them are holes, and objects that stand
 * beyond the seventh.
 */
unsigned kernel_caps_words(const struct kernel_caps *caps, bool sink, uint32_t words[KERNEL_CAPS_OBJECTS], unsigned *unknown);
