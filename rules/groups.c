#include "rules/groups.h"

#include <stddef.h>

const struct rule *const rules_groups[] = { message_rules, caps_rules, request_rules, NULL };
