/*
 * What the findings of caps.* say: sentence, values, measured value and limits, and the frames that they rest on. Limits
 * typed from the catalogue of rules.
 */
#include "tests/rules/caps_words.h"

#include "rules/parameter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { NOTHING = -1 };

struct said {
    struct row  row;
    const char *sentence;      /* how it begins */
    int64_t     values[6];
    const char *unit;          /* NULL: nothing was measured */
    int64_t     measured, low, high; /* thousandths; NOTHING: no such limit */
};

static void finding_says(void **state)
{
    const struct said *s = *state;
    struct lines *l = lines_new();
    const struct finding *f;

    row_play(l, &s->row);
    f = lines_finding(l, s->row.rule, s->row.undecided ? VERDICT_UNDECIDED : VERDICT_FAIL, 0);
    assert_non_null(f);
    assert_memory_equal(f->rule->sentences[f->sentence], s->sentence, strlen(s->sentence));
    for (unsigned k = 0; k < 6; k++)
        assert_int_equal(f->values[k], s->values[k]);
    assert_int_equal(f->has_measured, s->unit != NULL);
    if (s->unit) {
        assert_string_equal(f->unit, s->unit);
        assert_int_equal(f->measured, s->measured);
        assert_int_equal(f->has_low ? f->low : NOTHING, s->low);
        assert_int_equal(f->has_high ? f->high : NOTHING, s->high);
    }
    lines_free(l);
}

