/* The rules caps.* in the extended power range. Expectations typed from the catalogue of rules. */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* 0x0008C1F4 and 0xD230968C: 28 V 5 A and AVS 15 to 28 V 140 W, computed with the layouts of PD R3.1. */
#define E28 UINT32_C(0x0008C1F4)
#define EAVS UINT32_C(0xD230968C)
#define SPR_100W F5 | EPR_FLAG, F9, F15, FIXED(20000, 5000)

/* As OFFER, with a sink that says it can do EPR (bit 22 of its Request). */
static uint64_t offer_to_epr_sink(struct lines *l, unsigned count, const uint32_t *words)
{
    uint64_t frame = lines_caps(l, count, words);

    lines_request(l, 0x10400000 | 100u << 10 | 100u);
    lines_accept_and_ready(l);
    return frame;
}

#define EPR_SINK(l, ...)                                                                                                           \
    offer_to_epr_sink(l, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })

/* A contract and EPR mode over a cable marked for it. */
static void enter_epr(struct lines *l)
{
    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    EPR_SINK(l, SPR_100W);
    lines_enter_epr(l);
}

#define EPR_OFFER(l, ...)                                                                                                          \
    lines_epr_caps(l, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })

/* Between identity and offer the plug may have said 5 A. */
static void records_missing_since_a_plug_of_3_a_leave_65_w_undecided(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    lines_lost(l, 2);
    EPR_SINK(l, F5, F9, F15, FIXED(20000, 3250));
    lines_run(l, NULL);
    expect_counts(l, "caps.over-3a-needs-cable", 0, 0, 1);
}

static void a_sound_epr_offer_is_clean(void **state)
{
    struct lines *l = *state;

    enter_epr(l);
    EPR_OFFER(l, SPR_100W, 0, 0, 0, E28, EAVS);
    say_extended_caps(l, 100, 140, 0);
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_counts(l, "caps.count", 2, 0, 0);
    expect_counts(l, "caps.over-3a-needs-cable", 2, 0, 0);
    expect_counts(l, "caps.epr-needs-cable", 1, 0, 0);
    expect_counts(l, "caps.epr-positions", 1, 0, 0);
    expect_counts(l, "caps.epr-padding", 1, 0, 0);
    expect_counts(l, "caps.avs-range", 1, 0, 0);
    expect_counts(l, "caps.epr-flag", 1, 0, 0);
    expect_counts(l, "caps.power-rules-voltages", 2, 0, 0);
    /* Four objects, and the same four with 28 V behind them. */
    expect_counts(l, "caps.over-rating", 9, 0, 0);
    expect_counts(l, "caps.zero-object", 1, 0, 0);
}

static void fourteen_epr_objects_are_too_many(void **state)
{
    struct lines *l = *state;
    uint8_t block[14 * 4];
    uint64_t frame;

    for (unsigned k = 0; k < sizeof block; k++)
        block[k] = (uint8_t)(E28 >> 8 * (k % 4));
    enter_epr(l);
    frame = lines_chunks(l, SIDE_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, sizeof block);
    lines_run(l, NULL);
    expect_fail(l, "caps.count", frame, WHO_SOURCE);
    /* One fault, one finding: their Data Size is not told besides. */
    expect_only(l, "message.", NULL);
}

/* Section 6: caps.count speaks for caps.order and the power rules of that offer. count objects: 5 V 1 A, 20 V, 9 V, then 28 V. */
static void play_disorder(struct lines *l, unsigned count)
{
    static const uint32_t front[] = { 100u << 10 | 100, 400u << 10 | 300, 180u << 10 | 300 };
    uint8_t               block[14 * 4];

    for (unsigned k = 0; k < sizeof block; k++)
        block[k] = (uint8_t)((k / 4 < 3 ? front[k / 4] : k / 4 < 7 ? 0 : E28) >> 8 * (k % 4));
    enter_epr(l);
    lines_chunks(l, SIDE_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, 4 * count);
    lines_run(l, NULL);
}

static void too_many_objects_speak_for_their_order_and_power(void **state)
{
    static const char *const silenced[] = { "caps.order", "caps.power-rules-voltages", "caps.power-rules-currents" };
    struct lines *l = *state, *k = lines_new();

    play_disorder(l, 14);
    expect_verdict(l, "caps.count", VERDICT_FAIL);
    play_disorder(k, 13);
    expect_verdict(k, "caps.count", VERDICT_PASS);
    for (unsigned i = 0; i < sizeof silenced / sizeof silenced[0]; i++) {
        if (!lines_finding(k, silenced[i], VERDICT_FAIL, 0))
            fail_msg("%s: does not fail where the count is right", silenced[i]);
        if (lines_finding(l, silenced[i], VERDICT_FAIL, 0))
            fail_msg("%s: fails beside caps.count", silenced[i]);
    }
    lines_free(k);
}

