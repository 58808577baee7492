/*
 * cable.*: what the plug says, and whether the source asked it. Expectations typed from the catalogue of rules. The bench: the
 * "Lumenbrick 65" and a load, through this cable and that.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#define F20_5A FIXED(20000, 5000)
/* Fixed request for 20 V (object 4) with this current. */
#define ASK_20V(ma) (UINT32_C(4) << 28 | (ma) / 10u << 10 | (ma) / 10u)
#define STRONG F5, F9, F15, F20_5A
#define CAPS(l, ...)                                                                                                               \
    lines_caps(l, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })

/* An answer to Discover Identity on SOP' as it is: ID Header, and the objects behind the Product object. */
struct answer {
    uint32_t header, id;
    uint8_t  extra;       /* how many objects stand behind */
    uint32_t types[3];
    uint8_t  ask_revision, plug_revision; /* 0: 3.x */
    int8_t   bytes_off;
};

static uint64_t identity_say(struct lines *l, const struct answer *a)
{
    struct say ask = { .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                       .words = { 0xff00a001 }, .revision_given = true, .revision = a->ask_revision ? a->ask_revision : HEADER_R3 };
    struct say answer = { .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                          .count = (uint8_t)(4 + a->extra), .revision_given = true,
                          .revision = a->plug_revision ? a->plug_revision : HEADER_R3, .bytes_off = a->bytes_off };

    answer.words[0] = a->header ? a->header : 0xff00a041;
    answer.words[1] = a->id;
    answer.words[3] = 0x00010000;
    memcpy(answer.words + 4, a->types, sizeof a->types);
    lines_say(l, &ask);
    return lines_say(l, &answer);
}

/* cable.discovered-before-5a */

static void an_offer_above_3_a_after_the_identity_passes(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    OFFER(l, STRONG);
    OFFER(l, F5, F20_5A);
    lines_run(l, NULL);
    expect_counts(l, "cable.discovered-before-5a", 1, 0, 0);
    expect_only(l, "cable.", NULL);
}

static void an_offer_of_3_a_asks_for_no_identity(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, F5, F9, F15, FIXED(20000, 3000));
    lines_run(l, NULL);
    expect_verdict(l, "cable.discovered-before-5a", VERDICT_NOT_SEEN);
}

static void an_offer_of_3_01_a_without_identity_fails_once_an_attach(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    OFFER(l, F5);
    frame = OFFER(l, F5, F9, F15, FIXED(20000, 3010));
    OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_fail(l, "cable.discovered-before-5a", frame, WHO_SOURCE);
    expect_counts(l, "cable.discovered-before-5a", 0, 1, 0);
    lines_detach(l);
    lines_attach(l);
    OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_counts(l, "cable.discovered-before-5a", 0, 2, 0);
}

static void an_identity_that_comes_after_the_offer_is_too_late(void **state)
{
    struct lines *l = *state;
    const uint32_t words[] = { STRONG };
    uint64_t frame;

    lines_attach(l);
    /* Nobody acknowledges it: it stands once the next one comes. */
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 4,
                                        .words = { words[0], words[1], words[2], words[3] }, .quiet = true });
    lines_cable_identity(l, 2, 0, false);
    lines_wait(l, MS(150));
    CAPS(l, STRONG);
    lines_run(l, NULL);
    expect_fail(l, "cable.discovered-before-5a", frame, WHO_SOURCE);
}

static void a_captive_cable_needs_no_identity(void **state)
{
    struct lines *l = *state;

    lines_about(l, RECORD_PORT_BENCH, CAPTIVE);
    lines_attach(l);
    OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_verdict(l, "cable.discovered-before-5a", VERDICT_NOT_SEEN);
}

static void without_the_attach_it_is_undecided_whether_the_plug_was_asked(void **state)
{
    struct lines *l = *state;
    uint64_t frame = OFFER(l, STRONG);

    lines_run(l, NULL);
    expect_undecided(l, "cable.discovered-before-5a", frame, CAUSE_BEGINNING);
}

static void without_the_attach_an_identity_that_shows_is_enough(void **state)
{
    struct lines *l = *state;

    lines_cable_identity(l, 2, 0, false);
    OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_counts(l, "cable.discovered-before-5a", 1, 0, 0);
}

