/* The rules of the group time. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule time_rules[] = {
    { .id = NULL },
};
