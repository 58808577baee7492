#include "cli/check_run.h"

#include "cli/behaviour.h"
#include "cli/check_early.h"
#include "cli/check_follow.h"
#include "cli/fault_text.h"
#include "cli/rule_names.h"
#include "cli/volts.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The index is what struct engine_options wants: 0 as seen, then SINCE_R2, SINCE_R30, SINCE_R31, SINCE_R32. */
const char *const check_standards[] = { "seen", "2.0", "3.0", "3.1", "3.2", NULL };

bool check_words_given(const struct check_words *w)
{
    return w->findings || w->limits || w->standard || w->only.count || w->skip.count;
}

static void settings_default(struct check_settings *s)
{
    struct rule_choice *c = &s->rules;

    memset(s, 0, sizeof *s);
    s->findings_limit = FINDINGS_LIMIT;
    c->groups[0] = c->rows; /* ends with the row after the last, whose id is NULL */
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id && c->count < RULES_MAX; r++) {
            c->told[c->count] = true;
            c->rows[c->count++] = *r;
        }
}

static bool settings_limits(struct check_settings *s, const char *path)
{
    if (!limits_read(&s->limits, path))
        return false;
    for (unsigned r = 0; r < s->rules.count; r++)
        s->rules.rows[r].level = (uint8_t)limits_level(&s->limits, &s->rules.rows[r]);
    return true;
}

void check_settings_free(struct check_settings *s)
{
    if (s)
        limits_free(&s->limits);
    free(s);
}

static bool findings_read(const char *command, const char *text, uint64_t *limit)
{
    char *end = NULL;

    if (!text)
        return true;
    if (strcmp(text, "all") == 0) {
        *limit = FINDINGS_ALL;
        return true;
    }
    errno = 0;
    unsigned long long n = *text >= '0' && *text <= '9' ? strtoull(text, &end, 10) : 0;

    if (n == 0 || errno != 0 || *end) {
        complain("%s: --findings %s: a number from 1 on, or all, is expected", command, text);
        return false;
    }
    *limit = n;
    return true;
}

/* Marks the rules that one of these names means. False: one of them means none. */
static bool names_mark(const struct rule_choice *c, const char *const *names, unsigned count, const char *option, bool *marked)
{
    for (unsigned k = 0; k < count; k++) {
        const char *at = names[k];

        while (*at) {
            size_t length = strcspn(at, ",");
            bool   any = false;

            for (unsigned r = 0; r < c->count; r++)
                if (rule_is_meant(c->rows[r].id, at, length)) {
                    marked[r] = true;
                    any = true;
                }
            if (!any && length > 0) {
                rule_name_complain(option, at, length);
                return false;
            }
            at += length + (at[length] == ',');
        }
    }
    return true;
}

/* Keeps the rules of --only and drops those of --skip. False: one line on standard error named what no rule is called. */
static bool choice_apply(struct rule_choice *c, const struct option_list *only, const struct option_list *skip)
{
    bool wanted[RULES_MAX] = { false }, skipped[RULES_MAX] = { false };

    if (!names_mark(c, only->items, only->count, "--only", wanted) || !names_mark(c, skip->items, skip->count, "--skip", skipped))
        return false;
    for (unsigned r = 0; r < c->count; r++) {
        c->told[r] = (only->count == 0 || wanted[r]) && !skipped[r];
        if (!c->told[r])
            c->rows[r].level = LEVEL_NOTE; /* told to nobody, held against nobody */
    }
    return true;
}

bool check_settings_read(struct check_settings *s, const char *command, const struct check_words *w)
{
    settings_default(s);
    s->standard = (uint8_t)w->standard;
    return findings_read(command, w->findings, &s->findings_limit) && settings_limits(s, w->limits) &&
           choice_apply(&s->rules, &w->only, &w->skip);
}

unsigned check_rule_number(const struct check *c, const struct finding *f)
{
    return (unsigned)(f->rule - c->settings->rules.rows);
}

bool check_tells(const struct check *c, unsigned k)
{
    return c->settings->rules.told[k];
}

bool check_decides(const struct check *c, const struct finding *f)
{
    if (c->settings->judged_whom)
        return c->settings->judged_whom >> f->whom & 1;
    return f->party == PARTY_DEVICE;
}

bool check_has_port(const struct check *c, unsigned port)
{
    return bench_port(engine_bench(c->engine), port) && (!c->options->ports.given || c->options->ports.wanted[port]);
}

static void take_finding(void *context, const struct finding *f)
{
    struct check *c = context;

    if (!check_tells(c, check_rule_number(c, f)))
        return;
    if (c->early && early_send(c->early, f))
        return;
    finding_list_add(&c->findings, f);
    if (c->early && !(f->verdict == VERDICT_FAIL && early_told(c->early, f)))
        check_follow(c->settings->follow, c, f);
}

static void take_timing(void *context, unsigned port, unsigned rule, const struct span *span, const struct window *window)
{
    struct check *c = context;

    if (check_tells(c, rule))
        timings_take(c->timings, port, rule, span, window);
}

static void take_volts(void *context, const struct volt_line *line)
{
    struct check *c = context;

    volts_take_line(c->volts, line);
}

