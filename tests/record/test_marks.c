#define _POSIX_C_SOURCE 200809L
#include "cli/record_marks.h"
#include "tests/record/running.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* A bench whose ports have names. */
static struct about *bench(void)
{
    static const char text[] = "{\"ports\":[{\"port\":0,\"name\":\"C1\"},{\"port\":2,\"name\":\"B\"}]}";
    struct about     *a = about_new();

    assert_non_null(a);
    assert_true(about_merge(a, RECORD_PORT_BENCH, text, sizeof text - 1));
    return a;
}

static void reads(const char *line, unsigned action, unsigned subject, int32_t value, const char *text)
{
    struct about     *a = bench();
    struct typed_mark m;

    if (!mark_read(&m, line, a))
        fail_msg("\"%s\" is not read", line);
    if (m.action != action || m.subject != subject || m.value != value || strcmp(m.text, text) != 0)
        fail_msg("\"%s\" is action %u, subject %u, value %d, \"%s\"", line, m.action, m.subject, m.value, m.text);
    about_free(a);
}

static void a_letter_says_what_was_done(void **state)
{
    (void)state;
    reads("p A", RECORD_PLUGGED, 0, 0, "");
    reads("p c", RECORD_PLUGGED, 2, 0, "");
    reads("u A laptop, 1 m cable", RECORD_UNPLUGGED, 0, 0, "laptop, 1 m cable");
    reads("l A 2000", RECORD_LOAD_SET, 0, 2000, "");
    reads("  l   7  0   off ", RECORD_LOAD_SET, 7, 0, "off ");
    reads("i", RECORD_INPUT_ON, RECORD_PORT_NONE, 0, "");
    reads("o", RECORD_INPUT_OFF, RECORD_PORT_NONE, 0, "");
}

static void ports_are_called_as_the_bench_calls_them(void **state)
{
    (void)state;
    reads("p C1", RECORD_PLUGGED, 0, 0, "");
    reads("p c1", RECORD_PLUGGED, 0, 0, "");
    reads("p B", RECORD_PLUGGED, 2, 0, ""); /* a name goes before a letter */
    reads("p 254", RECORD_PLUGGED, 254, 0, "");
}

static void anything_else_is_a_note(void **state)
{
    struct typed_mark m;
    struct about     *a = bench();

    (void)state;
    reads("the fan is on", RECORD_NOTE, RECORD_PORT_NONE, 0, "the fan is on");
    reads("i think it hums", RECORD_NOTE, RECORD_PORT_NONE, 0, "i think it hums");
    reads("l B", RECORD_NOTE, RECORD_PORT_NONE, 0, "l B");
    reads("l B many", RECORD_NOTE, RECORD_PORT_NONE, 0, "l B many");
    reads("p", RECORD_NOTE, RECORD_PORT_NONE, 0, "p");
    reads("p 255", RECORD_NOTE, RECORD_PORT_NONE, 0, "p 255");
    reads("pB", RECORD_NOTE, RECORD_PORT_NONE, 0, "pB");
    assert_false(mark_read(&m, "", a));
    assert_false(mark_read(&m, "   ", a));
    about_free(a);
}

