#include "capture/cc_slicer_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    WINDOW_NS = 27000, /* eight bit cells at the nominal rate of 300 kbit/s (from memory) */
    WINDOW_LEAST = 4, /* readings, where they are too far apart for packets */
    WINDOW_MOST = 1 << 18,
    BACK_NS = 1400,    /* a change takes no longer: less than half a bit cell (tRise of 300 ns at the least, from memory) */
    TELLING_NS = 1100, /* three readings a bit cell; with fewer its levels do not show */
    PUT_READINGS = 8 * 1024,
    NOTICES_MOST = 16,
    TELL_AFTER = 4, /* windows of one speaker */
    RESTS_LEAST = 8, /* windows until the noise at rest is known */
};

/* vSwing, nominal, of low at ground (from memory): until the line itself has shown. */
static const double nominal_swing_mv = 1125;
/* Shares of the swing. Common practice, no source. */
static const float quiet_spread = 0.12f; /* about one level */
static const float one_level = 0.05f;   /* means of windows of one level */
static const float other_levels = 0.15f; /* low or high has moved that far: someone else speaks */
static const float tell_again = 0.25f;

enum { BEFORE, HERE, NEXT, AFTER, WINDOWS };

struct level_sum { bool open; int64_t from, until; double sum; unsigned windows; };

struct cc_slicer {
    struct cc_slicer_options o;
    int16_t *readings;
    int64_t *ticks; /* NULL if not timed */
    size_t   room, filled, start; /* start: the first that was not yet sliced */
    uint64_t base; /* number of readings before those in the buffer, holes counted */
    size_t   window, back;
    bool     looked, ended, breaking;
    uint64_t missing;
    struct cc_window w[WINDOWS];

    bool    fixed, found;
    float   band, low, high, middle; /* levels and their middle, in steps */
    float   told[NOTICES_MOST][2]; /* levels that were told: low, high */
    float   noise;
    int16_t below, above; /* readings less than below are low, greater than above high */
    float   noise_most;   /* at rest, lately */
    unsigned notices, learnt, rests;

    bool    level, level_known;
    size_t  last_change; /* first reading that a change may be looked for at */
    int64_t last_at;
    double  edge_squares; /* of standard uncertainties, in readings */
    uint64_t edges;

    int64_t *at;
    size_t   at_room, at_count, at_told;
    struct cc_level *levels;
    size_t   level_room, level_count, level_told;
    struct level_sum sum;

    bool    from_known, broken, told_level;
    int64_t from;
};

int16_t cc_slicer_step(double steps)
{
    double whole = floor(steps + 0.5);

    if (!(whole > INT16_MIN))
        return INT16_MIN;
    return whole < INT16_MAX ? (int16_t)whole : INT16_MAX;
}

uint64_t cc_slicer_tick_ps(double sample_ns)
{
    enum { STEEP_NS = 300 }; /* from there on an edge passes between two readings */
    const double   parts = sample_ns > STEEP_NS ? 2 : 4;
    const uint64_t most = 1000000000; /* a millisecond: nobody looks for packets there */
    uint64_t       tick = 1;

    for (unsigned k = 1; tick < most; k++) {
        uint64_t next = k % 3 == 2 ? tick / 2 * 5 : tick * 2; /* 1, 2, 5, 10 ... */

        if (!((double)next * parts <= sample_ns * 1000))
            break;
        tick = next;
    }
    return tick;
}

/* Levels to thresholds. */
static void thresholds_set(struct cc_slicer *s)
{
    float width = (s->high - s->low) * s->band;

    s->middle = (s->low + s->high) / 2;
    s->below = cc_slicer_step(ceil((double)(s->middle - width)));
    s->above = cc_slicer_step(floor((double)(s->middle + width)));
}

static void thresholds_begin(struct cc_slicer *s)
{
    double step = s->o.step_mv != 0 ? s->o.step_mv : 1, zero = s->o.step_mv != 0 ? s->o.zero_mv : 0;
    double least = s->o.low_mv, most = s->o.high_mv;

    s->fixed = s->o.low_mv != 0 || s->o.high_mv != 0;
    if (s->fixed) {
        double wide = (most - least) * (0.5 / (double)s->band - 1) / 2; /* from a threshold to the level beyond it */

        least -= wide;
        most += wide;
    } else if (s->o.step_mv != 0) {
        least = 0;
        most = nominal_swing_mv;
    }
    s->low = (float)((least - zero) / step);
    s->high = (float)((most - zero) / step);
    s->found = s->fixed;
    thresholds_set(s);
}

