#include "cli/diff_align.h"

#include <stdlib.h>
#include <string.h>

enum { COST_GAP = 2, COST_OFFER = 1, COST_CHANGED = 3, COST_APART = 2 * COST_GAP };

/* What a deed is, as numbers that are quickly compared; the deeds themselves say for certain. */
struct key { uint64_t same, alike; bool offer; };

struct work {
    struct key *a, *b;
    size_t     *partner;
    uint32_t   *rows[2]; /* costs up to each place of b: forward, backward */
};

#define FNV_START UINT64_C(0xcbf29ce484222325)
#define FNV_STEP  UINT64_C(0x100000001b3)

static uint64_t hash_in(uint64_t h, uint64_t value)
{
    for (unsigned k = 0; k < 8; k++)
        h = (h ^ (value >> 8 * k & 0xFF)) * FNV_STEP;
    return h;
}

static struct key key_of(const struct deed *d)
{
    struct key k = { .offer = d->kind == DEED_OFFER || d->kind == DEED_SINK_OFFER };

    k.alike = hash_in(FNV_START, (uint64_t)d->kind | (uint64_t)d->side << 8 | (uint64_t)d->index << 16 | (uint64_t)d->set << 24 |
                                     (uint64_t)d->epr << 32);
    k.alike = hash_in(k.alike, d->detail);
    k.same = hash_in(k.alike, (uint64_t)d->position | (uint64_t)d->supply << 8 | (uint64_t)d->mismatch << 16 | (uint64_t)d->count << 24);
    k.same = hash_in(k.same, (uint64_t)(uint32_t)d->mv << 32 | (uint32_t)d->ma);
    k.same = hash_in(k.same, (uint32_t)d->mw);
    for (unsigned w = 0; w < d->count && w < PDO_MAX; w++)
        k.same = hash_in(k.same, d->words[w]);
    return k;
}

static uint32_t cost_of(const struct key *a, const struct key *b)
{
    if (a->same == b->same)
        return 0;
    return a->alike != b->alike ? COST_APART : a->offer ? COST_OFFER : COST_CHANGED;
}

static uint32_t least_of(uint32_t x, uint32_t y)
{
    return x < y ? x : y;
}

/* row[j]: what it costs to make the first j of b from all of a; back: the last j. */
static void costs(const struct key *a, size_t n, const struct key *b, size_t m, bool back, uint32_t *row)
{
    for (size_t j = 0; j <= m; j++)
        row[j] = (uint32_t)j * COST_GAP;
    for (size_t i = 1; i <= n; i++) {
        const struct key *x = back ? &a[n - i] : &a[i - 1];
        uint32_t          before = row[0];

        row[0] = (uint32_t)i * COST_GAP;
        for (size_t j = 1; j <= m; j++) {
            uint32_t both = before + cost_of(x, back ? &b[m - j] : &b[j - 1]);

            before = row[j];
            row[j] = least_of(both, least_of(row[j], row[j - 1]) + COST_GAP);
        }
    }
}

/* One deed of a: beside the first of those that fit it best, if any does. */
static void align_one(struct work *w, size_t a, size_t b, size_t m)
{
    uint32_t best = COST_APART;

    for (size_t j = 0; j < m; j++) {
        uint32_t cost = cost_of(&w->a[a], &w->b[b + j]);

        if (cost < best) {
            best = cost;
            w->partner[a] = b + j;
        }
    }
}

/* n of a from a on, m of b from b on. Goes as deep as n can be halved. */
static void align_part(struct work *w, size_t a, size_t n, size_t b, size_t m) // NOLINT(misc-no-recursion)
{
    if (n == 0 || m == 0)
        return;
    if (n == 1) {
        align_one(w, a, b, m);
        return;
    }
    size_t   half = n / 2, split = 0;
    uint32_t best = UINT32_MAX;

    costs(w->a + a, half, w->b + b, m, false, w->rows[0]);
    costs(w->a + a + half, n - half, w->b + b, m, true, w->rows[1]);
    for (size_t j = 0; j <= m; j++)
        if (w->rows[0][j] + w->rows[1][m - j] < best) {
            best = w->rows[0][j] + w->rows[1][m - j];
            split = j;
        }
    align_part(w, a, half, b, split);
    align_part(w, a + half, n - half, b + split, m - split);
}

