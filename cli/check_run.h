/*
 * cli/check_run.h - one trace through the rules: engine, collector and findings, ready to be told as text or JSON.
 */
#pragma once
#include "cli/collector.h"
#include "cli/finding_list.h"
#include "cli/limits_file.h"
#include "cli/timings.h"
#include "cli/trace_loop.h"
#include "rules/engine.h"

/* Which rules are told. The others are judged all the same, as some of them silence others, but decide nothing. */
struct rule_choice {
    struct rule        rows[RULES_MAX + 1]; /* copies; a row that is not told has level note */
    bool               told[RULES_MAX];
    unsigned           count;
    const struct rule *groups[2];
};

struct out;

struct check_settings {
    uint8_t            judged_whom;    /* as in struct engine_options */
    uint8_t            standard;       /* the same */
    uint64_t           findings_limit; /* FINDINGS_ALL: every one */
    bool               timings;        /* take the times */
    bool               volts;          /* put what VBUS did into numbers */
    bool               behaviour;      /* keep what was done, one after the other */
    struct rule_choice rules;
    struct limits      limits;         /* --limits */
    struct out        *follow;         /* findings go there as they are settled, the trace being recorded; NULL: at the end alone */
};

struct behaviour;
struct volts;
struct early;
struct check {
    const char                  *path;
    const struct options        *options;
    const struct check_settings *settings;
    struct trace_facts           facts;
    int64_t                      zero_ns;
    struct engine               *engine;
    struct collector             collector;
    struct finding_list          findings;
    struct timings              *timings;        /* NULL: not asked for */
    struct volts                *volts;          /* NULL: not asked for */
    struct behaviour            *behaviour;      /* NULL: not asked for */
    struct early                *early;          /* NULL: not followed */
    const struct trace_loop     *loop;           /* while it is read */
    uint64_t                     told_findings;  /* counted over the told rules, listed or not */
    enum verdict                 verdict;
};

/* What the user types of it: what decides which findings there are, and so how they are numbered. All 0: nothing. */
struct check_words {
    const char        *findings, *limits; /* NULL: not given */
    unsigned           standard;          /* index into check_standards */
    struct option_list only, skip;        /* ids, groups ("caps", "caps.*"), several with commas */
};
extern const char *const check_standards[];
bool check_words_given(const struct check_words *w);
/*
 * Every rule, the first FINDINGS_LIMIT findings, nothing overridden, but for what is typed. False: one line on standard error said why.
 * command: as errors name it.
 */
bool check_settings_read(struct check_settings *s, const char *command, const struct check_words *w);
void check_settings_free(struct check_settings *s); /* and the settings themselves; NULL is allowed */
/* Reads and judges. False: it could not be done, one line on standard error said why; nothing to free. */
bool check_run(struct check *c, const char *path, const struct options *options, const struct check_settings *settings);
void check_free(struct check *c);

/* Rule k of the engine is told. */
bool check_tells(const struct check *c, unsigned k);
/* Number (in the engine) of a finding's rule. */
unsigned check_rule_number(const struct check *c, const struct finding *f);
/* Does a finding about this one, party being this, decide the verdict? */
bool check_decides(const struct check *c, const struct finding *f);
/* Ports that a record spoke of, and that --port allows. */
bool check_has_port(const struct check *c, unsigned port);