static const struct said says[] = {
    { { .name = "first-5v names the kind", .rule = "caps.first-5v", .words = { BATTERY(5000, 5000, 15000) } },
      "Object 1 is a {0:k} supply", { SUPPLY_BATTERY, 5000 }, NULL, 0, 0, 0 },
    { { .name = "first-5v names the voltage", .rule = "caps.first-5v", .words = { F9 } },
      "Object 1 is a fixed supply of {0:V}", { 9000, 5000 }, "V", 9000, 5000, 5000 },
    { { .name = "order names both kinds", .rule = "caps.order", .words = { F5, VARIABLE(6000, 12000, 1000), BATTERY(5000, 12000, 10000) } },
      "Object {0} is a {1:k} supply and", { 3, SUPPLY_BATTERY, 5000, 2, SUPPLY_VARIABLE, 6000 }, NULL, 0, 0, 0 },
    { { .name = "order names both voltages", .rule = "caps.order", .words = { F5, F15, F9 } },
      "Object {0} ({1:k}, from {2:V}) follows object", { 3, SUPPLY_FIXED, 9000, 2, SUPPLY_FIXED, 15000 }, NULL, 0, 0, 0 },
    { { .name = "apdo-order names the kind", .rule = "caps.apdo-order", .words = { F5, F9, PPS(3300, 11000, 3000), SPR_AVS(3000, 0) } },
      "Object {0} is SPR AVS", { 4, 15000, 3, 11000 }, NULL, 0, 0, 0 },
    { { .name = "apdo-order names the voltages", .rule = "caps.apdo-order", .words = { SET_65W, PPS(3300, 21000, 3000), PPS(3300, 11000, 3000) } },
      "Object {0}, a PPS up to {1:V}", { 6, 11000, 5, 21000 }, NULL, 0, 0, 0 },
    { { .name = "unique-voltage names both objects", .rule = "caps.unique-voltage", .words = { F5, F9, FIXED(9000, 2000) } },
      "Objects {0} and {1}", { 2, 3, 9000 }, NULL, 0, 0, 0 },
    { { .name = "zero-object names the object", .rule = "caps.zero-object", .words = { F5, 0, F9 } },
      "Object {0} is {1:x}", { 2, 0 }, NULL, 0, 0, 0 },
    { { .name = "zero-object names the voltage", .rule = "caps.zero-object", .words = { F5, F9, BATTERY(0, 0, 10000) } },
      "Object {0} ({1:x}) has a voltage of 0", { 3, BATTERY(0, 0, 10000) }, NULL, 0, 0, 0 },
    { { .name = "zero-object names the current", .rule = "caps.zero-object", .words = { F5, FIXED(9000, 0) } },
      "Object {0} ({1:x}) has a maximum current or power of 0", { 2, FIXED(9000, 0) }, NULL, 0, 0, 0 },
    { { .name = "first-only-flags names the bits", .rule = "caps.first-only-flags", .words = { F5 | 1u << 27, F9 | 1u << 27 } },
      "Object {0} ({1:x}) has flags set", { 2, F9 | 1u << 27, 1u << 27 }, NULL, 0, 0, 0 },
    { { .name = "reserved-bits names the bits", .rule = "caps.reserved-bits", .words = { F5, F9 | 1u << 22 } },
      "Object {0} ({1:x}) has reserved bits set", { 2, F9 | 1u << 22, 1u << 22 }, NULL, 0, 0, 0 },
    { { .name = "reserved-bits names the type", .rule = "caps.reserved-bits", .words = { F5, 0xf0000001u } },
      "Object {0} ({1:x}) is of the augmented type 11", { 2, 0xf0000001u, 0xf0000001u }, NULL, 0, 0, 0 },
    { { .name = "apdo-in-revision names the revision", .rule = "caps.apdo-in-revision", .words = { F5, SPR_AVS(3000, 0) },
        .source_revision = HEADER_R2 },
      "Object {0} ({1:x}) is an augmented object", { 2, SPR_AVS(3000, 0), HEADER_R2 }, NULL, 0, 0, 0 },
    { { .name = "spr-limits says the voltage", .rule = "caps.spr-limits", .words = { F5, FIXED(20050, 1000) } },
      "Object {0} ({1:k}) goes to", { 2, SUPPLY_FIXED, 20050, 20000 }, "V", 20050, NOTHING, 20000 },
    { { .name = "spr-limits says the current", .rule = "caps.spr-limits", .words = { F5, SPR_AVS(5000, 5010) } },
      "Object {0} ({1:k}) offers {2:A}", { 2, SUPPLY_SPR_AVS, 5010, 5000 }, "mA", 5010000, NOTHING, 5000000 },
    { { .name = "spr-limits says the power", .rule = "caps.spr-limits", .words = { F5, BATTERY(5000, 20000, 100250) } },
      "Object {0} ({1:k}) offers {2:W}", { 2, SUPPLY_BATTERY, 100250, 100000 }, "W", 100250, NOTHING, 100000 },
    { { .name = "variable-range says where it begins", .rule = "caps.variable-range", .words = { F5, VARIABLE(0, 9000, 1000) } },
      "Object {0}, a variable supply, begins at 0 V", { 2, 0, 9000 }, NULL, 0, 0, 0 },
    { { .name = "battery-range says both ends", .rule = "caps.battery-range", .words = { F5, BATTERY(9050, 9000, 1000) } },
      "Object {0}, a battery supply, has a minimum", { 2, 9050, 9000 }, NULL, 0, 0, 0 },
    { { .name = "pps-range names the family", .rule = "caps.pps-range", .words = { F5, PPS(2900, 16000, 1000) } },
      "Object {0}, of the family that ends at {2:V}", { 2, 2900, 16000, 3000, 21000 }, "V", 2900, 3000, NOTHING },
    { { .name = "pps-range says that it begins too low", .rule = "caps.pps-range", .words = { F5, PPS(2900, 12000, 1000) } },
      "Object {0} is programmable from {1:V} to {2:V}; no edition begins", { 2, 2900, 12000, 3000, 21000 }, "V", 2900, 3000, NOTHING },
    { { .name = "pps-range says that it ends too high", .rule = "caps.pps-range", .words = { F5, PPS(3300, 21100, 1000) } },
      "Object {0} is programmable from {1:V} to {2:V}; no edition ends", { 2, 3300, 21100, 3000, 21000 }, "V", 21100, NOTHING, 21000 },
    { { .name = "pps-range says that it is empty", .rule = "caps.pps-range", .words = { F5, PPS(9000, 3000, 1000) } },
      "Object {0} is programmable from {1:V} to {2:V}: an empty range", { 2, 9000, 3000, 3000, 21000 }, NULL, 0, 0, 0 },
    { { .name = "pps-current says what is owed by a declared rating", .rule = "caps.pps-current", .about = RATED(20),
        .words = { F5, FIXED(9000, 2220), PPS(3300, 11000, 2000) | LIMITED } },
      "Object {0}, programmable up to {1:V}, offers {2:A}; a port rated", { 3, 11000, 2000, 2200, 20000 }, "mA", 2000000, 2200000, NOTHING },
    { { .name = "pps-current says what is owed by an inferred rating", .rule = "caps.pps-current",
        .words = { F5, F9, PPS(3300, 11000, 2000) | LIMITED } },
      "Object {0}, programmable up to {1:V}, offers {2:A}; a port whose", { 3, 11000, 2000, 3000, 27000 }, "mA", 2000000, 3000000, NOTHING },
    { { .name = "pps-power-limited says the powers", .rule = "caps.pps-power-limited", .about = RATED(27),
        .words = { F5, F9, PPS(3300, 11000, 3000) } },
      "Object {0} offers {2:A} up to {1:V}, {3:W}; the port is rated", { 3, 11000, 3000, 33000, 27000 }, NULL, 0, 0, 0 },
    { { .name = "pps-power-limited says what is not known", .rule = "caps.pps-power-limited", .undecided = 1,
        .words = { F5, F9, PPS(3300, 11000, 3000) } },
      "Object {0} offers {2:A} up to {1:V}, {3:W}, with bit 27", { 3, 11000, 3000, 33000, 27000 }, NULL, 0, 0, 0 },
    { { .name = "power-rules-voltages names one voltage", .rule = "caps.power-rules-voltages", .words = { F5, F9, FIXED(20000, 2250) } },
      "A port of {0:W} owes a fixed supply of {1:V}", { 45000, 15000 }, NULL, 0, 0, 0 },
    { { .name = "power-rules-voltages names two", .rule = "caps.power-rules-voltages", .words = { F5, F9 }, .about = RATED(65) },
      "A port of {0:W} owes fixed supplies of {1:V} and {2:V};", { 65000, 15000, 20000 }, NULL, 0, 0, 0 },
    { { .name = "power-rules-voltages names three", .rule = "caps.power-rules-voltages", .words = { F5, FIXED(12000, 5000) } },
      "A port of {0:W} owes fixed supplies of {1:V}, {2:V} and {3:V}", { 60000, 9000, 15000, 20000 }, NULL, 0, 0, 0 },
    { { .name = "power-rules-currents says what is owed by a declared rating", .rule = "caps.power-rules-currents", .about = RATED(20),
        .words = { F5, FIXED(9000, 2210) } },
      "Object {0} offers {2:A} at {1:V}; a port rated", { 2, 9000, 2210, 2220, 20000 }, "mA", 2210000, 2220000, NOTHING },
    { { .name = "power-rules-currents says what is owed by an inferred rating", .rule = "caps.power-rules-currents",
        .words = { FIXED(5000, 2000), F9 } },
      "Object {0} offers {2:A} at {1:V}; a port whose", { 1, 5000, 2000, 3000, 27000 }, "mA", 2000000, 3000000, NOTHING },
    { { .name = "over-rating says the powers", .rule = "caps.over-rating", .about = RATED(27), .words = { F5, F9, FIXED(12000, 2500) } },
      "Object {0} ({1:V}) offers {2:W}; the port is rated", { 3, 12000, 30000, 27000 }, "W", 30000, NOTHING, 27120 },
    { { .name = "agrees-with-extended-rating says the powers", .rule = "caps.agrees-with-extended-rating", .spr_w = 27,
        .words = { F5, FIXED(9000, 2000) } },
      "Source_Capabilities_Extended rates the port", { 27000, 18000 }, "W", 18000, 26410, NOTHING },
    { { .name = "agrees-with-source-info says what is reported", .rule = "caps.agrees-with-source-info", .info = INFO(65, 65, 60),
        .words = { SET_65W } },
      "Source_Info reports a PDP of", { 60000, 65000 }, "W", 60000, 64000, 66000 },
    { { .name = "over-3a-needs-cable says the current and the mark", .rule = "caps.over-3a-needs-cable", .cable = CABLE_3A,
        .words = { F5, F9, F15, FIXED(20000, 3000), SPR_AVS(3000, 3250) } },
      "Object {0} offers {1:A}", { 5, 3250, 1 }, "mA", 3250000, NOTHING, 3000000 },
    { { .name = "avs-required says the power", .rule = "caps.avs-required", .rmdo = SAYS_3_2, .words = { F5, F9, F15 } },
      "A port of {0:W} offers no SPR AVS;", { 45000, 27000 }, NULL, 0, 0, 0 },
    { { .name = "avs-range says the currents of SPR AVS", .rule = "caps.avs-range", .words = { SET_65W, SPR_AVS(3000, 3250) } },
      "Object {0}, SPR AVS, offers {1:A} above 15 V", { 5, 3250, 3000 }, NULL, 0, 0, 0 },
    { { .name = "avs-range says that SPR AVS stops early", .rule = "caps.avs-range", .words = { SET_65W, SPR_AVS(3000, 0) } },
      "Object {0}, SPR AVS, stops at 15 V", { 5, 0, 65000 }, NULL, 0, 0, 0 },
    { { .name = "peak-current names the code", .rule = "caps.peak-current", .spr_w = 27, .words = { F5, F9 | 2u << 20 } },
      "Object {0} has Peak Current {1}", { 2, 2 }, NULL, 0, 0, 0 },
};

