/*
 * rules/vdm_checks.h - the checks of vdm.*, what they remember, and which of its sentences each may say. For the table in
 * vdm_rules.c alone.
 */
#pragma once
#include "rules/judge.h"

enum {
    HEADER_BIT_5, HEADER_COMMAND, HEADER_ATTENTION, HEADER_SVID, HEADER_POSITION, HEADER_ONE_OBJECT, HEADER_TWO_OBJECTS,
};
void vdm_check_header(struct judge *j, const struct event *e);

enum { ANSWER_NEVER };
/* Which plugs have answered a structured VDM in this attach, and the header revision they did it with. */
struct vdm_answer_state { uint8_t answered; /* bits 1 << enum ordered_set */ uint8_t revision[5]; };
void vdm_check_answer(struct judge *j, const struct event *e);

enum { FIELDS_SVID, FIELDS_COMMAND, FIELDS_POSITION, FIELDS_OBJECTS };
void vdm_check_answer_fields(struct judge *j, const struct event *e);

enum { PARTNER_FEW_OBJECTS, PARTNER_RESERVED, PARTNER_UFP, PARTNER_DFP, PARTNER_COUNT };
void vdm_check_identity_fields(struct judge *j, const struct event *e);

enum { BUSY_MANY };
struct busy_run { uint32_t word; uint32_t count; };
struct busy_state { struct busy_run runs[STREAMS]; }; /* by stream of the asker */
void vdm_check_busy_count(struct judge *j, const struct event *e);

enum { SURVIVES_HARD_RESET, SURVIVES_SOFT_RESET, SURVIVES_VBUS, SURVIVES_UNSEEN };
enum { SURVIVES_KEPT = 16 }; /* VDMs within the time; more: the newest takes the place of the one before */
struct survived { uint64_t frame; int64_t t_ns, end_ns; };
struct survives_state {
    struct survived vdm[SURVIVES_KEPT]; /* oldest first */
    unsigned        count;
    unsigned        resets;             /* that followed a VDM, and nobody knows whose */
    int64_t         fell_ns;            /* VBUS went while a contract was in force; INT64_MIN or 0: it did not */
    uint64_t        fell_frame;
};
void vdm_check_survives(struct judge *j, const struct event *e);
