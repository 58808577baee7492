#include "cli/diff.h"

#include "cli/behaviour.h"

#include <stdlib.h>

const char *difference_kind_name(unsigned kind)
{
    static const char *const names[] = { "offer", "negotiation", "contract", "timer", "voltage", "verdict" };

    return kind < sizeof names / sizeof names[0] ? names[kind] : "negotiation";
}

void difference_frame(struct difference *x, unsigned side, uint64_t frame)
{
    if (frame && x->frame_count[side] < DIFF_FRAMES)
        x->frames[side][x->frame_count[side]++] = frame;
}

/* Cut where it does not fit, and it shows. */
static void text_copy(char *to, size_t cap, const char *from)
{
    size_t length = strlen(from);

    if (length < cap) {
        memcpy(to, from, length + 1);
        return;
    }
    memcpy(to, from, cap - 4);
    memcpy(to + cap - 4, "...", 4);
}

void difference_side(struct difference *x, unsigned side, const struct phrase *p)
{
    text_copy(x->side[side], sizeof x->side[side], p->text);
}

void difference_text(struct difference *x, const struct phrase *p)
{
    text_copy(x->text, sizeof x->text, p->text);
}

static bool same_difference(const struct difference *x, const struct difference *y)
{
    return x->kind == y->kind && x->port_a == y->port_a && x->port_b == y->port_b && strcmp(x->side[0], y->side[0]) == 0 &&
           strcmp(x->side[1], y->side[1]) == 0 && (x->kind == DIFF_NEGOTIATION || strcmp(x->text, y->text) == 0);
}

void diff_add(struct diff *d, const struct difference *x)
{
    for (size_t k = 0; k < d->count; k++)
        if (same_difference(&d->items[k], x)) {
            d->items[k].occasions++;
            for (unsigned side = 0; side < 2; side++)
                for (unsigned f = 0; f < x->frame_count[side]; f++)
                    difference_frame(&d->items[k], side, x->frames[side][f]);
            return;
        }
    if (d->count == DIFF_KEPT) {
        d->left_out++;
        return;
    }
    if (d->count == d->room) {
        size_t             room = d->room ? d->room * 2 : 16;
        struct difference *grown = realloc(d->items, room * sizeof *grown);

        if (!grown) {
            d->failed = true;
            return;
        }
        d->items = grown;
        d->room = room;
    }
    d->items[d->count++] = *x;
}

/* The weightiest first; then by kind, port and frame, so that the order is always the same. */
static int by_weight(const void *a, const void *b)
{
    const struct difference *x = a, *y = b;

    if (x->weight != y->weight)
        return x->weight > y->weight ? -1 : 1;
    if (x->kind != y->kind)
        return x->kind < y->kind ? -1 : 1;
    if (x->port_a != y->port_a)
        return x->port_a < y->port_a ? -1 : 1;
    uint64_t fx = x->frame_count[0] ? x->frames[0][0] : x->frames[1][0], fy = y->frame_count[0] ? y->frames[0][0] : y->frames[1][0];

    return fx != fy ? (fx < fy ? -1 : 1) : strcmp(x->text, y->text);
}

static void note_cut(struct diff *d, const struct behaviour_port *a, const struct behaviour_port *b)
{
    d->notes.left_out += (a && a->left_out) || (b && b->left_out);
    d->notes.losses += (a && a->losses) || (b && b->losses);
}

static void port_compare(struct diff *d, unsigned port_a, unsigned port_b)
{
    const struct behaviour_port *a = behaviour_port(d->a->behaviour, port_a), *b = behaviour_port(d->b->behaviour, port_b);
    struct diff_alignment        al;

    if (!diff_align(&al, a, b)) {
        d->failed = true;
        return;
    }
    d->notes.plugs += al.plugs_left_out;
    note_cut(d, a, b);
    diff_deeds(d, port_a, port_b, &al);
    diff_voltages(d, port_a, port_b, &al);
    diff_align_free(&al);
    diff_who(d, port_a, port_b);
    diff_verdicts(d, port_a, port_b);
    diff_timers(d, port_a, port_b);
}

/* A port that only one of them has. */
static void port_alone(struct diff *d, unsigned port, unsigned side)
{
    const struct behaviour_port *p = behaviour_port(side ? d->b->behaviour : d->a->behaviour, port);
    struct difference x = { .kind = DIFF_NEGOTIATION, .port_a = (uint8_t)port, .port_b = (uint8_t)port, .weight = 95, .occasions = 1 };
    struct phrase     text = phrase_empty(), said = phrase_empty();

    if (!p)
        return;
    phrase_count(&said, p->count, "thing was done there", "things were done there");
    phrase_format(&text, "Only %c has this port: %s.", side ? 'B' : 'A', said.text);
    difference_frame(&x, side, p->deeds[0].frame);
    difference_side(&x, side, &said);
    difference_text(&x, &text);
    diff_add(d, &x);
}

bool diff_run(struct diff *d)
{
    bool taken[DIFF_NO_PORT] = { false };

    for (unsigned port = 0; port < DIFF_NO_PORT; port++) {
        if (d->ports.b_of[port] != DIFF_NO_PORT) {
            taken[d->ports.b_of[port]] = true;
            port_compare(d, port, d->ports.b_of[port]);
        } else if (check_has_port(d->a, port)) {
            port_alone(d, port, 0);
        }
    }
    for (unsigned port = 0; port < DIFF_NO_PORT; port++)
        if (!taken[port] && check_has_port(d->b, port))
            port_alone(d, port, 1);
    if (d->count)
        qsort(d->items, d->count, sizeof *d->items, by_weight);
    return !d->failed;
}

void diff_free(struct diff *d)
{
    free(d->items);
    d->items = NULL;
    d->count = d->room = 0;
}
