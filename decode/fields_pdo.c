/*
 * Power Data Objects, as a source and as a sink sends them: USB PD R3.2, with what R2.0 and R3.0 leave reserved noted.
 *
 * Bits 29:23 of a fixed object speak only in object 1 of a message (linux-usb mailing list quoting R3.2 V1.1
 * 6.4.1.3.1 for the sink; secondary for the source): elsewhere they are reserved.
 */
#include "decode/field_inside.h"

static const struct field_value_name supply_names[] = {
    VALUE(0, "fixed"), VALUE(1, "battery"), VALUE(2, "variable"), VALUES_END,
};

/* Bits 31:28 of an augmented object: 11, then its own type. */
static const struct field_value_name augmented_names[] = {
    VALUE(12, "pps"), VALUE(13, "epr_avs"), VALUE(14, "spr_avs"), VALUE(15, "reserved"), VALUES_END,
};

/* Fuchsia usb-pd-message-objects.h (PD R3.1 V1.7 6.4.1.2.2.8); the 10 ms column also in Chromium EC. */
static const struct field_value_name peak_names[] = {
    VALUE(0, "the agreed current, or as Source_Capabilities_Extended says"),
    VALUE(1, "150 % for 1 ms, 125 % for 2 ms, 110 % for 10 ms"),
    VALUE(2, "200 % for 1 ms, 150 % for 2 ms, 125 % for 10 ms"),
    VALUE(3, "200 % for 1 ms, 175 % for 2 ms, 150 % for 10 ms"),
    VALUES_END,
};

static const struct field_value_name fr_swap_names[] = {
    VALUE(0, "not supported"), VALUE(1, "default USB power"), VALUE(2, "1.5 A at 5 V"), VALUE(3, "3.0 A at 5 V"),
    VALUES_END,
};

#define PDO_SOURCES FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON "; " SECONDARY

