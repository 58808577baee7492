/* show as a listing, its details, and the text form; output that cannot be written. The bench and what is said on it are INVENTED. */
#define _XOPEN_SOURCE 700 /* posix_openpt */
#include "tests/cli/program.h"
#include "tests/decode/bmc_line.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A port of the Lumenbrick 65: attach, an offer with its copy, a request, a contract; a bad packet; the end. */
static const char *bench(void)
{
    static struct lines l;
    static const uint32_t offer[] = { 0x0a01912c, 0x0002d12c, 0x0003c12c, 0x0004b12c, 0x000641f4, 0xc1a42164 };
    static const uint32_t request = 2u << 28 | 1u << 26 | 200u << 10 | 300u;

    l.used = 0;
    line_add(&l, "0.000000000 * ABOUT {\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\"},{\"port\":1,\"name\":\"Left port\"}]}");
    line_add(&l, "0.010000000 0 V 0.000");
    line_add(&l, "0.100000000 0 CC 1 3.0A");
    line_add(&l, "0.110000000 0 V 5.050 I 0.001");
    line_add(&l, "0.120000000 0 V 5.060 I 0.002");
    packet_add(&l, "0.200000000", 0, "SOP", header_of(1, 6, 0, true), offer, 6, false);
    packet_add(&l, "0.201500000", 0, "SOP", header_of(1, 6, 0, true), offer, 6, false);
    packet_add(&l, "0.203000000", 0, "SOP", header_of(1, 0, 0, false), NULL, 0, false);
    packet_add(&l, "0.204000000", 0, "SOP", header_of(2, 1, 0, false), &request, 1, false);
    packet_add(&l, "0.205000000", 0, "SOP", header_of(1, 0, 0, true), NULL, 0, false);
    packet_add(&l, "0.206000000", 0, "SOP", header_of(3, 0, 1, true), NULL, 0, false);
    packet_add(&l, "0.207000000", 0, "SOP", header_of(1, 0, 1, false), NULL, 0, false);
    packet_add(&l, "0.250000000", 0, "SOP", header_of(6, 0, 2, true), NULL, 0, false);
    packet_add(&l, "0.251000000", 0, "SOP", header_of(1, 0, 2, false), NULL, 0, false);
    packet_add(&l, "0.300000000", 0, "SOP", header_of(8, 0, 3, true), NULL, 0, true);
    line_add(&l, "0.400000000 * MARK load 0 1500 electronic load");
    line_add(&l, "0.410000000 1 T 2 31.250 case");
    line_add(&l, "0.420000000 0 LOST 3");
    line_add(&l, "0.430000000 0 SOP zz");
    line_add(&l, "0.500000000 0 HARD_RESET");
    return l.text;
}

/* The line whose first word is that frame, without its newline. */
static const char *line_of_frame(const char *listing, unsigned frame)
{
    static char found[400];
    char        start[16];

    snprintf(start, sizeof start, "%5u ", frame);
    for (const char *line = listing; *line; line = strchr(line, '\n') + 1)
        if (strncmp(line, start, strlen(start)) == 0) {
            snprintf(found, sizeof found, "%.*s", (int)strcspn(line, "\n"), line);
            return found;
        }
    fail_msg("no line for frame %u in:\n%s", frame, listing);
    return "";
}

static void assert_shows(const char *listing, unsigned frame, const char *words)
{
    if (!strstr(line_of_frame(listing, frame), words))
        fail_msg("\"%s\" is not in: %s", words, line_of_frame(listing, frame));
}

static void the_listing_says_who_spoke_and_what(void **state)
{
    (void)state;
    struct run r = RUN_ON(bench(), "show", "-");

    assert_int_equal(r.status, 0);
    assert_shows(r.out, 1, "about    Lumenbrick 65");
    assert_shows(r.out, 3, "CC       partner on CC1, Rp 3.0 A  => attached");
    assert_shows(r.out, 4, "power    VBUS 5.050 V  IBUS 0.001 A");
    assert_shows(r.out, 6, "source  0 Source_Capabilities  5 V 3 A, 9 V 3 A, 12 V 3 A,");
    assert_non_null(strstr(r.out, "15 V 3 A, 20 V 5 A,")); /* goes on below */
    assert_non_null(strstr(r.out, "3.3-21 V 5 A prog\n"));
    assert_shows(r.out, 9, "sink    0 Request  #2 9 V 2 A (at most 3 A); mismatch");
    assert_shows(r.out, 11, "source  1 Accept   to Request");
    assert_shows(r.out, 13, "source  2 PS_RDY   => contract 9 V 2 A");
    assert_shows(r.out, 15, "BAD CRC  as if Get_Sink_Cap");
    assert_shows(r.out, 16, "mark     load set at C1, 1.5 A: electronic load");
    assert_shows(r.out, 17, "temp     31.3 degrees C, probe 2 case");
    assert_shows(r.out, 18, "LOST     3 records");
    assert_shows(r.out, 19, "DAMAGED");
    assert_shows(r.out, 20, "HARD RESET");
    run_free(&r);
}

