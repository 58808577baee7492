/* The text form, both directions: lines typed from traces/FORMAT.md, section 8, with the bytes that sections 2 and 3 give them. */
#include "tests/capture/made.h"

#include "capture/text_form.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])
#define SECOND_NS INT64_C(1000000000)

/* What a reader made of lines: one record after the other. */
struct got { enum text_line what; int64_t stamp_ns; uint64_t line; struct made bytes; bool cut; };
struct gathered { struct got got[16]; unsigned count; };

static int64_t clock_now(void *context)
{
    return *(int64_t *)context;
}

static void gather(struct gathered *g, struct text_reader *r, enum text_line what, const uint8_t *bytes, size_t length,
                   int64_t stamp_ns, uint64_t line)
{
    if (what == TEXT_NOTHING)
        return;
    assert_true(g->count < LENGTH(g->got));
    struct got *to = &g->got[g->count++];

    *to = (struct got){ .what = what, .stamp_ns = stamp_ns, .line = line, .cut = text_reader_cut(r) };
    made_bytes(&to->bytes, bytes, length);
}

static void read_text(const char *text, int64_t *now_ns, struct gathered *g)
{
    struct text_reader *r = text_reader_new(now_ns ? clock_now : NULL, now_ns);
    const uint8_t      *bytes = NULL;
    size_t              length = 0;
    int64_t             stamp_ns = 0;
    uint64_t            number = 0, first = 0;
    enum text_line      what;

    *g = (struct gathered){ 0 };
    assert_non_null(r);
    while (*text) {
        size_t n = strcspn(text, "\n");

        number++;
        do {
            what = text_reader_take(r, text, n, number, &bytes, &length, &stamp_ns, &first);
            gather(g, r, what, bytes, length, stamp_ns, first);
        } while (text_reader_again(r));
        text += text[n] ? n + 1 : n;
    }
    what = text_reader_end(r, &bytes, &length, &stamp_ns, &first);
    gather(g, r, what, bytes, length, stamp_ns, first);
    text_reader_free(r);
}

static void gathered_free(struct gathered *g)
{
    for (unsigned i = 0; i < g->count; i++)
        made_free(&g->got[i].bytes);
}

static void one_record_is(const char *text, int64_t stamp_ns, const char *hex)
{
    struct gathered g;
    struct made     wanted = { 0 };

    read_text(text, NULL, &g);
    made_hex(&wanted, hex);
    if (g.count != 1 || g.got[0].what != TEXT_RECORD || g.got[0].stamp_ns != stamp_ns ||
        g.got[0].bytes.length != wanted.length || memcmp(g.got[0].bytes.bytes, wanted.bytes, wanted.length) != 0)
        fail_msg("not as expected: %s", text);
    gathered_free(&g);
    made_free(&wanted);
}

