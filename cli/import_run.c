#define _POSIX_C_SOURCE 200809L /* stat */
#include "cli/import_run.h"

#include "cli/command.h"
#include "cli/fault_text.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { SAY_BYTES = 1600, FLAGS_AT = 3 };
/* Times before that count from the beginning of something, not from 1970: 1971. */
static const int64_t year_ns = INT64_C(365) * 86400 * 1000000000;

const struct options *import_common(const struct import *i)
{
    return i->options;
}

const struct import_options *import_own(const struct import *i)
{
    return i->own;
}

const char *import_subject(const struct import_input *in)
{
    return subject_of(in->words->path);
}

const char *import_name(const struct import_input *in)
{
    const char *slash = strrchr(in->words->path, '/');

    return slash ? slash + 1 : import_subject(in);
}

void import_say(const struct import_input *in, const char *format, ...)
{
    char    text[SAY_BYTES];
    va_list arguments;

    if (in->all->silent)
        return;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    import_progress_clear(in->all);
    complain("%s: %s", import_subject(in), text);
}

int64_t import_file_bytes(const struct import_input *in)
{
    struct stat file;

    return strcmp(in->words->path, "-") != 0 && stat(in->words->path, &file) == 0 && S_ISREG(file.st_mode) ? (int64_t)file.st_size : -1;
}

bool import_no_memory(struct import_input *in)
{
    import_say(in, "out of memory; close something and try again");
    in->failed = true;
    return false;
}

bool import_alone(const struct import *i)
{
    return i->alone;
}

int64_t import_time(const struct import_input *in, int64_t own_ns)
{
    if (own_ns == INT64_MAX || own_ns == INT64_MIN)
        return own_ns;
    int64_t moved = in->rate_ppm == 0 ? own_ns : own_ns + (int64_t)((double)own_ns * in->rate_ppm / 1e6);

    /* Neither is beyond a quarter of the range: a stamp is held to RECORD_TIME_LIMIT, what the user gives to less. */
    return moved / 2 + in->zero_ns / 2 > RECORD_TIME_LIMIT ? 2 * RECORD_TIME_LIMIT : moved + in->zero_ns;
}

bool import_write(struct import *i, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct fault f = { .code = FAULT_NONE };

    if (trace_writer_put(i->writer, stamp_ns, bytes, length, &f)) {
        i->written++;
        return true;
    }
    import_progress_clear(i);
    i->gone = f.sys == EPIPE;
    i->failed = !i->gone;
    if (f.sys == EOVERFLOW)
        complain("import: a record would lie before 1970 or after 2106, which no trace can hold; correct start= or shift=");
    else if (!i->gone)
        complain_fault(&f, i->target);
    return false;
}

/* When the trace begins, a record that starts at t_ns being its first: where the first of the recordings begins, if that is known. */
static int64_t trace_begin(const struct import *i, int64_t t_ns)
{
    for (unsigned k = 0; k < i->count; k++) {
        const struct import_input *in = &i->inputs[k];
        int64_t                    one = in->relative ? import_time(in, in->begin_ns) : t_ns;

        t_ns = one < t_ns ? one : t_ns;
    }
    return t_ns;
}

/* The beginning of the trace, before its first record. */
static bool begin(struct import *i, int64_t t_ns)
{
    if (i->started)
        return true;
    i->started = true;
    i->from_ns = i->to_ns = trace_begin(i, t_ns);
    return import_about_begin(i, i->from_ns);
}

/* A record leaves for the trace: its bytes may be changed. */
static bool record_out(struct import *i, int64_t t_ns, int64_t stamp_ns, uint8_t *bytes, size_t length)
{
    struct record r;
    int64_t       end_ns;

    if (i->own->invented && length >= RECORD_HEADER_BYTES)
        bytes[FLAGS_AT] |= RECORD_INVENTED;
    if (!begin(i, t_ns))
        return false;
    record_read(bytes, length, false, stamp_ns, 0, &r);
    end_ns = r.t_ns + record_span_ns(&r);
    if (end_ns > i->to_ns)
        i->to_ns = end_ns;
    return import_about_pass(i, &r);
}

