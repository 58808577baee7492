#include "capture/trace.h"

#include "capture/base/cursor.h"
#include "capture/hold_inside.h"
#include "capture/order_inside.h"
#include "capture/pcap_head_inside.h"
#include "capture/trace_source_inside.h"

#include <stdlib.h>
#include <string.h>

struct trace {
    struct trace_options options;
    struct byte_source  *bytes;
    struct pcap_source  *pcap; /* one of the two */
    struct text_source  *text;
    struct hold         *hold; /* NULL with file_order */
    struct order         order;
    struct trace_facts   facts;
    struct record        record; /* handed out last */
    bool                 stepped_back, ended, out_of_memory;
    struct { int64_t clock_ns, latest_ns; } mark; /* live: the latest start at that time */
    int64_t              live_ns;  /* live: what starts up to then waits no longer */
    int64_t              given_ns; /* live: latest start given out */
    char                 cut_words[200];
};

static bool kind_open(struct trace *t, struct fault *f)
{
    struct pcap_head head;
    const uint8_t   *first;
    size_t           length = byte_source_peek(t->bytes, 4, &first);
    int              sys;
    const char      *broken = length < 4 ? byte_source_broken(t->bytes, &sys) : NULL;

    if (broken)
        return fault_set(f, sys != 0 ? FAULT_READ : FAULT_COMPRESSION, sys, 0, sys != 0 ? NULL : broken);
    if (length == 0)
        return fault_set(f, FAULT_EMPTY, 0, 0, NULL);
    if (pcap_head_read(first, length, &head)) {
        t->pcap = pcap_source_new(t->bytes, &t->facts, f);
        return t->pcap != NULL;
    }
    t->facts.form = TRACE_TEXT;
    t->text = text_source_new(t->bytes, &t->options, f);
    return t->text != NULL;
}

/* Takes over bytes, also when it fails. */
static struct trace *trace_new(struct byte_source *bytes, const struct trace_options *options, struct fault *f)
{
    struct trace *t = bytes ? calloc(1, sizeof *t) : NULL;

    if (!t) {
        if (bytes)
            fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        byte_source_close(bytes);
        return NULL;
    }
    t->bytes = bytes;
    t->options = options ? *options : (struct trace_options){ 0 };
    t->mark.latest_ns = t->live_ns = t->given_ns = INT64_MIN;
    order_reset(&t->order);
    if (!t->options.file_order)
        t->hold = hold_new();
    bool ready = t->hold || t->options.file_order || fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);

    if (ready && kind_open(t, f))
        return t;
    trace_close(t);
    return NULL;
}

struct trace *trace_open(const char *path, const struct trace_options *options, struct fault *f)
{
    fault_set(f, FAULT_NONE, 0, 0, NULL);
    return trace_new(byte_source_open(path, f), options, f);
}

struct trace *trace_open_memory(const uint8_t *bytes, size_t length, const struct trace_options *options, struct fault *f)
{
    fault_set(f, FAULT_NONE, 0, 0, NULL);
    return trace_new(byte_source_over(bytes, length, f), options, f);
}

int64_t trace_bytes_read(const struct trace *t)
{
    return byte_source_at(t->bytes);
}

void trace_close(struct trace *t)
{
    if (!t)
        return;
    pcap_source_free(t->pcap);
    text_source_free(t->text);
    byte_source_close(t->bytes);
    hold_free(t->hold);
    free(t);
}

static void notice(const struct trace *t, enum trace_notice_code code, uint64_t frame, int64_t step_ns, const char *words)
{
    struct trace_notice n = { .code = code, .frame = frame, .step_ns = step_ns, .words = words };

    if (t->options.notice)
        t->options.notice(t->options.context, &n);
}