#define SAYS (sizeof says / sizeof says[0])

/* A finding rests on the message that gave the rating, and on the plug's identity. */
static void a_declared_rating_is_evidence(void **state)
{
    struct lines *l = *state;
    uint64_t identity, rating;
    const struct finding *f;

    lines_attach(l);
    identity = lines_cable_identity(l, 2, 0, false);
    OFFER(l, F5, F9, F15, FIXED(20000, 3000));
    rating = say_extended_caps(l, 65, 0, 0);
    lines_run(l, NULL);
    f = lines_finding(l, "caps.power-rules-currents", VERDICT_FAIL, 0);
    assert_non_null(f);
    assert_int_equal(f->evidence_count, 3);
    assert_int_equal(f->evidence[0], identity);
    assert_int_equal(f->evidence[1], f->frame);
    assert_int_equal(f->evidence[2], rating);
}

/* {0} to {5}, with a form that rules/rule.h knows. */
static void assert_placeholders(const char *at)
{
    static const char *const forms[] = { "V", "A", "W", "x", "m", "ms", "s", "r", "k", "set", "side" };

    for (; (at = strchr(at, '{')); at++) {
        size_t length = strcspn(at, "}");
        bool known = length == 2;

        assert_true(at[1] >= '0' && at[1] < '0' + FINDING_VALUES);
        for (unsigned f = 0; f < sizeof forms / sizeof forms[0]; f++)
            known = known || (at[2] == ':' && length == 3 + strlen(forms[f]) && strncmp(at + 3, forms[f], length - 3) == 0);
        assert_true(known);
    }
}

