/*
 * Faults of what is asked for. Layouts: synth_words.c; reserved bits: Zephyr usbc_pd.h, Infineon cy_pdstack_common.h. What breaks a
 * must is refused, or, as a fault of the source beside it, accepted.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_request[] = {
    { "request.position", NULL, "sink", "An object is asked for that is not in the offer.", "request.position" },
    { "request.position", "zero", "sink", "Object 0 is asked for.", "request.position" },
    { "request.position", "filler", "sink", "In EPR mode a place is asked for that is filled with zeros.", "request.position" },
    { "request.current", NULL, "sink", "100 mA more are asked for than the object gives.", "request.current" },
    { "request.current-order", NULL, "sink", "The operating current or power is above the maximum asked for.", "request.current-order" },
    { "request.power", NULL, "sink", "1 W more is asked for than the battery object gives.", "request.power" },
    { "request.mismatch-flag", NULL, "sink", "The maximum asked for is above what the object gives, and Capability Mismatch is clear; it is accepted.",
      "request.mismatch-flag" },
    { "request.pps-range", NULL, "sink", "A PPS object is asked for 0.5 V above its range.", "request.pps-range" },
    { "request.pps-range", "low", "sink", "A PPS object is asked for 0.2 V below its range.", "request.pps-range" },
    { "request.avs-range", NULL, "sink", "An AVS object is asked for 0.5 V below its range.", "request.avs-range" },
    { "request.avs-range", "high", "sink", "An AVS object is asked for 0.5 V above its range.", "request.avs-range" },
    { "request.avs-step", NULL, "sink", "An AVS object is asked for a voltage between two steps.", "request.avs-step" },
    { "request.reserved-bits", NULL, "sink", "A reserved bit of a Request is set.", "request.reserved-bits" },
    { "request.epr-copy", NULL, "sink", "The copy of the object in an EPR_Request differs in a bit.", "request.epr-copy" },
    { "request.invalid-refused", "position", "source", "An object that is not in the offer is asked for, and that is accepted.",
      "request.invalid-refused request.position" },
    { "request.invalid-refused", "current", "source", "100 mA more than the object gives are asked for, and accepted.",
      "request.invalid-refused request.current" },
    { "request.invalid-refused", "power", "source", "1 W more than the battery object gives is asked for, and accepted.",
      "request.invalid-refused request.power" },
    { "request.invalid-refused", "pps-range", "source", "0.5 V above the range of a PPS object are asked for, and accepted.",
      "request.invalid-refused request.pps-range" },
    { "request.invalid-refused", "avs-range", "source", "0.5 V below the range of an AVS object are asked for, and accepted.",
      "request.invalid-refused request.avs-range" },
    { "request.invalid-refused", "epr-copy", "source", "An EPR_Request with a wrong copy is accepted.",
      "request.invalid-refused request.epr-copy" },
    { NULL, NULL, NULL, NULL, NULL },
};

enum { OVER_MA = 100, OVER_MW = 1000, OVER_MV = 500, UNDER_MV = 200, AVS_STEP_MV = 25, PLAIN_MA = 3000 };

static bool is_plain(uint32_t pdo) { return pdo_supply(pdo) == SUPPLY_FIXED || pdo_supply(pdo) == SUPPLY_VARIABLE; }
static bool is_battery(uint32_t pdo) { return pdo_supply(pdo) == SUPPLY_BATTERY; }
static bool is_plain_or_battery(uint32_t pdo) { return is_plain(pdo) || is_battery(pdo); }
static bool is_pps(uint32_t pdo) { return pdo_supply(pdo) == SUPPLY_PPS; }
static bool is_avs(uint32_t pdo) { return pdo_supply(pdo) == SUPPLY_SPR_AVS || pdo_supply(pdo) == SUPPLY_EPR_AVS; }
static bool has_current(uint32_t pdo) { return is_plain(pdo) || is_pps(pdo) || is_avs(pdo); }
static bool is_any(uint32_t pdo) { return pdo_supply(pdo) != SUPPLY_RESERVED; }

/* The flags stay, and the position. */
static uint32_t with_flags(const struct asking *a, uint32_t word)
{
    return (a->words[0] & (RDO_USB_COMM | RDO_NO_SUSPEND | RDO_UNCHUNKED | RDO_EPR)) | word;
}

static void bad_position(struct life *l, struct asking *a)
{
    a->words[0] = (a->words[0] & 0x0fffffff) | (uint32_t)(l->offer_count + 1) << 28;
}

static void bad_zero(struct life *l, struct asking *a)
{
    (void)l;
    a->words[0] &= 0x0fffffff;
}

static void bad_filler(struct life *l, struct asking *a)
{
    a->words[0] = (a->words[0] & 0x0fffffff) | (uint32_t)(l->spr_count + 1) << 28;
    a->words[1] = 0;
}

static void bad_current(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1], position = asking_position(a->words[0]);
    int32_t  mv = asking_mv(a->words[0], pdo), ma = pdo_max_ma(pdo, mv) + OVER_MA;

    (void)l;
    if (is_pps(pdo))
        a->words[0] = with_flags(a, asking_pps(position, mv, ma));
    else if (is_avs(pdo))
        a->words[0] = with_flags(a, asking_avs(position, mv, ma));
    else
        a->words[0] = with_flags(a, asking_fixed(position, ma, ma)) | RDO_MISMATCH;
    a->supply = a->words[0];
}

/* Operating values are bits 19:10, maximum ones 9:0, in steps of 10 mA or 250 mW. */
static void bad_order(struct life *l, struct asking *a)
{
    (void)l;
    a->words[0] = (a->words[0] & ~UINT32_C(0x3ff)) | ((a->words[0] >> 10 & 0x3ff) - 2);
}

