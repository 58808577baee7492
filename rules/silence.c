/*
 * Failures by silence, until it is certain that it was one: the gap of a LOST reaches back to the packet before it, whatever CC and the
 * readings showed in between; and to a plug that was pulled nobody owes anything.
 */
#include "rules/engine_inside.h"

#include <string.h>

static void tell_one(struct engine *e, struct port_book *b, struct silence_held *s, enum cause cause)
{
    if (cause == CAUSE_NONE) {
        engine_count_failure(e, b, s->rule, &s->finding);
        return;
    }
    s->finding.verdict = VERDICT_UNDECIDED;
    s->finding.cause = (uint8_t)cause;
    engine_count_undecided(e, b, s->rule, &s->finding);
}

/* Why nobody can tell an open CC from a swap. */
static enum cause missed_before(const struct port *p)
{
    return p->loss_frame ? CAUSE_LOST : CAUSE_BEGINNING;
}

/* What a packet that came since says of it. */
enum silence_fate { FATE_KEPT, FATE_TRUE, FATE_NOBODY, FATE_UNKNOWN };

static enum silence_fate fate_of(const struct port *p, const struct silence_held *s, const struct record *r)
{
    const struct speech *heard = r->kind == RECORD_PD_PACKET ? &p->speech : NULL;

    switch ((enum silence_doubt)s->doubt) {
    case SILENCE_GAP:
    case SILENCE_UNTIED:
        return FATE_TRUE;
    case SILENCE_OPEN:
        /* Two have talked since; or CC shows a partner again, and it may have been a swap that was missed. */
        return port_maybe_open(p) ? FATE_KEPT : p->cc_open_ns != INT64_MIN ? FATE_TRUE : FATE_UNKNOWN;
    case SILENCE_UNSEEN:
        break;
    }
    if (p->begun_frame == r->frame)
        return FATE_NOBODY;
    /* Whoever was silent speaks, or two talk to each other. What is said to a cable may be the beginning of a new attach. */
    if (heard && heard->good && heard->m.set == SET_SOP && (heard->player == s->player || heard->acknowledged || s->player == PLAYER_UNKNOWN))
        return FATE_TRUE;
    return FATE_KEPT;
}

void silence_pass_packet(struct engine *e, struct port_book *b, const struct record *r)
{
    unsigned kept = 0;

    for (unsigned n = 0; n < b->silence_count; n++) {
        struct silence_held *s = &b->silences[n];
        enum silence_fate    fate = fate_of(b->port, s, r);

        if (fate == FATE_TRUE || fate == FATE_UNKNOWN)
            tell_one(e, b, s, fate == FATE_TRUE ? CAUSE_NONE : missed_before(b->port));
        else if (fate == FATE_KEPT)
            b->silences[kept++] = *s;
    }
    b->silence_count = (uint8_t)kept;
}

void silence_lose(struct engine *e, struct port_book *b)
{
    for (unsigned n = 0; n < b->silence_count; n++)
        tell_one(e, b, &b->silences[n], CAUSE_LOST);
    b->silence_count = 0;
}

void silence_detach(struct port_book *b)
{
    unsigned kept = 0;

    for (unsigned n = 0; n < b->silence_count; n++)
        if (b->silences[n].doubt != SILENCE_OPEN)
            b->silences[kept++] = b->silences[n];
    b->silence_count = (uint8_t)kept;
}

/* By clocks so far apart, what was recorded of packets may have ended before, and VBUS may show too late that it went. */
static bool end_untied(const struct port *p, const struct silence_held *s, int64_t end_ns)
{
    return p->vbus_seen && (s->doubt == SILENCE_UNSEEN || end_ns - s->held_ns <= rail_align_ns(p));
}

void silence_end(struct engine *e, struct port_book *b, int64_t end_ns)
{
    for (unsigned n = 0; n < b->silence_count; n++)
        if (b->silences[n].doubt != SILENCE_OPEN)
            tell_one(e, b, &b->silences[n], end_untied(b->port, &b->silences[n], end_ns) ? CAUSE_TIE : CAUSE_NONE);
    b->silence_count = 0;
}

/* Judged by what did not come. */
static bool by_silence(const struct judge *j)
{
    switch ((int)j->event->kind) {
    case WAKE_LINE:
        return j->rule->line == LINE_GOODCRC;
    case WAKE_ASK:
        return !j->event->speech;
    case WAKE_TIME:
    case EVENT_ATTACH:
    case EVENT_DETACH:
        return true;
    default:
        return false;
    }
}

static bool doubted(const struct judge *j, enum silence_doubt *doubt)
{
    const struct port *p = j->book->port;

    if (port_maybe_open(p))
        *doubt = SILENCE_OPEN;
    else if (port_plug_unseen(p))
        *doubt = SILENCE_UNSEEN;
    else if (j->engine->between_packets)
        *doubt = SILENCE_GAP;
    else if (rail_align_ns(p) > 0)
        *doubt = SILENCE_UNTIED;
    else
        return false;
    return by_silence(j);
}

bool silence_hold(const struct judge *j, const struct finding *f, unsigned player)
{
    struct port_book  *b = j->book;
    enum silence_doubt doubt;

    if (!doubted(j, &doubt))
        return false;
    if (b->silence_count == SILENCES) {
        tell_one(j->engine, b, &b->silences[0], b->silences[0].doubt != SILENCE_OPEN ? CAUSE_NONE : missed_before(b->port));
        memmove(b->silences, b->silences + 1, (SILENCES - 1) * sizeof b->silences[0]);
        b->silence_count--;
    }
    b->silences[b->silence_count++] =
        (struct silence_held){ .finding = *f, .rule = (uint16_t)j->number, .doubt = (uint8_t)doubt, .player = (uint8_t)player,
                               .held_ns = j->event->t_ns };
    return true;
}
