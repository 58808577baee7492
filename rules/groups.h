/*
 * rules/groups.h - the tables of rules, one a group; each ends with id NULL. rules_groups (rules/rule.h) lists them in the
 * catalogue's order.
 */
#pragma once
#include "rules/rule.h"

extern const struct rule message_rules[];
extern const struct rule caps_rules[];
extern const struct rule request_rules[];
