/* What a header says of its sender: roles and revision; and whether that sender may send the message at all. */
#include "rules/message_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

enum { ROLE_QUIET }; /* the parameter of message.power-role: role_quiet_ms */

/* message.power-role */

/* Who the source is was shown in this attach: by CC, or by capabilities, or by a Request answered. */
static bool source_known(const struct port *p)
{
    return p->attach_seen != ATTACH_UNSEEN || p->agreed != AGREED_UNKNOWN || p->offer.known;
}

/* Ends stamped by a host put a short packet behind a longer one that came after it: which one it acknowledges is not sure. */
static bool order_certain(const struct record *r)
{
    return !(r->flags & RECORD_HOST_TIME) || !(r->flags & RECORD_END_TIME);
}

static bool role_unsettled(const struct judge *j, const struct port *p, int64_t t_ns)
{
    if (p->swap == SWAP_PR || p->swap == SWAP_FR || p->doubt_until_ns)
        return true;
    return p->hard_reset_frame && t_ns - p->hard_reset_ns <= judge_window(j, ROLE_QUIET).high_ns;
}

/* Types that in this state only one side may send. */
static bool sender_certain(const struct port *p, const struct speech *s)
{
    bool power = p->request.held && s->player == (p->request.player ^ 1u);

    switch (s->m.index) {
    case DATA(REQUEST):
    case DATA(EPR_REQUEST):
        return s->side == SIDE_SINK;
    case DATA(SOURCE_CAPABILITIES):
        return s->side == SIDE_SOURCE;
    case CONTROL(ACCEPT):
        return power && p->request.state == REQUEST_SENT && p->swap_asked == SWAP_NONE;
    case CONTROL(PS_RDY):
        return power && p->request.state == REQUEST_ACCEPTED && p->swap == SWAP_NONE;
    default:
        return false;
    }
}

static void power_role_fail(struct judge *j, const struct event *e, struct power_role_state *state, unsigned sentence)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)sentence;
    o.values[0] = e->speech->m.index;
    o.values[1] = e->speech->m.power_bit;
    o.values[2] = e->speech->side;
    if (e->speech->acknowledged)
        outcome_evidence(&o, e->speech->acknowledged->last_frame);
    outcome_evidence(&o, e->frame);
    state->failed_frame = e->frame;
    judge_fail(j, &o);
}

void message_check_power_role(struct judge *j, const struct event *e)
{
    struct power_role_state *state = judge_state(j, e->port);
    const struct port       *p = e->port;
    const struct speech     *s = e->speech;

    if (s->m.set != SET_SOP || !source_known(p))
        return;
    if ((p->swap != SWAP_NONE || p->hard_reset_frame || p->doubt_until_ns) && role_unsettled(j, p, s->start_ns))
        return;
    if (e->kind == EVENT_GOODCRC_ODD) {
        if (!s->acknowledged || s->acknowledged->frame == state->failed_frame)
            return;
        if (s->m.power_bit != (s->acknowledged->header >> 8 & 1))
            judge_pass(j);
        else if (order_certain(e->record))
            power_role_fail(j, e, state, SAYS_POWER_GOODCRC);
        return;
    }
    if (!sender_certain(p, s))
        return;
    if (s->m.power_bit != (s->side == SIDE_SOURCE))
        power_role_fail(j, e, state, SAYS_POWER_OWN);
    else
        judge_pass(j);
}

/* message.data-role */
void message_check_data_role(struct judge *j, const struct event *e)
{
    const struct port   *p = e->port;
    const struct speech *s = e->speech;

    if (s->m.set != SET_SOP || s->player > PLAYER_B || p->data_unshown >> s->player & 1)
        return;
    if (!p->data_roles_known[PLAYER_A] || !p->data_roles_known[PLAYER_B])
        return;
    if (s->m.data_bit == p->dfp[s->player]) {
        judge_pass(j);
        return;
    }
    if (message_goes_on(p, s) || (p->hard_reset_frame && judge_silenced_since(j, p->hard_reset_ns)))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = p->dfp[s->player] ? SAYS_IS_DFP : SAYS_IS_UFP;
    o.values[0] = s->m.index;
    o.values[1] = s->side;
    judge_fail(j, &o);
}

