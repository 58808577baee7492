#include "tests/capture/cc_heard.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct stretch { bool open, level; int64_t until; };

static void notice_take(void *context, const struct cc_notice *n)
{
    struct heard *h = context;

    if (h->notices < HEARD_NOTICES) {
        size_t length = n->words_length < sizeof h->words[0] - 1 ? n->words_length : sizeof h->words[0] - 1;

        h->notice[h->notices] = *n;
        h->notice[h->notices].words = NULL;
        if (n->words)
            memcpy(h->words[h->notices], n->words, length);
    }
    h->notices++;
}

static void say(char *line, const char *before, int64_t number)
{
    size_t used = strlen(line);

    assert_true(used + 40 < HEARD_TEXT);
    snprintf(line + used, HEARD_TEXT - used, "%s%" PRId64, before, number);
}

static void block_take(struct heard *h, struct stretch *s, const struct cc_block *b)
{
    char *line = h->line[b->line];

    assert_true(b->from < b->until);
    if (s->open && !b->broken) {
        assert_true(b->from == s->until);
        assert_true(b->level == s->level);
    } else {
        assert_true(!s->open || b->from >= s->until);
        if (s->open)
            say(line, " until ", s->until);
        say(line, s->open ? (b->level ? ", high@" : ", low@") : (b->level ? "high@" : "low@"), b->from);
    }
    for (size_t k = 0; k < b->count; k++) {
        assert_true(b->at[k] >= b->from && b->at[k] < b->until);
        assert_true(k == 0 || b->at[k] > b->at[k - 1]);
        say(line, " ", b->at[k]);
    }
    *s = (struct stretch){ true, b->level ^ (b->count & 1), b->until };
}

static void hear_all(const struct cc_kind *kind, struct cc_file *c, struct heard *h, unsigned lines)
{
    struct stretch  s[CC_LINES_MAX] = { 0 };
    struct cc_block block;

    while (kind->next(c, &block, &h->end)) {
        assert_true(block.line < lines);
        assert_true(block.level_count == 0);
        block_take(h, &s[block.line], &block);
    }
    for (unsigned k = 0; k < lines; k++)
        if (s[k].open)
            say(h->line[k], " until ", s[k].until);
    h->tick = kind->tick(c);
    h->facts = kind->facts(c);
    kind->close(c);
}

static void options_settle(struct cc_options *options, struct heard *h)
{
    *h = (struct heard){ 0 };
    options->notice = notice_take;
    options->context = h;
    if (options->lines == 0)
        options->lines = 1;
}

bool heard_of(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options, struct heard *h, struct fault *f)
{
    options_settle(&options, h);
    struct cc_file *c = kind->open_memory(bytes, length, &options, f);

    if (c)
        hear_all(kind, c, h, options.lines);
    return c != NULL;
}

/* All of it, out of a pipe: a piece at a time, as big as the pipe holds. */
static void heard_from_pipe(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options, struct heard *h)
{
    int          ends[2];
    char         path[32];
    struct fault f = { 0 };

    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], bytes, length), (ssize_t)length);
    close(ends[1]);
    snprintf(path, sizeof path, "/dev/fd/%d", ends[0]);
    options_settle(&options, h);
    struct cc_file *c = kind->open(path, &options, &f);

    close(ends[0]);
    assert_non_null(c);
    hear_all(kind, c, h, options.lines);
}

static void assert_same(const struct heard *a, const struct heard *b, unsigned lines)
{
    for (unsigned k = 0; k < lines; k++)
        assert_string_equal(a->line[k], b->line[k]);
    assert_int_equal(a->notices, b->notices);
    for (unsigned k = 0; k < a->notices && k < HEARD_NOTICES; k++) {
        assert_int_equal(a->notice[k].news, b->notice[k].news);
        assert_int_equal(a->notice[k].number, b->notice[k].number);
        assert_string_equal(a->words[k], b->words[k]);
    }
    assert_true(a->facts.bytes == b->facts.bytes);
    assert_true(a->facts.unreadable == b->facts.unreadable && a->facts.unknown_levels == b->facts.unknown_levels);
}

void heard_same(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options, struct heard *h)
{
    static const size_t pieces[] = { 1, 2, 3, 5, 7, 8, 9, 16, 31, 64, 65, 1000 };
    struct heard       *other = malloc(sizeof *other);
    struct fault        f = { 0 };
    unsigned            lines = options.lines ? options.lines : 1;

    assert_non_null(other);
    if (!heard_of(kind, bytes, length, options, h, &f))
        fail_msg("cannot be opened: %d %s", (int)f.code, f.detail);
    assert_int_equal(h->end.code, FAULT_NONE);
    assert_true(h->facts.bytes == length && h->facts.bytes_total == (int64_t)length);
    for (size_t k = 0; k < sizeof pieces / sizeof pieces[0]; k++) {
        options.read_bytes = pieces[k];
        assert_true(heard_of(kind, bytes, length, options, other, &f));
        assert_same(h, other, lines);
    }
    options.read_bytes = 0;
    if (length <= 4096) {
        heard_from_pipe(kind, bytes, length, options, other);
        assert_int_equal(other->facts.bytes_total, -1);
        assert_same(h, other, lines);
    }
    free(other);
}

struct fault heard_fault(const struct cc_kind *kind, const void *bytes, size_t length, struct cc_options options)
{
    struct heard *h = malloc(sizeof *h);
    struct fault  f = { 0 };

    assert_non_null(h);
    assert_false(heard_of(kind, bytes, length, options, h, &f));
    assert_int_not_equal(f.code, FAULT_NONE);
    free(h);
    return f;
}
