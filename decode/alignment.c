#include "decode/alignment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The search: so many moves of each, within two hours if that leaves enough; then all that there are are tied. Clocks differ by no more than
 * 500 ppm, and by 200 where nothing tells how much (a quartz is within 100, from memory); steps of the rate move the end of the recording by 20 ms. Common practice, no source. */
enum { SEARCH_MOVES = 128, SEARCH_LEAST = 8, TRIES = 256, CORNERS = 64 };
static const double search_span_ns = 7.2e12, rate_most = 500e-6, rate_step_ns = 20e6, shift_room_ns = 2e9, rate_known = 100e-6;
/* Levels: the supply's 5 %, what a cable and the meter may lose of it (750 mV, USB Type-C, from memory), and a meter's error. */
enum { LEVEL_PERCENT = 7, LEVEL_LOST_MV = 750, LEVEL_OVER_MV = 250, LEVEL_ZERO_MV = 1000 };

/* A pair of what may belong together allows shifts from low to high, at a rate r: low(r) = low - r begin, high(r) = high - r end. */
struct pair { unsigned wire, volt; double low, high, begin, end; };
struct edge { double at; int step; unsigned wire; };
struct point { double shift, rate; };

struct search {
    const struct alignment *a;
    unsigned     wires;                   /* of the moves of the wire, so many are searched */
    struct pair *pairs;
    size_t       count, room;
    struct edge *edges;
    int         *partners, *best_partners; /* of each move of the wire: the volt move tied, or -1 */
    int          best, other;              /* scores; INT32_MIN: none */
    unsigned     best_ties, other_ties;
    struct point at, other_at;
};

static bool level_fits(int32_t read, int32_t agreed)
{
    if (agreed == 0)
        return read <= LEVEL_ZERO_MV;
    return read >= agreed - agreed * LEVEL_PERCENT / 100 - LEVEL_LOST_MV && read <= agreed + agreed * LEVEL_PERCENT / 100 + LEVEL_OVER_MV;
}

static bool fits(const struct wire_move *w, const struct volt_move *v)
{
    return w->port == v->port && (w->to_mv > w->from_mv) == (v->move.to > v->move.from) && level_fits(v->move.from, w->from_mv) &&
           level_fits(v->move.to, w->to_mv);
}

/* False: they cannot belong together. */
static bool pair_make(const struct alignment *a, unsigned wire, unsigned volt, struct pair *p)
{
    const struct wire_move *w = &a->wire[wire];
    const struct volt_move *v = &a->volts[volt];

    if (!fits(w, v))
        return false;
    *p = (struct pair){ .wire = wire, .volt = volt, .low = (double)(w->from_ns - v->move.begin_ns), .high = (double)(w->to_ns - v->move.end_ns),
                        .begin = (double)(v->move.begin_ns - a->volt_from_ns), .end = (double)(v->move.end_ns - a->volt_from_ns) };
    return p->low <= p->high;
}

static bool pair_add(struct search *s, const struct pair *p)
{
    if (s->count == s->room) {
        size_t       room = s->room ? 2 * s->room : 256;
        struct pair *pairs = realloc(s->pairs, room * sizeof *pairs);

        if (!pairs)
            return false;
        s->pairs = pairs;
        s->room = room;
    }
    s->pairs[s->count++] = *p;
    return true;
}

/* How many of the wire's moves the search looks at. */
static unsigned search_wires(const struct alignment *a)
{
    unsigned n = 0;

    while (n < a->wire_count && n < SEARCH_MOVES &&
           (n < SEARCH_LEAST || (double)(a->wire[n].to_ns - a->wire[0].from_ns) <= search_span_ns))
        n++;
    return n;
}