/* One trace alone is copied as it stands. */
static bool record_direct(struct import_input *in, int64_t t_ns, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    uint8_t *copy = in->all->own->invented && length > 0 ? malloc(length) : NULL;

    if (!in->all->own->invented)
        return record_out(in->all, t_ns, stamp_ns, (uint8_t *)(uintptr_t)bytes, length);
    if (!copy)
        return length == 0 || import_no_memory(in);
    memcpy(copy, bytes, length);
    bool done = record_out(in->all, t_ns, stamp_ns, copy, length);

    free(copy);
    return done;
}

bool import_put(struct import_input *in, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    int64_t at_ns = import_time(in, stamp_ns), t_ns = record_start_ns(bytes, length, at_ns);

    in->records++;
    if (in->all->direct)
        return record_direct(in, t_ns, at_ns, bytes, length);
    return import_order_put(in->all->order, t_ns, at_ns, in->number, bytes, length) || import_no_memory(in);
}

/* The input that is behind the others; NULL: all have ended. */
static struct import_input *input_behind(struct import *i)
{
    struct import_input *least = NULL;

    for (unsigned k = 0; k < i->count; k++) {
        struct import_input *in = &i->inputs[k];

        if (!in->ended && (!least || import_time(in, in->reached_ns) < import_time(least, least->reached_ns)))
            least = in;
    }
    return least;
}

static bool held_write(struct import *i, int64_t until_ns)
{
    const struct import_held *h;

    while ((h = import_order_take(i->order, until_ns)) != NULL) {
        if (!i->align && !record_out(i, h->t_ns, h->stamp_ns, h->bytes, h->length))
            return false;
        if (i->align && !import_align_take(i->align, h->input, h->t_ns, h->stamp_ns, h->bytes, h->length))
            return import_no_memory(&i->inputs[h->input]);
    }
    return true;
}

/* How far the recordings reach; INT64_MIN: no farther than their records tell. */
static int64_t recording_end(const struct import *i)
{
    int64_t end_ns = INT64_MIN;

    for (unsigned k = 0; k < i->count; k++) {
        int64_t one = import_time(&i->inputs[k], i->inputs[k].end_ns);

        end_ns = one > end_ns ? one : end_ns;
    }
    return end_ns;
}

static bool merge(struct import *i)
{
    struct import_input *in;

    while ((in = input_behind(i)) != NULL) {
        if (!held_write(i, import_time(in, in->reached_ns)))
            return i->gone;
        if (!in->kind->work(in)) {
            in->ended = true;
            if (in->failed || i->failed || i->gone)
                return i->gone;
        }
        import_progress_turn(i);
    }
    if (i->align)
        return held_write(i, INT64_MAX);
    return (held_write(i, INT64_MAX) && begin(i, import_time(&i->inputs[0], i->inputs[0].begin_ns)) && import_about_end(i, recording_end(i))) || i->gone;
}

/* Writing over what is read would destroy it. */
static bool overwrites(const char *path, const char *output_path)
{
    struct stat in, out;

    return output_path && strcmp(path, "-") != 0 && strcmp(output_path, "-") != 0 && stat(path, &in) == 0 &&
           stat(output_path, &out) == 0 && S_ISREG(out.st_mode) && in.st_dev == out.st_dev && in.st_ino == out.st_ino;
}

static bool input_open(struct import *i, const struct import_words *words)
{
    struct import_input *in = &i->inputs[i->count];

    *in = (struct import_input){ .kind = words->kind, .words = words, .all = i, .number = i->count, .first_ns = INT64_MAX,
                                 .reached_ns = INT64_MIN, .end_ns = INT64_MIN };
    if (overwrites(words->path, i->options->output_path)) {
        complain("-o %s is what is read, and would be destroyed; name another file", i->options->output_path);
        return false;
    }
    if (!in->kind->open(in))
        return false;
    i->count++;
    return true;
}

