/* The clock of a packet: found in six spacings of its preamble, then followed from change to change. */
#include "decode/bmc_inside.h"
#include "decode/line_code.h"

enum { SKEW_SHIFT = 5 }; /* of a change that is late or early, for the shift between rising and falling ones; in the preamble */

enum { EXTEND_BITS = 40 }; /* when the length of a cell is well known, and what came before the lock is still kept */

/* Where the seven changes of the bits 0, 1, 0, 1 stand, in half cells. */
static const uint8_t window_places[LOCK_SPACINGS + 1] = { 0, 2, 3, 4, 6, 7, 8 };

static bool window_read(const struct bmc *b, uint64_t k, int64_t *at)
{
    int64_t  first = bmc_edge(b, k - LOCK_SPACINGS);
    uint64_t sum = bmc_spacing(first, bmc_edge(b, k));

    if (sum < b->window_least || sum > b->window_most)
        return false;
    for (unsigned j = 0; j <= LOCK_SPACINGS; j++) {
        uint64_t after = bmc_spacing(first, bmc_edge(b, k - LOCK_SPACINGS + j));

        if (after > sum)
            return false;
        at[j] = (int64_t)after;
    }
    return true;
}

/*
 * Six times by how much the spacings that begin with the level of the first are too long. Whole and half cells cancel out.
 */
static int64_t window_skew(const int64_t *at)
{
    return 2 * (at[1] - at[2] + at[3] - at[4] + at[5]) - at[6];
}

/*
 * Two whole cells, one that begins high and one low, last longer than three halves of a cell, two halves less long; and no change stands
 * further than half a half from its place. Unequal edges count in neither.
 */
static bool window_judge(const int64_t *at)
{
    int64_t sum = at[6], skew = window_skew(at), mean = 0, off[LOCK_SPACINGS + 1];

    if (8 * (at[1] - at[0] + at[4] - at[3]) <= 3 * sum || 8 * (at[2] - at[1] + at[5] - at[4]) >= 3 * sum ||
        8 * (at[3] - at[2] + at[6] - at[5]) >= 3 * sum)
        return false;
    for (unsigned j = 0; j <= LOCK_SPACINGS; j++) { /* in 1/336 of a tick, the mean in 1/48 of it */
        off[j] = 48 * at[j] - 6 * window_places[j] * sum - (j % 2 ? 8 * skew : 0);
        mean += off[j];
    }
    for (unsigned j = 0; j <= LOCK_SPACINGS; j++)
        if (7 * off[j] - mean >= 21 * sum || 7 * off[j] - mean <= -21 * sum)
            return false;
    return true;
}

bool bmc_window_fits(const struct bmc *b, uint64_t k)
{
    int64_t at[LOCK_SPACINGS + 1];

    return k >= b->floor + LOCK_SPACINGS && window_read(b, k, at) && window_judge(at);
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
    uint64_t first = k - LOCK_SPACINGS;
    int64_t  at[LOCK_SPACINGS + 1], late = 0;

    (void)window_read(b, k, at);
    b->base = bmc_edge(b, first);
    b->skew = window_skew(at) * FINE_PER_TICK / (2 * LOCK_SPACINGS);
    if (bmc_rising(b, first))
        b->skew = -b->skew; /* the first spacing is long because its end, a falling change, is late */
    /* Pairs of changes of one direction, 8, 5 and 3 half cells apart: the straight line through them. */
    b->cell = (8 * (at[6] - at[0]) + 5 * (at[5] - at[1]) + 3 * (at[4] - at[2])) * FINE_PER_TICK / 49;
    for (unsigned j = 0, bit = 0; j <= LOCK_SPACINGS; j++) {
        late += bmc_fine(b, first + j) - window_places[j] * (b->cell / 2);
        if (window_places[j] % 2 == 0)
            b->cell_ends[bit++] = first + j;
    }
    b->border = LOCK_BITS * b->cell + late / (LOCK_SPACINGS + 1);
    b->bits = LOCK_BITS;
    b->history = UINT32_C(0xA) << 28; /* 0, 1, 0, 1, the newest in the highest bit */
    b->unsure = 0;
    b->extended = false;
    b->lock_edge = first;
    b->last_border = k;
    b->last_border_at = bmc_fine(b, k);
    b->jitter_shift = shift_of_jitter(b->cell);
    b->jitter_sum = b->jitter_count = 0;
    b->state = BMC_PREAMBLE;
}

