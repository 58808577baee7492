/* Differences for people. */
#include "cli/diff.h"
#include "cli/fault_text.h"
#include "cli/trace_head.h"
#include "cli/who.h"

#include <inttypes.h>

enum { NUMBER_COLUMN = 2, TEXT_COLUMN = 7 };

static void name_of(const struct check *c, unsigned port, char name[40])
{
    port_name(about_port(bench_about(engine_bench(c->engine)), (uint8_t)port), port, name, 40);
}

static void trace_line(struct out *o, const char *label, const struct check *c)
{
    struct phrase p = phrase_empty();

    out_text(o, label);
    if (device_phrase(&p, bench_about(engine_bench(c->engine))))
        phrase_add(&p, "; ");
    trace_phrase(&p, c->path, &c->facts);
    phrase_wrap(o, 3, p.text);
    p = phrase_empty();
    if (trace_caution_phrase(&p, &c->facts, c->options->about_path)) {
        out_spaces(o, 3);
        phrase_wrap(o, 3, p.text);
    }
}

/* Said first: it turns everything after it. */
static void ports_text(struct out *o, const struct diff *d)
{
    bool first = true;

    for (unsigned port = 0; port < DIFF_NO_PORT; port++) {
        struct phrase p = phrase_empty();
        char          a[40], b[40];

        if (d->ports.b_of[port] == DIFF_NO_PORT || d->ports.b_of[port] == port)
            continue;
        name_of(d->a, port, a);
        name_of(d->b, d->ports.b_of[port], b);
        phrase_format(&p, d->ports.renumbered ? "Port %u of B (%s) behaves as port %u of A (%s) did; they are compared with each other."
                                              : "Port %u of B (%s) is compared with port %u of A (%s).",
                      d->ports.b_of[port], b, port, a);
        if (first)
            out_line(o);
        first = false;
        phrase_wrap(o, 0, p.text);
    }
}

static void frames_phrase(struct phrase *p, const struct difference *x, unsigned side)
{
    if (x->frame_count[side] == 0) {
        phrase_format(p, "%c: -", side ? 'B' : 'A');
        return;
    }
    phrase_format(p, "%c: frame%s ", side ? 'B' : 'A', x->frame_count[side] > 1 ? "s" : "");
    for (unsigned k = 0; k < x->frame_count[side]; k++)
        phrase_format(p, "%s%" PRIu64, k ? ", " : "", x->frames[side][k]);
}

static void difference_out(struct out *o, const struct diff *d, size_t k)
{
    const struct difference *x = &d->items[k];
    struct phrase            p = phrase_empty();
    char                     name[40];

    name_of(x->frame_count[0] || check_has_port(d->a, x->port_a) ? d->a : d->b, x->port_a, name);
    out_u64_wide(o, k + 1, NUMBER_COLUMN + 2);
    out_column(o, TEXT_COLUMN);
    phrase_format(&p, "%s: %s", name, x->text);
    if (x->occasions > 1)
        phrase_format(&p, " %u times.", x->occasions);
    phrase_wrap(o, TEXT_COLUMN, p.text);
    if (x->frame_count[0] + x->frame_count[1] == 0)
        return;
    p = phrase_empty();
    frames_phrase(&p, x, 0);
    phrase_add(&p, "   ");
    frames_phrase(&p, x, 1);
    out_spaces(o, TEXT_COLUMN);
    out_style(o, OUT_QUIET);
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
    out_line(o);
}

static void compared_phrase(struct phrase *p, const struct diff_notes *n)
{
    phrase_add(p, "Compared: ");
    phrase_count(p, n->deeds, "step", "steps");
    phrase_add(p, " of what was done, ");
    phrase_count(p, n->offers, "offer", "offers");
    phrase_add(p, ", ");
    phrase_count(p, n->contracts, "contract", "contracts");
    phrase_add(p, ", ");
    phrase_count(p, n->rules, "verdict", "verdicts");
    phrase_add(p, ", ");
    phrase_count(p, n->timers, "kind of time", "kinds of time");
    phrase_add(p, ", ");
    phrase_count(p, n->voltages, "settled voltage", "settled voltages");
    phrase_add(p, ".");
}

/* What may hide a difference is said always. */
static void cautions_text(struct out *o, const struct diff *d)
{
    struct phrase p = phrase_empty();

    if (d->notes.losses) {
        phrase_count(&p, d->notes.losses, "port", "ports");
        phrase_add(&p, " with records missing: a difference there may be the recording's. ");
    }
    if (d->notes.left_out) {
        phrase_count(&p, d->notes.left_out, "port", "ports");
        phrase_format(&p, " did more than the %u steps that are compared. ", BEHAVIOUR_DEEDS);
    }
    if (d->notes.plugs) {
        phrase_count(&p, d->notes.plugs, "port", "ports");
        phrase_add(&p, " where only one of the two saw plugs go in and out: that is not compared. ");
    }
    if (d->left_out) {
        phrase_count(&p, d->left_out, "more difference is", "more differences are");
        phrase_add(&p, " not listed. ");
    }
    if (p.used)
        phrase_wrap(o, 0, p.text);
}

static void ignored_text(struct out *o, const struct diff_notes *n)
{
    struct phrase p = phrase_empty();

    phrase_add(&p, "Not counted as a difference: MessageIDs, times of day and times since the start, acknowledgements (GoodCRC) and "
                   "repeated copies, how often a repeat was folded (");
    phrase_u64(&p, n->repeats);
    phrase_add(&p, " differ), ports whose numbers alone changed, marks and notes, counts of an equal verdict.");
    phrase_wrap(o, 0, p.text);
    p = phrase_empty();
    phrase_count(&p, n->few, "kind of time was", "kinds of time were");
    phrase_format(&p, " measured fewer than %u times in A or B, too few to compare.", DIFF_TIMES);
    phrase_wrap(o, 0, p.text);
    if (n->one_sided) {
        p = phrase_empty();
        phrase_count(&p, n->one_sided, "verdict is", "verdicts are");
        phrase_format(&p, " not comparable, as only one of the two recordings decides: %s.", n->one_sided_rules);
        phrase_wrap(o, 0, p.text);
    }
}

static void head_line(struct out *o, const struct diff *d)
{
    struct phrase p = phrase_empty();

    out_style(o, d->count ? OUT_BAD : OUT_GOOD);
    if (d->count == 0)
        phrase_add(&p, "NO DIFFERENCE");
    else {
        phrase_count(&p, d->count, "DIFFERENCE", "DIFFERENCES");
    }
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
    p = phrase_empty();
    phrase_format(&p, "  %s and %s", subject_of(d->a->path), subject_of(d->b->path));
    out_clean(o, p.text, p.used);
    out_line(o);
}

void diff_text(struct out *o, const struct diff *d, bool verbose)
{
    struct phrase p = phrase_empty();

    head_line(o, d);
    if (d->a->options->quiet)
        return;
    trace_line(o, "A  ", d->a);
    trace_line(o, "B  ", d->b);
    ports_text(o, d);
    if (d->count)
        out_line(o);
    for (size_t k = 0; k < d->count && !out_gone(o); k++)
        difference_out(o, d, k);
    out_line(o);
    compared_phrase(&p, &d->notes);
    phrase_wrap(o, 0, p.text);
    cautions_text(o, d);
    if (verbose)
        ignored_text(o, &d->notes);
}
