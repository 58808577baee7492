/* What was done: offers, contracts and the sequence, from two sequences laid beside each other. */
#include "cli/diff.h"

#include <inttypes.h>
#include <stdlib.h>

enum { DEEDS_SHOWN = 6, WEIGHT_MOVED = 82 };

/* How much a deed matters that only one of the two has. */
static uint8_t deed_weight(const struct deed *d)
{
    static const uint8_t weights[DEED_KINDS] = {
        [DEED_ATTACH] = 60, [DEED_DETACH] = 84, [DEED_OFFER] = 55, [DEED_SINK_OFFER] = 30, [DEED_REQUEST] = 50, [DEED_CONTRACT] = 47,
        [DEED_SUPPLY_LOST] = 88, [DEED_HARD_RESET] = 90, [DEED_SOFT_RESET] = 70, [DEED_CABLE_RESET] = 45, [DEED_SWAPPED] = 62,
        [DEED_EPR_ENTERED] = 62, [DEED_EPR_LEFT] = 62, [DEED_SAID] = 25,
    };

    if (d->kind == DEED_SAID && d->side == SIDE_SOURCE)
        return 40;
    return d->kind < DEED_KINDS ? weights[d->kind] : 0;
}

static void weigh(struct difference *x, const struct deed *d)
{
    uint8_t weight = deed_weight(d);

    x->weight = weight > x->weight ? weight : x->weight;
}

static bool is_kind(const struct deed *const *deeds, size_t first, size_t end, enum deed_kind kind)
{
    while (first < end && deeds[first]->kind != kind)
        first++;
    return first < end;
}

static struct difference difference_at(enum difference_kind kind, unsigned port_a, unsigned port_b, uint8_t weight)
{
    return (struct difference){ .kind = (uint8_t)kind, .port_a = (uint8_t)port_a, .port_b = (uint8_t)port_b, .weight = weight,
                                .occasions = 1 };
}

/* Objects of offers. */

static bool word_taken(const struct deed *d, uint32_t word, uint32_t *used)
{
    for (unsigned k = 0; k < d->count; k++)
        if (d->words[k] == word && !(*used >> k & 1)) {
            *used |= UINT32_C(1) << k;
            return true;
        }
    return false;
}

/* Bits: objects of a that b does not have. */
static uint32_t words_without(const struct deed *a, const struct deed *b)
{
    uint32_t only = 0, used = 0;

    for (unsigned k = 0; k < a->count; k++)
        if (a->words[k] && !word_taken(b, a->words[k], &used))
            only |= UINT32_C(1) << k;
    return only;
}

static void objects_phrase(struct phrase *p, const struct deed *d, uint32_t which)
{
    bool first = true;

    for (unsigned k = 0; k < d->count; k++)
        if (which >> k & 1) {
            phrase_add(p, first ? "" : ", ");
            pdo_phrase(p, d->words[k], d->kind == DEED_SINK_OFFER, k + 1);
            first = false;
        }
}

/* The words tell apart what the phrase does not: reserved bits. */
static void words_phrase(struct phrase *p, const struct deed *d, uint32_t which)
{
    bool first = true;

    for (unsigned k = 0; k < d->count; k++)
        if (which >> k & 1) {
            phrase_format(p, "%s0x%08" PRIx32, first ? "" : ", ", d->words[k]);
            first = false;
        }
}

static struct pdo object_of(const struct deed *d, unsigned k)
{
    return d->kind == DEED_SINK_OFFER ? pdo_read_sink(d->words[k], k + 1) : pdo_read_source(d->words[k], k + 1);
}

/* The object of b that stands for object k of a: the same supply and volts, of those that are new. */
static int counterpart(const struct deed *a, unsigned k, const struct deed *b, uint32_t candidates)
{
    struct pdo x = object_of(a, k);

    for (unsigned i = 0; i < b->count; i++) {
        struct pdo y = object_of(b, i);

        if (candidates >> i & 1 && x.supply == y.supply && x.min_mv == y.min_mv && x.max_mv == y.max_mv)
            return (int)i;
    }
    return -1;
}