static void lost_records_since_the_attach_may_hold_the_identity(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_lost(l, 2);
    lines_wait(l, MS(5));
    frame = OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_undecided(l, "cable.discovered-before-5a", frame, CAUSE_LOST);
}

static void a_bad_packet_on_the_cables_set_may_be_the_identity(void **state)
{
    struct lines *l = *state;
    struct say answer = { .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 5,
                          .words = { 0xff00a041, 0x18000000, 0, 0, 0x000c2040 }, .spoilt = true };
    uint64_t frame;

    lines_attach(l);
    lines_say(l, &answer);
    lines_wait(l, MS(50));
    frame = OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_undecided(l, "cable.discovered-before-5a", frame, CAUSE_BAD_PACKET);
}

static void a_bad_request_that_was_repeated_is_not_the_identity(void **state)
{
    struct lines *l = *state;
    struct say ask = { .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                       .words = { 0xff00a001 }, .spoilt = true };
    uint64_t frame;

    lines_attach(l);
    l->pause_ns = US(1000);
    lines_say(l, &ask);
    ask.spoilt = false;
    ask.quiet = true;
    lines_say(l, &ask);
    l->pause_ns = MS(2);
    frame = OFFER(l, STRONG);
    lines_run(l, NULL);
    expect_fail(l, "cable.discovered-before-5a", frame, WHO_SOURCE);
}

/* cable.identity-valid, cable.epr-rating: rows */

struct identity_row {
    const char   *name;
    struct answer answer;
    uint8_t       standard;
    const char   *fails; /* rule, or NULL: all pass */
    uint8_t       epr_passed;
    int64_t       value0;
};

/* ID Header: product type in bits 29:27. Passive 0x18000000, active 0x20000000, VCONN-powered device 0x30000000. */
#define PASSIVE 0x18001209
#define ACTIVE 0x20001209
#define VPD 0x30001209
/* Plug 2 in bits 19:18, latency 1, current in 6:5. */
#define GOOD_3A 0x00082020
#define GOOD_5A 0x00082040
/* EPR Capable (17), 50 V (3 in 10:9), 5 A. */
#define GOOD_EPR 0x000a2640

