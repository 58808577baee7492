/*
 * cli/volts_tell.h - what `check --volts` prints, for people and as JSON.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/json_out.h"

/* The verdict's head, then the contracts of each port. */
void volts_text(struct out *o, struct check *c);
/* "volts":[...],"load_steps":[...] and what was left out of them, into an open object. */
void volts_json(struct json *j, const struct check *c);
