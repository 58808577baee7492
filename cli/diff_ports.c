/* Which port of B is which of A: by number, as the user says, or because they behave as each other. */
#include "cli/behaviour.h"
#include "cli/diff.h"
#include "cli/fault_text.h"

#include <stdlib.h>

enum { SEARCHED_PORTS = 12, VERDICT_COST = 3 };

static bool number_read(const char **at, unsigned *port)
{
    const char *text = *at;

    *port = 0;
    while (*text >= '0' && *text <= '9' && *port < DIFF_NO_PORT)
        *port = *port * 10 + (unsigned)(*text++ - '0');
    bool any = text != *at && *port < DIFF_NO_PORT;

    *at = text;
    return any;
}

static bool map_complain(const char *text, const char *why)
{
    complain("diff: --port-map %s: %s", text, why);
    return false;
}

static bool is_taken(const struct diff_ports *p, unsigned b)
{
    for (unsigned k = 0; k < DIFF_NO_PORT; k++)
        if (p->b_of[k] == b)
            return true;
    return false;
}

/* "0=1,1=0": a's ports on the left. */
static bool map_read(struct diff *d, const char *text)
{
    const char *at = text;

    while (*at) {
        unsigned a, b;

        if (!number_read(&at, &a) || *at++ != '=' || !number_read(&at, &b) || (*at && *at != ','))
            return map_complain(text, "A=B is expected, a port of the first trace and one of the second, as in 0=1,1=0");
        if (!check_has_port(d->a, a) || !check_has_port(d->b, b))
            return map_complain(text, !check_has_port(d->a, a) ? "the first trace has no such port" : "the second trace has no such port");
        if (d->ports.b_of[a] != DIFF_NO_PORT || is_taken(&d->ports, b))
            return map_complain(text, "a port stands there twice");
        d->ports.b_of[a] = (uint8_t)b;
        at += *at == ',';
    }
    return true;
}

/* Equal numbers belong together, and what is left in order. */
static void pair_by_number(struct diff *d)
{
    for (unsigned k = 0; k < DIFF_NO_PORT; k++)
        if (d->ports.b_of[k] == DIFF_NO_PORT && check_has_port(d->a, k) && check_has_port(d->b, k) && !is_taken(&d->ports, k))
            d->ports.b_of[k] = (uint8_t)k;
    for (unsigned k = 0, b = 0; k < DIFF_NO_PORT && b < DIFF_NO_PORT; k++) {
        if (d->ports.b_of[k] != DIFF_NO_PORT || !check_has_port(d->a, k))
            continue;
        while (b < DIFF_NO_PORT && (!check_has_port(d->b, b) || is_taken(&d->ports, b)))
            b++;
        if (b < DIFF_NO_PORT)
            d->ports.b_of[k] = (uint8_t)b;
    }
}

/* How differently two ports behave; UINT64_MAX: no memory. */
static uint64_t distance(const struct diff *d, unsigned a, unsigned b)
{
    struct diff_alignment al;
    uint64_t              cost;

    if (!diff_align(&al, behaviour_port(d->a->behaviour, a), behaviour_port(d->b->behaviour, b)))
        return UINT64_MAX;
    cost = al.cost;
    diff_align_free(&al);
    for (unsigned k = 0; k < engine_rules(d->a->engine); k++)
        if (check_tells(d->a, k) && diff_verdict_differs(diff_verdict_of(d->a, k, a), diff_verdict_of(d->b, k, b)))
            cost += VERDICT_COST;
    return cost;
}

struct table {
    unsigned count;
    unsigned a[SEARCHED_PORTS], b[SEARCHED_PORTS]; /* ports; b by number beside a */
    uint64_t cost[SEARCHED_PORTS][SEARCHED_PORTS];
};

static bool table_fill(struct table *t, const struct diff *d)
{
    for (unsigned k = 0; k < DIFF_NO_PORT; k++)
        if (d->ports.b_of[k] != DIFF_NO_PORT) {
            if (t->count == SEARCHED_PORTS)
                return false;
            t->a[t->count] = k;
            t->b[t->count++] = d->ports.b_of[k];
        }
    for (unsigned i = 0; i < t->count; i++)
        for (unsigned k = 0; k < t->count; k++) {
            t->cost[i][k] = distance(d, t->a[i], t->b[k]);
            if (t->cost[i][k] == UINT64_MAX)
                return false;
        }
    return true;
}

/* Two ports of b change places wherever that makes the whole less different, until it does no more. */
static uint64_t swap_places(const struct table *t, unsigned *place)
{
    uint64_t sum = 0;

    for (bool better = true; better;) {
        better = false;
        for (unsigned i = 0; i < t->count; i++)
            for (unsigned k = i + 1; k < t->count; k++) {
                unsigned x = place[i], y = place[k];

                if (t->cost[i][y] + t->cost[k][x] < t->cost[i][x] + t->cost[k][y]) {
                    place[i] = y;
                    place[k] = x;
                    better = true;
                }
            }
    }
    for (unsigned i = 0; i < t->count; i++)
        sum += t->cost[i][place[i]];
    return sum;
}

/* Told only where it explains most of what differs: less than half is left. */
static void pair_by_behaviour(struct diff *d)
{
    struct table t = { .count = 0 };
    unsigned     place[SEARCHED_PORTS];
    uint64_t     by_number = 0;

    if (!table_fill(&t, d) || t.count < 2)
        return;
    for (unsigned i = 0; i < t.count; i++) {
        place[i] = i;
        by_number += t.cost[i][i];
    }
    if (by_number == 0 || 2 * swap_places(&t, place) >= by_number)
        return;
    for (unsigned i = 0; i < t.count; i++)
        d->ports.b_of[t.a[i]] = (uint8_t)t.b[place[i]];
    d->ports.renumbered = true;
}

bool diff_pair_ports(struct diff *d, const struct option_list *map)
{
    memset(d->ports.b_of, DIFF_NO_PORT, sizeof d->ports.b_of);
    for (unsigned k = 0; k < map->count; k++)
        if (!map_read(d, map->items[k]))
            return false;
    d->ports.forced = map->count > 0;
    pair_by_number(d);
    if (!d->ports.forced)
        pair_by_behaviour(d);
    return true;
}
