/* Value change dumps: what IEEE 1364-2005, clause 18, says of them, small files written by hand from its syntax. */
#include "tests/capture/cc_heard.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#define HEAD "$timescale 1 ns $end\n$scope module top $end\n$var wire 1 ! cc1 $end\n$upscope $end\n$enddefinitions $end\n"
#define HEAD_TWO "$timescale 1 ns $end\n$scope module top $end\n$var wire 1 ! cc1 $end\n$var wire 1 \" cc2 $end\n$upscope $end\n$enddefinitions $end\n"

static struct cc_options asking(const char *first, const char *second)
{
    return (struct cc_options){ .names = { first, second }, .lines = second ? 2 : 1 };
}

static void hear(const char *text, struct cc_options options, struct heard *h)
{
    heard_same(&cc_vcd_kind, text, strlen(text), options, h);
}

static struct fault refused(const char *text, struct cc_options options)
{
    return heard_fault(&cc_vcd_kind, text, strlen(text), options);
}

static void changes_of_level_come_with_their_times(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0\n$dumpvars\n0!\n$end\n#10\n1!\n#25\n0!\n#1234567890123\n1!\n#1234567890200\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 25 1234567890123 until 1234567890200");
    assert_int_equal(h.notices, 0);
    assert_true(h.tick.ps == 1000 * h.tick.per);
}

/* 18.2.3.5: 1, 10 or 100 of s, ms, us, ns, ps or fs. */
static void every_timescale_of_the_standard_is_known(void **state)
{
    (void)state;
    static const struct { const char *words; int64_t ticks, ns; uint32_t ps; } scales[] = {
        { "1 s", 3, 3000000000, UINT32_MAX }, { "10 s", 1, 10000000000, UINT32_MAX }, { "100 s", 1, 100000000000, UINT32_MAX },
        { "1 ms", 5, 5000000, 1000000000 }, { "10ms", 5, 50000000, UINT32_MAX }, { "1us", 7, 7000, 1000000 }, { "100 us", 7, 700000, 100000000 },
        { "1 ns", 7, 7, 1000 }, { "10 ns", 7, 70, 10000 }, { "100\nns", 7, 700, 100000 }, { "1ps", 1499, 1, 1 }, { "10 ps", 150, 2, 10 },
        { "100 ps", 14, 1, 100 }, { "1 fs", 2500000, 3, 1 }, { "10 fs", 140000, 1, 1 }, { "100 fs", 10000, 1, 1 },
    };
    for (size_t k = 0; k < sizeof scales / sizeof scales[0]; k++) {
        struct heard h;
        char         text[200];

        snprintf(text, sizeof text, "$timescale %s $end $var wire 1 ! cc $end $enddefinitions $end\n#0 0! #1 1!\n", scales[k].words);
        hear(text, asking(NULL, NULL), &h);
        assert_true(cc_ticks_ns(h.tick, scales[k].ticks) == scales[k].ns);
        assert_true(cc_ticks_ns(h.tick, -scales[k].ticks) == -scales[k].ns);
        assert_int_equal(cc_tick_ps(h.tick), scales[k].ps);
    }
}

static void a_timescale_that_is_none_is_refused_with_its_line(void **state)
{
    (void)state;
    static const char *const words[] = { "5 ns", "1 min", "ns", "1", "1000 ps", "-1 ns", "1 NS", "" };

    for (size_t k = 0; k < sizeof words / sizeof words[0]; k++) {
        char text[200];

        snprintf(text, sizeof text, "$version x $end\n$timescale %s $end\n$var wire 1 ! cc $end $enddefinitions $end\n#0 0!\n", words[k]);
        struct fault f = refused(text, asking(NULL, NULL));

        assert_int_equal(f.code, FAULT_FORMAT);
        assert_int_equal(f.number, 2);
    }
}

static void without_a_timescale_the_rate_has_to_be_given(void **state)
{
    (void)state;
    const char       *text = "$var wire 1 ! cc $end $enddefinitions $end\n#0 0! #24 1! #48\n";
    struct cc_options options = asking(NULL, NULL);
    struct heard      h;

    assert_int_equal(refused(text, options).code, FAULT_FORMAT);
    options.rate_hz = 24e6;
    hear(text, options, &h);
    assert_true(cc_ticks_ns(h.tick, 24) == 1000);
    options.rate_hz = -1;
    assert_int_equal(refused(text, options).code, FAULT_RATE);
}

