/*
 * rules/groups.h - the tables of rules, one a group; each ends with id NULL. rules_groups (rules/rule.h) lists them in the
 * catalogue's order.
 */
#pragma once
#include "rules/rule.h"

extern const struct rule wire_rules[];
extern const struct rule message_rules[];
extern const struct rule exchange_rules[];
extern const struct rule caps_rules[];
extern const struct rule request_rules[];
extern const struct rule time_rules[];
extern const struct rule volt_rules[];
extern const struct rule pps_rules[];
extern const struct rule epr_rules[];
extern const struct rule reset_rules[];
extern const struct rule swap_rules[];
extern const struct rule cable_rules[];
extern const struct rule vdm_rules[];
extern const struct rule ext_rules[];
