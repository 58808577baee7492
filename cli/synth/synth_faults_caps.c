/*
 * Faults of what is offered. Layouts: synth_words.c. The numbers that an offer is made to break are those of the power rules and of
 * the ranges of each kind, as cited at the rows.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_caps[] = {
    { "caps.first-5v", NULL, "source", "The first object is 5.1 V.", "caps.first-5v" },
    { "caps.first-5v", "kind", "source", "The first object is a battery.", "caps.first-5v" },
    { "caps.count", NULL, "source", "EPR_Source_Capabilities have 14 objects.", "caps.count" },
    { "caps.order", NULL, "source", "Two fixed objects stand in the wrong order.", "caps.order" },
    { "caps.order", "kind", "source", "A PPS object stands before a fixed one.", "caps.order" },
    { "caps.apdo-order", NULL, "source", "Two PPS objects stand in the wrong order, or an SPR AVS behind a PPS.", "caps.apdo-order" },
    { "caps.unique-voltage", NULL, "source", "A fixed object stands there twice.", "caps.unique-voltage" },
    { "caps.zero-object", NULL, "source", "An object of zeros stands at the end.", "caps.zero-object" },
    { "caps.zero-object", "current", "source", "A variable object gives no current.", "caps.zero-object" },
    { "caps.first-only-flags", NULL, "source", "Object 2 carries a flag that only the first may carry.", "caps.first-only-flags" },
    { "caps.reserved-bits", NULL, "source", "A reserved bit of a fixed object is set.", "caps.reserved-bits" },
    { "caps.reserved-bits", "pps", "source", "A reserved bit of a PPS object is set.", "caps.reserved-bits" },
    { "caps.reserved-bits", "type", "source", "An augmented object is of the type that there is not.", "caps.reserved-bits" },
    { "caps.apdo-in-revision", NULL, "source", "Source_Capabilities of revision 2.0 have a PPS object.", "caps.apdo-in-revision" },
    { "caps.spr-limits", NULL, "source", "A variable object reaches 22 V.", "caps.spr-limits" },
    { "caps.spr-limits", "power", "source", "A battery object gives 101 W.", "caps.spr-limits" },
    { "caps.variable-range", NULL, "source", "A variable object has its minimum above its maximum.", "caps.variable-range" },
    { "caps.battery-range", NULL, "source", "A battery object has its minimum above its maximum.", "caps.battery-range" },
    { "caps.pps-range", NULL, "source", "A PPS object begins at 2.5 V.", "caps.pps-range" },
    { "caps.pps-range", "maximum", "source", "A PPS object reaches 22 V.", "caps.pps-range" },
    { "caps.pps-range", "turned", "source", "A PPS object has its minimum above its maximum.", "caps.pps-range" },
    { "caps.pps-current", NULL, "source", "A PPS object gives 1 A.", "caps.pps-current" },
    { "caps.pps-power-limited", NULL, "source", "A PPS object of more than the port's rating says that its power is not limited.", "caps.pps-power-limited" },
    { "caps.power-rules-voltages", NULL, "source", "The fixed object below the highest is missing.", "caps.power-rules-voltages" },
    { "caps.power-rules-currents", NULL, "source", "A fixed object below the highest gives 2 A.", "caps.power-rules-currents" },
    { "caps.over-rating", NULL, "source", "A variable object gives more power than the port is rated for.", "caps.over-rating" },
    { "caps.agrees-with-extended-rating", NULL, "source", "The first offer, and what Source_Info tells of the present, is 10 W below the rating.",
      "caps.agrees-with-extended-rating" },
    { "caps.agrees-with-source-info", NULL, "source", "Source_Info reports three quarters of the power that is offered.", "caps.agrees-with-source-info" },
    { "caps.over-3a-needs-cable", NULL, "source", "The plug says 3 A, and more is offered.", "caps.over-3a-needs-cable" },
    { "caps.epr-needs-cable", NULL, "source", "In EPR mode the plug says that it is not made for it; the source offers EPR objects all the same.",
      "caps.epr-needs-cable cable.rating-agrees" },
    { "caps.epr-positions", NULL, "source", "A flag of object 1 is another in EPR_Source_Capabilities.", "caps.epr-positions" },
    { "caps.epr-positions", "low", "source", "An EPR AVS object stands among the first seven.", "caps.epr-positions" },
    { "caps.epr-positions", "high", "source", "A fixed object of 12 V stands among those of EPR mode.", "caps.epr-positions" },
    { "caps.epr-padding", NULL, "source", "Zeros stand behind the EPR objects.", "caps.epr-padding" },
    { "caps.avs-required", NULL, "source", "A source of revision 3.2 and more than 27 W offers no SPR AVS.", "caps.avs-required" },
    { "caps.avs-range", NULL, "source", "An SPR AVS object gives more current above 15 V than below, an EPR AVS object begins at 16 V.", "caps.avs-range" },
    { "caps.avs-range", "maximum", "source", "An EPR AVS object ends 1 V below the highest fixed object.", "caps.avs-range" },
    { "caps.epr-flag", NULL, "source", "An offer that hides EPR Capable, and then Enter Acknowledged; the entry fails.", "caps.epr-flag" },
    { "caps.peak-current", NULL, "source", "An object has a peak current, and Source_Capabilities_Extended know of none.", "caps.peak-current" },
    { "caps.changed-unannounced", NULL, "source", "The answer to Get_Source_Cap is another offer than the last.", "caps.changed-unannounced" },
    { "caps.repeats-identical", NULL, "source", "The same offer is sent three times within seconds.", "caps.repeats-identical" },
    { "caps.sink-first-5v", NULL, "sink", "The first object of Sink_Capabilities is 5.1 V.", "caps.sink-first-5v" },
    { "caps.sink-order", NULL, "sink", "Two objects of Sink_Capabilities stand in the wrong order.", "caps.sink-order" },
    { NULL, NULL, NULL, NULL, NULL },
};

enum { TENTH_VOLT = 2 << 10, RESERVED_FIXED = 1 << 22, FIXED_ONLY_PEAK = 1 << 20, PLAIN_MA = 3000, TOP_MV = 20000, SECOND_NS = 1000000000 };

static bool made_as(struct life *l, const char *fault, const char *variant)
{
    const struct injected *f = synth_fault_just(l, fault, variant);

    if (f)
        synth_blame_offer(l, f);
    return f != NULL;
}

/* ---- what stands in the offer ---- */