static const struct identity_row identities[] = {
    { "a passive cable with one object is sound", { .id = PASSIVE, .extra = 1, .types = { GOOD_3A } }, 0, NULL, 0, 0 },
    { "a captive plug is sound", { .id = PASSIVE, .extra = 1, .types = { 0x000c2040 } }, 0, NULL, 0, 0 },
    { "an active cable with two objects is sound", { .id = ACTIVE, .extra = 2, .types = { GOOD_5A | 0x19f, 0x41000000 } }, 0, NULL, 0, 0 },
    { "a VCONN-powered device with one object is sound", { .id = VPD, .extra = 1, .types = { 1 } }, 0, NULL, 0, 0 },
    { "product type 5 is no plug", { .id = 0x28001209, .extra = 1, .types = { GOOD_3A } }, 0, "cable.identity-valid", 0, 5 },
    { "product type 0 is no plug", { .id = 0x00001209, .extra = 1, .types = { GOOD_3A } }, 0, "cable.identity-valid", 0, 0 },
    { "a passive cable without an object lacks one", { .id = PASSIVE }, 0, "cable.identity-valid", 0, 3 },
    { "a passive cable with two objects has one too many", { .id = PASSIVE, .extra = 2, .types = { GOOD_3A } }, 0, "cable.identity-valid", 0, 3 },
    { "an active cable under 3.x has two objects", { .id = ACTIVE, .extra = 1, .types = { GOOD_5A } }, 0, "cable.identity-valid", 0, 4 },
    { "an active cable under 2.0 has one", { .header = 0xff008041, .id = ACTIVE, .extra = 1, .types = { GOOD_5A }, .plug_revision = HEADER_R2 },
      0, NULL, 0, 0 },
    { "an active cable under 2.0 has no second", { .header = 0xff008041, .id = ACTIVE, .extra = 2, .types = { GOOD_5A },
      .plug_revision = HEADER_R2 }, 0, "cable.identity-valid", 0, 4 },
    { "an asker of 2.0 makes it 2.0", { .header = 0xff008041, .id = ACTIVE, .extra = 1, .types = { GOOD_5A }, .ask_revision = HEADER_R2 },
      0, NULL, 0, 0 },
    { "under --standard 2.0 one object will do", { .id = ACTIVE, .extra = 1, .types = { GOOD_5A } }, SINCE_R2, NULL, 0, 0 },
    { "plug type 1 is none of USB-C", { .id = PASSIVE, .extra = 1, .types = { 0x00042020 } }, 0, "cable.identity-valid", 0, 1 },
    { "plug type 1 was one of 2.0", { .header = 0xff008041, .id = PASSIVE, .extra = 1, .types = { 0x00042020 }, .plug_revision = HEADER_R2 },
      0, NULL, 0, 0 },
    { "VBUS current 0 is none under 3.x", { .id = PASSIVE, .extra = 1, .types = { 0x00082000 } }, 0, "cable.identity-valid", 0, 0 },
    { "VBUS current 3 is none", { .id = PASSIVE, .extra = 1, .types = { 0x00082060 } }, 0, "cable.identity-valid", 0, 3 },
    { "bit 16 of the ID Header is reserved", { .id = PASSIVE | 0x10000, .extra = 1, .types = { GOOD_3A } }, 0, "cable.identity-valid", 0,
      PASSIVE | 0x10000 },
    { "bit 20 of the ID Header is reserved", { .id = PASSIVE | 0x100000, .extra = 1, .types = { GOOD_3A } }, 0, "cable.identity-valid", 0,
      PASSIVE | 0x100000 },
    { "bit 20 of a passive cable is reserved", { .id = PASSIVE, .extra = 1, .types = { GOOD_3A | 0x100000 } }, 0, "cable.identity-valid", 0,
      GOOD_3A | 0x100000 },
    { "bit 7 of a passive cable is reserved", { .id = PASSIVE, .extra = 1, .types = { GOOD_3A | 0x80 } }, 0, "cable.identity-valid", 0,
      GOOD_3A | 0x80 },
    { "bit 3 of a passive cable is reserved", { .id = PASSIVE, .extra = 1, .types = { GOOD_3A | 0x8 } }, 0, "cable.identity-valid", 0,
      GOOD_3A | 0x8 },
    { "bit 20 of an active cable is reserved", { .id = ACTIVE, .extra = 2, .types = { GOOD_3A | 0x100000, 0 } }, 0, "cable.identity-valid", 0,
      GOOD_3A | 0x100000 },
    { "EPR with 50 V and 5 A is sound", { .id = PASSIVE, .extra = 1, .types = { GOOD_EPR } }, 0, NULL, 1, 0 },
    { "EPR with 40 V is not", { .id = PASSIVE, .extra = 1, .types = { 0x000a2440 } }, 0, "cable.epr-rating", 0, 2 },
    { "EPR with 3 A is not", { .id = PASSIVE, .extra = 1, .types = { 0x000a2620 } }, 0, "cable.epr-rating", 0, 3 },
    { "the bit was reserved in 3.0", { .id = PASSIVE, .extra = 1, .types = { 0x000a2440 } }, SINCE_R30, NULL, 0, 0 },
    { "the bit was reserved in 2.0", { .header = 0xff008041, .id = PASSIVE, .extra = 1, .types = { 0x000a2440 }, .plug_revision = HEADER_R2 },
      0, NULL, 0, 0 },
};

/* Section 6: the length of a message speaks for what is in it. */
static void length_speaks(const struct identity_row *row, const struct engine_options *o)
{
    struct answer longer = row->answer;
    struct lines *l = lines_new();

    longer.bytes_off = 4;
    lines_attach(l);
    identity_say(l, &longer);
    lines_run(l, o);
    expect_only(l, "message.", "message.length");
    expect_only(l, "cable.", NULL);
    lines_free(l);
}

