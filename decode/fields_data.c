/* The objects of the other data messages: EPR mode, Source_Info, Revision, battery, alert, country, BIST, Enter_USB. */
#include "decode/field_inside.h"

static const struct field_value_name epr_action_names[] = {
    VALUE(1, "Enter"), VALUE(2, "Enter Acknowledged"), VALUE(3, "Enter Succeeded"), VALUE(4, "Enter Failed"),
    VALUE(5, "Exit"), VALUES_END,
};

static const struct field_value_name epr_failure_names[] = {
    VALUE(0, "unknown cause"), VALUE(1, "cable not EPR capable"), VALUE(2, "source could not become VCONN source"),
    VALUE(3, "EPR Capable bit not set in the RDO"), VALUE(4, "source unable to enter EPR mode now"),
    VALUE(5, "EPR Capable bit not set in the PDO"), VALUES_END,
};

#define EPR_MODE_SOURCES FROM_CHROMIUM "; " FROM_INFINEON

static const struct field epr_mode[] = {
    CODE("Action", "action", 24, 8, epr_action_names),
    NUMBER("Data", "data", 16, 8, UNIT_NONE, 1), /* 0 where neither of the two layouts below holds */
    RESERVED(0, 16),
};
const struct object_layout layout_epr_mode = {
    "EPR Mode Data Object", "epr_mode", epr_mode, LENGTH(epr_mode), EPR_MODE_SOURCES,
};

static const struct field epr_mode_enter[] = {
    CODE("Action", "action", 24, 8, epr_action_names),
    NUMBER("EPR Sink Operational PDP", "sink_pdp_w", 16, 8, UNIT_W, 1),
    RESERVED(0, 16),
};
const struct object_layout layout_epr_mode_enter = {
    "EPR Mode Data Object", "epr_mode", epr_mode_enter, LENGTH(epr_mode_enter),
    EPR_MODE_SOURCES "; meaning of Data " FROM_MEMORY,
};

static const struct field epr_mode_failed[] = {
    CODE("Action", "action", 24, 8, epr_action_names),
    CODE("Cause", "cause", 16, 8, epr_failure_names),
    RESERVED(0, 16),
};
const struct object_layout layout_epr_mode_failed = {
    "EPR Mode Data Object", "epr_mode", epr_mode_failed, LENGTH(epr_mode_failed),
    EPR_MODE_SOURCES "; causes " FROM_CHROMIUM ", " FROM_ONSEMI,
};

static const struct field_value_name port_type_names[] = {
    VALUE(0, "managed capability"), VALUE(1, "guaranteed capability"), VALUES_END,
};

static const struct field source_info[] = {
    CODE("Port Type", "port_type", 31, 1, port_type_names),
    RESERVED(24, 7),
    NUMBER("Port Maximum PDP", "maximum_pdp_w", 16, 8, UNIT_W, 1), /* integer part */
    NUMBER("Port Present PDP", "present_pdp_w", 8, 8, UNIT_W, 1),
    NUMBER("Port Reported PDP", "reported_pdp_w", 0, 8, UNIT_W, 1),
};
const struct object_layout layout_source_info = {
    "Source Information Data Object", "source_info", source_info, LENGTH(source_info),
    FROM_CHROMIUM "; " FROM_INFINEON "; " SECONDARY,
};

static const struct field source_info_second[] = {
    CODE("Port Type", "port_type", 31, 1, port_type_names),
    FLAG("Dynamic Power Source", "dynamic_power_source", 30),
    RESERVED(18, 12),
    NUMBER("Port Maximum PDP", "maximum_pdp_mw", 9, 9, UNIT_MW, 500),
    NUMBER("Port Guaranteed PDP", "guaranteed_pdp_mw", 0, 9, UNIT_MW, 500),
};
const struct object_layout layout_source_info_second = {
    "Second Source Information Data Object", "source_info_second", source_info_second, LENGTH(source_info_second),
    SECONDARY " (one place only)",
};

static const struct field revision[] = {
    NUMBER("Revision Major", "revision_major", 28, 4, UNIT_NONE, 1),
    NUMBER("Revision Minor", "revision_minor", 24, 4, UNIT_NONE, 1),
    NUMBER("Version Major", "version_major", 20, 4, UNIT_NONE, 1),
    NUMBER("Version Minor", "version_minor", 16, 4, UNIT_NONE, 1),
    RESERVED(0, 16),
};
const struct object_layout layout_revision = {
    "Revision Message Data Object", "revision", revision, LENGTH(revision), FROM_CHROMIUM,
};

static const struct field_value_name capacity_names[] = { VALUE(0xFFFF, "unknown"), VALUES_END };
static const struct field_value_name charging_names[] = {
    VALUE(0, "charging"), VALUE(1, "discharging"), VALUE(2, "idle"), VALUES_END,
};

static const struct field battery_status[] = {
    NAMED("Battery Present Capacity", "present_capacity_mwh", 16, 16, UNIT_MWH, 100, capacity_names),
    RESERVED(12, 4),
    CODE("Battery Charging Status", "charging", 10, 2, charging_names), /* only where a battery is present */
    FLAG("Battery Present", "present", 9),
    FLAG("Invalid Battery Reference", "invalid_reference", 8),
    RESERVED(0, 8),
};
const struct object_layout layout_battery_status = {
    "Battery Status Data Object", "battery_status", battery_status, LENGTH(battery_status),
    FROM_CHROMIUM "; unit of the capacity, charging codes and reserved bits " FROM_MEMORY,
};

