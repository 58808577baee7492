#include "capture/cc_vcd_signal_inside.h"

#include <stdlib.h>
#include <string.h>

/*
 * How much of the window can be gone through: whole lines; or, if it is full, whole words of a line that is longer than it, a vector's
 * value together with its identifier. 0: there is nothing of that kind in it.
 */
static size_t whole_words(const uint8_t *bytes, size_t n, bool full)
{
    size_t end = n;

    while (end > 0 && bytes[end - 1] != '\n')
        end--;
    if (end > 0 || !full)
        return end;
    for (end = n; end > 0; end--) {
        size_t word = end;

        if (!vcd_is_white(bytes[end - 1]))
            continue;
        while (word > 0 && vcd_is_white(bytes[word - 1]))
            word--;
        while (word > 0 && !vcd_is_white(bytes[word - 1]))
            word--;
        if (!strchr("bBrRsS", bytes[word]))
            return end;
    }
    return 0;
}

/* A word that fills the buffer: it is passed over to its end. */
static void long_word_begin(struct cc_file *v, const uint8_t *bytes, size_t n)
{
    if (!v->in_comment && !v->in_bad_line && !v->in_long_word) {
        vcd_unreadable(v, CC_UNREADABLE, bytes, n);
        if (n > 0 && bytes[0] == '#')
            vcd_unsure(v);
        else
            vcd_doubt(v);
    }
    v->in_long_word = true;
}

/* The next piece of whole words. False: the end. At the end what is left behind the last newline is whole as well. */
static bool piece_next(struct cc_file *v)
{
    struct cursor *window = cc_bytes_window(v->bytes);

    cursor_take(window, v->end);
    v->at = v->end = 0;
    while (v->end == 0) {
        bool           more = cc_bytes_more(v->bytes);
        struct cursor  ahead = *window;
        size_t         n = ahead.left;
        const uint8_t *bytes = cursor_take(&ahead, n);

        if (!more && cc_bytes_ended(v->bytes)) {
            v->end = n;
            return n > 0;
        }
        if (more && n < CC_READ_BYTES && !memchr(bytes, '\n', n))
            continue;
        v->end = whole_words(bytes, n, !more);
        if (!more && v->end == 0) {
            long_word_begin(v, bytes, n);
            v->end = n;
        }
    }
    return true;
}

static void piece_read(struct cc_file *v)
{
    struct cursor window = *cc_bytes_window(v->bytes);

    vcd_changes_read(v, cursor_take(&window, v->end));
    if (v->at == v->end && !v->giving)
        vcd_give_early(v); /* what came last may still turn out to be in doubt */
}

/* Everything has been read: the last stretches, and one tick more of those that change at the very end. */
static void file_end(struct cc_file *v)
{
    struct cc_notice n = { .news = CC_CUT_OFF, .number = v->number };

    v->ended = true;
    if (v->in_comment && v->options.notice)
        v->options.notice(v->options.context, &n);
    vcd_signals_end(v);
    vcd_give_all(v);
}

static bool stretch_ripe(const struct cc_file *v, const struct vcd_signal *s, int64_t until)
{
    return s->known && s->from < until && (v->give_doubtful || s->doubts == 0);
}

static int64_t stretch_until(const struct cc_file *v, const struct vcd_signal *s)
{
    return v->give_until + (v->ended && s->count > 0 && s->at[s->count - 1] == v->time);
}

/* What has been given out is forgotten. */
static void stretches_settle(struct cc_file *v)
{
    for (unsigned k = 0; k < v->signals; k++) {
        struct vcd_signal *s = &v->signal[k];
        int64_t            until = stretch_until(v, s);
        size_t             n = vcd_changes_before(s, until);

        if (!stretch_ripe(v, s, until))
            continue;
        memmove(s->at, s->at + n, (s->count - n) * sizeof s->at[0]);
        s->count -= n;
        s->first ^= n & 1;
        s->from = until;
        s->broken = false;
        s->ever = true;
    }
    if (v->give_until > v->settled)
        v->settled = v->give_until;
    v->giving = false;
}

