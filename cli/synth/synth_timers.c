/*
 * The model's own copy of the standard's times. Each was typed from a table of timers collected from the sources named in its row;
 * "list" is a published timer list that names USB PD R3.2 (secondary).
 */
#include "cli/synth/synth_timers.h"

#define LIST "timer table: a published list that names USB PD R3.2 (secondary)"
#define MS(ms) ((int64_t)((ms) * 1000.0))
#define NO SYNTH_OPEN
/* The least time between two packets: tInterFrameGap, 25 us. */
#define GAP 25

const struct synth_timer_row synth_timer_rows[SYNTH_TIMERS] = {
    /* timer, parameter, min, max, where seen; drawn from, to */
    [TIMER_GOODCRC] = { { "time.goodcrc-turnaround", "tTransmit", NO, MS(0.195), LIST }, GAP, MS(0.195) },
    [TIMER_RETRY] = { { "time.retry", NULL, MS(0.9), MS(1.295), LIST ": tReceive 0.9 to 1.1 ms, then tRetry 0.195 ms" }, MS(0.9), MS(1.295) },
    [TIMER_RECEIVER_RESPONSE] = { { "time.receiver-response", "tReceiverResponse", NO, MS(15),
        "timer table: Linux include/linux/usb/pd.h" }, GAP, MS(15) },
    [TIMER_SOURCE_RESPONSE] = { { "time.source-response", "tReceiverResponse", NO, MS(15),
        "timer table: Linux include/linux/usb/pd.h" }, GAP, MS(15) },
    /* A sink answers before the shortest patience of a source has run out. */
    [TIMER_FIRST_REQUEST] = { { "time.first-request", NULL, NO, MS(33),
        "timer table: Zephyr usbc_pd.h, Chromium EC include/usb_pd.h: the longest tSenderResponse" }, GAP, MS(23) },
    [TIMER_PATIENCE_R2] = { { "time.sender-patience", "tSenderResponse@2.0", MS(24), MS(30), "timer table: Zephyr usbc_pd.h" }, MS(24), MS(30) },
    [TIMER_PATIENCE_R30] = { { "time.sender-patience", "tSenderResponse@3.0", MS(24), MS(30), "timer table: Zephyr usbc_pd.h" }, MS(24), MS(30) },
    [TIMER_PATIENCE_R31] = { { "time.sender-patience", "tSenderResponse@3.1", MS(26), MS(32),
        "timer table: Chromium EC include/usb_pd.h" }, MS(26), MS(32) },
    [TIMER_PATIENCE_R32] = { { "time.sender-patience", "tSenderResponse@3.2", MS(27), MS(33),
        "timer table: Chromium EC include/usb_pd.h" }, MS(27), MS(33) },
    [TIMER_PATIENCE_R3212] = { { "time.sender-patience", "tSenderResponse@3.2-1.2", MS(27), MS(50),
        "timer table: notes on PD R3.2 V1.2 (secondary, one source)" }, MS(27), MS(33) },
    [TIMER_FIRST_CAPS] = { { "time.first-caps", "tFirstSourceCap", NO, MS(250), LIST }, MS(5), MS(250) },
    [TIMER_CAPS_INTERVAL] = { { "time.caps-interval", "tTypeCSendSourceCap", MS(100), MS(200), "timer table: Zephyr usbc_pd.h" }, MS(100), MS(200) },
    [TIMER_SINK_WAIT_CAP] = { { "tTypeCSinkWaitCap", "tTypeCSinkWaitCap", MS(310), MS(620), "timer table: Zephyr usbc_pd.h" }, MS(310), MS(620) },

    [TIMER_SRC_TRANSITION] = { { "time.src-transition", "tSrcTransition", MS(25), MS(35), "timer table: Chromium EC include/usb_pd.h" }, MS(27), MS(33) },
    [TIMER_READY_SPR] = { { "time.ready-spr", "tSrcTransReq@spr", NO, MS(325),
        "timer table: constants of one Rust PD stack (one source)" }, MS(45), MS(320) },
    [TIMER_READY_EPR] = { { "time.ready-epr", "tSrcTransReq@epr", NO, MS(760),
        "timer table: constants of one Rust PD stack (one source)" }, MS(45), MS(755) },
    [TIMER_PPS_SMALL] = { { "time.pps-small", "tPpsSrcTransSmall", NO, MS(25), "timer table: Microchip PD software framework headers" }, MS(1), MS(25) },
    [TIMER_PPS_LARGE] = { { "time.pps-large", "tPpsSrcTransLarge", NO, MS(275), "timer table: onsemi PD firmware pd_types.h" }, MS(10), MS(275) },
    [TIMER_AVS_SMALL] = { { "time.avs-small", "tAvsSrcTransSmall", NO, MS(50), "timer table: linux-usb patches of 2026-03" }, MS(1), MS(50) },
    [TIMER_AVS_LARGE] = { { "time.avs-large", "tAvsSrcTransLarge", NO, MS(700), "timer table: linux-usb patches of 2026-03" }, MS(10), MS(700) },
    [TIMER_PPS_ENTRY] = { { "pps-entry", NULL, NO, MS(325), "timer table: constants of one Rust PD stack (one source)" }, MS(10), MS(270) },
    [TIMER_AVS_ENTRY] = { { "avs-entry", NULL, NO, MS(760), "timer table: constants of one Rust PD stack (one source)" }, MS(10), MS(700) },
    [TIMER_PS_TRANSITION_SPR] = { { "time.ps-transition", "tPSTransition@spr", MS(450), MS(550), "timer table: Zephyr usbc_pd.h" }, MS(450), MS(550) },
    [TIMER_PS_TRANSITION_EPR] = { { "time.ps-transition", "tPSTransition@epr", MS(830), MS(1020), "timer table: Zephyr usbc_pd.h" }, MS(830), MS(1020) },

    [TIMER_HARD_RESET_RESPONSE] = { { "time.hard-reset-response", "tPSHardReset", MS(25), MS(35), "timer table: Zephyr usbc_pd.h" }, MS(27), MS(33) },
    [TIMER_SAFE_0V] = { { "time.safe0v", "tSafe0V", NO, MS(650), "timer table: Zephyr usbc_pd.h" }, MS(20), MS(600) },
    [TIMER_SRC_RECOVER_SPR] = { { "time.src-recover", "tSrcRecover@spr", MS(660), MS(1000), "timer table: Chromium EC include/usb_pd.h" }, MS(670), MS(990) },
    [TIMER_SRC_RECOVER_EPR] = { { "time.src-recover", NULL, MS(1085), MS(1425),
        "timer table: most from onsemi PD firmware pd_types.h, least from memory" }, MS(1095), MS(1415) },
    [TIMER_TURN_ON] = { { "time.turn-on", "tSrcTurnOn", NO, MS(275), "timer table: Linux include/linux/usb/pd.h" }, MS(5), MS(265) },
    [TIMER_CC_DEBOUNCE] = { { "tCCDebounce", NULL, MS(100), MS(200), "timer table: Zephyr usbc_tc.h" }, MS(100), MS(200) },
    [TIMER_VBUS_ON] = { { "time.vbus-on", NULL, NO, MS(475), "timer table: Zephyr usbc_tc.h: tCCDebounce 200 ms and tVBUSON 275 ms" }, MS(110), MS(200) },
    [TIMER_VBUS_OFF] = { { "time.vbus-off-detach", NULL, NO, MS(670), "timer table: Zephyr usbc_tc.h: tSRCDisconnect 20 ms and tVBUSOFF 650 ms" },
        MS(5), MS(640) },

    [TIMER_REQUEST_AFTER_WAIT] = { { "time.sink-request-after-wait", "tSinkRequest", MS(100), NO, "timer table: Zephyr usbc_pd.h" }, MS(100), MS(400) },
    [TIMER_PPS_KEEPALIVE] = { { "time.pps-keepalive", "tPPSRequest", NO, MS(10000), LIST }, MS(2000), MS(9500) },
    [TIMER_PPS_TIMEOUT] = { { "time.pps-timeout", "tPPSTimeout", MS(12000), MS(15000), LIST }, MS(12000), MS(15000) },
    /* 250 ms is the least of the standard's timer; saying something earlier is no fault. */
    [TIMER_EPR_KEEPALIVE] = { { "time.epr-keepalive", "tSinkEPRKeepAlive", NO, MS(500), "timer table: Chromium EC include/usb_pd.h" }, MS(250), MS(300) },
    [TIMER_EPR_TIMEOUT] = { { "time.epr-timeout", "tSourceEPRKeepAlive", MS(750), MS(1000), LIST }, MS(750), MS(1000) },
    [TIMER_ENTER_EPR] = { { "tEnterEPR", "tEnterEPR", MS(450), MS(550), "timer table: Chromium EC include/usb_pd.h" }, MS(450), MS(550) },
    [TIMER_EPR_CAPS] = { { "epr_caps_ms", "epr_caps_ms", NO, MS(250), "common practice, no source" }, MS(1), MS(200) },
    [TIMER_CHUNK_REQUEST] = { { "time.chunk-request", "tChunkReceiverRequest", NO, MS(15), LIST }, GAP, MS(15) },
    [TIMER_CHUNK_RESPONSE] = { { "time.chunk-response", "tChunkReceiverResponse", NO, MS(15), LIST }, GAP, MS(15) },

    [TIMER_PR_SWAP_OFF] = { { "time.pr-swap-off", "tPSSourceOff@spr", NO, MS(750),
        "timer table: shortest tPSSourceOff, Chromium EC include/usb_pd.h; drawn below tSrcSwapStdby 650 ms" }, MS(30), MS(640) },
    [TIMER_PR_SWAP_ON] = { { "time.pr-swap-on", "tPSSourceOn", NO, MS(390),
        "timer table: shortest tPSSourceOn, Chromium EC include/usb_pd.h; drawn below tNewSrc 275 ms" }, MS(10), MS(270) },
    [TIMER_PR_SWAP_START] = { { "time.pr-swap-start", "tSwapSourceStart", MS(20), NO, "timer table: Linux include/linux/usb/pd.h" }, MS(20), MS(60) },
    [TIMER_FR_SWAP] = { { "time.fr-swap", NULL, NO, MS(30), LIST ": tFRSwap5V 15 ms and tFRSwapComplete 15 ms" }, MS(1), MS(15) },
    [TIMER_VCONN_ON_R31] = { { "time.vconn-on", NULL, NO, MS(50), "timer table: Microchip PD software framework headers" }, MS(1), MS(50) },
    [TIMER_VCONN_ON] = { { "time.vconn-on", "tVCONNSourceOn", NO, MS(100), "timer table: Linux include/linux/usb/pd.h" }, MS(1), MS(100) },
    [TIMER_SWAP_WAIT] = { { "tPRSwapWait", NULL, MS(100), NO, LIST }, MS(100), MS(300) },

    [TIMER_VDM_RESPONSE] = { { "time.vdm-response", "tVDMReceiverResponse", NO, MS(15), "timer table: Linux include/linux/usb/pd.h" }, GAP, MS(15) },
    [TIMER_VDM_MODE] = { { "time.vdm-response", "tVDMEnterMode", NO, MS(25), "timer table: Linux include/linux/usb/pd.h" }, GAP, MS(25) },
    [TIMER_VDM_BUSY] = { { "time.vdm-busy", "tVDMBusy", MS(50), NO, "timer table: Chromium EC include/usb_pd.h" }, MS(50), MS(150) },
    /* From the end of the last copy: the wait for its GoodCRC, at most 1.1 ms, and tSoftReset. */
    [TIMER_SOFT_RESET] = { { "time.soft-reset", NULL, NO, MS(16.1), LIST ": tReceive 1.1 ms and tSoftReset 15 ms" }, MS(2), MS(15) },
    [TIMER_DISCOVER_IDENTITY] = { { "time.discover-identity", "tDiscoverIdentity", MS(40), NO,
        "timer table: Chromium EC include/usb_pd.h; drawn below its other end, 50 ms" }, MS(40), MS(50) },
    [TIMER_DATA_RESET] = { { "time.data-reset", "tDataReset", MS(200), MS(250), "timer table: Chromium EC include/usb_pd.h" }, MS(200), MS(250) },
    [TIMER_SINK_TX] = { { "time.sink-tx", "tSinkTx", MS(16), MS(20), "timer table: Zephyr usbc_pd.h" }, MS(16), MS(20) },
    [TIMER_SRC_HOLDS_BUS] = { { "tSrcHoldsBus", NULL, NO, MS(50), LIST }, MS(2), MS(50) },
    [TIMER_SOFT_RESET_CAPS] = { { "soft-reset-caps", NULL, NO, MS(310),
        "timer table: shortest tTypeCSinkWaitCap, Zephyr usbc_pd.h" }, MS(1), MS(250) },
};

const struct synth_number *synth_number_row(unsigned k)
{
    return k < SYNTH_TIMERS ? &synth_timer_rows[k].number : NULL;
}
