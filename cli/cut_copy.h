/*
 * cli/cut_copy.h - copying the part of one trace, or of several joined by time, that a cut keeps.
 */
#pragma once
#include "cli/cut.h"
#include "rules/engine.h"

enum { CUT_SOURCES = 64, CUT_FRAMES = FINDING_EVIDENCE + 1 };

/* One trace that is read, and its record in hand; NULL: it has ended. */
struct cut_source {
    struct trace_loop    loop;
    bool                 open;
    const struct record *record;
};

struct cut {
    const struct options *options;
    bool                  anonymous;
    struct cut_source     sources[CUT_SOURCES];
    unsigned              count;
    struct cut_about      about;
    struct trace_writer  *writer;
    bool                  started;
    bool                  gone;        /* whoever reads the output has had enough */
    bool                  clamped;     /* anonymous: a time before the start was moved to it */
    int64_t               zero_ns;     /* the earliest of the sources */
    int64_t               shift_ns;    /* taken off every time that is written */
    uint64_t              written;
    /* frames of a finding, by their old numbers and their new ones (0: not written) */
    uint64_t              frames[CUT_FRAMES], new_frames[CUT_FRAMES];
    unsigned              frame_count;
    uint8_t               bytes[RECORD_BYTES_MAX];
};

/* Opens the traces; the window counts from the earliest of them. False: said. */
bool cut_open(struct cut *c, char *const *paths, unsigned count);
/* Sets the window by hand, since 1970. */
void cut_window(struct cut *c, int64_t since_ns, int64_t until_ns);
/* Copies. False: said. */
bool cut_copy(struct cut *c);
/* Closes what cut_open opened. False: reading had broken down; said. */
bool cut_close(struct cut *c);
