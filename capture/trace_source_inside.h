/*
 * capture/trace_source_inside.h - where the records of a trace come from, in the order of the file: a capture or text. Within
 * capture only.
 */
#pragma once
#include "capture/byte_source_inside.h"
#include "capture/trace.h"

struct arrival {
    const uint8_t *bytes; /* last until the next arrival */
    uint32_t       length;
    bool           cut;          /* captured shorter than it was */
    bool           text_damaged; /* a line that cannot be read; bytes say as much as could */
    int64_t        stamp_ns;
    uint64_t       frame;
};

enum arrival_end { ARRIVAL_MORE, ARRIVAL_END, ARRIVAL_BROKEN, ARRIVAL_NO_MEMORY };

/* Captures, through libpcap. */
struct pcap_source;
/* NULL with FAULT_CAPTURE, FAULT_LINK_TYPE, FAULT_COMPRESSION or FAULT_NO_MEMORY. */
struct pcap_source *pcap_source_new(struct byte_source *bytes, struct trace_facts *facts, struct fault *f);
void                pcap_source_free(struct pcap_source *s);
enum arrival_end    pcap_source_next(struct pcap_source *s, struct arrival *a);
/* True: what it has not given out yet still lies in the bytes' source. False: libpcap may hold some of it. */
bool                pcap_source_direct(const struct pcap_source *s);
/* After ARRIVAL_BROKEN: libpcap's words. */
const char         *pcap_source_words(const struct pcap_source *s);

/* The text form. */
struct text_source;
/* Reads up to the first line that is no comment. NULL with FAULT_NOT_A_CAPTURE or FAULT_NO_MEMORY. */
struct text_source *text_source_new(struct byte_source *bytes, const struct trace_options *options, struct fault *f);
void                text_source_free(struct text_source *s);
/* A line lies here already, so nothing need be read for the next step. */
bool                text_source_has_line(const struct text_source *s);
enum arrival_end    text_source_next(struct text_source *s, struct arrival *a);