static void identity_row_holds(void **state)
{
    const struct identity_row *row = *state;
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = row->standard };
    struct lines *l = lines_new();
    uint64_t frame;

    lines_attach(l);
    frame = identity_say(l, &row->answer);
    lines_run(l, &o);
    expect_only(l, "cable.", row->fails);
    if (row->fails) {
        expect_fail(l, row->fails, frame, WHO_CABLE);
        assert_int_equal(lines_finding(l, row->fails, VERDICT_FAIL, 0)->values[0], row->value0);
        assert_int_equal(lines_finding(l, row->fails, VERDICT_FAIL, 0)->party, PARTY_CABLE);
        length_speaks(row, &o);
    } else {
        expect_counts(l, "cable.identity-valid", 1, 0, 0);
        expect_counts(l, "cable.epr-rating", row->epr_passed, 0, 0);
    }
    lines_free(l);
}

static void an_identity_of_the_wrong_length_is_judged_by_its_length_alone(void **state)
{
    struct lines *l = *state;
    struct say answer = { .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 5,
                          .words = { 0xff00a041, 0x28000000, 0, 0, 0 }, .objects_off = 1 };

    lines_attach(l);
    lines_say(l, &answer);
    lines_run(l, NULL);
    expect_verdict(l, "message.length", VERDICT_FAIL);
    expect_verdict(l, "cable.identity-valid", VERDICT_NOT_SEEN);
}

static void a_partner_without_electronics_gives_no_identity(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, F5);
    lines_run(l, NULL);
    expect_verdict(l, "cable.identity-valid", VERDICT_NOT_SEEN);
    expect_verdict(l, "cable.rating-agrees", VERDICT_NOT_SEEN);
    expect_verdict(l, "cable.epr-rating", VERDICT_NOT_SEEN);
    expect_verdict(l, "cable.current-over-rating", VERDICT_NOT_SEEN);
}

/* cable.rating-agrees */

static void the_same_rating_again_passes(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    for (unsigned k = 0; k < 3; k++)
        lines_cable_identity(l, 2, 3, true);
    lines_run(l, NULL);
    expect_counts(l, "cable.rating-agrees", 2, 0, 0);
}

static void another_current_voltage_or_epr_bit_fails(void **state)
{
    static const struct { unsigned current, volts; bool epr; } second[] = { { 1, 3, false }, { 2, 0, false }, { 2, 3, true } };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = lines_new();
        uint64_t frame;

        lines_attach(l);
        lines_cable_identity(l, 2, 3, false);
        frame = lines_cable_identity(l, second[k].current, second[k].volts, second[k].epr);
        lines_run(l, NULL);
        expect_fail(l, "cable.rating-agrees", frame, WHO_CABLE);
        expect_only(l, "cable.", "cable.rating-agrees");
        lines_free(l);
    }
}

/*
 * The object of 2.0 (Structured VDM 1.0: bits 14:13 of the header 0) has signal directions in bits 10:7, and no EPR bit; its current may be
 * 0, default USB power (Linux include/linux/usb/pd_vdo.h). Only what both forms say is compared.
 */
static void an_identity_of_2_0_and_one_of_3_x_are_compared_by_what_both_say(void **state)
{
    static const struct { bool first_new, second_new; uint32_t first, second; unsigned passed, failed; } cases[] = {
        { false, true, 0x00082640, 0x000a2640, 1, 0 },  /* directions in 10:9, then 50 V and EPR: 5 A both times */
        { true, false, 0x000a2640, 0x00082040, 1, 0 },  /* the other way round */
        { false, true, 0x00082000, 0x00082020, 1, 0 },  /* default, then 3 A: neither is 5 A */
        { false, true, 0x00082020, 0x00082040, 0, 1 },  /* 3 A, then 5 A */
        { true, false, 0x00082040, 0x00082020, 0, 1 },
        { false, false, 0x00082640, 0x00082040, 1, 0 }, /* other directions of the same form are no rating */
        { false, false, 0x00082000, 0x00082020, 0, 1 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = lines_new();
        uint64_t frame = 0;

        lines_attach(l);
        for (unsigned n = 0; n < 2; n++) {
            bool     is_new = n ? cases[k].second_new : cases[k].first_new;
            uint32_t header = is_new ? 0xff00a041 : 0xff008041;

            lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                                        .count = 1, .words = { header ^ 0x40 } });
            frame = lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA,
                                                .type = DATA_VENDOR_DEFINED, .count = 5,
                                                .words = { header, 0x18001209, 0, 0x00010000, n ? cases[k].second : cases[k].first } });
        }
        lines_run(l, NULL);
        expect_counts(l, "cable.rating-agrees", cases[k].passed, cases[k].failed, 0);
        if (cases[k].failed)
            expect_fail(l, "cable.rating-agrees", frame, WHO_CABLE);
        expect_verdict(l, "cable.epr-rating", cases[k].first == 0x000a2640 || cases[k].second == 0x000a2640 ? VERDICT_PASS : VERDICT_NOT_SEEN);
        lines_free(l);
    }
}

