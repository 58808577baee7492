/* The parameters as the project's catalogue lists them: typed from there, in thousandths of the unit. */
#include "rules/groups.h"
#include "rules/parameter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <cmocka.h>

#define NONE PARAMETER_NONE

static const struct { const char *name; int64_t min, max; const char *unit; } expected[] = {
    { "fBitRate", 270000, 330000, "kbit/s" },
    { "pBitRate", -250, 250, "%" },
    { "tInterFrameGap", 25, NONE, "ms" },
    { "tTransmit", NONE, 195, "ms" },
    { "tReceive", 900, 1100, "ms" },
    { "tRetry", NONE, 195, "ms" },
    { "nRetryCount@2.0", 3000, 3000, "" },
    { "nRetryCount@3.x", 2000, 2000, "" },
    { "tSenderResponse", 24000, 33000, "ms" },
    { "tSenderResponse@2.0", 24000, 30000, "ms" },
    { "tSenderResponse@3.0", 24000, 30000, "ms" },
    { "tSenderResponse@3.1", 26000, 32000, "ms" },
    { "tSenderResponse@3.2", 27000, 33000, "ms" },
    { "tSenderResponse@3.2-1.2", 27000, 50000, "ms" },
    { "tReceiverResponse", NONE, 15000, "ms" },
    { "tVDMReceiverResponse", NONE, 15000, "ms" },
    { "tSrcTransition", 25000, 35000, "ms" },
    { "tSrcTransReq@spr", NONE, 325000, "ms" },
    { "tSrcTransReq@epr", NONE, 760000, "ms" },
    { "tPSTransition@spr", 450000, 550000, "ms" },
    { "tPSTransition@epr", 830000, 1020000, "ms" },
    { "tPpsSrcTransSmall", NONE, 25000, "ms" },
    { "tPpsSrcTransLarge", NONE, 275000, "ms" },
    { "tAvsSrcTransSmall", NONE, 50000, "ms" },
    { "tAvsSrcTransLarge", NONE, 700000, "ms" },
    { "vPpsSmallStep", 500, 500, "V" },
    { "vAvsSmallStep", 1000, 1000, "V" },
    { "tPSHardReset", 25000, 35000, "ms" },
    { "tSafe0V", NONE, 650000, "ms" },
    { "tSrcTurnOn", NONE, 275000, "ms" },
    { "tFirstSourceCap", NONE, 250000, "ms" },
    { "tSrcRecover@spr", 660000, 1000000, "ms" },
    { "tSrcRecover@epr", 660000, 1425000, "ms" },
    { "tTypeCSendSourceCap", 100000, 200000, "ms" },
    { "nCapsCount", 50000, 50000, "" },
    { "tPPSRequest", NONE, 10000, "s" },
    { "tPPSTimeout", 12000, 15000, "s" },
    { "tSinkEPRKeepAlive", NONE, 500000, "ms" },
    { "tSourceEPRKeepAlive", 750000, 1000000, "ms" },
    { "vSrcNew@fixed", -5000, 5000, "%" },
    { "vSrcNew@variable", 950, 1050, "" },
    { "vSrcNew@battery", 950, 1050, "" },
    { "vPpsNew", -5000, 5000, "%" },
    { "vAvsNew", -5000, 5000, "%" },
    { "vSrcValid", -500, 500, "V" },
    { "vSrcSlewPos", NONE, 30000, "mV/us" },
    { "vSrcSlewNeg", -30000, NONE, "mV/us" },
    { "vSrcNeg", -300, NONE, "V" },
    { "iPpsCLNew@to-3A", -150000, 150000, "mA" },
    { "iPpsCLNew@above-3A", -5000, 5000, "%" },
    { "vPpsShutdown", 850, NONE, "" },
    { "tSrcTransient", NONE, 5000, "ms" },
    { "tSwapSourceStart", 20000, NONE, "ms" },
    { "tVCONNSourceOn", NONE, 100000, "ms" },
    { "tDiscoverIdentity", 40000, NONE, "ms" },
    { "tPSSourceOff@spr", NONE, 750000, "ms" },
    { "tPSSourceOff@epr", NONE, 1120000, "ms" },
    { "tPSSourceOn", NONE, 390000, "ms" },
    { "answer_none_ms", 100000, 100000, "ms" },
    { "host_time_ns", 1000, 1000, "ms" },
    { "mark_time_ns", 1000000, 1000000, "ms" },
    { "static_ms", 10000, 10000, "ms" },
    { "load_step_ma", 250000, 250000, "mA" },
    { "still_mv", 20000, 20000, "mV" },
    { "move_mv", 200000, 200000, "mV" },
    { "monotonic_mv", 200000, 200000, "mV" },
    { "path_drop_mv", NONE, 750000, "mV" },
    { "level_reach_ms", 500000, 500000, "ms" },
    { "detach_watch_ms", 2000000, 2000000, "ms" },
    { "safe0v_watch_ms", 100000, 100000, "ms" },
    { "return_watch_ms", 300000, 300000, "ms" },
    { "unasked_step", 1000, NONE, "V" },
    { "unasked_step_share", 10000, NONE, "%" },
    { "unasked_steadiness", NONE, 3000, "%" },
    { "unasked_hold", 100000, NONE, "ms" },
    { "sink_current_margin_ma", NONE, 50000, "mA" },
    { "reverse_ma", NONE, 50000, "mA" },
    { "current_mean_ms", 100000, 100000, "ms" },
    { "epr_caps_ms", NONE, 250000, "ms" },
    { "wait_max", NONE, 10000, "" },
    { "caps_same_max", NONE, 2000, "" },
    { "caps_same_s", 30000, 30000, "s" },
    { "reset_cause_s", 6000, 6000, "s" },
    { "reset_cause_s@pps", 16000, 16000, "s" },
    { "pps_step_tol_mv", -20000, 20000, "mV" },
    { "fr_dip_ms", NONE, 5000, "ms" },
    { "alert_answer_s", NONE, 1000, "s" },
    { "vdm_survive_s", 1000, 1000, "s" },
    { "nBusyCount", NONE, 5000, "" },
    { "full_charge_share", NONE, 120000, "%" },
    { "plug_window_s", 10000, 10000, "s" },
    { "restore_s", NONE, 10000, "s" },
    { "restore_watch_s", 60000, 60000, "s" },
    { "come_back_s", NONE, 5000, "s" },
    { "dropout_share", 90000, 90000, "%" },
    { "dropout_ms", 1000, 1000, "ms" },
    { "input_dropout_ms", 10000, 10000, "ms" },
    { "budget_tol", NONE, 2000, "%" },
    { "budget_grace_s", NONE, 2000, "s" },
    { "loop_count", 3000, 3000, "" },
    { "loop_s", 30000, 30000, "s" },
    { "sustain_share", 98000, NONE, "%" },
    { "share_min", 70000, NONE, "%" },
    { "round_trip_min", 65000, NONE, "%" },
    { "alive_ma", 100000, 100000, "mA" },
    { "alive_hold_s", 180000, NONE, "s" },
    { "recover_s", NONE, 300000, "s" },
    { "wake_s", NONE, 5000, "s" },
    { "trip_max", NONE, 150000, "%" },
};
enum { EXPECTED = sizeof expected / sizeof expected[0] };