static int32_t told_mv(const struct cc_slicer *s, double steps)
{
    double mv = s->o.step_mv != 0 ? steps * s->o.step_mv + s->o.zero_mv : steps;

    if (!(mv > -1e9))
        return -1000000000;
    return mv < 1e9 ? (int32_t)lround(mv) : 1000000000;
}

/* Partners that take turns are told once each. */
static void thresholds_tell(struct cc_slicer *s)
{
    float            width = (s->high - s->low) * s->band;
    struct cc_notice n = { .news = CC_THRESHOLDS, .line = s->o.line };

    for (unsigned k = 0; k < s->notices; k++) {
        if (fabsf(s->low - s->told[k][0]) + fabsf(s->high - s->told[k][1]) < (s->high - s->low) * tell_again)
            return;
    }
    if (s->notices == NOTICES_MOST)
        return;
    s->told[s->notices][0] = s->low;
    s->told[s->notices++][1] = s->high;
    n.low_mv = told_mv(s, (double)(s->middle - width));
    n.high_mv = told_mv(s, (double)(s->middle + width));
    if (s->o.notice)
        s->o.notice(s->o.context, &n);
}

/*
 * Of the thresholds from the middle: noise is held off the better the further they lie apart, but where readings are few, none may
 * come near the level that the line reaches for half a bit cell.
 */
static float band_of(double sample_ns)
{
    static const struct { double sample_ns; float band; } bands[] = { { 100, 1.0f / 4 }, { 300, 1.0f / 5 } };

    for (unsigned k = 0; k < sizeof bands / sizeof bands[0]; k++) {
        if (sample_ns <= bands[k].sample_ns)
            return bands[k].band;
    }
    return 1.0f / 6;
}

static size_t readings_in(double ns, double sample_ns, size_t least, size_t most)
{
    double n = ns / sample_ns;

    if (!(n > (double)least))
        return least;
    return n < (double)most ? (size_t)n : most;
}

struct cc_slicer *cc_slicer_new(const struct cc_slicer_options *o)
{
    struct cc_slicer *s = calloc(1, sizeof *s);

    if (!s)
        return NULL;
    s->o = *o;
    s->window = readings_in(WINDOW_NS, o->sample_ns, WINDOW_LEAST, WINDOW_MOST);
    s->back = readings_in(BACK_NS, o->sample_ns, 1, s->window - 1);
    s->room = 4 * s->window + s->back + 1 + (s->window > PUT_READINGS ? s->window : PUT_READINGS);
    s->at_room = s->room + 4 * s->window;
    s->level_room = s->at_room / s->window + 8;
    s->readings = calloc(s->room, sizeof *s->readings);
    s->ticks = o->timed ? calloc(s->room, sizeof *s->ticks) : NULL;
    s->at = calloc(s->at_room, sizeof *s->at);
    s->levels = calloc(s->level_room, sizeof *s->levels);
    if (!s->readings || (o->timed && !s->ticks) || !s->at || !s->levels) {
        cc_slicer_free(s);
        return NULL;
    }
    s->last_at = INT64_MIN;
    s->band = band_of(o->sample_ns);
    thresholds_begin(s);
    return s;
}

void cc_slicer_free(struct cc_slicer *s)
{
    if (!s)
        return;
    free(s->readings);
    free(s->ticks);
    free(s->at);
    free(s->levels);
    free(s);
}

double cc_slicer_edge_ns(const struct cc_slicer *s)
{
    return s->edges > 0 ? sqrt(s->edge_squares / (double)s->edges) * s->o.sample_ns : 0;
}

static int64_t whole_ticks(double ticks)
{
    const double most = 4e18;

    if (!(ticks > -most))
        return -(INT64_MAX / 4);
    return ticks < most ? (int64_t)floor(ticks + 0.5) : INT64_MAX / 4;
}

