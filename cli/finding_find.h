/*
 * cli/finding_find.h - finding number N of a trace, numbered from 1 in the order in which `check` prints them: what
 * `cut --finding N` cuts around. Written beside cmd_check.c, so that both number alike.
 */
#pragma once
#include "cli/check_run.h"

/*
 * Runs the rules over the trace at path (a file: it is read again afterwards) as `check` does with these options and words, and copies
 * finding number N. False: one line on standard error said why (no such finding: how many there are).
 */
bool finding_find(const char *path, const struct options *options, const struct check_words *words, uint64_t number, struct finding *found);
