/* The signal itself, packet by packet, as the edges of the CC line show it. */
#include "rules/edge_checks.h"

#include "decode/line_code.h"

#include <math.h>

enum { DRIFT_BITS = 32, PPM_A_THOUSANDTH = 10 /* of a per cent */, THOUSAND = 1000, BITS_OF_NOISE = 2, TICKS_OF_SURE_BITS = 6 };

static struct outcome outcome_of(struct judge *j, const struct edge_frame *it)
{
    struct outcome o = judge_outcome_at(j, it->frame ? it->frame : it->edges_frame, it->start_ns);

    outcome_by(&o, it->side, it->player);
    outcome_evidence(&o, it->frame);
    outcome_evidence(&o, it->edges_frame);
    o.values[1] = it->f.which;
    return o;
}

/* What is wrong is somebody's; where nobody knows whose, nobody is accused. */
static void say_wrong(struct judge *j, const struct edge_frame *it, const struct outcome *o)
{
    if (it->f.reset)
        judge_undecided(j, o, CAUSE_ORIGIN);
    else if (it->side == SIDE_UNKNOWN)
        judge_undecided(j, o, it->f.crc_good ? CAUSE_ROLES : CAUSE_BAD_PACKET);
    else
        judge_fail(j, o);
}

/*
 * How far the changes of a packet are scattered about its clock, in ticks, beyond what a tick leaves open (tick / sqrt 12). Less than a
 * hundredth of a cell is passed over as 0: it moves the mean of 32 cells by a twentieth of the limit on drift.
 */
static double scatter_ticks(const struct bmc_frame *f)
{
    double beyond = f->jitter_ticks * f->jitter_ticks - 1.0 / 12;

    return f->cell_ticks > 0 && beyond > 1e-4 * f->cell_ticks * f->cell_ticks ? sqrt(beyond) : 0;
}

/*
 * What is between two changes 32 bits apart is off by two ticks at the most, and by the scatter of both: four standard deviations of it,
 * for the worst of some twenty runs in each of thousands of packets is what is looked at.
 */
static double run_off_ppm(const struct bmc_frame *f)
{
    return (2 + 4 * sqrt(2) * scatter_ticks(f)) / (DRIFT_BITS * f->preamble_cell_ticks) * 1e6;
}

/* wire.bit-drift */
static int64_t thousandths(double ppm)
{
    return llround(ppm / PPM_A_THOUSANDTH);
}

void wire_check_bit_drift(struct judge *j, const struct event *e)
{
    const struct edge_frame *it = e->port->edge_frame;
    const struct bmc_frame  *f = &it->f;
    const struct parameter  *limit = judge_parameter(j, 0);

    if (f->reset || f->drift_runs == 0 || f->preamble_bits < DRIFT_BITS || f->preamble_cell_ticks <= 0)
        return;
    double most = (double)limit->max * PPM_A_THOUSANDTH, least = (double)limit->min * PPM_A_THOUSANDTH;
    double off = run_off_ppm(f);
    bool   coarse = 2e6 / (DRIFT_BITS * f->preamble_cell_ticks) > most; /* two ticks alone */

    if (!coarse && f->drift_ppm_most + off <= most && f->drift_ppm_least - off >= least) {
        judge_pass(j);
        return;
    }
    struct outcome o = outcome_of(j, it);
    bool           slower = f->drift_ppm_least - least < most - f->drift_ppm_most;

    o.has_measured = o.has_low = o.has_high = o.has_uncertainty = true;
    o.measured = thousandths(slower ? f->drift_ppm_least : f->drift_ppm_most);
    o.uncertainty = thousandths(off);
    o.low = limit->min;
    o.high = limit->max;
    o.unit = "%";
    o.parameter = limit;
    if (coarse)
        judge_undecided(j, &o, CAUSE_TICK);
    else if (f->drift_ppm_most - off > most || f->drift_ppm_least + off < least)
        say_wrong(j, it, &o);
    else
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
}

