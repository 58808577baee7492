/*
 * cli/rule_names.h - rules by the names that people type: ids, groups, and what they may have meant.
 */
#pragma once
#include "rules/rule.h"

/* NULL: this build judges no rule of that id. */
const struct rule *rule_find(const char *id);
/* Does name (length bytes) mean this id: the id itself, its group, or its group with ".*"? */
bool rule_is_meant(const char *id, const char *name, size_t length);
/* The id or group that is nearest to name, in near (RULE_NAME_BYTES); false if none is near. */
enum { RULE_NAME_BYTES = 64 };
bool rule_nearest(const char *name, size_t length, char near[RULE_NAME_BYTES]);
/* "caps" of "caps.order" */
void rule_group(const char *id, char *group, size_t cap);
/* One line on standard error: no such rule, what may have been meant. option: "--only", or NULL for an operand. */
void rule_name_complain(const char *option, const char *name, size_t length);
/* Steps from one word to the other: letters put in, left out, changed. */
unsigned word_distance(const char *a, size_t a_length, const char *b, size_t b_length);