static void each_kind_of_line_gives_the_record_it_stands_for(void **state)
{
    (void)state;
    one_record_is("1.5 0 SOP a1212c91010801020304", 1500000000, "01 01 00 00 00000000 00 00 0000 a1212c91010801020304");
    one_record_is("1.5 3 SOP' 4106! until 1.5005", 1500000000, "01 01 03 00 20a10700 01 04 0000 4106");
    one_record_is("0 254 SOP'' 410601020304", 0, "01 01 fe 00 00000000 02 00 0000 410601020304");
    one_record_is("0 0 SOP'_Debug 410601020304", 0, "01 01 00 00 00000000 03 00 0000 410601020304");
    one_record_is("0 0 SOP''_Debug 4106010203FF", 0, "01 01 00 00 00000000 04 00 0000 4106010203ff");
    one_record_is("2 0 HARD_RESET", 2 * SECOND_NS, "01 02 00 00 00000000 00 000000");
    one_record_is("2 0 CABLE_RESET", 2 * SECOND_NS, "01 02 00 00 00000000 01 000000");
    one_record_is("0.000000001 1 V 9.012 I 1.503", 1, "01 03 01 00 00000000 00000000 0100 03 00 20838900 18ef1600");
    one_record_is("0 1 I -0.000001", 0, "01 03 01 00 00000000 00000000 0100 02 00 ffffffff");
    one_record_is("0 1 VC 3.3 V 5", 0, "01 03 01 00 00000000 00000000 0100 05 00 404b4c00 a05a3200");
    one_record_is("0 1 CC 1 3.0A", 0, "01 04 01 00 00000000 01 03 ffff ffff 0000");
    one_record_is("0 1 CC 0 -", 0, "01 04 01 00 00000000 00 00 ffff ffff 0000");
    one_record_is("0 1 CC 4 default", 0, "01 04 01 00 00000000 04 01 ffff ffff 0000");
    one_record_is("0 1 CC 2 1.5A", 0, "01 04 01 00 00000000 02 02 ffff ffff 0000");
    one_record_is("0 * MARK plugged 1 by hand", 0, "01 05 ff 00 00000000 01 01 0000 00000000 62792068616e64");
    one_record_is("0 * MARK load 0 1500 a  b", 0, "01 05 ff 00 00000000 03 00 0000 dc050000 61202062");
    one_record_is("0 * MARK note lunch", 0, "01 05 ff 00 00000000 00 ff 0000 00000000 6c756e6368");
    one_record_is("0 * MARK input_off", 0, "01 05 ff 00 00000000 05 ff 0000 00000000");
    one_record_is("0 * MARK unplugged 2", 0, "01 05 ff 00 00000000 02 02 0000 00000000");
    one_record_is("0 * MARK input_on *", 0, "01 05 ff 00 00000000 04 ff 0000 00000000");
    one_record_is("0 * MARK button 0 short", 0, "01 05 ff 00 00000000 06 00 0000 00000000 73686f7274");
    one_record_is("0 1 T 0 31.250 case", 0, "01 07 01 00 00000000 00 000000 127a0000 63617365");
    one_record_is("0 1 T 255 -1.25", 0, "01 07 01 00 00000000 ff 000000 1efbffff");
    one_record_is("0 1 LOST 3", 0, "01 06 01 00 00000000 03000000 00000000");
    one_record_is("0 * LOST unknown", 0, "01 06 ff 00 00000000 ffffffff 00000000");
    one_record_is("0 * ABOUT {\"a\": \"b c\"}", 0, "01 08 ff 00 00000000 7b2261223a2022622063227d");
}

static void fields_may_be_parted_by_any_blanks(void **state)
{
    (void)state;
    one_record_is("  1.5\t0   SOP \t 410601020304  ", 1500000000, "01 01 00 00 00000000 00 00 0000 410601020304");
    one_record_is("\n# a comment\n\t# another\n 1 0 HARD_RESET\n\n", SECOND_NS, "01 02 00 00 00000000 00 000000");
}

static void times_are_taken_to_the_nanosecond(void **state)
{
    (void)state;
    one_record_is("1767225604.812945491 0 HARD_RESET", INT64_C(1767225604812945491), "01 02 00 00 00000000 00 000000");
    one_record_is("1.000000001 0 HARD_RESET", 1000000001, "01 02 00 00 00000000 00 000000");
    one_record_is("-2.5 0 HARD_RESET", -2500000000, "01 02 00 00 00000000 00 000000");
}

static void readings_are_rounded_to_the_microvolt_and_may_have_an_exponent(void **state)
{
    (void)state;
    one_record_is("0 0 V 5.0000004999", 0, "01 03 00 00 00000000 00000000 0100 01 00 404b4c00");
    one_record_is("0 0 V 5.0000005", 0, "01 03 00 00 00000000 00000000 0100 01 00 414b4c00");
    one_record_is("0 0 I -1.5e-05", 0, "01 03 00 00 00000000 00000000 0100 02 00 f1ffffff");
    one_record_is("0 0 V 5.0e0", 0, "01 03 00 00 00000000 00000000 0100 01 00 404b4c00");
    one_record_is("0 0 V 2147.483647", 0, "01 03 00 00 00000000 00000000 0100 01 00 ffffff7f");
}

static void now_is_the_clock_and_says_that_the_host_stamped_it(void **state)
{
    (void)state;
    int64_t         now_ns = 77;
    struct gathered g;
    struct made     wanted = { 0 };

    read_text("- 0 HARD_RESET\n- 0 V 5\n", &now_ns, &g);
    assert_int_equal(g.count, 2);
    assert_int_equal(g.got[0].stamp_ns, 77);
    made_hex(&wanted, "01 02 00 01 00000000 00 000000");
    assert_memory_equal(g.got[0].bytes.bytes, wanted.bytes, wanted.length);
    assert_int_equal(g.got[1].bytes.bytes[3], RECORD_HOST_TIME);
    gathered_free(&g);
    made_free(&wanted);
    read_text("- 0 HARD_RESET\n", NULL, &g);
    assert_int_equal(g.got[0].what, TEXT_DAMAGED);
    gathered_free(&g);
}

