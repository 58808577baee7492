/* What GoodCRCs and repeats owe. */
#include "rules/line_checks.h"
#include "rules/message_checks.h"

/* exchange.goodcrc */
void exchange_check_goodcrc(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->index;
    o.values[1] = c->count;
    line_say(j, &o);
}

/* exchange.first-try */
void exchange_check_first_try(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->index;
    line_say(j, &o);
}

/* exchange.goodcrc-id */
void exchange_check_goodcrc_id(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->id;
    o.values[1] = c->set;
    o.values[2] = c->index;
    o.values[3] = c->wanted_id;
    o.values[4] = c->wanted_set;
    line_say(j, &o);
}

/* exchange.goodcrc-unprompted */
void exchange_check_goodcrc_unprompted(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->id;
    o.values[1] = c->set;
    line_say(j, &o);
}

/* exchange.retry-count */
void exchange_check_retry_count(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->index;
    o.values[1] = c->count;
    o.values[2] = c->most;
    o.has_measured = o.has_high = true;
    o.measured = (int64_t)c->count * MILLI;
    o.high = (int64_t)c->most * MILLI;
    o.unit = "";
    line_say(j, &o);
}

/* exchange.retry-same */
void exchange_check_retry_same(struct judge *j, const struct event *e)
{
    const struct line_case *c = judge_line(j);
    struct outcome          o;

    (void)e;
    if (!c->fault) {
        judge_pass(j);
        return;
    }
    o = line_outcome(j);
    o.values[0] = c->index;
    o.values[1] = c->id;
    line_say(j, &o);
}
