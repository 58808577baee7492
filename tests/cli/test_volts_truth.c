/*
 * check --volts beside the truth of invented traces: what the model of synth gave a source, a path and an instrument, and what it says of
 * each contract and each step of its load, is what the numbers have to come to within what they claim. The model shares nothing with the
 * rules. The instrument's errors are drawn from what ABOUT states, so that of expanded uncertainties (k = 2) about one in twenty may be
 * missed; here one in ten is allowed, and none by more than twice.
 */
#define _POSIX_C_SOURCE 200809L /* mkstemp, dprintf */
#include "tests/cli/cli_try.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { SEEDS = 12, REGULATION_MOHM = 50, PATH_U_MOHM = 3, INTERVAL_NS = 20000 };

static const char scenario[] =
    "{\"schema\":1,\"note\":\"INVENTED\",\"ports\":[{\"port\":0,\"rated_w\":60,%s\"output\":{\"ramp\":\"straight\",\"slew_uv_us\":2000,"
    "\"noise_uv\":0,\"regulation_mohm\":50,\"dip_mohm\":150,\"recovery_us\":800,\"load_us\":100},\"cable\":{\"kind\":\"passive\"},\"steps\":["
    "{\"do\":\"attach\"},{\"do\":\"wait\",\"ms\":500},{\"do\":\"request\",\"position\":2,\"ma\":2500,\"max_ma\":2500},{\"do\":\"wait\",\"ms\":500},"
    "{\"do\":\"load\",\"ma\":600},{\"do\":\"wait\",\"ms\":250},{\"do\":\"load\",\"ma\":1400},{\"do\":\"wait\",\"ms\":250},"
    "{\"do\":\"load\",\"ma\":2400},{\"do\":\"wait\",\"ms\":250},{\"do\":\"load\",\"ma\":200},{\"do\":\"wait\",\"ms\":250},"
    "{\"do\":\"load\",\"ma\":0},{\"do\":\"wait\",\"ms\":250},"
    "{\"do\":\"request\",\"position\":3},{\"do\":\"wait\",\"ms\":500},{\"do\":\"request\",\"position\":1},{\"do\":\"wait\",\"ms\":500}]}],"
    "\"instrument\":{\"power\":true,\"power_interval_us\":20,\"power_rows\":400,\"errors\":true,\"amp_gain_ppm\":500}}";

/* How often a number was off by more than it claims. */
struct tally { const char *what; unsigned count, missed; };

static void held(struct tally *t, double off, double allowed)
{
    t->count++;
    t->missed += fabs(off) > allowed;
    if (fabs(off) > 2 * allowed)
        fail_msg("%s is off by %g, where %g was claimed", t->what, off, allowed);
}

static void within(struct tally *t, const cJSON *range, double ns, double more_ns)
{
    double least = number_at(range, "least_ns"), most = number_at(range, "most_ns");

    held(t, ns - (least + most) / 2, (most - least) / 2 + more_ns);
}

static cJSON *truth_read(const char *path)
{
    static char text[1 << 18];
    FILE       *f = fopen(path, "rb");

    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    return cJSON_Parse(text);
}

struct tallies { struct tally reach, move, level, regulation, fall, dip; unsigned contracts, steps; };

static const cJSON *line_of(const cJSON *check, double frame)
{
    const cJSON *one;

    cJSON_ArrayForEach(one, at(check, "volts"))
        if (cJSON_IsNumber(at(one, "frame")) && number_at(one, "frame") == frame)
            return one;
    return NULL;
}

/* VBUS goes straight to where this source puts it, and is in the window from 5 % off the contract's voltage on. */
static double into_window_ns(const cJSON *true_one, double mv)
{
    double from_uv = number_at(true_one, "change.from_uv"), to_uv = number_at(true_one, "set_uv");
    double begin_ns = number_at(true_one, "change.begin_ns"), end_ns = number_at(true_one, "change.end_ns");
    double limit_uv = mv * (to_uv > from_uv ? 950 : 1050);

    return begin_ns + (limit_uv - from_uv) / (to_uv - from_uv) * (end_ns - begin_ns);
}

/* Times of a change count from the acknowledged Accept: PS_RDY is a time from there, and a time in the trace. */
static void hold_change(struct tallies *t, const cJSON *line, const cJSON *true_one)
{
    double origin_ns = number_at(line, "t_ns") - (number_at(line, "change.ready.least_ns") + number_at(line, "change.ready.most_ns")) / 2;
    double around_ns = (number_at(line, "change.ready.most_ns") - number_at(line, "change.ready.least_ns")) / 2;

    if (!true_at(line, "change.another_level"))
        return;
    assert_true(fabs(number_at(true_one, "change.window_ns") - into_window_ns(true_one, number_at(line, "mv"))) < 2000);
    within(&t->reach, at(line, "change.reached"), into_window_ns(true_one, number_at(line, "mv")) - origin_ns, around_ns + INTERVAL_NS);
    /* 20 mV of 2 mV/us go by before VBUS is seen to move. */
    within(&t->move, at(line, "change.begins_to_move"), number_at(true_one, "change.begin_ns") - origin_ns, around_ns + INTERVAL_NS + 10000);
}

