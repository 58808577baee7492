/*
 * cli/show.h - what the forms of `show` share: one record, as the port model took it.
 */
#pragma once
#include "cli/json_out.h"
#include "cli/options.h"
#include "cli/trace_loop.h"
#include "decode/port.h"

enum { SHOW_PORTS = 256, SHOW_LABEL_BYTES = 40, SHOW_LABEL_PLACES = 10 };

/* A port as the listing calls it: its name from ABOUT, else its number. */
struct show_label {
    char     text[SHOW_LABEL_BYTES];
    uint8_t  bytes, places;
};

/* What the record in hand changed at its port. */
struct show_news {
    uint32_t        events;  /* EVENT_BITs */
    struct contract begun;   /* EVENT_CONTRACT, EVENT_RENEWED */
    uint8_t         ended_by;
    uint8_t         swap;
    uint8_t         port;
};

/* Readings of a POWER record, by column, as the listing told them. */
struct show_told {
    uint8_t columns;
    int32_t least[3], greatest[3];
};

struct show {
    struct out           *out;
    struct bench         *bench;
    const struct options *options;
    int64_t               zero_ns;
    const struct record  *record;
    const struct speech  *speech;   /* NULL: no packet, or one that cannot be read */
    const struct port    *port;     /* of the record; NULL: the bench, or none */
    int64_t               previous_ns; /* start of the port's record before it; INT64_MIN: none */
    uint8_t               answered; /* message that this one answers, 0 none known */
    struct show_news      news;
    /* the listing's own */
    bool                  headed;
    unsigned              labels_of; /* generation of ABOUT that the labels were made from, + 1 */
    unsigned              label_places;
    size_t                detail;    /* place of the line's details; 0: it has none */
    struct show_label     labels[SHOW_PORTS];
    struct show_told      power;        /* of the record in hand */
    struct show_told      told[SHOW_PORTS];
    bool                  power_steady; /* the readings stay as told */
};

/* The word of each kind, as in JSON and for --kind: packet reset power cc mark lost temperature about edges unknown damaged unreadable */
enum show_kind {
    SHOW_PACKET, SHOW_RESET, SHOW_POWER, SHOW_CC, SHOW_MARK, SHOW_LOST, SHOW_TEMPERATURE, SHOW_ABOUT, SHOW_EDGES,
    SHOW_UNKNOWN, SHOW_DAMAGED, SHOW_UNREADABLE, SHOW_KINDS
};
enum show_kind show_kind_of(const struct record *r);
extern const char *const show_kind_names[SHOW_KINDS + 1]; /* ends with NULL */

/* Words for the numbers of a record; "?" beyond the table. */
const char *show_action_text(unsigned action); /* note plugged unplugged load input_on input_off button */
const char *show_rp_text(unsigned rp);         /* none default 1.5A 3.0A */
const char *show_where_text(unsigned where);   /* unknown instrument host disk */

/* A model that takes notes for the forms below; out is the caller's. NULL: no memory, said on standard error. */
struct show *show_new(const struct options *o, const struct trace_loop *l);
void show_free(struct show *s); /* NULL is allowed */
/* Feeds the model, and notes what has to be known from before. False: no memory, said on standard error. */
bool show_take(struct show *s, const struct record *r, bool stepped_back);

void show_json(struct show *s);   /* show_json.c: one line of JSON */
/* The same keys into an open object. */
void show_json_keys(struct json *j, const struct show *s);
void show_line(struct show *s);   /* show_line.c: one line of the listing */
void show_heading(struct show *s);
/* Works out power, and power_steady: for each POWER record that is shown, before the line. */
bool show_power_steady(struct show *s);
void show_detail(struct show *s); /* show_detail.c: every field, under the line */
void show_edges_detail(struct out *o, const struct record *r); /* show_edges.c: of CC_EDGES the packets, a line each */
