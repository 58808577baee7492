/* portassay cut: a part of a trace, or several traces joined. */
#include "cli/command.h"
#include "cli/cut_copy.h"
#include "cli/fault_text.h"
#include "cli/finding_find.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { AROUND_NS = 50000000, LIST_BYTES = 600 };

struct cut_options {
    int64_t finding, around_ns;
    bool    anonymous;
    struct check_words words;
};

static const struct option_row rows[] = {
    { "finding", 'f', "N", "the frames that finding N of check rests on, and a little around", OPTION_NUMBER,
      offsetof(struct cut_options, finding), NULL },
    { "around", 0, "TIME", "how much around a finding's frames; 50ms if not given", OPTION_TIME,
      offsetof(struct cut_options, around_ns), NULL },
    { "standard", 0, "EDITION", "as for check, so that its findings are numbered as there", OPTION_CHOICE,
      offsetof(struct cut_options, words.standard), check_standards },
    { "limits", 0, "FILE", "the same", OPTION_TEXT, offsetof(struct cut_options, words.limits), NULL },
    { "findings", 0, "N", "the same", OPTION_TEXT, offsetof(struct cut_options, words.findings), NULL },
    { "only", 0, "RULES", "the same; may be given again", OPTION_LIST, offsetof(struct cut_options, words.only), NULL },
    { "skip", 0, "RULES", "the same; may be given again", OPTION_LIST, offsetof(struct cut_options, words.skip), NULL },
    { "anonymous", 0, NULL, "leave out who, where and when (above)", OPTION_FLAG, offsetof(struct cut_options, anonymous), NULL },
    { 0 },
};

static const char details[] =
    "Writes the part between --since and --until, of the ports of --port, byte for byte, as a classic pcap file. What ABOUT said "
    "before the part is written at its start. Several traces are joined by time; what the ABOUT of a later one says outranks the "
    "earlier. --about FILE is laid over every ABOUT; where there is none it becomes one.\n"
    "--finding N takes a file, judges it as check does, and cuts out the frames that finding N (numbered as check prints them "
    "with the same --standard, --limits, --findings, --only, --skip, --port, --since, --until and --about) rests on.\n"
    "--anonymous leaves out: operator, bench, note and every key of ABOUT that the format does not name; keys called serial, path "
    "or file; words of any text that look like a path, an address, a date or a time of day; times (the trace begins at "
    "1970-01-01T00:00:00Z); the bytes of records that cannot be understood. The other words of marks and labels stay: read them "
    "(show --kind mark) before you give the trace away.\n";

/* From the start of the earliest to the end of the latest of the finding's frames. */
static bool frames_span(const struct cut *c, const char *path, int64_t *from_ns, int64_t *to_ns)
{
    struct options       plain = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .quiet = true };
    struct trace_loop    l;
    const struct record *r;
    bool                 any = false;

    if (!trace_loop_open(&l, path, &plain, TRACE_LOOP_FILE_ORDER))
        return false;
    while (trace_loop_next(&l, &r))
        for (unsigned i = 0; i < c->frame_count; i++) {
            int64_t end_ns = r->t_ns + record_span_ns(r);

            if (c->frames[i] != r->frame)
                continue;
            if (!any || r->t_ns < *from_ns)
                *from_ns = r->t_ns;
            if (!any || end_ns > *to_ns)
                *to_ns = end_ns;
            any = true;
        }
    if (!trace_loop_close(&l))
        return false;
    if (!any)
        complain("%s: the frames of the finding are not there any more; was the file changed?", path);
    return any;
}

