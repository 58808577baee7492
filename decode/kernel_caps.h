/*
 * decode/kernel_caps.h - what a kernel tells of a partner's capabilities (capture/kernel_ports.h), put together again as the message that it
 * was told in. Nobody saw that message on a wire: whoever records it says so ("rebuilt" of ABOUT).
 */
#pragma once
#include "capture/kernel_ports.h"

enum { KERNEL_CAPS_BYTES = 2 + 4 * 7 };

struct kernel_message {
    uint8_t  bytes[KERNEL_CAPS_BYTES]; /* message header and objects, no CRC */
    size_t   length;                   /* 0: there is nothing to tell */
    unsigned left_out;                 /* objects that cannot be put together, or stand behind one that the kernel leaves out */
};

/* source: Source_Capabilities, else Sink_Capabilities, of port's partner. MessageID is 0. */
struct kernel_message kernel_caps_message(const struct kernel_port *port, bool source);
