/* The clock of a packet: found in six spacings of its preamble, then followed from change to change. */
#include "decode/bmc_inside.h"
#include "decode/line_code.h"

/*
 * How far the clock goes along with a change that is late or early: 3/16 of it in phase and 1/128 in the length of a cell. With those the
 * noise of single changes adds a tenth to the error of the next, and a rate that is 1 % off is caught up with in some 20 bits.
 */
enum { PHASE_NUMERATOR = 3, PHASE_SHIFT = 4, CELL_SHIFT = 7, SKEW_SHIFT = 5 };

enum { EXTEND_BITS = 40 }; /* when the length of a cell is well known, and what came before the lock is still kept */

/* Shifts of negative numbers keep the sign with gcc and clang, and round down. */
static int64_t shifted(int64_t value, unsigned shift)
{
    return value >> shift;
}

/* Is a spacing a whole cell (or half of one), in a window of that sum? sum: 4 cells; spacing times 48, what is due to unequal edges off. */
static bool spacing_fits(int64_t spacing_48, int64_t sum, bool whole)
{
    return whole ? spacing_48 >= 9 * sum && spacing_48 < 15 * sum : spacing_48 >= 3 * sum && spacing_48 < 9 * sum;
}

/* Six times by how much the spacings that begin with the level of the first are too long: their whole and half cells cancel out. */
static int64_t window_skew(const int64_t *s)
{
    return s[0] - s[1] + s[2] - s[3] + s[4] - s[5];
}

static bool window_read(const struct bmc *b, uint64_t k, int64_t *spacings)
{
    uint64_t sum = bmc_spacing(bmc_edge(b, k - LOCK_SPACINGS), bmc_edge(b, k));

    if (sum < b->window_least || sum > b->window_most)
        return false;
    for (unsigned j = 0; j < LOCK_SPACINGS; j++) {
        uint64_t spacing = bmc_spacing(bmc_edge(b, k - LOCK_SPACINGS + j), bmc_edge(b, k - LOCK_SPACINGS + j + 1));

        if (spacing > b->window_most)
            return false;
        spacings[j] = (int64_t)spacing;
    }
    return true;
}

bool bmc_window_fits(const struct bmc *b, uint64_t k)
{
    int64_t s[LOCK_SPACINGS], sum = 0, skew;

    if (k < b->floor + LOCK_SPACINGS || !window_read(b, k, s))
        return false;
    for (unsigned j = 0; j < LOCK_SPACINGS; j++)
        sum += s[j];
    skew = window_skew(s);
    for (unsigned j = 0; j < LOCK_SPACINGS; j++)
        if (!spacing_fits(48 * s[j] + (j % 2 ? 8 : -8) * skew, sum, j % 3 == 0))
            return false;
    return true;
}

static unsigned shift_of_jitter(int64_t cell)
{
    unsigned shift = 0;

    while (cell >> shift > 4096)
        shift++;
    return shift;
}

/* The four bits before change k are 0, 1, 0, 1: their mean place is where the clock begins. */
static void lock(struct bmc *b, uint64_t k)
{
    static const uint8_t borders[LOCK_BITS + 1] = { 0, 1, 3, 4, 6 };
    uint64_t             first = k - LOCK_SPACINGS;
    int64_t              s[LOCK_SPACINGS], late = 0;

    (void)window_read(b, k, s);
    b->base = bmc_edge(b, first);
    b->skew = window_skew(s) * FINE_PER_TICK / (2 * LOCK_SPACINGS);
    if (bmc_rising(b, first))
        b->skew = -b->skew; /* the first spacing is long because its end, a falling change, is late */
    b->cell = (bmc_fine(b, k) - bmc_fine(b, first)) / LOCK_BITS;
    for (unsigned j = 0; j <= LOCK_BITS; j++) {
        late += bmc_fine(b, first + borders[j]) - (int64_t)j * b->cell;
        b->cell_ends[j] = first + borders[j];
    }
    b->border = LOCK_BITS * b->cell + late / (LOCK_BITS + 1);
    b->bits = LOCK_BITS;
    b->history = UINT32_C(0xA) << 28; /* 0, 1, 0, 1, the newest in the highest bit */
    b->unsure = 0;
    b->mid = b->extended = false;
    b->lock_edge = first;
    b->last_border = k;
    b->last_border_at = bmc_fine(b, k);
    b->jitter_shift = shift_of_jitter(b->cell);
    b->jitter_sum = b->jitter_count = 0;
    b->state = BMC_PREAMBLE;
}

static void jitter_add(struct bmc *b, int64_t late)
{
    int64_t n = shifted(late, b->jitter_shift);

    b->jitter_sum += (uint64_t)(n * n);
    b->jitter_count++;
}

