/*
 * cli/check_json.h - the object of `check --json` for one trace, on one line.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/json_out.h"

void check_json(struct out *o, struct check *c);
/* An element of "findings". */
void finding_json(struct json *j, const char *key, const struct finding *f, int64_t zero_ns);
/* As an object of its own, with "told", where that is not NULL: "so_far", "taken_back". */
void finding_json_told(struct json *j, const struct finding *f, int64_t zero_ns, const char *told);
/* enum edge_kind: "start" "end" "acknowledged" "heard" "state" "reading" */
const char *edge_name(unsigned kind);
/* "edge" "frame" "early_ns" "late_ns" of an open object; times since the trace's first record. */
void edge_json(struct json *j, const struct edge *e, int64_t zero_ns);
/* "vbus" "ibus" "cc" "edges" "other_ports" "vbus_rate" "ibus_rate" "durations" "instrument_time" "wire": one enum evidence bit. */
const char *evidence_name(unsigned bit);
