#define _POSIX_C_SOURCE 200809L /* O_CLOEXEC */
#include "cli/out.h"

#include "cli/fault_text.h"
#include "cli/options.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

enum { NUMBER_BYTES = 48, WIDTH_MAX = 24 };

static const char digit_pairs[] =
    "00010203040506070809101112131415161718192021222324252627282930313233343536373839404142434445464748495051525354555657585960"
    "616263646566676869707172737475767778798081828384858687888990919293949596979899";

static const char *const escapes[OUT_STYLES] = {
    [OUT_PLAIN] = "\033[0m", [OUT_QUIET] = "\033[2m", [OUT_STRONG] = "\033[1m",
    [OUT_GOOD] = "\033[32m", [OUT_BAD] = "\033[1;31m", [OUT_DOUBT] = "\033[33m",
};

static bool color_wanted(unsigned color, bool terminal)
{
    const char *refused = getenv("NO_COLOR");
    const char *term = getenv("TERM");

    if (color != COLOR_AUTO)
        return color == COLOR_ALWAYS;
    return terminal && !(refused && *refused) && term && strcmp(term, "dumb") != 0;
}

struct out *out_open_path(const char *path, unsigned color)
{
    struct out *o = malloc(sizeof *o);

    if (!o) {
        complain("out of memory for the output; close something and try again");
        return NULL;
    }
    o->used = o->line = o->escapes = 0;
    o->sys = 0;
    o->path = path && strcmp(path, "-") != 0 ? path : NULL;
    o->fd = o->path ? open(o->path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666) : STDOUT_FILENO;
    if (o->fd < 0) {
        complain("%s: %s; name a file that can be written after -o", o->path, strerror(errno));
        free(o);
        return NULL;
    }
    o->terminal = isatty(o->fd) == 1;
    o->color = color_wanted(color, o->terminal);
    return o;
}

struct out *out_open(const struct options *o)
{
    return out_open_path(o->output_path, o->color);
}

static void write_all(struct out *o, const char *bytes, size_t length)
{
    while (length > 0 && o->sys == 0) {
        ssize_t n = write(o->fd, bytes, length);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            o->sys = n < 0 ? errno : EIO;
            return;
        }
        bytes += n;
        length -= (size_t)n;
    }
}

void out_flush(struct out *o)
{
    /* Where the line began may leave the buffer: how far it has come stays known. */
    size_t column = o->used - o->line;

    write_all(o, o->buffer, o->used);
    o->used = 0;
    o->line = (size_t)0 - column;
}

bool out_close(struct out *o)
{
    if (!o)
        return true;
    out_flush(o);
    if (o->path && close(o->fd) != 0 && o->sys == 0)
        o->sys = errno;
    int         sys = o->sys;
    const char *path = o->path;

    free(o);
    if (sys == 0 || sys == EPIPE) /* whoever read us had enough */
        return true;
    complain("%s: %s; what was written there is not complete", path ? path : "standard output", strerror(sys));
    return false;
}

void out_bytes_slow(struct out *o, const char *bytes, size_t length)
{
    while (length > 0) {
        size_t part = length < 512 ? length : 512;

        out_bytes(o, bytes, part);
        bytes += part;
        length -= part;
    }
}

void out_spaces(struct out *o, size_t n)
{
    while (n > 0) {
        size_t part = n < 512 ? n : 512;

        out_room(o, part);
        memset(o->buffer + o->used, ' ', part);
        o->used += part;
        n -= part;
    }
}

void out_column(struct out *o, size_t column)
{
    size_t at = out_place(o);

    if (at < column)
        out_spaces(o, column - at);
    else if (at > 0)
        out_char(o, ' ');
}

/* Digits of value, ending just before end; where they begin. */
static char *digits_before(char *end, uint64_t value)
{
    while (value >= 100) {
        end -= 2;
        memcpy(end, digit_pairs + value % 100 * 2, 2);
        value /= 100;
    }
    if (value >= 10) {
        end -= 2;
        memcpy(end, digit_pairs + value * 2, 2);
    } else {
        *--end = (char)('0' + value);
    }
    return end;
}

static void out_number(struct out *o, const char *from, const char *end, unsigned width)
{
    size_t length = (size_t)(end - from);

    if (length < width)
        out_spaces(o, width - length);
    out_room(o, NUMBER_BYTES);
    memcpy(o->buffer + o->used, from, length);
    o->used += length;
}

void out_u64_wide(struct out *o, uint64_t value, unsigned width)
{
    char  text[NUMBER_BYTES];
    char *end = text + sizeof text;

    out_number(o, digits_before(end, value), end, width);
}

void out_u64(struct out *o, uint64_t value)
{
    out_u64_wide(o, value, 0);
}

static uint64_t magnitude(int64_t value)
{
    return value < 0 ? (uint64_t)0 - (uint64_t)value : (uint64_t)value;
}

void out_i64(struct out *o, int64_t value)
{
    if (value < 0)
        out_char(o, '-');
    out_u64(o, magnitude(value));
}

void out_hex(struct out *o, uint64_t value, unsigned digits)
{
    char text[16];

    if (digits > sizeof text)
        digits = sizeof text;
    for (unsigned i = digits; i-- > 0; value >>= 4)
        text[i] = "0123456789abcdef"[value & 15];
    out_bytes(o, text, digits);
}

void out_hex_bytes(struct out *o, const uint8_t *bytes, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        out_room(o, 2);
        o->buffer[o->used++] = "0123456789abcdef"[bytes[i] >> 4];
        o->buffer[o->used++] = "0123456789abcdef"[bytes[i] & 15];
    }
}

static uint64_t power_of_ten(unsigned n)
{
    uint64_t p = 1;

    while (n-- > 0)
        p *= 10;
    return p;
}