static const struct field_value_name extended_alert_names[] = {
    VALUE(1, "power state change"), VALUE(2, "power button press"), VALUE(3, "power button release"),
    VALUE(4, "controller-initiated wake"), VALUES_END,
};

static const struct field alert[] = {
    FLAG("Extended Alert Event", "extended_alert", 31), /* before R3.1: reserved */
    FLAG("OVP Event", "ovp", 30),
    FLAG("Source Input Change Event", "source_input_change", 29),
    FLAG("Operating Condition Change", "operating_condition_change", 28),
    FLAG("OTP Event", "otp", 27),
    FLAG("OCP Event", "ocp", 26),
    FLAG("Battery Status Change Event", "battery_status_change", 25),
    RESERVED(24, 1),
    NUMBER("Fixed Batteries", "fixed_batteries", 20, 4, UNIT_HEX, 1), /* a bit each */
    NUMBER("Hot Swappable Batteries", "hot_swap_batteries", 16, 4, UNIT_HEX, 1),
    RESERVED(4, 12),
    CODE("Extended Alert Event Type", "extended_type", 0, 4, extended_alert_names),
};
const struct object_layout layout_alert = {
    "Alert Data Object", "alert", alert, LENGTH(alert),
    FROM_LINUX_ADO "; " FROM_CHROMIUM "; " FROM_INFINEON "; extended alert " FROM_CHROMIUM,
};

static const struct field country_code[] = {
    NUMBER("First Letter of Country Code", "first_letter", 24, 8, UNIT_LETTER, 1), /* ISO 3166 alpha-2 */
    NUMBER("Second Letter of Country Code", "second_letter", 16, 8, UNIT_LETTER, 1),
    RESERVED(0, 16),
};
const struct object_layout layout_country_code = {
    "Country Code Data Object", "country_code", country_code, LENGTH(country_code), FROM_MEMORY,
};

/* R3.x keeps Carrier Mode and the test data; the rest are R2.0's. */
static const struct field_value_name bist_names[] = {
    VALUE(0, "Receiver Mode (2.0)"), VALUE(1, "Transmit Mode (2.0)"), VALUE(2, "Returned BIST Counters (2.0)"),
    VALUE(3, "Carrier Mode 0 (2.0)"), VALUE(4, "Carrier Mode 1 (2.0)"), VALUE(5, "Carrier Mode"),
    VALUE(6, "Carrier Mode 3 (2.0)"), VALUE(7, "Eye Pattern (2.0)"), VALUE(8, "Test Data"),
    VALUE(9, "Shared Test Mode Entry"), VALUE(10, "Shared Test Mode Exit"), VALUES_END,
};

static const struct field bist[] = {
    CODE("BIST Mode", "mode", 28, 4, bist_names),
    RESERVED(16, 12),
    NUMBER("Returned Error Counters (2.0)", "error_counters", 0, 16, UNIT_NONE, 1), /* R3.x: reserved */
};
const struct object_layout layout_bist = {
    "BIST Data Object", "bist", bist, LENGTH(bist),
    FROM_LINUX_BDO "; " FROM_CHROMIUM "; " FROM_INFINEON "; " FROM_ONSEMI,
};

static const struct field_value_name usb_mode_names[] = {
    VALUE(0, "USB 2.0"), VALUE(1, "USB 3.2"), VALUE(2, "USB4"), VALUES_END,
};
static const struct field_value_name usb_speed_names[] = {
    VALUE(0, "USB 2.0"), VALUE(1, "USB 3.2 Gen1"), VALUE(2, "USB 3.2 Gen2 and USB4 Gen2"), VALUE(3, "USB4 Gen3"),
    VALUE(4, "USB4 Gen4"), VALUES_END,
};
static const struct field_value_name usb_cable_names[] = {
    VALUE(0, "passive"), VALUE(1, "active re-timer"), VALUE(2, "active re-driver"), VALUE(3, "optically isolated"),
    VALUES_END,
};
static const struct field_value_name usb_current_names[] = {
    VALUE(0, "VBUS not supported"), VALUE(2, "3 A"), VALUE(3, "5 A"), VALUES_END,
};

static const struct field enter_usb[] = {
    RESERVED(31, 1),
    CODE("USB Mode", "usb_mode", 28, 3, usb_mode_names),
    RESERVED(27, 1),
    FLAG("USB4 DRD", "usb4_drd", 26),
    FLAG("USB3 DRD", "usb3_drd", 25),
    RESERVED(24, 1),
    CODE("Cable Speed", "cable_speed", 21, 3, usb_speed_names),
    CODE("Cable Type", "cable_type", 19, 2, usb_cable_names),
    CODE("Cable Current", "cable_current", 17, 2, usb_current_names),
    FLAG("PCIe Support", "pcie_support", 16),
    FLAG("DP Support", "dp_support", 15),
    FLAG("TBT Support", "tbt_support", 14),
    FLAG("Host Present", "host_present", 13),
    RESERVED(0, 13),
};
const struct object_layout layout_enter_usb = {
    "Enter_USB Data Object", "enter_usb", enter_usb, LENGTH(enter_usb),
    FROM_LINUX "; " FROM_INFINEON "; cable types " FROM_LINUX ", " FROM_ONSEMI "; USB4 Gen4 " FROM_MEMORY,
};

static const struct field raw[] = {
    NUMBER("Value", "value", 0, 32, UNIT_HEX, 1),
};
const struct object_layout layout_raw = {
    "Data Object", "raw", raw, LENGTH(raw), "no layout: a number as it was sent",
};
