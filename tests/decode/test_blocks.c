/* Data blocks of extended messages, byte by byte. Expectations typed from the sources named beside each check. */
#include "decode/field.h"
#include "decode/message.h"
#include "tests/decode/testing.h"

#include <string.h>

static const struct block_field *field_with_key(const struct block_layout *block, const char *key)
{
    for (unsigned i = 0; i < block->count; i++)
        if (block->fields[i].key && strcmp(block->fields[i].key, key) == 0)
            return &block->fields[i];
    fail_msg("%s has no %s", block->title, key);
    return NULL;
}

/* The value times its step, -1 if the block is too short. */
static int64_t value_of(unsigned type, bool on_cable, const char *key, const uint8_t *data, size_t size)
{
    const struct block_field *f = field_with_key(block_layout(type, on_cable), key);
    uint64_t                  raw;

    return block_value(f, data, size, &raw) ? (int64_t)raw * f->step : -1;
}

/* Places: public article CSDN 134421370; ratings at 23 and 24: Infineon cy_pdstack_common.h; bits of 14 to 19: from memory. */
static void source_capabilities_extended_is_read_at_its_places(void **state)
{
    static const uint8_t data[25] = {
        0x34, 0x12, 0x78, 0x56, 0x04, 0x03, 0x02, 0x01, 0x11, 0x22, 0x05, 0x03, 0x01, 0x06,
        0x2F, 0xA8, 0, 0, 0, 0, 0x01, 0x07, 0x21, 65, 140,
    };
    enum { TYPE = EXTENDED_SOURCE_CAPABILITIES };

    (void)state;
    assert_int_equal(value_of(TYPE, false, "vid", data, 25), 0x1234);
    assert_int_equal(value_of(TYPE, false, "pid", data, 25), 0x5678);
    assert_int_equal(value_of(TYPE, false, "xid", data, 25), 0x01020304);
    assert_int_equal(value_of(TYPE, false, "firmware", data, 25), 0x11);
    assert_int_equal(value_of(TYPE, false, "hardware", data, 25), 0x22);
    assert_int_equal(value_of(TYPE, false, "load_step_slew", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "load_step_size", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "holdup_ms", data, 25), 3);
    assert_int_equal(value_of(TYPE, false, "lps", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "ps1", data, 25), 0);
    assert_int_equal(value_of(TYPE, false, "low_touch_current", data, 25), 0);
    assert_int_equal(value_of(TYPE, false, "ground_pin", data, 25), 1);
    /* 0xA82F: 15 x 10 % overload, 1 x 20 ms, 5 x 5 %, droop. */
    assert_int_equal(value_of(TYPE, false, "overload_1_percent", data, 25), 150);
    assert_int_equal(value_of(TYPE, false, "overload_period_1_ms", data, 25), 20);
    assert_int_equal(value_of(TYPE, false, "duty_cycle_1_percent", data, 25), 25);
    assert_int_equal(value_of(TYPE, false, "vbus_droop_1", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "overload_2_percent", data, 25), 0);
    assert_int_equal(value_of(TYPE, false, "touch_temperature", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "external_unconstrained", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "fixed_batteries", data, 25), 1);
    assert_int_equal(value_of(TYPE, false, "hot_swap_slots", data, 25), 2);
    assert_int_equal(value_of(TYPE, false, "spr_pdp_w", data, 25), 65);
    assert_int_equal(value_of(TYPE, false, "epr_pdp_w", data, 25), 140);
    /* R3.0 sends 24 bytes: the last rating is missing, all else is there. */
    assert_int_equal(value_of(TYPE, false, "epr_pdp_w", data, 24), -1);
    assert_int_equal(value_of(TYPE, false, "spr_pdp_w", data, 24), 65);
}

