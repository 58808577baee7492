/*
 * Actions at the bench and the rules that they show. Ours: drawn from each rule's occasion. Cautions are common practice;
 * local codes and people licensed for the work have the last word.
 */
#include "rules/actions.h"

#include <stddef.h>
#include <string.h>

#define OWN_MESSAGES "a PD partner whose messages you choose"
#define VBUS_GOES "VBUS goes to 0 V and comes back: take loads, data and whatever must not lose power off the port first."
#define UP_TO_48V \
    "Up to 48 V stand at the plug: cable, meter and load must be made for it; plug and pull without load, for a spark ruins contacts."

const struct action actions_all[ACTIONS] = {
    [ACTION_PLUG] = { "plug", "With the recording running already, plug in a USB PD partner that takes, or gives, more than 5 V; let it "
                      "charge for ten seconds; pull it, and record three seconds more.",
                      "an ordinary PD 3.x partner: a laptop or phone for a charger, a charger for a device",
                      NULL, RANK_PLUG, ROLE_EITHER, FEATURE_NONE },
    [ACTION_MARKED_CABLE] = { "marked-cable", "Plug in through an electronically marked cable, once for 3 A and once for 5 A, and let as "
                              "much flow as is offered.", "a marked cable of each rating, a partner for more than 3 A",
                              NULL, RANK_PLUG, ROLE_EITHER, FEATURE_NONE },
    [ACTION_PLAIN_CABLE] = { "plain-cable", "Plug in through a cable without electronic marker.", "an unmarked 3 A cable", NULL, RANK_PLUG,
                             ROLE_EITHER, FEATURE_NONE },
    [ACTION_NO_PD] = { "no-pd", "Plug in a sink that does not speak USB PD, and leave it for a minute.",
                       "a USB-C load or lamp without PD", NULL, RANK_PLUG, ROLE_SOURCE, FEATURE_NONE },
    [ACTION_PLUG_R2] = { "revision-2", "Plug in a partner of PD revision 2.0.", "a partner that knows no PD 3.x", NULL, RANK_SPECIAL,
                         ROLE_EITHER, FEATURE_NONE },
    [ACTION_LONG_CABLE] = { "noisy-line", "Use a long or worn cable, beside something that disturbs it, until the listing shows repeated "
                            "messages.", "a poor cable; a source of noise nearby", "A worn cable can heat at its plugs: keep the "
                            "current low, and stop if it gets hot.", RANK_SPECIAL, ROLE_EITHER, FEATURE_NONE },
    [ACTION_SECOND_PORT] = { "second-port", "While one port charges, plug a second sink into another port, and pull it again.",
                             "a device with two ports, a second sink", NULL, RANK_SPECIAL, ROLE_SOURCE, FEATURE_NONE },
    [ACTION_WEAK_SOURCE] = { "weak-source", "Charge the device from a source that offers less than it wants.", "a small PD source",
                             NULL, RANK_SPECIAL, ROLE_SINK, FEATURE_NONE },
    [ACTION_VARIABLE] = { "battery-source", "Charge the device from a source that offers variable and battery objects alone above 5 V.",
                          "a source whose offer you choose", NULL, RANK_SPECIAL, ROLE_SINK, FEATURE_NONE },
    [ACTION_ASK_ALL] = { "ask-all", "In a contract, have the partner ask for all that can be asked: Get_Source_Cap, Get_Sink_Cap, their "
                         "extended forms, Get_Status, Get_PPS_Status, Get_Source_Info, Get_Revision, Get_Manufacturer_Info, "
                         "Get_Battery_Cap, Get_Battery_Status, Get_Country_Codes, Get_Country_Info.", OWN_MESSAGES, NULL, RANK_ASK,
                         ROLE_EITHER, FEATURE_NONE },
    [ACTION_PPS] = { "pps", "In a PPS contract, step by 20 mV and by more than 0.5 V, up and down; then hold one voltage for half a "
                     "minute.", "a PPS partner; for a charger one whose requests you choose",
                      NULL, RANK_ASK, ROLE_EITHER, FEATURE_PPS },
    [ACTION_AVS] = { "avs", "In an AVS contract, step by 100 mV and by more than 1 V, up and down.",
                     "an AVS partner; for a charger one whose requests you choose", NULL, RANK_ASK, ROLE_EITHER, FEATURE_AVS },
    [ACTION_EPR] = { "epr", "Enter EPR mode, take an object above 20 V, ask for both kinds of capabilities, stay for ten seconds, "
                     "leave the mode.", "an EPR partner and an EPR cable", UP_TO_48V, RANK_ASK, ROLE_EITHER, FEATURE_EPR },
    [ACTION_VDM] = { "vdm", "Have the partner send structured vendor messages: Discover Identity, SVIDs and Modes, one of an unknown "
                     "vendor; and an unstructured one.", OWN_MESSAGES, NULL, RANK_ASK, ROLE_EITHER, FEATURE_NONE },
    [ACTION_VDM_BURST] = { "vdm-burst", "Send Discover Identity to a busy device again and again, until it answers BUSY.",
                           OWN_MESSAGES, NULL, RANK_ASK, ROLE_EITHER, FEATURE_NONE },
    [ACTION_CHUNKS] = { "chunks", "Have a message of more than 26 bytes sent in chunks: EPR capabilities, a Security or Firmware "
                        "message.", OWN_MESSAGES, NULL, RANK_ASK, ROLE_EITHER, FEATURE_NONE },
    [ACTION_UNCHUNKED] = { "unchunked", "The same with a partner that says it takes unchunked messages.", OWN_MESSAGES, NULL, RANK_ASK,
                           ROLE_EITHER, FEATURE_UNCHUNKED },
    [ACTION_WAIT] = { "wait", "Ask for more while the device has none to spare, so that it answers Wait; or answer its Request with "
                      "Wait, and let it ask again.", "a loaded second port; or "
                      OWN_MESSAGES, NULL, RANK_ASK, ROLE_EITHER, FEATURE_NONE },
    [ACTION_ALERT] = { "alert", "Have the source send an Alert with a change of its operating condition.", OWN_MESSAGES, NULL, RANK_ASK,
                       ROLE_SINK, FEATURE_NONE },
    [ACTION_SOFT_RESET] = { "soft-reset", "In a contract, have the partner send Soft_Reset.",
                      OWN_MESSAGES, NULL, RANK_ROLE, ROLE_EITHER, FEATURE_NONE },
    [ACTION_DR_SWAP] = { "data-swap", "In a contract, have the partner ask for DR_Swap.", OWN_MESSAGES,
                         "A running data transfer breaks off.", RANK_ROLE, ROLE_EITHER, FEATURE_DUAL_DATA },
    [ACTION_VCONN_SWAP] = { "vconn-swap", "In a contract, have the partner ask for VCONN_Swap.",
                      OWN_MESSAGES, NULL, RANK_ROLE, ROLE_EITHER, FEATURE_NONE },
    [ACTION_DATA_RESET] = { "data-reset", "In a contract, have the partner send Data_Reset.", OWN_MESSAGES,
                            "A running data transfer breaks off.", RANK_ROLE, ROLE_EITHER, FEATURE_NONE },
    [ACTION_PR_SWAP] = { "power-swap", "In a contract, have the partner ask for PR_Swap, and charge the other way for five seconds.",
                         "a dual-role partner", "The power turns round: only with a partner that may be charged, and may charge.",
                         RANK_ROLE, ROLE_EITHER, FEATURE_DUAL_POWER },
    [ACTION_CABLE_RESET] = { "cable-reset", "Have the side that sources VCONN send Cable Reset.", OWN_MESSAGES, NULL, RANK_ROLE,
                             ROLE_EITHER, FEATURE_NONE },
    [ACTION_BAD_REQUEST] = { "bad-request", "Have the partner request what is not offered: a position too high, a current or voltage too "
                             "high, in EPR mode a wrong copy.", OWN_MESSAGES,
                             "A source that accepts it may give what the partner cannot bear: no load but a rated one.", RANK_ODD,
                             ROLE_SOURCE, FEATURE_NONE },
    [ACTION_ODD_MESSAGE] = { "odd-message", "In a contract, have the partner send a message of a reserved type.", OWN_MESSAGES, NULL,
                             RANK_ODD, ROLE_EITHER, FEATURE_NONE },
    [ACTION_NO_GOODCRC] = { "no-goodcrc", "Have the partner leave one copy of a message without GoodCRC; then all copies of another.",
                            OWN_MESSAGES, NULL, RANK_ODD, ROLE_EITHER, FEATURE_NONE },
    [ACTION_HARD_RESET] = { "hard-reset", "In a contract above 5 V, have the partner send Hard Reset; record five seconds more.",
                            OWN_MESSAGES, VBUS_GOES, RANK_POWER, ROLE_EITHER, FEATURE_NONE },
    [ACTION_NO_ANSWER] = { "no-answer", "Have the partner acknowledge a message that asks, and never answer it: in a contract, the "
                           "Source_Capabilities of a source, the Request of a sink.",
                      OWN_MESSAGES, VBUS_GOES, RANK_POWER, ROLE_EITHER, FEATURE_NONE },
    [ACTION_NO_READY] = { "no-ready", "Have the source accept a Request and never send PS_RDY.", OWN_MESSAGES, VBUS_GOES, RANK_POWER,
                          ROLE_SINK, FEATURE_NONE },
    [ACTION_PPS_SILENCE] = { "pps-silence", "In a PPS contract, have the sink fall silent for twenty seconds; do it twice.", OWN_MESSAGES,
                             VBUS_GOES, RANK_POWER, ROLE_SOURCE, FEATURE_PPS },
    [ACTION_EPR_SILENCE] = { "epr-silence", "In EPR mode, have the sink fall silent for two seconds.",
                             OWN_MESSAGES " and an EPR cable", VBUS_GOES " " UP_TO_48V, RANK_POWER, ROLE_SOURCE, FEATURE_EPR },
    [ACTION_FR_SWAP] = { "fast-swap", "Take the supply of a source away from which a dual-role partner can take over.",
                         "a partner with Fast Role Swap",
                         "Unplug at the mains plug, never at bare wires; what hangs on the port may lose power.",
                      RANK_POWER, ROLE_EITHER, FEATURE_DUAL_POWER },
    [ACTION_OVERLOAD] = { "overload", "Raise the load slowly from the contract's current until the device limits or switches off, at most "
                          "to one and a half times of it; then take it away.", "an electronic load, readings of the current",
                          "The device may fail, get hot or burn. Stay with it, on a surface that cannot burn, clear of what can; stop at "
                          "smell, swelling or heat that the hand does not bear. Never short out or overload bare lithium cells, and open "
                          "nothing that hangs on the mains: local codes and people licensed for it have the last word.",
                          RANK_STRESS, ROLE_SOURCE, FEATURE_NONE },
};

