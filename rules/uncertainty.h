/*
 * rules/uncertainty.h - what a result is worth that others went into, and what may be said of it then. Whatever the unit.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* One of the inputs of a result: what the result changes by for each unit of it, and its own uncertainty, standard or expanded. */
struct uncertain { double sensitivity, u; };
/*
 * Combined uncertainty, standard or expanded as those of the inputs are: JCGM 100:2008, 5.2.2, equation (16),
 *     u^2 = sum (c_i u_i)^2 + 2 sum over i < j of c_i c_j u_i u_j r_ij.
 * correlations: r of each pair, in the order (0,1), (0,2) ... (1,2) ...; NULL: the inputs have nothing to do with each other.
 */
double uncertainty_combined(const struct uncertain *inputs, unsigned count, const double *correlations);

/*
 * Guarded decision (ILAC-G8 and ISO 14253-1, w = U): a value lies between `from` and `to`, its middle less and plus the expanded
 * uncertainty. Inside: all of that is, an end at a limit too; below, above: all of it is beyond that limit. INT64_MIN, INT64_MAX: no limit.
 */
enum fit { FIT_INSIDE, FIT_BELOW, FIT_ABOVE, FIT_UNSURE };
static inline enum fit range_fit(int64_t from, int64_t to, int64_t low, int64_t high)
{
    if (to < low)
        return FIT_BELOW;
    if (from > high)
        return FIT_ABOVE;
    return from < low || to > high ? FIT_UNSURE : FIT_INSIDE;
}

/* Conformance probability (JCGM 106): the share of what the value may be that lies inside; its standard uncertainty is expanded / 2. */
double conformance_probability(int64_t value, int64_t expanded, int64_t low, int64_t high);
