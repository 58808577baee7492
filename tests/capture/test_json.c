/* Strict JSON: what RFC 8259 forbids is refused, what it allows comes through with every digit; RFC 7396 merging. */
#include "tests/capture/made.h"

#include "capture/json.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

/* Texts with a zero byte among them are given by their length. */
#define TEXT(text) text, sizeof text - 1
struct text_case { const char *text; size_t length; };

static const struct text_case good_all[] = {
    { TEXT("{}") }, { TEXT(" \t\r\n{ } \n") }, { TEXT("{\"\":0}") }, { TEXT("{\"a\":[1,-0,0.5,1e5,1E+5,-1.25e-7]}") },
    { TEXT("{\"a\":true,\"b\":false,\"c\":null}") }, { TEXT("{\"a\":\"\\\"\\\\\\/\\b\\f\\n\\r\\t\\u00e9\"}") },
    { TEXT("{\"a\":\"\\ud83d\\ude00\"}") }, { TEXT("{\"a\":\"\xc3\xa9\xe2\x82\xac\xf0\x9f\x98\x80\"}") },
    { TEXT("{\"a\":{\"b\":{\"c\":[[[]]]}}}") }, { TEXT("{\"a\":1,\"a\":2}") }, { TEXT("{\"a\":\"\x7f\"}") },
};

static const struct text_case bad_all[] = {
    { TEXT("") }, { TEXT(" ") }, { TEXT("[]") }, { TEXT("1") }, { TEXT("\"a\"") }, { TEXT("null") }, { TEXT("{") }, { TEXT("}") },
    { TEXT("{}x") }, { TEXT("{}{}") }, { TEXT("{}\0") }, { TEXT("\xEF\xBB\xBF{}") }, { TEXT("{\"a\"}") }, { TEXT("{\"a\":}") },
    { TEXT("{a:1}") }, { TEXT("{'a':1}") }, { TEXT("{\"a\":1,}") }, { TEXT("{,}") }, { TEXT("{\"a\":[1,]}") }, { TEXT("{\"a\":[1 2]}") },
    { TEXT("{\"a\":01}") }, { TEXT("{\"a\":1.}") }, { TEXT("{\"a\":.5}") }, { TEXT("{\"a\":+1}") }, { TEXT("{\"a\":0x10}") },
    { TEXT("{\"a\":1e}") }, { TEXT("{\"a\":1e+}") }, { TEXT("{\"a\":-}") }, { TEXT("{\"a\":NaN}") }, { TEXT("{\"a\":Infinity}") },
    { TEXT("{\"a\":True}") }, { TEXT("{\"a\":tru}") }, { TEXT("{\"a\":nulll}") }, { TEXT("{\"a\":1}//") }, { TEXT("{/**/}") },
    { TEXT("{\"a\":\"\n\"}") }, { TEXT("{\"a\":\"\t\"}") }, { TEXT("{\"a\":\"\0\"}") }, { TEXT("{\"a\":\"") }, { TEXT("{\"a\":\"\\\"}") },
    { TEXT("{\"a\":\"\\x41\"}") }, { TEXT("{\"a\":\"\\u12g4\"}") }, { TEXT("{\"a\":\"\\u123\"}") }, { TEXT("{\"a\":\"\\u0000\"}") },
    { TEXT("{\"a\":\"\\ud800\"}") }, { TEXT("{\"a\":\"\\ud800\\u0041\"}") }, { TEXT("{\"a\":\"\\udc00\"}") }, { TEXT("{\"a\":\"\\ud800x\"}") },
    { TEXT("{\"a\":\"\xff\"}") }, { TEXT("{\"a\":\"\xc0\x80\"}") }, { TEXT("{\"a\":\"\xed\xa0\x80\"}") }, { TEXT("{\"a\":\"\xc3\"}") },
    { TEXT("{\"a\xff\":1}") },
    { TEXT("{\"a\":1234567890123456789012345678901234567890123456789012345678901}") }, /* 61 digits */
};

static void what_the_standard_allows_is_taken(void **state)
{
    (void)state;
    for (size_t i = 0; i < LENGTH(good_all); i++) {
        size_t at;
        cJSON *json = json_object_parse(good_all[i].text, good_all[i].length, &at);

        if (!json || !json_object_check(good_all[i].text, good_all[i].length, NULL))
            fail_msg("refused at %zu: %s", at, good_all[i].text);
        cJSON_Delete(json);
    }
}

