/*
 * When VBUS is to move, by messages and CC alone. Messages are typed from the layout of the message header and of data objects (Linux
 * include/linux/usb/pd.h): 5 V 3 A and 9 V 3 A are offered, 9 V is asked for.
 */
#include "tests/decode/testing.h"

#include "decode/wire_moves.h"

enum { MOVES_MOST = 8, PORT = 1 };
#define MS(n) ((int64_t)(n) * 1000000)

struct heard { unsigned count; struct wire_move move[MOVES_MOST]; };

static void hear(void *context, const struct wire_move *m)
{
    struct heard *h = context;

    assert_true(h->count < MOVES_MOST);
    h->move[h->count++] = *m;
}

static void feed(struct wire_moves *w, const uint8_t *bytes, size_t length, int64_t t_ns)
{
    struct record r;

    record_read(bytes, length, false, t_ns, (uint64_t)(t_ns / 1000000) + 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_true(wire_moves_feed(w, &r));
}

/* A message on SOP, without its CRC, with so many data objects, and the GoodCRC to it 0.6 ms later. */
static void say(struct wire_moves *w, int64_t t_ns, uint16_t header, uint16_t goodcrc, unsigned objects, const uint32_t *object)
{
    uint8_t  bytes[64], body[32] = { (uint8_t)header, (uint8_t)(header >> 8) }, good[2] = { (uint8_t)goodcrc, (uint8_t)(goodcrc >> 8) };
    unsigned n = 2;

    for (unsigned k = 0; k < objects; k++)
        for (unsigned b = 0; b < 4; b++)
            body[n++] = (uint8_t)(object[k] >> 8 * b);
    feed(w, bytes, record_put_packet(bytes, sizeof bytes, PORT, 0, 500000, SET_SOP, RECORD_NO_CRC, body, n), t_ns);
    feed(w, bytes, record_put_packet(bytes, sizeof bytes, PORT, 0, 500000, SET_SOP, RECORD_NO_CRC, good, 2), t_ns + 600000);
}

static void offer(struct wire_moves *w, int64_t t_ns)
{
    static const uint32_t pdos[] = { 0x0001912C, 0x0002D12C };

    say(w, t_ns, 0x21A1, 0x0081, 2, pdos);
}

static void ask(struct wire_moves *w, int64_t t_ns)
{
    static const uint32_t rdo = 0x2004B12C;

    say(w, t_ns, 0x1082, 0x01A1, 1, &rdo);
}

static void accept(struct wire_moves *w, int64_t t_ns)
{
    say(w, t_ns, 0x03A3, 0x0281, 0, NULL);
}

static void ready(struct wire_moves *w, int64_t t_ns)
{
    say(w, t_ns, 0x05A6, 0x0481, 0, NULL);
}

/* attach 1: on CC1, with an Rp of 3 A; 0: nothing. */
static void show_cc(struct wire_moves *w, int64_t t_ns, uint8_t attach)
{
    uint8_t bytes[32], body[8] = { attach, attach ? 3 : 0, 0xff, 0xff, 0xff, 0xff };

    feed(w, bytes, record_put(bytes, sizeof bytes, RECORD_CC_STATE, PORT, 0, 0, body, sizeof body), t_ns);
}

static void reset(struct wire_moves *w, int64_t t_ns)
{
    uint8_t bytes[32], body[4] = { RECORD_HARD_RESET };

    feed(w, bytes, record_put(bytes, sizeof bytes, RECORD_RESET_SIGNAL, PORT, 0, 500000, body, sizeof body), t_ns);
}

static void assert_move(const struct wire_move *m, enum wire_move_why why, int64_t from_ns, int64_t to_ns, int32_t from_mv, int32_t to_mv)
{
    assert_int_equal(m->why, why);
    assert_int_equal(m->port, PORT);
    assert_int_equal(m->from_ns, from_ns);
    assert_int_equal(m->to_ns, to_ns);
    assert_int_equal(m->from_mv, from_mv);
    assert_int_equal(m->to_mv, to_mv);
    assert_false(m->guessed);
}

static struct wire_moves *begin(struct heard *h)
{
    struct wire_moves *w = wire_moves_new(hear, h);

    assert_non_null(w);
    return w;
}

static void a_plug_brings_5_v_before_the_first_offer_and_a_contract_its_level_before_ps_rdy(void **state)
{
    struct heard       h = { .count = 0 };
    struct wire_moves *w = begin(&h);

    (void)state;
    show_cc(w, 0, 0);
    show_cc(w, MS(1000), 1);
    offer(w, MS(1300));
    ask(w, MS(1305));
    accept(w, MS(1310));
    ready(w, MS(1500));
    show_cc(w, MS(4000), 0);
    wire_moves_end(w);
    assert_int_equal(h.count, 3);
    assert_move(&h.move[0], WIRE_MOVE_ON, MS(1000), MS(1300), 0, 5000);
    assert_move(&h.move[1], WIRE_MOVE_CONTRACT, MS(1310), MS(1500), 5000, 9000);
    /* A pin may part 50 ms before CC shows it, and a capacitor falls within 1.5 s: the rules of thumb of wire_moves.c. */
    assert_move(&h.move[2], WIRE_MOVE_OFF, MS(3950), MS(5500), 9000, 0);
    wire_moves_free(w);
}

static void a_hard_reset_takes_the_level_away_and_the_next_offer_brings_5_v(void **state)
{
    struct heard       h = { .count = 0 };
    struct wire_moves *w = begin(&h);

    (void)state;
    show_cc(w, 0, 0);
    show_cc(w, MS(1000), 1);
    offer(w, MS(1300));
    ask(w, MS(1305));
    accept(w, MS(1310));
    ready(w, MS(1500));
    reset(w, MS(3000));
    offer(w, MS(4100));
    wire_moves_end(w);
    assert_int_equal(h.count, 4);
    assert_move(&h.move[2], WIRE_MOVE_RESET, MS(3000), MS(4500), 9000, 0);
    assert_move(&h.move[3], WIRE_MOVE_ON, MS(3000), MS(4100), 0, 5000);
    wire_moves_free(w);
}

static void a_request_that_is_not_accepted_moves_nothing(void **state)
{
    struct heard       h = { .count = 0 };
    struct wire_moves *w = begin(&h);

    (void)state;
    show_cc(w, 0, 0);
    show_cc(w, MS(1000), 1);
    offer(w, MS(1300));
    ask(w, MS(1305));
    say(w, MS(1310), 0x03A4, 0x0281, 0, NULL); /* Reject */
    wire_moves_end(w);
    assert_int_equal(h.count, 1);
    assert_move(&h.move[0], WIRE_MOVE_ON, MS(1000), MS(1300), 0, 5000);
    wire_moves_free(w);
}

/* CC is not recorded: the first offer of the trace, counted from 0, says that the plug went in at most 525 ms before. */
static void without_cc_an_offer_that_begins_to_count_shows_the_plug(void **state)
{
    struct heard       h = { .count = 0 };
    struct wire_moves *w = begin(&h);

    (void)state;
    offer(w, MS(2000));
    ask(w, MS(2005));
    accept(w, MS(2010));
    ready(w, MS(2200));
    wire_moves_end(w);
    assert_int_equal(h.count, 2);
    assert_move(&h.move[0], WIRE_MOVE_ON, MS(1475), MS(2000), 0, 5000);
    assert_move(&h.move[1], WIRE_MOVE_CONTRACT, MS(2010), MS(2200), 5000, 9000);
    wire_moves_free(w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plug_brings_5_v_before_the_first_offer_and_a_contract_its_level_before_ps_rdy),
        cmocka_unit_test(a_hard_reset_takes_the_level_away_and_the_next_offer_brings_5_v),
        cmocka_unit_test(a_request_that_is_not_accepted_moves_nothing),
        cmocka_unit_test(without_cc_an_offer_that_begins_to_count_shows_the_plug),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
