/*
 * cli/synth/synth_life.h - the life of one port: two partners and a cable, the state between them, and the records they leave.
 *
 *   _ns int64_t nanoseconds since 1970 · _mv _ma _w millivolt, milliampere, watt · _uv _ua microvolt, microampere
 *
 * Everything happens at l->now_ns, which only synth_to moves; whatever lies due on the way (readings of POWER, the return of Rp)
 * is put down as it moves. A function of an exchange returns false when the exchange broke off (a fault, a reset): the step ends.
 */
#pragma once
#include "cli/synth/synth_chance.h"
#include "cli/synth/synth_timers.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct injected;
struct plan;
struct signal;
struct step;

/* Who speaks. The first partner is the one that has the source's role at the attach. */
enum player { PLAYER_FIRST, PLAYER_SECOND, PLAYER_PLUG, PLAYERS };
enum { SPR_MAX = 7, EPR_MAX = 6, OFFER_MAX = SPR_MAX + EPR_MAX, OFFER_ROOM = OFFER_MAX + 1, MODES_MAX = 4, SVIDS_MAX = 4, MAKER_BYTES = 22 };

/* Revision and edition of a partner: PD 2.0, or the edition of 3.x that it was made by. */
enum edition { EDITION_2_0, EDITION_3_0, EDITION_3_1, EDITION_3_2 };

enum cable_kind { CABLE_NONE, CABLE_UNMARKED, CABLE_PASSIVE, CABLE_ACTIVE };

/* What a partner can be asked for and does not refuse; by the bits of its profile. */
enum support {
    SUPPORT_SOURCE_EXTENDED = 1 << 0, SUPPORT_SINK_EXTENDED = 1 << 1, SUPPORT_STATUS = 1 << 2, SUPPORT_PPS_STATUS = 1 << 3,
    SUPPORT_COUNTRY = 1 << 4, SUPPORT_SOURCE_INFO = 1 << 5, SUPPORT_REVISION = 1 << 6, SUPPORT_BATTERY = 1 << 7,
    SUPPORT_MAKER = 1 << 8, SUPPORT_SECURITY = 1 << 9, SUPPORT_FIRMWARE = 1 << 10, SUPPORT_IDENTITY = 1 << 11,
    SUPPORT_MODES = 1 << 12, SUPPORT_VCONN_SWAP = 1 << 13, SUPPORT_DATA_RESET = 1 << 14, SUPPORT_ENTER_USB = 1 << 15,
    SUPPORT_ALL = (1 << 16) - 1,
};

/* Which object a sink asks for where the story does not say. */
enum policy { POLICY_DRAWN, POLICY_MOST_POWER, POLICY_MOST_VOLTAGE, POLICY_LEAST_VOLTAGE };

/* What Discover Identity tells of a partner under 3.x: nothing, a UFP's kind, a DFP's, or both. */
enum product { PRODUCT_NONE, PRODUCT_HUB, PRODUCT_PERIPHERAL, PRODUCT_HOST, PRODUCT_BRICK, PRODUCT_DRD };

struct partner {
    unsigned policy;                   /* enum policy */
    unsigned edition;                  /* enum edition */
    unsigned version;                  /* of its Revision message: 0x10 is 1.0 */
    uint32_t source[SPR_MAX], sink[SPR_MAX], epr[EPR_MAX];
    unsigned source_count, sink_count, epr_count;
    unsigned pdp_w, epr_w;             /* ratings; epr_w 0: no EPR */
    bool     dual_power, dual_data, usb_comm, unchunked, fast_swap;
    uint32_t supports;                 /* enum support bits */
    unsigned batteries;                /* fixed ones */
    unsigned vid, pid, svid;
    unsigned product;                  /* enum product: what it says it is */
    char     maker[MAKER_BYTES + 1];
};

struct plug { unsigned kind; unsigned edition, max_ma, max_volt; bool epr, far; unsigned vid; }; /* kind: enum cable_kind; far: both plugs of an active one talk */

/*
 * A level that changes by ramps. An exponential one goes from where it is toward aim with its time constant, and is at to when its time is over;
 * over_uv: the peak beyond that level, or below it, that follows.
 */