static bool pairs_make(struct search *s)
{
    unsigned wires = s->wires = search_wires(s->a), volts = s->a->volt_count < 2 * SEARCH_MOVES ? s->a->volt_count : 2 * SEARCH_MOVES;

    for (unsigned w = 0; w < wires; w++) {
        for (unsigned v = 0; v < volts; v++) {
            struct pair p;

            if (pair_make(s->a, w, v, &p) && !pair_add(s, &p))
                return false;
        }
    }
    s->edges = malloc((2 * s->count + 1) * sizeof *s->edges);
    s->partners = malloc((s->a->wire_count + 1) * sizeof *s->partners);
    s->best_partners = malloc((s->a->wire_count + 1) * sizeof *s->best_partners);
    return s->edges && s->partners && s->best_partners;
}

static int edge_order(const void *a, const void *b)
{
    const struct edge *x = a, *y = b;

    return x->at < y->at ? -1 : x->at > y->at ? 1 : y->step - x->step; /* a range that begins comes first */
}

static size_t edges_make(struct search *s, double rate)
{
    size_t n = 0;

    for (size_t k = 0; k < s->count; k++) {
        const struct pair *p = &s->pairs[k];
        double             low = p->low - rate * p->begin, high = p->high - rate * p->end;

        if (low > high)
            continue;
        s->edges[n++] = (struct edge){ low, 1, p->wire };
        s->edges[n++] = (struct edge){ high, -1, p->wire };
    }
    qsort(s->edges, n, sizeof *s->edges, edge_order);
    return n;
}

static double moved(const struct alignment *a, int64_t t_ns, struct point at)
{
    return (double)(t_ns - a->volt_from_ns) * at.rate + at.shift;
}

/* The wire's move k lies within the readings, by this shift. */
static bool wire_covered(const struct alignment *a, const struct wire_move *w, struct point at)
{
    return (double)(w->from_ns - a->volt_from_ns) >= moved(a, a->volt_from_ns, at) &&
           (double)(w->to_ns - a->volt_to_ns) <= moved(a, a->volt_to_ns, at);
}

/* The move lies within what the search looks at of the wire. */
static bool volt_covered(const struct search *s, const struct volt_move *v, struct point at)
{
    const struct alignment *a = s->a;
    int64_t                 to_ns = s->wires < a->wire_count ? a->wire[s->wires - 1].to_ns : a->wire_to_ns;

    return (double)(a->wire_from_ns - v->move.begin_ns) <= moved(a, v->move.begin_ns, at) &&
           (double)(to_ns - v->move.end_ns) >= moved(a, v->move.end_ns, at);
}

static bool pair_allows(const struct alignment *a, unsigned wire, unsigned volt, struct point at)
{
    const struct wire_move *w = &a->wire[wire];
    const struct move      *m = &a->volts[volt].move;
    const double            slip = 1e3; /* of rounding */

    return fits(w, &a->volts[volt]) && moved(a, m->begin_ns, at) >= (double)(w->from_ns - m->begin_ns) - slip &&
           moved(a, m->end_ns, at) <= (double)(w->to_ns - m->end_ns) + slip;
}

/* The move of the readings that this shift puts into the window; from *next on, which is moved up to what may still come. -1: none. */
static int partner_find(const struct alignment *a, unsigned wire, struct point at, unsigned *next)
{
    const struct wire_move *w = &a->wire[wire];
    const double            early = 2e9; /* windows may overlap by less */

    while (*next < a->volt_count && moved(a, a->volts[*next].move.begin_ns, at) + early < (double)(w->from_ns - a->volts[*next].move.begin_ns))
        (*next)++;
    for (unsigned v = *next; v < a->volt_count && moved(a, a->volts[v].move.end_ns, at) <= (double)(w->to_ns - a->volts[v].move.end_ns); v++)
        if (pair_allows(a, wire, v, at))
            return (int)v;
    return -1;
}

