/*
 * tests/bench/story.h - what happens at a port of an invented charger, one episode after the other, without a fault and with nothing
 * left undecided: every contract is read once, every reset has a cause.
 */
#pragma once
#include "tests/bench/talk.h"

enum { STORY_PORTS = 3 };

struct story {
    struct talk talk;
    unsigned    negotiations; /* left until it is unplugged; 0: not plugged in */
    unsigned    set;          /* which of its offers stands */
    int32_t     mv, ma;       /* contract in force */
    uint32_t    request, object; /* what asked for it, and the object asked for; 0: there is none */
    bool        unread;       /* VBUS was not read in it yet */
    uint64_t    records, powers;
};

/* ABOUT of the bench: device, ports, uncertainty of the instrument. */
extern const char story_about[];

void story_start(struct story *s, unsigned port, int64_t at_ns);
/* Fills the talk's queue with the next episode: mostly one negotiation of eight packets. */
void story_go_on(struct story *s);