static void every_parameter_of_the_catalogue_has_its_value(void **state)
{
    (void)state;
    for (unsigned i = 0; i < EXPECTED; i++) {
        const struct parameter *p = parameter_find(expected[i].name);

        if (!p)
            fail_msg("no parameter %s", expected[i].name);
        if (p->min != expected[i].min || p->max != expected[i].max || strcmp(p->unit, expected[i].unit) != 0)
            fail_msg("%s is %lld to %lld %s", p->name, (long long)p->min, (long long)p->max, p->unit);
    }
}

static void every_parameter_says_what_it_is_and_from_where(void **state)
{
    (void)state;
    for (const struct parameter *p = parameters_all; p->name; p++) {
        assert_true(p->name[0] && p->meaning && p->meaning[0] && p->source && p->source[0] && p->unit);
        assert_true(p->min != NONE || p->max != NONE);
        assert_true(p->min == NONE || p->max == NONE || p->min <= p->max);
        assert_ptr_equal(parameter_find(p->name), p); /* so no name stands twice */
    }
}

static void a_name_that_nobody_gave_is_not_found(void **state)
{
    (void)state;
    assert_null(parameter_find("tSenderResponse@9.9"));
    assert_null(parameter_find(""));
}

static void rules_name_only_parameters_that_there_are(void **state)
{
    (void)state;
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            for (const char *const *name = r->parameters; name && *name; name++)
                if (!parameter_find(*name))
                    fail_msg("%s names %s", r->id, *name);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_parameter_of_the_catalogue_has_its_value),
        cmocka_unit_test(every_parameter_says_what_it_is_and_from_where),
        cmocka_unit_test(a_name_that_nobody_gave_is_not_found),
        cmocka_unit_test(rules_name_only_parameters_that_there_are),
    };

    return cmocka_run_group_tests_name("parameters", tests, NULL, NULL);
}
