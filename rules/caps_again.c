/* Offers that come again in a contract. */
#include "rules/caps_checks.h"

#include <stddef.h>

void check_changed_unannounced(struct judge *j, const struct event *e)
{
    struct changed_state *s = judge_state(j, e->port);
    const struct offer *o = e->offer;
    struct changed_state before = *s;
    struct outcome out;

    if (e->kind == EVENT_LOSS) {
        s->lost_since = true;
        return;
    }
    if (e->kind != EVENT_OFFER) {
        *s = (struct changed_state){ 0 };
        return;
    }
    if (o->epr)
        return;
    *s = (struct changed_state){ .seen = true };
    if (!o->asked || !o->in_contract)
        return;
    out = caps_outcome(j, o, CHANGED_WORDS);
    if (before.lost_since) {
        out.sentence = CHANGED_LOST;
        outcome_evidence(&out, e->port->loss_frame);
        judge_undecided(j, &out, CAUSE_LOST);
    } else if (o->same_as_last) {
        caps_pass(j, o);
    } else if (!before.seen) {
        out.sentence = CHANGED_BEGINNING;
        judge_undecided(j, &out, CAUSE_BEGINNING);
    } else {
        judge_fail(j, &out);
    }
}

enum { REPEATS_MOST, REPEATS_WITHIN }; /* the parameters: caps_same_max, caps_same_s */

/* Repeats in the window that ends now, this one included; drops those before it. */
static unsigned repeats_within(struct repeats_state *s, const struct offer *o, int64_t window_ns)
{
    s->t_ns[s->next] = o->t_ns;
    s->frame[s->next] = o->frame;
    s->next = (s->next + 1) % REPEATS_KEPT;
    s->count = s->count < REPEATS_KEPT ? s->count + 1 : REPEATS_KEPT;
    while (s->count && o->t_ns - s->t_ns[(s->next + REPEATS_KEPT - s->count) % REPEATS_KEPT] > window_ns)
        s->count--;
    return s->count;
}

void check_repeats_identical(struct judge *j, const struct event *e)
{
    struct repeats_state *s = judge_state(j, e->port);
    const struct offer *o = e->offer;
    int64_t most, window_ns;
    unsigned n;

    if (e->kind != EVENT_OFFER) {
        *s = (struct repeats_state){ 0 };
        return;
    }
    if (o->epr || o->asked || o->after_soft_reset || !o->in_contract || !o->same_as_last)
        return;
    most = judge_parameter(j, REPEATS_MOST)->max / 1000; /* parameters count in thousandths */
    most = most < REPEATS_KEPT - 1 ? most : REPEATS_KEPT - 1;
    window_ns = judge_window(j, REPEATS_WITHIN).high_ns;
    n = repeats_within(s, o, window_ns);
    if (n <= most) {
        s->told = false;
        caps_pass(j, o);
    } else if (!s->told) {
        struct outcome out = caps_outcome(j, o, REPEATS_MANY);

        s->told = true;
        out.parameter = judge_parameter(j, REPEATS_MOST);
        out.values[0] = n;
        out.values[1] = window_ns;
        out.values[2] = most;
        for (unsigned k = n; k > 1; k--)
            outcome_evidence(&out, s->frame[(s->next + REPEATS_KEPT - k) % REPEATS_KEPT]);
        judge_fail(j, &out);
    }
}
