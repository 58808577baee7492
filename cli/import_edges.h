/*
 * cli/import_edges.h - the changes of one CC line as CC_EDGES records: one for each stretch of activity, from a little before its first
 * change to 30 us behind its last, as far as the line is known.
 */
#pragma once
#include "capture/cc_line.h"

struct import_edges;

/* put: takes a record, false if it cannot go on. NULL: no memory. */
struct import_edges *import_edges_new(struct cc_tick tick, uint8_t port, bool (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length),
                                      void *context);
void import_edges_free(struct import_edges *e);
/* A stretch of the line. False: put said so. */
bool import_edges_take(struct import_edges *e, const struct cc_block *block);
bool import_edges_finish(struct import_edges *e);
/* No record that starts earlier than this tick will come. */
int64_t import_edges_settled(const struct import_edges *e);
