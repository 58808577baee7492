/* Headings, numbers and times of meters' logs, one by one. What they mean was typed by hand. */
#include "tests/capture/made.h"

#include "capture/meter_log_inside.h"

#include <stdio.h>
#include <string.h>

enum { NONE = METER_NOTHING, ASIDE = 100 }; /* ASIDE added: of the kind, but beside what is looked for */

/* heading, quantity, unit ("": none), number in the name, the name without its unit */
static const struct { const char *text; int quantity; const char *unit; int number; const char *name; } headings_all[] = {
    { "Voltage (V)", METER_VBUS, "V", -1, "Voltage" },
    { "Voltage(V)", METER_VBUS, "V", -1, "Voltage" },
    { "V/mV", METER_VBUS, "mV", -1, "V" },
    { "U/V", METER_VBUS, "V", -1, "U" },
    { "I [mA]", METER_IBUS, "mA", -1, "I" },
    { "VBUS_mv", METER_VBUS, "mV", -1, "VBUS" },
    { "vbus_uv", METER_VBUS, "uV", -1, "vbus" },
    { "ibus_ua", METER_IBUS, "uA", -1, "ibus" },
    { "Current(A)", METER_IBUS, "A", -1, "Current" },
    { "Current", METER_IBUS, "", -1, "Current" },
    { "Volts", METER_VBUS, "V", -1, "Volts" },
    { "A", METER_IBUS, "A", -1, "A" },
    { "mA", METER_IBUS, "mA", -1, "mA" },
    { "Amps", METER_IBUS, "A", -1, "Amps" },
    { "Spannung V", METER_VBUS, "V", -1, "Spannung" },
    { "Strom in mA", METER_IBUS, "mA", -1, "Strom in" },
    { "Tension [V]", METER_VBUS, "V", -1, "Tension" },
    { "VCONN (V)", METER_VCONN, "V", -1, "VCONN" },
    { "temp \xC2\xB0" "C", METER_TEMPERATURE, "°C", -1, "temp" },
    { "T1 [\xB0" "C]", METER_TEMPERATURE, "°C", 1, "T1" },
    { "Temp(\xE2\x84\x83)", METER_TEMPERATURE, "°C", -1, "Temp" },
    { "Case deg C", METER_TEMPERATURE, "°C", -1, "Case deg" },
    { "temperature", METER_TEMPERATURE, "", -1, "temperature" },
    { "t_ms", METER_TIME, "ms", -1, "t" },
    { "t", METER_TIME, "", -1, "t" },
    { "T", METER_TEMPERATURE, "", -1, "T" },
    { "t/s", METER_TIME, "s", -1, "t" },
    { "Time (\xC2\xB5s)", METER_TIME, "us", -1, "Time" },
    { "Time [\xB5s]", METER_TIME, "us", -1, "Time" },
    { "Zeit s", METER_TIME, "s", -1, "Zeit" },
    { "Elapsed", METER_TIME, "", -1, "Elapsed" },
    { "Elapsed (min)", METER_TIME, "min", -1, "Elapsed" },
    { "Elapsed time (h)", METER_TIME, "h", -1, "Elapsed time" },
    { "Timestamp", METER_TIME, "", -1, "Timestamp" },
    { "Time (hh:mm:ss)", METER_TIME, "hh:mm:ss", -1, "Time" },
    { "Date", METER_DATE, "", -1, "Date" },
    { "Date/Time", METER_TIME, "", -1, "Date/Time" },
    { "Date (dd/mm/yyyy)", METER_DATE, "dd/mm/yyyy", -1, "Date" },
    { "Power (W)", METER_POWER, "W", -1, "Power" },
    { "P/mW", METER_POWER, "mW", -1, "P" },
    { "Energy (mWh)", METER_ENERGY, "mWh", -1, "Energy" },
    { "Wh", METER_ENERGY, "Wh", -1, "Wh" },
    { "Capacity [mAh]", METER_CHARGE, "mAh", -1, "Capacity" },
    { "V2 (V)", METER_VBUS, "V", 2, "V2" },
    { "CH12 Current [A]", METER_IBUS, "A", 12, "CH12 Current" },
    { "Voltage (V) 3", METER_VBUS, "V", 3, "Voltage" },
    { "Port 1 VBUS (mV)", METER_VBUS, "mV", 1, "Port 1 VBUS" },
    /* of the kind, but not what is looked for */
    { "D+ (V)", METER_VBUS + ASIDE, "V", -1, "D+" },
    { "CC1 (V)", METER_VBUS + ASIDE, "V", 1, "CC1" },
    { "Max voltage (V)", METER_VBUS + ASIDE, "V", -1, "Max voltage" },
    { "Set current (A)", METER_IBUS + ASIDE, "A", -1, "Set current" },
    { "Shunt mV", METER_VBUS + ASIDE, "mV", -1, "Shunt" },
    { "Voltage min", METER_VBUS + ASIDE, "", -1, "Voltage min" },
    /* letters that are names, readings, and words of nothing */
    { "Port A", NONE, "", -1, "Port A" },
    { "USB C", NONE, "", -1, "USB C" },
    { "5.0 V", NONE, "", -1, "5.0 V" },
    { "12", NONE, "", -1, "12" },
    { "", NONE, "", -1, "" },
    { "Spannung", NONE, "", -1, "Spannung" },
    { "Group", NONE, "", -1, "Group" },
    { "Temp (\xC2\xB0" "F)", NONE, "°F", -1, "Temp" }, /* known, and not taken for degrees Celsius */
    { "Current (nA)", NONE, "nA", -1, "Current" }, /* nor these for volts and amperes */
    { "Voltage [kV]", NONE, "kV", -1, "Voltage" },
    { "Energy/kWh", NONE, "kWh", -1, "Energy" },
    { "temperature K", NONE, "K", -1, "temperature" },
};

