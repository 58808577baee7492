/*
 * cli/time_text.h - times and lengths of time, for people.
 */
#pragma once
#include "cli/phrase.h"

/* "0.312456 s" since the first record; widths of nine digits before the point at most. */
void time_text(struct phrase *p, int64_t ns_since_start);
/* 2026-01-31 10:00:00 UTC */
void date_text(struct phrase *p, int64_t ns_since_1970);
/* "3.4 s", "12 min 5 s" ... a length of time for people */
void span_text(struct phrase *p, int64_t ns);
/* "20 us", "1 ms": the spacing of readings, exact */
void spacing_text(struct phrase *p, int64_t ns);
