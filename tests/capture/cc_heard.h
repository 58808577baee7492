/*
 * tests/capture/cc_heard.h - what a reader of CC lines gave, put into words: blocks that join are joined, so that it does not matter where
 * the reader cut them. What holds for every block is asserted on the way.
 *
 * A line reads "low@0 5 9 until 12, high@20 until 30": its level and since when, the changes, until when it is known; a comma is a hole.
 */
#pragma once
#include "capture/cc_line.h"
#include "tests/capture/made.h"

enum { HEARD_NOTICES = 8, HEARD_TEXT = 4000 };

struct heard {
    char             line[CC_LINES_MAX][HEARD_TEXT];
    unsigned         notices;
    struct cc_notice notice[HEARD_NOTICES];
    char             words[HEARD_NOTICES][80]; /* of each notice */
    struct cc_tick   tick;
    struct cc_facts  facts;
    struct fault     end; /* what `next` said at the end */
};

/* Read from memory; options->notice is the harness's own. False: it could not be opened, *f says why. */
bool heard_of(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options, struct heard *h, struct fault *f);
/* Opened and read from memory in every way to cut it into pieces, and out of a pipe: always the same. Fails the test if it cannot be opened. */
void heard_same(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options, struct heard *h);
/* The fault of what cannot be opened; fails the test if it can. */
struct fault heard_fault(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options);
