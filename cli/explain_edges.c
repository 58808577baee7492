/*
 * How a time between two edges was worked out, as a sum that can be done again by hand: each edge from its record's stamp, what
 * the two make, the clock's part, the window, and where the range lies in it.
 */
#include "cli/explain.h"

#include "cli/check_json.h"
#include "cli/finding_text.h"
#include "cli/speech_text.h"

#include <inttypes.h>
#include <stdio.h>

enum { LABEL_COLUMN = 5, SIGN_COLUMN = 15, VALUE_COLUMN = 18, WORDS_COLUMN = 48, NS_PER_S = 1000000000, MS_DECIMALS = 6 };

/* A rate is held against its window as the length of its bits: the whole nanoseconds inside of it. low, high: bit/s. */
static struct window window_of_bits(const struct finding *f)
{
    int64_t bits = (int64_t)f->bits * NS_PER_S;

    return (struct window){ .low_ns = f->has_high && f->high > 0 ? (bits + f->high - 1) / f->high : 0,
                            .high_ns = f->has_low && f->low > 0 ? bits / f->low : 0, .has_low = f->has_high, .has_high = f->has_low,
                            .parameter = f->parameter };
}

struct window explain_window(const struct finding *f)
{
    if (f->bits)
        return window_of_bits(f);
    return (struct window){ .low_ns = f->low, .high_ns = f->high, .has_low = f->has_low, .has_high = f->has_high,
                            .parameter = f->parameter };
}

/* Do stamp, length and uncertainty make the edge that the rule went by? What a GoodCRC that was not heard adds is what is left. */
static bool edge_adds_up(struct explain_edge *e, int64_t least_ns, int64_t most_ns)
{
    bool    is_end = e->edge.kind == EDGE_END || e->edge.kind == EDGE_DONE || e->edge.kind == EDGE_DONE_UNSEEN;
    int64_t early_ns = e->stamped_ns, late_ns = e->stamped_ns;

    if (is_end && !e->at_end) {
        early_ns += least_ns;
        late_ns += most_ns;
    } else if (e->edge.kind == EDGE_START && e->at_end) {
        early_ns -= most_ns;
        late_ns -= least_ns;
    }
    e->unheard_ns = e->edge.late_ns - late_ns - e->half_ns;
    return e->edge.early_ns == early_ns - e->half_ns && e->unheard_ns >= 0 &&
           (e->edge.kind == EDGE_DONE_UNSEEN || e->unheard_ns == 0);
}

static void least_and_most(const struct explain_edge *e, int64_t *least_ns, int64_t *most_ns)
{
    *least_ns = e->measured ? e->length_ns : length_least_ns(e->bench, e->length_ns);
    *most_ns = e->measured ? e->length_ns : length_most_ns(e->bench, e->length_ns);
}

static void edge_take(struct explain_edge *e, const struct edge *edge, const struct show *s)
{
    const struct record           *r = s->record;
    const struct about_instrument *about = about_instrument(bench_about(s->bench), r->port);
    int64_t                        least_ns, most_ns;

    e->edge = *edge;
    e->at_end = r->flags & RECORD_END_TIME;
    e->measured = r->duration_ns > 0;
    e->host_time = r->flags & RECORD_HOST_TIME;
    e->given = about->given & (e->host_time ? ABOUT_HOST_TIME_NS : ABOUT_TIME_NS);
    e->length_ns = record_span_ns(r);
    e->stamped_ns = edge->kind == EDGE_ROW ? edge->early_ns + (edge->late_ns - edge->early_ns) / 2
                    : e->at_end            ? r->t_ns + e->length_ns
                                           : r->t_ns;
    e->half_ns = bench_stamp_ns(s->bench, r->port, r->flags);
    if (s->speech) {
        char buffer[sizeof e->name];

        snprintf(e->name, sizeof e->name, "%s", message_text(&s->speech->m, buffer, sizeof buffer));
        e->acknowledged = s->speech->acknowledged ? s->speech->acknowledged->last_frame : 0;
    }
    least_and_most(e, &least_ns, &most_ns);
    e->found = edge_adds_up(e, least_ns, most_ns);
}