static const char scopes[] =
    "$comment made by hand $end\n$date today $end\n$version 1 $end\n$timescale 10 ns $end\n"
    "$scope module top $end\n"
    "$scope module probe $end $var wire 1 a cc1 $end $var reg 1 b! cc2 $end $var wire 8 c bus [7:0] $end $upscope $end\n"
    "$scope begin other $end $var logic 1 #2 cc1 $end $var real 1 r volts $end $var wire 1 same copy $end $var wire 1 a twin $end $upscope $end\n"
    "$upscope $end\n"
    "$var wire 1 ~ data [3] $end\n"
    "$enddefinitions $end\n"
    "#0 $dumpvars 0a 1b! b00000000 c 0#2 r1.5 r 1same 0~ $end\n"
    "#5 1a #6 0b! #7 b1 #2\n#8 r-2.25e3 r b10101010 c 0same\n#9 1~\n#10\n";

static void a_signal_is_chosen_by_its_path_or_the_end_of_it(void **state)
{
    (void)state;
    struct heard h;

    hear(scopes, asking("top.probe.cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "low@0 5 until 10");
    assert_string_equal(h.line[1], "high@0 6 until 10");
    hear(scopes, asking("other.cc1", "top.other.copy"), &h); /* a vector of one bit; an identifier of four characters */
    assert_string_equal(h.line[0], "low@0 7 until 10");
    assert_string_equal(h.line[1], "high@0 8 until 10");
    hear(scopes, asking("data[3]", NULL), &h);
    assert_string_equal(h.line[0], "low@0 9 until 10");
    assert_true(cc_ticks_ns(h.tick, 5) == 50);
}

static void two_names_of_one_identifier_are_two_lines(void **state)
{
    (void)state;
    struct heard h;

    hear(scopes, asking("twin", "probe.cc1"), &h);
    assert_string_equal(h.line[0], "low@0 5 until 10");
    assert_string_equal(h.line[1], "low@0 5 until 10");
}

static void what_is_missing_or_ambiguous_is_answered_with_what_there_is(void **state)
{
    (void)state;
    struct fault f = refused(scopes, asking("probe.cc2", "cc3"));

    assert_int_equal(f.code, FAULT_NOT_THERE);
    assert_int_equal(f.number, 1);
    assert_string_equal(f.detail, "top.probe.cc1, top.probe.cc2, top.other.cc1, top.other.copy, top.other.twin, data[3]");
    f = refused(scopes, asking("cc1", NULL));
    assert_int_equal(f.code, FAULT_AMBIGUOUS);
    assert_string_equal(f.detail, "top.probe.cc1, top.other.cc1");
    f = refused(scopes, asking(NULL, NULL));
    assert_int_equal(f.code, FAULT_AMBIGUOUS);
    assert_non_null(strstr(f.detail, "top.probe.cc2"));
    f = refused(scopes, asking("bus[7:0]", NULL)); /* there, but eight bits wide */
    assert_int_equal(f.code, FAULT_NOT_THERE);
    assert_non_null(strstr(f.detail, ", each of one bit"));
    f = refused(scopes, asking("volts", NULL)); /* no level */
    assert_int_equal(f.code, FAULT_NOT_THERE);
    f = refused(scopes, asking("c1", NULL)); /* a part of a part is no name */
    assert_int_equal(f.code, FAULT_NOT_THERE);
    f = refused(scopes, asking("", NULL));
    assert_int_equal(f.code, FAULT_NOT_THERE);
    f = refused("$timescale 1 ns $end $enddefinitions $end #0", asking(NULL, NULL));
    assert_int_equal(f.code, FAULT_NOT_THERE);
    assert_string_equal(f.detail, "no signal of one bit");
}

static void the_whole_path_outdoes_the_end_of_another(void **state)
{
    (void)state;
    struct heard h;

    hear("$timescale 1 us $end $scope module a $end $var wire 1 ! cc $end $upscope $end $var wire 1 \" cc $end $enddefinitions $end\n"
         "#0 0! 1\" #3 1! #4 0\" #5\n",
         asking("cc", NULL), &h);
    assert_string_equal(h.line[0], "high@0 4 until 5");
}

static void a_list_that_is_long_says_how_many_are_left_out(void **state)
{
    (void)state;
    char   text[8000] = "$timescale 1 ns $end\n";
    size_t n = strlen(text);

    for (unsigned k = 0; k < 90; k++)
        n += (size_t)snprintf(text + n, sizeof text - n, "$var wire 1 %c signal_number_%02u $end\n", '!' + (int)k, k);
    snprintf(text + n, sizeof text - n, "$enddefinitions $end\n#0\n");
    struct fault f = refused(text, asking("cc1", NULL));

    assert_int_equal(f.code, FAULT_NOT_THERE);
    assert_memory_equal(f.detail, "signal_number_00, signal_number_01, ", 36);
    assert_non_null(strstr(f.detail, " and 82 more")); /* 8 of 16 characters and 7 commas fit 160 */
}

static void unknown_levels_leave_a_hole(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 0!\n#10 1!\n#20 x!\n#30 0!\n#40 1!\n#50 z!\n#60 Z!\n#70 X!\n#80 1!\n#90 0!\n#100\n", asking("cc1", NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 until 20, low@30 40 until 50, high@80 90 until 100");
    assert_int_equal(h.facts.unknown_levels, 2);
    assert_int_equal(h.notices, 1); /* once a signal */
    assert_int_equal(h.notice[0].news, CC_UNKNOWN_LEVEL);
    assert_int_equal(h.notice[0].number, 8);
}

static void a_signal_that_is_never_known_is_told(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#0\n$dumpvars\nx!\nx\"\n$end\n#5\n1!\n#10\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "high@5 until 10");
    assert_string_equal(h.line[1], "");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].line, 1);
    assert_int_equal(h.notice[0].number, 10);
}

