/* Faults of vendor defined messages. Layouts: Linux include/linux/usb/pd_vdo.h, Chromium EC include/usb_pd_vdo.h. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

/* nBusyCount: Microchip PD software framework headers. */
enum { BUSY_MOST = 5 };

const struct synth_fault synth_faults_vdm[] = {
    { "vdm.header", NULL, NULL, "A structured question has the reserved bit 5 of its header set.", "vdm.header" },
    { "vdm.answer", NULL, NULL, "A structured question is not answered.", "vdm.answer" },
    { "vdm.answer-fields", NULL, NULL, "An ACK carries another SVID than the question.", "vdm.answer-fields" },
    { "vdm.identity-fields", NULL, NULL, "A partner's ID Header has a reserved bit set.", "vdm.identity-fields" },
    { "vdm.busy-count", NULL, NULL, "The same question is answered by BUSY six times in a row.", "vdm.busy-count" },
    { "vdm.survives", NULL, "source", "The source sends Soft_Reset after a vendor defined message of the sink.", "vdm.survives" },
    { NULL, NULL, NULL, NULL, NULL },
};

/* Header: bit 15 structured, bits 7:6 REQ 0, ACK 1, bits 4:0 command, 1 Discover Identity. */
#define VDM_OF_PORTS BY_PORTS, SET_SOP, false, D_VENDOR_DEFINED
static const struct twist twists[] = {
    { "vdm.header", VDM_OF_PORTS, 0, 1u << 5, 0, 0x80c0, 0x8000 },
    { "vdm.answer-fields", VDM_OF_PORTS, 0, 1u << 16, 0, 0x80c0, 0x8040 },
    { "vdm.identity-fields", VDM_OF_PORTS, 4, 1u << 16, 0, 0x80df, 0x8041 },
    { NULL, 0, 0, false, 0, 0, 0, 0, 0, 0 },
};

void faults_vdm_message(struct life *l, struct say *m)
{
    if (l->contract)
        faults_twist(l, m, twists);
}

/* Under 2.0 silence is an answer. What is said afterwards shows that nothing was lost in between. */
bool faults_vdm_silent(struct life *l, unsigned who)
{
    const struct injected *f = revision_3(l) ? synth_fault(l, "vdm.answer") : NULL;
    struct step            next = { .from = WHO_SINK };

    if (!f)
        return false;
    synth_blame_sent(l, f, who);
    synth_idle(l, 300000);
    synth_close_exchange(l);
    synth_question_find("Get_Status", &next.message);
    (void)synth_get(l, &next);
    return true;
}

const struct injected *faults_vdm_busy(struct life *l, int64_t *count)
{
    const struct injected *f = synth_fault(l, "vdm.busy-count");

    if (f)
        *count = BUSY_MOST + 1;
    return f;
}

bool faults_vdm_heard(struct life *l)
{
    const struct injected *f = synth_fault(l, "vdm.survives");

    if (!f)
        return false;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    (void)synth_soft_reset(l, l->source);
    return true;
}
