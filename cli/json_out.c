#include "cli/json_out.h"

#include "capture/json.h"

#include <stdlib.h>

enum { DEPTH_MAX = 60, NS_PER_S = 1000000000, SECONDS_PER_DAY = 86400 };

static void json_string(struct out *o, const char *text, size_t length);

/* The comma before, and the key. */
static void json_lead(struct json *j, const char *key)
{
    uint64_t bit = UINT64_C(1) << j->depth;

    if (j->filled & bit)
        out_char(j->out, ',');
    j->filled |= bit;
    if (key) {
        json_string(j->out, key, strlen(key));
        out_char(j->out, ':');
    }
}

static void json_open(struct json *j, const char *key, char bracket)
{
    json_lead(j, key);
    out_char(j->out, bracket);
    if (j->depth < DEPTH_MAX)
        j->depth++;
    j->filled &= ~(UINT64_C(1) << j->depth);
}

static void json_shut(struct json *j, char bracket)
{
    out_char(j->out, bracket);
    if (j->depth > 0)
        j->depth--;
}

void json_object(struct json *j, const char *key)
{
    json_open(j, key, '{');
}

void json_object_end(struct json *j)
{
    json_shut(j, '}');
}

void json_array(struct json *j, const char *key)
{
    json_open(j, key, '[');
}

void json_array_end(struct json *j)
{
    json_shut(j, ']');
}

void json_line(struct json *j)
{
    out_line(j->out);
    j->filled = 0;
    j->depth = 0;
}

void json_i64(struct json *j, const char *key, int64_t value)
{
    json_lead(j, key);
    out_i64(j->out, value);
}

void json_u64(struct json *j, const char *key, uint64_t value)
{
    json_lead(j, key);
    out_u64(j->out, value);
}

void json_decimal(struct json *j, const char *key, int64_t value, unsigned scale)
{
    json_lead(j, key);
    out_short(j->out, value, scale);
}

void json_bool(struct json *j, const char *key, bool value)
{
    json_lead(j, key);
    out_text(j->out, value ? "true" : "false");
}

void json_null(struct json *j, const char *key)
{
    json_lead(j, key);
    out_text(j->out, "null");
}

void json_text(struct json *j, const char *key, const char *text)
{
    if (!text) {
        json_null(j, key);
        return;
    }
    json_text_n(j, key, text, strlen(text));
}

void json_text_n(struct json *j, const char *key, const char *text, size_t length)
{
    json_lead(j, key);
    json_string(j->out, text, length);
}

void json_word(struct json *j, const char *key, uint32_t word)
{
    json_lead(j, key);
    out_text(j->out, "\"0x");
    out_hex(j->out, word, 8);
    out_char(j->out, '"');
}

void json_hex(struct json *j, const char *key, const uint8_t *bytes, size_t length)
{
    json_lead(j, key);
    out_char(j->out, '"');
    out_hex_bytes(j->out, bytes, length);
    out_char(j->out, '"');
}

/* Length of the well-formed UTF-8 character at text (no surrogates, nothing overlong), 0 if there is none. */
static size_t utf8_length(const char *text, size_t left)
{
    unsigned char c = (unsigned char)text[0];
    size_t        n = c < 0x80 ? 1 : c >= 0xc2 && c < 0xe0 ? 2 : c >= 0xe0 && c < 0xf0 ? 3 : c >= 0xf0 && c < 0xf5 ? 4 : 0;

    return n > 0 && n <= left && utf8_valid(text, n) ? n : 0;
}

static void json_escape(struct out *o, unsigned char c)
{
    static const struct { char c, letter; } letters[] = {
        { '"', '"' }, { '\\', '\\' }, { '\n', 'n' }, { '\r', 'r' }, { '\t', 't' }, { '\b', 'b' }, { '\f', 'f' },
    };

    out_char(o, '\\');
    for (size_t i = 0; i < sizeof letters / sizeof letters[0]; i++)
        if ((unsigned char)letters[i].c == c) {
            out_char(o, letters[i].letter);
            return;
        }
    out_text(o, "u00");
    out_hex(o, c, 2);
}

