/* The values of a dump: IEEE 1364-2005, 18.2.1 and 18.2.2. Long files are times and values of one bit, so these come first. */
#include "capture/cc_vcd_signal_inside.h"

#include <string.h>

enum { WORDS_MAX = 60, TIME_DIGITS = 18 };

static const uint64_t ten_to_the[] = { 1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000 };

/* The first byte of eight, from the lowest on, that is no digit; 8: all are. */
static unsigned digits_in(uint64_t text)
{
    uint64_t value = text ^ 0x3030303030303030; /* of a digit 0 to 9; whatever a byte above that carries into the next is above it */
    uint64_t no_digit = (value | (value + 0x7676767676767676)) & 0x8080808080808080;

    return no_digit ? (unsigned)__builtin_ctzll(no_digit) / 8 : 8;
}

/* The number that the first `digits` bytes write, 1 to 8: neighbours are put together, then pairs, then fours. */
static uint64_t digits_value(uint64_t text, unsigned digits)
{
    uint64_t v = (text & 0x0F0F0F0F0F0F0F0F) << (64 - 8 * digits);

    v = v * 10 + (v >> 8);
    return ((v & 0x000000FF000000FF) * (100 + ((uint64_t)1000000 << 32)) + (v >> 16 & 0x000000FF000000FF) * (1 + ((uint64_t)10000 << 32))) >> 32;
}

/* Digits from byte `at` on, how many; more than TIME_DIGITS: the value is not to be used. Never reads more than 24 bytes. */
static inline size_t number_read(const uint8_t *piece, size_t at, uint64_t *value)
{
    uint64_t text = cursor_block_u64le(piece, at);
    unsigned more, digits = digits_in(text);

    if (digits == 0)
        return 0;
    *value = digits_value(text, digits);
    if (digits < 8)
        return digits;
    do {
        text = cursor_block_u64le(piece, at + digits);
        more = digits_in(text);
        if (more > 0)
            *value = *value * ten_to_the[more] + digits_value(text, more);
        digits += more;
    } while (more == 8 && digits <= TIME_DIGITS);
    return digits;
}

static size_t word_end(const uint8_t *piece, size_t at, size_t end)
{
    while (at < end && !vcd_is_white(piece[at]))
        at++;
    return at;
}

/* Passes over what is left of the line. */
static size_t bad_line(struct cc_file *v, size_t at, const uint8_t *piece)
{
    const uint8_t *newline = memchr(piece + at, '\n', v->end - at);
    size_t         n = newline ? (size_t)(newline - (piece + at)) : v->end - at;

    vcd_unreadable(v, !newline && cc_bytes_ended(v->bytes) ? CC_CUT_OFF : CC_UNREADABLE, piece + at, n);
    v->in_bad_line = !newline;
    return at + n;
}

static size_t bad_value(struct cc_file *v, size_t at, const uint8_t *piece)
{
    at = bad_line(v, at, piece);
    vcd_doubt(v);
    return at;
}

void vcd_unreadable(struct cc_file *v, enum cc_news news, const uint8_t *at, size_t n)
{
    struct cc_notice notice = { .news = news, .number = v->number, .words = (const char *)at };

    notice.words_length = n < WORDS_MAX ? n : WORDS_MAX;
    while (notice.words_length > 0 && vcd_is_white(at[notice.words_length - 1]))
        notice.words_length--;
    v->facts.unreadable++;
    if (v->options.notice)
        v->options.notice(v->options.context, &notice);
}

/* A time of more digits than usual: zeros in front are nothing, and what does not fit is no time. */
static bool long_number(const uint8_t *piece, size_t at, size_t end, uint64_t *value)
{
    *value = 0;
    for (; at < end; at++) {
        unsigned digit = (unsigned)piece[at] - '0';

        if (digit > 9 || *value > ((uint64_t)INT64_MAX - 1 - digit) / 10)
            return false;
        *value = *value * 10 + digit;
    }
    return true;
}

/* A time that is not later than the last one, or the first, or after one in doubt. The last word of a file may be half a number. */
static size_t time_take(struct cc_file *v, const uint8_t *piece, size_t at, size_t end, int64_t time)
{
    if (end == v->end && time < v->time && cc_bytes_ended(v->bytes)) {
        vcd_unreadable(v, CC_CUT_OFF, piece + at, end - at);
        return end;
    }
    return vcd_time_take(v, time) ? end : at;
}

static size_t odd_time(struct cc_file *v, const uint8_t *piece, size_t at)
{
    size_t   end = word_end(piece, at, v->end);
    uint64_t time;

    if (end == at + 1 || !long_number(piece, at + 1, end, &time)) {
        vcd_unsure(v);
        return bad_line(v, at, piece);
    }
    return time_take(v, piece, at, end, (int64_t)time);
}

static inline size_t time_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    uint64_t time;
    size_t   digits = number_read(piece, at + 1, &time);

    if (digits == 0 || digits > TIME_DIGITS || !vcd_is_white(piece[at + 1 + digits]))
        return odd_time(v, piece, at);
    if ((int64_t)time <= v->time || v->unsure || !v->has_time)
        return time_take(v, piece, at, at + 1 + digits, (int64_t)time);
    v->before = v->time;
    v->time = (int64_t)time;
    v->time_number = v->number;
    return at + 1 + digits;
}

static unsigned two_characters(const struct cc_file *v, const uint8_t *id)
{
    if (!vcd_is_printable(id[0]) || !vcd_is_printable(id[1]))
        return VCD_UNDECLARED;
    return v->head.two_used[(id[0] - VCD_PRINTABLE_FIRST) * VCD_PRINTABLE_COUNT + id[1] - VCD_PRINTABLE_FIRST] ? VCD_OTHER : VCD_UNDECLARED;
}

