/*
 * Changes of a line, kept as CC_EDGES and read back: none is lost, none is moved by more than half a tick, whatever pieces they come in, and the
 * records stand in order and do not overlap. Lines are drawn at random; INVENTED.
 */
#include "capture/base/cursor.h"
#include "capture/base/leb128.h"
#include "capture/record.h"
#include "cli/import_edges.h"
#include "tests/cli/program.h"

#include <math.h>
#include <stdlib.h>

enum { CHANGES = 200000 };

struct drawing { uint64_t state; };

static uint32_t draw(struct drawing *d, uint32_t below)
{
    d->state ^= d->state << 13;
    d->state ^= d->state >> 7;
    d->state ^= d->state << 17;
    return (uint32_t)(d->state >> 32) % below;
}

/* What comes back: the times of changes in nanoseconds, held against those of the line. */
struct back {
    const int64_t *at;
    struct cc_tick tick;
    size_t         count, next;
    int64_t        end_ns; /* of the last record */
    unsigned       records;
    bool           level;  /* after the last change */
};

static double exact_ns(const struct back *b, size_t k)
{
    return (double)b->at[k] * (double)b->tick.ps / (double)b->tick.per / 1000;
}

static bool take(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct back  *b = context;
    struct record r;

    record_read(bytes, length, false, stamp_ns, ++b->records, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_int_equal(r.kind, RECORD_CC_EDGES);
    assert_int_equal(r.port, 7);
    assert_true(r.t_ns >= b->end_ns - 1);
    assert_int_equal(r.edges.tick_ps, cc_tick_ps(b->tick));
    assert_int_equal(r.edges.level, b->level);
    struct cursor c = cursor_over(r.edges.leb, r.edges.length);
    double        ps = 0;

    for (uint64_t ticks; c.left > 0; b->next++) {
        assert_true(leb128_read(&c, &ticks));
        ps += (double)ticks * r.edges.tick_ps;
        assert_true(b->next < b->count);
        double off_ns = (double)r.t_ns + ps / 1000 - exact_ns(b, b->next);

        /* Half a tick, and half a nanosecond of the stamp. */
        assert_true(fabs(off_ns) <= r.edges.tick_ps / 2000.0 + 0.51);
        b->level = !b->level;
    }
    b->end_ns = r.t_ns + record_span_ns(&r);
    return true;
}

/* A line that is busy now and then, given in pieces. */
static void line_comes_back(struct cc_tick tick, uint32_t least_gap, uint32_t most_gap, unsigned rest_one_in)
{
    struct drawing       d = { .state = 88172645463325252u + most_gap };
    int64_t             *at = malloc(CHANGES * sizeof *at), now = 5;
    struct back          b = { .tick = tick, .count = CHANGES, .end_ns = 0 };
    struct import_edges *e = import_edges_new(tick, 7, take, &b);

    assert_true(at && e);
    for (size_t k = 0; k < CHANGES; k++) {
        now += draw(&d, rest_one_in) == 0 ? 10000000 : least_gap + draw(&d, most_gap);
        at[k] = now;
    }
    b.at = at;
    int64_t from = 0;

    for (size_t k = 0, n; k < CHANGES; k += n) {
        n = draw(&d, 700);
        n = n < CHANGES - k ? n : CHANGES - k;
        struct cc_block block = { .level = k % 2 == 1, .from = from, .until = k + n < CHANGES ? at[k + n] - draw(&d, least_gap + 1) : now + 50, .at = at + k, .count = n };

        if (block.until < from || (n > 0 && block.until <= at[k + n - 1]))
            block.until = n > 0 ? at[k + n - 1] + 1 : from;
        from = block.until;
        assert_true(import_edges_take(e, &block));
        assert_true(import_edges_settled(e) <= from);
    }
    assert_true(import_edges_finish(e));
    assert_int_equal(b.next, CHANGES);
    assert_true(b.records > 1);
    import_edges_free(e);
    free(at);
}

static void changes_come_back_at_any_rate(void **state)
{
    (void)state;
    line_comes_back((struct cc_tick){ 10000, 1 }, 160, 180, 300);                        /* a dump in steps of 10 ns */
    line_comes_back((struct cc_tick){ 1000000000000, 24000000 }, 38, 44, 300);            /* 24 MS/s: 41666.67 ps */
    line_comes_back((struct cc_tick){ 1000000000000, 1200000 }, 2, 3, 300);               /* 1.2 MS/s */
    line_comes_back((struct cc_tick){ 1000000000000, 1500000000 }, 2400, 2700, 1000000);  /* 1.5 GS/s, never at rest: records go on from one another */
}

static void a_hole_ends_a_stretch(void **state)
{
    (void)state;
    static const int64_t one[] = { 100, 200 }, two[] = { 5000, 5100 }, all[] = { 100, 200, 5000, 5100 };
    struct back          b = { .tick = { 10000, 1 }, .at = all, .count = 4 };
    struct import_edges *e = import_edges_new(b.tick, 7, take, &b);
    struct cc_block      first = { .from = 0, .until = 300, .at = one, .count = 2 }, second = { .broken = true, .from = 4990, .until = 5200, .at = two, .count = 2 };

    assert_true(import_edges_take(e, &first) && import_edges_take(e, &second) && import_edges_finish(e));
    assert_int_equal(b.records, 2);
    assert_int_equal(b.next, 4);
    import_edges_free(e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(changes_come_back_at_any_rate),
        cmocka_unit_test(a_hole_ends_a_stretch),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
