/* What a check may ask about questions, parameters, editions, and how a time is judged. */
#include "rules/engine_inside.h"

#include <stdlib.h>
#include <string.h>

/* In a test build: a limit of one rule is wrong. */
static void engine_move_limit(struct engine *e, unsigned rule, unsigned count)
{
#ifdef PORTASSAY_MUTANTS
    unsigned k = e->mutant.index / 2;
    bool     moves = mutant_is(&e->mutant, MUTANT_LIMIT, e->rules[rule]->id);

    if ((!moves && !mutant_is(&e->mutant, MUTANT_UNREAD, e->rules[rule]->id)) || k >= count)
        return;
    e->moved = *e->values[e->values_at[rule] + k];
    if (moves)
        mutant_move_limit(&e->moved, e->mutant.index % 2);
    else
        mutant_spoil_limit(&e->moved, e->mutant.index % 2);
    e->values[e->values_at[rule] + k] = &e->moved;
#else
    (void)e;
    (void)rule;
    (void)count;
#endif
}

/* The parameters of every rule, looked up once. */
bool engine_take_parameters(struct engine *e)
{
    uint32_t n = 0;

    e->parameters = e->options.parameters ? e->options.parameters : parameters_all;
    for (unsigned r = 0; r < e->count; r++)
        for (const char *const *name = e->rules[r]->parameters; name && *name; name++)
            n++;
    e->values = calloc(n + 1, sizeof *e->values);
    e->windows = calloc(n + 1, sizeof *e->windows);
    if (!e->values || !e->windows)
        return false;
    n = 0;
    for (unsigned r = 0; r < e->count; r++) {
        e->values_at[r] = n;
        for (const char *const *name = e->rules[r]->parameters; name && *name; name++)
            e->values[n++] = parameter_in(e->parameters, *name);
        engine_move_limit(e, r, n - e->values_at[r]);
    }
    for (uint32_t k = 0; k < n; k++)
        e->windows[k] = window_of(e->values[k]);
    e->assumed_share = parameter_in(e->parameters, "assumed_volt_share");
    e->assumed_mv = parameter_in(e->parameters, "assumed_volt_mv");
    e->path_drop_mv = parameter_in(e->parameters, "path_drop_mv");
    e->role_quiet_ns = window_of(parameter_in(e->parameters, "role_quiet_ms")).high_ns;
    e->answer_none_ns = window_of(parameter_in(e->parameters, "answer_none_ms")).high_ns;
    return true;
}

const struct parameter *judge_parameter(const struct judge *j, unsigned k)
{
    return j->engine->values[j->engine->values_at[j->number] + k];
}

struct window judge_window(const struct judge *j, unsigned k)
{
    return j->engine->windows[j->engine->values_at[j->number] + k];
}

const struct ask *judge_ask(const struct judge *j)
{
    return j->ask;
}

const struct line_case *judge_line(const struct judge *j)
{
    return j->line;
}

const struct ask *judge_open_ask(const struct judge *j, unsigned set, unsigned player)
{
    struct talk *t = &j->book->talk;
    unsigned     stream = stream_index(set, player);

    return t->is_open[stream] ? talk_open(t, stream) : NULL;
}

const struct ask *judge_last_ask(const struct judge *j, unsigned set, unsigned player, int64_t *settled_ns)
{
    struct talk *t = &j->book->talk;
    unsigned     stream = stream_index(set, player);

    *settled_ns = t->last_ns[stream];
    return t->last_ns[stream] == INT64_MIN ? NULL : talk_last(t, stream);
}

int64_t judge_unanswered_ns(const struct judge *j)
{
    return j->book->talk.unanswered_ns;
}

static unsigned edition_agreed(const struct judge *j, const struct port *p, unsigned player, unsigned agreed, bool *known)
{
    static const struct edition none;
    const struct edition       *e = player <= PLAYER_CABLE ? &p->edition[player] : &none;
    unsigned                    standard = judge_standard(j);

    *known = true;
    if (standard)
        return standard;
    *known = agreed != AGREED_UNKNOWN;
    if (agreed == AGREED_R2)
        return SINCE_R2;
    if (agreed == AGREED_UNKNOWN)
        return SINCE_R1;
    if (e->major == 3)
        return e->minor == 0 ? SINCE_R30 : e->minor == 1 ? SINCE_R31 : SINCE_R32;
    return SINCE_R1;
}

unsigned judge_edition(const struct judge *j, const struct port *p, unsigned player, bool *known)
{
    return edition_agreed(j, p, player, p->agreed, known);
}

/* 3.2 V1.2 or later, by the side's own Revision message: only then the wider window (one source). */
static bool is_v12(const struct port *p, unsigned player)
{
    const struct edition *e = player <= PLAYER_CABLE ? &p->edition[player] : NULL;
    enum { VERSION_1_2 = 0x12 };

    return e && e->major == 3 && e->minor >= 2 && (e->minor > 2 || e->version >= VERSION_1_2);
}

struct window judge_sender_response(const struct judge *j, const struct port *p, unsigned player, unsigned k)
{
    return judge_sender_response_agreed(j, p, player, k, p->agreed);
}

struct window judge_sender_response_agreed(const struct judge *j, const struct port *p, unsigned player, unsigned k, unsigned agreed)
{
    bool     known;
    unsigned edition = edition_agreed(j, p, player, agreed, &known);

