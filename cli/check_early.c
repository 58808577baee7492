#define _POSIX_C_SOURCE 200809L /* fork, pipe, clock_gettime */
#include "cli/check_early.h"

#include "cli/check_follow.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

/*
 * A look costs as much as copying the process: it is not taken more often than is needed to tell within 100 ms of the evidence, and takes
 * no more than a share of the time.
 *
 * While nothing comes, time passes all the same, and that somebody keeps silent is found by that: the trace so far ends at what the clock
 * says, less what records are late by, less SURE_MS. WATCH_MS after the last record everything is said.
 */
enum { EARLY_MOST = 1024, LOOK_LEAST_MS = 25, LOOK_MOST_MS = 50, LOOK_SHARE = 10, SURE_MS = 40, WATCH_MS = 20000, LATE_FADES = 16,
       NS_PER_MS = 1000000 };

struct pending { struct finding list[EARLY_MOST]; unsigned count; };

struct early {
    struct pending told;      /* so far, and not closed yet */
    struct pending now;       /* what the look in hand finds */
    bool           seen[EARLY_MOST]; /* of those told: the look in hand finds it too */
    bool           fed, fresh; /* since the last look; since the last call */
    int64_t        fed_ns;    /* when the last record was there, of the clock of the looks */
    int64_t        late_ns;   /* from the end of a record to when it was there: the most, of late */
    bool           late_known;
    int64_t        looked_ns; /* when the last look was over, INT64_MIN: there was none; and how long it took */
    int64_t        took_ns;
    int            to;        /* in the copy: the pipe; else -1 */
};

struct early *early_new(void)
{
    struct early *e = calloc(1, sizeof *e);

    if (!e)
        return NULL;
    e->looked_ns = INT64_MIN;
    e->to = -1;
    return e;
}

void early_free(struct early *e)
{
    free(e);
}

void early_feed(struct early *e)
{
    e->fed = e->fresh = true;
}

static int64_t clock_ns(clockid_t clock)
{
    struct timespec now;

    clock_gettime(clock, &now);
    return (int64_t)now.tv_sec * 1000 * NS_PER_MS + now.tv_nsec;
}

/* About the same thing: the amount may still grow. */
static bool about_same(const struct finding *a, const struct finding *b)
{
    return a->rule == b->rule && a->port == b->port && a->frame == b->frame;
}

static bool equal(const struct finding *a, const struct finding *b)
{
    return about_same(a, b) && a->t_ns == b->t_ns && a->sentence == b->sentence && a->values[0] == b->values[0];
}

static void pending_drop(struct pending *p, unsigned k)
{
    memmove(p->list + k, p->list + k + 1, (p->count - k - 1) * sizeof p->list[0]);
    p->count--;
}

/* The copy. */

/* All of it, or the reader makes do with what came. */
static bool send_all(int to, const void *bytes, size_t length)
{
    const char *at = bytes;

    while (length > 0) {
        ssize_t n = write(to, at, length);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        at += n;
        length -= (size_t)n;
    }
    return true;
}

bool early_send(struct early *e, const struct finding *f)
{
    if (e->to < 0)
        return false;
    if (f->verdict == VERDICT_FAIL && !send_all(e->to, f, sizeof *f))
        _exit(1);
    return true;
}

static void copy_ends(struct early *e, struct check *c, int to, int64_t end_ns)
{
    e->to = to;
    engine_end(c->engine, end_ns);
    _exit(0);
}

/* The one that asks. */

/* What the copy found: the same program in the same place, so that the pointers in it hold here. False: it did not come to its end. */
static bool receive(struct early *e, int from)
{
    size_t used = 0, room = sizeof e->now.list;

    while (used < room) {
        ssize_t n = read(from, (char *)e->now.list + used, room - used);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        used += (size_t)n;
    }
    e->now.count = (unsigned)(used / sizeof e->now.list[0]);
    return used % sizeof e->now.list[0] == 0;
}

/* False: no copy could be made, or something went wrong with it: the next look may do better. */
static bool ask(struct early *e, struct check *c, int64_t end_ns)
{
    int ends[2], status = 0;

    if (pipe(ends) != 0)
        return false;
    pid_t copy = fork();

    if (copy == 0) {
        close(ends[0]);
        copy_ends(e, c, ends[1], end_ns);
    }
    close(ends[1]);
    bool whole = copy > 0 && receive(e, ends[0]);

    close(ends[0]);
    while (copy > 0 && waitpid(copy, &status, 0) < 0 && errno == EINTR)
        ;
    /* Of more than there is room for the first are taken: the copy then ends by the closed pipe. */
    return whole && ((WIFEXITED(status) && WEXITSTATUS(status) == 0) || e->now.count == EARLY_MOST);
}

