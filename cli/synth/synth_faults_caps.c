/* Faults of what is offered. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_caps[] = {
    { "caps.first-only-flags", NULL, "source", "Object 2 carries a flag that only the first may carry.", "caps.first-only-flags" },
    { "caps.reserved-bits", NULL, "source", "A reserved bit of a fixed object is set.", "caps.reserved-bits" },
    { "caps.order", NULL, "source", "Two fixed objects stand in the wrong order.", "caps.order" },
    { "caps.unique-voltage", NULL, "source", "A fixed object stands there twice.", "caps.unique-voltage" },
    { NULL, NULL, NULL, NULL, NULL },
};

static bool made(struct life *l, const char *fault)
{
    const struct injected *f = synth_fault(l, fault);

    if (f)
        synth_blame_next(l, f, l->source);
    return f != NULL;
}

/* Only where there are three fixed objects to begin with, outside EPR mode, in an offer that a new request follows. */
void faults_caps_offer(struct life *l)
{
    if (l->epr_mode || l->offer_count < 3 || pdo_supply(l->offer[1]) != SUPPLY_FIXED || pdo_supply(l->offer[2]) != SUPPLY_FIXED)
        return;
    if (made(l, "caps.first-only-flags"))
        l->offer[1] |= PDO_UNCONSTRAINED;
    if (made(l, "caps.reserved-bits"))
        l->offer[1] |= UINT32_C(1) << 22;
    if (made(l, "caps.order")) {
        uint32_t second = l->offer[1];

        l->offer[1] = l->offer[2];
        l->offer[2] = second;
    }
    if (l->offer_count < SPR_MAX && made(l, "caps.unique-voltage")) {
        for (unsigned k = l->offer_count++; k > 2; k--)
            l->offer[k] = l->offer[k - 1];
        l->offer[2] = l->offer[1];
    }
}
