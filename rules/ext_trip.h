/*
 * rules/ext_trip.h - the check of ext.trip-announced, its sentence, and the order of its parameters. For the table in ext_rules.c
 * alone.
 */
#pragma once
#include "rules/volts.h"

enum { TRIP_UNANNOUNCED };
enum { TRIP_ALERT, TRIP_OVERLOAD };
#define TRIP_PARAMETERS (const char *const[]){ [TRIP_ALERT] = "trip_alert_s", [TRIP_OVERLOAD] = "overload_share", NULL }
#define TRIP_SENTENCES (const char *const[]){ [TRIP_UNANNOUNCED] = "The source switched off under a current above the contract, and no Alert said so.", NULL }
#define TRIP_WAKES                                                                                                                    \
    (EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_POWER) | EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_HARD_RESET) |                \
     EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH))

struct trip_state {
    struct overload overload;
    int64_t         alert_ns;       /* the last Alert of an overload; 0: none */
    uint64_t        alert_frame;
    uint64_t        frame;          /* of the reading above the contract before a switch-off that waits for its Alert; 0: none */
    uint64_t        contract_frame;
    int64_t         t_ns;           /* when it was */
    uint8_t         player;
};
void ext_check_trip_announced(struct judge *j, const struct event *e);
