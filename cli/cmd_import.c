/* portassay import: recordings of other instruments, and traces, merged into one trace. */
#define _POSIX_C_SOURCE 200809L /* isatty */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/import.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct option_row rows[] = {
    { "align", 0, "HOW", "tie the log of a meter to the CC line: best, vbus, mark, mark:TEXT, offset:TIME", OPTION_TEXT,
      offsetof(struct import_options, align), NULL },
    { "columns", 0, "MAP", "which column of a meter's log is what (below)", OPTION_TEXT, offsetof(struct import_options, columns), NULL },
    { "edges", 0, NULL, "keep the changes of the CC line too, for the rules about the wire", OPTION_FLAG,
      offsetof(struct import_options, edges), NULL },
    { "invented", 0, NULL, "flag every record INVENTED: what was read is a demonstration", OPTION_FLAG,
      offsetof(struct import_options, invented), NULL },
    { "overwrite", 0, NULL, "write over a file that is there already", OPTION_FLAG, offsetof(struct import_options, overwrite), NULL },
    { 0 },
};

static const char details[] =
    "Makes one trace of what other instruments have recorded. Each INPUT is a PATH, or KIND:PATH, or KIND,KEY=VALUE,...:PATH; a PATH of - is "
    "standard input.\n"
    "KIND vcd is value changes of a logic analyser; bits and bytes are its samples, a bit or a byte each (rate=24M samples a second; of bits "
    "first=msb, of bytes lines are named 0 to 7); volts is readings of the CC line as CSV, samples of 16 bits (rate=, scale=UV a step, offset=MV); of both low=MV and high=MV are thresholds; meter is a meter's log as CSV (columns=MAP, rate= rows a second, sign=-1); klog is the log of a kernel's port manager; text is the text form of a trace, trace a trace in any form. A PATH alone is what its name or its first bytes show, and else a trace.\n"
    "Keys of every kind: port=N (port 0 of the file is port N of the trace), shift=TIME (later by so much), start=2026-01-31T10:00:00 (when it "
    "began). Inputs that do not tell when they began begin with the earliest that does. "
    "Of CC lines: cc1=NAME, cc2=NAME, cc=NAME (which signal; cc1@1=NAME of port 1), glitch=NS (shorter ones are noise).\n";

static bool usable(const struct options *o)
{
    if (!o->output_path && isatty(STDOUT_FILENO) == 1) {
        complain("import: a trace is not for a terminal; name a file with -o, or send it on to another program");
        return false;
    }
    return true;
}

static bool words_read(const struct options *o, const struct import_options *own, struct import_words *words)
{
    bool meter = false;

    for (unsigned k = 0; k < o->operand_count; k++) {
        if (!import_words_read(&words[k], o->operands[k]))
            return false;
        meter = meter || (words[k].kind->keys & IMPORT_COLUMNS);
    }
    if (own->columns && !meter) {
        complain("import: --columns is for a meter's log, and none is named; leave it out, or write meter:PATH");
        return false;
    }
    return true;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options        o;
    struct import_options own = { 0 };
    int                   status;

    if (!options_read(self, argc, argv, &o, &own, &status))
        return status;
    struct import_words *words = usable(&o) ? calloc(o.operand_count, sizeof *words) : NULL;

    status = words && words_read(&o, &own, words) ? import_run(&o, &own, words, o.operand_count) : STATUS_NOT_DONE;
    free(words);
    return status;
}

const struct command command_import = {
    "import", "INPUT...", "recordings of other instruments into a trace", details, COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET, rows,
    1, IMPORT_INPUTS, run,
};