/* value has that many digits behind its point; short_form leaves out the zeros at the end. */
static void out_pointed(struct out *o, uint64_t value, bool negative, unsigned decimals, bool short_form, unsigned width)
{
    char  text[NUMBER_BYTES];
    char *end = text + sizeof text;
    char *at = end;

    while (short_form && decimals > 0 && value % 10 == 0) {
        value /= 10;
        decimals--;
    }
    for (unsigned i = 0; i + 1 < decimals; i += 2, value /= 100) {
        at -= 2;
        memcpy(at, digit_pairs + value % 100 * 2, 2);
    }
    if (decimals & 1) {
        *--at = (char)('0' + value % 10);
        value /= 10;
    }
    if (decimals > 0)
        *--at = '.';
    at = digits_before(at, value);
    if (negative)
        *--at = '-';
    out_number(o, at, end, width);
}

void out_fixed(struct out *o, int64_t value, unsigned scale, unsigned decimals, unsigned width)
{
    uint64_t m = magnitude(value);

    if (decimals < scale) {
        uint64_t step = power_of_ten(scale - decimals);

        m = m / step + (m % step >= step / 2 ? 1 : 0);
    } else {
        decimals = scale;
    }
    out_pointed(o, m, value < 0 && m != 0, decimals, false, width);
}

void out_short(struct out *o, int64_t value, unsigned scale)
{
    out_pointed(o, magnitude(value), value < 0, scale, true, 0);
}

/* Length of the UTF-8 character at text, 0 if there is none or it is a control character. */
static size_t character_length(const char *text, size_t length)
{
    unsigned char c = (unsigned char)text[0];
    size_t        n = c < 0x80 ? 1 : c >= 0xc2 && c < 0xe0 ? 2 : c >= 0xe0 && c < 0xf0 ? 3 : c >= 0xf0 && c < 0xf5 ? 4 : 0;

    if (n == 0 || n > length)
        return 0;
    for (size_t i = 1; i < n; i++)
        if (((unsigned char)text[i] & 0xc0) != 0x80)
            return 0;
    if (n == 1)
        return c < 0x20 || c == 0x7f ? 0 : 1;
    if (c == 0xc2 && (unsigned char)text[1] < 0xa0) /* the second set of control characters */
        return 0;
    return n;
}

static size_t clean_one(struct out *o, const char *text, size_t length, size_t *width)
{
    size_t n = character_length(text, length);

    if (n > 0) {
        out_bytes(o, text, n);
        o->escapes += n - 1; /* one place on the screen */
        *width = 1;
        return n;
    }
    out_text(o, "\\x");
    out_hex(o, (unsigned char)text[0], 2);
    *width = 4;
    return 1;
}

void out_clean(struct out *o, const char *text, size_t length)
{
    size_t width;

    for (size_t at = 0; at < length;)
        at += clean_one(o, text + at, length - at, &width);
}

void out_clean_wide(struct out *o, const char *text, size_t length, size_t width)
{
    size_t done = 0;

    for (size_t at = 0; at < length && done < width;) {
        size_t one;

        at += clean_one(o, text + at, length - at, &one);
        done += one;
    }
    if (done < width)
        out_spaces(o, width - done);
}

void out_text_wide(struct out *o, const char *text, size_t width)
{
    size_t length = strlen(text);

    out_bytes(o, text, length);
    if (length < width)
        out_spaces(o, width - length);
}

void out_style(struct out *o, enum out_style style)
{
    if (!o->color)
        return;
    size_t length = strlen(escapes[style]);

    out_bytes(o, escapes[style], length);
    o->escapes += length;
}

void out_item_end(struct out *o, size_t item, size_t indent)
{
    size_t length = o->used - item;
    char   text[1024];

    if (indent == 0 || out_place(o) <= OUT_COLUMNS || length == 0 || length > sizeof text)
        return;
    memcpy(text, o->buffer + item, length);
    /* The comma stays behind the item before; the blanks that followed it are of no use any more. */
    size_t kept = text[0] == ',' || text[0] == ';' ? 1 : 0;
    size_t from = kept;

    while (from < length && text[from] == ' ')
        from++;
    o->used = item + kept;
    out_line(o);
    out_spaces(o, indent);
    out_bytes_slow(o, text + from, length - from);
}

void out_words(struct out *o, const char *text, size_t length, size_t indent)
{
    enum { WORD_BYTES = 40 }; /* what has no blank for so long is parted there */

    for (size_t at = 0; at < length;) {
        size_t item = out_item(o);
        size_t end = at;

        while (end < length && text[end] == ' ')
            end++;
        while (end < length && text[end] != ' ' && end - at < WORD_BYTES)
            end++;
        out_clean(o, text + at, end - at);
        if (at > 0)
            out_item_end(o, item, indent);
        at = end;
    }
}

void out_seconds(struct out *o, int64_t ns, unsigned width)
{
    uint64_t us = (magnitude(ns) + 500) / 1000;

    out_pointed(o, us, ns < 0 && us != 0, 6, false, width);
}

void out_span(struct out *o, int64_t ns)
{
    static const char *const units[] = { " us", " ms", " s " };
    uint64_t m = magnitude(ns);
    unsigned k = m < 1000000 ? 0 : m < 1000000000 ? 1 : 2;
    uint64_t thousandths = k == 0 ? m : k == 1 ? m / 1000 : m / 1000000;
    bool     negative = ns < 0;

    if (thousandths < 10000)
        out_pointed(o, (thousandths + 5) / 10, negative, 2, false, 4);
    else if (thousandths < 100000)
        out_pointed(o, (thousandths + 50) / 100, negative, 1, false, 4);
    else
        out_pointed(o, (thousandths + 500) / 1000, negative, 0, false, 4);
    out_bytes(o, units[k], 3);
}