/* Lines that cannot be read, with the kind and port that are left of them. */
static const struct { const char *line; uint8_t kind, port; } damaged_all[] = {
    { "hello", RECORD_PD_PACKET, 255 },
    { "1.0", RECORD_PD_PACKET, 255 },
    { "1.0000000001 0 HARD_RESET", RECORD_PD_PACKET, 255 },
    { "1e3 0 HARD_RESET", RECORD_PD_PACKET, 255 },
    { "99999999999 0 HARD_RESET", RECORD_PD_PACKET, 255 },
    { "1 256 HARD_RESET", RECORD_PD_PACKET, 255 },
    { "1 -1 HARD_RESET", RECORD_PD_PACKET, 255 },
    { "1 1. HARD_RESET", RECORD_PD_PACKET, 255 },
    { "1 3", RECORD_PD_PACKET, 3 },
    { "1 3 SOAP 4106", RECORD_PD_PACKET, 3 },
    { "1 3 SOP", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 41060102030", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 41060102zz04", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 410601020304 till 2", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 410601020304 until", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 410601020304 until 0.9", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 410601020304 until 6", RECORD_PD_PACKET, 3 },
    { "1 3 SOP 410601020304 until 1.001 x", RECORD_PD_PACKET, 3 },
    { "1 3 HARD_RESET now", RECORD_RESET_SIGNAL, 3 },
    { "1 3 V", RECORD_POWER, 3 },
    { "1 3 V 5 V 6", RECORD_POWER, 3 },
    { "1 3 V 5 I", RECORD_POWER, 3 },
    { "1 3 V 5 A 1", RECORD_POWER, 3 },
    { "1 3 V -", RECORD_POWER, 3 },
    { "1 3 V 2147.483648", RECORD_POWER, 3 },
    { "1 3 V -2147.483648", RECORD_POWER, 3 },
    { "1 3 V 1e99999", RECORD_POWER, 3 },
    { "1 3 CC 5 3.0A", RECORD_CC_STATE, 3 },
    { "1 3 CC 1 3A", RECORD_CC_STATE, 3 },
    { "1 3 CC 1", RECORD_CC_STATE, 3 },
    { "1 3 CC 1 3.0A x", RECORD_CC_STATE, 3 },
    { "1 * MARK", RECORD_MARK, 255 },
    { "1 * MARK dropped 1", RECORD_MARK, 255 },
    { "1 * MARK plugged", RECORD_MARK, 255 },
    { "1 * MARK load 1", RECORD_MARK, 255 },
    { "1 * MARK load 1 1.5A", RECORD_MARK, 255 },
    { "1 * MARK load 1 2147483648", RECORD_MARK, 255 },
    { "1 3 T 256 1", RECORD_TEMPERATURE, 3 },
    { "1 3 T 0", RECORD_TEMPERATURE, 3 },
    { "1 3 T 0 warm", RECORD_TEMPERATURE, 3 },
    { "1 3 T 0 2147483.648", RECORD_TEMPERATURE, 3 },
    { "1 3 LOST", RECORD_LOST, 3 },
    { "1 3 LOST -1", RECORD_LOST, 3 },
    { "1 3 LOST 4294967296", RECORD_LOST, 3 },
    { "1 3 LOST 3 4", RECORD_LOST, 3 },
    { "1 3 ABOUT", RECORD_ABOUT, 3 },
    { "#= duration_ns=x", RECORD_PD_PACKET, 255 },
    { "#= raw=00", RECORD_PD_PACKET, 255 },
    { "#= time=1 raw=0", RECORD_PD_PACKET, 255 },
    { "#= row=none time=1 port=0", RECORD_PD_PACKET, 255 },
    { "#= rows=2 interval_ns=1", RECORD_PD_PACKET, 255 },
    { "#= rows=0 interval_ns=1 columns=V", RECORD_PD_PACKET, 255 },
    { "#= rows=65535 interval_ns=1 columns=V", RECORD_PD_PACKET, 255 },
    { "#= rows=5460 interval_ns=1 columns=V,I,VC", RECORD_PD_PACKET, 255 },
    { "#= columns=V,A", RECORD_PD_PACKET, 255 },
    { "#= flags=0x", RECORD_PD_PACKET, 255 },
    { "#= flags=", RECORD_PD_PACKET, 255 },
};

