/* The log of a kernel's port manager as an input of an import (decode/kernel_log.h). */
#define _POSIX_C_SOURCE 200809L /* read, open */
#include "cli/import.h"

#include "capture/base/cursor.h"
#include "capture/record.h"
#include "cli/fault_text.h"
#include "cli/phrase.h"
#include "decode/kernel_log.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PIECE_BYTES = 64 * 1024, NOTICES = 3, NEWS = KERNEL_LOG_CUT_OFF + 1 };

struct klog_state {
    struct kernel_log *log;
    int                fd;
    bool               ended, stopped; /* stopped: a record could not be handed over */
    size_t             used;           /* of piece: read, and not taken */
    uint64_t           bytes;
    uint64_t           news[NEWS];
    uint8_t            piece[PIECE_BYTES];
};

static struct klog_state *state_of(const struct import_input *in)
{
    return in->state;
}

static void found_take(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct import_input *in = context;

    in->reached_ns = record_start_ns(bytes, length, stamp_ns);
    if (!state_of(in)->stopped && !import_put(in, stamp_ns, bytes, length))
        state_of(in)->stopped = true;
}

static void notice_take(void *context, const struct kernel_log_notice *n)
{
    struct import_input *in = context;
    int                  length = n->length < 80 ? (int)n->length : 80;

    if (state_of(in)->news[n->news]++ >= NOTICES || import_common(in->all)->quiet)
        return;
    switch (n->news) {
    case KERNEL_LOG_UNREADABLE:
        import_say(in, "line %" PRIu64 " does not begin with a time and is passed over: \"%.*s\"", n->number, length, n->words);
        return;
    case KERNEL_LOG_UNKNOWN:
        import_say(in, "line %" PRIu64 " is of a form that is not known, and is kept as a note: \"%.*s\"", n->number, length, n->words);
        return;
    case KERNEL_LOG_FULL:
        import_say(in, "line %" PRIu64 ": the kernel's log was full; lines are missing there", n->number);
        return;
    case KERNEL_LOG_REPEATED:
        import_say(in, "line %" PRIu64 " came before, as when a log is read twice; such lines are passed over", n->number);
        return;
    case KERNEL_LOG_ANEW:
        import_say(in, "line %" PRIu64 ": the clock began anew; from here on times are moved by %.3f s", n->number, (double)n->shift_ns / 1e9);
        return;
    case KERNEL_LOG_CUT_OFF:
        import_say(in, "the last line is not complete");
        return;
    }
}

/* Fills the piece. False: reading failed, said. */
static bool piece_read(struct import_input *in)
{
    struct klog_state *s = state_of(in);

    while (!s->ended && s->used < sizeof s->piece) {
        ssize_t n = read(s->fd, s->piece + s->used, sizeof s->piece - s->used);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            import_say(in, "cannot be read: %s", strerror(errno));
            return false;
        }
        s->ended = n == 0;
        s->used += (size_t)n;
        s->bytes += (uint64_t)n;
    }
    return true;
}

/* The first time that a line of the piece begins with: "[  123.456789]". */
static int64_t first_time(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    int64_t       seconds = 0, us = 0;

    for (uint8_t byte = 0; byte != '['; byte = cursor_u8(&c))
        if (c.left == 0)
            return INT64_MAX;
    uint8_t byte = ' ';

    while (byte == ' ')
        byte = cursor_u8(&c);
    for (; byte >= '0' && byte <= '9' && seconds < INT64_MAX / 20000000000; byte = cursor_u8(&c))
        seconds = seconds * 10 + (byte - '0');
    if (byte != '.')
        return INT64_MAX;
    byte = cursor_u8(&c);
    for (unsigned k = 0; k < 6 && byte >= '0' && byte <= '9'; k++, byte = cursor_u8(&c))
        us = us * 10 + (byte - '0');
    return byte == ']' ? seconds * 1000000000 + us * 1000 : INT64_MAX;
}

static bool log_start(struct import_input *in)
{
    struct klog_state        *s = state_of(in);
    struct kernel_log_options o = { .port = (uint8_t)in->words->port, .found = found_take, .notice = notice_take, .context = in };

    if (!piece_read(in))
        return false;
    if (!kernel_log_looks_right(s->piece, s->used)) {
        import_say(in, "is no log of a kernel's port manager: no line begins with a time in brackets and something known; give one of "
                       "/sys/kernel/debug/usb/tcpm-*");
        return false;
    }
    s->log = kernel_log_new(&o);
    return s->log || import_no_memory(in);
}

static void klog_close(struct import_input *in)
{
    struct klog_state *s = state_of(in);

    kernel_log_free(s->log);
    if (s->fd > STDIN_FILENO)
        close(s->fd);
    free(s);
}

static bool klog_open(struct import_input *in)
{
    struct klog_state *s = in->state = calloc(1, sizeof *s);
    const char        *path = in->words->path;
    struct fault       f;

    if (!s)
        return import_no_memory(in);
    s->fd = strcmp(path, "-") == 0 ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
    if (s->fd < 0) {
        fault_set(&f, FAULT_OPEN, errno, 0, NULL);
        complain_fault(&f, import_subject(in));
    }
    if (s->fd < 0 || !log_start(in)) {
        klog_close(in);
        return false;
    }
    in->relative = true;
    in->begin_ns = first_time(s->piece, s->used);
    if (in->begin_ns == INT64_MAX)
        in->begin_ns = 0;
    in->reached_ns = in->begin_ns;
    return true;
}

static bool klog_work(struct import_input *in)
{
    struct klog_state *s = state_of(in);

    kernel_log_take(s->log, s->piece, s->used);
    s->used = 0;
    if (s->stopped)
        return false;
    if (!s->ended && piece_read(in) && s->used > 0)
        return true;
    kernel_log_finish(s->log);
    in->reached_ns = INT64_MAX;
    return false;
}

static struct import_progress klog_progress(const struct import_input *in)
{
    return (struct import_progress){ .done = state_of(in)->bytes, .total = import_file_bytes(in) };
}

static void klog_summary(const struct import_input *in)
{
    struct kernel_log_facts facts = kernel_log_facts(state_of(in)->log);
    struct phrase           p = phrase_empty();

    phrase_count(&p, facts.lines, "line", "lines");
    phrase_add(&p, ": ");
    phrase_count(&p, facts.packets, "message", "messages");
    phrase_format(&p, " put together again, %" PRIu64 " known by the header alone, ", facts.headers_only);
    phrase_count(&p, facts.resets, "reset", "resets");
    if (facts.unreadable + facts.unknown > 0)
        phrase_format(&p, "; %" PRIu64 " lines not understood", facts.unreadable + facts.unknown);
    import_say(in, "%s", p.text);
}

const struct import_kind import_klog_kind = {
    .word = "klog", .keys = IMPORT_ALL, .same_clock = true, .open = klog_open, .work = klog_work, .progress = klog_progress,
    .summary = klog_summary, .close = klog_close,
};
