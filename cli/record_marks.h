/*
 * cli/record_marks.h - what is typed while a recording runs becomes marks in the trace.
 */
#pragma once
#include "capture/about.h"
#include "capture/record.h"

enum { MARK_TEXT_BYTES = 500 };

struct typed_mark {
    uint8_t action;  /* enum record_action */
    uint8_t subject; /* port, or RECORD_PORT_NONE */
    int32_t value;
    char    text[MARK_TEXT_BYTES];
    size_t  length;
};

/*
 * "p B" plugged at port B, "u B" unplugged, "l B 2000" load in mA, "i" input power applied, "o" removed, words may follow each; anything
 * else is a note. A port is called as ABOUT calls it, or A for port 0 and so on, or by its number. False: there is nothing in the line.
 */
bool mark_read(struct typed_mark *m, const char *line, const struct about *about);
/* As a record of the whole bench, stamped by the host. Returns its length. */
size_t mark_put(const struct typed_mark *m, uint8_t *out, size_t room);
/* What was understood: "plugged at C1". */
void mark_say(const struct typed_mark *m, const struct about *about, char *out, size_t room);
/* A port's name in ABOUT, else "port 2". */
void port_say(unsigned port, const struct about *about, char *out, size_t room);

/* A line being typed on a terminal. */
struct typing {
    bool   on;      /* the terminal is set for it */
    char   line[MARK_TEXT_BYTES];
    size_t used;
    void  *before;  /* how the terminal was set */
};
/* Keys one by one and unseen, if standard input is a terminal that is ours. */
void typing_start(struct typing *t);
void typing_end(struct typing *t);
/* Takes what was typed. True: a line is complete in t->line; call again before waiting, after typing_next. */
bool typing_take(struct typing *t, char key);
void typing_next(struct typing *t);
