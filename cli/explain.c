#define _POSIX_C_SOURCE 200809L /* S_ISREG, stat */
#include "cli/explain.h"

#include "cli/check_json.h"
#include "cli/check_text.h"
#include "cli/fault_text.h"
#include "cli/finding_text.h"
#include "cli/requirement.h"
#include "cli/time_text.h"
#include "cli/trace_head.h"
#include "cli/trace_json.h"

#include <inttypes.h>
#include <stdlib.h>
#include <sys/stat.h>

enum { FRAMES_COLUMN = 7, LABEL_COLUMN = 5, TEXT_COLUMN = 15 };

bool explain_possible(const char *path)
{
    struct stat s;

    if (strcmp(path, "-") != 0 && (stat(path, &s) != 0 || S_ISREG(s.st_mode)))
        return true;
    complain("%s: --explain reads the trace again and needs it as a file; save it, and name the file", subject_of(path));
    return false;
}

static bool finding_number(struct check *c, uint64_t number, struct finding *f)
{
    uint64_t at = 0, count = finding_list_count(&c->findings);

    finding_list_rewind(&c->findings);
    while (at != number && finding_list_next(&c->findings, f, &at))
        ;
    if (at == number && number > 0)
        return true;
    if (count == 0)
        complain("%s: there is no finding %" PRIu64 ": with these options check finds nothing to complain of", subject_of(c->path),
                 number);
    else
        complain("%s: there is no finding %" PRIu64 ": with these options check numbers them from 1 to %" PRIu64, subject_of(c->path),
                 number, count);
    return false;
}

static void seconds(struct out *o, int64_t ns)
{
    struct phrase p = phrase_empty();
    uint64_t      m = ns < 0 ? (uint64_t)0 - (uint64_t)ns : (uint64_t)ns;

    phrase_format(&p, "%s%" PRIu64 ".%09" PRIu64, ns < 0 ? "-" : "", m / 1000000000, m % 1000000000);
    out_text(o, p.text);
}

/* Under the line of a frame: when it began and ended, to the nanosecond. */
static void times_line(const struct explain *x, const struct show *s, bool rests)
{
    const struct record *r = s->record;
    struct out          *o = x->out;
    int64_t              at_ns = r->t_ns - s->zero_ns, span_ns = record_span_ns(r);

    if (rests) {
        out_spaces(o, FRAMES_COLUMN - 2);
        out_style(o, OUT_STRONG);
        out_text(o, "*");
        out_style(o, OUT_PLAIN);
    }
    out_style(o, OUT_QUIET);
    out_column(o, FRAMES_COLUMN);
    seconds(o, at_ns);
    if (span_ns > 0) {
        out_text(o, " to ");
        seconds(o, at_ns + span_ns);
        out_text(o, " s: ");
        out_short(o, span_ns, 3);
        out_text(o, r->duration_ns || r->kind == RECORD_POWER ? " us" : " us at the nominal rate, not measured");
    } else {
        out_text(o, " s");
    }
    if (r->soundness == RECORD_SOUND && r->flags & RECORD_END_TIME)
        out_text(o, ", stamped at its end");
    if (r->soundness == RECORD_SOUND && r->flags & RECORD_HOST_TIME)
        out_text(o, ", by the computer's clock");
    out_style(o, OUT_PLAIN);
    out_line(o);
}

static void left_out_line(struct out *o, uint64_t count)
{
    struct phrase p = phrase_empty();

    if (count == 0)
        return;
    phrase_format(&p, "... %" PRIu64 " frame%s of this port left out", count, count == 1 ? "" : "s");
    out_spaces(o, FRAMES_COLUMN);
    out_text(o, p.text);
    out_line(o);
}

static void row_text(const struct explain *x, struct show *s, const struct explain_row *row)
{
    left_out_line(x->out, row->left_out);
    show_line(s);
    times_line(x, s, row->rests);
    /* Nothing but the words decides where no time was measured. */
    if (s->options->verbose || (row->rests && !x->finding->has_span))
        show_detail(s);
}

static void row_json(const struct explain *x, const struct show *s, const struct explain_row *row)
{
    struct json *j = x->json;

    json_object(j, NULL);
    json_bool(j, "rests", row->rests);
    json_u64(j, "left_out_before", row->left_out);
    json_i64(j, "end_ns", s->record->t_ns - s->zero_ns + record_span_ns(s->record));
    show_json_keys(j, s);
    json_object_end(j);
}

static bool rows_tell(struct explain *x, struct show *s, struct trace_loop *l)
{
    const struct record *r;
    unsigned             at = 0;

    while (at < x->row_count && !out_gone(x->out) && trace_loop_next(l, &r)) {
        if (!show_take(s, r, trace_loop_stepped_back(l)))
            return false;
        if (r->soundness == RECORD_SOUND && r->kind == RECORD_POWER)
            s->power_steady = show_power_steady(s);
        if (x->finding->has_span)
            explain_edges_take(x, s);
        if (r->frame != x->rows[at].frame)
            continue;
        if (x->json)
            row_json(x, s, &x->rows[at]);
        else
            row_text(x, s, &x->rows[at]);
        at++;
    }
    return true;
}