static void bad_power(struct life *l, struct asking *a)
{
    int32_t mw = pdo_max_mw(a->words[1]) + OVER_MW;

    (void)l;
    a->words[0] = with_flags(a, asking_battery(asking_position(a->words[0]), mw, mw)) | RDO_MISMATCH;
    a->supply = a->words[0];
}

static void bad_mismatch(struct life *l, struct asking *a)
{
    (void)l;
    a->words[0] = (a->words[0] & ~(UINT32_C(0x3ff) | RDO_MISMATCH)) | ((a->words[1] & 0x3ff) + 10);
}

static void bad_pps_range(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1];

    (void)l;
    a->words[0] = with_flags(a, asking_pps(asking_position(a->words[0]), pdo_max_mv(pdo) + OVER_MV, asking_ma(a->words[0], pdo)));
    a->supply = a->words[0];
}

static void bad_pps_low(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1];

    (void)l;
    a->words[0] = with_flags(a, asking_pps(asking_position(a->words[0]), pdo_min_mv(pdo) - UNDER_MV, asking_ma(a->words[0], pdo)));
}

static void bad_avs_high(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1];

    (void)l;
    a->words[0] = with_flags(a, asking_avs(asking_position(a->words[0]), pdo_max_mv(pdo) + OVER_MV, asking_ma(a->words[0], pdo)));
}

static void bad_avs_range(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1];

    (void)l;
    a->words[0] = with_flags(a, asking_avs(asking_position(a->words[0]), pdo_min_mv(pdo) - OVER_MV, asking_ma(a->words[0], pdo)));
    a->supply = a->words[0];
}

static void bad_avs_step(struct life *l, struct asking *a)
{
    uint32_t pdo = a->words[1];
    int32_t  mv = asking_mv(a->words[0], pdo);

    (void)l;
    mv += mv + AVS_STEP_MV > pdo_max_mv(pdo) ? -AVS_STEP_MV : AVS_STEP_MV;
    a->words[0] = with_flags(a, asking_avs(asking_position(a->words[0]), mv, asking_ma(a->words[0], pdo)));
}

static void bad_bits(struct life *l, struct asking *a)
{
    (void)l;
    a->words[0] |= UINT32_C(1) << (is_plain_or_battery(a->words[1]) ? 20 : 21);
}

static void bad_copy(struct life *l, struct asking *a)
{
    (void)l;
    a->words[1] ^= 1;
}

static const struct wrong {
    const char *fault, *variant, *refused; /* variant: ""; refused: that of request.invalid-refused; NULL: there is none */
    bool      (*of)(uint32_t pdo);
    void      (*make)(struct life *l, struct asking *a);
    bool        accepted, epr;   /* accepted: it is in order for the source */
} wrongs[] = {
    { "request.position", "", "position", is_any, bad_position, false, false },
    { "request.position", "zero", NULL, is_any, bad_zero, false, false },
    { "request.position", "filler", NULL, is_any, bad_filler, false, true },
    { "request.current", "", "current", has_current, bad_current, false, false },
    { "request.current-order", "", NULL, is_plain_or_battery, bad_order, false, false },
    { "request.power", "", "power", is_battery, bad_power, false, false },
    { "request.mismatch-flag", "", NULL, is_plain_or_battery, bad_mismatch, true, false },
    { "request.pps-range", "", "pps-range", is_pps, bad_pps_range, false, false },
    { "request.pps-range", "low", NULL, is_pps, bad_pps_low, false, false },
    { "request.avs-range", "", "avs-range", is_avs, bad_avs_range, false, false },
    { "request.avs-range", "high", NULL, is_avs, bad_avs_high, false, false },
    { "request.avs-step", "", NULL, is_avs, bad_avs_step, false, false },
    { "request.reserved-bits", "", NULL, is_any, bad_bits, false, false },
    { "request.epr-copy", "", "epr-copy", is_any, bad_copy, false, true },
};

/*
 * More than the cable carries would be a fault of its own, once it is accepted. What follows an offer at once may have been meant for
 * the one before it: tSenderResponse, at most 33 ms (5).
 */
static bool can_be_taken(const struct life *l, const struct wrong *w, const struct asking *a)
{
    int32_t most = l->plug_known ? (int32_t)l->plug.max_ma : PLAIN_MA;

    if (l->now_ns < l->offer_ns + 40000000)
        return false;
    return w->make != bad_current || pdo_max_ma(a->words[1], asking_mv(a->words[0], a->words[1])) + OVER_MA <= most;
}

/* In a contract: without one a refusal leaves nothing. The object is there. */
void faults_request_words(struct life *l, bool epr_request, struct asking *a)
{
    for (unsigned k = 0; l->contract && k < sizeof wrongs / sizeof wrongs[0]; k++) {
        const struct wrong    *w = &wrongs[k];
        const struct injected *f;

        if (a->words[1] == 0 || !w->of(a->words[1]) || (w->epr && !epr_request) || (w->make == bad_filler && l->spr_count == SPR_MAX))
            continue;
        if ((f = synth_fault_just(l, w->fault, w->variant))) {
            w->make(l, a);
            synth_blame_next(l, f, sink_of(l));
            a->as = w->accepted ? ASKED_WELL : ASKED_REFUSED;
            return;
        }
        if (w->refused && can_be_taken(l, w, a) && (f = synth_fault_as(l, "request.invalid-refused", w->refused))) {
            w->make(l, a);
            a->as = ASKED_TAKEN;
            a->fault = f;
            return;
        }
    }
}
