/* The rules of the group swap. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule swap_rules[] = {
    { .id = NULL },
};
