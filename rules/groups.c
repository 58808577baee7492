#include "rules/groups.h"

#include <stddef.h>

const struct rule *const rules_groups[] = {
    wire_rules, message_rules, exchange_rules, caps_rules, request_rules, time_rules, volt_rules, pps_rules, epr_rules, reset_rules, swap_rules,
    cable_rules, vdm_rules, ext_rules, NULL,
};
