/*
 * cli/import_run.h - an import as a whole: its inputs, what waits to be written, and the trace that is written. Shared by import_run.c,
 * import_about.c and import_progress.c only.
 */
#pragma once
#include "capture/record.h"
#include "capture/writer.h"
#include "cli/import.h"
#include "cli/import_align.h"
#include "cli/import_order.h"

struct import {
    const struct options        *options;
    const struct import_options *own;
    const char                  *target;   /* the file's name, or "standard output" */
    struct import_input          inputs[IMPORT_INPUTS];
    unsigned                     count;
    struct import_order         *order;
    struct trace_writer         *writer;
    struct cJSON                *over;     /* --about, or NULL */
    bool                         alone;    /* there is one input only */
    bool                         direct;   /* one trace alone: records keep the order that they stand in */
    bool                         started;  /* the first ABOUT is written */
    bool                         gone;     /* whoever reads the output has had enough */
    bool                         failed;   /* said */
    bool                         silent;   /* what the inputs say is said by another pass */
    struct import_align         *align;    /* the first pass of --align: records go there; else NULL */
    struct import_tie           *ties;     /* of each input, as --align found them; NULL: without */
    uint64_t                     written;
    int64_t                      from_ns, to_ns; /* of the trace: the beginning, and the end of the record that ends last */
    struct { bool wanted, shown; int64_t shown_ns; uint64_t turns; } progress;
};

/* Writes one record as it is. False: said, or i->gone. */
bool import_write(struct import *i, int64_t stamp_ns, const uint8_t *bytes, size_t length);

/* import_about.c. False: said. */
bool import_about_over(struct import *i);
/* What stands at the beginning of the trace. */
bool import_about_begin(struct import *i, int64_t stamp_ns);
/* What stands at the end, where the recordings reach farther than their records: that nothing more came. */
bool import_about_end(struct import *i, int64_t end_ns);
/* Writes a record of an input; of an ABOUT of the bench with --about laid over it. */
bool import_about_pass(struct import *i, const struct record *r);

/* import_progress.c: one line on a terminal. */
void import_progress_start(struct import *i);
void import_progress_turn(struct import *i);
void import_progress_clear(struct import *i);
