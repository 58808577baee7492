/*
 * cli/synth/synth_faults.h - how a fault gets in: the model asks at the place where it could be made.
 *
 *     const struct injected *f = synth_fault(l, "exchange.goodcrc");
 *     if (f) { synth_blame_last(l, f, receiver); ... do it wrong ... }
 *
 * Each such question is an occasion; the answer is yes at the one that the scenario names. A new fault is a row in the table of its
 * family (synth_faults_*.c) and such a question at its place; a time needs neither: every timer is a fault by its own name.
 */
#pragma once
#include "cli/synth/synth_plan.h"

/* How much was made wrong: a time, a voltage, a current, as far as it was asked for. */
struct amount { bool has_ns, has_uv, has_ma; int64_t ns; int32_t uv, ma; };

struct injected {
    const struct injection   *plan;
    struct amount            *used;
    const struct synth_fault *row;    /* NULL: a blind */
    const struct synth_number *timer; /* of a time without a row of its own */
    int64_t   at, seen;               /* the occasion, and how many there were */
    bool      fired, pending;         /* pending: the place in the trace is not written yet */
    const char *who;
    uint64_t  serial, frame;
    int64_t   reading_from_ns;        /* 0: it is not a reading that shows it */
    int32_t   reading_uv;
    bool      reading_above;
    int64_t   t_ns;
};

/* True (not NULL) at the occasion that the scenario chose. */
const struct injected *synth_fault(struct life *l, const char *name);
/* The same, at a place that can make only this variant of it. */
const struct injected *synth_fault_as(struct life *l, const char *name, const char *variant);
/* The same, only if it names just this variant; "": none. */
const struct injected *synth_fault_just(struct life *l, const char *name, const char *variant);
bool synth_variant(const struct injected *f, const char *variant); /* does it name this one? */
/* The amount it names, else usual. */
int64_t synth_amount_ns(const struct injected *f, int64_t usual_ns);
int32_t synth_amount_uv(const struct injected *f, int32_t usual_uv);
int32_t synth_amount_ma(const struct injected *f, int32_t usual_ma);

/* Who is to blame, and which record shows it: the next packet or reset; the last one. player >= PLAYERS: the line itself. */
void synth_blame_next(struct life *l, const struct injected *f, unsigned player);
/* The source, for the offer under way: the packet that completes it. */
void synth_blame_offer(struct life *l, const struct injected *f);
void synth_offer_told(struct life *l);
/* The record that was put down last, whatever its kind. */
void synth_blame_put(struct life *l, const struct injected *f, unsigned player);
void synth_blame_last(struct life *l, const struct injected *f, unsigned player);
/* The last copy of the last message: it called for something that does not come. The same of the last message of the sink. */
void synth_blame_sent(struct life *l, const struct injected *f, unsigned player);
void synth_blame_sink_last(struct life *l, const struct injected *f, unsigned player);
/* The record of the first reading of VBUS from this time on that is below or above so much. */
void synth_blame_reading(struct life *l, const struct injected *f, unsigned player, int64_t from_ns, bool above, int32_t uv);
enum { PLAYER_LINE = PLAYERS };
const char *synth_who(const struct life *l, unsigned player);

/* A family: rows end with name NULL. */
extern const struct synth_fault synth_faults_packet[], synth_faults_time[], synth_faults_exchange[], synth_faults_caps[],
    synth_faults_request[], synth_faults_message[],
    synth_faults_reset[], synth_faults_epr[], synth_faults_swap[], synth_faults_cable[], synth_faults_vdm[],
    synth_faults_ext[], synth_faults_alive[], synth_faults_volt[], synth_faults_pps[];

/*
 * Hook points of the families. Each gives its family one chance to act.
 *   message: a message about to be sent, before its header is made; it may be changed (length, body, header bits by flip)
 *   offer:   the words of an offer about to be told
 *   idle:    nothing is going on, in a contract: a whole exchange may be put in; false: it broke off
 */
void faults_packet_message(struct life *l, struct say *m);
/* How it goes over the line; alone: nothing else is wrong with it. */
void faults_packet_signal(struct life *l, const struct say *m, bool alone, struct signal *g);
/* The sink is about to open an exchange: Rp may have let it only just now. */
void faults_packet_sink_begins(struct life *l);
void faults_exchange_message(struct life *l, struct say *m);
void faults_cable_message(struct life *l, struct say *m);
void faults_vdm_message(struct life *l, struct say *m);
void faults_ext_message(struct life *l, struct say *m);
void faults_caps_message(struct life *l, struct say *m);
void faults_message_message(struct life *l, struct say *m);
bool faults_message_idle(struct life *l);
/* An extended message: its size, whether it goes whole, and of each chunk its number and how many bytes it has. */
unsigned faults_message_size(struct life *l, unsigned player, unsigned type, unsigned size);
bool faults_message_whole(struct life *l, unsigned player, unsigned size);
struct chunk { unsigned number, carried, size; };
void faults_message_chunk(struct life *l, unsigned player, unsigned type, unsigned left, struct chunk *c);
/* The number of the chunk that is asked for; true: it is a wrong one, and nothing comes of it. */
bool faults_message_asks(struct life *l, unsigned player, unsigned type, unsigned *number);
void faults_caps_offer(struct life *l);
void faults_caps_sink(struct life *l, unsigned who, uint32_t *words, unsigned count);
bool faults_caps_idle(struct life *l);
/*
 * The plug is asked who it is; whether an object may not be asked for; before EPR mode is asked for, and after it began, before
 * the offer (false: it broke off).
 */