static void json_string(struct out *o, const char *text, size_t length)
{
    out_char(o, '"');
    for (size_t at = 0; at < length;) {
        unsigned char c = (unsigned char)text[at];

        if (c >= 0x80) {
            size_t n = utf8_length(text + at, length - at);

            out_bytes(o, n ? text + at : "\xef\xbf\xbd", n ? n : 3);
            at += n ? n : 1;
            continue;
        }
        if (c < 0x20 || c == '"' || c == '\\' || c == 0x7f)
            json_escape(o, c);
        else
            out_char(o, (char)c);
        at++;
    }
    out_char(o, '"');
}

struct date { int64_t year; unsigned month, day; };

/* Days since 1970-01-01 as a date of the Gregorian calendar: counted in years that begin with March, so that the leap day is last. */
static struct date date_of_days(int64_t days)
{
    enum { DAYS_400_YEARS = 146097, DAYS_TO_1970 = 719468 };
    int64_t  shifted = days + DAYS_TO_1970;
    int64_t  era = (shifted >= 0 ? shifted : shifted - (DAYS_400_YEARS - 1)) / DAYS_400_YEARS;
    unsigned day = (unsigned)(shifted - era * DAYS_400_YEARS);
    unsigned year = (day - day / 1460 + day / 36524 - day / 146096) / 365;
    unsigned in_year = day - (365 * year + year / 4 - year / 100);
    unsigned month = (5 * in_year + 2) / 153;

    return (struct date){ .year = era * 400 + year + (month >= 10 ? 1 : 0), .month = month < 10 ? month + 3 : month - 9,
                          .day = in_year - (153 * month + 2) / 5 + 1 };
}

static void out_padded(struct out *o, uint64_t value, unsigned digits)
{
    uint64_t least = 1;

    for (unsigned i = 1; i < digits; i++)
        least *= 10;
    for (; least > 1 && value < least; least /= 10)
        out_char(o, '0');
    out_u64(o, value);
}

void json_time(struct json *j, const char *key, int64_t ns_since_1970)
{
    int64_t     seconds = ns_since_1970 / NS_PER_S - (ns_since_1970 % NS_PER_S < 0 ? 1 : 0);
    uint64_t    ns = (uint64_t)(ns_since_1970 - seconds * NS_PER_S);
    int64_t     days = seconds / SECONDS_PER_DAY - (seconds % SECONDS_PER_DAY < 0 ? 1 : 0);
    uint64_t    second = (uint64_t)(seconds - days * SECONDS_PER_DAY);
    struct date date = date_of_days(days);
    struct out *o = j->out;

    json_lead(j, key);
    out_char(o, '"');
    out_padded(o, (uint64_t)date.year, 4);
    out_char(o, '-');
    out_padded(o, date.month, 2);
    out_char(o, '-');
    out_padded(o, date.day, 2);
    out_char(o, 'T');
    out_padded(o, second / 3600, 2);
    out_char(o, ':');
    out_padded(o, second / 60 % 60, 2);
    out_char(o, ':');
    out_padded(o, second % 60, 2);
    out_char(o, '.');
    out_padded(o, ns, 9);
    out_text(o, "Z\"");
}

void json_compact(struct json *j, const char *key, const char *text, size_t length)
{
    bool inside = false;

    json_lead(j, key);
    for (size_t i = 0; i < length; i++) {
        char c = text[i];

        if (!inside && (c == ' ' || c == '\t' || c == '\n' || c == '\r'))
            continue;
        out_char(j->out, c);
        if (inside && c == '\\' && i + 1 < length)
            out_char(j->out, text[++i]);
        else if (c == '"')
            inside = !inside;
    }
}

static void tree_put(void *context, const char *text, size_t length)
{
    out_bytes(context, text, length);
}

void json_tree(struct json *j, const char *key, const struct cJSON *tree)
{
    json_lead(j, key);
    if (tree)
        json_print(tree, tree_put, j->out);
    else
        out_text(j->out, "null");
}
