/* Questions and their answers. */
#include "capture/base/cursor.h"
#include "decode/exchange.h"
#include "rules/engine_inside.h"

#include <string.h>

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

enum {
    EPR_ENTER = 1, EPR_ENTER_ACKNOWLEDGED = 2, EPR_ENTER_FAILED = 4,         /* EPRMDO actions: Chromium EC usb_pd.h */
    EXTENDED_GET_SOURCE = 1, EXTENDED_GET_SINK, EXTENDED_KEEP_ALIVE, EXTENDED_KEEP_ALIVE_ACK, /* ECDB: Zephyr usbc_pd.h */
    VDM_ATTENTION = 6, VDM_REQ = 0,                                          /* Linux include/linux/usb/pd_vdo.h */
};

void talk_start(struct talk *t)
{
    memset(t, 0, sizeof *t);
    for (unsigned k = 0; k < STREAMS; k++)
        t->last_ns[k] = INT64_MIN;
    t->due_ns = INT64_MAX;
    t->unanswered_ns = INT64_MIN;
    t->reset_ns = INT64_MIN;
    t->settled = -1;
}

static bool vdm_structured(uint32_t header)
{
    return header >> 15 & 1;
}

static unsigned vdm_kind(uint32_t header)
{
    return header >> 6 & 3;
}

static unsigned extended_control(const struct speech *s)
{
    return s->data && s->size ? s->data[0] : s->m.body_length ? s->m.body[0] : 0;
}

/* VDM command, EPR_Mode action, Extended_Control type. */
static unsigned detail_of(const struct speech *s)
{
    if (s->m.index == DATA(VENDOR_DEFINED))
        return vdm_structured(message_word(&s->m, 0)) ? message_word(&s->m, 0) & 31 : 0;
    if (s->m.index == DATA(EPR_MODE))
        return message_word(&s->m, 0) >> 24;
    return s->m.index == EXTENDED(CONTROL) ? extended_control(s) : 0;
}

bool speech_asks(const struct speech *s)
{
    unsigned detail;

    if (!message_kind(s->m.index)->name)
        return true;
    if (s->m.message_class == CLASS_EXTENDED && s->news != CHUNK_COMPLETE)
        return false;
    switch (s->m.index) {
    case DATA(VENDOR_DEFINED):
        return vdm_structured(message_word(&s->m, 0)) && vdm_kind(message_word(&s->m, 0)) == VDM_REQ &&
               detail_of(s) != VDM_ATTENTION;
    case DATA(EPR_MODE):
        return detail_of(s) == EPR_ENTER;
    case EXTENDED(CONTROL):
        detail = detail_of(s);
        return detail >= EXTENDED_GET_SOURCE && detail <= EXTENDED_KEEP_ALIVE;
    default:
        return exchange_kind(s->m.index) != NULL;
    }
}

/* Messages that stand for themselves, or carry on what was agreed on before: nobody who waits for an answer minds them. */
static bool passed_over(const struct speech *s)
{
    switch (s->m.index) {
    case DATA(ALERT):
    case DATA(BIST):
    case EXTENDED(VENDOR_DEFINED):
    case CONTROL(PING):
    case CONTROL(GOTOMIN):
    case CONTROL(PS_RDY):
    case CONTROL(DATA_RESET_COMPLETE):
        return true;
    case DATA(VENDOR_DEFINED):
        return !vdm_structured(message_word(&s->m, 0)) ||
               (vdm_kind(message_word(&s->m, 0)) == VDM_REQ && detail_of(s) == VDM_ATTENTION);
    default:
        return false;
    }
}

static bool answers_extended_control(const struct ask *a, const struct speech *s)
{
    if (s->m.index == CONTROL(NOT_SUPPORTED))
        return true;
    switch (a->detail) {
    case EXTENDED_GET_SOURCE:
        return s->m.index == EXTENDED(EPR_SOURCE_CAPABILITIES);
    case EXTENDED_GET_SINK:
        return s->m.index == EXTENDED(EPR_SINK_CAPABILITIES);
    default:
        return s->m.index == EXTENDED(CONTROL) && extended_control(s) == EXTENDED_KEEP_ALIVE_ACK;
    }
}