static bool standard_input_once(const struct import_words *words, unsigned count)
{
    unsigned uses = 0;

    for (unsigned k = 0; k < count; k++)
        uses += strcmp(words[k].path, "-") == 0;
    if (uses > 1)
        complain("import: standard input can be one input only; save the others in files");
    return uses <= 1;
}

/* When the earliest input begins that knows it; INT64_MAX: none does. */
static int64_t known_begin(const struct import *i)
{
    int64_t begin_ns = INT64_MAX;

    for (unsigned k = 0; k < i->count; k++) {
        const struct import_input *in = &i->inputs[k];
        int64_t                    one = in->words->start_given ? in->words->start_ns : in->first_ns;

        begin_ns = one < begin_ns ? one : begin_ns;
    }
    return begin_ns;
}

/* Own time at which an input without a time of its own begins. */
static int64_t begin_of(const struct import *i, const struct import_input *in)
{
    int64_t begin_ns = in->begin_ns;

    for (unsigned k = 0; in->kind->same_clock && k < i->count; k++)
        if (i->inputs[k].kind == in->kind && i->inputs[k].begin_ns < begin_ns)
            begin_ns = i->inputs[k].begin_ns;
    return begin_ns;
}

/* Puts all on one base: who does not know when it began begins with the earliest that does. */
static void zeros_settle(struct import *i)
{
    int64_t begin_ns = known_begin(i);

    if (begin_ns == INT64_MAX || begin_ns < year_ns)
        begin_ns = 0;
    for (unsigned k = 0; k < i->count; k++) {
        struct import_input       *in = &i->inputs[k];
        const struct import_words *w = in->words;
        bool                       told = in->first_ns != INT64_MAX;
        int64_t                    own_ns = in->relative ? begin_of(i, in) : told ? in->first_ns : 0;

        in->zero_ns = w->start_given ? w->start_ns - own_ns : in->relative ? (told ? in->first_ns : begin_ns) - own_ns : 0;
        in->zero_ns += w->shift_ns;
    }
}

/* A file that is there is not written over unasked; a device or a pipe is written to. */
static bool target_open(struct import *i)
{
    const char  *path = i->options->output_path ? i->options->output_path : "-";
    struct stat  there;
    struct fault f = { .code = FAULT_NONE };

    i->target = strcmp(path, "-") == 0 ? "standard output" : path;
    if (strcmp(path, "-") != 0 && !i->own->overwrite && stat(path, &there) == 0 && S_ISREG(there.st_mode)) {
        complain("%s: is there already, and is not written over; name another file, or say --overwrite", path);
        return false;
    }
    i->writer = trace_writer_open(path, &f);
    if (!i->writer && f.sys == EPIPE)
        i->gone = true;
    else if (!i->writer)
        complain_fault(&f, i->target);
    return i->writer != NULL;
}

/* What --align found, laid over where the inputs would stand without. Nothing begins before 1970. */
static void ties_lay(struct import *i)
{
    int64_t least_ns = 0;

    for (unsigned k = 0; i->ties && k < i->count; k++) {
        struct import_input     *in = &i->inputs[k];
        const struct import_tie *t = &i->ties[k];

        if (t->tied) {
            in->tie = t;
            in->rate_ppm = t->rate_ppm;
            in->zero_ns += t->shift_ns + (int64_t)((double)(in->zero_ns - t->first_ns) * t->rate_ppm / 1e6);
        }
        int64_t begin_ns = in->relative ? import_time(in, in->begin_ns) : in->first_ns;

        least_ns = begin_ns < least_ns ? begin_ns : least_ns;
    }
    for (unsigned k = 0; k < i->count; k++)
        i->inputs[k].zero_ns -= least_ns;
}

static bool inputs_open(struct import *i, const struct import_words *words, unsigned count)
{
    i->alone = count == 1;
    for (unsigned k = 0; k < count; k++)
        if (!input_open(i, &words[k]))
            return false;
    i->direct = i->alone && words[0].kind->own;
    i->order = import_order_new();
    if (!i->order)
        complain("import: out of memory; close something and try again");
    zeros_settle(i);
    return i->order != NULL;
}

