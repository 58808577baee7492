/* portassay show: every record decoded, a line each. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/show.h"

#include "capture/text_form.h"
#include "decode/exchange.h"
#include "decode/message.h"

#include <stdlib.h>

struct show_options {
    bool               text, terse;
    struct option_list messages, kinds;
};

/* What is shown, worked out once from the options. */
struct show_filter {
    bool     messages_given, kinds_given, terse;
    bool     messages[MESSAGE_INDEXES];
    uint32_t kinds; /* bits 1 << enum show_kind */
};

static const struct option_row rows[] = {
    { "message", 'm', "NAME", "these messages only (Source_Capabilities ...); may be given again", OPTION_LIST,
      offsetof(struct show_options, messages), NULL },
    { "kind", 'k', "KIND", "these records only; may be given again", OPTION_LIST, offsetof(struct show_options, kinds), NULL },
    { "terse", 't', NULL, "leave out acknowledgements, repeated copies, steady readings", OPTION_FLAG,
      offsetof(struct show_options, terse), NULL },
    { "text", 0, NULL, "the text form of the trace, which is read as a trace again", OPTION_FLAG,
      offsetof(struct show_options, text), NULL },
    { 0 },
};

static const char details[] =
    "Frame, seconds since the first record, time since the port's record before it, port, who speaks (source, sink, cable), "
    "MessageID, and what was said. What needs no attention stands indented: acknowledgements (GoodCRC), repeated copies, "
    "readings that stay as they were. What a record changes stands behind an arrow: => contract 9 V 3 A. -v adds every field "
    "and the bytes.\n"
    "KIND is packet, reset, power, cc, mark, lost, temperature, about, edges, unknown, damaged or unreadable.\n";

static bool kinds_read(const struct option_list *list, struct show_filter *f)
{
    for (unsigned i = 0; i < list->count; i++) {
        unsigned k = 0;

        while (show_kind_names[k] && strcmp(show_kind_names[k], list->items[i]) != 0)
            k++;
        if (!show_kind_names[k]) {
            complain("show: --kind %s: there is no such kind of record; " PORTASSAY_NAME " show --help lists them", list->items[i]);
            return false;
        }
        f->kinds |= UINT32_C(1) << k;
    }
    f->kinds_given = list->count > 0;
    return true;
}

static bool messages_read(const struct option_list *list, struct show_filter *f)
{
    for (unsigned i = 0; i < list->count; i++) {
        int index = message_index_of(list->items[i]);

        if (index < 0) {
            complain("show: --message %s: there is no such message; write it like Source_Capabilities or PS_RDY", list->items[i]);
            return false;
        }
        f->messages[index] = true;
    }
    f->messages_given = list->count > 0;
    return true;
}

/* --kind and --message each add; where messages are named, packets are those messages. */
static bool wanted(const struct show_filter *f, const struct show *s)
{
    enum show_kind kind = show_kind_of(s->record);

    if (kind != SHOW_PACKET) {
        bool named = f->kinds_given ? (f->kinds >> kind & 1) != 0 : !f->messages_given;

        return named && !(f->terse && kind == SHOW_POWER && s->power_steady);
    }
    if (f->terse && s->speech && s->speech->good &&
        (s->speech->copy || s->speech->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC)))
        return false;
    if (f->messages_given)
        return s->speech && f->messages[s->speech->m.index % MESSAGE_INDEXES];
    return !f->kinds_given || (f->kinds >> SHOW_PACKET & 1) != 0;
}

static void news_take(void *context, const struct event *e)
{
    struct show_news *n = context;

    if (e->port->number != n->port)
        return;
    n->events |= EVENT_BIT(e->kind);
    if (e->kind == EVENT_CONTRACT || e->kind == EVENT_RENEWED)
        n->begun = *e->contract;
    if (e->kind == EVENT_CONTRACT_END)
        n->ended_by = e->contract->ended_by;
    if (e->kind == EVENT_SWAPPED)
        n->swap = (uint8_t)e->swap;
}

