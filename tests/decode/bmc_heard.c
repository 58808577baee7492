#include "tests/decode/bmc_heard.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void heard_take(void *context, const struct bmc_frame *f)
{
    struct heard *h = context;

    assert_true(h->count < HEARD_MOST);
    memcpy(h->bytes[h->count], f->bytes, f->length);
    h->frames[h->count] = *f;
    h->frames[h->count].bytes = h->bytes[h->count];
    h->count++;
}

void listen_to(struct heard *h, const struct wave *w, const struct wave_instrument *i)
{
    struct bmc_options o = { .tick_ps = i->tick_ps };
    struct bmc        *b = bmc_new(&o, heard_take, h);
    struct wave_ticks  t = wave_see(w, i);

    assert_non_null(b);
    h->count = 0;
    bmc_take(b, t.at, t.count, t.level);
    bmc_reached(b, (int64_t)(w->now_ps / i->tick_ps));
    bmc_finish(b);
    bmc_free(b);
    free(t.at);
}

void listen_plainly(struct heard *h, struct wave *w)
{
    wave_wait(w, 100 * us);
    listen_to(h, w, &plain);
    wave_free(w);
}

size_t request(uint8_t *bytes)
{
    static const uint8_t words[6] = { 0x82, 0x10, 0x2C, 0xB1, 0x04, 0x13 };

    memcpy(bytes, words, sizeof words);
    return wave_crc_add(bytes, sizeof words);
}

void assert_is(const struct heard *h, size_t k, enum wave_set set, const uint8_t *bytes, size_t length)
{
    const struct bmc_frame *f = &h->frames[k];

    assert_true(h->count > k);
    assert_false(f->reset);
    assert_int_equal(f->which, set);
    assert_int_equal(f->end, BMC_EOP);
    assert_int_equal(f->length, length);
    assert_memory_equal(f->bytes, bytes, length);
    assert_true(f->crc_good);
}

void assert_near(double value, double expected, double by)
{
    if (!(fabs(value - expected) <= by))
        print_error("%.9g is not %.9g within %g\n", value, expected, by);
    assert_true(fabs(value - expected) <= by);
}

void one_packet(struct wave *w, enum wave_set set)
{
    struct wave_packet p = wave_packet_of(set, goodcrc, sizeof goodcrc);

    (void)wave_send(w, &p);
}