static bool frames_tell(struct explain *x)
{
    const struct check *c = x->check;
    struct trace_loop   l;

    if (!trace_loop_open(&l, c->path, c->options, TRACE_LOOP_AGAIN))
        return false;
    struct show *s = show_new(c->options, &l);
    bool         done = s != NULL;

    if (s) {
        s->out = x->out;
        if (!x->json)
            show_heading(s);
        bench_set_limits(s->bench, bench_limits(engine_bench(c->engine)));
        done = trace_loop_about(&l, bench_about(s->bench)) && rows_tell(x, s, &l);
    }
    show_free(s);
    return trace_loop_close(&l) && done;
}

static void section(struct out *o, const char *title, const char *more)
{
    out_line(o);
    out_style(o, OUT_STRONG);
    out_text(o, title);
    out_style(o, OUT_PLAIN);
    out_text(o, more);
    out_line(o);
}

/* What was compared, where it was no time between edges. */
static void compared_text(const struct explain *x)
{
    const struct finding *f = x->finding;
    struct phrase         p = phrase_empty();

    section(x->out, "Decided by", "");
    finding_measured(&p, f);
    if (p.used && f->unit && f->unit[0])
        phrase_entry(x->out, LABEL_COLUMN, TEXT_COLUMN, "compared", p.text);
    if (f->parameter) {
        p = phrase_empty();
        phrase_format(&p, "%s, %s (source: ", f->parameter->name, f->parameter->meaning);
        parameter_source_phrase(&p, f->parameter);
        phrase_add(&p, ")");
        phrase_entry(x->out, LABEL_COLUMN, TEXT_COLUMN, "limit", p.text);
    }
    p = phrase_empty();
    finding_seen(&p, f);
    phrase_entry(x->out, LABEL_COLUMN, TEXT_COLUMN, "seen", p.text);
    p = phrase_empty();
    if (f->verdict == VERDICT_UNDECIDED)
        phrase_format(&p, "Not decided: %s.", cause_text(f->cause));
    else
        phrase_format(&p, "Every field of the frames marked * stands above; the demand is not met by %s.",
                      f->has_measured ? "that value" : "what they hold");
    phrase_entry(x->out, LABEL_COLUMN, TEXT_COLUMN, "decision", p.text);
}

static bool explain_text(struct explain *x)
{
    struct phrase head = phrase_empty();
    struct out   *o = x->out;

    phrase_format(&head, "Finding %" PRIu64 " of ", x->number);
    trace_phrase(&head, x->check->path, &x->check->facts);
    phrase_wrap(o, 0, head.text);
    head = phrase_empty();
    if (trace_caution_phrase(&head, &x->check->facts, x->check->options->about_path))
        phrase_wrap(o, 0, head.text);
    out_line(o);
    check_finding_text(o, x->check, x->finding, x->number);
    section(o, "Frames", ": it rests on those marked *; below each, start and end in seconds since the first record");
    if (!frames_tell(x))
        return false;
    if (x->finding->has_span)
        explain_edges_text(x);
    else
        compared_text(x);
    return true;
}

static void demand_json(struct json *j, const struct finding *f, const struct limits *l)
{
    struct phrase source = phrase_empty(), required = phrase_empty();

    requirement_phrase(&required, f->rule, limits_table(l));
    json_object(j, "demand");
    json_text(j, "requirement", required.text);
    json_text(j, "source", f->rule->source);
    json_text(j, "why", f->rule->why);
    if (f->parameter) {
        json_text(j, "parameter", f->parameter->name);
        parameter_source_phrase(&source, f->parameter);
        json_text(j, "parameter_source", source.text);
    } else {
        json_null(j, "parameter");
        json_null(j, "parameter_source");
    }
    json_object_end(j);
}

static bool explain_to_json(struct explain *x)
{
    struct json         j = json_over(x->out);
    const struct check *c = x->check;

    x->json = &j;
    json_object(&j, NULL);
    schema_json(&j);
    trace_json(&j, c->path, &c->facts, bench_about(engine_bench(c->engine)));
    json_u64(&j, "number", x->number);
    finding_json(&j, "finding", x->finding, c->zero_ns);
    demand_json(&j, x->finding, &c->settings->limits);
    json_array(&j, "frames");
    bool done = frames_tell(x);

    json_array_end(&j);
    explain_edges_json(x);
    if (c->options->about_path)
        json_text(&j, "about", c->options->about_path);
    json_object_end(&j);
    json_line(&j);
    return done;
}

bool explain_finding(struct out *o, struct check *c, uint64_t number)
{
    struct finding  f;
    struct explain *x;

    if (!finding_number(c, number, &f))
        return false;
    x = calloc(1, sizeof *x);
    if (!x) {
        complain("%s: out of memory; close something and try again", subject_of(c->path));
        return false;
    }
    x->check = c;
    x->finding = &f;
    x->number = number;
    x->out = o;
    x->edges[0].edge = f.span.from;
    x->edges[1].edge = f.span.to;
    x->edges[0].bench = x->edges[1].bench = engine_bench(c->engine);
    bool done = explain_choose(x) && (c->options->json ? explain_to_json(x) : explain_text(x));

    free(x);
    return done;
}