static void jitter_add(struct bmc *b, int64_t late)
{
    int64_t n = bmc_shifted(late, b->jitter_shift);

    b->jitter_sum += (uint64_t)(n * n);
    b->jitter_count++;
}

/* Bits alternate. At 8, 16 and 32 of them the mean from the lock on is a better length of a cell than what was followed. */
static void preamble_bit(struct bmc *b, uint64_t k, int64_t late)
{
    b->skew += bmc_rising(b, k) ? bmc_shifted(late, SKEW_SHIFT) : -bmc_shifted(late, SKEW_SHIFT);
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

/*
 * What speaks against a choice of changes, cells being about 4096 here: the squares of how far they are from their places; for each pulse
 * that is left out the square of 15 % of a cell, as much as the changes of a sound cell may well be off, and of half its width; for a
 * change that is left to the next cell too early for that one's middle, how early it is, or two more pulses. Tried out by
 * tests/decode/sweep.c.
 */
enum { AGAINST_PULSE = 614, PULSE_WIDEST = 1536 };

static int64_t square(int64_t value)
{
    return value * value;
}

/* What there is to choose from, and the best choice so far. */
struct choice {
    const int64_t  *at;
    unsigned        count, shift;
    int64_t         length, least; /* least: what speaks against it; negative: none yet */
    struct bmc_cell cell;
};

/* The pulses from..until-1 are left out. Negative: they cannot be pulses. */
static int64_t against_pulses(const struct choice *c, unsigned from, unsigned until)
{
    int64_t against = 0;

    for (; from + 1 < until; from += 2) {
        int64_t width = bmc_shifted(c->at[from + 1] - c->at[from], c->shift);

        if (width > PULSE_WIDEST)
            return -1;
        against += square(width / 2) + square(AGAINST_PULSE);
    }
    return against;
}

static int64_t against_next(const struct choice *c, unsigned end)
{
    int64_t early = end + 1 < c->count ? bmc_shifted(c->length / 2 - (c->at[end + 1] - c->at[end]), c->shift) : 0;

    if (early <= 0)
        return 0;
    return square(early) < 2 * square(AGAINST_PULSE) ? square(early) : 2 * square(AGAINST_PULSE);
}

/* at[end] ends the cell, and at[mid], unless mid is end, stands in its middle. */
static void cell_consider(struct choice *c, unsigned mid, unsigned end)
{
    int64_t before = against_pulses(c, 0, mid), between = against_pulses(c, mid + 1, end);
    int64_t mid_off = mid == end ? 0 : bmc_shifted(c->at[mid] - c->length / 2, c->shift);
    int64_t against = before + between + square(mid_off) + square(bmc_shifted(c->at[end] - c->length, c->shift)) + against_next(c, end);

    if (before < 0 || between < 0 || (c->least >= 0 && against >= c->least))
        return;
    c->least = against;
    c->cell = (struct bmc_cell){ .one = mid != end, .used = end + 1, .mid = c->at[mid], .end = c->at[end] };
}

/* The likeliest choice. After a 0 the level is another than before it, after a 1 the same: the number of changes tells them apart. */
static bool cell_choose(const int64_t *at, unsigned count, int64_t length, struct bmc_cell *cell)
{
    struct choice c = { .at = at, .count = count, .shift = shift_of_jitter(length), .length = length, .least = -1 };
    int64_t       eighth = length / 8;

    for (unsigned end = 0; end < count; end++) {
        if (at[end] < 5 * eighth)
            continue;
        if (end % 2 == 0)
            cell_consider(&c, end, end);
        for (unsigned mid = 0; end % 2 && mid < end; mid += 2)
            if (at[mid] >= eighth && at[mid] < 7 * eighth)
                cell_consider(&c, mid, end);
    }
    *cell = c.cell;
    return c.least >= 0;
}

bool bmc_cell_read(const int64_t *at, unsigned count, int64_t length, struct bmc_cell *cell)
{
    int64_t quarter = length / 4;
    bool    one = count == 2;

    if (count == 0)
        return false;
    *cell = (struct bmc_cell){ .one = one, .sure = true, .used = count, .mid = at[0], .end = at[count - 1] };
    if (count <= 2 && (!one || (cell->mid >= quarter && cell->mid < length - quarter)) && cell->end >= length - quarter &&
        cell->end < length + quarter)
        return true;
    return cell_choose(at, count, length, cell);
}

bool bmc_cell_sure(const struct bmc_cell *cell, int64_t length)
{
    int64_t most = length / 16 * 3, late = cell->end - length, mid_late = cell->one ? cell->mid - length / 2 : 0;

    return cell->sure && late <= most && late >= -most && mid_late <= most && mid_late >= -most;
}

void bmc_cell_end(struct bmc *b, uint64_t k, const struct bmc_cell *c)
{
    int64_t late = c->end - b->cell, mid_late = c->one ? c->mid - bmc_shifted(b->cell, 1) : 0;
    bool    unsure = !bmc_cell_sure(c, b->cell);

    jitter_add(b, late);
    if (c->one)
        jitter_add(b, mid_late);
    b->last_border = k;
    b->last_border_at = b->border + c->end;
    b->border += bmc_phase_step(b->cell, late + mid_late);
    b->cell += bmc_cell_step(late + mid_late);
    b->bits++;
    if (b->state == BMC_DATA) {
        bmc_data_bit(b, c->one);
        return;
    }
    b->history = b->history >> 1 | (uint32_t)c->one << 31;
    b->unsure = b->unsure >> 1 | (uint32_t)unsure << 31;
    b->cell_ends[b->bits % RING_CELLS] = k;
    if (b->state == BMC_SET)
        bmc_set_bit(b, k);
    else
        preamble_bit(b, k, late);
}

/* How the changes end that there were after the border. */
enum cell_rest {
    REST_MORE,    /* there are more, within two cells */
    REST_SILENT,  /* the line is still for as long as the cell lasts, and longer */
    REST_UNKNOWN, /* it is not known */
};

/* No cell is to be found behind the border. */
static void follow_fails(struct bmc *b, const int64_t *at, unsigned count, enum cell_rest rest)
{
    bool one = count == 1 && at[0] >= b->cell / 4 && at[0] < b->cell - b->cell / 4, stops = rest != REST_MORE && (count == 0 || one);

    if (rest == REST_SILENT && stops && bmc_frame_completes(b, one))
        return;
    if (b->state == BMC_DATA)
        bmc_frame_end(b, stops ? BMC_NO_EOP : BMC_BAD_CELL);
    b->state = BMC_SEARCH;
}

static void search(struct bmc *b)
{
    uint64_t k = b->next++;

    if (k > 0 && bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far)
        b->floor = k > b->floor ? k : b->floor;
    if (bmc_window_fits(b, k))
        lock(b, k);
}

/* `after`: how far from the border the next change is, INT64_MAX if it is far away; or there is none yet, and none is expected. */
static enum cell_rest cell_rest(const struct bmc *b, bool none, int64_t after)
{
    if (!none)
        return after >= 2 * b->cell ? REST_SILENT : REST_MORE;
    return bmc_spacing(bmc_edge(b, b->stored - 1), b->reached) > b->far ||
                   (int64_t)bmc_spacing(b->base, b->reached) * FINE_PER_TICK - b->border >= bmc_cell_most(b->cell)
               ? REST_SILENT
               : REST_UNKNOWN;
}

/*
 * A first change between the middle and the end of a cell may be either, each as far from its place: with four ticks in a cell that is so
 * whenever the readings slip by a tick against the bits. What follows tells: from a border the next change is a middle or a border, from a
 * middle it is a border, and they all lie off their places by about the same amount. Of the two ways to read the changes that follow the one
 * is taken whose changes are scattered least, if it is clearly the better one.
 */
enum first_change { FIRST_MIDDLE, FIRST_END, FIRST_UNKNOWN, FIRST_WAITS };
enum { LOOK_PATHS = 2, OFF_MOST = 1536 }; /* cells are about 4096; no more than two places are so near to a change */

/* A way to read the changes so far: the last stands `place` half cells from the border. */
struct path { unsigned place; bool middle_first; int64_t sum, scatter; };
struct paths { struct path list[LOOK_PATHS]; unsigned count; };

/* It goes on with a change at this place, `off` away from it: the n-th, the border being the first. */
static void path_add(struct paths *to, const struct path *p, unsigned place, int64_t off, int64_t n)
{
    struct path next = { .place = place, .middle_first = p->place == 0 ? place == 1 : p->middle_first, .sum = p->sum + off };
    int64_t     from_mean = off * (n - 1) - p->sum;
    unsigned    k = 0;

    if (off >= OFF_MOST || off <= -OFF_MOST)
        return;
    next.scatter = p->scatter + square(from_mean) / ((n - 1) * n);
    while (k < to->count && to->list[k].place != place)
        k++;
    if (k == LOOK_PATHS || (k < to->count && to->list[k].scatter <= next.scatter))
        return;
    to->list[k] = next;
    to->count += k == to->count;
}

static struct paths paths_step(const struct bmc *b, const struct paths *from, int64_t at, int64_t n)
{
    struct paths to = { .count = 0 };

    for (unsigned k = 0; k < from->count; k++) {
        const struct path *p = &from->list[k];

        for (unsigned step = 1; step <= 2U - p->place % 2; step++)
            path_add(&to, p, p->place + step, bmc_shifted(at - (p->place + step) * (b->cell / 2), b->jitter_shift), n);
    }
    return to;
}

static enum first_change paths_judge(const struct paths *p, int64_t n)
{
    const struct path *best = &p->list[0], *other = &p->list[1];

    if (p->count == 0)
        return FIRST_UNKNOWN;
    if (p->count == LOOK_PATHS && other->scatter < best->scatter) {
        best = &p->list[1];
        other = &p->list[0];
    }
    if (best->scatter > n * square(AGAINST_PULSE) ||
        (p->count == LOOK_PATHS && other->middle_first != best->middle_first && other->scatter - best->scatter < square(AGAINST_PULSE) / 2))
        return FIRST_UNKNOWN;
    return best->middle_first ? FIRST_MIDDLE : FIRST_END;
}

static enum first_change first_change(const struct bmc *b, bool ended)
{
    struct paths paths = { .count = 1 };
    int64_t      n = 1;

    for (uint64_t k = b->next; k < b->next + LOOK_CHANGES; k++) {
        if (k >= b->stored && !ended)
            return FIRST_WAITS;
        if (k >= b->stored || bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far)
            break;
        int64_t spacing = bmc_fine(b, k) - bmc_fine(b, k - 1);

        if (spacing >= bmc_cell_most(b->cell) && k > b->next)
            break; /* silent: what there was before has to do */
        paths = paths_step(b, &paths, bmc_fine(b, k) - b->border, ++n);
        if (paths.count == 0 || spacing < b->cell / 16 * 3)
            return FIRST_UNKNOWN; /* pulses that are no part of a cell */
    }
    return paths_judge(&paths, n);
}

/* The cell of at[0..count), its first change being what it is. False: that cannot be. */
static bool cell_of_first(const int64_t *at, unsigned count, int64_t length, enum first_change first, struct bmc_cell *cell)
{
    if (first == FIRST_UNKNOWN || (first == FIRST_MIDDLE && (count < 2 || at[1] < length - length / 4)))
        return false;
    *cell = (struct bmc_cell){ .one = first == FIRST_MIDDLE, .sure = true, .used = first == FIRST_MIDDLE ? 2 : 1, .mid = at[0] };
    cell->end = at[cell->used - 1];
    return true;
}

static bool follow(struct bmc *b, bool ended)
{
    int64_t           at[CELL_CHANGES_MOST] = { 0 }, most = bmc_cell_most(b->cell), after = INT64_MAX;
    unsigned          count = 0;
    uint64_t          k = b->next;
    enum first_change first = FIRST_UNKNOWN;
    struct bmc_cell   cell;

    for (; k < b->stored && count < CELL_CHANGES_MOST; k++) {
        if (bmc_spacing(bmc_edge(b, k - 1), bmc_edge(b, k)) > b->far)
            break;
        after = bmc_fine(b, k) - b->border;
        if (after >= most)
            break;
        at[count++] = after;
        after = INT64_MAX;
    }
    if (k == b->stored && count < CELL_CHANGES_MOST && !ended)
        return false;
    if (count > 0 && bmc_first_doubtful(at[0], b->cell))
        first = first_change(b, ended);
    if (first == FIRST_WAITS)
        return false;
    if (cell_of_first(at, count, b->cell, first, &cell) || bmc_cell_read(at, count, b->cell, &cell)) {
        b->next += cell.used;
        bmc_cell_end(b, b->next - 1, &cell);
    } else {
        follow_fails(b, at, count, cell_rest(b, k == b->stored, after));
    }
    return true;
}

bool bmc_step(struct bmc *b, bool ended)
{
    if (b->state != BMC_SEARCH)
        return follow(b, ended);
    if (b->next == b->stored)
        return false;
    search(b);
    return true;
}
