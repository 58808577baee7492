/*
 * Fields that the kernel's headers do not have, each at its bits, and the names of coded values.
 * Expectations typed from the sources named beside each check.
 */
#include "decode/field.h"
#include "tests/decode/testing.h"

#include <string.h>

static const struct field *field_with_key(unsigned kind, const char *key)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (layout->fields[i].key && strcmp(layout->fields[i].key, key) == 0)
            return &layout->fields[i];
    fail_msg("%s has no %s", layout->title, key);
    return NULL;
}

/* Each row alone in a word of zeros: the highest and the lowest bit of a field and its unit. */
struct place {
    unsigned    kind;
    const char *key;
    uint8_t     high, low;
    uint8_t     unit;
    uint16_t    step;
};

static void check_places(const struct place *places, unsigned count)
{
    for (unsigned i = 0; i < count; i++) {
        const struct place *p = &places[i];
        const struct field *f = field_with_key(p->kind, p->key);

        if (f->low != p->low || f->low + f->bits - 1 != p->high || f->unit != p->unit || f->step != p->step)
            fail_msg("%s, %s: bits %u..%u, unit %u, step %u", object_layout(p->kind)->title, p->key, f->low + f->bits - 1,
                     f->low, f->unit, f->step);
    }
}

/* Chromium EC include/usb_pd.h (with Infineon for the layouts; causes and PDPs as in the tables' own source column). */
static void objects_of_chromium_ec_stand_at_their_bits(void **state)
{
    static const struct place places[] = {
        { OBJECT_EPR_MODE, "action", 31, 24, UNIT_NONE, 1 },
        { OBJECT_EPR_MODE, "data", 23, 16, UNIT_NONE, 1 },
        { OBJECT_EPR_MODE_ENTER, "sink_pdp_w", 23, 16, UNIT_W, 1 },
        { OBJECT_EPR_MODE_FAILED, "cause", 23, 16, UNIT_NONE, 1 },
        { OBJECT_SOURCE_INFO, "port_type", 31, 31, UNIT_NONE, 1 },
        { OBJECT_SOURCE_INFO, "maximum_pdp_w", 23, 16, UNIT_W, 1 },
        { OBJECT_SOURCE_INFO, "present_pdp_w", 15, 8, UNIT_W, 1 },
        { OBJECT_SOURCE_INFO, "reported_pdp_w", 7, 0, UNIT_W, 1 },
        { OBJECT_REVISION, "revision_major", 31, 28, UNIT_NONE, 1 },
        { OBJECT_REVISION, "revision_minor", 27, 24, UNIT_NONE, 1 },
        { OBJECT_REVISION, "version_major", 23, 20, UNIT_NONE, 1 },
        { OBJECT_REVISION, "version_minor", 19, 16, UNIT_NONE, 1 },
        { OBJECT_BATTERY_STATUS, "present_capacity_mwh", 31, 16, UNIT_MWH, 100 }, /* unit from memory */
        { OBJECT_BATTERY_STATUS, "charging", 11, 10, UNIT_NONE, 1 },
        { OBJECT_BATTERY_STATUS, "present", 9, 9, UNIT_FLAG, 1 },
        { OBJECT_BATTERY_STATUS, "invalid_reference", 8, 8, UNIT_FLAG, 1 },
        { OBJECT_ALERT, "extended_alert", 31, 31, UNIT_FLAG, 1 },
        { OBJECT_ALERT, "extended_type", 3, 0, UNIT_NONE, 1 },
        { OBJECT_SOURCE_FIXED_FIRST, "epr_capable", 23, 23, UNIT_FLAG, 1 },
        { OBJECT_SOURCE_EPR_AVS, "max_mv", 25, 17, UNIT_MV, 100 },
        { OBJECT_SOURCE_EPR_AVS, "min_mv", 15, 8, UNIT_MV, 100 },
        { OBJECT_SOURCE_EPR_AVS, "pdp_w", 7, 0, UNIT_W, 1 },
        { OBJECT_REQUEST_FIXED_VARIABLE, "position", 31, 28, UNIT_NONE, 1 },
        { OBJECT_REQUEST_FIXED_VARIABLE, "epr_capable", 22, 22, UNIT_FLAG, 1 },
        { OBJECT_REQUEST_PPS, "epr_capable", 22, 22, UNIT_FLAG, 1 },
    };

    (void)state;
    check_places(places, LENGTH(places));
}

