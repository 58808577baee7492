/* portassay rules: the catalogue of rules, one rule, or the numbers they go by. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/json_out.h"
#include "cli/limits_file.h"
#include "cli/options.h"
#include "cli/phrase.h"
#include "cli/requirement.h"
#include "cli/rule_names.h"

#include "rules/engine.h"
#include "rules/limits.h"
#include "rules/parameter.h"

#include <stdlib.h>

enum { LEVEL_COLUMN = 36, TITLE_COLUMN = 44, LABEL_COLUMN = 2, TEXT_COLUMN = 16, VALUE_COLUMN = 30, MEANING_COLUMN = 56 };

struct rules_options { bool parameters; const char *limits; };

static const struct option_row rows[] = {
    { "parameters", 0, NULL, "every number the rules go by, with unit and source", OPTION_FLAG,
      offsetof(struct rules_options, parameters), NULL },
    { "limits", 0, "FILE", "numbers and levels as this file sets them (see check)", OPTION_TEXT,
      offsetof(struct rules_options, limits), NULL },
    { 0 },
};

static unsigned rules_count(void)
{
    unsigned n = 0;

    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            n++;
    return n;
}

static const char *whom_text(const struct rule *r)
{
    return r->whom == WHO_EACH ? "each" : whom_name(r->whom);
}

static const struct { unsigned bit; const char *text; } bases[] = {
    { BASIS_FOUND, "found in published code or text" }, { BASIS_MEMORY, "from memory" },
    { BASIS_SECONDARY, "secondary: a note about the standard" }, { BASIS_OURS, "ours" },
};
static const struct { unsigned bit; const char *name, *text; } evidences[] = {
    { EVIDENCE_VBUS, "vbus", "readings of VBUS" },
    { EVIDENCE_IBUS, "ibus", "readings of the current (IBUS)" },
    { EVIDENCE_CC, "cc", "the state of CC" },
    { EVIDENCE_EDGES, "edges", "the edges of the CC line" },
    { EVIDENCE_PORTS, "other_ports", "other ports recorded beside it" },
    { EVIDENCE_VBUS_RATE, "vbus_rate", "VBUS read often enough" },
    { EVIDENCE_IBUS_RATE, "ibus_rate", "the current read often enough" },
    { EVIDENCE_DURATIONS, "durations", "measured lengths of packets" },
    { EVIDENCE_INSTRUMENT_TIME, "instrument_time", "the instrument's own time stamps" },
};
enum { BASES = sizeof bases / sizeof bases[0], EVIDENCES = sizeof evidences / sizeof evidences[0] };

static void basis_phrase(struct phrase *p, unsigned basis)
{
    for (unsigned k = 0; k < BASES; k++)
        if (basis & bases[k].bit) {
            phrase_add(p, p->used ? "; partly " : "");
            phrase_add(p, bases[k].text);
        }
}

static void applies_phrase(struct phrase *p, unsigned applies)
{
    if (applies == APPLIES_ALL)
        phrase_add(p, "under every revision");
    else
        phrase_format(p, "where the partners agreed on revision %s", applies_name(applies));
}

static void evidence_phrase(struct phrase *p, const struct rule *r)
{
    unsigned bits = r->occasion_evidence | r->decision_evidence;

    phrase_add(p, "the messages");
    for (unsigned k = 0; k < EVIDENCES; k++)
        if (bits & evidences[k].bit)
            phrase_format(p, ", %s", evidences[k].text);
}

static void entry(struct out *o, const char *label, const char *text)
{
    out_spaces(o, LABEL_COLUMN);
    out_style(o, OUT_QUIET);
    out_text(o, label);
    out_style(o, OUT_PLAIN);
    out_column(o, TEXT_COLUMN);
    phrase_wrap(o, TEXT_COLUMN, text && *text ? text : "-");
}

static void silences_phrase(struct phrase *p, const struct rule *r)
{
    for (const char *const *id = r->silenced_by; id && *id; id++)
        phrase_format(p, "%s%s", p->used ? ", " : "", *id);
}

static void before_phrase(struct phrase *p, const struct parameter *q, const struct limits *l)
{
    const struct parameter *before = limits_before(l, q);

    if (!before)
        return;
    phrase_format(p, " by %s, instead of ", l->path);
    parameter_phrase(p, before);
}

static void parameter_of_rule(struct phrase *p, const char *name, const struct limits *l)
{
    const struct parameter *q = parameter_in(limits_table(l), name);

    phrase_format(p, "%s = ", name);
    if (!q)
        return;
    parameter_phrase(p, q);
    before_phrase(p, q, l);
    phrase_format(p, ", %s (%s)", q->meaning, q->source);
}

static void rule_text(struct out *o, const struct rule *r, const struct limits *l)
{
    struct phrase about = phrase_empty(), basis = phrase_empty(), needs = phrase_empty(), silences = phrase_empty(),
                  required = phrase_empty();

    out_style(o, OUT_STRONG);
    out_text(o, r->id);
    out_style(o, OUT_PLAIN);
    out_text(o, "  ");
    phrase_wrap(o, TEXT_COLUMN, r->title);
    out_line(o);
    requirement_phrase(&required, r, limits_table(l));
    entry(o, "required", required.text);
    entry(o, "matters", r->why);
    phrase_format(&about, "%s, about the %s, ", level_name(limits_level(l, r)),
                  r->whom == WHO_EACH ? "one who sent it, or owed it" : whom_name(r->whom));
    applies_phrase(&about, r->applies);
    if (limits_level(l, r) != r->level)
        phrase_format(&about, ", by %s instead of %s", l->path, level_name(r->level));
    entry(o, "level", about.text);
    entry(o, "source", r->source);
    basis_phrase(&basis, r->basis);
    entry(o, "basis", basis.text);
    evidence_phrase(&needs, r);
    entry(o, "needs", needs.text);
    entry(o, "undecided", r->undecided);
    silences_phrase(&silences, r);
    if (silences.used) {
        phrase_add(&silences, " (a failure there speaks for this one)");
        entry(o, "gives way to", silences.text);
    }
    entry(o, "at the bench", r->bench);
    for (const char *const *name = r->parameters; name && *name; name++) {
        struct phrase p = phrase_empty();

        parameter_of_rule(&p, *name, l);
        entry(o, name == r->parameters ? "parameters" : "", p.text);
    }
}

static void names_json(struct json *j, const char *key, const char *const *names)
{
    json_array(j, key);
    for (; names && *names; names++)
        json_text(j, NULL, *names);
    json_array_end(j);
}

static void parameter_json(struct json *j, const struct parameter *q, const struct limits *l)
{
    const struct parameter *before = limits_before(l, q);

    json_object(j, NULL);
    json_text(j, "name", q->name);
    parameter_sides_json(j, q);
    if (before) {
        json_object(j, "instead_of");
        parameter_sides_json(j, before);
        json_object_end(j);
    }
    json_text(j, "unit", q->unit);
    json_text(j, "meaning", q->meaning);
    json_text(j, "source", q->source);
    json_bool(j, "used", limit_matters(q->name));
    json_object_end(j);
}

static void parameters_of_json(struct json *j, const struct rule *r, const struct limits *l)
{
    json_array(j, "parameters");
    for (const char *const *name = r->parameters; name && *name; name++) {
        const struct parameter *q = parameter_in(limits_table(l), *name);

        if (q)
            parameter_json(j, q, l);
    }
    json_array_end(j);
}

static void rule_json(struct json *j, const struct rule *r, const struct limits *l)
{
    char          group[24];
    struct phrase required = phrase_empty();

    rule_group(r->id, group, sizeof group);
    json_object(j, NULL);
    json_text(j, "rule", r->id);
    json_text(j, "group", group);
    json_text(j, "level", level_name(limits_level(l, r)));
    json_text(j, "who", whom_text(r));
    json_text(j, "applies", applies_name(r->applies));
    json_text(j, "title", r->title);
    requirement_phrase(&required, r, limits_table(l));
    json_text(j, "requirement", required.text);
    json_text(j, "source", r->source);
    json_array(j, "basis");
    if (r->basis & BASIS_FOUND)
        json_text(j, NULL, "found");
    if (r->basis & BASIS_MEMORY)
        json_text(j, NULL, "memory");
    if (r->basis & BASIS_SECONDARY)
        json_text(j, NULL, "secondary");
    if (r->basis & BASIS_OURS)
        json_text(j, NULL, "ours");
    json_array_end(j);
    json_text(j, "why", r->why);
    json_text(j, "undecided", r->undecided);
    json_text(j, "bench", r->bench);
    json_array(j, "evidence");
    for (unsigned k = 0; k < EVIDENCES; k++)
        if ((r->occasion_evidence | r->decision_evidence) & evidences[k].bit)
            json_text(j, NULL, evidences[k].name);
    json_array_end(j);
    names_json(j, "gives_way_to", r->silenced_by);
    parameters_of_json(j, r, l);
    json_object_end(j);
}

static bool operand_means(const struct options *options, const struct rule *r)
{
    if (options->operand_count == 0)
        return true;
    for (unsigned k = 0; k < options->operand_count; k++)
        if (rule_is_meant(r->id, options->operands[k], strlen(options->operands[k])))
            return true;
    return false;
}

static bool operands_known(const struct options *options)
{
    for (unsigned k = 0; k < options->operand_count; k++) {
        const char *name = options->operands[k];
        bool        any = false;

        for (const struct rule *const *group = rules_groups; *group && !any; group++)
            for (const struct rule *r = *group; r->id && !any; r++)
                any = rule_is_meant(r->id, name, strlen(name));
        if (!any) {
            rule_name_complain(NULL, name, strlen(name));
            return false;
        }
    }
    return true;
}

static void list_line(struct out *o, const struct rule *r, const struct limits *l)
{
    out_spaces(o, LABEL_COLUMN);
    out_text(o, r->id);
    out_column(o, LEVEL_COLUMN);
    out_text(o, level_name(limits_level(l, r)));
    out_column(o, TITLE_COLUMN);
    phrase_wrap(o, TITLE_COLUMN, r->title);
}

static void catalogue_phrase(struct phrase *p)
{
    phrase_format(p, "This build judges %u of the %u rules of its catalogue.", rules_count(), (unsigned)RULE_CATALOGUE_SIZE);
}

static void list_text(struct out *o, const struct options *options, const struct limits *l)
{
    struct phrase p = phrase_empty();

    for (const struct rule *const *group = rules_groups; *group; group++) {
        bool any = false;

        for (const struct rule *r = *group; r->id; r++) {
            char name[24];

            if (!operand_means(options, r))
                continue;
            rule_group(r->id, name, sizeof name);
            if (!any) {
                out_style(o, OUT_STRONG);
                out_text(o, name);
                out_style(o, OUT_PLAIN);
                out_line(o);
            }
            any = true;
            list_line(o, r, l);
        }
        if (any)
            out_line(o);
    }
    catalogue_phrase(&p);
    phrase_add(&p, " " PORTASSAY_NAME " rules ID explains one, rules GROUP lists a group, rules --parameters the numbers.");
    phrase_wrap(o, 0, p.text);
}

static void rules_to_json(struct out *o, const struct options *options, const struct limits *l)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    json_i64(&j, "schema", 1);
    json_object(&j, "catalogue");
    json_u64(&j, "judged", rules_count());
    json_u64(&j, "of", RULE_CATALOGUE_SIZE);
    json_object_end(&j);
    json_array(&j, "rules");
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            if (operand_means(options, r))
                rule_json(&j, r, l);
    json_array_end(&j);
    limits_json(&j, l);
    json_object_end(&j);
    json_line(&j);
}

static void rules_to_text(struct out *o, const struct options *options, const struct limits *l)
{
    bool one = options->operand_count > 0;

    for (unsigned k = 0; k < options->operand_count; k++)
        one = one && rule_find(options->operands[k]);
    if (!one) {
        list_text(o, options, l);
        return;
    }
    for (unsigned k = 0; k < options->operand_count; k++) {
        if (k > 0)
            out_line(o);
        rule_text(o, rule_find(options->operands[k]), l);
    }
}

static void parameters_to_text(struct out *o, const struct limits *l)
{
    for (const struct parameter *q = limits_table(l); q->name; q++) {
        struct phrase value = phrase_empty(), source = phrase_empty(), before = phrase_empty();

        parameter_phrase(&value, q);
        before_phrase(&before, q, l);
        phrase_format(&source, "source: %s", q->source);
        out_style(o, OUT_STRONG);
        out_text(o, q->name);
        out_style(o, OUT_PLAIN);
        out_column(o, VALUE_COLUMN);
        out_text(o, value.text);
        out_column(o, MEANING_COLUMN);
        phrase_wrap(o, MEANING_COLUMN, q->meaning);
        if (before.used) {
            out_column(o, VALUE_COLUMN);
            phrase_wrap(o, VALUE_COLUMN, before.text + 1);
        }
        out_column(o, VALUE_COLUMN);
        phrase_wrap(o, VALUE_COLUMN, source.text);
        if (!limit_matters(q->name)) {
            out_column(o, VALUE_COLUMN);
            phrase_wrap(o, VALUE_COLUMN, "no rule of this build goes by it");
        }
    }
}

static void parameters_to_json(struct out *o, const struct limits *l)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    json_i64(&j, "schema", 1);
    json_array(&j, "parameters");
    for (const struct parameter *q = limits_table(l); q->name; q++)
        parameter_json(&j, q, l);
    json_array_end(&j);
    limits_json(&j, l);
    json_object_end(&j);
    json_line(&j);
}

static bool rules_print(const struct options *options, const struct rules_options *own)
{
    struct limits *l = malloc(sizeof *l);
    struct out    *o = NULL;

    if (!l)
        complain("rules: out of memory; close something and try again");
    if (l && limits_read(l, own->limits)) {
        o = out_open(options);
        if (o && own->parameters && options->json)
            parameters_to_json(o, l);
        else if (o && own->parameters)
            parameters_to_text(o, l);
        else if (o && options->json)
            rules_to_json(o, options, l);
        else if (o)
            rules_to_text(o, options, l);
        limits_free(l);
    }
    free(l);
    return o && out_close(o);
}

static int rules_run(const struct command *self, int argc, char **argv)
{
    struct options       options;
    struct rules_options own = { 0 };
    int                  status;

    if (!options_read(self, argc, argv, &options, &own, &status))
        return status;
    if (own.parameters && options.operand_count > 0) {
        complain("rules: --parameters lists them all; leave %s out, or leave --parameters out", options.operands[0]);
        return STATUS_NOT_DONE;
    }
    if (!operands_known(&options))
        return STATUS_NOT_DONE;
    return rules_print(&options, &own) ? STATUS_DONE : STATUS_NOT_DONE;
}

const struct command command_rules = {
    .name = "rules",
    .arguments = "[ID|GROUP]...",
    .summary = "the rules that are judged; what one demands, from where, and how to see it",
    .details = NULL,
    .common = COMMON_JSON | COMMON_OUTPUT | COMMON_COLOR,
    .options = rows,
    .operands_min = 0,
    .operands_max = 64,
    .run = rules_run,
};
