/*
 * capture/about_read_inside.h - from the members of merged ABOUT objects to numbers. Within capture only.
 */
#pragma once
#include "capture/about.h"

/* Sets what json, an object or NULL, gives; the rest of *out stays. */
void about_instrument_read(const struct cJSON *json, struct about_instrument *out);

void about_port_clear(struct about_port *out);
/* The port an entry of "ports" speaks of, 0..254, or -1. */
int  about_port_number(const struct cJSON *entry);
/* An entry replaces what an earlier one said of the port. */
void about_port_read(const struct cJSON *entry, struct about_port *out);