static const struct field source_fixed_first[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    FLAG("Dual-Role Power", "dual_role_power", 29),
    FLAG("USB Suspend Supported", "usb_suspend", 28),
    FLAG("Unconstrained Power", "unconstrained", 27),
    FLAG("USB Communications Capable", "usb_comm", 26),
    FLAG("Dual-Role Data", "dual_role_data", 25),
    FLAG("Unchunked Extended Messages Supported", "unchunked", 24), /* R2: reserved */
    FLAG("EPR Capable", "epr_capable", 23),                         /* before R3.1: reserved */
    RESERVED(22, 1),
    CODE("Peak Current", "peak", 20, 2, peak_names),
    NUMBER("Voltage", "mv", 10, 10, UNIT_MV, 50),
    NUMBER("Maximum Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_source_fixed_first = {
    "Source Fixed Supply PDO (first)", "source_fixed", source_fixed_first, LENGTH(source_fixed_first),
    PDO_SOURCES "; EPR Capable " FROM_CHROMIUM ", " FROM_FUCHSIA,
};

static const struct field source_fixed[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    RESERVED(23, 7), /* the flags of object 1 */
    RESERVED(22, 1),
    CODE("Peak Current", "peak", 20, 2, peak_names),
    NUMBER("Voltage", "mv", 10, 10, UNIT_MV, 50),
    NUMBER("Maximum Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_source_fixed = {
    "Source Fixed Supply PDO", "source_fixed", source_fixed, LENGTH(source_fixed), PDO_SOURCES,
};

static const struct field source_battery[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    NUMBER("Maximum Voltage", "max_mv", 20, 10, UNIT_MV, 50),
    NUMBER("Minimum Voltage", "min_mv", 10, 10, UNIT_MV, 50),
    NUMBER("Maximum Allowable Power", "mw", 0, 10, UNIT_MW, 250),
};
const struct object_layout layout_source_battery = {
    "Source Battery Supply PDO", "source_battery", source_battery, LENGTH(source_battery), PDO_SOURCES,
};

static const struct field source_variable[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    NUMBER("Maximum Voltage", "max_mv", 20, 10, UNIT_MV, 50),
    NUMBER("Minimum Voltage", "min_mv", 10, 10, UNIT_MV, 50),
    NUMBER("Maximum Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_source_variable = {
    "Source Variable Supply PDO", "source_variable", source_variable, LENGTH(source_variable), PDO_SOURCES,
};

static const struct field source_pps[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    FLAG("PPS Power Limited", "limited", 27),
    RESERVED(25, 2),
    NUMBER("Maximum Voltage", "max_mv", 17, 8, UNIT_MV, 100),
    RESERVED(16, 1),
    NUMBER("Minimum Voltage", "min_mv", 8, 8, UNIT_MV, 100),
    RESERVED(7, 1),
    NUMBER("Maximum Current", "ma", 0, 7, UNIT_MA, 50),
};
const struct object_layout layout_source_pps = {
    "Source SPR Programmable Power Supply APDO", "source_pps", source_pps, LENGTH(source_pps), PDO_SOURCES,
};

static const struct field source_epr_avs[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    CODE("Peak Current", "peak", 26, 2, peak_names),
    NUMBER("Maximum Voltage", "max_mv", 17, 9, UNIT_MV, 100),
    RESERVED(16, 1),
    NUMBER("Minimum Voltage", "min_mv", 8, 8, UNIT_MV, 100),
    NUMBER("PDP", "pdp_w", 0, 8, UNIT_W, 1),
};
const struct object_layout layout_source_epr_avs = {
    "Source EPR Adjustable Voltage Supply APDO", "source_epr_avs", source_epr_avs, LENGTH(source_epr_avs),
    FROM_CHROMIUM "; " FROM_INFINEON "; " FROM_LINUX_LIST "; " SECONDARY "; Peak Current " FROM_LINUX_LIST ", " FROM_MEMORY,
};

static const struct field source_spr_avs[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    CODE("Peak Current", "peak", 26, 2, peak_names),
    RESERVED(20, 6),
    NUMBER("Maximum Current 9 V to 15 V", "ma_9_15v", 10, 10, UNIT_MA, 10),
    NUMBER("Maximum Current 15 V to 20 V", "ma_15_20v", 0, 10, UNIT_MA, 10), /* 0: ends at 15 V (from memory) */
};
const struct object_layout layout_source_spr_avs = {
    "Source SPR Adjustable Voltage Supply APDO", "source_spr_avs", source_spr_avs, LENGTH(source_spr_avs),
    FROM_INFINEON "; " FROM_LINUX_LIST "; " SECONDARY,
};

static const struct field sink_fixed_first[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    FLAG("Dual-Role Power", "dual_role_power", 29),
    FLAG("Higher Capability", "higher_capability", 28),
    FLAG("Unconstrained Power", "unconstrained", 27),
    FLAG("USB Communications Capable", "usb_comm", 26),
    FLAG("Dual-Role Data", "dual_role_data", 25),
    CODE("Fast Role Swap Required Current", "fr_swap", 23, 2, fr_swap_names), /* R2: reserved */
    RESERVED(20, 3),
    NUMBER("Voltage", "mv", 10, 10, UNIT_MV, 50),
    NUMBER("Operational Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_sink_fixed_first = {
    "Sink Fixed Supply PDO (first)", "sink_fixed", sink_fixed_first, LENGTH(sink_fixed_first),
    PDO_SOURCES "; Fast Role Swap " FROM_CHROMIUM ", " FROM_FUCHSIA,
};

static const struct field sink_fixed[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    RESERVED(23, 7), /* the flags of object 1 */
    RESERVED(20, 3),
    NUMBER("Voltage", "mv", 10, 10, UNIT_MV, 50),
    NUMBER("Operational Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_sink_fixed = {
    "Sink Fixed Supply PDO", "sink_fixed", sink_fixed, LENGTH(sink_fixed), PDO_SOURCES,
};

static const struct field sink_battery[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    NUMBER("Maximum Voltage", "max_mv", 20, 10, UNIT_MV, 50),
    NUMBER("Minimum Voltage", "min_mv", 10, 10, UNIT_MV, 50),
    NUMBER("Operational Power", "mw", 0, 10, UNIT_MW, 250),
};
const struct object_layout layout_sink_battery = {
    "Sink Battery Supply PDO", "sink_battery", sink_battery, LENGTH(sink_battery),
    FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON,
};

static const struct field sink_variable[] = {
    CODE("Supply Type", "supply", 30, 2, supply_names),
    NUMBER("Maximum Voltage", "max_mv", 20, 10, UNIT_MV, 50),
    NUMBER("Minimum Voltage", "min_mv", 10, 10, UNIT_MV, 50),
    NUMBER("Operational Current", "ma", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_sink_variable = {
    "Sink Variable Supply PDO", "sink_variable", sink_variable, LENGTH(sink_variable),
    FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON,
};

static const struct field sink_pps[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    RESERVED(25, 3),
    NUMBER("Maximum Voltage", "max_mv", 17, 8, UNIT_MV, 100),
    RESERVED(16, 1),
    NUMBER("Minimum Voltage", "min_mv", 8, 8, UNIT_MV, 100),
    RESERVED(7, 1),
    NUMBER("Maximum Current", "ma", 0, 7, UNIT_MA, 50),
};
const struct object_layout layout_sink_pps = {
    "Sink SPR Programmable Power Supply APDO", "sink_pps", sink_pps, LENGTH(sink_pps), FROM_ZEPHYR "; " SECONDARY,
};

static const struct field sink_epr_avs[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    RESERVED(26, 2),
    NUMBER("Maximum Voltage", "max_mv", 17, 9, UNIT_MV, 100),
    RESERVED(16, 1),
    NUMBER("Minimum Voltage", "min_mv", 8, 8, UNIT_MV, 100),
    NUMBER("PDP", "pdp_w", 0, 8, UNIT_W, 1),
};
const struct object_layout layout_sink_epr_avs = {
    "Sink EPR Adjustable Voltage Supply APDO", "sink_epr_avs", sink_epr_avs, LENGTH(sink_epr_avs),
    FROM_INFINEON "; " SECONDARY,
};

static const struct field sink_spr_avs[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    RESERVED(20, 8),
    NUMBER("Maximum Current 9 V to 15 V", "ma_9_15v", 10, 10, UNIT_MA, 10),
    NUMBER("Maximum Current 15 V to 20 V", "ma_15_20v", 0, 10, UNIT_MA, 10),
};
const struct object_layout layout_sink_spr_avs = {
    "Sink SPR Adjustable Voltage Supply APDO", "sink_spr_avs", sink_spr_avs, LENGTH(sink_spr_avs),
    FROM_LINUX_LIST " (with the devicetree bindings of 2026)",
};

/* Type 11 11: what the other bits mean is not known, so they are a number and not "reserved, zero". */
static const struct field pdo_reserved[] = {
    CODE("Supply Type", "supply", 28, 4, augmented_names),
    NUMBER("Unknown Content", "content", 0, 28, UNIT_HEX, 1),
};
const struct object_layout layout_pdo_reserved = {
    "Augmented PDO of a reserved type", "pdo_reserved", pdo_reserved, LENGTH(pdo_reserved),
    FROM_INFINEON "; " SECONDARY,
};