/* Zephyr usbc_pd.h, Infineon cy_pdstack_common.h: what Linux 6.12 has not. */
static void fields_of_zephyr_and_infineon_stand_at_their_bits(void **state)
{
    static const struct place places[] = {
        { OBJECT_SOURCE_FIXED, "peak", 21, 20, UNIT_NONE, 1 },
        { OBJECT_SOURCE_FIXED_FIRST, "peak", 21, 20, UNIT_NONE, 1 },
        { OBJECT_SOURCE_PPS, "limited", 27, 27, UNIT_FLAG, 1 },
        { OBJECT_REQUEST_FIXED_VARIABLE, "unchunked", 23, 23, UNIT_FLAG, 1 },
        { OBJECT_REQUEST_BATTERY, "unchunked", 23, 23, UNIT_FLAG, 1 },
        { OBJECT_REQUEST_PPS, "unchunked", 23, 23, UNIT_FLAG, 1 },
        { OBJECT_VDM_HEADER, "version_minor", 12, 11, UNIT_NONE, 1 },
    };

    (void)state;
    check_places(places, LENGTH(places));
}

/* SPR AVS and EPR AVS patches on the linux-usb list (2025-10, 2026-03); sink AVS: devicetree bindings of 2026, Infineon. */
static void adjustable_supplies_stand_at_their_bits(void **state)
{
    static const struct place places[] = {
        { OBJECT_SOURCE_SPR_AVS, "peak", 27, 26, UNIT_NONE, 1 },
        { OBJECT_SOURCE_SPR_AVS, "ma_9_15v", 19, 10, UNIT_MA, 10 },
        { OBJECT_SOURCE_SPR_AVS, "ma_15_20v", 9, 0, UNIT_MA, 10 },
        { OBJECT_SOURCE_EPR_AVS, "peak", 27, 26, UNIT_NONE, 1 },
        { OBJECT_SINK_SPR_AVS, "ma_9_15v", 19, 10, UNIT_MA, 10 },
        { OBJECT_SINK_SPR_AVS, "ma_15_20v", 9, 0, UNIT_MA, 10 },
        { OBJECT_SINK_EPR_AVS, "max_mv", 25, 17, UNIT_MV, 100 },
        { OBJECT_SINK_EPR_AVS, "min_mv", 15, 8, UNIT_MV, 100 },
        { OBJECT_SINK_EPR_AVS, "pdp_w", 7, 0, UNIT_W, 1 },
        { OBJECT_REQUEST_AVS, "mv", 20, 9, UNIT_MV, 25 },
        { OBJECT_REQUEST_AVS, "op_ma", 6, 0, UNIT_MA, 50 },
    };

    (void)state;
    check_places(places, LENGTH(places));
}

/* From memory, or seen in one secondary place. */
static void fields_from_memory_stand_at_their_bits(void **state)
{
    static const struct place places[] = {
        { OBJECT_REQUEST_PPS, "mv", 20, 9, UNIT_MV, 20 },
        { OBJECT_COUNTRY_CODE, "first_letter", 31, 24, UNIT_LETTER, 1 },
        { OBJECT_COUNTRY_CODE, "second_letter", 23, 16, UNIT_LETTER, 1 },
        { OBJECT_PASSIVE_CABLE, "epr_capable", 17, 17, UNIT_FLAG, 1 },
        { OBJECT_ACTIVE_CABLE_1, "epr_capable", 17, 17, UNIT_FLAG, 1 },
        { OBJECT_ACTIVE_CABLE_2, "usb4_asymmetric", 1, 1, UNIT_FLAG, 1 },
        { OBJECT_SOURCE_INFO_SECOND, "port_type", 31, 31, UNIT_NONE, 1 },
        { OBJECT_SOURCE_INFO_SECOND, "dynamic_power_source", 30, 30, UNIT_FLAG, 1 },
        { OBJECT_SOURCE_INFO_SECOND, "maximum_pdp_mw", 17, 9, UNIT_MW, 500 },
        { OBJECT_SOURCE_INFO_SECOND, "guaranteed_pdp_mw", 8, 0, UNIT_MW, 500 },
        { OBJECT_BIST, "error_counters", 15, 0, UNIT_NONE, 1 },
    };

    (void)state;
    check_places(places, LENGTH(places));
}

