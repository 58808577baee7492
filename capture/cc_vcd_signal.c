/* What becomes of a chosen signal when something about it is out of the ordinary: unknown levels, times in doubt, lines that were lost. */
#include "capture/cc_vcd_signal_inside.h"

static void give(struct cc_file *v, int64_t until, bool doubtful)
{
    v->giving = true;
    v->give_doubtful = doubtful;
    v->give_until = until;
    v->give_line = 0;
}

void vcd_give_all(struct cc_file *v)
{
    give(v, v->time, true);
}

void vcd_give_early(struct cc_file *v)
{
    give(v, v->before, false);
}

size_t vcd_changes_before(const struct vcd_signal *s, int64_t time)
{
    size_t n = s->count;

    while (n > 0 && s->at[n - 1] >= time)
        n--;
    return n;
}

/* True: the stretch has been given out up to now. False: it is to be given out first. */
static bool given_out(struct cc_file *v, const struct vcd_signal *s)
{
    if (!s->known || s->from >= v->time)
        return true;
    vcd_give_all(v);
    return false;
}

static void steady_settle(const struct cc_file *v, struct vcd_signal *s)
{
    s->steady = s->known && s->doubts == 0 && v->has_time && !v->unsure;
}

static void stretch_begin(const struct cc_file *v, struct vcd_signal *s, enum vcd_level level)
{
    s->known = true;
    s->pending = false;
    s->broken = s->ever;
    s->first = level == VCD_HIGH;
    s->level = level;
    s->doubts = 0;
    s->from = s->began = v->time;
    s->count = 0;
    steady_settle(v, s);
}

static void stretch_end(struct vcd_signal *s)
{
    s->known = s->pending = s->steady = false;
    s->count = 0;
}

static void unknown_tell(struct cc_file *v, const struct vcd_signal *s)
{
    struct cc_notice n = { .news = CC_UNKNOWN_LEVEL, .number = s->unknown_line };

    while (v->signal_of_line[n.line] != s - v->signal)
        n.line++;
    if (v->options.notice)
        v->options.notice(v->options.context, &n);
}

bool vcd_signal_unknown(struct cc_file *v, struct vcd_signal *s)
{
    bool told = s->ever || s->known;

    if (!given_out(v, s))
        return false;
    if (s->known || s->pending || s->unknown_line == 0)
        v->facts.unknown_levels++;
    if (s->unknown_line == 0 || (told && !s->told_unknown))
        s->unknown_line = v->number;
    stretch_end(s);
    s->level = VCD_UNKNOWN;
    if (told && !s->told_unknown) { /* before it was known at all it is nothing to speak of */
        s->told_unknown = true;
        unknown_tell(v, s);
    }
    return true;
}

void vcd_signals_end(struct cc_file *v)
{
    for (unsigned k = 0; k < v->signals; k++) {
        const struct vcd_signal *s = &v->signal[k];

        if (!s->ever && !s->known && s->unknown_line > 0)
            unknown_tell(v, s);
    }
}

/* When it changes is not known: before the first time, or after one that was passed over. */
static bool change_sometime(struct cc_file *v, struct vcd_signal *s, enum vcd_level level)
{
    if (s->known && s->level == level)
        return true;
    if (!given_out(v, s))
        return false;
    stretch_end(s);
    s->pending = true;
    s->level = level;
    return true;
}

bool vcd_signal_change(struct cc_file *v, struct vcd_signal *s, enum vcd_level level)
{
    if (level == VCD_UNKNOWN)
        return vcd_signal_unknown(v, s);
    if (!v->has_time || v->unsure)
        return change_sometime(v, s, level);
    if (s->known && s->doubts == 1 && s->level != level) { /* it goes on as if nothing had been between */
        s->doubts = 0;
        steady_settle(v, s);
    }
    if (s->steady)
        return vcd_change_take(v, s, level);
    stretch_begin(v, s, level); /* in doubt: what was known has been given out up to the line that was lost */
    return true;
}

void vcd_doubt(struct cc_file *v)
{
    for (unsigned k = 0; k < v->signals; k++) {
        struct vcd_signal *s = &v->signal[k];

        s->doubts += s->known && s->doubts < 2;
        steady_settle(v, s);
    }
    if (v->has_time)
        vcd_give_all(v);
}

static void time_settle(struct cc_file *v)
{
    v->unsure = false;
    for (unsigned k = 0; k < v->signals; k++) {
        struct vcd_signal *s = &v->signal[k];

        if (s->pending)
            stretch_begin(v, s, s->level);
        else
            steady_settle(v, s);
    }
}

void vcd_unsure(struct cc_file *v)
{
    v->unsure = true;
    for (unsigned k = 0; k < v->signals; k++)
        v->signal[k].steady = false;
}

static bool given_out_before(struct cc_file *v)
{
    for (unsigned k = 0; k < v->signals; k++)
        if (v->signal[k].known && v->signal[k].doubts == 0 && v->signal[k].from < v->before) {
            vcd_give_early(v);
            return false;
        }
    return true;
}

static void notice_time(struct cc_file *v, uint64_t number)
{
    struct cc_notice n = { .news = CC_TIME_BACK, .number = number };

    v->facts.unreadable++;
    if (v->options.notice)
        v->options.notice(v->options.context, &n);
}

/* The last time was far ahead, since what comes after it goes on from the one before it: what changed then, changed sometime between. */
static bool time_undo(struct cc_file *v, int64_t time)
{
    if (!given_out_before(v))
        return false;
    for (unsigned k = 0; k < v->signals; k++) {
        struct vcd_signal *s = &v->signal[k];
        bool changed = s->count > 0 && s->at[s->count - 1] == v->time;

        if (!s->known || (!changed && s->from < v->time))
            continue;
        s->broken = s->ever;
        s->from = s->began = time;
        s->first = s->level == VCD_HIGH;
        s->count = 0;
    }
    notice_time(v, v->time_number);
    v->time = time;
    v->time_number = v->number;
    return true;
}

bool vcd_time_take(struct cc_file *v, int64_t time)
{
    if (!v->has_time) {
        v->has_time = true;
        v->time = v->before = v->settled = time;
    } else if (time < v->time) {
        if (!v->unsure && time >= v->before && v->time > v->settled)
            return time_undo(v, time);
        notice_time(v, v->number);
        vcd_unsure(v);
        return true;
    } else if (time > v->time) {
        v->before = v->time;
        v->time = time;
    }
    v->time_number = v->number;
    time_settle(v);
    return true;
}
