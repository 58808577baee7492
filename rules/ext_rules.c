/* The rules of the group ext. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule ext_rules[] = {
    { .id = NULL },
};