static void a_line_that_cannot_be_read_is_one_damaged_record(void **state)
{
    (void)state;
    for (size_t i = 0; i < LENGTH(damaged_all); i++) {
        struct gathered g;

        read_text(damaged_all[i].line, NULL, &g);
        if (g.count != 1 || g.got[0].what != TEXT_DAMAGED || g.got[0].bytes.length != 8 ||
            g.got[0].bytes.bytes[1] != damaged_all[i].kind || g.got[0].bytes.bytes[2] != damaged_all[i].port)
            fail_msg("not one damaged record: %s", damaged_all[i].line);
        gathered_free(&g);
    }
}

static void damaged_lines_are_named_by_number_and_the_rest_is_read(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;
    const char  text[] = "# bench\n1000 0 HARD_RESET\nnonsense\n1000.5 0 SOP 41\n1001 0 HARD_RESET\n";

    made_bytes(&m, text, sizeof text - 1);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 4);
    assert_int_equal(s.frame[0], 2);
    assert_int_equal(s.frame[1], 3);
    assert_int_equal(s.why[1], RECORD_WHY_TEXT_LINE);
    assert_int_equal(s.t_ns[1], 0); /* that of the line before it */
    assert_int_equal(s.frame[2], 4);
    assert_int_equal(s.why[2], RECORD_WHY_SHORT_PACKET); /* could be read, and says a packet of one byte */
    assert_int_equal(s.t_ns[2], 500000000);
    assert_int_equal(s.frame[3], 5);
    assert_int_equal(s.facts.damaged, 2);
    assert_int_equal(s.facts.records, 4);
    assert_int_equal(s.facts.form, TRACE_TEXT);
    assert_int_equal(s.facts.time_steps, 0);
    made_free(&m);
}

static void ends_of_lines_and_of_files_may_be_anyones(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;
    const char  text[] = "\xEF\xBB\xBF" "1000 0 HARD_RESET\r\n\r\n1000.1 * MARK note done\r\n1000.2 0 HARD_RESET";

    made_bytes(&m, text, sizeof text - 1);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 3);
    for (unsigned i = 0; i < 3; i++)
        assert_int_equal(s.soundness[i], RECORD_SOUND);
    assert_int_equal(s.facts.damaged, 0);
    made_free(&m);
    made_bytes(&m, "# nothing yet\n", 14);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 0);
    made_free(&m);
}

static void a_line_without_end_is_one_damaged_record(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    made_bytes(&m, "1000 0 SOP ", 11);
    for (int i = 0; i < 300000; i++)
        made_bytes(&m, "00112233", 8);
    made_bytes(&m, "\n1000 0 HARD_RESET\n", 19);
    assert_int_equal(fault_of(m.bytes, m.length).code, FAULT_NOT_A_CAPTURE);
    struct made with_start = { 0 };

    made_bytes(&with_start, "1000 0 HARD_RESET\n", 18);
    made_bytes(&with_start, m.bytes, m.length);
    seen_of(&with_start, false, &s);
    assert_int_equal(s.count, 3);
    assert_int_equal(s.why[1], RECORD_WHY_TEXT_LINE);
    assert_int_equal(s.soundness[2], RECORD_SOUND);
    assert_int_equal(s.frame[2], 3);
    made_free(&with_start);
    made_free(&m);
}

/* Notes. */