static unsigned fixed_count(const struct life *l)
{
    unsigned n = 0;

    while (n < l->offer_count && n < SPR_MAX && l->offer[n] && pdo_supply(l->offer[n]) == SUPPLY_FIXED)
        n++;
    return n;
}

static unsigned kind_count(const struct life *l, enum supply kind)
{
    unsigned n = 0;

    for (unsigned k = 0; k < l->offer_count; k++)
        n += l->offer[k] && pdo_supply(l->offer[k]) == kind ? 1 : 0;
    return n;
}

/* Index of the first object of a kind, which is there. */
static unsigned first_of(const struct life *l, enum supply kind)
{
    unsigned k = 0;

    while (k + 1 < l->offer_count && (l->offer[k] == 0 || pdo_supply(l->offer[k]) != kind))
        k++;
    return k;
}

static void put_in(struct life *l, unsigned at, uint32_t word)
{
    for (unsigned k = l->offer_count++; k > at; k--)
        l->offer[k] = l->offer[k - 1];
    l->offer[at] = word;
}

static void take_out(struct life *l, unsigned at)
{
    for (unsigned k = at; k + 1 < l->offer_count; k++)
        l->offer[k] = l->offer[k + 1];
    l->offer[--l->offer_count] = 0;
}

static void shun(struct life *l, unsigned at)
{
    l->shunned |= 1u << (at + 1);
}

static void exchange(struct life *l, unsigned a, unsigned b)
{
    uint32_t word = l->offer[a];

    l->offer[a] = l->offer[b];
    l->offer[b] = word;
}

static const struct port_plan *plan_of(const struct life *l)
{
    return &l->plan->ports[l->index];
}

