/* cli/synth/synth_inside.h - the whole of a scenario being played; for the files that keep it together. */
#pragma once
#include "cli/synth/synth_faults.h"

enum { ABOUT_BYTES = 4096 };

/* What the instrument is truly off by, drawn once a trace from what ABOUT states; 0 where nothing is drawn. */
struct drawn { double gain_ppm, offset_uv, amp_gain_ppm, amp_offset_ua, clock_ppm; };
struct contract_truth;

struct synth {
    struct plan     plan;
    struct injected injected[SYNTH_INJECTIONS];
    struct life    *lives;
    uint64_t        frame;
    int64_t         first_ns;
    bool            failed, counting; /* counting: a first pass, to know how many occasions there are */
    bool            cut;              /* a blind ended the trace */
    char            about[ABOUT_BYTES];
    uint8_t         about_record[ABOUT_BYTES + 16];
    size_t          about_length;
    struct life    *last;             /* whose record was given last */
    struct drawn    drawn;
    struct contract_truth *contracts; /* as many as the truth tells */
    size_t          contract_count, contracts_cap, contracts_left_out;
    struct amount   used[SYNTH_INJECTIONS];
    int64_t         end_ns;           /* once the steps of all ports are played: where the trace ends; 0: they are not */
};

/* The beginning of everything: 2026-01-05 08:00:00 UTC. */
#define SYNTH_BEGIN_NS INT64_C(1767600000000000000)

void life_begin(struct life *l, struct synth *s, unsigned index);
/* One more slice of life: a step, or a second of waiting. */
void life_go_on(struct life *l);
/* Its own story is told, and the others have not come as far. */
bool life_waits(const struct life *l);
void life_free(struct life *l);

/* Faults: at the beginning, and when a record gets its frame. */
bool injections_begin(struct synth *s, struct synth_trouble *t);
void injections_frame(struct synth *s, const struct life *l, const struct record_entry *e, uint64_t frame);
void injections_reading(struct life *l, int64_t t_ns, int32_t uv); /* a row of the record that l->serial stands for */
const struct synth_fault *fault_row_of(const char *name, const char *variant);
const struct synth_number *timer_of(const char *name);

/* Readings: the instrument's errors; the truth of voltages, and what it adds to the file of the truth. */
enum { SYNTH_AMP_NOISE_UA = 300 };
void synth_errors_draw(struct synth *s);
void truth_forget(struct synth *s);
void truth_free(struct synth *s);
void truth_frame(struct synth *s, const struct life *l, const struct record_entry *e, uint64_t frame);
void truth_volts(const struct synth *s, struct cJSON *all);

/* The text of the ABOUT record (synth_about.c). */
void about_write(struct synth *s);
void blinds_apply(struct plan *p);
