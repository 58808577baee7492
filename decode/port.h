/*
 * decode/port.h - what is going on at one connector, worked out once, record by record, for every command.
 *
 * The bench holds a port model for each port that a record spoke of. It is fed the records of a trace in order
 * (capture/trace.h) and tells its observers what happened: messages, deliveries, offers, requests, contracts, attach,
 * detach, resets, swaps, losses. Memory is fixed per port. Definitions: DEVELOPERS.md, "The port model".
 *
 *   _ns  nanoseconds since 1970, as in records     frames  numbers of records, 0 = none
 */
#pragma once
#include "capture/about.h"
#include "capture/record.h"
#include "decode/bmc.h"
#include "decode/chunks.h"
#include "decode/message.h"
#include "decode/objects.h"

/* Who speaks, by the role that it has at that moment. */
enum side { SIDE_SOURCE, SIDE_SINK, SIDE_CABLE, SIDE_UNKNOWN };
/* The two port partners, whatever role they have: PLAYER_A is the one that was the source when roles were learnt. */
enum player { PLAYER_A, PLAYER_B, PLAYER_CABLE, PLAYER_UNKNOWN };

const char *side_name(unsigned side); /* source sink cable unknown */

/* The revision that a port and its partner agreed on (from the first Request on that was heard). */
enum agreed_revision { AGREED_UNKNOWN, AGREED_R2, AGREED_R3 };
/* What is known of a side's edition inside 3.x. */
struct edition {
    uint8_t major, minor, version; /* from a Revision message; major 0: none seen. version: major in bits 7:4, minor in 3:0 */
    uint8_t at_least;              /* enum since: SINCE_R30, SINCE_R31, SINCE_R32, by what it uses */
};

/* A packet or reset on the wire, and how its edges were timed (rules/span.h says what they are worth). */
struct wire {
    uint64_t frame;            /* 0: none */
    int64_t  start_ns, end_ns; /* one of them by the nominal length where none was measured: the start with END_TIME, else the end */
    uint8_t  flags;            /* enum record_flag */
    bool     measured;         /* the record's duration is */
};

/* One packet as the model understands it. */
struct speech {
    struct message m;
    uint8_t  side;             /* enum side */
    uint8_t  player;           /* enum player */
    bool     good;             /* CRC fits, or is absent without TRUNCATED */
    bool     copy;             /* the same message again (retry) */
    bool     measured;         /* duration_ns is not 0 */
    uint64_t frame;
    int64_t  start_ns, end_ns; /* end: nominal length where none was measured */
    uint8_t  news;             /* enum chunk_news */
    const uint8_t *data;       /* complete extended message: its data block (also a single chunk's) */
    uint16_t size;
    uint64_t first_frame;      /* of a message in chunks: the frame of chunk 0, else frame */
    uint8_t  flags;            /* of the record */
    struct wire spoilt;        /* the first of the bad packets that this message makes good, being a copy of it; frame 0: none */
    const struct sent *acknowledged; /* GoodCRC: the message it answers, or NULL */
};

/* A message on its way: the last one of each sender on each ordered set. */
enum delivery { DELIVERY_OPEN, DELIVERY_PROVEN, DELIVERY_UNPROVEN };
struct sent {
    uint64_t frame, last_frame;      /* first good copy, last copy */
    int64_t  start_ns, end_ns;       /* start of the first copy, end of the last */
    uint16_t header;
    uint8_t  index, id, copies, player;
    uint8_t  delivery;               /* enum delivery */
    uint64_t goodcrc_frame;
    bool     held;                   /* there is one */
    bool     unheard;                /* repeated after it was acknowledged: its sender did not hear that */
    bool     chunk_request;
    uint8_t  chunk;
    /* Times of the first good copy's end, the last copy's start, the GoodCRC (goodcrc_frame), and how they were taken. */
    int64_t  first_end_ns, last_start_ns, goodcrc_start_ns, goodcrc_end_ns;
    uint8_t  first_flags, last_flags, goodcrc_flags;
    bool     first_measured, last_measured, goodcrc_measured;
    struct wire spoilt;              /* bad copies came before the first good one: the first of them; frame 0: none */
};
struct wire sent_first(const struct sent *m);   /* first copy: a bad one that a good one followed counts */
struct wire sent_last(const struct sent *m);
struct wire sent_goodcrc(const struct sent *m); /* frame 0: none was recorded */
struct wire speech_wire(const struct speech *s);