static void headings_tell_quantity_unit_number_and_name(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof headings_all / sizeof headings_all[0]; i++) {
        struct meter_heading h;
        const char          *text = headings_all[i].text;

        meter_heading_read(text, strlen(text), &h);
        if ((int)h.quantity + (h.aside ? ASIDE : 0) != headings_all[i].quantity)
            fail_msg("\"%s\": quantity %d, aside %d", text, h.quantity, h.aside);
        if (strcmp(h.unit ? meter_unit_word(h.unit) : "", headings_all[i].unit) != 0)
            fail_msg("\"%s\": unit %s", text, h.unit ? meter_unit_word(h.unit) : "none");
        if (h.number != headings_all[i].number)
            fail_msg("\"%s\": number %d", text, h.number);
        if (h.name_length != strlen(headings_all[i].name) || memcmp(text, headings_all[i].name, h.name_length) != 0)
            fail_msg("\"%s\": name of %zu", text, h.name_length);
    }
}

/* cell, decimal mark, power, factor -> whole number; how many bytes are left behind it */
static const struct { const char *text; char mark; int power; int64_t factor, value; size_t left; } numbers_all[] = {
    { "5.0123", '.', 6, 1, 5012300, 0 },       { "5,0123", ',', 6, 1, 5012300, 0 },
    { "-0.5", '.', 6, 1, -500000, 0 },         { "+7", '.', 3, 1, 7000, 0 },
    { "\xE2\x88\x92" "1.5", '.', 3, 1, -1500, 0 }, { ".25", '.', 3, 1, 250, 0 },
    { "3.", '.', 3, 1, 3000, 0 },              { "1.5e-3", '.', 6, 1, 1500, 0 },
    { "1E3", '.', 0, 1, 1000, 0 },             { "2.5 V", '.', 3, 1, 2500, 2 },
    { "7e", '.', 0, 1, 7, 1 },                 { "1.234,5", '.', 3, 1, 1234, 2 },
    /* half away from zero */
    { "0.0000005", '.', 6, 1, 1, 0 },          { "0.00000049999999999999999999", '.', 6, 1, 0, 0 },
    { "-0.0000005", '.', 6, 1, -1, 0 },        { "1.0000015", '.', 6, 1, 1000002, 0 },
    { "2.5", '.', 0, 1, 3, 0 },                { "-2.5", '.', 0, 1, -3, 0 },
    { "0.3000000000000000444", '.', 9, 1, 300000000, 0 },
    /* minutes and hours */
    { "1.5", '.', 9, 60, INT64_C(90000000000), 0 }, { "0.0002777777777777778", '.', 9, 3600, 1000000000, 0 },
    /* very small and very large ones that fit */
    { "1e-300", '.', 6, 1, 0, 0 },             { "9223372036854775", '.', 3, 1, INT64_C(9223372036854775000), 0 },
    { "0.9223372036854775807", '.', 0, 1, 1, 0 }, { "0.4999999999999999999", '.', 0, 1, 0, 0 }, { "0e999", '.', 6, 1, 0, 0 },              { "1769853600.123456789", '.', 9, 1, INT64_C(1769853600123456789), 0 },
};

