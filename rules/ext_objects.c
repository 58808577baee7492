/* What Source_Info, Revision and Alert say; and whether an Alert is followed up. */
#include "rules/ext_checks.h"

#include "rules/message_checks.h"
#include "rules/vdm_words.h"

#include <string.h>

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

/* A message that came with 3.1 tells by itself that its sender is of 3.1, unless it says otherwise, or the user does. */
static bool applies_to_31(const struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;

    return message_words(m) > 0 && rule_applies(judge_rule(j), message_agreed(j, e->port, m), message_edition(e->port, e->speech->player),
                                                judge_standard(j)) != ANSWER_NO;
}

static void object_judge(struct judge *j, const struct event *e, struct outcome *o, int fault)
{
    if (fault < 0) {
        judge_pass(j);
        return;
    }
    o->sentence = (uint8_t)fault;
    outcome_evidence(o, e->frame);
    judge_fail(j, o);
}

/* ext.source-info-fields. Ratings in watts: decode/fields_data.c. */
enum { MW = 1000 };

static int info_fault(uint32_t word, struct outcome *o)
{
    unsigned maximum = word >> 16 & 0xFF, present = word >> 8 & 0xFF, reported = word & 0xFF;
    bool     guaranteed = word >> 31;

    o->values[0] = word;
    o->values[1] = object_reserved_set(OBJECT_SOURCE_INFO, word);
    if (o->values[1])
        return INFO_RESERVED;
    o->values[1] = (int64_t)maximum * MW;
    o->values[0] = (int64_t)present * MW;
    if (present > maximum)
        return INFO_PRESENT;
    if (guaranteed && present != maximum)
        return INFO_GUARANTEED;
    o->values[0] = (int64_t)reported * MW;
    return reported > maximum ? INFO_REPORTED : -1;
}

void ext_check_source_info_fields(struct judge *j, const struct event *e)
{
    struct outcome o;

    if (!applies_to_31(j, e))
        return;
    o = judge_outcome(j, e);
    object_judge(j, e, &o, info_fault(message_word(&e->speech->m, 0), &o));
}

/* ext.revision-fields: decode/fields_data.c. Revisions there are: 3.0, 3.1, 3.2. */
enum { REVISION_MAJOR = 3, REVISION_MINOR_MOST = 2, DIGIT_MOST = 9 };

static int revision_fault(const struct message *m, struct outcome *o)
{
    uint32_t word = message_word(m, 0);

    o->values[0] = word >> 28;
    o->values[1] = word >> 24 & 15;
    if (o->values[0] != REVISION_MAJOR || o->values[1] > REVISION_MINOR_MOST)
        return REVISION_NUMBER;
    o->values[0] = word >> 20 & 15;
    o->values[1] = word >> 16 & 15;
    if (o->values[0] > DIGIT_MOST || o->values[1] > DIGIT_MOST)
        return REVISION_VERSION;
    o->values[0] = word;
    o->values[1] = object_reserved_set(OBJECT_REVISION, word);
    if (o->values[1])
        return REVISION_RESERVED;
    o->values[0] = m->revision;
    return m->revision == HEADER_R3 ? -1 : REVISION_HEADER;
}

void ext_check_revision_fields(struct judge *j, const struct event *e)
{
    struct outcome o;

    if (!applies_to_31(j, e))
        return;
    o = judge_outcome(j, e);
    object_judge(j, e, &o, revision_fault(&e->speech->m, &o));
}

/* ext.alert-fields: decode/fields_data.c */
enum { ALERT_EXTENDED_BIT = 31, ALERT_BATTERY_BIT = 25, ALERT_TYPE_MOST = 4 };

static int alert_fault(uint32_t word, struct outcome *o)
{
    unsigned type = word & 15;

    o->values[0] = word;
    o->values[1] = object_reserved_set(OBJECT_ALERT, word);
    if (o->values[1])
        return ALERT_RESERVED;
    if (word >> ALERT_BATTERY_BIT == 0)
        return ALERT_NOTHING;
    if ((word >> 16 & 0xFF) && !(word >> ALERT_BATTERY_BIT & 1))
        return ALERT_BATTERIES;
    o->values[1] = type;
    if (word >> ALERT_EXTENDED_BIT)
        return type == 0 || type > ALERT_TYPE_MOST ? ALERT_TYPE_MISSING : -1;
    return type ? ALERT_TYPE_UNASKED : -1;
}

void ext_check_alert_fields(struct judge *j, const struct event *e)
{
    struct outcome o;

    if (message_words(&e->speech->m) == 0 || !message_applies(j, e))
        return;
    o = judge_outcome(j, e);
    object_judge(j, e, &o, alert_fault(message_word(&e->speech->m, 0), &o));
}

/* ext.alert-answered */

#define ALERT_TO_FOLLOW UINT32_C(0x7C000000) /* over-voltage, input, operating condition, over-temperature, over-current: decode/fields_data.c */
enum { SLACK_NS = 1000000 }; /* more than the clock of any instrument is off in a second */

