/*
 * cli/check_early.h - check --follow: what fails by what has been recorded so far, told before its rule closes the matter.
 *
 * Many rules speak only when something is over: an offer is judged at the end of its attach, VBUS at the end of its contract. Whenever the
 * recording pauses, a copy of the process (fork) is asked what would be found if the trace ended there; what is new is told as "so far",
 * and taken back where what comes later makes another verdict of it. The judgement itself is not touched by it.
 */
#pragma once
#include "cli/check_run.h"

struct early;

struct early *early_new(void);       /* NULL: no memory */
void early_free(struct early *e);    /* NULL is allowed */
/* A record was judged. */
void early_feed(struct early *e);
/*
 * Nothing more has come: looks, unless it did so just before. end_ns: the end of the trace so far. Returns after how many ms it wants to be
 * asked again, below 0: not before the next record.
 */
int early_look(struct early *e, struct check *c, int64_t end_ns);
/* In the copy: the finding is for the one that asked, and that is all. False: this is not the copy. */
bool early_send(struct early *e, const struct finding *f);
/* The matter is closed: was this finding told before? */
bool early_told(struct early *e, const struct finding *f);
/* At the end: what was told, and did not come. */
void early_end(struct early *e, const struct check *c);
