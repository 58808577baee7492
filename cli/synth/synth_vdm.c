/* Vendor defined messages between the partners. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

enum { VDM_IDENTITY = 1, VDM_SVIDS, VDM_MODES, VDM_ENTER, VDM_EXIT, VDM_ATTENTION, VDM_UNSTRUCTURED };
enum { VDM_REQ, VDM_ACK, VDM_NAK, VDM_BUSY };

static uint32_t head(const struct life *l, unsigned svid, unsigned command, unsigned kind, unsigned position)
{
    return (uint32_t)svid << 16 | 0x8000u | (revision_3(l) ? 0x2000u : 0) | position << 8 | kind << 6 | command;
}

static bool say(struct life *l, unsigned player, unsigned count, const uint32_t *words)
{
    return synth_say_data(l, player, D_VENDOR_DEFINED, count, words);
}

/* What a partner says it is: into the ID Header, and in objects of their own behind the Product object. How many of those. */
static unsigned product_objects(unsigned product, uint32_t *words)
{
    enum { HUB_UFP = 1, PERIPHERAL_UFP = 2, HOST_DFP = 2, BRICK_DFP = 3 };
    static const struct { uint32_t ufp, dfp; } kinds[] = {
        [PRODUCT_NONE] = { 0, 0 },      [PRODUCT_HUB] = { HUB_UFP, 0 },     [PRODUCT_PERIPHERAL] = { PERIPHERAL_UFP, 0 },
        [PRODUCT_HOST] = { 0, HOST_DFP }, [PRODUCT_BRICK] = { 0, BRICK_DFP }, [PRODUCT_DRD] = { PERIPHERAL_UFP, HOST_DFP },
    };
    uint32_t ufp = kinds[product].ufp, dfp = kinds[product].dfp;
    unsigned n = 3;

    words[0] |= ufp << 27 | dfp << 23 | (ufp ? 1u << 30 : 0) | (dfp == HOST_DFP ? 1u << 31 : 0);
    if (ufp)
        words[n++] = 3u << 29 | 1u << 24;
    if (ufp && dfp)
        words[n++] = 0; /* between the two */
    if (dfp)
        words[n++] = 2u << 29 | 1u << 24;
    return n - 3;
}

/* The objects of an ACK after its header. */
static unsigned ack_objects(const struct life *l, unsigned who, unsigned command, uint32_t *words)
{
    const struct partner *q = &l->partner[who];

    switch (command) {
    case VDM_IDENTITY:
        words[0] = (q->supports & SUPPORT_MODES ? 1u << 26 : 0) | q->vid | (revision_3(l) ? 2u << 21 : 0);
        words[1] = 0;
        words[2] = q->pid << 16 | 0x0100;
        return 3 + (revision_3(l) ? product_objects(q->product, words) : 0);
    case VDM_SVIDS:
        words[0] = q->svid << 16;
        return 1;
    case VDM_MODES:
        words[0] = 1;
        return 1;
    default:
        return 0;
    }
}

static bool answered(struct life *l, unsigned asker, const uint32_t *ask, unsigned command, unsigned svid, unsigned position, const struct step *s)
{
    unsigned         who = other_of(asker);
    enum synth_timer timer = command == VDM_ENTER || command == VDM_EXIT ? TIMER_VDM_MODE : TIMER_VDM_RESPONSE;
    bool             known = l->partner[who].supports & (command == VDM_IDENTITY ? SUPPORT_IDENTITY : SUPPORT_MODES);
    int64_t          busy = s->busy;
    uint32_t         words[7];

    if (faults_vdm_silent(l, who))
        return true;
    const struct injected *f = faults_vdm_busy(l, &busy);

    for (int64_t k = 0; k < busy; k++) {
        synth_wait(l, TIMER_VDM_RESPONSE, who);
        if (f && k + 1 == busy)
            synth_blame_next(l, f, who);
        words[0] = head(l, svid, command, VDM_BUSY, position);
        if (!say(l, who, 1, words))
            return false;
        synth_wait(l, TIMER_VDM_BUSY, asker);
        if (!say(l, asker, 1, ask))
            return false;
    }
    synth_wait(l, timer, who);
    known = s->answer == ANSWER_ACK || (known && s->answer != ANSWER_NAK);
    words[0] = head(l, svid, command, known ? VDM_ACK : VDM_NAK, position);
    if (known && command == VDM_ENTER)
        l->in_mode = true;
    if (known && command == VDM_EXIT)
        l->in_mode = false;
    return say(l, who, 1 + (known ? ack_objects(l, who, command, words + 1) : 0), words);
}

bool synth_vdm(struct life *l, const struct step *s)
{
    unsigned command = s->command ? s->command : 1 + chance_below(&l->chance, 3), asker = l->dfp;
    unsigned svid = command <= VDM_SVIDS ? 0xff00 : l->partner[other_of(asker)].svid, position = command >= VDM_ENTER ? 1 : 0;
    uint32_t word;

    if (!l->contract || (command == VDM_ENTER && l->in_mode) || ((command == VDM_EXIT || command == VDM_ATTENTION) && !l->in_mode))
        return true;
    if (command == VDM_ATTENTION)
        asker = other_of(l->dfp);
    synth_open_exchange(l, asker);
    word = command == VDM_UNSTRUCTURED ? (uint32_t)l->partner[asker].vid << 16 | 0x0011 : head(l, svid, command, VDM_REQ, position);
    if (!say(l, asker, 1, &word))
        return false;
    if (command == VDM_ATTENTION)
        return asker == l->source || !faults_vdm_heard(l);
    if (command == VDM_UNSTRUCTURED) {
        if (!revision_3(l))
            return true;
        synth_wait(l, TIMER_RECEIVER_RESPONSE, other_of(asker));
        return synth_say_control(l, other_of(asker), C_NOT_SUPPORTED);
    }
    return answered(l, asker, &word, command, svid, position, s) && !faults_vdm_heard(l);
}
