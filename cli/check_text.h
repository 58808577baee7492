/*
 * cli/check_text.h - what `check` prints for people: the verdict first, then what is not met, then the rest.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/out.h"

enum { FINDINGS_SHOWN = 5, CONTRACTS_SHOWN = 12 }; /* a rule and section, a port; unless more was asked for */

/* all_findings: every finding that is listed, not only the first few of a rule. */
void check_text(struct out *o, struct check *c, bool all_findings);
/* The verdict, in a word and a sentence, and what holds for the whole trace. */
void check_head_text(struct out *o, struct check *c);
/* One finding as check_text tells it, under what its rule demands. */
void check_finding_text(struct out *o, const struct check *c, const struct finding *f, uint64_t number);
/* The line of the verdict alone (-q). */
void check_line(struct out *o, const struct check *c);
