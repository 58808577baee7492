#include "tests/fuzz/check_cc.h"

#include "tests/fuzz/check.h"

#include <string.h>

/* A line so far; blocks that join are one stretch. mark: of all stretches and changes, in their order. */
struct line { bool open, level; int64_t until; uint64_t mark, level_mark; };

struct reading {
    struct line   line[CC_LINES_MAX];
    uint64_t      notices, notice_mark;
    struct fault  fault, end;
    struct cc_facts facts;
    bool          opened;
};

static void mark_add(uint64_t *mark, uint64_t value)
{
    *mark = (*mark ^ value) * 0x9E3779B97F4A7C15u;
    *mark ^= *mark >> 29;
}

static void notice_take(void *context, const struct cc_notice *n)
{
    struct reading *r = context;

    r->notices++;
    mark_add(&r->notice_mark, (uint64_t)n->news << 32 | n->line);
    mark_add(&r->notice_mark, n->number);
    MUST(n->words || n->words_length == 0);
    for (size_t k = 0; k < n->words_length; k++)
        mark_add(&r->notice_mark, (uint8_t)n->words[k]);
}

static void stretch_begin(struct line *l, const struct cc_block *b)
{
    if (l->open)
        mark_add(&l->mark, (uint64_t)l->until);
    mark_add(&l->mark, 1 + b->level);
    mark_add(&l->mark, (uint64_t)b->from);
}

static void block_take(struct line *l, const struct cc_block *b)
{
    MUST(b->from < b->until);
    MUST(!l->open || b->from >= l->until);
    if (!l->open || b->broken)
        stretch_begin(l, b);
    else
        MUST(b->from == l->until && b->level == l->level);
    for (size_t k = 0; k < b->count; k++) {
        MUST(b->at[k] >= b->from && b->at[k] < b->until);
        MUST(k == 0 || b->at[k] > b->at[k - 1]);
        mark_add(&l->mark, (uint64_t)b->at[k]);
    }
    for (size_t k = 0; k < b->level_count; k++)
        MUST(b->levels[k].from < b->levels[k].until);
    l->open = true;
    l->level = b->level ^ (b->count & 1);
    l->until = b->until;
}

static void read_all(const struct cc_kind *kind, const uint8_t *bytes, size_t length, struct cc_options options, struct reading *r)
{
    struct cc_block block;

    options.notice = notice_take;
    options.context = r;
    struct cc_file *c = kind->open_memory(bytes, length, &options, &r->fault);

    r->opened = c != NULL;
    MUST(r->opened == (r->fault.code == FAULT_NONE));
    if (!c)
        return;
    struct cc_tick tick = kind->tick(c);

    MUST(tick.ps > 0 && tick.per > 0 && tick.ps <= 1000000000000000 && tick.per <= 1000000000000000);
    while (kind->next(c, &block, &r->end)) {
        MUST(block.line < options.lines);
        block_take(&r->line[block.line], &block);
    }
    for (unsigned k = 0; k < options.lines; k++)
        mark_add(&r->line[k].mark, (uint64_t)r->line[k].until);
    r->facts = kind->facts(c);
    kind->close(c);
}

void check_cc(const struct cc_kind *kind, const uint8_t *bytes, size_t length, struct cc_options options, size_t piece)
{
    struct reading whole = { 0 }, pieces = { 0 };

    options.read_bytes = 0;
    read_all(kind, bytes, length, options, &whole);
    options.read_bytes = piece;
    read_all(kind, bytes, length, options, &pieces);
    MUST(whole.opened == pieces.opened);
    MUST(whole.fault.code == pieces.fault.code && whole.fault.number == pieces.fault.number && strcmp(whole.fault.detail, pieces.fault.detail) == 0);
    MUST(whole.end.code == pieces.end.code);
    MUST(whole.notices == pieces.notices && whole.notice_mark == pieces.notice_mark);
    MUST(whole.facts.unreadable == pieces.facts.unreadable && whole.facts.unknown_levels == pieces.facts.unknown_levels);
    for (unsigned k = 0; k < options.lines; k++)
        MUST(whole.line[k].mark == pieces.line[k].mark);
}