static void a_mark_is_a_record_of_the_bench(void **state)
{
    struct about     *a = bench();
    struct typed_mark m;
    struct record     r;
    uint8_t           bytes[600];

    (void)state;
    assert_true(mark_read(&m, "l C1 -1500 charging", a));
    size_t length = mark_put(&m, bytes, sizeof bytes);

    record_read(bytes, length, false, 0, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_int_equal(r.kind, RECORD_MARK);
    assert_int_equal(r.port, RECORD_PORT_BENCH);
    assert_int_equal(r.flags, RECORD_HOST_TIME);
    assert_int_equal(r.mark.action, RECORD_LOAD_SET);
    assert_int_equal(r.mark.subject, 0);
    assert_int_equal(r.mark.value, -1500);
    assert_int_equal(r.mark.length, 8);
    about_free(a);
}

static void a_line_can_be_mended_while_it_is_typed(void **state)
{
    struct typing t = { .on = false };
    const char   *keys = "p \xc3\xa4\x7f""B x\x08\x08";

    (void)state;
    for (const char *k = keys; *k; k++)
        assert_false(typing_take(&t, *k));
    assert_string_equal(t.line, "p B");
    assert_true(typing_take(&t, '\n'));
    typing_take(&t, 0x15);
    assert_string_equal(t.line, "");
    typing_take(&t, 0x7f);
    assert_string_equal(t.line, "");
    for (unsigned k = 0; k < 2 * MARK_TEXT_BYTES; k++)
        typing_take(&t, 'a');
    assert_true(strlen(t.line) < MARK_TEXT_BYTES);
}

static void marks_typed_on_the_terminal_stand_in_the_trace(void **state)
{
    struct place   from = pipe_make("marks"), file = place_of("marks.pcap");
    struct running r;

    (void)state;
    START(&r, RUNNING_ON_TERMINAL, "record", "-f", from.source, "-o", file.path);
    int fd = pipe_write(from.path);

    running_hear(&r, "0 findings, 0 lost, 0:00:0"); /* the status line begins with what matters */
    say(fd, "- * ABOUT {\"ports\":[{\"port\":0,\"name\":\"C1\"}]}\n- 0 CC 1 3.0A\n");
    running_hear(&r, "C1 plugged, no contract");
    say(r.terminal, "p C1 laptop\n");
    running_hear(&r, "marked: plugged at C1: laptop");
    say(r.terminal, "l B 2000\n");
    running_hear(&r, "marked: load set at port 1 to 2000 mA");
    say(r.terminal, "it hums\n");
    running_hear(&r, "marked: note: it hums");
    say(r.terminal, "\x03"); /* Ctrl-C */
    assert_int_equal(running_wait(&r), 0);
    assert_non_null(strstr(r.heard, "records in 0:00:"));
    close(fd);
    struct run shown = RUN("show", "--json", file.path);

    assert_int_equal(lines_with(shown.out, "\"kind\":\"mark\""), 3);
    assert_non_null(strstr(shown.out, "\"action_name\":\"plugged\",\"subject\":0,\"value\":0,\"text\":\"laptop\""));
    assert_non_null(strstr(shown.out, "\"subject\":1,\"value\":2000"));
    assert_non_null(strstr(shown.out, "stopped by hand"));
    run_free(&shown);
}

/* Source_Capabilities 5 V 3 A, 9 V 3 A; Request of object 2, 3 A; words by the layouts of Linux include/linux/usb/pd.h. */
static void contract_say(int fd)
{
    static struct lines l;
    const uint32_t      offers[] = { 0x0801912c, 0x0002d12c }, request = 0x2304b12c;
    uint16_t            source = header_of(1, 2, 0, true), asks = header_of(2, 1, 0, false);

    l.used = 0;
    line_add(&l, "- 0 CC 1 3.0A");
    packet_add(&l, "-", 0, "SOP", source, offers, 2, false);
    packet_add(&l, "-", 0, "SOP", header_of(1, 0, 0, false), NULL, 0, false);
    packet_add(&l, "-", 0, "SOP", asks, &request, 1, false);
    packet_add(&l, "-", 0, "SOP", header_of(1, 0, 0, true), NULL, 0, false);
    packet_add(&l, "-", 0, "SOP", header_of(3, 0, 1, true), NULL, 0, false);
    packet_add(&l, "-", 0, "SOP", header_of(1, 0, 1, false), NULL, 0, false);
    packet_add(&l, "-", 0, "SOP", header_of(6, 0, 2, true), NULL, 0, false);
    packet_add(&l, "-", 0, "SOP", header_of(1, 0, 2, false), NULL, 0, false);
    line_add(&l, "- 0 V 9.02 I 1.2");
    for (const char *at = l.text; *at;) {
        size_t length = strcspn(at, "\n") + 1;

        assert_int_equal(write(fd, at, length), length);
        pause_ms(15);
        at += length;
    }
}

static void the_status_line_says_each_contract_in_words(void **state)
{
    struct place   from = pipe_make("status"), file = place_of("status.pcap");
    struct running r;

    (void)state;
    START(&r, RUNNING_ON_TERMINAL, "record", "-f", from.source, "-o", file.path);
    int fd = pipe_write(from.path);

    say(fd, "- * ABOUT {\"ports\":[{\"port\":0,\"name\":\"C1\"}]}\n");
    contract_say(fd);
    running_hear(&r, "C1 holds 9 V, 3 A granted, 1.2 A drawn");
    assert_int_equal(running_stop(&r, 15), 0);
    close(fd);
}

static void without_a_terminal_it_is_quiet(void **state)
{
    struct run r = RUN_ON("- 0 V 5.0\n", "record", "-f", "text:-", "-o", file_path("quiet.pcap"));

    (void)state;
    assert_int_equal(r.status, 0);
    assert_string_equal(r.out, "");
    assert_string_equal(r.err, "");
    run_free(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_says_what_was_done),
        cmocka_unit_test(ports_are_called_as_the_bench_calls_them),
        cmocka_unit_test(anything_else_is_a_note),
        cmocka_unit_test(a_mark_is_a_record_of_the_bench),
        cmocka_unit_test(a_line_can_be_mended_while_it_is_typed),
        cmocka_unit_test(marks_typed_on_the_terminal_stand_in_the_trace),
        cmocka_unit_test(the_status_line_says_each_contract_in_words),
        cmocka_unit_test(without_a_terminal_it_is_quiet),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
