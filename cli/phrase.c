#include "cli/phrase.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>

void phrase_add(struct phrase *p, const char *text)
{
    size_t length = strlen(text);
    size_t room = sizeof p->text - 1 - p->used;

    if (length > room)
        length = room;
    memcpy(p->text + p->used, text, length);
    p->used += length;
    p->text[p->used] = '\0';
}

void phrase_format(struct phrase *p, const char *format, ...)
{
    char    text[PHRASE_BYTES];
    va_list arguments;

    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    phrase_add(p, text);
}

void phrase_u64(struct phrase *p, uint64_t value)
{
    char text[24];

    snprintf(text, sizeof text, "%" PRIu64, value);
    phrase_add(p, text);
}

void phrase_i64(struct phrase *p, int64_t value)
{
    char text[24];

    snprintf(text, sizeof text, "%" PRId64, value);
    phrase_add(p, text);
}

void phrase_short(struct phrase *p, int64_t value, unsigned scale)
{
    uint64_t m = value < 0 ? (uint64_t)0 - (uint64_t)value : (uint64_t)value;
    uint64_t unit = 1;
    char     text[48];

    for (unsigned k = 0; k < scale; k++)
        unit *= 10;
    uint64_t rest = m % unit;

    while (scale > 0 && rest % 10 == 0) {
        rest /= 10;
        scale--;
    }
    if (scale > 0)
        snprintf(text, sizeof text, "%s%" PRIu64 ".%0*" PRIu64, value < 0 ? "-" : "", m / unit, (int)scale, rest);
    else
        snprintf(text, sizeof text, "%s%" PRIu64, value < 0 ? "-" : "", m / unit);
    phrase_add(p, text);
}

void phrase_between(struct phrase *p, unsigned k, unsigned n, const char *last)
{
    if (k == 0)
        return;
    if (k + 1 < n) {
        phrase_add(p, ", ");
        return;
    }
    phrase_add(p, " ");
    phrase_add(p, last);
    phrase_add(p, " ");
}

void phrase_count(struct phrase *p, uint64_t n, const char *one, const char *many)
{
    phrase_u64(p, n);
    phrase_add(p, " ");
    phrase_add(p, n == 1 ? one : many);
}

/* Places on the screen: UTF-8 characters, not bytes. */
static size_t places(const char *text, size_t length)
{
    size_t n = 0;

    for (size_t k = 0; k < length; k++)
        n += ((unsigned char)text[k] & 0xc0) != 0x80;
    return n;
}

void phrase_wrap(struct out *o, size_t indent, const char *text)
{
    bool first = true; /* of its line */

    while (*text == ' ')
        text++;
    while (*text) {
        size_t length = strcspn(text, " ");

        if (!first && out_place(o) + 1 + places(text, length) > PHRASE_COLUMNS) {
            out_line(o);
            first = true;
        }
        if (!first)
            out_char(o, ' ');
        else if (out_place(o) < indent)
            out_spaces(o, indent - out_place(o));
        out_clean(o, text, length);
        first = false;
        text += length;
        while (*text == ' ')
            text++;
    }
    out_line(o);
}

void phrase_entry(struct out *o, size_t at, size_t indent, const char *label, const char *text)
{
    out_column(o, at);
    out_text(o, label);
    out_column(o, indent);
    phrase_wrap(o, indent, text);
}
