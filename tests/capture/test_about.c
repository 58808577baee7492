/* What ABOUT records say of the bench and its ports: traces/FORMAT.md, section 6. */
#include "tests/capture/made.h"

#include "capture/about.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool merge(struct about *a, uint8_t port, const char *text)
{
    return about_merge(a, port, text, strlen(text));
}

static void nothing_said_is_nothing_given(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_non_null(a);
    for (unsigned port = 0; port < 256; port++) {
        const struct about_port *p = about_port(a, (uint8_t)port);

        assert_int_equal(about_instrument(a, (uint8_t)port)->given, 0);
        assert_false(p->listed);
        assert_false(p->kind_given);
        assert_int_equal(p->kind, ABOUT_SOURCE);
        assert_int_equal(p->rated_mw, -1);
        assert_true(p->path_mohm < 0);
        assert_string_equal(p->name, "");
    }
    assert_false(about_rebuilt(a, "kernel"));
    about_free(a);
}

static void readings_of_the_instrument_are_taken_by_their_keys(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_true(merge(a, 255, "{\"instrument\":{\"clock_ppm\":1,\"time_ns\":2,\"host_time_ns\":3,\"mark_time_ns\":4,\"align_ns\":5,"
                              "\"power_time_ns\":6,\"power_clock_ppm\":7,\"sampling\":\"mean\","
                              "\"volt\":{\"gain_ppm\":8,\"offset_uv\":9,\"noise_uv\":10.5,\"bandwidth_hz\":11},"
                              "\"amp\":{\"gain_ppm\":12,\"offset_ua\":13,\"noise_ua\":14,\"bandwidth_hz\":0}}}"));
    const struct about_instrument *i = about_instrument(a, 0);

    assert_true(i->clock_ppm == 1 && i->time_ns == 2 && i->host_time_ns == 3 && i->mark_time_ns == 4 && i->align_ns == 5);
    assert_true(i->power_time_ns == 6 && i->power_clock_ppm == 7 && i->mean_sampling);
    assert_true(i->volt.gain_ppm == 8 && i->volt.offset_uv == 9 && i->volt.noise_uv == 10.5 && i->volt.bandwidth_hz == 11);
    assert_true(i->amp.gain_ppm == 12 && i->amp.offset_ua == 13 && i->amp.noise_ua == 14 && i->amp.bandwidth_hz == 0);
    assert_int_equal(i->given, 0x7FFF); /* zero states zero */
    about_free(a);
}

static void a_negative_or_non_numeric_value_counts_as_missing(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_true(merge(a, 255, "{\"instrument\":{\"clock_ppm\":-1,\"time_ns\":\"2\",\"host_time_ns\":null,\"mark_time_ns\":[4],\"align_ns\":1e400,"
                              "\"volt\":7,\"amp\":{\"gain_ppm\":true,\"offset_ua\":0}},"
                              "\"ports\":[{\"port\":1,\"rated_w\":-5,\"path_mohm\":\"x\",\"kind\":\"toaster\",\"name\":7}]}"));
    assert_int_equal(about_instrument(a, 0)->given, ABOUT_AMP_OFFSET);
    assert_true(about_port(a, 1)->listed);
    assert_int_equal(about_port(a, 1)->rated_mw, -1);
    assert_true(about_port(a, 1)->path_mohm < 0);
    assert_false(about_port(a, 1)->kind_given);
    assert_string_equal(about_port(a, 1)->name, "");
    about_free(a);
}

static void ports_are_described_by_the_list(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_true(merge(a, 255, "{\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"dual\",\"plug\":\"type_a\",\"volt_at\":\"sink\",\"path_mohm\":12.5,"
                              "\"path_mohm_u\":0.5,\"rated_w\":65.5},{\"port\":254,\"kind\":\"input\"},{\"port\":255},{\"port\":1.5},{\"name\":\"x\"},7]}"));
    const struct about_port *p = about_port(a, 0);

    assert_true(p->listed && p->kind_given);
    assert_string_equal(p->name, "C1");
    assert_int_equal(p->kind, ABOUT_DUAL);
    assert_int_equal(p->plug, ABOUT_TYPE_A);
    assert_int_equal(p->volt_at, ABOUT_VOLT_SINK);
    assert_true(p->path_mohm == 12.5 && p->path_mohm_u == 0.5);
    assert_int_equal(p->rated_mw, 65500);
    assert_int_equal(about_port(a, 254)->kind, ABOUT_INPUT);
    assert_false(about_port(a, 1)->listed);
    assert_false(about_port(a, 255)->listed);
    /* A list replaces the one before it as a whole. */
    assert_true(merge(a, 255, "{\"ports\":[{\"port\":3,\"plug\":\"captive\"}]}"));
    assert_false(about_port(a, 0)->listed);
    assert_int_equal(about_port(a, 3)->plug, ABOUT_CAPTIVE);
    about_free(a);
}

static void long_names_end_between_characters(void **state)
{
    (void)state;
    struct about *a = about_new();

    /* 30 letters and a character of two bytes: it does not fit 31 bytes. */
    assert_true(merge(a, 255, "{\"ports\":[{\"port\":0,\"name\":\"abcdefghijabcdefghijabcdefghij\xc3\xa9 and more\"}]}"));
    assert_string_equal(about_port(a, 0)->name, "abcdefghijabcdefghijabcdefghij");
    about_free(a);
}

