/*
 * cli/who.h - who is at a port: which of the two partners the device under test is, and what each said of itself.
 */
#pragma once
#include "capture/about.h"
#include "cli/collector.h"
#include "cli/json_out.h"
#include "cli/phrase.h"
#include "decode/field.h"

/* "device" "partner" "cable"; "first source" "first sink" where ABOUT says that the port is both. */
const char *player_text(const struct about_port *about, unsigned player);
/* The same for JSON: "device" "partner" "cable"; null: not known. */
const char *player_party_name(const struct about_port *about, unsigned player);
/* The player that the device under test is: by ABOUT, else the one that was the source at first. */
unsigned device_player(const struct about_port *about);
/* "C1", else "port 0", in name (at least 40 bytes). */
void port_name(const struct about_port *about, unsigned port, char *name, size_t cap);

/* A field of a word by its key; NULL if its layout has none of that key. *raw: its value. */
const struct field *word_field(enum object_kind kind, uint32_t word, const char *key, uint32_t *raw);

/* The keys identity, partner_identity, cable, cable_far, source_info, source_extended, sink_extended, revisions, manufacturers, batteries. */
void who_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns);
/* The section of `offers`; verbose: every field. Nothing and false if nobody said anything. */
bool who_text(struct out *o, const struct port_record *r, const struct about_port *about, bool verbose);
