/* What the plug of a cable says of it, and whether the source asked and kept to it. */
#include "rules/cable_checks.h"
#include "rules/rail.h"

#include "rules/power_rules.h"
#include "rules/vdm_words.h"

#include <string.h>

static bool is_captive(struct judge *j, const struct port *p)
{
    return judge_about(j, p)->plug == ABOUT_CAPTIVE;
}

/* cable.discovered-before-5a */

static void judge_discovered(struct judge *j, const struct event *e, const struct discovered_state *state)
{
    const struct offer *o = e->offer;
    const struct port  *p = e->port;
    const struct pdo   *strong = offer_over_plain_cable(o);
    struct outcome      out;

    if (state->announced_frame == o->frame ? state->identity_before : p->identity[PLAYER_CABLE].frame != 0) {
        judge_pass_at(j, o->t_ns);
        return;
    }
    out = judge_outcome_at(j, o->frame, o->t_ns);
    outcome_by(&out, SIDE_SOURCE, o->player);
    outcome_evidence(&out, p->attach_seen == ATTACH_UNSEEN ? 0 : p->attach_frame);
    outcome_evidence(&out, o->frame);
    out.sentence = DISCOVERED_UNSEEN;
    out.values[0] = strong->position;
    out.values[1] = strong->max_ma > strong->max_ma_20v ? strong->max_ma : strong->max_ma_20v;
    if (p->attach_seen == ATTACH_UNSEEN) {
        judge_undecided(j, &out, CAUSE_BEGINNING);
    } else if (p->loss_frame > p->attach_frame) {
        judge_undecided(j, &out, CAUSE_LOST);
    } else if (state->spoilt_before) {
        judge_undecided(j, &out, CAUSE_BAD_PACKET);
    } else if (rail_align_ns(p) > 0 && !p->cc_seen) { /* since when it has been attached is told by VBUS alone */
        judge_undecided(j, &out, CAUSE_TIE);
    } else {
        out.sentence = DISCOVERED_NEVER;
        judge_fail(j, &out);
    }
}

void cable_check_discovered(struct judge *j, const struct event *e)
{
    struct discovered_state *state = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_ANNOUNCED:
        if (e->offer->side == SIDE_SINK)
            break;
        state->announced_frame = e->offer->frame;
        state->identity_before = e->port->identity[PLAYER_CABLE].frame != 0;
        state->spoilt_before = e->port->bad_plug_frame > e->port->attach_frame;
        break;
    case EVENT_OFFER:
        if (state->done || is_captive(j, e->port) || !offer_over_plain_cable(e->offer))
            break;
        state->done = true;
        judge_discovered(j, e, state);
        break;
    case EVENT_ATTACH:
        *state = (struct discovered_state){ .done = false };
        break;
    default: /* WAKE_ATTACH_END: another source, or another cable, owes it anew */
        state->done = false;
        break;
    }
}

/* cable.identity-valid */

/* The lower of what plug and asker show in their headers; the port model learns it with this very message. */
static unsigned agreed_on_cable(const struct judge *j, const struct port *p, const struct message *m)
{
    const struct sent *asked = &p->streams[SET_SOP1 * 2].last;
    unsigned           standard = judge_standard(j);

    if (standard)
        return standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    if (m->revision <= HEADER_R2 || (asked->held && (asked->header >> 6 & 3u) <= HEADER_R2))
        return AGREED_R2;
    return AGREED_R3;
}

/* Objects that a product type adds to the answer. Those of an active cable are one under 2.0: Linux include/linux/usb/pd_vdo.h. */
static bool cable_count_fits(const struct identity *i, bool r3)
{
    unsigned product = identity_product(i->words[IDENTITY_HEADER]);
    unsigned count = i->count + 1u - IDENTITY_TYPES;

    if (i->count + 1u < IDENTITY_TYPES)
        return false;
    if (product != CABLE_ACTIVE)
        return count == 1;
    /* Structured VDM 2.x has the layouts of 3.x, whatever the header says. */
    return r3 ? count == 2 : count == 1 || (count == 2 && vdm_major(i->words[0]) > 0);
}

/* Fields of the Passive Cable VDO and Active Cable VDO 1: Linux include/linux/usb/pd_vdo.h, Chromium EC. */
enum { PLUG_BIT = 18, PLUG_TYPE_C = 2, CURRENT_3A = 1, CURRENT_5A = 2 };

