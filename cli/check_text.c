#include "cli/check_text.h"

#include "cli/fault_text.h"
#include "cli/finding_text.h"
#include "cli/offers_text.h"
#include "cli/requirement.h"
#include "cli/time_text.h"
#include "cli/trace_head.h"
#include "cli/who.h"

#include <inttypes.h>

enum { GROUP_COLUMN = 2, LABEL_COLUMN = 5, TEXT_COLUMN = 15, FINDING_COLUMN = 5, SEEN_COLUMN = 15, VERDICT_COLUMN = 11,
       TIME_END = 20, POINT_COLUMN = 22, OBJECT_COLUMN = 38, END_COLUMN = 58 };

/* Where a finding is told, in the order of the sections. */
enum section { SECTION_NOT_MET, SECTION_UNDECIDED, SECTION_SHOULD, SECTION_OTHERS, SECTION_NOTES, SECTIONS };

struct section_text { const char *title, *more; };
static const struct section_text sections[SECTIONS] = {
    [SECTION_NOT_MET] = { "Not met", NULL },
    [SECTION_UNDECIDED] = { "Not decided", "the recording does not say enough" },
    [SECTION_SHOULD] = { "Could be better", "recommended, never a reason to fail" },
    [SECTION_OTHERS] = { "Partner, cable and link", "not held against the device" },
    [SECTION_NOTES] = { "Noted", "held against nobody" },
};

/* How many findings each rule has in each section, and whether any is there. */
struct section_counts {
    uint64_t n[SECTIONS][RULES_MAX];
    uint64_t all[SECTIONS];
};

static enum section section_of(const struct check *c, const struct finding *f)
{
    bool binding = f->rule->level == LEVEL_MUST || f->rule->level == LEVEL_CLAIM;

    if (!check_decides(c, f))
        return SECTION_OTHERS;
    if (f->rule->level == LEVEL_NOTE)
        return SECTION_NOTES;
    if (f->verdict == VERDICT_UNDECIDED)
        return SECTION_UNDECIDED;
    return binding ? SECTION_NOT_MET : SECTION_SHOULD;
}

static void sections_count(struct check *c, struct section_counts *counts)
{
    struct finding f;
    uint64_t       number;

    memset(counts, 0, sizeof *counts);
    finding_list_rewind(&c->findings);
    while (finding_list_next(&c->findings, &f, &number)) {
        enum section s = section_of(c, &f);

        counts->n[s][check_rule_number(c, &f)]++;
        counts->all[s]++;
    }
}

static enum out_style verdict_style(unsigned verdict)
{
    static const enum out_style styles[] = { OUT_GOOD, OUT_BAD, OUT_DOUBT, OUT_QUIET };

    return verdict < 4 ? styles[verdict] : OUT_PLAIN;
}

static const char *const verdict_words[] = { "PASS", "FAIL", "UNDECIDED", "NOT SEEN" };

/* The verdict in a word, and whose it is. */
static void verdict_out(struct out *o, const struct check *c)
{
    struct phrase p = phrase_empty();

    out_style(o, verdict_style(c->verdict));
    out_text(o, verdict_words[c->verdict]);
    out_style(o, OUT_PLAIN);
    out_column(o, VERDICT_COLUMN);
    if (!device_phrase(&p, bench_about(engine_bench(c->engine))))
        phrase_add(&p, subject_of(c->path));
    out_style(o, OUT_STRONG);
    out_clean(o, p.text, p.used);
    out_style(o, OUT_PLAIN);
}

static void limits_line(struct out *o, const struct check *c)
{
    struct phrase p = phrase_empty();

    if (!c->settings->limits.path)
        return;
    limits_phrase(&p, &c->settings->limits);
    phrase_wrap(o, VERDICT_COLUMN, p.text);
}

void check_line(struct out *o, const struct check *c)
{
    struct phrase p = phrase_empty();

    verdict_out(o, c);
    if (device_phrase(&p, bench_about(engine_bench(c->engine)))) {
        const char *path = subject_of(c->path);

        out_text(o, "  ");
        out_clean(o, path, strlen(path));
    }
    if (c->settings->limits.path) {
        out_text(o, "  limits by ");
        out_clean(o, c->settings->limits.path, strlen(c->settings->limits.path));
    }
    out_line(o);
}