/* Is this question asked before anything but requests and readings happens to the offer? */
static bool asked_soon(const struct life *l, const char *question)
{
    const struct port_plan *p = plan_of(l);
    unsigned                index;

    if (!synth_question_find(question, &index))
        return false;
    for (unsigned k = l->step; k < p->step_count; k++) {
        const struct step *s = &p->steps[k];

        if (s->act == DO_GET && s->message == index)
            return true;
        if (s->act != DO_GET && s->act != DO_WAIT && s->act != DO_REQUEST && s->act != DO_MARK && s->act != DO_LOAD)
            return false;
    }
    return false;
}

/* The rating that the trace says of this port, watts; 0: none. */
static int32_t rated_w(const struct life *l)
{
    const struct port_plan *p = plan_of(l);

    return p->kind == KIND_SOURCE && l->source == PLAYER_FIRST ? (int32_t)p->rated_w : 0;
}

/* ---- one change of an offer each ---- */

static bool has_room(const struct life *l) { return l->offer_count < SPR_MAX; }
static bool has_three_fixed(const struct life *l) { return fixed_count(l) >= 3; }
static bool has_three_and_room(const struct life *l) { return fixed_count(l) >= 3 && has_room(l); }
static bool always(const struct life *l) { return l->offer_count > 0; }
static bool has_variable(const struct life *l) { return kind_count(l, SUPPLY_VARIABLE) == 1; }
static bool has_battery(const struct life *l) { return kind_count(l, SUPPLY_BATTERY) == 1; }

/* Programmable supplies are judged by revision 3.x only. */
static bool has_pps(const struct life *l) { return synth_both(l, EDITION_3_0) && kind_count(l, SUPPLY_PPS) > 0; }

static void first_5v(struct life *l) { l->offer[0] += TENTH_VOLT; }
/* Where the flags of object 1 promise nothing. */
static bool has_no_epr(const struct life *l) { return !(l->offer[0] & PDO_EPR); }
static void first_kind(struct life *l) { l->offer[0] = pdo_battery(4500, 5000, 15000); }
static void order(struct life *l) { exchange(l, 1, 2); }
static void unique_voltage(struct life *l) { put_in(l, 2, l->offer[1]); }
static void zero_current(struct life *l)
{
    unsigned k = first_of(l, SUPPLY_VARIABLE);

    l->offer[k] &= ~UINT32_C(0x3ff);
    shun(l, k);
}
static void zero_object(struct life *l) { put_in(l, l->offer_count, 0); }
static void first_only_flags(struct life *l) { l->offer[1] |= PDO_UNCONSTRAINED; }
static void reserved_bits(struct life *l) { l->offer[1] |= RESERVED_FIXED; }

static bool two_programmable(const struct life *l)
{
    unsigned n = l->offer_count;

    return synth_both(l, EDITION_3_0) && n >= 2 && pdo_supply(l->offer[n - 1]) == SUPPLY_PPS &&
           (pdo_supply(l->offer[n - 2]) == SUPPLY_SPR_AVS ||
            (pdo_supply(l->offer[n - 2]) == SUPPLY_PPS && pdo_max_mv(l->offer[n - 2]) < pdo_max_mv(l->offer[n - 1])));
}
static void apdo_order(struct life *l) { exchange(l, l->offer_count - 2, l->offer_count - 1); }

static bool has_pps_after_fixed(const struct life *l)
{
    return has_pps(l) && fixed_count(l) > 1 && l->offer_count > fixed_count(l) && pdo_supply(l->offer[fixed_count(l)]) == SUPPLY_PPS;
}
static void order_of_kinds(struct life *l) { exchange(l, fixed_count(l) - 1, fixed_count(l)); }

/* Bits 26:25 of a PPS object; type 11 of augmented ones (3.2). */
static void reserved_of_pps(struct life *l) { l->offer[first_of(l, SUPPLY_PPS)] |= UINT32_C(1) << 25; }
static bool room_for_augmented(const struct life *l) { return has_room(l) && synth_both(l, EDITION_3_0); }
static void reserved_type(struct life *l)
{
    shun(l, l->offer_count);
    put_in(l, l->offer_count, UINT32_C(15) << 28 | 100);
}

