/*
 * cli/finding_list.h - the findings of one trace: taken as the engine settles them, given back in order of time.
 *
 * Bounded: of each rule, verdict and port the first `limit`, the rest is counted. Without a limit they go through a temporary
 * file, sorted in runs and merged, so that memory does not grow with their number.
 */
#pragma once
#include "rules/engine.h"

#include <stdio.h>

enum { FINDINGS_LIMIT = 100, FINDINGS_ALL = 0, FINDINGS_RUN = 4096 };

struct finding_list {
    uint64_t        limit;    /* FINDINGS_ALL: no limit */
    struct finding *items;
    uint64_t       *order;    /* in which they came: equal times keep it */
    size_t          count, room;
    uint64_t        taken, left_out;
    struct { uint64_t n; const struct rule *rule; uint8_t verdict, port; } *kept; /* open hashing; room a power of two */
    size_t          kept_count, kept_room;
    FILE           *spool;    /* sorted runs; after finding_list_sort: the whole in order */
    uint64_t        runs, spooled;
    uint64_t        at;       /* what finding_list_next gives next, from 0 */
    bool            failed;   /* no memory, or the temporary file broke down; errno told */
};

void finding_list_start(struct finding_list *l, uint64_t limit);
void finding_list_free(struct finding_list *l);
void finding_list_add(struct finding_list *l, const struct finding *f);
/* Puts them in order of time, frame, and coming. Call once, when all are in. False: failed. */
bool finding_list_sort(struct finding_list *l);
uint64_t finding_list_count(const struct finding_list *l);
/* From the first again. */
void finding_list_rewind(struct finding_list *l);
/* The next one, with its number from 1. False at the end (or failed). */
bool finding_list_next(struct finding_list *l, struct finding *f, uint64_t *number);