static void times_count_from_the_start_and_from_the_ports_last_record(void **state)
{
    (void)state;
    struct run r = RUN_ON(bench(), "show", "-");

    assert_shows(r.out, 1, "    1   0.000000     -    *");
    assert_shows(r.out, 2, "    2   0.010000     -    C1");
    assert_shows(r.out, 3, "    3   0.100000  90.0 ms C1");
    assert_shows(r.out, 7, "    7   0.201500  1.50 ms C1");
    assert_shows(r.out, 17, "   17   0.410000     -    Left port ");
    run_free(&r);
}

static void what_needs_no_attention_stands_indented(void **state)
{
    (void)state;
    struct run r = RUN_ON(bench(), "show", "-");

    assert_shows(r.out, 5, "   power  VBUS 5.060 V"); /* as the line before, within some hundredths */
    assert_shows(r.out, 7, "0   Source_Capabilities again");
    assert_shows(r.out, 8, "0   GoodCRC");
    run_free(&r);
    r = RUN_ON(bench(), "show", "--terse", "-");
    for (unsigned frame = 1; frame <= 20; frame++) {
        char start[16];
        bool quiet = frame == 5 || frame == 7 || frame == 8 || frame == 10 || frame == 12 || frame == 14;

        snprintf(start, sizeof start, "\n%5u ", frame);
        assert_int_equal(strstr(r.out, start) == NULL, quiet);
    }
    run_free(&r);
}

static void no_line_is_longer_than_100_places(void **state)
{
    (void)state;
    static const char *const options[] = { "-q", "-v", "--terse" };

    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++) {
        struct run r = RUN_ON(bench(), "show", options[i], "-");

        assert_true(r.out_length > 500);
        for (const char *line = r.out; *line; line = strchr(line, '\n') + 1)
            if (strcspn(line, "\n") > 100)
                fail_msg("%zu places: %.*s", strcspn(line, "\n"), (int)strcspn(line, "\n"), line);
        run_free(&r);
    }
}

static void v_tells_every_field_with_its_unit(void **state)
{
    static const char *const fields[] = {
        "Source Fixed Supply PDO (first)", "0x0a01912c", "Dual-Role Data", "Unconstrained Power", "Maximum Current", "9 V",
        "Capability Mismatch", "Object Position", "bytes     a161 2c91010a", "header    0x61a1", "CRC good", "CRC bad",
    };

    (void)state;
    struct run r = RUN_ON(bench(), "show", "-v", "-");

    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++)
        if (!strstr(r.out, fields[i]))
            fail_msg("\"%s\" is missing", fields[i]);
    run_free(&r);
}

static void about_given_by_hand_names_the_ports_and_is_said(void **state)
{
    static const char about[] = "{\"ports\":[{\"port\":0,\"name\":\"USB 1\"}]}";

    (void)state;
    file_write("about.json", about, sizeof about - 1);
    struct run r = RUN_ON(bench(), "show", "--about", file_path("about.json"), "-");

    assert_int_equal(r.status, 0);
    assert_int_equal(strncmp(r.out, "ABOUT corrected by ", 19), 0);
    assert_shows(r.out, 3, " USB 1 ");
    run_free(&r);
    r = RUN_ON(bench(), "show", "--json", "--about", file_path("about.json"), "-");
    assert_non_null(strstr(r.out, "\"corrected_by\":"));
    run_free(&r);
    file_write("about.json", "{\"a\":1,}", 8);
    r = RUN_ON(bench(), "show", "--about", file_path("about.json"), "-");
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "about.json"));
    run_free(&r);
}

static void the_text_form_gives_the_same_records_again(void **state)
{
    (void)state;
    struct run text = RUN_ON(bench(), "show", "--text", "-");
    struct run again = RUN_ON(text.out, "show", "--text", "-");
    struct run one = RUN_ON(bench(), "show", "--json", "--kind=packet", "--kind=power", "--kind=mark", "--kind=lost", "-");
    struct run two = RUN_ON(text.out, "show", "--json", "--kind=packet", "--kind=power", "--kind=mark", "--kind=lost", "-");

    assert_int_equal(text.status, 0);
    assert_non_null(strstr(text.out, "HARD_RESET"));
    assert_string_equal(again.out, text.out);
    /* Frames are line numbers; all else is the same. */
    for (const char *a = one.out, *b = two.out; *a || *b; a = strchr(a, '\n') + 1, b = strchr(b, '\n') + 1) {
        const char *a_rest = strchr(a, ','), *b_rest = strchr(b, ',');

        assert_non_null(a_rest);
        assert_non_null(b_rest);
        assert_int_equal(strcspn(a_rest, "\n"), strcspn(b_rest, "\n"));
        assert_memory_equal(a_rest, b_rest, strcspn(a_rest, "\n"));
    }
    run_free(&text);
    run_free(&again);
    run_free(&one);
    run_free(&two);
}