    switch (edition) {
    case SINCE_R2:
        return judge_window(j, k + 1);
    case SINCE_R30:
        return judge_window(j, k + 2);
    case SINCE_R31:
        return judge_window(j, k + 3);
    case SINCE_R32:
        return judge_window(j, k + (judge_standard(j) || !is_v12(p, player) ? 4 : 5));
    default:
        return judge_window(j, k);
    }
}

void judge_timing(struct judge *j, const struct span *s, const struct window *w)
{
    const struct engine_options *o = &j->engine->options;

    if (o->timing)
        o->timing(o->context, j->book->port->number, j->number, s, w);
}

/* What the instrument says of its clock, looked up again when ABOUT changed. */
static const struct clock *clock_of(const struct judge *j)
{
    struct clock *c = &j->book->clock;
    unsigned      generation = about_generation(bench_about(j->engine->bench));

    if (c->known && c->generation == generation)
        return c;
    const struct port             *p = j->book->port;
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);

    *c = (struct clock){ .known = true, .generation = generation, .stamp_ns = bench_stamp_ns(p->bench, p->number, 0),
                         .share = i->given & ABOUT_CLOCK_PPM && i->clock_ppm > 0 ? 2e-6 * i->clock_ppm : 0 };
    return c;
}

bool judge_plain_span(struct judge *j, const struct sent *from, const struct wire *to, struct plain_span *out)
{
    enum { STAMPED_OTHERWISE = RECORD_HOST_TIME | RECORD_END_TIME };

    if (from->delivery != DELIVERY_PROVEN || !from->goodcrc_frame || !from->goodcrc_measured || !to->measured ||
        (from->goodcrc_flags | to->flags) & STAMPED_OTHERWISE || j->engine->options.timing)
        return false;
#ifdef PORTASSAY_MUTANTS
    if (mutant_is(&j->engine->mutant, MUTANT_EDGE, j->rule->id))
        return false;
#endif
    const struct clock *c = clock_of(j);
    int64_t             length_ns = to->start_ns - from->goodcrc_end_ns, high_ns = length_ns + 2 * c->stamp_ns;
    double              off_ns = c->share * (double)(high_ns > 0 ? high_ns : 0);
    int64_t             clock_ns = off_ns < 1e15 ? (int64_t)(off_ns + 0.5) : INT64_C(1000000000000000);

    out->low_ns = length_ns - 2 * c->stamp_ns - clock_ns;
    out->high_ns = high_ns + clock_ns;
    return true;
}

bool judge_plainly_passed(struct judge *j, const struct sent *from, const struct wire *to, const struct window *w)
{
    struct plain_span s;

    if (!judge_plain_span(j, from, to, &s) || (w->has_low && s.low_ns < w->low_ns) || (w->has_high && s.high_ns > w->high_ns))
        return false;
    judge_pass(j);
    return true;
}

enum { NS_A_MS = 1000000 };

static void fill_time(struct outcome *o, const struct span *s, const struct window *w, enum fit fit)
{
    bool below = fit == FIT_BELOW || (fit == FIT_UNSURE && w->has_low && s->low_ns < w->low_ns);

    o->has_measured = o->has_uncertainty = o->has_span = true;
    o->has_low = w->has_low;
    o->has_high = w->has_high;
    o->measured = s->low_ns + (s->high_ns - s->low_ns) / 2;
    o->uncertainty = (s->high_ns - s->low_ns) / 2;
    o->low = w->low_ns;
    o->high = w->high_ns;
    o->unit = "ms";
    o->per_unit = NS_A_MS;
    o->parameter = w->parameter;
    o->span = *s;
    o->values[4] = o->measured;
    o->values[5] = below ? w->low_ns : w->high_ns;
    o->sentence = (uint8_t)(o->sentence + (below && w->has_low ? 1 : 0));
    outcome_evidence(o, s->from.frame);
    outcome_evidence(o, s->to.frame);
}

bool judge_time_passed(struct judge *j, const struct span *s, const struct window *w)
{
#ifdef PORTASSAY_MUTANTS
    if (mutant_is(&j->engine->mutant, MUTANT_EDGE, j->rule->id))
        return false; /* judge_time moves the edge */
#endif
    if (span_fit(s, w) != FIT_INSIDE)
        return false;
    if (j->engine->options.timing && !j->book->told)
        judge_timing(j, s, w);
    judge_pass(j);
    return true;
}

enum fit judge_time(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause doubt, bool doubt_pass)
{
#ifdef PORTASSAY_MUTANTS
    struct span moved = *s;

    if (mutant_is(&j->engine->mutant, MUTANT_EDGE, j->rule->id)) {
        mutant_move_edge(&moved, j->engine->mutant.index);
        s = &moved;
    }
#endif
    enum fit fit = span_fit(s, w);

    if (j->engine->options.timing && !j->book->told)
        judge_timing(j, s, w);
    if (fit == FIT_INSIDE && (doubt == CAUSE_NONE || !doubt_pass)) {
        judge_pass_at(j, o->t_ns);
        return fit;
    }
    if ((fit == FIT_UNSURE || doubt != CAUSE_NONE) && judge_unheard(j, o->t_ns, doubt != CAUSE_NONE ? doubt : CAUSE_UNCERTAINTY, o->spacing_ns))
        return fit;
    fill_time(o, s, w, fit);
    if (fit == FIT_UNSURE || doubt != CAUSE_NONE)
        judge_undecided(j, o, doubt != CAUSE_NONE ? doubt : CAUSE_UNCERTAINTY);
    else
        judge_fail(j, o);
    return fit;
}
