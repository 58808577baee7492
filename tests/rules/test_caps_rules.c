/*
 * The rules caps.*: each passes, fails, stays undecided where the catalogue has that, and stays unseen; limits from both sides.
 *
 * What is expected was typed from the catalogue of rules. "Published": words from public texts, named beside them.
 */
#include "tests/rules/caps_words.h"

#include "decode/field.h"
#include "rules/power_rules.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static void row_holds(void **state)
{
    const struct row *r = *state;
    struct lines *l = lines_new();
    uint64_t frame = row_play(l, r);
    const struct finding *f;

    expect_counts(l, r->rule, r->passed, r->failed, r->undecided);
    expect_only(l, "caps.", r->only);
    for (unsigned k = 0; (f = lines_finding(l, r->rule, VERDICT_FAIL, k)); k++) {
        assert_int_equal(f->frame, frame);
        assert_int_equal(f->whom, WHO_SOURCE);
        assert_int_equal(f->party, PARTY_DEVICE);
    }
    for (unsigned k = 0; (f = lines_finding(l, r->rule, VERDICT_UNDECIDED, k)); k++) {
        assert_int_equal(f->frame, frame);
        assert_int_equal(f->cause, CAUSE_INFERRED_RATING);
    }
    lines_free(l);
}

static const struct row rows[] = {
    /* caps.first-5v */
    { .name = "an offer that begins with 5 V is well begun", .words = { F5 }, .rule = "caps.first-5v", .passed = 1 },
    { .name = "an offer that begins with 9 V is not, and no other rule speaks of it", .words = { F9, F15 },
      .rule = "caps.first-5v", .failed = 1, .only = "caps.first-5v" },
    { .name = "an offer that begins with 4.95 V is not", .words = { FIXED(4950, 3000) }, .rule = "caps.first-5v", .failed = 1,
      .only = "caps.first-5v" },
    { .name = "an offer that begins with 5.05 V is not", .words = { FIXED(5050, 3000) }, .rule = "caps.first-5v", .failed = 1,
      .only = "caps.first-5v" },
    { .name = "an offer that begins with a battery is not", .words = { BATTERY(5000, 5000, 15000), F9 },
      .rule = "caps.first-5v", .failed = 1, .only = "caps.first-5v" },
    { .name = "an offer is judged although its charger is alone", .words = { F9 }, .no_request = true, .rule = "caps.first-5v",
      .failed = 1, .only = "caps.first-5v" },

    /* caps.count */
    { .name = "seven objects are as many as there may be",
      .words = { F5, F9, BATTERY(5000, 12000, 10000), BATTERY(5000, 12000, 10000), VARIABLE(5000, 12000, 1000),
                 VARIABLE(5000, 12000, 1000), VARIABLE(5000, 12000, 1000) },
      .rule = "caps.count", .passed = 1 },

    /* caps.order */
    { .name = "fixed, battery, variable, augmented is the order",
      .words = { F5, F9, BATTERY(5000, 12000, 10000), VARIABLE(4000, 12000, 1000), PPS(3300, 11000, 3000) | LIMITED },
      .rule = "caps.order", .passed = 1 },
    { .name = "falling fixed voltages are out of order, and only that", .words = { F5, F15, F9 }, .rule = "caps.order", .failed = 1,
      .only = "caps.order" },
    { .name = "a battery behind a variable supply is out of order",
      .words = { F5, F9, VARIABLE(5000, 12000, 1000), BATTERY(5000, 12000, 10000) }, .rule = "caps.order", .failed = 1,
      .only = "caps.order" },
    { .name = "a fixed supply behind a programmable one is out of order", .words = { F5, PPS(3300, 11000, 3000) | LIMITED, F9 },
      .rule = "caps.order", .failed = 1, .only = "caps.order" },
    { .name = "batteries may not fall in minimum voltage",
      .words = { F5, F9, BATTERY(6000, 12000, 10000), BATTERY(5950, 12000, 10000) }, .rule = "caps.order", .failed = 1,
      .only = "caps.order" },
    { .name = "batteries may have the same minimum voltage",
      .words = { F5, F9, BATTERY(6000, 12000, 10000), BATTERY(6000, 12000, 10000) }, .rule = "caps.order", .passed = 1 },
    { .name = "variable supplies may not fall in minimum voltage",
      .words = { F5, F9, VARIABLE(6000, 12000, 1000), VARIABLE(5950, 12000, 1000) }, .rule = "caps.order", .failed = 1,
      .only = "caps.order" },
    { .name = "the order of an offer that does not begin with 5 V is not judged", .words = { F15, F9 }, .rule = "caps.order",
      .only = "caps.first-5v" },

    /* caps.apdo-order */
    { .name = "SPR AVS before programmable supplies that rise is in order",
      .words = { SET_65W, SPR_AVS(3000, 3000), PPS(3300, 11000, 3000), PPS(3300, 21000, 3000) }, .about = RATED(65),
      .rule = "caps.apdo-order", .passed = 1 },
    { .name = "SPR AVS behind a programmable supply is out of order",
      .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED, SPR_AVS(3000, 0) }, .rule = "caps.apdo-order", .failed = 1,
      .only = "caps.apdo-order" },
    { .name = "programmable supplies that fall in maximum voltage are out of order",
      .words = { SET_65W, PPS(3300, 21000, 3000), PPS(3300, 11000, 3000) }, .about = RATED(65), .rule = "caps.apdo-order", .failed = 1,
      .only = "caps.apdo-order" },
    { .name = "programmable supplies may end at the same voltage",
      .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED, PPS(5000, 11000, 3000) | LIMITED }, .rule = "caps.apdo-order", .passed = 1 },
    { .name = "one augmented object has no order", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED }, .rule = "caps.apdo-order" },
    { .name = "with a sink of revision 2.0 the order of augmented objects is not judged",
      .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED, SPR_AVS(3000, 0) }, .sink_revision = HEADER_R2, .rule = "caps.apdo-order" },
    { .name = "before a revision is agreed the order of augmented objects is not judged",
      .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED, SPR_AVS(3000, 0) }, .no_request = true, .rule = "caps.apdo-order" },
    { .name = "where the order of kinds is broken that of augmented objects is not judged",
      .words = { F5, PPS(3300, 11000, 3000) | LIMITED, SPR_AVS(3000, 0), F9 }, .rule = "caps.apdo-order", .only = "caps.order" },

    /* caps.unique-voltage */
    { .name = "fixed voltages that differ are unique", .words = { F5, F9, FIXED(9050, 2000) }, .rule = "caps.unique-voltage", .passed = 1 },
    { .name = "a fixed voltage twice is not unique, and in order", .words = { F5, F9, FIXED(9000, 2000) },
      .rule = "caps.unique-voltage", .failed = 1, .only = "caps.unique-voltage" },
    { .name = "a voltage twice out of order is only out of order", .words = { F5, F9, F5 }, .rule = "caps.unique-voltage",
      .only = "caps.order" },

    /* caps.zero-object */
    { .name = "SPR AVS may have no second current", .words = { F5, F9, SPR_AVS(3000, 0) }, .rule = "caps.zero-object", .passed = 1 },
    { .name = "an object of zeros offers nothing", .words = { F5, 0, F9 }, .rule = "caps.zero-object", .failed = 1,
      .only = "caps.zero-object" },
    { .name = "an object of zeros at the end offers nothing", .words = { F5, F9, 0 }, .count = 3, .rule = "caps.zero-object", .failed = 1,
      .only = "caps.zero-object" },
    { .name = "a fixed supply of no current offers nothing", .words = { F5, FIXED(9000, 0) }, .rule = "caps.zero-object", .failed = 1,
      .only = "caps.zero-object" },
    { .name = "a battery of no power offers nothing", .words = { F5, BATTERY(5000, 12000, 0) }, .rule = "caps.zero-object", .failed = 1,
      .only = "caps.zero-object" },
    { .name = "SPR AVS of no first current offers nothing", .words = { F5, F9, SPR_AVS(0, 3000) }, .rule = "caps.zero-object",
      .failed = 1, .only = "caps.zero-object" },
    { .name = "10 mA are something", .words = { F5, FIXED(9000, 10) }, .rule = "caps.zero-object", .passed = 1 },

    /* caps.first-only-flags */
    { .name = "the first object has its flags for itself", .words = { F5 | 0x3f000000u, F9, F15 }, .rule = "caps.first-only-flags",
      .passed = 2 },
    { .name = "bit 23 in a second object is a flag out of place", .words = { F5, F9 | 1u << 23 }, .rule = "caps.first-only-flags",
      .failed = 1, .only = "caps.first-only-flags" },
    { .name = "bit 29 in a second object is a flag out of place", .words = { F5, F9 | 1u << 29, F15 },
      .rule = "caps.first-only-flags", .passed = 1, .failed = 1, .only = "caps.first-only-flags" },
    { .name = "Peak Current in a second object is in its place", .words = { F5, F9 | 3u << 20 }, .rule = "caps.first-only-flags",
      .passed = 1 },
    { .name = "a single object has no others", .words = { F5 }, .rule = "caps.first-only-flags" },

    /* caps.reserved-bits */
    { .name = "objects without reserved bits are clean",
      .words = { F5 | 0x3fb00000u, F9, BATTERY(5000, 12000, 10000), VARIABLE(5000, 12000, 1000), SPR_AVS(3000, 0) | 3u << 26,
                 PPS(3300, 11000, 3000) | LIMITED },
      .rule = "caps.reserved-bits", .passed = 6 },
    { .name = "bit 22 of a fixed supply is reserved", .words = { F5 | 1u << 22, F9 }, .rule = "caps.reserved-bits", .passed = 1,
      .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 7 of a programmable supply is reserved", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED | 1u << 7 },
      .rule = "caps.reserved-bits", .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 16 of a programmable supply is reserved", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED | 1u << 16 },
      .rule = "caps.reserved-bits", .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 25 of a programmable supply is reserved", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED | 1u << 25 },
      .rule = "caps.reserved-bits", .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 26 of a programmable supply is reserved", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED | 1u << 26 },
      .rule = "caps.reserved-bits", .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 20 of SPR AVS is reserved", .words = { F5, F9, SPR_AVS(3000, 0) | 1u << 20 }, .rule = "caps.reserved-bits",
      .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "bit 25 of SPR AVS is reserved", .words = { F5, F9, SPR_AVS(3000, 0) | 1u << 25 }, .rule = "caps.reserved-bits",
      .passed = 2, .failed = 1, .only = "caps.reserved-bits" },
    { .name = "augmented type 11 is reserved", .words = { F5, F9, 0xf0000001u }, .rule = "caps.reserved-bits", .passed = 2, .failed = 1,
      .only = "caps.reserved-bits" },

    /* caps.apdo-in-revision */
    { .name = "revision 2.0 offers fixed supplies", .words = { F5, F9 }, .source_revision = HEADER_R2, .rule = "caps.apdo-in-revision",
      .passed = 1 },
    { .name = "revision 2.0 has no augmented objects", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED },
      .source_revision = HEADER_R2, .rule = "caps.apdo-in-revision", .failed = 1, .only = "caps.apdo-in-revision" },
    { .name = "revision 3 has augmented objects", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED },
      .rule = "caps.apdo-in-revision" },

    /* caps.spr-limits */
    { .name = "20 V and 5 A are the limit of a fixed supply", .words = { F5, F9, F15, FIXED(20000, 5000) }, .rule = "caps.spr-limits",
      .passed = 4 },
    { .name = "20.05 V are too much for a fixed supply", .words = { F5, F9, F15, FIXED(20000, 3000), FIXED(20050, 3000) },
      .rule = "caps.spr-limits", .passed = 4, .failed = 1, .only = "caps.spr-limits" },
    { .name = "5.01 A are too much for a fixed supply", .words = { F5, F9, F15, FIXED(20000, 5010) }, .rule = "caps.spr-limits",
      .passed = 3, .failed = 1, .only = "caps.spr-limits" },
    { .name = "21 V and 5 A are the limit of a variable supply", .words = { F5, VARIABLE(5000, 21000, 5000) },
      .rule = "caps.spr-limits", .passed = 2 },
    { .name = "21.05 V are too much for a variable supply", .words = { F5, VARIABLE(5000, 21050, 5000) }, .rule = "caps.spr-limits",
      .passed = 1, .failed = 1, .only = "caps.spr-limits" },
    { .name = "5.01 A are too much for a variable supply", .words = { F5, VARIABLE(5000, 21000, 5010) }, .rule = "caps.spr-limits",
      .passed = 1, .failed = 1, .only = "caps.spr-limits" },
    { .name = "21 V and 100 W are the limit of a battery", .words = { F5, BATTERY(5000, 21000, 100000) }, .rule = "caps.spr-limits",
      .passed = 2 },
    { .name = "21.05 V are too much for a battery", .words = { F5, BATTERY(5000, 21050, 100000) }, .rule = "caps.spr-limits",
      .passed = 1, .failed = 1, .only = "caps.spr-limits" },
    { .name = "100.25 W are too much for a battery", .words = { F5, BATTERY(5000, 21000, 100250) }, .rule = "caps.spr-limits",
      .passed = 1, .failed = 1, .only = "caps.spr-limits" },
    { .name = "5 A are the limit of a programmable supply", .words = { F5, F9, PPS(3300, 11000, 5000) | LIMITED },
      .rule = "caps.spr-limits", .passed = 3 },
    { .name = "5.05 A are too much for a programmable supply, and its power is not judged", .words = { F5, F9, PPS(3300, 11000, 5050) },
      .rule = "caps.spr-limits", .passed = 2, .failed = 1, .only = "caps.spr-limits" },
    { .name = "5 A are the limit of SPR AVS", .words = { SET_65W, SPR_AVS(5000, 5000) }, .rule = "caps.spr-limits", .passed = 5 },
    { .name = "5.01 A are too much for SPR AVS", .words = { SET_65W, SPR_AVS(5010, 5000) }, .rule = "caps.spr-limits", .passed = 4,
      .failed = 1, .only = "caps.spr-limits" },

    /* caps.variable-range, caps.battery-range */
    { .name = "a variable supply of one voltage is sound", .words = { F5, VARIABLE(9000, 9000, 1000) }, .rule = "caps.variable-range",
      .passed = 1 },
    { .name = "a variable supply from 0 V is not", .words = { F5, VARIABLE(0, 9000, 1000) }, .rule = "caps.variable-range", .failed = 1,
      .only = "caps.variable-range" },
    { .name = "a variable supply with its ends turned round is not", .words = { F5, VARIABLE(9050, 9000, 1000) },
      .rule = "caps.variable-range", .failed = 1, .only = "caps.variable-range" },
    { .name = "without a variable supply there is no range of it", .words = { F5 }, .rule = "caps.variable-range" },
    { .name = "a battery from 50 mV is sound", .words = { F5, BATTERY(50, 9000, 10000) }, .rule = "caps.battery-range", .passed = 1 },
    { .name = "a battery from 0 V is not", .words = { F5, BATTERY(0, 9000, 10000) }, .rule = "caps.battery-range", .failed = 1,
      .only = "caps.battery-range" },
    { .name = "a battery with its ends turned round is not", .words = { F5, BATTERY(9050, 9000, 10000) },
      .rule = "caps.battery-range", .failed = 1, .only = "caps.battery-range" },
    { .name = "without a battery there is no range of it", .words = { F5 }, .rule = "caps.battery-range" },

    /* caps.pps-range */
    { .name = "3.0 to 21.0 V is the widest programmable range", .words = { SET_65W, PPS(3000, 21000, 3000) }, .about = RATED(65),
      .rule = "caps.pps-range", .passed = 1 },
    { .name = "a programmable supply from 2.9 V begins too low, and its current is not judged",
      .words = { F5, F9, PPS(2900, 11000, 1000) }, .rule = "caps.pps-range", .failed = 1, .only = "caps.pps-range" },
    { .name = "a programmable supply to 21.1 V ends too high", .words = { SET_65W, PPS(3300, 21100, 3000) }, .rule = "caps.pps-range",
      .failed = 1, .only = "caps.pps-range" },
    { .name = "a programmable supply of one voltage is no range", .words = { F5, F9, PPS(9000, 9000, 3000) }, .rule = "caps.pps-range",
      .failed = 1, .only = "caps.pps-range" },
    { .name = "a programmable supply of two voltages is a range", .words = { F5, F9, PPS(8900, 9000, 3000) }, .rule = "caps.pps-range",
      .passed = 1 },
    { .name = "with a sink of revision 2.0 programmable ranges are not judged", .words = { F5, F9, PPS(2900, 11000, 3000) | LIMITED },
      .sink_revision = HEADER_R2, .rule = "caps.pps-range" },
    { .name = "before a revision is agreed programmable ranges are not judged", .words = { F5, F9, PPS(2900, 11000, 3000) | LIMITED },
      .no_request = true, .rule = "caps.pps-range" },

    /* caps.pps-current: nominal 9, 15, 20 V for 11, 16, 21 V; 3 A at most; steps of 50 mA */
    { .name = "27 W owe 3 A up to 11 V", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED }, .rule = "caps.pps-current", .passed = 1 },
    { .name = "27 W owe more than 2.95 A up to 11 V", .words = { F5, F9, PPS(3300, 11000, 2950) | LIMITED },
      .rule = "caps.pps-current", .failed = 1, .only = "caps.pps-current" },
    { .name = "20 W owe 2.20 A up to 11 V", .words = { F5, FIXED(9000, 2220), PPS(3300, 11000, 2200) | LIMITED },
      .rule = "caps.pps-current", .passed = 1 },
    { .name = "20 W owe more than 2.15 A up to 11 V", .words = { F5, FIXED(9000, 2220), PPS(3300, 11000, 2150) | LIMITED },
      .rule = "caps.pps-current", .failed = 1, .only = "caps.pps-current" },
    { .name = "30 W owe 2 A up to 16 V", .words = { F5, F9, FIXED(15000, 2000), PPS(3300, 16000, 2000) | LIMITED },
      .rule = "caps.pps-current", .passed = 1 },
    { .name = "30 W owe more than 1.95 A up to 16 V", .words = { F5, F9, FIXED(15000, 2000), PPS(3300, 16000, 1950) | LIMITED },
      .rule = "caps.pps-current", .failed = 1, .only = "caps.pps-current" },
    { .name = "65 W owe no more than 3 A up to 21 V", .words = { SET_65W, PPS(3300, 21000, 3000) }, .rule = "caps.pps-current",
      .passed = 1 },
    { .name = "65 W owe more than 2.95 A up to 21 V", .words = { SET_65W, PPS(3300, 21000, 2950) }, .rule = "caps.pps-current",
      .failed = 1, .only = "caps.pps-current" },
    { .name = "a declared 60 W owe 3 A up to 21 V", .words = { F5, F9, F15, FIXED(20000, 3000), PPS(3300, 21000, 2950) },
      .about = RATED(60), .rule = "caps.pps-current", .failed = 1, .only = "caps.pps-current caps.pps-power-limited" },
    { .name = "up to 5.9 V no current is owed", .words = { F5, F9, PPS(3300, 5900, 1000) }, .rule = "caps.pps-current" },
    { .name = "up to 15 V, which is no family, no current is owed", .words = { F5, F9, PPS(3300, 15000, 1000) },
      .rule = "caps.pps-current" },

    /* caps.pps-power-limited */
    { .name = "33 W of a port rated 27 W with the flag are right", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED },
      .about = RATED(27), .rule = "caps.pps-power-limited", .passed = 1 },
    { .name = "33 W of a port rated 27 W without the flag are not", .words = { F5, F9, PPS(3300, 11000, 3000) }, .about = RATED(27),
      .rule = "caps.pps-power-limited", .failed = 1, .only = "caps.pps-power-limited" },
    { .name = "33 W beside 27 W of fixed supplies without the flag are undecided", .words = { F5, F9, PPS(3300, 11000, 3000) },
      .rule = "caps.pps-power-limited", .undecided = 1, .only = "caps.pps-power-limited" },
    { .name = "33 W beside 27 W of fixed supplies with the flag are right", .words = { F5, F9, PPS(3300, 11000, 3000) | LIMITED },
      .rule = "caps.pps-power-limited", .passed = 1 },
    { .name = "one coding step above the rating needs no flag", .words = { F5, PPS(3300, 5900, 2550) }, .about = RATED(15),
      .rule = "caps.pps-power-limited" },
    { .name = "exactly one coding step above the rating needs no flag", .words = { F5, PPS(3300, 5900, 2600) }, .about = RATED(15.045),
      .rule = "caps.pps-power-limited" },
    { .name = "more than one coding step above the rating needs the flag", .words = { F5, PPS(3300, 5900, 2600) }, .about = RATED(15),
      .rule = "caps.pps-power-limited", .failed = 1, .only = "caps.pps-power-limited" },
    { .name = "the rating may come from Source_Capabilities_Extended", .words = { F5, F9, PPS(3300, 11000, 3000) }, .spr_w = 27,
      .rule = "caps.pps-power-limited", .failed = 1, .only = "caps.pps-power-limited" },
    { .name = "the rating may come from Source_Info", .words = { F5, F9, PPS(3300, 11000, 3000) }, .info = INFO(27, 27, 27),
      .rule = "caps.pps-power-limited", .failed = 1, .only = "caps.pps-power-limited" },

    /* caps.power-rules-voltages */
    { .name = "15 W owe no second voltage", .words = { F5 }, .rule = "caps.power-rules-voltages" },
    { .name = "15.05 W are within a step of 15 W", .words = { FIXED(5000, 3010) }, .rule = "caps.power-rules-voltages" },
    { .name = "15.1 W owe 9 V", .words = { FIXED(5000, 3020) }, .rule = "caps.power-rules-voltages", .failed = 1,
      .only = "caps.power-rules-voltages" },
    { .name = "27 W owe 5 and 9 V", .words = { F5, F9 }, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "27.09 W are within a step of 27 W", .words = { F5, FIXED(9000, 3010) }, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "27.18 W owe 15 V", .words = { F5, FIXED(9000, 3020) }, .rule = "caps.power-rules-voltages", .failed = 1,
      .only = "caps.power-rules-voltages" },
    { .name = "45 W owe no 20 V", .words = { F5, F9, F15 }, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "45.15 W are within a step of 45 W", .words = { F5, F9, FIXED(15000, 3010) }, .rule = "caps.power-rules-voltages",
      .passed = 1 },
    { .name = "45.3 W owe 20 V", .words = { F5, F9, FIXED(15000, 3020) }, .rule = "caps.power-rules-voltages", .failed = 1,
      .only = "caps.power-rules-voltages" },
    { .name = "45 W with 5, 9 and 20 V owe 15 V", .words = { F5, F9, FIXED(20000, 2250) }, .rule = "caps.power-rules-voltages",
      .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "65 W have all four", .words = { SET_65W }, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "60 W with 5 and 20 V owe 9 and 15 V", .words = { F5, FIXED(20000, 3000) }, .rule = "caps.power-rules-voltages",
      .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "60 W with 5 and 12 V owe three voltages under revision 3", .words = { F5, FIXED(12000, 5000) },
      .rule = "caps.power-rules-voltages", .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "other voltages are allowed", .words = { F5, F9, FIXED(12000, 2250) }, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "5 and 12 V are as good under revision 2.0", .words = { FIXED(5000, 2000), FIXED(12000, 1500) },
      .source_revision = HEADER_R2, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "5 and 12 V are as good in a message of revision 2.0 that nobody answered",
      .words = { FIXED(5000, 2000), FIXED(12000, 1500) }, .source_revision = HEADER_R2, .no_request = true,
      .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "5 and 12 V are as good with a sink of revision 2.0", .words = { FIXED(5000, 2000), FIXED(12000, 3000) },
      .sink_revision = HEADER_R2, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "5, 12 and 20 V are as good under revision 2.0",
      .words = { FIXED(5000, 2000), FIXED(12000, 3000), FIXED(20000, 3000) }, .source_revision = HEADER_R2,
      .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "under revision 2.0 other sets than 5 and 12 V follow the same rows", .words = { F5, FIXED(20000, 3000) },
      .source_revision = HEADER_R2, .rule = "caps.power-rules-voltages", .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "5 and 12 V are not judged before a revision is agreed", .words = { FIXED(5000, 2000), FIXED(12000, 1500) },
      .no_request = true, .rule = "caps.power-rules-voltages" },
    { .name = "a port rated 65 W that offers 27 W owes 15 and 20 V", .words = { F5, F9 }, .about = RATED(65),
      .rule = "caps.power-rules-voltages", .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "with another port occupied it does not", .words = { F5, F9 }, .about = RATED(65), .occupied = true,
      .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "a port that Source_Capabilities_Extended rates 65 W owes 15 and 20 V, and is not asked to agree", .words = { F5, F9 },
      .spr_w = 65, .cable = CABLE_5A, .rule = "caps.power-rules-voltages", .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "a present PDP of 27 W out of 65 W owes no more", .words = { F5, F9 }, .about = RATED(65), .info = INFO(65, 27, 27),
      .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "a present PDP of 28 W owes 15 V", .words = { F5, F9 }, .info = INFO(65, 28, 27), .rule = "caps.power-rules-voltages",
      .failed = 1, .only = "caps.power-rules-voltages" },
    { .name = "a rating of 27.05 W is within a step of 27 W", .words = { F5, F9 }, .about = RATED(27.05),
      .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "a rating of 27.1 W is not", .words = { F5, F9 }, .about = RATED(27.1), .rule = "caps.power-rules-voltages", .failed = 1,
      .only = "caps.power-rules-voltages" },
    { .name = "a rating of nothing says nothing", .words = { F5, F9 }, .about = RATED(0), .rule = "caps.power-rules-voltages",
      .passed = 1 },

    /* caps.power-rules-currents */
    { .name = "10 W as 5 V 2 A pass", .words = { FIXED(5000, 2000) }, .about = RATED(10), .rule = "caps.power-rules-currents",
      .passed = 1 },
    { .name = "a port rated 10 W owes more than 1.99 A", .words = { FIXED(5000, 1990) }, .about = RATED(10),
      .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "what is inferred from one object it lives up to itself", .words = { FIXED(5000, 1990) },
      .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "below the top voltage 3 A are owed", .words = { FIXED(5000, 2990), F9 }, .rule = "caps.power-rules-currents",
      .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 20 W owes 2.22 A at 9 V", .words = { F5, FIXED(9000, 2220) }, .about = RATED(20),
      .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 20 W owes more than 2.21 A at 9 V", .words = { F5, FIXED(9000, 2210) }, .about = RATED(20),
      .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "9 V of a port of 45 W owe 3 A", .words = { F5, FIXED(9000, 2990), F15 }, .rule = "caps.power-rules-currents",
      .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 45 W owes 3 A at 15 V", .words = { F5, F9, F15 }, .about = RATED(45), .rule = "caps.power-rules-currents",
      .passed = 1 },
    { .name = "a port rated 45 W owes more than 2.99 A at 15 V", .words = { F5, F9, FIXED(15000, 2990) }, .about = RATED(45),
      .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 45 W may show 2.25 A at 20 V", .words = { F5, F9, F15, FIXED(20000, 2250) }, .about = RATED(45),
      .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 60 W owes more than 2.99 A at 20 V", .words = { F5, F9, F15, FIXED(20000, 2990) }, .about = RATED(60),
      .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 65 W owes 3 A at 20 V where no cable for 5 A is known", .words = { F5, F9, F15, FIXED(20000, 3000) },
      .about = RATED(65), .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 65 W owes 3.25 A at 20 V through a cable for 5 A", .words = { SET_65W }, .about = RATED(65),
      .cable = CABLE_5A, .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 65 W owes more than 3.24 A at 20 V through a cable for 5 A",
      .words = { F5, F9, F15, FIXED(20000, 3240) }, .about = RATED(65), .cable = CABLE_5A, .rule = "caps.power-rules-currents",
      .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 100 W owes 3 A at 20 V through a cable for 3 A", .words = { F5, F9, F15, FIXED(20000, 3000) },
      .about = RATED(100), .cable = CABLE_3A, .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 100 W owes 5 A at 20 V through a cable for 5 A", .words = { F5, F9, F15, FIXED(20000, 5000) },
      .about = RATED(100), .cable = CABLE_5A, .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "a port rated 100 W owes more than 4.99 A through a cable for 5 A", .words = { F5, F9, F15, FIXED(20000, 4990) },
      .about = RATED(100), .cable = CABLE_5A, .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-currents" },
    { .name = "a port rated 140 W owes no more than 100 W here", .words = { F5, F9, F15, FIXED(20000, 5000) }, .about = RATED(140),
      .cable = CABLE_5A, .rule = "caps.power-rules-currents", .passed = 1 },
    { .name = "at a missing voltage no current is judged, at the others it is", .words = { FIXED(5000, 2990), FIXED(20000, 2250) },
      .rule = "caps.power-rules-currents", .failed = 1, .only = "caps.power-rules-voltages caps.power-rules-currents" },
    { .name = "the currents of the first power rules are not judged", .words = { FIXED(5000, 2000), FIXED(12000, 1500) },
      .source_revision = HEADER_R2, .rule = "caps.power-rules-currents" },

    /* caps.over-rating */
    { .name = "a port rated 65 W may offer 65 W", .words = { SET_65W }, .about = RATED(65), .rule = "caps.over-rating", .passed = 4 },
    { .name = "one coding step above the rating is let pass", .words = { F5, F9, F15, FIXED(20000, 3260) }, .about = RATED(65),
      .rule = "caps.over-rating", .passed = 4 },
    { .name = "two coding steps are not", .words = { F5, F9, F15, FIXED(20000, 3270) }, .about = RATED(65), .rule = "caps.over-rating",
      .passed = 3, .failed = 1, .only = "caps.over-rating" },
    { .name = "a variable supply counts with its largest voltage", .words = { F5, F9, VARIABLE(5000, 10000, 2710) },
      .about = RATED(27), .rule = "caps.over-rating", .passed = 3 },
    { .name = "a variable supply of two steps more is over the rating", .words = { F5, F9, VARIABLE(5000, 10000, 2720) },
      .about = RATED(27), .rule = "caps.over-rating", .passed = 2, .failed = 1, .only = "caps.over-rating" },
    { .name = "a battery may be one step above the rating", .words = { F5, F9, BATTERY(5000, 10000, 27250) }, .about = RATED(27),
      .rule = "caps.over-rating", .passed = 3 },
    { .name = "a battery of two steps more is over the rating", .words = { F5, F9, BATTERY(5000, 10000, 27500) }, .about = RATED(27),
      .rule = "caps.over-rating", .passed = 2, .failed = 1, .only = "caps.over-rating" },
    { .name = "without a rating nothing is over it", .words = { SET_65W }, .rule = "caps.over-rating" },
    { .name = "what is over the limits of SPR is not judged against the rating", .words = { F5, F9, VARIABLE(5000, 21050, 2000) },
      .about = RATED(27), .rule = "caps.over-rating", .passed = 2, .only = "caps.spr-limits" },
    { .name = "a present PDP is the rating while it holds", .words = { SET_65W }, .info = INFO(65, 60, 65), .rule = "caps.over-rating",
      .passed = 3, .failed = 1, .only = "caps.over-rating" },

    /* caps.agrees-with-extended-rating */
    { .name = "65 W offered and 65 W declared agree", .words = { SET_65W }, .spr_w = 65, .cable = CABLE_5A,
      .rule = "caps.agrees-with-extended-rating", .passed = 1 },
    { .name = "59.4 W are within half a watt and a step of 60 W", .words = { F5, F9, F15, FIXED(20000, 2970) }, .spr_w = 60,
      .rule = "caps.agrees-with-extended-rating", .passed = 1, .only = "caps.power-rules-currents" },
    { .name = "59.2 W are not", .words = { F5, F9, F15, FIXED(20000, 2960) }, .spr_w = 60, .rule = "caps.agrees-with-extended-rating",
      .failed = 1, .only = "caps.agrees-with-extended-rating caps.power-rules-currents" },
    { .name = "14.45 W are just half a watt and a step below 15 W", .words = { FIXED(5000, 2890) }, .spr_w = 15,
      .rule = "caps.agrees-with-extended-rating", .passed = 1, .only = "caps.power-rules-currents" },
    { .name = "14.4 W are more", .words = { FIXED(5000, 2880) }, .spr_w = 15, .rule = "caps.agrees-with-extended-rating", .failed = 1,
      .only = "caps.agrees-with-extended-rating caps.power-rules-currents" },
    { .name = "without a cable for 5 A 65 W cannot be asked for", .words = { F5, F9, F15, FIXED(20000, 3000) }, .spr_w = 65,
      .rule = "caps.agrees-with-extended-rating" },
    { .name = "with another port occupied nothing is asked for", .words = { F5, F9 }, .spr_w = 60, .occupied = true,
      .rule = "caps.agrees-with-extended-rating" },
    { .name = "without Source_Capabilities_Extended there is nothing to agree with", .words = { SET_65W }, .cable = CABLE_5A,
      .rule = "caps.agrees-with-extended-rating" },

    /* caps.agrees-with-source-info: reported PDP, the rest below */
    { .name = "a reported PDP of one watt less agrees", .words = { SET_65W }, .info = INFO(65, 65, 64),
      .rule = "caps.agrees-with-source-info", .passed = 1 },
    { .name = "a reported PDP of one watt more agrees", .words = { SET_65W }, .info = INFO(66, 65, 66),
      .rule = "caps.agrees-with-source-info", .passed = 1 },
    { .name = "without Source_Info there is nothing to agree with", .words = { SET_65W }, .rule = "caps.agrees-with-source-info" },

    /* caps.over-3a-needs-cable */
    { .name = "more than 3 A through a cable for 5 A are allowed", .words = { SET_65W }, .cable = CABLE_5A,
      .rule = "caps.over-3a-needs-cable", .passed = 1 },
    { .name = "more than 3 A through a cable for 3 A are not", .words = { SET_65W }, .cable = CABLE_3A,
      .rule = "caps.over-3a-needs-cable", .failed = 1, .only = "caps.over-3a-needs-cable" },
    { .name = "3.01 A are more than 3 A", .words = { FIXED(5000, 3010) }, .cable = CABLE_3A, .rule = "caps.over-3a-needs-cable",
      .failed = 1, .only = "caps.over-3a-needs-cable" },
    { .name = "3.05 A of a programmable supply are more than 3 A", .words = { F5, F9, PPS(3300, 11000, 3050) | LIMITED },
      .cable = CABLE_3A, .rule = "caps.over-3a-needs-cable", .failed = 1, .only = "caps.over-3a-needs-cable" },
    { .name = "3.01 A of SPR AVS above 15 V are more than 3 A", .words = { F5, F9, F15, FIXED(20000, 3000), SPR_AVS(3010, 3010) },
      .cable = CABLE_3A, .rule = "caps.over-3a-needs-cable", .failed = 1, .only = "caps.over-3a-needs-cable" },
    { .name = "3 A need no marked cable", .words = { F5, F9, F15, FIXED(20000, 3000) }, .cable = CABLE_3A,
      .rule = "caps.over-3a-needs-cable" },
    { .name = "3 A of SPR AVS alone need no marked cable", .words = { F5, F9, F15, FIXED(20000, 3000), SPR_AVS(3000, 3000) },
      .cable = CABLE_3A, .rule = "caps.over-3a-needs-cable" },
    { .name = "a captive cable needs no mark", .words = { SET_65W }, .cable = CABLE_3A, .about = CAPTIVE,
      .rule = "caps.over-3a-needs-cable" },
    { .name = "an unknown cable is another rule's affair", .words = { SET_65W }, .rule = "caps.over-3a-needs-cable" },

    /* caps.avs-required */
    { .name = "45 W of edition 3.2 with SPR AVS have what they need", .words = { F5, F9, F15, SPR_AVS(3000, 0) }, .rmdo = SAYS_3_2,
      .rule = "caps.avs-required", .passed = 1 },
    { .name = "45 W of edition 3.2 without SPR AVS have not", .words = { F5, F9, F15 }, .rmdo = SAYS_3_2, .rule = "caps.avs-required",
      .failed = 1, .only = "caps.avs-required" },
    { .name = "27.09 W are within a step of 27 W and need no SPR AVS", .words = { F5, FIXED(9000, 3010) }, .rmdo = SAYS_3_2,
      .rule = "caps.avs-required" },
    { .name = "27.18 W need SPR AVS", .words = { F5, FIXED(9000, 3020) }, .rmdo = SAYS_3_2, .rule = "caps.avs-required", .failed = 1,
      .only = "caps.avs-required caps.power-rules-voltages" },
    { .name = "edition 3.1 needs no SPR AVS", .words = { F5, F9, F15 }, .rmdo = SAYS_3_1, .rule = "caps.avs-required" },
    { .name = "an edition that is only guessed needs no SPR AVS", .words = { F5, F9, F15 }, .rule = "caps.avs-required" },

    /* caps.avs-range, SPR */
    { .name = "SPR AVS of 45 W may stop at 15 V", .words = { F5, F9, F15, SPR_AVS(3000, 0) }, .rule = "caps.avs-range", .passed = 1 },
    { .name = "SPR AVS of 45.15 W may stop at 15 V", .words = { F5, F9, FIXED(15000, 3010), SPR_AVS(3010, 0) },
      .rule = "caps.avs-range", .passed = 1 },
    { .name = "SPR AVS of 65 W may not", .words = { SET_65W, SPR_AVS(3000, 0) }, .rule = "caps.avs-range", .failed = 1,
      .only = "caps.avs-range" },
    { .name = "SPR AVS may have the same current above 15 V", .words = { SET_65W, SPR_AVS(3250, 3250) }, .rule = "caps.avs-range",
      .passed = 1 },
    { .name = "SPR AVS may not have more", .words = { SET_65W, SPR_AVS(3240, 3250) }, .rule = "caps.avs-range", .failed = 1,
      .only = "caps.avs-range" },
    { .name = "without an adjustable supply there is no range of it", .words = { SET_65W }, .rule = "caps.avs-range" },

    /* caps.peak-current */
    { .name = "a peak current that is described is right", .words = { F5 | PEAK_1, F9 }, .peak_byte = 1, .rule = "caps.peak-current",
      .passed = 1 },
    { .name = "a peak current that is not is noted", .words = { F5 | PEAK_1, F9 | PEAK_1 }, .spr_w = 27, .rule = "caps.peak-current",
      .failed = 2, .only = "caps.peak-current" },
    { .name = "a peak current without Source_Capabilities_Extended is let pass", .words = { F5 | PEAK_1 }, .rule = "caps.peak-current" },
    { .name = "without a peak current none is described", .words = { F5 }, .peak_byte = 1, .rule = "caps.peak-current" },

    /* --standard */
    { .name = "as revision 2.0, 5 and 12 V of a source of revision 3 are as good", .words = { FIXED(5000, 2000), FIXED(12000, 1500) },
      .standard = SINCE_R2, .rule = "caps.power-rules-voltages", .passed = 1 },
    { .name = "as R3.0, 5 and 12 V of a source of revision 2.0 are not", .words = { FIXED(5000, 2000), FIXED(12000, 1500) },
      .source_revision = HEADER_R2, .standard = SINCE_R30, .rule = "caps.power-rules-voltages", .failed = 1,
      .only = "caps.power-rules-voltages caps.power-rules-currents" },
    { .name = "as revision 2.0, programmable ranges are not judged", .words = { F5, F9, PPS(2900, 11000, 3000) | LIMITED },
      .standard = SINCE_R2, .rule = "caps.pps-range" },
    { .name = "as R3.0, programmable ranges are judged before a revision is agreed", .words = { F5, F9, PPS(2900, 11000, 3000) | LIMITED },
      .standard = SINCE_R30, .no_request = true, .rule = "caps.pps-range", .failed = 1, .only = "caps.pps-range" },
    { .name = "as R3.2, 45 W without SPR AVS fail whatever the source says of its edition", .words = { F5, F9, F15 },
      .standard = SINCE_R32, .rule = "caps.avs-required", .failed = 1, .only = "caps.avs-required" },
    { .name = "as R3.1, 45 W of edition 3.2 need no SPR AVS", .words = { F5, F9, F15 }, .rmdo = SAYS_3_2, .standard = SINCE_R31,
      .rule = "caps.avs-required" },

    /* Published words */
    { .name = "published: Zephyr sample usb-c-drp, 20 V 5 A and PPS 21 V 5 A without the flag, is clean but for the flag",
      .words = { 0x0A01912C, 0x0002D12C, 0x0003C12C, 0x0004B12C, 0x000641F4, 0xC1A42164 },
      .rule = "caps.pps-power-limited", .undecided = 1, .only = "caps.pps-power-limited" },
    { .name = "published: a vendor's 18 W table repeats bit 27 in objects 2 and 3",
      .words = { 0x0801912C, 0x0802D0C8, 0x0803C096, 0xC8DC2128 }, .rule = "caps.first-only-flags", .failed = 2,
      .only = "caps.first-only-flags" },
    { .name = "published: PPS 3.3 to 11 V 3 A, power limited, in a 30 W set",
      .words = { 0x0801912C, 0x0002D12C, FIXED(15000, 2000), 0xC8DC213C }, .rule = "caps.pps-power-limited", .passed = 1 },
    { .name = "published: PPS 5.5 to 21 V 3.25 A, power limited, beside 20 V 3.25 A",
      .words = { 0x0801912C, 0x0002D12C, 0x0004B12C, 0x00064145, 0xC9A43741 }, .rule = "caps.pps-current", .passed = 1 },
    { .name = "published: PPS 3.4 to 15 V 5 A and 3.4 to 21 V 4.5 A, power limited, through a cable for 5 A",
      .words = { 0x0801912C, 0x0002D12C, 0x0004B12C, FIXED(20000, 4500), 0xC92C2264, 0xC9A4225A }, .cable = CABLE_5A,
      .rule = "caps.pps-power-limited", .passed = 1 },
    { .name = "published: 9 V 2.22 A in an offer of revision 2.0 is 20 W by the rules", .words = { 0x0001912C, 0x0002D0DE },
      .source_revision = HEADER_R2, .about = RATED(20), .rule = "caps.power-rules-currents", .passed = 1 },
};

