/*
 * capture/record_move.h - a record whose ports are numbered otherwise in the trace than by its source.
 */
#pragma once
#include "capture/record.h"

struct record_moved {
    const uint8_t *bytes;
    size_t         length;
    uint8_t       *own; /* to be freed, or NULL: bytes are those that were given */
};
/* Every port number of the record, inside of marks and of ABOUT too, rises by shift. False: beyond 254, or no memory; nothing to free. */
bool record_move(struct record_moved *m, const uint8_t *bytes, size_t length, unsigned shift);
void record_move_done(struct record_moved *m);
