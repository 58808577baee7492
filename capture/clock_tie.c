#include "capture/clock_tie.h"

#include <math.h>
#include <string.h>

static const int64_t window_first_ns = INT64_C(500000000), window_last_ns = INT64_C(8000000000); /* one point each */
static const int64_t settle_ns = INT64_C(10000000000); /* back on the line in so long */
static const double  rate_usual = 0.0001;              /* what a crystal may be off, where little is known yet: 100 ppm, k = 1 */
static const double  rate_most = 0.001;                /* no crystal is off by more; nor is the way back faster */
static const double  half_least_ns = 1000;             /* no round trip is worth more than that */

void clock_tie_start(struct clock_tie *c)
{
    *c = (struct clock_tie){ .window_ns = window_first_ns, .from_ns = INT64_MIN, .asked_last_ns = INT64_MIN };
}

static double half_of(const struct clock_tie_point *p, double arrival_ns)
{
    double half = p->half_ns < 0 ? arrival_ns : (double)p->half_ns;

    return half > half_least_ns ? half : half_least_ns;
}

/* A weighted line through the points that are let in; about the last one, so that numbers stay small. */
static struct clock_tie_line line_through(const struct clock_tie *c, const bool *in, double arrival_ns)
{
    const struct clock_tie_point *o = &c->points[c->count - 1];
    double                        w = 0, x = 0, y = 0, xx = 0, xy = 0;

    for (unsigned k = 0; k < c->count; k++) {
        const struct clock_tie_point *p = &c->points[k];

        if (!in[k])
            continue;
        double half = half_of(p, arrival_ns), weight = 1e12 / (half * half);
        double dx = (double)(p->device_ns - o->device_ns), dy = (double)((p->host_ns - o->host_ns) - (p->device_ns - o->device_ns));

        w += weight, x += weight * dx, y += weight * dy, xx += weight * dx * dx, xy += weight * dx * dy;
    }
    double                spread = xx - x * x / w + 1e12 / (rate_usual * rate_usual), rate = (xy - x * y / w) / spread;
    struct clock_tie_line l = { .device_ns = o->device_ns, .host_ns = o->host_ns };

    rate = fmin(fmax(rate, -rate_most), rate_most);
    l.rate = rate;
    l.host_ns += (int64_t)((y - rate * x) / w);
    return l;
}

static int64_t on_line(const struct clock_tie_line *l, int64_t device_ns)
{
    int64_t along = device_ns - l->device_ns;

    return l->host_ns + along + (int64_t)((double)along * l->rate);
}

/* Points whose whole range lies off the line do not belong to it: an answer that was held up on one way alone cannot be seen otherwise. */
static unsigned leave_out(struct clock_tie *c, const struct clock_tie_line *l, bool *in, double arrival_ns)
{
    unsigned left = 0, off = 0;

    for (unsigned k = 0; k < c->count; k++) {
        c->points[k].residual = (double)(c->points[k].host_ns - on_line(l, c->points[k].device_ns));
        left += in[k] ? 1 : 0;
    }
    for (unsigned k = 0; k < c->count; k++) {
        bool far = fabs(c->points[k].residual) > half_of(&c->points[k], arrival_ns);

        if (in[k] && far && left - off > 2) {
            in[k] = false;
            off++;
        }
    }
    return off;
}

/* How far arrivals are taken to be off: half the spread of their delays. */
static double arrival_half(const struct clock_tie *c)
{
    int64_t least = INT64_MAX, most = INT64_MIN;

    for (unsigned k = 0; k < c->count; k++) {
        int64_t delay = c->points[k].host_ns - c->points[k].device_ns;

        least = delay < least ? delay : least;
        most = delay > most ? delay : most;
    }
    return c->count > 1 ? (double)(most - least) / 2 : 1e6;
}

static void fit(struct clock_tie *c)
{
    bool   in[CLOCK_TIE_POINTS];
    double arrival_ns = arrival_half(c);

    memset(in, true, sizeof in);
    for (unsigned round = 0; round < 4; round++) {
        c->line = line_through(c, in, arrival_ns);
        if (leave_out(c, &c->line, in, arrival_ns) == 0)
            break;
    }
}

static int64_t host_of(const struct clock_tie *c, int64_t device_ns)
{
    return on_line(device_ns >= c->now.device_ns ? &c->now : &c->before, device_ns);
}

int64_t clock_tie_host_ns(struct clock_tie *c, int64_t device_ns)
{
    c->asked_last_ns = device_ns > c->asked_last_ns ? device_ns : c->asked_last_ns;
    return host_of(c, device_ns);
}

