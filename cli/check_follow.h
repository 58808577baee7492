/*
 * cli/check_follow.h - a finding told at the moment it is settled, while the trace is still being recorded.
 */
#pragma once
#include "cli/check_run.h"

struct out;

/* What failed, and notes: one paragraph each, or (--json) one object a line as in "findings" of check --json. What is undecided waits. */
void check_follow(struct out *o, const struct check *c, const struct finding *f);
/* The same for one that is not closed yet (cli/check_early.h), and one that was told so and does not hold any more. */
void check_follow_early(struct out *o, const struct check *c, const struct finding *f);
void check_follow_back(struct out *o, const struct check *c, const struct finding *f);