/* caps.pps-range speaks for caps.pps-power-limited, caps.first-5v for caps.power-rules-currents. */
static void expect_silenced(const uint32_t *words, unsigned count, const char *silencer, const char *id, bool silent)
{
    struct lines *l = lines_new();

    lines_about(l, 255, "{\"ports\":[{\"port\":0,\"rated_w\":45}]}");
    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    lines_negotiate(l, count, words, word_ask_fixed(1, 1000, 1000));
    lines_run(l, NULL);
    expect_verdict(l, silencer, silent ? VERDICT_FAIL : VERDICT_PASS);
    if ((lines_finding(l, id, VERDICT_FAIL, 0) == NULL) != silent)
        fail_msg("%s %s", id, silent ? "fails beside what speaks for it" : "does not fail by itself");
    lines_free(l);
}

static void what_is_wrong_with_an_object_speaks_for_its_power(void **state)
{
    const uint32_t five = word_fixed(5000, 3000), nine = word_fixed(9000, 3000), fifteen = word_fixed(15000, 3000);
    const uint32_t wide[] = { five, nine, fifteen, word_pps(3300, 22000, 5000) };
    const uint32_t fits[] = { five, nine, fifteen, word_pps(3300, 21000, 5000) };
    const uint32_t weak[] = { word_fixed(5000, 1000), nine, fifteen };
    const uint32_t late[] = { word_fixed(6000, 1000), nine, fifteen };

    (void)state;
    expect_silenced(fits, 4, "caps.pps-range", "caps.pps-power-limited", false);
    expect_silenced(wide, 4, "caps.pps-range", "caps.pps-power-limited", true);
    expect_silenced(weak, 3, "caps.first-5v", "caps.power-rules-currents", false);
    expect_silenced(late, 3, "caps.first-5v", "caps.power-rules-currents", true);
}

static void thirteen_epr_objects_are_not(void **state)
{
    struct lines *l = *state;

    enter_epr(l);
    EPR_OFFER(l, SPR_100W, 0, 0, 0, E28, FIXED(36000, 5000), FIXED(48000, 5000), EPR_AVS(15000, 48000, 240), EPR_AVS(15000, 48000, 240),
              EPR_AVS(15000, 48000, 240));
    lines_run(l, NULL);
    expect_counts(l, "caps.count", 2, 0, 0);
    expect_only(l, "caps.", NULL);
}

static void an_epr_offer_over_a_cable_without_the_marks_fails(void **state)
{
    static const struct { unsigned current, volts; bool epr; } cables[] = { { 1, 3, true }, { 2, 0, true }, { 2, 3, false } };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = lines_new();
        uint64_t frame;

        lines_attach(l);
        lines_cable_identity(l, cables[k].current, cables[k].volts, cables[k].epr);
        EPR_SINK(l, SPR_100W);
        frame = EPR_OFFER(l, SPR_100W, 0, 0, 0, E28); /* the entry was not seen */
        lines_run(l, NULL);
        expect_fail(l, "caps.epr-needs-cable", frame, WHO_SOURCE);
        lines_free(l);
    }
}

static void an_epr_offer_over_an_unknown_cable_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    EPR_SINK(l, SPR_100W);
    frame = EPR_OFFER(l, SPR_100W, 0, 0, 0, E28);
    lines_run(l, NULL);
    expect_undecided(l, "caps.epr-needs-cable", frame, CAUSE_UNKNOWN_CABLE);
    expect_only(l, "caps.", "caps.epr-needs-cable");
}

static void an_entry_without_the_cable_speaks_for_the_offer_in_that_attach(void **state)
{
    struct lines *l = *state;
    uint64_t entered;

    for (unsigned k = 0; k < 2; k++) {
        lines_attach(l);
        lines_cable_identity(l, 2, 0, false);
        EPR_SINK(l, SPR_100W);
        entered = k ? 0 : lines_enter_epr(l);
        EPR_OFFER(l, SPR_100W, 0, 0, 0, E28);
        lines_run(l, NULL);
        expect_counts(l, "epr.entry-needs-cable", 0, 1, 0);
        assert_true(k || lines_finding(l, "epr.entry-needs-cable", VERDICT_FAIL, 0)->frame == entered);
        expect_counts(l, "caps.epr-needs-cable", 0, k, 0);
        lines_detach(l);
    }
}

