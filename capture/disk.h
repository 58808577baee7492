/*
 * capture/disk.h - a trace on its way to a file or a pipe while it is being recorded.
 *
 * What is put is framed as a classic capture (capture/writer.h says which) and goes to the file through a thread of its own; a second one
 * sees to it that it reaches the disk (fdatasync) every DISK_SYNC_NS. Neither a slow disk nor a reader that is slow at the other end
 * of a pipe holds up whoever puts: what waits is bounded, and what does not fit is refused, to be counted as lost. The file is a
 * readable trace at every moment: it ends in whole records, also after a write that failed.
 *
 *     d = disk_open(&options, &f);
 *     ... disk_put(d, ...); disk_push(d); poll disk_fd(d): readable once writing has failed ...
 *     disk_close(d, &f);
 *
 * disk_open, disk_put and the like are for one thread.
 */
#pragma once
#include "capture/base/fault.h"

#include <stddef.h>
#include <stdint.h>

enum { DISK_QUEUE_BYTES = 8 << 20, DISK_PATH_BYTES = 4096 };
#define DISK_SYNC_NS INT64_C(500000000)

struct disk;

struct disk_options {
    const char *path;        /* "-": standard output */
    bool        overwrite;   /* a file that is there already is written anew; else FAULT_OPEN with EEXIST */
    bool        numbered;    /* DIR/NAME.EXT stands for DIR/NAME-0001.EXT and so on, after the greatest number there is */
    unsigned    keep;        /* numbered: so many files of this disk stay, the oldest of them goes; 0: all stay */
    size_t      queue_bytes; /* what may wait; 0: DISK_QUEUE_BYTES */
};

/* NULL with *f set (FAULT_OPEN, FAULT_WRITE, FAULT_NO_MEMORY). The file's head is written at once. */
struct disk *disk_open(const struct disk_options *options, struct fault *f);
/* One record. False: there is no room, or writing has failed before; it is lost. */
bool disk_put(struct disk *d, int64_t stamp_ns, const uint8_t *bytes, size_t length);
/* What was put goes on its way now; do so before waiting for anything. */
void disk_push(struct disk *d);
/* numbered: what is put from now on goes into the next file. False: no memory. */
bool disk_next(struct disk *d);
/* Bytes put into the current file, its head included. */
uint64_t disk_file_bytes(const struct disk *d);
/* Readable once writing has failed. */
int disk_fd(const struct disk *d);
/* Has writing failed? *f: how. What was written before is there. */
bool disk_failed(struct disk *d, struct fault *f);
/* The name of the file that is written just now, into a room of DISK_PATH_BYTES. */
void disk_path(struct disk *d, char *path);
/* Waits until all has been written and is on the disk; frees. False: not all of it could be written. NULL is allowed. */
bool disk_close(struct disk *d, struct fault *f);