/* ---- tables ---- */

static void the_tiers_rise_and_begin_with_5_v(void **state)
{
    (void)state;
    for (unsigned k = 0; k < power_tiers_count; k++) {
        assert_int_equal(power_tiers[k].mv[0], 5000);
        assert_non_null(power_tiers[k].source);
        assert_true(k == 0 || power_tiers[k].up_to_mw > power_tiers[k - 1].up_to_mw);
    }
    assert_int_equal(power_tiers[power_tiers_count - 1].up_to_mw, 100000);
}

static void every_fact_has_a_source(void **state)
{
    (void)state;
    for (unsigned k = 0; k < pps_families_count; k++)
        assert_non_null(pps_families[k].source);
    for (unsigned k = 0; k <= SUPPLY_RESERVED; k++) {
        assert_non_null(spr_limits[k].source);
        assert_non_null(pdo_reserved_bits[k].source);
    }
}

/* The decoder's rows and the rules' masks were written apart. */
static void reserved_bits_are_those_of_the_decoder(void **state)
{
    static const struct { uint32_t word; enum supply supply; } kinds[] = {
        { 0, SUPPLY_FIXED }, { UINT32_C(1) << 30, SUPPLY_BATTERY }, { UINT32_C(2) << 30, SUPPLY_VARIABLE },
        { UINT32_C(12) << 28, SUPPLY_PPS }, { UINT32_C(13) << 28, SUPPLY_EPR_AVS }, { UINT32_C(14) << 28, SUPPLY_SPR_AVS },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        const struct object_layout *layout = object_layout(object_kind_of_pdo(kinds[k].word, false, true));
        uint32_t reserved = 0;

        for (unsigned f = 0; f < layout->count; f++)
            if (!layout->fields[f].key)
                reserved |= (uint32_t)(((UINT64_C(1) << layout->fields[f].bits) - 1) << layout->fields[f].low);
        assert_int_equal(pdo_reserved_bits[kinds[k].supply].mask, reserved);
    }
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test(the_tiers_rise_and_begin_with_5_v),
    cmocka_unit_test(every_fact_has_a_source),
    cmocka_unit_test(reserved_bits_are_those_of_the_decoder),
};

#define ROWS (sizeof rows / sizeof rows[0])
#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union row_state { const struct row *row; void *state; };

int main(void)
{
    static struct CMUnitTest tests[ROWS + OTHERS];

    for (unsigned k = 0; k < ROWS; k++) {
        union row_state s = { .row = &rows[k] };

        tests[k] = (struct CMUnitTest){ .name = rows[k].name, .test_func = row_holds, .initial_state = s.state };
    }
    memcpy(tests + ROWS, others, sizeof others);
    return cmocka_run_group_tests_name("rules caps", tests, NULL, NULL);
}
