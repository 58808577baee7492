/*
 * cli/sources.h - everything that can be recorded from: the only list of kinds.
 */
#pragma once
#include "capture/live.h"

/* Ends with NULL. */
extern const struct live_kind *const sources_all[];
extern const struct live_kind source_kernel_kind; /* source_kernel.c */
