/*
 * cli/record_status.h - the one line that a terminal shows while a recording runs: what matters first (findings, lost, time), then each
 * port's contract in words. The rules run beside the recording for it; without a terminal they do not.
 */
#pragma once
#include "capture/record.h"
#include "decode/port.h"
#include "rules/engine.h"

struct record_status {
    struct engine *engine;   /* NULL: nothing is shown */
    uint64_t       failed;   /* findings that are failures */
    bool           shown;    /* the line stands on the terminal */
    int64_t        shown_ns; /* when it was drawn last */
    char           last[400];
};

#define STATUS_EVERY_NS INT64_C(250000000)

/* wanted: there is a terminal to show it on. False: no memory. */
bool status_start(struct record_status *s, bool wanted);
void status_end(struct record_status *s);
void status_take(struct record_status *s, const struct record *r);
/* The line's words; typed: what is being typed, or "". Ends before room. */
void status_words(const struct record_status *s, const struct about *about, uint64_t lost, int64_t ran_ns, const char *typed, char *out,
                  size_t room);
/* Draws it if it has changed. */
void status_draw(struct record_status *s, const char *words, int64_t now_ns);
/* Takes it off, so that something else can be said. */
void status_clear(struct record_status *s);