void faults_caps_plug(struct life *l, unsigned player);
bool faults_caps_before_entry(struct life *l);
bool faults_caps_in_mode(struct life *l);
static inline bool synth_shunned(const struct life *l, unsigned position) { return l->shunned >> position & 1; }
/* What a Request becomes: its words, and the one by which the source supplies; refused; or accepted although it is wrong. */
enum asked_as { ASKED_WELL, ASKED_REFUSED, ASKED_TAKEN };
struct asking { uint32_t words[2], supply; enum asked_as as; const struct injected *fault; };
void faults_request_words(struct life *l, bool epr_request, struct asking *a);
/* The answer to a Request, and PS_RDY after Accept; true: they were made wrong, and the exchange is over. */
bool faults_request_answer(struct life *l);
bool faults_ready(struct life *l);
/* The answer to a question; true: as above. */
bool faults_get_answer(struct life *l, unsigned asker);
/* The same of Get_Source_Cap; a Request that does not follow an offer; a Soft_Reset of this player's that is not accepted. */
bool faults_source_cap_answer(struct life *l);
bool faults_no_request(struct life *l);
bool faults_soft_reset_refused(struct life *l, unsigned player);
/* A question is about to be asked, control: its type if it is a control message, else 0. False: it broke off. */
bool faults_get_asked(struct life *l, unsigned asker, unsigned control);
/* How many times Wait is said, the last one to blame; how many offers nobody hears, the last one to blame. */
const struct injected *faults_request_waits(struct life *l, int64_t *waits);
const struct injected *faults_caps_given_up(struct life *l, int64_t *count);
bool faults_packet_idle(struct life *l);
bool faults_exchange_idle(struct life *l);
bool faults_reset_idle(struct life *l);
bool faults_epr_idle(struct life *l);

/* Resets: at a Hard Reset, and after the Accept of a Soft_Reset. */
bool faults_reset_ignored(struct life *l, unsigned player);  /* true: it was not obeyed, and all is done */
void faults_reset_again(struct life *l, unsigned player);    /* more of them */
void faults_reset_return(struct life *l, int64_t zero_ns, int64_t *rise_ns); /* when VBUS comes back; also vsafe5v_ns */
bool faults_reset_restart(struct life *l, int64_t reset_ns); /* before the first offer; false: it broke off */
bool faults_reset_contract(struct life *l, int64_t reset_ns); /* true: the way to the contract was gone */
void faults_reset_dip(struct life *l);                       /* VBUS after a Soft_Reset */
bool faults_reset_anew(struct life *l);                      /* true: the offer was waited for */

/* Swaps. */
bool faults_swap_hidden_flag(struct life *l, bool *accepted); /* before PR_Swap; accepted: it has to be; false: it broke off */
bool faults_swap_never_off(struct life *l);                  /* after Accept; true: the old source never gets ready, it is over */
bool faults_swap_never_off_fast(struct life *l);             /* the same of FR_Swap */
bool faults_swap_other_first(struct life *l);                /* after Accept; false: it broke off */
bool faults_swap_vbus_stays(struct life *l, int64_t ready_ns); /* true: up to PS_RDY */
void faults_swap_dip(struct life *l);                        /* VBUS in a fast swap */
bool faults_swap_keeps_data_role(struct life *l);            /* after Accept of DR_Swap; false: it broke off */
const struct injected *faults_swap_wrong_vconn(struct life *l); /* whose PS_RDY; NULL: as it should be */
void faults_swap_late_vconn(struct life *l, int64_t accepted_ns);