/* One sender on one ordered set. */
struct stream {
    struct sent last;
    uint8_t  id;                     /* last MessageID */
    bool     id_known;
    bool     reset_pending;          /* its next message is the first after a reset: MessageID 0 owed */
    uint64_t reset_frame;            /* what reset it */
    bool     last_unacknowledged;    /* the message before was never acknowledged */
    bool     bad_between;            /* a bad packet since its last message, not made good by a copy */
    bool     lost_between;           /* records are missing since what reset it (reset_pending) */
    bool     partner_between;        /* a message of the partner ended since its last message */
    bool     accept_owed;            /* the partner sent Soft_Reset, and only Soft_Resets were said since */
    int64_t  busy_ns;                /* how long other packets held this ordered set since the end of its last copy */
};
enum { STREAMS = 10 };
/* Place of a sender's stream: on SOP player B's is the second of the two, on the other sets the plug's. */
static inline unsigned stream_index(unsigned set, unsigned player)
{
    return set * 2 + (player == (set == SET_SOP ? PLAYER_B : PLAYER_CABLE) ? 1 : 0);
}

struct offer {
    uint64_t frame, first_frame;
    int64_t  t_ns, end_ns;
    uint8_t  count;
    uint8_t  side;                   /* who offered (SIDE_SOURCE, SIDE_SINK) */
    uint8_t  player;
    uint8_t  revision;               /* header revision of the message */
    bool     epr;                    /* EPR_Source_Capabilities, EPR_Sink_Capabilities */
    bool     delivered;
    bool     asked;                  /* answers Get_Source_Cap, Get_Sink_Cap or Extended_Control */
    bool     after_soft_reset;       /* the first since a Soft_Reset, which obliges the source to offer again */
    bool     in_contract;            /* an explicit contract was in force */
    bool     first_of_attach;
    bool     other_occupied;         /* another port of the bench was occupied */
    bool     same_as_last;           /* same words as the last announcement of this kind of the attach */
    bool     known;                  /* there is one */
    uint32_t words[PDO_MAX];
    struct pdo pdos[PDO_MAX];        /* zero fillers have word 0 */
};

enum request_state { REQUEST_SENT, REQUEST_ACCEPTED, REQUEST_REJECTED, REQUEST_WAIT, REQUEST_READY };
struct request {
    uint64_t frame, answer_frame;
    int64_t  t_ns, end_ns, answer_ns;
    struct rdo rdo;
    struct pdo asked;                /* object asked for; word 0 if unknown or no such position */
    uint32_t copy_word;              /* EPR_Request: second object */
    uint8_t  words;                  /* number of objects sent */
    uint8_t  revision, player;
    uint8_t  state;                  /* enum request_state */
    bool     epr;                    /* EPR_Request */
    bool     offer_known;            /* the offer it refers to is known, and no record that may have changed it is missing */
    bool     position_valid;         /* that position holds an object */
    bool     held;
    uint64_t offer_frame;
    int64_t  offer_ns;
    uint8_t  offer_count;
    bool     first_of_attach;
};

enum contract_end {
    CONTRACT_RENEGOTIATED, CONTRACT_HARD_RESET, CONTRACT_SWAP, CONTRACT_EPR_EXIT, CONTRACT_SUPPLY_LOST,
    CONTRACT_DETACHED, CONTRACT_TRACE_END,
};
const char *contract_end_name(unsigned end);
struct contract {
    bool     held;
    uint64_t frame;
    int64_t  t_ns, until_ns;
    uint8_t  position, supply, ended_by;
    int32_t  mv, ma, mw;             /* operating point asked for; mw: battery, else 0 */
    int32_t  most_ma, most_mw;       /* Maximum Operating Current, Power, within the object; with GiveBack (a least stands there): as ma, mw */
    uint32_t renewed;
    uint32_t pdo_word;
    bool     epr;
};

/* Discover Identity, as acknowledged. */
struct identity {
    uint64_t frame;
    int64_t  t_ns;
    uint8_t  count;                  /* objects after the VDM header */
    uint8_t  revision;               /* header revision of the message */
    uint8_t  set;
    uint32_t words[7];               /* VDM header, ID Header, Cert Stat, Product, product type VDOs */
};

