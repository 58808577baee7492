/*
 * cli/synth/synth_plan.h - a scenario as it was read: nothing in it changes while it is played.
 */
#pragma once
#include "cli/synth/synth_life.h"

struct cJSON;
struct reading;

enum { PORTS_MAX = 8, NAME_BYTES = 32, TEXT_BYTES = 96 };

enum step_do {
    DO_ATTACH, DO_WAIT, DO_REQUEST, DO_RENEGOTIATE, DO_GET, DO_HARD_RESET, DO_SOFT_RESET, DO_CABLE_RESET, DO_PR_SWAP, DO_DR_SWAP,
    DO_VCONN_SWAP, DO_FR_SWAP, DO_DATA_RESET, DO_ENTER_USB, DO_VDM, DO_SECURITY, DO_FIRMWARE, DO_DISCOVER_CABLE, DO_EPR_ENTER,
    DO_EPR_REQUEST, DO_EPR_KEEPALIVE, DO_EPR_EXIT, DO_PPS_KEEPALIVE, DO_ALERT, DO_MARK, DO_LOAD, DO_DETACH, DO_CAPS_ALONE,
    DO_OVERLOAD, DO_LIMIT, DO_FOLD, DO_INPUT_OFF, STEP_DOS
};

/* How a partner answers; ANSWER_DRAWN: as its profile says. */
enum answer { ANSWER_DRAWN, ANSWER_ACCEPT, ANSWER_REJECT, ANSWER_WAIT, ANSWER_NOT_SUPPORTED, ANSWER_ACK, ANSWER_NAK };
enum who { WHO_DRAWN, WHO_SOURCE, WHO_SINK };

struct step {
    unsigned act;                    /* enum step_do */
    unsigned from;                   /* enum who */
    unsigned answer;                 /* enum answer */
    unsigned message;                /* of get: index into the table of questions */
    unsigned command;                /* of vdm */
    unsigned set;                    /* of vdm, soft_reset: SOP, SOP' */
    bool     unexplained;            /* resets: without a mark that tells of it */
    bool     asks;                   /* of limit: PPS_Status is asked for meanwhile */
    int64_t  ms, position, ma, max_ma, mv, count, bytes, busy, waits, mohm;
    uint32_t pdos[SPR_MAX];
    unsigned pdo_count;
    char     text[TEXT_BYTES];
};

struct injection {
    char     fault[NAME_BYTES * 2], variant[NAME_BYTES];
    unsigned port;                   /* as in the records */
    int64_t  at;                     /* n-th occasion; 0: drawn */
    bool     has_amount, has_mv, has_ma; /* what it names: a time, a voltage, a current */
    int64_t  amount_ns;
    int32_t  amount_mv, amount_ma;
    bool     blind;
    char     message[NAME_BYTES];    /* of a blind: the kind of packet that it is about; "": any */
    int64_t  count;                  /* of a blind: how many packets */
};

struct instrument {
    int64_t  time_ns, clock_ppm, host_time_ns, step_ns; /* step_ns: stamps are multiples of it */
    bool     host_time, durations, cc, power;
    int64_t  power_interval_us, power_rows;
    int64_t  gain_ppm, offset_uv, noise_uv;
    int64_t  amp_gain_ppm, amp_offset_ua, amp_noise_ua;   /* -1: not given */
    bool     errors;                                      /* drawn by what the trace states */
    unsigned mean;                                        /* enum sampling */
    int64_t  jitter_ns, resolution_uv, resolution_ua;
    bool     edges;                                       /* the changes of level of the CC line are recorded, a record a packet */
    int64_t  edges_tick_ps, edges_jitter_ps, edges_lead_us, edges_tail_us;
};
enum sampling { SAMPLING_POINT, SAMPLING_MEAN };

/* How a port's source makes its VBUS. A field that is 0 adds nothing. */
struct output {
    bool     given;
    unsigned ramp;                                        /* enum ramp_shape */
    int64_t  off_ppm;                                     /* INT64_MIN: drawn */
    int64_t  slew_uv_us, noise_uv, regulation_mohm, dip_mohm, recovery_us, load_us, overshoot_percent, overshoot_us;
    int64_t  discharge_us, bleed_us, hold_up_ms;
};

struct port_plan {
    unsigned       port;
    char           name[NAME_BYTES];
    unsigned       kind;             /* enum port_kind */
    bool           captive, in_contract; /* in_contract: the trace begins there */
    unsigned       rated_w;
    struct output  output;
    bool           output_drawn;
    int64_t        path_mohm, path_mohm_u; /* path_mohm -1: VBUS is read at the source's receptacle */
    struct partner partner[2];
    struct plug    plug;
    struct step   *steps;
    unsigned       step_count;
    bool           random_steps;
    int64_t        random_count;
};
enum port_kind { KIND_SOURCE, KIND_SINK, KIND_DUAL };

struct plan {
    uint64_t          seed;
    char              device[TEXT_BYTES], note[TEXT_BYTES];
    struct instrument instrument;
    struct output     output;        /* of ports that name none */
    bool              output_drawn;
    unsigned          port_count;
    struct port_plan  ports[PORTS_MAX];
    unsigned          injection_count;
    struct injection  injections[SYNTH_INJECTIONS];
};

/* Reads a scenario (synth_scenario.c). False: *t. Free with plan_free in any case. */
bool plan_read(struct plan *p, const struct cJSON *scenario, int64_t seed, struct synth_trouble *t);
void plan_free(struct plan *p);

/* The keys of output, or the word "random"; what is to be drawn, once all is read (synth_output.c). */
bool output_read(struct reading *r, const struct cJSON *from, struct output *o, bool *drawn);
void outputs_draw(struct plan *p);
extern const struct output output_none;

/* Legal partners, cables, instruments and ports at random (synth_drawn.c). */
void plan_draw(struct plan *p, unsigned ports, int64_t steps, struct chance *c);
void partner_draw_source(struct partner *q, struct chance *c);
void partner_draw_sink(struct partner *q, struct chance *c);
/* The objects that the power rules ask of a source of so many watts, and what it may add. */
void partner_by_watts(struct partner *q, unsigned watts, struct chance *c);
void partner_sink_default(struct partner *q, unsigned watts);
