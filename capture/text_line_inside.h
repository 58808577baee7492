/*
 * capture/text_line_inside.h - one line of the text form, taken apart. Within capture only.
 */
#pragma once
#include "capture/record.h"
#include "capture/text_words_inside.h"

enum { TEXT_COLUMNS = 3 };

struct line_parts {
    bool        now;  /* "-" instead of a time */
    int64_t     t_ns; /* 0 if it could not be read */
    bool        timed;
    uint8_t     port; /* RECORD_PORT_BENCH if it could not be read */
    uint8_t     kind; /* RECORD_PD_PACKET if its word is none */
    uint8_t     set, state, which, attach, rp, action, subject, probe, columns;
    bool        ends; /* "until" stands there */
    int64_t     end_ns;
    int32_t     cells[TEXT_COLUMNS]; /* of V, I, VC */
    int32_t     value;               /* load in milliampere, or thousandths of a degree */
    uint32_t    count;
    struct word text;                /* hex, mark's text, label, JSON */
};

/* False: it cannot be read; then *l holds time, port and kind as far as they could be. */
bool text_line_read(struct cursor line, struct line_parts *l);
/* Does a line begin as a record does: time, port, a word? That tells the text form from other files. */
bool text_line_looks_right(struct cursor line);