static void numbers_come_out_to_the_unit_rounded_half_away_from_zero(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof numbers_all / sizeof numbers_all[0]; i++) {
        struct cursor     c = cursor_over((const uint8_t *)numbers_all[i].text, strlen(numbers_all[i].text));
        char              mark = numbers_all[i].mark;
        struct csv_number n;
        int64_t           value = 0;

        if (!csv_number_read(&c, &mark, &n) || !csv_number_scaled(&n, numbers_all[i].power, numbers_all[i].factor, &value))
            fail_msg("%s cannot be read", numbers_all[i].text);
        if (value != numbers_all[i].value || c.left != numbers_all[i].left)
            fail_msg("%s: %lld, %zu left", numbers_all[i].text, (long long)value, c.left);
    }
}

static void what_is_no_number_or_does_not_fit_is_refused(void **state)
{
    static const char *const no_numbers[] = { "", "-", "+", ".", "-.", "e5", "abc", "V5", ",", "--1" };
    static const char *const too_large[] = { "1e30", "9223372036854775808", "99999999999999999999", "1e999999999999" };

    (void)state;
    for (size_t i = 0; i < sizeof no_numbers / sizeof no_numbers[0]; i++) {
        struct cursor     c = cursor_over((const uint8_t *)no_numbers[i], strlen(no_numbers[i]));
        char              mark = '.';
        struct csv_number n;

        assert_false(csv_number_read(&c, &mark, &n));
        assert_int_equal(c.left, strlen(no_numbers[i]));
    }
    for (size_t i = 0; i < sizeof too_large / sizeof too_large[0]; i++) {
        struct cursor     c = cursor_over((const uint8_t *)too_large[i], strlen(too_large[i]));
        char              mark = '.';
        struct csv_number n;
        int64_t           value;

        assert_true(csv_number_read(&c, &mark, &n));
        assert_false(csv_number_scaled(&n, 1, 1, &value));
    }
}

static void the_first_decimal_mark_settles_which_it_is(void **state)
{
    struct cursor     c = cursor_over((const uint8_t *)"12", 2), comma = cursor_over((const uint8_t *)"1,5", 3), point = cursor_over((const uint8_t *)"1.5", 3);
    struct csv_number n;
    char              mark = 0;

    (void)state;
    assert_true(csv_number_read(&c, &mark, &n));
    assert_int_equal(mark, 0);
    assert_true(csv_number_read(&comma, &mark, &n));
    assert_int_equal(mark, ',');
    assert_true(csv_number_read(&point, &mark, &n));
    assert_int_equal(n.digits, 1);
    assert_int_equal(point.left, 2);
}

