/*
 * tests/matrix/matrix.h - what the tables share: a run of a scenario, and its failures against those expected.
 */
#pragma once
#include "tests/matrix/lines_of.h"
#include "tests/matrix/played.h"
#include "tests/matrix/score.h"

enum { SEEDS = 3, WHERE_BYTES = 1700 };

struct matrix {
    struct score  score;
    struct played played;
    unsigned      strays;      /* random lives in which a fault found its place */
    unsigned      to_come;     /* lines whose fault the model does not make */
    char          wanted[128]; /* only lines that hold this; "" all */
    bool          undecided[RULES_MAX]; /* in any run so far, by the number of the rule */
};

/* Plays and judges into m->played, which is to be freed. False: it could not be played, which is told and counted. */
bool matrix_play(struct matrix *m, const struct cJSON *scenario, uint64_t seed, const char *where);
/* Failing rules against the expected ones. */
void matrix_compare(struct matrix *m, const char *expected, const char *where);
/* Every line of the table that is wanted. */
void matrix_go_through(struct matrix *m, const char *table, void (*line)(struct matrix *, const struct fields *));

/* states.c: undecided, not seen, passed, and one fault that hides another. */
void blind_line(struct matrix *m, const struct fields *f);
void unseen_line(struct matrix *m, const struct fields *f);
void clean_line(struct matrix *m, const struct fields *f);
void suppressed_line(struct matrix *m, const struct fields *f);
void matrix_never_undecided(struct matrix *m); /* rules that blinds.txt says are never undecided, after all runs */

/* strays.c: faults at random places of random lives. */
void stray_line(struct matrix *m, const struct fields *f);

/* complete.c: every rule of this build stands in every table. False: told which does not. */
bool matrix_complete(void);
/* numbers.c: the model's numbers against the rules'. */
bool numbers_agree(void);
