/* Every kind of record, sound and damaged in each way; expectations typed from traces/FORMAT.md, sections 2 to 4. */
#include "tests/capture/made.h"

#include <stdlib.h>
#include <string.h>

static struct made current; /* bytes of the record that was read last */

static struct record read_hex(const char *hex, bool cut)
{
    struct record r;

    made_free(&current);
    made_hex(&current, hex);
    memset(&r, 0xAA, sizeof r); /* whatever is not filled shows */
    record_read(current.bytes, current.length, cut, 5000, 7, &r);
    return r;
}

/* version kind port flags duration, then the body */
#define HEAD(kind, port) "01" kind port "00 00000000"

static const struct { const char *what, *hex; enum record_soundness soundness; enum record_why why; } cases_all[] = {
    { "no byte at all", "", RECORD_UNREADABLE, RECORD_WHY_SHORT_HEADER },
    { "seven bytes", "01 01 00 00 000000", RECORD_UNREADABLE, RECORD_WHY_SHORT_HEADER },
    { "version 0", "00 01 00 00 00000000 00000000 a1210000 0000", RECORD_UNREADABLE, RECORD_WHY_VERSION },
    { "version 2", "02 01 00 00 00000000 00000000 a1210000 0000", RECORD_UNREADABLE, RECORD_WHY_VERSION },
    { "kind 0", HEAD("00", "00"), RECORD_UNKNOWN, RECORD_WHY_KIND },
    { "kind 0x0a", HEAD("0a", "00"), RECORD_UNKNOWN, RECORD_WHY_KIND },
    { "kind 0x7f", HEAD("7f", "00"), RECORD_UNKNOWN, RECORD_WHY_KIND },
    { "kind 0x80", HEAD("80", "00"), RECORD_UNKNOWN, RECORD_WHY_PRIVATE },
    { "kind 0xff", HEAD("ff", "00"), RECORD_UNKNOWN, RECORD_WHY_PRIVATE },

    { "packet of header and CRC", HEAD("01", "00") "00 00 0000 4106 01020304", RECORD_SOUND, RECORD_WHY_NONE },
    { "packet on port 254", HEAD("01", "fe") "04 00 0000 4106 01020304", RECORD_SOUND, RECORD_WHY_NONE },
    { "packet without its zero", HEAD("01", "00") "00 00 00", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "packet of five bytes", HEAD("01", "00") "00 00 0000 4106 010203", RECORD_DAMAGED, RECORD_WHY_SHORT_PACKET },
    { "packet of five bytes, truncated", HEAD("01", "00") "00 02 0000 4106 010203", RECORD_SOUND, RECORD_WHY_NONE },
    { "packet of no byte, truncated", HEAD("01", "00") "00 02 0000", RECORD_SOUND, RECORD_WHY_NONE },
    { "packet of two bytes without CRC", HEAD("01", "00") "00 04 0000 4106", RECORD_SOUND, RECORD_WHY_NONE },
    { "packet of one byte without CRC", HEAD("01", "00") "00 04 0000 41", RECORD_DAMAGED, RECORD_WHY_SHORT_PACKET },
    { "packet with unknown bits and non-zero zeros", HEAD("01", "00") "00 f8 ffff 4106 01020304", RECORD_SOUND, RECORD_WHY_NONE },
    { "ordered set 5", HEAD("01", "00") "05 00 0000 4106 01020304", RECORD_DAMAGED, RECORD_WHY_ORDERED_SET },
    { "packet of the bench", HEAD("01", "ff") "00 00 0000 4106 01020304", RECORD_DAMAGED, RECORD_WHY_PORT },

    { "hard reset", HEAD("02", "00") "00 000000", RECORD_SOUND, RECORD_WHY_NONE },
    { "cable reset, more bytes behind", HEAD("02", "00") "01 000000 77", RECORD_SOUND, RECORD_WHY_NONE },
    { "reset 2", HEAD("02", "00") "02 000000", RECORD_DAMAGED, RECORD_WHY_RESET },
    { "reset of three bytes", HEAD("02", "00") "00 0000", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "reset of the bench", HEAD("02", "ff") "00 000000", RECORD_DAMAGED, RECORD_WHY_PORT },

    { "power, one row of one column", HEAD("03", "00") "00000000 0100 01 00 404b4c00", RECORD_SOUND, RECORD_WHY_NONE },
    { "power of the bench", HEAD("03", "ff") "00000000 0100 01 00 404b4c00", RECORD_SOUND, RECORD_WHY_NONE },
    { "power without a row", HEAD("03", "00") "40420f00 0000 01 00", RECORD_DAMAGED, RECORD_WHY_ROWS },
    { "power without a column", HEAD("03", "00") "40420f00 0100 00 00 404b4c00", RECORD_DAMAGED, RECORD_WHY_COLUMNS },
    { "power with a fourth column", HEAD("03", "00") "40420f00 0100 08 00 404b4c00", RECORD_DAMAGED, RECORD_WHY_COLUMNS },
    { "power with an eighth column", HEAD("03", "00") "40420f00 0100 81 00 404b4c00", RECORD_DAMAGED, RECORD_WHY_COLUMNS },
    { "power, two rows at once", HEAD("03", "00") "00000000 0200 01 00 404b4c00 404b4c00", RECORD_DAMAGED, RECORD_WHY_INTERVAL },
    { "power, a row short", HEAD("03", "00") "40420f00 0200 01 00 404b4c00", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "power, a byte short", HEAD("03", "00") "40420f00 0100 03 00 404b4c00 000000", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "power, head alone, a byte short", HEAD("03", "00") "40420f00 0100 03", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },

    { "CC state", HEAD("04", "00") "04 03 ffff ffff 0000", RECORD_SOUND, RECORD_WHY_NONE },
    { "CC attach 5", HEAD("04", "00") "05 03 ffff ffff 0000", RECORD_DAMAGED, RECORD_WHY_ATTACH },
    { "CC rp 4", HEAD("04", "00") "04 04 ffff ffff 0000", RECORD_DAMAGED, RECORD_WHY_RP },
    { "CC of seven bytes", HEAD("04", "00") "04 03 ffff ffff 00", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "CC of the bench", HEAD("04", "ff") "04 03 ffff ffff 0000", RECORD_DAMAGED, RECORD_WHY_PORT },

    { "mark without text", HEAD("05", "ff") "06 ff 0000 00000000", RECORD_SOUND, RECORD_WHY_NONE },
    { "mark with text", HEAD("05", "ff") "00 ff 0000 00000000 c3a9", RECORD_SOUND, RECORD_WHY_NONE },
    { "mark, action 7", HEAD("05", "ff") "07 ff 0000 00000000", RECORD_DAMAGED, RECORD_WHY_ACTION },
    { "mark of seven bytes", HEAD("05", "ff") "06 ff 0000 000000", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "mark, half a character", HEAD("05", "ff") "00 ff 0000 00000000 c3", RECORD_DAMAGED, RECORD_WHY_UTF8 },

    { "lost", HEAD("06", "ff") "ffffffff 03000000", RECORD_SOUND, RECORD_WHY_NONE },
    { "lost at place 4", HEAD("06", "ff") "01000000 04000000", RECORD_DAMAGED, RECORD_WHY_WHERE },
    { "lost at place 256", HEAD("06", "ff") "01000000 00010000", RECORD_DAMAGED, RECORD_WHY_WHERE },
    { "lost of seven bytes", HEAD("06", "ff") "01000000 000000", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },

    { "temperature", HEAD("07", "ff") "09 000000 127a0000", RECORD_SOUND, RECORD_WHY_NONE },
    { "temperature of seven bytes", HEAD("07", "ff") "09 000000 127a00", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
    { "temperature, label FF", HEAD("07", "ff") "09 000000 127a0000 ff", RECORD_DAMAGED, RECORD_WHY_UTF8 },

    { "about {}", HEAD("08", "ff") "7b7d", RECORD_SOUND, RECORD_WHY_NONE },
    { "about nothing", HEAD("08", "ff"), RECORD_DAMAGED, RECORD_WHY_JSON },
    { "about []", HEAD("08", "ff") "5b5d", RECORD_DAMAGED, RECORD_WHY_JSON },
    { "about {}{}", HEAD("08", "ff") "7b7d7b7d", RECORD_DAMAGED, RECORD_WHY_JSON },
    { "about a string of FF", HEAD("08", "ff") "7b2261223a22ff227d", RECORD_DAMAGED, RECORD_WHY_UTF8 },

    { "edges", HEAD("09", "00") "8d200000 01 000000 b002 50", RECORD_SOUND, RECORD_WHY_NONE },
    { "edges without an edge", HEAD("09", "00") "8d200000 01 000000", RECORD_SOUND, RECORD_WHY_NONE },
    { "edges, level 2", HEAD("09", "00") "8d200000 02 000000 50", RECORD_DAMAGED, RECORD_WHY_LEVEL },
    { "edges, tick 0", HEAD("09", "00") "00000000 01 000000 50", RECORD_DAMAGED, RECORD_WHY_TICK },
    { "edges, number breaks off", HEAD("09", "00") "8d200000 01 000000 50 b0", RECORD_DAMAGED, RECORD_WHY_LEB128 },
    { "edges, 2 to the 64th less 1", HEAD("09", "00") "8d200000 01 000000 ffffffffffffffffff01", RECORD_SOUND, RECORD_WHY_NONE },
    { "edges, 2 to the 64th", HEAD("09", "00") "8d200000 01 000000 80808080808080808002", RECORD_DAMAGED, RECORD_WHY_LEB128 },
    { "edges, a number of 11 bytes", HEAD("09", "00") "8d200000 01 000000 8080808080808080808000", RECORD_DAMAGED, RECORD_WHY_LEB128 },
    { "edges of seven bytes", HEAD("09", "00") "8d200000 01 0000", RECORD_DAMAGED, RECORD_WHY_SHORT_BODY },
};

static void each_record_is_sound_or_says_what_is_wrong_with_it(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases_all / sizeof cases_all[0]; i++) {
        struct record r = read_hex(cases_all[i].hex, false);

        if (r.soundness != cases_all[i].soundness || r.why != cases_all[i].why)
            fail_msg("%s: soundness %d, why %d", cases_all[i].what, r.soundness, r.why);
        assert_int_equal(r.frame, 7);
        assert_int_equal(r.t_ns, 5000);
        assert_int_equal(r.length, current.length);
    }
}

