/*
 * cli/check_json.h - the object of `check --json` for one trace, on one line.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/json_out.h"

void check_json(struct out *o, struct check *c);
/* "vbus" "ibus" "cc" "edges" "other_ports" "vbus_rate" "ibus_rate" "durations" "instrument_time": one enum evidence bit. */
const char *evidence_name(unsigned bit);
