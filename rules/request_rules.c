/* The rules about what a sink asks for, and how the source answers it: the sink's checks, and all rows. */
#include "rules/groups.h"
#include "rules/request_demands.h"

#include "decode/sources.h"

#include <stddef.h>

struct outcome request_outcome(const struct judge *j, const struct event *e)
{
    const struct request *q = e->request;
    struct outcome        o = judge_outcome(j, e);

    o.player = q->player;
    o.values[0] = q->rdo.position;
    outcome_evidence(&o, q->offer_frame);
    outcome_evidence(&o, q->frame);
    return o;
}

static void outcome_limit(struct outcome *o, int64_t measured, int64_t low, int64_t high, const char *unit)
{
    o->has_measured = true;
    o->has_low = low >= 0;
    o->has_high = true;
    o->measured = measured;
    o->low = low >= 0 ? low : 0;
    o->high = high;
    o->unit = unit;
}

/* The offer is unknown, so it cannot be said whether the demand is met. Last sentence of every row. */
static void request_unknown(struct judge *j, const struct event *e)
{
    const char *const *sentences = judge_rule(j)->sentences;
    struct outcome     o = request_outcome(j, e);

    while (sentences[o.sentence + 1])
        o.sentence++;
    judge_undecided(j, &o, judge_gap_cause(e->port, CAUSE_UNKNOWN_OFFER));
}

/* True if the row is to be judged on; otherwise what had to be said was said. */
static bool request_judged(struct judge *j, const struct event *e, const struct request_ground *g)
{
    enum answer applies = judge_rule(j)->applies == APPLIES_R31 ? request_from_31(g) : ANSWER_YES;

    if (judge_rule(j)->applies == APPLIES_R3 && g->agreed != AGREED_R3)
        return false;
    if (e->request->offer_known)
        return applies != ANSWER_NO && e->request->position_valid;
    if (applies == ANSWER_YES)
        request_unknown(j, e);
    return false;
}

static void check_position(struct judge *j, const struct event *e)
{
    const struct request *q = e->request;
    struct outcome        o;

    if (!q->offer_known && !request_position_impossible(q)) {
        request_unknown(j, e);
        return;
    }
    if (q->offer_known && q->position_valid) {
        judge_pass(j);
        return;
    }
    o = request_outcome(j, e);
    o.values[1] = q->offer_count;
    o.sentence = request_position_impossible(q) || !q->offer_known ? 0 : q->rdo.position <= q->offer_count ? 2 : 1;
    outcome_limit(&o, q->rdo.position * INT64_C(1000), MILLI, (q->offer_known ? q->offer_count : PDO_SPR_MAX) * INT64_C(1000), "");
    judge_fail(j, &o);
}

static void check_current(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || !request_current_limited(e->request))
        return;
    if (!request_current_broken(&g)) {
        judge_pass(j);
        return;
    }
    const struct request *q = e->request;
    struct outcome        o = request_outcome(j, e);

    o.values[1] = q->rdo.op_ma;
    o.values[2] = request_current_limit(q);
    o.values[3] = q->rdo.mv;
    o.sentence = request_asks_avs(q) ? 1 : 0;
    outcome_limit(&o, q->rdo.op_ma * INT64_C(1000), -1, request_current_limit(q) * INT64_C(1000), "mA");
    judge_fail(j, &o);
}

static void check_current_order(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    if (!request_judged(j, e, &g) || !request_asks_plain(q) || q->rdo.give_back)
        return;
    if (!request_current_order_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);
    bool           battery = q->rdo.form == REQUEST_BATTERY;

    o.sentence = battery ? 1 : 0;
    o.values[1] = battery ? q->rdo.op_mw : q->rdo.op_ma;
    o.values[2] = battery ? q->rdo.max_mw : q->rdo.max_ma;
    /* A thousandth of a watt is a milliwatt. */
    outcome_limit(&o, battery ? o.values[1] : o.values[1] * MILLI, -1, battery ? o.values[2] : o.values[2] * MILLI,
                  battery ? "W" : "mA");
    judge_fail(j, &o);
}

