/* Buffered output: numbers by hand, against printf and against values that can be checked by eye. */
#include "cli/options.h"
#include "cli/out.h"
#include "tests/cli/program.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Never written anywhere: what is in the buffer is looked at. */
static struct out *memory_out(void)
{
    struct out *o = calloc(1, sizeof *o);

    assert_non_null(o);
    o->fd = -1;
    return o;
}

static const char *taken(struct out *o)
{
    o->buffer[o->used] = '\0';
    o->used = o->line = o->escapes = 0;
    return o->buffer;
}

static void integers_come_out_as_printf_writes_them(void **state)
{
    static const int64_t values[] = { 0, 1, 9, 10, 99, 100, 101, 12345, -1, -100, INT64_MAX, INT64_MIN, 9007199254740993 };
    struct out *o = memory_out();
    char        expected[40];

    (void)state;
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        out_i64(o, values[i]);
        snprintf(expected, sizeof expected, "%" PRId64, values[i]);
        assert_string_equal(taken(o), expected);
        out_u64_wide(o, (uint64_t)values[i], 12);
        snprintf(expected, sizeof expected, "%12" PRIu64, (uint64_t)values[i]);
        assert_string_equal(taken(o), expected);
    }
    free(o);
}

static void decimals_are_rounded_half_away_from_zero(void **state)
{
    struct out *o = memory_out();

    (void)state;
    out_fixed(o, 12345, 3, 2, 0);
    assert_string_equal(taken(o), "12.35");
    out_fixed(o, -12345, 3, 2, 8);
    assert_string_equal(taken(o), "  -12.35");
    out_fixed(o, 5, 3, 2, 0);
    assert_string_equal(taken(o), "0.01");
    out_fixed(o, -4, 3, 2, 0);
    assert_string_equal(taken(o), "0.00");
    out_fixed(o, INT64_MIN, 9, 9, 0);
    assert_string_equal(taken(o), "-9223372036.854775808");
    free(o);
}

static void short_numbers_have_no_zeros_at_their_end(void **state)
{
    struct out *o = memory_out();

    (void)state;
    out_short(o, 5000, 3);
    assert_string_equal(taken(o), "5");
    out_short(o, 3250, 3);
    assert_string_equal(taken(o), "3.25");
    out_short(o, -20, 3);
    assert_string_equal(taken(o), "-0.02");
    out_short(o, 0, 3);
    assert_string_equal(taken(o), "0");
    free(o);
}

static void spans_keep_their_seven_places(void **state)
{
    static const struct { int64_t ns; const char *text; } spans[] = {
        { 0, "0.00 us" }, { 850, "0.85 us" }, { 9460, "9.46 us" }, { 94600, "94.6 us" }, { 850000, " 850 us" },
        { 1240000, "1.24 ms" }, { 38050000, "38.1 ms" }, { 219000000, " 219 ms" }, { 1500000000, "1.50 s " },
        { 12345000000, "12.3 s " }, { 3600000000000, "3600 s " },
    };
    struct out *o = memory_out();

    (void)state;
    for (size_t i = 0; i < sizeof spans / sizeof spans[0]; i++) {
        out_span(o, spans[i].ns);
        assert_string_equal(taken(o), spans[i].text);
        assert_int_equal(strlen(spans[i].text), 7);
    }
    free(o);
}

static void seconds_have_six_decimals(void **state)
{
    struct out *o = memory_out();

    (void)state;
    out_seconds(o, 1200345499, 10);
    assert_string_equal(taken(o), "  1.200345");
    out_seconds(o, -1500, 10);
    assert_string_equal(taken(o), " -0.000002");
    free(o);
}

static void control_characters_from_a_trace_never_reach_the_screen(void **state)
{
    static const char text[] = "a\033[2J\xc2\x9b" "b\xff\xc3\xa9";
    struct out *o = memory_out();

    (void)state;
    out_clean(o, text, sizeof text - 1);
    assert_string_equal(taken(o), "a\\x1b[2J\\xc2\\x9bb\\xff\xc3\xa9");
    free(o);
}

static void text_is_cut_and_filled_by_characters_not_bytes(void **state)
{
    struct out *o = memory_out();

    (void)state;
    out_clean_wide(o, "\xc3\xa9\xc3\xa9\xc3\xa9", 6, 2);
    assert_string_equal(taken(o), "\xc3\xa9\xc3\xa9");
    out_clean_wide(o, "\xc3\xa9", 2, 3);
    assert_string_equal(taken(o), "\xc3\xa9  ");
    free(o);
}

static void an_item_that_runs_over_the_line_goes_below(void **state)
{
    struct out *o = memory_out();

    (void)state;
    out_spaces(o, 90);
    out_text(o, "first");
    size_t item = out_item(o);

    out_text(o, ", second item");
    out_item_end(o, item, 4);
    const char *text = taken(o);

    assert_string_equal(text + 90, "first,\n    second item");
    free(o);
}

static void colour_takes_no_room(void **state)
{
    struct out *o = memory_out();

    (void)state;
    o->color = true;
    out_style(o, OUT_BAD);
    out_text(o, "x");
    out_style(o, OUT_PLAIN);
    assert_int_equal(out_place(o), 1);
    out_column(o, 5);
    assert_int_equal(out_place(o), 5);
    free(o);
}

static void a_write_that_fails_is_remembered(void **state)
{
    struct out *o = memory_out(); /* fd -1: writing cannot go well */

    (void)state;
    out_text(o, "lost");
    assert_false(out_gone(o));
    out_flush(o);
    assert_true(out_gone(o));
    free(o);
}

static void more_than_the_buffer_holds_is_written_whole(void **state)
{
    struct options options = { .color = COLOR_NEVER, .output_path = file_path("large") };
    struct out    *o = out_open(&options);
    char           text[200001];

    (void)state;
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    assert_non_null(o);
    out_bytes(o, text, sizeof text - 1);
    assert_true(out_close(o));
    FILE *f = fopen(file_path("large"), "rb");

    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    assert_int_equal(ftell(f), 200000);
    fclose(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(integers_come_out_as_printf_writes_them),
        cmocka_unit_test(decimals_are_rounded_half_away_from_zero),
        cmocka_unit_test(short_numbers_have_no_zeros_at_their_end),
        cmocka_unit_test(spans_keep_their_seven_places),
        cmocka_unit_test(seconds_have_six_decimals),
        cmocka_unit_test(control_characters_from_a_trace_never_reach_the_screen),
        cmocka_unit_test(text_is_cut_and_filled_by_characters_not_bytes),
        cmocka_unit_test(an_item_that_runs_over_the_line_goes_below),
        cmocka_unit_test(colour_takes_no_room),
        cmocka_unit_test(a_write_that_fails_is_remembered),
        cmocka_unit_test(more_than_the_buffer_holds_is_written_whole),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
