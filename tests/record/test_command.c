#define _GNU_SOURCE /* mkfifo, kill */
#include "tests/record/running.h"

#include <cjson/cJSON.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void refused(const char *words, const char *const *arguments)
{
    struct run r = program_run(NULL, arguments);

    assert_int_equal(r.status, 2);
    if (!strstr(r.err, words))
        fail_msg("\"%s\" does not say \"%s\"", r.err, words);
    assert_ptr_equal(strchr(r.err, '\n') + 1, r.err + strlen(r.err)); /* one line */
    run_free(&r);
}
#define REFUSED(words, ...) refused(words, (const char *const[]){ __VA_ARGS__, NULL })

static void wrong_use_is_one_line_that_says_what_to_do(void **state)
{
    (void)state;
    REFUSED("name one with --from", "record");
    REFUSED("there is no such source", "record", "-f", "radio:1", "-o", file_path("x.pcap"));
    REFUSED("No such file", "record", "-f", "text:/nowhere/at/all", "-o", file_path("x.pcap"));
    REFUSED("directory", "record", "-f", "text:/", "-o", file_path("x.pcap"));
    REFUSED("is no baud rate", "record", "-f", "text:/dev/null@77", "-o", file_path("x.pcap"));
    REFUSED("--rotate 100:", "record", "-f", "text:-", "-o", "x.pcap", "--rotate", "100");
    REFUSED("--rotate 10k:", "record", "-f", "text:-", "-o", "x.pcap", "--rotate", "10k");
    REFUSED("--keep is for --rotate", "record", "-f", "text:-", "-o", "x.pcap", "--keep", "3");
    REFUSED("--rotate makes files", "record", "-f", "text:-", "--rotate", "1h");
    REFUSED("--for", "record", "-f", "text:-", "-o", "x.pcap", "--for", "-3s");
    REFUSED("cannot be opened", "record", "-f", "text:-", "-o", "/nowhere/at/all.pcap");
}

static void lines_of_standard_input_become_a_trace(void **state)
{
    struct place file = place_of("stdin.pcap");

    (void)state;
    struct run r = RUN_ON("- 0 V 5.010 I 0.500\n- 0 CC 1 3.0A\n# a comment\n\n- * MARK plugged 0 by hand\n", "record", "-f", "text:-", "-o", file.path);

    assert_int_equal(r.status, 0);
    assert_string_equal(r.err, "");
    run_free(&r);
    r = RUN("show", "--json", file.path);
    assert_int_equal(r.status, 0);
    assert_int_equal(lines_with(r.out, "\"kind\":\"about\""), 2); /* the first and the last */
    assert_non_null(strstr(r.out, "\"first\":[5010000,500000]"));
    assert_non_null(strstr(r.out, "\"kind\":\"cc\""));
    assert_non_null(strstr(r.out, "\"action_name\":\"plugged\",\"subject\":0"));
    assert_int_equal(lines_with(r.out, "\"host_time\""), 5);
    assert_non_null(strstr(r.out, "sources ended"));
    run_free(&r);
}

static void a_file_that_is_there_is_kept_unless_told_otherwise(void **state)
{
    struct place file = place_of("there.pcap");
    struct run   r = RUN_ON("- 0 V 5.0\n", "record", "-f", "text:-", "-o", file.path);

    (void)state;
    assert_int_equal(r.status, 0);
    run_free(&r);
    r = RUN_ON("- 0 V 6.0\n", "record", "-f", "text:-", "-o", file.path);
    assert_int_equal(r.status, 2);
    assert_non_null(strstr(r.err, "--overwrite"));
    run_free(&r);
    r = RUN_ON("- 0 V 7.0\n", "record", "-f", "text:-", "-o", file.path, "--overwrite");
    assert_int_equal(r.status, 0);
    run_free(&r);
    r = RUN("show", "--json", file.path);
    assert_non_null(strstr(r.out, "\"first\":[7000000]"));
    assert_null(strstr(r.out, "\"first\":[5000000]"));
    run_free(&r);
}

static void what_is_said_of_the_bench_stands_at_the_beginning(void **state)
{
    const char about[] = "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\"}]}";

    (void)state;
    file_write("about.json", about, sizeof about - 1);
    struct run r = RUN_ON("- 0 V 5.0\n", "record", "-f", "text:-", "-o", file_path("about.pcap"), "--about", file_path("about.json"));

    assert_int_equal(r.status, 0);
    run_free(&r);
    r = RUN("show", "--json", file_path("about.pcap"));
    assert_non_null(strstr(r.out, "Lumenbrick 65"));
    assert_true(strstr(r.out, "Lumenbrick 65") < strchr(r.out, '\n'));
    run_free(&r);
    file_write("about.json", "{\"device\":", 10);
    REFUSED("no JSON object", "record", "-f", "text:-", "-o", file_path("about2.pcap"), "--about", file_path("about.json"));
    assert_int_equal(access(file_path("about2.pcap"), F_OK), -1); /* no file is left behind */
}