static void hold_levels(struct tallies *t, const cJSON *line, const cJSON *true_one, double path_u_mohm)
{
    bool   loaded = size_at(true_one, "loads") > 1;
    double heaviest_a = number_at(true_one, "ibus_max_ua") / 1e6;

    if (number_at(true_one, "ibus_min_ua") == 0) /* its highest static value is the one without a load */
        held(&t->level, number_at(line, "static.max.uv") - number_at(true_one, "set_uv"), number_at(line, "margin.uncertainty_uv") + 100);
    if (!loaded || heaviest_a < 1)
        return;
    held(&t->regulation, number_at(line, "load_regulation.mohm") - REGULATION_MOHM, number_at(line, "load_regulation.uncertainty_mohm"));
    assert_true(number_at(line, "load_regulation.uncertainty_mohm") < 0.5 + 2 * path_u_mohm);
}

static const cJSON *step_of(const cJSON *check, const cJSON *line, double t_ns)
{
    const cJSON *one;

    cJSON_ArrayForEach(one, at(check, "load_steps"))
        if (number_at(one, "contract_frame") == number_at(line, "frame") && fabs(number_at(one, "to_t_ns") - t_ns) < 200000)
            return one;
    return NULL;
}

static void hold_steps(struct tallies *t, const cJSON *check, const cJSON *line, const cJSON *true_one, double path_u_mohm)
{
    const cJSON *load;

    cJSON_ArrayForEach(load, at(true_one, "loads"))
    {
        double       by_ua = number_at(load, "to_ua") - number_at(load, "from_ua");
        const cJSON *step = step_of(check, line, number_at(load, "t_ns"));

        if (fabs(by_ua) < 300000 || number_at(load, "t_ns") < number_at(line, "t_ns") + 60e6)
            continue;
        if (!step)
            fail_msg("the step of %g uA is not there", by_ua);
        t->steps++;
        assert_string_equal(text_at(step, "load"), by_ua > 0 ? "up" : "down");
        double path_uv = 2 * path_u_mohm * fabs(by_ua) / 1000;
        double fall_uv = number_at(step, "final_uv") - number_at(step, "before_uv");

        held(&t->fall, fall_uv - (number_at(load, "to_uv") - number_at(load, "from_uv")), path_uv + 500);
        /* The deepest of many readings lies as deep as their noise, and may lie between two of them. */
        held(&t->dip, number_at(step, by_ua > 0 ? "dip_uv" : "rise_uv") - fabs(number_at(load, "dip_uv")),
             path_uv + number_at(step, "noise_uv") + 0.05 * fabs(number_at(load, "dip_uv")));
    }
}

static void hold_trace(struct tallies *t, const char *path_words, unsigned seed, double path_u_mohm)
{
    char paths[3][64] = { "/tmp/portassay-scenario-XXXXXX", "/tmp/portassay-trace-XXXXXX", "/tmp/portassay-truth-XXXXXX" }, number[16];

    for (unsigned k = 0; k < 3; k++) {
        int fd = mkstemp(paths[k]);

        assert_true(fd >= 0);
        if (k == 0)
            assert_true(dprintf(fd, scenario, path_words) > 0);
        close(fd);
    }
    snprintf(number, sizeof number, "%u", seed);
    struct try made = try_run(&command_synth, "-q", "-s", number, "-t", paths[2], "-o", paths[1], paths[0], NULL); /* the last -o counts */

    assert_int_equal(made.status, STATUS_DONE);
    try_free(&made);
    struct try   found = try_run(&command_check, "--volts", "--json", paths[1], NULL);
    cJSON       *truth = truth_read(paths[2]);
    const cJSON *one;

    cJSON_ArrayForEach(one, at(truth, "contracts"))
    {
        const cJSON *line = line_of(found.json, number_at(one, "frame"));

        if (!line)
            fail_msg("no line for the contract of frame %g", number_at(one, "frame"));
        t->contracts++;
        hold_change(t, line, one);
        hold_levels(t, line, one, path_u_mohm);
        hold_steps(t, found.json, line, one, path_u_mohm);
    }
    cJSON_Delete(truth);
    try_free(&found);
    for (unsigned k = 0; k < 3; k++)
        unlink(paths[k]);
}

static void hold_all(const char *path_words, double path_u_mohm)
{
    struct tallies t = { { "into the window", 0, 0 }, { "begins to move", 0, 0 }, { "level", 0, 0 },
                         { "load regulation", 0, 0 }, { "fall under load", 0, 0 }, { "dip", 0, 0 }, 0, 0 };
    const struct tally *all[] = { &t.reach, &t.move, &t.level, &t.regulation, &t.fall, &t.dip };

    for (unsigned seed = 1; seed <= SEEDS; seed++)
        hold_trace(&t, path_words, seed, path_u_mohm);
    assert_true(t.contracts >= 3 * SEEDS);
    assert_true(t.steps >= 3 * SEEDS);
    for (unsigned k = 0; k < sizeof all / sizeof all[0]; k++) {
        print_message("%-16s %3u, missed %u\n", all[k]->what, all[k]->count, all[k]->missed);
        assert_true(all[k]->count >= SEEDS);
        if (all[k]->missed * 10 > all[k]->count)
            fail_msg("%s: %u of %u are off by more than they claim", all[k]->what, all[k]->missed, all[k]->count);
    }
}

static void numbers_measured_at_the_source_come_to_the_truth(void **state)
{
    (void)state;
    hold_all("", 0);
}

static void numbers_measured_at_the_sink_come_to_the_truth_of_the_source(void **state)
{
    (void)state;
    hold_all("\"path_mohm\":60,\"path_mohm_u\":3,", PATH_U_MOHM);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_measured_at_the_source_come_to_the_truth),
        cmocka_unit_test(numbers_measured_at_the_sink_come_to_the_truth_of_the_source),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