/* Ties what this shift ties, in order of time. Two for a tie, one off for each move of one side that the other should show and does not. */
static int point_score(struct search *s, struct point at, unsigned *ties)
{
    const struct alignment *a = s->a;
    unsigned                next = 0, tied = 0, missed = 0, volts = 0;

    for (unsigned k = 0; k < s->wires; k++) {
        s->partners[k] = partner_find(a, k, at, &next);
        if (s->partners[k] >= 0) {
            tied++;
            next = (unsigned)s->partners[k] + 1;
        } else {
            missed += a->wire[k].why != WIRE_MOVE_RESET && wire_covered(a, &a->wire[k], at);
        }
    }
    for (unsigned v = 0; v < a->volt_count; v++)
        volts += volt_covered(s, &a->volts[v], at);
    *ties = tied;
    return 2 * (int)tied - (int)missed - (int)(volts > tied ? volts - tied : 0);
}

/* Do most of the ties tie the same moves? */
static bool same_ties(const struct search *s, unsigned ties)
{
    unsigned same = 0;

    for (unsigned k = 0; k < s->wires; k++)
        same += s->partners[k] >= 0 && s->partners[k] == s->best_partners[k];
    return 2 * same >= ties;
}

static void point_try(struct search *s, struct point at)
{
    unsigned ties;
    int      score = point_score(s, at, &ties);
    bool     same = s->best != INT32_MIN && same_ties(s, ties);

    if (score > s->best) {
        if (!same && s->best != INT32_MIN && s->best > s->other) {
            s->other = s->best;
            s->other_ties = s->best_ties;
            s->other_at = s->at;
        }
        int *partners = s->best_partners;

        s->best = score;
        s->best_ties = ties;
        s->at = at;
        s->best_partners = s->partners;
        s->partners = partners;
    } else if (!same && score > s->other) {
        s->other = score;
        s->other_ties = ties;
        s->other_at = at;
    }
}

/* Tries where most ranges overlap, at one rate. */
static void rate_try(struct search *s, double rate)
{
    size_t n = edges_make(s, rate);
    int    depth = 0, most = 0, tries = 0;

    for (size_t k = 0; k < n; k++) {
        depth += s->edges[k].step;
        most = depth > most ? depth : most;
    }
    depth = 0;
    for (size_t k = 0; k + 1 < n && tries < TRIES; k++) {
        depth += s->edges[k].step;
        if (s->edges[k].step < 0 || s->edges[k + 1].step > 0 || depth < ALIGN_TIES_LEAST || depth < most / 2)
            continue;
        point_try(s, (struct point){ (s->edges[k].at + s->edges[k + 1].at) / 2, rate });
        tries++;
    }
}

static void search_run(struct search *s)
{
    const struct alignment *a = s->a;
    double                  span_ns = s->wires > 0 ? (double)(a->wire[s->wires - 1].to_ns - a->wire[0].from_ns) : 0;
    double                  step = span_ns * rate_most > rate_step_ns ? rate_step_ns / span_ns : rate_most;

    s->best = s->other = INT32_MIN;
    rate_try(s, 0);
    for (double rate = step; rate <= rate_most; rate += step) {
        rate_try(s, rate);
        rate_try(s, -rate);
    }
}

/* All shifts and rates that the ties allow: a polygon with its corners in order. */
struct region { struct point corner[CORNERS]; unsigned count; };

/* What is left where shift x 1 + rate x slope >= bound (sign 1) or <= bound (sign -1). An empty one stays as it was. False: nothing is left. */
static bool region_cut(struct region *r, double slope, double bound, int sign)
{
    struct region left = { .count = 0 };

    for (unsigned k = 0; k < r->count; k++) {
        struct point p = r->corner[k], q = r->corner[(k + 1) % r->count];
        double       in_p = sign * (p.shift + p.rate * slope - bound), in_q = sign * (q.shift + q.rate * slope - bound);

        if (in_p >= 0 && left.count < CORNERS)
            left.corner[left.count++] = p;
        if ((in_p >= 0) != (in_q >= 0) && left.count < CORNERS) {
            double part = in_p / (in_p - in_q);

            left.corner[left.count++] = (struct point){ p.shift + part * (q.shift - p.shift), p.rate + part * (q.rate - p.rate) };
        }
    }
    if (left.count == 0)
        return false;
    *r = left;
    return true;
}

