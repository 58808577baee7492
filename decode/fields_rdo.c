/* Request Data Objects: the form follows the object asked for. USB PD R3.2. */
#include "decode/field_inside.h"

/*
 * Object Position is four bits since EPR; R2.0 and R3.0 have three, and bit 31 is 0 (Linux pd.h and Zephyr mask three).
 * GiveBack is still defined in R3.1 V1.7 (Fuchsia) and retired by R3.2 (from memory).
 */
#define REQUEST_FLAGS \
    FLAG("Capability Mismatch", "mismatch", 26), \
    FLAG("USB Communications Capable", "usb_comm", 25), \
    FLAG("No USB Suspend", "no_usb_suspend", 24), \
    FLAG("Unchunked Extended Messages Supported", "unchunked", 23), /* R2: reserved */ \
    FLAG("EPR Capable", "epr_capable", 22)                          /* before R3.1: reserved */

#define RDO_SOURCES FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON "; four position bits and EPR Capable " FROM_FUCHSIA \
    ", " FROM_CHROMIUM

static const struct field request_fixed_variable[] = {
    NUMBER("Object Position", "position", 28, 4, UNIT_NONE, 1),
    FLAG("GiveBack", "give_back", 27),
    REQUEST_FLAGS,
    RESERVED(20, 2),
    NUMBER("Operating Current", "op_ma", 10, 10, UNIT_MA, 10),
    NUMBER("Maximum Operating Current", "max_ma", 0, 10, UNIT_MA, 10), /* with GiveBack: the minimum */
};
const struct object_layout layout_request_fixed_variable = {
    "Fixed and Variable Request Data Object", "request_fixed_variable", request_fixed_variable,
    LENGTH(request_fixed_variable), RDO_SOURCES,
};

static const struct field request_battery[] = {
    NUMBER("Object Position", "position", 28, 4, UNIT_NONE, 1),
    FLAG("GiveBack", "give_back", 27),
    REQUEST_FLAGS,
    RESERVED(20, 2),
    NUMBER("Operating Power", "op_mw", 10, 10, UNIT_MW, 250),
    NUMBER("Maximum Operating Power", "max_mw", 0, 10, UNIT_MW, 250), /* with GiveBack: the minimum */
};
const struct object_layout layout_request_battery = {
    "Battery Request Data Object", "request_battery", request_battery, LENGTH(request_battery), RDO_SOURCES,
};

static const struct field request_pps[] = {
    NUMBER("Object Position", "position", 28, 4, UNIT_NONE, 1),
    RESERVED(27, 1),
    REQUEST_FLAGS,
    RESERVED(21, 1),
    NUMBER("Output Voltage", "mv", 9, 12, UNIT_MV, 20), /* R3.0: 11 bits, 19:9 */
    RESERVED(7, 2),
    NUMBER("Operating Current", "op_ma", 0, 7, UNIT_MA, 50),
};
const struct object_layout layout_request_pps = {
    "PPS Request Data Object", "request_pps", request_pps, LENGTH(request_pps),
    RDO_SOURCES "; voltage of 11 bits there, of 12 bits " FROM_MEMORY,
};

static const struct field request_avs[] = {
    NUMBER("Object Position", "position", 28, 4, UNIT_NONE, 1),
    RESERVED(27, 1),
    REQUEST_FLAGS,
    RESERVED(21, 1),
    NUMBER("Output Voltage", "mv", 9, 12, UNIT_MV, 25), /* its two lowest bits are 0: steps of 100 mV */
    RESERVED(7, 2),
    NUMBER("Operating Current", "op_ma", 0, 7, UNIT_MA, 50),
};
const struct object_layout layout_request_avs = {
    "AVS Request Data Object", "request_avs", request_avs, LENGTH(request_avs),
    FROM_LINUX_LIST "; " FROM_INFINEON "; four position bits and EPR Capable " FROM_FUCHSIA ", " FROM_CHROMIUM,
};

/* The object asked for is not known: only what all forms share. */
static const struct field request_unknown[] = {
    NUMBER("Object Position", "position", 28, 4, UNIT_NONE, 1),
    FLAG("GiveBack", "give_back", 27), /* reserved in the PPS and AVS forms */
    REQUEST_FLAGS,
    NUMBER("By the Object Asked For", "content", 0, 22, UNIT_HEX, 1),
};
const struct object_layout layout_request_unknown = {
    "Request Data Object, of an object not seen", "request", request_unknown, LENGTH(request_unknown), RDO_SOURCES,
};
