/* portassay record: from live sources into a trace. */
#define _POSIX_C_SOURCE 200809L /* isatty */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/record_run.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { ROTATE_LEAST_BYTES = 64000, KEEP_MOST = 1000000, NS_PER_S = 1000000000 };

#define FOR_NOT_GIVEN INT64_MIN

static const struct option_row rows[] = {
    { "from", 'f', "SOURCE", "record from this one (below); may be given again", OPTION_LIST, offsetof(struct record_words, from), NULL },
    { "for", 0, "TIME", "stop after so long: 30s, 10m, 8h", OPTION_TIME, offsetof(struct record_words, for_ns), NULL },
    { "until-detached", 0, NULL, "stop when what was plugged in has been unplugged", OPTION_FLAG,
      offsetof(struct record_words, until_detached), NULL },
    { "edges", 0, NULL, "ask sniffers for the changes of the CC line too", OPTION_FLAG, offsetof(struct record_words, edges), NULL },
    { "rotate", 0, "SIZE|TIME", "begin a next file after 100M (k, M, G bytes) or 1h (s, m, h)", OPTION_TEXT,
      offsetof(struct record_words, rotate), NULL },
    { "keep", 0, "N", "with --rotate: the last N files stay, older ones go", OPTION_NUMBER, offsetof(struct record_words, keep), NULL },
    { "overwrite", 0, NULL, "write over a file that is there already", OPTION_FLAG, offsetof(struct record_words, overwrite), NULL },
    { 0 },
};

static const char details[] =
    "Records until Ctrl-C, --for, --until-detached or the end of all sources; several sources become one trace on one time base. The "
    "file is readable at every moment, and on the disk within a second. Without -o, or with -o -, the trace goes to standard output: "
    PORTASSAY_NAME " record -f ... | " PORTASSAY_NAME " check --follow - judges while it is recorded.\n"
    "SOURCE usb is every sniffer on USB (traces/FORMAT.md), usb:SERIAL one of them, usb:SERIAL=2 with its port 0 as port 2 of the trace. "
    "kernel is this machine's own Type-C ports as Linux tells of them, kernel:portN one of them. "
    "text:PATH reads lines of the text form of a trace (traces/FORMAT.md) from a named pipe, a terminal device or, as text:-, "
    "standard input; a - as the time is the moment of arrival. text:PATH@115200 sets the baud rate of a serial device, text:PATH=2 "
    "makes the source's port 0 port 2 of the trace, its port 1 port 3, and so on. " PORTASSAY_NAME " ports looks what there is.\n"
    "With --rotate, -o night.pcap stands for night-0001.pcap, night-0002.pcap and so on, each a trace of its own. Files of other "
    "recordings are never removed.\n"
    "On a terminal a line tells findings, losses, the time and each port's contract, and marks are typed, a line each: p B (plugged at "
    "port B), u B (unplugged), l B 2000 (load set to 2000 mA), i and o (input power applied, removed), words may follow; anything else "
    "is a note. Ports are called as ABOUT (--about) calls them, or A, B ..., or 0, 1 ...\n";

static bool rotate_wrong(const char *text)
{
    complain("record: --rotate %s: a size from 64k on (64k, 100M, 2G) or a time from 1s on (90s, 30m, 1h) is expected", text);
    return false;
}

/* "100M": so many bytes. False: it is no size. */
static bool size_read(const char *text, uint64_t *bytes)
{
    char    *end;
    uint64_t unit;

    if (*text < '0' || *text > '9')
        return false;
    unsigned long long n = strtoull(text, &end, 10);

    switch (*end) {
    case 'k': unit = 1000; break;
    case 'M': unit = 1000000; break;
    case 'G': unit = 1000000000; break;
    default: return false;
    }
    if (end[1] != '\0' && strcmp(end + 1, "B") != 0)
        return false;
    *bytes = n > UINT64_MAX / unit ? UINT64_MAX : n * unit;
    return true;
}

static bool rotate_read(struct record_words *w)
{
    const char *last = w->rotate && *w->rotate ? w->rotate + strlen(w->rotate) - 1 : NULL;

    if (!w->rotate)
        return true;
    if (last && size_read(w->rotate, &w->rotate_bytes))
        return w->rotate_bytes >= ROTATE_LEAST_BYTES || rotate_wrong(w->rotate);
    /* A number alone could be either. */
    if (!last || (*last >= '0' && *last <= '9') || !options_time(w->rotate, &w->rotate_ns) || w->rotate_ns < NS_PER_S)
        return rotate_wrong(w->rotate);
    return true;
}

static bool target_usable(const struct options *o, const struct record_words *w)
{
    bool to_stdout = !o->output_path || strcmp(o->output_path, "-") == 0;

    if (to_stdout && isatty(STDOUT_FILENO) == 1) {
        complain("record: a trace is not for a terminal; name a file with -o, or send it on to another program");
        return false;
    }
    if (to_stdout && w->rotate) {
        complain("record: --rotate makes files; name the first one with -o");
        return false;
    }
    if (w->rotate && w->overwrite) {
        complain("record: --rotate numbers its files after those that are there, so --overwrite has nothing to do; leave it out");
        return false;
    }
    return true;
}

static bool usable(const struct options *o, struct record_words *w)
{
    if (w->from.count == 0) {
        complain("record: no source; name one with --from (" PORTASSAY_NAME " ports looks what there is)");
        return false;
    }
    if (w->for_ns == FOR_NOT_GIVEN)
        w->for_ns = 0;
    else if (w->for_ns <= 0) {
        complain("record: --for: a time above zero is expected");
        return false;
    }
    if (w->keep >= 0 && (!w->rotate || w->keep == 0 || w->keep > KEEP_MOST)) {
        complain(w->rotate ? "record: --keep: a number from 1 to 1000000 is expected" : "record: --keep is for --rotate; give that too");
        return false;
    }
    return rotate_read(w) && target_usable(o, w);
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options      o;
    struct record_words w = { .keep = -1, .for_ns = FOR_NOT_GIVEN };
    int                 status;

    if (!options_read(self, argc, argv, &o, &w, &status))
        return status;
    if (!usable(&o, &w))
        return STATUS_NOT_DONE;
    if (w.keep < 0)
        w.keep = 0;
    return record_run(&o, &w);
}

const struct command command_record = {
    "record", "", "from sniffers, instruments and scripts into a trace, live", details, COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET, rows,
    0, 0, run,
};
