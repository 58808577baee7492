/*
 * Combined uncertainty where the inputs depend on each other, by the worked example of JCGM 100:2008 (GUM), annex H.2: voltage, current
 * and phase were read together five times (table H.2), and resistance, reactance and impedance follow from their means (tables H.3, H.4).
 * The readings are from memory; with them means, uncertainties, correlations and results come out as published.
 *
 * Decisions by value, expanded uncertainty and limit, whatever the unit (cases A7 of the project's domain notes, by ILAC-G8 and ISO
 * 14253-1 with w = U), and the conformance probability of JCGM 106.
 */
#include "rules/uncertainty.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <math.h>
#include <cmocka.h>

enum { VOLT, AMP, PHASE, INPUTS, READINGS = 5 };

static const double readings[INPUTS][READINGS] = {
    { 5.007, 4.994, 5.005, 4.990, 4.999 },
    { 19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3 },
    { 1.0456, 1.0438, 1.0468, 1.0428, 1.0433 },
};

/* Means, their standard uncertainties (type A), and the correlations of (V,I), (V,phase), (I,phase). */
struct inputs { double mean[INPUTS], u[INPUTS], r[INPUTS]; };

static double covariance(const struct inputs *in, unsigned a, unsigned b)
{
    double sum = 0;

    for (unsigned k = 0; k < READINGS; k++)
        sum += (readings[a][k] - in->mean[a]) * (readings[b][k] - in->mean[b]);
    return sum / (READINGS * (READINGS - 1));
}

static struct inputs read_together(void)
{
    struct inputs in = { .mean = { 0 } };

    for (unsigned a = 0; a < INPUTS; a++)
        for (unsigned k = 0; k < READINGS; k++)
            in.mean[a] += readings[a][k] / READINGS;
    for (unsigned a = 0; a < INPUTS; a++)
        in.u[a] = sqrt(covariance(&in, a, a));
    in.r[0] = covariance(&in, VOLT, AMP) / (in.u[VOLT] * in.u[AMP]);
    in.r[1] = covariance(&in, VOLT, PHASE) / (in.u[VOLT] * in.u[PHASE]);
    in.r[2] = covariance(&in, AMP, PHASE) / (in.u[AMP] * in.u[PHASE]);
    return in;
}

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.6g, expected %.6g", value, expected);
}

/* GUM, table H.2, in the digits that it gives. */
static void the_inputs_are_those_of_gum_h2(void **state)
{
    const struct inputs in = read_together();

    (void)state;
    near(in.mean[VOLT], 4.9990, 5e-5);
    near(in.mean[AMP], 19.6610e-3, 5e-8);
    near(in.mean[PHASE], 1.04446, 5e-6);
    near(in.u[VOLT], 0.0032, 5e-5);
    near(in.u[AMP], 0.0095e-3, 5e-8);
    near(in.u[PHASE], 0.00075, 5e-6);
    near(in.r[0], -0.355, 0.0005);
    near(in.r[1], 0.858, 0.0005);
    near(in.r[2], -0.645, 0.0005);
}

static double combined(const struct inputs *in, const double by[INPUTS], const double *correlations)
{
    const struct uncertain parts[INPUTS] = { { by[VOLT], in->u[VOLT] }, { by[AMP], in->u[AMP] }, { by[PHASE], in->u[PHASE] } };

    return uncertainty_combined(parts, INPUTS, correlations);
}

/* A7-1: R = V cos phase / I, X = V sin phase / I, Z = V / I. Published: 127.732 +- 0.071, 219.847 +- 0.295 (0.296 from the readings), 254.260 +- 0.236. */
static void resistance_reactance_and_impedance_are_those_of_gum_h2(void **state)
{
    const struct inputs in = read_together();
    double v = in.mean[VOLT], i = in.mean[AMP], z = v / i, r = z * cos(in.mean[PHASE]), x = z * sin(in.mean[PHASE]);
    const double of_r[] = { r / v, -r / i, -x }, of_x[] = { x / v, -x / i, r }, of_z[] = { z / v, -z / i, 0 };

    (void)state;
    near(r, 127.732, 0.0005);
    near(x, 219.847, 0.0005);
    near(z, 254.260, 0.0005);
    near(combined(&in, of_r, in.r), 0.071, 0.0005);
    near(combined(&in, of_x, in.r), 0.2955, 0.001);
    near(combined(&in, of_z, in.r), 0.236, 0.0005);
}

/* A7-2: the power of the same readings, 98.2853 mW +- 0.06403; as if they had nothing to do with each other +- 0.07889. */
static void power_of_readings_taken_together_is_known_better_than_they_say_apart(void **state)
{
    const struct inputs    in = read_together();
    const struct uncertain parts[] = { { in.mean[AMP], in.u[VOLT] }, { in.mean[VOLT], in.u[AMP] } };

    (void)state;
    near(in.mean[VOLT] * in.mean[AMP], 98.2853e-3, 5e-8);
    near(uncertainty_combined(parts, 2, in.r), 0.06403e-3, 5e-9);
    near(uncertainty_combined(parts, 2, NULL), 0.07889e-3, 5e-9);
}