/* From device_ns on, or from the latest time that was asked for: the way back to the line. */
static void steer(struct clock_tie *c, int64_t device_ns)
{
    if (!c->tied || !c->going) {
        c->now = c->before = c->line;
        c->tied = true;
        return;
    }
    device_ns = device_ns > c->asked_last_ns ? device_ns : c->asked_last_ns;
    int64_t here = host_of(c, device_ns);
    double  off = (double)(on_line(&c->line, device_ns) - here), turn = off / (double)settle_ns;

    c->before = c->now;
    c->now = (struct clock_tie_line){ .device_ns = device_ns, .host_ns = here,
                                      .rate = c->line.rate + fmin(fmax(turn, -rate_most), rate_most) };
}

static bool better_of(const struct clock_tie_point *a, const struct clock_tie_point *b)
{
    if (a->half_ns < 0)
        return a->host_ns - a->device_ns < b->host_ns - b->device_ns; /* arrivals: the earlier one */
    return a->half_ns <= b->half_ns;
}

/* Room for one more: of each two neighbours the better one stays; once their windows are long enough the oldest goes. */
static void make_room(struct clock_tie *c)
{
    unsigned kept = 0;

    if (c->window_ns >= window_last_ns) {
        memmove(c->points, c->points + 1, (CLOCK_TIE_POINTS - 1) * sizeof *c->points);
        c->count--;
        return;
    }
    for (unsigned k = 0; k + 1 < c->count; k += 2)
        c->points[kept++] = c->points[better_of(&c->points[k], &c->points[k + 1]) ? k : k + 1];
    c->count = kept;
    c->window_ns *= 2;
}

/* A new point, or a better one of the same window. False: a worse one. */
static bool point_taken(struct clock_tie *c, const struct clock_tie_point *p)
{
    if (c->from_ns == INT64_MIN || p->device_ns - c->from_ns >= c->window_ns) {
        if (c->count == CLOCK_TIE_POINTS)
            make_room(c);
        c->from_ns = p->device_ns;
        c->points[c->count++] = *p;
    } else if (better_of(p, &c->points[c->count - 1])) {
        c->points[c->count - 1] = *p;
    } else {
        return false;
    }
    if (c->count == 1 && !c->settled)
        c->first = *p;
    c->settled = c->settled || c->count > 1;
    return true;
}

void clock_tie_answer(struct clock_tie *c, int64_t device_ns, int64_t asked_ns, int64_t heard_ns)
{
    struct clock_tie_point p = { .device_ns = device_ns, .host_ns = asked_ns + (heard_ns - asked_ns) / 2, .half_ns = (heard_ns - asked_ns) / 2 };

    if (heard_ns < asked_ns)
        return;
    if (c->by_arrivals) { /* it answers after all */
        bool going = c->going;

        clock_tie_start(c);
        c->going = going;
    }
    if (c->count > 0 && device_ns < c->points[c->count - 1].device_ns)
        return;
    if (point_taken(c, &p))
        fit(c);
    steer(c, device_ns);
}

void clock_tie_arrival(struct clock_tie *c, int64_t device_ns, int64_t heard_ns)
{
    struct clock_tie_point p = { .device_ns = device_ns, .host_ns = heard_ns, .half_ns = -1 };

    if (c->tied && !c->by_arrivals)
        return;
    c->by_arrivals = true;
    if (c->count > 0 && device_ns < c->points[c->count - 1].device_ns)
        return;
    if (!point_taken(c, &p))
        return;
    fit(c);
    steer(c, device_ns);
}

struct clock_tie_result clock_tie_result(const struct clock_tie *c)
{
    struct clock_tie_result r = { .ppm = 0 };

    if (c->count == 0)
        return r;
    const struct clock_tie_point *last = &c->points[c->count - 1];
    double   half = arrival_half(c), span = (double)(last->device_ns - c->first.device_ns), best = half_of(last, half);

    for (unsigned k = 0; k < c->count; k++)
        best = fmin(best, half_of(&c->points[k], half));
    /* A range that is sure, taken as even: its half over the root of three (JCGM 100, 4.3.7). All answers may be late the same way, so
       many of them are worth no more than the best. */
    r.offset_ns_u = (int64_t)ceil(best / sqrt(3));
    if (span <= 0) {
        r.ppm_u = rate_most * 1e6;
        return r;
    }
    /* How much faster than the host's: device time gone over host time gone. */
    r.ppm = (span / (double)(last->host_ns - c->first.host_ns) - 1) * 1e6;
    r.ppm_u = hypot(half_of(&c->first, half), half_of(last, half)) / sqrt(3) / span * 1e6;
    return r;
}