static void a_record_captured_shorter_than_it_was_is_damaged(void **state)
{
    (void)state;
    struct record r = read_hex(HEAD("02", "00") "00 000000", true);

    assert_int_equal(r.soundness, RECORD_DAMAGED);
    assert_int_equal(r.why, RECORD_WHY_CUT);
}

static void a_record_of_65536_bytes_is_damaged_and_one_of_65535_is_not(void **state)
{
    (void)state;
    uint8_t      *bytes = calloc(1, 65536);
    struct record r;

    assert_non_null(bytes);
    memcpy(bytes, "\x01\x02\x00\x00", 4); /* a Hard Reset with a long tail of a later version */
    record_read(bytes, 65535, false, 0, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    record_read(bytes, 65536, false, 0, 1, &r);
    assert_int_equal(r.soundness, RECORD_DAMAGED);
    assert_int_equal(r.why, RECORD_WHY_LONG);
    free(bytes);
}

static void every_field_stands_where_the_format_puts_it(void **state)
{
    (void)state;
    struct record r = read_hex("01 01 03 04 c5a50b00 02 05 0000 a1212c910108", false);

    assert_int_equal(r.port, 3);
    assert_int_equal(r.flags, RECORD_INVENTED);
    assert_int_equal(r.duration_ns, 763333);
    assert_int_equal(r.packet.set, 2);
    assert_int_equal(r.packet.state, RECORD_CRC_BAD | RECORD_NO_CRC);
    assert_int_equal(r.packet.length, 6);
    assert_memory_equal(r.packet.bytes, "\xa1\x21\x2c\x91\x01\x08", 6);

    r = read_hex("01 04 01 00 00000000 02 03 7206 ffff 0000", false);
    assert_int_equal(r.cc.attach, 2);
    assert_int_equal(r.cc.rp, 3);
    assert_int_equal(r.cc.cc1_mv, 1650);
    assert_int_equal(r.cc.cc2_mv, 0xFFFF);

    r = read_hex("01 05 ff 00 00000000 03 01 0000 dc050000 6162", false);
    assert_int_equal(r.mark.action, RECORD_LOAD_SET);
    assert_int_equal(r.mark.subject, 1);
    assert_int_equal(r.mark.value, 1500);
    assert_int_equal(r.mark.length, 2);
    assert_memory_equal(r.mark.text, "ab", 2);

    r = read_hex("01 06 01 00 00000000 2a000000 02000000", false);
    assert_int_equal(r.lost.count, 42);
    assert_int_equal(r.lost.where, 2);

    r = read_hex("01 07 01 00 00000000 09 000000 1efbffff 6f7574", false);
    assert_int_equal(r.temperature.probe, 9);
    assert_int_equal(r.temperature.mc, -1250);
    assert_memory_equal(r.temperature.label, "out", 3);

    r = read_hex("01 09 01 00 00000000 8d200000 01 000000 b00250", false);
    assert_int_equal(r.edges.tick_ps, 8333);
    assert_int_equal(r.edges.level, 1);
    assert_int_equal(r.edges.length, 3);
}

static void cells_of_a_power_record_stand_row_by_row_in_bit_order(void **state)
{
    (void)state;
    /* columns VBUS and VCONN, 1 ms apart: (5 V, -1 uV), (no reading, 3.3 V) */
    struct record r = read_hex("01 03 00 00 00000000 40420f00 0200 05 00 404b4c00 ffffffff 00000080 a05a3200", false);

    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_int_equal(r.power.interval_ns, 1000000);
    assert_int_equal(r.power.rows, 2);
    assert_int_equal(r.power.width, 2);
    assert_int_equal(record_cell(&r, 0, 0), 5000000);
    assert_int_equal(record_cell(&r, 0, 1), -1);
    assert_int_equal(record_cell(&r, 1, 0), RECORD_NO_READING);
    assert_int_equal(record_cell(&r, 1, 1), 3300000);
    assert_int_equal(record_span_ns(&r), 2000000);
}

/* Columns 0.. of rows that count up: column c of row k is 1000 * c + k - 5; worked out by hand. */
static struct record counted(uint8_t *bytes, size_t cap, unsigned rows, unsigned width, unsigned missing_row)
{
    static const uint8_t columns[] = { 0, RECORD_VBUS, RECORD_VBUS | RECORD_IBUS, RECORD_VBUS | RECORD_IBUS | RECORD_VCONN };
    int32_t              cells[3 * 100];
    struct record        r;

    for (unsigned k = 0; k < rows; k++)
        for (unsigned c = 0; c < width; c++)
            cells[k * width + c] = k == missing_row && c == 0 ? RECORD_NO_READING : (int32_t)(1000 * c + k) - 5;
    size_t length = record_put_power(bytes, cap, 0, 0, 0, 1000, (uint16_t)rows, columns[width], cells);

    assert_true(length > 0);
    record_read(bytes, length, false, 0, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    return r;
}

static void many_rows_at_once_are_told_by_column(void **state)
{
    uint8_t bytes[16 + 4 * 3 * 100];

    (void)state;
    for (unsigned width = 1; width <= 3; width++)
        for (unsigned rows = 1; rows <= 100; rows++) {
            struct record       r = counted(bytes, sizeof bytes, rows, width, rows);
            struct record_range volts, amps;
            struct column_sum   sums[RECORD_COLUMNS_MAX];
            int64_t             only[RECORD_COLUMNS_MAX];
            int64_t             first = (int64_t)rows * (rows - 1) / 2 - 5 * (int64_t)rows; /* 0 + 1 + ... less 5 each */

            record_power_ranges(&r, &volts, &amps);
            assert_true(volts.any && volts.all);
            assert_int_equal(volts.least, -5);
            assert_int_equal(volts.greatest, (int)rows - 6);
            assert_int_equal(amps.any, width > 1);
            assert_int_equal(amps.all, width > 1);
            if (width > 1)
                assert_int_equal(amps.greatest, 1000 + (int)rows - 6);
            record_columns(&r, 0, rows, sums);
            record_sums(&r, 0, rows, only);
            for (unsigned c = 0; c < width; c++) {
                assert_int_equal(sums[c].count, rows);
                assert_int_equal(sums[c].least, 1000 * (int)c - 5);
                assert_int_equal(sums[c].sum, first + 1000 * (int64_t)c * rows);
                assert_int_equal(only[c], sums[c].sum);
            }
        }
}

static void a_missing_reading_among_many_rows_counts_for_nothing(void **state)
{
    uint8_t bytes[16 + 4 * 3 * 100];

    (void)state;
    for (unsigned width = 1; width <= 3; width++)
        for (unsigned rows = 2; rows <= 100; rows++) {
            struct record       r = counted(bytes, sizeof bytes, rows, width, rows - 1);
            struct record_range volts, amps;
            struct column_sum   sums[RECORD_COLUMNS_MAX];

            record_power_ranges(&r, &volts, &amps);
            assert_true(volts.any && !volts.all);
            assert_int_equal(volts.least, -5);
            assert_int_equal(volts.greatest, (int)rows - 7);
            assert_int_equal(amps.all, width > 1);
            record_columns(&r, 0, rows, sums);
            assert_int_equal(sums[0].count, rows - 1);
            assert_int_equal(sums[0].greatest, (int)rows - 7);
            if (width > 1)
                assert_int_equal(sums[1].count, rows);
            record_columns(&r, 1, rows - 1, sums); /* those in between */
            assert_int_equal(sums[0].count, rows - 2);
        }
}

static void nominal_lengths_are_those_of_300_kbit_a_second(void **state)
{
    (void)state;
    assert_int_equal(record_nominal_ns(0), 280000);  /* 84 bits */
    assert_int_equal(record_nominal_ns(6), 496667);  /* 64 + 20 + 60 + 5 = 149 bits, 496,666.67 ns */
    assert_int_equal(record_nominal_ns(14), 763333); /* 229 bits, 763,333.33 ns */
}

static void a_length_nobody_measured_is_worked_out(void **state)
{
    (void)state;
    struct record r = read_hex(HEAD("01", "00") "00 00 0000 4106 01020304", false);

    assert_int_equal(record_span_ns(&r), 496667);
    r = read_hex(HEAD("01", "00") "00 04 0000 4106", false); /* the CRC counts though it is left out */
    assert_int_equal(record_span_ns(&r), 496667);
    r = read_hex("01 01 00 00 01000000 00 00 0000 4106 01020304", false);
    assert_int_equal(record_span_ns(&r), 1);
    r = read_hex(HEAD("02", "00") "00 000000", false);
    assert_int_equal(record_span_ns(&r), 280000);
    r = read_hex(HEAD("09", "00") "d0070000 01 000000 e807 01", false); /* 1000 + 1 ticks of 2000 ps */
    assert_int_equal(record_span_ns(&r), 2002);
    r = read_hex(HEAD("05", "00") "00 ff 0000 00000000", false);
    assert_int_equal(record_span_ns(&r), 0);
    r = read_hex(HEAD("03", "00") "40420f00 0000 01 00", false); /* damaged */
    assert_int_equal(record_span_ns(&r), 0);
}

static void the_start_of_a_record_stamped_at_its_end_lies_its_length_before(void **state)
{
    (void)state;
    struct record r;

    made_free(&current);
    made_hex(&current, "01 02 00 02 00000000 00 000000");
    record_read(current.bytes, current.length, false, 1000000, 1, &r);
    assert_int_equal(r.t_ns, 720000);
    assert_int_equal(r.stamp_ns, 1000000);
    assert_int_equal(record_start_ns(current.bytes, current.length, 1000000), 720000);

    made_free(&current);
    made_hex(&current, "01 03 00 02 00000000 40420f00 3200 01 00"); /* 50 rows, 1 ms apart, their cells missing */
    record_read(current.bytes, current.length, false, 60000000, 1, &r);
    assert_int_equal(r.soundness, RECORD_DAMAGED);
    assert_int_equal(r.t_ns, 10000000);
}

static void times_beyond_reason_are_held_at_a_limit_so_that_differences_fit(void **state)
{
    (void)state;
    struct record r;

    made_free(&current);
    made_hex(&current, "01 09 00 02 00000000 ffffffff 01 000000 ffffffffffffffffff01");
    record_read(current.bytes, current.length, false, INT64_MIN, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_int_equal(r.t_ns, -RECORD_TIME_LIMIT);
    assert_int_equal(record_span_ns(&r), RECORD_TIME_LIMIT);
    record_read(current.bytes, current.length, false, INT64_MAX, 1, &r);
    assert_int_equal(r.stamp_ns, RECORD_TIME_LIMIT);
}

static void records_put_together_are_the_bytes_the_format_says(void **state)
{
    (void)state;
    uint8_t       out[64];
    const int32_t cells[] = { 5000000, -1 };
    size_t        n = record_put_packet(out, sizeof out, 3, RECORD_INVENTED, 763333, 2, RECORD_NO_CRC, (const uint8_t *)"\x41\x06", 2);

    assert_int_equal(n, 14);
    assert_memory_equal(out, "\x01\x01\x03\x04\xc5\xa5\x0b\x00\x02\x04\x00\x00\x41\x06", 14);
    n = record_put_power(out, sizeof out, 0, 0, 0, 1000000, 1, RECORD_VBUS | RECORD_IBUS, cells);
    assert_int_equal(n, 24);
    assert_memory_equal(out, "\x01\x03\x00\x00\x00\x00\x00\x00\x40\x42\x0f\x00\x01\x00\x03\x00\x40\x4b\x4c\x00\xff\xff\xff\xff", 24);
    assert_int_equal(record_put_power(out, 23, 0, 0, 0, 1000000, 1, RECORD_VBUS | RECORD_IBUS, cells), 0);
    assert_int_equal(record_put(out, 8, RECORD_ABOUT, 255, 0, 0, (const uint8_t *)"{}", 2), 0);
    assert_int_equal(record_put(out, 10, RECORD_ABOUT, 255, 0, 0, (const uint8_t *)"{}", 2), 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_record_is_sound_or_says_what_is_wrong_with_it),
        cmocka_unit_test(a_record_captured_shorter_than_it_was_is_damaged),
        cmocka_unit_test(a_record_of_65536_bytes_is_damaged_and_one_of_65535_is_not),
        cmocka_unit_test(every_field_stands_where_the_format_puts_it),
        cmocka_unit_test(cells_of_a_power_record_stand_row_by_row_in_bit_order),
        cmocka_unit_test(many_rows_at_once_are_told_by_column),
        cmocka_unit_test(a_missing_reading_among_many_rows_counts_for_nothing),
        cmocka_unit_test(nominal_lengths_are_those_of_300_kbit_a_second),
        cmocka_unit_test(a_length_nobody_measured_is_worked_out),
        cmocka_unit_test(the_start_of_a_record_stamped_at_its_end_lies_its_length_before),
        cmocka_unit_test(times_beyond_reason_are_held_at_a_limit_so_that_differences_fit),
        cmocka_unit_test(records_put_together_are_the_bytes_the_format_says),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);

    made_free(&current);
    return failed;
}
