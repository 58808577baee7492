/* How frames end: as they should, with something wrong, cut, or never. */
#include "tests/decode/bmc_heard.h"

#include "decode/line_code.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void the_transmitters_last_changes_neither_lengthen_a_packet_nor_make_another(void **state)
{
    (void)state;
    /* ends with a change; then pulled low one cell later; no change at the end; a change a cell and a half, three, or 20 cells later */
    static const double later[] = { 0, 0, 0, 1.5, 3, 20 };

    for (unsigned k = 0; k < LENGTH(later) * 2 * 2; k++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(k % 4 / 2 ? WAVE_CABLE_RESET : WAVE_SOP, goodcrc, sizeof goodcrc);
        unsigned           way = k / 4;
        struct wave_truth  t;

        p.no_last_change = way >= 2;
        p.hold_low = way == 1;
        wave_begin(&w, k % 2);
        wave_wait(&w, 50 * us);
        t = wave_send(&w, &p);
        wave_wait(&w, later[way] * cell_ps);
        if (later[way] > 0)
            wave_change(&w);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, BMC_EOP);
        assert_true(h.frames[0].reset || h.frames[0].crc_good);
        assert_near((double)h.frames[0].span_parts / BMC_PARTS, (t.end_ps - t.start_ps) / plain.tick_ps, 1.5);
    }
}

static void a_frame_with_a_wrong_crc_is_handed_over(void **state)
{
    (void)state;
    uint8_t            bytes[6] = { 0x01, 0x09, 0x28, 0x13, 0xC5, 0x2F };
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, sizeof bytes);

    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_int_equal(h.frames[0].end, BMC_EOP);
    assert_false(h.frames[0].crc_good);
    assert_int_equal(h.frames[0].length, 6);
    assert_memory_equal(h.frames[0].bytes, bytes, 6);
}

static void one_bad_symbol(size_t at, const char *symbol, bool reserved)
{
    uint8_t            bytes[16];
    size_t             length = request(bytes);
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);

    p.bad_symbol_at = at;
    p.bad_symbol = symbol;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    wave_wait(&w, 40 * us);
    one_packet(&w, WAVE_SOP);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 2);
    assert_int_equal(h.frames[0].end, BMC_BAD_SYMBOL);
    assert_int_equal(h.frames[0].reserved_symbol, reserved);
    assert_int_equal(h.frames[0].length, at / 2);
    assert_memory_equal(h.frames[0].bytes, bytes, at / 2);
    assert_int_equal(h.frames[0].bits, 64 + 20 + 5 * (at + 1));
    assert_is(&h, 1, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[1].gap_parts, -1);
}

static void a_frame_ends_with_a_symbol_that_has_no_place_and_tells_what_was_before_it(void **state)
{
    (void)state;
    for (size_t at = 0; at <= 20; at++) {
        one_bad_symbol(at, "00001", true);
        one_bad_symbol(at, "11111", true);
        one_bad_symbol(at, "11000", false);
    }
}

static void an_eop_in_the_midst_of_a_packet_ends_it_with_its_whole_bytes(void **state)
{
    (void)state;
    for (size_t at = 0; at < 20; at++) {
        uint8_t            bytes[16];
        size_t             length = request(bytes);
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);

        p.bad_symbol_at = at;
        p.bad_symbol = "01101";
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, BMC_EOP);
        assert_int_equal(h.frames[0].length, at / 2);
        assert_false(h.frames[0].crc_good);
    }
}

static void a_packet_without_eop_ends_by_silence_and_its_crc_may_be_good(void **state)
{
    (void)state;
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

    p.no_eop = true;
    p.hold_low = false;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_int_equal(h.frames[0].end, BMC_NO_EOP);
    assert_true(h.frames[0].crc_good);
    assert_int_equal(h.frames[0].bits, 64 + 20 + 60);
}

static void a_packet_that_is_cut_anywhere_is_handed_over_as_far_as_it_goes(void **state)
{
    (void)state;
    uint8_t bytes[16];
    size_t  length = request(bytes);

    for (unsigned cells = 1; cells < 64 + 20 + 100 + 5; cells++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        unsigned           symbols = cells > 84 ? (cells - 84) / 5 : 0;

        wave_begin(&w, cells % 2);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        wave_cut(&w, 50 * us + (cells + 0.1) * cell_ps); /* its last change ends that cell */
        wave_wait(&w, 40 * us);
        one_packet(&w, WAVE_SOP);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, cells >= 83 ? 2 : 1); /* the last bit of SOP is a 1: its second half alone is enough */
        assert_is(&h, h.count - 1, WAVE_SOP, goodcrc, sizeof goodcrc);
        if (h.count == 1)
            continue;
        assert_int_equal(h.frames[0].end, cells == 188 ? BMC_EOP : BMC_NO_EOP);
        assert_int_equal(h.frames[0].length, symbols / 2);
        assert_memory_equal(h.frames[0].bytes, bytes, symbols / 2);
    }
}

