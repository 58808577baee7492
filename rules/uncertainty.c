/* What results are worth, and what may be said of them. */
#include "rules/uncertainty.h"

#include <math.h>

double uncertainty_combined(const struct uncertain *inputs, unsigned count, const double *correlations)
{
    double variance = 0;

    for (unsigned i = 0; i < count; i++) {
        double part = inputs[i].sensitivity * inputs[i].u;

        variance += part * part;
        for (unsigned j = i + 1; correlations && j < count; j++)
            variance += 2 * part * inputs[j].sensitivity * inputs[j].u * *correlations++;
    }
    return variance > 0 ? sqrt(variance) : 0; /* below 0 by rounding alone */
}

/* Share of a normal distribution below z standard deviations. */
static double phi(double z)
{
    return 0.5 * erfc(-z / sqrt(2.0));
}

double conformance_probability(int64_t value, int64_t expanded, int64_t low, int64_t high)
{
    double y = (double)value, u = expanded > 0 ? (double)expanded / 2 : 1e-9;

    return (high != INT64_MAX ? phi(((double)high - y) / u) : 1) - (low != INT64_MIN ? phi(((double)low - y) / u) : 0);
}
