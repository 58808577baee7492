/*
 * cli/volts_words.h - what VBUS did, in sentences: each adds its piece to a phrase, nothing where there is nothing to say.
 */
#pragma once
#include "cli/phrase.h"
#include "rules/volt_table.h"

/* "8.55 V"; "8.55 to 9.45 V"; "12.5 mV" */
void volts_volt(struct phrase *p, int64_t uv);
void volts_range(struct phrase *p, int64_t low_uv, int64_t high_uv);
void volts_millivolt(struct phrase *p, int64_t uv);
/* "31 to 32.4 ms" */
void volts_time(struct phrase *p, const struct volt_time *t);

/* Static values; the one nearest to an end of the window; single readings; the load. */
void volts_static_words(struct phrase *p, const struct volt_line *l);
void volts_margin_words(struct phrase *p, const struct volt_line *l);
void volts_readings_words(struct phrase *p, const struct volt_line *l);
void volts_slope_words(struct phrase *p, const struct volt_slope *s);
/* When VBUS moved and arrived; how far it went meanwhile. */
void volts_change_words(struct phrase *p, const struct volt_change *v);
void volts_peaks_words(struct phrase *p, const struct volt_change *v);
/* zero_ns: the trace's first record. */
void volts_step_words(struct phrase *p, const struct volt_step *s, int64_t zero_ns);