/* Before a Request the source shows its own revision. */
static bool says_2_0(const struct life *l)
{
    return has_room(l) && (l->agreed == REV_2 || !l->partner[l->source].edition);
}
static void apdo_in_revision(struct life *l)
{
    shun(l, l->offer_count);
    put_in(l, l->offer_count, pdo_pps(5000, 11000, PLAIN_MA));
}

/* Behind all that is not programmable. */
static void put_variable(struct life *l, uint32_t word)
{
    unsigned at = 0;

    while (at < l->offer_count && pdo_supply(l->offer[at]) <= SUPPLY_VARIABLE)
        at++;
    shun(l, at);
    put_in(l, at, word);
}

/* Variable up to 21 V: Linux tcpm.c, onsemi (4.1). Of so little current that no rating is exceeded. */
static void spr_limits(struct life *l) { put_variable(l, pdo_variable(20000, 22000, 100)); }

/* Battery up to 100 W: the same (4.1). */
static void spr_power(struct life *l)
{
    unsigned k = first_of(l, SUPPLY_BATTERY);

    l->offer[k] = (l->offer[k] & ~UINT32_C(0x3ff)) | 101000 / 250;
    shun(l, k);
}

static void turn_range(struct life *l, enum supply kind)
{
    unsigned k = first_of(l, kind);
    uint32_t low = l->offer[k] >> 10 & 0x3ff, high = l->offer[k] >> 20 & 0x3ff;

    l->offer[k] = (l->offer[k] & ~(UINT32_C(0xfffff) << 10)) | low << 20 | high << 10;
    shun(l, k);
}
static void variable_range(struct life *l) { turn_range(l, SUPPLY_VARIABLE); }
static void battery_range(struct life *l) { turn_range(l, SUPPLY_BATTERY); }

/* PPS: from 3.0 V on in every edition, 3 A or rating by nominal voltage (4.2, from memory). */
static void pps_range(struct life *l)
{
    unsigned k = first_of(l, SUPPLY_PPS);

    l->offer[k] = (l->offer[k] & ~(UINT32_C(0xff) << 8)) | 25 << 8;
    shun(l, k);
}
static bool ends_in_pps(const struct life *l) { return has_pps(l) && pdo_supply(l->offer[l->offer_count - 1]) == SUPPLY_PPS; }
static void pps_maximum(struct life *l)
{
    unsigned k = l->offer_count - 1;

    l->offer[k] = (l->offer[k] & ~(UINT32_C(0xff) << 17)) | UINT32_C(220) << 17;
    shun(l, k);
}
static void pps_turned(struct life *l)
{
    unsigned k = first_of(l, SUPPLY_PPS);

    l->offer[k] = (l->offer[k] & ~(UINT32_C(0xff) << 8)) | (uint32_t)(pdo_max_mv(l->offer[k]) / 100 + 1) << 8;
    shun(l, k);
}
static void pps_current(struct life *l)
{
    unsigned k = first_of(l, SUPPLY_PPS);

    l->offer[k] = (l->offer[k] & ~UINT32_C(0x7f)) | 1000 / 50;
}

/* Index of a PPS object that has to say that it is limited; SPR_MAX: none. */
static unsigned limited_index(const struct life *l)
{
    for (unsigned k = 0; k < l->offer_count && k < SPR_MAX; k++)
        if (pdo_supply(l->offer[k]) == SUPPLY_PPS && (l->offer[k] & PDO_PPS_LIMITED))
            return k;
    return SPR_MAX;
}
static bool is_limited(const struct life *l)
{
    unsigned k = limited_index(l);

    if (k == SPR_MAX || l->offers || !synth_both(l, EDITION_3_0))
        return false;
    /* One step of the current more or less is nothing. */
    return rated_w(l) && pdo_max_mv(l->offer[k]) * (pdo_max_ma(l->offer[k], 0) - 50) > rated_w(l) * 1000000;
}
static void pps_power_limited(struct life *l) { l->offer[limited_index(l)] &= ~PDO_PPS_LIMITED; }

