#include "cli/show.h"

#include "cli/fault_text.h"
#include "decode/exchange.h"

#include <stdlib.h>

const char *const show_kind_names[SHOW_KINDS + 1] = {
    [SHOW_PACKET] = "packet", [SHOW_RESET] = "reset", [SHOW_POWER] = "power", [SHOW_CC] = "cc", [SHOW_MARK] = "mark",
    [SHOW_LOST] = "lost", [SHOW_TEMPERATURE] = "temperature", [SHOW_ABOUT] = "about", [SHOW_EDGES] = "edges",
    [SHOW_UNKNOWN] = "unknown", [SHOW_DAMAGED] = "damaged", [SHOW_UNREADABLE] = "unreadable", [SHOW_KINDS] = NULL,
};

static enum show_kind kind_of_sound(uint8_t kind)
{
    static const uint8_t kinds[] = {
        [RECORD_PD_PACKET] = SHOW_PACKET, [RECORD_RESET_SIGNAL] = SHOW_RESET, [RECORD_POWER] = SHOW_POWER,
        [RECORD_CC_STATE] = SHOW_CC, [RECORD_MARK] = SHOW_MARK, [RECORD_LOST] = SHOW_LOST,
        [RECORD_TEMPERATURE] = SHOW_TEMPERATURE, [RECORD_ABOUT] = SHOW_ABOUT, [RECORD_CC_EDGES] = SHOW_EDGES,
    };

    return kind >= RECORD_PD_PACKET && kind <= RECORD_CC_EDGES ? (enum show_kind)kinds[kind] : SHOW_UNKNOWN;
}

enum show_kind show_kind_of(const struct record *r)
{
    switch (r->soundness) {
    case RECORD_SOUND:      return kind_of_sound(r->kind);
    case RECORD_DAMAGED:    return SHOW_DAMAGED;
    case RECORD_UNREADABLE: return SHOW_UNREADABLE;
    case RECORD_UNKNOWN:    return SHOW_UNKNOWN;
    }
    return SHOW_UNKNOWN;
}

const char *show_action_text(unsigned action)
{
    static const char *const names[] = {
        [RECORD_NOTE] = "note", [RECORD_PLUGGED] = "plugged", [RECORD_UNPLUGGED] = "unplugged", [RECORD_LOAD_SET] = "load",
        [RECORD_INPUT_ON] = "input_on", [RECORD_INPUT_OFF] = "input_off", [RECORD_BUTTON] = "button",
    };

    return action < sizeof names / sizeof names[0] ? names[action] : "?";
}

const char *show_rp_text(unsigned rp)
{
    static const char *const names[] = { "none", "default", "1.5A", "3.0A" };

    return rp < sizeof names / sizeof names[0] ? names[rp] : "?";
}

const char *show_where_text(unsigned where)
{
    static const char *const names[] = { "unknown", "instrument", "host", "disk" };

    return where < sizeof names / sizeof names[0] ? names[where] : "?";
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

struct show *show_new(const struct options *o, const struct trace_loop *l)
{
    struct show *s = calloc(1, sizeof *s);

    if (s)
        s->bench = bench_new();
    if (!s || !s->bench) {
        complain("out of memory; close something and try again");
        free(s);
        return NULL;
    }
    s->options = o;
    s->zero_ns = l->zero_ns;
    bench_default_time(s->bench, l->facts->default_time_ns);
    bench_observe(s->bench, EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) |
                            EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_SWAPPED) |
                            EVENT_BIT(EVENT_EPR_ENTERED) | EVENT_BIT(EVENT_EPR_LEFT), news_take, &s->news);
    return s;
}

void show_free(struct show *s)
{
    if (s)
        bench_free(s->bench);
    free(s);
}

bool show_take(struct show *s, const struct record *r, bool stepped_back)
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
