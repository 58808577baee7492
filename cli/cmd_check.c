/* portassay check: the verdict on one trace or several. */
#include "cli/check_json.h"
#include "cli/check_text.h"
#include "cli/command.h"
#include "cli/explain.h"
#include "cli/fault_text.h"
#include "cli/missing.h"
#include "cli/phrase.h"
#include "cli/timings_tell.h"
#include "cli/volts_tell.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>

struct check_options {
    bool               strict, missing, timings, volts;
    const char        *judge;
    struct check_words words;
    int64_t            explain; /* number of a finding; -1: not asked for */
    bool               follow;
};

static const struct option_row rows[] = {
    { "strict", 0, NULL, "exit 3 if nothing failed but something could not be decided", OPTION_FLAG,
      offsetof(struct check_options, strict), NULL },
    { "follow", 0, NULL, "tell findings at once, while the trace is recorded", OPTION_FLAG,
      offsetof(struct check_options, follow), NULL },
    { "judge", 0, "LIST", "who decides: source,sink,cable,link (else: the device under test)", OPTION_TEXT,
      offsetof(struct check_options, judge), NULL },
    { "standard", 0, "EDITION", "seen (as the messages show), 2.0, 3.0, 3.1, 3.2", OPTION_CHOICE,
      offsetof(struct check_options, words.standard), check_standards },
    { "limits", 0, "FILE", "numbers and levels of rules as this JSON file sets them", OPTION_TEXT,
      offsetof(struct check_options, words.limits), NULL },
    { "findings", 0, "N", "keep the first N of each rule, verdict and port (100), or all", OPTION_TEXT,
      offsetof(struct check_options, words.findings), NULL },
    { "explain", 0, "N", "finding N: the frames around it, and how it was worked out", OPTION_NUMBER,
      offsetof(struct check_options, explain), NULL },
    { "timings", 0, NULL, "how long everything took beside what is allowed, and the talk's health", OPTION_FLAG,
      offsetof(struct check_options, timings), NULL },
    { "volts", 0, NULL, "what VBUS did in each contract and at each load step", OPTION_FLAG, offsetof(struct check_options, volts), NULL },
    { "missing", 0, NULL, "what the traces have not shown, and what to do at the bench for it", OPTION_FLAG,
      offsetof(struct check_options, missing), NULL },
    { "only", 0, "RULES", "these rules or groups only: caps.order,request; may be given again", OPTION_LIST,
      offsetof(struct check_options, words.only), NULL },
    { "skip", 0, "RULES", "not these rules or groups; may be given again", OPTION_LIST, offsetof(struct check_options, words.skip), NULL },
    { 0 },
};

static bool judge_read(const char *list, uint8_t *whom)
{
    if (!list)
        return true;
    for (const char *at = list; *at;) {
        size_t   length = strcspn(at, ",");
        unsigned k = WHO_SOURCE;

        while (k <= WHO_LINK && (strlen(whom_name(k)) != length || strncmp(whom_name(k), at, length) != 0))
            k++;
        if (k > WHO_LINK) {
            complain("check: --judge %s: %.*s is none of source, sink, cable, link", list, (int)length, at);
            return false;
        }
        *whom |= (uint8_t)(1u << k);
        at += length + (at[length] == ',');
    }
    if (*whom == 0)
        complain("check: --judge is empty; name one or more of source, sink, cable, link");
    return *whom != 0;
}

static bool settings_read(struct check_settings *s, const struct check_options *own)
{
    if (!check_settings_read(s, "check", &own->words))
        return false;
    s->timings = own->timings;
    s->volts = own->volts;
    return judge_read(own->judge, &s->judged_whom);
}

/* How the traces came out, by verdict; [VERDICT_NOT_SEEN] counts those that could not be judged. */
struct outcome_counts { unsigned n[4]; };

/* False: what was asked for cannot be told, said. */
static bool trace_tell(struct out *o, struct check *c, const struct check_options *own)
{
    if (own->explain >= 0)
        return explain_finding(o, c, (uint64_t)own->explain);
    if (c->options->json)
        check_json(o, c);
    else if (c->options->quiet)
        check_line(o, c);
    else if (own->timings)
        timings_text(o, c);
    else if (own->volts)
        volts_text(o, c);
    else
        check_text(o, c, own->words.findings != NULL);
    return true;
}

static void rule_off(struct out *o)
{
    out_line(o);
    for (unsigned k = 0; k < PHRASE_COLUMNS; k++)
        out_char(o, '_');
    out_line(o);
    out_line(o);
}