/* Rules of must and claim that failed, or could not be decided, about those who are judged. */
static unsigned binding_rules(const struct check *c, const struct section_counts *counts, enum section s)
{
    unsigned n = 0;

    for (unsigned k = 0; k < c->settings->rules.count; k++)
        if (counts->n[s][k] &&
            (c->settings->rules.rows[k].level == LEVEL_MUST || c->settings->rules.rows[k].level == LEVEL_CLAIM))
            n++;
    return n;
}

/* The same in one sentence, so that the word needs no explaining. */
static void verdict_reason(struct phrase *p, const struct check *c, const struct section_counts *counts)
{
    unsigned failed = binding_rules(c, counts, SECTION_NOT_MET);
    unsigned undecided = binding_rules(c, counts, SECTION_UNDECIDED);

    if (c->verdict == VERDICT_FAIL) {
        phrase_count(p, failed, "demand is not met.", "demands are not met.");
        return;
    }
    if (c->verdict == VERDICT_PASS) {
        phrase_add(p, "Every demand that this recording puts to the test is met.");
        return;
    }
    if (undecided == 0) {
        phrase_add(p, "Nothing in this recording puts the device to the test.");
        return;
    }
    phrase_add(p, "Nothing failed, but ");
    phrase_count(p, undecided, "demand could not be decided.", "demands could not be decided.");
}

static const char *missing_text(unsigned bit)
{
    switch ((enum evidence)bit) {
    case EVIDENCE_VBUS:            return "VBUS was not recorded";
    case EVIDENCE_IBUS:            return "the current (IBUS) was not recorded";
    case EVIDENCE_CC:              return "the state of CC was not recorded";
    case EVIDENCE_EDGES:           return "the CC line was not recorded edge by edge";
    case EVIDENCE_PORTS:           return "no other port was recorded";
    case EVIDENCE_VBUS_RATE:       return "VBUS was read too seldom";
    case EVIDENCE_IBUS_RATE:       return "the current (IBUS) was read too seldom";
    case EVIDENCE_DURATIONS:       return "the lengths of packets were not measured";
    case EVIDENCE_INSTRUMENT_TIME: return "times are the computer's, not the instrument's";
    case EVIDENCE_WIRE:            return "put together from what a kernel told, and no wire was seen";
    }
    return "a reading is missing";
}

/* Entries of one port for readings that are too far apart, from *k on: one sentence. */
static void too_seldom_text(struct out *o, const struct check *c, const char *name, unsigned *k, struct unjudged *u)
{
    struct phrase p = phrase_empty();
    const bool   *told = c->settings->rules.told;
    unsigned      port = u->port;

    phrase_format(&p, "%s: VBUS was read too seldom for some rules to pass, though they can fail:", name);
    do {
        phrase_format(&p, " %u need%s it every ", u->rules, u->rules == 1 ? "s" : "");
        spacing_text(&p, u->needs_ns);
        phrase_add(&p, " (here every ");
        spacing_text(&p, u->has_ns);
        phrase_add(&p, ")");
        ++*k;
        if (!engine_unjudged(c->engine, told, *k, u) || u->port != port || u->missing != EVIDENCE_VBUS_RATE)
            break;
        phrase_add(&p, ",");
    } while (true);
    phrase_add(&p, ".");
    phrase_wrap(o, VERDICT_COLUMN, p.text);
}

static void unjudged_text(struct out *o, const struct check *c)
{
    struct unjudged u;

    for (unsigned k = 0; engine_unjudged(c->engine, c->settings->rules.told, k, &u);) {
        struct phrase p = phrase_empty();
        char          name[40];

        if (!check_has_port(c, u.port)) {
            k++;
            continue;
        }
        port_name(about_port(bench_about(engine_bench(c->engine)), u.port), u.port, name, sizeof name);
        if (u.missing == EVIDENCE_VBUS_RATE) {
            too_seldom_text(o, c, name, &k, &u);
            continue;
        }
        k++;
        phrase_format(&p, "%s: %s; %u rule%s that need%s it cannot be judged on this recording.", name, missing_text(u.missing), u.rules,
                      u.rules == 1 ? "" : "s", u.rules == 1 ? "s" : "");
        phrase_wrap(o, VERDICT_COLUMN, p.text);
    }
}

