/* Power Data Objects and Request Data Objects as numbers. The layouts, with their sources: fields_pdo.c, fields_rdo.c. */
#include "decode/objects.h"

enum {
    FIXED_STEP_MV = 50,
    CURRENT_STEP_MA = 10,
    POWER_STEP_MW = 250,
    PROGRAMMABLE_STEP_MV = 100, /* range of PPS and AVS objects */
    PROGRAMMABLE_STEP_MA = 50,
    PPS_REQUEST_STEP_MV = 20,
    AVS_REQUEST_STEP_MV = 25,
    SPR_AVS_LEAST_MV = 9000,
    SPR_AVS_MIDDLE_MV = 15000,
    SPR_AVS_MOST_MV = 20000,
    AVS_CURRENT_MAX_MA = 5000, /* whatever the PDP: a cable carries no more */
};

static int32_t bits_of(uint32_t word, unsigned low, unsigned bits)
{
    return (int32_t)(word >> low & ((UINT32_C(1) << bits) - 1));
}

static bool bit_of(uint32_t word, unsigned bit)
{
    return (word >> bit & 1) != 0;
}

static enum supply supply_of(uint32_t word)
{
    static const enum supply programmable[] = { SUPPLY_PPS, SUPPLY_EPR_AVS, SUPPLY_SPR_AVS, SUPPLY_RESERVED };

    switch (bits_of(word, 30, 2)) {
    case 0:  return SUPPLY_FIXED;
    case 1:  return SUPPLY_BATTERY;
    case 2:  return SUPPLY_VARIABLE;
    default: return programmable[bits_of(word, 28, 2)];
    }
}

static void range_read(struct pdo *p)
{
    p->max_mv = bits_of(p->word, 20, 10) * FIXED_STEP_MV;
    p->min_mv = bits_of(p->word, 10, 10) * FIXED_STEP_MV;
}

static void programmable_range_read(struct pdo *p, unsigned max_bits)
{
    p->max_mv = bits_of(p->word, 17, max_bits) * PROGRAMMABLE_STEP_MV;
    p->min_mv = bits_of(p->word, 8, 8) * PROGRAMMABLE_STEP_MV;
}

static void spr_avs_read(struct pdo *p)
{
    p->max_ma = bits_of(p->word, 10, 10) * CURRENT_STEP_MA;
    p->max_ma_20v = bits_of(p->word, 0, 10) * CURRENT_STEP_MA;
    p->min_mv = SPR_AVS_LEAST_MV;
    p->max_mv = p->max_ma_20v ? SPR_AVS_MOST_MV : SPR_AVS_MIDDLE_MV;
}

static void object_read(struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
        p->max_mv = p->min_mv = bits_of(p->word, 10, 10) * FIXED_STEP_MV;
        p->max_ma = bits_of(p->word, 0, 10) * CURRENT_STEP_MA;
        break;
    case SUPPLY_BATTERY:
        range_read(p);
        p->max_mw = bits_of(p->word, 0, 10) * POWER_STEP_MW;
        break;
    case SUPPLY_VARIABLE:
        range_read(p);
        p->max_ma = bits_of(p->word, 0, 10) * CURRENT_STEP_MA;
        break;
    case SUPPLY_PPS:
        programmable_range_read(p, 8);
        p->max_ma = bits_of(p->word, 0, 7) * PROGRAMMABLE_STEP_MA;
        break;
    case SUPPLY_EPR_AVS:
        programmable_range_read(p, 9);
        p->max_mw = bits_of(p->word, 0, 8) * 1000;
        break;
    case SUPPLY_SPR_AVS:
        spr_avs_read(p);
        break;
    case SUPPLY_RESERVED:
        break;
    }
}

/* Flags of the first object that sources and sinks share. */
static void first_flags_read(struct pdo *p)
{
    p->dual_role_power = bit_of(p->word, 29);
    p->unconstrained = bit_of(p->word, 27);
    p->usb_comm = bit_of(p->word, 26);
    p->dual_role_data = bit_of(p->word, 25);
}

struct pdo pdo_read_source(uint32_t word, unsigned position)
{
    struct pdo p = { .word = word, .position = (uint8_t)position, .supply = (uint8_t)supply_of(word) };

    object_read(&p);
    if (p.supply == SUPPLY_FIXED)
        p.peak = (uint8_t)bits_of(word, 20, 2);
    else if (p.supply == SUPPLY_EPR_AVS || p.supply == SUPPLY_SPR_AVS)
        p.peak = (uint8_t)bits_of(word, 26, 2);
    else if (p.supply == SUPPLY_PPS)
        p.limited = bit_of(word, 27);
    if (p.supply == SUPPLY_FIXED && position == 1) {
        first_flags_read(&p);
        p.usb_suspend = bit_of(word, 28);
        p.unchunked = bit_of(word, 24);
        p.epr_capable = bit_of(word, 23);
    }
    return p;
}

