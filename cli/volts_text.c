/* What VBUS did in each contract, for people. */
#include "cli/check_text.h"
#include "cli/offers_text.h"
#include "cli/phrase.h"
#include "cli/time_text.h"
#include "cli/volts.h"
#include "cli/volts_tell.h"
#include "cli/volts_words.h"
#include "cli/who.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

enum { GROUP_COLUMN = 2, POINT_COLUMN = 4, LABEL_COLUMN = 6, TEXT_COLUMN = 16, LINES_SHOWN = 12, STEPS_SHOWN = 4, FOLD_FROM = 5 };

static void out_entry(struct out *o, const char *label, const struct phrase *p)
{
    if (p->used)
        phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, label, p->text);
}

/* One contract. */

static void asked_phrase(struct phrase *p, const struct contract *k)
{
    phrase_short(p, k->mv, 3);
    phrase_add(p, " V ");
    phrase_short(p, k->supply == SUPPLY_BATTERY ? k->mw : k->ma, 3);
    phrase_add(p, k->supply == SUPPLY_BATTERY ? " W" : " A");
    phrase_format(p, ", object %u, %s", k->position, k->supply == SUPPLY_RESERVED ? "unknown" : supply_text(k->supply));
}

static void contract_heading(struct out *o, const struct volt_line *l, int64_t zero_ns)
{
    static const char *const ends[] = {
        "renegotiated", "Hard Reset", "roles swapped", "EPR mode left", "VBUS lost", "detached", "trace ends",
    };
    const struct contract *k = l->agreed ? &l->contract : &l->change.asked;
    struct phrase          p = phrase_empty();

    out_spaces(o, POINT_COLUMN);
    out_style(o, OUT_STRONG);
    asked_phrase(&p, k);
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
    p = phrase_empty();
    if (!l->agreed) {
        phrase_format(&p, ": Request in frame %" PRIu64 ", accepted at ", l->change.request_frame);
        time_text(&p, l->change.accept_ns - zero_ns);
        phrase_add(&p, "; no PS_RDY came");
    } else {
        if (l->change.seen)
            phrase_format(&p, ": Request in frame %" PRIu64 ", PS_RDY in frame %" PRIu64 " at ", l->change.request_frame, k->frame);
        else
            phrase_format(&p, ": PS_RDY in frame %" PRIu64 " at ", k->frame);
        time_text(&p, k->t_ns - zero_ns);
        phrase_add(&p, ", for ");
        span_text(&p, l->to_ns > k->t_ns ? l->to_ns - k->t_ns : 0);
        if (k->renewed)
            phrase_format(&p, ", renewed %" PRIu32 " x", k->renewed);
        phrase_format(&p, "; %s", k->ended_by < sizeof ends / sizeof ends[0] ? ends[k->ended_by] : "");
    }
    phrase_wrap(o, LABEL_COLUMN, p.text);
}

static void step_out(struct out *o, const struct volt_step *s, int64_t zero_ns)
{
    struct phrase p = phrase_empty();

    volts_step_words(&p, s, zero_ns);
    out_spaces(o, TEXT_COLUMN);
    phrase_wrap(o, TEXT_COLUMN + 2, p.text);
}

static void steps_of_contract(struct out *o, const struct check *c, const struct volt_line *l)
{
    const struct volt_step *s;

    for (size_t k = 0; (s = volts_step(c->volts, k)) != NULL; k++)
        if (s->port == l->port && s->contract_frame == l->contract.frame)
            step_out(o, s, c->zero_ns);
}

