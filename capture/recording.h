/*
 * capture/recording.h - what several live sources hand over becomes one trace: put in order of time, written, carried over from file
 * to file.
 *
 * Records wait until none that starts earlier can come any more (recording_advance says how far that is), so that they stand in order
 * of their start times; the trace format would allow more, but whoever judges while it is recorded need not wait then. A record that
 * comes too late for that is written all the same, within the second that the format allows; one that comes later still, or is
 * stamped ahead of the clock by more than that, is stamped with the time of its arrival.
 *
 * The first records of each file are those of capture/carry.h. What does not fit on the way to the disk is counted, and a LOST record
 * (at the disk) stands in its place.
 */
#pragma once
#include "capture/disk.h"
#include "capture/record.h"

struct recording;

struct recording_options {
    struct disk_options disk;
    uint64_t rotate_bytes; /* begin the next file when this one has so many; 0: never. Needs disk.numbered */
    int64_t  rotate_ns;    /* when the trace has gone on for so long since the file's first record; 0: never */
    /* Every record that was written, in that order; NULL: nobody wants to know. */
    void   (*written)(void *context, const struct record *r);
    void    *context;
};

struct recording_counts {
    uint64_t records;     /* written */
    uint64_t lost;        /* at the disk, and what LOST records of the sources say; unknown counts as 1 */
    uint64_t lost_at_disk;
    uint64_t restamped;   /* too late or ahead, so stamped on arrival */
    unsigned files;
};

/* NULL with *f set, as disk_open. */
struct recording *recording_open(const struct recording_options *options, struct fault *f);
/* A record of a source; now_ns is the host's time. False: no memory; it is lost. */
bool recording_put(struct recording *r, int64_t stamp_ns, const uint8_t *bytes, size_t length, int64_t now_ns);
/* Writes all that starts at until_ns or before. */
void recording_advance(struct recording *r, int64_t until_ns);
/* When the earliest of what waits starts; INT64_MAX: nothing waits. */
int64_t recording_waits_ns(struct recording *r);
struct recording_counts recording_counts(const struct recording *r);
struct disk *recording_disk(struct recording *r);
/* Writes what waits, closes and frees. False: not all of it could be written. NULL is allowed. */
bool recording_close(struct recording *r, struct fault *f);