static void head(struct out *o, const struct check *c, const struct section_counts *counts)
{
    struct phrase p = phrase_empty();

    verdict_out(o, c);
    out_line(o);
    verdict_reason(&p, c, counts);
    phrase_wrap(o, VERDICT_COLUMN, p.text);
    p = phrase_empty();
    trace_phrase(&p, c->path, &c->facts);
    phrase_wrap(o, VERDICT_COLUMN, p.text);
    p = phrase_empty();
    if (trace_caution_phrase(&p, &c->facts, c->options->about_path))
        phrase_wrap(o, VERDICT_COLUMN, p.text);
    limits_line(o, c);
    unjudged_text(o, c);
}

/* What the rule demands, from where, and why: once for all its findings; told: it stands above already. */
static void rule_head(struct out *o, const struct rule *r, const struct limits *l, bool told)
{
    struct phrase required = phrase_empty();

    out_spaces(o, GROUP_COLUMN);
    out_style(o, OUT_STRONG);
    out_text(o, r->id);
    out_style(o, OUT_PLAIN);
    out_text(o, " (");
    out_text(o, level_name(r->level));
    out_text(o, ")  ");
    phrase_wrap(o, LABEL_COLUMN, r->title);
    if (told)
        return;
    requirement_phrase(&required, r, limits_table(l));
    phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "required", required.text);
    phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "source", r->source);
    phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "matters", r->why);
}

/* "the device, as source", "its partner, as sink", "the cable", "nobody can be named" */
static void whom_phrase(struct phrase *p, const struct finding *f)
{
    const char *who = whom_name(f->whom);

    switch ((enum party)f->party) {
    case PARTY_DEVICE:  phrase_format(p, "the device (%s)", who); return;
    case PARTY_PARTNER: phrase_format(p, "its partner (%s)", who); return;
    case PARTY_CABLE:   phrase_add(p, "the cable"); return;
    case PARTY_LINK:    phrase_add(p, "the link (nobody can be named)"); return;
    }
}

static void evidence_phrase(struct phrase *p, const struct finding *f)
{
    if (f->evidence_count == 0 || (f->evidence_count == 1 && f->evidence[0] == f->frame))
        return;
    phrase_add(p, "; rests on frames ");
    for (unsigned k = 0; k < f->evidence_count; k++) {
        phrase_between(p, k, f->evidence_count, "and");
        phrase_u64(p, f->evidence[k]);
    }
}

static void finding_out(struct out *o, const struct check *c, const struct finding *f, uint64_t number)
{
    struct phrase p = phrase_empty();
    char          name[40];

    out_spaces(o, FINDING_COLUMN);
    out_style(o, f->verdict == VERDICT_FAIL && f->rule->level != LEVEL_NOTE ? OUT_BAD : OUT_DOUBT);
    phrase_format(&p, "#%" PRIu64, number);
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
    p = phrase_empty();
    port_name(about_port(bench_about(engine_bench(c->engine)), f->port), f->port, name, sizeof name);
    phrase_format(&p, "%s, frame %" PRIu64 ", ", name, f->frame);
    time_text(&p, f->t_ns - c->zero_ns);
    phrase_add(&p, ", ");
    whom_phrase(&p, f);
    evidence_phrase(&p, f);
    out_column(o, SEEN_COLUMN);
    phrase_wrap(o, SEEN_COLUMN, p.text);
    p = phrase_empty();
    finding_seen(&p, f);
    phrase_wrap(o, SEEN_COLUMN, p.text);
    p = phrase_empty();
    finding_measured(&p, f);
    if (p.used)
        phrase_wrap(o, SEEN_COLUMN, p.text);
    p = phrase_empty();
    if (f->verdict == VERDICT_UNDECIDED) {
        phrase_format(&p, "Not decided: %s.", cause_text(f->cause));
        phrase_wrap(o, SEEN_COLUMN, p.text);
    }
}

void check_finding_text(struct out *o, const struct check *c, const struct finding *f, uint64_t number)
{
    rule_head(o, f->rule, &c->settings->limits, false);
    finding_out(o, c, f, number);
}

