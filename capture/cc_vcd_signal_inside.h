/*
 * capture/cc_vcd_signal_inside.h - times and changes of the signals that were chosen from a value change dump. Within capture only.
 *
 * False, of all of these: what is known so far is to be given out first (v->giving); then the same once more.
 */
#pragma once
#include "capture/cc_vcd_inside.h"

/* A value, of a signal that is not steady or that it makes unknown. */
bool vcd_signal_change(struct cc_file *v, struct vcd_signal *s, enum vcd_level level);
bool vcd_signal_unknown(struct cc_file *v, struct vcd_signal *s);
/* A #time, the first, or one that is not later than the last, or after one in doubt. */
bool vcd_time_take(struct cc_file *v, int64_t time);
/* A line with a value could not be read: any signal may have changed. */
void vcd_doubt(struct cc_file *v);
/* A time could not be read. */
void vcd_unsure(struct cc_file *v);

/* The end of the file: signals that were unknown all through. */
void vcd_signals_end(struct cc_file *v);

/* A value other than unknown, of any signal. */
static inline bool vcd_change_take(struct cc_file *v, struct vcd_signal *s, enum vcd_level level)
{
    if (!s->steady)
        return vcd_signal_change(v, s, level);
    if (level == s->level)
        return true;
    if (s->count > 0 && s->at[s->count - 1] == v->time) { /* there and back in no time */
        s->count--;
    } else if (s->began == v->time) { /* what it is from the beginning */
        s->first = level == VCD_HIGH;
    } else {
        if (s->count == VCD_CHANGES_MAX) {
            vcd_give_early(v);
            return false;
        }
        s->at[s->count++] = v->time;
    }
    s->level = level;
    return true;
}