/* Sentence of what is wrong with the cable's own object under 3.x, -1 if nothing. */
static int cable_object_fault(const struct identity *i, struct outcome *o)
{
    uint32_t         id = i->words[IDENTITY_HEADER], word = i->words[IDENTITY_TYPES];
    enum object_kind kind = identity_product(id) == CABLE_PASSIVE ? OBJECT_PASSIVE_CABLE : OBJECT_ACTIVE_CABLE_1;
    unsigned         current = cable_marks_read(i).current;

    o->values[0] = word >> PLUG_BIT & 3;
    if ((word >> PLUG_BIT & 3) < PLUG_TYPE_C)
        return IDENTITY_PLUG;
    o->values[0] = current;
    if (current != CURRENT_3A && current != CURRENT_5A)
        return IDENTITY_CURRENT;
    o->values[0] = id;
    o->values[1] = object_reserved_set(OBJECT_ID_HEADER, id);
    if (o->values[1])
        return IDENTITY_RESERVED_ID;
    o->values[0] = word;
    o->values[1] = object_reserved_set(kind, word);
    return o->values[1] ? IDENTITY_RESERVED_CABLE : -1;
}

static int identity_fault(const struct identity *i, bool r3, struct outcome *o)
{
    unsigned product = identity_product(i->words[IDENTITY_HEADER]);

    o->values[0] = product;
    if (product != CABLE_PASSIVE && product != CABLE_ACTIVE && product != CABLE_VPD)
        return IDENTITY_PRODUCT;
    o->values[1] = i->count + 1 - IDENTITY_TYPES;
    o->values[2] = product == CABLE_ACTIVE && r3 ? 2 : 1;
    if (!cable_count_fits(i, r3))
        return IDENTITY_COUNT;
    /* Structured VDM 1.0 has the layout of 2.0, with other things in these bits. */
    return r3 && product != CABLE_VPD && vdm_major(i->words[0]) > 0 ? cable_object_fault(i, o) : -1;
}

