/* portassay synth: a trace made from a scenario. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/options.h"
#include "cli/synth/synth.h"

#include "capture/json.h"
#include "capture/writer.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct synth_options { int64_t seed; const char *truth; bool list_faults; };
enum { SCENARIO_BYTES_MAX = 16 << 20, FIRST_BYTES = 65536 };

static const struct option_row rows[] = {
    { "seed", 's', "N", "instead of the scenario's own seed", OPTION_NUMBER, offsetof(struct synth_options, seed), NULL },
    { "truth", 't', "FILE", "write there what is true: what was made wrong, voltages, errors (JSON)", OPTION_TEXT, offsetof(struct synth_options, truth), NULL },
    { "list-faults", 'l', NULL, "print what can be made wrong, and stop", OPTION_FLAG, offsetof(struct synth_options, list_faults), NULL },
    { 0 },
};

static const char details[] =
    "Plays the ports, partners, cables and steps of a scenario (JSON, - is standard input) and writes their trace, every record "
    "flagged INVENTED. What the standard leaves open is drawn from the seed: the same scenario and seed give the same trace. Faults and blinds that "
    "the scenario names are made at the occasion it names.\n";

/* Has it a row of its own, or stood there before with another window? */
static bool listed(unsigned row)
{
    const char               *name = synth_number_row(row)->timer;
    const struct synth_fault *f;

    for (unsigned k = 0; (f = synth_fault_row(k)); k++)
        if (strcmp(f->name, name) == 0)
            return true;
    for (unsigned k = 0; k < row; k++)
        if (strcmp(synth_number_row(k)->timer, name) == 0)
            return true;
    return false;
}

static int list_faults(void)
{
    const struct synth_fault  *f;
    const struct synth_number *n;
    const struct synth_blind  *b;

    for (unsigned k = 0; (f = synth_fault_row(k)); k++)
        printf("%s%s%s\n    %s\n    fails: %s\n", f->name, f->variant ? " " : "", f->variant ? f->variant : "", f->what, f->expect[0] ? f->expect : "nothing");
    for (unsigned k = 0; (n = synth_number_row(k)); k++)
        if (strncmp(n->timer, "time.", 5) == 0 && !listed(k))
            printf("%s\n    The time is the amount_ms given.\n    fails: %s\n", n->timer, n->timer);
    for (unsigned k = 0; (b = synth_blind_row(k)); k++)
        printf("blind %s\n    %s\n", b->name, b->what);
    return STATUS_DONE;
}

static char *read_all(const char *path, size_t *length)
{
    FILE  *file = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
    size_t cap = FIRST_BYTES;
    char  *text = file ? malloc(cap) : NULL;

    *length = 0;
    while (text && *length < SCENARIO_BYTES_MAX) {
        size_t n = fread(text + *length, 1, cap - *length, file);

        *length += n;
        if (n == 0)
            break;
        if (*length == cap) {
            char *more = realloc(text, cap *= 2);

            if (!more)
                free(text);
            text = more;
        }
    }
    if (!file || !text || ferror(file)) {
        complain("%s: %s; name a scenario file that can be read", subject_of(path), strerror(errno));
        free(text);
        text = NULL;
    }
    if (file && file != stdin)
        fclose(file);
    return text;
}

static struct synth *open_scenario(const char *path, int64_t seed)
{
    struct synth_trouble t;
    size_t               length, at;
    char                *text = read_all(path, &length);
    cJSON               *scenario = text ? json_object_parse(text, length, &at) : NULL;
    struct synth        *s = NULL;

    if (text && !scenario)
        complain("%s: no JSON object at byte %zu; a scenario is one (portassay-synth(1))", subject_of(path), at);
    if (scenario && !(s = synth_open(scenario, seed, &t)))
        complain("%s: %s: %s", subject_of(path), t.path[0] ? t.path : "scenario", t.text);
    cJSON_Delete(scenario);
    free(text);
    return s;
}

static bool write_trace(struct synth *s, const char *path)
{
    struct fault         f = { .code = FAULT_NONE };
    struct trace_writer *w = trace_writer_open(path, &f);
    struct synth_record  r;
    bool                 sound = w != NULL;

    while (sound && synth_next(s, &r))
        sound = trace_writer_put(w, r.stamp_ns, r.bytes, r.length, &f);
    if (w && !trace_writer_close(w, &f))
        sound = false;
    if (!sound && f.sys == EPIPE)
        return true;
    if (!sound)
        complain_fault(&f, strcmp(path, "-") == 0 ? "standard output" : path);
    if (sound && synth_failed(s)) {
        complain("synth: out of memory; close something and try again");
        sound = false;
    }
    return sound;
}

static bool write_truth(const struct synth *s, const char *path)
{
    cJSON *truth = synth_truth(s);
    char  *text = cJSON_Print(truth);
    FILE  *file = text ? fopen(path, "wb") : NULL;
    bool   done = file && fprintf(file, "%s\n", text) > 0;

    if (file && fclose(file) != 0)
        done = false;
    if (!done)
        complain("%s: %s; the truth could not be written there", path, strerror(errno));
    free(text);
    cJSON_Delete(truth);
    return done;
}

static void say_unmade(const struct synth *s, bool quiet)
{
    for (unsigned k = 0; !quiet && k < synth_made_count(s); k++) {
        struct synth_made m = synth_made(s, k);

        if (!m.made && !m.blind)
            complain("synth: %s was not made: the scenario has no such occasion on port %u", m.fault, m.port);
    }
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options       o;
    struct synth_options own = { .seed = -1 };
    int                  status;

    if (!options_read(self, argc, argv, &o, &own, &status))
        return status;
    if (own.list_faults)
        return list_faults();
    if (o.operand_count == 0) {
        complain("synth: a scenario is missing; name its file, or - for standard input");
        return STATUS_NOT_DONE;
    }
    if (!o.output_path && isatty(STDOUT_FILENO)) {
        complain("synth: a trace is not for a terminal; name a file with -o, or send it on to another program");
        return STATUS_NOT_DONE;
    }
    struct synth *s = open_scenario(o.operands[0], own.seed);

    if (!s)
        return STATUS_NOT_DONE;
    bool done = write_trace(s, o.output_path ? o.output_path : "-") && (!own.truth || write_truth(s, own.truth));

    if (done)
        say_unmade(s, o.quiet);
    synth_close(s);
    return done ? STATUS_DONE : STATUS_NOT_DONE;
}

const struct command command_synth = {
    "synth", "SCENARIO", "a trace made from a scenario", details, COMMON_OUTPUT | COMMON_QUIET, rows, 0, 1, run,
};