/* By hand: 3 and 4 make 5, 7 where they go together, 1 where they go against each other; an offset falls out of a difference. */
static void what_two_results_share_adds_up_or_falls_out(void **state)
{
    const struct uncertain sum[] = { { 1, 3 }, { 1, 4 } }, difference[] = { { 1, 5 }, { -1, 5 } };
    const struct uncertain four[] = { { 1, 1 }, { 1, 1 }, { 1, 1 }, { -2, 1 } };
    const double           together[] = { 1 }, against[] = { -1 };
    const double           pairs[] = { 0, 0, 0.5, 0, 0.25, 1 }; /* 7 and 2 (-2 x 0.5 - 2 x 0.25 - 2 x 1): 0, by rounding not below */

    (void)state;
    near(uncertainty_combined(sum, 2, NULL), 5, 1e-12);
    near(uncertainty_combined(sum, 2, together), 7, 1e-12);
    near(uncertainty_combined(sum, 2, against), 1, 1e-12);
    near(uncertainty_combined(difference, 2, together), 0, 1e-12);
    near(uncertainty_combined(difference, 2, NULL), 7.0710678, 1e-7);
    near(uncertainty_combined(four, 4, pairs), 0, 1e-12);
    near(uncertainty_combined(four, 4, NULL), 2.6457513, 1e-7);
    near(uncertainty_combined(sum, 0, NULL), 0, 0);
}

struct decided { const char *name; int64_t value, u, low, high; enum fit fit; double probability; };

/* Efficiencies in millionths, energies in mWh, volts in mV, times in us. Probabilities: phi by the notes' table and by an independent error function. */
static void a_decision_needs_value_uncertainty_and_limit_whatever_the_unit(void **state)
{
    static const struct decided cases[] = {
        { "A7-3, 8.57 V", 8570, 30, 8550, INT64_MAX, FIT_UNSURE, 0.909 },
        { "A7-4, 8.58 V", 8580, 30, 8550, INT64_MAX, FIT_INSIDE, 0.97725 },
        { "A7-5, 8.53 V", 8530, 30, 8550, INT64_MAX, FIT_UNSURE, 0.0912 },
        { "A7-6, 8.519 V", 8519, 30, 8550, INT64_MAX, FIT_BELOW, 0.0194 },
        { "A7-7, efficiency 0.884, U 0.006, at least 0.880", 884000, 6000, 880000, INT64_MAX, FIT_UNSURE, 0.909 },
        { "A7-8, 9 V, U 0.5 V, 8.55 to 9.45 V", 9000, 500, 8550, 9450, FIT_UNSURE, 0.92814 },
        { "A7-9, 62.9 Wh, U 0.4, claimed 60 Wh", 62900, 400, 60000, INT64_MAX, FIT_INSIDE, 1 },
        { "A7-10, 284.8 ms, U 1 ms, at most 285 ms", 284800, 1000, INT64_MIN, 285000, FIT_UNSURE, 0.65542 },
        { "JCGM 106, -5.47 V, u 0.05, at most -5.40 V", -5470, 100, INT64_MIN, -5400, FIT_UNSURE, 0.9192 },
        { "a value at both limits, known exactly", 8550, 0, 8550, 8550, FIT_INSIDE, 0 },
        { "claimed 60 Wh, 59.6 Wh", 59600, 400, 60000, INT64_MAX, FIT_UNSURE, 0.02275 },
        { "claimed 60 Wh, 59.5 Wh", 59500, 400, 60000, INT64_MAX, FIT_BELOW, 0.00621 },
        { "0.887, at least 0.880", 887000, 6000, 880000, INT64_MAX, FIT_INSIDE, 0.99018 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        const struct decided *c = &cases[k];

        if (range_fit(c->value - c->u, c->value + c->u, c->low, c->high) != c->fit)
            fail_msg("%s", c->name);
        near(conformance_probability(c->value, c->u, c->low, c->high), c->probability, 0.0005);
    }
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_inputs_are_those_of_gum_h2),
        cmocka_unit_test(resistance_reactance_and_impedance_are_those_of_gum_h2),
        cmocka_unit_test(power_of_readings_taken_together_is_known_better_than_they_say_apart),
        cmocka_unit_test(what_two_results_share_adds_up_or_falls_out),
        cmocka_unit_test(a_decision_needs_value_uncertainty_and_limit_whatever_the_unit),
    };

    return cmocka_run_group_tests_name("What results are worth, and decisions", tests, NULL, NULL);
}