/* What of a port model a rating or an identity needs to say: last seen of each kind and player, whatever role it has now, with its frame. */
struct ratings {
    uint64_t source_info_frame[2];  uint32_t source_info[2];           /* SIDO */
    uint64_t source_ext_frame[2];   uint8_t source_ext[2][25]; uint8_t source_ext_size[2];
    uint64_t sink_ext_frame[2];     uint8_t sink_ext[2][24];   uint8_t sink_ext_size[2];
    uint64_t revision_frame[3];  uint32_t revision[3];                 /* RMDO by player (PLAYER_CABLE: cable) */
    uint64_t manufacturer_frame[3]; uint8_t manufacturer[3][26]; uint8_t manufacturer_size[3];
    uint64_t battery_frame[2];   uint8_t battery[2][9];                /* Battery_Capabilities */
    uint64_t status_frame[2];    uint8_t status[2][7]; uint8_t status_size[2];
};

/* A packet or reset as the changes of level of the CC line show it (CC_EDGES). */
struct edge_frame {
    struct bmc_frame f;              /* bytes is NULL; times in ticks of its own clock */
    uint32_t tick_ps;
    int64_t  start_ns, end_ns;
    uint64_t edges_frame;            /* CC_EDGES record in which it begins */
    uint64_t frame;                  /* record of the same packet or reset; 0: there is none */
    uint16_t header;                 /* 0: not read */
    uint8_t  side, player;           /* who sent it, as in struct speech: of a bad one by the copy that made it good */
    bool     hole;                   /* the line is not known at its end */
    bool     received;               /* its record holds it whole, and its CRC fits */
};

enum swap { SWAP_NONE, SWAP_PR, SWAP_FR, SWAP_DR, SWAP_VCONN };
enum attach_by { ATTACH_UNSEEN, ATTACH_BY_CC, ATTACH_BY_VBUS };
enum vbus_state { VBUS_UNKNOWN, VBUS_SAFE_0V, VBUS_BETWEEN, VBUS_PRESENT };
/* VBUS passed into another state in a row of a POWER record. The record is taken at its start: what other records say before
 * that row comes first. */
struct crossing { int64_t t_ns; uint64_t frame; uint8_t state; };
enum { CROSSINGS_MAX = 8 };

struct bench;

