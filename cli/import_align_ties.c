/* --align: the tie of one input of readings, and the sentences about it. */
#include "cli/import_align_inside.h"
#include "cli/phrase.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { OFF_MV = 1000, ON_MV = 4000, LOAD_PERCENT = 20, LOAD_MA = 100 };
/* From the plug to VBUS at 5 V: tCCDebounce and tVBUSON, 200 and 275 ms (Linux include/linux/usb/pd.h; Zephyr usbc_tc.h); from CC coming open to VBUS let
 * go: tSRCDisconnect, 20 ms (Zephyr usbc_tc.h); VBUS may part a little before: common practice, no source. */
static const int64_t plug_on_ns = INT64_C(475000000), pull_off_ns = INT64_C(20000000), pull_early_ns = INT64_C(50000000);
/* Where no ABOUT says how late a hand is (traces/FORMAT.md, mark_time_ns). */
static const double mark_time_ns = 1e9;

static int wire_order(const void *a, const void *b)
{
    const struct wire_move *x = a, *y = b;

    return x->from_ns < y->from_ns ? -1 : x->from_ns > y->from_ns;
}

static int volt_order(const void *a, const void *b)
{
    const struct volt_move *x = a, *y = b;

    return x->move.begin_ns < y->move.begin_ns ? -1 : x->move.begin_ns > y->move.begin_ns;
}

static bool refuse(const struct import_input *in, const char *why)
{
    import_say(in, "cannot be tied: %s", why);
    return false;
}

/* Ports of the input that no message or CC state speaks of: most likely a port= is missing. */
static bool ports_meet(const struct import_align *a, const struct align_input *of)
{
    for (unsigned k = 0; k < a->wire_count; k++)
        if (of->ports[a->wire[k].port])
            return true;
    return false;
}

/* Seconds with a sign, to the microsecond. */
static void seconds_add(struct phrase *p, double ns)
{
    phrase_format(p, "%+.6f s", ns / 1e9);
}

static void milliseconds_add(struct phrase *p, double ns)
{
    phrase_format(p, ns < 1e6 ? "%.3f ms" : ns < 1e7 ? "%.1f ms" : "%.0f ms", ns / 1e6);
}

static void tie_say(const struct import_input *in, const struct align_result *r, const char *by)
{
    struct phrase p = phrase_empty();

    phrase_add(&p, "moved by ");
    seconds_add(&p, (double)r->shift_ns);
    if (r->rate_told && r->rate_ppm != 0)
        phrase_format(&p, ", its clock being %.1f ppm %s (standard uncertainty %.1f ppm)", fabs(r->rate_ppm), r->rate_ppm > 0 ? "slow" : "fast", r->rate_u_ppm);
    phrase_format(&p, ", %s; standard uncertainty ", by);
    milliseconds_add(&p, r->shift_u_ns);
    if (r->rms_ns > 0 || r->delay_ns != 0) {
        phrase_add(&p, "; VBUS leaves its level ");
        milliseconds_add(&p, r->delay_ns);
        phrase_add(&p, " after Accept on the average, scattered by ");
        milliseconds_add(&p, r->rms_ns);
        phrase_add(&p, " rms");
    }
    import_say(in, "%s", p.text);
}

static bool tie_take(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie, const struct align_result *r, const char *by)
{
    const struct align_input *of = &a->of[in->number];

    *tie = (struct import_tie){
        .tied = true, .shift_ns = r->shift_ns, .first_ns = of->from_ns, .rate_ppm = r->rate_ppm, .align_ns = r->shift_u_ns,
        .clock_ppm = r->rate_told ? r->rate_u_ppm : 0,
    };
    for (unsigned p = 0; p < 256; p++)
        tie->ports[p] = of->ports[p] != NULL;
    if (!quiet)
        tie_say(in, r, by);
    if (!quiet && (a->too_many || of->too_many))
        import_say(in, "only the first %d moves of VBUS were looked at", ALIGN_MOVES_MAX);
    return true;
}

/* Without guesses: a first offer alone does not show that the plug went in just then. */
static unsigned sure_moves(const struct import_align *a, struct wire_move *sure)
{
    unsigned count = 0;

    for (unsigned k = 0; k < a->wire_count; k++)
        if (!a->wire[k].guessed)
            sure[count++] = a->wire[k];
    return count;
}

static bool best_refuse(const struct import_input *in, const struct alignment *all, const struct align_result *r)
{
    struct phrase p = phrase_empty();

    switch (r->end) {
    case ALIGN_DONE: return true;
    case ALIGN_NO_MEMORY: return import_no_memory((struct import_input *)(uintptr_t)in);
    case ALIGN_FEW:
        phrase_format(&p, "messages and CC tell of %u move%s of VBUS, its readings show %u, and no shift ties three of them; record more changes of "
                          "contract in both, or use --align vbus or offset:TIME", all->wire_count, all->wire_count == 1 ? "" : "s", all->volt_count);
        return refuse(in, p.text);
    case ALIGN_AMBIGUOUS:
        phrase_format(&p, "two shifts do nearly as well, ");
        seconds_add(&p, (double)r->shift_ns);
        phrase_format(&p, " (%u moves of VBUS) and ", r->ties);
        seconds_add(&p, (double)r->other_ns);
        phrase_format(&p, " (%u); say which by --align offset:TIME, or record what does not repeat itself", r->other_ties);
        return refuse(in, p.text);
    case ALIGN_DISAGREES:
        phrase_format(&p, "of %u moves of VBUS that messages and CC tell of, its readings show %u at the best shift; it seems to be another recording, "
                          "or of another port", r->expected, r->ties);
        return refuse(in, p.text);
    }
    return false;
}