/* The catalogue's section 7. */
bool ask_may_answer(const struct ask *a, const struct speech *s)
{
    unsigned action;

    if (a->reserved)
        return s->m.index == CONTROL(NOT_SUPPORTED);
    switch (a->index) {
    case EXTENDED(CONTROL):
        return answers_extended_control(a, s);
    case DATA(VENDOR_DEFINED):
        return s->m.index == CONTROL(NOT_SUPPORTED) ||
               (s->m.index == DATA(VENDOR_DEFINED) && vdm_structured(message_word(&s->m, 0)) &&
                vdm_kind(message_word(&s->m, 0)) != VDM_REQ);
    case DATA(EPR_MODE):
        action = detail_of(s);
        return s->m.index == CONTROL(NOT_SUPPORTED) ||
               (s->m.index == DATA(EPR_MODE) && (action == EPR_ENTER_ACKNOWLEDGED || action == EPR_ENTER_FAILED));
    case CONTROL(FR_SWAP): /* by a source that knows nothing of it */
        return s->m.index == CONTROL(ACCEPT) || s->m.index == CONTROL(NOT_SUPPORTED);
    case DATA(REQUEST):
    case DATA(EPR_REQUEST):
        return s->m.index != CONTROL(NOT_SUPPORTED) && exchange_answers(exchange_kind(a->index), s->m.index);
    default:
        return exchange_answers(exchange_kind(a->index), s->m.index);
    }
}

static bool is_offer(unsigned index)
{
    return index == DATA(SOURCE_CAPABILITIES) || index == EXTENDED(EPR_SOURCE_CAPABILITIES);
}

static int64_t patience_ns(const struct engine *e)
{
    return e->answer_none_ns;
}

static void look_again(struct talk *t)
{
    t->due_ns = INT64_MAX;
    for (unsigned k = 0; k < STREAMS; k++)
        if (t->is_open[k] && talk_open(t, k)->due_ns < t->due_ns)
            t->due_ns = talk_open(t, k)->due_ns;
}

/* Anything between the question and now that may have been the answer, or what explains its absence. */
static void note_gap(const struct port *p, unsigned stream, struct ask *a)
{
    bool     same_set = p->bad_set == a->set;
    uint64_t missed = a->set == SET_SOP ? p->bad_missed_frame : a->set == SET_SOP1 ? p->bad_plug_frame : 0;

    if (p->loss_frame > a->sent.frame) {
        a->gap = true;
        a->cause = CAUSE_LOST;
    } else if (missed > a->sent.frame ||
               (p->bad_frame > a->sent.frame && same_set && (p->bad_fresh || p->streams[stream ^ 1u].bad_between))) {
        a->gap = true;
        a->cause = CAUSE_BAD_PACKET;
    }
}

static void freeze(const struct port *p, struct talk *t, unsigned stream)
{
    if (t->frozen[stream])
        return;
    talk_open(t, stream)->sent = p->streams[stream].last;
    t->frozen[stream] = true;
}

/* Under 2.0 nobody has to answer a VDM. */
static void note_unanswered(struct talk *t, const struct ask *a, int64_t t_ns)
{
    bool free_to = a->index == DATA(VENDOR_DEFINED) && a->agreed == AGREED_R2;

    if (a->set == SET_SOP && a->end != ASK_ANSWERED && a->end != ASK_OTHER && a->end != ASK_CROSSED && !free_to)
        t->unanswered_ns = t_ns;
}

static void settle(struct engine *e, struct port_book *b, unsigned stream, enum ask_end end, const struct event *event)
{
    struct talk *t = &b->talk;
    struct ask  *a = talk_open(t, stream);

    freeze(b->port, t, stream);
    a->end = (uint8_t)end;
    a->delivered = a->sent.delivery != DELIVERY_OPEN;
    if (end == ASK_SILENT && !a->delivered)
        a->end = ASK_UNHEARD;
    note_gap(b->port, stream, a);
    note_unanswered(t, a, event->t_ns);
    t->turn[stream] ^= 1;
    t->last_ns[stream] = event->t_ns;
    t->is_open[stream] = false;
    if (a->due_ns <= t->due_ns)
        look_again(t);
    engine_wake_ask(e, b, event, a);
}

