/* A port manager's log, from bytes to lines: their times, repetitions and ends. What each becomes: kernel_log_tell.c. */
#include "decode/kernel_log_inside.h"

#include <stdlib.h>
#include <string.h>

/* Lines of other threads stand out of order by microseconds; nothing of a kernel's takes this long. Common practice, no source. */
static const int64_t back_most_ns = INT64_C(100000000), anew_gap_ns = INT64_C(1000000000);

struct kernel_log *kernel_log_new(const struct kernel_log_options *options)
{
    struct kernel_log *k = calloc(1, sizeof *k);

    if (!k)
        return NULL;
    k->options = *options;
    k->out_ns = INT64_MIN;
    return k;
}

void kernel_log_free(struct kernel_log *k)
{
    free(k);
}

struct kernel_log_facts kernel_log_facts(const struct kernel_log *k)
{
    return k->facts;
}

static void notice(const struct kernel_log *k, enum kernel_log_news news, struct cursor line, int64_t shift_ns)
{
    const struct kernel_log_notice n = {
        .news = news, .number = k->number, .words = (const char *)line.at, .length = line.left, .shift_ns = shift_ns,
    };

    if (k->options.notice)
        k->options.notice(k->options.context, &n);
}

/* FNV-1a, 64 bits. */
static uint64_t line_hash(struct cursor line)
{
    uint64_t hash = UINT64_C(0xCBF29CE484222325);

    while (line.left > 0)
        hash = (hash ^ cursor_u8(&line)) * UINT64_C(0x100000001B3);
    return hash;
}

static bool line_kept(const struct kernel_log *k, uint64_t hash)
{
    size_t count = k->kept_count < KERNEL_LOG_KEPT ? k->kept_count : KERNEL_LOG_KEPT;

    for (size_t n = 0; n < count; n++)
        if (k->kept[n] == hash)
            return true;
    return false;
}

static void line_repeated(struct kernel_log *k, struct cursor line)
{
    if (k->facts.repeated++ == 0)
        notice(k, KERNEL_LOG_REPEATED, line, 0);
}

/* The machine was started again, or this is another one's log: what was plugged in is not known. */
static void clock_anew(struct kernel_log *k, struct cursor line, int64_t t_ns)
{
    int64_t last_ns = k->last_ns + k->shift_ns;

    k->shift_ns = last_ns + anew_gap_ns - t_ns;
    notice(k, KERNEL_LOG_ANEW, line, k->shift_ns);
    kernel_log_lose(k, last_ns + anew_gap_ns, true);
    kernel_log_note(k, last_ns + anew_gap_ns, "kernel: the clock of the log began anew");
    k->kept_count = 0;
}

static void line_take(struct kernel_log *k, struct cursor line)
{
    struct kernel_line l;
    uint64_t           hash = line_hash(line);

    if (!kernel_line_read(line, &l)) {
        k->facts.unreadable++;
        notice(k, KERNEL_LOG_UNREADABLE, line, 0);
        return;
    }
    if (k->any && l.t_ns <= k->last_ns && line_kept(k, hash)) {
        line_repeated(k, line);
        return;
    }
    if (k->any && l.t_ns < k->last_ns - back_most_ns)
        clock_anew(k, line, l.t_ns);
    else if (k->any && l.t_ns < k->last_ns)
        l.t_ns = k->last_ns;
    if (!k->any)
        kernel_log_about(k, l.t_ns);
    k->any = true;
    k->last_ns = l.t_ns;
    k->kept[k->kept_count++ % KERNEL_LOG_KEPT] = hash;
    k->facts.lines++;
    if (l.kind == KERNEL_LINE_UNKNOWN && k->facts.unknown++ == 0)
        notice(k, KERNEL_LOG_UNKNOWN, line, 0);
    if (l.kind == KERNEL_LINE_FULL)
        notice(k, KERNEL_LOG_FULL, line, 0);
    kernel_log_line(k, &l, l.t_ns + k->shift_ns);
}

/* The line that has been put together, without its end. last: the file ends in it. */
static void line_end(struct kernel_log *k, bool last)
{
    struct cursor line = cursor_over((const uint8_t *)k->line, k->length), c = line;
    bool          blank = true;

    if (k->length > 0 && k->line[k->length - 1] == '\r')
        line.left = c.left = k->length - 1;
    while (c.left > 0)
        blank = cursor_u8(&c) <= ' ' && blank;
    k->number++;
    if (k->too_long) {
        k->facts.unreadable++;
        notice(k, KERNEL_LOG_UNREADABLE, line, 0);
    } else if (!blank && !words_begin(line, "#")) {
        struct kernel_line l;

        if (last && (!kernel_line_read(line, &l) || l.kind == KERNEL_LINE_UNKNOWN))
            notice(k, KERNEL_LOG_CUT_OFF, line, 0);
        else
            line_take(k, line);
    }
    k->length = 0;
    k->too_long = false;
}

void kernel_log_take(struct kernel_log *k, const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);

    while (c.left > 0) {
        const uint8_t *newline = memchr(c.at, '\n', c.left);
        size_t         part = newline ? (size_t)(newline - c.at) : c.left;
        size_t         room = KERNEL_LOG_LINE_MAX - k->length, kept = part < room ? part : room;

        if (kept > 0)
            memcpy(k->line + k->length, cursor_take(&c, kept), kept);
        k->length += kept;
        if (part > kept) {
            k->too_long = true;
            cursor_take(&c, part - kept);
        }
        if (newline) {
            cursor_u8(&c);
            line_end(k, false);
        }
    }
}

void kernel_log_finish(struct kernel_log *k)
{
    if (k->length > 0 || k->too_long)
        line_end(k, true);
    kernel_log_packet_end(k);
}

bool kernel_log_looks_right(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    bool          right = false;

    while (c.left > 0 && !right) {
        const uint8_t     *newline = memchr(c.at, '\n', c.left);
        size_t             part = newline ? (size_t)(newline - c.at) : c.left;
        struct cursor      line = cursor_over(cursor_take(&c, part), part);
        struct kernel_line l;

        right = kernel_line_read(line, &l) && l.kind != KERNEL_LINE_UNKNOWN && l.kind != KERNEL_LINE_NAME;
        if (newline)
            cursor_u8(&c);
    }
    return right;
}