static void dumping_that_is_switched_off_leaves_a_hole(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 1!\n#10 0!\n#20\n$dumpoff\nx!\n$end\n#90\n$dumpon\n1!\n$end\n#95 0!\n#100\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "high@0 10 until 20, high@90 95 until 100");
    hear(HEAD "#0 1!\n#10 0!\n#20 $dumpoff $end\n#90 $dumpon 1! $end\n#95 0!\n#100\n", asking(NULL, NULL), &h); /* the x left out */
    assert_string_equal(h.line[0], "high@0 10 until 20, high@90 95 until 100");
}

static void comments_among_the_values_are_passed_over(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 1!\n$comment\n#5 0!\nnothing of this\n$end\n#10 0!\n$comment $end\n$dumpall\n0!\n$end\n#12\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "high@0 10 until 12");
    assert_int_equal(h.notices, 0);
    hear(HEAD "#0 1!\n#7 0!\n#8\n$comment no end\n#10 1!\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "high@0 7 until 8");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_CUT_OFF);
}

static void a_change_to_the_same_level_is_none(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 0!\n#10 0!\n#20 1!\n#30 1!\n#40 0!\n#40 1!\n#50 0!\n1!\n#60 0!\n#70\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 20 60 until 70"); /* at 40 and at 50 it goes there and back in no time */
}

static void values_before_the_first_time_hold_from_then_on(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "$dumpvars 1! 0\" $end\n#500 1\"\n#600 0! 0\"\n#700\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "high@500 600 until 700");
    assert_string_equal(h.line[1], "high@500 600 until 700");
}

static void a_signal_is_known_from_its_first_value_on(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#0 1!\n#100 1\"\n#200 0\"\n#300\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "high@0 until 300");
    assert_string_equal(h.line[1], "high@100 200 until 300");
    assert_int_equal(h.notices, 0);
}

static void ends_of_line_and_blanks_may_be_of_any_kind(void **state)
{
    (void)state;
    struct heard h;

    hear("\xEF\xBB\xBF$timescale 1 ns $end $var wire 1 ! cc $end $enddefinitions $end\n#0 0! #10 1! #20", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 until 20"); /* a byte order mark */
    hear("$timescale 1 ns $end\r\n$var wire 1 ! cc $end\r\n$enddefinitions $end\r\n#0\r\n0!\r\n\r\n\r\n  #10\t\r\n 1!\r\n#20", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 until 20");
    hear("$timescale 1 ns $end $var wire 1 ! cc $end $enddefinitions $end #0 0! #10 1! #20 0!", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 20 until 21"); /* all in one line; a change at the very end is known for a tick */
    assert_int_equal(h.notices, 0);
}

static void vectors_of_one_bit_change_like_scalars(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 b0 !\n#10 b1 !\n#20 B0 !\n#30 bx !\n#40 b1 !\n#50 b0001 !\n#60 b000 !\n#70\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 20 until 30, high@40 60 until 70");
    assert_int_equal(h.facts.unreadable, 0);
}

static void identifiers_of_many_characters_are_told_apart(void **state)
{
    (void)state;
    struct heard h;
    char         text[800], id[65];

    memset(id, '~', 64);
    id[64] = '\0';
    snprintf(text, sizeof text,
             "$timescale 1 ns $end $var wire 1 abcdefghi cc1 $end $var wire 1 %s cc2 $end $var wire 1 abcdefgh other $end $enddefinitions $end\n"
             "#0 0abcdefghi 1%s 0abcdefgh\n#5 1abcdefgh\n#7 1abcdefghi\n#8 0%.63s\n#9 0%s\n#10\n", id, id, id, id);
    hear(text, asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "low@0 7 until 10");
    assert_string_equal(h.line[1], "high@0 9 until 10");
}

/* A line that cannot be read may have held a change. The next change tells: a level that comes twice says that one was lost. */
static void a_bad_line_is_named_and_costs_a_line_only_what_it_held(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#0 0! 0\"\n#10 1!\n#20 1\"\n#30\nq!\n#40 1!\n#50 0\"\n#60 0!\n#70\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "low@0 10 until 30, high@40 60 until 70"); /* line 11 was its change to 0 */
    assert_string_equal(h.line[1], "low@0 20 50 until 70");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_UNREADABLE);
    assert_int_equal(h.notice[0].number, 11);
    assert_string_equal(h.words[0], "q!");
    assert_int_equal(h.facts.unreadable, 1);
}

static void every_way_for_a_line_to_be_bad(void **state)
{
    (void)state;
    static const char *const bad[] = { "1", "0 ", "x", "b", "b1", "b12 !", "b1x2 !", "b !", "r1.5 !", "r1.5", "1%", "1!!", "0ab", "x%", "b1 %", "hello", "$nothing",
                                       "2!", "\x80!", "(){}[]", "\"", "-!", "1\x01", "s", "$dumpvars!" };

    for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
        char         text[400];
        struct heard h;

        snprintf(text, sizeof text, HEAD "#0 0!\n#10 1!\n#30\n%s\n#40 1!\n#60 0!\n#70\n", bad[k]);
        hear(text, asking(NULL, NULL), &h);
        assert_int_equal(h.notices, 1);
        assert_int_equal(h.notice[0].news, CC_UNREADABLE);
        assert_int_equal(h.notice[0].number, 9);
        assert_string_equal(h.line[0], "low@0 10 until 30, high@40 60 until 70");
    }
}

static void two_bad_lines_may_hide_two_changes(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0 0!\n#10 1!\n#30\nbad\n#35\nworse\n#40 0!\n#60 1!\n#70\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 10 until 35, low@40 60 until 70");
    assert_int_equal(h.notices, 2);
    assert_int_equal(h.notice[1].number, 11);
}

/* What changes after a time that cannot be read changes at a time that is not known. */
static void a_bad_time_is_named_and_leaves_a_hole_where_something_changes(void **state)
{
    (void)state;
    static const char *const bad[] = { "#", "#12x", "#-5", "#1.5", "#99999999999999999999999", "#18446744073709551620", "#9223372036854775807", "#x" };

    for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
        char         text[500];
        struct heard h;

        snprintf(text, sizeof text, HEAD_TWO "#0 0! 0\"\n#10 1!\n%s\n0!\n#40 1!\n#50 1\"\n#60 0!\n#70\n", bad[k]);
        hear(text, asking("cc1", "cc2"), &h);
        assert_string_equal(h.line[0], "low@0 until 10, high@40 60 until 70");
        assert_string_equal(h.line[1], "low@0 50 until 70");
        assert_int_equal(h.notices, 1);
        assert_int_equal(h.notice[0].number, 9);
        assert_string_equal(h.words[0], bad[k]);
    }
}

static void the_greatest_time_and_zeros_in_front_are_read(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#0000000000000000000000000 0!\n#00000000000000000000000000007 1!\n#999999999999999999 0!\n#9223372036854775806 1!\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@0 7 999999999999999999 9223372036854775806 until 9223372036854775807");
    assert_int_equal(h.notices, 0);
}

static void a_time_that_goes_back_is_passed_over(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#100 0! 0\"\n#110 1!\n#120 1\"\n#7 0!\n#130\n1!\n#140 0!\n#150\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "low@100 110 until 120, high@130 140 until 150"); /* from 130 on it is 0 and at once 1: known again */
    assert_string_equal(h.line[1], "low@100 120 until 150");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_TIME_BACK);
    assert_int_equal(h.notice[0].number, 10);
}