static void steps_out(struct out *o, const struct check *c, const struct volt_line *l)
{
    const struct volt_steps *s = &l->steps;
    struct phrase            p = phrase_empty();

    if (s->coarse) {
        phrase_format(&p, "load changed between readings %" PRIu64 " x, too far apart to tell a step from a slope", s->coarse);
        out_entry(o, "steps", &p);
    }
    if (s->up + s->down == 0)
        return;
    p = phrase_empty();
    phrase_count(&p, s->up, "step up", "steps up");
    phrase_format(&p, ", %" PRIu64 " down", s->down);
    if (s->limiting)
        phrase_format(&p, "; %" PRIu64 " of them to or from the current limit", s->limiting);
    if (s->unrecovered)
        phrase_format(&p, "; %" PRIu64 " not settled within the time watched", s->unrecovered);
    bool all = c->options->verbose || s->up + s->down <= STEPS_SHOWN;

    phrase_add(&p, all ? ":" : "; the deepest dip, the highest rise and the slowest (-v shows all):");
    out_entry(o, s->coarse ? "" : "steps", &p);
    if (all) {
        steps_of_contract(o, c, l);
        return;
    }
    if (s->deepest.frame)
        step_out(o, &s->deepest, c->zero_ns);
    if (s->highest.frame)
        step_out(o, &s->highest, c->zero_ns);
    if (s->slowest.frame && s->slowest.to_ns != s->deepest.to_ns && s->slowest.to_ns != s->highest.to_ns)
        step_out(o, &s->slowest, c->zero_ns);
}

static void line_out(struct out *o, const struct check *c, const struct volt_line *l)
{
    struct phrase p[6];

    for (unsigned k = 0; k < 6; k++)
        p[k] = phrase_empty();
    contract_heading(o, l, c->zero_ns);
    volts_change_words(&p[3], &l->change);
    volts_peaks_words(&p[4], &l->change);
    if (l->agreed) {
        volts_static_words(&p[0], l);
        volts_margin_words(&p[1], l);
        volts_readings_words(&p[2], l);
        if (l->statics)
            volts_slope_words(&p[5], &l->slope);
    }
    out_entry(o, "static", &p[0]);
    out_entry(o, "nearest", &p[1]);
    out_entry(o, "readings", &p[2]);
    out_entry(o, "change", &p[3]);
    out_entry(o, "", &p[4]);
    out_entry(o, "load", &p[5]);
    steps_out(o, c, l);
}

/* Many operating points of one programmable object after each other, told together. */
struct fold {
    uint64_t count, readings;
    int32_t  least_mv, most_mv, least_ma, most_ma;
    const struct volt_line *first, *last, *worst, *slowest, *over, *under;
    struct volt_time outside;
    uint64_t outside_points, statics, left_out;
};

static bool foldable(const struct volt_line *a, const struct volt_line *b)
{
    unsigned supply = a->contract.supply;

    return a->agreed && b->agreed && a->port == b->port && supply == b->contract.supply && a->contract.position == b->contract.position &&
           (supply == SUPPLY_PPS || supply == SUPPLY_EPR_AVS || supply == SUPPLY_SPR_AVS);
}

static void fold_change(struct fold *f, const struct volt_line *l)
{
    const struct volt_change *v = &l->change;

    if (v->timed && v->reached && (!f->slowest || v->reach.most_ns > f->slowest->change.reach.most_ns))
        f->slowest = l;
    if (v->over_uv > 0 && (!f->over || v->over_uv > f->over->change.over_uv))
        f->over = l;
    if (v->under_uv > 0 && (!f->under || v->under_uv > f->under->change.under_uv))
        f->under = l;
}

static void fold_take(struct fold *f, const struct volt_line *l)
{
    const struct contract *k = &l->contract;

    if (f->count++ == 0) {
        f->first = l;
        f->least_mv = f->most_mv = k->mv;
        f->least_ma = f->most_ma = k->ma;
    }
    f->last = l;
    f->readings += l->readings;
    f->least_mv = k->mv < f->least_mv ? k->mv : f->least_mv;
    f->most_mv = k->mv > f->most_mv ? k->mv : f->most_mv;
    f->least_ma = k->ma < f->least_ma ? k->ma : f->least_ma;
    f->most_ma = k->ma > f->most_ma ? k->ma : f->most_ma;
    f->statics += l->statics;
    f->left_out += l->left_out;
    if (!f->worst || volts_worse(l, f->worst))
        f->worst = l;
    f->outside.least_ns += l->outside.least_ns;
    f->outside.most_ns += l->outside.most_ns;
    f->outside_points += l->outside_count > 0;
    fold_change(f, l);
}

