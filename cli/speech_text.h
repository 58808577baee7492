/*
 * cli/speech_text.h - what a packet says, in one line; and profiles in a few letters, for every command.
 */
#pragma once
#include "cli/out.h"
#include "decode/port.h"

/* "5 V 3 A", "9-21 V 60 W batt", "3.3-11 V 3 A prog", "15-28 V 140 W adj" */
void pdo_text(struct out *o, const struct pdo *p);
/* What the message carries, without its name: "5 V 3 A, 9 V 3 A, 3.3-11 V 3 A prog". Nothing if the name says all. */
void speech_text(struct out *o, const struct port *p, const struct speech *s);
/* The message's name, or "reserved control 25" in buffer (at least 32 bytes). */
const char *message_text(const struct message *m, char *buffer, size_t cap);