/* "9 V 3 A has become 9 V 2 A", taking both out of what is left to tell. */
static void changed_phrase(struct phrase *p, const struct deed *a, uint32_t *gone, const struct deed *b, uint32_t *come)
{
    for (unsigned k = 0; k < a->count; k++) {
        int i = *gone >> k & 1 ? counterpart(a, k, b, *come) : -1;

        if (i < 0)
            continue;
        struct phrase x = phrase_empty(), y = phrase_empty();

        objects_phrase(&x, a, UINT32_C(1) << k);
        objects_phrase(&y, b, UINT32_C(1) << i);
        if (strcmp(x.text, y.text) == 0) {
            phrase_format(&x, " (%08" PRIx32 ")", a->words[k]);
            phrase_format(&y, " (%08" PRIx32 ")", b->words[i]);
        }
        phrase_format(p, "%s%s has become %s", p->used ? "; " : "", x.text, y.text);
        *gone &= ~(UINT32_C(1) << k);
        *come &= ~(UINT32_C(1) << i);
    }
}

/* What of the offer is another one: empty if only the order is. */
static void step_phrase(struct phrase *p, const struct deed *a, const struct deed *b)
{
    uint32_t gone = words_without(a, b), come = words_without(b, a);

    changed_phrase(p, a, &gone, b, &come);
    if (gone) {
        phrase_add(p, p->used ? "; no longer " : "no longer ");
        objects_phrase(p, a, gone);
    }
    if (come) {
        phrase_add(p, p->used ? "; new is " : "new is ");
        objects_phrase(p, b, come);
    }
}

static void offers_compare(struct diff *d, unsigned port_a, unsigned port_b, const struct deed *a, const struct deed *b)
{
    struct difference x = difference_at(DIFF_OFFER, port_a, port_b, a->kind == DEED_OFFER ? 80 : 42);
    uint32_t          gone = words_without(a, b), come = words_without(b, a);
    struct phrase     p = phrase_empty(), text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };

    objects_phrase(&side[0], a, gone);
    objects_phrase(&side[1], b, come);
    if (strcmp(side[0].text, side[1].text) == 0 && gone) {
        side[0] = side[1] = phrase_empty();
        words_phrase(&side[0], a, gone);
        words_phrase(&side[1], b, come);
    }
    step_phrase(&p, a, b);
    phrase_format(&text, "%s: %s.", a->kind == DEED_OFFER ? a->epr ? "EPR offer" : "Offer" : a->epr ? "EPR sink needs" : "Sink needs",
                  p.used ? p.text : "the same objects in another order");
    for (unsigned s = 0; s < 2; s++) {
        difference_side(&x, s, &side[s]);
        difference_frame(&x, s, s ? b->frame : a->frame);
    }
    difference_text(&x, &text);
    diff_add(d, &x);
}

/* Requests and contracts. */

/* What the sink chose to draw is no change of the device that is offered to it. */
static uint8_t point_weight(const struct deed *a, const struct deed *b)
{
    if (a->position == b->position && a->mv == b->mv && a->supply == b->supply)
        return 32;
    return a->kind == DEED_CONTRACT ? 75 : 48;
}

static void points_compare(struct diff *d, unsigned port_a, unsigned port_b, const struct deed *a, const struct deed *b)
{
    struct difference x = difference_at(a->kind == DEED_CONTRACT ? DIFF_CONTRACT : DIFF_NEGOTIATION, port_a, port_b,
                                        point_weight(a, b));
    struct phrase     text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };

    deed_phrase(&side[0], a);
    deed_phrase(&side[1], b);
    phrase_format(&text, "In A: %s; in B: %s.", side[0].text, side[1].text);
    for (unsigned s = 0; s < 2; s++) {
        difference_side(&x, s, &side[s]);
        difference_frame(&x, s, s ? b->frame : a->frame);
    }
    difference_text(&x, &text);
    diff_add(d, &x);
}

/* The Request that led to this contract differs as the contract does, and is not told as well. */
static bool told_by_contract(const struct diff_alignment *al, size_t k)
{
    for (size_t i = k + 1; i < al->a_count && al->a[i]->kind != DEED_REQUEST; i++)
        if (al->a[i]->kind == DEED_CONTRACT)
            return al->partner[i] != DIFF_ALONE && !deed_same(al->a[i], al->b[al->partner[i]]);
    return false;
}

static void pair_compare(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al, size_t k)
{
    const struct deed *a = al->a[k], *b = al->b[al->partner[k]];

    if (a->kind == DEED_OFFER || a->kind == DEED_SINK_OFFER)
        d->notes.offers++;
    d->notes.contracts += a->kind == DEED_CONTRACT;
    d->notes.repeats += a->times != b->times;
    if (deed_same(a, b))
        return;
    if (a->kind == DEED_OFFER || a->kind == DEED_SINK_OFFER)
        offers_compare(d, port_a, port_b, a, b);
    else if (a->kind == DEED_CONTRACT || !told_by_contract(al, k))
        points_compare(d, port_a, port_b, a, b);
}

