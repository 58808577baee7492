/* Which frames stand around a finding. */
#include "cli/explain.h"

#include "cli/fault_text.h"

/* What is held back until it is known whether it is wanted. */
struct waiting {
    uint64_t frames[EXPLAIN_NEAR];
    uint64_t seen;
};

static void rests_add(struct explain *x, uint64_t frame)
{
    if (frame == 0)
        return;
    for (unsigned k = 0; k < x->rest_count; k++)
        if (x->rests[k] == frame)
            return;
    x->rests[x->rest_count++] = frame;
}

static bool rests_on(const struct explain *x, uint64_t frame)
{
    for (unsigned k = 0; k < x->rest_count; k++)
        if (x->rests[k] == frame)
            return true;
    return false;
}

static bool needs_readings(const struct rule *r)
{
    return (r->occasion_evidence | r->decision_evidence) & (EVIDENCE_VBUS | EVIDENCE_IBUS);
}

/* Does it belong to what happened at the finding's port? Readings only where the rule looks at them. */
static bool concerns(const struct explain *x, const struct record *r)
{
    if (r->soundness != RECORD_SOUND)
        return r->soundness == RECORD_UNREADABLE || r->port == x->finding->port;
    if (r->port != x->finding->port && r->port != RECORD_PORT_BENCH)
        return false;
    switch (show_kind_of(r)) {
    case SHOW_POWER:
        return needs_readings(x->finding->rule);
    case SHOW_TEMPERATURE:
    case SHOW_ABOUT:
    case SHOW_EDGES:
        return false;
    case SHOW_PACKET:
    case SHOW_RESET:
    case SHOW_CC:
    case SHOW_MARK:
    case SHOW_LOST:
    case SHOW_UNKNOWN:
    case SHOW_DAMAGED:
    case SHOW_UNREADABLE:
    case SHOW_KINDS:
        return true;
    }
    return true;
}

static void row_add(struct explain *x, uint64_t frame, uint64_t left_out, bool rests)
{
    if (x->row_count < EXPLAIN_ROWS)
        x->rows[x->row_count++] = (struct explain_row){ .frame = frame, .left_out = left_out, .rests = rests };
}

/* The last few of those that waited; what stands before the first of all is not said to be left out. */
static void waiting_take(struct explain *x, struct waiting *w, bool first)
{
    uint64_t most = first ? EXPLAIN_BEFORE : EXPLAIN_NEAR;
    uint64_t taken = w->seen < most ? w->seen : most;

    for (uint64_t k = w->seen - taken; k < w->seen; k++)
        row_add(x, w->frames[k % EXPLAIN_NEAR], !first && k == w->seen - taken ? w->seen - taken : 0, false);
    w->seen = 0;
}

static void choose(struct explain *x, struct trace_loop *l)
{
    struct waiting       w = { .seen = 0 };
    unsigned             found = 0, after = 0;
    const struct record *r;

    while (trace_loop_next(l, &r)) {
        if (rests_on(x, r->frame)) {
            waiting_take(x, &w, found == 0);
            row_add(x, r->frame, 0, true);
            after = ++found == x->rest_count ? EXPLAIN_AFTER : EXPLAIN_NEAR;
        } else if (!concerns(x, r)) {
            continue;
        } else if (after > 0) {
            row_add(x, r->frame, 0, false);
            after--;
        } else if (found == x->rest_count) {
            break;
        } else {
            w.frames[w.seen++ % EXPLAIN_NEAR] = r->frame;
        }
    }
}

bool explain_choose(struct explain *x)
{
    const struct finding *f = x->finding;
    struct trace_loop     l;

    rests_add(x, f->frame);
    for (unsigned k = 0; k < f->evidence_count && k < FINDING_EVIDENCE; k++)
        rests_add(x, f->evidence[k]);
    if (f->has_span) {
        rests_add(x, f->span.from.frame);
        rests_add(x, f->span.to.frame);
    }
    if (!trace_loop_open(&l, x->check->path, x->check->options, TRACE_LOOP_AGAIN))
        return false;
    choose(x, &l);
    if (!trace_loop_close(&l))
        return false;
    for (unsigned k = 0; k < x->row_count; k++)
        if (x->rows[k].rests)
            return true;
    complain("%s: the frames of finding %llu are not there any more; was the file changed?", subject_of(x->check->path),
             (unsigned long long)x->number);
    return false;
}
