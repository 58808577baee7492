/* Times between messages, plug and VBUS. A crossing of VBUS is known between two readings. */
#include "rules/time_volts.h"
#include "rules/engine_inside.h"
#include "rules/sequence.h"
#include "rules/time_checks.h"

#include <stdlib.h>

enum { HALF_VOLT_UV = 500000, BY_HAND_NS = 10000000 };

static bool happened(const struct rail_moment *m)
{
    return m->after_ns != INT64_MIN;
}

/* A crossing as an edge. before_ns: it cannot have come earlier; other_stream: the other edge is of the port's packets. */
static struct edge moment_edge(const struct port *p, const struct rail_moment *m, int64_t before_ns, bool other_stream)
{
    bool                       read = m->before_ns > before_ns;
    const struct volt_crossing c = { .done = true, .after_ns = m->after_ns, .frame = m->after_frame, .row = m->after_row,
                                     .before_ns = read ? m->before_ns : before_ns, .before_row = read ? m->before_row : m->after_row };

    return volt_crossing_edge(p, &c, other_stream);
}

static void tell_time(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, struct edge from, struct edge to,
                      const struct window *w, enum cause doubt)
{
    struct span    span = span_between(j->event->port, from, to);
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player;
    o.sentence = EDGE_LATE;
    outcome_evidence(&o, from.frame);
    outcome_evidence(&o, to.frame);
    judge_time(j, &o, &span, w, doubt, false);
}

static void tell_unread(struct judge *j, uint64_t frame, int64_t t_ns, unsigned player)
{
    if (judge_unheard(j, t_ns, CAUSE_NO_READING, 0))
        return;
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player;
    o.sentence = EDGE_UNREAD;
    outcome_evidence(&o, frame);
    judge_undecided(j, &o, CAUSE_NO_READING);
}

/* time.src-transition */

/* VBUS may have begun to move before the Accept, by the clock of the readings: what is found after it is something else. */
static bool before_untied(const struct judge *j, const struct rail_change *c)
{
    return c->align_ns > 0 && (c->before.frame == 0 || !c->old_window.known || judge_against(j, &c->before, c->old_window.low_uv) != RAIL_ABOVE ||
                               judge_against(j, &c->before, c->old_window.high_uv) != RAIL_BELOW);
}

void time_check_src_transition(struct judge *j, const struct event *e)
{
    const struct rail_change *c = judge_section(j)->change;
    struct window             w = judge_window(j, EDGE_MOST);
    unsigned                  supply = c->now.supply;
    int64_t                   apart = llabs((c->old_window.low_uv + c->old_window.high_uv) / 2 - (c->new_window.low_uv + c->new_window.high_uv) / 2);

    if ((supply != SUPPLY_FIXED && supply != SUPPLY_VARIABLE && supply != SUPPLY_BATTERY) || rail_change_way(c) == 0 ||
        apart <= HALF_VOLT_UV || c->accepted.kind == EDGE_NONE || judge_silenced_since(j, c->request.start_ns))
        return;
    if (!happened(&c->moved)) {
        if (c->readings == 0 || c->before.frame == 0)
            tell_unread(j, c->accept_frame, c->accept.start_ns, c->player);
        return; /* where it never comes is volt.level-not-reached */
    }
    struct edge moved = moment_edge(e->port, &c->moved, c->request.start_ns, true);
    enum cause  doubt = c->doubt == CAUSE_NONE && before_untied(j, c) ? CAUSE_TIE : c->doubt;

    /* Where it is not known what VBUS came from, it may have been on its way. */
    if (!c->old.held && e->port->attach_seen == ATTACH_UNSEEN && moved.early_ns - c->accepted.late_ns < w.low_ns)
        doubt = CAUSE_BEGINNING;
    if (c->load_step) { /* what a load that goes does to VBUS may be taken for its move: it does not pass either */
        struct span    span = span_between(e->port, c->accepted, moved);
        struct outcome o = judge_outcome_at(j, c->moved.after_frame, c->moved.after_ns);

        o.player = (uint8_t)c->player;
        o.sentence = EDGE_LATE;
        outcome_evidence(&o, c->accepted.frame);
        outcome_evidence(&o, moved.frame);
        judge_time(j, &o, &span, &w, CAUSE_LOAD, true);
        return;
    }
    tell_time(j, c->moved.after_frame, c->moved.after_ns, c->player, c->accepted, moved, &w, doubt);
}

/* After a Hard Reset, a detach, an attach. */

