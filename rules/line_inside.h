/*
 * rules/line_inside.h - the line watcher's state, and its parts: for the engine alone.
 */
#pragma once
#include "rules/line.h"

struct engine;
struct port_book;

enum {
    LINE_TABLE = 40,  /* packets of fewer bytes have their window of lengths in a table */
    LINE_COPIES = 8,  /* bad copies of one message that are kept apart */
    LINE_HELD = 4,    /* messages that nobody acknowledged, kept until it shows whether anybody was there */
};

/* A message acknowledged later than tReceive may be acknowledged still: how long a GoodCRC is laid to the message before it (ours). */
#define LINE_ANSWER_NS INT64_C(1400000)
/* Bad packets of one length this far apart are copies of one message: tReceive min, tReceive max + tRetry and margin (ours). */
#define LINE_BAD_LEAST_NS INT64_C(900000)
#define LINE_BAD_MOST_NS INT64_C(1400000)
/* A copy starts sooner than this after the last (the catalogue's definition of a copy). */
#define LINE_COPY_NS INT64_C(2000000)

/* The longest packet: header, extended header, 260 bytes and CRC at 270 kbit/s (fBitRate) take 10.3 ms. */
#define LINE_LONGEST_NS INT64_C(10300000)

/* The last message of one sender on one ordered set. */
struct line_message {
    struct wire first, last;     /* copies; first: only once there are two. It may have been a bad one */
    uint64_t    digest;
    uint64_t    frames[LINE_COPIES]; /* of the copies that could be read, once there are two; the first of them, if there are many */
    uint64_t    doubt_frame, first_doubt_frame;
    uint8_t     copies;          /* 0: no message */
    uint8_t     frame_count;     /* of frames */
    uint8_t     spoilt;          /* of these: could not be read */
    uint8_t     doubt;           /* enum cause: a GoodCRC to one of its copies may have been missed */
    uint8_t     first_doubt;     /* the same of the first copy */
    bool        acknowledged, first_acknowledged, last_acknowledged; /* any copy, the first, the last */
    bool        partner_there;   /* its receiver had spoken before */
    bool        tried;           /* exchange.first-try was told */
    bool        counted;         /* exchange.retry-count failed */
};

enum line_before { BEFORE_NONE, BEFORE_MESSAGE, BEFORE_GOODCRC, BEFORE_BAD };

struct line {
    bool        measured;        /* the windows below are made ... */
    unsigned    generation;      /* ... from what ABOUT said then */
    int64_t     gap_least_ns, answer_most_ns;
    int64_t     shortest_ns[LINE_TABLE], longest_ns[LINE_TABLE];
    /* In order, and counted without a call. */
    uint64_t    plain_goodcrcs, plain_messages, plain_gaps;

    bool        careful;         /* the next packet cannot be plain */
    uint8_t     before;          /* enum line_before: the packet before */
    uint8_t     before_player;
    struct wire before_wire;
    uint8_t     last_message;    /* stream of the last message + 1; 0: none */
    bool        bad_since;       /* a bad packet since that message */
    bool        lookalike;       /* the message in hand counts as a copy, though it says something else */
    uint16_t    open;            /* streams whose message is not done with, a bit each */
    bool        goodcrc_seen;    /* a GoodCRC is in the recording at all */
    uint16_t    spoken;          /* senders that were heard since the attach or Hard Reset, a bit each */
    int64_t     due_ns;          /* when the first of the open messages may be done with; INT64_MAX: none is open */
    struct line_message message[STREAMS];

    uint8_t     held_count;
    struct line_case held[LINE_HELD];

    /* Bad packets that may be copies of one message. */
    uint8_t     bad_count, bad_set;
    uint16_t    bad_bytes;
    bool        bad_waits;       /* all copies of a message were bad: its sender shows with its next message */
    struct wire bad[LINE_COPIES];
    struct wire last_bad;        /* the last of those that the packet in hand has made good; frame 0: none */
    uint8_t     last_bad_count;  /* ... and how many they were */
    struct wire bad_before;      /* the last bad packet of all */
};

/* Has the other sender of this stream's ordered set been heard since the attach, also one that nobody saw? */
static inline bool line_partner_there(const struct line *l, const struct port *p, const struct speech *s, unsigned stream)
{
    return (l->spoken >> (stream ^ 1u) & 1) && (s->m.set != SET_SOP || p->spoken[s->player ^ 1u]);
}

/* The packet in hand. */
struct line_look {
    struct engine       *engine;
    struct port_book    *book;
    struct line         *line;
    const struct port   *port;
    const struct record *record; /* NULL: at the end of the trace, or of an attach */
    const struct speech *speech; /* NULL: no packet */
    struct wire          wire;
};

void line_start(struct line *l);
/* After the port model took the packet. */
void line_take_packet(struct engine *e, struct port_book *b, const struct record *r);
/* EVENT_MESSAGE, before anybody else hears of it: what came before is done with. */
void line_before_message(struct engine *e, struct port_book *b, const struct event *event);
/* The other events that concern it, before the rules. */
void line_take_event(struct engine *e, struct port_book *b, const struct event *event);
void line_pass_time(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *r);
/* t_ns: end of the trace. */
void line_end(struct engine *e, struct port_book *b, int64_t t_ns);
/* Passes that were counted without a call. */
uint64_t line_passes(const struct line *l, unsigned rule);

/* line_tell.c: hands an occasion to the rule's check, unless another failure silences it. */
struct line_case line_case_of(const struct line_look *k, const struct wire *w);
void line_case_by(const struct line_look *k, struct line_case *c, unsigned player, unsigned set);
void line_evidence(struct line_case *c, uint64_t frame);
void line_tell(const struct line_look *k, enum line_rule rule, const struct line_case *c);
bool line_judged(const struct engine *e, enum line_rule rule);
struct window line_window(const struct engine *e, enum line_rule rule, unsigned parameter, const char *name);
const struct parameter *line_parameter(const struct engine *e, enum line_rule rule, unsigned parameter, const char *name);

/* line_bad.c: bad packets. */
void line_take_bad(struct line_look *k);
void line_meet_bad(struct line_look *k);            /* before the packet in hand is looked at */
void line_settle_bad(struct line_look *k, unsigned cause); /* no more packets will tell: enum cause of what came instead, or CAUSE_NONE */
void line_end_bad(struct line_look *k, int64_t t_ns);
unsigned line_copies_most(const struct line_look *k, const struct message *m, const struct parameter **parameter);

/* line_message.c: messages, their copies and their GoodCRCs. */
/* The packet in hand may have begun within most_ns after the end of w. */
bool line_soon_after(const struct line_look *k, const struct wire *w, int64_t most_ns);
uint64_t line_digest(const struct message *m, const struct record *r); /* of two messages: the same bytes, the same digest */
void line_take_goodcrc(struct line_look *k);
void line_take_message(struct line_look *k);
void line_close(struct line_look *k, unsigned stream); /* nothing more will come of it */
int64_t line_limit_ns(const struct line_look *k, unsigned stream); /* when nothing more will come of it */
void line_look_for_due(struct line *l, const struct line_look *k);

/* line_held.c: exchange.goodcrc of messages that nobody acknowledged. */
void line_hold(struct line_look *k, const struct line_case *c);
void line_held_meet(struct line_look *k);           /* the packet in hand */
void line_held_lose(struct line_look *k);           /* EVENT_LOSS */
void line_held_pass_time(struct line_look *k, int64_t t_ns);
int64_t line_held_due_ns(const struct line_look *k);
