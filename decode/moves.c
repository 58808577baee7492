#include "decode/moves.h"

#include <stdlib.h>

/* A level follows its readings within a tenth of a second, and by no more than an eighth at once. */
enum { PARTS = 256, FOLLOWS = 8, FOLLOWS_NS = 100000000 };

struct move_watch move_watch_begin(int32_t band, int32_t least)
{
    return (struct move_watch){ .band = band, .least = least };
}

void move_watch_break(struct move_watch *w)
{
    *w = move_watch_begin(w->band, w->least);
}

static bool within(int64_t a, int64_t b, int64_t band)
{
    return a - b <= band && b - a <= band;
}

/* A large level is told less finely. */
static int64_t band_of(const struct move_watch *w, int64_t level)
{
    return w->band + llabs(level) / 100;
}

static void stop_begin(struct move_watch *w, int64_t t_ns, int32_t reading)
{
    w->stop = reading;
    w->stop_ns = t_ns;
    w->before_ns = w->last_ns;
    w->stop_sum = reading;
    w->stop_count = 1;
}

static void level_set(struct move_watch *w, int64_t level, int64_t t_ns)
{
    w->level = level * PARTS;
    w->steady_ns = t_ns;
    w->moving = false;
}

static void level_follow(struct move_watch *w, int64_t t_ns, int32_t reading)
{
    int64_t off = (int64_t)reading * PARTS - w->level, since_ns = t_ns - w->last_ns;

    w->level += since_ns >= FOLLOWS_NS / FOLLOWS || since_ns < 0 ? off / FOLLOWS : off * since_ns / FOLLOWS_NS;
    w->steady_ns = t_ns;
    w->moving = false;
}

/* It has come to rest where it stopped. False: too near to where it came from. */
static bool rest(struct move_watch *w, int64_t t_ns, struct move *m)
{
    int64_t level = w->level / PARTS, to = w->stop_sum / (int64_t)w->stop_count;

    *m = (struct move){ .steady_ns = w->steady_ns, .begin_ns = w->off_ns, .end_ns = w->before_ns, .from = (int32_t)level, .to = (int32_t)to };
    level_set(w, to, t_ns);
    return llabs(to - level) >= w->least;
}

/* Nothing was read since it stopped, for long. */
static bool quiet(const struct move_watch *w, int64_t t_ns)
{
    return w->moving && t_ns - w->last_ns >= MOVE_QUIET_NS && (t_ns - w->last_ns) / 10 >= w->last_ns - w->before_ns;
}

bool move_watch_take(struct move_watch *w, int64_t t_ns, int32_t reading, struct move *m)
{
    bool    done = quiet(w, t_ns) && rest(w, w->last_ns, m);
    int64_t level = w->level / PARTS;

    if (!w->any) {
        w->any = true;
        w->last_ns = t_ns;
        level_set(w, reading, t_ns);
        return false;
    }
    if (within(reading, level, band_of(w, level))) {
        level_follow(w, t_ns, reading);
    } else {
        if (!w->moving)
            w->off_ns = t_ns;
        if (!w->moving || !within(reading, w->stop, band_of(w, w->stop) / 2)) {
            stop_begin(w, t_ns, reading);
        } else {
            w->stop_sum += reading;
            w->stop_count++;
        }
        w->moving = true;
        if (!done && w->stop_count >= 2 && t_ns - w->stop_ns >= MOVE_HOLD_NS)
            done = rest(w, t_ns, m);
    }
    w->last_ns = t_ns;
    return done;
}
