/* Whether an answer comes, and which. */
#include "rules/exchange_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

enum { CONTROL_GET_SOURCE = 1, CONTROL_KEEP_ALIVE = 3 }; /* ECDB: Zephyr usbc_pd.h */

static void tell(struct judge *j, const struct outcome *o, const struct ask *a)
{
    if (a->gap)
        judge_undecided(j, o, (enum cause)a->cause);
    else
        judge_fail(j, o);
}

enum silence ask_silence(const struct judge *j, const struct port *p, const struct ask *a, struct span *waited)
{
    *waited = (struct span){ .low_ns = 0 };
    if (!a->delivered)
        return SILENCE_NONE;
    if (a->end == ASK_SILENT)
        return SILENCE_LONG;
    if (a->end != ASK_OVERTAKEN && a->end != ASK_SOFT_RESET && a->end != ASK_HARD_RESET)
        return SILENCE_NONE;
    *waited = span_between(p, edge_done(p, &a->sent), edge_start(p, &a->answer));
    return waited->low_ns >= judge_window(j, ANSWER_PATIENCE).low_ns ? SILENCE_GIVEN_UP : SILENCE_NONE;
}

/* Whoever owes the answer. */
static void outcome_by_answerer(struct outcome *o, const struct ask *a)
{
    if (a->set != SET_SOP)
        outcome_by(o, SIDE_CABLE, PLAYER_CABLE);
    else
        outcome_by(o, a->side == SIDE_SOURCE ? SIDE_SINK : a->side == SIDE_SINK ? SIDE_SOURCE : SIDE_UNKNOWN, player_other(a->player));
}

static struct outcome silence_outcome(const struct judge *j, const struct ask *a, enum silence silence, const struct span *waited)
{
    struct outcome o = judge_outcome_at(j, a->sent.last_frame, a->sent.start_ns);

    outcome_by_answerer(&o, a);
    o.sentence = silence == SILENCE_LONG ? SAYS_SILENT : SAYS_GIVEN_UP;
    o.values[0] = a->index;
    o.values[1] = judge_window(j, ANSWER_NONE).high_ns;
    o.values[2] = judge_window(j, ANSWER_PATIENCE).high_ns;
    o.values[4] = waited->low_ns + (waited->high_ns - waited->low_ns) / 2;
    o.parameter = judge_parameter(j, silence == SILENCE_LONG ? (unsigned)ANSWER_NONE : (unsigned)ANSWER_PATIENCE);
    outcome_evidence(&o, a->sent.frame);
    outcome_evidence(&o, a->sent.goodcrc_frame);
    outcome_evidence(&o, a->answer.frame);
    return o;
}

/* A reset ended the wait for an answer that was still in time. */
static bool cut_short(const struct ask *a)
{
    return a->delivered && (a->end == ASK_SOFT_RESET || a->end == ASK_HARD_RESET);
}

static void tell_cut_short(struct judge *j, const struct port *p, const struct ask *a)
{
    struct span    waited = span_between(p, edge_done(p, &a->sent), edge_start(p, &a->answer));
    struct outcome o = silence_outcome(j, a, SILENCE_GIVEN_UP, &waited);

    o.sentence = SAYS_CUT_SHORT;
    o.parameter = judge_parameter(j, ANSWER_NONE);
    judge_undecided(j, &o, a->gap ? (enum cause)a->cause : CAUSE_RESET);
}

/* The owner rules: an answer passes, silence fails; whatever else came belongs to other rules. */
static void owner_judge(struct judge *j, const struct port *p, const struct ask *a)
{
    struct span  waited;
    enum silence silence;

    if (a->end == ASK_ANSWERED) {
        judge_pass_at(j, a->sent.start_ns);
        return;
    }
    silence = ask_silence(j, p, a, &waited);
    if (silence == SILENCE_NONE)
        return;
    struct outcome o = silence_outcome(j, a, silence, &waited);

    tell(j, &o, a);
}

