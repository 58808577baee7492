/*
 * rules/power_rules.h - what the standard says about the power that a source offers, as tables.
 *
 * The standard was not at hand: a row names the published text that shows its number, "from memory" means nobody
 * checked it against one.
 *
 *   _mv millivolt  _ma milliampere  _mw milliwatt  _uw microwatt (millivolt times milliampere: exact)
 */
#pragma once
#include "decode/port.h"

enum {
    /* First object: Chromium EC include/usb_pd.h (comment), Linux sysfs ABI text, public article CSDN 134414268. */
    VSAFE5V_MV = 5000,
    /* Above it an object belongs to EPR_Source_Capabilities alone: linux-usb mailing list, EE Times India. */
    SPR_FIXED_MAX_MV = 20000,
    SPR_MAX_MW = 100000,
    /* Widest range of all editions (3.0 V in the oldest issue of R3.0); 21 V: Zephyr sample log; the rest from memory. */
    PPS_MIN_MV = 3000,
    PPS_MAX_MV = 21000,
    /* What any cable carries, and the most one may be marked for: TI SLVUC05A, public note of a chip maker. */
    CABLE_PLAIN_MA = 3000,
    CABLE_MARKED_MA = 5000,
    /* Coding steps: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h. */
    CURRENT_STEP_MA = 10,
    PROGRAMMABLE_STEP_MA = 50,
    BATTERY_STEP_MW = 250,
    /* Whole watts of Source_Info and Source_Capabilities_Extended: Chromium EC, Infineon. */
    RATING_STEP_MW = 1000,
    /* EPR AVS begins here; SPR AVS is owed above 27 W, up to 20 V above 45 W: from memory. */
    EPR_AVS_MIN_MV = 15000,
    SPR_AVS_OWED_MW = 27000,
    SPR_AVS_20V_OWED_MW = 45000,
};

/* A range of PDP ratings, and the fixed voltages that it owes. Below the top one 3 A, at the top one the power allows. */
enum { POWER_TIER_VOLTAGES = 4 };
struct power_tier {
    int32_t     up_to_mw; /* inclusive */
    uint8_t     count;
    int32_t     mv[POWER_TIER_VOLTAGES];
    const char *source;
};
extern const struct power_tier power_tiers[];
extern const unsigned power_tiers_count;
/* A rating within the slack of a border counts in the lower tier; above all borders in the last one. */
const struct power_tier *power_tier_find(int64_t uw, int64_t slack_uw);
/* Current owed at voltage k of a tier, rounded down to a coding step. */
int32_t power_tier_current(const struct power_tier *t, unsigned k, int64_t uw, bool cable_5a);
/* The fixed voltages that a source of the first power rules owed instead (R2.0, first issue); 20 V besides. */
extern const int32_t power_profile_mv[];
extern const unsigned power_profile_count;

/* Programmable supplies by their largest voltage, and the nominal voltage that their current goes by. */
struct pps_family {
    int32_t     max_mv, nominal_mv;
    const char *source;
};
extern const struct pps_family pps_families[];
extern const unsigned pps_families_count;
const struct pps_family *pps_family_find(int32_t max_mv); /* NULL: none has it */

/* The most that an object of positions 1 to 7 may offer, by supply; 0: no such limit. */
struct spr_limit {
    int32_t     mv, ma, mw;
    bool        limited; /* false: nothing is said of this kind here */
    const char *source;
};
extern const struct spr_limit spr_limits[SUPPLY_RESERVED + 1];

/* Bits of a source's object that every edition of R3 reserves, by supply. */
struct reserved_bits {
    uint32_t    mask;
    const char *source;
};
extern const struct reserved_bits pdo_reserved_bits[SUPPLY_RESERVED + 1];
/* Flags that only the first object has: bits 29:23 of a Fixed one. */
extern const uint32_t pdo_first_only_flags;

/* Largest power that an object offers; PPS and variable: largest voltage times current. AVS: 0. */
int64_t pdo_power_uw(const struct pdo *p);
/* One step of its coding, at that voltage. */
int64_t pdo_slack_uw(const struct pdo *p);
/* The Fixed object of most power among positions first to last (from 1); NULL: there is none. */
const struct pdo *offer_strongest(const struct offer *o, unsigned first, unsigned last);
/* The Fixed object of that voltage among positions 1 to 7 with most current; NULL: there is none. */
const struct pdo *offer_fixed_at(const struct offer *o, int32_t mv);
/* Objects kept of an offer: its count, at most PDO_MAX. */
unsigned offer_objects(const struct offer *o);
/* An object that only EPR_Source_Capabilities holds, from position 8: Fixed above 20 V, EPR AVS. */
bool pdo_is_epr(const struct pdo *p);
/* Has it an object that is no filler at position 8 or above? */
bool offer_has_epr_object(const struct offer *o);

/* The first object with a current above what any cable carries; NULL: none. */
const struct pdo *offer_over_plain_cable(const struct offer *o);

/* What the electronics in a plug say of its cable. */
struct cable_marks {
    bool    known;       /* there is a passive or active cable's object in the identity */
    bool    five_ampere; /* VBUS current: 5 A */
    bool    fifty_volt;  /* largest VBUS: 50 V */
    bool    epr_capable;
    uint8_t current;     /* the field as it is */
    uint8_t volts;
};
struct cable_marks cable_marks_read(const struct identity *i);