static void a_later_record_is_merged_over_the_earlier_ones(void **state)
{
    (void)state;
    struct about *a = about_new();
    unsigned      before = about_generation(a);

    assert_true(merge(a, 255, "{\"device\":\"Lumenbrick 65\",\"instrument\":{\"time_ns\":5,\"volt\":{\"gain_ppm\":100,\"noise_uv\":7}}}"));
    assert_true(merge(a, 255, "{\"instrument\":{\"time_ns\":null,\"volt\":{\"gain_ppm\":200}}}"));
    assert_int_equal(about_instrument(a, 0)->given, ABOUT_VOLT_GAIN | ABOUT_VOLT_NOISE);
    assert_true(about_instrument(a, 0)->volt.gain_ppm == 200);
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(about_json(a), "device")->valuestring, "Lumenbrick 65");
    assert_true(about_generation(a) > before);
    before = about_generation(a);
    assert_false(merge(a, 255, "[1]"));
    assert_false(merge(a, 255, "{\"device\":\"x\"}}"));
    assert_int_equal(about_generation(a), before);
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(about_json(a), "device")->valuestring, "Lumenbrick 65");
    about_free(a);
}

static void the_instrument_of_a_port_outranks_that_of_the_bench(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_true(merge(a, 2, "{\"instrument\":{\"time_ns\":10}}"));
    assert_true(merge(a, 255, "{\"instrument\":{\"time_ns\":1,\"clock_ppm\":20}}"));
    assert_true(about_instrument(a, 2)->time_ns == 10);
    assert_true(about_instrument(a, 2)->clock_ppm == 20);
    assert_true(about_instrument(a, 1)->time_ns == 1);
    assert_true(about_instrument(a, 255)->time_ns == 1);
    assert_null(cJSON_GetObjectItemCaseSensitive(cJSON_GetObjectItemCaseSensitive(about_json(a), "instrument"), "x"));
    assert_true(merge(a, 2, "{\"instrument\":null}"));
    assert_true(about_instrument(a, 2)->time_ns == 1);
    assert_true(merge(a, 2, "{\"ports\":[{\"port\":2,\"name\":\"C3\"},{\"port\":1,\"name\":\"not its own\"}]}"));
    assert_string_equal(about_port(a, 2)->name, "C3");
    assert_false(about_port(a, 1)->listed);
    about_free(a);
}

static void what_the_user_says_outranks_the_trace_also_later(void **state)
{
    (void)state;
    struct about *a = about_new();
    struct fault  f = { 0 };
    const char    own[] = "{\"device\":\"Harbor 96\",\"note\":null,\"instrument\":{\"time_ns\":7},\"ports\":[{\"port\":0,\"kind\":\"sink\"}]}";

    assert_true(about_override(a, own, sizeof own - 1, &f));
    assert_true(merge(a, 255, "{\"device\":\"x\",\"note\":\"y\",\"bench\":\"three\",\"instrument\":{\"time_ns\":1,\"clock_ppm\":2},\"ports\":[]}"));
    assert_true(merge(a, 0, "{\"instrument\":{\"time_ns\":3}}"));
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(about_json(a), "device")->valuestring, "Harbor 96");
    assert_string_equal(cJSON_GetObjectItemCaseSensitive(about_json(a), "bench")->valuestring, "three");
    assert_null(cJSON_GetObjectItemCaseSensitive(about_json(a), "note"));
    assert_true(about_instrument(a, 0)->time_ns == 7);
    assert_true(about_instrument(a, 255)->time_ns == 7);
    assert_true(about_instrument(a, 255)->clock_ppm == 2);
    assert_int_equal(about_port(a, 0)->kind, ABOUT_SINK);
    assert_false(about_override(a, "{\"a\":01}", 8, &f));
    assert_int_equal(f.code, FAULT_JSON);
    assert_int_equal(f.number, 6);
    about_free(a);
}

static void what_was_rebuilt_is_known_by_name(void **state)
{
    (void)state;
    struct about *a = about_new();

    assert_true(merge(a, 255, "{\"rebuilt\":[\"kernel\"]}"));
    assert_true(about_rebuilt(a, "kernel"));
    assert_false(about_rebuilt(a, "kernel_log"));
    assert_true(merge(a, 4, "{\"rebuilt\":[\"kernel_log\"]}"));
    assert_true(about_rebuilt(a, "kernel_log"));
    assert_true(about_port_told(a, 4)); /* by either */
    assert_true(about_port_told(a, 5)); /* "kernel", of the bench */
    about_free(a);
}

static void records_without_end_do_not_fill_the_memory(void **state)
{
    (void)state;
    struct about *a = about_new();
    char          text[100];
    unsigned      merged = 0;

    for (unsigned k = 0; k < 100000; k++) {
        snprintf(text, sizeof text, "{\"a%u\":{\"b\":%u}}", k / 100, k % 100);
        merged += merge(a, 255, text);
    }
    assert_true(merged > 400 * 100); /* the same key again and again is no growth */
    assert_true(merged < 1100 * 100);
    for (unsigned k = 0; k < 100000; k++) {
        snprintf(text, sizeof text, "{\"x\":{\"a%u\":1}}", k);
        merged += merge(a, (uint8_t)(k % 255), text);
    }
    assert_true(cJSON_GetArraySize(about_json(a)) <= 1100);
    assert_true(merge(a, 255, "{\"a0\":null}")); /* what makes it smaller is still welcome */
    about_free(a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_said_is_nothing_given),
        cmocka_unit_test(readings_of_the_instrument_are_taken_by_their_keys),
        cmocka_unit_test(a_negative_or_non_numeric_value_counts_as_missing),
        cmocka_unit_test(ports_are_described_by_the_list),
        cmocka_unit_test(long_names_end_between_characters),
        cmocka_unit_test(a_later_record_is_merged_over_the_earlier_ones),
        cmocka_unit_test(the_instrument_of_a_port_outranks_that_of_the_bench),
        cmocka_unit_test(what_the_user_says_outranks_the_trace_also_later),
        cmocka_unit_test(what_was_rebuilt_is_known_by_name),
        cmocka_unit_test(records_without_end_do_not_fill_the_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
