/* The rules of the group vdm. */
#include "rules/groups.h"

#include <stddef.h>

const struct rule vdm_rules[] = {
    { .id = NULL },
};