/* message.header-revision */
static bool revision_as_agreed(unsigned revision, unsigned agreed)
{
    return (revision <= HEADER_R2 ? AGREED_R2 : AGREED_R3) == agreed;
}

/* No Request has been seen, and it cannot be told whether there was one before the trace began. */
static bool beginning_unseen(const struct port *p)
{
    return p->attach_seen == ATTACH_UNSEEN && !p->hard_reset_frame && !p->caps_revision;
}

void message_check_header_revision(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct message *m = &e->speech->m;
    struct outcome        o;

    if (m->revision != HEADER_RESERVED) {
        if (!p->attached)
            return; /* said into an open connector by a side that has not noticed yet: nothing is agreed with anybody */
        if (m->set != SET_SOP || revision_as_agreed(m->revision, p->agreed)) {
            judge_pass(j);
            return;
        }
        if (p->agreed == AGREED_UNKNOWN && (m->index == DATA(SOURCE_CAPABILITIES) || !beginning_unseen(p))) {
            judge_pass(j);
            return;
        }
    }
    o = judge_outcome(j, e);
    o.values[0] = m->index;
    o.values[1] = m->revision;
    o.values[2] = p->agreed == AGREED_R2 ? HEADER_R2 : HEADER_R3;
    o.sentence = m->revision == HEADER_RESERVED  ? SAYS_REVISION_RESERVED
                 : p->agreed == AGREED_UNKNOWN ? SAYS_REVISION_UNSEEN
                                               : SAYS_REVISION_OTHER;
    if (m->revision != HEADER_RESERVED && p->agreed_doubt)
        judge_undecided(j, &o, CAUSE_LOST);
    else if (m->revision != HEADER_RESERVED && p->agreed == AGREED_UNKNOWN)
        judge_undecided(j, &o, CAUSE_REVISION);
    else
        judge_fail(j, &o);
}

/* message.direction */

/* Is this player a dual-role power port? Both kinds of first object say so in the same flag. */
static enum answer player_dual_role(const struct port *p, unsigned player)
{
    const struct offer *as_source = &p->announced[0];
    const struct offer *as_sink = &p->sink_announced[0];
    enum answer         answer = ANSWER_UNKNOWN;

    if (as_source->known && as_source->player == player)
        answer = as_source->pdos[0].dual_role_power ? ANSWER_YES : ANSWER_NO;
    if (answer != ANSWER_YES && as_sink->known && as_sink->player == player)
        answer = as_sink->pdos[0].dual_role_power ? ANSWER_YES : ANSWER_NO;
    return answer;
}

static enum answer sender_allowed(const struct port *p, const struct speech *s, unsigned senders)
{
    unsigned own = s->side == SIDE_SOURCE ? SENDER_SOURCE : SENDER_SINK;
    unsigned other = s->side == SIDE_SOURCE ? SENDER_SOURCE_DRP : SENDER_SINK_DRP;

    if (senders & own)
        return ANSWER_YES;
    if (senders & SENDER_DFP) {
        if (!p->data_roles_known[s->player])
            return ANSWER_UNKNOWN;
        return p->dfp[s->player] ? ANSWER_YES : ANSWER_NO;
    }
    return senders & other ? player_dual_role(p, s->player) : ANSWER_NO;
}

void message_check_direction(struct judge *j, const struct event *e)
{
    const struct speech       *s = e->speech;
    const struct message_kind *kind = message_kind(s->m.index);
    enum answer                allowed;

    /* A request chunk bears the type of the message that it wants. */
    if (s->m.set != SET_SOP || !kind->name || s->player > PLAYER_B || s->m.request_chunk)
        return;
    allowed = sender_allowed(e->port, s, kind->senders);
    if (allowed == ANSWER_YES) {
        judge_pass(j);
        return;
    }
    if (allowed == ANSWER_UNKNOWN && !(kind->senders & SENDER_DFP))
        return; /* whether the port is dual-role was never said */
    struct outcome o = judge_outcome(j, e);

    o.sentence = kind->senders & SENDER_DFP ? SAYS_FOR_DFP : SAYS_FOR_OTHER_ROLE;
    o.values[0] = s->m.index;
    o.values[1] = s->side;
    if (allowed == ANSWER_UNKNOWN)
        judge_undecided(j, &o, CAUSE_BEGINNING);
    else
        judge_fail(j, &o);
}