/* The last number of a file that was cut off may be short of its last digits. */
static void half_a_time_at_the_end_is_cut_off(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#100 0!\n#110 1!\n#120 0!\n#12", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@100 110 120 until 121");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_CUT_OFF);
    hear(HEAD "#100 0!\n#110 1!\n#120 0!\n#130\n1", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@100 110 120 until 130");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_CUT_OFF);
}

static void a_time_far_ahead_loses_only_what_changed_then(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#100 0! 0\"\n#110 1!\n#9999 0!\n#130 1!\n#140 1\"\n#150 0!\n#160\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[1], "low@100 140 until 160");
    assert_string_equal(h.line[0], "low@100 until 110, high@130 150 until 160");
    assert_int_equal(h.notices, 1);
    assert_int_equal(h.notice[0].news, CC_TIME_BACK);
    assert_int_equal(h.notice[0].number, 9);
}

static void a_dump_that_begins_anew_is_told_once_for_each_time(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD "#100 0!\n#110 1!\n#50 0!\n#60 1!\n#70\n#120 0!\n#130\n", asking(NULL, NULL), &h);
    assert_string_equal(h.line[0], "low@100 until 110, low@120 until 130");
    assert_int_equal(h.notices, 3);
    assert_int_equal(h.facts.unreadable, 3);
}

