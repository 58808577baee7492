#include "capture/trace_source_inside.h"

struct text_source *text_source_new(struct byte_source *bytes, const struct trace_options *options, struct fault *f)
{
    (void)bytes;
    (void)options;
    fault_set(f, FAULT_NOT_A_CAPTURE, 0, 0, NULL);
    return NULL;
}

void text_source_free(struct text_source *s)
{
    (void)s;
}

enum arrival_end text_source_next(struct text_source *s, struct arrival *a)
{
    (void)s;
    (void)a;
    return ARRIVAL_END;
}
