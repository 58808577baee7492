/* Faults of who answers what, and of the times that take a broken exchange to see. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_exchange[] = {
    { "exchange.request-answered", NULL, "source", "A Request is not answered; the sink sends a Hard Reset after 28 ms.", "exchange.request-answered" },
    { "request.valid-accepted", NULL, "source", "A Request that is in order is rejected.", "request.valid-accepted" },
    { "exchange.ready-after-accept", NULL, "source", "PS_RDY does not come after Accept; the sink sends a Hard Reset.", "exchange.ready-after-accept" },
    { "time.ps-transition", NULL, "sink", "PS_RDY does not come; the sink's Hard Reset comes after the amount given; 600 ms if none is.",
      "time.ps-transition exchange.ready-after-accept" },
    { "exchange.answer", NULL, NULL, "A question is not answered.", "exchange.answer" },
    { "exchange.answer-kind", NULL, NULL, "A question is answered by Reject.", "exchange.answer-kind" },
    { "time.sender-patience", NULL, "sink", "The sink asks Get_Source_Cap, waits for the amount given, 20 ms if none is, and sends Soft_Reset.",
      "time.sender-patience" },
    { "exchange.request-after-caps", NULL, "sink", "Source_Capabilities in a contract are not followed by a Request; the source sends a Hard Reset after 28 ms.",
      "exchange.request-after-caps" },
    { "exchange.source-caps-answer", NULL, "source", "Get_Source_Cap is not answered.", "exchange.source-caps-answer" },
    { "exchange.hard-reset-after-timeout", NULL, "sink", "A Request is not answered, and no reset follows.",
      "exchange.hard-reset-after-timeout exchange.request-answered" },
    { "exchange.no-ready-without-accept", NULL, "source", "PS_RDY comes in a contract in which nothing was asked for.", "exchange.no-ready-without-accept" },
    { "exchange.unexpected-message", NULL, "source", "Accept comes out of nothing.", "exchange.unexpected-message" },
    { "exchange.not-supported", NULL, "source", "A control message of type 27 is not answered.", "exchange.not-supported message.reserved-type" },
    { "exchange.soft-reset-accept", NULL, "source", "Soft_Reset is answered by Reject; the sink sends a Hard Reset 28 ms after it asked.",
      "exchange.soft-reset-accept" },
    { "exchange.one-at-a-time", NULL, "sink", "The sink asks another question before the one that it means; this one comes after the amount given, 5 ms if none is.",
      "exchange.one-at-a-time" },
    { "exchange.wait-endless", NULL, "source", "A Request is answered by Wait eleven times.", "exchange.wait-endless" },
    { "time.caps-give-up", NULL, "source", "Nobody answers Source_Capabilities, and the source gives up after 20.", "time.caps-give-up" },
    { NULL, NULL, NULL, NULL, NULL },
};

enum { MS_NS = 1000000, WAITS_MOST = 10, CAPS_TOO_FEW = 20 };

bool faults_no_request(struct life *l)
{
    const struct injected *f = l->contract && !l->epr_mode ? synth_fault(l, "exchange.request-after-caps") : NULL;

    if (!f)
        return false;
    synth_blame_sent(l, f, sink_of(l));
    synth_to(l, l->now_ns + 28 * MS_NS);
    synth_hard_reset(l, l->source);
    return true;
}

const struct injected *faults_request_waits(struct life *l, int64_t *waits)
{
    const struct injected *f = *waits && !l->epr_mode ? synth_fault(l, "exchange.wait-endless") : NULL;

    if (f)
        *waits = WAITS_MOST + 1;
    return f;
}

/* Whether the source gave up is known only where the trace shows that the sink is still there. */
const struct injected *faults_caps_given_up(struct life *l, int64_t *count)
{
    const struct injected *f = l->plan->instrument.cc || l->plan->instrument.power ? synth_fault(l, "time.caps-give-up") : NULL;

    if (f)
        *count = CAPS_TOO_FEW;
    return f;
}

bool faults_request_answer(struct life *l)
{
    const struct injected *f = l->contract ? synth_fault(l, "exchange.request-answered") : NULL;

    if (f) {
        synth_blame_sent(l, f, l->source);
        synth_to(l, l->now_ns + 28000000);
        synth_hard_reset(l, sink_of(l));
        return true;
    }
    f = l->contract ? synth_fault(l, "exchange.hard-reset-after-timeout") : NULL;
    if (f) {
        synth_blame_sent(l, f, sink_of(l));
        (void)synth_live_until(l, l->now_ns + 400 * MS_NS);
        return true;
    }
    f = l->contract ? synth_fault(l, "request.valid-accepted") : NULL;
    if (!f)
        return false;
    synth_wait(l, TIMER_SOURCE_RESPONSE, l->source);
    synth_blame_next(l, f, l->source);
    /* For two seconds no other offer follows that would say why; then the sink asks for what it has. */
    if (synth_say_control(l, l->source, C_REJECT) && synth_live_until(l, l->now_ns + 2100000000)) {
        synth_open_exchange(l, sink_of(l));
        (void)synth_request(l, l->request);
    }
    return true;
}