/* wire.preamble */
void wire_check_preamble(struct judge *j, const struct event *e)
{
    const struct edge_frame *it = e->port->edge_frame;
    const struct bmc_frame  *f = &it->f;
    bool                     long_enough = f->preamble_bits >= LINE_PREAMBLE_BITS;
    bool                     noisy = scatter_ticks(f) > 0 && f->preamble_bits + BITS_OF_NOISE >= LINE_PREAMBLE_BITS &&
                 f->preamble_bits <= LINE_PREAMBLE_BITS + BITS_OF_NOISE;

    if (f->reset)
        return;
    if (f->preamble_bits == LINE_PREAMBLE_BITS && f->preamble_begins_0) {
        judge_pass(j);
        return;
    }
    struct outcome o = outcome_of(j, it);

    o.sentence = f->preamble_bits == LINE_PREAMBLE_BITS ? SAYS_PREAMBLE_BEGINS_1 : SAYS_PREAMBLE_BITS;
    o.values[0] = f->preamble_bits;
    o.values[2] = LINE_PREAMBLE_BITS;
    if (o.sentence == SAYS_PREAMBLE_BITS) {
        o.has_measured = o.has_low = o.has_high = true;
        o.measured = (int64_t)f->preamble_bits * THOUSAND;
        o.low = o.high = LINE_PREAMBLE_BITS * THOUSAND;
        o.unit = "";
    }
    /* What came before the record began is not known; on a noisy line a bit or two may be noise, or spoilt by it. */
    if (noisy)
        judge_undecided(j, &o, CAUSE_NOISE);
    else if (!f->preamble_whole && (!long_enough || o.sentence == SAYS_PREAMBLE_BEGINS_1))
        judge_undecided(j, &o, CAUSE_EDGES);
    else
        say_wrong(j, it, &o);
}

/* wire.ordered-set: which of the four is not the one of the set, from 1 on. */
static unsigned wrong_code(const struct bmc_frame *f)
{
    const struct line_set *set = NULL;

    for (unsigned k = 0; k < LINE_SETS; k++)
        if (line_sets[k].reset == f->reset && line_sets[k].number == f->which)
            set = &line_sets[k];
    for (unsigned k = 0; set && k < LINE_SET_SYMBOLS; k++)
        if (f->symbols[k] != set->codes[k])
            return k + 1;
    return 1;
}

void wire_check_ordered_set(struct judge *j, const struct event *e)
{
    const struct edge_frame *it = e->port->edge_frame;
    const struct bmc_frame  *f = &it->f;

    if (f->kcodes_right == LINE_SET_SYMBOLS) {
        judge_pass(j);
        return;
    }
    struct outcome o = outcome_of(j, it);

    o.sentence = !f->reset ? SAYS_SET_PACKET : f->which == RECORD_HARD_RESET ? SAYS_SET_HARD : SAYS_SET_CABLE;
    o.values[0] = wrong_code(f);
    o.values[2] = f->symbols[o.values[0] - 1];
    if (f->kcode_unsure)
        judge_undecided(j, &o, CAUSE_CELL);
    else
        say_wrong(j, it, &o);
}

/* wire.end-of-packet: what it ends with instead of EOP, and why even that may not be sure. */
static enum cause end_told(const struct edge_frame *it, uint8_t *says)
{
    switch (it->f.end) {
    case BMC_EOP:
    case BMC_BAD_SYMBOL:
        *says = it->f.reserved_symbol ? SAYS_END_RESERVED : SAYS_END_KCODE;
        return CAUSE_NONE;
    case BMC_NO_EOP:
        *says = SAYS_END_SILENT;
        return it->hole ? CAUSE_EDGES : CAUSE_NONE;
    case BMC_BAD_CELL:
        *says = SAYS_END_CELL;
        return CAUSE_CELL;
    case BMC_TOO_LONG:
        *says = SAYS_END_ENDLESS;
        return CAUSE_NONE;
    }
    return CAUSE_NONE;
}

void wire_check_end_of_packet(struct judge *j, const struct event *e)
{
    const struct edge_frame *it = e->port->edge_frame;
    const struct bmc_frame  *f = &it->f;

    if (f->reset || f->kcodes_right < LINE_SET_SYMBOLS)
        return;
    if (f->end == BMC_EOP && !f->reserved_symbol) {
        judge_pass(j);
        return;
    }
    struct outcome o = outcome_of(j, it);
    enum cause     cause = end_told(it, &o.sentence);

    /* An instrument that had it whole heard other bits than these. */
    if (cause == CAUSE_NONE && it->received && !f->crc_good)
        cause = CAUSE_CAPTURE;
    /* Half a cell has two or three ticks then: where one falls decides between bits. */
    if (cause == CAUSE_NONE && !f->crc_good && f->cell_ticks < TICKS_OF_SURE_BITS)
        cause = CAUSE_TICK;
    o.values[0] = (int64_t)f->length;
    if (cause != CAUSE_NONE)
        judge_undecided(j, &o, cause);
    else
        say_wrong(j, it, &o);
}