/* Feeds the model, and notes what has to be known from before. */
static bool take(struct show *s, const struct record *r, bool stepped_back)
{
    const struct port *before = bench_port(s->bench, r->port);

    s->record = r;
    s->answered = before ? before->asked_index : 0;
    s->news.events = 0;
    s->news.port = r->port;
    if (!bench_feed(s->bench, r, stepped_back)) {
        complain("out of memory for port %u; close something and try again", r->port);
        return false;
    }
    s->port = bench_port(s->bench, r->port);
    s->speech = bench_speech(s->bench);
    s->previous_ns = bench_previous_ns(s->bench);
    if (s->answered && !(s->speech && exchange_kind(s->answered) &&
                         exchange_answers(exchange_kind(s->answered), s->speech->m.index)))
        s->answered = 0;
    return true;
}

static void text_put(void *context, const char *text, size_t length)
{
    out_bytes(context, text, length);
}

static void show_one(struct show *s, const struct show_options *own)
{
    if (own->text) {
        text_write(s->record, text_put, s->out);
    } else if (s->options->json) {
        show_json(s);
    } else {
        show_heading(s);
        show_line(s);
        if (s->options->verbose)
            show_detail(s);
    }
}

static bool show_all(struct show *s, struct trace_loop *l, const struct show_options *own, const struct show_filter *f)
{
    const struct record *r;

    while (!out_gone(s->out) && trace_loop_next(l, &r)) {
        if (!take(s, r, trace_loop_stepped_back(l)))
            return false;
        if (!trace_loop_inside(l, r))
            continue;
        if (r->soundness == RECORD_SOUND && r->kind == RECORD_POWER)
            s->power_steady = show_power_steady(s);
        if (wanted(f, s))
            show_one(s, own);
    }
    return true;
}

static int show_trace(struct trace_loop *l, const struct options *o, const struct show_options *own, const struct show_filter *f)
{
    struct show *s = calloc(1, sizeof *s);
    bool         done = false;

    if (s) {
        s->options = o;
        s->zero_ns = l->zero_ns;
        s->bench = bench_new();
        s->out = out_open(o);
    }
    if (s && s->bench && s->out) {
        bench_default_time(s->bench, l->facts->default_time_ns);
        bench_observe(s->bench, EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) |
                                EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_SWAPPED) |
                                EVENT_BIT(EVENT_EPR_ENTERED) | EVENT_BIT(EVENT_EPR_LEFT), news_take, &s->news);
        done = trace_loop_about(l, bench_about(s->bench)) && show_all(s, l, own, f);
    } else if (!s || !s->bench) {
        complain("out of memory; close something and try again");
    }
    if (s) {
        done = out_close(s->out) && done;
        bench_free(s->bench);
    }
    free(s);
    return done ? STATUS_DONE : STATUS_NOT_DONE;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options      o;
    struct show_options own = { 0 };
    struct show_filter  f = { 0 };
    struct trace_loop   l;
    int                 status;

    if (!options_read(self, argc, argv, &o, &own, &status))
        return status;
    f.terse = own.terse;
    if (own.text && o.json) {
        complain("show: --text and --json together; choose one");
        return STATUS_NOT_DONE;
    }
    if (!kinds_read(&own.kinds, &f) || !messages_read(&own.messages, &f))
        return STATUS_NOT_DONE;
    if (!trace_loop_open(&l, o.operands[0], &o, 0))
        return STATUS_NOT_DONE;
    status = show_trace(&l, &o, &own, &f);
    return trace_loop_close(&l) ? status : STATUS_NOT_DONE;
}

const struct command command_show = {
    "show", "TRACE", "every record decoded, a line each", details,
    COMMON_JSON | COMMON_PORT | COMMON_TIME | COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET | COMMON_VERBOSE | COMMON_COLOR,
    rows, 1, 1, run,
};
