/*
 * capture/live_move_inside.h - a record whose ports are numbered otherwise in the trace than by its source. Within capture only.
 */
#pragma once
#include "capture/live.h"

struct live_moved {
    const uint8_t *bytes;
    size_t         length;
    uint8_t       *own; /* to be freed, or NULL: bytes are those that were given */
};
/* Every port number of the record, inside of marks and of ABOUT too, rises by shift. False: beyond 254, or no memory; nothing to free. */
bool live_move(struct live_moved *m, const uint8_t *bytes, size_t length, unsigned shift);
void live_move_done(struct live_moved *m);

/* Serial devices that are there, as text sources. */
void live_serial_find(void (*found)(void *context, const struct live_found *one), void *context);