static bool region_tie(struct region *r, const struct pair *p)
{
    struct region before = *r;

    if (region_cut(r, p->begin, p->low, 1) && region_cut(r, p->end, p->high, -1))
        return true;
    *r = before;
    return false;
}

/* Shifts at x after the first reading. */
static void region_range(const struct region *r, double x, double *low, double *high)
{
    *low = INFINITY;
    *high = -INFINITY;
    for (unsigned k = 0; k < r->count; k++) {
        double shift = r->corner[k].shift + r->corner[k].rate * x;

        *low = fmin(*low, shift);
        *high = fmax(*high, shift);
    }
}

static void region_rates(const struct region *r, double *low, double *high)
{
    *low = INFINITY;
    *high = -INFINITY;
    for (unsigned k = 0; k < r->count; k++) {
        *low = fmin(*low, r->corner[k].rate);
        *high = fmax(*high, r->corner[k].rate);
    }
}

static struct point region_middle(const struct region *r)
{
    struct point sum = { 0, 0 };

    for (unsigned k = 0; k < r->count; k++) {
        sum.shift += r->corner[k].shift / r->count;
        sum.rate += r->corner[k].rate / r->count;
    }
    return sum;
}

/* What is left where clocks differ by `most` at the most; the whole, if that is nothing. */
static void region_narrow(struct region *r, double most)
{
    struct region turned = { .count = r->count };

    for (unsigned k = 0; k < r->count; k++)
        turned.corner[k] = (struct point){ r->corner[k].rate, r->corner[k].shift };
    if (!region_cut(&turned, 0, -most, 1) || !region_cut(&turned, 0, most, -1))
        return;
    r->count = turned.count;
    for (unsigned k = 0; k < r->count; k++)
        r->corner[k] = (struct point){ turned.corner[k].rate, turned.corner[k].shift };
}

static bool wire_tie(struct search *s, unsigned wire, unsigned volt, struct region *r)
{
    struct pair p;

    return pair_make(s->a, wire, volt, &p) && region_tie(r, &p);
}

/* A move that the search did not come to: tied if there is just one that any shift left would tie with it. */
static void wire_extend(struct search *s, unsigned wire, unsigned *next, struct region *r)
{
    const struct alignment *a = s->a;
    struct region           one = { .count = 0 };
    int                     found = -1;
    const struct point      middle = region_middle(r);

    while (*next < a->volt_count &&
           moved(a, a->volts[*next].move.begin_ns, middle) + shift_room_ns < (double)(a->wire[wire].from_ns - a->volts[*next].move.begin_ns))
        (*next)++;
    for (unsigned v = *next; v < a->volt_count; v++) {
        struct region left = *r;

        if (moved(a, a->volts[v].move.begin_ns, middle) - shift_room_ns > (double)(a->wire[wire].to_ns - a->volts[v].move.begin_ns))
            break;
        if (!wire_tie(s, wire, v, &left))
            continue;
        if (found >= 0)
            return;
        found = (int)v;
        one = left;
    }
    if (found >= 0) {
        *r = one;
        s->best_partners[wire] = found;
    }
}

/* Ties all moves that the best shift ties, then all others that fit in as well. */
static struct region ties_region(struct search *s)
{
    const double  most = rate_most * 1.1, room = shift_room_ns;
    struct point  at = s->at;
    struct region r = { .count = 4, .corner = { { at.shift - room, -most }, { at.shift + room, -most }, { at.shift + room, most },
                                                { at.shift - room, most } } };
    unsigned      next = 0;

    for (unsigned k = 0; k < s->a->wire_count; k++)
        if (k >= s->wires || (s->best_partners[k] >= 0 && !wire_tie(s, k, (unsigned)s->best_partners[k], &r)))
            s->best_partners[k] = -1;
    for (unsigned k = s->wires; k < s->a->wire_count; k++)
        wire_extend(s, k, &next, &r);
    return r;
}

