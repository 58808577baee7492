/*
 * cli/trace_head.h - which trace this is, for the top of what `offers` and `check` print.
 */
#pragma once
#include "capture/about.h"
#include "capture/trace.h"
#include "cli/phrase.h"

/* "Lumenbrick 65, sample 2, firmware 1.03"; false and nothing if ABOUT names no device. */
bool device_phrase(struct phrase *p, const struct about *a);
/* "lumen.pcap, 2026-01-31 10:00:00 UTC, 12.4 s, 345 records" */
void trace_phrase(struct phrase *p, const char *path, const struct trace_facts *f);
/* What to know before believing it: invented, cut off, damaged, missing, ABOUT changed. False and nothing: all is well. */
bool trace_caution_phrase(struct phrase *p, const struct trace_facts *f, const char *about_path);
/* All three, a line each. */
void trace_head_text(struct out *o, const char *path, const struct trace_facts *f, const struct about *a, const char *about_path);