static void notes_say_what_the_line_behind_them_cannot(void **state)
{
    (void)state;
    one_record_is("#= flags=invented,host_time\n1 0 HARD_RESET", SECOND_NS, "01 02 00 05 00000000 00 000000");
    one_record_is("#= flags=0x80\n#= duration_ns=280000\n1 0 HARD_RESET", SECOND_NS, "01 02 00 80 c0450400 00 000000");
    one_record_is("#= end=1.25\n1 0 HARD_RESET", 1250000000, "01 02 00 02 00000000 00 000000");
    one_record_is("#= state=crc_bad,truncated,0x40\n1 0 SOP 41", SECOND_NS, "01 01 00 00 00000000 00 43 0000 41");
    one_record_is("#= cc1_mv=1650 cc2_mv=0\n1 0 CC 1 3.0A", SECOND_NS, "01 04 00 00 00000000 01 03 7206 0000 0000");
    one_record_is("#= where=disk\n1 0 LOST 1", SECOND_NS, "01 06 00 00 00000000 01000000 03000000");
    one_record_is("#= value=-7\n1 * MARK note", SECOND_NS, "01 05 ff 00 00000000 00 ff 0000 f9ffffff");
    one_record_is("#= text=610a62\n1 * MARK note * a b", SECOND_NS, "01 05 ff 00 00000000 00 ff 0000 00000000 610a62");
    one_record_is("#= text=7b0a7d\n1 * ABOUT {}", SECOND_NS, "01 08 ff 00 00000000 7b0a7d");
    one_record_is("#= time=0.5 raw=0109", 500000000, "0109");
    one_record_is("#= future=1 flags=invented\n1 0 HARD_RESET", SECOND_NS, "01 02 00 04 00000000 00 000000");
}

static void notes_hold_for_one_record(void **state)
{
    (void)state;
    struct gathered g;

    read_text("#= flags=invented\n\n# between\n1 0 HARD_RESET\n2 0 HARD_RESET\n", NULL, &g);
    assert_int_equal(g.count, 2);
    assert_int_equal(g.got[0].bytes.bytes[3], RECORD_INVENTED);
    assert_int_equal(g.got[0].line, 4);
    assert_int_equal(g.got[1].bytes.bytes[3], 0);
    gathered_free(&g);
}

static void rows_of_a_block_become_one_record(void **state)
{
    (void)state;
    one_record_is("#= flags=invented rows=3 interval_ns=1000000 columns=V,I\n"
                  "2.000 0 V 5 I 1\n"
                  "2.001 0 I 0.5\n"
                  "#= row=none time=2.002 port=0\n",
                  2 * SECOND_NS,
                  "01 03 00 04 00000000 40420f00 0300 03 00 404b4c00 40420f00 00000080 20a10700 00000080 00000080");
    one_record_is("#= rows=1 interval_ns=0 columns=VC duration_ns=9\n#= row=none time=2 port=255\n", 2 * SECOND_NS,
                  "01 03 ff 00 09000000 00000000 0100 04 00 00000080");
}

static void a_block_that_breaks_off_comes_out_as_far_as_it_went(void **state)
{
    (void)state;
    struct gathered g;

    read_text("#= rows=3 interval_ns=1000000 columns=V\n1 0 V 5\n1.001 0 V 5.1\n1.5 0 HARD_RESET\n", NULL, &g);
    assert_int_equal(g.count, 2);
    assert_int_equal(g.got[0].line, 2);
    assert_int_equal(g.got[0].bytes.length, 24);
    assert_int_equal(g.got[0].bytes.bytes[12], 2); /* rows */
    assert_int_equal(g.got[1].bytes.bytes[1], RECORD_RESET_SIGNAL);
    assert_int_equal(g.got[1].line, 4);
    gathered_free(&g);
    /* Another port, a column that the block has not, another note: none of them is a row of it. */
    read_text("#= rows=3 interval_ns=1 columns=V\n1 0 V 5\n1.001 1 V 5\n#= rows=2 interval_ns=1 columns=V\n2 0 V 5\n2 0 I 5\n"
              "#= rows=2 interval_ns=1 columns=V\n3 0 V 5\n#= flags=invented\n3 0 V 6\n", NULL, &g);
    assert_int_equal(g.count, 6);
    for (unsigned i = 0; i < 6; i++) {
        assert_int_equal(g.got[i].what, TEXT_RECORD);
        assert_int_equal(g.got[i].bytes.bytes[12], 1);
    }
    assert_int_equal(g.got[5].bytes.bytes[3], RECORD_INVENTED);
    gathered_free(&g);
    read_text("#= rows=2 interval_ns=1 columns=V\n1 0 V 5\n", NULL, &g); /* the input ends */
    assert_int_equal(g.count, 1);
    assert_int_equal(g.got[0].what, TEXT_RECORD);
    gathered_free(&g);
    read_text("#= rows=2 interval_ns=1 columns=V\n1 0 HARD_RESET\n", NULL, &g); /* no row at all */
    assert_int_equal(g.count, 2);
    assert_int_equal(g.got[0].what, TEXT_DAMAGED);
    assert_int_equal(g.got[1].what, TEXT_RECORD);
    gathered_free(&g);
}

