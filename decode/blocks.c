/* Data blocks of extended messages: byte offsets, little endian. Bits of a row are counted inside its bytes. */
#include "decode/field_inside.h"
#include "decode/message.h"

#include "capture/base/cursor.h"

/* Rows: a whole number of bytes; some bits of a byte or two; the bytes that are left; bits that must be zero. */
#define BYTES(name, key, byte, size, unit, step, names) { name, key, byte, size, 0, (size) * 8, unit, step, names, false }
#define BITS(name, key, byte, size, low, bits, unit, step, names) \
    { name, key, byte, size, low, bits, unit, step, names, false }
#define BIT(name, key, byte, bit) { name, key, byte, 1, bit, 1, UNIT_FLAG, 1, NULL, false }
#define ZERO(byte, low, bits) { "Reserved", NULL, byte, 1, low, bits, UNIT_NONE, 1, NULL, false }
#define REST_TEXT(name, key, byte) { name, key, byte, 0, 0, 0, UNIT_NONE, 1, NULL, true }
#define REST_BYTES(name, key, byte) { name, key, byte, 0, 0, 0, UNIT_HEX, 1, NULL, false }

static const struct field_value_name no_vid_names[] = { VALUE(0xFFFF, "none"), VALUES_END };
static const struct field_value_name slew_names[] = { VALUE(0, "150 mA/us"), VALUE(1, "500 mA/us"), VALUES_END };
static const struct field_value_name step_size_names[] = { VALUE(0, "25 % of IoC"), VALUE(1, "90 % of IoC"), VALUES_END };
static const struct field_value_name holdup_names[] = { VALUE(0, "not supported or unknown"), VALUES_END };
static const struct field_value_name source_touch_names[] = {
    VALUE(0, "IEC 60950-1"), VALUE(1, "IEC 62368-1 TS1"), VALUE(2, "IEC 62368-1 TS2"), VALUES_END,
};
static const struct field_value_name sink_touch_names[] = {
    VALUE(0, "not applicable"), VALUE(1, "IEC 60950-1"), VALUE(2, "IEC 62368-1 TS1"), VALUE(3, "IEC 62368-1 TS2"),
    VALUES_END,
};