const struct feature_words features_all[FEATURES] = {
    [FEATURE_NONE] = { "", "" },
    [FEATURE_VARIABLE] = { "variable", "a variable supply" },
    [FEATURE_BATTERY] = { "battery", "a battery supply" },
    [FEATURE_PPS] = { "pps", "a programmable supply (PPS)" },
    [FEATURE_PPS_LIMITED] = { "pps-limited", "a programmable supply that the port's rating limits" },
    [FEATURE_TWO_APDOS] = { "two-augmented", "two augmented objects (PPS, AVS) at once" },
    [FEATURE_AVS] = { "avs", "an adjustable supply (AVS)" },
    [FEATURE_EPR] = { "epr", "extended power range (EPR)" },
    [FEATURE_OVER_3A] = { "over-3a", "more than 3 A" },
    [FEATURE_PEAK] = { "peak", "peak current" },
    [FEATURE_DUAL_POWER] = { "dual-role-power", "to change its power role" },
    [FEATURE_DUAL_DATA] = { "dual-role-data", "to change its data role" },
    [FEATURE_UNCHUNKED] = { "unchunked", "unchunked extended messages" },
};

#define A(id) ACTION_BIT(ACTION_##id)
#define RETRIES (A(LONG_CABLE) | A(NO_GOODCRC))
/* All that ends in a Hard Reset. */
#define HARD_RESETS (A(HARD_RESET) | A(NO_ANSWER) | A(NO_READY) | A(PPS_SILENCE) | A(EPR_SILENCE))
#define SWAPS (A(DR_SWAP) | A(PR_SWAP) | A(VCONN_SWAP))

