/*
 * cli/timings_tell.h - what `check --timings` prints, for people and as JSON.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/json_out.h"

/* The verdict's head, then timers and health by port. */
void timings_text(struct out *o, struct check *c);
/* "timings":[...],"health":[...] into an open object. */
void timings_json(struct json *j, const struct check *c);
