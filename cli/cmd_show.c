/* portassay show: every record decoded, a line each. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/show.h"

#include "capture/text_form.h"
#include "decode/message.h"

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
        if (!show_take(s, r, trace_loop_stepped_back(l)))
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
    struct show *s = show_new(o, l);
    bool         done = false;

    if (s) {
        s->out = out_open(o);
        done = s->out && trace_loop_about(l, bench_about(s->bench)) && show_all(s, l, own, f);
        done = out_close(s->out) && done;
    }
    show_free(s);
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
