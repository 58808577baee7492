/*
 * tests/matrix/played.h - a scenario played in memory: the model makes the records (cli/synth), the engine judges them.
 */
#pragma once
#include "rules/engine.h"

struct cJSON;

enum { PLAYED_FINDINGS = 512, PLAYED_FAULTS = 8 };

struct made_fault { char name[64]; uint64_t frame; int port; char who[12]; };

struct played {
    struct engine *engine;
    unsigned       findings;
    struct finding finding[PLAYED_FINDINGS];
    int64_t        told_ns[PLAYED_FINDINGS];  /* when each was told: the end of the record that had just been fed */
    int64_t        shown_ns[PLAYED_FINDINGS]; /* when all of its evidence had been fed, what it is about included */
    int64_t        now_ns;
    int64_t        until_ns;                  /* records that end later are left out, and the trace ends there; 0: all of it */
    int64_t       *end_ns;                    /* of record n, at n - 1; grows with the trace */
    size_t         room;
    unsigned       faults;                    /* what the model says it made wrong, and where */
    struct made_fault fault[PLAYED_FAULTS];
    uint64_t       records;
    char           trouble[256];              /* why it could not be played; "" if it could */
};

/* The scenario: the text of a file, with faults and blinds added, and seed put in its place. NULL: none. */
struct cJSON *scenario_read(const char *path);
/* Plays and judges. False: p->trouble says why. */
bool played_run(struct played *p, const struct cJSON *scenario, uint64_t seed);
void played_free(struct played *p);

struct result played_result(const struct played *p, const char *id); /* verdict not-seen and rule NULL: no such rule in this build */
/* The first finding of this rule with this verdict, or NULL. */
const struct finding *played_finding(const struct played *p, const char *id, unsigned verdict);
