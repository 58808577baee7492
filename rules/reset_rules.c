/* The rules of the group reset. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule reset_rules[] = {
    { .id = NULL },
};
