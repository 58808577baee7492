/* cli/import_align_inside.h - what the first pass of --align gathers. Shared by import_align*.c only. */
#pragma once
#include "capture/record.h"
#include "cli/import_align.h"
#include "decode/alignment.h"

/* One port's readings of one input. */
struct align_watch { struct move_watch volts, amps; };

struct align_input {
    bool               readings, wire; /* it has POWER; packets, resets or CC */
    int64_t            from_ns, to_ns; /* of its readings */
    struct volt_move  *volts, *amps;
    unsigned           volt_count, amp_count;
    bool               too_many;
    struct align_watch *ports[256];
};

/* The mark that is asked for: the first. */
struct align_mark { bool there, host_time; uint8_t action, subject; int32_t value; int64_t t_ns; };

struct import_align {
    struct align_words  words;
    unsigned            inputs;
    struct align_input *of;
    struct wire_moves  *moves;
    struct wire_move   *wire;
    unsigned            wire_count;
    bool                too_many;
    int64_t             wire_from_ns, wire_to_ns;
    struct align_mark   mark;
};

/* import_align_ties.c: one input of readings. False: said. */
bool align_input_tie(struct import_align *a, struct import_input *in, bool quiet, struct import_tie *tie);