bool faults_ready(struct life *l)
{
    const struct injected *f = synth_fault(l, "exchange.ready-after-accept"), *late = f ? NULL : synth_fault(l, "time.ps-transition");

    if (!f && !late)
        return false;
    if (f) {
        synth_blame_sent(l, f, l->source);
        synth_to(l, l->now_ns + (l->epr_mode ? 925000000 : 500000000));
    } else {
        synth_to(l, l->now_ns + synth_amount_ns(late, 600000000));
        synth_blame_next(l, late, sink_of(l));
    }
    synth_hard_reset(l, sink_of(l));
    return true;
}

bool faults_source_cap_answer(struct life *l)
{
    const struct injected *f = synth_fault(l, "exchange.source-caps-answer");

    if (!f)
        return false;
    synth_blame_sent(l, f, l->source);
    synth_idle(l, 400000);
    return true;
}

bool faults_get_asked(struct life *l, unsigned asker, unsigned control)
{
    const struct injected *f;

    if (asker != sink_of(l) || !revision_3(l))
        return true;
    f = l->plan->instrument.cc && control ? synth_fault_just(l, "exchange.sink-tx", "") : NULL;
    if (f) {
        synth_rp(l, RP_1_5);
        synth_idle(l, 30000);
        synth_blame_next(l, f, asker);
    }
    f = synth_fault(l, "exchange.one-at-a-time");
    if (!f)
        return true;
    if (!synth_say_control(l, asker, control == C_GET_STATUS ? C_GET_COUNTRY_CODES : C_GET_STATUS))
        return false;
    synth_to(l, l->now_ns + synth_amount_ns(f, 5 * MS_NS));
    synth_blame_next(l, f, asker);
    return true;
}

bool faults_soft_reset_refused(struct life *l, unsigned player)
{
    const struct injected *f = l->contract && player == sink_of(l) ? synth_fault(l, "exchange.soft-reset-accept") : NULL;
    int64_t                asked_ns = l->now_ns;

    if (!f)
        return false;
    /* Later than a message that was begun before the question was heard. */
    synth_to(l, l->now_ns + chance_between(&l->chance, 2, 14) * MS_NS);
    synth_blame_next(l, f, l->source);
    if (synth_say_control(l, l->source, C_REJECT)) {
        synth_to(l, asked_ns + 28 * MS_NS);
        synth_hard_reset(l, player);
    }
    return true;
}

bool faults_get_answer(struct life *l, unsigned asker)
{
    const struct injected *f = synth_fault(l, "exchange.answer");

    if (f) {
        synth_blame_sent(l, f, other_of(asker));
        synth_idle(l, 400000);
        return true;
    }
    if ((f = synth_fault(l, "exchange.answer-kind"))) {
        synth_wait(l, TIMER_RECEIVER_RESPONSE, other_of(asker));
        synth_blame_next(l, f, other_of(asker));
        (void)synth_say_control(l, other_of(asker), C_REJECT);
        return true;
    }
    return false;
}

/* A question that is given up: whether an answer was on its way is never known. */
static bool impatient(struct life *l, const struct injected *f)
{
    unsigned asker = sink_of(l);

    synth_open_exchange(l, asker);
    if (!synth_say_control(l, asker, C_GET_SOURCE_CAP))
        return false;
    synth_to(l, l->now_ns + synth_amount_ns(f, 20000000));
    synth_blame_next(l, f, asker);
    return synth_soft_reset(l, asker);
}

/* A word of the source that nothing called for. */
static bool unasked(struct life *l, const struct injected *f, unsigned type)
{
    if (!f)
        return true;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    if (!synth_say_control(l, l->source, type))
        return false;
    synth_close_exchange(l);
    return true;
}

static bool unknown_unanswered(struct life *l)
{
    const struct injected *f = revision_3(l) ? synth_fault(l, "exchange.not-supported") : NULL;
    unsigned               sink = sink_of(l);

    if (!f)
        return true;
    synth_open_exchange(l, sink);
    if (!synth_say_control(l, sink, 27))
        return false;
    synth_blame_sent(l, f, l->source);
    return synth_live_until(l, l->now_ns + 400 * MS_NS);
}

bool faults_exchange_idle(struct life *l)
{
    const struct injected *f = l->epr_mode ? NULL : synth_fault(l, "time.sender-patience");

    if (f)
        return impatient(l, f);
    return unasked(l, synth_fault(l, "exchange.no-ready-without-accept"), C_PS_RDY) &&
           unasked(l, synth_fault(l, "exchange.unexpected-message"), C_ACCEPT) && unknown_unanswered(l);
}
