/*
 * The CC line itself: a packet as bits, the bits as changes of level, and those as an instrument counts them. The model's own copy of the
 * symbols and ordered sets: symbol table: Chromium EC include/usb_pd.h, common/usb_pd_tcpc.c, chip/stm32/ucpd-stm32gx.h.
 */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_signal.h"

#include "capture/record.h"

#include <math.h>

enum {
    SYMBOL_BITS = 5, SET_SYMBOLS = 4, PREAMBLE_BITS = 64, EDGES_MAX = 6144, BODY_HEAD = 8,
    SYNC_1 = 0x18, SYNC_2 = 0x11, SYNC_3 = 0x06, RST_1 = 0x07, RST_2 = 0x19, EOP = 0x0d, RESERVED = 0x1f,
};

/* Bit 0 is sent first. */
static const uint8_t symbol_of[16] = {
    0x1e, 0x09, 0x14, 0x15, 0x0a, 0x0b, 0x0e, 0x0f, 0x12, 0x13, 0x16, 0x17, 0x1a, 0x1b, 0x1c, 0x1d,
};
/* The K-code on the left is sent first. */
static const uint8_t packet_sets[5][SET_SYMBOLS] = {
    { SYNC_1, SYNC_1, SYNC_1, SYNC_2 }, { SYNC_1, SYNC_1, SYNC_3, SYNC_3 }, { SYNC_1, SYNC_3, SYNC_1, SYNC_3 },
    { SYNC_1, RST_2, RST_2, SYNC_3 },   { SYNC_1, RST_2, SYNC_3, SYNC_2 },
};
static const uint8_t reset_sets[2][SET_SYMBOLS] = { { RST_1, RST_1, RST_1, RST_2 }, { RST_1, SYNC_1, RST_1, SYNC_3 } };

struct signal signal_usual(int64_t bit_ps)
{
    return (struct signal){ .bit_ps = bit_ps, .later_bit_ps = bit_ps, .preamble_bits = PREAMBLE_BITS };
}

static unsigned later_bits(const struct signal *g, size_t bytes)
{
    return SYMBOL_BITS * (SET_SYMBOLS + 2 * (unsigned)bytes + (bytes > 0 && g->end != SIGNAL_NO_EOP ? 1u : 0u));
}

int64_t signal_span_ps(const struct signal *g, size_t bytes)
{
    return g->preamble_bits * g->bit_ps + later_bits(g, bytes) * g->later_bit_ps;
}

/* The line while it is written down. */
struct line {
    struct life *life;
    int64_t      at_ps;        /* where the next bit begins, after the start of the record */
    int64_t      tick_ps, last_tick;
    bool         high;
    size_t       used;
    uint8_t      body[BODY_HEAD + 2 * EDGES_MAX];
};

static void put_number(struct line *n, uint64_t value)
{
    do {
        uint8_t more = value > 0x7f ? 0x80 : 0;

        if (n->used < sizeof n->body)
            n->body[n->used++] = (uint8_t)((value & 0x7f) | more);
        value >>= 7;
    } while (value > 0);
}

/* A change of level, as the instrument sees it: at a tick, and not where it truly was. */
static void change(struct line *n, int64_t at_ps)
{
    int64_t jitter_ps = n->life->plan->instrument.edges_jitter_ps;
    int64_t off_ps = jitter_ps ? llround((double)jitter_ps * chance_normal(&n->life->edges)) : 0;
    int64_t tick = (at_ps + off_ps) / n->tick_ps;

    if (tick <= n->last_tick)
        tick = n->last_tick + 1;
    put_number(n, (uint64_t)(tick - n->last_tick));
    n->last_tick = tick;
    n->high = !n->high;
}

static void put_bit(struct line *n, bool bit, int64_t bit_ps, bool blurred)
{
    change(n, n->at_ps);
    if (bit)
        change(n, n->at_ps + (blurred ? bit_ps * 7 / 10 : bit_ps / 2));
    n->at_ps += bit_ps;
}

/* blurred: where the last 1 of it has its middle. */
static void put_symbol(struct line *n, unsigned symbol, int64_t bit_ps, bool blurred)
{
    for (unsigned k = 0; k < SYMBOL_BITS; k++)
        put_bit(n, symbol >> k & 1, bit_ps, blurred && symbol >> (k + 1) == 0);
}

static void put_all(struct line *n, const struct signal *g, const struct sent_bytes *what)
{
    const uint8_t *set = what->reset ? reset_sets[what->set] : packet_sets[what->set];

    for (unsigned k = 0; k < g->preamble_bits; k++)
        put_bit(n, (k & 1) != g->begins_1, g->bit_ps, false);
    for (unsigned k = 0; k < SET_SYMBOLS; k++)
        put_symbol(n, g->wrong_code == k + 1 ? (unsigned)RST_1 : set[k], g->later_bit_ps, g->blurred && g->wrong_code == k + 1);
    for (size_t k = 0; k < what->length; k++) {
        put_symbol(n, k == 0 && g->reserved ? (unsigned)RESERVED : symbol_of[what->bytes[k] & 15], g->later_bit_ps, false);
        put_symbol(n, symbol_of[what->bytes[k] >> 4], g->later_bit_ps, false);
    }
    if (!what->reset && g->end != SIGNAL_NO_EOP)
        put_symbol(n, g->end == SIGNAL_EOP ? (unsigned)EOP : SYNC_3, g->later_bit_ps, false);
    /* The last bit ends with a change; where that takes the line up it comes down a bit later (from memory). */
    change(n, n->at_ps);
    if (n->high)
        change(n, n->at_ps + g->later_bit_ps);
}

/* How far the record reaches: with the line still behind the last change, or not even that. */
static int64_t reach_ns(const struct instrument *i, const struct line *n)
{
    int64_t last_ns = (n->last_tick + 1) * i->edges_tick_ps / 1000;

    return i->edges_tail_us ? last_ns + i->edges_tail_us * 1000 : n->at_ps / 1000;
}

void synth_put_edges(struct life *l, int64_t start_ns, int64_t stamp_ns, const struct signal *g, const struct sent_bytes *what)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  from_ns = start_ns - i->edges_lead_us * 1000, step_ns = i->step_ns > 1 ? i->step_ns : 1;
    struct line              n = { .life = l, .tick_ps = i->edges_tick_ps, .used = BODY_HEAD };

    if (!i->edges)
        return;
    if (start_ns < l->edges_end_ns)
        synth_shorten_edges(l, start_ns);
    from_ns = from_ns < l->edges_end_ns ? l->edges_end_ns : from_ns;
    n.at_ps = (start_ns - from_ns) * 1000;
    for (unsigned k = 0; k < 4; k++)
        n.body[k] = (uint8_t)((uint64_t)i->edges_tick_ps >> 8 * k);
    put_all(&n, g, what);
    l->edges_end_ns = from_ns + reach_ns(i, &n);
    stamp_ns = (stamp_ns - (start_ns - from_ns)) / step_ns * step_ns;
    synth_enqueue_edges(l, from_ns, stamp_ns, (uint32_t)reach_ns(i, &n), n.body, n.used);
}