static void point_phrase(struct phrase *p, const struct volt_line *l)
{
    phrase_add(p, " (asked for ");
    phrase_short(p, l->contract.mv, 3);
    phrase_format(p, " V, PS_RDY in frame %" PRIu64 ")", l->contract.frame);
}

static void fold_heading(struct out *o, const struct fold *f, int64_t zero_ns)
{
    struct phrase p = phrase_empty();

    out_spaces(o, POINT_COLUMN);
    out_style(o, OUT_STRONG);
    phrase_format(&p, "%" PRIu64 " operating points of object %u, %s", f->count, f->first->contract.position, supply_text(f->first->contract.supply));
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
    p = phrase_empty();
    phrase_add(&p, ": ");
    volts_range(&p, (int64_t)f->least_mv * 1000, (int64_t)f->most_mv * 1000);
    phrase_add(&p, " at ");
    if (f->least_ma != f->most_ma) {
        phrase_short(&p, f->least_ma, 3);
        phrase_add(&p, " to ");
    }
    phrase_short(&p, f->most_ma, 3);
    phrase_format(&p, " A, PS_RDY in frames %" PRIu64 " to %" PRIu64 ", from ", f->first->contract.frame, f->last->contract.frame);
    time_text(&p, f->first->contract.t_ns - zero_ns);
    phrase_add(&p, " on, for ");
    span_text(&p, f->last->to_ns > f->first->contract.t_ns ? f->last->to_ns - f->first->contract.t_ns : 0);
    phrase_add(&p, "; -v shows each");
    phrase_wrap(o, LABEL_COLUMN, p.text);
}

static void fold_changes_phrase(struct phrase *p, const struct fold *f)
{
    if (f->slowest) {
        phrase_add(p, "slowest into the new window: ");
        volts_time(p, &f->slowest->change.reach);
        phrase_add(p, " after the Accept was acknowledged");
        point_phrase(p, f->slowest);
    } else {
        phrase_add(p, "VBUS was in each new window from the start, or when it came there was not seen");
    }
    if (f->over) {
        phrase_add(p, "; overshoot ");
        phrase_add(p, f->over->change.slow ? "of at least " : "of up to ");
        volts_millivolt(p, f->over->change.over_uv);
        point_phrase(p, f->over);
    }
    if (f->under) {
        phrase_add(p, "; undershoot ");
        phrase_add(p, f->under->change.slow ? "of at least " : "of up to ");
        volts_millivolt(p, f->under->change.under_uv);
        point_phrase(p, f->under);
    }
}

static void fold_out(struct out *o, const struct check *c, const struct fold *f)
{
    struct phrase p = phrase_empty();

    fold_heading(o, f, c->zero_ns);
    phrase_count(&p, f->statics, "static value", "static values");
    if (f->left_out)
        phrase_format(&p, "; %" PRIu64 " with the current at its limit left out", f->left_out);
    out_entry(o, "static", &p);
    p = phrase_empty();
    if (f->worst->margin.known) {
        volts_margin_words(&p, f->worst);
        point_phrase(&p, f->worst);
    }
    out_entry(o, "nearest", &p);
    p = phrase_empty();
    if (f->outside.most_ns) {
        phrase_add(&p, "outside the window for ");
        volts_time(&p, &f->outside);
        phrase_format(&p, " in all, surely at %" PRIu64 " of the points", f->outside_points);
    } else {
        phrase_add(&p, f->readings ? "never outside the window, as far as the readings show" : "no reading of VBUS outside of changes");
    }
    out_entry(o, "readings", &p);
    p = phrase_empty();
    fold_changes_phrase(&p, f);
    out_entry(o, "change", &p);
}

