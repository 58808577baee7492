/*
 * cli/finding_text.h - findings as sentences: what a rule's row says with the numbers of one occasion filled in.
 */
#pragma once
#include "cli/phrase.h"
#include "rules/engine.h"

/* What was seen: the rule's sentence with its placeholders filled (rules/rule.h), without a word on why it is undecided. */
void finding_seen(struct phrase *p, const struct finding *f);
/* "measured 31.4 ms (+- 0.2 ms); required 24 to 30 ms". Nothing where nothing was measured. */
void finding_measured(struct phrase *p, const struct finding *f);
/* Why an occasion is undecided, as the end of "not decided: ...". Nothing for CAUSE_NONE. */
/* Decimals of measured, low, high, uncertainty. */
unsigned finding_decimals(const struct finding *f);
const char *cause_text(unsigned cause);
/* All of it, as the key "text" of JSON has it. */
void finding_text(struct phrase *p, const struct finding *f);

/* A rule's sentence (template) with these values. */
void sentence_fill(struct phrase *p, const char *sentence, const int64_t values[FINDING_VALUES]);

/* "must" "should" "claim" "note"; a finding of a note is "note" whatever its verdict. */
const char *finding_verdict_name(const struct finding *f);
