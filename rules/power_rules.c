#include "rules/power_rules.h"

#include <stddef.h>

#define TIER_SOURCE "public encyclopedia's table of the power rules; public note of a chip maker; from memory"

/* At exactly 45 W one article of 2016 asks for 20 V as well; the others do not, and it is not asked for here. */
const struct power_tier power_tiers[] = {
    { .up_to_mw = 15000, .count = 1, .mv = { 5000 }, .source = TIER_SOURCE },
    { .up_to_mw = 27000, .count = 2, .mv = { 5000, 9000 }, .source = TIER_SOURCE },
    { .up_to_mw = 45000, .count = 3, .mv = { 5000, 9000, 15000 }, .source = TIER_SOURCE },
    { .up_to_mw = 60000, .count = 4, .mv = { 5000, 9000, 15000, 20000 }, .source = TIER_SOURCE },
    { .up_to_mw = SPR_MAX_MW, .count = 4, .mv = { 5000, 9000, 15000, 20000 },
      .source = "public encyclopedia's table of the power rules; from memory" },
};
const unsigned power_tiers_count = sizeof power_tiers / sizeof power_tiers[0];

/* From memory: profiles 1 to 5 of the first issue of R2.0. */
const int32_t  power_profile_mv[] = { 5000, 12000 };
const unsigned power_profile_count = sizeof power_profile_mv / sizeof power_profile_mv[0];

const struct pps_family pps_families[] = {
    { .max_mv = 5900, .nominal_mv = 5000, .source = "from memory" },
    { .max_mv = 11000, .nominal_mv = 9000, .source = "from memory; fits a published table of a vendor's source firmware" },
    { .max_mv = 16000, .nominal_mv = 15000, .source = "from memory" },
    { .max_mv = 21000, .nominal_mv = 20000, .source = "from memory; 21 V: Zephyr sample log" },
};
const unsigned pps_families_count = sizeof pps_families / sizeof pps_families[0];

#define LIMIT_SOURCE "linux-usb mailing list; EE Times India; public note of a chip maker"

/* A range may end at 21 V, as PPS does: lenient, ours. */
const struct spr_limit spr_limits[SUPPLY_RESERVED + 1] = {
    [SUPPLY_FIXED] = { .mv = SPR_FIXED_MAX_MV, .ma = CABLE_MARKED_MA, .limited = true, .source = LIMIT_SOURCE },
    [SUPPLY_BATTERY] = { .mv = PPS_MAX_MV, .mw = SPR_MAX_MW, .limited = true, .source = LIMIT_SOURCE },
    [SUPPLY_VARIABLE] = { .mv = PPS_MAX_MV, .ma = CABLE_MARKED_MA, .limited = true, .source = LIMIT_SOURCE },
    [SUPPLY_PPS] = { .ma = CABLE_MARKED_MA, .limited = true, .source = LIMIT_SOURCE },
    [SUPPLY_SPR_AVS] = { .ma = CABLE_MARKED_MA, .limited = true, .source = LIMIT_SOURCE },
    [SUPPLY_EPR_AVS] = { .limited = false, .source = "not an object of these positions" },
    [SUPPLY_RESERVED] = { .limited = false, .source = "no fields are known" },
};

const struct reserved_bits pdo_reserved_bits[SUPPLY_RESERVED + 1] = {
    [SUPPLY_FIXED] = { 0x00400000, "bit 22: Zephyr usbc_pd.h, Infineon" },
    [SUPPLY_BATTERY] = { 0, "none: Linux include/linux/usb/pd.h" },
    [SUPPLY_VARIABLE] = { 0, "none: Linux include/linux/usb/pd.h" },
    [SUPPLY_PPS] = { 0x06010080, "bits 26:25, 16, 7: Zephyr usbc_pd.h, Infineon" },
    [SUPPLY_EPR_AVS] = { 0x00010000, "bit 16: Infineon" },
    [SUPPLY_SPR_AVS] = { 0x03f00000, "bits 25:20: Infineon, linux-usb mailing list" },
    [SUPPLY_RESERVED] = { UINT32_MAX, "type 11 of the augmented objects: Infineon" },
};

/* Linux list mail quoting R3.2 V1.1 6.4.1.3.1; notes on R3.2 V1.2. */
const uint32_t pdo_first_only_flags = 0x3f800000;

const struct power_tier *power_tier_find(int64_t uw, int64_t slack_uw)
{
    unsigned k = 0;

    while (k + 1 < power_tiers_count && uw > INT64_C(1000) * power_tiers[k].up_to_mw + slack_uw)
        k++;
    return &power_tiers[k];
}