static void rule_findings(struct out *o, struct check *c, enum section section, unsigned rule, const struct section_counts *counts,
                          bool all)
{
    bool told = false;

    for (unsigned s = 0; s < section; s++)
        told = told || counts->n[s][rule] > 0;
    uint64_t count = counts->n[section][rule];
    struct finding f;
    uint64_t       number, shown = 0, most = all ? count : FINDINGS_SHOWN;

    rule_head(o, &c->settings->rules.rows[rule], &c->settings->limits, told);
    finding_list_rewind(&c->findings);
    while (shown < most && finding_list_next(&c->findings, &f, &number)) {
        if (check_rule_number(c, &f) != rule || section_of(c, &f) != section)
            continue;
        finding_out(o, c, &f, number);
        shown++;
    }
    if (shown < count) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "and %" PRIu64 " more like %s; -v shows them", count - shown, shown == 1 ? "it" : "these");
        out_spaces(o, SEEN_COLUMN);
        out_text(o, p.text);
        out_line(o);
    }
    out_line(o);
}

static void section_out(struct out *o, struct check *c, const struct section_counts *counts, enum section s, bool all)
{
    if (counts->all[s] == 0)
        return;
    out_style(o, OUT_STRONG);
    out_text(o, sections[s].title);
    out_style(o, OUT_PLAIN);
    if (sections[s].more) {
        out_text(o, ": ");
        out_text(o, sections[s].more);
    }
    out_line(o);
    for (int binding = 1; binding >= 0; binding--)
        for (unsigned k = 0; k < c->settings->rules.count; k++) {
            unsigned level = c->settings->rules.rows[k].level;

            if (counts->n[s][k] && (level == LEVEL_MUST || level == LEVEL_CLAIM) == (binding == 1))
                rule_findings(o, c, s, k, counts, all);
        }
}

static void left_out_text(struct out *o, const struct check *c)
{
    uint64_t      listed = finding_list_count(&c->findings);
    struct phrase p = phrase_empty();

    if (c->told_findings <= listed)
        return;
    phrase_format(&p, "%" PRIu64 " more findings are counted, not kept: of each rule and port the first %" PRIu64
                      " are. --findings all keeps every one.", c->told_findings - listed, c->settings->findings_limit);
    phrase_wrap(o, 0, p.text);
    out_line(o);
}

static void operating_point(struct phrase *p, const struct contract *k)
{
    phrase_short(p, k->mv, 3);
    phrase_add(p, " V ");
    phrase_short(p, k->supply == SUPPLY_BATTERY ? k->mw : k->ma, 3);
    phrase_add(p, k->supply == SUPPLY_BATTERY ? " W" : " A");
}

static void contract_out(struct out *o, const struct contract *k, int64_t zero_ns)
{
    static const char *const ends[] = {
        "renegotiated", "Hard Reset", "roles swapped", "EPR mode left", "VBUS lost", "detached", "trace ends",
    };
    struct phrase when = phrase_empty(), point = phrase_empty(), which = phrase_empty(), end = phrase_empty();

    time_text(&when, k->t_ns - zero_ns);
    out_column(o, when.used < TIME_END ? TIME_END - when.used : LABEL_COLUMN);
    out_text(o, when.text);
    out_column(o, POINT_COLUMN);
    operating_point(&point, k);
    out_text(o, point.text);
    out_column(o, OBJECT_COLUMN);
    phrase_format(&which, "object %u, %s", k->position, k->supply == SUPPLY_RESERVED ? "unknown" : supply_text(k->supply));
    out_text(o, which.text);
    out_column(o, END_COLUMN);
    phrase_add(&end, "for ");
    span_text(&end, k->until_ns - k->t_ns);
    if (k->renewed)
        phrase_format(&end, ", renewed %" PRIu32 " x", k->renewed);
    phrase_format(&end, "; %s", k->ended_by < sizeof ends / sizeof ends[0] ? ends[k->ended_by] : "");
    phrase_wrap(o, END_COLUMN, end.text);
}