/* EPR mode. */
void faults_epr_plug(struct life *l);                        /* the plug is asked who it is */
bool faults_epr_takes_plug(struct life *l);                  /* one that does not fit */
bool faults_epr_before_entry(struct life *l);                /* false: it broke off */
bool faults_epr_silent(struct life *l);                      /* true: nothing came of Enter */
bool faults_epr_unacknowledged(struct life *l);              /* true: no Enter Acknowledged */
void faults_epr_late(struct life *l);
void faults_epr_succeeds(struct life *l);                    /* Enter Succeeded is about to be said */
void faults_epr_offer(struct life *l);                       /* the offer after it */
const struct injected *faults_epr_exit(struct life *l);      /* from where it must not be; NULL: not */
void faults_epr_after_exit(struct life *l);
bool faults_epr_plain_request(struct life *l, unsigned position);
bool faults_epr_keep_alive(struct life *l);                  /* true: it stayed without answer */
int32_t faults_epr_level(struct life *l, int32_t mv, int64_t ready_ns); /* where VBUS goes for this contract */

/*
 * VBUS. In a contract; before the first one; between Request and Accept; on its way to mv (a move may be made wrong: peak_uv 0 none, late_ns when it is there,
 * back: it turns round half-way, that is to blame); at a detach; true: it stays after a detach, after a Hard Reset.
 */
/*
 * How VBUS goes to another level: in a straight line, with a peak at its end (peak_uv not 0); or it stands at wrong_uv until wrong_ns
 * (INT64_MAX: for good); or it is at late_uv at late_ns; or it turns back half way.
 */
struct move { int64_t begin_ns, ramp_ns; int32_t peak_uv; int64_t wrong_ns, late_ns; int32_t wrong_uv, late_uv, half_uv, back_uv; bool back; };
bool faults_volt_idle(struct life *l);
void faults_volt_first(struct life *l);
bool faults_volt_early(struct life *l, int32_t mv); /* true: and the answer comes now */
void faults_volt_move(struct life *l, int64_t ready_ns, int32_t mv, struct move *m);
bool faults_volt_wave(struct life *l, const struct move *m, int32_t from_uv, int32_t mv); /* true: it is drawn */
/* VBUS comes up, after an attach; rise, true: it is drawn. */
bool faults_volt_rise(struct life *l, int64_t rise_ns, int64_t up_ns);
void faults_volt_on(struct life *l, int64_t up_ns);
void faults_volt_detach(struct life *l, int64_t off_ns);
bool faults_volt_stays_attached(struct life *l);
bool faults_volt_stays_on(struct life *l);
/* Where VBUS goes after a Hard Reset, in uV; when it passes 0.8 V, may be later. */
int32_t faults_volt_off(struct life *l, int64_t reset_ns, int64_t *off_ns);
/* A time that ends where VBUS passes a level: drawn, or as the scenario says; then the first reading beyond it shows that. */
int64_t synth_draw_vbus_ns(struct life *l, enum synth_timer timer, int64_t from_ns, bool above, int32_t uv);
/* The same, where what discharges VBUS says how long it takes: natural_ns, if not 0. */
int64_t synth_draw_off_ns(struct life *l, enum synth_timer timer, int64_t from_ns, bool above, int32_t uv, int64_t natural_ns);
/* Programmable supplies. */
bool faults_pps_idle(struct life *l);
void faults_pps_status(struct life *l, uint8_t *status);      /* PPS_Status: 4 bytes */
void faults_pps_ready(struct life *l, int64_t ready_ns);      /* PS_RDY was said, beginning at ready_ns */
int32_t faults_pps_step(struct life *l, int32_t by_mv);       /* how far VBUS is off from this step on, uV */
bool faults_cable_idle(struct life *l);
bool faults_alive_idle(struct life *l);
/* Before the first offer: the plug is not asked, and taken for one of 5 A. */
bool faults_cable_trusted(struct life *l);
/* A structured VDM was asked: true: it stays without an answer, and the exchange is over. How many BUSY: *count, the last one to blame. */
bool faults_vdm_silent(struct life *l, unsigned who);
const struct injected *faults_vdm_busy(struct life *l, int64_t *count);
/* The sink's VDM was heard: true: the source fell over it, and began anew. */
bool faults_vdm_heard(struct life *l);
/* An Alert was told: the sink may let it lie too long. */
void faults_alert_ignored(struct life *l);

/* A message of this kind with some bits turned round: what most faults of contents are. Rows end with fault NULL. */
enum { BY_SOURCE = 1, BY_SINK = 2, BY_PLUG = 4, BY_PORTS = BY_SOURCE | BY_SINK };
struct twist {
    const char *fault;
    uint8_t     by, set;
    bool        extended;
    uint8_t     type;
    uint8_t     at;                        /* byte of the body where the word stands whose bits are turned */
    uint32_t    turn;
    uint8_t     if_at;                     /* and only if the word there has this value under this mask */
    uint32_t    if_mask, if_value;
};
void faults_twist(struct life *l, struct say *m, const struct twist *rows);

/* Blinds, asked for each packet: */
enum blind_act { BLIND_NOT, BLIND_LOSE, BLIND_BAD, BLIND_CUT, BLIND_GAP };
enum blind_act synth_blind(struct life *l, uint8_t set, const uint8_t *bytes, size_t length);