static void another_rating_in_an_identity_of_the_wrong_length_is_not_judged(void **state)
{
    static const struct answer first = { .id = PASSIVE, .extra = 1, .types = { GOOD_5A } };
    static const struct answer longer = { .id = PASSIVE, .extra = 1, .types = { GOOD_3A }, .bytes_off = 4 };
    struct lines *l = *state;

    lines_attach(l);
    identity_say(l, &first);
    identity_say(l, &longer);
    lines_run(l, NULL);
    expect_only(l, "message.", "message.length");
    expect_only(l, "cable.", NULL);
}

static void another_rating_in_another_attach_is_another_cable(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    lines_detach(l);
    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    lines_run(l, NULL);
    expect_verdict(l, "cable.rating-agrees", VERDICT_NOT_SEEN);
}

static void another_rating_after_lost_records_may_be_another_cable(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    lines_lost(l, 1);
    lines_wait(l, MS(5));
    frame = lines_cable_identity(l, 2, 0, false);
    lines_run(l, NULL);
    expect_undecided(l, "cable.rating-agrees", frame, CAUSE_LOST);
}

/* cable.current-over-rating, and what speaks for it */

/* A contract for 20 V at this current, after an offer that any cable carries. */
static uint64_t contract_20v(struct lines *l, unsigned ma)
{
    CAPS(l, F5, F9, F15, FIXED(20000, 3000));
    lines_request(l, ASK_20V(ma));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(100));
    return lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
}

static void a_contract_above_3_a_over_a_5_a_cable_passes(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    contract_20v(l, 3010);
    lines_run(l, NULL);
    expect_counts(l, "cable.current-over-rating", 1, 0, 0);
}

static void a_contract_above_3_a_over_a_3_a_cable_fails_at_its_ps_rdy(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    contract_20v(l, 3000);
    frame = contract_20v(l, 3010);
    lines_run(l, NULL);
    expect_fail(l, "cable.current-over-rating", frame, WHO_SOURCE);
    assert_int_equal(lines_finding(l, "cable.current-over-rating", VERDICT_FAIL, 0)->values[0], 3010);
    expect_only(l, "cable.", "cable.current-over-rating");
}

static void a_renewed_contract_is_one_contract(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    contract_20v(l, 3010);
    contract_20v(l, 3010);
    lines_run(l, NULL);
    expect_counts(l, "cable.current-over-rating", 1, 0, 0);
}

static void more_contracts_than_are_kept_are_all_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    for (unsigned k = 0; k < 20; k++)
        contract_20v(l, 3010 + 10 * k);
    lines_run(l, NULL);
    expect_counts(l, "cable.current-over-rating", 0, 20, 0);
}

static void a_contract_after_lost_records_may_have_another_identity(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    lines_lost(l, 1);
    lines_wait(l, MS(5));
    frame = contract_20v(l, 3010);
    lines_run(l, NULL);
    expect_undecided(l, "cable.current-over-rating", frame, CAUSE_LOST);
}

static void a_contract_without_identity_attach_or_with_a_captive_cable_is_no_occasion(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    contract_20v(l, 3010);
    lines_run(l, NULL);
    expect_verdict(l, "cable.current-over-rating", VERDICT_NOT_SEEN);

    struct lines *other = lines_new();

    lines_cable_identity(other, 1, 0, false);
    contract_20v(other, 3010);
    lines_run(other, NULL);
    expect_verdict(other, "cable.current-over-rating", VERDICT_NOT_SEEN);
    lines_free(other);

    other = lines_new();
    lines_about(other, RECORD_PORT_BENCH, CAPTIVE);
    lines_attach(other);
    lines_cable_identity(other, 1, 0, false);
    contract_20v(other, 3010);
    lines_run(other, NULL);
    expect_verdict(other, "cable.current-over-rating", VERDICT_NOT_SEEN);
    lines_free(other);
}