/* Places: Chromium EC include/usb_pd.h and the Sink_Cap_Ext patches on the linux-usb list. */
static void sink_capabilities_extended_is_read_at_its_places(void **state)
{
    static const uint8_t data[24] = {
        0xFF, 0xFF, 0, 0, 0, 0, 0, 0, 1, 2, 1, 0, 0x2F, 0xA8, 0x04, 2, 0x13, 0x23, 15, 45, 60, 0, 100, 140,
    };
    enum { TYPE = EXTENDED_SINK_CAPABILITIES };

    (void)state;
    assert_string_equal(value_name_of(field_with_key(block_layout(TYPE, false), "vid")->names, 0xFFFF), "none");
    assert_int_equal(value_of(TYPE, false, "block_version", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "overload_percent", data, 24), 150);
    assert_int_equal(value_of(TYPE, false, "overload_period_ms", data, 24), 20);
    assert_int_equal(value_of(TYPE, false, "duty_cycle_percent", data, 24), 25);
    assert_int_equal(value_of(TYPE, false, "ps2", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "touch_temperature", data, 24), 2);
    assert_int_equal(value_of(TYPE, false, "fixed_batteries", data, 24), 3);
    assert_int_equal(value_of(TYPE, false, "hot_swap_slots", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "pps_charging", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "vbus_powered", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "mains_powered", data, 24), 0);
    assert_int_equal(value_of(TYPE, false, "avs", data, 24), 1);
    assert_int_equal(value_of(TYPE, false, "minimum_pdp_w", data, 24), 15);
    assert_int_equal(value_of(TYPE, false, "operational_pdp_w", data, 24), 45);
    assert_int_equal(value_of(TYPE, false, "maximum_pdp_w", data, 24), 60);
    assert_int_equal(value_of(TYPE, false, "epr_operational_pdp_w", data, 24), 100);
    assert_int_equal(value_of(TYPE, false, "epr_maximum_pdp_w", data, 24), 140);
    assert_int_equal(value_of(TYPE, false, "epr_minimum_pdp_w", data, 21), -1);
}

/* Bytes and event flags: Linux include/linux/usb/pd_ext_sdb.h; byte 6: Chromium EC; the rest from memory. */
static void status_is_read_at_its_places(void **state)
{
    static const uint8_t data[7] = { 45, 0x02, 0x12, 0x14, 0x04, 0x06, 0x11 };
    enum { TYPE = EXTENDED_STATUS };

    (void)state;
    assert_int_equal(value_of(TYPE, false, "internal_c", data, 7), 45);
    assert_int_equal(value_of(TYPE, false, "external_power", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "internal_battery", data, 7), 0);
    assert_int_equal(value_of(TYPE, false, "fixed_batteries", data, 7), 2);
    assert_int_equal(value_of(TYPE, false, "hot_swap_batteries", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "ocp", data, 7), 0);
    assert_int_equal(value_of(TYPE, false, "otp", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "ovp", data, 7), 0);
    assert_int_equal(value_of(TYPE, false, "operating_mode", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "temperature_status", data, 7), 2);
    assert_int_equal(value_of(TYPE, false, "limited_by_cable", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "limited_by_ports", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "limited_by_temperature", data, 7), 0);
    assert_int_equal(value_of(TYPE, false, "power_state", data, 7), 1);
    assert_int_equal(value_of(TYPE, false, "indicator", data, 7), 2);
    /* Older editions: 5 bytes (Linux), 6 (Microchip). */
    assert_int_equal(value_of(TYPE, false, "temperature_status", data, 5), 2);
    assert_int_equal(value_of(TYPE, false, "limited_by_cable", data, 5), -1);
    assert_int_equal(value_of(TYPE, false, "power_state", data, 6), -1);
}

/* From memory. */
static void a_plug_has_a_status_of_its_own(void **state)
{
    static const uint8_t data[2] = { 60, 0x01 };

    (void)state;
    assert_int_equal(value_of(EXTENDED_STATUS, true, "internal_c", data, 2), 60);
    assert_int_equal(value_of(EXTENDED_STATUS, true, "thermal_shutdown", data, 2), 1);
}

/* Places: Microchip PD software framework headers; bit 3 of the flags: Infineon; units from memory. */
static void pps_status_is_volts_amperes_and_flags(void **state)
{
    static const uint8_t data[4] = { 0xC2, 0x01, 0x3C, 0x0A }; /* 450 x 20 mV, 60 x 50 mA */

    (void)state;
    assert_int_equal(value_of(EXTENDED_PPS_STATUS, false, "mv", data, 4), 9000);
    assert_int_equal(value_of(EXTENDED_PPS_STATUS, false, "ma", data, 4), 3000);
    assert_int_equal(value_of(EXTENDED_PPS_STATUS, false, "temperature_status", data, 4), 1);
    assert_int_equal(value_of(EXTENDED_PPS_STATUS, false, "operating_mode", data, 4), 1);
    assert_string_equal(value_name_of(field_with_key(block_layout(EXTENDED_PPS_STATUS, false), "mv")->names, 0xFFFF),
                        "not supported");
}

