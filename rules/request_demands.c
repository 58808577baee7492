/* What the standard demands of a Request. */
#include "rules/request_demands.h"

enum {
    CURRENT_STEP_MA = 50,      /* operating current of a PPS or AVS request: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h */
    CURRENT_MOST_MA = 5000,    /* no cable carries more: cable VDO current field, Linux include/linux/usb/pd_vdo.h */
    AVS_STEP_MV = 100,         /* SPR AVS patches on the linux-usb list; Infineon cy_pdstack_common.h */
    SPR_AVS_LOWER_MV = 15000,  /* the first current of an SPR AVS object holds up to here: SPR AVS patches on the linux-usb list */
    RESERVED_PLAIN = 3 << 20,  /* bits 21:20 of a fixed, variable or battery request: Zephyr usbc_pd.h */
    RESERVED_PLAIN_R2 = 15 << 20,
    RESERVED_PROGRAMMABLE = 1 << 27 | 1 << 21 | 3 << 7, /* Zephyr usbc_pd.h, Infineon cy_pdstack_common.h */
    GIVE_BACK = 1 << 27,       /* reserved from 3.1 on: from memory */
};

struct request_ground request_ground_of(const struct judge *j, const struct port *p, const struct request *q)
{
    static const struct rule    from_31 = { .applies = APPLIES_R31 };
    static const struct edition unknown;
    unsigned                    standard = judge_standard(j);
    struct request_ground       g = { .request = q, .agreed = p->agreed };

    if (standard)
        g.agreed = standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    g.from_31 = rule_applies(&from_31, p->agreed, q->player <= PLAYER_B ? &p->edition[q->player] : &unknown, standard);
    return g;
}

bool request_asks_avs(const struct request *q)
{
    return q->rdo.form == REQUEST_AVS;
}

bool request_asks_plain(const struct request *q)
{
    return q->rdo.form == REQUEST_FIXED_VARIABLE || q->rdo.form == REQUEST_BATTERY;
}

static bool avs_in_range(const struct request *q)
{
    return q->rdo.mv >= q->asked.min_mv && q->rdo.mv <= q->asked.max_mv;
}

/* What the AVS object can give at the voltage asked for; of an EPR object's power rounded up to a whole step. */
static int32_t avs_current(const struct request *q)
{
    int64_t step_uw = (int64_t)q->rdo.mv * CURRENT_STEP_MA; /* power of one step */
    int64_t ma;

    if (q->asked.supply == SUPPLY_SPR_AVS)
        return q->rdo.mv <= SPR_AVS_LOWER_MV ? q->asked.max_ma : q->asked.max_ma_20v;
    ma = step_uw > 0 ? ((int64_t)q->asked.max_mw * MILLI + step_uw - 1) / step_uw * CURRENT_STEP_MA : CURRENT_MOST_MA;
    return ma < CURRENT_MOST_MA ? (int32_t)ma : CURRENT_MOST_MA;
}

int32_t request_current_limit(const struct request *q)
{
    return request_asks_avs(q) ? avs_current(q) : q->asked.max_ma;
}

bool request_current_limited(const struct request *q)
{
    return q->rdo.form == REQUEST_FIXED_VARIABLE || q->rdo.form == REQUEST_PPS ||
           (request_asks_avs(q) && avs_in_range(q));
}

bool request_position_impossible(const struct request *q)
{
    return q->rdo.position == 0 || q->rdo.position > (q->epr ? PDO_MAX : PDO_SPR_MAX);
}

static bool position_broken(const struct request_ground *g)
{
    return !g->request->position_valid;
}

bool request_current_broken(const struct request_ground *g)
{
    return request_current_limited(g->request) && g->request->rdo.op_ma > request_current_limit(g->request);
}

bool request_current_order_broken(const struct request_ground *g)
{
    const struct rdo *r = &g->request->rdo;

    return request_asks_plain(g->request) && !r->give_back && (r->op_ma > r->max_ma || r->op_mw > r->max_mw);
}

bool request_power_broken(const struct request_ground *g)
{
    return g->request->rdo.form == REQUEST_BATTERY && g->request->rdo.op_mw > g->request->asked.max_mw;
}

bool request_pps_range_broken(const struct request_ground *g)
{
    const struct request *q = g->request;

    return q->rdo.form == REQUEST_PPS && g->agreed == AGREED_R3 &&
           (q->rdo.mv < q->asked.min_mv || q->rdo.mv > q->asked.max_mv);
}

bool request_avs_range_broken(const struct request_ground *g)
{
    return request_asks_avs(g->request) && g->from_31 != ANSWER_NO && !avs_in_range(g->request);
}

bool request_avs_step_broken(const struct request_ground *g)
{
    return request_asks_avs(g->request) && g->from_31 != ANSWER_NO && g->request->rdo.mv % AVS_STEP_MV != 0;
}

uint32_t request_reserved_set(const struct request_ground *g)
{
    const struct rdo *r = &g->request->rdo;
    uint32_t          reserved = 0;

    if (request_asks_plain(g->request)) {
        reserved = g->agreed == AGREED_R2 ? RESERVED_PLAIN_R2 : RESERVED_PLAIN;
        if (g->from_31 == ANSWER_YES)
            reserved |= GIVE_BACK;
    } else if (r->form == REQUEST_PPS || r->form == REQUEST_AVS) {
        reserved = RESERVED_PROGRAMMABLE;
    }
    return r->word & reserved;
}

static bool reserved_broken(const struct request_ground *g)
{
    return request_reserved_set(g) != 0;
}

bool request_copy_broken(const struct request_ground *g)
{
    return g->request->epr && g->from_31 != ANSWER_NO && g->request->copy_word != g->request->asked.word;
}

unsigned request_faults(const struct request_ground *g)
{
    static const struct { unsigned fault; bool (*broken)(const struct request_ground *); } demands[] = {
        { FAULT_CURRENT, request_current_broken },
        { FAULT_CURRENT_ORDER, request_current_order_broken },
        { FAULT_POWER, request_power_broken },
        { FAULT_PPS_RANGE, request_pps_range_broken },
        { FAULT_AVS_RANGE, request_avs_range_broken },
        { FAULT_AVS_STEP, request_avs_step_broken },
        { FAULT_RESERVED, reserved_broken },
        { FAULT_COPY, request_copy_broken },
    };
    unsigned faults = 0;

    if (position_broken(g))
        return FAULT_POSITION; /* there is no object to hold the rest against */
    for (unsigned k = 0; k < sizeof demands / sizeof demands[0]; k++)
        if (demands[k].broken(g))
            faults |= demands[k].fault;
    return faults;
}
