/*
 * decode/wire_moves.h - when, by what is said and seen on CC, VBUS moves from one level to another: from Accept to PS_RDY, from the plug to
 * the first offer, after the plug is pulled, and after a Hard Reset.
 */
#pragma once
#include "decode/port.h"

enum wire_move_why { WIRE_MOVE_CONTRACT, WIRE_MOVE_ON, WIRE_MOVE_OFF, WIRE_MOVE_RESET };

struct wire_move {
    enum wire_move_why why;
    uint8_t port;
    int64_t from_ns, to_ns;     /* the whole move happens between them */
    int32_t from_mv, to_mv;
    bool    guessed;            /* WIRE_MOVE_ON by the first offer alone: nothing shows that the plug went in then */
};

struct wire_moves;
/* found: in the order in which they end. NULL: no memory. */
struct wire_moves *wire_moves_new(void (*found)(void *context, const struct wire_move *m), void *context);
/* A record of packets, resets, CC, marks or losses, in order of time; readings and ABOUT are left out. False: no memory. */
bool wire_moves_feed(struct wire_moves *w, const struct record *r);
void wire_moves_end(struct wire_moves *w);
void wire_moves_free(struct wire_moves *w);
