#include "capture/meter_log_inside.h"

#include <string.h>

/* Decimal prefixes and symbols of units: The International System of Units (BIPM, 9th edition), tables 2, 4, 7 and 8. */
static const struct meter_unit units_all[] = {
    /* word dimension power factor form */
    { "s",   METER_SECONDS, 9, 1, METER_NUMBER },
    { "ms",  METER_SECONDS, 6, 1, METER_NUMBER },
    { "us",  METER_SECONDS, 3, 1, METER_NUMBER },
    { "ns",  METER_SECONDS, 0, 1, METER_NUMBER },
    { "min", METER_SECONDS, 9, 60, METER_NUMBER },
    { "h",   METER_SECONDS, 9, 3600, METER_NUMBER },
    { "unix", METER_SECONDS, 0, 1, METER_UNIX },
    { "iso", METER_SECONDS, 0, 1, METER_CALENDAR },
    { "hh:mm:ss", METER_SECONDS, 0, 1, METER_CALENDAR },
    { "hh:mm", METER_SECONDS, 0, 1, METER_HOURS_MINUTES },
    { "mm:ss", METER_SECONDS, 0, 1, METER_MINUTES_SECONDS },
    { "dd/mm/yyyy", METER_SECONDS, 0, 1, METER_DAY_FIRST },
    { "mm/dd/yyyy", METER_SECONDS, 0, 1, METER_MONTH_FIRST },
    { "V",   METER_VOLTS, 6, 1, METER_NUMBER },
    { "mV",  METER_VOLTS, 3, 1, METER_NUMBER },
    { "uV",  METER_VOLTS, 0, 1, METER_NUMBER },
    { "A",   METER_AMPERES, 6, 1, METER_NUMBER },
    { "mA",  METER_AMPERES, 3, 1, METER_NUMBER },
    { "uA",  METER_AMPERES, 0, 1, METER_NUMBER },
    { "W",   METER_WATTS, 6, 1, METER_NUMBER },
    { "mW",  METER_WATTS, 3, 1, METER_NUMBER },
    { "Wh",  METER_WATT_HOURS, 6, 1, METER_NUMBER },
    { "mWh", METER_WATT_HOURS, 3, 1, METER_NUMBER },
    { "Ah",  METER_AMPERE_HOURS, 6, 1, METER_NUMBER },
    { "mAh", METER_AMPERE_HOURS, 3, 1, METER_NUMBER },
    { "°C",  METER_CELSIUS, 3, 1, METER_NUMBER },
    { "°F",  METER_NO_DIMENSION, 0, 1, METER_NUMBER }, /* these two are known, so that they are not taken for degrees Celsius */
    { "K",   METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    /* These would be taken for volts, amperes, watts and their hours. */
    { "nV",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "kV",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "nA",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "kA",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "uW",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "kW",  METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "uWh", METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "kWh", METER_NO_DIMENSION, 0, 1, METER_NUMBER },
    { "uAh", METER_NO_DIMENSION, 0, 1, METER_NUMBER },
};

/* Other spellings, and the word that they stand for. The micro sign and the degree in UTF-8 (two code points each) and in Latin-1. */
static const struct { const char *spelling, *word; } spellings_all[] = {
    { "sec", "s" }, { "secs", "s" }, { "second", "s" }, { "seconds", "s" },
    { "msec", "ms" }, { "millis", "ms" }, { "millisecond", "ms" }, { "milliseconds", "ms" },
    { "usec", "us" }, { "micros", "us" }, { "microseconds", "us" }, { "\xC2\xB5s", "us" }, { "\xCE\xBCs", "us" }, { "\xB5s", "us" },
    { "nsec", "ns" }, { "nanoseconds", "ns" },
    { "minute", "min" }, { "minutes", "min" }, { "mins", "min" }, { "hr", "h" }, { "hrs", "h" }, { "hour", "h" }, { "hours", "h" },
    { "epoch", "unix" }, { "iso8601", "iso" }, { "iso 8601", "iso" }, { "h:m:s", "hh:mm:ss" }, { "h:mm:ss", "hh:mm:ss" }, { "hms", "hh:mm:ss" },
    { "hh:mm:ss.fff", "hh:mm:ss" }, { "hh:mm:ss.zzz", "hh:mm:ss" }, { "hh:mm:ss.sss", "hh:mm:ss" }, { "hh:mm:ss,fff", "hh:mm:ss" }, { "hh:mm:ss.ms", "hh:mm:ss" },
    { "volt", "V" }, { "volts", "V" }, { "millivolt", "mV" }, { "millivolts", "mV" }, { "microvolts", "uV" },
    { "\xC2\xB5V", "uV" }, { "\xCE\xBCV", "uV" }, { "\xB5V", "uV" },
    { "amp", "A" }, { "amps", "A" }, { "ampere", "A" }, { "amperes", "A" }, { "milliamp", "mA" }, { "milliamps", "mA" }, { "milliamperes", "mA" },
    { "microamps", "uA" }, { "\xC2\xB5" "A", "uA" }, { "\xCE\xBC" "A", "uA" }, { "\xB5" "A", "uA" },
    { "watt", "W" }, { "watts", "W" }, { "milliwatts", "mW" }, { "w.h", "Wh" }, { "w*h", "Wh" }, { "a.h", "Ah" },
    { "C", "°C" }, { "degC", "°C" }, { "deg C", "°C" }, { "deg.C", "°C" }, { "celsius", "°C" }, { "degrees C", "°C" }, { "degrees celsius", "°C" },
    { "\xB0" "C", "°C" }, { "\xC2\xBA" "C", "°C" }, { "\xE2\x84\x83", "°C" },
    { "F", "°F" }, { "degF", "°F" }, { "deg F", "°F" }, { "fahrenheit", "°F" }, { "\xB0" "F", "°F" }, { "\xE2\x84\x89", "°F" }, { "kelvin", "K" },
};

static uint8_t lower(char letter)
{
    return (uint8_t)(letter >= 'A' && letter <= 'Z' ? letter - 'A' + 'a' : letter);
}

bool meter_same_words(const char *a, size_t a_length, const char *b, size_t b_length)
{
    if (a_length != b_length)
        return false;
    for (size_t i = 0; i < a_length; i++) {
        if (lower(a[i]) != lower(b[i]))
            return false;
    }
    return true;
}

static const struct meter_unit *unit_of_word(const char *text, size_t length)
{
    for (size_t i = 0; i < sizeof units_all / sizeof units_all[0]; i++) {
        if (meter_same_words(units_all[i].word, strlen(units_all[i].word), text, length))
            return &units_all[i];
    }
    return NULL;
}

const struct meter_unit *meter_unit_find(const char *text, size_t length)
{
    for (size_t i = 0; i < sizeof spellings_all / sizeof spellings_all[0]; i++) {
        const char *spelling = spellings_all[i].spelling;

        if (meter_same_words(spelling, strlen(spelling), text, length))
            return unit_of_word(spellings_all[i].word, strlen(spellings_all[i].word));
    }
    return unit_of_word(text, length);
}

const char *meter_unit_word(const struct meter_unit *unit)
{
    return unit->word;
}

const struct meter_unit *meter_unit_plain(enum meter_dimension dimension)
{
    switch (dimension) {
    case METER_NO_DIMENSION: return NULL;
    case METER_SECONDS:      return unit_of_word("s", 1);
    case METER_VOLTS:        return unit_of_word("V", 1);
    case METER_AMPERES:      return unit_of_word("A", 1);
    case METER_WATTS:        return unit_of_word("W", 1);
    case METER_WATT_HOURS:   return unit_of_word("Wh", 2);
    case METER_AMPERE_HOURS: return unit_of_word("Ah", 2);
    case METER_CELSIUS:      return unit_of_word("°C", strlen("°C"));
    }
    return NULL;
}

/* 1e8 s since 1970 are in 1973, 1e11 s in the year 5138: each unit has a range of its own. Below: a time from the log's beginning. */
const struct meter_unit *meter_unit_since_1970(int64_t v)
{
    if (v >= INT64_C(100000000000000000))
        return unit_of_word("ns", 2);
    if (v >= INT64_C(100000000000000))
        return unit_of_word("us", 2);
    if (v >= INT64_C(100000000000))
        return unit_of_word("ms", 2);
    return v >= 100000000 ? unit_of_word("s", 1) : NULL;
}

const struct meter_unit *meter_unit_calendar(void)
{
    return unit_of_word("iso", 3);
}

enum meter_dimension meter_dimension_of(enum meter_quantity quantity)
{
    switch (quantity) {
    case METER_NOTHING:     return METER_NO_DIMENSION;
    case METER_TIME:
    case METER_DATE:        return METER_SECONDS;
    case METER_VBUS:
    case METER_VCONN:       return METER_VOLTS;
    case METER_IBUS:        return METER_AMPERES;
    case METER_TEMPERATURE: return METER_CELSIUS;
    case METER_POWER:       return METER_WATTS;
    case METER_ENERGY:      return METER_WATT_HOURS;
    case METER_CHARGE:      return METER_AMPERE_HOURS;
    }
    return METER_NO_DIMENSION;
}
