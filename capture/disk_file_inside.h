/*
 * capture/disk_file_inside.h - the file or the files that a disk writes: names, heads, whole records. Within capture only.
 */
#pragma once
#include "capture/disk.h"

struct disk_file {
    char        path[DISK_PATH_BYTES]; /* of the file that is open */
    char        stem[DISK_PATH_BYTES], ending[256]; /* numbered: before and after the number */
    bool        numbered, overwrite, regular, is_stdout;
    unsigned    number, keep;
    unsigned   *kept;                  /* numbers of the files of this run, keep of them at most */
    unsigned    kept_count;
    int         fd;                    /* -1: none */
};

enum { PCAP_HEAD_BYTES = 24, PCAP_FRAME_BYTES = 16, PCAP_RECORD_BYTES_MAX = 262144 };

/* Opens the (first) file and writes its head. */
bool disk_file_open(struct disk_file *file, const struct disk_options *options, struct fault *f);
/* numbered: closes it, opens the next one, lets the oldest go. The caller has synced it. */
bool disk_file_next(struct disk_file *file, struct fault *f);
/* Frames one behind the other. What cannot be written whole is taken back. */
bool disk_file_write(struct disk_file *file, const uint8_t *frames, size_t length, struct fault *f);
bool disk_file_close(struct disk_file *file, struct fault *f);
/* A record's frame in front of its bytes (IETF draft "PCAP Capture File Format", packet record): nanoseconds. */
void disk_frame_put(uint8_t *out, int64_t stamp_ns, uint32_t length);