/* A change closer to the next choice than to its own place by that: a quarter of the way between them is left. */
static bool late_unsure(const struct bmc *b, int64_t late)
{
    int64_t most = b->cell / 16 * 3;

    return late > most || late < -most;
}

/* Bits alternate. At 8, 16 and 32 of them the mean from the lock on is a better length of a cell than what was followed. */
static void preamble_bit(struct bmc *b, uint64_t k, int64_t late)
{
    b->skew += bmc_rising(b, k) ? shifted(late, SKEW_SHIFT) : -shifted(late, SKEW_SHIFT);
    if ((b->history >> 31 & 1) == (b->history >> 30 & 1)) {
        b->state = BMC_SET;
        b->since_break = 1;
        return;
    }
    if (b->bits == 8 || b->bits == 16 || b->bits == 32)
        b->cell = (bmc_fine(b, k) - bmc_fine(b, b->lock_edge)) / (int64_t)b->bits;
    if (b->bits == EXTEND_BITS)
        bmc_preamble_extend(b);
    if (b->bits % RING_CELLS == 0) { /* preambles of any length: a carrier of BIST looks the same */
        int64_t ticks = b->border / FINE_PER_TICK;

        b->base += ticks;
        b->border -= ticks * FINE_PER_TICK;
        b->last_border_at -= ticks * FINE_PER_TICK;
    }
}

/* The cell ends with change k, which is `at` from its border. */
static void cell_end(struct bmc *b, uint64_t k, int64_t at)
{
    bool    one = b->mid;
    int64_t late = at - b->cell, mid_late = one ? b->mid_at - shifted(b->cell, 1) : 0;
    bool    unsure = late_unsure(b, late) || late_unsure(b, mid_late);

    jitter_add(b, late);
    if (one)
        jitter_add(b, mid_late);
    b->last_border = k;
    b->last_border_at = b->border + at;
    b->border += b->cell + shifted((late + mid_late) * PHASE_NUMERATOR, PHASE_SHIFT);
    b->cell += shifted(late + mid_late, CELL_SHIFT);
    b->mid = false;
    b->bits++;
    if (b->state == BMC_DATA) {
        bmc_data_bit(b, one);
        return;
    }
    b->history = b->history >> 1 | (uint32_t)one << 31;
    b->unsure = b->unsure >> 1 | (uint32_t)unsure << 31;
    b->cell_ends[b->bits % RING_CELLS] = k;
    if (b->state == BMC_SET)
        bmc_set_bit(b, k);
    else
        preamble_bit(b, k, late);
}

/* The frame could not go on at change k (or, with p far away, before it). */
static void follow_fails(struct bmc *b, int64_t at)
{
    bool silent = at >= 2 * b->cell;

    if (at >= b->cell + b->cell / 4 && bmc_frame_completes(b))
        return;
    if (b->state == BMC_DATA)
        bmc_frame_end(b, silent ? BMC_NO_EOP : BMC_BAD_CELL);
    b->state = BMC_SEARCH;
}

static void search(struct bmc *b, uint64_t k)
{
    if (k > 0 && bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far)
        b->floor = k > b->floor ? k : b->floor;
    if (bmc_window_fits(b, k))
        lock(b, k);
}

static void follow(struct bmc *b, uint64_t k)
{
    bool    far = bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far;
    int64_t at = far ? 4 * b->cell : bmc_fine(b, k) - b->border;
    int64_t quarter = shifted(b->cell, 2);

    if (!b->mid && at >= quarter && at < b->cell - quarter) {
        b->mid = true;
        b->mid_at = at;
        return;
    }
    if (at >= b->cell - quarter && at < b->cell + quarter) {
        cell_end(b, k, at);
        return;
    }
    follow_fails(b, at);
    if (b->next > k) /* else it begins anew, further back */
        search(b, k);
}

void bmc_process(struct bmc *b, uint64_t k)
{
    if (b->state == BMC_SEARCH)
        search(b, k);
    else
        follow(b, k);
}

void bmc_stop(struct bmc *b)
{
    bool known;

    if (b->state == BMC_SEARCH)
        return;
    known = bmc_spacing(bmc_edge(b, b->stored - 1), b->reached) > b->far ||
            (int64_t)bmc_spacing(b->base, b->reached) * FINE_PER_TICK - b->border >= b->cell + b->cell / 4;
    if (known && bmc_frame_completes(b))
        return;
    if (b->state == BMC_DATA)
        bmc_frame_end(b, BMC_NO_EOP);
    b->state = BMC_SEARCH;
}
