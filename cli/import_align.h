/*
 * cli/import_align.h - --align: the readings of a meter tied to what was said and seen on CC (decode/alignment.h). A first pass over all
 * inputs gathers moves of VBUS, and moves that messages, CC and marks tell of; what it finds holds for the second.
 *
 *     time of the trace = time as without --align + shift_ns + (time as without - first_ns) x rate_ppm / 1e6
 */
#pragma once
#include "cli/import.h"

/* What is found of one input. */
struct import_tie {
    bool    tied;
    int64_t shift_ns, first_ns; /* first_ns: its first reading */
    double  rate_ppm;
    double  align_ns, clock_ppm; /* standard uncertainties for ABOUT; 0: not told */
    bool    ports[256];         /* of the trace, that it has readings of */
};

enum align_how { ALIGN_BEST, ALIGN_VBUS, ALIGN_MARK, ALIGN_OFFSET };
struct align_words {
    enum align_how how;
    const char    *mark;      /* what the mark's text has to hold; "" any */
    int64_t        offset_ns, offset_u_ns; /* offset_u_ns 0: not told */
};
/* "best", "vbus", "mark", "mark:TEXT", "offset:TIME", "offset:TIME,UNCERTAINTY". False: said. */
bool import_align_words(struct align_words *w, const char *how);
/* Does it take a first pass? */
bool import_align_reads(const struct align_words *w);
/* Can the inputs be read twice? False: said. */
bool import_align_again(const struct import_words *words, unsigned count);

struct import_align;
struct import_align *import_align_new(const struct align_words *words, unsigned inputs); /* NULL: no memory */
void import_align_free(struct import_align *a);
/* The next record in order of start times; t_ns: its start. False: no memory. */
bool import_align_take(struct import_align *a, unsigned input, int64_t t_ns, int64_t stamp_ns, const uint8_t *bytes, size_t length);
/* After the last: finds the ties, and says so in a line for each input (inputs: to speak of them). False: they cannot be tied, said. */
bool import_align_settle(struct import_align *a, struct import_input *inputs, bool quiet, struct import_tie *ties);
/* offset: all meters' logs. False: there is none, said. */
bool import_align_offset(const struct align_words *w, const struct import_words *words, unsigned count, struct import_tie *ties);
