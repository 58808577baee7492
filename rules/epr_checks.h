/*
 * rules/epr_checks.h - the checks of epr.*, which of its sentences each may say, and the order of its parameters. For the table in
 * epr_rules.c alone.
 */
#pragma once
#include "rules/sequence.h"
#include "rules/volts.h"

/* epr.entry-order */
enum { ENTRY_LATE, ENTRY_WRONG, ENTRY_MISSING, ENTRY_UNACKNOWLEDGED };
enum { ENTRY_WAIT };
struct entry_state {
    struct kept enter;         /* frame 0: none under way */
    int64_t     t_ns;
    uint64_t    acknowledged;  /* frame of Enter Acknowledged; 0: not yet */
    bool        vconn_swap;    /* one was asked for meanwhile */
    bool        overdue;
};
void epr_check_entry_order(struct judge *j, const struct event *e);

/* epr.entry-needs-cable, epr.entry-needs-capable */
enum { NEEDS_CABLE_MARKS, NEEDS_CABLE_UNSEEN };
enum { NEEDS_OFFER_FLAG, NEEDS_REQUEST_FLAG, NEEDS_UNKNOWN };
enum { NEEDS_ENTRY };
void epr_check_entry_needs_cable(struct judge *j, const struct event *e);
void epr_check_entry_needs_capable(struct judge *j, const struct event *e);

/* epr.caps-in-mode, epr.exit: what the source has to offer, and by when. */
enum { OWED_LATE, OWED_WRONG, OWED_MISSING, OWED_HIGH };
enum { OWED_LIMIT, OWED_ENTRY };
struct owed_caps {
    struct kept since;         /* Enter Succeeded, or Exit; frame 0: nothing owed */
    int64_t     t_ns;
    bool        overdue, sink_asked;
    bool        high;          /* epr.exit: a contract above what a port may give outside EPR mode was left */
    int32_t     mv;
    uint64_t    contract_frame;
};
void epr_check_caps_in_mode(struct judge *j, const struct event *e);
void epr_check_exit(struct judge *j, const struct event *e);

/* epr.spr-caps-in-mode */
enum { SPR_CAPS_UNASKED };
void epr_check_spr_caps(struct judge *j, const struct event *e);

/* epr.request-kind */
enum { REQUEST_KIND_PLAIN, REQUEST_KIND_EPR, REQUEST_KIND_UNKNOWN };
struct request_kind { uint64_t proof_frame; int64_t proof_ns; }; /* what last showed the mode that the model knows */
void epr_check_request_kind(struct judge *j, const struct event *e);

/* epr.keepalive-ack */
enum { KEEPALIVE_MISSING, KEEPALIVE_OTHER, KEEPALIVE_GIVEN_UP, KEEPALIVE_CUT_SHORT };
void epr_check_keepalive(struct judge *j, const struct event *e);

/* epr.high-voltage-outside (epr_volts.c) */
enum { HIGH_ABOVE, HIGH_UNSURE, HIGH_UNREAD };
enum { HIGH_LIMIT, HIGH_STATIC, HIGH_TRANSIENT, HIGH_STEP, HIGH_AFTER };
void epr_check_high_voltage(struct judge *j, const struct event *e);
