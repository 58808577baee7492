/*
 * rules/mutant.h - in a test build one rule at a time can be broken on purpose, to see whether the tests notice.
 *
 * Only where PORTASSAY_MUTANTS is defined (-DPORTASSAY_MUTANTS=ON): engine_options.mutant then names what is broken, as
 * "kind rule index", for example "limit time.retry 1"; tests take it from the environment variable PORTASSAY_MUTANT. Elsewhere
 * nothing of this is compiled. tests/mutation/.
 */
#pragma once
#include "rules/rule.h"

struct parameter;
struct span;

enum mutant_kind {
    MUTANT_NONE,
    MUTANT_LIMIT,    /* parameter index / 2 of the rule: its least (even) or its most (odd) moved by a fifth */
    MUTANT_TURNED,   /* what passes fails, what fails passes */
    MUTANT_SKIPPED,  /* the rule is never woken */
    MUTANT_EDGE,     /* index 0: the time begins, 1: ends at the other edge of that packet; where VBUS crosses a level, at the reading beyond */
    MUTANT_SUPPRESSION, /* silenced_by index: the suppression is gone */
    MUTANT_UNREAD,   /* index as of MUTANT_LIMIT: a side that the rule is said not to read is far off; no test may notice */
    MUTANT_KINDS
};
const char *mutant_kind_name(unsigned kind); /* limit turned skipped edge suppression unread */

struct mutant { uint8_t kind; char rule[48]; unsigned index; };

#ifdef PORTASSAY_MUTANTS
struct mutant mutant_named(const char *text); /* NULL, or no mutant: none */
bool mutant_is(const struct mutant *m, enum mutant_kind kind, const char *rule);
void mutant_move_edge(struct span *s, unsigned which);
/* Side 0: its least, 1: its most. Moved by a fifth, of a count by one at the least: the least towards 0, the most away from it; a single value down. */
void mutant_move_limit(struct parameter *p, unsigned side);
/* The least three times the most (without one: the least), the most 0. */
void mutant_spoil_limit(struct parameter *p, unsigned side);
#endif
