/* The command line: times, and what is said of what cannot be read. */
#include "cli/options.h"
#include "tests/cli/program.h"

#include <string.h>

static void times_may_be_given_in_any_unit(void **state)
{
    static const struct { const char *text; int64_t ns; } times[] = {
        { "1.5", INT64_C(1500000000) },      { "1.5s", INT64_C(1500000000) },  { "200ms", INT64_C(200000000) },
        { "20us", INT64_C(20000) },          { "3ns", INT64_C(3) },            { "2m", INT64_C(120000000000) },
        { "1h", INT64_C(3600000000000) },    { "0.5h", INT64_C(1800000000000) }, { ".25", INT64_C(250000000) },
        { "-0.1", -INT64_C(100000000) },     { "1.123456789", INT64_C(1123456789) }, { "0", INT64_C(0) },
        { "1200345000ns", INT64_C(1200345000) },
    };
    int64_t ns;

    (void)state;
    for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        assert_true(options_time(times[i].text, &ns));
        assert_int_equal(ns, times[i].ns);
    }
}

static void what_is_no_time_is_refused(void **state)
{
    static const char *const texts[] = { "", "s", "abc", "1.5x", "1,5", "1.1234567891", "--1", "1e3", "99999999999999999999", "9999999999999h", "." };
    int64_t ns;

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        assert_false(options_time(texts[i], &ns));
}

/* One line on standard error, exit code 2, nothing on standard output. */
static void assert_refused(struct run r, const char *words)
{
    assert_int_equal(r.status, 2);
    assert_string_equal(r.out, "");
    assert_non_null(strstr(r.err, words));
    assert_ptr_equal(strchr(r.err, '\n'), r.err + strlen(r.err) - 1);
    run_free(&r);
}

static void what_cannot_be_read_gets_one_line_and_exit_code_2(void **state)
{
    (void)state;
    assert_refused(RUN("none"), "none");
    assert_refused(RUN("--none"), "--none");
    assert_refused(program_run(NULL, (const char *const[]){ NULL }), "command");
    assert_refused(RUN("show"), "TRACE");
    assert_refused(RUN("show", "--none", "x"), "--none");
    assert_refused(RUN("show", "-x", "x"), "-x");
    assert_refused(RUN("show", "a", "b"), "b");
    assert_refused(RUN("show", "--since"), "--since");
    assert_refused(RUN("show", "--since", "soon", "x"), "soon");
    assert_refused(RUN("show", "--since", "2", "--until", "1", "x"), "--until");
    assert_refused(RUN("show", "--port", "255", "x"), "255");
    assert_refused(RUN("show", "--json=yes", "x"), "--json");
    assert_refused(RUN("show", "--color", "blue", "x"), "blue");
    assert_refused(RUN("show", "--message", "Nonsense", "x"), "Nonsense");
    assert_refused(RUN("show", "--kind", "nonsense", "x"), "nonsense");
    assert_refused(RUN("show", "--text", "--json", "x"), "--text");
    assert_refused(RUN("show", "/nowhere/at/all"), "/nowhere/at/all");
    assert_refused(RUN("show", "/nowhere/at\nall"), "/nowhere/at?all");
    assert_refused(RUN("cut", "--finding", "0", "-o", file_path("never"), "x"), "finding");
}

static void every_command_explains_itself(void **state)
{
    static const char *const commands[] = { "show", "offers", "check", "rules", "cut" };

    (void)state;
    struct run r = RUN("--help");

    assert_int_equal(r.status, 0);
    assert_string_equal(r.err, "");
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        struct run own = RUN(commands[i], "--help");

        assert_non_null(strstr(r.out, commands[i]));
        assert_int_equal(own.status, 0);
        assert_string_equal(own.err, "");
        assert_non_null(strstr(own.out, commands[i]));
        assert_non_null(strstr(own.out, "--help"));
        run_free(&own);
    }
    run_free(&r);
}

static void help_fits_the_screen(void **state)
{
    static const char *const commands[] = { "show", "offers", "check", "rules", "cut", "" };

    (void)state;
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        struct run r = commands[i][0] ? RUN(commands[i], "--help") : RUN("--help");

        for (const char *line = r.out; *line;) {
            const char *end = strchr(line, '\n');

            assert_non_null(end);
            if (end - line > 100)
                fail_msg("too long: %.*s", (int)(end - line), line);
            line = end + 1;
        }
        run_free(&r);
    }
}

static void the_version_is_told(void **state)
{
    struct run r = RUN("--version");

    (void)state;
    assert_int_equal(r.status, 0);
    assert_string_equal(r.out, "portassay 0.1.0\n");
    run_free(&r);
    r = RUN("show", "--version");
    assert_int_equal(r.status, 0);
    assert_string_equal(r.out, "portassay 0.1.0\n");
    run_free(&r);
}

/* The first word of every line of a listing. */
static const char *frames_of(const char *listing)
{
    static char frames[100];
    size_t      used = 0;

    for (const char *line = listing; *line; line = strchr(line, '\n') + 1) {
        const char *at = line + strspn(line, " ");
        size_t      length = strcspn(at, " ");

        assert_true(used + length + 2 < sizeof frames);
        memcpy(frames + used, at, length);
        used += length;
        frames[used++] = ' ';
    }
    frames[used] = '\0';
    return frames;
}

static void options_may_stand_anywhere_and_in_any_form(void **state)
{
    static const char trace[] = "0.5 0 HARD_RESET\n1.5 1 HARD_RESET\n2.5 2 HARD_RESET\n";

    (void)state;
    struct run a = RUN_ON(trace, "show", "-q", "--port=1", "--port", "2", "-", "--until=2");
    struct run b = RUN_ON(trace, "show", "-qp1", "--until", "1500ms", "--", "-");

    assert_int_equal(a.status, 0);
    assert_string_equal(frames_of(a.out), "2 3 ");
    assert_int_equal(b.status, 0);
    assert_string_equal(frames_of(b.out), "2 ");
    run_free(&a);
    run_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_may_be_given_in_any_unit),
        cmocka_unit_test(what_is_no_time_is_refused),
        cmocka_unit_test(what_cannot_be_read_gets_one_line_and_exit_code_2),
        cmocka_unit_test(every_command_explains_itself),
        cmocka_unit_test(help_fits_the_screen),
        cmocka_unit_test(the_version_is_told),
        cmocka_unit_test(options_may_stand_anywhere_and_in_any_form),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