void cable_check_identity_valid(struct judge *j, const struct event *e)
{
    struct identity i;
    struct outcome  o;
    int             fault;

    if (e->speech->m.set != SET_SOP1 || !speech_is_identity(e->speech))
        return;
    i = identity_of(e->speech);
    o = judge_outcome(j, e);
    fault = identity_fault(&i, agreed_on_cable(j, e->port, &e->speech->m) == AGREED_R3, &o);
    if (fault < 0) {
        judge_pass(j);
        return;
    }
    o.sentence = (uint8_t)fault;
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

/* cable.rating-agrees */

/* The layout of 3.x: that of 2.0 has directions where maximum VBUS voltage and EPR Capable stand now. */
static bool form_of_3x(const struct identity *i)
{
    return vdm_major(i->words[0]) > 0;
}

/* What both forms say: whether the cable carries 5 A. In that of 2.0 the current may also be left at its default. */
static int rating_between_forms(const struct cable_marks *was, const struct cable_marks *is)
{
    return was->five_ampere == is->five_ampere ? -1 : RATING_CURRENT;
}

/* Sentence of what differs, -1: nothing that both say. */
static int rating_differs(const struct identity *before, const struct identity *now, const struct cable_marks *was, const struct cable_marks *is)
{
    if (form_of_3x(before) != form_of_3x(now))
        return rating_between_forms(was, is);
    if (was->current != is->current)
        return RATING_CURRENT;
    if (!form_of_3x(now))
        return -1;
    return was->volts != is->volts ? RATING_VOLTS : was->epr_capable != is->epr_capable ? RATING_EPR : -1;
}

void cable_check_rating_agrees(struct judge *j, const struct event *e)
{
    const struct identity *before = &e->port->identity[PLAYER_CABLE];
    struct cable_marks     was, is;
    struct identity        i;
    struct outcome         o;
    int                    differs;

    if (e->speech->m.set != SET_SOP1 || before->frame == 0 || !speech_is_identity(e->speech))
        return;
    i = identity_of(e->speech);
    was = cable_marks_read(before);
    is = cable_marks_read(&i);
    if (!was.known || !is.known)
        return;
    differs = rating_differs(before, &i, &was, &is);
    if (differs < 0) {
        judge_pass(j);
        return;
    }
    o = judge_outcome(j, e);
    o.sentence = (uint8_t)differs;
    o.values[0] = differs == RATING_CURRENT ? is.current : differs == RATING_VOLTS ? is.volts : is.epr_capable;
    o.values[1] = differs == RATING_CURRENT ? was.current : differs == RATING_VOLTS ? was.volts : was.epr_capable;
    outcome_evidence(&o, before->frame);
    outcome_evidence(&o, e->frame);
    /* Another cable may have come in what is missing. */
    if (e->port->loss_frame > before->frame)
        judge_undecided(j, &o, CAUSE_LOST);
    else
        judge_fail(j, &o);
}

/* cable.epr-rating: the bit itself tells 3.1, unless a Revision message or the user says otherwise */
void cable_check_epr_rating(struct judge *j, const struct event *e)
{
    unsigned           agreed = agreed_on_cable(j, e->port, &e->speech->m);
    struct cable_marks marks;
    struct identity    i;
    struct outcome     o;

    if (e->speech->m.set != SET_SOP1 || !speech_is_identity(e->speech) || agreed != AGREED_R3 ||
        rule_applies(judge_rule(j), agreed, &e->port->edition[PLAYER_CABLE], judge_standard(j)) == ANSWER_NO)
        return;
    i = identity_of(e->speech);
    marks = cable_marks_read(&i);
    if (!marks.known || !marks.epr_capable || !form_of_3x(&i))
        return;
    if (marks.fifty_volt && marks.five_ampere) {
        judge_pass(j);
        return;
    }
    o = judge_outcome(j, e);
    o.sentence = EPR_RATING_LOW;
    o.values[0] = marks.volts;
    o.values[1] = marks.current;
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

/* cable.current-over-rating: kept to the end of the attach, when it is known whether the offer was at fault already */

static void tell_contract(struct judge *j, const struct strong_contract *c)
{
    struct outcome o = judge_outcome_at(j, c->frame, c->t_ns);

    if (c->verdict == VERDICT_PASS) {
        judge_pass_at(j, c->t_ns);
        return;
    }
    outcome_by(&o, SIDE_SOURCE, c->player);
    o.sentence = CURRENT_OVER;
    o.values[0] = c->ma;
    o.values[1] = c->current;
    outcome_evidence(&o, c->cable_frame);
    outcome_evidence(&o, c->frame);
    if (c->verdict == VERDICT_FAIL)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, (enum cause)c->cause);
}

static void tell_contracts(struct judge *j, const struct port *p, struct current_over_state *state, unsigned count)
{
    for (unsigned k = 0; k < count && !judge_silenced_since(j, p->attach_ns); k++)
        tell_contract(j, &state->kept[k]);
    state->count -= count;
    memmove(state->kept, state->kept + count, state->count * sizeof state->kept[0]);
}

static void keep_contract(struct judge *j, const struct port *p, const struct contract *c, struct current_over_state *state)
{
    const struct identity  *cable = &p->identity[PLAYER_CABLE];
    struct cable_marks      marks = cable_marks_read(cable);
    struct strong_contract *k;

    if (c->ma <= CABLE_PLAIN_MA || p->attach_seen == ATTACH_UNSEEN || !marks.known || is_captive(j, p))
        return;
    if (state->count == CONTRACTS_KEPT)
        tell_contracts(j, p, state, 1);
    k = &state->kept[state->count++];
    *k = (struct strong_contract){
        .frame = c->frame, .cable_frame = cable->frame, .t_ns = c->t_ns, .ma = c->ma, .current = marks.current,
        .player = p->role[PLAYER_A] == SIDE_SOURCE ? PLAYER_A : PLAYER_B, .verdict = VERDICT_PASS,
    };
    if (marks.five_ampere)
        return;
    k->verdict = VERDICT_FAIL;
    if (p->loss_frame > cable->frame) {
        k->verdict = VERDICT_UNDECIDED; /* another identity may be missing */
        k->cause = CAUSE_LOST;
    }
}

void cable_check_current_over_rating(struct judge *j, const struct event *e)
{
    struct current_over_state *state = judge_state(j, e->port);

    if (e->kind == EVENT_CONTRACT)
        keep_contract(j, e->port, e->contract, state);
    else if (state->count)
        tell_contracts(j, e->port, state, state->count);
}