static void what_a_row_note_says_besides_cannot_change_its_block(void **state)
{
    (void)state;
    struct gathered g;

    read_text("#= rows=2 interval_ns=1 columns=V\n#= row=none time=1 port=0 rows=1 columns=V,I,VC flags=invented\n1 0 V 5\n", NULL, &g);
    assert_int_equal(g.count, 1);
    assert_int_equal(g.got[0].bytes.length, 24);
    assert_int_equal(g.got[0].bytes.bytes[3], 0);
    gathered_free(&g);
}

/* From a record to text and back. */

struct page { struct made text; };

static void page_put(void *context, const char *text, size_t length)
{
    made_bytes(&((struct page *)context)->text, text, length);
}

static void written_is(const char *hex, int64_t stamp_ns, const char *lines)
{
    struct made   bytes = { 0 };
    struct record r;
    struct page   page = { { 0 } };

    made_hex(&bytes, hex);
    record_read(bytes.bytes, bytes.length, false, stamp_ns, 1, &r);
    text_write(&r, page_put, &page);
    made_u8(&page.text, 0);
    assert_string_equal((const char *)page.text.bytes, lines);
    made_free(&page.text);
    made_free(&bytes);
}

static void records_are_written_as_the_lines_that_the_format_gives(void **state)
{
    (void)state;
    const int64_t ten = INT64_C(1769853600000000000); /* 2026-01-31 10:00:00 UTC */

    written_is("01 01 00 00 c5a50b00 00000000 a1212c9101082cd102008f204978", ten,
               "1769853600.000000000 0 SOP a1212c9101082cd102008f204978 until 1769853600.000763333\n");
    written_is("01 01 01 04 00000000 01 05 0000 4106", ten,
               "#= flags=invented state=crc_bad\n1769853600.000000000 1 SOP' 4106!\n");
    written_is("01 02 00 02 c0450400 00 000000", ten,
               "#= end=1769853600.000000000 duration_ns=280000\n1769853599.999720000 0 HARD_RESET\n");
    written_is("01 03 00 00 00000000 00000000 0100 03 00 20838900 f1ffffff", ten, "1769853600.000000000 0 V 9.012 I -0.000015\n");
    written_is("01 03 00 04 00000000 40420f00 0300 03 00 404b4c00 40420f00 00000080 20a10700 00000080 00000080", ten,
               "#= flags=invented rows=3 interval_ns=1000000 columns=V,I\n1769853600.000000000 0 V 5.000 I 1.000\n"
               "1769853600.001000000 0 I 0.500\n#= row=none time=1769853600.002000000 port=0\n");
    written_is("01 04 02 00 00000000 01 03 7206 ffff 0000", ten, "#= cc1_mv=1650\n1769853600.000000000 2 CC 1 3.0A\n");
    written_is("01 05 ff 00 00000000 03 00 0000 dc050000 61", ten, "1769853600.000000000 * MARK load 0 1500 a\n");
    written_is("01 05 ff 00 00000000 00 ff 0000 00000000 610a62", ten,
               "#= text=610a62\n1769853600.000000000 * MARK note * a b\n");
    written_is("01 06 ff 00 00000000 ffffffff 01000000", ten, "#= where=instrument\n1769853600.000000000 * LOST unknown\n");
    written_is("01 07 ff 00 00000000 02 000000 1efbffff 6f7574", ten, "1769853600.000000000 * T 2 -1.250 out\n");
    written_is("01 08 ff 00 00000000 7b0a2261223a3930303731393932353437343039393320 7d", ten,
               "#= text=7b0a2261223a39303037313939323534373430393933207d\n"
               "1769853600.000000000 * ABOUT {\"a\":9007199254740993}\n");
    written_is("01 09 00 00 00000000 8d200000 01 000000 50", ten,
               "#= time=1769853600.000000000 raw=01090000000000008d2000000100000050\n");
    written_is("02", ten, "#= time=1769853600.000000000 raw=02\n");
}