static void colour_is_for_terminals_and_for_who_asks(void **state)
{
    (void)state;
    struct run plain = RUN_ON(bench(), "show", "-");
    struct run asked = RUN_ON(bench(), "show", "--color=always", "-");
    struct run refused = RUN_ON(bench(), "show", "--color=never", "-");

    assert_null(strchr(plain.out, '\033'));
    assert_non_null(strchr(asked.out, '\033'));
    assert_string_equal(refused.out, plain.out);
    run_free(&plain);
    run_free(&asked);
    run_free(&refused);
}

/* What the program writes to a terminal; text at least 8192 bytes. */
static void shown_on_terminal(char *text)
{
    static const char trace[] = "1.0 0 HARD_RESET\n";
    int               terminal = posix_openpt(O_RDWR | O_NOCTTY);

    assert_true(terminal >= 0 && grantpt(terminal) == 0 && unlockpt(terminal) == 0);
    int holder = open(ptsname(terminal), O_RDWR | O_NOCTTY); /* so that what was written is not lost when the program ends */
    struct run r = program_run_to(ptsname(terminal), trace, (const char *const[]){ "show", "-", NULL });
    ssize_t n = read(terminal, text, 8191);

    assert_int_equal(r.status, 0);
    assert_true(n > 0);
    text[n] = '\0';
    run_free(&r);
    close(holder);
    close(terminal);
}

static void on_a_terminal_colour_comes_unless_no_color_is_set(void **state)
{
    char text[8192];

    (void)state;
    setenv("TERM", "xterm", 1);
    shown_on_terminal(text);
    assert_non_null(strchr(text, '\033'));
    setenv("NO_COLOR", "1", 1);
    shown_on_terminal(text);
    assert_null(strchr(text, '\033'));
    unsetenv("NO_COLOR");
    setenv("TERM", "dumb", 1);
    shown_on_terminal(text);
    assert_null(strchr(text, '\033'));
}

static void output_that_cannot_be_written_is_said(void **state)
{
    static const char *const arguments[] = { "show", "-", NULL };

    (void)state;
    if (access("/dev/full", W_OK) == 0) {
        struct run full = program_run_to("/dev/full", bench(), arguments);

        assert_int_equal(full.status, 2);
        assert_non_null(strstr(full.err, "standard output"));
        run_free(&full);
    }
    struct run closed = program_run_to("-", bench(), arguments);

    assert_int_equal(closed.status, 2);
    assert_non_null(strstr(closed.err, "standard output"));
    run_free(&closed);
    struct run nowhere = RUN_ON(bench(), "show", "-o", "/nowhere/at/all", "-");

    assert_int_equal(nowhere.status, 2);
    assert_non_null(strstr(nowhere.err, "/nowhere/at/all"));
    run_free(&nowhere);
}

static void a_reader_that_goes_away_is_no_fault(void **state)
{
    char command[1024];
    int  status;

    (void)state;
    /* Some 60,000 lines, of which one is read. */
    snprintf(command, sizeof command,
             "awk 'BEGIN{for(i=0;i<60000;i++)print i*0.001,0,\"HARD_RESET\"}' > '%s';"
             "{ '%s' show '%s'; echo $? > '%s'; } | head -n 1 > /dev/null", file_path("long.txt"), PORTASSAY_PROGRAM,
             file_path("long.txt"), file_path("status"));
    status = system(command);
    assert_int_equal(status, 0);
    FILE *f = fopen(file_path("status"), "r");

    assert_non_null(f);
    assert_int_equal(fscanf(f, "%d", &status), 1);
    fclose(f);
    assert_int_equal(status, 0);
}

static void o_writes_a_file_but_never_over_the_trace(void **state)
{
    (void)state;
    file_write("trace.txt", bench(), strlen(bench()));
    struct run r = RUN("show", "-o", file_path("listing"), file_path("trace.txt"));

    assert_int_equal(r.status, 0);
    assert_string_equal(r.out, "");
    assert_int_equal(access(file_path("listing"), R_OK), 0);
    run_free(&r);
    r = RUN("show", "-o", file_path("trace.txt"), file_path("trace.txt"));
    assert_int_equal(r.status, 2);
    run_free(&r);
    r = RUN("show", file_path("trace.txt"));
    assert_int_equal(r.status, 0);
    assert_shows(r.out, 20, "HARD RESET");
    run_free(&r);
}