static void check_power(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    if (!request_judged(j, e, &g) || q->rdo.form != REQUEST_BATTERY)
        return;
    if (!request_power_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = q->rdo.op_mw;
    o.values[2] = q->asked.max_mw;
    outcome_limit(&o, q->rdo.op_mw, -1, q->asked.max_mw, "W");
    judge_fail(j, &o);
}

static void check_mismatch_flag(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    /* With GiveBack the field is a least current, no greatest one. */
    if (!request_judged(j, e, &g) || !request_asks_plain(q) || q->rdo.give_back)
        return;
    if (q->rdo.max_ma <= q->asked.max_ma && q->rdo.max_mw <= q->asked.max_mw)
        return;
    if (q->rdo.mismatch) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);
    bool           battery = q->rdo.form == REQUEST_BATTERY;

    o.sentence = battery ? 1 : 0;
    o.values[1] = battery ? q->rdo.max_mw : q->rdo.max_ma;
    o.values[2] = battery ? q->asked.max_mw : q->asked.max_ma;
    judge_fail(j, &o);
}

static void range_outcome(struct judge *j, const struct event *e, bool broken)
{
    const struct request *q = e->request;
    struct outcome        o;

    if (!broken) {
        judge_pass(j);
        return;
    }
    o = request_outcome(j, e);
    o.values[1] = q->rdo.mv;
    o.values[2] = q->asked.min_mv;
    o.values[3] = q->asked.max_mv;
    outcome_limit(&o, q->rdo.mv, q->asked.min_mv, q->asked.max_mv, "V");
    judge_fail(j, &o);
}

static void check_pps_range(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);

    if (request_judged(j, e, &g) && e->request->rdo.form == REQUEST_PPS)
        range_outcome(j, e, request_pps_range_broken(&g));
}

static void check_avs_range(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);

    if (request_judged(j, e, &g) && request_asks_avs(e->request))
        range_outcome(j, e, request_avs_range_broken(&g));
}

static void check_avs_step(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || !request_asks_avs(e->request))
        return;
    if (!request_avs_step_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->rdo.mv;
    judge_fail(j, &o);
}