static void what_the_standard_forbids_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < LENGTH(bad_all); i++) {
        cJSON *json = json_object_parse(bad_all[i].text, bad_all[i].length, NULL);

        if (json || json_object_check(bad_all[i].text, bad_all[i].length, NULL))
            fail_msg("taken: %s", bad_all[i].text);
    }
}

static void it_is_said_where_the_text_went_wrong(void **state)
{
    (void)state;
    size_t at = 99;

    assert_null(json_object_parse(TEXT("{\"a\":1, b}"), &at));
    assert_int_equal(at, 8);
    assert_null(json_object_parse(TEXT("{} x"), &at));
    assert_int_equal(at, 3);
    assert_null(json_object_parse(TEXT("  [1]"), &at));
    assert_int_equal(at, 2);
}

static void sixty_four_levels_are_taken_and_no_more(void **state)
{
    (void)state;
    char text[400] = "{\"a\":";
    size_t n = 5;

    memset(text + n, '[', 63);
    memset(text + n + 63, ']', 63);
    text[n + 126] = '}';
    assert_true(json_object_check(text, n + 127, NULL));
    memset(text + n, '[', 64);
    memset(text + n + 64, ']', 64);
    text[n + 128] = '}';
    assert_false(json_object_check(text, n + 129, NULL));
}

static void text_put(void *context, const char *text, size_t length)
{
    made_bytes(context, text, length);
}

static void printed_is(const char *text, const char *wanted)
{
    cJSON      *json = json_value_parse(text, strlen(text), NULL);
    struct made out = { 0 };

    assert_non_null(json);
    json_print(json, text_put, &out);
    made_u8(&out, 0);
    assert_string_equal((const char *)out.bytes, wanted);
    made_free(&out);
    cJSON_Delete(json);
}

static void numbers_keep_every_digit(void **state)
{
    (void)state;
    printed_is("9007199254740993", "9007199254740993"); /* 2^53 + 1, which no double holds */
    printed_is("-9007199254740993", "-9007199254740993");
    printed_is("1767225604812945491", "1767225604812945491");
    printed_is("123456789012345678901234567890", "123456789012345678901234567890");
    printed_is("9007199254740991", "9007199254740991");
    printed_is("1e400", "1e400");
    printed_is("0", "0");
    printed_is("2147483648", "2147483648");
    printed_is("0.1", "0.1");
    printed_is("1.0", "1");
    printed_is("1e3", "1000");
    printed_is("0.30000000000000004", "0.30000000000000004"); /* needs 17 digits */
    printed_is("5e-324", "5e-324");
    printed_is("1.7976931348623157e308", "1.7976931348623157e+308");
    printed_is("[9007199254740993,{\"7\":\"8,9\",\"a\":[10,9007199254740995]},\"\\\"9\"]",
               "[9007199254740993,{\"7\":\"8,9\",\"a\":[10,9007199254740995]},\"\\\"9\"]");
}

static void strings_are_printed_so_that_they_read_back_the_same(void **state)
{
    (void)state;
    printed_is("\"\\u0001\\b\\f\\n\\r\\t\\\"\\\\\\/\\u007f\"", "\"\\u0001\\u0008\\u000c\\n\\r\\t\\\"\\\\/\\u007f\"");
    printed_is("\"\\u00e9\\ud83d\\ude00\"", "\"\xc3\xa9\xf0\x9f\x98\x80\"");
    printed_is(" { \"a\\nb\" : [ true , false , null ] } ", "{\"a\\nb\":[true,false,null]}");
}

static void numbers_keep_their_digits_through_a_merge(void **state)
{
    (void)state;
    cJSON      *target = json_object_parse(TEXT("{\"a\":9007199254740993}"), NULL);
    cJSON      *patch = json_object_parse(TEXT("{\"b\":[9007199254740995]}"), NULL);
    struct made out = { 0 };

    assert_true(json_merge(target, patch));
    cJSON_Delete(patch);
    json_print(target, text_put, &out);
    made_u8(&out, 0);
    assert_string_equal((const char *)out.bytes, "{\"a\":9007199254740993,\"b\":[9007199254740995]}");
    made_free(&out);
    cJSON_Delete(target);
}

