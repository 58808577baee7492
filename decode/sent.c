/* The packets of a message on its way: when each began and ended, and how that was taken. */
#include "decode/port.h"

struct wire speech_wire(const struct speech *s)
{
    return (struct wire){ .frame = s->frame, .start_ns = s->start_ns, .end_ns = s->end_ns, .flags = s->flags, .measured = s->measured };
}

struct wire sent_first(const struct sent *m)
{
    if (m->spoilt.frame)
        return m->spoilt;
    return (struct wire){ .frame = m->frame, .start_ns = m->start_ns, .end_ns = m->first_end_ns, .flags = m->first_flags,
                          .measured = m->first_measured };
}

struct wire sent_last(const struct sent *m)
{
    return (struct wire){ .frame = m->last_frame, .start_ns = m->last_start_ns, .end_ns = m->end_ns, .flags = m->last_flags,
                          .measured = m->last_measured };
}

struct wire sent_goodcrc(const struct sent *m)
{
    return (struct wire){ .frame = m->goodcrc_frame, .start_ns = m->goodcrc_start_ns, .end_ns = m->goodcrc_end_ns,
                          .flags = m->goodcrc_flags, .measured = m->goodcrc_measured };
}
