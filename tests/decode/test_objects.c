/* Power and request objects as numbers: what is not published as a word, and the agreement with the rows. */
#include "decode/field.h"
#include "decode/objects.h"
#include "tests/decode/testing.h"

#include <string.h>

static const struct field *field_with_key(unsigned kind, const char *key)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (layout->fields[i].key && strcmp(layout->fields[i].key, key) == 0)
            return &layout->fields[i];
    return NULL;
}

/* The row's value, or 0 where the layout has no such row: as struct pdo keeps it. */
static int64_t row(unsigned kind, const char *key, uint32_t word)
{
    const struct field *f = field_with_key(kind, key);

    return f ? field_scaled(f, word) : 0;
}

static int64_t row_current(unsigned kind, uint32_t word)
{
    return row(kind, "ma", word) + row(kind, "ma_9_15v", word);
}

static int64_t row_power(unsigned kind, uint32_t word)
{
    return row(kind, "mw", word) + row(kind, "pdp_w", word) * 1000;
}

static void check_pdo_against_rows(uint32_t word, bool sink, unsigned position)
{
    struct pdo p = sink ? pdo_read_sink(word, position) : pdo_read_source(word, position);
    unsigned   kind = object_kind_of_pdo(word, sink, position == 1);

    assert_int_equal(p.word, word);
    assert_int_equal(p.position, position);
    assert_int_equal(p.peak, row(kind, "peak", word));
    assert_int_equal(p.limited, row(kind, "limited", word));
    assert_int_equal(p.max_ma, row_current(kind, word));
    assert_int_equal(p.max_ma_20v, row(kind, "ma_15_20v", word));
    assert_int_equal(p.max_mw, row_power(kind, word));
    if (p.supply == SUPPLY_FIXED)
        assert_true(p.min_mv == row(kind, "mv", word) && p.max_mv == p.min_mv);
    else if (p.supply != SUPPLY_SPR_AVS)
        assert_true(p.min_mv == row(kind, "min_mv", word) && p.max_mv == row(kind, "max_mv", word));
    assert_int_equal(p.dual_role_power, row(kind, "dual_role_power", word));
    assert_int_equal(p.usb_suspend, row(kind, "usb_suspend", word));
    assert_int_equal(p.unconstrained, row(kind, "unconstrained", word));
    assert_int_equal(p.usb_comm, row(kind, "usb_comm", word));
    assert_int_equal(p.dual_role_data, row(kind, "dual_role_data", word));
    assert_int_equal(p.unchunked, row(kind, "unchunked", word));
    assert_int_equal(p.epr_capable, row(kind, "epr_capable", word));
    assert_int_equal(p.higher_capability, row(kind, "higher_capability", word));
    assert_int_equal(p.fr_swap, row(kind, "fr_swap", word));
}

static void numbers_and_rows_agree_on_any_power_object(void **state)
{
    uint64_t seed = 11;

    (void)state;
    for (unsigned i = 0; i < RANDOM_WORDS; i++) {
        uint32_t word = random_word(&seed);

        check_pdo_against_rows(word, false, 1);
        check_pdo_against_rows(word, false, 2 + i % 12);
        check_pdo_against_rows(word, true, 1);
        check_pdo_against_rows(word, true, 2 + i % 12);
    }
}

/* One object of each supply to ask for. */
static uint32_t word_to_ask_for(unsigned form)
{
    static const uint32_t words[] = {
        [REQUEST_FIXED_VARIABLE] = 0x8F0190C8, [REQUEST_BATTERY] = 0x4F0190C8, [REQUEST_PPS] = 0xC1A42164,
        [REQUEST_AVS] = 0xE006414F,
    };

    return words[form];
}

static void check_rdo_against_rows(uint32_t word, const struct rdo *r, unsigned kind)
{
    assert_int_equal(r->position, row(kind, "position", word));
    assert_int_equal(r->give_back, row(kind, "give_back", word));
    assert_int_equal(r->mismatch, row(kind, "mismatch", word));
    assert_int_equal(r->usb_comm, row(kind, "usb_comm", word));
    assert_int_equal(r->no_usb_suspend, row(kind, "no_usb_suspend", word));
    assert_int_equal(r->unchunked, row(kind, "unchunked", word));
    assert_int_equal(r->epr_capable, row(kind, "epr_capable", word));
    assert_int_equal(r->mv, row(kind, "mv", word));
    assert_int_equal(r->op_ma, row(kind, "op_ma", word));
    assert_int_equal(r->op_mw, row(kind, "op_mw", word));
    assert_int_equal(r->max_mw, row(kind, "max_mw", word));
    if (field_with_key(kind, "max_ma"))
        assert_int_equal(r->max_ma, row(kind, "max_ma", word));
    else
        assert_int_equal(r->max_ma, r->op_ma);
}