static bool best_tie(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie)
{
    struct align_input *of = &a->of[in->number];
    struct wire_move   *sure = calloc(a->wire_count + 1, sizeof *sure);

    if (!sure)
        return import_no_memory(in);
    const struct alignment all = {
        .wire = sure, .wire_count = sure_moves(a, sure), .volts = of->volts, .volt_count = of->volt_count,
        .wire_from_ns = a->wire_from_ns, .wire_to_ns = a->wire_to_ns, .volt_from_ns = of->from_ns, .volt_to_ns = of->to_ns,
    };
    qsort(sure, all.wire_count, sizeof *sure, wire_order);
    struct align_result r = align_best(&all);
    struct phrase       by = phrase_empty();

    free(sure);
    if (!best_refuse(in, &all, &r))
        return false;
    phrase_format(&by, "where %u of the %u moves of VBUS that messages and CC tell of lie in their windows", r.ties, r.expected);
    return tie_take(a, in, quiet, tie, &r, by.text);
}

static const struct volt_move *rise_find(const struct align_input *of)
{
    for (unsigned k = 0; k < of->volt_count; k++)
        if (of->volts[k].move.from < OFF_MV && of->volts[k].move.to >= ON_MV)
            return &of->volts[k];
    return NULL;
}

static bool vbus_tie(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie)
{
    const struct volt_move *rise = rise_find(&a->of[in->number]);

    if (!rise)
        return refuse(in, "its readings show no first rise of VBUS from below 1 V to above 4 V; begin the log before the plug goes in");
    for (unsigned k = 0; k < a->wire_count; k++) {
        const struct wire_move *w = &a->wire[k];

        if (w->why != WIRE_MOVE_ON || w->port != rise->port)
            continue;
        struct align_result r = align_one(w->from_ns, w->to_ns, &rise->move);

        return tie_take(a, in, quiet, tie, &r, w->guessed ? "VBUS rising for the first time before the first offer" :
                                                            "VBUS rising for the first time between the plug and the first offer");
    }
    return refuse(in, "the other recordings show neither a plug going in nor a first offer on its port");
}

/* Of the readings, what the mark names: a load, a plug pulled, and else VBUS coming on. */
static const struct volt_move *step_find(const struct align_input *of, const struct align_mark *m)
{
    bool load = m->action == RECORD_LOAD_SET, off = m->action == RECORD_UNPLUGGED || m->action == RECORD_INPUT_OFF;

    for (unsigned k = 0; load && k < of->amp_count; k++) {
        const struct move *one = &of->amps[k].move;

        if (abs(abs(one->to) - m->value) <= m->value / 100 * LOAD_PERCENT + LOAD_MA && (m->subject == RECORD_PORT_NONE || m->subject == of->amps[k].port))
            return &of->amps[k];
    }
    for (unsigned k = 0; !load && k < of->volt_count; k++) {
        const struct move *one = &of->volts[k].move;
        bool               fits = off ? one->from >= ON_MV && one->to < OFF_MV : one->from < OFF_MV && one->to >= ON_MV;

        if (fits && (m->subject == RECORD_PORT_NONE || m->subject == of->volts[k].port))
            return &of->volts[k];
    }
    return NULL;
}

/* A plug comes before what it does to VBUS; a load or a supply is switched at once. */
static struct align_result mark_align(const struct align_mark *m, const struct move *step)
{
    if (m->action == RECORD_UNPLUGGED) {
        const struct move start = { .begin_ns = step->begin_ns, .end_ns = step->steady_ns };

        return align_one(m->t_ns - pull_early_ns, m->t_ns + pull_off_ns, &start);
    }
    return align_one(m->t_ns, m->t_ns + (m->action == RECORD_PLUGGED ? plug_on_ns : 0), step);
}

static bool mark_tie(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie)
{
    const struct align_mark *m = &a->mark;
    const struct volt_move  *step = m->there ? step_find(&a->of[in->number], m) : NULL;

    if (!m->there)
        return refuse(in, a->words.mark[0] ? "no mark holds that text" : "there is no mark of a plug, a load or a supply");
    if (!step)
        return refuse(in, m->action == RECORD_LOAD_SET ? "its readings show no step to the current that the mark names" :
                                                         "its readings do not show what the mark names: VBUS coming on, or going off");
    struct align_result r = mark_align(m, &step->move);

    if (m->host_time)
        r.shift_u_ns = hypot(r.shift_u_ns, mark_time_ns);
    return tie_take(a, in, quiet, tie, &r, "the first step of its readings that the mark names falling on the mark");
}

bool align_input_tie(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie)
{
    struct align_input *of = &a->of[in->number];

    qsort(of->volts, of->volt_count, sizeof *of->volts, volt_order);
    if (a->words.how != ALIGN_MARK && !ports_meet(a, of))
        return refuse(in, a->wire_count == 0 ? "the other recordings tell of no move of VBUS: no contract, no plug" :
                                               "messages and CC speak of other ports than its readings; port=N puts them on the same");
    switch (a->words.how) {
    case ALIGN_BEST: return best_tie(a, in, quiet, tie);
    case ALIGN_VBUS: return vbus_tie(a, in, quiet, tie);
    case ALIGN_MARK: return mark_tie(a, in, quiet, tie);
    case ALIGN_OFFSET: return true;
    }
    return false;
}