/* Records of every kind with what is peculiar about them, sound or not. */
static const char *const peculiar_all[] = {
    "01 01 00 00 c5a50b00 00000000 a1212c9101082cd102008f204978",
    "01 01 fe ff ffffffff 04 fb 0000 4106",
    "01 01 00 00 00000000 00 02 0000",                  /* truncated to nothing */
    "01 01 00 00 00000000 00 00 0100 410601020304",     /* not zero where zero should be */
    "01 01 00 02 00000000 00 00 0000 410601020304",     /* stamped at its end, no duration */
    "01 01 00 02 20a10700 00 00 0000 410601020304",
    "01 02 00 00 00000000 00 000000",
    "01 02 07 07 01000000 01 000000",
    "01 02 00 00 00000000 00 000001",
    "01 02 00 00 00000000 00 000000 55",                /* of a later version */
    "01 03 00 00 00000000 00000000 0100 01 00 404b4c00",
    "01 03 00 00 05000000 00000000 0100 01 00 404b4c00",
    "01 03 00 00 00000000 07000000 0100 07 00 ffffff7f 01000080 00000000",
    "01 03 00 02 00000000 40420f00 0200 05 00 00000080 00000080 00000080 01000000",
    "01 03 ff 01 00000000 00000000 0100 04 00 00000080",
    "01 03 00 00 00000000 00000000 0100 01 07 404b4c00",
    "01 03 00 00 00000000 00000000 0100 01 00 404b4c00 00",
    "01 04 00 00 00000000 00 00 ffff ffff 0000",
    "01 04 00 04 10000000 04 03 0000 feff 0000",
    "01 04 00 00 00000000 04 03 0000 feff 0001",
    "01 05 00 00 00000000 00 ff 0000 00000000",
    "01 05 ff 01 00000000 01 00 0000 05000000 2031",    /* text that begins with a blank */
    "01 05 ff 00 00000000 00 ff 0000 00000000 33",      /* a note that looks like a port */
    "01 05 ff 00 00000000 03 ff 0000 00000080 c3a420c3b6",
    "01 05 ff 00 00000000 06 fe 0000 00000000 6120",
    "01 05 ff 00 00000000 00 ff 0000 00000000 00",
    "01 05 ff 00 00000000 00 ff 0000 00000000 1b5b324a",
    "01 05 ff 00 00000000 00 ff 0000 00000000 c29b61",  /* U+009B, which terminals obey */
    "01 05 ff 00 00000000 00 ff 0000 00000000 20",
    "01 06 00 00 00000000 00000000 00000000",
    "01 06 ff 00 00000000 feffffff 03000000",
    "01 07 00 00 00000000 ff 000000 ffffff7f",
    "01 07 00 00 00000000 00 000000 00000080 6120 20 62",
    "01 08 ff 00 00000000 7b7d",
    "01 08 03 04 00000000 7b2261223a3965302c2262223a5b5d7d",
    "01 08 ff 00 00000000 207b7d",
    "01 08 ff 00 00000000 7b7d0d0a",
    "01 09 00 02 00000000 8d200000 01 000000 b00250",
    /* what cannot be used stays what it is */
    "", "01", "01 01 00 00 000000", "02 01 00 00 00000000", "01 80 00 00 00000000 aabb", "01 0a 00 00 00000000",
    "01 01 00 00 00000000 05 00 0000 410601020304", "01 05 ff 00 00000000 00 ff 0000 00000000 ff", "01 08 ff 00 00000000 5b5d",
};

