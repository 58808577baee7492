/*
 * cli/offers_text.h - what a port offers, for people: every announcement as a table, the set as a whole, and what changed.
 */
#pragma once
#include "capture/about.h"
#include "cli/collector.h"
#include "cli/phrase.h"

enum { OFFERS_SHOWN = 20 }; /* announcements a port, unless verbose */

/* The section of one port. */
void offers_text(struct out *o, const struct port_record *r, const struct about_port *about, unsigned port, int64_t zero_ns,
                 bool verbose);
/* "fixed" "battery" "variable" "PPS" "EPR AVS" "SPR AVS" "reserved" */
const char *supply_text(unsigned supply);
/* "3.3 to 21 V at 3 A": what the programmable objects of an announcement cover together, in pieces of one current. Empty if none. */
void ranges_phrase(struct phrase *p, const struct announcement *a);