static void the_same_time_twice_is_no_step_back(void **state)
{
    (void)state;
    struct heard h;

    hear(HEAD_TWO "#0 0! 0\"\n#10 1!\n#10 1\"\n#20\n#20 0!\n#30\n", asking("cc1", "cc2"), &h);
    assert_string_equal(h.line[0], "low@0 10 20 until 30");
    assert_string_equal(h.line[1], "low@0 10 until 30");
    assert_int_equal(h.notices, 0);
}

static void what_is_no_dump_is_refused_with_a_reason(void **state)
{
    (void)state;
    static const struct { const char *text; enum fault_code code; int64_t line; } files[] = {
        { "time,volts\n0,1\n", FAULT_FORMAT, 1 },
        { "\n\n#0\n0!\n", FAULT_FORMAT, 3 },
        { "   \n", FAULT_FORMAT, 2 },
        { "$timescale 1 ns $end\n$var wire 1 ! cc $end\n#0 0!\n", FAULT_FORMAT, 3 },
        { "$timescale 1 ns $end\n$var wire 1 ! cc $end\n$dumpvars 0! $end\n", FAULT_FORMAT, 3 },
        { "$timescale 1 ns $end\n$var wire 1 ! cc $end\n", FAULT_FORMAT, 3 },
        { "$timescale 1 ns $end\n$var wire 1 ! cc\n", FAULT_FORMAT, 2 },
        { "$timescale 1 ns $end\n$var wire 1 ! $end\n$enddefinitions $end\n", FAULT_FORMAT, 2 },
        { "$timescale 1 ns $end\n$var wire 1 \x7f" " cc $end\n$enddefinitions $end\n", FAULT_FORMAT, 2 },
        { "$timescale 1 ns $end\n$scope module $end\n$enddefinitions $end\n", FAULT_FORMAT, 2 },
        { "$comment never ends\n#0 0!\n", FAULT_FORMAT, 1 },
        { "$var wire 1 ! cc $end $enddefinitions $end #0", FAULT_FORMAT, 0 },
        { "", FAULT_EMPTY, 0 },
    };
    for (size_t k = 0; k < sizeof files / sizeof files[0]; k++) {
        struct fault f = refused(files[k].text, asking(NULL, NULL));

        assert_int_equal(f.code, files[k].code);
        assert_int_equal(f.number, files[k].line);
    }
}

static void a_var_without_end_is_refused_where_it_begins(void **state)
{
    (void)state;
    static char text[2000] = "$timescale 1 ns $end\n$var wire 1 ! cc\n";

    for (unsigned k = 0; k < 100; k++)
        strcat(text, "#0 0!\n");
    strcat(text, "$end $enddefinitions $end\n");
    struct fault f = refused(text, asking(NULL, NULL));

    assert_int_equal(f.code, FAULT_FORMAT);
    assert_int_equal(f.number, 2);
}

/* One moment everywhere, or none. 2026-01-31T10:00:00Z is 1769853600 s after 1970 began. */
static void the_start_is_told_only_where_the_date_says_which_moment(void **state)
{
    (void)state;
    static const struct { const char *date; bool has; int64_t ns; } dates[] = {
        { "2026-01-31T10:00:00Z", true, 1769853600000000000 },
        { "2026-01-31 10:00:00.25Z", true, 1769853600250000000 },
        { "2026-01-31T12:30:00+02:30", true, 1769853600000000000 },
        { "2026-01-31T02:00:00.000000001-0800", true, 1769853600000000001 },
        { "2024-02-29T00:00:00Z", true, 1709164800000000000 },
        { "1970-01-01T00:00:00Z", true, 0 },
        { "2026-01-31T10:00:00", false, 0 },
        { "2026-02-29T10:00:00Z", false, 0 },
        { "2026-13-01T10:00:00Z", false, 0 },
        { "2026-01-31T10:00:00Z and so on", false, 0 },
        { "Sat Jan 31 10:00:00 2026", false, 0 },
        { "31/01/2026", false, 0 },
        { "", false, 0 },
    };
    for (size_t k = 0; k < sizeof dates / sizeof dates[0]; k++) {
        struct heard h;
        char         text[300];

        snprintf(text, sizeof text, "$date %s $end\n" HEAD "#0 0!\n#1\n", dates[k].date);
        hear(text, asking(NULL, NULL), &h);
        assert_int_equal(h.facts.has_start, dates[k].has);
        if (dates[k].has)
            assert_true(h.facts.start_ns == dates[k].ns);
    }
}