static void numbers_and_rows_agree_on_any_request(void **state)
{
    static const unsigned kinds[] = {
        [REQUEST_FIXED_VARIABLE] = OBJECT_REQUEST_FIXED_VARIABLE, [REQUEST_BATTERY] = OBJECT_REQUEST_BATTERY,
        [REQUEST_PPS] = OBJECT_REQUEST_PPS, [REQUEST_AVS] = OBJECT_REQUEST_AVS,
    };
    uint64_t seed = 12;

    (void)state;
    for (unsigned i = 0; i < RANDOM_WORDS; i++) {
        uint32_t word = random_word(&seed);

        for (unsigned form = 0; form < LENGTH(kinds); form++) {
            struct pdo asked = pdo_read_source(word_to_ask_for(form), 2);
            struct rdo r = rdo_read(word, &asked);

            assert_int_equal(r.form, form);
            check_rdo_against_rows(word, &r, kinds[form]);
        }
        struct rdo unknown = rdo_read(word, NULL);

        assert_int_equal(unknown.form, REQUEST_FORM_UNKNOWN);
        check_rdo_against_rows(word, &unknown, OBJECT_REQUEST_UNKNOWN);
    }
}

/* A request of an object of a reserved type cannot be read beyond its flags. */
static void a_request_of_a_reserved_object_has_an_unknown_form(void **state)
{
    struct pdo asked = pdo_read_source(0xF0000000, 3);
    struct rdo r = rdo_read(0x32345678, &asked);

    (void)state;
    assert_int_equal(asked.supply, SUPPLY_RESERVED);
    assert_int_equal(r.form, REQUEST_FORM_UNKNOWN);
    assert_int_equal(r.position, 3);
    assert_int_equal(r.mv, 0);
    assert_int_equal(r.op_ma, 0);
}

/* EPR positions need bit 31: four position bits (Fuchsia usb-pd-message-objects.h, Chromium EC). */
static void positions_from_8_are_read_with_four_bits(void **state)
{
    (void)state;
    assert_int_equal(rdo_position(0x80000000), 8);
    assert_int_equal(rdo_position(0xD0000000), 13);
    assert_int_equal(rdo_position(0x7FFFFFFF), 7);
}

/* Type bits: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h; augmented types: Chromium EC, linux-usb list, secondary. */
static void the_type_bits_name_the_supply(void **state)
{
    static const struct { uint32_t word; uint8_t supply; const char *name; } types[] = {
        { 0x00000000, SUPPLY_FIXED, "fixed" },       { 0x40000000, SUPPLY_BATTERY, "battery" },
        { 0x80000000, SUPPLY_VARIABLE, "variable" }, { 0xC0000000, SUPPLY_PPS, "pps" },
        { 0xD0000000, SUPPLY_EPR_AVS, "epr_avs" },   { 0xE0000000, SUPPLY_SPR_AVS, "spr_avs" },
        { 0xF0000000, SUPPLY_RESERVED, "reserved" },
    };

    (void)state;
    for (unsigned i = 0; i < LENGTH(types); i++) {
        unsigned kind = object_kind_of_pdo(types[i].word, false, false);

        assert_int_equal(pdo_read_source(types[i].word, 2).supply, types[i].supply);
        assert_int_equal(pdo_read_sink(types[i].word, 2).supply, types[i].supply);
        assert_string_equal(supply_name(types[i].supply), types[i].name);
        /* The row's own name of the code is the same word. */
        assert_string_equal(field_name_of(&object_layout(kind)->fields[0],
                                          field_raw(&object_layout(kind)->fields[0], types[i].word)), types[i].name);
    }
}

static void flags_speak_only_in_the_first_fixed_object(void **state)
{
    struct pdo first = pdo_read_source(0x3FFFFFFF, 1), second = pdo_read_source(0x3FFFFFFF, 2);
    struct pdo battery = pdo_read_source(0x7FFFFFFF, 1);

    (void)state;
    assert_true(first.dual_role_power && first.usb_suspend && first.unconstrained && first.usb_comm);
    assert_true(first.dual_role_data && first.unchunked && first.epr_capable);
    assert_false(first.higher_capability);
    assert_int_equal(first.fr_swap, 0);
    assert_false(second.dual_role_power || second.usb_suspend || second.unconstrained || second.usb_comm);
    assert_false(second.dual_role_data || second.unchunked || second.epr_capable);
    assert_int_equal(second.peak, 3);
    assert_false(battery.dual_role_power || battery.unconstrained);
}

/* Fast role swap, 24:23: Linux include/linux/usb/pd.h, Chromium EC, Fuchsia: 2 is 1.5 A. */
static void a_sink_says_the_current_it_needs_for_a_fast_role_swap(void **state)
{
    struct pdo p = pdo_read_sink(0x1101912C, 1);

    (void)state;
    assert_int_equal(p.fr_swap, 2);
    assert_true(p.higher_capability);
    assert_false(p.unchunked);
    assert_false(p.usb_suspend);
}

