/* `show -v` of CC_EDGES: what its changes of level hold by themselves, packet by packet. */
#include "cli/show.h"

#include "capture/base/leb128.h"
#include "decode/bmc.h"

#include <math.h>

enum { INDENT = 8, LABEL_WIDTH = 10, TICKS_AT_ONCE = 256 };
#define TICKS_MOST (INT64_C(1) << 52) /* as far as a decoder counts */

struct signal { struct out *out; double tick_ps; };

static const char *end_text(enum bmc_end end)
{
    switch (end) {
    case BMC_EOP:        return "";
    case BMC_NO_EOP:     return ", stops without EOP";
    case BMC_BAD_SYMBOL: return ", ends in a symbol that has no place there";
    case BMC_BAD_CELL:   return ", ends where no bit could be told";
    case BMC_TOO_LONG:   return ", goes on without EOP";
    }
    return "";
}

static void frame_detail(void *context, const struct bmc_frame *f)
{
    struct signal *s = context;
    struct out    *o = s->out;
    double         cell_ps = f->cell_ticks * s->tick_ps;

    out_spaces(o, INDENT);
    out_text_wide(o, "signal", LABEL_WIDTH);
    out_fixed(o, llround((double)f->start_tick * s->tick_ps / 1e6), 3, 3, 0);
    out_text(o, " ms  ");
    out_text(o, f->reset ? (f->which == RECORD_HARD_RESET ? "Hard Reset" : "Cable Reset") : ordered_set_name(f->which));
    out_text(o, ": ");
    out_u64(o, f->bits);
    out_text(o, " bits");
    if (cell_ps > 0) {
        out_text(o, " at ");
        out_fixed(o, llround(1e12 / cell_ps), 3, 1, 0);
        out_text(o, " kbit/s");
    }
    out_text(o, ", preamble ");
    out_u64(o, f->preamble_bits);
    if (f->drift_runs) {
        out_text(o, ", drift ");
        out_fixed(o, llround(f->drift_ppm_least), 4, 2, 0);
        out_text(o, " to ");
        out_fixed(o, llround(f->drift_ppm_most), 4, 2, 0);
        out_text(o, " %");
    }
    out_text(o, ", jitter ");
    out_u64(o, (uint64_t)llround(f->jitter_ticks * s->tick_ps / 1000));
    out_text(o, " ns");
    out_text(o, end_text(f->end));
    out_line(o);
}

static int64_t take_changes(struct bmc *b, const struct record *r)
{
    struct cursor c = cursor_over(r->edges.leb, r->edges.length);
    int64_t       ticks[TICKS_AT_ONCE], tick = 0, last = -1;
    size_t        count = 0;
    bool          level = r->edges.level == 1;
    uint64_t      step;

    while (c.left > 0 && leb128_read(&c, &step) && step < (uint64_t)(TICKS_MOST - tick)) {
        tick += (int64_t)step;
        last = ticks[count++] = tick > last ? tick : last + 1;
        if (count < TICKS_AT_ONCE)
            continue;
        bmc_take(b, ticks, count, level);
        count = 0; /* an even number: the level is the same again */
    }
    bmc_take(b, ticks, count, level);
    return last;
}

void show_edges_detail(struct out *o, const struct record *r)
{
    struct signal s = { .out = o, .tick_ps = r->edges.tick_ps };
    struct bmc   *b = bmc_new(&(struct bmc_options){ .tick_ps = r->edges.tick_ps }, frame_detail, &s);

    if (!b)
        return; /* what it says beside the record is no more than a help */
    int64_t last = take_changes(b, r), end = (int64_t)((double)r->duration_ns * 1000 / r->edges.tick_ps);

    if (end > last)
        bmc_reached(b, end);
    bmc_finish(b);
    bmc_free(b);
}