static void check_reserved(struct judge *j, const struct event *e)
{
    struct request_ground g = request_ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || e->request->rdo.form == REQUEST_FORM_UNKNOWN)
        return;
    if (!request_reserved_set(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->rdo.word;
    o.values[2] = request_reserved_set(&g);
    judge_fail(j, &o);
}

static void check_epr_copy(struct judge *j, const struct event *e)
{
    struct request_ground g;

    if (!e->request->epr)
        return;
    g = request_ground_of(j, e->port, e->request);
    if (!request_judged(j, e, &g))
        return;
    if (!request_copy_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->copy_word;
    o.values[2] = e->request->asked.word;
    judge_fail(j, &o);
}

#define OFFER_UNKNOWN "The offer that the Request for object {0} refers to is not in the trace."

/* A reserved type, the wrong side or ordered set makes a message no Request to begin with; a position without object leaves nothing to compare. */
static const char *const broken_form[] = { "message.object-count", "message.length", "message.allowed-in-revision", NULL };
/* Rules of 3.1 have no occasion where a message of 3.1 is not allowed. */
static const char *const broken_from_31[] = { "message.object-count", "message.length", NULL };
static const char *const broken_for_a_copy[] = { "message.object-count", "message.length", "epr.request-kind", NULL };
static const char *const reject_parameters[] = { "reject_offer_s", NULL };
static const char *const recent_parameters[] = { "tSenderResponse", NULL };

static const char *const says_position[] = {
    "Object {0} is requested: no offer has an object of that number.",
    "Object {0} is requested; the offer has {1} objects.",
    "Object {0} is requested, which is a zero filler.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_current[] = {
    "{1:A} is requested of object {0}, which offers {2:A}.",
    "{1:A} at {3:V} is requested of object {0}, which offers {2:A} there.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_current_order[] = {
    "Object {0}: operating current {1:A} is above maximum operating current {2:A}.",
    "Object {0}: operating power {1:W} is above maximum operating power {2:W}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_power[] = { "{1:W} is requested of object {0}, which offers {2:W}.", OFFER_UNKNOWN, NULL };
static const char *const says_mismatch[] = {
    "Object {0} offers {2:A}; the Request has a maximum operating current of {1:A}, but Capability Mismatch is 0.",
    "Object {0} offers {2:W}; the Request has a maximum operating power of {1:W}, but Capability Mismatch is 0.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_range[] = {
    "{1:V} is requested of object {0}, which offers {2:V} to {3:V}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_step[] = {
    "{1:V} is requested of object {0}: not a multiple of 100 mV.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_request_bits[] = { "Request {1:x} has reserved bits {2:x} set.", OFFER_UNKNOWN, NULL };
static const char *const says_copy[] = {
    "The copy of object {0} is {1:x}; in the offer it is {2:x}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_valid[] = {
    [SAYS_REJECTED] = "The Request for object {0} is within the offer, but was rejected, and the offer did not change.",
    [SAYS_OFFER_UNKNOWN] = OFFER_UNKNOWN, NULL,
};
static const char *const says_invalid[] = {
    [SAYS_ACCEPTED] = "The Request for object {0} exceeds the offer, but was accepted.",
    [SAYS_RECENT] = "The Request for object {0} exceeds the offer, which had changed just before: it may refer to the old one.",
    [SAYS_UNKNOWN] = OFFER_UNKNOWN, NULL,
};

#define UNKNOWN_OFFER "The offer that it refers to is not in the trace, or records are missing since."
#define REQUEST_LAYOUT "layout seen in " FROM_LINUX " and " FROM_ZEPHYR
#define SINK_ROW                                                                                                       \
    .undecided = UNKNOWN_OFFER, .whom = WHO_SINK, .wakes = EVENT_BIT(EVENT_REQUEST)

const struct rule request_rules[] = {
    {
        .id = "request.position",
        .title = "A sink asks for an object that was offered",
        .requirement = "Object Position is from 1 to the number of objects in the last offer delivered, in an EPR_Request from 1 to that of the last "
                       "EPR_Source_Capabilities, and the object there is no filler of zeros.",
        .source = "USB PD, Request Data Object; " REQUEST_LAYOUT "; position 0 is invalid in " FROM_ZEPHYR,
        .why = "The source can only refuse; the device charges slowly or not at all.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW,
        .silenced_by = broken_form, .sentences = says_position, .plain = PLAIN_PASSES, .check = check_position,
    },
    {
        .id = "request.current",
        .title = "A sink asks for no more current than the object offers",
        .requirement = "Operating Current is at most the object's maximum: the field of a fixed, variable or PPS object; of an SPR AVS object the "
                       "first current up to 15 V and the second one above; of an EPR AVS object its power divided by the voltage, rounded up "
                       "to 50 mA, at most 5 A.",
        .source = "USB PD, Request Data Object; the relation as cited in " FROM_FUCHSIA "; the AVS currents from memory",
        .why = "A source that takes it at its word is overloaded, one that does not refuses.",
        .bench = "Attach the sink to a source that offers less current than it likes.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_PPS | 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_form, .sentences = says_current, .plain = PLAIN_PASSES, .check = check_current,
    },
    {
        .id = "request.current-order",
        .title = "The operating current asked for is within the maximum asked for",
        .requirement = "Of a fixed or variable object Operating Current is at most Maximum Operating Current, of a battery object Operating Power "
                       "at most Maximum Operating Power. Not judged with GiveBack 1.",
        .source = "USB PD, Request Data Object; as cited in " FROM_FUCHSIA,
        .why = "The source cannot tell which of the two numbers to plan for.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form, .sentences = says_current_order, .plain = PLAIN_PASSES, .check = check_current_order,
    },
    {
        .id = "request.power",
        .title = "A sink asks for no more power than a battery object offers",
        .requirement = "Operating Power is at most the object's maximum power.",
        .source = "USB PD, Request Data Object; as cited in " FROM_FUCHSIA,
        .why = "A source that takes it at its word is overloaded, one that does not refuses.",
        .bench = "Attach the sink to a source with a battery object.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW, .supplies = 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form, .sentences = says_power, .plain = PLAIN_PASSES, .check = check_power,
    },
    {
        .id = "request.mismatch-flag",
        .title = "A sink that wants more than the object offers says so",
        .requirement = "Where the maximum operating current or power of a Request for a fixed, variable or battery object is above what the object "
                       "offers, Capability Mismatch (bit 26) is 1.",
        .source = "USB PD, Request Data Object; from memory, the flag seen in " FROM_LINUX,
        .why = "Without the flag nobody learns that the device gets less than it needs.",
        .bench = "Attach the sink to a source that offers less than it wants.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form, .sentences = says_mismatch, .plain = PLAIN_NOTHING, .check = check_mismatch_flag,
    },
    {
        .id = "request.pps-range",
        .title = "A sink asks a PPS for a voltage inside its range",
        .requirement = "The voltage asked for is from the object's minimum to its maximum.",
        .source = "USB PD, programmable Request Data Object; " REQUEST_LAYOUT,
        .why = "The source can only refuse, or give a voltage that it never promised.",
        .bench = "Let the sink use a PPS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R3, SINK_ROW, .supplies = 1 << SUPPLY_PPS,
        .silenced_by = broken_form, .sentences = says_range, .plain = PLAIN_PASSES, .check = check_pps_range,
    },
    {
        .id = "request.avs-range",
        .title = "A sink asks an AVS for a voltage inside its range",
        .requirement = "Of an SPR AVS object from 9 V to 15 V, or to 20 V if its second current is above 0; of an EPR AVS object from its minimum to its "
                       "maximum.",
        .source = "USB PD, adjustable voltage supplies; " FROM_LINUX_LIST "; " FROM_INFINEON,
        .why = "The source can only refuse, or give a voltage that it never promised.",
        .bench = "Let the sink use an AVS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .supplies = 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_from_31, .sentences = says_range, .check = check_avs_range,
    },
    {
        .id = "request.avs-step",
        .title = "A sink asks an AVS for a voltage in steps of 100 mV",
        .requirement = "The voltage field, in units of 25 mV, is a multiple of 4.",
        .source = "USB PD, AVS Request Data Object; " FROM_LINUX_LIST "; " FROM_INFINEON,
        .why = "A source rounds as it likes, and the two disagree about the voltage.",
        .bench = "Let the sink use an AVS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .supplies = 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_from_31, .sentences = says_step, .check = check_avs_step,
    },
    {
        .id = "request.reserved-bits",
        .title = "Reserved bits of a Request are 0",
        .requirement = "Of a fixed, variable or battery object bits 21:20 are 0, under revision 2.0 bits 23:20, and bit 27 (GiveBack) from a sink known "
                       "to be of 3.1 or later; of a PPS or AVS object bits 27, 21, 8 and 7.",
        .source = "USB PD, Request Data Object; " FROM_ZEPHYR "; " FROM_INFINEON "; the end of GiveBack from memory",
        .why = "A later revision gives such a bit a meaning, and then an old product asks for what it never meant.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, SINK_ROW,
        .silenced_by = broken_form, .sentences = says_request_bits, .plain = PLAIN_PASSES, .check = check_reserved,
    },
    {
        .id = "request.epr-copy",
        .title = "An EPR_Request repeats the object that it asks for",
        .requirement = "The second object of an EPR_Request equals the offer's object at that position in all 32 bits.",
        .source = "USB PD, EPR_Request; from memory",
        .why = "The copy is what keeps a source from giving 48 V for an object that the sink misread.",
        .bench = "Let the sink enter EPR mode and negotiate.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .silenced_by = broken_for_a_copy, .sentences = says_copy, .plain = PLAIN_NOTHING, .check = check_epr_copy,
    },
    {
        .id = "request.valid-accepted",
        .title = "A source does not refuse what it offers",
        .requirement = "A Request that keeps every must of request.* is not answered by Reject, unless another offer follows within "
                       "{reject_offer_s:most}. Wait passes.",
        .source = "USB PD, evaluation of a Request; from memory, the 2 s are ours",
        .why = "The offer is a promise; a sink that believes it is left at 5 V or without power.",
        .undecided = UNKNOWN_OFFER " Or records are missing, or a packet is bad, in the 2 s after a Reject.",
        .bench = "Ask for every object of the offer, one after the other.",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_LOSS) |
                 EVENT_BIT(EVENT_DETACH) | EVENT_BIT(WAKE_TIME) | EVENT_BIT(EVENT_END),
        .parameters = reject_parameters, .silenced_by = broken_form, .sentences = says_valid,
        .state_size = sizeof(struct valid_accepted), .check = request_check_valid_accepted,
    },
    {
        .id = "request.invalid-refused",
        .title = "A source refuses what it does not offer",
        .requirement = "A Request that breaks request.position, -current, -power, -pps-range, -avs-range or -epr-copy is not answered by Accept; Reject, "
                       "Wait, Soft_Reset and Hard Reset pass.",
        .source = "USB PD, evaluation of a Request; from memory",
        .why = "A source that accepts what it cannot give overloads itself, or gives a voltage that nobody agreed on.",
        .undecided = UNKNOWN_OFFER " Or the offer had been replaced by another one less than 33 ms before the Request.",
        .bench = "Ask for an object that is not in the offer, and for more current than it says.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_HARD_RESET) |
                 EVENT_BIT(EVENT_SOFT_RESET) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_SWAPPED),
        .parameters = recent_parameters, .silenced_by = broken_form, .sentences = says_invalid,
        .state_size = sizeof(struct invalid_refused), .check = request_check_invalid_refused,
    },
    { .id = NULL },
};