/* The same, where the answer might have come yet when everything began anew. */
static void owner_judge_whole(struct judge *j, const struct port *p, const struct ask *a)
{
    if (cut_short(a))
        tell_cut_short(j, p, a);
    else
        owner_judge(j, p, a);
}

static unsigned agreed_by_standard(const struct judge *j, unsigned agreed)
{
    unsigned standard = judge_standard(j);

    return standard == SINCE_R1 ? agreed : standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
}

/* On SOP' and SOP'' the lower of the asker's revision and the plug's, which it says with its identity. */
static unsigned ask_agreed(const struct judge *j, const struct port *p, const struct ask *a)
{
    if (a->set == SET_SOP)
        return agreed_by_standard(j, a->agreed);
    const struct identity *plug = &p->identity[a->set == SET_SOP1 ? PLAYER_CABLE : PLAYER_CABLE + 1];

    if (a->set > SET_SOP2 || !plug->frame)
        return AGREED_UNKNOWN;
    return agreed_by_standard(j, a->revision <= HEADER_R2 || plug->revision <= HEADER_R2 ? AGREED_R2 : AGREED_R3);
}

/* A refusal of what this port, in the role that it has, has to give. */
static int refused_by(const struct judge *j, const struct port *p, const struct ask *a)
{
    bool reject = a->answer_index == CONTROL(REJECT), refused = reject || a->answer_index == CONTROL(NOT_SUPPORTED);

    if (a->set != SET_SOP || !refused)
        return -1;
    if (a->index == CONTROL(GET_SOURCE_CAP) && a->side == SIDE_SINK)
        return SAYS_KIND_SOURCE;
    if (a->index == CONTROL(GET_SINK_CAP) && a->side == SIDE_SOURCE)
        return SAYS_KIND_SINK;
    return a->index == CONTROL(GET_SINK_CAP) && reject && ask_agreed(j, p, a) == AGREED_R3 ? SAYS_KIND : -1;
}

/* exchange.answer */

/* Under 2.0 a port may keep silent about what it does not know; that it is the sink it does know. */
static bool must_answer(const struct ask *a, unsigned agreed)
{
    return agreed == AGREED_R3 || (a->index == CONTROL(GET_SINK_CAP) && a->side == SIDE_SOURCE);
}

void exchange_check_answer(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    unsigned          agreed = ask_agreed(j, e->port, a);
    struct span       waited;
    enum silence      silence;

    if (a->index == EXTENDED(CONTROL) && (a->detail == CONTROL_KEEP_ALIVE || (a->detail == CONTROL_GET_SOURCE && a->epr_mode)))
        return; /* epr.keepalive-ack, exchange.source-caps-answer */
    if (a->end == ASK_ANSWERED && refused_by(j, e->port, a) >= 0)
        return; /* exchange.answer-kind */
    if (a->end == ASK_ANSWERED || must_answer(a, agreed)) {
        owner_judge_whole(j, e->port, a);
        return;
    }
    silence = cut_short(a) ? SILENCE_NONE : ask_silence(j, e->port, a, &waited);
    if (silence == SILENCE_NONE || agreed == AGREED_R2 || a->set != SET_SOP)
        return;
    struct outcome o = silence_outcome(j, a, silence, &waited);

    judge_undecided(j, &o, a->gap ? (enum cause)a->cause : CAUSE_REVISION);
}

/* exchange.answer-kind */

/* A sink that asked for the capabilities, in a contract, may ask for nothing of them: what it says next is no answer. */
static bool free_to_go_on(const struct ask *a)
{
    return a->asked && a->in_contract && !a->owed;
}

void exchange_check_answer_kind(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    int               refused = a->end == ASK_ANSWERED ? refused_by(j, e->port, a) : -1;

    if (!e->speech || a->reserved || (a->index == EXTENDED(CONTROL) && a->detail == CONTROL_KEEP_ALIVE) || judge_silenced_on(j, e->frame))
        return;
    if (a->end == ASK_ANSWERED && refused < 0) {
        judge_pass(j);
        return;
    }
    if (refused < 0 && (a->end != ASK_OTHER || !a->delivered || free_to_go_on(a)))
        return;
    /* Under 2.0 Not_Supported stands for no answer: message.allowed-in-revision says what is wrong with it. */
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)(refused < 0 ? SAYS_KIND : refused);
    o.values[0] = a->index;
    o.values[1] = a->answer_index;
    outcome_evidence(&o, a->sent.frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, a);
}