static void an_epr_offer_over_a_captive_cable_needs_no_marks(void **state)
{
    struct lines *l = *state;

    lines_about(l, RECORD_PORT_BENCH, CAPTIVE);
    lines_attach(l);
    EPR_SINK(l, SPR_100W);
    lines_enter_epr(l);
    EPR_OFFER(l, SPR_100W, 0, 0, 0, E28);
    lines_run(l, NULL);
    expect_verdict(l, "caps.epr-needs-cable", VERDICT_NOT_SEEN);
}

static void an_epr_offer_without_epr_objects_needs_no_marks(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    EPR_SINK(l, SPR_100W);
    lines_enter_epr(l);
    EPR_OFFER(l, SPR_100W);
    lines_run(l, NULL);
    expect_verdict(l, "caps.epr-needs-cable", VERDICT_NOT_SEEN);
    expect_verdict(l, "caps.epr-padding", VERDICT_NOT_SEEN);
    expect_counts(l, "caps.epr-positions", 1, 0, 0);
}

/* One EPR offer after a sound entry, one rule that fails on it. */
#define EPR_FAILS(name, rule, also, ...)                                                                                           \
    static void name(void **state)                                                                                                 \
    {                                                                                                                              \
        struct lines *l = *state;                                                                                                  \
        uint64_t frame;                                                                                                            \
                                                                                                                                   \
        enter_epr(l);                                                                                                              \
        frame = EPR_OFFER(l, __VA_ARGS__);                                                                                         \
        lines_run(l, NULL);                                                                                                        \
        expect_fail(l, rule, frame, WHO_SOURCE);                                                                                   \
        expect_only(l, "caps.", rule also);                                                                                        \
    }

EPR_FAILS(an_epr_object_in_position_5_is_out_of_place, "caps.epr-positions", " caps.spr-limits", SPR_100W, E28, 0, 0,
          FIXED(36000, 5000))
EPR_FAILS(epr_avs_in_position_5_is_out_of_place, "caps.epr-positions", "", SPR_100W, EPR_AVS(15000, 28000, 140), 0, 0, E28)
EPR_FAILS(a_standard_object_in_position_8_is_out_of_place, "caps.epr-positions", "", SPR_100W, 0, 0, 0, FIXED(19000, 5000), E28)
EPR_FAILS(a_standard_object_that_changed_is_out_of_place, "caps.epr-positions", "", F5 | EPR_FLAG, F9, FIXED(15000, 3010), FIXED(20000, 5000),
          0, 0, 0, E28)
EPR_FAILS(a_standard_object_that_was_not_offered_before_is_out_of_place, "caps.epr-positions", "", SPR_100W, PPS(3300, 21000, 5000) | LIMITED,
          0, 0, E28)
EPR_FAILS(zeros_between_standard_objects_are_no_padding, "caps.epr-padding", " caps.epr-positions", F5 | EPR_FLAG, F9, F15, 0,
          FIXED(20000, 5000), 0, 0, E28)
EPR_FAILS(zeros_between_epr_objects_are_no_padding, "caps.epr-padding", "", SPR_100W, 0, 0, 0, E28, 0, EAVS)
EPR_FAILS(zeros_behind_epr_objects_are_no_padding, "caps.epr-padding", "", SPR_100W, 0, 0, 0, E28, 0)
EPR_FAILS(epr_avs_from_14_9_v_begins_too_low, "caps.avs-range", "", SPR_100W, 0, 0, 0, E28, EPR_AVS(14900, 28000, 140))
EPR_FAILS(epr_avs_to_27_9_v_ends_below_the_fixed_voltage, "caps.avs-range", "", SPR_100W, 0, 0, 0, E28, EPR_AVS(15000, 27900, 140))
EPR_FAILS(bit_16_of_epr_avs_is_reserved, "caps.reserved-bits", "", SPR_100W, 0, 0, 0, E28, EAVS | 1u << 16)
EPR_FAILS(an_epr_voltage_twice_is_not_unique, "caps.unique-voltage", "", SPR_100W, 0, 0, 0, E28, FIXED(28000, 4000))