/* The offer that stood when this one came, if it was of the same kind. */
static const struct deed *offer_before(const struct deed *const *deeds, size_t k)
{
    const struct deed *d = deeds[k];

    while (k > 0 && deeds[k - 1]->kind != DEED_ATTACH && deeds[k - 1]->kind != DEED_DETACH)
        if (k--, deed_alike(deeds[k], d))
            return deeds[k];
    return NULL;
}

/* An offer that follows another is told by what it changes. */
static void one_phrase(struct phrase *p, const struct deed *const *deeds, size_t k)
{
    const struct deed *d = deeds[k], *before = d->kind == DEED_OFFER || d->kind == DEED_SINK_OFFER ? offer_before(deeds, k) : NULL;
    struct phrase      step = phrase_empty();

    if (!before) {
        deed_phrase(p, d);
        return;
    }
    step_phrase(&step, before, d);
    phrase_format(p, "%s %s%s", side_name(d->side), d->kind == DEED_OFFER ? "offers" : "can take", d->epr ? " (EPR)" : "");
    if (step.used)
        phrase_format(p, " otherwise: %s", step.text);
    else
        phrase_add(p, " the same again");
}

/* Deeds of one side alone, from first up to end. */
static void run_phrase(struct phrase *p, const struct deed *const *deeds, size_t first, size_t end)
{
    for (size_t k = first; k < end && k < first + DEEDS_SHOWN; k++) {
        struct phrase one = phrase_empty();

        one_phrase(&one, deeds, k);
        phrase_format(p, "%s%s", k > first ? "; " : "", one.text);
    }
    if (end > first + DEEDS_SHOWN)
        phrase_format(p, "; and %zu more", end - first - DEEDS_SHOWN);
}

static void after_phrase(struct phrase *p, const struct diff_alignment *al, size_t a)
{
    if (a == 0) {
        phrase_add(p, "At the beginning");
        return;
    }
    phrase_add(p, "After \"");
    deed_phrase(p, al->a[a - 1]);
    phrase_add(p, "\"");
}

/* The source came with another offer, and another contract was made: the sink did not do that by itself. */
static bool moved(const struct deed *const *deeds, size_t first, size_t end)
{
    return is_kind(deeds, first, end, DEED_OFFER) && is_kind(deeds, first, end, DEED_CONTRACT);
}

/* Deeds between two that belong together: a_first up to a_end of a, b_first up to b_end of b. */
static void gap_compare(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al, size_t a_first, size_t a_end,
                        size_t b_first, size_t b_end)
{
    struct difference x = difference_at(DIFF_NEGOTIATION, port_a, port_b, 0);
    struct phrase     text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };

    for (size_t k = a_first; k < a_end; k++) {
        difference_frame(&x, 0, al->a[k]->frame);
        weigh(&x, al->a[k]);
    }
    for (size_t k = b_first; k < b_end; k++) {
        difference_frame(&x, 1, al->b[k]->frame);
        weigh(&x, al->b[k]);
    }
    if (x.weight < WEIGHT_MOVED && (moved(al->a, a_first, a_end) || moved(al->b, b_first, b_end)))
        x.weight = WEIGHT_MOVED;
    run_phrase(&side[0], al->a, a_first, a_end);
    run_phrase(&side[1], al->b, b_first, b_end);
    after_phrase(&text, al, a_first);
    if (a_first == a_end)
        phrase_format(&text, " only B has: %s.", side[1].text);
    else if (b_first == b_end)
        phrase_format(&text, " only A has: %s.", side[0].text);
    else
        phrase_format(&text, " comes in A: %s; in B: %s.", side[0].text, side[1].text);
    difference_side(&x, 0, &side[0]);
    difference_side(&x, 1, &side[1]);
    difference_text(&x, &text);
    diff_add(d, &x);
}

void diff_deeds(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al)
{
    size_t a_first = 0, b_first = 0;

    d->notes.deeds += al->a_count > al->b_count ? al->a_count : al->b_count;
    for (size_t k = 0; k <= al->a_count; k++) {
        size_t partner = k < al->a_count ? al->partner[k] : al->b_count;

        if (partner == DIFF_ALONE)
            continue;
        if (a_first < k || b_first < partner)
            gap_compare(d, port_a, port_b, al, a_first, k, b_first, partner);
        if (k < al->a_count)
            pair_compare(d, port_a, port_b, al, k);
        a_first = k + 1;
        b_first = partner + 1;
    }
}
