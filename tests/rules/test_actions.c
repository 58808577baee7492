/*
 * Actions at the bench: the table of what shows a rule has the ids of the catalogue (typed from its index, group by group), and
 * every rule that this build judges can be shown in every role that it is about.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "rules/actions.h"

static const struct { const char *group; unsigned rules; const char *names; } catalogue[] = {
    { "wire", 8, "crc crc-repeated bit-rate bit-drift preamble ordered-set inter-frame-gap end-of-packet" },
    { "message", 17, "reserved-type reserved-bits object-count length power-role data-role header-revision id-sequence id-after-reset "
                     "direction set-allowed allowed-in-revision deprecated chunk-size chunk-order unchunked-agreed extended-size" },
    { "exchange", 20, "goodcrc first-try goodcrc-id goodcrc-unprompted retry-count retry-same answer answer-kind request-answered "
                      "request-after-caps source-caps-answer ready-after-accept no-ready-without-accept unexpected-message "
                      "not-supported soft-reset-accept one-at-a-time sink-tx wait-endless hard-reset-after-timeout" },
    { "caps", 32, "first-5v count order apdo-order unique-voltage zero-object first-only-flags reserved-bits apdo-in-revision "
                  "spr-limits variable-range battery-range pps-range pps-current pps-power-limited power-rules-voltages "
                  "power-rules-currents over-rating agrees-with-extended-rating agrees-with-source-info over-3a-needs-cable "
                  "epr-needs-cable epr-positions epr-padding avs-required avs-range epr-flag peak-current changed-unannounced "
                  "repeats-identical sink-first-5v sink-order" },
    { "request", 12, "position current current-order power mismatch-flag pps-range avs-range avs-step reserved-bits epr-copy "
                     "valid-accepted invalid-refused" },
    { "time", 41, "goodcrc-turnaround retry receiver-response source-response first-request sender-patience first-caps caps-interval "
                  "caps-give-up src-transition ready-spr ready-epr pps-small pps-large avs-small avs-large ps-transition "
                  "hard-reset-response safe0v src-recover turn-on vbus-on vbus-off-detach sink-request-after-wait pps-keepalive "
                  "pps-timeout epr-keepalive epr-timeout chunk-request chunk-response pr-swap-off pr-swap-on pr-swap-start fr-swap "
                  "vconn-on vdm-response vdm-busy soft-reset discover-identity data-reset sink-tx" },
    { "volt", 18, "safe5v-before-contract contract-window transient-window ready-inside-window level-not-reached overshoot undershoot "
                  "slew-up slew-down monotonic negative safe0v-after-hard-reset safe0v-after-detach cold-socket unasked-change "
                  "drop-under-load sink-over-contract reverse-current" },
    { "pps", 10, "window min-voltage max-voltage step-accuracy monotonic current-limit limits-early limit-no-reset limit-flag "
                 "timeout-action" },
    { "epr", 9, "entry-order entry-needs-cable entry-needs-capable caps-in-mode spr-caps-in-mode request-kind keepalive-ack exit "
                "high-voltage-outside" },
    { "reset", 8, "hard-reset-vbus-cycle restart-with-caps soft-reset-renegotiates soft-reset-keeps-vbus contract-after-reset repeated "
                  "unexplained cable-reset" },
    { "swap", 7, "pr-order pr-vbus-off dr-order vconn-order fr-order fr-vbus dual-role-flag" },
    { "cable", 5, "discovered-before-5a identity-valid rating-agrees epr-rating current-over-rating" },
    { "vdm", 6, "header answer answer-fields identity-fields busy-count survives" },
    { "ext", 10, "status-fields source-caps-ext-fields source-info-fields battery-fields alert-fields alert-answered trip-announced "
                 "manufacturer-fields revision-fields country-fields" },
};
enum { GROUPS = sizeof catalogue / sizeof catalogue[0] };

static void the_table_has_the_rules_of_the_catalogue_and_no_others(void **state)
{
    unsigned all = 0, rows = 0;

    (void)state;
    for (unsigned g = 0; g < GROUPS; g++) {
        unsigned n = 0;

        for (const char *at = catalogue[g].names; *at; at += strspn(at, " ")) {
            char   id[64] = "";
            size_t length = strcspn(at, " ");

            strcat(strcat(id, catalogue[g].group), ".");
            strncat(id, at, length);
            at += length;
            n++;
            if (!rule_actions_find(id))
                fail_msg("no action for %s", id);
        }
        assert_int_equal(n, catalogue[g].rules);
        all += n;
    }
    for (const struct rule_actions *r = rule_actions_all; r->rule; r++)
        rows++;
    assert_int_equal(rows, all);
}

static bool shown_as(const struct rule_actions *a, unsigned role)
{
    for (unsigned k = 0; k < ACTIONS; k++)
        if (a->actions >> k & 1 && actions_all[k].roles & role)
            return true;
    return false;
}

static void every_rule_of_this_build_can_be_shown_by_whom_it_is_about(void **state)
{
    (void)state;
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++) {
            const struct rule_actions *a = rule_actions_find(r->id);
            bool                       source = r->whom == WHO_SOURCE || r->whom == WHO_EACH;
            bool                       sink = r->whom == WHO_SINK || r->whom == WHO_EACH;

            if (!a || a->actions == 0 || a->actions >> ACTIONS)
                fail_msg("no action shows %s", r->id);
            if ((source && !shown_as(a, ROLE_SOURCE)) || (sink && !shown_as(a, ROLE_SINK)))
                fail_msg("no action shows %s in each role that it is about", r->id);
            assert_true(a->feature < FEATURES);
        }
}

static void an_action_says_what_to_do_with_what_and_where_it_can_hurt(void **state)
{
    (void)state;
    for (unsigned k = 0; k < ACTIONS; k++) {
        const struct action *a = &actions_all[k];

        assert_non_null(a->id);
        assert_non_null(a->needs);
        assert_int_equal(a->sentence[strlen(a->sentence) - 1], '.');
        assert_true(a->roles >= ROLE_SOURCE && a->roles <= ROLE_EITHER);
        assert_true(a->feature < FEATURES);
        if (k > 0)
            assert_true(a->rank >= actions_all[k - 1].rank);
        if (a->rank >= RANK_POWER)
            assert_non_null(a->caution);
        for (unsigned i = 0; i < k; i++)
            assert_string_not_equal(a->id, actions_all[i].id);
    }
    assert_non_null(strstr(actions_all[ACTION_OVERLOAD].caution, "local codes"));
}

static void every_action_shows_something(void **state)
{
    uint64_t used = 0;

    (void)state;
    for (const struct rule_actions *r = rule_actions_all; r->rule; r++)
        used |= r->actions;
    for (unsigned k = 0; k < ACTIONS; k++)
        if (!(used >> k & 1))
            fail_msg("%s shows no rule", actions_all[k].id);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_table_has_the_rules_of_the_catalogue_and_no_others),
        cmocka_unit_test(every_rule_of_this_build_can_be_shown_by_whom_it_is_about),
        cmocka_unit_test(an_action_says_what_to_do_with_what_and_where_it_can_hurt),
        cmocka_unit_test(every_action_shows_something),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
