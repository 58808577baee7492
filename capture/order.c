#include "capture/order_inside.h"

/* Which stream of its port a kind belongs to, from 1. */
static const uint8_t stream_of[256] = {
    [RECORD_PD_PACKET] = 1, [RECORD_RESET_SIGNAL] = 1, [RECORD_CC_STATE] = 1, [RECORD_LOST] = 1,
    [RECORD_POWER] = 2,     [RECORD_CC_EDGES] = 3,     [RECORD_TEMPERATURE] = 4,
    [RECORD_MARK] = 5,      [RECORD_ABOUT] = 6,
};

void order_reset(struct order *o)
{
    o->latest_ns = -RECORD_TIME_LIMIT;
    for (unsigned port = 0; port < 256; port++) {
        for (unsigned s = 0; s < ORDER_STREAMS; s++)
            o->last_ns[port][s] = -RECORD_TIME_LIMIT;
    }
}

enum order_step order_judge(struct order *o, int64_t t_ns, uint8_t kind, uint8_t port, int64_t *step_ns)
{
    enum order_step step = ORDER_KEPT;
    unsigned        stream = stream_of[kind];

    *step_ns = 0;
    if (t_ns > o->latest_ns) {
        o->latest_ns = t_ns;
    } else if (t_ns < o->latest_ns - ORDER_SLACK_NS) {
        *step_ns = o->latest_ns - t_ns;
        order_reset(o);
        o->latest_ns = t_ns;
        step = ORDER_STEP_BACK;
    }
    if (stream == 0)
        return step;
    int64_t *last = &o->last_ns[port][stream - 1];

    if (t_ns < *last) {
        *step_ns = *last - t_ns;
        step = ORDER_STEP_IN_STREAM;
    }
    *last = t_ns;
    return step;
}
