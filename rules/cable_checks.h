/*
 * rules/cable_checks.h - the checks of cable.*, what they remember, and which of its sentences each may say. For the table in
 * cable_rules.c alone.
 */
#pragma once
#include "rules/judge.h"

enum { DISCOVERED_NEVER, DISCOVERED_UNSEEN };
struct discovered_state {
    bool     done;            /* the attach had its first offer above 3 A */
    bool     identity_before; /* before the offer announced last */
    bool     spoilt_before;   /* a bad packet before it may have been the identity */
    uint64_t announced_frame;
};
void cable_check_discovered(struct judge *j, const struct event *e);

enum { IDENTITY_PRODUCT, IDENTITY_COUNT, IDENTITY_PLUG, IDENTITY_CURRENT, IDENTITY_RESERVED_ID, IDENTITY_RESERVED_CABLE };
void cable_check_identity_valid(struct judge *j, const struct event *e);

enum { RATING_CURRENT, RATING_VOLTS, RATING_EPR };
void cable_check_rating_agrees(struct judge *j, const struct event *e);

enum { EPR_RATING_LOW };
void cable_check_epr_rating(struct judge *j, const struct event *e);

enum { CURRENT_OVER };
enum { CONTRACTS_KEPT = 16 }; /* of an attach; more: the oldest is judged at once */
struct strong_contract {
    uint64_t frame, cable_frame;
    int64_t  t_ns;
    int32_t  ma;
    uint8_t  player, current; /* current: the cable's field */
    uint8_t  verdict, cause;  /* enum verdict, enum cause */
};
struct current_over_state {
    struct strong_contract kept[CONTRACTS_KEPT]; /* oldest first */
    unsigned               count;
};
void cable_check_current_over_rating(struct judge *j, const struct event *e);