static void a_signal_stops_it_in_order(void **state)
{
    static const int signals[] = { SIGINT, SIGTERM, SIGHUP };
    struct running   r;

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct place from = pipe_make("signal"), file = place_of("signal.pcap");

        unlink(file.path);
        START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", file.path);
        int fd = pipe_write(from.path);

        say(fd, "- 0 V 5.0\n");
        pause_ms(150);
        assert_int_equal(running_stop(&r, signals[k]), 0);
        close(fd);
        struct run shown = RUN("show", "--json", file.path);

        assert_int_equal(shown.status, 0);
        assert_int_equal(lines_with(shown.out, "\"kind\":\"power\""), 1);
        assert_non_null(strstr(shown.out, "stopped by hand"));
        run_free(&shown);
    }
}

static void it_stops_when_what_was_plugged_in_is_unplugged(void **state)
{
    struct place   from = pipe_make("plug"), file = place_of("plug.pcap");
    struct running r;

    (void)state;
    START(&r, RUNNING_PLAIN, "record", "-f", from.source, "-o", file.path, "--until-detached");
    int fd = pipe_write(from.path);

    say(fd, "- 0 CC 0 -\n");
    pause_ms(100);
    say(fd, "- 0 CC 1 3.0A\n");
    pause_ms(100);
    say(fd, "- 0 CC 0 -\n");
    assert_int_equal(running_wait(&r), 0);
    close(fd);
    struct run shown = RUN("show", "--json", file.path);

    assert_int_equal(lines_with(shown.out, "\"kind\":\"cc\""), 3);
    assert_non_null(strstr(shown.out, "\"ended\":\"detached\""));
    run_free(&shown);
}

static void files_turn_and_each_is_a_trace_of_its_own(void **state)
{
    char text[64 * 1024];
    size_t used = 0;

    (void)state;
    used += (size_t)snprintf(text + used, sizeof text - used, "- 1 CC 2 1.5A\n- * ABOUT {\"device\":\"Harbor 96\"}\n");
    while (used + 40 < sizeof text)
        used += (size_t)snprintf(text + used, sizeof text - used, "- 1 V 9.000 I 1.000\n");
    struct run r = RUN_ON(text, "record", "-f", "text:-", "-o", file_path("turn.pcap"), "--rotate", "64k", "--keep", "2");

    assert_int_equal(r.status, 0);
    run_free(&r);
    struct stat about;

    assert_int_equal(stat(file_path("turn.pcap"), &about), -1);
    assert_int_equal(stat(file_path("turn-0001.pcap"), &about), -1); /* two are kept */
    r = RUN("show", "--json", file_path("turn-0002.pcap"));
    assert_int_equal(r.status, 0);
    char *second = strchr(r.out, '\n') + 1;

    assert_non_null(strstr(r.out, "Harbor 96"));
    assert_true(strstr(r.out, "Harbor 96") < second);
    assert_true(strstr(second, "\"kind\":\"cc\"") < strchr(second, '\n'));
    assert_non_null(strstr(second, "\"attach\":2"));
    run_free(&r);
}

static void the_trace_can_be_read_while_it_is_recorded(void **state)
{
    struct place   from = pipe_make("through");
    char           byte[40000];
    struct running r;
    size_t         got = 0;

    (void)state;
    START(&r, RUNNING_OUT_PIPE, "record", "-f", from.source, "-o", "-");
    int fd = pipe_write(from.path);

    for (unsigned k = 1; k <= 5; k++) { /* each is there before the next is said */
        size_t want = got + 16 + 20;

        say(fd, "- 0 V 5.0\n");
        while (got < want) {
            ssize_t n = read(r.out, byte + got, sizeof byte - got);

            assert_true(n > 0);
            got += (size_t)n;
        }
    }
    close(r.out);
    r.out = -1;
    say(fd, "- 0 V 5.0\n- 0 V 5.0\n"); /* whoever read it has gone: no fault */
    assert_int_equal(running_wait(&r), 0);
    assert_string_equal(r.heard, "");
    close(fd);
}

static void ports_says_that_there_may_be_nothing(void **state)
{
    struct run r = RUN("ports", "--json");

    (void)state;
    assert_int_equal(r.status, 0);
    struct cJSON *json = json_line_of(r.out, 0);

    assert_non_null(json);
    assert_int_equal(number_of(json, "schema"), 1);
    assert_non_null(member(json, "sources"));
    cJSON_Delete(json);
    run_free(&r);
    r = RUN("ports");
    assert_int_equal(r.status, 0);
    assert_true(r.out_length > 0);
    run_free(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong_use_is_one_line_that_says_what_to_do),
        cmocka_unit_test(lines_of_standard_input_become_a_trace),
        cmocka_unit_test(a_file_that_is_there_is_kept_unless_told_otherwise),
        cmocka_unit_test(what_is_said_of_the_bench_stands_at_the_beginning),
        cmocka_unit_test(a_signal_stops_it_in_order),
        cmocka_unit_test(it_stops_when_what_was_plugged_in_is_unplugged),
        cmocka_unit_test(files_turn_and_each_is_a_trace_of_its_own),
        cmocka_unit_test(the_trace_can_be_read_while_it_is_recorded),
        cmocka_unit_test(ports_says_that_there_may_be_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
