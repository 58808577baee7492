/*
 * rules/edge_checks.h - the checks of the rules about the signal itself, which EVENT_FRAME wakes, and which of its sentences each may say.
 */
#pragma once
#include "rules/judge.h"

/* wire_edges.c */
enum { SAYS_PREAMBLE_BITS, SAYS_PREAMBLE_BEGINS_1 };
enum { SAYS_SET_PACKET, SAYS_SET_HARD, SAYS_SET_CABLE };
enum { SAYS_END_RESERVED, SAYS_END_KCODE, SAYS_END_SILENT, SAYS_END_ENDLESS, SAYS_END_CELL };
void wire_check_bit_drift(struct judge *j, const struct event *e);
void wire_check_preamble(struct judge *j, const struct event *e);
void wire_check_ordered_set(struct judge *j, const struct event *e);
void wire_check_end_of_packet(struct judge *j, const struct event *e);