/* The time of a place: so far (0 to 1) from reading k to the next. */
static int64_t place_ticks(const struct cc_slicer *s, size_t k, double share)
{
    if (!s->ticks)
        return whole_ticks(((double)(s->base + k) + share) * s->o.sample_ticks);
    if (k + 1 < s->filled)
        return s->ticks[k] + whole_ticks(share * (double)(s->ticks[k + 1] - s->ticks[k]));
    if (s->filled == 0)
        return s->from;
    return s->ticks[s->filled - 1] + whole_ticks(((double)(k - (s->filled - 1)) + share) * s->o.sample_ticks);
}

static void change_put(struct cc_slicer *s, int64_t at)
{
    s->level = !s->level;
    if (s->from_known && at < s->from)
        at = s->from;
    if (at <= s->last_at)
        at = s->last_at + 1;
    if (s->at_count == s->at_room) /* there is always room where blocks are asked for in time */
        return;
    s->last_at = s->at[s->at_count++] = at;
}

static bool beyond_middle(const struct cc_slicer *s, size_t k)
{
    return s->level ? (float)s->readings[k] < s->middle : (float)s->readings[k] > s->middle;
}

/* How sure the time is: by noise over steepness, and, the more of the swing passes between two readings, by their distance. */
static void edge_judge(struct cc_slicer *s, float step)
{
    float share = step / (s->high - s->low), noise = s->noise / step;

    if (!(share > 0.02f))
        return;
    share = share < 1 ? share : 1;
    noise = noise < 1 ? noise : 1;
    s->edge_squares += (double)(2 * noise * noise + share * share * share * share / 12);
    s->edges++;
}

/* The line is on its other side at reading k: it has changed where it last went through the middle. */
static void change_at(struct cc_slicer *s, size_t k)
{
    size_t least = k > s->back ? k - s->back : 0;
    double share = 0;

    least = least > s->last_change ? least : s->last_change;
    s->last_change = k + 1;
    while (k > least && beyond_middle(s, k - 1))
        k--;
    if (k > least) {
        float step = fabsf((float)s->readings[k] - (float)s->readings[k - 1]);

        share = fabs((double)s->middle - s->readings[k - 1]) / (double)step;
        edge_judge(s, step);
        k--;
    }
    change_put(s, place_ticks(s, k, share));
}

static void window_slice(struct cc_slicer *s, size_t count)
{
    size_t k = s->start, end = s->start + count;

    if (!s->found && s->o.step_mv == 0)
        return; /* nothing tells yet what is low */
    for (;;) {
        k = s->level ? cc_readings_below(s->readings, k, end, s->below) : cc_readings_above(s->readings, k, end, s->above);
        if (k == end)
            return;
        change_at(s, k++);
    }
}

static float swing_of(const struct cc_slicer *s)
{
    return s->high - s->low;
}

static float quiet_of(const struct cc_slicer *s)
{
    return s->found || s->o.step_mv != 0 ? swing_of(s) * quiet_spread : 0;
}

static bool windows_agree(const struct cc_window *a, const struct cc_window *b)
{
    return a->busy && b->busy && fabsf(a->low - b->low) + fabsf(a->high - b->high) < (a->high - a->low) / 4;
}

/*
 * The window that shows what the levels are now: its neighbours say the same, for one in which a packet begins or ends has some of the rest
 * in it. Before a packet has begun for good it is the window after next. NULL: none does.
 */
static const struct cc_window *window_telling(const struct cc_slicer *s)
{
    if (windows_agree(&s->w[HERE], &s->w[BEFORE]) && windows_agree(&s->w[HERE], &s->w[NEXT]))
        return &s->w[HERE];
    return windows_agree(&s->w[NEXT], &s->w[AFTER]) ? &s->w[AFTER] : NULL;
}

static void levels_follow(struct cc_slicer *s)
{
    const struct cc_window *w = s->fixed || s->o.sample_ns > TELLING_NS ? NULL : window_telling(s);

    if (!w)
        return;
    float most = (w->high - w->low) * other_levels;
    float pace = !s->found || fabsf(w->low - s->low) > most || fabsf(w->high - s->high) > most ? 1 : 0.25f;

    s->learnt = pace == 1 ? 1 : s->learnt + 1;
    s->found = true;
    s->low += (w->low - s->low) * pace;
    s->high += (w->high - s->high) * pace;
    thresholds_set(s);
    if (s->learnt == TELL_AFTER)
        thresholds_tell(s);
}