int32_t power_tier_current(const struct power_tier *t, unsigned k, int64_t uw, bool cable_5a)
{
    int64_t border_uw = INT64_C(1000) * t->up_to_mw, ma;
    int32_t most_ma = cable_5a ? CABLE_MARKED_MA : CABLE_PLAIN_MA;

    if (k + 1u < t->count)
        return CABLE_PLAIN_MA;
    /* What lies in the slack above the border is not asked for. */
    ma = (uw < border_uw ? uw : border_uw) / t->mv[k];
    ma -= ma % CURRENT_STEP_MA;
    return ma < most_ma ? (int32_t)ma : most_ma;
}

const struct pps_family *pps_family_find(int32_t max_mv)
{
    for (unsigned k = 0; k < pps_families_count; k++)
        if (pps_families[k].max_mv == max_mv)
            return &pps_families[k];
    return NULL;
}

int64_t pdo_power_uw(const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        return (int64_t)p->max_mv * p->max_ma;
    case SUPPLY_BATTERY:
        return INT64_C(1000) * p->max_mw;
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:
    case SUPPLY_RESERVED:
        return 0;
    }
    return 0;
}

int64_t pdo_slack_uw(const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
        return (int64_t)p->max_mv * CURRENT_STEP_MA;
    case SUPPLY_PPS:
        return (int64_t)p->max_mv * PROGRAMMABLE_STEP_MA;
    case SUPPLY_BATTERY:
        return INT64_C(1000) * BATTERY_STEP_MW;
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:
    case SUPPLY_RESERVED:
        return 0;
    }
    return 0;
}

unsigned offer_objects(const struct offer *o)
{
    return o->count < PDO_MAX ? o->count : PDO_MAX;
}

const struct pdo *offer_strongest(const struct offer *o, unsigned first, unsigned last)
{
    const struct pdo *best = NULL;

    for (unsigned k = first - 1; k < offer_objects(o) && k < last; k++) {
        const struct pdo *p = &o->pdos[k];

        if (p->word && p->supply == SUPPLY_FIXED && (!best || pdo_power_uw(p) > pdo_power_uw(best)))
            best = p;
    }
    return best;
}

const struct pdo *offer_fixed_at(const struct offer *o, int32_t mv)
{
    const struct pdo *best = NULL;

    for (unsigned k = 0; k < offer_objects(o) && k < PDO_SPR_MAX; k++) {
        const struct pdo *p = &o->pdos[k];

        if (p->word && p->supply == SUPPLY_FIXED && p->max_mv == mv && (!best || p->max_ma > best->max_ma))
            best = p;
    }
    return best;
}

bool pdo_is_epr(const struct pdo *p)
{
    return p->supply == SUPPLY_EPR_AVS || (p->supply == SUPPLY_FIXED && p->max_mv > SPR_FIXED_MAX_MV);
}

bool offer_has_epr_object(const struct offer *o)
{
    for (unsigned k = PDO_EPR_FIRST - 1; k < offer_objects(o); k++)
        if (o->words[k])
            return true;
    return false;
}

const struct pdo *offer_over_plain_cable(const struct offer *o)
{
    for (unsigned k = 0; k < offer_objects(o); k++)
        if (o->pdos[k].max_ma > CABLE_PLAIN_MA || o->pdos[k].max_ma_20v > CABLE_PLAIN_MA)
            return &o->pdos[k];
    return NULL;
}

/*
 * Passive and active cable VDO: current and voltage from Linux include/linux/usb/pd_vdo.h and Chromium EC
 * include/usb_pd_vdo.h; EPR Capable from one public field table and from memory. The R2 layout has the current
 * at the same place.
 */
enum {
    ID_HEADER_WORD = 1,
    CABLE_WORD = 4,
    PRODUCT_PASSIVE = 3,
    PRODUCT_ACTIVE = 4,
    CABLE_5A = 2,
    CABLE_50V = 3,
};

struct cable_marks cable_marks_read(const struct identity *i)
{
    struct cable_marks m = { 0 };
    unsigned product = i->words[ID_HEADER_WORD] >> 27 & 7;
    uint32_t word = i->words[CABLE_WORD];

    if (i->frame == 0 || i->count < CABLE_WORD || (product != PRODUCT_PASSIVE && product != PRODUCT_ACTIVE))
        return m;
    m.known = true;
    m.current = (uint8_t)(word >> 5 & 3);
    m.volts = (uint8_t)(word >> 9 & 3);
    m.five_ampere = m.current == CABLE_5A;
    m.fifty_volt = m.volts == CABLE_50V;
    m.epr_capable = (word >> 17 & 1) != 0;
    return m;
}
