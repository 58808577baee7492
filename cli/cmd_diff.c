/* portassay diff: what behaves differently between two traces. */
#include "cli/command.h"
#include "cli/diff.h"
#include "cli/fault_text.h"
#include "cli/out.h"

#include <stdlib.h>

struct diff_options {
    struct option_list port_map;
    struct check_words words;
};

static const struct option_row rows[] = {
    { "port-map", 0, "A=B", "port A of the first trace is port B of the second: 0=1,1=0", OPTION_LIST,
      offsetof(struct diff_options, port_map), NULL },
    { "standard", 0, "EDITION", "seen (as the messages show), 2.0, 3.0, 3.1, 3.2", OPTION_CHOICE,
      offsetof(struct diff_options, words.standard), check_standards },
    { "limits", 0, "FILE", "numbers and levels of rules as this JSON file sets them", OPTION_TEXT,
      offsetof(struct diff_options, words.limits), NULL },
    { "only", 0, "RULES", "verdicts and times of these rules or groups only", OPTION_LIST, offsetof(struct diff_options, words.only), NULL },
    { "skip", 0, "RULES", "not of these rules or groups; may be given again", OPTION_LIST, offsetof(struct diff_options, words.skip), NULL },
    { 0 },
};

static int tell(const struct options *options, const struct diff *d)
{
    struct out *o = out_open(options);

    if (!o)
        return STATUS_NOT_DONE;
    if (options->json)
        diff_json(o, d);
    else
        diff_text(o, d, options->verbose);
    return !out_close(o) ? STATUS_NOT_DONE : d->count ? STATUS_FAILED : STATUS_DONE;
}

static int compare(const struct options *options, const struct diff_options *own, const struct check *a, const struct check *b)
{
    struct diff *d = calloc(1, sizeof *d);
    int          status = STATUS_NOT_DONE;

    if (d) {
        d->a = a;
        d->b = b;
    }
    if (d && !diff_pair_ports(d, &own->port_map))
        ;
    else if (!d || !diff_run(d))
        complain("diff: out of memory; close something and try again");
    else
        status = tell(options, d);
    if (d)
        diff_free(d);
    free(d);
    return status;
}

static int judge_both(const struct options *options, const struct diff_options *own, const struct check_settings *settings)
{
    struct check a, b;
    int          status = STATUS_NOT_DONE;

    if (!check_run(&a, options->operands[0], options, settings))
        return STATUS_NOT_DONE;
    if (check_run(&b, options->operands[1], options, settings)) {
        status = compare(options, own, &a, &b);
        check_free(&b);
    }
    check_free(&a);
    return status;
}

static int diff_command(const struct command *self, int argc, char **argv)
{
    struct options         options;
    struct diff_options    own = { .port_map = { .count = 0 } };
    struct check_settings *settings;
    int                    status;

    if (!options_read(self, argc, argv, &options, &own, &status))
        return status;
    if (strcmp(options.operands[0], "-") == 0 && strcmp(options.operands[1], "-") == 0) {
        complain("diff: standard input cannot be both traces; name a file for one of them");
        return STATUS_NOT_DONE;
    }
    settings = malloc(sizeof *settings);
    status = STATUS_NOT_DONE;
    if (!settings)
        complain("diff: out of memory; close something and try again");
    else if (check_settings_read(settings, "diff", &own.words)) {
        settings->timings = settings->volts = settings->behaviour = true;
        status = judge_both(&options, &own, settings);
    }
    check_settings_free(settings);
    return status;
}

const struct command command_diff = {
    .name = "diff",
    .arguments = "A B",
    .summary = "what behaves differently between two traces, by meaning and not by bytes",
    .details = "Offers, requests, contracts, resets and messages in their order, the verdict of every rule, how long things take and what "
               "VBUS settles at; what matters most stands first, with its frames in A and in B. MessageIDs, times of day, acknowledgements "
               "and the number of repeats are no differences; -v says what else was left out. Numbers differ where they lie farther apart "
               "than their uncertainties together.\n"
               "Where B's ports behave as other ports of A did, that is said first, and those are compared; --port-map says otherwise.\n"
               "Exit 0: no difference. 1: something differs. 2: a trace could not be read.\n",
    .common = COMMON_JSON | COMMON_PORT | COMMON_TIME | COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET | COMMON_VERBOSE | COMMON_COLOR,
    .options = rows,
    .operands_min = 2,
    .operands_max = 2,
    .run = diff_command,
};
