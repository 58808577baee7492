/* Faults of sources that let a silent sink be, or have not the patience for one that is in order. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000 };

const struct synth_fault synth_faults_alive[] = {
    { "time.pps-timeout", "never", "source", "The sink falls silent in a PPS contract, and nothing happens for the amount given; 18 s if none is.",
      "time.pps-timeout time.pps-keepalive" },
    { "time.pps-timeout", "late", "source", "The sink falls silent in a PPS contract, and the Hard Reset comes after the amount given; 16 s if none is.",
      "time.pps-timeout time.pps-keepalive" },
    { "time.pps-timeout", "early", "source", "Twice a Hard Reset comes before the sink has to say anything, after the amount given; 9 s if none is.",
      "time.pps-timeout" },
    { "time.epr-timeout", NULL, "source", "The sink falls silent in EPR mode, and nothing happens for the amount given; 2 s if none is.",
      "time.epr-timeout time.epr-keepalive" },
    { "time.epr-timeout", "late", "source", "The sink falls silent in EPR mode, and the Hard Reset comes after the amount given; 1.2 s if none is.",
      "time.epr-timeout time.epr-keepalive" },
    { NULL, NULL, NULL, NULL, NULL },
};

static bool in_pps(const struct life *l)
{
    return l->contract && !l->epr_mode && l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS;
}

/* The two resets that tell impatience from chance, each the same time after a Request. */
static bool impatient(struct life *l, const struct injected *f)
{
    uint32_t word = l->request;
    int64_t  patience_ns = synth_amount_ns(f, INT64_C(9000) * MS_NS);

    synth_to(l, l->request_done_ns + patience_ns);
    if (!synth_hard_reset(l, l->source))
        return false;
    synth_open_exchange(l, sink_of(l));
    if (!synth_request(l, word))
        return false;
    synth_to(l, l->request_done_ns + patience_ns);
    synth_blame_next(l, f, l->source);
    return synth_hard_reset(l, l->source);
}

static bool pps_silence(struct life *l, const struct injected *f)
{
    /* The Request from which on the silence counts. */
    synth_open_exchange(l, sink_of(l));
    if (!synth_repeat_request(l))
        return false;
    if (synth_variant(f, "early"))
        return impatient(l, f);
    synth_blame_sink_last(l, f, l->source);
    if (synth_variant(f, "late")) {
        synth_to(l, l->request_done_ns + synth_amount_ns(f, INT64_C(16000) * MS_NS));
        return synth_hard_reset(l, l->source);
    }
    synth_to(l, l->request_done_ns + synth_amount_ns(f, INT64_C(18000) * MS_NS));
    return synth_repeat_request(l);
}

static bool epr_silence(struct life *l, const struct injected *f)
{
    bool    late = synth_variant(f, "late");
    int64_t silence_ns = synth_amount_ns(f, (late ? INT64_C(1200) : INT64_C(2000)) * MS_NS);

    if (!synth_keep_alive(l))
        return false;
    synth_blame_sink_last(l, f, l->source);
    synth_to(l, l->sink_end_ns + silence_ns);
    return late ? synth_hard_reset(l, l->source) : synth_keep_alive(l);
}

bool faults_alive_idle(struct life *l)
{
    const struct injected *f;

    if (in_pps(l) && (f = synth_fault(l, "time.pps-timeout")))
        return pps_silence(l, f);
    if (l->epr_mode && (f = synth_fault(l, "time.epr-timeout")))
        return epr_silence(l, f);
    return true;
}
