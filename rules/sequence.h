/*
 * rules/sequence.h - for rules that follow a few messages in a row: one of them kept, who is who, and what may have been missed.
 */
#pragma once
#include "rules/judge.h"

/* A message whose copies and GoodCRC may still come. frame 0: none. */
struct kept {
    uint64_t    frame;
    uint8_t     stream; /* stream_index of its sender */
    struct sent sent;   /* as kept_look saw it last */
};
/* The message in hand, which the port model has not taken yet. */
void kept_begin(struct kept *k, const struct speech *s);
/* Before anything else at every event: while the message is its sender's last one, what is known of it is brought up to date. */
void kept_look(struct kept *k, const struct port *p);
struct edge kept_done(const struct kept *k, const struct port *p);
uint64_t kept_last_frame(const struct kept *k); /* of its last copy */

/* Start of the message in hand: of its first copy, a spoilt one included. */
/* The packet itself, or the first of the bad ones that it makes good. */
struct wire heard_wire(const struct speech *s);
struct edge heard_start(const struct port *p, const struct speech *s);
/* May a message on SOP have been missed since that frame, which ended at since_ns? CAUSE_NONE: no. */
enum cause sequence_gap(const struct port *p, uint64_t frame, int64_t since_ns);
/* May one on this ordered set have been missed in that time before? The beginning of the trace counts where no attach was seen. */
enum cause sequence_gap_before(const struct port *p, unsigned set, int64_t t_ns, int64_t within_ns);
/* The partner of a player, and the player that is the source now; PLAYER_UNKNOWN while both have one role. */
unsigned player_other(unsigned player);
unsigned player_source(const struct port *p);
/* Is a rule of one revision to be judged about this player's message, which shows by itself that its sender keeps that revision? */
bool sequence_applies(const struct judge *j, const struct port *p, unsigned player);
