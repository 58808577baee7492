/*
 * rules/rating.h - the PDP of a port: what an offer has to live up to, and what it must not exceed.
 *
 * Declared by Port Present PDP (Source_Info), SPR Source PDP Rating (Source_Capabilities_Extended) or ABOUT's rated_w,
 * the first of them that there is; else inferred: the largest voltage times current of the offer's Fixed objects.
 * What one partner says never holds for the other: after a swap of power roles it is the other that offers. ABOUT speaks of the
 * device; on a port that is source and sink it may be either of the two, and its rated_w is not used.
 * It is that of positions 1 to 7: never above 100 W. A declared zero says nothing.
 */
#pragma once
#include "rules/judge.h"

struct rating {
    int64_t  uw;
    int64_t  slack_uw; /* coding slack: one step of the strongest Fixed object of the offer, at its voltage */
    bool     declared; /* false: inferred */
    uint8_t  position; /* inferred: the object that it came from; 0: there was none */
    uint64_t frame;    /* message that declared it; 0: ABOUT, or inferred */
};

/*
 * The least that this offer must live up to. Port Present PDP as said while the offer stood (the least of them: a port
 * that shares its power moves it). A rating that does not move only where it holds for sure: the first offer of an
 * attach with no other port occupied. Everywhere else the inferred one.
 */
struct rating rating_floor(const struct held_offer *held, const struct ratings *seen, const struct about_port *about);
/* The most that this offer may claim. declared false: nobody said. */
struct rating rating_ceiling(const struct held_offer *held, const struct ratings *seen, const struct about_port *about);
/* Bytes of that player's Source_Capabilities_Extended: SPR and EPR Source PDP Rating, mW; 0: not sent, or zero. And its frame; 0: not seen. */
int32_t  rating_extended_spr_mw(const struct ratings *seen, unsigned player);
int32_t  rating_extended_epr_mw(const struct ratings *seen, unsigned player);
uint64_t rating_extended_frame(const struct ratings *seen, unsigned player);