static void epr_avs_of_another_pdp_than_the_rating_fails(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    enter_epr(l);
    frame = EPR_OFFER(l, SPR_100W, 0, 0, 0, E28, EPR_AVS(15000, 28000, 139));
    say_extended_caps(l, 100, 140, 0);
    lines_run(l, NULL);
    expect_fail(l, "caps.avs-range", frame, WHO_SOURCE);
    expect_only(l, "caps.", "caps.avs-range");
}

static void an_epr_object_may_be_one_step_above_the_epr_rating(void **state)
{
    struct lines *l = *state;

    enter_epr(l);
    EPR_OFFER(l, SPR_100W, 0, 0, 0, FIXED(28000, 5010));
    say_extended_caps(l, 100, 140, 0);
    lines_run(l, NULL);
    expect_counts(l, "caps.over-rating", 9, 0, 0);
}

static void an_epr_object_of_two_steps_more_is_over_the_rating(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    enter_epr(l);
    frame = EPR_OFFER(l, SPR_100W, 0, 0, 0, FIXED(28000, 5020));
    say_extended_caps(l, 100, 140, 0);
    lines_run(l, NULL);
    expect_fail(l, "caps.over-rating", frame, WHO_SOURCE);
}

static void acknowledging_the_entry_without_the_flag_fails(void **state)
{
    struct lines *l = *state;
    uint64_t enter;

    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    EPR_SINK(l, F5, F9, F15, FIXED(20000, 5000));
    lines_data(l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x018c0000 });
    enter = lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x02000000 });
    lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x04000000 }); /* Enter Failed after all */
    EPR_OFFER(l, F5, F9, F15, FIXED(20000, 5000), 0, 0, 0, E28);
    lines_run(l, NULL);
    expect_fail(l, "caps.epr-flag", enter, WHO_SOURCE);
    expect_counts(l, "caps.epr-flag", 0, 1, 0);
    expect_only(l, "caps.", "caps.epr-flag");
}

static void an_entry_without_the_flag_speaks_for_the_flag_in_that_attach(void **state)
{
    struct lines *l = *state;

    for (unsigned k = 0; k < 2; k++) {
        lines_attach(l);
        lines_cable_identity(l, 2, 3, true);
        EPR_SINK(l, F5, F9, F15, FIXED(20000, 5000));
        if (k == 0)
            lines_enter_epr(l);
        EPR_OFFER(l, F5, F9, F15, FIXED(20000, 5000), 0, 0, 0, E28);
        lines_run(l, NULL);
        expect_counts(l, "epr.entry-needs-capable", 0, 1, 0);
        expect_counts(l, "caps.epr-flag", 0, k, 0);
        lines_detach(l);
    }
}

static void an_entry_that_is_refused_asks_for_no_flag(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    EPR_SINK(l, F5, F9);
    lines_data(l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x018c0000 });
    lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x04050000 });
    lines_run(l, NULL);
    expect_verdict(l, "caps.epr-flag", VERDICT_NOT_SEEN);
}

static void the_flag_is_asked_for_once_an_attach(void **state)
{
    struct lines *l = *state;

    for (unsigned k = 0; k < 2; k++) {
        enter_epr(l);
        EPR_OFFER(l, SPR_100W, 0, 0, 0, E28, EAVS);
        EPR_OFFER(l, SPR_100W, 0, 0, 0, E28);
        lines_detach(l);
    }
    lines_run(l, NULL);
    expect_counts(l, "caps.epr-flag", 2, 0, 0);
}

static void the_flag_of_an_offer_before_the_trace_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t enter;

    lines_data(l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x018c0000 });
    enter = lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x02000000 });
    lines_run(l, NULL);
    expect_undecided(l, "caps.epr-flag", enter, CAUSE_UNKNOWN_OFFER);
}

static void the_flag_of_an_offer_before_a_loss_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t enter;

    lines_attach(l);
    EPR_SINK(l, F5, F9);
    lines_lost(l, 1);
    lines_wait(l, MS(5));
    lines_data(l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x018c0000 });
    enter = lines_data(l, SIDE_SOURCE, DATA_EPR_MODE, 1, (const uint32_t[]){ 0x02000000 });
    lines_run(l, NULL);
    expect_undecided(l, "caps.epr-flag", enter, CAUSE_LOST);
}

static void positions_are_judged_by_kind_alone_where_the_standard_offer_is_unknown(void **state)
{
    struct lines *l = *state;

    lines_cable_identity(l, 2, 3, true);
    lines_enter_epr(l);
    EPR_OFFER(l, SPR_100W, 0, 0, 0, E28);
    lines_run(l, NULL);
    expect_counts(l, "caps.epr-positions", 1, 0, 0);
}

