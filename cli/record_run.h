/*
 * cli/record_run.h - a recording from its first record to its last: sources, marks, status and the file, one poll loop over all.
 */
#pragma once
#include "capture/live.h"
#include "capture/recording.h"
#include "cli/options.h"
#include "cli/record_marks.h"
#include "cli/record_status.h"

enum { RECORD_SOURCES = OPTION_LIST_MAX };

/* What the command line says. */
struct record_words {
    struct option_list from;
    int64_t            for_ns;         /* 0: until stopped */
    bool               until_detached, overwrite, edges;
    uint64_t           rotate_bytes;
    int64_t            rotate_ns, keep;
    const char        *rotate;         /* as typed, or NULL */
};

enum record_end {
    RECORD_RUNS, RECORD_STOPPED, RECORD_TIME_UP, RECORD_DETACHED, RECORD_SOURCES_ENDED, RECORD_NOT_WRITTEN, RECORD_READER_GONE,
    RECORD_NO_MEMORY,
};

/* Bounded notices of one source. */
struct record_notices { uint64_t counts[LIVE_NEWS]; };

struct recorder {
    const struct options      *options;
    const struct record_words *words;
    const char                *target;  /* the file's name, or "standard output" */
    struct live_source        *sources[RECORD_SOURCES];
    struct record_notices      notices[RECORD_SOURCES];
    unsigned                   count;
    struct recording          *recording;
    struct about              *about;
    struct bench              *bench;   /* for --until-detached, where no engine runs; else NULL */
    struct record_status       status;
    struct typing              typing;
    int64_t                    real_ns, monotonic_ns; /* when it began, by both clocks: since 1970, and since the machine started */
    int                        signals; /* descriptor that gives them */
    enum record_end            end;
    bool                       seen_attached, lost_said, align_given;
};

/* Opens everything, records until there is a reason to stop, and closes in order. Returns what the program exits with. */
int record_run(const struct options *options, const struct record_words *words);

/* record_about.c: what the recorder itself writes into ABOUT. What stands at the beginning; NULL: it was said why not. */
struct cJSON *record_about_make(struct recorder *r);
/* Adds it as a record. False: it is too much for one, which was said. */
bool record_about_put_json(struct recorder *r, const struct cJSON *about);
void record_about_close(struct recorder *r);
/* Adds an ABOUT record of the bench at this moment. */
bool record_about_put(struct recorder *r, const char *text, size_t length);
int64_t record_now(void *recorder);
/* A note of the recorder's own, as a mark. */
void record_note(struct recorder *r, const char *text);
/* record_notices.c: what a source has to say, on standard error and, where the trace is not whole, as a note in it. */
void record_notice(void *recorder, const struct live_source *from, const struct live_notice *n);
/* restamped: how many records were stamped on arrival. */
void record_notices_sum(struct recorder *r, uint64_t restamped);