/* How long after the beginning of its window a change of contract moves VBUS. */
static void delays_reckon(const struct search *s, struct point at, struct align_result *result)
{
    double   sum = 0, squares = 0;
    unsigned n = 0;

    for (unsigned k = 0; k < s->a->wire_count; k++) {
        if (s->best_partners[k] < 0 || s->a->wire[k].why != WIRE_MOVE_CONTRACT)
            continue;
        int64_t begin_ns = s->a->volts[s->best_partners[k]].move.begin_ns;
        double  delay = moved(s->a, begin_ns, at) - (double)(s->a->wire[k].from_ns - begin_ns);

        sum += delay;
        squares += delay * delay;
        n++;
    }
    if (n == 0)
        return;
    result->delay_ns = sum / n;
    result->rms_ns = sqrt(fmax(0, squares / n - result->delay_ns * result->delay_ns));
}

static void result_fill(struct search *s, struct align_result *result)
{
    struct region r = ties_region(s);
    double        low, high, span = (double)(s->a->volt_to_ns - s->a->volt_from_ns), worst = 0;

    region_rates(&r, &low, &high);
    result->rate_told = (high - low) / sqrt(12) < rate_known;
    if (result->rate_told) {
        result->rate_ppm = (low + high) / 2 * 1e6;
        result->rate_u_ppm = (high - low) / sqrt(12) * 1e6;
    } else {
        region_narrow(&r, 2 * rate_known);
    }
    struct point at = { .rate = result->rate_ppm / 1e6 };

    region_range(&r, span / 2, &low, &high);
    at.shift = (low + high) / 2 - at.rate * span / 2;
    for (unsigned k = 0; k < 3; k++) {
        double x = span * k / 2, mine = at.shift + at.rate * x;

        region_range(&r, x, &low, &high);
        worst = fmax(worst, fmax(high - mine, mine - low));
    }
    result->shift_ns = (int64_t)at.shift;
    result->shift_u_ns = worst / sqrt(3);
    for (unsigned k = 0; k < s->a->wire_count; k++)
        result->expected += s->best_partners[k] >= 0 || (s->a->wire[k].why != WIRE_MOVE_RESET && wire_covered(s->a, &s->a->wire[k], at));
    for (unsigned k = 0; k < s->a->wire_count; k++)
        result->ties += s->best_partners[k] >= 0;
    delays_reckon(s, at, result);
}

static void judge(const struct search *s, struct align_result *result)
{
    if (s->best == INT32_MIN || s->best_ties < ALIGN_TIES_LEAST) {
        result->end = ALIGN_FEW;
        result->ties = s->best == INT32_MIN ? 0 : s->best_ties;
        return;
    }
    result->other_ns = (int64_t)s->other_at.shift;
    result->other_ties = s->other_ties;
    if (s->other != INT32_MIN && s->other + 2 >= s->best)
        result->end = ALIGN_AMBIGUOUS;
    else if (5 * result->ties < 3 * result->expected)
        result->end = ALIGN_DISAGREES;
    else if (result->ties < ALIGN_TIES_LEAST)
        result->end = ALIGN_FEW;
}

struct align_result align_best(const struct alignment *a)
{
    struct search       s = { .a = a };
    struct align_result result = { .end = ALIGN_DONE };

    if (!pairs_make(&s)) {
        result.end = ALIGN_NO_MEMORY;
    } else {
        search_run(&s);
        if (s.best != INT32_MIN)
            result_fill(&s, &result);
        judge(&s, &result);
    }
    free(s.pairs);
    free(s.edges);
    free(s.partners);
    free(s.best_partners);
    return result;
}

struct align_result align_one(int64_t from_ns, int64_t to_ns, const struct move *m)
{
    double low = (double)(from_ns - m->begin_ns), high = (double)(to_ns - m->end_ns);

    return (struct align_result){
        .end = ALIGN_DONE, .shift_ns = (int64_t)((low + high) / 2), .shift_u_ns = fabs(high - low) / sqrt(12), .ties = 1, .expected = 1,
    };
}
