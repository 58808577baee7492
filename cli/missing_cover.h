/*
 * cli/missing_cover.h - the shortest list of actions that shows everything: of the shortest the one that goes least far.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/*
 * needs: count masks of actions (bit = action), of each of which one action has to be done; an empty mask is passed over.
 * ranks: of the actions, 64. done: actions that are done anyway and cost nothing. Returns the actions to be done besides.
 * Of lists of equal length the one with the smallest sum of ranks is taken.
 */
uint64_t cover_shortest(const uint64_t *needs, unsigned count, const uint8_t ranks[64], uint64_t done);
