/* How the line watcher hands an occasion to a rule. */
#include "rules/engine_inside.h"

bool line_judged(const struct engine *e, enum line_rule rule)
{
    return e->line_rule[rule] < RULES_MAX;
}

const struct parameter *line_parameter(const struct engine *e, enum line_rule rule, unsigned parameter, const char *name)
{
    return line_judged(e, rule) ? e->values[e->values_at[e->line_rule[rule]] + parameter] : parameter_in(e->parameters, name);
}

struct window line_window(const struct engine *e, enum line_rule rule, unsigned parameter, const char *name)
{
    return window_of(line_parameter(e, rule, parameter, name));
}

void line_evidence(struct line_case *c, uint64_t frame)
{
    if (frame && c->evidence_count < LINE_EVIDENCE)
        c->evidence[c->evidence_count++] = frame;
}

struct line_case line_case_of(const struct line_look *k, const struct wire *w)
{
    const struct speech *s = k->speech;
    struct line_case     c = { .side = SIDE_UNKNOWN, .player = PLAYER_UNKNOWN, .frame = w->frame, .t_ns = w->start_ns };

    if (s && s->frame == w->frame) {
        c.side = s->side;
        c.player = s->player;
        c.set = s->m.set;
        c.index = s->m.index;
        c.id = s->m.id;
    }
    line_evidence(&c, w->frame);
    return c;
}

void line_case_by(const struct line_look *k, struct line_case *c, unsigned player, unsigned set)
{
    c->player = (uint8_t)player;
    c->set = (uint8_t)set;
    c->side = player <= PLAYER_B ? k->port->role[player] : player == PLAYER_CABLE ? SIDE_CABLE : SIDE_UNKNOWN;
}

/* A failure elsewhere that this one would only repeat. */
static bool silenced(const struct judge *j, const struct line_case *c)
{
    return judge_silenced_on(j, c->frame) || judge_silenced_on(j, c->subjects[0]) || judge_silenced_on(j, c->subjects[1]);
}

void line_tell(const struct line_look *k, enum line_rule rule, const struct line_case *c)
{
    struct engine *e = k->engine;

    if (!line_judged(e, rule))
        return;
    const struct speech *s = k->speech;
    struct event         event = { .kind = (enum event_kind)WAKE_LINE, .port = k->port, .record = k->record, .t_ns = c->t_ns,
                                   .frame = c->frame };
    struct judge         j = { .engine = e, .book = k->book, .event = &event, .line = c, .number = e->line_rule[rule],
                               .rule = e->rules[e->line_rule[rule]], .inside = engine_inside_window(e, c->t_ns) };

    /* Whose it is shows in the packet in hand, if it is about its sender. */
    if (s && s->player == c->player && s->side == c->side)
        event.speech = s;
    if (k->book->failure_count && silenced(&j, c))
        return;
    j.rule->check(&j, &event);
}
