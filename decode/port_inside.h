/*
 * decode/port_inside.h - shared by the files of the port model, for nobody else.
 */
#pragma once
#include "decode/port.h"
#include "decode/times.h"

enum { BENCH_PORTS = 255, BENCH_OBSERVERS = 6 };

struct bench {
    struct port  *ports[BENCH_PORTS];
    struct about *about;
    struct {
        uint32_t        wants;
        event_observer *observer;
        void           *context;
        uint32_t        messages[MESSAGE_INDEXES / 32]; /* of EVENT_MESSAGE, EVENT_DELIVERED */
    } observers[BENCH_OBSERVERS];
    unsigned observer_count;
    uint32_t wanted;             /* all observers' wants together */
    uint32_t delivered[MESSAGE_INDEXES / 32]; /* messages of which an observer wants EVENT_DELIVERED */
    int64_t  default_time_ns;
    struct bench_limits limits;
    int64_t  count_from_ns, count_to_ns;
    int64_t  now_ns;             /* start of the record being fed */
    const struct record *record; /* the record being fed; NULL at the end */
    const struct speech *speech; /* of the record fed last, if it was a packet */
    bool     no_memory;
    int64_t  previous_ns[BENCH_PORTS + 1], previous_given_ns;
};

/* Times of the standard that the model itself needs, in ns. */
#define PORT_COPY_NS INT64_C(2000000)           /* a copy starts < 2 ms after the last: tReceive + tRetry and margin, ours */
#define PORT_MADE_GOOD_NS INT64_C(1400000)      /* a good copy this soon makes a bad packet good: ours */
#define PORT_RESET_QUIET_NS INT64_C(2000000000) /* VBUS that rises this soon after a Hard Reset is no attach: ours */
#define PORT_ATTACH_NS INT64_C(100000000)       /* tCCDebounce min 100 ms: no attach is quicker (from memory) */
#define PORT_DETACH_NS INT64_C(2000000000)      /* VBUS below 0.8 V for longer, and no packet after: a detach: ours */
#define PORT_RESET_NEAR_NS INT64_C(1000000000)  /* for this long after a Hard Reset nothing is taken for ordinary: ours */
#define PORT_SAFE_0V_UV 800000                  /* vSafe0V max 0.8 V: Zephyr usbc_pd.h */
#define PORT_PRESENT_UV 4000000                 /* VBUS is there above 4.0 V: ours, below vSafe5V min 4.75 V */
#define PORT_OCCUPIED_UA 50000                  /* IBUS above 50 mA: something is plugged in: ours */

/* An event of this port, now. Field by field: a compiler clears a structure of this size slowly, and this is done for every packet. */
static inline struct event port_event(const struct port *p, enum event_kind kind)
{
    const struct bench *b = p->bench;
    struct event        e;

    e.kind = kind;
    e.port = p;
    e.record = b->record;
    e.t_ns = b->now_ns;
    e.frame = b->record ? b->record->frame : 0;
    e.speech = NULL;
    e.sent = NULL;
    e.offer = NULL;
    e.request = NULL;
    e.contract = NULL;
    e.swap = SWAP_NONE;
    return e;
}
static inline bool port_heard(const struct port *p, enum event_kind kind)
{
    return p->bench->wanted & EVENT_BIT(kind);
}
static inline bool port_heard_delivered(const struct port *p, unsigned index)
{
    return p->bench->delivered[index / 32] >> index % 32 & 1;
}
/* Tells the observers. */
void port_tell(const struct event *e);
/* Tells those that want to hear of this message. */
void port_tell_message(const struct event *e, unsigned index);
void port_tell_plain(const struct port *p, enum event_kind kind);

/* port_attach.c */
void port_attach(struct port *p, enum attach_by by, uint64_t frame);
void port_begin_anew(struct port *p, bool known);
/* A good packet of this player; a GoodCRC tells of both. */
void port_hear(struct port *p, unsigned player, bool goodcrc);
bool port_begins_unseen(const struct port *p, const struct speech *s); /* with this message a new attach */
bool port_counts_unseen(const struct port *p, const struct speech *s); /* to a cable, from 0: it may be another one */
void port_forget_cable(struct port *p); /* how far those counted who speak to it, and it itself */
void port_detach(struct port *p, int64_t t_ns);
void port_take_cc(struct port *p, const struct record *r);
void port_take_power(struct port *p, const struct record *r);
void port_take_mark(struct port *p, const struct record *r);
void port_pass_time(struct port *p, int64_t t_ns);
void port_cross_until(struct port *p, int64_t t_ns); /* what rows of POWER records before t_ns showed of VBUS */
void port_take_loss(struct port *p, const struct record *r);
void port_end_contract(struct port *p, enum contract_end why, int64_t t_ns);

/* port_doubt.c */
/* Messages up to t_ns may have been missed. */
void port_miss(struct port *p, int64_t t_ns);
/* The plug may have been pulled and put back unseen. */
void port_miss_attach(struct port *p, int64_t t_ns);
/* Player A is sure to be the port under test: no power-role swap can have been missed since the attach. */
bool port_sides_certain(const struct port *p);
/* An attach or a Hard Reset: everything begins anew. */
void port_clear_doubt(struct port *p);
/* Before a new message of this stream, on SOP, is told. */
void port_weigh_doubt(struct port *p, const struct stream *t, const struct speech *s);

/* port_packets.c */
void port_take_packet(struct port *p, const struct record *r);
void port_take_reset(struct port *p, const struct record *r);
void port_forget_negotiation(struct port *p);
struct stream *port_stream(struct port *p, unsigned set, unsigned player);
void port_deliver(struct port *p, struct sent *m, enum delivery how, uint64_t goodcrc_frame);
int64_t port_slack_ns(const struct port *p, const struct record *r, bool measured);

/* port_edges.c */
void port_take_edges(struct port *p, const struct record *r);
/* Once the port model has taken it: a packet (speech) or reset (NULL), where edges were seen before. */
void port_edges_meet(struct port *p, const struct record *r, const struct speech *s);
void port_edges_pass_time(struct port *p, int64_t t_ns);
void port_edges_end(struct port *p); /* of the trace */
void port_edges_free(struct port *p);

/* port_offers.c */
void port_take_offer(struct port *p, bool epr, unsigned side);
void port_offer_delivered(struct port *p, const struct sent *m);
void port_settle_offer(struct port *p, unsigned k);
void port_take_request(struct port *p, bool epr);
void port_take_answer(struct port *p, enum request_state state);
void port_take_ready(struct port *p);

/* port_messages.c */
void port_take_message(struct port *p);