enum ramp_shape { RAMP_STRAIGHT, RAMP_EXPONENTIAL, RAMP_S };
enum { WAVE_RAMPS = 16, RAMP_TAUS = 10 }; /* an exponential ramp lasts so many of its time constants */
struct ramp { int64_t from_ns, until_ns, tau_ns; int32_t to, aim, over_uv; enum ramp_shape shape; };
struct wave { int32_t base; unsigned count; struct ramp ramps[WAVE_RAMPS]; };

/* A message before it becomes packets. */
enum { SAY_BYTES = 2 + 260 + 8, SAY_COUNT_BY_LENGTH = -1 };
enum { SET_SOP, SET_SOP1, SET_SOP2 };
struct say {
    uint8_t  from, set, type;       /* enum player; ordered set as in a record; message type */
    bool     extended;
    int      count;                 /* Number of Data Objects in the header, or SAY_COUNT_BY_LENGTH */
    unsigned length;                /* bytes after the header */
    uint8_t  body[SAY_BYTES];
    uint16_t flip;                  /* header bits that a fault turns round */
    bool     unheard;               /* there is nobody to acknowledge it */
    bool     id_given;              /* a fault sets the MessageID */
    uint8_t  id;
};

struct record_entry { int64_t sort_ns, stamp_ns; size_t at, length; uint64_t serial; };

enum { POWER_ROWS_MAX = 400 };

struct life {
    const struct plan *plan;
    struct synth      *s;
    unsigned           index;       /* among the lives of the scenario */
    uint8_t            port;        /* as it stands in the records */
    struct chance      chance;
    int64_t            now_ns;
    unsigned           step;        /* of the plan, or how many were drawn */
    int64_t            idle_until_ns; /* a wait under way */
    bool               told, over, failed, muted; /* told: its steps are played, but the other ports' may not be */

    /* the two and their cable */
    struct partner     partner[2];
    struct plug        plug;
    int64_t            bit_ps[PLAYERS]; /* length of a bit, picoseconds */

    /* state between them */
    bool               attached, contract, epr_mode, plug_heard, plug_known, far_known, far_new_host, plug_trusted, plug_new_host, in_mode, spoken[2];
    unsigned           source, dfp, vconn; /* enum player */
    unsigned           agreed;             /* 0: not yet; else the header's revision bits, 1 or 2 */
    unsigned           plug_agreed;
    uint8_t            next_id[3][PLAYERS];
    uint32_t           offer[OFFER_ROOM];  /* as last told, in its places; 0: nothing there */
    unsigned           offer_count;
    uint32_t           spr[SPR_MAX];       /* the last Source_Capabilities: in EPR mode they are told again */
    unsigned           spr_count, offers;  /* offers: told since the attach */
    bool               powering;           /* from a Request to its PS_RDY */
    unsigned           role_settling;      /* bits of players that have said nothing since data roles were exchanged */
    bool               asked;              /* the offer under way answers a question */
    int64_t            offer_ns, unasked_ns; /* end of the last one; of the last in a contract that did not */
    uint32_t           request;
    const struct injected *slow_off;  /* VBUS goes off otherwise after the reset under way */
    unsigned           position;           /* of the object in force; 0: none */
    int32_t            contract_mv, contract_ma;
    int64_t            done_ns;            /* end of the last GoodCRC: the edge that most timers start from */
    int64_t            sent_end_ns;        /* end of the last copy of the last message */
    int64_t            request_end_ns, sink_end_ns; /* last Request; last message of the sink */
    int64_t            request_done_ns;             /* end of its GoodCRC */
    int64_t            vsafe5v_ns;

    /* the CC line */
    uint8_t            rp;
    int64_t            rp_since_ns, rp_ok_ns; /* rp_ok_ns: when it returns to 3.0 A; INT64_MAX: not due */

