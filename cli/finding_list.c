#define _POSIX_C_SOURCE 200809L /* fseeko, off_t */
#include "cli/finding_list.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* One finding in the temporary file, which this process alone writes and reads: pointers in it stay good. */
struct spooled {
    struct finding finding;
    uint64_t       order;
};

void finding_list_start(struct finding_list *l, uint64_t limit)
{
    *l = (struct finding_list){ .limit = limit };
}

void finding_list_free(struct finding_list *l)
{
    free(l->items);
    free(l->order);
    free(l->kept);
    if (l->spool)
        fclose(l->spool);
    *l = (struct finding_list){ .limit = l->limit };
}

static int finding_compare(const struct finding *a, uint64_t a_order, const struct finding *b, uint64_t b_order)
{
    if (a->t_ns != b->t_ns)
        return a->t_ns < b->t_ns ? -1 : 1;
    if (a->frame != b->frame)
        return a->frame < b->frame ? -1 : 1;
    return a_order < b_order ? -1 : a_order > b_order;
}

static size_t kept_slot(const struct finding_list *l, const struct finding *f)
{
    size_t hash = (size_t)((uintptr_t)f->rule / 16 * 31 + f->verdict * 7u + f->port * 131u);

    for (size_t k = hash & (l->kept_room - 1);; k = (k + 1) & (l->kept_room - 1))
        if (!l->kept[k].rule ||
            (l->kept[k].rule == f->rule && l->kept[k].verdict == f->verdict && l->kept[k].port == f->port))
            return k;
}

static bool kept_grow(struct finding_list *l)
{
    struct finding_list bigger = { .kept_room = l->kept_room ? l->kept_room * 2 : 64 };

    if (l->kept_count * 2 < l->kept_room)
        return true;
    bigger.kept = calloc(bigger.kept_room, sizeof *bigger.kept);
    if (!bigger.kept)
        return false;
    for (size_t k = 0; k < l->kept_room; k++) {
        struct finding f = { .rule = l->kept[k].rule, .verdict = l->kept[k].verdict, .port = l->kept[k].port };

        if (f.rule)
            bigger.kept[kept_slot(&bigger, &f)] = l->kept[k];
    }
    free(l->kept);
    l->kept = bigger.kept;
    l->kept_room = bigger.kept_room;
    return true;
}

/* Counts it; false where there are enough of its rule, verdict and port. */
static bool kept_take(struct finding_list *l, const struct finding *f)
{
    if (l->limit == FINDINGS_ALL)
        return true;
    if (!kept_grow(l)) {
        l->failed = true;
        return false;
    }
    size_t k = kept_slot(l, f);

    if (!l->kept[k].rule) {
        l->kept[k].rule = f->rule;
        l->kept[k].verdict = f->verdict;
        l->kept[k].port = f->port;
        l->kept_count++;
    }
    return l->kept[k].n++ < l->limit;
}

static bool items_grow(struct finding_list *l)
{
    if (l->count < l->room)
        return true;
    size_t          room = l->room ? l->room * 2 : 32;
    struct finding *items = realloc(l->items, room * sizeof *items);

    if (items)
        l->items = items;
    uint64_t *order = realloc(l->order, room * sizeof *order);

    if (order)
        l->order = order;
    if (!items || !order)
        return false;
    l->room = room;
    return true;
}

/* One pass of a merge: pairs of sorted stretches of `width` indexes become one each. */
static void index_merge(const struct finding_list *l, const size_t *from, size_t *to, size_t width)
{
    size_t n = l->count;

    for (size_t start = 0; start < n; start += 2 * width) {
        size_t middle = start + width < n ? start + width : n, end = middle + width < n ? middle + width : n;
        size_t a = start, b = middle;

        for (size_t k = start; k < end; k++) {
            bool left = a < middle && (b >= end || finding_compare(&l->items[from[a]], l->order[from[a]], &l->items[from[b]],
                                                                    l->order[from[b]]) <= 0);

            to[k] = left ? from[a++] : from[b++];
        }
    }
}

static void items_order(const struct finding_list *l, size_t *index, struct finding *sorted, uint64_t *order)
{
    size_t *from = index, *to = index + l->count;

    for (size_t k = 0; k < l->count; k++)
        from[k] = k;
    for (size_t width = 1; width < l->count; width *= 2) {
        size_t *other = from;

        index_merge(l, from, to, width);
        from = to;
        to = other;
    }
    for (size_t k = 0; k < l->count; k++) {
        sorted[k] = l->items[from[k]];
        order[k] = l->order[from[k]];
    }
}

