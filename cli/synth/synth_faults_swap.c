/* Faults of swaps of power role, data role and VCONN. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_swap[] = {
    { NULL, NULL, NULL, NULL, NULL },
};
