/*
 * decode/field_inside.h - the layouts by name, for decode/field.c, and the words that rows are written with.
 *
 * Rows stand from the highest bit to the lowest. Everything here is internal to decode/: others ask object_layout().
 */
#pragma once
#include "decode/field.h"
#include "decode/sources.h"

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

/* Rows of an object: a number in units, a code with names, a yes or no, bits that must be zero. */
#define NUMBER(name, key, low, bits, unit, step) { name, key, low, bits, unit, step, NULL }
#define NAMED(name, key, low, bits, unit, step, names) { name, key, low, bits, unit, step, names }
#define CODE(name, key, low, bits, names) { name, key, low, bits, UNIT_NONE, 1, names }
#define FLAG(name, key, bit) { name, key, bit, 1, UNIT_FLAG, 1, NULL }
#define RESERVED(low, bits) { "Reserved", NULL, low, bits, UNIT_NONE, 1, NULL }
#define VALUE(number, name) { number, name }
#define VALUES_END { 0, NULL }

extern const struct object_layout layout_source_fixed_first, layout_source_fixed, layout_source_battery,
    layout_source_variable, layout_source_pps, layout_source_epr_avs, layout_source_spr_avs;
extern const struct object_layout layout_sink_fixed_first, layout_sink_fixed, layout_sink_battery,
    layout_sink_variable, layout_sink_pps, layout_sink_epr_avs, layout_sink_spr_avs;
extern const struct object_layout layout_pdo_reserved;

extern const struct object_layout layout_request_fixed_variable, layout_request_battery, layout_request_pps,
    layout_request_avs, layout_request_unknown;

extern const struct object_layout layout_epr_mode, layout_epr_mode_enter, layout_epr_mode_failed, layout_source_info,
    layout_source_info_second, layout_revision, layout_battery_status, layout_alert, layout_country_code, layout_bist,
    layout_enter_usb, layout_raw;

extern const struct object_layout layout_vdm_header, layout_vdm_unstructured, layout_id_header, layout_id_header_cable,
    layout_cert_stat, layout_product, layout_ufp, layout_dfp, layout_passive_cable, layout_active_cable_1,
    layout_active_cable_2, layout_cable_r2, layout_vpd, layout_ama, layout_psd, layout_svids, layout_mode;
