/*
 * decode/kernel_log.h - the log of a kernel's port manager (Linux, /sys/kernel/debug/usb/tcpm-*), put together again as records.
 *
 * The log is one end's account of the wire: every message by its header, when it was handed over or taken in; the objects of the partner's
 * Source_Capabilities; what the port asked for; CC terminations; states. Nobody saw those messages on a wire, and GoodCRCs are not told at all.
 *
 * What comes out, in order of time, all with HOST_TIME:
 *   PD_PACKET   control messages whole; Source_Capabilities received with the numbers that the log tells (as decode/kernel_caps.h has them,
 *               KERNEL_CAPS_HOLE where it tells none); Requests sent: position and what was asked for, flags that are not told 0; a received
 *               Vendor_Defined message of one object whole. All without CRC. A message that is told by its header alone, or not to the end,
 *               becomes a note: a TRUNCATED packet would say that its header cannot be trusted, and cast doubt on all that follows. A received message begins its nominal length before its line, or where the record before it begins; one that is sent at its
 *               line. Messages of the type and with the role bits that only SOP' can have stand there; all others on SOP.
 *   ABOUT       of the port, first of all: "rebuilt" with "kernel_log", how far times may be off; again when the port takes a role: what its
 *               partner, the device under test, is then ("kind").
 *   RESET_SIGNAL, CC_STATE (no voltages), LOST (the log was full), MARK notes ("kernel: ...") for all else that tells something.
 * Times are the log's: nanoseconds since the kernel began. Lines of other threads may stand a little out of order: up to 0.1 s back is put right;
 * lines that came before are passed over; farther back a clock began anew, which is told, and the rest goes on 1 s behind the last line.
 * A kernel writes no line from #: such lines, of whoever kept the log, are passed over, as blank ones are.
 * Streaming: bytes go in, in pieces of any size; memory does not grow. Forms of lines: Linux drivers/usb/typec/tcpm/tcpm.c as built into 6.12,
 * and without the brackets that came behind states in 5.12 (from memory).
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum kernel_log_news {
    KERNEL_LOG_UNREADABLE, /* a line that does not begin with a time: passed over, every one of them told */
    KERNEL_LOG_UNKNOWN,    /* a line of a form that is not known: kept as a note; the first one is told */
    KERNEL_LOG_FULL,       /* the kernel's log was full there: lines are missing */
    KERNEL_LOG_REPEATED,   /* lines that came before; the first one is told */
    KERNEL_LOG_ANEW,       /* the clock began anew: this line and those after it are moved by shift_ns */
    KERNEL_LOG_CUT_OFF,    /* the last line is not complete */
};
struct kernel_log_notice {
    enum kernel_log_news news;
    uint64_t             number; /* of the line, from 1 */
    const char          *words;  /* the line, as it came */
    size_t               length;
    int64_t              shift_ns;
};

struct kernel_log_options {
    uint8_t port; /* of the trace */
    uint8_t flags; /* beside RECORD_HOST_TIME */
    /* A whole record (capture/record.h); its bytes last until this returns. */
    void (*found)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length);
    void (*notice)(void *context, const struct kernel_log_notice *n); /* may be NULL */
    void *context;
};

enum { KERNEL_LOG_SOURCE = 1, KERNEL_LOG_SINK = 2 };
struct kernel_log_facts {
    uint64_t lines, unreadable, unknown, repeated; /* lines: that had a time */
    uint64_t packets, headers_only, resets;        /* headers_only: messages told by a header alone or not to the end, beside the packets */
    uint8_t  roles;                                /* KERNEL_LOG_...: what the port was, as far as has been read */
    char     name[64];                             /* the device, where its registration is in the log; else "" */
};

struct kernel_log;
struct kernel_log *kernel_log_new(const struct kernel_log_options *options); /* NULL: no memory */
void kernel_log_take(struct kernel_log *k, const uint8_t *bytes, size_t length);
void kernel_log_finish(struct kernel_log *k); /* the end of the log */
struct kernel_log_facts kernel_log_facts(const struct kernel_log *k);
void kernel_log_free(struct kernel_log *k);

/* Do these bytes begin like such a log: with a line that has a time and a known form? */
bool kernel_log_looks_right(const uint8_t *bytes, size_t length);