static void port_contracts(struct out *o, const struct check *c, unsigned port, const struct contracts *list)
{
    size_t   shown = c->options->verbose || list->count <= CONTRACTS_SHOWN ? list->count : CONTRACTS_SHOWN;
    uint64_t all = list->count + list->left_out;
    char     name[40];

    port_name(about_port(bench_about(engine_bench(c->engine)), (uint8_t)port), port, name, sizeof name);
    out_spaces(o, GROUP_COLUMN);
    out_clean(o, name, strlen(name));
    out_line(o);
    for (size_t k = 0; k < shown; k++)
        contract_out(o, &list->items[k], c->zero_ns);
    if (shown < all) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "%" PRIu64 " more; ", all - shown);
        if (c->options->verbose)
            phrase_add(&p, "--since picks a part");
        else if (list->left_out)
            phrase_format(&p, "-v shows the first %zu, --since picks a part", list->count);
        else
            phrase_add(&p, "-v shows them");
        out_spaces(o, LABEL_COLUMN);
        out_text(o, p.text);
        out_line(o);
    }
}

static void contracts_text(struct out *o, const struct check *c)
{
    bool any = false;

    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct port_record *r = collector_port(&c->collector, port);

        if (!r || r->contracts.count == 0)
            continue;
        if (!any) {
            out_style(o, OUT_STRONG);
            out_text(o, "Contracts");
            out_style(o, OUT_PLAIN);
            out_line(o);
        }
        any = true;
        port_contracts(o, c, port, &r->contracts);
    }
    if (!any) {
        out_text(o, "No contract was made.");
        out_line(o);
    }
}

static void every_rule(struct out *o, const struct check *c)
{
    out_style(o, OUT_STRONG);
    out_text(o, "Every rule");
    out_style(o, OUT_PLAIN);
    out_column(o, 38);
    out_text(o, "level   about   verdict     passed   failed  undecided");
    out_line(o);
    for (unsigned k = 0; k < engine_rules(c->engine); k++) {
        struct result r = engine_result(c->engine, k);

        if (!check_tells(c, k))
            continue;
        out_spaces(o, GROUP_COLUMN);
        out_text(o, r.rule->id);
        out_column(o, 38);
        out_text_wide(o, level_name(r.rule->level), 8);
        out_text_wide(o, r.rule->whom == WHO_EACH ? "each" : whom_name(r.whom), 8);
        out_style(o, verdict_style(r.verdict));
        out_text_wide(o, verdict_name(r.verdict), 10);
        out_style(o, OUT_PLAIN);
        out_u64_wide(o, r.counts.passed, 8);
        out_u64_wide(o, r.counts.failed, 9);
        out_u64_wide(o, r.counts.undecided, 11);
        out_line(o);
    }
    out_line(o);
}

static void tally(struct out *o, const struct check *c)
{
    unsigned      n[4] = { 0 }, told = 0;
    struct phrase p = phrase_empty();

    for (unsigned k = 0; k < engine_rules(c->engine); k++)
        if (check_tells(c, k)) {
            n[engine_result(c->engine, k).verdict % 4]++;
            told++;
        }
    if (told < engine_rules(c->engine))
        phrase_format(&p, "%u of the %u rules that this build judges were asked for (the catalogue has %u): ", told,
                      engine_rules(c->engine), (unsigned)RULE_CATALOGUE_SIZE);
    else
        phrase_format(&p, "This build judges %u of the %u rules of its catalogue: ", told, (unsigned)RULE_CATALOGUE_SIZE);
    phrase_format(&p, "%u passed, %u failed, %u undecided, %u had no occasion.", n[VERDICT_PASS], n[VERDICT_FAIL], n[VERDICT_UNDECIDED],
                  n[VERDICT_NOT_SEEN]);
    phrase_wrap(o, 0, p.text);
}

void check_head_text(struct out *o, struct check *c)
{
    struct section_counts counts;

    sections_count(c, &counts);
    head(o, c, &counts);
}

void check_text(struct out *o, struct check *c, bool all_findings)
{
    struct section_counts counts;

    sections_count(c, &counts);
    head(o, c, &counts);
    out_line(o);
    for (unsigned s = 0; s < SECTIONS; s++)
        section_out(o, c, &counts, s, all_findings || c->options->verbose);
    left_out_text(o, c);
    if (c->options->verbose)
        every_rule(o, c);
    contracts_text(o, c);
    out_line(o);
    tally(o, c);
}
