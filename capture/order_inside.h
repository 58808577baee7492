/*
 * capture/order_inside.h - do start times keep to the order a trace promises? (traces/FORMAT.md, "Order"). Within capture only.
 *
 * A stream is what one port says of one group of kinds; within it times do not fall. Between streams a record may start up
 * to ORDER_SLACK_NS before one that stands earlier.
 */
#pragma once
#include "capture/record.h"

#define ORDER_SLACK_NS INT64_C(1000000000)
enum { ORDER_STREAMS = 6 };

enum order_step {
    ORDER_KEPT,
    ORDER_STEP_IN_STREAM,
    ORDER_STEP_BACK, /* more than the slack behind the latest start: everything begins anew from this record */
};

struct order {
    int64_t latest_ns; /* greatest start since the last step back */
    int64_t last_ns[256][ORDER_STREAMS];
};

void order_reset(struct order *o);
/* Judges the next record in file order. kind 0 (none): it belongs to no stream. *step_ns: how far back. */
enum order_step order_judge(struct order *o, int64_t t_ns, uint8_t kind, uint8_t port, int64_t *step_ns);
