/* Branch and bound: the need with the fewest actions left decides first. Most needs have one action, so few branches are left. */
#include "cli/missing_cover.h"

enum { STEPS_MOST = 200000 }; /* no catalogue comes near; a bound all the same: the best list so far is good, if not proven shortest */

struct search {
    const uint64_t *needs;
    unsigned        count;
    const uint8_t  *ranks;
    uint64_t        best;
    unsigned        best_length, best_rank, steps;
};

static unsigned bits(uint64_t mask)
{
    return (unsigned)__builtin_popcountll(mask);
}

/* The need that is not met and leaves least choice; 0: all are met. */
static uint64_t need_next(const struct search *s, uint64_t chosen)
{
    uint64_t next = 0;

    for (unsigned k = 0; k < s->count; k++)
        if (s->needs[k] && !(s->needs[k] & chosen) && (next == 0 || bits(s->needs[k]) < bits(next)))
            next = s->needs[k];
    return next;
}

static void search_on(struct search *s, uint64_t chosen, uint64_t added, unsigned length, unsigned rank)
{
    bool shorter = length < s->best_length || (length == s->best_length && rank < s->best_rank);

    if (!shorter || s->steps++ > STEPS_MOST)
        return;
    uint64_t next = need_next(s, chosen);

    if (next == 0) {
        s->best = added;
        s->best_length = length;
        s->best_rank = rank;
        return;
    }
    /* Actions are numbered by rank: the gentlest is tried first. */
    for (; next; next &= next - 1) {
        uint64_t bit = next & (~next + 1);

        search_on(s, chosen | bit, added | bit, length + 1, rank + s->ranks[__builtin_ctzll(bit)]);
    }
}

uint64_t cover_shortest(const uint64_t *needs, unsigned count, const uint8_t ranks[64], uint64_t done)
{
    struct search s = { .needs = needs, .count = count, .ranks = ranks, .best_length = 65 };

    search_on(&s, done, 0, 0, 0);
    return s.best;
}
