/*
 * capture/writer.h - writing a trace: classic pcap, nanosecond times, link type USER0, snapshot length 262144.
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/record.h"

struct trace_writer;

/* path "-" is standard output. The file's head is written at once. NULL with *f set (FAULT_OPEN, FAULT_WRITE, FAULT_NO_MEMORY). */
struct trace_writer *trace_writer_open(const char *path, struct fault *f);
/*
 * Writes one record as it stands: bytes are header and body, stamp_ns its time as stored. False: FAULT_WRITE
 * (EOVERFLOW: a time before 1970 or after 2106, number = the time; EMSGSIZE: more than 262,144 bytes; else the disk's).
 */
bool trace_writer_put(struct trace_writer *w, int64_t stamp_ns, const uint8_t *bytes, size_t length, struct fault *f);
bool trace_writer_flush(struct trace_writer *w, struct fault *f);
/* Closes and frees in any case; false if the last bytes could not be written. */
bool trace_writer_close(struct trace_writer *w, struct fault *f);
