/*
 * decode/objects.h - Power Data Objects and Request Data Objects as numbers to reckon with.
 * Layouts: decode/field.h rows say every bit with its source; this is what the rules and commands need of them.
 *
 *   _mv millivolt  _ma milliampere  _mw milliwatt
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum supply { SUPPLY_FIXED, SUPPLY_BATTERY, SUPPLY_VARIABLE, SUPPLY_PPS, SUPPLY_EPR_AVS, SUPPLY_SPR_AVS, SUPPLY_RESERVED };
enum { PDO_MAX = 13, PDO_SPR_MAX = 7, PDO_EPR_FIRST = 8 };

struct pdo {
    uint32_t word;
    uint8_t  position;           /* 1.. */
    uint8_t  supply;             /* enum supply */
    uint8_t  peak;               /* 0..3: Fixed, EPR AVS, SPR AVS of a source */
    bool     limited;            /* PPS Power Limited */
    int32_t  min_mv, max_mv;     /* Fixed: the same; SPR AVS: 9000 and 15000 or 20000 */
    int32_t  max_ma;             /* Fixed, Variable, PPS; SPR AVS: 9..15 V; else 0 */
    int32_t  max_ma_20v;         /* SPR AVS: 15..20 V */
    int32_t  max_mw;             /* Battery; EPR AVS: PDP */
    /* First Fixed object only; false elsewhere. */
    bool dual_role_power, usb_suspend, unconstrained, usb_comm, dual_role_data, unchunked, epr_capable;
    bool higher_capability;      /* sink */
    uint8_t fr_swap;             /* sink, 0..3 */
};
struct pdo pdo_read_source(uint32_t word, unsigned position);
struct pdo pdo_read_sink(uint32_t word, unsigned position);
const char *supply_name(unsigned supply); /* fixed battery variable pps epr_avs spr_avs reserved */
/* Largest current (rounded down to mA) it offers at mv; for Battery and EPR AVS from the power, AVS not above 5 A. 0 outside its range. */
int32_t pdo_current_at(const struct pdo *p, int32_t mv);

enum request_form { REQUEST_FIXED_VARIABLE, REQUEST_BATTERY, REQUEST_PPS, REQUEST_AVS, REQUEST_FORM_UNKNOWN };
struct rdo {
    uint32_t word;
    uint8_t  position;                      /* bits 31:28 */
    uint8_t  form;                          /* enum request_form, from the object asked for */
    bool     give_back, mismatch, usb_comm, no_usb_suspend, unchunked, epr_capable;
    int32_t  mv;                            /* PPS, AVS: asked for; Fixed: the object's; else 0 */
    int32_t  op_ma, max_ma;                 /* PPS, AVS: max_ma = op_ma */
    int32_t  op_mw, max_mw;                 /* Battery */
};
/* asked: the object at that position of the offer in force, NULL if unknown (form unknown: only position and flags are set). */
struct rdo rdo_read(uint32_t word, const struct pdo *asked);
/* Position alone: bits 31:28. */
unsigned rdo_position(uint32_t word);
