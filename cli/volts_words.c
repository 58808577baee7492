/* What VBUS did, in sentences. */
#include "cli/volts_words.h"
#include "cli/offers_text.h"
#include "cli/time_text.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

/* Amounts. */

static int64_t rounded(int64_t value, int64_t part)
{
    return (value + (value < 0 ? -part / 2 : part / 2)) / part;
}

void volts_volt(struct phrase *p, int64_t uv)
{
    phrase_short(p, rounded(uv, 1000), 3);
    phrase_add(p, " V");
}

void volts_range(struct phrase *p, int64_t low_uv, int64_t high_uv)
{
    if (rounded(low_uv, 1000) != rounded(high_uv, 1000)) {
        phrase_short(p, rounded(low_uv, 1000), 3);
        phrase_add(p, " to ");
    }
    volts_volt(p, high_uv);
}

void volts_millivolt(struct phrase *p, int64_t uv)
{
    phrase_short(p, rounded(uv, 100), 1);
    phrase_add(p, " mV");
}

static void amps_phrase(struct phrase *p, int32_t ua)
{
    phrase_short(p, rounded(ua, 1000), 3);
    phrase_add(p, " A");
}

static void at_load(struct phrase *p, const struct volt_value *v)
{
    volts_volt(p, v->uv);
    if (v->ua == RECORD_NO_READING)
        return;
    phrase_add(p, " at ");
    amps_phrase(p, v->ua);
}

/* "31 to 32.4 ms" */
void volts_time(struct phrase *p, const struct volt_time *t)
{
    int64_t longest_ns = t->most_ns == INT64_MAX ? llabs(t->least_ns) : t->most_ns > llabs(t->least_ns) ? t->most_ns : llabs(t->least_ns);
    bool     wide = t->most_ns != INT64_MAX && t->most_ns - t->least_ns >= 100000;
    int64_t  part = longest_ns < 1000000 ? 100 : longest_ns < INT64_C(1000000000) ? (wide ? 10000 : 1000) : 1000000;
    unsigned scale = part == 100 ? 1 : part == 10000 ? 2 : 3;

    if (t->most_ns == INT64_MAX)
        phrase_add(p, "at least ");
    if (t->most_ns == INT64_MAX || rounded(t->least_ns, part) != rounded(t->most_ns, part))
        phrase_short(p, rounded(t->least_ns, part), scale);
    if (t->most_ns != INT64_MAX) {
        if (rounded(t->least_ns, part) != rounded(t->most_ns, part))
            phrase_add(p, " to ");
        phrase_short(p, rounded(t->most_ns, part), scale);
    }
    phrase_add(p, part == 100 ? " us" : part < 1000000 ? " ms" : " s");
}

void volts_static_words(struct phrase *p, const struct volt_line *l)
{
    if (l->statics == 0 && l->left_out == 0) {
        phrase_add(p, l->readings ? "no value: too few readings" : "no reading of VBUS");
        return;
    }
    if (l->statics) {
        if (l->median_known) {
            phrase_add(p, "median ");
            volts_volt(p, l->median_uv);
            phrase_add(p, ", ");
        }
        phrase_add(p, "lowest ");
        volts_volt(p, l->least.uv);
        phrase_add(p, ", highest ");
        volts_volt(p, l->most.uv);
        phrase_add(p, " (");
        phrase_count(p, l->statics, "static value", "static values");
        phrase_add(p, l->thinnest == 1 ? ", some of one reading alone)" : ")");
    }
    if (l->left_out) {
        phrase_add(p, p->used ? "; " : "");
        phrase_count(p, l->left_out, "value", "values");
        phrase_add(p, l->contract.supply == SUPPLY_PPS ? " with the current at its limit left out" : " with more load than agreed left out");
    }
}

