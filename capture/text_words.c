#include "capture/text_words_inside.h"

#include <string.h>

const char *const text_sets[] = { "SOP", "SOP'", "SOP''", "SOP'_Debug", "SOP''_Debug", NULL };
const char *const text_resets[] = { "HARD_RESET", "CABLE_RESET", NULL };
const char *const text_actions[] = { "note", "plugged", "unplugged", "load", "input_on", "input_off", "button", NULL };
const char *const text_rp[] = { "-", "default", "1.5A", "3.0A", NULL };
const char *const text_places[] = { "unknown", "instrument", "host", "disk", NULL };
const char *const text_flags[] = { "host_time", "end_time", "invented", NULL };
const char *const text_states[] = { "crc_bad", "truncated", "no_crc", NULL };
const char *const text_columns[] = { "V", "I", "VC", NULL };

static bool blank_next(const struct cursor *line)
{
    struct cursor ahead = *line;
    uint8_t       c = cursor_u8(&ahead);

    return c == ' ' || c == '\t';
}

static void blanks_skip(struct cursor *line)
{
    while (blank_next(line))
        cursor_u8(line);
}

bool word_next(struct cursor *line, struct word *w)
{
    blanks_skip(line);
    w->at = (const char *)line->at;
    w->length = 0;
    while (line->left > 0 && !blank_next(line)) {
        cursor_u8(line);
        w->length++;
    }
    return w->length > 0;
}

struct word word_rest(struct cursor *line)
{
    blanks_skip(line);
    struct word w = { (const char *)line->at, line->left };

    cursor_take(line, line->left);
    while (w.length > 0 && (w.at[w.length - 1] == ' ' || w.at[w.length - 1] == '\t'))
        w.length--;
    return w;
}

bool word_is(const struct word *w, const char *text)
{
    return strlen(text) == w->length && memcmp(w->at, text, w->length) == 0;
}

bool word_cut(struct word *w, char c, struct word *head)
{
    struct cursor chars = cursor_over((const uint8_t *)w->at, w->length);

    *head = (struct word){ w->at, 0 };
    while (chars.left > 0) {
        if (cursor_u8(&chars) == (uint8_t)c) {
            *w = (struct word){ (const char *)chars.at, chars.left };
            return true;
        }
        head->length++;
    }
    *w = (struct word){ (const char *)chars.at, 0 };
    return false;
}

int word_find(const struct word *w, const char *const *list)
{
    for (int i = 0; list[i]; i++) {
        if (word_is(w, list[i]))
            return i;
    }
    return -1;
}

static int hex_digit(uint8_t c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    c |= 0x20;
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool word_hex(const struct word *w, uint8_t *out, size_t cap, size_t *length)
{
    struct cursor c = cursor_over((const uint8_t *)w->at, w->length);

    *length = w->length / 2;
    if (w->length % 2 != 0 || *length > cap)
        return false;
    for (size_t i = 0; i < *length; i++) {
        int high = hex_digit(cursor_u8(&c)), low = hex_digit(cursor_u8(&c));

        if (high < 0 || low < 0)
            return false;
        out[i] = (uint8_t)(high << 4 | low);
    }
    return true;
}

bool word_bits(const struct word *w, const char *const *list, uint8_t *bits)
{
    struct word rest = *w, one;

    *bits = 0;
    for (bool more = true; more;) {
        more = word_cut(&rest, ',', &one);
        int     at = word_find(&one, list);
        uint8_t number = 0;
        size_t  length;

        if (at < 0) {
            struct word digits = { one.at + 2, one.length - 2 };

            if (one.length != 4 || memcmp(one.at, "0x", 2) != 0 || !word_hex(&digits, &number, 1, &length))
                return false;
        }
        *bits = (uint8_t)(*bits | (at < 0 ? number : 1u << at));
    }
    return true;
}
