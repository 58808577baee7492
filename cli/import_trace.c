/* Traces as inputs of an import, in any of their forms: records as they are, ports moved, times shifted. */
#include "cli/import.h"

#include "capture/record_move.h"
#include "capture/trace.h"
#include "cli/phrase.h"
#include "cli/trace_loop.h"

#include <inttypes.h>
#include <stdlib.h>

struct trace_state {
    struct trace_loop    loop;
    const struct record *next; /* read, and not handed over */
    uint64_t             packets, resets, power, marks, unsound;
};

static struct trace_state *state_of(const struct import_input *in)
{
    return in->state;
}

static void advance(struct import_input *in)
{
    struct trace_state *s = state_of(in);

    if (!trace_loop_next(&s->loop, &s->next))
        s->next = NULL;
    in->reached_ns = s->next ? s->next->t_ns : INT64_MAX;
}

static void trace_input_close(struct import_input *in)
{
    trace_loop_close(&state_of(in)->loop);
    free(in->state);
}

static bool trace_open_as(struct import_input *in, bool alone)
{
    struct trace_state *s = in->state = calloc(1, sizeof *s);
    unsigned            flags = TRACE_LOOP_NAME_UNSOUND | TRACE_LOOP_NO_PROGRESS | (alone ? TRACE_LOOP_FILE_ORDER : 0);

    if (!s)
        return import_no_memory(in);
    if (!trace_loop_open(&s->loop, in->words->path, import_common(in->all), flags)) {
        free(s);
        return false;
    }
    advance(in);
    in->first_ns = s->next ? s->loop.zero_ns : INT64_MAX;
    return true;
}

static bool trace_input_open(struct import_input *in)
{
    return trace_open_as(in, import_alone(in->all));
}

/* Text is what a person or a script wrote: whatever else the file is, it is not what was named. */
static bool text_input_open(struct import_input *in)
{
    if (!trace_input_open(in))
        return false;
    if (state_of(in)->loop.facts->form == TRACE_TEXT)
        return true;
    import_say(in, "is a capture, not the text form of a trace; name it as trace:%s", in->words->path);
    trace_input_close(in);
    return false;
}

static void count(struct trace_state *s, const struct record *r)
{
    if (r->soundness != RECORD_SOUND)
        s->unsound++;
    else if (r->kind == RECORD_PD_PACKET)
        s->packets++;
    else if (r->kind == RECORD_RESET_SIGNAL)
        s->resets++;
    else if (r->kind == RECORD_POWER)
        s->power++;
    else if (r->kind == RECORD_MARK)
        s->marks++;
}

static bool trace_input_work(struct import_input *in)
{
    struct trace_state  *s = state_of(in);
    const struct record *r = s->next;
    struct record_moved  moved;

    if (!r) {
        in->failed = s->loop.failed;
        return false;
    }
    /* A capture that had kept less of it than there was: the header alone says "damaged" in the trace as well. */
    size_t length = r->why == RECORD_WHY_CUT && r->length > RECORD_HEADER_BYTES ? RECORD_HEADER_BYTES : r->length;

    if (!record_move(&moved, r->bytes, length, in->words->port)) {
        import_say(in, "frame %" PRIu64 ": with port=%u its port would lie beyond 254; choose a lower one", r->frame, in->words->port);
        in->failed = true;
        return false;
    }
    count(s, r);
    bool put = import_put(in, r->stamp_ns, moved.bytes, moved.length);

    record_move_done(&moved);
    if (put)
        advance(in);
    return put;
}

static struct import_progress trace_input_progress(const struct import_input *in)
{
    int64_t done = trace_bytes_read(state_of(in)->loop.trace);

    return (struct import_progress){ .done = done > 0 ? (uint64_t)done : 0, .total = done >= 0 ? import_file_bytes(in) : -1 };
}

static void trace_input_summary(const struct import_input *in)
{
    const struct trace_state *s = state_of(in);

    struct phrase             p = phrase_empty();
    const struct { uint64_t n; const char *one, *many; } kinds[] = {
        { s->packets, "packet", "packets" }, { s->resets, "reset", "resets" }, { s->power, "of readings", "of readings" },
        { s->marks, "mark", "marks" }, { s->unsound, "that cannot be used", "that cannot be used" },
    };
    bool any = false;

    phrase_count(&p, in->records, "record", "records");
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        if (kinds[k].n == 0)
            continue;
        phrase_add(&p, any ? ", " : ": ");
        phrase_count(&p, kinds[k].n, kinds[k].one, kinds[k].many);
        any = true;
    }
    import_say(in, "%s", p.text);
}

const struct import_kind import_text_kind = {
    .word = "text", .keys = IMPORT_ALL, .own = true, .open = text_input_open,
    .work = trace_input_work, .progress = trace_input_progress, .summary = trace_input_summary, .close = trace_input_close,
};
const struct import_kind import_trace_kind = {
    .word = "trace", .keys = IMPORT_ALL, .own = true, .open = trace_input_open,
    .work = trace_input_work, .progress = trace_input_progress, .summary = trace_input_summary, .close = trace_input_close,
};