void time_check_reset_response(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            w = judge_window(j, EDGE_MOST);

    if (c->by != CYCLE_BY_HARD_RESET || !c->in_contract || judge_silenced_since(j, c->t_ns))
        return;
    if (c->before.frame == 0) {
        tell_unread(j, c->frame, c->t_ns, c->player);
        return;
    }
    if (!happened(&c->fell))
        return; /* whether it falls at all is volt.safe0v-after-hard-reset */
    struct edge fell = moment_edge(e->port, &c->fell, c->t_ns, true);

    /* Without a load VBUS falls so slowly that its beginning does not show. */
    tell_time(j, c->fell.after_frame, c->fell.after_ns, c->player, c->opened, fell, &w,
              c->light_slow && fell.late_ns - c->opened.early_ns > w.high_ns ? CAUSE_LIGHT : c->doubt);
}

/* The moment may not be of this cycle. */
static enum cause doubt_of(const struct port *p, const struct rail_cycle *c, const struct rail_moment *m)
{
    return c->doubt == CAUSE_NONE && rail_cycle_untied(p, c, m) ? CAUSE_TIE : c->doubt;
}

static int64_t later(int64_t a_ns, int64_t b_ns)
{
    return a_ns > b_ns ? a_ns : b_ns;
}

void time_check_safe0v(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            w = judge_window(j, EDGE_MOST);

    if (c->by != CYCLE_BY_HARD_RESET || !happened(&c->fell) || !happened(&c->off) || judge_silenced_since(j, c->t_ns))
        return;
    tell_time(j, c->off.after_frame, c->off.after_ns, c->player, moment_edge(e->port, &c->fell, c->t_ns, false),
              moment_edge(e->port, &c->off, later(c->fell.before_ns, c->t_ns), false), &w, doubt_of(e->port, c, &c->fell));
}

void time_check_src_recover(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            spr = judge_window(j, EDGE_MOST), epr = judge_window(j, EDGE_MOST_EPR);

    if (c->by != CYCLE_BY_HARD_RESET || !happened(&c->off) || !happened(&c->on) || judge_silenced_since(j, c->t_ns))
        return;
    struct edge off = moment_edge(e->port, &c->off, c->t_ns, false), on = moment_edge(e->port, &c->on, later(c->off.before_ns, c->t_ns), false);
    struct span span = span_between(e->port, off, on);
    /* Where the mode is not known, what either of them allows is no fault. */
    bool unsure = !c->epr && !c->epr_known && span_fit(&span, &spr) != FIT_INSIDE &&
                  (span_fit(&span, &epr) == FIT_INSIDE || span_fit(&span, &epr) == FIT_UNSURE);

    tell_time(j, c->on.after_frame, c->on.after_ns, c->player, off, on, c->epr ? &epr : &spr, unsure ? CAUSE_BEGINNING : doubt_of(e->port, c, &c->off));
}

void time_check_turn_on(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            w = judge_window(j, EDGE_MOST);

    if (c->by == CYCLE_BY_DETACH || !happened(&c->on) || c->on.before_ns == INT64_MIN || !happened(&c->up) || judge_silenced_since(j, c->t_ns))
        return;
    tell_time(j, c->up.after_frame, c->up.after_ns, c->player, moment_edge(e->port, &c->on, INT64_MIN + 1, false),
              moment_edge(e->port, &c->up, c->on.before_ns, false), &w, c->doubt);
}

