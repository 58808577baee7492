/* tests/decode/bmc_trial.h - many packets over a line that is as bad as one likes: how many come through. */
#pragma once
#include <stdint.h>

struct trial {
    double   sample_hz;
    double   bit_hz;
    double   jitter_percent;  /* rms, of half a cell */
    double   skew_percent;    /* rising changes later than falling ones, of half a cell */
    double   glitch_percent;  /* glitches for 100 changes */
    double   glitch_ns;       /* at most so long */
    unsigned packets;
    uint64_t seed;
};

struct trial_result {
    unsigned sent, right; /* right: the set, every byte and the CRC; of a reset, which */
    unsigned broken;      /* frames of a packet that was sent, but not right */
    unsigned wrong;       /* frames where nobody sent any, or that look sound and are not what was sent */
};

struct trial_result trial_run(const struct trial *t);
