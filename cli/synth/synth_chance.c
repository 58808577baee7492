#include "cli/synth/synth_chance.h"

#include <math.h>

/* splitmix64: a published generator of 64-bit numbers, in the public domain; any seed will do. */
uint64_t chance_bits(struct chance *c)
{
    uint64_t z = c->state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

struct chance chance_of(uint64_t seed, uint64_t stream)
{
    struct chance c = { .state = seed };
    uint64_t      first = chance_bits(&c);

    c.state = first ^ stream * UINT64_C(0xd1342543de82ef95);
    chance_bits(&c);
    return c;
}

unsigned chance_below(struct chance *c, unsigned below)
{
    return (unsigned)(chance_bits(c) >> 16) % below;
}

int64_t chance_between(struct chance *c, int64_t least, int64_t most)
{
    if (most <= least)
        return least;
    return least + (int64_t)(chance_bits(c) % ((uint64_t)(most - least) + 1));
}

/* Box and Muller, A Note on the Generation of Random Normal Deviates (1958). */
double chance_normal(struct chance *c)
{
    double far = ((double)(chance_bits(c) >> 11) + 1) / 9007199254740992.0, turn = (double)(chance_bits(c) >> 11) / 9007199254740992.0;

    return sqrt(-2 * log(far)) * cos(6.283185307179586 * turn);
}

bool chance_in(struct chance *c, unsigned times, unsigned of)
{
    return chance_below(c, of) < times;
}
