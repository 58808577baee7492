/*
 * cli/limits_file.h - the file of --limits: numbers and levels of rules set otherwise, and how a verdict tells of it.
 *
 * {"schema":1,"parameters":{"static_ms":10,"tSrcTransition":{"min":25,"max":35}},"levels":{"caps.order":"should"}}
 * A number in the parameter's unit; of a window one side or both.
 */
#pragma once
#include "cli/json_out.h"
#include "cli/phrase.h"
#include "rules/parameter.h"
#include "rules/rule.h"

struct level_set { const struct rule *rule; uint8_t level; };

struct limits {
    const char       *path;       /* NULL: no file, everything as it is */
    struct parameter *parameters; /* copy of parameters_all, in its order; NULL without a file */
    struct level_set  levels[RULES_MAX];
    unsigned          level_count;
};

/* path NULL: nothing is read. False: one line on standard error said what is wrong, and where; nothing to free. */
bool limits_read(struct limits *l, const char *path);
void limits_free(struct limits *l);

/* The table to go by; parameters_all without a file. */
const struct parameter *limits_table(const struct limits *l);
/* The parameter as it is without the file, if the file changed it; else NULL. q: in limits_table. */
const struct parameter *limits_before(const struct limits *l, const struct parameter *q);
/* The rule's level with the file. */
unsigned limits_level(const struct limits *l, const struct rule *r);

/* A parameter that a finding names: is it as --limits set it? */
bool parameter_by_limits(const struct parameter *q);
/* Where its value is from: the standard's source, or --limits and what it is instead of. */
void parameter_source_phrase(struct phrase *p, const struct parameter *q);
/* "24 to 33 ms", "at most 15 ms", "+-5 %" */
void parameter_phrase(struct phrase *p, const struct parameter *q);
/* One sentence for the head of a verdict: the file, and what it changed. */
void limits_phrase(struct phrase *p, const struct limits *l);
/* "limits":{...}; nothing without a file. */
void limits_json(struct json *j, const struct limits *l);
/* "min" and "max" into an open object. */
void parameter_sides_json(struct json *j, const struct parameter *q);