/* Three times the same 16 bits: n from 1, at byte. */
#define PEAK_CURRENT(n, byte) \
    BITS("Peak Current " #n " Overload", "overload_" #n "_percent", byte, 2, 0, 5, UNIT_PERCENT, 10, NULL), \
    BITS("Peak Current " #n " Overload Period", "overload_period_" #n "_ms", byte, 2, 5, 6, UNIT_MS, 20, NULL), \
    BITS("Peak Current " #n " Duty Cycle", "duty_cycle_" #n "_percent", byte, 2, 11, 4, UNIT_PERCENT, 5, NULL), \
    BITS("Peak Current " #n " VBUS Droop", "vbus_droop_" #n, byte, 2, 15, 1, UNIT_FLAG, 1, NULL)

static const struct block_field source_extended[] = {
    BYTES("VID", "vid", 0, 2, UNIT_HEX, 1, no_vid_names),
    BYTES("PID", "pid", 2, 2, UNIT_HEX, 1, NULL),
    BYTES("XID", "xid", 4, 4, UNIT_HEX, 1, NULL),
    BYTES("FW Version", "firmware", 8, 1, UNIT_NONE, 1, NULL),
    BYTES("HW Version", "hardware", 9, 1, UNIT_NONE, 1, NULL),
    BITS("Load Step Slew Rate", "load_step_slew", 10, 1, 0, 2, UNIT_NONE, 1, slew_names),
    BITS("Load Step Magnitude", "load_step_size", 10, 1, 2, 1, UNIT_NONE, 1, step_size_names),
    ZERO(10, 3, 5),
    BYTES("Holdup Time", "holdup_ms", 11, 1, UNIT_MS, 1, holdup_names),
    BIT("LPS Compliant", "lps", 12, 0),
    BIT("PS1 Compliant", "ps1", 12, 1),
    BIT("PS2 Compliant", "ps2", 12, 2),
    ZERO(12, 3, 5),
    BIT("Low Touch Current EPS", "low_touch_current", 13, 0),
    BIT("Ground Pin Supported", "ground_pin", 13, 1),
    BIT("Ground Pin for Protective Earth", "protective_earth", 13, 2),
    ZERO(13, 3, 5),
    PEAK_CURRENT(1, 14),
    PEAK_CURRENT(2, 16),
    PEAK_CURRENT(3, 18),
    BYTES("Touch Temperature", "touch_temperature", 20, 1, UNIT_NONE, 1, source_touch_names),
    BIT("External Supply Present", "external_supply", 21, 0),
    BIT("External Supply Unconstrained", "external_unconstrained", 21, 1),
    BIT("Internal Battery Present", "internal_battery", 21, 2),
    ZERO(21, 3, 5),
    BITS("Number of Fixed Batteries", "fixed_batteries", 22, 1, 0, 4, UNIT_NONE, 1, NULL),
    BITS("Number of Hot Swappable Battery Slots", "hot_swap_slots", 22, 1, 4, 4, UNIT_NONE, 1, NULL),
    BITS("SPR Source PDP Rating", "spr_pdp_w", 23, 1, 0, 7, UNIT_W, 1, NULL),
    ZERO(23, 7, 1),
    BYTES("EPR Source PDP Rating", "epr_pdp_w", 24, 1, UNIT_W, 1, NULL), /* since R3.1 */
};
static const struct block_layout layout_source_extended = {
    "Source Capabilities Extended Data Block", source_extended, LENGTH(source_extended),
    FROM_ARTICLE " (bytes 0 to 10); " FROM_INFINEON " (bytes 21 bit 1, 23, 24); " SECONDARY "; all else " FROM_MEMORY,
};

static const struct block_field sink_extended[] = {
    BYTES("VID", "vid", 0, 2, UNIT_HEX, 1, no_vid_names),
    BYTES("PID", "pid", 2, 2, UNIT_HEX, 1, NULL),
    BYTES("XID", "xid", 4, 4, UNIT_HEX, 1, NULL),
    BYTES("FW Version", "firmware", 8, 1, UNIT_NONE, 1, NULL),
    BYTES("HW Version", "hardware", 9, 1, UNIT_NONE, 1, NULL),
    BYTES("SKEDB Version", "block_version", 10, 1, UNIT_NONE, 1, NULL), /* 1: version 1.0 */
    BITS("Load Step Slew Rate", "load_step_slew", 11, 1, 0, 2, UNIT_NONE, 1, slew_names),
    ZERO(11, 2, 6),
    BITS("Sink Load Overload", "overload_percent", 12, 2, 0, 5, UNIT_PERCENT, 10, NULL),
    BITS("Sink Load Overload Period", "overload_period_ms", 12, 2, 5, 6, UNIT_MS, 20, NULL),
    BITS("Sink Load Duty Cycle", "duty_cycle_percent", 12, 2, 11, 4, UNIT_PERCENT, 5, NULL),
    BITS("Tolerates VBUS Droop", "vbus_droop", 12, 2, 15, 1, UNIT_FLAG, 1, NULL),
    BIT("Requires LPS Source", "lps", 14, 0),
    BIT("Requires PS1 Source", "ps1", 14, 1),
    BIT("Requires PS2 Source", "ps2", 14, 2),
    ZERO(14, 3, 5),
    BYTES("Touch Temperature", "touch_temperature", 15, 1, UNIT_NONE, 1, sink_touch_names),
    BITS("Number of Fixed Batteries", "fixed_batteries", 16, 1, 0, 4, UNIT_NONE, 1, NULL),
    BITS("Number of Hot Swappable Battery Slots", "hot_swap_slots", 16, 1, 4, 4, UNIT_NONE, 1, NULL),
    BIT("PPS Charging Supported", "pps_charging", 17, 0),
    BIT("VBUS Powered", "vbus_powered", 17, 1),
    BIT("Mains Powered", "mains_powered", 17, 2),
    BIT("Battery Powered", "battery_powered", 17, 3),
    BIT("Battery Essentially Unlimited", "battery_unlimited", 17, 4),
    BIT("AVS Supported", "avs", 17, 5),
    ZERO(17, 6, 2),
    BYTES("Sink Minimum PDP", "minimum_pdp_w", 18, 1, UNIT_W, 1, NULL),
    BYTES("Sink Operational PDP", "operational_pdp_w", 19, 1, UNIT_W, 1, NULL),
    BYTES("Sink Maximum PDP", "maximum_pdp_w", 20, 1, UNIT_W, 1, NULL),
    BYTES("EPR Sink Minimum PDP", "epr_minimum_pdp_w", 21, 1, UNIT_W, 1, NULL), /* since R3.1 */
    BYTES("EPR Sink Operational PDP", "epr_operational_pdp_w", 22, 1, UNIT_W, 1, NULL),
    BYTES("EPR Sink Maximum PDP", "epr_maximum_pdp_w", 23, 1, UNIT_W, 1, NULL),
};
static const struct block_layout layout_sink_extended = {
    "Sink Capabilities Extended Data Block", sink_extended, LENGTH(sink_extended),
    FROM_CHROMIUM "; " FROM_LINUX_LIST "; bytes 10 and 22 also " FROM_INFINEON "; bits and values of bytes 11 to 16 "
    FROM_MEMORY,
};

static const struct field_value_name temperature_names[] = {
    VALUE(0, "not supported"), VALUE(1, "under 2 degrees"), VALUES_END,
};
static const struct field_value_name input_names[] = { VALUE(0, "DC"), VALUE(1, "AC"), VALUES_END };
static const struct field_value_name limit_mode_names[] = {
    VALUE(0, "constant voltage"), VALUE(1, "current limit"), VALUES_END,
};
static const struct field_value_name temperature_status_names[] = {
    VALUE(0, "not supported"), VALUE(1, "normal"), VALUE(2, "warning"), VALUE(3, "over temperature"), VALUES_END,
};
static const struct field_value_name power_state_names[] = {
    VALUE(0, "not supported"), VALUE(1, "S0"), VALUE(2, "modern standby"), VALUE(3, "S3"), VALUE(4, "S4"),
    VALUE(5, "S5"), VALUE(6, "G3"), VALUES_END,
};
static const struct field_value_name indicator_names[] = {
    VALUE(0, "off"), VALUE(1, "on"), VALUE(2, "blinking"), VALUE(3, "breathing"), VALUES_END,
};

static const struct block_field status[] = {
    BYTES("Internal Temp", "internal_c", 0, 1, UNIT_CELSIUS, 1, temperature_names),
    ZERO(1, 0, 1),
    BIT("External Power", "external_power", 1, 1),
    BITS("External Power Kind", "external_kind", 1, 1, 2, 1, UNIT_NONE, 1, input_names), /* with external power only */
    BIT("Internal Power from Battery", "internal_battery", 1, 3),
    BIT("Internal Power from Non-Battery", "internal_other", 1, 4),
    ZERO(1, 5, 3),
    BITS("Fixed Batteries in Use", "fixed_batteries", 2, 1, 0, 4, UNIT_HEX, 1, NULL), /* a bit each */
    BITS("Hot Swappable Batteries in Use", "hot_swap_batteries", 2, 1, 4, 4, UNIT_HEX, 1, NULL),
    ZERO(3, 0, 1),
    BIT("OCP Event", "ocp", 3, 1),
    BIT("OTP Event", "otp", 3, 2),
    BIT("OVP Event", "ovp", 3, 3),
    BITS("Operating Mode", "operating_mode", 3, 1, 4, 1, UNIT_NONE, 1, limit_mode_names), /* in a PPS contract */
    ZERO(3, 5, 3),
    ZERO(4, 0, 1),
    BITS("Temperature Status", "temperature_status", 4, 1, 1, 2, UNIT_NONE, 1, temperature_status_names),
    ZERO(4, 3, 5),
    ZERO(5, 0, 1),
    BIT("Limited by Cable", "limited_by_cable", 5, 1),
    BIT("Limited by Other Ports", "limited_by_ports", 5, 2),
    BIT("Limited by External Power", "limited_by_input", 5, 3),
    BIT("Limited by Event Flags", "limited_by_events", 5, 4),
    BIT("Limited by Temperature", "limited_by_temperature", 5, 5),
    ZERO(5, 6, 2),
    BITS("New Power State", "power_state", 6, 1, 0, 3, UNIT_NONE, 1, power_state_names), /* since R3.1 */
    BITS("New Power State Indicator", "indicator", 6, 1, 3, 3, UNIT_NONE, 1, indicator_names),
    ZERO(6, 6, 2),
};
static const struct block_layout layout_status = {
    "Status Data Block", status, LENGTH(status),
    FROM_LINUX_SDB "; " FROM_CHROMIUM "; " FROM_INFINEON "; " FROM_MICROCHIP
    "; values of byte 0, bits of bytes 1, 2 and 5 mostly " FROM_MEMORY,
};

static const struct block_field cable_status[] = {
    BYTES("Internal Temp", "internal_c", 0, 1, UNIT_CELSIUS, 1, temperature_names),
    BIT("Thermal Shutdown", "thermal_shutdown", 1, 0),
    ZERO(1, 1, 7),
};
static const struct block_layout layout_cable_status = {
    "Status Data Block of a cable plug", cable_status, LENGTH(cable_status), FROM_MEMORY,
};

static const struct field_value_name no_word_names[] = { VALUE(0xFFFF, "not supported"), VALUES_END };
static const struct field_value_name no_byte_names[] = { VALUE(0xFF, "not supported"), VALUES_END };

static const struct block_field pps_status[] = {
    BYTES("Output Voltage", "mv", 0, 2, UNIT_MV, 20, no_word_names),
    BYTES("Output Current", "ma", 2, 1, UNIT_MA, 50, no_byte_names),
    ZERO(3, 0, 1),
    BITS("Present Temperature Flag", "temperature_status", 3, 1, 1, 2, UNIT_NONE, 1, temperature_status_names),
    BITS("Operating Mode Flag", "operating_mode", 3, 1, 3, 1, UNIT_NONE, 1, limit_mode_names),
    ZERO(3, 4, 4),
};
static const struct block_layout layout_pps_status = {
    "PPS Status Data Block", pps_status, LENGTH(pps_status),
    FROM_MICROCHIP "; flag bit 3 " FROM_INFINEON "; units and the temperature flag " FROM_MEMORY,
};

static const struct field_value_name capacity_names[] = {
    VALUE(0, "no battery"), VALUE(0xFFFF, "unknown"), VALUES_END,
};

static const struct block_field battery_capabilities[] = {
    BYTES("VID", "vid", 0, 2, UNIT_HEX, 1, no_vid_names),
    BYTES("PID", "pid", 2, 2, UNIT_HEX, 1, NULL),
    BYTES("Battery Design Capacity", "design_capacity_mwh", 4, 2, UNIT_MWH, 100, capacity_names),
    BYTES("Battery Last Full Charge Capacity", "full_capacity_mwh", 6, 2, UNIT_MWH, 100, capacity_names),
    BIT("Invalid Battery Reference", "invalid_reference", 8, 0),
    ZERO(8, 1, 7),
};
static const struct block_layout layout_battery_capabilities = {
    "Battery Capability Data Block", battery_capabilities, LENGTH(battery_capabilities), FROM_CHROMIUM,
};

static const struct field_value_name battery_reference_names[] = {
    VALUE(0, "fixed battery 0"), VALUE(1, "fixed battery 1"), VALUE(2, "fixed battery 2"), VALUE(3, "fixed battery 3"),
    VALUE(4, "hot swappable battery 4"), VALUE(5, "hot swappable battery 5"), VALUE(6, "hot swappable battery 6"),
    VALUE(7, "hot swappable battery 7"), VALUES_END,
};

static const struct block_field battery_reference[] = {
    BYTES("Battery Reference", "battery", 0, 1, UNIT_NONE, 1, battery_reference_names),
};
static const struct block_layout layout_get_battery_cap = {
    "Get Battery Cap Data Block", battery_reference, LENGTH(battery_reference), FROM_CHROMIUM,
};
static const struct block_layout layout_get_battery_status = {
    "Get Battery Status Data Block", battery_reference, LENGTH(battery_reference), FROM_CHROMIUM,
};

static const struct field_value_name target_names[] = { VALUE(0, "port or cable plug"), VALUE(1, "battery"), VALUES_END };

static const struct block_field get_manufacturer_info[] = {
    BYTES("Manufacturer Info Target", "target", 0, 1, UNIT_NONE, 1, target_names),
    BYTES("Manufacturer Info Reference", "battery", 1, 1, UNIT_NONE, 1, NULL),
};
static const struct block_layout layout_get_manufacturer_info = {
    "Get Manufacturer Info Data Block", get_manufacturer_info, LENGTH(get_manufacturer_info), FROM_MEMORY,
};

static const struct block_field manufacturer_info[] = {
    BYTES("VID", "vid", 0, 2, UNIT_HEX, 1, no_vid_names),
    BYTES("PID", "pid", 2, 2, UNIT_HEX, 1, NULL),
    REST_TEXT("Manufacturer String", "text", 4), /* at most 22 bytes, ended by a zero byte */
};
static const struct block_layout layout_manufacturer_info = {
    "Manufacturer Info Data Block", manufacturer_info, LENGTH(manufacturer_info), FROM_MEMORY,
};

static const struct block_field country_codes[] = {
    BYTES("Number of Country Codes", "count", 0, 1, UNIT_NONE, 1, NULL),
    ZERO(1, 0, 8),
    REST_TEXT("Country Codes", "codes", 2), /* two letters each, ISO 3166 alpha-2 */
};
static const struct block_layout layout_country_codes = {
    "Country Codes Data Block", country_codes, LENGTH(country_codes), FROM_MEMORY,
};

static const struct block_field country_info[] = {
    BYTES("First Letter of Country Code", "first_letter", 0, 1, UNIT_LETTER, 1, NULL),
    BYTES("Second Letter of Country Code", "second_letter", 1, 1, UNIT_LETTER, 1, NULL),
    ZERO(2, 0, 8),
    ZERO(3, 0, 8),
    REST_BYTES("Country Specific Data", "data", 4),
};
static const struct block_layout layout_country_info = {
    "Country Info Data Block", country_info, LENGTH(country_info), FROM_MEMORY,
};

static const struct field_value_name extended_control_names[] = {
    VALUE(1, "EPR_Get_Source_Cap"), VALUE(2, "EPR_Get_Sink_Cap"), VALUE(3, "EPR_KeepAlive"), VALUE(4, "EPR_KeepAlive_Ack"),
    VALUES_END,
};

static const struct block_field extended_control[] = {
    BYTES("Type", "control", 0, 1, UNIT_NONE, 1, extended_control_names),
    BYTES("Data", "data", 1, 1, UNIT_NONE, 1, NULL), /* 0 */
};
static const struct block_layout layout_extended_control = {
    "Extended Control Data Block", extended_control, LENGTH(extended_control),
    FROM_CHROMIUM "; " FROM_INFINEON "; " FROM_ONSEMI,
};

static const struct field_value_name vdm_type_names[] = { VALUE(0, "unstructured"), VALUE(1, "structured"), VALUES_END };

static const struct block_field vendor_extended[] = {
    BITS("Available for Vendor Use", "vendor_use", 0, 2, 0, 15, UNIT_HEX, 1, NULL),
    BITS("VDM Type", "vdm_type", 0, 2, 15, 1, UNIT_NONE, 1, vdm_type_names),
    BYTES("Vendor ID", "svid", 2, 2, UNIT_HEX, 1, NULL),
    REST_BYTES("Vendor Data", "data", 4),
};
static const struct block_layout layout_vendor_extended = {
    "Vendor Defined Extended Data Block", vendor_extended, LENGTH(vendor_extended),
    FROM_ZEPHYR "; " FROM_CHROMIUM " (the message); header first " FROM_MEMORY,
};

const struct block_layout *block_layout(unsigned extended_type, bool on_cable)
{
    static const struct block_layout *const blocks[] = {
        [EXTENDED_SOURCE_CAPABILITIES] = &layout_source_extended,
        [EXTENDED_STATUS] = &layout_status,
        [EXTENDED_GET_BATTERY_CAP] = &layout_get_battery_cap,
        [EXTENDED_GET_BATTERY_STATUS] = &layout_get_battery_status,
        [EXTENDED_BATTERY_CAPABILITIES] = &layout_battery_capabilities,
        [EXTENDED_GET_MANUFACTURER_INFO] = &layout_get_manufacturer_info,
        [EXTENDED_MANUFACTURER_INFO] = &layout_manufacturer_info,
        [EXTENDED_PPS_STATUS] = &layout_pps_status,
        [EXTENDED_COUNTRY_INFO] = &layout_country_info,
        [EXTENDED_COUNTRY_CODES] = &layout_country_codes,
        [EXTENDED_SINK_CAPABILITIES] = &layout_sink_extended,
        [EXTENDED_CONTROL] = &layout_extended_control,
        [EXTENDED_VENDOR_DEFINED] = &layout_vendor_extended,
    };

    if (extended_type == EXTENDED_STATUS && on_cable)
        return &layout_cable_status;
    return extended_type < LENGTH(blocks) ? blocks[extended_type] : NULL;
}

bool block_value(const struct block_field *f, const uint8_t *data, size_t size, uint64_t *value)
{
    if (size <= f->byte)
        return false;
    struct cursor c = cursor_over(data, size);
    uint64_t      number = 0;

    cursor_take(&c, f->byte);
    if (f->size == 0) {
        *value = c.left;
        return true;
    }
    for (unsigned i = 0; i < f->size; i++)
        number |= (uint64_t)cursor_u8(&c) << 8 * i;
    *value = number >> f->low & ((UINT64_C(1) << f->bits) - 1);
    return !c.short_read;
}
