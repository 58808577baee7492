/*
 * tests/capture/cc_played.h - all that a reader of CC lines tells of a file, with the promises of capture/cc_line.h checked on the way.
 */
#pragma once
#include "capture/cc_line.h"

enum { PLAYED_NOTICES_MAX = 64, PLAYED_WORDS = 80 };

struct played_level { double from_ns, until_ns; int32_t mv; };
struct played_line {
    double             *edges_ns;
    size_t              edges, edge_room;
    struct played_level *levels;
    size_t              level_count, level_room;
    bool                first_level, last_level;
    int64_t             from, until;
    unsigned            blocks, holes;
};
struct played {
    struct played_line line[CC_LINES_MAX];
    struct cc_notice  notices[PLAYED_NOTICES_MAX];
    char              words[PLAYED_NOTICES_MAX][PLAYED_WORDS];
    size_t            notice_count;
    struct cc_facts   facts;
    struct cc_tick    tick;
    struct fault      fault;
    bool              opened;
};

/* o->notice and o->context are set here. */
struct played *played_of(const struct cc_kind *kind, const void *bytes, size_t length, const struct cc_options *o);
struct played *played_of_file(const struct cc_kind *kind, const char *path, const struct cc_options *o);
void played_free(struct played *h);
/* Notices of that kind. */
size_t played_news(const struct played *h, enum cc_news news);

/* Edges told of the true ones: how many were found from 0.3 us before to 1 us behind, mean and standard deviation of their lateness. */
struct played_match { size_t found, missed, extra; double late_ns, spread_ns; };
struct played_match played_match(const struct played_line *l, const double *truth_ns, size_t count);
