#include "cli/cut_copy.h"

#include "cli/fault_text.h"

#include <errno.h>
#include <inttypes.h>

static const char *target_name(const struct cut *c)
{
    return c->options->output_path ? c->options->output_path : "standard output";
}

static void advance(struct cut_source *s)
{
    if (!trace_loop_next(&s->loop, &s->record))
        s->record = NULL;
}

bool cut_open(struct cut *c, char *const *paths, unsigned count)
{
    /* One trace alone keeps the order that its records stand in; joining and shifting need them by time. */
    unsigned flags = TRACE_LOOP_NAME_UNSOUND | (count == 1 && !c->anonymous ? TRACE_LOOP_FILE_ORDER : 0);

    for (unsigned i = 0; i < count; i++) {
        if (!trace_loop_open(&c->sources[i].loop, paths[i], c->options, flags))
            return false;
        c->sources[i].open = true;
        c->count = i + 1;
        advance(&c->sources[i]);
        if (c->sources[i].record && (i == 0 || c->sources[i].loop.zero_ns < c->zero_ns))
            c->zero_ns = c->sources[i].loop.zero_ns;
    }
    if (c->options->since_ns != INT64_MIN || c->options->until_ns != INT64_MAX)
        cut_window(c, c->options->since_ns == INT64_MIN ? INT64_MIN : c->zero_ns + c->options->since_ns,
                   c->options->until_ns == INT64_MAX ? INT64_MAX : c->zero_ns + c->options->until_ns);
    return true;
}

void cut_window(struct cut *c, int64_t since_ns, int64_t until_ns)
{
    for (unsigned i = 0; i < c->count; i++) {
        c->sources[i].loop.since_ns = since_ns;
        c->sources[i].loop.until_ns = until_ns;
    }
}

/* The source whose record comes next: the earliest; equal times in the order in which the traces were named. */
static struct cut_source *source_next(struct cut *c)
{
    struct cut_source *first = NULL;

    for (unsigned i = 0; i < c->count; i++)
        if (c->sources[i].record && (!first || c->sources[i].record->t_ns < first->record->t_ns))
            first = &c->sources[i];
    return first;
}

static bool put(struct cut *c, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct fault f = { .code = FAULT_NONE };
    int64_t      stamp = stamp_ns - c->shift_ns;

    if (c->anonymous && stamp < 0) {
        stamp = 0;
        c->clamped = true;
    }
    if (!trace_writer_put(c->writer, stamp, bytes, length, &f)) {
        c->gone = f.sys == EPIPE;
        if (!c->gone)
            complain_fault(&f, target_name(c));
        return false;
    }
    c->written++;
    return true;
}

/* What ABOUT said up to the first record that is kept. Where that record is the bench's ABOUT itself, it carries the correction. */
static bool start(struct cut *c, const struct record *r)
{
    bool about_first = r->soundness == RECORD_SOUND && r->kind == RECORD_ABOUT && r->port == RECORD_PORT_BENCH;

    c->started = true;
    c->shift_ns = c->anonymous ? r->t_ns : 0;
    for (unsigned k = 0; k < 256; k++) {
        unsigned port = (k + RECORD_PORT_BENCH) % 256; /* the bench first */

        if (!cut_about_stands(&c->about, port) || (about_first && port == RECORD_PORT_BENCH && !c->about.merged[port]))
            continue;
        size_t length = cut_about_record(&c->about, port);

        if (length == 0 || !put(c, r->t_ns, c->about.bytes, length))
            return false;
    }
    return true;
}

static void frame_note(struct cut *c, uint64_t frame)
{
    for (unsigned i = 0; i < c->frame_count; i++)
        if (c->frames[i] == frame)
            c->new_frames[i] = c->written;
}

static bool keep(struct cut *c, const struct record *r)
{
    const uint8_t *bytes = r->bytes;
    size_t         length = r->length;

    if (!c->started && !start(c, r))
        return false;
    if (r->soundness == RECORD_SOUND && r->kind == RECORD_ABOUT && (c->about.over || c->anonymous)) {
        length = cut_about_correct(&c->about, r);
        bytes = c->about.bytes;
        if (length == 0)
            return false;
    } else if (c->anonymous) {
        length = anonymous_record(r, c->bytes);
        bytes = c->bytes;
    }
    /* A capture that had kept less of it than there was: the header alone says "damaged" in the copy as well. */
    if (r->why == RECORD_WHY_CUT && length > RECORD_HEADER_BYTES)
        length = RECORD_HEADER_BYTES;
    if (!put(c, r->stamp_ns, bytes, length))
        return false;
    frame_note(c, r->frame);
    return true;
}

/* An ABOUT that stands before the window, of the bench or of a port that is kept. */
static bool holds_at_start(const struct cut *c, const struct trace_loop *l, const struct record *r)
{
    return !c->started && r->soundness == RECORD_SOUND && r->kind == RECORD_ABOUT && r->t_ns < l->since_ns &&
           (r->port == RECORD_PORT_BENCH || !c->options->ports.given || c->options->ports.wanted[r->port]);
}

bool cut_copy(struct cut *c)
{
    struct cut_source *s;

    for (; (s = source_next(c)); advance(s)) {
        if (trace_loop_inside(&s->loop, s->record)) {
            if (!keep(c, s->record))
                return false;
        } else if (holds_at_start(c, &s->loop, s->record) && !cut_about_take(&c->about, s->record)) {
            return false;
        }
    }
    if (c->written == 0 && !c->options->quiet)
        complain("cut: nothing lies in that part; the trace written is empty");
    if (c->clamped && !c->options->quiet)
        complain("cut: the trace steps back to before its start; those times were moved to the start");
    return true;
}

bool cut_close(struct cut *c)
{
    bool done = true;

    for (unsigned i = 0; i < CUT_SOURCES; i++)
        if (c->sources[i].open)
            done = trace_loop_close(&c->sources[i].loop) && done;
    return done;
}