/* Chromium EC include/usb_pd.h: capacities in tenths of a watt-hour. */
static void battery_capabilities_are_in_tenths_of_a_watt_hour(void **state)
{
    static const uint8_t data[9] = { 0x34, 0x12, 0x78, 0x56, 0xDE, 0x03, 0xAC, 0x03, 0x01 };
    enum { TYPE = EXTENDED_BATTERY_CAPABILITIES };

    (void)state;
    assert_int_equal(value_of(TYPE, false, "design_capacity_mwh", data, 9), 99000); /* 990 x 0.1 Wh */
    assert_int_equal(value_of(TYPE, false, "full_capacity_mwh", data, 9), 94000);
    assert_int_equal(value_of(TYPE, false, "invalid_reference", data, 9), 1);
}

/* Types: Chromium EC, Infineon, onsemi. */
static void extended_control_names_its_four_types(void **state)
{
    const struct block_field *type = field_with_key(block_layout(EXTENDED_CONTROL, false), "control");

    (void)state;
    assert_string_equal(value_name_of(type->names, 1), "EPR_Get_Source_Cap");
    assert_string_equal(value_name_of(type->names, 2), "EPR_Get_Sink_Cap");
    assert_string_equal(value_name_of(type->names, 3), "EPR_KeepAlive");
    assert_string_equal(value_name_of(type->names, 4), "EPR_KeepAlive_Ack");
    assert_null(value_name_of(type->names, 5));
}

/* From memory. */
static void text_and_data_are_what_is_left(void **state)
{
    static const uint8_t info[] = { 0x34, 0x12, 0x78, 0x56, 'H', 'a', 'r', 'b', 'o', 'r', 0 };
    static const uint8_t codes[] = { 2, 0, 'D', 'E', 'N', 'O' };
    const struct block_field *text = field_with_key(block_layout(EXTENDED_MANUFACTURER_INFO, false), "text");

    (void)state;
    assert_true(text->text);
    assert_int_equal(text->byte, 4);
    assert_int_equal(value_of(EXTENDED_MANUFACTURER_INFO, false, "text", info, sizeof info), 7);
    assert_int_equal(value_of(EXTENDED_MANUFACTURER_INFO, false, "text", info, 4), -1);
    assert_int_equal(value_of(EXTENDED_COUNTRY_CODES, false, "count", codes, sizeof codes), 2);
    assert_int_equal(value_of(EXTENDED_COUNTRY_CODES, false, "codes", codes, sizeof codes), 4);
    assert_int_equal(value_of(EXTENDED_COUNTRY_INFO, false, "first_letter", codes + 2, 4), 'D');
}

static void a_block_too_short_for_a_field_says_so(void **state)
{
    static const uint8_t data[32] = { 0 };

    (void)state;
    for (unsigned type = 0; type < 32; type++) {
        const struct block_layout *block = block_layout(type, false);

        for (unsigned i = 0; block && i < block->count; i++) {
            const struct block_field *f = &block->fields[i];
            size_t                    needed = f->byte + (f->size ? f->size : 1u);
            uint64_t                  value;

            assert_true(block_value(f, data, needed, &value));
            assert_false(block_value(f, data, needed - 1, &value));
            assert_false(block_value(f, NULL, 0, &value));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(source_capabilities_extended_is_read_at_its_places),
        cmocka_unit_test(sink_capabilities_extended_is_read_at_its_places),
        cmocka_unit_test(status_is_read_at_its_places),
        cmocka_unit_test(a_plug_has_a_status_of_its_own),
        cmocka_unit_test(pps_status_is_volts_amperes_and_flags),
        cmocka_unit_test(battery_capabilities_are_in_tenths_of_a_watt_hour),
        cmocka_unit_test(extended_control_names_its_four_types),
        cmocka_unit_test(text_and_data_are_what_is_left),
        cmocka_unit_test(a_block_too_short_for_a_field_says_so),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