static bool stretch_give(struct cc_file *v, struct cc_block *block)
{
    while (v->give_line < v->lines) {
        unsigned                 line = v->give_line++;
        const struct vcd_signal *s = &v->signal[v->signal_of_line[line]];
        int64_t                  until = stretch_until(v, s);

        if (!stretch_ripe(v, s, until))
            continue;
        *block = (struct cc_block){ .line = line, .level = s->first, .broken = s->broken, .from = s->from, .until = until, .at = s->at };
        block->count = vcd_changes_before(s, until);
        return true;
    }
    stretches_settle(v);
    return false;
}

static bool vcd_next(struct cc_file *v, struct cc_block *block, struct fault *f)
{
    for (;;) {
        if (v->giving && stretch_give(v, block))
            return true;
        if (v->at < v->end)
            piece_read(v);
        else if (v->ended)
            return cc_bytes_end_fault(v->bytes, f);
        else if (!piece_next(v))
            file_end(v);
    }
}

static void vcd_close(struct cc_file *v)
{
    if (!v)
        return;
    cc_bytes_close(v->bytes);
    free(v);
}

/* Lines of the same identifier are one signal. */
static void signals_begin(struct cc_file *v)
{
    memset(v->single, VCD_UNDECLARED, sizeof v->single);
    for (unsigned k = 0; k < VCD_PRINTABLE_COUNT; k++)
        if (v->head.one_used[k])
            v->single[VCD_PRINTABLE_FIRST + k] = VCD_OTHER;
    for (unsigned line = 0; line < v->lines; line++) {
        const struct vcd_id *id = &v->head.id[line];
        unsigned             k = 0;

        while (k < v->signals && !vcd_id_same(&v->signal[k].id, id))
            k++;
        v->signal_of_line[line] = (uint8_t)k;
        if (k < v->signals)
            continue;
        v->signal[v->signals++] = (struct vcd_signal){ .id = *id, .level = VCD_UNKNOWN };
        if (id->length == 1)
            v->single[id->bytes[0]] = (uint8_t)k;
    }
}

/* Takes the bytes over, NULL too: then *f says why already. */
static struct cc_file *vcd_new(struct cc_bytes *bytes, const struct cc_options *options, struct fault *f)
{
    unsigned        lines = options->lines < CC_LINES_MAX ? options->lines : CC_LINES_MAX;
    struct cc_file *v = bytes ? calloc(1, sizeof *v + lines * sizeof v->signal[0]) : NULL;

    if (bytes && !v)
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    if (!v) {
        cc_bytes_close(bytes);
        return NULL;
    }
    v->bytes = bytes;
    v->options = *options;
    v->lines = lines;
    if (!vcd_head_read(bytes, options, &v->head, f)) {
        vcd_close(v);
        return NULL;
    }
    v->number = v->head.lines_read + 1;
    signals_begin(v);
    return v;
}

static struct cc_file *vcd_open(const char *path, const struct cc_options *options, struct fault *f)
{
    return vcd_new(cc_bytes_open(path, options->read_bytes, f), options, f);
}

static struct cc_file *vcd_open_memory(const uint8_t *bytes, size_t length, const struct cc_options *options, struct fault *f)
{
    return vcd_new(cc_bytes_over(bytes, length, options->read_bytes, f), options, f);
}

static struct cc_tick vcd_tick(const struct cc_file *v)
{
    return v->head.tick;
}

static struct cc_facts vcd_facts(const struct cc_file *v)
{
    struct cc_facts facts = v->facts;

    facts.bytes = cc_bytes_read(v->bytes);
    facts.bytes_total = cc_bytes_total(v->bytes);
    facts.start_ns = v->head.start_ns;
    facts.has_start = v->head.has_start;
    return facts;
}

const struct cc_kind cc_vcd_kind = { "vcd", vcd_open, vcd_open_memory, vcd_next, vcd_tick, vcd_facts, vcd_close };
