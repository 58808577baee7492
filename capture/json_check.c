/* The grammar of RFC 8259, read strictly; nothing is built. */
#include "capture/json.h"

#include "capture/base/cursor.h"

#include <string.h>

static uint8_t peek(const struct cursor *c)
{
    struct cursor ahead = *c;

    return cursor_u8(&ahead); /* 0 at the end: no token begins with it */
}

static bool take(struct cursor *c, char wanted)
{
    if (peek(c) != (uint8_t)wanted || c->left == 0)
        return false;
    cursor_u8(c);
    return true;
}

static void blanks_skip(struct cursor *c)
{
    for (uint8_t b = peek(c); b == ' ' || b == '\t' || b == '\n' || b == '\r'; b = peek(c))
        cursor_u8(c);
}

static bool digits_take(struct cursor *c)
{
    bool any = false;

    for (uint8_t b = peek(c); b >= '0' && b <= '9'; b = peek(c)) {
        cursor_u8(c);
        any = true;
    }
    return any;
}

static bool number_digits_take(struct cursor *c)
{
    take(c, '-');
    if (!take(c, '0') && !digits_take(c))
        return false;
    if (take(c, '.') && !digits_take(c))
        return false;
    if (take(c, 'e') || take(c, 'E')) {
        if (!take(c, '+'))
            take(c, '-');
        return digits_take(c);
    }
    return true;
}

static bool number_take(struct cursor *c)
{
    size_t before = c->left;

    return number_digits_take(c) && before - c->left <= JSON_NUMBER_MAX;
}

/* Four hexadecimal digits, -1 if they are none. */
static int hex4_take(struct cursor *c)
{
    int value = 0;

    for (int i = 0; i < 4; i++) {
        uint8_t b = cursor_u8(c);

        if (b >= '0' && b <= '9')
            value = value * 16 + (b - '0');
        else if ((b | 0x20) >= 'a' && (b | 0x20) <= 'f')
            value = value * 16 + ((b | 0x20) - 'a' + 10);
        else
            return -1;
    }
    return value;
}

/* Behind the backslash. U+0000 is refused, for it would end a C string; so is half a surrogate pair. */
static bool escape_take(struct cursor *c)
{
    uint8_t b = cursor_u8(c);

    if (b != 'u')
        return b != 0 && strchr("\"\\/bfnrt", b) != NULL;
    int unit = hex4_take(c);

    if (unit >= 0xD800 && unit <= 0xDBFF) {
        if (!take(c, '\\') || !take(c, 'u'))
            return false;
        int low = hex4_take(c);

        return low >= 0xDC00 && low <= 0xDFFF;
    }
    return unit > 0 && !(unit >= 0xDC00 && unit <= 0xDFFF);
}

static bool string_take(struct cursor *c)
{
    if (!take(c, '"'))
        return false;
    for (;;) {
        uint8_t b = cursor_u8(c);

        if (c->short_read || b < 0x20)
            return false;
        if (b == '"')
            return true;
        if (b == '\\' && !escape_take(c))
            return false;
    }
}

static bool word_take(struct cursor *c, const char *word)
{
    while (*word) {
        if (!take(c, *word++))
            return false;
    }
    return true;
}

static bool value_take(struct cursor *c, unsigned depth);

/* Members up to the closing bracket; the opening one, which is the depth-th, is taken. */
static bool members_take(struct cursor *c, unsigned depth, bool object)
{
    char close = object ? '}' : ']';

    if (depth > JSON_DEPTH_MAX)
        return false;
    blanks_skip(c);
    if (take(c, close))
        return true;
    do {
        blanks_skip(c);
        if (object) {
            if (!string_take(c))
                return false;
            blanks_skip(c);
            if (!take(c, ':'))
                return false;
        }
        if (!value_take(c, depth))
            return false;
        blanks_skip(c);
    } while (take(c, ','));
    return take(c, close);
}

static bool value_take(struct cursor *c, unsigned depth)
{
    blanks_skip(c);
    switch (peek(c)) {
    case '{':
    case '[': return members_take(c, depth + 1, cursor_u8(c) == '{');
    case '"': return string_take(c);
    case 't': return word_take(c, "true");
    case 'f': return word_take(c, "false");
    case 'n': return word_take(c, "null");
    default:  return number_take(c);
    }
}

bool json_value_check(const char *text, size_t length, size_t *at)
{
    struct cursor c = cursor_over((const uint8_t *)text, length);
    bool          good = value_take(&c, 0);

    if (good) {
        blanks_skip(&c);
        good = c.left == 0;
    }
    if (at)
        *at = length - c.left;
    return good && utf8_valid(text, length);
}

bool json_object_check(const char *text, size_t length, size_t *at)
{
    struct cursor c = cursor_over((const uint8_t *)text, length);

    blanks_skip(&c);
    if (at)
        *at = length - c.left;
    return peek(&c) == '{' && json_value_check(text, length, at);
}