static struct outcome alert_outcome(const struct judge *j, const struct port *p, const struct open_alert *a)
{
    struct outcome o = judge_outcome_at(j, a->wire.frame, a->wire.start_ns);

    o.player = p->role[PLAYER_A] == SIDE_SINK ? PLAYER_A : PLAYER_B;
    outcome_evidence(&o, a->wire.frame);
    return o;
}

/* When it is sure that the time for this one is over. */
static int64_t alert_due_ns(const struct judge *j, const struct port *p, const struct open_alert *a)
{
    struct edge end = edge_end(p, &a->wire);

    return end.late_ns + (end.late_ns - end.early_ns) + judge_window(j, 0).high_ns + SLACK_NS;
}

static void alerts_forget(struct judge *j, const struct port *p, struct alert_state *state)
{
    state->count = 0;
    judge_wake_at(j, p, INT64_MAX);
}

static void alert_note(struct judge *j, const struct event *e, struct alert_state *state)
{
    if (e->speech->side != SIDE_SOURCE || !(message_word(&e->speech->m, 0) & ALERT_TO_FOLLOW) || !message_applies(j, e))
        return;
    if (state->count == ALERTS_KEPT)
        state->count--;
    state->open[state->count++].wire = speech_wire(e->speech);
    judge_wake_at(j, e->port, alert_due_ns(j, e->port, &state->open[0]));
}

static void alerts_follow_up(struct judge *j, const struct event *e, struct alert_state *state)
{
    struct wire   answer = speech_wire(e->speech);
    struct window window = judge_window(j, 0);

    for (unsigned k = 0; k < state->count; k++) {
        struct outcome o = alert_outcome(j, e->port, &state->open[k]);
        struct span    s = span_between(e->port, edge_end(e->port, &state->open[k].wire), edge_start(e->port, &answer));

        o.sentence = FOLLOW_UP_LATE;
        judge_time(j, &o, &s, &window, CAUSE_NONE, false);
    }
    alerts_forget(j, e->port, state);
}

static void alerts_expire(struct judge *j, const struct event *e, struct alert_state *state)
{
    const struct port *p = e->port;
    unsigned           k = 0;

    for (; k < state->count && alert_due_ns(j, p, &state->open[k]) <= e->t_ns; k++) {
        const struct sent *sent = judge_sent(j, SET_SOP, state->open[k].wire.frame);
        struct outcome     o = alert_outcome(j, p, &state->open[k]);

        if (sent && sent->delivery == DELIVERY_OPEN)
            continue; /* nobody heard it */
        o.sentence = FOLLOW_UP_NEVER;
        o.parameter = judge_parameter(j, 0);
        if (p->bad_missed_frame > state->open[k].wire.frame)
            judge_undecided(j, &o, CAUSE_BAD_PACKET);
        else
            judge_fail(j, &o);
    }
    state->count -= k;
    memmove(state->open, state->open + k, state->count * sizeof state->open[0]);
    judge_wake_at(j, p, state->count ? alert_due_ns(j, p, &state->open[0]) : INT64_MAX);
}

static void alerts_lose(struct judge *j, const struct event *e, struct alert_state *state)
{
    for (unsigned k = 0; k < state->count; k++) {
        struct outcome o = alert_outcome(j, e->port, &state->open[k]);

        o.sentence = FOLLOW_UP_NEVER;
        judge_undecided(j, &o, CAUSE_LOST);
    }
    alerts_forget(j, e->port, state);
}

static void alert_message(struct judge *j, const struct event *e, struct alert_state *state)
{
    if (e->speech->m.index == DATA(ALERT)) {
        alert_note(j, e, state);
    } else if (state->count && e->speech->side == SIDE_SINK) {
        if (e->speech->m.index == CONTROL(GET_STATUS))
            alerts_follow_up(j, e, state);
        else if (!judge_open_ask(j, SET_SOP, e->speech->player == PLAYER_A ? PLAYER_B : PLAYER_A))
            alerts_forget(j, e->port, state); /* Not_Supported: a sink that does not know Alert says so */
    }
}

void ext_check_alert_answered(struct judge *j, const struct event *e)
{
    struct alert_state *state = judge_state(j, e->port);

    if (e->kind == EVENT_MESSAGE) {
        alert_message(j, e, state);
        return;
    }
    if (state->count == 0 || (e->kind == EVENT_SOFT_RESET && e->speech->m.set != SET_SOP))
        return;
    if (e->kind == (enum event_kind)WAKE_TIME)
        alerts_expire(j, e, state);
    else if (e->kind == EVENT_LOSS)
        alerts_lose(j, e, state);
    else /* resets, EVENT_ATTACH, WAKE_ATTACH_END: there is nobody to ask, or something else to do */
        alerts_forget(j, e->port, state);
}
