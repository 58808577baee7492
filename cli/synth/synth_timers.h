/*
 * cli/synth/synth_timers.h - every time that the model waits, each once: the standard's window and the part of it that is drawn.
 *
 * A timer is the time between the edges that the rule of the same name tells: end of a GoodCRC to the start of the answer, say.
 * A fault with the timer's name sets the time at one occasion (synth_faults.h).
 */
#pragma once
#include "cli/synth/synth.h"

enum synth_timer {
    TIMER_GOODCRC, TIMER_RETRY, TIMER_RECEIVER_RESPONSE, TIMER_SOURCE_RESPONSE, TIMER_FIRST_REQUEST,
    TIMER_PATIENCE_R2, TIMER_PATIENCE_R30, TIMER_PATIENCE_R31, TIMER_PATIENCE_R32, TIMER_PATIENCE_R3212,
    TIMER_FIRST_CAPS, TIMER_CAPS_INTERVAL, TIMER_SINK_WAIT_CAP,
    TIMER_SRC_TRANSITION, TIMER_READY_SPR, TIMER_READY_EPR, TIMER_PPS_SMALL, TIMER_PPS_LARGE, TIMER_AVS_SMALL, TIMER_AVS_LARGE, TIMER_PPS_ENTRY, TIMER_AVS_ENTRY,
    TIMER_PS_TRANSITION_SPR, TIMER_PS_TRANSITION_EPR,
    TIMER_HARD_RESET_RESPONSE, TIMER_SAFE_0V, TIMER_SRC_RECOVER_SPR, TIMER_SRC_RECOVER_EPR, TIMER_TURN_ON, TIMER_CC_DEBOUNCE,
    TIMER_VBUS_ON, TIMER_VBUS_OFF,
    TIMER_REQUEST_AFTER_WAIT, TIMER_PPS_KEEPALIVE, TIMER_PPS_TIMEOUT, TIMER_EPR_KEEPALIVE, TIMER_EPR_TIMEOUT, TIMER_ENTER_EPR,
    TIMER_EPR_CAPS, TIMER_CHUNK_REQUEST, TIMER_CHUNK_RESPONSE,
    TIMER_PR_SWAP_OFF, TIMER_PR_SWAP_ON, TIMER_PR_SWAP_START, TIMER_FR_SWAP, TIMER_VCONN_ON_R31, TIMER_VCONN_ON, TIMER_SWAP_WAIT,
    TIMER_VDM_RESPONSE, TIMER_VDM_MODE, TIMER_VDM_BUSY, TIMER_SOFT_RESET, TIMER_DISCOVER_IDENTITY, TIMER_DATA_RESET,
    TIMER_SINK_TX, TIMER_SRC_HOLDS_BUS, TIMER_SOFT_RESET_CAPS,
    SYNTH_TIMERS
};

struct synth_timer_row {
    struct synth_number number;
    int64_t             least_us, most_us; /* what is drawn, inside the window */
};
extern const struct synth_timer_row synth_timer_rows[SYNTH_TIMERS];