void explain_edges_take(struct explain *x, const struct show *s)
{
    const struct span *span = &x->finding->span;

    if (s->record->frame == span->from.frame)
        edge_take(&x->edges[0], &span->from, s);
    if (s->record->frame == span->to.frame)
        edge_take(&x->edges[1], &span->to, s);
}

static void seconds_add(struct phrase *p, int64_t ns)
{
    uint64_t m = ns < 0 ? (uint64_t)0 - (uint64_t)ns : (uint64_t)ns;

    phrase_format(p, "%s%" PRIu64 ".%09" PRIu64, ns < 0 ? "-" : "", m / NS_PER_S, m % NS_PER_S);
}

static void ms_add(struct phrase *p, int64_t ns)
{
    uint64_t m = ns < 0 ? (uint64_t)0 - (uint64_t)ns : (uint64_t)ns;

    phrase_format(p, "%s%" PRIu64 ".%06" PRIu64, ns < 0 ? "-" : "", m / 1000000, m % 1000000);
}

/* A line of the sum: sign, value or range, what it is. */
static void sum_line(struct out *o, const char *sign, int64_t low_ns, int64_t high_ns, void (*add)(struct phrase *p, int64_t ns),
                     const char *words)
{
    struct phrase p = phrase_empty();

    out_spaces(o, SIGN_COLUMN);
    out_text(o, sign);
    out_column(o, VALUE_COLUMN);
    add(&p, low_ns);
    if (high_ns != low_ns) {
        phrase_add(&p, " .. ");
        add(&p, high_ns);
    }
    phrase_add(&p, add == ms_add ? " ms" : " s");
    out_text(o, p.text);
    out_column(o, WORDS_COLUMN);
    phrase_wrap(o, WORDS_COLUMN, words);
}

static void edge_title(struct phrase *p, const struct explain_edge *e)
{
    static const char *const what[] = {
        [EDGE_NONE] = "", [EDGE_START] = "start of ", [EDGE_END] = "end of ", [EDGE_DONE] = "end of ", [EDGE_DONE_UNSEEN] = "end of ",
        [EDGE_STATE] = "time of ", [EDGE_ROW] = "a reading of ",
    };

    phrase_format(p, "%sframe %" PRIu64, what[e->edge.kind % (EDGE_ROW + 1)], e->edge.frame);
    if (e->name[0])
        phrase_format(p, " (%s)", e->name);
    if (e->edge.kind == EDGE_DONE && e->acknowledged)
        phrase_format(p, ", which acknowledges frame %" PRIu64, e->acknowledged);
    if (e->edge.kind == EDGE_DONE_UNSEEN)
        phrase_add(p, ", whose GoodCRC was not recorded, though the partner acted on it");
}

static void length_line(struct out *o, const struct explain_edge *e)
{
    struct phrase p = phrase_empty();
    int64_t       least_ns, most_ns;

    if (e->edge.kind == EDGE_STATE || e->edge.kind == EDGE_ROW || (e->edge.kind == EDGE_START) != e->at_end)
        return;
    least_and_most(e, &least_ns, &most_ns);
    if (e->measured) {
        phrase_add(&p, "its length, measured");
    } else {
        phrase_add(&p, "its length, not measured: ");
        phrase_short(&p, e->length_ns, 3);
        phrase_add(&p, " us at the nominal rate, x 300/");
        phrase_short(&p, bench_limits(e->bench)->rate_most, 3);
        phrase_add(&p, " to x 300/");
        phrase_short(&p, bench_limits(e->bench)->rate_least, 3);
    }
    sum_line(o, e->at_end ? "-" : "+", least_ns, most_ns, seconds_add, p.text);
}