/* RFC 7396, appendix A: those of its examples in which document and patch are objects. */
static const struct { const char *original, *patch, *result; } merges_all[] = {
    { "{\"a\":\"b\"}", "{\"a\":\"c\"}", "{\"a\":\"c\"}" },
    { "{\"a\":\"b\"}", "{\"b\":\"c\"}", "{\"a\":\"b\",\"b\":\"c\"}" },
    { "{\"a\":\"b\"}", "{\"a\":null}", "{}" },
    { "{\"a\":\"b\",\"b\":\"c\"}", "{\"a\":null}", "{\"b\":\"c\"}" },
    { "{\"a\":[\"b\"]}", "{\"a\":\"c\"}", "{\"a\":\"c\"}" },
    { "{\"a\":\"c\"}", "{\"a\":[\"b\"]}", "{\"a\":[\"b\"]}" },
    { "{\"a\":{\"b\":\"c\"}}", "{\"a\":{\"b\":\"d\",\"c\":null}}", "{\"a\":{\"b\":\"d\"}}" },
    { "{\"a\":[{\"b\":\"c\"}]}", "{\"a\":[1]}", "{\"a\":[1]}" },
    { "{\"e\":null}", "{\"a\":1}", "{\"e\":null,\"a\":1}" },
    { "{}", "{\"a\":{\"bb\":{\"ccc\":null}}}", "{\"a\":{\"bb\":{}}}" },
};

static void objects_are_merged_as_in_the_examples_of_rfc_7396(void **state)
{
    (void)state;
    for (size_t i = 0; i < LENGTH(merges_all); i++) {
        cJSON      *target = json_object_parse(merges_all[i].original, strlen(merges_all[i].original), NULL);
        cJSON      *patch = json_object_parse(merges_all[i].patch, strlen(merges_all[i].patch), NULL);
        struct made out = { 0 };

        assert_true(json_merge(target, patch));
        json_print(target, text_put, &out);
        made_u8(&out, 0);
        assert_string_equal((const char *)out.bytes, merges_all[i].result);
        made_free(&out);
        cJSON_Delete(target);
        cJSON_Delete(patch);
    }
}

/* Markus Kuhn's UTF-8 stress cases in short: first and last of each length, surrogates, overlong forms, stray bytes. */
static const struct text_case utf8_good_all[] = {
    { TEXT("") }, { TEXT("\0") }, { TEXT("\x7f") }, { TEXT("\xc2\x80") }, { TEXT("\xdf\xbf") }, { TEXT("\xe0\xa0\x80") },
    { TEXT("\xed\x9f\xbf") }, { TEXT("\xee\x80\x80") }, { TEXT("\xef\xbf\xbf") }, { TEXT("\xf0\x90\x80\x80") }, { TEXT("\xf4\x8f\xbf\xbf") },
};
static const struct text_case utf8_bad_all[] = {
    { TEXT("\x80") }, { TEXT("\xbf") }, { TEXT("\xc0\xaf") }, { TEXT("\xc1\xbf") }, { TEXT("\xc2") }, { TEXT("\xc2x") },
    { TEXT("\xe0\x9f\xbf") }, { TEXT("\xe0\xa0") }, { TEXT("\xed\xa0\x80") }, { TEXT("\xed\xbf\xbf") }, { TEXT("\xf0\x8f\xbf\xbf") },
    { TEXT("\xf0\x90\x80") }, { TEXT("\xf4\x90\x80\x80") }, { TEXT("\xf5\x80\x80\x80") }, { TEXT("\xfe") }, { TEXT("\xff") },
    { TEXT("\xe2\x82x") }, { TEXT("a\xf8\x88\x80\x80\x80") },
};

static void utf8_is_told_from_what_only_looks_like_it(void **state)
{
    (void)state;
    for (size_t i = 0; i < LENGTH(utf8_good_all); i++)
        assert_true(utf8_valid(utf8_good_all[i].text, utf8_good_all[i].length));
    for (size_t i = 0; i < LENGTH(utf8_bad_all); i++)
        assert_false(utf8_valid(utf8_bad_all[i].text, utf8_bad_all[i].length));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_the_standard_allows_is_taken),
        cmocka_unit_test(what_the_standard_forbids_is_refused),
        cmocka_unit_test(it_is_said_where_the_text_went_wrong),
        cmocka_unit_test(sixty_four_levels_are_taken_and_no_more),
        cmocka_unit_test(numbers_keep_every_digit),
        cmocka_unit_test(strings_are_printed_so_that_they_read_back_the_same),
        cmocka_unit_test(numbers_keep_their_digits_through_a_merge),
        cmocka_unit_test(objects_are_merged_as_in_the_examples_of_rfc_7396),
        cmocka_unit_test(utf8_is_told_from_what_only_looks_like_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