/* Power rules (4.2): 5, 9, 15, 20 V, of which those below the highest with 3 A. */
static bool by_power_rules(const struct life *l)
{
    static const int32_t row[] = { 5000, 9000, 15000, 20000 };
    unsigned             n = fixed_count(l);

    if (n < 3 || n > 4)
        return false;
    for (unsigned k = 0; k < n; k++)
        if (pdo_max_mv(l->offer[k]) != row[k] || (k + 1 < n && pdo_max_ma(l->offer[k], 0) < PLAIN_MA))
            return false;
    return true;
}
static void power_rules_voltages(struct life *l) { take_out(l, fixed_count(l) - 2); }
static void power_rules_currents(struct life *l) { l->offer[1] = pdo_capped(l->offer[1], 2000); }

/* Up to 21 V may be offered; a step of the current more or less is nothing. */
static bool rating_exceeded(const struct life *l)
{
    return has_room(l) && rated_w(l) && rated_w(l) * 1000 < 20 * PLAIN_MA + 3 * 1000 - 500;
}
static void over_rating(struct life *l) { put_variable(l, pdo_variable(20000, 21000, PLAIN_MA)); }

/*
 * The power rules go by what Source_Info says of the present, and what it says must be asked for. Above 60 W the cable would have
 * its part in it.
 */
static bool rating_is_told(const struct life *l)
{
    const struct partner *q = &l->partner[l->source];

    return l->offers == 0 && synth_both(l, EDITION_3_1) && by_power_rules(l) && fixed_count(l) == l->offer_count && l->offer_count == 4 &&
           q->pdp_w > 55 && q->pdp_w <= 60 && asked_soon(l, "Get_Source_Cap_Extended") && asked_soon(l, "Get_Source_Info");
}
static void agrees_with_extended(struct life *l)
{
    l->present_w = l->partner[l->source].pdp_w - 10;
    l->offer[3] = pdo_capped(l->offer[3], (int32_t)l->present_w * 1000 / 20);
}

static bool avs_is_due(const struct life *l)
{
    const struct partner *q = &l->partner[l->source];

    return kind_count(l, SUPPLY_SPR_AVS) == 1 && q->edition == EDITION_3_2 && synth_both(l, EDITION_3_1) && q->pdp_w > 27 &&
           asked_soon(l, "Get_Revision");
}
static void avs_required(struct life *l) { take_out(l, first_of(l, SUPPLY_SPR_AVS)); }

static bool has_avs_to_20v(const struct life *l)
{
    return synth_both(l, EDITION_3_1) && kind_count(l, SUPPLY_SPR_AVS) == 1 && (l->offer[first_of(l, SUPPLY_SPR_AVS)] & 0x3ff) > 100;
}
static void avs_range(struct life *l)
{
    uint32_t *word = &l->offer[first_of(l, SUPPLY_SPR_AVS)];

    *word = pdo_spr_avs(pdo_max_ma(*word, TOP_MV) - 500, pdo_max_ma(*word, TOP_MV));
}

static bool extended_is_told(const struct life *l)
{
    return l->offers == 0 && fixed_count(l) > 1 && asked_soon(l, "Get_Source_Cap_Extended");
}
static void peak_current(struct life *l)
{
    l->offer[1] |= FIXED_ONLY_PEAK;
    l->peak_untold = true;
}

struct change { const char *fault, *variant; bool (*fits)(const struct life *l); void (*make)(struct life *l); };

