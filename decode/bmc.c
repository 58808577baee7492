/* Changes of level in, in any pieces: the glitch filter, silence and holes. */
#include "decode/bmc_inside.h"

#include <stdlib.h>

/*
 * Rates are looked for a little beyond those that are promised, as six spacings measure them only roughly; a cell of more ticks than that
 * would not leave room for the 1/65536 of them (a tick of 0.2 fs at 150 kbit/s).
 */
static const double RATE_MARGIN = 1.08, CELL_TICKS_MOST = 1e10;
static const double PS_PER_S = 1e12, STILL_PS = 20e6 /* the longest tTransitionWindow, from memory */, CELLS_SILENT = 3;

static uint64_t whole_ticks(double ticks)
{
    uint64_t whole = (uint64_t)ticks;

    return (double)whole < ticks ? whole + 1 : whole;
}

static void lengths_set(struct bmc *b, const struct bmc_options *o)
{
    double cell_least = PS_PER_S / BMC_RATE_MOST_HZ / o->tick_ps, cell_most = PS_PER_S / BMC_RATE_LEAST_HZ / o->tick_ps;
    double glitch = (double)(o->glitch_ps ? o->glitch_ps : BMC_GLITCH_PS) / o->tick_ps, still = STILL_PS / o->tick_ps;

    b->window_least = 1; /* and most 0: no window fits */
    if (!(o->tick_ps > 0) || cell_most > CELL_TICKS_MOST)
        return;
    b->window_least = (uint64_t)(LOCK_BITS * cell_least / RATE_MARGIN);
    b->window_most = whole_ticks(LOCK_BITS * cell_most * RATE_MARGIN);
    b->far = whole_ticks(CELLS_SILENT * cell_most);
    b->glitch = glitch < cell_most ? whole_ticks(glitch) : (uint64_t)cell_most;
    b->still = whole_ticks(still);
}

struct bmc *bmc_new(const struct bmc_options *options, void (*found)(void *context, const struct bmc_frame *frame), void *context)
{
    struct bmc *b = calloc(1, sizeof *b);

    if (!b)
        return NULL;
    lengths_set(b, options);
    b->found = found;
    b->context = context;
    b->known_from = b->reached = options->known_from;
    return b;
}

void bmc_free(struct bmc *b)
{
    free(b);
}

static void edge_put(struct bmc *b, int64_t at)
{
    b->edges[b->stored % RING_EDGES] = at;
    b->stored++;
    while (bmc_step(b, false))
        ;
}

static void held_release(struct bmc *b)
{
    if (b->has_held)
        edge_put(b, b->held);
    b->has_held = false;
}

/* A change is held back until it is known that the next is no glitch's other side. */
static void edge_filter(struct bmc *b, int64_t at)
{
    if (b->has_held && (at <= b->held || bmc_spacing(b->held, at) < b->glitch)) {
        b->has_held = false;
        return;
    }
    held_release(b);
    b->held = at;
    b->has_held = true;
}

/* What the level is before the next change, as far as the changes tell. */
static bool level_now(const struct bmc *b)
{
    return bmc_rising(b, b->has_held ? b->stored : b->stored - 1);
}

static void level_begin(struct bmc *b, const int64_t *at, bool level)
{
    if (b->level_known && level_now(b) == level)
        return;
    if (b->level_known)
        bmc_broken(b, at[0]); /* a change is missing */
    b->phase = b->stored ^ (level ? 0 : 1);
    b->level_known = true;
}

/* How many changes follow one another without a doubt: the spacing of each from the one before is that of a packet, not of a glitch. */
static size_t even_length(const struct bmc *b, const int64_t *at, size_t count)
{
    size_t   k = 1;
    uint64_t least = b->glitch > 0 ? b->glitch : 1, span = b->far - least;

    while (k < count && bmc_spacing(at[k - 1], at[k]) - least <= span)
        k++;
    return k;
}

/* Even ones, but how far the first is from what came before is not known yet: it is stored by itself. */
static void even_take(struct bmc *b, const int64_t *at, size_t count)
{
    size_t pushed = 1;

    edge_put(b, at[0]);
    while (pushed < count) {
        uint64_t waiting = b->stored - b->next;

        if (b->state != BMC_SEARCH && waiting <= pushed) {
            size_t from = pushed - (size_t)waiting, used = bmc_follow_fast(b, at + from, count - from);

            pushed = from + used > pushed ? from + used : pushed;
        }
        if (pushed < count)
            edge_put(b, at[pushed++]);
    }
}

void bmc_take(struct bmc *b, const int64_t *at, size_t count, bool level)
{
    size_t k = 0;

    if (count == 0)
        return;
    level_begin(b, at, level);
    while (k < count) {
        edge_filter(b, at[k++]); /* it is held now, or gone with the one before */
        if (b->has_held && k < count) {
            size_t even = even_length(b, at + k - 1, count - k + 1);

            if (even > 1) {
                b->has_held = false;
                even_take(b, at + k - 1, even - 1);
                k += even - 1;
                b->held = at[k - 1];
                b->has_held = true;
            }
        }
    }
    b->reached = at[count - 1] > b->reached ? at[count - 1] : b->reached;
}

/* No change comes for long, or nothing is known from `reached` on: what was under way ends. */
static void stop(struct bmc *b)
{
    while (bmc_step(b, true))
        ;
}

void bmc_reached(struct bmc *b, int64_t tick)
{
    if (tick <= b->reached)
        return;
    b->reached = tick;
    if (b->has_held && bmc_spacing(b->held, tick) >= b->glitch)
        held_release(b);
    if (b->state != BMC_SEARCH && !b->has_held && bmc_spacing(bmc_edge(b, b->stored - 1), tick) > b->far)
        stop(b);
}

void bmc_finish(struct bmc *b)
{
    held_release(b);
    stop(b);
    b->floor = b->stored;
    b->level_known = false;
}

void bmc_broken(struct bmc *b, int64_t until_tick)
{
    bmc_finish(b);
    b->has_end = false;
    b->known_from = until_tick;
    b->reached = until_tick > b->reached ? until_tick : b->reached;
}

int64_t bmc_settled(const struct bmc *b)
{
    int64_t  now = b->has_held ? b->held : b->reached;
    uint64_t from = b->floor > bmc_kept(b) ? b->floor : bmc_kept(b);

    if (b->state == BMC_DATA || (b->state != BMC_SEARCH && b->extended))
        return b->start_tick;
    if (from >= b->stored || (b->state == BMC_SEARCH && bmc_spacing(bmc_edge(b, b->stored - 1), now) > b->far))
        return now;
    return bmc_edge(b, from);
}