static void sentences_use_known_placeholders(void **state)
{
    struct lines *l = *state;

    lines_run(l, NULL);
    for (unsigned k = 0; k < engine_rules(l->engine); k++) {
        const struct rule *r = engine_result(l->engine, k).rule;

        for (const char *const *sentence = r->sentences; strncmp(r->id, "caps.", 5) == 0 && *sentence; sentence++)
            assert_placeholders(*sentence);
    }
}

static void every_row_is_complete(void **state)
{
    struct lines *l = *state;
    unsigned rules = 0;

    lines_run(l, NULL);
    for (unsigned k = 0; k < engine_rules(l->engine); k++) {
        const struct rule *r = engine_result(l->engine, k).rule;

        if (strncmp(r->id, "caps.", 5) != 0)
            continue;
        rules++;
        assert_true(r->title && r->requirement && r->source && r->why && r->undecided && r->bench && r->sentences && r->check);
        assert_true(r->basis != 0 && r->wakes != 0);
        for (const char *const *p = r->parameters; p && *p; p++)
            assert_non_null(parameter_find(*p));
    }
    assert_int_equal(rules, 32);
}

/* Level, whom and revision of each, typed from the catalogue. */
static void levels_are_those_of_the_catalogue(void **state)
{
    static const struct { const char *id; uint8_t level, whom, applies; } rows[] = {
        { "caps.first-5v", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.count", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.order", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.apdo-order", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R3 },
        { "caps.unique-voltage", LEVEL_SHOULD, WHO_SOURCE, APPLIES_ALL }, { "caps.zero-object", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.first-only-flags", LEVEL_SHOULD, WHO_SOURCE, APPLIES_ALL }, { "caps.reserved-bits", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.apdo-in-revision", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.spr-limits", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.variable-range", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.battery-range", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.pps-range", LEVEL_MUST, WHO_SOURCE, APPLIES_R3 }, { "caps.pps-current", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R3 },
        { "caps.pps-power-limited", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R3 },
        { "caps.power-rules-voltages", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL },
        { "caps.power-rules-currents", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.over-rating", LEVEL_SHOULD, WHO_SOURCE, APPLIES_ALL },
        { "caps.agrees-with-extended-rating", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R3 },
        { "caps.agrees-with-source-info", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R31 },
        { "caps.over-3a-needs-cable", LEVEL_MUST, WHO_SOURCE, APPLIES_ALL }, { "caps.epr-needs-cable", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R31 },
        { "caps.epr-positions", LEVEL_MUST, WHO_SOURCE, APPLIES_R31 }, { "caps.epr-padding", LEVEL_MUST, WHO_SOURCE, APPLIES_R31 },
        { "caps.avs-required", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R32 }, { "caps.avs-range", LEVEL_SHOULD, WHO_SOURCE, APPLIES_R31 },
        { "caps.epr-flag", LEVEL_MUST, WHO_SOURCE, APPLIES_R31 }, { "caps.peak-current", LEVEL_NOTE, WHO_SOURCE, APPLIES_ALL },
        { "caps.changed-unannounced", LEVEL_SHOULD, WHO_SOURCE, APPLIES_ALL },
        { "caps.repeats-identical", LEVEL_NOTE, WHO_SOURCE, APPLIES_ALL }, { "caps.sink-first-5v", LEVEL_MUST, WHO_SINK, APPLIES_ALL },
        { "caps.sink-order", LEVEL_MUST, WHO_SINK, APPLIES_ALL },
    };
    struct lines *l = *state;
    unsigned n = 0;

    lines_run(l, NULL);
    for (unsigned k = 0; k < engine_rules(l->engine); k++) {
        const struct rule *r = engine_result(l->engine, k).rule;

        if (strncmp(r->id, "caps.", 5) != 0)
            continue;
        assert_string_equal(r->id, rows[n].id);
        assert_int_equal(r->level, rows[n].level);
        assert_int_equal(r->whom, rows[n].whom);
        assert_int_equal(r->applies, rows[n].applies);
        n++;
    }
    assert_int_equal(n, sizeof rows / sizeof rows[0]);
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test_setup_teardown(a_declared_rating_is_evidence, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(sentences_use_known_placeholders, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(every_row_is_complete, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(levels_are_those_of_the_catalogue, lines_setup, lines_teardown),
};

#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union said_state { const struct said *said; void *state; };

int main(void)
{
    static struct CMUnitTest tests[SAYS + OTHERS];

    for (unsigned k = 0; k < SAYS; k++) {
        union said_state s = { .said = &says[k] };

        tests[k] = (struct CMUnitTest){ .name = says[k].row.name, .test_func = finding_says, .initial_state = s.state };
    }
    memcpy(tests + SAYS, others, sizeof others);
    return cmocka_run_group_tests_name("rules caps, findings", tests, NULL, NULL);
}