/* Days from 1970-01-01: 2026-01-31 is day 20484 (date -d 2026-01-31 +%s / 86400), 2024-02-29 day 19782, 2000-03-01 day 11017. */
#define DAY_NS INT64_C(86400000000000)
#define HOUR_NS INT64_C(3600000000000)
static const struct { const char *text; enum meter_form form; int64_t date_ns, clock_ns, step_ns; bool date, zone; } moments_all[] = {
    { "2026-01-31T10:00:00.123Z", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS + 123000000, 1000000, true, true },
    { "2026-01-31 10:00:00", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, false },
    { "2026/01/31 10:00:00,5", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS + 500000000, 100000000, true, false },
    { "2026-01-31T10:00:00+02:00", METER_CALENDAR, 20484 * DAY_NS, 8 * HOUR_NS, 1000000000, true, true },
    { "2026-01-31T10:00:00-0430", METER_CALENDAR, 20484 * DAY_NS, 14 * HOUR_NS + HOUR_NS / 2, 1000000000, true, true },
    { "2026-01-31 10:00:00 UTC", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, true },
    { "20260131T100000Z", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, true },
    { "2026-01-31T10:00", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS, INT64_C(60000000000), true, false },
    { "31.01.2026 10:00:00", METER_CALENDAR, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, false },
    { "31/01/2026 10:00:00", METER_DAY_FIRST, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, false },
    { "1/31/2026 10:00:00 AM", METER_MONTH_FIRST, 20484 * DAY_NS, 10 * HOUR_NS, 1000000000, true, false },
    { "2024-02-29", METER_CALENDAR, 19782 * DAY_NS, 0, DAY_NS, true, false },
    { "2000-03-01", METER_CALENDAR, 11017 * DAY_NS, 0, DAY_NS, true, false },
    { "1970-01-01", METER_CALENDAR, 0, 0, DAY_NS, true, false },
    { "23:59:59.999999999", METER_CALENDAR, 0, 24 * HOUR_NS - 1, 1, false, false },
    { "125:00:01", METER_CALENDAR, 0, 125 * HOUR_NS + 1000000000, 1000000000, false, false },
    { "10:00:00:250", METER_CALENDAR, 0, 10 * HOUR_NS + 250000000, 1000000, false, false },
    { "02:30.5", METER_CALENDAR, 0, INT64_C(150500000000), 100000000, false, false },
    { "02:30", METER_MINUTES_SECONDS, 0, INT64_C(150000000000), 1000000000, false, false },
    { "02:30", METER_HOURS_MINUTES, 0, 2 * HOUR_NS + HOUR_NS / 2, INT64_C(60000000000), false, false },
    { "12:00:00 AM", METER_CALENDAR, 0, 0, 1000000000, false, false },
    { "12:00:00 pm", METER_CALENDAR, 0, 12 * HOUR_NS, 1000000000, false, false },
    { "1:05:00 PM", METER_CALENDAR, 0, 13 * HOUR_NS + HOUR_NS / 12, 1000000000, false, false },
};

static void times_are_read_as_people_write_them(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof moments_all / sizeof moments_all[0]; i++) {
        struct meter_moment m;
        const char         *text = moments_all[i].text;

        if (!meter_moment_read(cursor_over((const uint8_t *)text, strlen(text)), moments_all[i].form, &m))
            fail_msg("%s cannot be read", text);
        if (m.date_ns != moments_all[i].date_ns || m.clock_ns != moments_all[i].clock_ns || m.step_ns != moments_all[i].step_ns)
            fail_msg("%s: date %lld clock %lld step %lld", text, (long long)m.date_ns, (long long)m.clock_ns, (long long)m.step_ns);
        if (m.has_date != moments_all[i].date || m.zone_told != moments_all[i].zone)
            fail_msg("%s: date %d zone %d", text, m.has_date, m.zone_told);
    }
}

/* Among them dates that could be two, and two numbers of a clock that could be two things. */
static void times_that_are_none_or_could_be_two_are_refused(void **state)
{
    static const char *const texts[] = {
        "", "now", "10", "1.5", "03/04/2026", "2026-02-29", "2026-13-01", "2026-00-10", "2026-01-32", "1900-01-01", "10:60:00", "10:00:61", "10:0",
        "10:00:00X", "10:00:00 ZZ", "10:00:00+25:00", "10:00:00+7777777", "10:00:00-10:99", "10:00:00+777777777777:00", "13:00:00 PM", "2026-01-31T25:00:00", "2026-01-31 10", "99999999999:00:00", "10::00",
    };

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct meter_moment m;

        if (meter_moment_read(cursor_over((const uint8_t *)texts[i], strlen(texts[i])), METER_CALENDAR, &m))
            fail_msg("\"%s\" was taken for a time", texts[i]);
    }
}