/* It stands among those told: as it is, or as one about the same thing that is not found any more. */
static bool known(struct early *e, const struct finding *f)
{
    unsigned other = EARLY_MOST;

    for (unsigned k = 0; k < e->told.count; k++) {
        if (e->seen[k])
            continue;
        if (equal(&e->told.list[k], f)) {
            e->seen[k] = true;
            return true;
        }
        if (other == EARLY_MOST && about_same(&e->told.list[k], f))
            other = k;
    }
    if (other == EARLY_MOST)
        return false;
    e->told.list[other] = *f;
    e->seen[other] = true;
    return true;
}

static void compare(struct early *e, const struct check *c)
{
    unsigned news = 0;

    memset(e->seen, 0, sizeof e->seen);
    for (unsigned k = 0; k < e->now.count; k++)
        if (!known(e, &e->now.list[k]))
            e->now.list[news++] = e->now.list[k];
    for (unsigned k = e->told.count; k > 0; k--)
        if (!e->seen[k - 1]) {
            check_follow_back(c->settings->follow, c, &e->told.list[k - 1]);
            pending_drop(&e->told, k - 1);
        }
    for (unsigned k = 0; k < news && e->told.count < EARLY_MOST; k++) {
        e->told.list[e->told.count++] = e->now.list[k];
        check_follow_early(c->settings->follow, c, &e->now.list[k]);
    }
}

/* So long after the last look the next one is due. */
static int64_t gap_ns(const struct early *e)
{
    int64_t gap = e->took_ns * LOOK_SHARE;

    if (gap < LOOK_LEAST_MS * NS_PER_MS)
        gap = LOOK_LEAST_MS * NS_PER_MS;
    return gap < LOOK_MOST_MS * NS_PER_MS ? gap : LOOK_MOST_MS * NS_PER_MS;
}

/* Records have come: how late are they? */
static void take_lateness(struct early *e, int64_t end_ns, int64_t now_ns)
{
    int64_t late_ns = clock_ns(CLOCK_REALTIME) - end_ns;

    e->late_ns = e->late_known && late_ns < e->late_ns ? e->late_ns - (e->late_ns - late_ns) / LATE_FADES : late_ns;
    e->late_known = true;
    e->fed_ns = now_ns;
    e->fresh = false;
}

/* Nothing has come that is not here yet, up to then. */
static int64_t end_by_now(const struct early *e, int64_t end_ns)
{
    int64_t by_clock_ns = clock_ns(CLOCK_REALTIME) - e->late_ns - SURE_MS * NS_PER_MS;

    return by_clock_ns > end_ns ? by_clock_ns : end_ns;
}

int early_look(struct early *e, struct check *c, int64_t end_ns)
{
    int64_t now_ns = clock_ns(CLOCK_MONOTONIC);

    if (e->fresh)
        take_lateness(e, end_ns, now_ns);
    if (!e->late_known || (!e->fed && now_ns - e->fed_ns > INT64_C(1) * WATCH_MS * NS_PER_MS))
        return -1;
    if (e->looked_ns != INT64_MIN && now_ns - e->looked_ns < gap_ns(e))
        return (int)((gap_ns(e) - (now_ns - e->looked_ns)) / NS_PER_MS) + 1;
    e->fed = false;
    if (ask(e, c, end_by_now(e, end_ns)))
        compare(e, c);
    e->looked_ns = clock_ns(CLOCK_MONOTONIC);
    e->took_ns = e->looked_ns - now_ns;
    return (int)(gap_ns(e) / NS_PER_MS) + 1;
}

bool early_told(struct early *e, const struct finding *f)
{
    unsigned found = EARLY_MOST;

    for (unsigned k = 0; k < e->told.count && found == EARLY_MOST; k++)
        if (equal(&e->told.list[k], f))
            found = k;
    for (unsigned k = 0; k < e->told.count && found == EARLY_MOST; k++)
        if (about_same(&e->told.list[k], f))
            found = k;
    if (found == EARLY_MOST)
        return false;
    pending_drop(&e->told, found);
    return true;
}

void early_end(struct early *e, const struct check *c)
{
    for (unsigned k = 0; k < e->told.count; k++)
        check_follow_back(c->settings->follow, c, &e->told.list[k]);
    e->told.count = 0;
}
