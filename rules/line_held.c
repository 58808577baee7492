/*
 * Messages that nobody acknowledged, until it shows whether anybody was there: a plug that is pulled out falls silent some time before
 * CC shows it.
 */
#include "rules/engine_inside.h"

static void held_tell(struct line_look *k, unsigned n)
{
    struct line     *l = k->line;
    struct line_case c = l->held[n];

    l->held[n] = l->held[--l->held_count];
    line_tell(k, LINE_GOODCRC, &c);
}

static int64_t until_ns(const struct line_look *k, const struct line_case *c)
{
    return c->t_ns + k->engine->answer_none_ns;
}

void line_hold(struct line_look *k, const struct line_case *c)
{
    struct line *l = k->line;

    if (!k->port->cc_seen || !line_judged(k->engine, LINE_GOODCRC)) {
        line_tell(k, LINE_GOODCRC, c);
        return;
    }
    if (l->held_count == LINE_HELD)
        held_tell(k, 0);
    l->held[l->held_count++] = *c;
    l->careful = true;
}

/* Its receiver speaks: it is there. */
void line_held_meet(struct line_look *k)
{
    for (unsigned n = k->line->held_count; n-- > 0;)
        if (k->line->held[n].player == k->speech->player || k->line->held[n].player == PLAYER_UNKNOWN)
            held_tell(k, n);
}

/* Records were lost: where nothing else was recorded after a message, its GoodCRC may be among them. */
void line_held_lose(struct line_look *k)
{
    for (unsigned n = k->line->held_count; n-- > 0;) {
        struct line_case *c = &k->line->held[n];

        if (c->cause == CAUSE_NONE && k->port->loss_from_ns <= c->t_ns)
            c->cause = CAUSE_LOST;
    }
}

void line_held_pass_time(struct line_look *k, int64_t t_ns)
{
    for (unsigned n = k->line->held_count; n-- > 0;)
        if (until_ns(k, &k->line->held[n]) <= t_ns)
            held_tell(k, n);
}

int64_t line_held_due_ns(const struct line_look *k)
{
    int64_t due_ns = INT64_MAX;

    for (unsigned n = 0; n < k->line->held_count; n++)
        due_ns = until_ns(k, &k->line->held[n]) < due_ns ? until_ns(k, &k->line->held[n]) : due_ns;
    return due_ns;
}