/* What both begin with and end with belongs together. */
static void align_keys(struct work *w, size_t n, size_t m)
{
    size_t first = 0;

    for (size_t k = 0; k < n; k++)
        w->partner[k] = DIFF_ALONE;
    while (first < n && first < m && w->a[first].same == w->b[first].same) {
        w->partner[first] = first;
        first++;
    }
    while (n > first && m > first && w->a[n - 1].same == w->b[m - 1].same) {
        n--;
        m--;
        w->partner[n] = m;
    }
    align_part(w, first, n - first, first, m - first);
}

static bool is_plug(const struct deed *d)
{
    return d->kind == DEED_ATTACH || d->kind == DEED_DETACH;
}

static bool sees_plugs(const struct behaviour_port *p)
{
    for (size_t k = 0; p && k < p->count; k++)
        if (is_plug(&p->deeds[k]))
            return true;
    return false;
}

/* What is compared of one. */
static const struct deed **deeds_of(const struct behaviour_port *p, bool plugs, size_t *count)
{
    const struct deed **deeds = calloc(p ? p->count + 1 : 1, sizeof *deeds);

    *count = 0;
    for (size_t k = 0; deeds && p && k < p->count; k++)
        if (plugs || !is_plug(&p->deeds[k]))
            deeds[(*count)++] = &p->deeds[k];
    return deeds;
}

/* The order in which two are taken, so that it does not matter which is called a. */
static bool comes_first(const struct key *a, size_t n, const struct key *b, size_t m)
{
    size_t k = 0;

    if (n != m)
        return n < m;
    while (k < n && a[k].same == b[k].same)
        k++;
    return k == n || a[k].same < b[k].same;
}

static uint64_t cost_of_all(const struct diff_alignment *d, const struct key *a, const struct key *b)
{
    uint64_t cost = 0;
    size_t   beside = 0;

    for (size_t k = 0; k < d->a_count; k++)
        if (d->partner[k] != DIFF_ALONE) {
            beside++;
            cost += cost_of(&a[k], &b[d->partner[k]]);
        }
    return cost + COST_GAP * (d->a_count + d->b_count - 2 * beside);
}

static void align_in_order(struct diff_alignment *d, struct work *w, size_t *partner)
{
    struct key *a = w->a, *b = w->b;
    bool        swapped = !comes_first(a, d->a_count, b, d->b_count);

    w->partner = swapped ? partner : d->partner;
    w->a = swapped ? b : a;
    w->b = swapped ? a : b;
    align_keys(w, swapped ? d->b_count : d->a_count, swapped ? d->a_count : d->b_count);
    for (size_t k = 0; swapped && k < d->a_count; k++)
        d->partner[k] = DIFF_ALONE;
    for (size_t k = 0; swapped && k < d->b_count; k++)
        if (partner[k] != DIFF_ALONE)
            d->partner[partner[k]] = k;
    w->a = a;
    w->b = b;
}

static bool align_all(struct diff_alignment *d)
{
    size_t      most = (d->a_count > d->b_count ? d->a_count : d->b_count) + 1;
    struct work w = { .a = calloc(most, sizeof *w.a), .b = calloc(most, sizeof *w.b) };
    size_t     *partner = calloc(most, sizeof *partner);
    bool        done = w.a && w.b && partner;

    for (unsigned k = 0; k < 2; k++) {
        w.rows[k] = calloc(most, sizeof *w.rows[k]);
        done = done && w.rows[k];
    }
    if (done) {
        for (size_t k = 0; k < d->a_count; k++)
            w.a[k] = key_of(d->a[k]);
        for (size_t k = 0; k < d->b_count; k++)
            w.b[k] = key_of(d->b[k]);
        align_in_order(d, &w, partner);
        d->cost = cost_of_all(d, w.a, w.b);
    }
    free(w.a);
    free(w.b);
    free(partner);
    free(w.rows[0]);
    free(w.rows[1]);
    return done;
}

bool diff_align(struct diff_alignment *d, const struct behaviour_port *a, const struct behaviour_port *b)
{
    bool plugs_a = sees_plugs(a), plugs_b = sees_plugs(b);

    *d = (struct diff_alignment){ .plugs_left_out = plugs_a != plugs_b };
    d->a = deeds_of(a, plugs_a && plugs_b, &d->a_count);
    d->b = deeds_of(b, plugs_a && plugs_b, &d->b_count);
    d->partner = calloc(d->a_count + 1, sizeof *d->partner);
    if (d->a && d->b && d->partner && align_all(d))
        return true;
    diff_align_free(d);
    return false;
}

void diff_align_free(struct diff_alignment *d)
{
    free((void *)d->a);
    free((void *)d->b);
    free(d->partner);
    *d = (struct diff_alignment){ 0 };
}
