/*
 * rules/time_volts.h - the checks of time.* that have VBUS for an edge, which of its sentences each may say, and the order of its
 * parameters. For the table in time_rules.c alone.
 */
#pragma once
#include "rules/rail.h"

enum { EDGE_LATE, EDGE_EARLY, EDGE_UNREAD, EDGE_MISSING };
enum { EDGE_MOST, EDGE_MOST_EPR };
/* An attach or a Hard Reset after which the first capabilities are waited for. */
struct caps_wait {
    bool     gap;
    uint8_t  player;
    uint64_t frame;         /* of the attach or reset; 0: nothing is waited for */
    int64_t  t_ns;
    bool     on;            /* VBUS came up, there: */
    struct rail_moment up;
};
struct first_caps { struct caps_wait now, missed; }; /* missed: ended by another one, not told yet */
enum { CAPS_DUE, CAPS_ON };
void time_check_first_caps(struct judge *j, const struct event *e);
void time_check_src_transition(struct judge *j, const struct event *e);
void time_check_reset_response(struct judge *j, const struct event *e);
void time_check_safe0v(struct judge *j, const struct event *e);
void time_check_src_recover(struct judge *j, const struct event *e);
void time_check_turn_on(struct judge *j, const struct event *e);
void time_check_vbus_on(struct judge *j, const struct event *e);
void time_check_vbus_off(struct judge *j, const struct event *e);