void volts_margin_words(struct phrase *p, const struct volt_line *l)
{
    bool outside = l->margin.uv < 0;

    if (!l->margin.known) {
        if (!l->window.known)
            phrase_add(p, "the window is not known: what the object offers was not recorded");
        return;
    }
    phrase_short(p, rounded(llabs(l->margin.uv), 100), 1);
    phrase_add(p, " +- ");
    volts_millivolt(p, l->margin.u_uv);
    phrase_format(p, " %s the %s end of ", outside ? "beyond" : "inside", l->margin.low ? "lower" : "upper");
    volts_range(p, l->window.low_uv, l->window.high_uv);
    phrase_add(p, llabs(l->margin.uv) < l->margin.u_uv ? ", so near that the uncertainty leaves it open: " : ": ");
    at_load(p, &l->margin.value);
    phrase_format(p, ", frame %" PRIu64, l->margin.value.frame);
    if (l->high_only)
        phrase_add(p, "; the lower end is not counted, as the current limit may be at work");
}

static void outside_phrase(struct phrase *p, const struct volt_time *t, uint64_t times, int64_t spacing_ns)
{
    if (t->most_ns == 0) {
        phrase_add(p, "; never outside the window");
        if (spacing_ns > 0) {
            phrase_add(p, " for longer than ");
            spacing_text(p, spacing_ns);
        }
        return;
    }
    phrase_add(p, "; outside the window for ");
    volts_time(p, t);
    if (times > 1)
        phrase_format(p, " in all, %" PRIu64 " times", times);
    if (times == 0)
        phrase_add(p, ": near its end, within the uncertainty");
}

void volts_readings_words(struct phrase *p, const struct volt_line *l)
{
    if (l->readings == 0)
        return;
    volts_range(p, l->lowest.uv, l->highest.uv);
    phrase_add(p, " (");
    phrase_count(p, l->readings, "reading", "readings");
    if (l->spacing_ns > 0) {
        phrase_add(p, ", ");
        spacing_text(p, l->spacing_ns);
        phrase_add(p, " apart or less");
    }
    phrase_add(p, ")");
    if (l->window.known)
        outside_phrase(p, &l->outside, l->outside_count, l->spacing_ns);
    if (l->doubt != CAUSE_NONE)
        phrase_add(p, "; records are missing in between");
}

void volts_change_words(struct phrase *p, const struct volt_change *v)
{
    if (!v->seen) {
        phrase_add(p, "not seen: its Accept is not in this part of the trace");
        return;
    }
    if (v->readings == 0)
        phrase_add(p, "no reading of VBUS while it changed");
    else if (!v->level)
        phrase_add(p, v->limits_known ? "to no other level" : "not told: the window before or after is not known");
    else if (!v->moved)
        phrase_add(p, "VBUS was not seen to begin to move");
    if (v->level && v->timed && v->moved) {
        phrase_add(p, "VBUS begins to move ");
        volts_time(p, &v->move);
    }
    if (v->level && v->timed && v->reached) {
        phrase_add(p, v->moved ? ", is in the new window " : "; it is in the new window ");
        phrase_add(p, v->late ? "" : "for good ");
        volts_time(p, &v->reach);
        phrase_add(p, v->late ? " (later than 50 ms after PS_RDY)" : "");
    } else if (v->level && v->readings) {
        phrase_add(p, v->inside ? "; it was in the new window from the start"
                                : "; it did not come into the new window to stay, up to 50 ms after PS_RDY");
    }
    if (v->timed && v->ready_frame) {
        phrase_add(p, p->used ? "; PS_RDY " : "PS_RDY ");
        volts_time(p, &v->ready);
    }
    if (v->timed && (v->ready_frame || v->moved || v->reached))
        phrase_add(p, " after the Accept was acknowledged");
}

static void beyond_phrase(struct phrase *p, const char *what, bool slow, int64_t uv, int64_t limit_uv, const struct volt_time *t)
{
    if (uv == 0) {
        phrase_format(p, "no %s beyond ", what);
        volts_volt(p, limit_uv);
        return;
    }
    phrase_format(p, "%s %s", what, slow ? "at least " : "");
    volts_millivolt(p, uv);
    phrase_add(p, " beyond ");
    volts_volt(p, limit_uv);
    phrase_add(p, ", for ");
    volts_time(p, t);
}