/* What a finding about an EPR offer says. */
struct said {
    const char *name, *rule, *sentence;
    uint32_t    words[PDO_MAX];
    uint8_t     count, epr_w; /* epr_w: Source_Capabilities_Extended says so afterwards */
    bool        plain_cable;
    int64_t     values[3];
    bool        spr_is_evidence, cable_is_evidence, rating_is_evidence;
};

static const struct said says[] = {
    { "epr-needs-cable says the marks", "caps.epr-needs-cable", "The cable says EPR Capable {0}", { SPR_100W, 0, 0, 0, E28 }, 8, 0, true,
      { 0, 0, 2 }, false, true, false },
    { "epr-positions names an object too low", "caps.epr-positions", "Object {0} ({1:x}) is an EPR object",
      { SPR_100W, E28, 0, 0, FIXED(36000, 5000) }, 8, 0, false, { 5, E28, 0 }, false, false, false },
    { "epr-positions names an object too high", "caps.epr-positions", "Object {0} ({1:x}) is no EPR object",
      { SPR_100W, 0, 0, 0, E28, FIXED(19000, 1000) }, 9, 0, false, { 9, FIXED(19000, 1000), 0 }, false, false, false },
    { "epr-positions names both words", "caps.epr-positions", "Object {0} is {1:x}; in the last Source_Capabilities",
      { F5 | EPR_FLAG, F9, FIXED(15000, 3010), FIXED(20000, 5000), 0, 0, 0, E28 }, 8, 0, false, { 3, FIXED(15000, 3010), F15 },
      true, false, false },
    { "epr-padding names a zero too low", "caps.epr-padding", "Object {0} is zero, but an SPR object follows",
      { F5 | EPR_FLAG, F9, F15, 0, FIXED(20000, 5000), 0, 0, E28 }, 8, 0, false, { 4 }, false, false, false },
    { "epr-padding names a zero too high", "caps.epr-padding", "Object {0} is zero, among the EPR objects",
      { SPR_100W, 0, 0, 0, E28, 0, EAVS }, 10, 0, false, { 9 }, false, false, false },
    { "avs-range says where EPR AVS begins", "caps.avs-range", "Object {0}, EPR AVS, begins at {1:V}",
      { SPR_100W, 0, 0, 0, E28, EPR_AVS(15100, 28000, 140) }, 9, 0, false, { 9, 15100, 15000 }, false, false, false },
    { "avs-range says where EPR AVS ends", "caps.avs-range", "Object {0}, EPR AVS, ends at {1:V}",
      { SPR_100W, 0, 0, 0, E28, FIXED(36000, 5000), EPR_AVS(15000, 28000, 140) }, 10, 0, false, { 10, 28000, 36000 }, false, false,
      false },
    { "avs-range says both ratings", "caps.avs-range", "Object {0}, EPR AVS, gives a PDP of {1:W}",
      { SPR_100W, 0, 0, 0, E28, EPR_AVS(15000, 28000, 139) }, 9, 140, false, { 9, 139000, 140000 }, false, false, true },
    { "over-rating says the EPR rating", "caps.over-rating", "Object {0} ({1:V}) offers {2:W}; the EPR rating",
      { SPR_100W, 0, 0, 0, FIXED(28000, 5020) }, 8, 140, false, { 8, 28000, 140560 }, false, false, true },
};

static void finding_says(void **state)
{
    const struct said *s = *state;
    struct lines *l = lines_new();
    uint64_t cable, spr, offer, rating = 0;
    const struct finding *f;
    unsigned n = 0;

    lines_attach(l);
    cable = s->plain_cable ? lines_cable_identity(l, 2, 0, false) : lines_cable_identity(l, 2, 3, true);
    spr = EPR_SINK(l, SPR_100W);
    if (!s->plain_cable)
        lines_enter_epr(l); /* else epr.entry-needs-cable would speak for the offer */
    offer = lines_epr_caps(l, s->count, s->words);
    if (s->epr_w)
        rating = say_extended_caps(l, 100, s->epr_w, 0);
    lines_run(l, NULL);
    f = lines_finding(l, s->rule, VERDICT_FAIL, 0);
    assert_non_null(f);
    assert_int_equal(f->frame, offer);
    assert_memory_equal(f->rule->sentences[f->sentence], s->sentence, strlen(s->sentence));
    for (unsigned k = 0; k < 3; k++)
        assert_int_equal(f->values[k], s->values[k]);
    if (s->cable_is_evidence)
        assert_int_equal(f->evidence[n++], cable);
    if (s->spr_is_evidence)
        assert_int_equal(f->evidence[n++], spr);
    /* Chunk 0 and the last chunk, with a message that asks for it between. */
    assert_true(f->evidence[n] > spr && f->evidence[n] < offer);
    assert_int_equal(f->evidence[n + 1], offer);
    n += 2;
    if (s->rating_is_evidence)
        assert_int_equal(f->evidence[n++], rating);
    assert_int_equal(f->evidence_count, n);
    lines_free(l);
}