struct port {
    uint8_t  number;
    struct bench *bench;
    /* attach */
    bool     attached;               /* as far as known */
    uint8_t  attach_seen;            /* enum attach_by: this attach began inside the trace */
    bool     cc_seen;                /* the port has CC_STATE records */
    uint8_t  cc_attach, cc_rp;
    uint8_t  cc_open_spoke;          /* ... players that have spoken since, a bit each: both cannot where nothing is attached */
    int64_t  cc_open_ns;             /* CC shows nothing attached since: a detach, or the port is the sink by a missed swap; else INT64_MIN */
    uint64_t attach_frame, attaches;
    int64_t  attach_ns;
    uint64_t begun_frame;            /* packet with which an attach that nobody saw may have begun (port_plug_unseen); 0: none */
    bool     plugged_mark;           /* MARK plugged without unplugged since */
    /* readings */
    bool     vbus_seen, ibus_seen, edges_seen, durations_seen, instrument_time_seen;
    struct record_range volts, amps; /* of the last POWER record */
    uint8_t  vbus_state;             /* enum vbus_state, now */
    uint8_t  vbus_ahead;             /* the same after the last row taken: crossings lead to it */
    uint8_t  crossing_count;
    struct crossing crossings[CROSSINGS_MAX];
    int64_t  vbus_low_ns;            /* since when below 0.8 V */
    /* Readings that go by a clock of their own (instrument.align_ns): */
    int64_t  rise_untied_until_ns;   /* VBUS rose, and until then it may have been at any time; INT64_MIN: no */
    bool     cable_first;            /* nobody has spoken on SOP since a cable was asked, from 0: a new attach may have begun so */
    bool     fall_untied;            /* VBUS fell, and what brought it about may come to light yet */
    int64_t  vbus_high_ns;           /* since when above 4.0 V after it was not; INT64_MIN: not in the trace */
    bool     current_flows;          /* last IBUS > 50 mA */
    /* roles: role[player] is SIDE_SOURCE or SIDE_SINK; data role true = DFP */
    bool     roles_known, data_roles_known[2], vconn_known;
    uint8_t  role[2];
    bool     dfp[2];
    uint8_t  data_unshown;           /* players (a bit each) that have said nothing on SOP since a DR_Swap was accepted */
    uint8_t  vconn;                  /* player that sources VCONN */
    bool     spoken[3];              /* by player, since attach */
    bool     dual_role;              /* source's PDO 1 bit 29, of this attach */
    /* revision */
    uint8_t  agreed;                 /* enum agreed_revision */
    bool     agreement_open;         /* by a Request that nobody has acknowledged or answered yet */
    bool     agreed_doubt;           /* records are missing since: there may be another agreement */
    uint8_t  caps_revision;          /* header revision + 1 of the source's capabilities; 0 unknown */
    struct edition edition[3];       /* by player */
    /* negotiation */
    struct offer offer, epr_offer;   /* last delivered, of the source */
    struct offer announced[2];       /* last announced: [0] SPR, [1] EPR; same_as_last is measured against it */
    struct offer sink_announced[2];
    bool     offer_owed;             /* a Soft_Reset came: the source's next offer is owed to it */
    uint64_t offer_gap_frame;        /* last gap in which an offer may have been missed */
    bool     offer_uncertain;        /* records are missing since the offer: it may have changed */
    struct request request;
    struct contract contract;
    bool     epr_mode, epr_mode_known;
    int64_t  epr_since_ns;
    uint8_t  swap;                   /* enum swap under way */
    uint8_t  swap_phase;             /* 1 accepted, 2 the old source is off */
    uint8_t  swap_asked;             /* enum swap asked for, not yet answered */
    uint8_t  swap_asker;             /* player */
    uint8_t  swap_source;            /* player that was the source when PR_Swap or FR_Swap was accepted */
    int64_t  swap_ns;
    /* the exchange that is open on SOP */
    uint8_t  asked_index;            /* message that asks; 0 none */
    uint8_t  asked_player;
    uint64_t asked_frame;
    int64_t  asked_ns;
    /* resets and losses */
    int64_t  hard_reset_ns, loss_from_ns, loss_to_ns, bad_ns;
    uint64_t hard_reset_frame, loss_frame, bad_frame;
    int64_t  last_good_ns;           /* start of the last good packet */
    int64_t  last_packet_ns;         /* start of the last packet, reset or LOST */
    int64_t  copy_ns;                /* start of the last copy of a message on SOP; INT64_MIN: none */
    int64_t  first_ns;
    /*
     * Half of all packets are GoodCRCs as they should be: on SOP, in answer to a message whose sender showed its own power
     * role, with the other role in the header, no swap or reset near. They are counted and not told of one by one.
     */
    uint64_t ordinary_goodcrcs;
    bool     any_packet;
    bool     missed;                 /* messages may have been missed, and power was neither offered nor asked for since */
    int64_t  missed_ns;              /* ... until when */
    bool     sides_lost;             /* a missed swap may have turned who of the players is the port under test */
    int64_t  doubt_until_ns;         /* a swap may be under way of which a part was missed: who is who is not known; 0: none */
    uint64_t bad_plug_frame;         /* the same on SOP' */
    uint64_t bad_missed_frame;       /* last bad packet on SOP that no copy made good: it may have been any message */
    bool     bad_fresh;              /* a bad packet that a good copy may still make good */
    uint8_t  bad_set;
    uint16_t bad_length;             /* its bytes without CRC, 0: not known */
    struct wire bad_first;           /* the first of the bad copies of one message */
    bool     bad_again;              /* the bad packet in hand is one more of them */
    bool     offer_open[2];          /* announced[k] is neither delivered nor given up */
    /* senders, by stream_index */
    struct stream streams[STREAMS];
    uint8_t  last_stream[5];         /* by ordered set: stream of the last good packet that was no GoodCRC, + 1; 0 none */
    struct chunks chunks[6];         /* SOP A, SOP B, SOP' port, SOP' plug, SOP'' port, SOP'' plug */
    struct speech speech;            /* the packet being looked at */
    /* who is there */
    struct identity identity[4];     /* player A, player B, cable SOP', cable SOP'' ; frame 0: not seen */
    struct ratings  ratings;
    /* the CC line, where CC_EDGES show it */
    struct port_edges       *edges;      /* NULL: nothing of it is looked at */
    const struct edge_frame *edge_frame; /* EVENT_FRAME: which */
};

