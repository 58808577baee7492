/*
 * tests/matrix/score.h - how well the rules did: expected against found failures, by group of rules; and what did not fit.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum { SCORE_GROUPS = 16, SCORE_RULES = 256 };

struct score {
    struct { char name[16]; unsigned hit, missed, wrong; } group[SCORE_GROUPS];
    unsigned groups, runs, troubles;
};

void score_hit(struct score *s, const char *rule);    /* expected, and found */
void score_missed(struct score *s, const char *rule); /* expected, not found */
void score_wrong(struct score *s, const char *rule);  /* found, not expected */
/* One line to standard error, with where it was; counted. */
void score_trouble(struct score *s, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* The table; true if precision and recall are 1.0 in every group and nothing else was wrong. */
bool score_print(const struct score *s, const char *title);
