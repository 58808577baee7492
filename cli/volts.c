#include "cli/volts.h"

#include <stdlib.h>

enum { FIRST_ROOM = 64 };

struct volts {
    struct volt_line  *lines;
    struct volt_step  *steps;
    size_t             line_count, line_room, step_count, step_room;
    struct volts_rest *rest[VOLTS_PORTS];
    bool               failed;
};

struct volts *volts_new(void)
{
    return calloc(1, sizeof(struct volts));
}

void volts_free(struct volts *v)
{
    if (!v)
        return;
    for (unsigned port = 0; port < VOLTS_PORTS; port++)
        free(v->rest[port]);
    free(v->lines);
    free(v->steps);
    free(v);
}

/* Room for one more, doubled up to most. */
static bool make_room(struct volts *v, void **items, size_t size, size_t count, size_t *room, size_t most)
{
    size_t more = *room ? *room * 2 : FIRST_ROOM;
    void  *bigger;

    if (count < *room)
        return true;
    if (count >= most)
        return false;
    more = more < most ? more : most;
    bigger = realloc(*items, more * size);
    if (!bigger) {
        v->failed = true;
        return false;
    }
    *items = bigger;
    *room = more;
    return true;
}

static struct volts_rest *rest_of(struct volts *v, unsigned port)
{
    if (!v->rest[port]) {
        v->rest[port] = calloc(1, sizeof *v->rest[port]);
        v->failed = v->failed || !v->rest[port];
    }
    return v->rest[port];
}

bool volts_worse(const struct volt_line *a, const struct volt_line *b)
{
    if (!a->margin.known || !b->margin.known)
        return a->margin.known && !b->margin.known;
    return a->margin.uv - a->margin.u_uv < b->margin.uv - b->margin.u_uv;
}

void volts_take_line(struct volts *v, const struct volt_line *line)
{
    void *items = v->lines;

    if (make_room(v, &items, sizeof *line, v->line_count, &v->line_room, VOLTS_LINES)) {
        v->lines = items;
        v->lines[v->line_count++] = *line;
        return;
    }
    struct volts_rest *r = rest_of(v, line->port);

    if (!r)
        return;
    r->lines++;
    r->outside.least_ns += line->outside.least_ns;
    r->outside.most_ns += line->outside.most_ns;
    if (volts_worse(line, &r->worst))
        r->worst = *line;
}

void volts_take_step(struct volts *v, const struct volt_step *step)
{
    void *items = v->steps;

    if (make_room(v, &items, sizeof *step, v->step_count, &v->step_room, VOLTS_STEPS)) {
        v->steps = items;
        v->steps[v->step_count++] = *step;
        return;
    }
    struct volts_rest *r = rest_of(v, step->port);

    if (!r)
        return;
    r->steps++;
    if (step->up && (r->deepest.frame == 0 || step->depth_uv > r->deepest.depth_uv))
        r->deepest = *step;
}

const struct volt_line *volts_line(const struct volts *v, size_t k)
{
    return k < v->line_count ? &v->lines[k] : NULL;
}

const struct volt_step *volts_step(const struct volts *v, size_t k)
{
    return k < v->step_count ? &v->steps[k] : NULL;
}

const struct volts_rest *volts_rest(const struct volts *v, unsigned port)
{
    return v->rest[port];
}

bool volts_failed(const struct volts *v)
{
    return v->failed;
}