/* Of Source_Capabilities that were not asked for. */
static const struct change changes[] = {
    { "caps.first-5v", "", always, first_5v }, { "caps.first-5v", "kind", has_no_epr, first_kind },
    { "caps.order", "", has_three_fixed, order }, { "caps.order", "kind", has_pps_after_fixed, order_of_kinds }, { "caps.apdo-order", "", two_programmable, apdo_order },
    { "caps.unique-voltage", "", has_three_and_room, unique_voltage }, { "caps.zero-object", "", has_room, zero_object },
    { "caps.zero-object", "current", has_variable, zero_current },
    { "caps.first-only-flags", "", has_three_fixed, first_only_flags }, { "caps.reserved-bits", "", has_three_fixed, reserved_bits },
    { "caps.reserved-bits", "pps", has_pps, reserved_of_pps }, { "caps.reserved-bits", "type", room_for_augmented, reserved_type },
    { "caps.apdo-in-revision", "", says_2_0, apdo_in_revision }, { "caps.spr-limits", "", has_room, spr_limits },
    { "caps.spr-limits", "power", has_battery, spr_power },
    { "caps.variable-range", "", has_variable, variable_range }, { "caps.battery-range", "", has_battery, battery_range },
    { "caps.pps-range", "", has_pps, pps_range }, { "caps.pps-range", "maximum", ends_in_pps, pps_maximum },
    { "caps.pps-range", "turned", has_pps, pps_turned }, { "caps.pps-current", "", has_pps, pps_current },
    { "caps.pps-power-limited", "", is_limited, pps_power_limited },
    { "caps.power-rules-voltages", "", by_power_rules, power_rules_voltages }, { "caps.power-rules-currents", "", by_power_rules, power_rules_currents },
    { "caps.over-rating", "", rating_exceeded, over_rating }, { "caps.agrees-with-extended-rating", "", rating_is_told, agrees_with_extended },
    { "caps.avs-required", "", avs_is_due, avs_required }, { "caps.avs-range", "", has_avs_to_20v, avs_range },
    { "caps.peak-current", "", extended_is_told, peak_current },
};

static bool epr_room(const struct life *l) { return l->offer_count > SPR_MAX && l->offer_count < OFFER_MAX; }
static bool epr_any(const struct life *l) { return l->offer_count > SPR_MAX; }
static bool epr_avs(const struct life *l) { return kind_count(l, SUPPLY_EPR_AVS) == 1; }
static void epr_positions(struct life *l) { l->offer[0] ^= PDO_UNCONSTRAINED; }
static void epr_padding(struct life *l) { put_in(l, l->offer_count, 0); }

static bool epr_low_room(const struct life *l) { return epr_avs(l) && l->spr_count < SPR_MAX; }
static void epr_low(struct life *l)
{
    unsigned k = l->spr_count;

    l->offer[k] = l->offer[first_of(l, SUPPLY_EPR_AVS)];
    shun(l, k);
}
static void epr_high(struct life *l)
{
    shun(l, l->offer_count);
    put_in(l, l->offer_count, pdo_fixed(12000, 100));
}

/* At most 13 can be named (from memory: 11). Who gets more stays with what it knows. */
static void epr_many(struct life *l)
{
    while (l->offer_count < OFFER_ROOM) {
        shun(l, l->offer_count);
        put_in(l, l->offer_count, l->offer[l->offer_count - 1]);
    }
}

/* An EPR AVS begins at 15 V (4.2, from memory). */
static void epr_avs_range(struct life *l)
{
    uint32_t *word = &l->offer[first_of(l, SUPPLY_EPR_AVS)];

    *word = (*word & ~(UINT32_C(0xff) << 8)) | 160 << 8;
}

static void epr_avs_maximum(struct life *l)
{
    l->offer[first_of(l, SUPPLY_EPR_AVS)] -= UINT32_C(10) << 17;
}

static const struct change epr_changes[] = {
    { "caps.count", "", epr_any, epr_many }, { "caps.epr-positions", "", epr_any, epr_positions },
    { "caps.epr-positions", "low", epr_low_room, epr_low }, { "caps.epr-positions", "high", epr_room, epr_high }, { "caps.epr-padding", "", epr_room, epr_padding },
    { "caps.avs-range", "", epr_avs, epr_avs_range }, { "caps.avs-range", "maximum", epr_avs, epr_avs_maximum },
};
enum { CHANGES = sizeof changes / sizeof changes[0], EPR_CHANGES = sizeof epr_changes / sizeof epr_changes[0] };

/* A battery object tells of no current. */
static bool any_strong(const uint32_t *words, unsigned count)
{
    for (unsigned k = 0; k < count; k++)
        if (pdo_supply(words[k]) != SUPPLY_BATTERY && pdo_capped(words[k], PLAIN_MA) != words[k])
            return true;
    return false;
}