/* The file ended, in its order or not. */
static void end_note(struct trace *t, enum arrival_end end)
{
    int         sys;
    const char *words = byte_source_broken(t->bytes, &sys);

    t->ended = true;
    t->out_of_memory = end == ARRIVAL_NO_MEMORY;
    if (!words && end == ARRIVAL_BROKEN)
        words = t->pcap ? pcap_source_words(t->pcap) : "";
    if (!words)
        return;
    t->facts.cut_off = true;
    strncpy(t->cut_words, words, sizeof t->cut_words - 1);
    notice(t, TRACE_CUT_OFF, t->facts.records, 0, t->cut_words);
}

/* Counts a step back and tells of it. */
static void step_note(struct trace *t, enum order_step step, const struct held *h, int64_t step_ns)
{
    enum trace_notice_code code = step == ORDER_STEP_BACK        ? TRACE_STEP_BACK
                                  : step == ORDER_STEP_IN_STREAM ? TRACE_STEP_IN_STREAM
                                  : h->t_ns < t->given_ns        ? TRACE_CAME_LATE
                                                                 : TRACE_HELD_TOO_MUCH;

    t->facts.time_steps++;
    notice(t, code, h->frame, step_ns, NULL);
}

/* What can be said of a record in its place in the file: header, start, steps back. */
static void arrival_judge(struct trace *t, const struct arrival *a, struct held *h)
{
    struct cursor  c = cursor_over(a->bytes, a->length);
    const uint8_t *header = cursor_take(&c, RECORD_HEADER_BYTES);
    bool           readable = header && header[0] == RECORD_VERSION;
    uint8_t        kind = readable ? header[1] : 0, port = readable ? header[2] : 0;
    int64_t        step_ns, spilled_ns = t->hold ? hold_spilled_ns(t->hold) : INT64_MIN;

    *h = (struct held){ .stamp_ns = a->stamp_ns, .frame = a->frame, .bytes = a->bytes, .length = a->length,
                        .kind = kind };
    h->t_ns = record_start_ns(a->bytes, a->length, a->stamp_ns);
    h->marks = (uint8_t)((a->cut ? HELD_CUT : 0) | (a->text_damaged ? HELD_TEXT_DAMAGED : 0));
    t->facts.records++;
    if (readable && !t->facts.has_zero) {
        t->facts.has_zero = true;
        t->facts.zero_ns = t->facts.last_ns = h->t_ns;
    }
    enum order_step step = order_judge(&t->order, h->t_ns, h->kind, port, &step_ns);

    if (step == ORDER_STEP_BACK) {
        h->marks |= HELD_STEPPED_BACK;
        t->given_ns = t->live_ns = t->mark.latest_ns = INT64_MIN;
    }
    if (t->given_ns > spilled_ns)
        spilled_ns = t->given_ns;
    if (step != ORDER_KEPT)
        step_note(t, step, h, step_ns);
    else if (h->t_ns < spilled_ns)
        step_note(t, step, h, spilled_ns - h->t_ns);
}

/* Reads on by one record. False at the end. */
static bool arrive(struct trace *t, struct held *h)
{
    struct arrival   a;
    enum arrival_end end = t->pcap ? pcap_source_next(t->pcap, &a) : text_source_next(t->text, &a);

    if (end != ARRIVAL_MORE) {
        end_note(t, end);
        return false;
    }
    arrival_judge(t, &a, h);
    return true;
}

/* What a live trace gives out by the clock: what had come when the mark was set, once that is long enough ago. */
static void live_mark(struct trace *t)
{
    int64_t now_ns = t->options.now_ns(t->options.context);

    if (now_ns >= t->mark.clock_ns && now_ns - t->mark.clock_ns < TRACE_LIVE_NS)
        return;
    t->live_ns = t->mark.latest_ns;
    t->mark.clock_ns = now_ns;
    t->mark.latest_ns = t->order.latest_ns;
}

/* Nothing more is there: whoever wants to work meanwhile does. Then until something comes; while records are held, no longer than they may wait. */
static bool live_pause(struct trace *t, int most_ms)
{
    int wait_ms = t->options.idle ? 0 : -1;

    while (wait_ms >= 0) {
        if (byte_source_ready(t->bytes, wait_ms))
            return true;
        int64_t began_ns = t->options.now_ns(t->options.context);

        wait_ms = t->options.idle(t->options.context);
        /* What came meanwhile was not looked at: that time is nobody's delay. */
        t->mark.clock_ns += t->options.now_ns(t->options.context) - began_ns;
        if (most_ms >= 0)
            break;
    }
    return byte_source_ready(t->bytes, most_ms);
}

