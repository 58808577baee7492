/* The rules of the group epr. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule epr_rules[] = {
    { .id = NULL },
};
