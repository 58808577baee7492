/*
 * decode/bmc_inside.h - for decode/bmc*.c only: the state of one line.
 *
 * Changes are numbered from 0 as they pass the glitch filter; the last RING_EDGES of them are kept. Times after a lock are counted from
 * `base`, in 1/65536 of a tick ("fine"), with half of what rising and falling changes are shifted against each other taken off.
 *
 * SEARCH looks at the last seven changes: whole cell, half, half, twice. PREAMBLE follows the clock while bits alternate; SET holds the
 * last 20 bits against the ordered sets, from the first two equal bits on; DATA reads symbols.
 */
#pragma once
#include "decode/bmc.h"

enum {
    LOOK_CHANGES = 24, /* so many are looked at where the first alone does not tell */
    WAITING_MOST = LOOK_CHANGES + 8, /* changes that are not used yet, and some room */
    RING_EDGES = 512, /* a preamble, an ordered set and as much again, twice */
    RING_CELLS = 64,
    FINE_BITS = 16,
    FINE_PER_TICK = 1 << FINE_BITS,
    FINE_PER_PART = FINE_PER_TICK / BMC_PARTS,
    LOCK_SPACINGS = 6,
    LOCK_BITS = 4,
    RUN_BITS = 32, /* of which a mean rate is taken: pBitRate, from memory */
};

enum bmc_state { BMC_SEARCH, BMC_PREAMBLE, BMC_SET, BMC_DATA };

struct bmc {
    /* Lengths in ticks. */
    uint64_t glitch, still, far;        /* far: longer than any spacing inside a packet */
    uint64_t window_least, window_most; /* of the six spacings of a lock */

    void (*found)(void *context, const struct bmc_frame *frame);
    void  *context;

    /* Changes. Level after change k: (k ^ phase) & 1. Those before `floor` belong to a frame already, or lie before a silence or hole. */
    int64_t  edges[RING_EDGES];
    uint64_t stored, next, floor; /* next: the first that is not used yet */
    uint64_t phase;
    bool     level_known;
    bool     has_held; /* a change that waits for the next, to see that it is no glitch */
    int64_t  held;
    int64_t  known_from, reached;

    /* The clock. */
    enum bmc_state state;
    int64_t        base;
    int64_t        border; /* where the present cell began, by the clock */
    int64_t        cell, skew;
    uint64_t       last_border;  /* the change at the end of the last cell */
    int64_t        last_border_at;
    unsigned       jitter_shift; /* makes a cell about 4096 */
    uint64_t       jitter_sum, jitter_count;

    /* Bits since the lock. */
    uint64_t bits;
    uint32_t history, unsure; /* the last 32, the newest in bit 31; and whether a change in it could not be told */
    unsigned since_break;     /* from the second of two equal bits on */
    uint64_t cell_ends[RING_CELLS]; /* the change that ended bit n (counted from 1): [n % RING_CELLS] */
    uint64_t lock_edge;       /* that began the first bit */
    bool     extended;        /* what came before the lock has been looked at */
    int64_t  extra_bits;      /* that belong to the preamble there; negative: some after the lock do not */
    int64_t  start_tick;      /* where its first bit begins */
    bool     start_rising, start_whole;

    /* The packet. */
    uint64_t         set_from, data_from; /* the changes that began and ended its ordered set */
    uint64_t         data_bits;           /* the bits until then */
    unsigned         symbol, symbol_bits;
    bool             low_nibble;
    int64_t          run_from;
    unsigned         run_bits;
    struct bmc_frame frame;
    uint8_t          bytes[BMC_BYTES_MAX];

    bool    has_end, end_good; /* of the frame before */
    int64_t end_start_tick, end_span_parts;
};

static inline int64_t bmc_edge(const struct bmc *b, uint64_t k)
{
    return b->edges[k % RING_EDGES];
}

/* Changes from this one on are kept, however many are waiting behind `next`. */
static inline uint64_t bmc_kept(const struct bmc *b)
{
    return b->next > RING_EDGES - WAITING_MOST ? b->next - (RING_EDGES - WAITING_MOST) : 0;
}

