/*
 * cli/check_follow.h - a finding told at the moment it is settled, while the trace is still being recorded.
 */
#pragma once
#include "cli/check_run.h"

struct out;

/* What failed, and notes: one paragraph each, or (--json) one object a line as in "findings" of check --json. What is undecided waits. */
void check_follow(struct out *o, const struct check *c, const struct finding *f);
