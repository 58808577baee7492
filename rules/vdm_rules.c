/* vdm.*: Vendor_Defined messages. The checks: vdm_checks.c, vdm_survives.c. */
#include "rules/groups.h"
#include "rules/vdm_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define NAMES(...) (const char *const[]){ __VA_ARGS__, NULL }
#define SENTENCES(...) (const char *const[]){ __VA_ARGS__, NULL }
/* Vendor_Defined takes 1 to 7 objects, from everybody, on every set, under every revision: no other rule of its form can fail. */
#define WHOLE_FORM NAMES("message.length")
#define ON_VDM .messages = { .data = 1u << DATA_VENDOR_DEFINED }

#define NOTHING_MORE "Nothing beyond what holds for every rule."
#define BENCH_DISCOVER "Attach a partner that asks for identities (most hosts and phones do), and a marked cable."

const struct rule vdm_rules[] = {
    {
        .id = "vdm.header",
        .title = "The header of a structured VDM says what there is to say",
        .requirement = "Bit 5 is 0. The command is 1 to 6 or 16 to 31, Attention only as a request. Discover Identity and Discover SVIDs have "
                       "SVID 0xFF00 and object position 0. Requests of Discover SVIDs, Discover Modes and Exit Mode are 1 object long, of "
                       "Enter Mode 1 or 2. What an answer echoes is held against the one that asked.",
        .source = "USB PD, structured VDM header: " FROM_LINUX_VDO ", " FROM_CHROMIUM "; positions and lengths " SECONDARY,
        .why = "A receiver that checks the header drops the message, and the exchange hangs.",
        .undecided = NOTHING_MORE, .bench = BENCH_DISCOVER,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), ON_VDM, .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [HEADER_BIT_5] = "Bit 5 of the structured VDM header is 1; it is reserved.",
            [HEADER_COMMAND] = "VDM command {0} is not defined; only 1 to 6 and 16 to 31 are.",
            [HEADER_ATTENTION] = "Attention was sent as an answer (ACK, NAK or BUSY); it exists as a request only.",
            [HEADER_SVID] = "VDM command {0} has SVID {1:xh}; it has to have the PD SID, 0xff00.",
            [HEADER_POSITION] = "VDM command {0} has object position {1}; it has to have 0.",
            [HEADER_ONE_OBJECT] = "The request of VDM command {0} has {1} objects instead of 1.",
            [HEADER_TWO_OBJECTS] = "The request to enter a mode has {1} objects instead of 1 or 2."),
        .check = vdm_check_header,
    },
    {
        .id = "vdm.answer",
        .title = "A structured VDM that asks gets its answer",
        .requirement = "A structured request other than Attention is answered by ACK, NAK or BUSY, under 3.x also by Not_Supported, within "
                       "{answer_none_ms:most}. Under 2.0 silence will do. On SOP it is asked of a partner in a contract, on SOP' and SOP'' "
                       "of a plug that has answered before.",
        .source = "USB PD, structured VDMs: " FROM_LINUX_VDO ", " FROM_CHROMIUM "; silence under 2.0 and before a contract " SECONDARY
                  "; 100 ms common practice, no source",
        .why = "The asker waits, asks again, and may give the partner up.",
        .undecided = "Records are missing after the request, or a bad packet may have been the answer.", .bench = BENCH_DISCOVER,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_ASK) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH), ON_VDM,
        .parameters = NAMES("answer_none_ms"),
        .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES([ANSWER_NEVER] = "VDM command {0} on {1:set} was acknowledged, but not answered."),
        .state_size = sizeof(struct vdm_answer_state), .check = vdm_check_answer,
    },
    {
        .id = "vdm.answer-fields",
        .title = "An answer to a structured VDM names what was asked",
        .requirement = "SVID and command of ACK, NAK and BUSY are those of the request, in Enter Mode and Exit Mode the object position too; NAK and "
                       "BUSY are a header and nothing else.",
        .source = "USB PD, structured VDMs: " FROM_LINUX_VDO ", " FROM_CHROMIUM "; the same SVID " SECONDARY,
        .why = "The asker cannot tell what was answered, and takes it for something else.",
        .undecided = NOTHING_MORE, .bench = BENCH_DISCOVER,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_TALK), ON_VDM, .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [FIELDS_SVID] = "The answer has SVID {0:xh}; the request had {1:xh}.",
            [FIELDS_COMMAND] = "The answer is to VDM command {0}; the request was {1}.",
            [FIELDS_POSITION] = "The answer has object position {0}; the request had {1}.",
            [FIELDS_OBJECTS] = "An answer of command type {1} (2 NAK, 3 BUSY) has {0} objects instead of 1."),
        .check = vdm_check_answer_fields,
    },
    {
        .id = "vdm.identity-fields",
        .title = "A port's identity names what it is, and has what belongs to that",
        .requirement = "An answer to Discover Identity on SOP has 4 to 7 objects; bits 20:16 of its ID Header are 0, under 2.0 bits 25:16. Under 3.x "
                       "the product types are defined ones (UFP 0 to 3 and 5, DFP 0 to 3), followed by as many objects as they take: one a "
                       "type, with or without a filler between the two.",
        .source = "USB PD, Discover Identity: " FROM_LINUX_VDO ", " FROM_CHROMIUM_VDO "; the filler from memory",
        .why = "Hosts look up by these words what they have got, and refuse what does not add up.",
        .undecided = NOTHING_MORE, .bench = "Attach a partner that answers Discover Identity and one that asks for it.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), ON_VDM, .sets = 1 << SET_SOP, .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [PARTNER_FEW_OBJECTS] = "The identity has {0} objects; it has to have at least 4.",
            [PARTNER_RESERVED] = "The ID Header {0:x} has reserved bits {1:x} set.",
            [PARTNER_UFP] = "The UFP product type {0} is reserved.",
            [PARTNER_DFP] = "The DFP product type {0} is reserved.",
            [PARTNER_COUNT] = "The identity has {0} product type VDOs, which does not fit UFP type {1} with DFP type {2}."),
        .check = vdm_check_identity_fields,
    },
    {
        .id = "vdm.busy-count",
        .title = "BUSY is not the answer for ever",
        .requirement = "The same request gets BUSY at most {nBusyCount:most} times (nBusyCount) in a row.",
        .source = "nBusyCount: " FROM_MICROCHIP,
        .why = "The asker gives up, and what it wanted to know stays unknown.",
        .undecided = NOTHING_MORE, .bench = BENCH_DISCOVER,
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .wakes = EVENT_BIT(WAKE_ASK), ON_VDM, .parameters = NAMES("nBusyCount"),
        .sentences = SENTENCES([BUSY_MANY] = "BUSY number {0} in a row to the same VDM command {2}; at most {1} are allowed."),
        .state_size = sizeof(struct busy_state), .check = vdm_check_busy_count,
    },
    {
        .id = "vdm.survives",
        .title = "A source bears a Vendor_Defined message",
        .requirement = "Within {vdm_survive_s:most} after a Vendor_Defined message that the source heard there is no Hard Reset, no "
                       "Soft_Reset of the source and no loss of VBUS. A reset of the sink, or one that a timer of either side or another "
                       "finding explains, is nobody's crash.",
        .source = "Common practice, no source",
        .why = "Phones and computers send such messages to everything; a source that stumbles over one interrupts charging.",
        .undecided = "Whose Hard Reset it was does not show: one is left open, a second one after such a message counts. A packet that could not "
                     "be read may have called for the Soft_Reset. Records are missing "
                     "or a packet is bad within the second. VBUS goes, and no CC state tells whether the plug was pulled.",
        .bench = "In a contract let the sink send Discover Identity and an unstructured VDM of an unknown vendor.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) | EVENT_BIT(EVENT_CONTRACT_END) |
                 EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(WAKE_ATTACH_END),
        ON_VDM, .sets = 1 << SET_SOP, .parameters = NAMES("vdm_survive_s"),
        .sentences = SENTENCES(
            [SURVIVES_HARD_RESET] = "A Hard Reset came {0:ms} after a Vendor_Defined message.",
            [SURVIVES_SOFT_RESET] = "The source sent Soft_Reset {0:ms} after a Vendor_Defined message.",
            [SURVIVES_VBUS] = "VBUS was gone {0:ms} after a Vendor_Defined message.",
            [SURVIVES_UNSEEN] = "What followed this Vendor_Defined message is not in the recording."),
        .state_size = sizeof(struct survives_state), .check = vdm_check_survives,
    },
    { .id = NULL },
};
