/*
 * cli/diff.h - what behaves differently between two traces that were judged alike (cli/check_run.h, with timings, volts and behaviour).
 *
 * Compared are, port by port: what was done and in which order, the objects of offers, the points of contracts, the verdict of every
 * rule, how long things took and what VBUS settled at. Numbers differ where |x - y| / sqrt(Ux^2 + Uy^2) (E_n, as in proficiency
 * testing) is above 1.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/diff_align.h"
#include "cli/phrase.h"

enum { DIFF_FRAMES = 8, DIFF_TEXT = 600, DIFF_SIDE_TEXT = 400, DIFF_KEPT = 2000, DIFF_TIMES = 8 };

enum difference_kind { DIFF_OFFER, DIFF_NEGOTIATION, DIFF_CONTRACT, DIFF_TIMER, DIFF_VOLTAGE, DIFF_VERDICT };
const char *difference_kind_name(unsigned kind); /* offer negotiation contract timer voltage verdict */

struct difference {
    uint8_t  kind, port_a, port_b;
    uint8_t  weight;                /* what matters more has more: 0..100 */
    unsigned occasions;             /* how often the same was found */
    uint8_t  frame_count[2];
    uint64_t frames[2][DIFF_FRAMES]; /* in a, in b: the first of them */
    char     side[2][DIFF_SIDE_TEXT]; /* how it is in a, in b; empty: there it is not */
    char     text[DIFF_TEXT];       /* the whole as a sentence */
};

/* Numbers of b's ports by those of a; DIFF_NO_PORT: none. */
enum { DIFF_NO_PORT = 255 };
struct diff_ports {
    uint8_t b_of[DIFF_NO_PORT];
    bool    renumbered; /* found: they behave as each other */
    bool    forced;     /* --port-map */
};

/* What was looked at, and left out of the comparison. */
struct diff_notes {
    uint64_t deeds, offers, contracts, timers, voltages, rules;
    uint64_t few;             /* timers measured fewer than DIFF_TIMES times in one of them */
    uint64_t repeats;         /* folded deeds whose counts differ */
    uint64_t plugs, left_out; /* ports where plugs, or the end of a long sequence, were not compared */
    uint64_t losses;          /* ports where records are missing in a or b */
    uint64_t one_sided;       /* rules that only one of the two could judge, or decide */
    char     one_sided_rules[DIFF_SIDE_TEXT];
};

struct diff {
    const struct check *a, *b;
    struct diff_ports   ports;
    struct diff_notes   notes;
    struct difference  *items;
    size_t              count, room;
    uint64_t            left_out; /* beyond DIFF_KEPT */
    bool                failed;   /* no memory */
};

/* Pairs the ports; map: "0=1" from --port-map. False: one line on standard error said why. */
bool diff_pair_ports(struct diff *d, const struct option_list *map);
/* Compares; the weightiest first. False: no memory. */
bool diff_run(struct diff *d);
void diff_free(struct diff *d);

void diff_text(struct out *o, const struct diff *d, bool verbose);
void diff_json(struct out *o, const struct diff *d);

/* For its parts. */

/* Adds one, or counts it with an equal one. */
void diff_add(struct diff *d, const struct difference *x);
void difference_frame(struct difference *x, unsigned side, uint64_t frame);
void difference_side(struct difference *x, unsigned side, const struct phrase *p);
void difference_text(struct difference *x, const struct phrase *p);
void diff_deeds(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al);
/* Sources and sinks say of themselves: Source_Info, extended capabilities, revision, identity. */
void diff_who(struct diff *d, unsigned port_a, unsigned port_b);
void diff_verdicts(struct diff *d, unsigned port_a, unsigned port_b);
void diff_timers(struct diff *d, unsigned port_a, unsigned port_b);
void diff_voltages(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al);
/* |x - y| / sqrt(ux^2 + uy^2); expanded uncertainties. Both 0: 0 if x is y, else infinite. */
double diff_e_n(double x, double ux, double y, double uy);
/* Does a rule on a port stand otherwise, so that it counts as a difference? */
bool diff_verdict_differs(enum verdict a, enum verdict b);
enum verdict diff_verdict_of(const struct check *c, unsigned rule, unsigned port);