    /* VBUS */
    struct wave        vbus, ibus;
    int64_t            vbus_ppm;           /* how far the source is off */
    int32_t            vbus_off_uv;        /* ... and by how much more from some step on */
    int32_t            load_ma;
    bool               limiting;           /* the load asks for more current than there is */
    int32_t            unlimited_uv;       /* where VBUS stood before */
    struct chance      volts;              /* of what only readings show */
    uint8_t            events;             /* event flags of the source's Status */
    int64_t            power_from_ns;      /* first row of the block in hand */
    int64_t            power_next_ns;
    bool               modelled;           /* readings and VBUS have what the keys of output and instrument add */
    struct chance      noise;              /* of readings of that kind alone */
    struct chance      edges;              /* of changes of level alone */
    int64_t            edges_end_ns;       /* so far the CC line was recorded */
    size_t             edges_at;           /* place of that record's bytes */
    unsigned           rows;               /* of the block in hand, read already */
    int32_t            cells[2 * POWER_ROWS_MAX];
    double             path_ohm;           /* what truly lies between the source's receptacle and where VBUS is read */
    bool               no_input;           /* plugged in, but the source has nothing to live on */
    size_t             truth;              /* 1 + place of the contract's truth; 0: it has none */

    /* records on their way out */
    struct record_entry *queue;
    size_t             head, count, queue_cap;
    uint8_t           *bytes;
    size_t             used, bytes_cap;
    uint64_t           serial;             /* of the next record */
    int64_t            last_stamp_ns;      /* of the stream of packets and CC */
    uint64_t           blame_next;         /* bits of injections whose frame is the next packet */
    uint64_t           last_packet_serial, sent_serial, sink_serial, last_written_serial, last_written_frame;
    int64_t            last_written_ns;
    /* what faults have changed: the plug fits no EPR mode but is taken for one; what is wrong with the entry ahead; bit 29 is hidden */
    const struct injected *plug_fault, *entry_fault;
    bool               no_dual_power;
    int64_t            entry_ns;           /* Enter was acknowledged */
    int64_t            ready_at_ns;        /* of the PS_RDY ahead; 0: as drawn */
    /*
     * Of offers: whom the one under way is to blame on, the objects that a sink does not ask for, a plug of 3 A taken for one of 5 A,
     * EPR Capable that is hidden, a rating and peak currents that the source does not stand by.
     */
    uint64_t           offer_blame;
    unsigned           shunned;
    const struct injected *strong_fault, *flag_fault;
    bool               peak_untold;
    unsigned           present_w;
    int64_t            gap_from_ns, gap_to_ns; /* a blind: nobody reads VBUS */
    unsigned           lose;               /* packets still to be left out by a blind */
    unsigned           lost;
};

/* ---- time (synth_life.c) ---- */
void synth_to(struct life *l, int64_t t_ns);                        /* t_ns before now: nothing */
void synth_idle(struct life *l, int64_t us);                        /* a wait in which nothing is said, not even what duty asks */
/* A legal time of this timer, or the one that a fault names; what comes next is then to blame on player. */
int64_t synth_draw_ns(struct life *l, enum synth_timer timer, unsigned player);
void synth_wait(struct life *l, enum synth_timer timer, unsigned player);               /* from now */
void synth_wait_from(struct life *l, int64_t edge_ns, enum synth_timer timer, unsigned player);
int64_t synth_margin_ns(const struct life *l);

/* ---- who is who ---- */
static inline unsigned sink_of(const struct life *l) { return l->source == PLAYER_FIRST ? PLAYER_SECOND : PLAYER_FIRST; }
static inline bool plug_far(const struct life *l) { return l->plug_known && l->plug.kind == CABLE_ACTIVE && l->plug.far; }
static inline unsigned other_of(unsigned player) { return player == PLAYER_FIRST ? PLAYER_SECOND : PLAYER_FIRST; }
static inline bool revision_3(const struct life *l) { return l->agreed == 2; }
/* Both know it: edition or later on both sides. */
bool synth_both(const struct life *l, unsigned edition);

/* ---- saying something (synth_wire.c) ---- */
enum { REV_2 = 1, REV_3 = 2 };
struct say say_control(unsigned player, unsigned type);
struct say say_data(unsigned player, unsigned type, unsigned count, const uint32_t *words);
void say_word(struct say *m, uint32_t word);
/* Sends it from now on, with what it takes until it is acknowledged; now is then the end of the GoodCRC. False: never acknowledged. */
bool synth_say(struct life *l, struct say *m);
/* Sends it with its repeats where nobody hears; a GoodCRC that nothing called for. */
void synth_say_unheard(struct life *l, struct say *m);
void synth_goodcrc_alone(struct life *l, unsigned player);
bool synth_say_control(struct life *l, unsigned player, unsigned type);
bool synth_say_data(struct life *l, unsigned player, unsigned type, unsigned count, const uint32_t *words);
/* Extended messages, in chunks or whole; answer_timer and player are those of the first packet's wait, already over. */
bool synth_say_extended(struct life *l, unsigned player, unsigned set, unsigned type, const uint8_t *block, unsigned size);
/* A signal without packet: a reset. */
void synth_signal(struct life *l, unsigned player, uint8_t which);
void synth_ids_reset(struct life *l, unsigned set);

