/*
 * cli/diff_align.h - two sequences of deeds laid beside each other with the least edit, in memory that grows with their length alone
 * (Hirschberg, "A linear space algorithm for computing maximal common subsequences", 1975).
 *
 * A deed left out or put in costs 2; the same kind of deed with another content 3, or 1 where it is an offer (offers of one kind belong
 * together whatever they hold). What is the same costs nothing. The result does not depend on which of the two is called a.
 */
#pragma once
#include "cli/behaviour.h"

#define DIFF_ALONE SIZE_MAX

struct diff_alignment {
    const struct deed **a, **b;  /* what is compared, in order */
    size_t              a_count, b_count;
    size_t             *partner; /* for each of a: its place in b, or DIFF_ALONE; rising */
    uint64_t            cost;
    bool                plugs_left_out; /* only one of the two saw plugs: attach and detach are not compared */
};

/* Either may be NULL: nothing was done there. False: no memory; nothing to free. */
bool diff_align(struct diff_alignment *d, const struct behaviour_port *a, const struct behaviour_port *b);
void diff_align_free(struct diff_alignment *d);