static void maps_are_read_by_their_grammar(void **state)
{
    struct meter_map map;
    struct fault     f = { .code = FAULT_NONE };

    (void)state;
    assert_true(meter_map_read("time=1,vbus=Voltage,ibus=3:mA,temp0=T1:C,port=1,vbus=\"V, second\":mV", &map, &f));
    assert_int_equal(map.count, 5);
    assert_int_equal(map.entry[0].quantity, METER_TIME);
    assert_int_equal(map.entry[0].number, 1);
    assert_null(map.entry[0].unit);
    assert_int_equal(map.entry[1].quantity, METER_VBUS);
    assert_string_equal(map.entry[1].name, "Voltage");
    assert_int_equal(map.entry[2].number, 3);
    assert_string_equal(meter_unit_word(map.entry[2].unit), "mA");
    assert_int_equal(map.entry[3].quantity, METER_TEMPERATURE);
    assert_string_equal(meter_unit_word(map.entry[3].unit), "°C");
    assert_false(map.entry[3].port_told);
    assert_int_equal(map.entry[4].port, 1);
    assert_string_equal(map.entry[4].name, "V, second");
    assert_string_equal(meter_unit_word(map.entry[4].unit), "mV");

    assert_true(meter_map_read(" time = Clock : mm:ss , ibus@2 = Load: A, temp31=9 ,vconn=-, date=\"1st\"", &map, &f));
    assert_string_equal(map.entry[0].name, "Clock");
    assert_string_equal(meter_unit_word(map.entry[0].unit), "mm:ss");
    assert_int_equal(map.entry[1].port, 2);
    assert_int_equal(map.entry[2].probe, 31);
    assert_true(map.entry[3].none);
    assert_string_equal(map.entry[4].name, "1st");
}

static void a_map_that_cannot_be_read_is_named_at_the_entry(void **state)
{
    static const struct { const char *map, *detail; } maps[] = {
        { "", "" }, { "vbus", "vbus" }, { "vbus=1,foo=2", "foo=2" }, { "vbus=0", "vbus=0" }, { "vbus=", "vbus=" }, { "vbus=3:mX", "vbus=3:mX" },
        { "vbus=3:mA", "vbus=3:mA" }, { "temp=1", "temp=1" }, { "temp32=1", "temp32=1" }, { "port=255", "port=255" }, { "vbus=1,vbus=2", "vbus=2" },
        { "vbus@x=1", "vbus@x=1" }, { "vbus=\"open", "vbus=\"open" }, { "vbus=1,,ibus=2", "" }, { "vbus=257", "vbus=257" }, { "vbus=\"a\"b", "vbus=\"a\"b" },
    };

    (void)state;
    for (size_t i = 0; i < sizeof maps / sizeof maps[0]; i++) {
        struct meter_map map;
        struct fault     f = { .code = FAULT_NONE };

        if (meter_map_read(maps[i].map, &map, &f))
            fail_msg("\"%s\" was read", maps[i].map);
        assert_int_equal(f.code, FAULT_TABLE);
        assert_int_equal(f.number, TABLE_MAP);
        assert_string_equal(f.detail, maps[i].detail);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(headings_tell_quantity_unit_number_and_name),
        cmocka_unit_test(numbers_come_out_to_the_unit_rounded_half_away_from_zero),
        cmocka_unit_test(what_is_no_number_or_does_not_fit_is_refused),
        cmocka_unit_test(the_first_decimal_mark_settles_which_it_is),
        cmocka_unit_test(times_are_read_as_people_write_them),
        cmocka_unit_test(times_that_are_none_or_could_be_two_are_refused),
        cmocka_unit_test(maps_are_read_by_their_grammar),
        cmocka_unit_test(a_map_that_cannot_be_read_is_named_at_the_entry),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