enum event_kind {
    EVENT_PACKET,        /* every PD packet: speech */
    EVENT_MESSAGE,       /* first good copy of a message that is no GoodCRC: speech */
    EVENT_GOODCRC,       /* good GoodCRC: speech */
    EVENT_GOODCRC_ODD,   /* the same, where it is not ordinary (struct port, ordinary_goodcrcs) */
    EVENT_DELIVERED,     /* sent: that message was delivered */
    EVENT_ANNOUNCED,     /* an offer is complete, of either side: offer (same_as_last tells repeats) */
    EVENT_OFFER,         /* an offer of the source stands: delivered, or nobody is there to hear it: offer */
    EVENT_REQUEST,       /* Request or EPR_Request: request */
    EVENT_ANSWERED,      /* Accept, Reject or Wait to it: request */
    EVENT_CONTRACT,      /* a contract begins: contract */
    EVENT_RENEWED,       /* the same operating point again: contract */
    EVENT_CONTRACT_END,  /* contract, until_ns and ended_by set */
    EVENT_ATTACH, EVENT_DETACH,
    EVENT_HARD_RESET, EVENT_CABLE_RESET,
    EVENT_SOFT_RESET,    /* Soft_Reset message seen: speech */
    EVENT_SWAPPED,       /* swap: which was completed */
    EVENT_EPR_ENTERED, EVENT_EPR_LEFT,
    EVENT_LOSS,          /* records of this port are, or may be, missing */
    EVENT_POWER,         /* POWER record */
    EVENT_CC,            /* CC_STATE record */
    EVENT_MARK,
    EVENT_FRAME,         /* a packet or reset in CC_EDGES: port->edge_frame; speech if it is the record in hand. Once its record, if any, is known */
    EVENT_END,           /* of the trace, once a port */
    EVENT_KINDS
};
#define EVENT_BIT(kind) (UINT32_C(1) << (kind))

struct event {
    enum event_kind       kind;
    const struct port    *port;
    const struct record  *record;    /* NULL at the end */
    int64_t               t_ns;
    uint64_t              frame;
    const struct speech  *speech;
    const struct sent    *sent;
    const struct offer   *offer;
    const struct request *request;
    const struct contract *contract;
    enum swap             swap;
};

typedef void event_observer(void *context, const struct event *event);

struct bench *bench_new(void); /* NULL: no memory */
void bench_free(struct bench *b);
struct about *bench_about(struct bench *b);
/* Numbers that the model goes by and that may be set otherwise, before the first record. bench_new: those of decode/times.h. */
struct bench_limits {
    int64_t receive_least_ns, receive_most_ns; /* tReceive */
    int64_t rate_least, rate_most;             /* fBitRate, bit/s, above 0 */
    int64_t host_time_ns;                      /* standard uncertainty of a stamp of the host, where ABOUT gives none */
};
void bench_set_limits(struct bench *b, const struct bench_limits *limits);
const struct bench_limits *bench_limits(const struct bench *b);
/* Uncertainty of a time stamp where ABOUT gives none: trace_facts' default_time_ns. */
void bench_default_time(struct bench *b, int64_t time_ns);
/* Expanded uncertainty (2 x standard) of one edge of a record with these flags, ns ("stamp" and HOST_TIME of the uncertainty of a time). */
int64_t bench_stamp_ns(const struct bench *b, unsigned port, unsigned flags);
/* CC shows nothing attached, and no two have talked to each other since: most likely there is nobody there. */
bool port_maybe_open(const struct port *p);
/* Neither CC nor VBUS is recorded: nobody sees a plug pulled. */
bool port_plug_unseen(const struct port *p);
/* At most six observers; wants: EVENT_BITs. */
void bench_observe(struct bench *b, uint32_t wants, event_observer *observer, void *context);
/* The observer added last hears EVENT_MESSAGE and EVENT_DELIVERED of these messages alone: a word of bits for each class. */
void bench_observe_only(struct bench *b, uint32_t control, uint32_t data, uint32_t extended);
/* Counts in struct port are of what happens from from_ns to to_ns; everything unless this was called. */
void bench_count_between(struct bench *b, int64_t from_ns, int64_t to_ns);
/* One record, sound or not (a damaged one may be a loss). stepped_back: trace_stepped_back. False: no memory. */
bool bench_feed(struct bench *b, const struct record *r, bool stepped_back);
/* Closes what is open. t_ns: the last time of the trace. */
void bench_end(struct bench *b, int64_t t_ns);
/* What the model made of the packet fed last; NULL if that was no packet. */
const struct speech *bench_speech(const struct bench *b);
/* NULL if no record spoke of it. */
const struct port *bench_port(const struct bench *b, unsigned number);
bool bench_other_occupied(const struct bench *b, unsigned number);
/* Time since 1970 of the start of the previous record of that port (for the record fed last); INT64_MIN if none. */
int64_t bench_previous_ns(const struct bench *b);