static void answered_by(struct ask *a, const struct speech *s)
{
    a->answer = s->spoilt.frame ? s->spoilt : speech_wire(s);
    a->answer_index = s->m.index;
    a->answer_player = s->player;
    a->answer_side = s->side;
    a->answer_word = message_word(&s->m, 0);
}

/* What this message means for the partner's question; false: nothing. */
static bool settles(const struct ask *a, const struct speech *s, enum ask_end *end)
{
    if (ask_may_answer(a, s)) {
        *end = ASK_ANSWERED;
        return true;
    }
    if (passed_over(s))
        return false;
    *end = speech_asks(s) || s->m.index == DATA(EPR_MODE) ? ASK_CROSSED : ASK_OTHER;
    return *end == ASK_OTHER || !is_offer(a->index);
}

/* The first data object, or the first bytes of an extended message's block: some are shorter than a word. */
static uint32_t first_word(const struct speech *s)
{
    struct cursor c = cursor_over(s->data, s->size);
    uint32_t      word = 0;

    if (s->m.message_class != CLASS_EXTENDED)
        return message_word(&s->m, 0);
    for (unsigned k = 0; k < sizeof word && c.left > 0; k++)
        word |= (uint32_t)cursor_u8(&c) << 8 * k;
    return word;
}

static void open_ask(struct engine *e, struct port_book *b, unsigned stream, const struct event *event, bool asked)
{
    struct talk         *t = &b->talk;
    struct ask          *a = talk_open(t, stream); /* field by field: clearing it takes longer */
    const struct speech *s = event->speech;
    const struct port   *p = b->port;

    a->end = ASK_OPEN;
    a->answer.frame = 0;
    a->answer_index = 0;
    a->answer_player = PLAYER_UNKNOWN;
    a->answer_side = SIDE_UNKNOWN;
    a->answer_word = 0;
    a->delivered = a->gap = false;
    a->cause = CAUSE_NONE;
    a->index = s->m.index;
    a->set = s->m.set;
    a->player = s->player;
    a->side = s->side;
    a->detail = (uint8_t)detail_of(s);
    a->revision = s->m.revision;
    a->agreed = p->agreed;
    a->in_contract = p->contract.held;
    a->epr_mode = p->epr_mode;
    a->asked = asked;
    a->owed = is_offer(a->index) && (!(a->index == DATA(SOURCE_CAPABILITIES) ? p->offer.known : p->epr_offer.known) || p->offer_owed);
    a->reserved = message_kind(s->m.index)->name == NULL;
    a->first_frame = s->first_frame;
    a->word = first_word(s);
    a->start_ns = s->start_ns;
    a->due_ns = s->end_ns + patience_ns(e);
    t->is_open[stream] = true;
    t->frozen[stream] = false;
    if (a->due_ns < t->due_ns)
        t->due_ns = a->due_ns;
}

/* What follows an Accept is timed from it; mostly a PS_RDY, and that finds it where it is. */
static void keep_accept(const struct port *p, struct talk *t, unsigned stream, const struct speech *s)
{
    const struct sent *last = &p->streams[stream].last;

    if (last->index == CONTROL(ACCEPT) && s->m.set == SET_SOP && last->held && s->m.index != CONTROL(PS_RDY))
        t->accept = *last;
}

static void settle_by_soft_reset(struct engine *e, struct port_book *b, unsigned stream, const struct event *event)
{
    if (event->speech->m.set == SET_SOP)
        b->talk.reset_ns = event->t_ns;
    for (unsigned k = stream & ~1u; k <= (stream | 1u); k++)
        if (b->talk.is_open[k] && talk_open(&b->talk, k)->index != CONTROL(SOFT_RESET)) {
            answered_by(talk_open(&b->talk, k), event->speech);
            settle(e, b, k, ASK_SOFT_RESET, event);
        }
}