static bool finding_window(struct cut *c, const struct cut_options *own)
{
    struct finding found;
    int64_t        from_ns = 0, to_ns = 0;
    const char    *path = c->options->operands[0];

    if (c->options->operand_count > 1 || strcmp(path, "-") == 0) {
        complain("cut: --finding needs one trace, and as a file, for it is read three times");
        return false;
    }
    if (!finding_find(path, c->options, &own->words, (uint64_t)own->finding, &found))
        return false;
    c->frames[c->frame_count++] = found.frame;
    for (unsigned i = 0; i < found.evidence_count && i < FINDING_EVIDENCE; i++)
        if (found.evidence[i] != found.frame)
            c->frames[c->frame_count++] = found.evidence[i];
    if (!frames_span(c, path, &from_ns, &to_ns) || !cut_open(c, c->options->operands, 1))
        return false;
    cut_window(c, from_ns - own->around_ns, to_ns + own->around_ns);
    return true;
}

/* Frames are numbered anew in the cut: says which are which. */
static void frames_say(const struct cut *c, int64_t finding)
{
    char   list[LIST_BYTES] = "";
    size_t used = 0;

    for (unsigned i = 0; i < c->frame_count && c->new_frames[i]; i++) {
        int n = snprintf(list + used, sizeof list - used, "%s%" PRIu64 " is now %" PRIu64, i ? ", " : "", c->frames[i],
                         c->new_frames[i]);

        if (n > 0 && (size_t)n < sizeof list - used)
            used += (size_t)n;
    }
    if (used > 0 && !c->options->quiet)
        complain("cut: finding %" PRId64 ": frame %s", finding, list);
}

static bool write_out(struct cut *c)
{
    struct fault f = { .code = FAULT_NONE };
    const char  *path = c->options->output_path;

    c->writer = trace_writer_open(path ? path : "-", &f);
    if (!c->writer) {
        complain_fault(&f, path ? path : "standard output");
        return false;
    }
    bool done = cut_copy(c);
    bool closed = trace_writer_close(c->writer, &f);

    if (!closed && f.sys == EPIPE)
        c->gone = true;
    if (!closed && done && !c->gone)
        complain_fault(&f, path ? path : "standard output");
    return (done && closed) || c->gone;
}

static bool cut_do(struct cut *c, const struct cut_options *own)
{
    bool opened = own->finding > 0 ? finding_window(c, own) : cut_open(c, c->options->operands, c->options->operand_count);

    if (!opened || !write_out(c))
        return false;
    if (own->finding > 0)
        frames_say(c, own->finding);
    return true;
}

static bool usable(const struct options *o, const struct cut_options *own)
{
    if (!o->output_path && isatty(STDOUT_FILENO)) {
        complain("cut: a trace is not for a terminal; name a file with -o, or send it on to another program");
        return false;
    }
    if (own->finding == 0) {
        complain("cut: --finding 0: findings are numbered from 1");
        return false;
    }
    if (check_words_given(&own->words) && own->finding < 0) {
        complain("cut: --standard, --limits, --findings, --only and --skip are for --finding; name a finding, or leave them out");
        return false;
    }
    if (own->around_ns < 0) {
        complain("cut: --around: a time that is not negative is expected");
        return false;
    }
    return true;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options     o;
    struct cut_options own = { .finding = -1, .around_ns = AROUND_NS };
    int                status;

    if (!options_read(self, argc, argv, &o, &own, &status))
        return status;
    if (!usable(&o, &own))
        return STATUS_NOT_DONE;
    struct cut *c = calloc(1, sizeof *c);

    if (!c) {
        complain("cut: out of memory; close something and try again");
        return STATUS_NOT_DONE;
    }
    c->options = &o;
    c->anonymous = own.anonymous;
    bool done = cut_about_start(&c->about, o.about_path, own.anonymous) && cut_do(c, &own);

    done = cut_close(c) && done;
    cut_about_free(&c->about);
    free(c);
    return done ? STATUS_DONE : STATUS_NOT_DONE;
}

const struct command command_cut = {
    "cut", "TRACE...", "a part of a trace, or several traces joined", details,
    COMMON_PORT | COMMON_TIME | COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET, rows, 1, CUT_SOURCES, run,
};