void faults_caps_offer(struct life *l)
{
    const struct change *rows = l->epr_mode ? epr_changes : changes;

    l->shunned = 0;
    l->present_w = 0;
    if (l->flag_fault)
        l->offer[0] &= ~PDO_EPR;
    if (l->strong_fault && !l->strong_fault->who && any_strong(l->offer, l->offer_count))
        synth_blame_offer(l, l->strong_fault);
    if (l->asked) {
        if (!l->epr_mode && made_as(l, "caps.changed-unannounced", ""))
            l->offer[0] ^= PDO_UNCONSTRAINED;
        return;
    }
    for (unsigned k = 0; k < (l->epr_mode ? (unsigned)EPR_CHANGES : (unsigned)CHANGES); k++)
        if (rows[k].fits(l) && made_as(l, rows[k].fault, rows[k].variant))
            rows[k].make(l);
}

/* ---- around an offer ---- */

void faults_caps_sink(struct life *l, unsigned who, uint32_t *words, unsigned count)
{
    const struct injected *f = synth_fault(l, "caps.sink-first-5v");

    if (f) {
        words[0] += TENTH_VOLT;
        synth_blame_next(l, f, who);
    }
    if (count >= 3 && pdo_supply(words[2]) == SUPPLY_FIXED && (f = synth_fault(l, "caps.sink-order"))) {
        uint32_t word = words[1];

        words[1] = words[2];
        words[2] = word;
        synth_blame_next(l, f, who);
    }
}

/* Before the first offer, and only where more than 3 A will be in it. */
void faults_caps_plug(struct life *l, unsigned player)
{
    const struct partner *q = &l->partner[l->source];

    if (!any_strong(q->source, q->source_count) || l->offers || player != l->source || l->plug.epr || l->plug.max_ma <= PLAIN_MA)
        return;
    l->strong_fault = synth_fault(l, "caps.over-3a-needs-cable");
    if (l->strong_fault)
        l->plug.max_ma = PLAIN_MA;
}

bool faults_caps_before_entry(struct life *l)
{
    l->flag_fault = synth_fault(l, "caps.epr-flag");
    if (!l->flag_fault)
        return true;
    synth_open_exchange(l, l->source);
    if (synth_negotiate(l, 0))
        return true;
    l->flag_fault = NULL;
    return false;
}

bool faults_caps_in_mode(struct life *l)
{
    const struct injected *f = l->plug_known && l->plug.epr && l->vconn == l->source ? synth_fault(l, "caps.epr-needs-cable") : NULL;

    if (!f)
        return true;
    l->plug.epr = false;
    if (!synth_discover_cable(l, l->vconn))
        return false;
    synth_idle(l, 2000);
    synth_blame_offer(l, f);
    return true;
}

/*
 * The third within 30 s is one too many; those before these would count as well. Where nothing shows that nobody was unplugged, any
 * of them may be the first of an attach.
 */
bool faults_caps_idle(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;
    const struct injected   *f = NULL;

    if ((i->cc || i->power) && !l->epr_mode && (l->unasked_ns == 0 || l->now_ns > l->unasked_ns + INT64_C(31) * SECOND_NS) && !synth_offer_changed(l))
        f = synth_fault(l, "caps.repeats-identical");
    for (unsigned k = 0; f && k < 3; k++) {
        synth_open_exchange(l, l->source);
        if (k == 2)
            synth_blame_offer(l, f);
        if (!synth_negotiate(l, l->request))
            return false;
        synth_idle(l, 300000);
    }
    return true;
}

/* Reported is the lowest byte: Chromium EC include/usb_pd.h, Infineon. */
void faults_caps_message(struct life *l, struct say *m)
{
    const struct injected *f;

    if (m->extended || m->type != D_SOURCE_INFO || m->length < 4 || m->body[0] < 8 || !(f = synth_fault(l, "caps.agrees-with-source-info")))
        return;
    m->body[0] = (uint8_t)(m->body[0] * 3 / 4);
    synth_blame_next(l, f, m->from);
}
