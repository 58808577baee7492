/*
 * capture/pcap_head_inside.h - what libpcap does not tell of the first bytes of a capture. Within capture only.
 *
 * Layouts: IETF drafts "PCAP Capture File Format" (file header) and "PCAP Next Generation Capture File Format"
 * (Section Header Block, Interface Description Block, option if_tsresol).
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct pcap_head {
    bool     pcapng;
    bool     complete;     /* the file header, or the first interface, stands in the bytes: the rest is filled */
    uint32_t link_type;    /* as it stands in the file */
    int64_t  time_unit_ns; /* uncertainty of a time stamp: 0 where it is a nanosecond or finer */
    bool     simple;       /* a classic file of version 2.4, little-endian: each packet four words, then its bytes */
};

/* True if the bytes begin like a capture; four bytes are enough for that. */
bool pcap_head_read(const uint8_t *bytes, size_t length, struct pcap_head *head);
