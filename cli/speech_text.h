/*
 * cli/speech_text.h - what a packet says, in one line; and profiles in a few letters, for every command.
 */
#pragma once
#include "cli/out.h"
#include "decode/port.h"

/* "5 V 3 A", "9-21 V 60 W batt", "9-15 V 3 A var", "3.3-11 V 3 A prog", "15-28 V 140 W adj", "9-20 V 3/2.25 A adj" */
void pdo_text(struct out *o, const struct pdo *p);
/* "#3 15 V 3 A; mismatch" */
void rdo_text(struct out *o, const struct rdo *r, const struct pdo *asked);
/*
 * What the message carries, without its name: "5 V 3 A, 9 V 3 A, 3.3-11 V 3 A prog". Nothing if the name says all. What runs
 * over the line goes on below, where it began. answered: index of the message that it answers, 0 if none is known.
 */
void speech_text(struct out *o, const struct port *p, const struct speech *s, unsigned answered);
/* The message's name, or "reserved control 25" in buffer (at least 32 bytes). */
const char *message_text(const struct message *m, char *buffer, size_t cap);
/* control data extended */
const char *class_text(unsigned message_class);