/* exchange.request-answered: a sink that resets in good time has heard nothing */

void exchange_check_request_answered(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    struct span       waited;

    if (a->end == ASK_HARD_RESET && ask_silence(j, e->port, a, &waited) != SILENCE_NONE)
        owner_judge(j, e->port, a);
    else
        owner_judge_whole(j, e->port, a);
}

/* exchange.request-after-caps */

void exchange_check_request_after_caps(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    bool              epr = a->index == EXTENDED(EPR_SOURCE_CAPABILITIES);

    /* The other kind of capabilities is an answer, or out of place (epr.spr-caps-in-mode). */
    if ((a->asked && !a->owed) || epr != a->epr_mode)
        return;
    if (a->end == ASK_ANSWERED && a->answer_index == CONTROL(NOT_SUPPORTED))
        return;
    /* Just after a gap capabilities may be a repeat of some that were answered. */
    struct ask doubted = *a;
    enum cause gap = a->gap ? CAUSE_NONE : sequence_gap_before(e->port, SET_SOP, a->start_ns, judge_window(j, ANSWER_NONE).high_ns);

    if (gap != CAUSE_NONE) {
        doubted.gap = true;
        doubted.cause = (uint8_t)gap;
    }
    owner_judge(j, e->port, &doubted);
}

/* exchange.source-caps-answer */

void exchange_check_source_caps_answer(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);

    if (a->side != SIDE_SINK || (a->index == EXTENDED(CONTROL) && (a->detail != CONTROL_GET_SOURCE || !a->epr_mode)))
        return;
    if (a->end != ASK_ANSWERED || refused_by(j, e->port, a) < 0)
        owner_judge_whole(j, e->port, a);
}

/* What came instead of the answer. */
static void wrong_answer(struct judge *j, const struct event *e, const struct ask *a, unsigned sentence, enum cause doubt)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)sentence;
    o.values[0] = a->index;
    o.values[1] = a->answer_index;
    outcome_evidence(&o, a->sent.frame);
    outcome_evidence(&o, e->frame);
    if (doubt != CAUSE_NONE)
        judge_undecided(j, &o, doubt);
    else
        tell(j, &o, a);
}

/* exchange.not-supported */

void exchange_check_not_supported(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);

    if (!a->in_contract || !a->delivered || ask_agreed(j, e->port, a) != AGREED_R3)
        return;
    if (a->end == ASK_OTHER) {
        wrong_answer(j, e, a, SAYS_REFUSED, CAUSE_NONE);
    } else if (a->end == ASK_SOFT_RESET && a->answer_player != a->player) {
        wrong_answer(j, e, a, SAYS_RESET, CAUSE_NONE);
    } else {
        owner_judge_whole(j, e->port, a);
    }
}

/* exchange.soft-reset-accept */

/* Did the partner begin before it had heard all of the question? */
static bool crosses(const struct judge *j, const struct port *p, const struct ask *a)
{
    struct wire last = sent_last(&a->sent);
    struct span span = span_between(p, edge_end(p, &last), edge_start(p, &a->answer));

    return span.low_ns < judge_window(j, ANSWER_CROSSING).high_ns;
}

void exchange_check_soft_reset_accept(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);

    if (a->end != ASK_OTHER && a->end != ASK_CROSSED) {
        owner_judge_whole(j, e->port, a);
        return;
    }
    /* Both may reset at once: then each accepts the other's. */
    if (!e->speech || !a->delivered || a->answer_index == CONTROL(SOFT_RESET))
        return;
    wrong_answer(j, e, a, SAYS_REFUSED, crosses(j, e->port, a) ? CAUSE_CROSSING : CAUSE_NONE);
}
