#include "capture/trace.h"
#include "rules/engine.h"
#include <stdio.h>

int main(int argc, char **argv)
{
    struct trace *t = argc == 2 ? trace_open(argv[1], &(struct trace_options){ 0 }, NULL) : NULL;
    struct engine *e = engine_new(NULL);
    for (const struct record *r; t && e && trace_next(t, &r, NULL);)
        engine_feed(e, r, trace_stepped_back(t));
    if (t && e)
        engine_end(e, trace_facts(t)->last_ns);
    puts(t && e ? verdict_name(engine_verdict(e)) : "no trace");
}
