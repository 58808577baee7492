/*
 * rules/span.h - times between edges as ranges: what the trace proves of them (the worst case, sums and not squares).
 *
 * The wire's edges: start, the first edge of the preamble; end, the last edge of EOP (of the last K-code of a reset); done(M),
 * the end of the GoodCRC that acknowledged M. An edge lies between early and late: the stamp's uncertainty (2 x ABOUT time_ns, or
 * host_time_ns where HOST_TIME is flagged), and where no duration was measured the legal spread of the bit rate on the nominal
 * length. A span adds 2 x clock_ppm of itself, between readings power_clock_ppm. Uncertainties that ABOUT does not give count as 0; has_clock says so.
 */
#pragma once
#include "rules/parameter.h"
#include "rules/uncertainty.h"
#include "decode/port.h"

enum edge_kind { EDGE_NONE, EDGE_START, EDGE_END, EDGE_DONE, EDGE_DONE_UNSEEN, EDGE_STATE, EDGE_ROW };
/* EDGE_DONE_UNSEEN: delivered without a recorded GoodCRC; frame is the message's. EDGE_STATE: a CC_STATE or MARK. EDGE_ROW: of POWER. */
const char *edge_kind_name(unsigned kind); /* "start", "end", "acknowledged", ... */

struct edge { int64_t early_ns, late_ns; uint64_t frame; uint8_t kind; int64_t length_ns; /* of the packet, 0: a moment */ };

/* What a packet of this nominal length may have taken at the fastest and the slowest legal bit rate. */
int64_t length_least_ns(const struct bench *b, int64_t nominal_ns);
int64_t length_most_ns(const struct bench *b, int64_t nominal_ns);

struct edge edge_start(const struct port *p, const struct wire *w);
struct edge edge_end(const struct port *p, const struct wire *w);
/* The moment of a CC_STATE, MARK or row. */
struct edge edge_moment(const struct port *p, enum edge_kind kind, uint64_t frame, int64_t t_ns, unsigned flags);
/* done(M); for an unproven delivery end .. end + tReceive max. */
struct edge edge_done(const struct port *p, const struct sent *m);
/* A reset signal as an event told it. */
struct wire record_wire(const struct record *r);

struct span { struct edge from, to; int64_t low_ns, high_ns; bool has_clock; };
struct span span_between(const struct port *p, struct edge from, struct edge to);

/* A window in ns; parameter: whose value it is, for the finding. */
struct window { int64_t low_ns, high_ns; bool has_low, has_high; const struct parameter *parameter; };
struct window window_of(const struct parameter *q); /* unit ms, s or us */

enum fit span_fit(const struct span *s, const struct window *w);