static void an_offer_above_3_a_over_a_3_a_cable_speaks_for_the_contract(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    frame = CAPS(l, STRONG);
    lines_request(l, ASK_20V(5000));
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_fail(l, "caps.over-3a-needs-cable", frame, WHO_SOURCE);
    expect_verdict(l, "cable.current-over-rating", VERDICT_NOT_SEEN);
    expect_counts(l, "cable.discovered-before-5a", 1, 0, 0);
}

static void an_offer_before_the_identity_speaks_for_all_that_comes_of_it_in_that_attach(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    frame = CAPS(l, STRONG);
    lines_request(l, ASK_20V(5000));
    lines_accept_and_ready(l);
    lines_cable_identity(l, 1, 0, false);
    CAPS(l, F5, F9, F15, FIXED(20000, 4000));
    lines_request(l, ASK_20V(4000));
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_fail(l, "cable.discovered-before-5a", frame, WHO_SOURCE);
    expect_only(l, "cable.", "cable.discovered-before-5a");
    expect_verdict(l, "caps.over-3a-needs-cable", VERDICT_NOT_SEEN);
    expect_verdict(l, "cable.current-over-rating", VERDICT_NOT_SEEN);

    lines_detach(l);
    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    CAPS(l, STRONG);
    lines_run(l, NULL);
    expect_counts(l, "caps.over-3a-needs-cable", 0, 1, 0);
}

static void passes_outside_since_and_until_are_not_counted(void **state)
{
    struct lines *l = *state;
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = START_NS + MS(50) };

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    contract_20v(l, 3010);
    lines_run(l, &o);
    expect_verdict(l, "cable.current-over-rating", VERDICT_NOT_SEEN);
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test_setup_teardown(an_offer_above_3_a_after_the_identity_passes, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_offer_of_3_a_asks_for_no_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_offer_of_3_01_a_without_identity_fails_once_an_attach, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_identity_that_comes_after_the_offer_is_too_late, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_captive_cable_needs_no_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(without_the_attach_it_is_undecided_whether_the_plug_was_asked, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(without_the_attach_an_identity_that_shows_is_enough, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(lost_records_since_the_attach_may_hold_the_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_bad_packet_on_the_cables_set_may_be_the_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_bad_request_that_was_repeated_is_not_the_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_identity_of_the_wrong_length_is_judged_by_its_length_alone, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_partner_without_electronics_gives_no_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_same_rating_again_passes, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(another_current_voltage_or_epr_bit_fails, lines_setup, lines_teardown),
    cmocka_unit_test(an_identity_of_2_0_and_one_of_3_x_are_compared_by_what_both_say),
    cmocka_unit_test_setup_teardown(another_rating_in_an_identity_of_the_wrong_length_is_not_judged, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(another_rating_in_another_attach_is_another_cable, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(another_rating_after_lost_records_may_be_another_cable, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_contract_above_3_a_over_a_5_a_cable_passes, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_contract_above_3_a_over_a_3_a_cable_fails_at_its_ps_rdy, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_renewed_contract_is_one_contract, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(more_contracts_than_are_kept_are_all_judged, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_contract_after_lost_records_may_have_another_identity, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_contract_without_identity_attach_or_with_a_captive_cable_is_no_occasion, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_offer_above_3_a_over_a_3_a_cable_speaks_for_the_contract, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_offer_before_the_identity_speaks_for_all_that_comes_of_it_in_that_attach, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(passes_outside_since_and_until_are_not_counted, lines_setup, lines_teardown),
};

#define ROWS (sizeof identities / sizeof identities[0])
#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union row_state { const struct identity_row *row; void *state; };

int main(void)
{
    static struct CMUnitTest tests[ROWS + OTHERS];

    for (unsigned k = 0; k < ROWS; k++) {
        union row_state t = { .row = &identities[k] };

        tests[k] = (struct CMUnitTest){ .name = identities[k].name, .test_func = identity_row_holds, .initial_state = t.state };
    }
    memcpy(tests + ROWS, others, sizeof others);
    return cmocka_run_group_tests_name("rules cable", tests, NULL, NULL);
}