/* ---- records (synth_record.c) ---- */
/* How it went over the line; its length is that of the signal. */
void synth_put_packet(struct life *l, int64_t start_ns, const struct signal *g, uint8_t set, const uint8_t *bytes, size_t length);
void synth_put_reset(struct life *l, int64_t start_ns, const struct signal *g, uint8_t which);
/* A record CC_EDGES: body with its head. */
void synth_enqueue_edges(struct life *l, int64_t start_ns, int64_t stamp_ns, uint32_t duration_ns, const uint8_t *body, size_t length);
void synth_shorten_edges(struct life *l, int64_t until_ns);          /* the last of them ends then */
void synth_put_cc(struct life *l, uint8_t attach, uint8_t rp);
void synth_put_mark(struct life *l, uint8_t action, int32_t value, const char *text);
void synth_put_power(struct life *l, int64_t start_ns, unsigned rows, const int32_t *cells, unsigned columns);
void synth_queue_free(struct life *l);
void synth_queue_tidy(struct life *l); /* room of what was given away is used again */

/* ---- what the truth says of voltages (synth_truth_volts.c) ---- */
/* low_uv, high_uv: the window of what was agreed on; window_ns: VBUS is in it, 0: it never is; times 0: no move */
struct move_truth { int64_t begin_ns, window_ns, end_ns, over_ns; int32_t from_uv, over_uv, low_uv, high_uv; };
void    truth_contract(struct life *l, const struct move_truth *m); /* a PS_RDY made it, which was just sent */
void    truth_load(struct life *l, int32_t to_ua);              /* from now on */
void    truth_seen(struct life *l, int64_t t_ns, double volt, double amp);

/* ---- VBUS and Rp (synth_power.c) ---- */
void    wave_set(struct wave *w, int64_t from_ns, int64_t until_ns, int32_t to);
int32_t wave_at(const struct wave *w, int64_t t_ns);
int32_t wave_end(const struct wave *w);
void    synth_power_to(struct life *l, int64_t t_ns);  /* puts down every block that is full by then */
void    synth_power_close(struct life *l);
void    synth_vbus(struct life *l, int64_t from_ns, int64_t until_ns, int32_t mv); /* as the source makes it, with its small error */
void    synth_vbus_rise(struct life *l, int64_t at_0v8_ns, int64_t at_4v75_ns);
void    synth_load(struct life *l, int32_t ma);
int64_t synth_load_ns(const struct life *l);                     /* how long a step of the load takes */
void    synth_vbus_shape(struct life *l);                       /* the ramp that was set last goes by the output's shape */
/* From when to when a rise from 0 V lasts that crosses 0.8 V and 4.75 V (95 % where the level is below that) at these times. */
void    synth_rise_by_shape(const struct life *l, int32_t level_uv, int64_t at_0v8_ns, int64_t at_4v75_ns, int64_t *from_ns, int64_t *until_ns);
/* A change of contract goes by the output's shape, slew and overshoot: how long it takes where there is no more time than that. */
int64_t synth_move_ns(const struct life *l, int32_t from_uv, int32_t to_uv, int64_t most_ns);
/* How long after its beginning a change is 200 mV away, as far as the shape makes it later than a straight line. */
int64_t synth_move_lag_ns(const struct life *l, int32_t by_uv, int64_t ramp_ns);
/* The ramp that was set last is a change of contract from there: it gets its overshoot, and this is the truth of it. */
void synth_move_truth(struct life *l, int32_t from_uv, struct move_truth *m); /* low_uv, high_uv: given */
/* Off: where the output says how VBUS is discharged, how long it takes to 0.8 V, else 0; down from from_ns, 0.8 V at the other time. */
int64_t synth_discharge_ns(const struct life *l, int32_t from_uv);
void    synth_vbus_discharge(struct life *l, int64_t from_ns, int32_t from_uv, int64_t at_0v8_ns);