static void take_load_step(void *context, const struct volt_step *step)
{
    struct check *c = context;

    volts_take_step(c->volts, step);
}

static struct engine_options options_for_engine(struct check *c, const struct trace_loop *l)
{
    struct engine_options o = {
        .ports_given = c->options->ports.given, .since_ns = l->since_ns, .until_ns = l->until_ns,
        .judged_whom = c->settings->judged_whom, .standard = c->settings->standard, .groups = c->settings->rules.groups,
        .parameters = limits_table(&c->settings->limits),
        .finding = take_finding, .context = c,
    };

    if (c->settings->timings)
        o.timing = take_timing;
    if (c->settings->volts) {
        o.volts = take_volts;
        o.load_step = take_load_step;
    }
    memcpy(o.ports, c->options->ports.wanted, sizeof o.ports);
    return o;
}

static bool out_of_memory(const struct check *c)
{
    complain("%s: out of memory; close something and try again", subject_of(c->path));
    return false;
}

/* Whoever follows is told what fails so far while nothing comes. */
static int look_early(void *context)
{
    struct check *c = context;

    return early_look(c->early, c, trace_loop_end_ns(c->loop));
}

static bool follow_start(struct check *c, struct trace_loop *l)
{
    if (!c->settings->follow)
        return true;
    c->early = early_new();
    c->loop = l;
    l->idle = look_early;
    l->idle_context = c;
    return c->early || out_of_memory(c);
}

static bool feed_all(struct check *c, struct trace_loop *l)
{
    const struct record *r;

    while (trace_loop_next(l, &r)) {
        if (!engine_feed(c->engine, r, trace_loop_stepped_back(l)))
            return out_of_memory(c);
        if (c->early)
            early_feed(c->early);
        if (c->timings && r->kind == RECORD_MARK && r->soundness == RECORD_SOUND && r->mark.subject == RECORD_PORT_NONE)
            timings_bench_mark(c->timings, r->t_ns);
    }
    engine_end(c->engine, trace_loop_end_ns(l));
    if (c->early)
        early_end(c->early, c);
    if (c->collector.failed || (c->timings && timings_failed(c->timings)) || (c->volts && volts_failed(c->volts)) ||
        (c->behaviour && behaviour_failed(c->behaviour)))
        return out_of_memory(c);
    if (!finding_list_sort(&c->findings)) {
        complain("%s: findings cannot be kept in a temporary file: %s; make room there, or leave --findings all out",
                 subject_of(c->path), strerror(errno ? errno : ENOMEM));
        return false;
    }
    return true;
}

static void count_up(struct check *c)
{
    for (unsigned k = 0; k < engine_rules(c->engine); k++)
        if (check_tells(c, k)) {
            struct result r = engine_result(c->engine, k);

            c->told_findings += r.counts.failed + r.counts.undecided;
        }
    c->verdict = engine_verdict(c->engine);
}

/* Everybody who listens beside the rules. */
static bool watch_all(struct check *c, const struct trace_loop *l)
{
    const bool *ports = c->options->ports.given ? c->options->ports.wanted : NULL;

    collector_watch(&c->collector, engine_bench(c->engine), ports, l->since_ns, l->until_ns, false);
    if (c->settings->volts && !(c->volts = volts_new()))
        return out_of_memory(c);
    if (c->settings->behaviour &&
        !(c->behaviour = behaviour_new(engine_bench(c->engine), ports, l->since_ns, l->until_ns)))
        return out_of_memory(c);
    if (!c->settings->timings)
        return true;
    c->timings = timings_new(engine_bench(c->engine), ports, l->since_ns, l->until_ns);
    return c->timings || out_of_memory(c);
}

bool check_run(struct check *c, const char *path, const struct options *options, const struct check_settings *settings)
{
    struct trace_loop l;

    *c = (struct check){ .path = path, .options = options, .settings = settings };
    if (!trace_loop_open(&l, path, options, TRACE_LOOP_NAME_UNSOUND | (settings->follow ? TRACE_LOOP_LIVE : TRACE_LOOP_PROGRESS)))
        return false;
    c->zero_ns = l.zero_ns;
    struct engine_options engine_options = options_for_engine(c, &l);

    finding_list_start(&c->findings, settings->findings_limit);
    c->engine = engine_new(&engine_options);
    bool done = c->engine ? trace_loop_about(&l, bench_about(engine_bench(c->engine))) : out_of_memory(c);

    if (done) {
        bench_default_time(engine_bench(c->engine), l.facts->default_time_ns);
        done = watch_all(c, &l) && follow_start(c, &l) && feed_all(c, &l);
        c->facts = *l.facts;
    }
    done = trace_loop_close(&l) && done;
    if (done)
        count_up(c);
    else
        check_free(c);
    return done;
}

void check_free(struct check *c)
{
    collector_free(&c->collector);
    finding_list_free(&c->findings);
    timings_free(c->timings);
    volts_free(c->volts);
    behaviour_free(c->behaviour);
    early_free(c->early);
    c->early = NULL;
    engine_free(c->engine);
    c->engine = NULL;
}