static void a_hole_in_a_packet_ends_it_and_the_packet_after_is_read(void **state)
{
    (void)state;
    for (unsigned cut = 0; cut < 200; cut += 3) { /* changes that are seen of it */
        struct bmc_options o = { .tick_ps = plain.tick_ps };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, heard_take, &h);
        struct wave        w;
        struct wave_ticks  t;
        size_t             seen = 0;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        for (unsigned k = 0; k < 3; k++) {
            one_packet(&w, WAVE_SOP);
            wave_wait(&w, 40 * us);
            seen = k == 0 ? w.count + cut : seen;
        }
        t = wave_see(&w, &plain);
        bmc_take(b, t.at, seen, t.level);
        bmc_broken(b, t.at[seen + 10] - 1);
        bmc_take(b, t.at + seen + 10, t.count - seen - 10, t.level != ((seen + 10) % 2 != 0));
        bmc_finish(b);
        assert_in_range(h.count, 2, 3);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_is(&h, h.count - 1, WAVE_SOP, goodcrc, sizeof goodcrc);
        if (h.count == 3 && h.frames[1].end != BMC_EOP) {
            assert_int_equal(h.frames[1].end, BMC_NO_EOP);
            assert_false(h.frames[1].crc_good);
        } else if (h.count == 3) {
            assert_int_equal(h.frames[1].gap_parts, -1); /* the hole was in its preamble */
            assert_true(h.frames[1].preamble_bits < 64 && !h.frames[1].preamble_whole);
        }
        bmc_free(b);
        free(t.at);
        wave_free(&w);
    }
}

static void a_packet_longer_than_any_ends_where_it_is_too_long(void **state)
{
    (void)state;
    uint8_t bytes[400];

    for (size_t length = BMC_BYTES_MAX - 1; length < sizeof bytes; length += length < 272 ? 1 : 100) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        bool               fits = length <= BMC_BYTES_MAX;

        for (size_t k = 0; k < length; k++)
            bytes[k] = (uint8_t)(k * 3 + 7);
        (void)wave_crc_add(bytes, length - 4);
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_int_equal(h.count, 1);
        assert_int_equal(h.frames[0].end, fits ? BMC_EOP : BMC_TOO_LONG);
        assert_int_equal(h.frames[0].crc_good, fits);
        assert_int_equal(h.frames[0].length, fits ? length : BMC_BYTES_MAX);
        assert_memory_equal(h.frames[0].bytes, bytes, h.frames[0].length);
    }
}

static void a_carrier_without_end_is_no_packet_and_the_packet_after_it_is_read(void **state)
{
    (void)state;
    struct heard       h;
    struct wave        w;
    struct wave_packet p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);

    p.preamble_bits = 200000;
    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    (void)wave_send(&w, &p);
    wave_cut(&w, 50 * us + 199999.5 * cell_ps);
    wave_wait(&w, 30 * us);
    one_packet(&w, WAVE_SOP);
    listen_plainly(&h, &w);
    assert_int_equal(h.count, 1);
    assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[0].preamble_bits, 64);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_transmitters_last_changes_neither_lengthen_a_packet_nor_make_another),
        cmocka_unit_test(a_frame_with_a_wrong_crc_is_handed_over),
        cmocka_unit_test(a_frame_ends_with_a_symbol_that_has_no_place_and_tells_what_was_before_it),
        cmocka_unit_test(an_eop_in_the_midst_of_a_packet_ends_it_with_its_whole_bytes),
        cmocka_unit_test(a_packet_without_eop_ends_by_silence_and_its_crc_may_be_good),
        cmocka_unit_test(a_packet_that_is_cut_anywhere_is_handed_over_as_far_as_it_goes),
        cmocka_unit_test(a_hole_in_a_packet_ends_it_and_the_packet_after_is_read),
        cmocka_unit_test(a_packet_longer_than_any_ends_where_it_is_too_long),
        cmocka_unit_test(a_carrier_without_end_is_no_packet_and_the_packet_after_it_is_read),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
