/* The rules of the group wire. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule wire_rules[] = {
    { .id = NULL },
};
