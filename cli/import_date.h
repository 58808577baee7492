/*
 * cli/import_date.h - a moment as people write it down: 2026-01-31T10:00:00, decimals of the second and a zone allowed.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* ISO 8601, date and time with a T or a blank between, up to nine decimals that count, Z or +hh:mm or none (taken as UTC). Years 1970 to 2106. */
bool date_read(const char *text, int64_t *ns_since_1970);