static bool items_sort(struct finding_list *l)
{
    size_t          room = l->count ? l->count : 1;
    struct finding *sorted = malloc(room * sizeof *sorted);
    uint64_t       *order = malloc(room * sizeof *order);
    size_t         *index = malloc(room * 2 * sizeof *index);
    bool            done = sorted && order && index;

    if (done) {
        items_order(l, index, sorted, order);
        free(l->items);
        free(l->order);
        l->items = sorted;
        l->order = order;
        l->room = room;
    } else {
        free(sorted);
        free(order);
    }
    free(index);
    return done;
}

/* The run in memory goes to the temporary file. */
static bool run_spool(struct finding_list *l)
{
    if (!l->spool)
        l->spool = tmpfile();
    if (!l->spool || !items_sort(l))
        return false;
    for (size_t k = 0; k < l->count; k++) {
        struct spooled s;

        memset(&s, 0, sizeof s);
        s.finding = l->items[k];
        s.order = l->order[k];
        if (fwrite(&s, sizeof s, 1, l->spool) != 1)
            return false;
    }
    l->runs++;
    l->spooled += l->count;
    l->count = 0;
    return true;
}

void finding_list_add(struct finding_list *l, const struct finding *f)
{
    if (l->failed)
        return;
    if (!kept_take(l, f)) {
        l->left_out++;
        return;
    }
    if (l->limit == FINDINGS_ALL && l->count == FINDINGS_RUN && !run_spool(l))
        l->failed = true;
    else if (!items_grow(l))
        l->failed = true;
    if (l->failed)
        return;
    l->items[l->count] = *f;
    l->order[l->count++] = l->taken++;
}

/* A run being merged: where its next item stands, how many are left, and the item itself. */
struct run {
    uint64_t       at, left;
    struct spooled head;
};

static bool run_read(struct finding_list *l, struct run *r)
{
    return fseeko(l->spool, (off_t)(r->at * sizeof r->head), SEEK_SET) == 0 && fread(&r->head, sizeof r->head, 1, l->spool) == 1;
}

static bool run_before(const struct run *a, const struct run *b)
{
    return finding_compare(&a->head.finding, a->head.order, &b->head.finding, b->head.order) < 0;
}

/* Lets heap[k] sink to its place. */
static void heap_sink(struct run *heap, size_t count, size_t k)
{
    for (;;) {
        size_t least = k;

        for (size_t child = 2 * k + 1; child <= 2 * k + 2 && child < count; child++)
            if (run_before(&heap[child], &heap[least]))
                least = child;
        if (least == k)
            return;
        struct run other = heap[k];

        heap[k] = heap[least];
        heap[least] = other;
        k = least;
    }
}

static bool runs_merge_into(struct finding_list *l, struct run *heap, size_t count, FILE *whole)
{
    for (size_t k = count; k-- > 0;)
        heap_sink(heap, count, k);
    while (count > 0) {
        if (fwrite(&heap[0].head, sizeof heap[0].head, 1, whole) != 1)
            return false;
        heap[0].at++;
        if (--heap[0].left == 0)
            heap[0] = heap[--count];
        else if (!run_read(l, &heap[0]))
            return false;
        heap_sink(heap, count, 0);
    }
    return fflush(whole) == 0;
}

static bool runs_merge(struct finding_list *l)
{
    struct run *heap = calloc(l->runs, sizeof *heap);
    FILE       *whole = heap ? tmpfile() : NULL;
    bool        done = whole && fflush(l->spool) == 0;

    for (uint64_t k = 0; k < l->runs && done; k++) {
        heap[k].at = k * FINDINGS_RUN;
        heap[k].left = l->spooled - heap[k].at < FINDINGS_RUN ? l->spooled - heap[k].at : FINDINGS_RUN;
        done = run_read(l, &heap[k]);
    }
    done = done && runs_merge_into(l, heap, l->runs, whole);
    free(heap);
    if (!done) {
        if (whole)
            fclose(whole);
        return false;
    }
    fclose(l->spool);
    l->spool = whole;
    return true;
}

bool finding_list_sort(struct finding_list *l)
{
    if (l->failed)
        return false;
    bool done = l->spool ? (l->count == 0 || run_spool(l)) && runs_merge(l) : items_sort(l);

    l->failed = !done;
    finding_list_rewind(l);
    return done;
}

uint64_t finding_list_count(const struct finding_list *l)
{
    return l->spooled + l->count;
}

void finding_list_rewind(struct finding_list *l)
{
    l->at = 0;
    if (l->spool)
        rewind(l->spool);
}

bool finding_list_next(struct finding_list *l, struct finding *f, uint64_t *number)
{
    if (l->failed || l->at >= finding_list_count(l))
        return false;
    if (l->spool) {
        struct spooled s;

        if (fread(&s, sizeof s, 1, l->spool) != 1) {
            l->failed = true;
            return false;
        }
        *f = s.finding;
    } else {
        *f = l->items[l->at];
    }
    *number = ++l->at;
    return true;
}