/* Words of megabytes: each is one fault or one notice, and what stands around them is read. */
static char *huge(const char *before, size_t n, char byte, const char *after)
{
    size_t first = strlen(before), last = strlen(after);
    char  *text = malloc(first + n + last + 1);

    assert_non_null(text);
    memcpy(text, before, first);
    memset(text + first, byte, n);
    memcpy(text + first + n, after, last + 1);
    return text;
}

static void words_of_megabytes_among_the_values_are_passed_over(void **state)
{
    (void)state;
    static const char bytes[] = "x1#qb$";

    for (size_t k = 0; bytes[k]; k++) {
        char        *text = huge(HEAD "#0 0!\n#10 1!\n#30\n", 3000000, bytes[k], "\n#40 1!\n#60 0!\n#70\n");
        struct heard h;
        struct fault f;

        assert_true(heard_of(&cc_vcd_kind, text, strlen(text), asking(NULL, NULL), &h, &f));
        assert_int_equal(h.notices, 1);
        assert_int_equal(h.notice[0].number, 9);
        assert_non_null(strstr(h.line[0], "60 until 70"));
        free(text);
    }
}

static void words_of_megabytes_among_the_declarations_do_no_harm(void **state)
{
    (void)state;
    static const struct { const char *before, *after; enum fault_code code; } places[] = {
        { "$comment ", " $end " HEAD "#0 0! #1\n", FAULT_NONE },
        { "$date ", " $end " HEAD "#0 0! #1\n", FAULT_NONE },
        { "$timescale 1 ns $end $var wire 1 ", " cc1 $end $enddefinitions $end #0\n", FAULT_FORMAT },
        { "$timescale 1 ns $end $var wire 1 ", " other $end $var wire 1 ! cc1 $end $enddefinitions $end #0 0! #1\n", FAULT_NONE },
        { "$timescale 1 ns $end $var wire 1 ! ", " $end $enddefinitions $end #0\n", FAULT_NOT_THERE },
        { "$timescale 1 ns $end $scope module ", " $end $var wire 1 ! cc1 $end $upscope $end $enddefinitions $end #0\n", FAULT_NOT_THERE },
        { "$timescale 1 ns $end $scope module ", " $end $upscope $end $var wire 1 ! cc1 $end $enddefinitions $end #0 0! #1\n", FAULT_NONE },
        { "$timescale ", " $end " HEAD "#0 0! #1\n", FAULT_FORMAT },
        { "", " $end " HEAD "#0 0! #1\n", FAULT_FORMAT },
        { "$", " $end " HEAD "#0 0! #1\n", FAULT_NONE },
    };
    for (size_t k = 0; k < sizeof places / sizeof places[0]; k++) {
        char        *text = huge(places[k].before, 2000000, 'a', places[k].after);
        struct heard h;
        struct fault f = { 0 };
        bool         opened = heard_of(&cc_vcd_kind, text, strlen(text), asking("cc1", NULL), &h, &f);

        assert_int_equal(opened ? FAULT_NONE : f.code, places[k].code);
        if (opened)
            assert_string_equal(h.line[0], "low@0 until 1");
        free(text);
    }
}

static void scopes_without_end_do_no_harm(void **state)
{
    (void)state;
    size_t       n = 0;
    char        *text = huge("$timescale 1 ns $end ", 600000, ' ', " $var wire 1 ! deep $end ");
    struct heard h;
    struct fault f;

    for (n = 21; n + 30 < 300000; n += 25)
        memcpy(text + n, "$scope module inner $end ", 25);
    text = realloc(text, 1000000);
    assert_non_null(text);
    for (; n > 21; n -= 25)
        strcat(text, "$upscope $end ");
    strcat(text, "$var wire 1 \" cc1 $end $enddefinitions $end #0 1\" #1\n");
    assert_true(heard_of(&cc_vcd_kind, text, strlen(text), asking("cc1", NULL), &h, &f));
    assert_string_equal(h.line[0], "high@0 until 1");
    free(text);
}

