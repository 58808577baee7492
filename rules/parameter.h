/*
 * rules/parameter.h - every number the rules go by, once, with unit and source (the catalogue's T3).
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

struct parameter {
    const char *name;    /* the standard's, or ours in lower case; "@" and an edition behind it where editions differ */
    const char *unit;    /* as printed: ms, V, mA ... "" none */
    const char *meaning; /* one line */
    const char *source;
    /* Window in thousandths of the unit; PARAMETER_NONE where there is no such side. min == max: a single value. */
    int64_t     min, max;
};
#define PARAMETER_NONE INT64_MIN

extern const struct parameter parameters_all[]; /* ends with name NULL */
const struct parameter *parameter_find(const char *name); /* NULL: no such */
/* The same in a copy of the table. */
const struct parameter *parameter_in(const struct parameter *table, const char *name);