static void closing_line(struct out *o, const struct outcome_counts *counts, unsigned traces)
{
    static const char *const words[] = { "passed", "failed", "undecided", "could not be judged" };
    static const unsigned    order[] = { VERDICT_FAIL, VERDICT_UNDECIDED, VERDICT_PASS, VERDICT_NOT_SEEN };
    struct phrase            p = phrase_empty();

    phrase_format(&p, "%u traces: ", traces);
    for (unsigned k = 0, said = 0; k < 4; k++)
        if (counts->n[order[k]])
            phrase_format(&p, "%s%u %s", said++ ? ", " : "", counts->n[order[k]], words[order[k]]);
    rule_off(o);
    out_text(o, p.text);
    out_line(o);
}

static void check_all(struct out *o, const struct options *options, const struct check_options *own,
                      const struct check_settings *settings, struct outcome_counts *counts)
{
    unsigned told = 0;

    for (unsigned k = 0; k < options->operand_count && !out_gone(o); k++) {
        struct check c;

        if ((own->explain >= 0 && !explain_possible(options->operands[k])) ||
            !check_run(&c, options->operands[k], options, settings)) {
            counts->n[VERDICT_NOT_SEEN]++;
            continue;
        }
        if (told++ > 0 && !options->json && !options->quiet)
            rule_off(o);
        counts->n[trace_tell(o, &c, own) ? c.verdict : VERDICT_NOT_SEEN]++;
        check_free(&c);
    }
    if (options->operand_count > 1 && !options->json && !options->quiet && !out_gone(o))
        closing_line(o, counts, options->operand_count);
}

static void missing_all(struct out *o, const struct options *options, const struct check_settings *settings,
                        struct outcome_counts *counts)
{
    struct missing m;
    bool           taken = missing_start(&m, options, settings);

    for (unsigned k = 0; k < options->operand_count && taken; k++) {
        struct check c;

        if (!check_run(&c, options->operands[k], options, settings)) {
            counts->n[VERDICT_NOT_SEEN]++;
            continue;
        }
        taken = missing_take(&m, &c);
        counts->n[c.verdict]++;
        check_free(&c);
    }
    if (!taken)
        counts->n[VERDICT_NOT_SEEN]++;
    else if (m.trace_count > 0) {
        missing_settle(&m);
        if (options->json)
            missing_json(o, &m);
        else
            missing_text(o, &m);
    }
    missing_free(&m);
}

static int worst(const struct outcome_counts *counts, bool strict)
{
    if (counts->n[VERDICT_NOT_SEEN])
        return STATUS_NOT_DONE;
    if (counts->n[VERDICT_FAIL])
        return STATUS_FAILED;
    return strict && counts->n[VERDICT_UNDECIDED] ? STATUS_UNDECIDED : STATUS_DONE;
}

static int check_command(const struct options *options, const struct check_options *own)
{
    struct check_settings *settings = malloc(sizeof *settings);
    struct outcome_counts  counts = { { 0 } };
    struct out            *o = NULL;
    bool                   done = false;

    if (!settings)
        complain("check: out of memory; close something and try again");
    else if (settings_read(settings, own) && (o = out_open(options)) != NULL) {
        settings->follow = own->follow ? o : NULL;
        if (own->missing)
            missing_all(o, options, settings, &counts);
        else
            check_all(o, options, own, settings, &counts);
        done = out_close(o);
    }
    check_settings_free(settings);
    return done ? worst(&counts, own->strict) : STATUS_NOT_DONE;
}

static int check_run_command(const struct command *self, int argc, char **argv)
{
    struct options       options;
    struct check_options own = { .explain = -1 };
    int                  status;

    if (!options_read(self, argc, argv, &options, &own, &status))
        return status;
    if (own.follow && (own.missing || own.explain > 0 || options.operand_count > 1)) {
        complain("check: --follow takes one trace, and neither --explain nor --missing");
        return STATUS_NOT_DONE;
    }
    if (own.explain == 0) {
        complain("check: --explain 0: findings are numbered from 1");
        return STATUS_NOT_DONE;
    }
    if (own.missing + own.timings + own.volts + (own.explain > 0) > 1) {
        complain("check: --explain, --timings, --volts and --missing each print something else; choose one");
        return STATUS_NOT_DONE;
    }
    return check_command(&options, &own);
}

const struct command command_check = {
    .name = "check",
    .arguments = "TRACE...",
    .summary = "the verdict: does what was recorded keep to the standard, and what does not",
    .details = "First the verdict, then what is not met: what is required and where that comes from, what was seen, in which frame and "
               "when, and why it matters. Findings are numbered in order of time; --explain N tells all about one, cut --finding N "
               "cuts it out. Only findings about the device under test decide (ABOUT says what it is on a port; absent: the source).\n"
               "Exit 0: nothing failed. 1: a demand is not met. 2: a trace could not be judged. 3: undecided, with --strict.\n",
    .common = COMMON_JSON | COMMON_PORT | COMMON_TIME | COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET | COMMON_VERBOSE | COMMON_COLOR,
    .options = rows,
    .operands_min = 1,
    .operands_max = 1u << 16,
    .run = check_run_command,
};