/* The signal of an identifier of any length, or VCD_OTHER, or VCD_UNDECLARED as far as that is known. */
static unsigned signal_find(const struct cc_file *v, const uint8_t *id, size_t length)
{
    if (length == 1)
        return v->single[id[0]];
    for (unsigned k = 0; k < v->signals; k++)
        if (v->signal[k].id.length == length && memcmp(v->signal[k].id.bytes, id, length) == 0)
            return k;
    if (length == 2)
        return two_characters(v, id);
    return length > 2 && v->head.longer_used ? VCD_OTHER : VCD_UNDECLARED;
}

/* A change of a signal of one bit: 0 and 1, and behind it the identifier. */
static inline size_t scalar_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    size_t   end = at + 2;
    unsigned found;

    if (vcd_is_white(piece[end])) {
        found = v->single[piece[at + 1]];
    } else {
        end = word_end(piece, at + 1, v->end);
        found = signal_find(v, piece + at + 1, end - at - 1);
    }
    if (found < CC_LINES_MAX)
        return vcd_change_take(v, &v->signal[found], (enum vcd_level)(piece[at] & 1)) ? end : at;
    return found == VCD_OTHER ? end : bad_value(v, at, piece);
}

static size_t unknown_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    size_t   end = word_end(piece, at, v->end);
    unsigned found = signal_find(v, piece + at + 1, end - at - 1);

    if (found < CC_LINES_MAX)
        return vcd_signal_unknown(v, &v->signal[found]) ? end : at;
    return found == VCD_OTHER ? end : bad_value(v, at, piece);
}

/* What the digits of a vector say of its last bit. False: they are none. */
static bool vector_level(const uint8_t *piece, size_t at, size_t end, enum vcd_level *level)
{
    for (size_t k = at; k < end; k++) {
        switch (piece[k]) {
        case '0': *level = VCD_LOW; break;
        case '1': *level = VCD_HIGH; break;
        case 'x': case 'X': case 'z': case 'Z': *level = VCD_UNKNOWN; break;
        default: return false;
        }
    }
    return end > at;
}

/* 18.2.1: b or r and the value, one blank, the identifier. All in one line. */
static size_t vector_read(struct cc_file *v, const uint8_t *piece, size_t at, bool bits)
{
    size_t         value_end = word_end(piece, at, v->end), id = value_end;
    enum vcd_level level = VCD_UNKNOWN;
    bool           good = !bits || vector_level(piece, at + 1, value_end, &level);

    while (id < v->end && piece[id] != '\n' && vcd_is_white(piece[id]))
        id++;
    size_t   end = word_end(piece, id, v->end);
    unsigned found = signal_find(v, piece + id, end - id);

    if (!good || found == VCD_UNDECLARED || (found < CC_LINES_MAX && !bits))
        return bad_value(v, at, piece);
    if (found < CC_LINES_MAX)
        return vcd_signal_change(v, &v->signal[found], level) ? end : at;
    return end;
}

static bool word_same(const uint8_t *piece, size_t at, size_t end, const char *word)
{
    return end - at == strlen(word) && memcmp(piece + at, word, end - at) == 0;
}

/* 18.2.2: $comment and what is in it; the others only say why values come, but $dumpoff makes all of them unknown. */
static size_t keyword_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    static const char *const said_only[] = { "$end", "$dumpvars", "$dumpall", "$dumpon" };
    size_t end = word_end(piece, at, v->end);

    for (size_t k = 0; k < sizeof said_only / sizeof said_only[0]; k++)
        if (word_same(piece, at, end, said_only[k]))
            return end;
    v->in_comment = word_same(piece, at, end, "$comment");
    if (v->in_comment)
        return end;
    if (!word_same(piece, at, end, "$dumpoff"))
        return bad_value(v, at, piece);
    for (unsigned k = 0; k < v->signals; k++)
        if (!vcd_signal_unknown(v, &v->signal[k]))
            return at;
    return end;
}

static size_t comment_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    size_t end = word_end(piece, at, v->end);

    v->in_comment = !word_same(piece, at, end, "$end");
    return end;
}

static size_t other_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    switch (piece[at]) {
    case 'x': case 'X': case 'z': case 'Z': return unknown_read(v, piece, at);
    case 'b': case 'B': return vector_read(v, piece, at, true);
    case 'r': case 'R': case 's': case 'S': return vector_read(v, piece, at, false);
    case '$': return keyword_read(v, piece, at);
    default:  return bad_value(v, at, piece);
    }
}

/* Within a comment, a line or a word that is passed over. */
static size_t inside_read(struct cc_file *v, const uint8_t *piece, size_t at)
{
    if (v->in_long_word) {
        at = word_end(piece, at, v->end);
        v->in_long_word = at == v->end;
        return at;
    }
    if (v->in_bad_line) {
        const uint8_t *newline = memchr(piece + at, '\n', v->end - at);

        v->in_bad_line = !newline;
        return newline ? (size_t)(newline - piece) : v->end;
    }
    return comment_read(v, piece, at);
}

void vcd_changes_read(struct cc_file *v, const uint8_t *piece)
{
    size_t at = v->at;

    while (at < v->end && !v->giving) {
        uint8_t byte = piece[at];

        if (vcd_is_white(byte) && !v->in_long_word) {
            v->number += byte == '\n';
            at++;
        } else if (v->in_comment || v->in_bad_line || v->in_long_word) {
            at = inside_read(v, piece, at);
        } else if (byte == '#') {
            at = time_read(v, piece, at);
        } else if ((byte & 0xFE) == '0') {
            at = scalar_read(v, piece, at);
        } else {
            at = other_read(v, piece, at);
        }
    }
    v->at = at;
}