static bool window_rests(const struct cc_slicer *s)
{
    const struct cc_window *w = &s->w[HERE];
    float                   quiet = quiet_of(s);

    for (unsigned k = BEFORE; k <= NEXT; k++) {
        if (s->w[k].there && (s->w[k].busy || !(s->w[k].spread < quiet && fabsf(s->w[k].mean - w->mean) < quiet)))
            return false;
    }
    return true;
}

static void level_close(struct cc_slicer *s)
{
    struct level_sum *l = &s->sum;

    if (l->open && l->windows > 0 && l->until > l->from && s->o.step_mv != 0 && s->level_count < s->level_room)
        s->levels[s->level_count++] = (struct cc_level){ l->from, l->until, told_mv(s, l->sum / l->windows) };
    l->open = false;
}

static void level_take(struct cc_slicer *s, size_t count)
{
    struct level_sum *l = &s->sum;
    double            mean = (double)s->w[HERE].mean;

    if (l->open && l->windows > 0 && fabs(mean - l->sum / l->windows) > (double)(swing_of(s) * one_level))
        level_close(s);
    if (!l->open)
        *l = (struct level_sum){ .open = true, .from = place_ticks(s, s->start, 0) };
    l->sum += mean;
    l->windows++;
    l->until = place_ticks(s, s->start + count, 0);
}

static void window_rest(struct cc_slicer *s, size_t count)
{
    float mean = s->w[HERE].mean;

    if (s->level ? mean < (float)s->below : mean > (float)s->above)
        change_put(s, place_ticks(s, s->start, 0));
    s->last_change = s->start + count;
    s->noise += (s->w[HERE].spread - s->noise) / 16;
    s->noise_most -= s->noise_most / 1024;
    if (s->w[HERE].spread > s->noise_most)
        s->noise_most = s->w[HERE].spread;
    s->rests++;
    level_take(s, count);
}

/*
 * A line at rest may flicker between two steps of its instrument and look busy: what swings has to stand out from the noise at rest, and
 * where that is not known yet from what noise can be.
 */
static bool swing_stands_out(const struct cc_slicer *s, const struct cc_window *w)
{
    const float  over_noise = 6;
    const double least_mv = 60;
    float        swing = w->high - w->low;

    if (swing < over_noise * s->noise_most || (double)swing * s->o.step_mv < (s->o.step_mv != 0 ? least_mv : 0))
        return false;
    return s->rests >= RESTS_LEAST || w->spread > quiet_of(s);
}

static struct cc_window window_at(const struct cc_slicer *s, unsigned ahead)
{
    size_t from = s->start + ahead * s->window, left = s->filled > from ? s->filled - from : 0;

    struct cc_window w = cc_window_of(s->readings + (left > 0 ? from : 0), left < s->window ? left : s->window);

    w.busy = w.busy && swing_stands_out(s, &w);
    return w;
}

static void windows_move(struct cc_slicer *s)
{
    memmove(&s->w[BEFORE], &s->w[HERE], (WINDOWS - 1) * sizeof s->w[0]);
    s->w[AFTER] = window_at(s, 2);
    if (!s->looked) {
        s->w[BEFORE] = (struct cc_window){ 0 };
        s->w[HERE] = window_at(s, 0);
        s->w[NEXT] = window_at(s, 1);
        s->looked = true;
    }
}

static void window_step(struct cc_slicer *s, size_t count)
{
    windows_move(s);
    levels_follow(s);
    bool rests = window_rests(s);

    if (!s->level_known) {
        float first = rests ? s->w[HERE].mean : (float)s->readings[s->start];

        s->level = s->told_level = first > s->middle;
        s->level_known = true;
        s->from = place_ticks(s, s->start, 0);
        s->from_known = true;
    }
    if (rests) {
        window_rest(s, count);
    } else {
        level_close(s);
        window_slice(s, count);
    }
    s->start += count;
}

static void windows_step(struct cc_slicer *s)
{
    bool all = s->ended || s->breaking;

    while (s->filled - s->start >= (all ? 1 : 3 * s->window))
        window_step(s, s->filled - s->start < s->window ? s->filled - s->start : s->window);
    if (all)
        level_close(s);
}