struct pdo pdo_read_sink(uint32_t word, unsigned position)
{
    struct pdo p = { .word = word, .position = (uint8_t)position, .supply = (uint8_t)supply_of(word) };

    object_read(&p);
    if (p.supply == SUPPLY_FIXED && position == 1) {
        first_flags_read(&p);
        p.higher_capability = bit_of(word, 28);
        p.fr_swap = (uint8_t)bits_of(word, 23, 2);
    }
    return p;
}

const char *supply_name(unsigned supply)
{
    static const char *const names[] = {
        [SUPPLY_FIXED] = "fixed", [SUPPLY_BATTERY] = "battery", [SUPPLY_VARIABLE] = "variable", [SUPPLY_PPS] = "pps",
        [SUPPLY_EPR_AVS] = "epr_avs", [SUPPLY_SPR_AVS] = "spr_avs", [SUPPLY_RESERVED] = "reserved",
    };

    return supply < sizeof names / sizeof names[0] ? names[supply] : "reserved";
}

/* mW / V, rounded down. At most 255,750 mW: no overflow. */
static int32_t current_from_power(int32_t mw, int32_t mv)
{
    return mw * 1000 / mv;
}

int32_t pdo_current_at(const struct pdo *p, int32_t mv)
{
    if (mv <= 0 || mv < p->min_mv || mv > p->max_mv)
        return 0;
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        return p->max_ma;
    case SUPPLY_BATTERY:
        return current_from_power(p->max_mw, mv);
    case SUPPLY_EPR_AVS: {
        int32_t ma = current_from_power(p->max_mw, mv);

        return ma < AVS_CURRENT_MAX_MA ? ma : AVS_CURRENT_MAX_MA;
    }
    case SUPPLY_SPR_AVS:
        /* At exactly 15 V the lower range's current holds, as in the SPR AVS patches on the linux-usb list. */
        return mv <= SPR_AVS_MIDDLE_MV ? p->max_ma : p->max_ma_20v;
    case SUPPLY_RESERVED:
        return 0;
    }
    return 0;
}

unsigned rdo_position(uint32_t word)
{
    return word >> 28;
}

static enum request_form form_of(const struct pdo *asked)
{
    if (!asked)
        return REQUEST_FORM_UNKNOWN;
    switch ((enum supply)asked->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE: return REQUEST_FIXED_VARIABLE;
    case SUPPLY_BATTERY:  return REQUEST_BATTERY;
    case SUPPLY_PPS:      return REQUEST_PPS;
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:  return REQUEST_AVS;
    case SUPPLY_RESERVED: return REQUEST_FORM_UNKNOWN;
    }
    return REQUEST_FORM_UNKNOWN;
}

static void programmable_request_read(struct rdo *r, int32_t step_mv)
{
    r->mv = bits_of(r->word, 9, 12) * step_mv;
    r->op_ma = r->max_ma = bits_of(r->word, 0, 7) * PROGRAMMABLE_STEP_MA;
    r->give_back = false; /* bit 27 is reserved here */
}

struct rdo rdo_read(uint32_t word, const struct pdo *asked)
{
    struct rdo r = {
        .word = word, .position = (uint8_t)rdo_position(word), .form = (uint8_t)form_of(asked),
        .give_back = bit_of(word, 27), .mismatch = bit_of(word, 26), .usb_comm = bit_of(word, 25),
        .no_usb_suspend = bit_of(word, 24), .unchunked = bit_of(word, 23), .epr_capable = bit_of(word, 22),
    };

    switch ((enum request_form)r.form) {
    case REQUEST_FIXED_VARIABLE:
        r.mv = asked->supply == SUPPLY_FIXED ? asked->max_mv : 0;
        r.op_ma = bits_of(word, 10, 10) * CURRENT_STEP_MA;
        r.max_ma = bits_of(word, 0, 10) * CURRENT_STEP_MA;
        break;
    case REQUEST_BATTERY:
        r.op_mw = bits_of(word, 10, 10) * POWER_STEP_MW;
        r.max_mw = bits_of(word, 0, 10) * POWER_STEP_MW;
        break;
    case REQUEST_PPS:
        programmable_request_read(&r, PPS_REQUEST_STEP_MV);
        break;
    case REQUEST_AVS:
        programmable_request_read(&r, AVS_REQUEST_STEP_MV);
        break;
    case REQUEST_FORM_UNKNOWN:
        break;
    }
    return r;
}
