#include "capture/base/fault.h"

#include <string.h>

bool fault_set(struct fault *f, enum fault_code code, int sys, int64_t number, const char *detail)
{
    if (!f)
        return false;
    *f = (struct fault){ .code = code, .sys = sys, .number = number };
    if (detail) {
        size_t n = strlen(detail);

        if (n > sizeof f->detail - 1)
            n = sizeof f->detail - 1;
        memcpy(f->detail, detail, n);
    }
    return false;
}