/* What was sliced goes, but for as much as a change may reach back. */
static void readings_drop(struct cc_slicer *s)
{
    size_t drop = s->start > s->back + 1 ? s->start - s->back - 1 : 0;

    memmove(s->readings, s->readings + drop, (s->filled - drop) * sizeof *s->readings);
    if (s->ticks)
        memmove(s->ticks, s->ticks + drop, (s->filled - drop) * sizeof *s->ticks);
    s->base += drop;
    s->start -= drop;
    s->filled -= drop;
    s->last_change = s->last_change > drop ? s->last_change - drop : 0;
}

size_t cc_slicer_room(struct cc_slicer *s, int16_t **readings, int64_t **ticks)
{
    if (s->room - s->filled < PUT_READINGS / 2)
        readings_drop(s);
    size_t room = s->room - s->filled, edges = s->at_room - s->at_count;

    edges = edges > 3 * s->window ? edges - 3 * s->window : 0;

    *readings = s->readings + s->filled;
    *ticks = s->ticks ? s->ticks + s->filled : NULL;
    return room < edges ? room : edges;
}

void cc_slicer_put(struct cc_slicer *s, size_t count)
{
    s->filled += count;
    windows_step(s);
}

void cc_slicer_break(struct cc_slicer *s, uint64_t missing)
{
    s->breaking = true;
    s->missing = missing;
    windows_step(s);
}

void cc_slicer_end(struct cc_slicer *s)
{
    s->ended = true;
    windows_step(s);
}

/* Behind a hole everything begins anew, but for the levels and their thresholds. */
static void hole_pass(struct cc_slicer *s)
{
    s->base += s->filled + s->missing;
    s->filled = s->start = s->last_change = 0;
    s->breaking = s->looked = s->level_known = s->from_known = false;
    s->broken = true;
}

static void block_forget(struct cc_slicer *s)
{
    memmove(s->at, s->at + s->at_told, (s->at_count - s->at_told) * sizeof *s->at);
    s->at_count -= s->at_told;
    memmove(s->levels, s->levels + s->level_told, (s->level_count - s->level_told) * sizeof *s->levels);
    s->level_count -= s->level_told;
    s->at_told = s->level_told = 0;
}

/* Up to where nothing can change any more. */
static int64_t settled_ticks(const struct cc_slicer *s)
{
    int64_t until;

    if (s->ended || s->breaking) {
        until = place_ticks(s, s->filled, 0);
        return s->at_count > 0 && s->last_at >= until ? s->last_at + 1 : until;
    }
    return place_ticks(s, s->start > s->back ? s->start - s->back : 0, 0);
}

/* What is summed up of a level is told so far; the rest comes with the next block. */
static void level_cut(struct cc_slicer *s, int64_t until)
{
    struct level_sum rest = s->sum;

    if (!rest.open || rest.from >= until)
        return;
    s->sum.until = rest.until < until ? rest.until : until;
    level_close(s);
    s->sum = (struct level_sum){ .open = true, .from = until, .until = rest.until, .sum = rest.sum / rest.windows, .windows = 1 };
}

/* Changes and levels that begin before `until`, which are told now. */
static void block_count(struct cc_slicer *s, int64_t until)
{
    while (s->at_told < s->at_count && s->at[s->at_told] < until)
        s->at_told++;
    while (s->level_told < s->level_count && s->levels[s->level_told].from < until)
        s->level_told++;
}

bool cc_slicer_block(struct cc_slicer *s, struct cc_block *block)
{
    int64_t until = s->from_known ? settled_ticks(s) : 0;
    bool    there = s->from_known && until > s->from;

    block_forget(s);
    if (there) {
        level_cut(s, until);
        block_count(s, until);
        *block = (struct cc_block){ .line = s->o.line, .level = s->told_level, .broken = s->broken, .from = s->from, .until = until,
                                    .at = s->at, .count = s->at_told, .levels = s->level_told > 0 ? s->levels : NULL,
                                    .level_count = s->level_told };
        s->told_level ^= s->at_told & 1;
        s->broken = false;
        s->from = until;
    }
    if (s->breaking)
        hole_pass(s);
    return there;
}
