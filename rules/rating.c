#include "rules/rating.h"
#include "rules/power_rules.h"

/* Source_Capabilities_Extended: Infineon cy_pdstack_common.h. Bit 7 of the first byte is no part of it. */
enum { SPR_RATING_BYTE = 23, EPR_RATING_BYTE = 24, SPR_RATING_MASK = 0x7f };

static uint8_t extended_byte(const struct ratings *seen, unsigned player, unsigned byte)
{
    return player <= PLAYER_B && seen->source_ext_frame[player] && seen->source_ext_size[player] > byte ? seen->source_ext[player][byte] : 0;
}

int32_t rating_extended_spr_mw(const struct ratings *seen, unsigned player)
{
    return (extended_byte(seen, player, SPR_RATING_BYTE) & SPR_RATING_MASK) * RATING_STEP_MW;
}

int32_t rating_extended_epr_mw(const struct ratings *seen, unsigned player)
{
    return extended_byte(seen, player, EPR_RATING_BYTE) * RATING_STEP_MW;
}

uint64_t rating_extended_frame(const struct ratings *seen, unsigned player)
{
    return player <= PLAYER_B ? seen->source_ext_frame[player] : 0;
}

static void declare(struct rating *r, int32_t mw, uint64_t frame)
{
    if (r->declared || mw <= 0)
        return;
    r->declared = true;
    r->position = 0;
    r->frame = frame;
    r->uw = INT64_C(1000) * (mw < SPR_MAX_MW ? mw : SPR_MAX_MW);
}

/* Is this player the port that ABOUT describes? On a port that is both, either of the two may be. */
static bool described(const struct about_port *about, unsigned player)
{
    return about && (about->kind == ABOUT_SOURCE ? player == PLAYER_A : about->kind != ABOUT_DUAL && player == PLAYER_B);
}

static void declare_unmoved(struct rating *r, const struct ratings *seen, unsigned player, const struct about_port *about)
{
    declare(r, rating_extended_spr_mw(seen, player), rating_extended_frame(seen, player));
    if (described(about, player))
        declare(r, about->rated_mw, 0);
}

static struct rating inferred(const struct offer *o)
{
    const struct pdo *p = offer_strongest(o, 1, PDO_SPR_MAX);
    int64_t most_uw = INT64_C(1000) * SPR_MAX_MW;
    struct rating r = { 0 };

    if (!p)
        return r;
    r.uw = pdo_power_uw(p) < most_uw ? pdo_power_uw(p) : most_uw;
    r.slack_uw = pdo_slack_uw(p);
    r.position = (uint8_t)(p - o->pdos + 1);
    return r;
}

struct rating rating_floor(const struct held_offer *held, const struct ratings *seen, const struct about_port *about)
{
    struct rating r = inferred(&held->offer);

    declare(&r, held->present_low_w * RATING_STEP_MW, held->present_frame);
    if (held->first && !held->offer.other_occupied)
        declare_unmoved(&r, seen, held->offer.player, about);
    return r;
}

struct rating rating_ceiling(const struct held_offer *held, const struct ratings *seen, const struct about_port *about)
{
    struct rating r = inferred(&held->offer);

    declare(&r, held->present_high_w * RATING_STEP_MW, held->present_frame);
    declare_unmoved(&r, seen, held->offer.player, about);
    return r;
}
