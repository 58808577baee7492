/*
 * cli/trace_json.h - the parts that the objects of `check` and `offers` have in common: the trace, and what a port offered and agreed to.
 */
#pragma once
#include "capture/about.h"
#include "capture/trace.h"
#include "cli/collector.h"
#include "cli/json_out.h"

/* "schema" and "tool" of an open object. */
void schema_json(struct json *j);
/* "trace": file, start, duration, counts, ABOUT as merged. */
void trace_json(struct json *j, const char *path, const struct trace_facts *f, const struct about *a);
/* The same under another key. */
void trace_json_named(struct json *j, const char *key, const char *path, const struct trace_facts *f, const struct about *a);
/* "port" and "name" of an open object. */
void port_head_json(struct json *j, unsigned port, const struct about_port *about);
/* "offers" and "sink_offers", with what was left out. r NULL: empty. */
void offers_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns);
/* "contracts" */
void contracts_json(struct json *j, const struct port_record *r, int64_t zero_ns);
/* The keys of cli/who.h's who_json; all null where nothing was heard. */
void who_or_null_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns);