/* More changes than are kept at once, with one line of the file spoilt: everything else is there. */
static void of_a_long_file_one_bad_line_loses_one_line(void **state)
{
    (void)state;
    const unsigned times = 300000, spoilt = 123456;
    char          *text = malloc((size_t)times * 24 + 400);
    size_t         n = (size_t)sprintf(text, HEAD "#0\n0!\n");
    struct cc_block block;
    struct fault   f = { 0 };
    uint64_t       changes = 0, holes = 0, wrong = 0;

    for (unsigned k = 1; k <= times; k++)
        n += (size_t)sprintf(text + n, "#%u\n%s\n", k * 80, k == spoilt ? "@!" : k % 2 ? "1!" : "0!");
    struct cc_options options = asking(NULL, NULL);
    struct cc_file   *c = cc_vcd_kind.open_memory((uint8_t *)text, n, &options, &f);

    assert_non_null(c);
    for (int64_t last = 0; cc_vcd_kind.next(c, &block, &f); changes += block.count) {
        holes += block.broken;
        for (size_t k = 0; k < block.count; k++) {
            wrong += block.at[k] != last + 80 && !block.broken;
            last = block.at[k];
        }
    }
    assert_true(cc_vcd_kind.facts(c).unreadable == 1);
    assert_int_equal(holes, 1);
    assert_int_equal(changes, times - 2); /* the spoilt one, and the next, from which on the level is known again */
    assert_int_equal(wrong, 0);
    cc_vcd_kind.close(c);
    free(text);
}

/* Blanks part words as well as ends of line do (18.2): a whole dump in one line, longer than any buffer, a value's identifier two blanks away. */
static void a_dump_in_one_line_is_read_like_any_other(void **state)
{
    (void)state;
    const unsigned  times = 200000;
    char           *text = malloc((size_t)times * 30 + 400);
    size_t          n = (size_t)sprintf(text, "$timescale 1 ns $end $var wire 1 b! cc1 $end $var wire 1 b cc2 $end $enddefinitions $end #0 b0 b! 0b");
    struct cc_block block;
    struct fault    f = { 0 };
    uint64_t        changes[2] = { 0 }, wrong = 0;

    for (unsigned k = 1; k <= times; k++)
        n += (size_t)sprintf(text + n, k % 3 ? " #%u b%u  b! %ub" : " #%u\tB%u b! %ub", k * 80, k % 2, k % 2);
    struct cc_options options = asking("cc1", "cc2");
    struct cc_file   *c = cc_vcd_kind.open_memory((uint8_t *)text, n, &options, &f);

    assert_non_null(c);
    for (int64_t last[2] = { 0 }; cc_vcd_kind.next(c, &block, &f); changes[block.line] += block.count) {
        wrong += block.broken;
        for (size_t k = 0; k < block.count; k++) {
            wrong += block.at[k] != last[block.line] + 80;
            last[block.line] = block.at[k];
        }
    }
    assert_true(cc_vcd_kind.facts(c).unreadable == 0);
    assert_int_equal(changes[0], times);
    assert_int_equal(changes[1], times);
    assert_int_equal(wrong, 0);
    cc_vcd_kind.close(c);
    free(text);
}

static void packed_files_are_unpacked(void **state)
{
    (void)state;
    const char   text[] = HEAD "#0 0!\n#10 1!\n#20\n";
    uint8_t      packed[1000];
    z_stream     z = { .next_in = (Bytef *)text, .avail_in = sizeof text - 1, .next_out = packed, .avail_out = sizeof packed };
    struct heard h;
    struct fault f;

    assert_int_equal(deflateInit2(&z, 6, Z_DEFLATED, 31, 8, Z_DEFAULT_STRATEGY), Z_OK);
    assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
    deflateEnd(&z);
    assert_true(heard_of(&cc_vcd_kind, packed, z.total_out, asking(NULL, NULL), &h, &f));
    assert_string_equal(h.line[0], "low@0 10 until 20");
    assert_int_equal(h.facts.bytes_total, -1);
    assert_true(heard_of(&cc_vcd_kind, packed, z.total_out - 9, asking(NULL, NULL), &h, &f)); /* its end is missing */
    assert_int_equal(h.end.code, FAULT_COMPRESSION);
}

static void a_file_that_is_not_there_says_so(void **state)
{
    (void)state;
    struct cc_options options = asking(NULL, NULL);
    struct fault      f = { 0 };

    assert_null(cc_vcd_kind.open("/nowhere/line.vcd", &options, &f));
    assert_int_equal(f.code, FAULT_OPEN);
}