static void an_empty_trace_is_an_empty_listing_and_no_bytes_are_no_trace(void **state)
{
    static const uint8_t empty[] = { 0x4d, 0x3c, 0xb2, 0xa1, 2, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 0, 147, 0, 0, 0 };
    static const uint8_t ethernet[] = { 0x4d, 0x3c, 0xb2, 0xa1, 2, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 0, 1, 0, 0, 0 };

    (void)state;
    file_write("empty.pcap", empty, sizeof empty);
    file_write("none.pcap", "", 0);
    file_write("ethernet.pcap", ethernet, sizeof ethernet);
    struct run r = RUN("show", "--json", file_path("empty.pcap"));

    assert_int_equal(r.status, 0);
    assert_string_equal(r.out, "");
    assert_string_equal(r.err, "");
    run_free(&r);
    r = RUN("show", file_path("none.pcap"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "0 bytes"));
    run_free(&r);
    r = RUN("show", file_path("ethernet.pcap"));
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "link type 1"));
    assert_ptr_equal(strchr(r.err, '\n'), r.err + strlen(r.err) - 1);
    run_free(&r);
}

/* A GoodCRC of 300 kbit/s (149 bits) 0.1 ms after the start, and a Hard Reset (84 bits) of 280 kbit/s with a preamble of 60 at 2 ms, in ticks of 10 ns. */
static void v_tells_what_the_edges_of_the_line_hold(void **state)
{
    uint8_t            bytes[6] = { 0x61, 0x01 };
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, wave_crc_add(bytes, 2)), reset = wave_packet_of(WAVE_HARD_RESET, NULL, 0);
    struct wave        w;
    struct wave_ticks  seen;
    static struct lines l;
    char               hex[4000];
    size_t             used = (size_t)snprintf(hex, sizeof hex, "0109000400000000" "1027000000000000");
    int64_t            last = 0;

    (void)state;
    reset.rate_hz = 280e3;
    reset.preamble_bits = 60;
    wave_begin(&w, false);
    wave_wait(&w, 1e8);
    wave_send(&w, &p);
    w.now_ps = 2e9;
    wave_send(&w, &reset);
    seen = wave_see(&w, &(struct wave_instrument){ .tick_ps = 10000 });
    for (size_t k = 0; k < seen.count; k++) {
        unsigned step = (unsigned)(seen.at[k] - last);

        last = seen.at[k];
        for (; step > 0x7f && used < sizeof hex; step >>= 7)
            used += (size_t)snprintf(hex + used, sizeof hex - used, "%02x", (step & 0x7f) | 0x80);
        used += (size_t)snprintf(hex + used, sizeof hex - used, "%02x", step);
    }
    l.used = 0;
    line_add(&l, "#= time=1 raw=%s", hex);
    struct run r = RUN_ON(l.text, "show", "-v", "-");

    assert_int_equal(r.status, 0);
    assert_non_null(strstr(r.out, "signal    0.100 ms  SOP: 149 bits at 300.0 kbit/s, preamble 64, drift "));
    assert_non_null(strstr(r.out, "signal    2.000 ms  Hard Reset: 80 bits at 280.0 kbit/s, preamble 60, jitter "));
    run_free(&r);
    free(seen.at);
    wave_free(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_listing_says_who_spoke_and_what),
        cmocka_unit_test(times_count_from_the_start_and_from_the_ports_last_record),
        cmocka_unit_test(what_needs_no_attention_stands_indented),
        cmocka_unit_test(no_line_is_longer_than_100_places),
        cmocka_unit_test(v_tells_every_field_with_its_unit),
        cmocka_unit_test(v_tells_what_the_edges_of_the_line_hold),
        cmocka_unit_test(about_given_by_hand_names_the_ports_and_is_said),
        cmocka_unit_test(the_text_form_gives_the_same_records_again),
        cmocka_unit_test(colour_is_for_terminals_and_for_who_asks),
        cmocka_unit_test(on_a_terminal_colour_comes_unless_no_color_is_set),
        cmocka_unit_test(output_that_cannot_be_written_is_said),
        cmocka_unit_test(a_reader_that_goes_away_is_no_fault),
        cmocka_unit_test(o_writes_a_file_but_never_over_the_trace),
        cmocka_unit_test(an_empty_trace_is_an_empty_listing_and_no_bytes_are_no_trace),
    };

    unsetenv("NO_COLOR");
    return cmocka_run_group_tests(tests, NULL, files_remove);
}