static const char *stamp_words(const struct explain_edge *e)
{
    if (e->host_time)
        return e->given ? "the stamp: 2 x host_time_ns of ABOUT"
                        : "the stamp, by the computer: ABOUT gives no host_time_ns, 2 x the parameter of that name taken";
    return e->given ? "the stamp: 2 x time_ns of ABOUT" : "the stamp: ABOUT gives no time_ns, the file's resolution taken";
}

static void edge_text(struct out *o, const char *label, const struct explain_edge *e, int64_t zero_ns)
{
    struct phrase p = phrase_empty();

    edge_title(&p, e);
    phrase_entry(o, LABEL_COLUMN, SIGN_COLUMN, label, p.text);
    if (e->found) {
        sum_line(o, "", e->stamped_ns - zero_ns, e->stamped_ns - zero_ns, seconds_add,
                 e->edge.kind == EDGE_ROW ? "the row's time" : e->at_end ? "stamped, at its end" : "stamped, at its start");
        length_line(o, e);
        if (e->edge.kind == EDGE_DONE_UNSEEN)
            sum_line(o, "+", 0, e->unheard_ns, seconds_add, "until its GoodCRC ended: tReceive at most");
        sum_line(o, "+-", e->half_ns, e->half_ns, seconds_add, stamp_words(e));
    }
    sum_line(o, "=", e->edge.early_ns - zero_ns, e->edge.late_ns - zero_ns, seconds_add, "earliest and latest");
}

static void between_text(struct out *o, const struct span *s)
{
    int64_t low_ns = s->to.early_ns - s->from.late_ns, high_ns = s->to.late_ns - s->from.early_ns;

    phrase_entry(o, LABEL_COLUMN, SIGN_COLUMN, "between", "the earliest \"to\" less the latest \"from\", and the latest less the earliest");
    sum_line(o, "", low_ns, high_ns, ms_add, low_ns == high_ns ? "both edges are exact" : "shortest and longest");
    if (s->has_clock) {
        sum_line(o, "+-", s->high_ns - high_ns, s->high_ns - high_ns, ms_add,
                 s->from.kind == EDGE_ROW || s->to.kind == EDGE_ROW ? "the clock: 2 x clock_ppm of ABOUT, of readings power_clock_ppm"
                                                                    : "the clock: 2 x clock_ppm of ABOUT");
        sum_line(o, "=", s->low_ns, s->high_ns, ms_add, "what is held against the window");
    } else {
        phrase_entry(o, LABEL_COLUMN, SIGN_COLUMN, "",
                     "ABOUT gives no clock_ppm: how fast the clock runs is not known, and nothing is added for it");
    }
}

static const char *fit_words(enum fit fit)
{
    switch (fit) {
    case FIT_INSIDE: return "The whole range lies inside the window";
    case FIT_BELOW:  return "The whole range lies below the window: too early, whatever of the uncertainty is true";
    case FIT_ABOVE:  return "The whole range lies above the window: too late, whatever of the uncertainty is true";
    case FIT_UNSURE: return "The range reaches over a limit: part of it lies inside the window, part outside";
    }
    return "";
}

static void window_text(struct out *o, const struct finding *f)
{
    struct window w = explain_window(f);
    struct phrase p = phrase_empty();

    if (w.has_low && w.has_high) {
        phrase_short(&p, w.low_ns, MS_DECIMALS);
        phrase_add(&p, " to ");
    } else {
        phrase_add(&p, w.has_low ? "at least " : "at most ");
    }
    phrase_short(&p, w.has_high ? w.high_ns : w.low_ns, MS_DECIMALS);
    phrase_add(&p, " ms");
    if (f->bits)
        phrase_format(&p, " for %u bits", (unsigned)f->bits);
    if (w.parameter) {
        phrase_format(&p, ": %s, %s (source: ", w.parameter->name, w.parameter->meaning);
        parameter_source_phrase(&p, w.parameter);
        phrase_add(&p, ")");
    }
    phrase_entry(o, LABEL_COLUMN, SIGN_COLUMN, "window", p.text);
    p = phrase_empty();
    phrase_add(&p, fit_words(span_fit(&f->span, &w)));
    if (f->verdict == VERDICT_UNDECIDED && f->cause != CAUSE_UNCERTAINTY)
        phrase_format(&p, ". Not decided all the same: %s.", cause_text(f->cause));
    else
        phrase_add(&p, f->verdict == VERDICT_UNDECIDED ? ": not decided." : ". So the demand is not met.");
    phrase_entry(o, LABEL_COLUMN, SIGN_COLUMN, "decision", p.text);
}

