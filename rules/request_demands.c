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
    unsigned standard = judge_standard(j);

    return (struct request_ground){
        .request = q, .port = p, .standard = standard,
        .agreed = standard == 0 ? p->agreed : standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3,
    };
}

enum answer request_from_31(const struct request_ground *g)
{
    static const struct rule    from_31 = { .applies = APPLIES_R31 };
    static const struct edition unknown;
    unsigned                    player = g->request->player;

    return rule_applies(&from_31, g->port->agreed, player <= PLAYER_B ? &g->port->edition[player] : &unknown,
                        g->standard);
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
    return request_asks_avs(g->request) && !avs_in_range(g->request) && request_from_31(g) != ANSWER_NO;
}

bool request_avs_step_broken(const struct request_ground *g)
{
    return request_asks_avs(g->request) && g->request->rdo.mv % AVS_STEP_MV != 0 && request_from_31(g) != ANSWER_NO;
}

uint32_t request_reserved_set(const struct request_ground *g)
{
    const struct rdo *r = &g->request->rdo;
    uint32_t          reserved = 0;

    if (request_asks_plain(g->request)) {
        reserved = g->agreed == AGREED_R2 ? RESERVED_PLAIN_R2 : RESERVED_PLAIN;
        if ((r->word & GIVE_BACK) && request_from_31(g) == ANSWER_YES)
            reserved |= GIVE_BACK;
    } else if (r->form == REQUEST_PPS || r->form == REQUEST_AVS) {
        reserved = RESERVED_PROGRAMMABLE;
    }
    return r->word & reserved;
}

bool request_copy_broken(const struct request_ground *g)
{
    return g->request->epr && g->request->copy_word != g->request->asked.word && request_from_31(g) != ANSWER_NO;
}

unsigned request_faults(const struct request_ground *g)
{
    if (position_broken(g))
        return FAULT_POSITION; /* there is no object to hold the rest against */
    return (request_current_broken(g) ? FAULT_CURRENT : 0u) | (request_current_order_broken(g) ? FAULT_CURRENT_ORDER : 0u) |
           (request_power_broken(g) ? FAULT_POWER : 0u) | (request_pps_range_broken(g) ? FAULT_PPS_RANGE : 0u) |
           (request_avs_range_broken(g) ? FAULT_AVS_RANGE : 0u) | (request_avs_step_broken(g) ? FAULT_AVS_STEP : 0u) |
           (request_reserved_set(g) ? FAULT_RESERVED : 0u) | (request_copy_broken(g) ? FAULT_COPY : 0u);
}
