/*
 * decode/kernel_identity.h - what a kernel tells of who a partner or a cable is (capture/kernel_ports.h), put together again as the answer to
 * Discover Identity that it was told in. As with decode/kernel_caps.h, nobody saw that message on a wire.
 *
 * The kernel keeps the words behind the VDM header; of those behind the third it does not say how many there were, so that zeros at the end
 * are left out. The VDM header is that of an ACK to Discover Identity, its version 2.0 with revision 3.x and 1.0 before.
 */
#pragma once
#include "decode/kernel_caps.h"

/* Of the partner, or of the cable (on SOP'). length 0: it is not told. */
struct kernel_message kernel_identity_message(const struct kernel_port *port, bool cable, unsigned id);
