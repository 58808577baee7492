/* How soon a GoodCRC comes, and how soon a message is repeated without one. */
#include "rules/line_checks.h"

/* time.goodcrc-turnaround */
void time_check_goodcrc_turnaround(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    const struct port      *p = e->port;
    struct window           w = judge_window(j, 0);
    struct span             s = span_between(p, edge_end(p, &c->from), edge_start(p, &c->to));
    struct outcome          o = line_outcome(j);

    o.values[0] = c->index;
    judge_time(j, &o, &s, &w, c->cause != CAUSE_NONE ? c->cause : c->side == SIDE_UNKNOWN ? CAUSE_ROLES : CAUSE_NONE, false);
}

/* time.retry: the wait for the GoodCRC, and then the time to start again. */
void time_check_retry(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    const struct port      *p = e->port;
    struct window           receive = judge_window(j, 0), retry = judge_window(j, 1);
    struct span             s = span_between(p, edge_end(p, &c->from), edge_start(p, &c->to));
    struct outcome          o = line_outcome(j);
    /* A limit of this window is none of the two parameters alone; the least is tReceive's. */
    struct window w = { .low_ns = receive.low_ns, .high_ns = receive.high_ns + retry.high_ns, .has_low = receive.has_low,
                        .has_high = receive.has_high && retry.has_high, .parameter = receive.parameter };

    o.values[0] = c->index;
    judge_time(j, &o, &s, &w, c->cause != CAUSE_NONE ? c->cause : c->side == SIDE_UNKNOWN ? CAUSE_ROLES : CAUSE_NONE, false);
}
