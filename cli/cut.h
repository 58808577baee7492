/*
 * cli/cut.h - shared by the files of `cut`: ABOUT as it stands at the cut, and what --anonymous leaves out.
 */
#pragma once
#include "capture/record.h"
#include "capture/writer.h"
#include "cli/options.h"
#include "cli/trace_loop.h"

struct cJSON;

/* What ABOUT records said before the first record that is kept, merged, and the file of --about laid over it. */
struct cut_about {
    struct cJSON *merged[256];   /* by header port; NULL: nothing */
    uint8_t       flags[256];    /* INVENTED, if any of them was */
    struct cJSON *over;          /* --about, or NULL */
    const char   *over_path;
    bool          anonymous;
    uint8_t       bytes[RECORD_BYTES_MAX]; /* the record made last */
};

/* False: one line on standard error said why. */
bool cut_about_start(struct cut_about *a, const char *over_path, bool anonymous);
void cut_about_free(struct cut_about *a);
/* Takes an ABOUT record from before the cut. False: no memory, said. */
bool cut_about_take(struct cut_about *a, const struct record *r);
/* Is there an ABOUT to be written at the start for this port? */
bool cut_about_stands(const struct cut_about *a, unsigned port);
/* It as a record in a->bytes; its length, or 0: larger than a record may be, said. */
size_t cut_about_record(struct cut_about *a, unsigned port);
/* An ABOUT record that is kept, corrected and made anonymous, in a->bytes; its length, or 0: said. */
size_t cut_about_correct(struct cut_about *a, const struct record *r);

/* Leaves out of a tree of ABOUT whatever could tell who, where and when. */
void anonymous_about(struct cJSON *about);
/*
 * A record that is kept, without what could tell who, where and when, in bytes; its length. Packets, readings and states stay as
 * they are; words of a text that look like a path, an address, a date or a time of day become "-"; of a record that cannot be
 * understood only the header stays.
 */
size_t anonymous_record(const struct record *r, uint8_t bytes[RECORD_BYTES_MAX]);
