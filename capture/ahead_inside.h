/*
 * capture/ahead_inside.h - reads a capture file ahead of whoever takes its records, in a thread of its own. Within capture only.
 *
 * For plain files alone: their reads end. A pipe is read where it is needed, so that nothing waits in a thread for what may
 * never come. A few batches of 64 KiB are all that is read ahead.
 */
#pragma once
#include "capture/trace_source_inside.h"

struct ahead;

/* Files shorter than this are not worth a thread. */
enum { AHEAD_LEAST_BYTES = 1 << 20 };

/* NULL: no thread to be had; then the source is to be read as it is. The source must last longer. */
struct ahead *ahead_new(struct pcap_source *source);
/* As pcap_source_next; the bytes last until the next call. */
enum arrival_end ahead_next(struct ahead *a, struct arrival *arrival);
/* Ends the thread. NULL is nothing. */
void ahead_free(struct ahead *a);
