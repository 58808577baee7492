#include "rules/groups.h"
