/* The rules of the group cable. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule cable_rules[] = {
    { .id = NULL },
};
