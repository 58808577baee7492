/*
 * cli/volts.h - `check --volts`: what VBUS did in each contract and at each load step, kept while the trace is read.
 *
 * The first VOLTS_LINES contracts and VOLTS_STEPS load steps are kept one by one, over all ports; of what comes after them each port
 * keeps how many there were, and the worst.
 */
#pragma once
#include "rules/volt_table.h"

enum { VOLTS_PORTS = 256, VOLTS_LINES = 10000, VOLTS_STEPS = 10000 };

/* What was not kept one by one. */
struct volts_rest {
    uint64_t lines, steps;
    struct volt_line worst;  /* the one with the least margin, by the end of its uncertainty; agreed false: none has one */
    struct volt_time outside;
    struct volt_step deepest; /* frame 0: none */
};

struct volts;
struct volts *volts_new(void); /* NULL: no memory */
void volts_free(struct volts *v); /* NULL is allowed */
/* As in struct engine_options, context in front. */
void volts_take_line(struct volts *v, const struct volt_line *line);
void volts_take_step(struct volts *v, const struct volt_step *step);

/* The k-th of them, as they were over; NULL: no more. */
const struct volt_line *volts_line(const struct volts *v, size_t k);
const struct volt_step *volts_step(const struct volts *v, size_t k);
/* NULL: nothing was left out there. */
const struct volts_rest *volts_rest(const struct volts *v, unsigned port);
/* Margin less its uncertainty: what is worst is least. */
bool volts_worse(const struct volt_line *a, const struct volt_line *b);
/* Memory ran out. */
bool volts_failed(const struct volts *v);