/* The two may lie as far from each other as int64_t allows: then it is a large number. */
static inline uint64_t bmc_spacing(int64_t from, int64_t to)
{
    return (uint64_t)to - (uint64_t)from;
}

static inline bool bmc_rising(const struct bmc *b, uint64_t k)
{
    return ((k ^ b->phase) & 1) != 0;
}

/* A change that is no further from base than a packet is long. */
static inline int64_t bmc_fine(const struct bmc *b, uint64_t k)
{
    int64_t at = (int64_t)bmc_spacing(b->base, bmc_edge(b, k)) * FINE_PER_TICK;

    return bmc_rising(b, k) ? at - b->skew : at + b->skew;
}

/* Are the six spacings up to change k the bits 0, 1, 0, 1, at any rate that is looked for? */
bool bmc_window_fits(const struct bmc *b, uint64_t k);
/* The next change or cell, whatever the state. False: it has to wait for more changes; not if `ended`: there will be none for long. */
bool bmc_step(struct bmc *b, bool ended);

/*
 * A cell that begins at a border, out of the changes around it: at[0..count), their distance from the border, growing; those at bmc_cell_most
 * or more left out. False: it is none. Pulses that are no part of it are left out, `sure` is false then.
 */
struct bmc_cell {
    bool     one, sure;
    unsigned used; /* changes, the last of which is its end */
    int64_t  mid, end;
};
enum { CELL_CHANGES_MOST = 8 };
bool bmc_cell_read(const int64_t *at, unsigned count, int64_t length, struct bmc_cell *cell);
/* Nothing was left out, and no change is closer to another place than to its own but for a quarter of the way between them. */
bool bmc_cell_sure(const struct bmc_cell *cell, int64_t length);
static inline int64_t bmc_cell_most(int64_t length)
{
    return length + length / 8 * 3;
}

/* A first change so far from the border is closer to half way between a middle and an end than to either. */
static inline bool bmc_first_doubtful(int64_t at, int64_t length)
{
    return at >= length / 8 * 5 && at <= length / 8 * 7;
}

/*
 * How far the clock goes along with changes that are late or early: 3/32 of it in phase and 1/256 in the length of a cell. With those the
 * noise of single changes adds a twentieth to the error of the next, and a rate that is 1 % off is never half a half cell behind. Shifts of
 * negative numbers keep the sign with gcc and clang, and round down.
 */
static inline int64_t bmc_shifted(int64_t value, unsigned shift)
{
    return value >> shift;
}

static inline int64_t bmc_phase_step(int64_t cell, int64_t late)
{
    return cell + bmc_shifted(late * 3, 5);
}

static inline int64_t bmc_cell_step(int64_t late)
{
    return bmc_shifted(late, 8);
}

/* A cell has ended with change k. */
void bmc_cell_end(struct bmc *b, uint64_t k, const struct bmc_cell *cell);
/*
 * Goes on in the packet under way with changes from `next` on, as far as its cells are clean and show in them; how many are used. No two of
 * them, nor the first and the one before, may be further apart than `far`, or closer than a glitch.
 */
size_t bmc_follow_fast(struct bmc *b, const int64_t *at, size_t count);

/* A bit has ended with change k. */
void bmc_set_bit(struct bmc *b, uint64_t k);
void bmc_data_bit(struct bmc *b, bool one);
/* 32 bits have ended there. */
void bmc_run_end(struct bmc *b, int64_t at);
/* There has to be room for it. */
static inline void bmc_nibble_take(struct bmc *b, uint8_t nibble)
{
    if (b->low_nibble)
        b->bytes[b->frame.length] = nibble;
    else
        b->bytes[b->frame.length++] |= (uint8_t)(nibble << 4);
    b->low_nibble = !b->low_nibble;
}
/* Looks back from the lock, how much of the preamble came before it. */
void bmc_preamble_extend(struct bmc *b);
/* The frame ends with the last whole cell and is handed over; the search goes on behind it, or where another packet fell into it. */
void bmc_frame_end(struct bmc *b, enum bmc_end why);
/* A last cell without a change at its end: if it completes the frame, that is handed over and it is true. */
bool bmc_frame_completes(struct bmc *b, bool one);
