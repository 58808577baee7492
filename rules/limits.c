/* Parameters and levels set otherwise. */
#include "rules/limits.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

enum { MILLI = 1000 };

/* A million of any unit: no sum of times on the way to a verdict leaves 64 bits. */
#define LIMIT_MOST (INT64_C(1000000) * MILLI)

/* What a check keeps in a list of fixed size. */
static const struct { const char *name; int64_t most; } listed[] = {
    { "caps_same_max", 15 * MILLI },
};

/* Beside the rules' own: what the port model and the engine go by, who sent a Hard Reset, and what a reading of VBUS is worth. */
static const char *const always_used[] = {
    "tReceive", "fBitRate", "host_time_ns", "answer_none_ms", "tSenderResponse", "tPSTransition@spr", "tPSTransition@epr",
    "tTypeCSinkWaitCap", "tPPSTimeout", "tSourceEPRKeepAlive", "vPpsShutdown", "path_drop_mv", "assumed_volt_share", "assumed_volt_mv",
};

int64_t limit_most(const struct parameter *q)
{
    for (size_t k = 0; k < sizeof listed / sizeof listed[0]; k++)
        if (strcmp(listed[k].name, q->name) == 0)
            return listed[k].most;
    return LIMIT_MOST;
}

static bool whole(int64_t thousandths)
{
    return thousandths == PARAMETER_NONE || thousandths % MILLI == 0;
}

bool limit_is_whole(const struct parameter *q)
{
    return q->unit[0] == '\0' && whole(q->min) && whole(q->max);
}

bool limit_is_single(const struct parameter *q)
{
    return q->min == q->max;
}

bool limit_is_either_way(const struct parameter *q)
{
    return q->min != PARAMETER_NONE && q->max > 0 && q->min == -q->max;
}

/* One side's new amount, where the side has `old` now. */
static enum limit_fault amount_fault(const struct parameter *q, int64_t old, int64_t amount)
{
    if (amount > limit_most(q) || amount < -limit_most(q))
        return LIMIT_GREAT;
    if ((old >= 0 && amount < 0) || (old < 0 && amount > 0))
        return LIMIT_SIGN;
    if (amount == 0 && strcmp(q->unit, "kbit/s") == 0)
        return LIMIT_ZERO;
    return limit_is_whole(q) && !whole(amount) ? LIMIT_WHOLE : LIMIT_SET;
}

/* A single number: the one value, the one side, or either way. */
static enum limit_fault value_fault(const struct parameter *q, struct limit *l)
{
    bool both = q->min != PARAMETER_NONE && q->max != PARAMETER_NONE;

    if (both && !limit_is_single(q) && !limit_is_either_way(q))
        return LIMIT_WINDOW;
    if (limit_is_either_way(q) && l->value < 0)
        return LIMIT_SIGN;
    l->has_min = q->min != PARAMETER_NONE;
    l->has_max = q->max != PARAMETER_NONE;
    l->min = limit_is_either_way(q) ? -l->value : l->value;
    l->max = l->value;
    return LIMIT_SET;
}

static enum limit_fault sides_fault(const struct parameter *q, const struct limit *l, const char **side)
{
    enum limit_fault fault = LIMIT_SET;

    if (l->has_min) {
        *side = "min";
        fault = q->min == PARAMETER_NONE ? LIMIT_NO_LEAST : amount_fault(q, q->min, l->min);
    }
    if (fault == LIMIT_SET && l->has_max) {
        *side = "max";
        fault = q->max == PARAMETER_NONE ? LIMIT_NO_MOST : amount_fault(q, q->max, l->max);
    }
    if (fault == LIMIT_SET || l->has_value)
        *side = NULL;
    return fault;
}

enum limit_fault limit_set(struct parameter *q, const struct limit *asked, const char **side)
{
    struct limit     l = *asked;
    enum limit_fault fault = LIMIT_SET;

    *side = NULL;
    if (!l.has_value && !l.has_min && !l.has_max)
        return LIMIT_NOTHING;
    if (l.has_value)
        fault = value_fault(q, &l);
    if (fault == LIMIT_SET)
        fault = sides_fault(q, &l, side);
    if (fault != LIMIT_SET)
        return fault;
    int64_t min = l.has_min ? l.min : q->min, max = l.has_max ? l.max : q->max;

    if (limit_is_single(q) && min != max)
        return LIMIT_SINGLE;
    if (min != PARAMETER_NONE && max != PARAMETER_NONE && min > max)
        return LIMIT_CROSSED;
    q->min = min;
    q->max = max;
    return LIMIT_SET;
}

struct parameter *limits_copy(void)
{
    size_t n = 0;

    while (parameters_all[n].name)
        n++;
    struct parameter *copy = malloc((n + 1) * sizeof *copy);

    if (copy)
        memcpy(copy, parameters_all, (n + 1) * sizeof *copy);
    return copy;
}

struct bench_limits limits_of_bench(const struct parameter *table)
{
    const struct parameter *receive = parameter_in(table, "tReceive"), *rate = parameter_in(table, "fBitRate");
    const struct parameter *stamp = parameter_in(table, "host_time_ns");

    /* A thousandth of a millisecond is 1000 ns, one of a kbit/s 1 bit/s. */
    return (struct bench_limits){
        .receive_least_ns = receive->min * 1000, .receive_most_ns = receive->max * 1000, .rate_least = rate->min,
        .rate_most = rate->max, .host_time_ns = stamp->max * 1000,
    };
}

bool limit_matters(const char *name)
{
    for (size_t k = 0; k < sizeof always_used / sizeof always_used[0]; k++)
        if (strcmp(always_used[k], name) == 0)
            return true;
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            for (const char *const *used = r->parameters; used && *used; used++)
                if (strcmp(*used, name) == 0)
                    return true;
    return false;
}

bool level_may_be(const struct rule *r, unsigned level)
{
    return level != LEVEL_CLAIM || r->level == LEVEL_CLAIM;
}
