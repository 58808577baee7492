/* The numbers of the standard and our own, in the order of the rule groups that use them. */
#include "rules/parameter.h"

#include "decode/times.h"

#include <stddef.h>
#include <string.h>

#define FROM_TIMERS "Zephyr usbc_pd.h; Chromium EC include/usb_pd.h; Linux include/linux/usb/pd.h"
#define FROM_TIMER_LIST "a published PD timer table that names USB PD R3.2 (secondary)"
#define FROM_KERNEL_MAIL "linux-usb mailing list, Hard Reset test steps quoting the compliance checks"
#define FROM_MEMORY "from memory"
#define COMMON_PRACTICE "common practice, no source"

enum { NS_PER_MILLI_MS = 1000 }; /* a thousandth of a millisecond */

/* Thousandths of a unit. */
#define MOST(milli) .min = PARAMETER_NONE, .max = (milli)
#define LEAST(milli) .min = (milli), .max = PARAMETER_NONE
#define WINDOW(low, high) .min = (low), .max = (high)
#define EITHER_WAY(milli) .min = -(milli), .max = (milli)
#define EXACTLY(milli) .min = (milli), .max = (milli)

const struct parameter parameters_all[] = {
    /* the line */
    { "fBitRate", "kbit/s", "rate of BMC bits", FROM_MEMORY, WINDOW(PD_BIT_RATE_LEAST, PD_BIT_RATE_MOST) },
    { "pBitRate", "%", "how far the bit rate may drift inside a packet, from its preamble on", FROM_MEMORY, EITHER_WAY(250) },
    { "tInterFrameGap", "ms", "quiet on the line from the end of a packet to the next preamble",
      "from memory; the same 25 us in " FROM_TIMER_LIST, LEAST(25) },
    { "tTransmit", "ms", "end of a packet to the start of its GoodCRC", FROM_TIMER_LIST, MOST(195) },
    { "tReceive", "ms", "how long a sender waits for the GoodCRC (CRCReceiveTimer)", FROM_TIMER_LIST,
      WINDOW(PD_RECEIVE_LEAST_NS / NS_PER_MILLI_MS, PD_RECEIVE_MOST_NS / NS_PER_MILLI_MS) },
    { "tRetry", "ms", "CRCReceiveTimer run out to the start of the repeat", FROM_TIMER_LIST "; what it spans from memory", MOST(195) },
    { "nRetryCount@2.0", "", "repeats after the first copy, PD 2.0", "Linux include/linux/usb/pd.h; Microchip PD software framework headers",
      EXACTLY(3000) },
    { "nRetryCount@3.x", "", "repeats after the first copy, PD 3.x", "Linux include/linux/usb/pd.h; Microchip PD software framework headers",
      EXACTLY(2000) },

    /* answers */
    { "tSenderResponse", "ms", "how long an asker waits for the answer, edition unknown: all editions together",
      "union of the editions' windows, ours", WINDOW(24000, 33000) },
    { "tSenderResponse@2.0", "ms", "how long an asker waits for the answer, PD 2.0", FROM_TIMERS, WINDOW(24000, 30000) },
    { "tSenderResponse@3.0", "ms", "how long an asker waits for the answer, PD 3.0", FROM_TIMERS, WINDOW(24000, 30000) },
    { "tSenderResponse@3.1", "ms", "how long an asker waits for the answer, PD 3.1", "Chromium EC include/usb_pd.h",
      WINDOW(26000, 32000) },
    { "tSenderResponse@3.2", "ms", "how long an asker waits for the answer, PD 3.2 V1.0 and V1.1",
      "Chromium EC include/usb_pd.h; " FROM_TIMER_LIST "; Infineon cy_pdstack_common.h", WINDOW(27000, 33000) },
    { "tSenderResponse@3.2-1.2", "ms", "how long an asker waits for the answer, PD 3.2 V1.2 and later",
      "secondary: notes on PD R3.2 V1.2, one source, against the row above", WINDOW(27000, 50000) },
    { "tReceiverResponse", "ms", "a message that wants an answer to the answer's start",
      "Linux include/linux/usb/pd.h; Infineon cy_pdstack_common.h; " FROM_TIMER_LIST, MOST(15000) },
    { "tVDMReceiverResponse", "ms", "a structured VDM to the start of its ACK, NAK or BUSY", FROM_TIMERS, MOST(15000) },
    { "tVDMEnterMode", "ms", "Enter Mode to the start of its ACK or NAK",
      "Linux include/linux/usb/pd.h; Chromium EC include/usb_pd.h; " FROM_TIMER_LIST, MOST(25000) },
    { "tVDMExitMode", "ms", "Exit Mode to the start of its ACK or NAK",
      "Linux include/linux/usb/pd.h; Chromium EC include/usb_pd.h; " FROM_TIMER_LIST, MOST(25000) },
    { "tVDMBusy", "ms", "BUSY to the same VDM request again",
      "Chromium EC include/usb_pd.h; " FROM_TIMER_LIST "; Microchip PD software framework headers", LEAST(50000) },
    { "tChunkReceiverRequest", "ms", "a chunk to the request for the next one",
      FROM_TIMER_LIST "; Infineon cy_pdstack_common.h; onsemi PD firmware pd_types.h", MOST(15000) },
    { "tChunkReceiverResponse", "ms", "the request for a chunk to that chunk",
      FROM_TIMER_LIST "; Infineon cy_pdstack_common.h; onsemi PD firmware pd_types.h", MOST(15000) },
    { "tSoftReset", "ms", "the last wait for a GoodCRC run out to the Soft_Reset",
      FROM_TIMER_LIST "; its meaning secondary: notes on PD R3.2 V1.2", MOST(15000) },
    { "answer_none_ms", "ms", "an answer not begun by then counts as never given", COMMON_PRACTICE, EXACTLY(100000) },
    { "crossing_ms", "ms", "a message that begins this soon after another's end may have been under way before that was heard", COMMON_PRACTICE,
      EXACTLY(1400) },
    { "rp_steady_ms", "ms", "how long Rp must have stood for a message to be held against it", COMMON_PRACTICE, LEAST(5000) },
    { "reset_follows_ms", "ms", "a Hard Reset not begun this long after it was due counts as never sent", COMMON_PRACTICE, MOST(100000) },
    { "wait_max", "", "Wait answers in a row to the same Request", COMMON_PRACTICE, MOST(10000) },

    /* negotiation */
    { "tFirstSourceCap", "ms", "VBUS in vSafe5V to the first Source_Capabilities", FROM_TIMER_LIST "; " FROM_KERNEL_MAIL, MOST(250000) },
    { "tTypeCSendSourceCap", "ms", "between two Source_Capabilities that nobody answers",
      "Zephyr usbc_pd.h; Linux include/linux/usb/pd.h; Infineon cy_pdstack_common.h", WINDOW(100000, 200000) },
    { "nCapsCount", "", "unanswered Source_Capabilities before a source gives up",
      "Zephyr usbc_pd.h; Infineon cy_pdstack_common.h; Microchip PD software framework headers", EXACTLY(50000) },
    { "caps_end_s", "s", "a source that offers nothing for this long has given up", COMMON_PRACTICE, EXACTLY(1000) },
    { "caps_same_max", "", "unasked Source_Capabilities with the same words inside caps_same_s", COMMON_PRACTICE, MOST(2000) },
    { "caps_same_s", "s", "the time over which caps_same_max counts", COMMON_PRACTICE, EXACTLY(30000) },
    { "reject_offer_s", "s", "a changed offer this soon after a Reject explains it", COMMON_PRACTICE, MOST(2000) },
    { "tSrcTransition", "ms", "Accept acknowledged to VBUS beginning to move, fixed, variable and battery supplies",
      "Chromium EC include/usb_pd.h; Linux include/linux/usb/pd.h", WINDOW(25000, 35000) },
    { "tSrcTransReq@spr", "ms", "Accept to PS_RDY, SPR", "constants of one Rust PD stack (one source)", MOST(325000) },
    { "tSrcTransReq@epr", "ms", "Accept to PS_RDY, EPR", "constants of one Rust PD stack (one source)", MOST(760000) },
    { "tPSTransition@spr", "ms", "how long a sink waits for PS_RDY, SPR", FROM_TIMERS, WINDOW(450000, 550000) },
    { "tPSTransition@epr", "ms", "how long a sink waits for PS_RDY, EPR mode",
      "Zephyr usbc_pd.h; Infineon cy_pdstack_common.h; " FROM_TIMER_LIST, WINDOW(830000, 1020000) },
    { "tPpsSrcTransSmall", "ms", "Accept to PS_RDY, PPS step up to vPpsSmallStep",
      "Microchip PD software framework headers; onsemi PD firmware pd_types.h", MOST(25000) },
    { "tPpsSrcTransLarge", "ms", "Accept to PS_RDY, PPS step above vPpsSmallStep",
      "Microchip PD software framework headers; onsemi PD firmware pd_types.h", MOST(275000) },
    { "tAvsSrcTransSmall", "ms", "Accept to PS_RDY, AVS step up to vAvsSmallStep",
      "linux-usb mailing list, patches of 2025-10 to 2026-03; Infineon cy_pdstack_common.h", MOST(50000) },
    { "tAvsSrcTransLarge", "ms", "Accept to PS_RDY, AVS step above vAvsSmallStep",
      "linux-usb mailing list, patches of 2025-10 to 2026-03; Infineon cy_pdstack_common.h", MOST(700000) },
    { "vPpsSmallStep", "V", "largest PPS step that has the short time",
      "Microchip PD software framework headers; onsemi PD firmware pd_types.h", EXACTLY(500) },
    { "vAvsSmallStep", "V", "largest AVS step that has the short time",
      "linux-usb mailing list, patches of 2025-10 to 2026-03; Infineon cy_pdstack_common.h", EXACTLY(1000) },
    { "tSinkRequest", "ms", "Wait to the next Request", FROM_TIMERS "; " FROM_TIMER_LIST, LEAST(100000) },
    { "tSinkTx", "ms", "Rp at 1.5 A (SinkTxNG) to the first message of an exchange that the source opens", FROM_TIMERS "; " FROM_TIMER_LIST,
      WINDOW(16000, 20000) },
    { "tPPSRequest", "s", "a sink repeats its PPS Request at least this often", FROM_TIMER_LIST "; onsemi PD firmware pd_types.h",
      MOST(10000) },
    { "tPPSTimeout", "s", "silence in a PPS contract after which the source resets", FROM_TIMER_LIST, WINDOW(12000, 15000) },
    { "pps_silence_s", "s", "a Hard Reset that comes sooner after a PPS Request has nothing to do with tPPSTimeout", COMMON_PRACTICE,
      EXACTLY(1000) },
    { "pps_early_same_s", "s", "two Hard Resets before tPPSTimeout that come after the same silence, give or take this, are no chance",
      COMMON_PRACTICE, MOST(500) },
    { "tSinkEPRKeepAlive", "ms", "a sink in EPR mode says something at least this often", "Chromium EC include/usb_pd.h; " FROM_TIMER_LIST,
      MOST(500000) },
    { "tSourceEPRKeepAlive", "ms", "silence in EPR mode after which the source resets", "onsemi PD firmware pd_types.h; " FROM_TIMER_LIST,
      WINDOW(750000, 1000000) },
    { "tEnterEPR", "ms", "how long a sink waits for Enter Succeeded", "Chromium EC include/usb_pd.h; Infineon cy_pdstack_common.h; " FROM_TIMER_LIST,
      WINDOW(450000, 550000) },
    { "epr_caps_ms", "ms", "EPR mode entered, or left, to the capabilities that must follow", COMMON_PRACTICE, MOST(250000) },

    /* resets */
    { "tHardReset", "ms", "what calls for a Hard Reset to its signal", FROM_TIMER_LIST "; its meaning from memory", MOST(5000) },
    { "tPSHardReset", "ms", "end of a Hard Reset to VBUS beginning to fall", "Zephyr usbc_pd.h; " FROM_KERNEL_MAIL, WINDOW(25000, 35000) },
    { "tCCDebounce", "ms", "CC has to show a partner this long before a source believes it",
      "Zephyr usbc_tc.h; Linux include/linux/usb/pd.h; Chromium EC include/usb_pd.h", WINDOW(100000, 200000) },
    { "tVBUSON", "ms", "attach believed to VBUS in vSafe5V", "Zephyr usbc_tc.h; Microchip PD software framework headers", MOST(275000) },
    { "tSRCDisconnect", "ms", "a source notices that the plug was pulled", "Zephyr usbc_tc.h", MOST(20000) },
    { "tVBUSOFF", "ms", "detach noticed to VBUS below 0.8 V", "Zephyr usbc_tc.h; Microchip PD software framework headers", MOST(650000) },
    { "tSafe0V", "ms", "VBUS beginning to fall to below 0.8 V", FROM_TIMERS "; " FROM_KERNEL_MAIL, MOST(650000) },
    { "tSrcRecover@spr", "ms", "VBUS below 0.8 V to rising again, SPR", "Chromium EC include/usb_pd.h; " FROM_KERNEL_MAIL,
      WINDOW(660000, 1000000) },
    { "tSrcRecover@epr", "ms", "VBUS below 0.8 V to rising again, out of EPR mode",
      "1425 ms onsemi PD firmware pd_types.h; the least is that of SPR, as 1085 ms is from memory", WINDOW(660000, 1425000) },
    { "tSrcTurnOn", "ms", "VBUS beginning to rise to vSafe5V", "Linux include/linux/usb/pd.h; " FROM_KERNEL_MAIL, MOST(275000) },
    { "role_quiet_ms", "ms", "after a Hard Reset role bits are not judged for this long", COMMON_PRACTICE, EXACTLY(100000) },
    { "reset_cause_s", "s", "how far back the cause of a reset is looked for", COMMON_PRACTICE, EXACTLY(6000) },
    { "reset_cause_s@pps", "s", "how far back the cause of a reset is looked for, PPS contract", COMMON_PRACTICE, EXACTLY(16000) },
    { "return_watch_ms", "ms", "how long VBUS is watched for its return", COMMON_PRACTICE, EXACTLY(300000) },
    { "restart_caps_s", "s", "Hard Reset to the Source_Capabilities that begin anew: the longest tSrcRecover and 2 s", COMMON_PRACTICE,
      MOST(3425) },
    { "tTypeCSinkWaitCap", "ms", "how long a sink waits for Source_Capabilities once VBUS is there, or after a Soft_Reset",
      FROM_TIMERS, WINDOW(310000, 620000) },
    { "tNoResponse", "s", "how long a port waits for traffic after a Hard Reset before it gives the partner up", FROM_TIMERS,
      WINDOW(4500, 5500) },
    { "contract_after_reset_s", "s", "Hard Reset to the next contract: the middle of tNoResponse", COMMON_PRACTICE, MOST(5000) },
    { "nHardResetCount", "", "Hard Resets that a port sends in vain before it gives up",
      "Linux include/linux/usb/pd.h; Zephyr usbc_pd.h; Microchip PD software framework headers; onsemi PD firmware pd_types.h", EXACTLY(2000) },
    { "overload_share", "%", "current this much above the contract explains a reset", COMMON_PRACTICE, EXACTLY(10000) },
    { "cable_reset_ms", "ms", "a packet this soon after a Cable Reset comes from whoever sent that", COMMON_PRACTICE, LEAST(1000) },

    /* voltages and currents of a source */
    { "vSrcNew@fixed", "%", "VBUS about the voltage of a fixed contract", "secondary: notes on PD R3.2 V1.2; Linux drivers/usb/typec/tcpm",
      EITHER_WAY(5000) },
    { "vSrcNew@variable", "", "VBUS: this part of the object's least voltage to this part of its greatest",
      "wider than the object's own ends, which are from memory", WINDOW(950, 1050) },
    { "vSrcNew@battery", "", "VBUS: this part of the object's least voltage to this part of its greatest",
      "wider than the object's own ends, which are from memory", WINDOW(950, 1050) },
    { "vPpsNew", "%", "VBUS about the PPS voltage asked for", "Linux drivers/usb/typec/tcpm; onsemi PD firmware pd_types.h", EITHER_WAY(5000) },
    { "vAvsNew", "%", "VBUS about the AVS voltage asked for", FROM_MEMORY, EITHER_WAY(5000) },
    { "vSrcValid", "V", "what a transient may add to either side of the window", "Linux drivers/usb/typec/tcpm/tcpci.c; a board comment in Chromium EC", EITHER_WAY(500) },
    { "vSrcSlewPos", "mV/us", "fastest rise of VBUS", "public design notes citing application notes and test laboratories", MOST(30000) },
    { "vSrcSlewNeg", "mV/us", "fastest fall of VBUS", FROM_MEMORY, LEAST(-30000) },
    { "vSafe0V", "V", "VBUS that counts as off", "Zephyr usbc_pd.h", MOST(800) },
    { "vSafe5V", "V", "VBUS before any contract", "Zephyr usbc_pd.h", WINDOW(4750, 5500) },
    { "spr_volt_max", "V", "VBUS outside EPR mode: the highest PPS voltage, 21 V, and its 5 %",
      "Zephyr sample log (21 V); Linux drivers/usb/typec/tcpm (5 %)", MOST(22050) },
    { "vSrcNeg", "V", "most negative VBUS", FROM_MEMORY, LEAST(-300) },
    { "tSrcTransient", "ms", "a load step may move VBUS out of its window for this long", FROM_MEMORY, MOST(5000) },
    { "iPpsCLNew@to-3A", "mA", "current limit of a PPS about the current asked for, up to 3 A",
      "one PPS firmware's published source; from memory", EITHER_WAY(150000) },
    { "iPpsCLNew@above-3A", "%", "current limit of a PPS about the current asked for, above 3 A",
      "one PPS firmware's published source; from memory", EITHER_WAY(5000) },
    { "vPpsShutdown", "", "below this part of the object's least voltage a PPS may switch off",
      "Linux drivers/usb/typec/tcpm/tcpci.c", LEAST(850) },
    { "pps_trip_s", "s", "a reset this soon while its current was limited is its answer to that", COMMON_PRACTICE, EXACTLY(1000) },
    { "pps_step_tol_mv", "mV", "how far a PPS step may differ from what was asked for", COMMON_PRACTICE, EITHER_WAY(20000) },
    { "transition_ms", "ms", "a change of VBUS counts as under way for this long after its PS_RDY", COMMON_PRACTICE, EXACTLY(50000) },
    { "static_ms", "ms", "length of a block of readings whose mean is a static value", COMMON_PRACTICE, EXACTLY(10000) },
    { "load_step_ma", "mA", "a change of current by more than this in 1 ms is a load step", COMMON_PRACTICE, EXACTLY(250000) },
    { "still_mv", "mV", "VBUS within this of its level has not moved (2 x noise where that is more)", COMMON_PRACTICE, EXACTLY(20000) },
    { "move_mv", "mV", "VBUS farther than this from its level has moved (4 x noise where that is more)", COMMON_PRACTICE, EXACTLY(200000) },
    { "monotonic_mv", "mV", "a step back by more than this is no smooth change (4 x noise where that is more)", COMMON_PRACTICE,
      EXACTLY(200000) },
    { "path_drop_mv", "mV", "most that cable and contacts may take at the contract's current",
      "from memory; 750 mV in Linux drivers/usb/typec/tcpm/tcpci.c", MOST(750000) },
    { "level_reach_ms", "ms", "VBUS reaches the level of a contract in this time, or never", COMMON_PRACTICE, EXACTLY(500000) },
    { "detach_watch_ms", "ms", "how long VBUS is watched after a detach", COMMON_PRACTICE, EXACTLY(2000000) },
    { "cold_socket_ms", "ms", "how long after CC shows nothing attached VBUS has to be down", COMMON_PRACTICE, EXACTLY(1000000) },
    { "safe0v_watch_ms", "ms", "how long VBUS is watched below 0.8 V", COMMON_PRACTICE, EXACTLY(100000) },
    { "unasked_step", "V", "a change of VBUS that nobody asked for: at least this ...", COMMON_PRACTICE, LEAST(1000) },
    { "unasked_step_share", "%", "... and at least this part of the level", COMMON_PRACTICE, LEAST(10000) },
    { "unasked_steadiness", "%", "how steady the new level must be", COMMON_PRACTICE, MOST(3000) },
    { "unasked_hold", "ms", "how long the new level must last", COMMON_PRACTICE, LEAST(100000) },
    { "sink_current_margin_ma", "mA", "current above the contract that is not held against a sink", COMMON_PRACTICE, MOST(50000) },
    { "reverse_ma", "mA", "current into a source that is not held against it", COMMON_PRACTICE, MOST(50000) },
    { "current_mean_ms", "ms", "time over which a current is averaged", COMMON_PRACTICE, EXACTLY(100000) },

    /* swaps, cables, VDMs */
    { "tSwapSourceStart", "ms", "PS_RDY of the new source to its Source_Capabilities", FROM_TIMERS, LEAST(20000) },
    { "tFRSwap5V", "ms", "FR_Swap: stage in which VBUS goes to 5 V", FROM_TIMER_LIST, MOST(15000) },
    { "tFRSwapComplete", "ms", "FR_Swap: stage until PS_RDY of the old source", FROM_TIMER_LIST "; what it spans from memory", MOST(15000) },
    { "tDataReset", "ms", "Accept of Data_Reset to Data_Reset_Complete",
      "Chromium EC include/usb_pd.h; Infineon cy_pdstack_common.h; " FROM_TIMER_LIST, WINDOW(200000, 250000) },
    { "tDataResetFail", "ms", "Accept of Data_Reset to its failure, where no Data_Reset_Complete came", FROM_TIMER_LIST,
      WINDOW(300000, 400000) },
    { "tVCONNSourceOn", "ms", "Accept of VCONN_Swap to PS_RDY, the longest of all revisions",
      "Linux include/linux/usb/pd.h; Chromium EC include/usb_pd.h", MOST(100000) },
    { "tDiscoverIdentity", "ms", "between two Discover Identity that no plug answers", "Chromium EC include/usb_pd.h; " FROM_TIMER_LIST,
      LEAST(40000) },
    { "tPSSourceOff@spr", "ms", "PR_Swap: Accept to PS_RDY of the old source, the shortest wait of the new one, SPR",
      FROM_TIMERS "; used as the old source's limit: ours", MOST(750000) },
    { "tPSSourceOff@epr", "ms", "PR_Swap: Accept to PS_RDY of the old source, the shortest wait of the new one, EPR",
      FROM_TIMER_LIST "; used as the old source's limit: ours", MOST(1120000) },
    { "tPSSourceOn", "ms", "PR_Swap: PS_RDY of the old source to that of the new one",
      FROM_TIMERS "; used as the new source's limit: ours", MOST(390000) },
    { "tVCONNSourceTimeout", "ms", "VCONN_Swap: how long PS_RDY of the new VCONN source is waited for", FROM_TIMER_LIST,
      WINDOW(100000, 200000) },
    { "swap_step_s", "s", "the next step of a power role swap not begun by then counts as never taken", COMMON_PRACTICE, EXACTLY(2000) },
    { "fr_dip_ms", "ms", "how long VBUS may dip in a Fast Role Swap", COMMON_PRACTICE, MOST(5000) },
    { "trip_alert_s", "s", "an Alert tells of a switch-off this long before or after it", COMMON_PRACTICE, MOST(2000) },
    { "alert_answer_s", "s", "an Alert is followed up within this time", COMMON_PRACTICE, MOST(1000) },
    { "nBusyCount", "", "BUSY answers in a row to the same structured VDM", "Microchip PD software framework headers", MOST(5000) },
    { "vdm_survive_s", "s", "a port goes on for this long after a VDM it does not know", COMMON_PRACTICE, EXACTLY(1000) },
    { "full_charge_share", "%", "last full charge of a battery, of its design capacity", COMMON_PRACTICE, MOST(120000) },

    /* ports that share a supply */
    { "plug_window_s", "s", "what happens on other ports this soon after a plug event is laid to it", COMMON_PRACTICE, EXACTLY(10000) },
    { "restore_s", "s", "an undisturbed contract is back after this time", COMMON_PRACTICE, MOST(10000) },
    { "restore_watch_s", "s", "how long a contract's return is waited for", COMMON_PRACTICE, EXACTLY(60000) },
    { "come_back_s", "s", "a port offers power again after this time", COMMON_PRACTICE, MOST(5000) },
    { "dropout_share", "%", "VBUS below this part of its level is a dropout", COMMON_PRACTICE, EXACTLY(90000) },
    { "dropout_ms", "ms", "shortest dropout that counts", COMMON_PRACTICE, EXACTLY(1000) },
    { "input_dropout_ms", "ms", "shortest dropout of an input that counts", COMMON_PRACTICE, EXACTLY(10000) },
    { "budget_tol", "%", "offers of all ports together above the rating: not held against the device", COMMON_PRACTICE, MOST(2000) },
    { "budget_grace_s", "s", "offers may add up to too much for this long", COMMON_PRACTICE, MOST(2000) },
    { "loop_count", "", "offers going to and fro this often inside loop_s are a loop", COMMON_PRACTICE, EXACTLY(3000) },
    { "loop_s", "s", "the time over which loop_count counts", COMMON_PRACTICE, EXACTLY(30000) },

    /* power banks, energy, claims */
    { "sustain_share", "%", "a claimed power is sustained at this part of it or more", COMMON_PRACTICE, LEAST(98000) },
    { "share_min", "%", "least part of the marked energy that a bank delivers", COMMON_PRACTICE, LEAST(70000) },
    { "round_trip_min", "%", "least part of the energy put in that comes out again", COMMON_PRACTICE, LEAST(65000) },
    { "alive_ma", "mA", "a load from which on a bank stays awake", COMMON_PRACTICE, EXACTLY(100000) },
    { "alive_hold_s", "s", "how long it must stay awake", COMMON_PRACTICE, LEAST(180000) },
    { "recover_s", "s", "a bank works again this long after an overload", COMMON_PRACTICE, MOST(300000) },
    { "wake_s", "s", "a bank wakes in this time", COMMON_PRACTICE, MOST(5000) },
    { "trip_max", "%", "an overload trips at this part of the rating or below", COMMON_PRACTICE, MOST(150000) },

    /* uncertainty where the trace says nothing of it (k = 1 for times, k = 2 for readings) */
    { "host_time_ns", "ms", "standard uncertainty of a time stamped by the host", COMMON_PRACTICE,
      EXACTLY(HOST_STAMP_NS / NS_PER_MILLI_MS) },
    { "mark_time_ns", "ms", "standard uncertainty of a mark stamped by the host", COMMON_PRACTICE, EXACTLY(1000000) },
    { "assumed_volt_share", "%", "expanded uncertainty of a voltage: this part of it ...", COMMON_PRACTICE, EXACTLY(1000) },
    { "assumed_volt_mv", "mV", "... and this much", COMMON_PRACTICE, EXACTLY(20000) },
    { "assumed_amp_share", "%", "expanded uncertainty of a current: this part of it ...", COMMON_PRACTICE, EXACTLY(1000) },
    { "assumed_amp_ma", "mA", "... and this much", COMMON_PRACTICE, EXACTLY(10000) },

    { .name = NULL },
};

const struct parameter *parameter_in(const struct parameter *table, const char *name)
{
    for (const struct parameter *p = table; p->name; p++)
        if (strcmp(p->name, name) == 0)
            return p;
    return NULL;
}

const struct parameter *parameter_find(const char *name)
{
    return parameter_in(parameters_all, name);
}
