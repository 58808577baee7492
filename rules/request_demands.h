/*
 * rules/request_demands.h - what the standard demands of a Request, as pure functions of the Request and its ground; and the
 * checks of request.*, with the sentences that each may say. For request_*.c alone.
 *
 * The sink's rules tell the outcome of one demand each, the source's rules go by all together.
 */
#pragma once
#include "rules/judge.h"

enum { MILLI = 1000 }; /* findings count in thousandths */

/* One bit for each demand on a Request. */
enum request_fault {
    FAULT_POSITION = 1, FAULT_CURRENT = 2, FAULT_CURRENT_ORDER = 4, FAULT_POWER = 8, FAULT_PPS_RANGE = 16, FAULT_AVS_RANGE = 32,
    FAULT_AVS_STEP = 64, FAULT_RESERVED = 128, FAULT_COPY = 256,
    /* those that the object asked for cannot meet: to be refused */
    FAULTS_TO_REFUSE = FAULT_POSITION | FAULT_CURRENT | FAULT_POWER | FAULT_PPS_RANGE | FAULT_AVS_RANGE | FAULT_COPY,
};

/* Under what a Request is judged. */
struct request_ground {
    const struct request *request;
    const struct port    *port;
    unsigned              agreed;   /* enum agreed_revision, or as --standard says */
    unsigned              standard;
};

struct request_ground request_ground_of(const struct judge *j, const struct port *p, const struct request *q);
/* Is the sink's edition 3.1 or later? */
enum answer request_from_31(const struct request_ground *g);
bool request_asks_avs(const struct request *q);
/* Fixed, variable or battery. */
bool request_asks_plain(const struct request *q);
/* What the object offers, mA; only where request_current_limited: outside its range an AVS object names no current. */
int32_t request_current_limit(const struct request *q);
bool request_current_limited(const struct request *q);
/* No offer whatever has an object at such a position. */
bool request_position_impossible(const struct request *q);
/* The demands, each by itself; the object asked for must be known. */
bool request_current_broken(const struct request_ground *g);
bool request_current_order_broken(const struct request_ground *g);
bool request_power_broken(const struct request_ground *g);
bool request_pps_range_broken(const struct request_ground *g);
bool request_avs_range_broken(const struct request_ground *g);
bool request_avs_step_broken(const struct request_ground *g);
/* Reserved bits that are set, of those that are reserved in every revision that this may be. */
uint32_t request_reserved_set(const struct request_ground *g);
bool request_copy_broken(const struct request_ground *g);
/* All demands that this Request breaks: enum request_fault. The offer must be known. */
unsigned request_faults(const struct request_ground *g);

/* Starts an outcome about this Request, the offer that it refers to among its evidence. */
struct outcome request_outcome(const struct judge *j, const struct event *e);

/* request_answers.c */
enum { SAYS_REJECTED, SAYS_OFFER_UNKNOWN };
enum { SAYS_ACCEPTED, SAYS_RECENT, SAYS_UNKNOWN };
enum { REJECTS_MAX = 16 }; /* refusals that wait for a changed offer at a time */
struct reject {
    uint64_t frame, request_frame;
    int64_t  t_ns, late_ns; /* late_ns: an offer from here on comes too late */
    uint8_t  player, position;
};
struct valid_accepted {
    struct open_request open;
    struct reject       waiting[REJECTS_MAX]; /* oldest first */
    unsigned            count;
};
/* The offers that Requests refer to, and those that EPR_Requests do. */
struct offer_change {
    bool    offered;    /* one stood before, since the attach or reset */
    bool    changed;
    int64_t changed_ns; /* when another one took its place */
};
struct invalid_refused {
    struct open_request open;
    struct offer_change offers[2]; /* [1]: EPR */
};
void request_check_valid_accepted(struct judge *j, const struct event *e);
void request_check_invalid_refused(struct judge *j, const struct event *e);