void explain_edges_text(const struct explain *x)
{
    struct out *o = x->out;

    out_line(o);
    out_style(o, OUT_STRONG);
    out_text(o, "Worked out");
    out_style(o, OUT_PLAIN);
    out_text(o, ", edge by edge: each lies between an earliest and a latest time");
    out_line(o);
    edge_text(o, "from", &x->edges[0], x->check->zero_ns);
    edge_text(o, "to", &x->edges[1], x->check->zero_ns);
    between_text(o, &x->finding->span);
    window_text(o, x->finding);
}

static void part_json(struct json *j, const char *key, const struct explain_edge *e, int64_t zero_ns)
{
    int64_t least_ns, most_ns;

    json_object(j, key);
    edge_json(j, &e->edge, zero_ns);
    json_text(j, "message", e->name[0] ? e->name : NULL);
    if (e->acknowledged && e->edge.kind == EDGE_DONE)
        json_u64(j, "acknowledges", e->acknowledged);
    else
        json_null(j, "acknowledges");
    if (e->found) {
        least_and_most(e, &least_ns, &most_ns);
        json_text(j, "stamped_at", e->at_end ? "end" : "start");
        json_i64(j, "stamped_ns", e->stamped_ns - zero_ns);
        json_i64(j, "stamp_uncertainty_ns", e->half_ns);
        json_bool(j, "stamp_uncertainty_given", e->given);
        json_bool(j, "host_time", e->host_time);
        json_bool(j, "length_measured", e->measured);
        json_i64(j, "length_least_ns", least_ns);
        json_i64(j, "length_most_ns", most_ns);
        json_i64(j, "unheard_ns", e->unheard_ns);
    }
    json_object_end(j);
}

static void limit_json(struct json *j, const char *key, bool has, int64_t ns)
{
    if (has)
        json_i64(j, key, ns);
    else
        json_null(j, key);
}

void explain_edges_json(const struct explain *x)
{
    static const char *const fits[] = { "inside", "below", "above", "straddles" };
    const struct finding    *f = x->finding;
    struct window            w = explain_window(f);
    struct json             *j = x->json;
    int64_t                  high_ns = f->span.to.late_ns - f->span.from.early_ns;

    if (!f->has_span) {
        json_null(j, "worked_out");
        return;
    }
    json_object(j, "worked_out");
    part_json(j, "from", &x->edges[0], x->check->zero_ns);
    part_json(j, "to", &x->edges[1], x->check->zero_ns);
    json_i64(j, "between_low_ns", f->span.to.early_ns - f->span.from.late_ns);
    json_i64(j, "between_high_ns", high_ns);
    if (f->span.has_clock)
        json_i64(j, "clock_ns", f->span.high_ns - high_ns);
    else
        json_null(j, "clock_ns");
    json_i64(j, "low_ns", f->span.low_ns);
    json_i64(j, "high_ns", f->span.high_ns);
    limit_json(j, "window_low_ns", w.has_low, w.low_ns);
    limit_json(j, "window_high_ns", w.has_high, w.high_ns);
    json_text(j, "fit", fits[span_fit(&f->span, &w)]);
    json_object_end(j);
}