/* ---- what is true of VBUS and the current, and what is read of it (synth_volts.c) ---- */
void    volts_begin(struct life *l);
double  volts_true(const struct life *l, int64_t t_ns);    /* volt at the source's receptacle, without noise */
double  amps_true(const struct life *l, int64_t t_ns);
double  volts_dip(const struct life *l, const struct ramp *r, int32_t from_ua, int64_t t_ns); /* ... what is missing of it after a load step */
void    volts_row(struct life *l, int64_t t_ns, int32_t cells[2]);
void    synth_rp(struct life *l, uint8_t rp);
enum { RP_DEFAULT = 1, RP_1_5 = 2, RP_3_0 = 3 };

/* ---- exchanges ---- */
/* Before a player opens an exchange: the duties of an idle port, a little time, and on 3.x the Rp that allows it. */
void synth_open_exchange(struct life *l, unsigned player);
void synth_close_exchange(struct life *l); /* the source lets the sink speak again after a while */
/* Lives on without anything to say until t_ns: keep-alives and re-requests fall due. */
bool synth_live_until(struct life *l, int64_t t_ns);

bool synth_attach(struct life *l);
bool synth_first_offer(struct life *l);
void synth_detach(struct life *l);
bool synth_input_off(struct life *l); /* the source lives on for its hold-up; the next attach is for the input that is back */
bool synth_discover_cable(struct life *l, unsigned player);
bool synth_discover_far(struct life *l, unsigned player); /* the plug at the other end, on SOP'', where it has a controller */
bool synth_tell_offer(struct life *l);                       /* SPR or EPR, as the mode has it; exchange opened already */
/* Capabilities, and what follows: Request, Accept, PS_RDY. want: 0, or the word to ask with. */
bool synth_negotiate(struct life *l, uint32_t want);
bool synth_request(struct life *l, uint32_t word);           /* from the Request on */
bool synth_request_step(struct life *l, const struct step *s);
bool synth_renegotiate(struct life *l, const struct step *s);
bool synth_repeat_request(struct life *l);                   /* the duty of PPS */
bool synth_keep_alive(struct life *l);                       /* the duty of EPR mode */
uint32_t synth_any_request(struct life *l);
bool synth_offer_changed(struct life *l);                    /* would it be another than the one told last? */
void synth_offer_make(struct life *l);                       /* what the source would offer now, into l->offer */

bool synth_hard_reset(struct life *l, unsigned player);
bool synth_soft_reset(struct life *l, unsigned player);
bool synth_soft_reset_plug(struct life *l, unsigned set); /* SOP', SOP'' */
bool synth_cable_reset(struct life *l);

bool synth_pr_swap(struct life *l, const struct step *s);
bool synth_dr_swap(struct life *l, const struct step *s);
bool synth_vconn_swap(struct life *l, const struct step *s);
bool synth_fr_swap(struct life *l, const struct step *s);
bool synth_data_reset(struct life *l, const struct step *s);
bool synth_enter_usb(struct life *l, const struct step *s);

bool synth_get(struct life *l, const struct step *s);
bool synth_alert(struct life *l, const struct step *s);
bool synth_overload(struct life *l, const struct step *s);   /* synth_overload.c */
/* Too much load: limited for a while; from now on at so much current and voltage; no longer (synth_limit.c). */
bool synth_limit(struct life *l, const struct step *s);
void synth_limit_begin(struct life *l, int32_t ma, int32_t uv);
void synth_limit_end(struct life *l);
bool synth_in_pps(const struct life *l);
int32_t synth_limit_by_ma(const struct life *l);             /* iPpsCLNew for the current asked for */
bool synth_long_message(struct life *l, const struct step *s);
bool synth_vdm(struct life *l, const struct step *s);

bool synth_epr_enter(struct life *l, const struct step *s);
bool synth_epr_exit(struct life *l, unsigned player);
bool synth_epr_request(struct life *l, const struct step *s);

/* ---- a step ---- */
bool synth_step_do(struct life *l, const struct step *s);
/* Draws the next step of a random life; false: enough of it. */
bool synth_step_draw(struct life *l, struct step *s);
