/* Faults of resets: what brings them about, and what follows them. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_reset[] = {
    { NULL, NULL, NULL, NULL, NULL },
};

bool faults_reset_idle(struct life *l)
{
    (void)l;
    return true;
}
