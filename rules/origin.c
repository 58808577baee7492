/* Who most likely sent a Hard Reset: it has no sender on the wire, but each side has its own reasons and its own timers. */
#include "rules/engine_inside.h"

enum reset_origin origin_of_reset(const struct engine *e, const struct port_book *b, const struct event *event)
{
    (void)e;
    (void)b;
    (void)event;
    return ORIGIN_UNKNOWN;
}

enum reset_origin judge_reset_origin(const struct judge *j)
{
    return (enum reset_origin)j->book->talk.origin;
}