const struct rule_actions rule_actions_all[] = {
    { "wire.crc", A(PLUG), FEATURE_NONE, false },
    { "wire.crc-repeated", A(LONG_CABLE), FEATURE_NONE, false },
    { "wire.bit-rate", A(PLUG), FEATURE_NONE, false },
    { "wire.bit-drift", A(PLUG), FEATURE_NONE, false },
    { "wire.preamble", A(PLUG), FEATURE_NONE, false },
    { "wire.ordered-set", A(PLUG), FEATURE_NONE, false },
    { "wire.inter-frame-gap", A(PLUG), FEATURE_NONE, false },
    { "wire.end-of-packet", A(PLUG), FEATURE_NONE, false },

    { "message.reserved-type", A(PLUG), FEATURE_NONE, false },
    { "message.reserved-bits", A(PLUG), FEATURE_NONE, false },
    { "message.object-count", A(PLUG), FEATURE_NONE, false },
    { "message.length", A(PLUG), FEATURE_NONE, false },
    { "message.power-role", A(PLUG), FEATURE_NONE, false },
    { "message.data-role", A(PLUG), FEATURE_NONE, false },
    { "message.header-revision", A(PLUG), FEATURE_NONE, false },
    { "message.id-sequence", A(PLUG), FEATURE_NONE, false },
    { "message.id-after-reset", A(PLUG) | A(SOFT_RESET) | HARD_RESETS, FEATURE_NONE, false },
    { "message.direction", A(PLUG), FEATURE_NONE, false },
    { "message.set-allowed", A(MARKED_CABLE) | A(PLAIN_CABLE), FEATURE_NONE, false },
    { "message.allowed-in-revision", A(PLUG) | A(PLUG_R2), FEATURE_NONE, false },
    { "message.deprecated", A(PLUG), FEATURE_NONE, true },
    { "message.chunk-size", A(CHUNKS) | A(EPR), FEATURE_NONE, false },
    { "message.chunk-order", A(CHUNKS) | A(EPR), FEATURE_NONE, false },
    { "message.unchunked-agreed", A(UNCHUNKED), FEATURE_UNCHUNKED, false },
    { "message.extended-size", A(ASK_ALL) | A(CHUNKS) | A(EPR), FEATURE_NONE, false },

    { "exchange.goodcrc", A(PLUG), FEATURE_NONE, false },
    { "exchange.first-try", RETRIES, FEATURE_NONE, false },
    { "exchange.goodcrc-id", A(PLUG), FEATURE_NONE, false },
    { "exchange.goodcrc-unprompted", A(PLUG), FEATURE_NONE, false },
    { "exchange.retry-count", RETRIES, FEATURE_NONE, false },
    { "exchange.retry-same", RETRIES, FEATURE_NONE, false },
    { "exchange.answer", A(ASK_ALL) | SWAPS | A(DATA_RESET), FEATURE_NONE, false },
    { "exchange.answer-kind", A(PLUG), FEATURE_NONE, false },
    { "exchange.request-answered", A(PLUG), FEATURE_NONE, false },
    { "exchange.request-after-caps", A(PLUG), FEATURE_NONE, false },
    { "exchange.source-caps-answer", A(ASK_ALL), FEATURE_NONE, false },
    { "exchange.ready-after-accept", A(PLUG), FEATURE_NONE, false },
    { "exchange.no-ready-without-accept", A(PLUG), FEATURE_NONE, false },
    { "exchange.unexpected-message", A(PLUG), FEATURE_NONE, false },
    { "exchange.not-supported", A(ODD_MESSAGE), FEATURE_NONE, false },
    { "exchange.soft-reset-accept", A(SOFT_RESET) | A(NO_GOODCRC), FEATURE_NONE, false },
    { "exchange.one-at-a-time", A(PLUG), FEATURE_NONE, false },
    { "exchange.sink-tx", A(PPS), FEATURE_NONE, false },
    { "exchange.wait-endless", A(WAIT), FEATURE_NONE, false },
    { "exchange.hard-reset-after-timeout", A(NO_ANSWER) | A(NO_READY), FEATURE_NONE, false },

    { "caps.first-5v", A(PLUG), FEATURE_NONE, false },
    { "caps.count", A(PLUG), FEATURE_NONE, false },
    { "caps.order", A(PLUG), FEATURE_NONE, false },
    { "caps.apdo-order", A(PLUG), FEATURE_TWO_APDOS, false },
    { "caps.unique-voltage", A(PLUG), FEATURE_NONE, false },
    { "caps.zero-object", A(PLUG), FEATURE_NONE, false },
    { "caps.first-only-flags", A(PLUG), FEATURE_NONE, false },
    { "caps.reserved-bits", A(PLUG), FEATURE_NONE, false },
    { "caps.apdo-in-revision", A(PLUG_R2), FEATURE_NONE, false },
    { "caps.spr-limits", A(PLUG), FEATURE_NONE, false },
    { "caps.variable-range", A(PLUG), FEATURE_VARIABLE, false },
    { "caps.battery-range", A(PLUG), FEATURE_BATTERY, false },
    { "caps.pps-range", A(PLUG), FEATURE_PPS, false },
    { "caps.pps-current", A(PLUG), FEATURE_PPS, false },
    { "caps.pps-power-limited", A(PLUG) | A(ASK_ALL), FEATURE_PPS_LIMITED, false },
    { "caps.power-rules-voltages", A(PLUG), FEATURE_NONE, false },
    { "caps.power-rules-currents", A(PLUG), FEATURE_NONE, false },
    { "caps.over-rating", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.agrees-with-extended-rating", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.agrees-with-source-info", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.over-3a-needs-cable", A(MARKED_CABLE), FEATURE_OVER_3A, false },
    { "caps.epr-needs-cable", A(EPR), FEATURE_EPR, false },
    { "caps.epr-positions", A(EPR), FEATURE_EPR, false },
    { "caps.epr-padding", A(EPR), FEATURE_EPR, false },
    { "caps.avs-required", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.avs-range", A(PLUG) | A(EPR), FEATURE_AVS, false },
    { "caps.epr-flag", A(EPR), FEATURE_EPR, false },
    { "caps.peak-current", A(ASK_ALL), FEATURE_PEAK, false },
    { "caps.changed-unannounced", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.repeats-identical", A(SECOND_PORT), FEATURE_NONE, false },
    { "caps.sink-first-5v", A(ASK_ALL), FEATURE_NONE, false },
    { "caps.sink-order", A(ASK_ALL), FEATURE_NONE, false },

    { "request.position", A(PLUG), FEATURE_NONE, false },
    { "request.current", A(PLUG), FEATURE_NONE, false },
    { "request.current-order", A(PLUG), FEATURE_NONE, false },
    { "request.power", A(VARIABLE), FEATURE_NONE, false },
    { "request.mismatch-flag", A(WEAK_SOURCE), FEATURE_NONE, false },
    { "request.pps-range", A(PPS), FEATURE_NONE, false },
    { "request.avs-range", A(AVS), FEATURE_NONE, false },
    { "request.avs-step", A(AVS), FEATURE_NONE, false },
    { "request.reserved-bits", A(PLUG), FEATURE_NONE, false },
    { "request.epr-copy", A(EPR), FEATURE_NONE, false },
    { "request.valid-accepted", A(PLUG), FEATURE_NONE, false },
    { "request.invalid-refused", A(BAD_REQUEST), FEATURE_NONE, false },

    { "time.goodcrc-turnaround", A(PLUG), FEATURE_NONE, false },
    { "time.retry", RETRIES, FEATURE_NONE, false },
    { "time.receiver-response", A(ASK_ALL) | SWAPS | A(SOFT_RESET), FEATURE_NONE, false },
    { "time.source-response", A(PLUG), FEATURE_NONE, false },
    { "time.first-request", A(PLUG), FEATURE_NONE, false },
    { "time.sender-patience", A(NO_ANSWER), FEATURE_NONE, false },
    { "time.first-caps", A(PLUG), FEATURE_NONE, false },
    { "time.caps-interval", A(NO_PD), FEATURE_NONE, false },
    { "time.caps-give-up", A(NO_PD), FEATURE_NONE, false },
    { "time.src-transition", A(PLUG), FEATURE_NONE, false },
    { "time.ready-spr", A(PLUG), FEATURE_NONE, false },
    { "time.ready-epr", A(EPR), FEATURE_EPR, false },
    { "time.pps-small", A(PPS), FEATURE_PPS, false },
    { "time.pps-large", A(PPS), FEATURE_PPS, false },
    { "time.avs-small", A(AVS), FEATURE_AVS, false },
    { "time.avs-large", A(AVS), FEATURE_AVS, false },
    { "time.ps-transition", A(NO_READY), FEATURE_NONE, false },
    { "time.hard-reset-response", HARD_RESETS, FEATURE_NONE, false },
    { "time.safe0v", HARD_RESETS, FEATURE_NONE, false },
    { "time.src-recover", HARD_RESETS, FEATURE_NONE, false },
    { "time.turn-on", A(PLUG) | HARD_RESETS, FEATURE_NONE, false },
    { "time.vbus-on", A(PLUG), FEATURE_NONE, false },
    { "time.vbus-off-detach", A(PLUG), FEATURE_NONE, false },
    { "time.sink-request-after-wait", A(WAIT), FEATURE_NONE, false },
    { "time.pps-keepalive", A(PPS), FEATURE_NONE, false },
    { "time.pps-timeout", A(PPS_SILENCE), FEATURE_PPS, false },
    { "time.epr-keepalive", A(EPR), FEATURE_NONE, false },
    { "time.epr-timeout", A(EPR_SILENCE), FEATURE_EPR, false },
    { "time.chunk-request", A(CHUNKS) | A(EPR), FEATURE_NONE, false },
    { "time.chunk-response", A(CHUNKS) | A(EPR), FEATURE_NONE, false },
    { "time.pr-swap-off", A(PR_SWAP), FEATURE_DUAL_POWER, false },
    { "time.pr-swap-on", A(PR_SWAP), FEATURE_DUAL_POWER, false },
    { "time.pr-swap-start", A(PR_SWAP), FEATURE_DUAL_POWER, false },
    { "time.fr-swap", A(FR_SWAP), FEATURE_DUAL_POWER, false },
    { "time.vconn-on", A(VCONN_SWAP), FEATURE_NONE, false },
    { "time.vdm-response", A(VDM) | A(MARKED_CABLE), FEATURE_NONE, false },
    { "time.vdm-busy", A(VDM_BURST), FEATURE_NONE, false },
    { "time.soft-reset", A(NO_GOODCRC), FEATURE_NONE, false },
    { "time.discover-identity", A(PLAIN_CABLE), FEATURE_NONE, false },
    { "time.data-reset", A(DATA_RESET), FEATURE_NONE, false },
    { "time.sink-tx", A(SECOND_PORT), FEATURE_NONE, false },

    { "epr.entry-order", A(EPR), FEATURE_EPR, false },
    { "epr.entry-needs-cable", A(EPR), FEATURE_EPR, false },
    { "epr.entry-needs-capable", A(EPR), FEATURE_EPR, false },
    { "epr.caps-in-mode", A(EPR), FEATURE_EPR, false },
    { "epr.spr-caps-in-mode", A(EPR), FEATURE_EPR, false },
    { "epr.request-kind", A(PLUG) | A(EPR), FEATURE_NONE, false },
    { "epr.keepalive-ack", A(EPR), FEATURE_EPR, false },
    { "epr.exit", A(EPR), FEATURE_EPR, false },
    { "epr.high-voltage-outside", A(PLUG), FEATURE_NONE, false },

    { "reset.hard-reset-vbus-cycle", HARD_RESETS, FEATURE_NONE, false },
    { "reset.restart-with-caps", HARD_RESETS, FEATURE_NONE, false },
    { "reset.soft-reset-renegotiates", A(SOFT_RESET) | A(NO_GOODCRC), FEATURE_NONE, false },
    { "reset.soft-reset-keeps-vbus", A(SOFT_RESET) | A(NO_GOODCRC), FEATURE_NONE, false },
    { "reset.contract-after-reset", HARD_RESETS, FEATURE_NONE, false },
    { "reset.repeated", HARD_RESETS, FEATURE_NONE, false },
    { "reset.unexplained", A(SOFT_RESET) | A(NO_GOODCRC) | HARD_RESETS, FEATURE_NONE, false },
    { "reset.cable-reset", A(CABLE_RESET), FEATURE_NONE, false },

    { "swap.pr-order", A(PR_SWAP), FEATURE_DUAL_POWER, false },
    { "swap.pr-vbus-off", A(PR_SWAP), FEATURE_DUAL_POWER, false },
    { "swap.dr-order", A(DR_SWAP), FEATURE_DUAL_DATA, false },
    { "swap.vconn-order", A(VCONN_SWAP), FEATURE_NONE, false },
    { "swap.fr-order", A(FR_SWAP), FEATURE_DUAL_POWER, false },
    { "swap.fr-vbus", A(FR_SWAP), FEATURE_DUAL_POWER, false },
    { "swap.dual-role-flag", A(PR_SWAP), FEATURE_DUAL_POWER, false },

    { "cable.discovered-before-5a", A(PLUG) | A(MARKED_CABLE) | A(PLAIN_CABLE), FEATURE_OVER_3A, false },
    { "cable.identity-valid", A(MARKED_CABLE) | A(EPR), FEATURE_NONE, false },
    { "cable.rating-agrees", A(EPR) | HARD_RESETS, FEATURE_NONE, false },
    { "cable.epr-rating", A(EPR), FEATURE_NONE, false },
    { "cable.current-over-rating", A(MARKED_CABLE), FEATURE_OVER_3A, false },

    { "vdm.header", A(VDM) | A(MARKED_CABLE) | A(PLAIN_CABLE), FEATURE_NONE, false },
    { "vdm.answer", A(VDM) | A(MARKED_CABLE), FEATURE_NONE, false },
    { "vdm.answer-fields", A(VDM) | A(MARKED_CABLE), FEATURE_NONE, false },
    { "vdm.identity-fields", A(VDM), FEATURE_NONE, false },
    { "vdm.busy-count", A(VDM_BURST), FEATURE_NONE, false },
    { "vdm.survives", A(VDM), FEATURE_NONE, false },

    { "ext.status-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.source-caps-ext-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.source-info-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.battery-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.alert-fields", A(ALERT) | A(OVERLOAD), FEATURE_NONE, false },
    { "ext.alert-answered", A(ALERT), FEATURE_NONE, false },
    { "ext.trip-announced", A(OVERLOAD), FEATURE_NONE, false },
    { "ext.manufacturer-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.revision-fields", A(ASK_ALL), FEATURE_NONE, false },
    { "ext.country-fields", A(ASK_ALL), FEATURE_NONE, false },
    { 0 },
};

const struct rule_actions *rule_actions_find(const char *rule)
{
    for (const struct rule_actions *r = rule_actions_all; r->rule; r++)
        if (strcmp(r->rule, rule) == 0)
            return r;
    return NULL;
}
