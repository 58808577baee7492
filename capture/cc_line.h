/*
 * capture/cc_line.h - CC lines out of the files of logic analysers and oscilloscopes: when the level of a line changes.
 *
 * A file holds one line or several. Times are counted in ticks of the file's own clock from its beginning (struct cc_tick says how long
 * one is: a sample, or the unit of a VCD file). What is read comes out in blocks; the blocks of one line follow one another in time, those
 * of several lines come as the file has them. Memory does not grow with the file. A line that cannot be read, or samples that are
 * missing, are told by a notice and leave a hole: the next block of that line is `broken`.
 */
#pragma once
#include "capture/base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A tick lasts ps / per picoseconds: 24 MS/s are 1e12 / 24e6. Both above 0 and at most 1e15. */
struct cc_tick { uint64_t ps, per; };
/* So many ticks in nanoseconds, rounded to the nearest; held within +- INT64_MAX / 2. */
int64_t cc_ticks_ns(struct cc_tick tick, int64_t ticks);
/* A tick in whole picoseconds, rounded to the nearest, 1 at the least and UINT32_MAX at the most: tick_ps of CC_EDGES. */
uint32_t cc_tick_ps(struct cc_tick tick);
/* The tick of so many samples a second, to a thousandth of one. False: no rate that there is (1 mHz to 1 THz), *tick as it was. */
bool cc_tick_of_rate(double rate_hz, struct cc_tick *tick);

/* The line outside of packets, from analogue readings: its mean from..until-1. */
struct cc_level { int64_t from, until; int32_t mv; };

/* A stretch of one line. */
struct cc_block {
    unsigned               line;    /* index of the lines that were asked for */
    bool                   level;   /* before the first change */
    bool                   broken;  /* the line is not known between the last block's `until` and this one's `from` */
    int64_t                from, until; /* known from..until; `until` of one block is `from` of the next, if not broken */
    const int64_t         *at;      /* count changes of level, increasing, from <= at[i] < until */
    size_t                 count;
    const struct cc_level *levels;  /* analogue files only: all that begin before `until` and were not told; the last may reach a little beyond; NULL with 0 */
    size_t                 level_count;
};

enum cc_news {
    CC_UNREADABLE,   /* number: of the line (or sample); words: its beginning; passed over */
    CC_UNKNOWN_LEVEL,/* x or z: number of the line where it begins; told once a signal, the count is in cc_facts */
    CC_TIME_BACK,    /* number: of the line; its time goes back: passed over */
    CC_CUT_OFF,      /* the file ends inside something */
    CC_THRESHOLDS,   /* analogue: low_mv, high_mv of the slicer, of which line */
};
struct cc_notice {
    enum cc_news news;
    uint64_t     number;
    unsigned     line;
    int32_t      low_mv, high_mv;
    const char  *words; /* bytes as they came, or NULL */
    size_t       words_length;
};

enum { CC_LINES_MAX = 16, CC_READ_BYTES = 256 * 1024 };
struct cc_options {
    void (*notice)(void *context, const struct cc_notice *n); /* may be NULL */
    void *context;
    const char *names[CC_LINES_MAX]; /* vcd: signals by name (full path "top.cc1", or the last part if only one ends so); csv: headings or numbers
                                        of columns; bytes: numbers of bits, "0" to "7", "0" if NULL. NULL: the only one there is, else a fault that lists them */
    unsigned  lines;                 /* names in use, 1 at the least */
    double    rate_hz;               /* samples a second; 0: the file tells it */
    int32_t   low_mv, high_mv;       /* analogue: thresholds; both 0: found from the readings */
    double    scale_uv, offset_mv;   /* s16: microvolts a step (less than 0: upside down), and millivolts at zero. scale_uv 0: not known, then no levels
                                        come, and thresholds are told, and taken, in steps */
    bool      most_first;            /* bits: the first sample is the most significant bit of its byte; else the least */
    size_t    read_bytes;            /* read at most so many bytes at once; 0: CC_READ_BYTES. The blocks are cut elsewhere then, what they say is the same */
};

struct cc_facts { uint64_t bytes, unreadable, unknown_levels; int64_t bytes_total; /* -1: not known */ int64_t start_ns; bool has_start; /* the file tells when it began, since 1970 */
                  double edge_ns; /* analogue: standard uncertainty of a change's time, from the readings so far; 0: not known, that is what a tick leaves open */ };

struct cc_file;
struct cc_kind {
    const char *word; /* "vcd", "bits", "bytes", "volts", "samples" */
    /* path "-" is standard input; gzip and zstd are taken off. NULL with *f set: FAULT_OPEN, FAULT_READ, FAULT_COMPRESSION, FAULT_EMPTY,
     * FAULT_FORMAT, FAULT_NOT_THERE, FAULT_AMBIGUOUS, FAULT_RATE or FAULT_NO_MEMORY. */
    struct cc_file *(*open)(const char *path, const struct cc_options *options, struct fault *f);
    struct cc_file *(*open_memory)(const uint8_t *bytes, size_t length, const struct cc_options *options, struct fault *f);
    /* The next stretch; it lasts until the next call. False at the end: f->code is FAULT_NONE, or FAULT_READ or FAULT_COMPRESSION where the
     * bytes ended before their time. */
    bool (*next)(struct cc_file *c, struct cc_block *block, struct fault *f);
    struct cc_tick  (*tick)(const struct cc_file *c);
    struct cc_facts (*facts)(const struct cc_file *c);
    void (*close)(struct cc_file *c);
};
extern const struct cc_kind cc_vcd_kind, cc_bits_kind, cc_bytes_kind; /* cc_vcd.c, cc_bits.c */
extern const struct cc_kind cc_volts_kind, cc_samples_kind;           /* cc_volts.c: CSV of time and volts; cc_samples.c: 16 bit, little-endian, signed */
