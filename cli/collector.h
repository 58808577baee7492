/*
 * cli/collector.h - what happened at each port that is told at the end: announcements, contracts, and who is there.
 *
 * An observer of the bench (decode/port.h). Lists are bounded: the first COLLECTOR_MAX a port, the rest is counted.
 *
 *   _ns  nanoseconds since 1970     positions  bit masks, bit 0 = object 1
 */
#pragma once
#include "decode/port.h"

enum { COLLECTOR_MAX = 10000, COLLECTOR_PORTS = 255 };

struct announcement {
    uint64_t frame;
    int64_t  t_ns;
    uint32_t words[PDO_MAX];
    uint32_t repeated;
    uint16_t added, removed; /* against the announcement before it on this port, whoever made it; 0 for the first */
    uint8_t  count, player;
    bool     epr, sink, delivered;
    bool     rebuilt;        /* of what a kernel told: KERNEL_CAPS_HOLE is an object that it did not tell */
};

struct announcements {
    struct announcement *items;
    size_t               count, room;
    uint64_t             left_out;
    struct announcement  before;  /* the last one, also where the list is full */
    size_t               last[2]; /* index of the last, by epr; SIZE_MAX: none, or left out */
    uint64_t             open[2]; /* frame of the last copy of it, until it is delivered */
};

struct contracts {
    struct contract *items;
    size_t           count, room;
    uint64_t         left_out;
};

struct port_record {
    struct announcements offers, sink_offers;
    struct contracts     contracts;
    struct identity      identity[4]; /* as in struct port: player A, player B, cable SOP', cable SOP'' */
    struct ratings       ratings;
    bool                 fresh;       /* the last message may have changed identity or ratings */
    int64_t              offer_mw;    /* most that the standing offer gives */
};

struct collector {
    struct bench       *bench;
    const bool         *ports;            /* of these only; NULL: all */
    int64_t             since_ns, until_ns;
    struct port_record *records[COLLECTOR_PORTS]; /* NULL: nothing was heard there */
    bool                failed;           /* no memory: lists are not complete */
    /* The most that two or more ports offered together at one time; together_ports 0: they never did. */
    int64_t             together_mw, together_ns;
    int64_t             offered_mw;      /* what they offer now */
    int                 offering_ports;
    unsigned            together_ports;
};

/* Starts watching; the collector must outlive the bench's last record. ports: 256 flags, or NULL. */
/* together: also what all ports offer at one time. */
void collector_watch(struct collector *c, struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns,
                     bool together);
void collector_free(struct collector *c);
/* NULL: no announcement, contract or identity was seen there. */
const struct port_record *collector_port(const struct collector *c, unsigned number);

/* Most power, in milliwatt, that a source's object gives; a programmable one that says it is power limited gives 0. */
int64_t pdo_most_mw(const struct pdo *p);
/* Object k (from 0) of an announcement. */
struct pdo announcement_pdo(const struct announcement *a, unsigned k);
/* Objects that the first holds and the second does not: the same word as often as there is no difference. */
uint16_t announcement_without(const struct announcement *a, const struct announcement *b);
/* The object that gives most; word 0 if none gives anything. */
struct pdo announcement_most(const struct announcement *a);