void volts_peaks_words(struct phrase *p, const struct volt_change *v)
{
    if (!v->seen || v->readings == 0 || v->highest.frame == 0)
        return;
    phrase_add(p, "while it changed ");
    volts_range(p, v->lowest.uv, v->highest.uv);
    if (!v->limits_known)
        return;
    phrase_add(p, "; ");
    beyond_phrase(p, "overshoot", v->slow, v->over_uv, v->high_uv, &v->over);
    phrase_add(p, ", ");
    beyond_phrase(p, "undershoot", v->slow, v->under_uv, v->low_uv, &v->under);
    if (v->slow && v->spacing_ns > 0) {
        phrase_add(p, "; readings ");
        spacing_text(p, v->spacing_ns);
        phrase_add(p, " apart may miss shorter or higher ones");
    }
}

void volts_slope_words(struct phrase *p, const struct volt_slope *s)
{
    switch (s->state) {
    case SLOPE_KNOWN:
        phrase_add(p, llround(s->mohm * 100) < 0 ? "rises by " : "falls by ");
        phrase_short(p, llround(fabs(s->mohm) * 100), 2);
        phrase_add(p, " +- ");
        phrase_short(p, llround(ceil(s->u_mohm * 100)), 2);
        phrase_add(p, " mohm: ");
        break;
    case SLOPE_NO_CURRENT:
        phrase_add(p, "not told: no current was recorded");
        return;
    case SLOPE_FEW:
        phrase_add(p, "not told: fewer than 3 static values with a current");
        return;
    case SLOPE_NARROW:
        phrase_add(p, "not told, as the loads differ too little: ");
        break;
    case SLOPE_PATH:
        phrase_add(p, "not told: VBUS was measured at the sink, and the path's resistance is not known");
        return;
    }
    at_load(p, &s->lightest);
    if (rounded(s->lightest.ua, 1000) != rounded(s->heaviest.ua, 1000)) {
        phrase_add(p, ", ");
        at_load(p, &s->heaviest);
    }
}

/* Load steps. */

/* "dip of 250 mV beyond both, to 8.7 V" */
static void depth_phrase(struct phrase *p, const struct volt_step *s)
{
    const char *what = s->up ? "dip" : "rise";

    if (s->depth_uv > s->noise_uv) {
        phrase_format(p, "; %s of ", what);
        volts_millivolt(p, s->depth_uv);
        phrase_add(p, s->settled ? " beyond both, to " : ", to ");
        volts_volt(p, s->extreme.uv);
        return;
    }
    phrase_format(p, "; no %s", what);
    if (s->noise_uv > 0) {
        phrase_add(p, " of more than the noise (");
        volts_millivolt(p, s->noise_uv);
        phrase_add(p, s->spacing_ns > 0 ? ") and" : ")");
    }
    if (s->spacing_ns > 0) {
        phrase_add(p, " longer than ");
        spacing_text(p, s->spacing_ns);
    }
}

static void recovery_phrase(struct phrase *p, const struct volt_step *s)
{
    if (!s->settled)
        return;
    if (!s->recovered) {
        phrase_add(p, "; not within 1 % of it to stay, in ");
        span_text(p, s->watched_ns);
    } else if (s->in_band) {
        phrase_add(p, "; always within 1 % of it");
    } else {
        phrase_add(p, "; within 1 % of it after ");
        volts_time(p, &s->recovery);
    }
}

void volts_step_words(struct phrase *p, const struct volt_step *s, int64_t zero_ns)
{
    phrase_short(p, rounded(s->from_ua, 1000), 3);
    phrase_add(p, " to ");
    amps_phrase(p, s->to_ua);
    phrase_add(p, " at ");
    time_text(p, s->to_ns - zero_ns);
    phrase_format(p, ", frame %" PRIu64 ": ", s->frame);
    volts_volt(p, s->before_uv);
    phrase_add(p, " before");
    if (s->settled) {
        phrase_add(p, ", ");
        volts_volt(p, s->final_uv);
        phrase_add(p, " after");
    } else {
        phrase_add(p, "; what it settled at was not seen");
    }
    depth_phrase(p, s);
    if (s->outside.most_ns) {
        phrase_add(p, ", outside the window for ");
        volts_time(p, &s->outside);
    }
    if (s->beyond.most_ns) {
        phrase_add(p, ", beyond vSrcValid for ");
        volts_time(p, &s->beyond);
    }
    if (s->limiting)
        phrase_add(p, "; the current is at its limit, where VBUS gives way");
    else
        recovery_phrase(p, s);
}