void talk_take_message(struct engine *e, struct port_book *b, const struct event *event)
{
    const struct speech *s = event->speech;
    struct talk         *t = &b->talk;
    unsigned             stream = stream_index(s->m.set, s->player), partner = stream ^ 1u;
    enum ask_end         end;
    bool                 asked = false;

    t->settled = -1;
    if (s->m.request_chunk || (s->m.chunked && s->m.chunk > 0 && s->news != CHUNK_COMPLETE))
        return;
    keep_accept(b->port, t, stream, s);
    if (s->m.index == CONTROL(SOFT_RESET))
        settle_by_soft_reset(e, b, stream, event);
    if (t->is_open[stream])
        freeze(b->port, t, stream);
    if (t->is_open[partner] && !(s->m.chunked && s->m.chunk > 0) && settles(talk_open(t, partner), s, &end)) {
        unsigned index = talk_open(t, partner)->index;

        asked = end == ASK_ANSWERED && (index == CONTROL(GET_SOURCE_CAP) || index == EXTENDED(CONTROL));
        answered_by(talk_open(t, partner), s);
        settle(e, b, partner, end, event);
        t->settled = (int)partner;
    }
    if (!speech_asks(s))
        return;
    if (t->is_open[stream]) {
        answered_by(talk_open(t, stream), s);
        settle(e, b, stream, ASK_OVERTAKEN, event);
    }
    open_ask(e, b, stream, event, asked);
}

void talk_take_hard_reset(struct engine *e, struct port_book *b, const struct event *event)
{
    b->talk.origin = (uint8_t)origin_of_reset(b, event);
    b->talk.reset_ns = event->t_ns;
    for (unsigned k = 0; k < STREAMS; k++)
        if (b->talk.is_open[k]) {
            talk_open(&b->talk, k)->answer = record_wire(event->record);
            settle(e, b, k, ASK_HARD_RESET, event);
        }
}

void talk_take_attach(struct port_book *b)
{
    talk_start(&b->talk);
    b->talk.reset_ns = b->port->attach_ns;
}

int64_t judge_anew_ns(const struct judge *j)
{
    return j->book->talk.reset_ns;
}

const struct sent *judge_sent(const struct judge *j, unsigned set, uint64_t frame)
{
    const struct port *p = j->book->port;

    for (unsigned k = 2 * set; k < 2 * set + 2; k++)
        if (p->streams[k].last.held && p->streams[k].last.frame == frame)
            return &p->streams[k].last;
    return set == SET_SOP && frame && j->book->talk.accept.frame == frame ? &j->book->talk.accept : NULL;
}

const struct sent *judge_open_sent(const struct judge *j, unsigned set, unsigned player)
{
    struct talk *t = &j->book->talk;
    unsigned     stream = stream_index(set, player);

    if (!t->is_open[stream])
        return NULL;
    return t->frozen[stream] ? &talk_open(t, stream)->sent : &j->book->port->streams[stream].last;
}

void talk_take_detach(struct engine *e, struct port_book *b, const struct event *event)
{
    talk_pass_time(e, b, event->t_ns, event->record);
    for (unsigned k = 0; k < STREAMS; k++)
        if (b->talk.is_open[k])
            settle(e, b, k, ASK_DETACHED, event);
}

/* When patience is over for certain: the message may have been repeated, and acknowledged later than it was sent. */
static int64_t over_ns(const struct engine *e, const struct port *p, struct talk *t, unsigned stream)
{
    const struct sent *m = t->frozen[stream] ? &talk_open(t, stream)->sent : &p->streams[stream].last;

    return edge_done(p, m).late_ns + patience_ns(e);
}

void talk_pass_time(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *record)
{
    struct talk *t = &b->talk;

    for (unsigned k = 0; k < STREAMS; k++) {
        if (!t->is_open[k] || talk_open(t, k)->due_ns > t_ns)
            continue;
        talk_open(t, k)->due_ns = over_ns(e, b->port, t, k);
        if (talk_open(t, k)->due_ns > t_ns)
            continue;
        struct event event = { .kind = (enum event_kind)WAKE_ASK, .port = b->port, .record = record,
                               .t_ns = talk_open(t, k)->due_ns, .frame = talk_open(t, k)->first_frame };

        settle(e, b, k, ASK_SILENT, &event);
    }
    look_again(t);
}
