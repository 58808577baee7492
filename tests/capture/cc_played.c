#include "tests/capture/cc_played.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h> /* cmocka.h needs the three before it */
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void take_notice(void *context, const struct cc_notice *n)
{
    struct played *h = context;

    if (h->notice_count < PLAYED_NOTICES_MAX) {
        size_t length = n->words_length < PLAYED_WORDS - 1 ? n->words_length : PLAYED_WORDS - 1;

        h->notices[h->notice_count] = *n;
        if (length > 0)
            memcpy(h->words[h->notice_count], n->words, length);
    }
    h->notice_count++;
}

static void *grown(void *list, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return list;
    *room = *room ? *room * 2 : 1024;
    list = realloc(list, *room * size);
    assert_non_null(list);
    return list;
}

static double ns_of(const struct played *h, int64_t ticks)
{
    return (double)ticks * (double)h->tick.ps / (double)h->tick.per / 1000;
}

static void take_levels(struct played *h, struct played_line *l, const struct cc_block *b)
{
    for (size_t k = 0; k < b->level_count; k++) {
        const struct cc_level *from = &b->levels[k];

        assert_true(from->from < from->until);
        assert_true(l->level_count == 0 || ns_of(h, from->from) >= l->levels[l->level_count - 1].until_ns);
        l->levels = grown(l->levels, l->level_count, &l->level_room, sizeof *l->levels);
        l->levels[l->level_count++] = (struct played_level){ ns_of(h, from->from), ns_of(h, from->until), from->mv };
    }
}

static void take_block(struct played *h, const struct cc_block *b)
{
    struct played_line *l = &h->line[b->line];

    assert_true(b->line < CC_LINES_MAX && b->from < b->until);
    if (l->blocks == 0)
        l->first_level = b->level;
    else if (!b->broken)
        assert_true(b->from == l->until && b->level == l->last_level);
    assert_true(l->blocks == 0 || b->from >= l->until);
    if (l->blocks == 0)
        l->from = b->from;
    l->holes += l->blocks > 0 && b->broken;
    for (size_t k = 0; k < b->count; k++) {
        assert_true(b->at[k] >= b->from && b->at[k] < b->until && (k == 0 || b->at[k] > b->at[k - 1]));
        l->edges_ns = grown(l->edges_ns, l->edges, &l->edge_room, sizeof *l->edges_ns);
        l->edges_ns[l->edges++] = ns_of(h, b->at[k]);
    }
    take_levels(h, l, b);
    l->last_level = b->level ^ (b->count & 1);
    l->until = b->until;
    l->blocks++;
}

static struct played *played_all(const struct cc_kind *kind, const char *path, const void *bytes, size_t length, const struct cc_options *o)
{
    struct played     *h = calloc(1, sizeof *h);
    struct cc_options options = *o;
    struct cc_block   block;

    assert_non_null(h);
    options.notice = take_notice;
    options.context = h;
    struct cc_file *c = path ? kind->open(path, &options, &h->fault) : kind->open_memory(bytes, length, &options, &h->fault);

    assert_true((c == NULL) == (h->fault.code != FAULT_NONE));
    if (!c)
        return h;
    h->opened = true;
    h->tick = kind->tick(c);
    while (kind->next(c, &block, &h->fault))
        take_block(h, &block);
    h->facts = kind->facts(c);
    kind->close(c);
    return h;
}

struct played *played_of(const struct cc_kind *kind, const void *bytes, size_t length, const struct cc_options *o)
{
    return played_all(kind, NULL, bytes, length, o);
}

struct played *played_of_file(const struct cc_kind *kind, const char *path, const struct cc_options *o)
{
    return played_all(kind, path, NULL, 0, o);
}

void played_free(struct played *h)
{
    for (unsigned k = 0; k < CC_LINES_MAX; k++) {
        free(h->line[k].edges_ns);
        free(h->line[k].levels);
    }
    free(h);
}

size_t played_news(const struct played *h, enum cc_news news)
{
    size_t count = 0;

    for (size_t k = 0; k < h->notice_count && k < PLAYED_NOTICES_MAX; k++)
        count += h->notices[k].news == news;
    return count;
}

struct played_match played_match(const struct played_line *l, const double *truth_ns, size_t count)
{
    const double       early = 300, late = 1000;
    struct played_match m = { 0 };
    double             sum = 0, squares = 0;
    size_t             j = 0;

    for (size_t k = 0; k < count; k++) {
        while (j < l->edges && l->edges_ns[j] < truth_ns[k] - early)
            j++;
        if (j == l->edges || l->edges_ns[j] > truth_ns[k] + late) {
            m.missed++;
            continue;
        }
        double off = l->edges_ns[j++] - truth_ns[k];

        sum += off;
        squares += off * off;
        m.found++;
    }
    m.extra = l->edges - m.found;
    m.late_ns = m.found ? sum / (double)m.found : 0;
    m.spread_ns = m.found ? sqrt(fmax(0, squares / (double)m.found - m.late_ns * m.late_ns)) : 0;
    return m;
}