static bool open_all(struct import *i, const struct import_words *words, unsigned count)
{
    if (!standard_input_once(words, count) || !import_about_over(i) || !inputs_open(i, words, count))
        return false;
    ties_lay(i);
    return target_open(i);
}

static void inputs_close(struct import *i)
{
    for (unsigned k = 0; k < i->count; k++)
        i->inputs[k].kind->close(&i->inputs[k]);
    import_order_free(i->order);
    i->order = NULL;
    i->count = 0;
}

/* Reads all inputs once, as the second pass will, and ties readings to what was said. */
static bool align_read(struct import *i, const struct import_words *words, unsigned count, const struct align_words *how)
{
    bool done = inputs_open(i, words, count);

    i->align = done ? import_align_new(how, count) : NULL;
    if (done && !i->align)
        complain("import: out of memory; close something and try again");
    done = done && i->align;
    if (done) {
        import_progress_start(i);
        i->silent = true;
        i->direct = false;
        done = merge(i);
        i->silent = false;
        import_progress_clear(i);
        if (!done)
            complain("import: --align: an input could not be read to its end; import it without --align to see why");
    }
    done = done && import_align_settle(i->align, i->inputs, i->options->quiet, i->ties);
    inputs_close(i);
    import_align_free(i->align);
    i->align = NULL;
    return done;
}

/* What --align asks for. False: said. */
static bool align_run(struct import *i, const struct import_words *words, unsigned count)
{
    struct align_words how;

    if (!i->own->align)
        return true;
    if (!import_align_words(&how, i->own->align))
        return false;
    i->ties = calloc(count, sizeof *i->ties);
    if (!i->ties) {
        complain("import: out of memory; close something and try again");
        return false;
    }
    if (!import_align_reads(&how))
        return import_align_offset(&how, words, count, i->ties);
    return import_align_again(words, count) && align_read(i, words, count, &how);
}

static void summary(const struct import *i)
{
    int64_t span_ns = i->to_ns - i->from_ns;

    for (unsigned k = 0; k < i->count; k++)
        i->inputs[k].kind->summary(&i->inputs[k]);
    complain("%s: %" PRIu64 " record%s, %" PRId64 ".%03" PRId64 " s", i->target, i->written, i->written == 1 ? "" : "s", span_ns / 1000000000,
             span_ns / 1000000 % 1000);
}

/* A write that failed is said once. */
static bool write_done(struct import *i, bool worked, const struct fault *f)
{
    i->gone = i->gone || (!worked && f->sys == EPIPE);
    if (!worked && !i->gone && !i->failed) {
        i->failed = true;
        complain_fault(f, i->target);
    }
    return worked;
}

/* The summary comes before the end of the trace does: whoever reads it through a pipe has its say after. */
static bool close_all(struct import *i, bool done)
{
    struct fault f = { .code = FAULT_NONE };

    import_progress_clear(i);
    if (i->writer && done && !i->gone)
        done = write_done(i, trace_writer_flush(i->writer, &f), &f);
    if (done && !i->gone && !i->options->quiet)
        summary(i);
    if (i->writer)
        done = write_done(i, trace_writer_close(i->writer, &f), &f) && done;
    for (unsigned k = 0; k < i->count; k++)
        i->inputs[k].kind->close(&i->inputs[k]);
    import_order_free(i->order);
    cJSON_Delete(i->over);
    free(i->ties);
    return done || i->gone;
}

int import_run(const struct options *options, const struct import_options *own, struct import_words *words, unsigned count)
{
    struct import *i = calloc(1, sizeof *i);

    if (!i) {
        complain("import: out of memory; close something and try again");
        return STATUS_NOT_DONE;
    }
    i->options = options;
    i->own = own;
    bool done = align_run(i, words, count) && open_all(i, words, count);

    if (done) {
        import_progress_start(i);
        done = merge(i);
    }
    done = close_all(i, done);
    free(i);
    return done ? STATUS_DONE : STATUS_NOT_DONE;
}
