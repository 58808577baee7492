/* Messages in a row: what rules share that follow them. */
#include "rules/sequence.h"

#include <string.h>

void kept_begin(struct kept *k, const struct speech *s)
{
    memset(k, 0, sizeof *k);
    k->frame = s->frame;
    k->stream = (uint8_t)stream_index(s->m.set, s->player);
    k->sent.frame = k->sent.last_frame = s->frame;
    k->sent.start_ns = k->sent.last_start_ns = s->start_ns;
    k->sent.end_ns = k->sent.first_end_ns = s->end_ns;
    k->sent.last_flags = s->flags;
    k->sent.last_measured = s->measured;
}

void kept_look(struct kept *k, const struct port *p)
{
    const struct sent *last = &p->streams[k->stream].last;

    if (k->frame && last->held && last->frame == k->frame)
        k->sent = *last;
}

struct edge kept_done(const struct kept *k, const struct port *p)
{
    return edge_done(p, &k->sent);
}

uint64_t kept_last_frame(const struct kept *k)
{
    return k->sent.last_frame;
}

struct wire heard_wire(const struct speech *s)
{
    return s->spoilt.frame ? s->spoilt : speech_wire(s);
}

struct edge heard_start(const struct port *p, const struct speech *s)
{
    struct wire w = heard_wire(s);

    return edge_start(p, &w);
}

enum cause sequence_gap(const struct port *p, uint64_t frame, int64_t since_ns)
{
    if (p->loss_frame > frame)
        return CAUSE_LOST;
    if (p->bad_fresh && p->bad_set == SET_SOP && p->bad_frame > frame)
        return CAUSE_BAD_PACKET;
    if (p->missed_ns == INT64_MIN || p->missed_ns <= since_ns)
        return CAUSE_NONE;
    return p->bad_frame > frame ? CAUSE_BAD_PACKET : CAUSE_BEGINNING;
}

enum cause sequence_gap_before(const struct port *p, unsigned set, int64_t t_ns, int64_t within_ns)
{
    if (p->loss_frame && t_ns - p->loss_to_ns <= within_ns)
        return CAUSE_LOST;
    if (p->bad_frame && p->bad_set == set && t_ns - p->bad_ns <= within_ns &&
        (p->bad_fresh || p->bad_missed_frame == p->bad_frame || p->bad_plug_frame == p->bad_frame))
        return CAUSE_BAD_PACKET;
    return p->attach_seen == ATTACH_UNSEEN && t_ns - p->first_ns <= within_ns ? CAUSE_BEGINNING : CAUSE_NONE;
}

unsigned player_other(unsigned player)
{
    return player == PLAYER_A ? PLAYER_B : player == PLAYER_B ? PLAYER_A : PLAYER_UNKNOWN;
}

unsigned player_source(const struct port *p)
{
    if (p->role[PLAYER_A] == p->role[PLAYER_B])
        return PLAYER_UNKNOWN;
    return p->role[PLAYER_A] == SIDE_SOURCE ? PLAYER_A : PLAYER_B;
}

bool sequence_applies(const struct judge *j, const struct port *p, unsigned player)
{
    static const struct edition none = { 0 };
    const struct edition       *edition = player <= PLAYER_CABLE ? &p->edition[player] : &none;

    return rule_applies(judge_rule(j), p->agreed, edition, judge_standard(j)) != ANSWER_NO;
}
