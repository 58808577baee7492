/* JSON as a stream: exact integers, escapes, UTF-8; read back with cJSON. */
#include "cli/json_out.h"
#include "tests/cli/program.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

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
    o->used = 0;
    return o->buffer;
}

static void long_integers_keep_every_digit(void **state)
{
    struct out *o = memory_out();
    struct json j = json_over(o);

    (void)state;
    json_object(&j, NULL);
    json_i64(&j, "a", INT64_MIN);
    json_u64(&j, "b", UINT64_MAX);
    json_i64(&j, "c", 9007199254740993);
    json_decimal(&j, "d", 1234500, 6);
    json_object_end(&j);
    assert_string_equal(taken(o), "{\"a\":-9223372036854775808,\"b\":18446744073709551615,\"c\":9007199254740993,\"d\":1.2345}");
    free(o);
}

static void commas_stand_between_and_nowhere_else(void **state)
{
    struct out *o = memory_out();
    struct json j = json_over(o);

    (void)state;
    json_object(&j, NULL);
    json_array(&j, "a");
    json_array_end(&j);
    json_array(&j, "b");
    json_u64(&j, NULL, 1);
    json_object(&j, NULL);
    json_object_end(&j);
    json_null(&j, NULL);
    json_array_end(&j);
    json_bool(&j, "c", true);
    json_object_end(&j);
    assert_string_equal(taken(o), "{\"a\":[],\"b\":[1,{},null],\"c\":true}");
    json_line(&j);
    json_object(&j, NULL);
    json_object_end(&j);
    assert_string_equal(taken(o), "\n{}");
    free(o);
}

static void any_text_comes_back_as_it_was(void **state)
{
    static const char text[] = "quote \" backslash \\ newline \n tab \t bell \a delete \x7f umlaut \xc3\xbc clef \xf0\x9d\x84\x9e";
    struct out   *o = memory_out();
    struct json   j = json_over(o);

    (void)state;
    json_object(&j, NULL);
    json_text(&j, "t", text);
    json_object_end(&j);
    struct cJSON *back = cJSON_ParseWithOpts(taken(o), NULL, 1);

    assert_non_null(back);
    assert_string_equal(text_of(back, "t"), text);
    cJSON_Delete(back);
    free(o);
}

static void bytes_that_are_no_utf8_become_the_replacement_character(void **state)
{
    struct out *o = memory_out();
    struct json j = json_over(o);

    (void)state;
    /* A lone byte, an overlong slash, a surrogate, a start without its end. */
    json_text(&j, NULL, "a\xff" "b\xc0\xaf" "c\xed\xa0\x80" "d\xe2\x82");
    assert_string_equal(taken(o), "\"a\xef\xbf\xbd" "b\xef\xbf\xbd\xef\xbf\xbd" "c\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd"
                                  "d\xef\xbf\xbd\xef\xbf\xbd\"");
    free(o);
}

static void times_are_dates_of_utc(void **state)
{
    /* interfaces.md gives the form; the dates of these seconds are those of `date -u -d @N`. */
    static const struct { int64_t ns; const char *text; } times[] = {
        { 0, "\"1970-01-01T00:00:00.000000000Z\"" },
        { INT64_C(1769853600000000000), "\"2026-01-31T10:00:00.000000000Z\"" },
        { INT64_C(951827696123456789), "\"2000-02-29T12:34:56.123456789Z\"" },
        { -1, "\"1969-12-31T23:59:59.999999999Z\"" },
        { INT64_C(4107542399000000001), "\"2100-02-28T23:59:59.000000001Z\"" },
    };
    struct out *o = memory_out();

    (void)state;
    for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
        struct json j = json_over(o);

        json_time(&j, NULL, times[i].ns);
        assert_string_equal(taken(o), times[i].text);
    }
    free(o);
}

static void json_text_is_put_on_one_line_and_its_numbers_stay(void **state)
{
    static const char text[] = "{ \"a b\" : 9007199254740993 ,\n\t\"c\\\" d\": [ 1.50, \"x\\\\\" ] }";
    struct out *o = memory_out();
    struct json j = json_over(o);

    (void)state;
    json_compact(&j, NULL, text, sizeof text - 1);
    assert_string_equal(taken(o), "{\"a b\":9007199254740993,\"c\\\" d\":[1.50,\"x\\\\\"]}");
    free(o);
}

static void words_and_bytes_are_lower_case_hex(void **state)
{
    static const uint8_t bytes[] = { 0xa1, 0x61, 0x00 };
    struct out *o = memory_out();
    struct json j = json_over(o);

    (void)state;
    json_array(&j, NULL);
    json_word(&j, NULL, 0x0801912c);
    json_hex(&j, NULL, bytes, sizeof bytes);
    json_array_end(&j);
    assert_string_equal(taken(o), "[\"0x0801912c\",\"a16100\"]");
    free(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(long_integers_keep_every_digit),
        cmocka_unit_test(commas_stand_between_and_nowhere_else),
        cmocka_unit_test(any_text_comes_back_as_it_was),
        cmocka_unit_test(bytes_that_are_no_utf8_become_the_replacement_character),
        cmocka_unit_test(times_are_dates_of_utc),
        cmocka_unit_test(json_text_is_put_on_one_line_and_its_numbers_stay),
        cmocka_unit_test(words_and_bytes_are_lower_case_hex),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