/* What was not kept one by one. */
static void rest_out(struct out *o, const struct volts_rest *r)
{
    struct phrase p = phrase_empty();

    phrase_format(&p, "%" PRIu64 " more contracts and %" PRIu64 " more load steps were not kept one by one; ", r->lines, r->steps);
    phrase_add(&p, "--since and --until pick a part.");
    if (r->worst.margin.known) {
        phrase_add(&p, " Nearest to an end of its window among them: ");
        volts_margin_words(&p, &r->worst);
        point_phrase(&p, &r->worst);
        phrase_add(&p, ".");
    }
    if (r->lines) {
        phrase_add(&p, " Outside the window for ");
        volts_time(&p, &r->outside);
        phrase_add(&p, " in all.");
    }
    out_spaces(o, POINT_COLUMN);
    phrase_wrap(o, POINT_COLUMN, p.text);
}

/* Ports. */

static const struct volt_line *next_of_port(const struct check *c, unsigned port, size_t *k)
{
    const struct volt_line *l;

    while ((l = volts_line(c->volts, *k)) != NULL && l->port != port)
        ++*k;
    return l;
}

/* How many lines of the port from *k on belong together; *next: the first after them. */
static struct fold fold_from(const struct check *c, unsigned port, size_t k, size_t *next)
{
    struct fold             f = { .count = 0 };
    const struct volt_line *l;

    while ((l = next_of_port(c, port, &k)) != NULL && (f.count == 0 || foldable(f.first, l))) {
        fold_take(&f, l);
        k++;
    }
    *next = k;
    return f;
}

static void port_heading(struct out *o, const struct check *c, unsigned port, const struct volt_line *l)
{
    struct phrase p = phrase_empty();
    char          name[40];

    port_name(about_port(bench_about(engine_bench(c->engine)), (uint8_t)port), port, name, sizeof name);
    out_spaces(o, GROUP_COLUMN);
    out_style(o, OUT_STRONG);
    out_clean(o, name, strlen(name));
    out_style(o, OUT_PLAIN);
    if (l->at_sink && l->path_known)
        phrase_add(&p, "VBUS was measured at the sink: what the path takes is added");
    else if (l->at_sink)
        phrase_add(&p, "VBUS was measured at the sink; what the path takes is not known, and not added");
    if (l->assumed)
        phrase_format(&p, "%suncertainty of the readings assumed: ABOUT does not say", l->at_sink ? "; " : "");
    out_spaces(o, p.used ? 2 : 0);
    phrase_wrap(o, POINT_COLUMN, p.text);
}

static void port_out(struct out *o, const struct check *c, unsigned port, bool *any)
{
    const struct volts_rest *rest = volts_rest(c->volts, port);
    const struct volt_line  *l;
    uint64_t                 shown = 0, more = 0;

    for (size_t k = 0, next; (l = next_of_port(c, port, &k)) != NULL; k = next) {
        struct fold f = fold_from(c, port, k, &next);
        bool        fold = f.count >= FOLD_FROM && !c->options->verbose;

        if (!fold)
            next = k + 1;
        if (shown == 0)
            port_heading(o, c, port, l);
        *any = true;
        if (shown++ >= LINES_SHOWN && !c->options->verbose)
            more += fold ? f.count : 1;
        else if (fold)
            fold_out(o, c, &f);
        else
            line_out(o, c, l);
    }
    if (more) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "%" PRIu64 " more; -v shows them, --since picks a part", more);
        out_spaces(o, POINT_COLUMN);
        phrase_wrap(o, POINT_COLUMN, p.text);
    }
    if (rest)
        rest_out(o, rest);
}

void volts_text(struct out *o, struct check *c)
{
    bool any = false;

    check_head_text(o, c);
    out_line(o);
    out_style(o, OUT_STRONG);
    out_text(o, "VBUS in each contract");
    out_style(o, OUT_PLAIN);
    out_text(o, ", as it left the source");
    out_line(o);
    for (unsigned port = 0; port < VOLTS_PORTS; port++)
        port_out(o, c, port, &any);
    if (!any)
        phrase_wrap(o, 0, "No contract was made.");
}