/* Waits for the next record, but no longer than one that is held may wait. False: nothing came. */
static bool live_wait(struct trace *t)
{
    if (t->pcap ? !pcap_source_direct(t->pcap) : text_source_has_line(t->text))
        return true;
    return live_pause(t, hold_first_ns(t->hold) == INT64_MAX ? -1 : (int)(TRACE_LIVE_NS / 1000000));
}

static const struct held *live_take(struct trace *t)
{
    live_mark(t);
    int64_t            until_ns = t->order.latest_ns - ORDER_SLACK_NS;
    const struct held *next = hold_take(t->hold, t->live_ns > until_ns ? t->live_ns : until_ns);

    if (next && next->t_ns > t->given_ns)
        t->given_ns = next->t_ns;
    return next;
}

/* The next in the order of start times. */
static const struct held *merged_next(struct trace *t)
{
    struct held h;

    for (;;) {
        const struct held *next = t->options.live && !t->ended
                                      ? live_take(t)
                                      : hold_take(t->hold, t->ended ? INT64_MAX : t->order.latest_ns - ORDER_SLACK_NS);

        if (next)
            return next;
        if (t->options.live && !t->ended && !live_wait(t))
            continue;
        if (t->ended || !arrive(t, &h))
            return t->out_of_memory ? NULL : hold_take(t->hold, INT64_MAX);
        if (!hold_put(t->hold, &h)) {
            t->ended = t->out_of_memory = true;
            return NULL;
        }
    }
}

static void facts_count_unsound(struct trace_facts *facts, const struct record *r)
{
    switch (r->soundness) {
    case RECORD_SOUND:      return;
    case RECORD_DAMAGED:    facts->damaged++; return;
    case RECORD_UNREADABLE: facts->unreadable++; return;
    case RECORD_UNKNOWN:    facts->unknown++; return;
    }
}

static void facts_count(struct trace_facts *facts, const struct record *r)
{
    if (r->soundness != RECORD_SOUND)
        facts_count_unsound(facts, r);
    if (r->soundness == RECORD_UNREADABLE)
        return;
    int64_t end_ns = r->t_ns + record_span_ns(r);

    if (end_ns > facts->last_ns)
        facts->last_ns = end_ns;
    if (r->flags & RECORD_INVENTED)
        facts->invented = true;
    if (r->kind == RECORD_LOST && r->soundness == RECORD_SOUND) {
        facts->lost += r->lost.count == RECORD_LOST_UNKNOWN ? 1 : r->lost.count;
        facts->lost_unknown = facts->lost_unknown || r->lost.count == RECORD_LOST_UNKNOWN;
    }
}

bool trace_next(struct trace *t, const struct record **record, struct fault *f)
{
    struct held        own;
    const struct held *h = t->hold ? merged_next(t) : !t->ended && arrive(t, &own) ? &own : NULL;

    if (!h)
        return fault_set(f, t->out_of_memory ? FAULT_NO_MEMORY : FAULT_NONE, 0, 0, NULL);
    record_read(h->bytes, h->length, h->marks & HELD_CUT, h->stamp_ns, h->frame, &t->record);
    if (h->marks & HELD_TEXT_DAMAGED) {
        t->record.soundness = RECORD_DAMAGED;
        t->record.why = RECORD_WHY_TEXT_LINE;
    }
    t->stepped_back = h->marks & HELD_STEPPED_BACK;
    facts_count(&t->facts, &t->record);
    *record = &t->record;
    return true;
}

bool trace_stepped_back(const struct trace *t)
{
    return t->stepped_back;
}

const struct trace_facts *trace_facts(const struct trace *t)
{
    return &t->facts;
}
