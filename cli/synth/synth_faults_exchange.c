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
    { NULL, NULL, NULL, NULL, NULL },
};

bool faults_request_answer(struct life *l)
{
    const struct injected *f = l->contract ? synth_fault(l, "exchange.request-answered") : NULL;

    if (f) {
        synth_blame_sent(l, f, l->source);
        synth_to(l, l->now_ns + 28000000);
        synth_hard_reset(l, sink_of(l));
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

bool faults_exchange_idle(struct life *l)
{
    const struct injected *f = l->epr_mode ? NULL : synth_fault(l, "time.sender-patience");

    return !f || impatient(l, f);
}
