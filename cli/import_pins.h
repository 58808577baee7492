/*
 * cli/import_pins.h - the levels of a port's CC pins at rest as CC_STATE records (decode/cc_level.h says what they mean).
 */
#pragma once
#include "capture/cc_line.h"

struct import_pins;

/* measured: which of CC1 and CC2 come. put: takes a record, false if it cannot go on. NULL: no memory. */
struct import_pins *import_pins_new(uint8_t port, const bool measured[2], bool (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length),
                                    void *context);
void import_pins_free(struct import_pins *p);
/* A stretch of pin 0 (CC1) or 1 (CC2). */
void import_pins_take(struct import_pins *p, unsigned pin, struct cc_tick tick, const struct cc_block *block);
void import_pins_finish(struct import_pins *p);
/* No record that is earlier will come. */
int64_t import_pins_settled_ns(const struct import_pins *p);
uint64_t import_pins_count(const struct import_pins *p);
