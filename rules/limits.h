/*
 * rules/limits.h - numbers set otherwise than the standard, or common practice, has them: what may be changed in a parameter and
 * what not.
 *
 * A limit may only be moved: a parameter keeps the sides that it has, its sign, and whole numbers where it counts something. So a
 * check never meets a shape of window that it was not written for.
 */
#pragma once
#include "rules/parameter.h"
#include "rules/rule.h"

/* What is asked for, in thousandths of the parameter's unit. */
struct limit {
    bool    has_value, has_min, has_max;
    int64_t value, min, max;
};

enum limit_fault {
    LIMIT_SET,
    LIMIT_NOTHING,   /* neither a value nor a side */
    LIMIT_WINDOW,    /* one value, but the parameter has two sides */
    LIMIT_NO_LEAST,  /* it has no least value */
    LIMIT_NO_MOST,   /* it has no greatest */
    LIMIT_SINGLE,    /* two different sides, but it is one value */
    LIMIT_CROSSED,   /* the least is above the greatest */
    LIMIT_SIGN,      /* below 0, where it is not; or above 0, where it is below */
    LIMIT_ZERO,      /* a rate of 0 */
    LIMIT_WHOLE,     /* it is counted in whole numbers */
    LIMIT_GREAT,     /* greater than limit_most */
};

/* The greatest amount that the parameter may be given, thousandths. */
int64_t limit_most(const struct parameter *q);
/* Counted in whole numbers: retries, say. */
bool limit_is_whole(const struct parameter *q);
/* A single value; two sides that are one value either way (+-5 %). */
bool limit_is_single(const struct parameter *q);
bool limit_is_either_way(const struct parameter *q);
/* Sets it; *q is unchanged where it may not be: then which side it was about, if any, in *side ("min", "max", or NULL). */
enum limit_fault limit_set(struct parameter *q, const struct limit *l, const char **side);

/* A copy of parameters_all, to be changed; free it. NULL: no memory. */
struct parameter *limits_copy(void);
/* What the port model goes by, from a table of parameters. */
struct bench_limits limits_of_bench(const struct parameter *table);
/* Does anything in this build go by the parameter? Groups of rules that are not there yet have theirs in the table already. */
bool limit_matters(const char *name);

/* May a rule have this level? Only a rule about a claim can be a claim. */
bool level_may_be(const struct rule *r, unsigned level);