static void every_record_comes_back_byte_for_byte_with_its_time(void **state)
{
    (void)state;
    const int64_t stamps[] = { 0, 5, INT64_C(1767225604812945491), INT64_C(4294967295999999999), -5, -INT64_C(1000000000) };

    for (size_t i = 0; i < LENGTH(peculiar_all) * LENGTH(stamps); i++) {
        const char     *hex = peculiar_all[i / LENGTH(stamps)];
        struct made     bytes = { 0 };
        struct record   r;
        struct page     page = { { 0 } };
        struct gathered g;

        made_hex(&bytes, hex);
        record_read(bytes.bytes, bytes.length, false, stamps[i % LENGTH(stamps)], 1, &r);
        text_write(&r, page_put, &page);
        made_u8(&page.text, 0);
        read_text((const char *)page.text.bytes, NULL, &g);
        if (g.count != 1 || g.got[0].what != TEXT_RECORD || g.got[0].stamp_ns != r.stamp_ns ||
            g.got[0].bytes.length != bytes.length ||
            (bytes.length > 0 && memcmp(g.got[0].bytes.bytes, bytes.bytes, bytes.length) != 0))
            fail_msg("%s became\n%s", hex, (const char *)page.text.bytes);
        gathered_free(&g);
        made_free(&page.text);
        made_free(&bytes);
    }
}

static void a_record_captured_short_stays_so(void **state)
{
    (void)state;
    struct made     bytes = { 0 };
    struct record   r;
    struct page     page = { { 0 } };
    struct gathered g;

    made_hex(&bytes, "01 02 00 00 00000000 00 000000");
    record_read(bytes.bytes, bytes.length, true, 5, 1, &r);
    text_write(&r, page_put, &page);
    made_u8(&page.text, 0);
    read_text((const char *)page.text.bytes, NULL, &g);
    assert_int_equal(g.count, 1);
    assert_true(g.got[0].cut);
    gathered_free(&g);
    made_free(&page.text);
    made_free(&bytes);
}

static void text_of_a_whole_trace_gives_the_same_trace(void **state)
{
    const char *const files[] = { "port-managers-fixed.pcap", "port-managers-pps.pcap", "port-managers-swaps.pcap",
                                  "port-managers-retries.pcap" };
    (void)state;
    for (size_t i = 0; i < LENGTH(files); i++) {
        char                 path[512];
        struct trace_options options = { .file_order = true };
        struct page          page = { { 0 } };
        struct fault         f;
        const struct record *r, *again;

        snprintf(path, sizeof path, "%s/%s", TRACES, files[i]);
        struct trace *t = trace_open(path, &options, &f);

        assert_non_null(t);
        while (trace_next(t, &r, &f))
            text_write(r, page_put, &page);
        trace_close(t);
        t = trace_open(path, &options, &f);
        struct trace *u = trace_open_memory(page.text.bytes, page.text.length, &options, &f);

        assert_non_null(u);
        while (trace_next(t, &r, &f)) {
            assert_true(trace_next(u, &again, &f));
            assert_int_equal(again->stamp_ns, r->stamp_ns);
            assert_int_equal(again->length, r->length);
            assert_memory_equal(again->bytes, r->bytes, r->length);
        }
        assert_false(trace_next(u, &again, &f));
        assert_true(trace_facts(t)->records > 100);
        trace_close(t);
        trace_close(u);
        made_free(&page.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_of_line_gives_the_record_it_stands_for),
        cmocka_unit_test(fields_may_be_parted_by_any_blanks),
        cmocka_unit_test(times_are_taken_to_the_nanosecond),
        cmocka_unit_test(readings_are_rounded_to_the_microvolt_and_may_have_an_exponent),
        cmocka_unit_test(now_is_the_clock_and_says_that_the_host_stamped_it),
        cmocka_unit_test(a_line_that_cannot_be_read_is_one_damaged_record),
        cmocka_unit_test(damaged_lines_are_named_by_number_and_the_rest_is_read),
        cmocka_unit_test(ends_of_lines_and_of_files_may_be_anyones),
        cmocka_unit_test(a_line_without_end_is_one_damaged_record),
        cmocka_unit_test(notes_say_what_the_line_behind_them_cannot),
        cmocka_unit_test(notes_hold_for_one_record),
        cmocka_unit_test(rows_of_a_block_become_one_record),
        cmocka_unit_test(a_block_that_breaks_off_comes_out_as_far_as_it_went),
        cmocka_unit_test(what_a_row_note_says_besides_cannot_change_its_block),
        cmocka_unit_test(records_are_written_as_the_lines_that_the_format_gives),
        cmocka_unit_test(every_record_comes_back_byte_for_byte_with_its_time),
        cmocka_unit_test(a_record_captured_short_stays_so),
        cmocka_unit_test(text_of_a_whole_trace_gives_the_same_trace),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