void time_check_vbus_on(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            w = judge_window(j, EDGE_MOST), more = judge_window(j, EDGE_MOST_EPR);

    if (c->by != CYCLE_BY_ATTACH || c->by_vbus || c->by_mark || judge_about(j, e->port)->kind == ABOUT_SINK ||
        judge_about(j, e->port)->kind == ABOUT_INPUT)
        return;
    w.high_ns += more.high_ns;
    w.has_low = false;
    if (happened(&c->up)) {
        if (c->up.before_ns != INT64_MIN)
            tell_time(j, c->up.after_frame, c->up.after_ns, c->player, c->opened, moment_edge(e->port, &c->up, c->t_ns, true), &w,
                      c->crossed && c->doubt == CAUSE_NONE ? CAUSE_TIE : c->doubt);
        return;
    }
    if (c->last_ns == INT64_MIN || c->last_ns < c->opened.late_ns + w.high_ns)
        return; /* it was over before, or nobody read */
    struct outcome o = judge_outcome_at(j, c->frame, c->t_ns);

    o.player = c->player;
    o.sentence = EDGE_MISSING;
    o.values[0] = c->last.uv / 1000;
    o.values[5] = w.high_ns;
    o.parameter = w.parameter;
    outcome_evidence(&o, c->frame);
    outcome_evidence(&o, c->last.frame);
    if (judge_against(j, &c->last, INT64_C(4750000)) != RAIL_BELOW)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (c->doubt != CAUSE_NONE)
        judge_undecided(j, &o, c->doubt);
    else if (c->crossed || c->last_ns < c->opened.late_ns + w.high_ns + rail_align_ns(e->port))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

void time_check_vbus_off(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;
    struct window            w = judge_window(j, EDGE_MOST), more = judge_window(j, EDGE_MOST_EPR);

    if (c->by != CYCLE_BY_DETACH || c->before.frame == 0 || judge_against(j, &c->before, c->down_uv) != RAIL_ABOVE || judge_silenced_since(j, c->t_ns))
        return;
    if (judge_about(j, e->port)->volt_at == ABOUT_VOLT_SINK) {
        tell_unread(j, c->frame, c->t_ns, c->player); /* what is read at the sink is the source's no more */
        return;
    }
    if (!happened(&c->off)) {
        if (c->readings == 0 && c->to_ns > c->opened.late_ns + w.high_ns + more.high_ns)
            tell_unread(j, c->frame, c->t_ns, c->player);
        return; /* whether it goes at all is volt.safe0v-after-detach */
    }
    w.high_ns += more.high_ns;
    w.has_low = false;
    struct edge off = moment_edge(e->port, &c->off, c->t_ns, true);

    /* A mark by hand does not say when. */
    if (c->by_mark && c->opened.late_ns - c->opened.early_ns >= 2 * BY_HAND_NS)
        tell_time(j, c->off.after_frame, c->off.after_ns, c->player, c->opened, off, &w, CAUSE_UNCERTAINTY);
    else
        tell_time(j, c->off.after_frame, c->off.after_ns, c->player, c->opened, off, &w, c->doubt);
}

/* time.first-caps */

/* Long enough for capabilities to be missing. A source that never spoke may not speak USB PD at all. */
static bool caps_overdue(struct judge *j, const struct event *e, const struct caps_wait *s)
{
    return s->frame && s->on && e->port->any_packet && e->t_ns > s->up.after_ns + judge_window(j, CAPS_DUE).high_ns + rail_align_ns(e->port);
}

static void caps_missing(struct judge *j, struct caps_wait *s)
{
    struct window  w = judge_window(j, CAPS_DUE);
    struct outcome o = judge_outcome_at(j, s->frame, s->t_ns);

    o.player = s->player;
    o.sentence = EDGE_MISSING;
    o.values[5] = w.high_ns;
    o.parameter = w.parameter;
    outcome_evidence(&o, s->frame);
    outcome_evidence(&o, s->up.after_frame);
    if (judge_silenced_since(j, s->t_ns)) {
        /* What went wrong is told. */
    } else if (s->gap) {
        judge_undecided(j, &o, CAUSE_LOST);
    } else {
        judge_fail(j, &o);
    }
    s->frame = 0;
}

static void caps_came(struct judge *j, const struct event *e, struct caps_wait *s)
{
    const struct rail_cycle *c = judge_cycle(j);
    struct window            w = judge_window(j, CAPS_DUE);

    if (c && c->frame == s->frame && happened(&c->up) && c->up.before_ns != INT64_MIN && !judge_silenced_since(j, s->t_ns))
        tell_time(j, e->frame, e->t_ns, c->player, moment_edge(e->port, &c->up, s->t_ns, true), heard_start(e->port, e->speech), &w,
                  s->gap ? CAUSE_LOST : CAUSE_NONE);
    s->frame = 0;
}

static void caps_section(struct judge *j, struct caps_wait *s)
{
    const struct rail_cycle *c = judge_section(j)->cycle;

    if (s->frame == 0 || c->frame != s->frame)
        return;
    s->on = happened(&c->up);
    s->up = c->up;
    s->player = c->player;
}

/* What did not come before is told a moment later: rules that speak for it hear of the reset after this one. */
static void caps_anew(struct judge *j, const struct event *e, struct first_caps *s)
{
    if (caps_overdue(j, e, &s->now)) {
        s->missed = s->now;
        judge_wake_at(j, e->port, e->t_ns + 1);
    }
    s->now = (struct caps_wait){ .frame = e->frame, .t_ns = e->t_ns };
}

void time_check_first_caps(struct judge *j, const struct event *e)
{
    struct first_caps *s = judge_state(j, e->port);

    switch ((int)e->kind) {
    case WAKE_TALK:
        if (s->now.frame && e->speech->side == SIDE_SOURCE)
            caps_came(j, e, &s->now);
        break;
    case EVENT_LOSS:
        s->now.gap = true;
        break;
    case WAKE_SECTION:
        caps_section(j, &s->now);
        break;
    case EVENT_ATTACH:
    case EVENT_HARD_RESET:
        caps_anew(j, e, s);
        break;
    default: /* WAKE_TIME, WAKE_ATTACH_END */
        if (s->missed.frame)
            caps_missing(j, &s->missed);
        if (e->kind == (enum event_kind)WAKE_ATTACH_END && caps_overdue(j, e, &s->now))
            caps_missing(j, &s->now);
        if (e->kind == (enum event_kind)WAKE_ATTACH_END)
            s->now.frame = 0;
        break;
    }
}