static void the_flag_is_missed_at_the_first_epr_offer_where_the_entry_was_not_seen(void **state)
{
    struct lines *l = *state;
    uint64_t spr, offer;
    const struct finding *f;

    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    spr = EPR_SINK(l, F5, F9, F15, FIXED(20000, 5000));
    offer = EPR_OFFER(l, F5, F9, F15, FIXED(20000, 5000), 0, 0, 0, E28);
    lines_run(l, NULL);
    expect_fail(l, "caps.epr-flag", offer, WHO_SOURCE);
    f = lines_finding(l, "caps.epr-flag", VERDICT_FAIL, 0);
    assert_int_equal(f->values[0], F5);
    assert_int_equal(f->evidence[0], spr);
    assert_int_equal(f->evidence[f->evidence_count - 1], offer);
}

static void an_epr_offer_without_epr_objects_asks_for_no_flag(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    EPR_SINK(l, F5, F9);
    EPR_OFFER(l, F5, F9);
    lines_run(l, NULL);
    expect_verdict(l, "caps.epr-flag", VERDICT_NOT_SEEN);
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test_setup_teardown(records_missing_since_a_plug_of_3_a_leave_65_w_undecided, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_sound_epr_offer_is_clean, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(fourteen_epr_objects_are_too_many, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(too_many_objects_speak_for_their_order_and_power, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(what_is_wrong_with_an_object_speaks_for_its_power, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(thirteen_epr_objects_are_not, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_offer_over_a_cable_without_the_marks_fails, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_offer_over_an_unknown_cable_is_undecided, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_offer_over_a_captive_cable_needs_no_marks, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_offer_without_epr_objects_needs_no_marks, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_object_in_position_5_is_out_of_place, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(epr_avs_in_position_5_is_out_of_place, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_standard_object_in_position_8_is_out_of_place, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_standard_object_that_changed_is_out_of_place, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_standard_object_that_was_not_offered_before_is_out_of_place, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(zeros_between_standard_objects_are_no_padding, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(zeros_between_epr_objects_are_no_padding, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(zeros_behind_epr_objects_are_no_padding, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(epr_avs_from_14_9_v_begins_too_low, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(epr_avs_to_27_9_v_ends_below_the_fixed_voltage, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(bit_16_of_epr_avs_is_reserved, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_voltage_twice_is_not_unique, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(epr_avs_of_another_pdp_than_the_rating_fails, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_object_may_be_one_step_above_the_epr_rating, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_object_of_two_steps_more_is_over_the_rating, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(acknowledging_the_entry_without_the_flag_fails, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_entry_without_the_flag_speaks_for_the_flag_in_that_attach, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_entry_without_the_cable_speaks_for_the_offer_in_that_attach, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_entry_that_is_refused_asks_for_no_flag, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_flag_is_asked_for_once_an_attach, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_flag_of_an_offer_before_the_trace_is_undecided, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_flag_of_an_offer_before_a_loss_is_undecided, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(positions_are_judged_by_kind_alone_where_the_standard_offer_is_unknown, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_flag_is_missed_at_the_first_epr_offer_where_the_entry_was_not_seen, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_offer_without_epr_objects_asks_for_no_flag, lines_setup, lines_teardown),
};

#define SAYS (sizeof says / sizeof says[0])
#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union said_state { const struct said *said; void *state; };

int main(void)
{
    static struct CMUnitTest tests[SAYS + OTHERS];

    for (unsigned k = 0; k < SAYS; k++) {
        union said_state t = { .said = &says[k] };

        tests[k] = (struct CMUnitTest){ .name = says[k].name, .test_func = finding_says, .initial_state = t.state };
    }
    memcpy(tests + SAYS, others, sizeof others);
    return cmocka_run_group_tests_name("rules caps, extended power range", tests, NULL, NULL);
}