/*
 * 144 W from 28.8 V to 36 V: a public lab article on AVS gives 28.8 V as the lower end of the constant-power part,
 * 144 W / 5 A; the formula min(5 A, PDP / V) is secondary.
 */
static void an_avs_source_gives_its_power_but_not_above_5_a(void **state)
{
    struct pdo p = pdo_read_source(UINT32_C(0xD0000000) | 360u << 17 | 150u << 8 | 144u, 10);

    (void)state;
    assert_int_equal(p.supply, SUPPLY_EPR_AVS);
    assert_int_equal(p.max_mw, 144000);
    assert_int_equal(pdo_current_at(&p, 28800), 5000);
    assert_int_equal(pdo_current_at(&p, 36000), 4000);
    assert_int_equal(pdo_current_at(&p, 15000), 5000);
    assert_int_equal(pdo_current_at(&p, 14999), 0);
    assert_int_equal(pdo_current_at(&p, 36001), 0);
    assert_int_equal(pdo_current_at(&p, 32100), 4485); /* 144 / 32.1 = 4.4859..., rounded down */
}

/* 4000 mA to 15 V, 3350 mA above: sysfs sample of the SPR AVS patch on the linux-usb list (2025-10-15). */
static void an_spr_avs_source_has_two_currents(void **state)
{
    struct pdo p = pdo_read_source(0xE006414F, 5), low = pdo_read_source(0xE0064000, 5);

    (void)state;
    assert_int_equal(pdo_current_at(&p, 8999), 0);
    assert_int_equal(pdo_current_at(&p, 9000), 4000);
    assert_int_equal(pdo_current_at(&p, 15000), 4000);
    assert_int_equal(pdo_current_at(&p, 15001), 3350);
    assert_int_equal(pdo_current_at(&p, 20000), 3350);
    assert_int_equal(pdo_current_at(&p, 20001), 0);
    /* Second current 0: the source ends at 15 V (from memory). */
    assert_int_equal(low.max_mv, 15000);
    assert_int_equal(pdo_current_at(&low, 15001), 0);
}

static void other_supplies_give_their_current_inside_their_range_only(void **state)
{
    struct pdo fixed = pdo_read_source(0x0002D12C, 2);              /* 9 V 3 A */
    struct pdo pps = pdo_read_source(0xC1A42164, 6);                /* 3.3 to 21 V 5 A */
    struct pdo variable = pdo_read_source(0x8F0190C8, 2);           /* 5 to 12 V 2 A */
    struct pdo battery = pdo_read_source(UINT32_C(0x40000000) | 240u << 20 | 100u << 10 | 120u, 3); /* 5 to 12 V 30 W */
    struct pdo filler = pdo_read_source(0, 5), reserved = pdo_read_source(0xFFFFFFFF, 5);

    (void)state;
    assert_int_equal(pdo_current_at(&fixed, 9000), 3000);
    assert_int_equal(pdo_current_at(&fixed, 8999), 0);
    assert_int_equal(pdo_current_at(&fixed, 9001), 0);
    assert_int_equal(pdo_current_at(&pps, 3300), 5000);
    assert_int_equal(pdo_current_at(&pps, 21000), 5000);
    assert_int_equal(pdo_current_at(&pps, 21020), 0);
    assert_int_equal(pdo_current_at(&variable, 5000), 2000);
    assert_int_equal(pdo_current_at(&variable, 4999), 0);
    assert_int_equal(pdo_current_at(&battery, 5000), 6000);
    assert_int_equal(pdo_current_at(&battery, 12000), 2500);
    assert_int_equal(pdo_current_at(&battery, 7000), 4285); /* 30 / 7 = 4.2857..., rounded down */
    assert_int_equal(pdo_current_at(&filler, 0), 0);
    assert_int_equal(pdo_current_at(&fixed, -1), 0);
    assert_int_equal(pdo_current_at(&reserved, 5000), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_and_rows_agree_on_any_power_object),
        cmocka_unit_test(numbers_and_rows_agree_on_any_request),
        cmocka_unit_test(a_request_of_a_reserved_object_has_an_unknown_form),
        cmocka_unit_test(positions_from_8_are_read_with_four_bits),
        cmocka_unit_test(the_type_bits_name_the_supply),
        cmocka_unit_test(flags_speak_only_in_the_first_fixed_object),
        cmocka_unit_test(a_sink_says_the_current_it_needs_for_a_fast_role_swap),
        cmocka_unit_test(an_avs_source_gives_its_power_but_not_above_5_a),
        cmocka_unit_test(an_spr_avs_source_has_two_currents),
        cmocka_unit_test(other_supplies_give_their_current_inside_their_range_only),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
