/* The rules of the group exchange. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule exchange_rules[] = {
    { .id = NULL },
};