static void ticks_become_nanoseconds_rounded_to_the_nearest(void **state)
{
    (void)state;
    struct cc_tick tick;

    assert_true(cc_tick_of_rate(24e6, &tick)); /* 41.6 ns */
    assert_true(cc_ticks_ns(tick, 1) == 42 && cc_ticks_ns(tick, 3) == 125 && cc_ticks_ns(tick, -1) == -42);
    assert_true(cc_ticks_ns(tick, 24000000LL * 86400 * 365) == 86400LL * 365 * 1000000000);
    assert_true(cc_tick_of_rate(1e6 / 3, &tick)); /* 333333.333 Hz: a thousandth of a hertz */
    assert_true(cc_ticks_ns(tick, 333333333) == 1000000000000);
    assert_true(cc_tick_of_rate(0.5, &tick));
    assert_true(cc_ticks_ns(tick, 3) == 6000000000);
    assert_true(cc_ticks_ns(tick, INT64_MAX) == INT64_MAX / 2 && cc_ticks_ns(tick, INT64_MIN) == -(INT64_MAX / 2));
    assert_true(cc_ticks_ns((struct cc_tick){ 1, 1000 }, INT64_MAX) == 9223372036855); /* 2^63 fs */
    assert_false(cc_tick_of_rate(0, &tick));
    assert_false(cc_tick_of_rate(-5, &tick));
    assert_false(cc_tick_of_rate(1e13, &tick));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(changes_of_level_come_with_their_times),
        cmocka_unit_test(every_timescale_of_the_standard_is_known),
        cmocka_unit_test(a_timescale_that_is_none_is_refused_with_its_line),
        cmocka_unit_test(without_a_timescale_the_rate_has_to_be_given),
        cmocka_unit_test(a_signal_is_chosen_by_its_path_or_the_end_of_it),
        cmocka_unit_test(two_names_of_one_identifier_are_two_lines),
        cmocka_unit_test(what_is_missing_or_ambiguous_is_answered_with_what_there_is),
        cmocka_unit_test(the_whole_path_outdoes_the_end_of_another),
        cmocka_unit_test(a_list_that_is_long_says_how_many_are_left_out),
        cmocka_unit_test(unknown_levels_leave_a_hole),
        cmocka_unit_test(a_signal_that_is_never_known_is_told),
        cmocka_unit_test(dumping_that_is_switched_off_leaves_a_hole),
        cmocka_unit_test(comments_among_the_values_are_passed_over),
        cmocka_unit_test(a_change_to_the_same_level_is_none),
        cmocka_unit_test(values_before_the_first_time_hold_from_then_on),
        cmocka_unit_test(a_signal_is_known_from_its_first_value_on),
        cmocka_unit_test(ends_of_line_and_blanks_may_be_of_any_kind),
        cmocka_unit_test(vectors_of_one_bit_change_like_scalars),
        cmocka_unit_test(identifiers_of_many_characters_are_told_apart),
        cmocka_unit_test(a_bad_line_is_named_and_costs_a_line_only_what_it_held),
        cmocka_unit_test(every_way_for_a_line_to_be_bad),
        cmocka_unit_test(two_bad_lines_may_hide_two_changes),
        cmocka_unit_test(a_bad_time_is_named_and_leaves_a_hole_where_something_changes),
        cmocka_unit_test(the_greatest_time_and_zeros_in_front_are_read),
        cmocka_unit_test(a_time_that_goes_back_is_passed_over),
        cmocka_unit_test(half_a_time_at_the_end_is_cut_off),
        cmocka_unit_test(a_time_far_ahead_loses_only_what_changed_then),
        cmocka_unit_test(a_dump_that_begins_anew_is_told_once_for_each_time),
        cmocka_unit_test(the_same_time_twice_is_no_step_back),
        cmocka_unit_test(what_is_no_dump_is_refused_with_a_reason),
        cmocka_unit_test(a_var_without_end_is_refused_where_it_begins),
        cmocka_unit_test(the_start_is_told_only_where_the_date_says_which_moment),
        cmocka_unit_test(words_of_megabytes_among_the_values_are_passed_over),
        cmocka_unit_test(words_of_megabytes_among_the_declarations_do_no_harm),
        cmocka_unit_test(scopes_without_end_do_no_harm),
        cmocka_unit_test(of_a_long_file_one_bad_line_loses_one_line),
        cmocka_unit_test(a_dump_in_one_line_is_read_like_any_other),
        cmocka_unit_test(packed_files_are_unpacked),
        cmocka_unit_test(a_file_that_is_not_there_says_so),
        cmocka_unit_test(ticks_become_nanoseconds_rounded_to_the_nearest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