static void coded_values_have_their_names(void **state)
{
    static const struct { unsigned kind; const char *key; uint32_t value; const char *name; } names[] = {
        /* Chromium EC include/usb_pd.h, Infineon */
        { OBJECT_EPR_MODE, "action", 1, "Enter" },
        { OBJECT_EPR_MODE, "action", 2, "Enter Acknowledged" },
        { OBJECT_EPR_MODE, "action", 3, "Enter Succeeded" },
        { OBJECT_EPR_MODE, "action", 4, "Enter Failed" },
        { OBJECT_EPR_MODE, "action", 5, "Exit" },
        { OBJECT_EPR_MODE, "action", 0, NULL },
        { OBJECT_EPR_MODE, "action", 6, NULL },
        { OBJECT_SOURCE_INFO, "port_type", 0, "managed capability" },
        { OBJECT_SOURCE_INFO, "port_type", 1, "guaranteed capability" },
        { OBJECT_ALERT, "extended_type", 2, "power button press" },
        { OBJECT_BIST, "mode", 5, "Carrier Mode" },
        { OBJECT_BIST, "mode", 8, "Test Data" },
        { OBJECT_BIST, "mode", 9, "Shared Test Mode Entry" },
        { OBJECT_BIST, "mode", 11, NULL },
        /* Fuchsia usb-pd-message-objects.h */
        { OBJECT_SOURCE_FIXED, "peak", 1, "150 % for 1 ms, 125 % for 2 ms, 110 % for 10 ms" },
        { OBJECT_SOURCE_FIXED, "peak", 3, "200 % for 1 ms, 175 % for 2 ms, 150 % for 10 ms" },
        { OBJECT_SINK_FIXED_FIRST, "fr_swap", 0, "not supported" },
        { OBJECT_SINK_FIXED_FIRST, "fr_swap", 3, "3.0 A at 5 V" },
        /* Linux include/linux/usb/pd.h, pd_vdo.h */
        { OBJECT_ENTER_USB, "usb_mode", 2, "USB4" },
        { OBJECT_ENTER_USB, "cable_type", 2, "active re-driver" },
        { OBJECT_ENTER_USB, "cable_current", 1, NULL },
        { OBJECT_ENTER_USB, "cable_current", 3, "5 A" },
        { OBJECT_VDM_HEADER, "svid", 0xFF01, "DisplayPort" },
        { OBJECT_VDM_HEADER, "command_type", 3, "BUSY" },
        { OBJECT_VDM_HEADER, "command", 6, "Attention" },
        { OBJECT_VDM_HEADER, "command", 16, NULL },
        { OBJECT_ID_HEADER, "ufp_type", 3, "PSD" },
        { OBJECT_ID_HEADER_CABLE, "cable_type", 3, "passive cable" },
        { OBJECT_ID_HEADER_CABLE, "cable_type", 6, "VCONN-powered device" },
        { OBJECT_ID_HEADER, "dfp_type", 3, "power brick" },
        { OBJECT_PASSIVE_CABLE, "current", 0, NULL },
        { OBJECT_PASSIVE_CABLE, "current", 2, "5 A" },
        { OBJECT_CABLE_R2, "current", 0, "default USB current" },
        { OBJECT_PASSIVE_CABLE, "max_vbus", 3, "50 V" },
        { OBJECT_PASSIVE_CABLE, "plug", 3, "captive" },
        { OBJECT_PASSIVE_CABLE, "termination", 1, "VCONN required" },
        { OBJECT_ACTIVE_CABLE_1, "termination", 3, "both ends active, VCONN required" },
        { OBJECT_ACTIVE_CABLE_1, "sbu_supported", 0, "yes" },
        { OBJECT_UFP, "vbus_required", 1, "no" },
        { OBJECT_UFP, "vconn_power", 6, "6 W" },
        { OBJECT_ACTIVE_CABLE_2, "u3_power", 6, "under 50 uW" },
        { OBJECT_VPD, "through_current", 1, "5 A" },
        { OBJECT_AMA, "speed", 3, "USB 2.0 billboard only" },
        /* from memory */
        { OBJECT_BATTERY_STATUS, "charging", 1, "discharging" },
        { OBJECT_BATTERY_STATUS, "charging", 3, NULL },
        { OBJECT_BATTERY_STATUS, "present_capacity_mwh", 0xFFFF, "unknown" },
        { OBJECT_PASSIVE_CABLE, "speed", 4, "USB4 Gen4" },
    };

    (void)state;
    for (unsigned i = 0; i < LENGTH(names); i++) {
        const char *name = field_name_of(field_with_key(names[i].kind, names[i].key), names[i].value);

        if (names[i].name ? !name || strcmp(name, names[i].name) != 0 : name != NULL)
            fail_msg("%s, %s %u: %s", object_layout(names[i].kind)->title, names[i].key, names[i].value, name ? name : "none");
    }
}

static void a_field_of_32_bits_keeps_them_all(void **state)
{
    const struct field *xid = field_with_key(OBJECT_CERT_STAT, "xid");

    (void)state;
    assert_int_equal(field_raw(xid, UINT32_MAX), UINT32_MAX);
    assert_int_equal(field_scaled(xid, UINT32_MAX), UINT32_MAX);
}

static void a_kind_that_is_none_is_a_bare_number(void **state)
{
    (void)state;
    assert_ptr_equal(object_layout(OBJECT_KINDS), object_layout(OBJECT_RAW));
    assert_ptr_equal(object_layout(UINT32_MAX), object_layout(OBJECT_RAW));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(objects_of_chromium_ec_stand_at_their_bits),
        cmocka_unit_test(fields_of_zephyr_and_infineon_stand_at_their_bits),
        cmocka_unit_test(adjustable_supplies_stand_at_their_bits),
        cmocka_unit_test(fields_from_memory_stand_at_their_bits),
        cmocka_unit_test(coded_values_have_their_names),
        cmocka_unit_test(a_field_of_32_bits_keeps_them_all),
        cmocka_unit_test(a_kind_that_is_none_is_a_bare_number),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
