/*
 * Fuzz target: the log of a kernel's port manager. The first byte says how large the pieces are that it is read in; whatever it holds, the
 * records are sound and in order of time, and pieces of any size give the same ones.
 */
#include "capture/record.h"
#include "decode/kernel_log.h"
#include "tests/fuzz/check.h"

struct seen {
    uint64_t hash, records, packets, resets, notices;
    int64_t  last_ns;
};

static void mix(struct seen *s, uint64_t value)
{
    s->hash = (s->hash ^ value) * UINT64_C(0x100000001B3);
}

static void see(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct seen  *s = context;
    struct record r;

    record_read(bytes, length, false, stamp_ns, ++s->records, &r);
    MUST(r.soundness == RECORD_SOUND && (r.flags & RECORD_HOST_TIME));
    MUST(r.t_ns >= s->last_ns);
    s->last_ns = r.t_ns;
    s->packets += r.kind == RECORD_PD_PACKET;
    s->resets += r.kind == RECORD_RESET_SIGNAL;
    mix(s, (uint64_t)stamp_ns);
    for (size_t k = 0; k < length; k++)
        mix(s, bytes[k]);
}

static void hear(void *context, const struct kernel_log_notice *n)
{
    struct seen *s = context;

    s->notices++;
    MUST(n->number > 0 && n->news <= KERNEL_LOG_CUT_OFF);
    mix(s, n->number);
    for (size_t k = 0; k < n->length; k++)
        mix(s, (uint8_t)n->words[k]);
}

static struct seen run(const uint8_t *bytes, size_t size, size_t piece)
{
    struct seen                     s = { .last_ns = INT64_MIN };
    const struct kernel_log_options options = { .port = 1, .found = see, .notice = hear, .context = &s };
    struct kernel_log              *k = kernel_log_new(&options);

    MUST(k);
    for (size_t at = 0; at < size; at += piece)
        kernel_log_take(k, bytes + at, size - at < piece ? size - at : piece);
    kernel_log_finish(k);
    struct kernel_log_facts facts = kernel_log_facts(k);

    MUST(facts.packets == s.packets && facts.resets == s.resets && facts.unreadable <= s.notices);
    kernel_log_free(k);
    return s;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size == 0)
        return 0;
    struct seen whole = run(bytes, size, size), parts = run(bytes, size, 1u + bytes[0] % 64u);

    MUST(whole.hash == parts.hash && whole.records == parts.records && whole.notices == parts.notices);
    kernel_log_looks_right(bytes, size);
    return 0;
}
