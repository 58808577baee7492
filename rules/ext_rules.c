/* ext.*: contents of status and identity messages. The checks: ext_checks.c, ext_objects.c, ext_trip.c. */
#include "rules/ext_checks.h"
#include "rules/ext_trip.h"
#include "rules/groups.h"

#include "decode/sources.h"

#include <stddef.h>

#define NAMES(...) (const char *const[]){ __VA_ARGS__, NULL }
#define SENTENCES(...) (const char *const[]){ __VA_ARGS__, NULL }
#define WHOLE_FORM NAMES("message.object-count", "message.length")
#define WHOLE_BLOCK NAMES("message.object-count", "message.length", "message.extended-size")
#define D(type) (1u << DATA_##type)
#define E(type) (1u << EXTENDED_##type)

#define NOTHING_MORE "Nothing beyond what holds for every rule."

const struct rule ext_rules[] = {
    {
        .id = "ext.status-fields",
        .title = "Status and PPS_Status leave reserved bits alone",
        .requirement = "In Status on SOP bits 0 and 7:5 of bytes 1 and 3, bits 0 and 7:3 of byte 4 and bits 0 and 7:6 of byte 5 are 0, and byte 2 "
                       "(batteries in use) is 0 unless bit 3 of byte 1 says that a battery feeds the port. In PPS_Status bits 0 and 7:4 of "
                       "byte 3 are 0. Bytes that were not sent are not judged.",
        .source = "USB PD, Status and PPS_Status data blocks: " FROM_LINUX_SDB ", " FROM_CHROMIUM ", " FROM_INFINEON
                  "; many bits from memory",
        .why = "The partner reads warnings out of these bytes that nobody meant.",
        .undecided = NOTHING_MORE, .bench = "Let the partner ask for Status, and in a PPS contract for PPS_Status.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .extended = E(STATUS) | E(PPS_STATUS) }, .sets = 1 << SET_SOP,
        .silenced_by = WHOLE_BLOCK,
        .sentences = SENTENCES(
            [STATUS_RESERVED] = "Byte {0} ({1:xb}) has a reserved bit set.",
            [STATUS_NO_BATTERY] = "Byte 2 ({0:xb}) names batteries that supply power, but byte 1 says that none does."),
        .check = ext_check_status_fields,
    },
    {
        .id = "ext.source-caps-ext-fields",
        .title = "Source_Capabilities_Extended gives ratings that there are",
        .requirement = "SPR Source PDP Rating is at most 100 W with bit 7 clear; EPR Source PDP Rating is 0 or 100 to 240 W, and 0 unless object 1 "
                       "of the offer is EPR capable (bit 23). Bits 7:3 of bytes 10, 12 and 13 are 0, touch temperature is at most 2, the "
                       "three peak currents at most 25 (250 %).",
        .source = "USB PD, Source_Capabilities_Extended data block: " FROM_ARTICLE ", " FROM_INFINEON "; the limits and most bits from memory",
        .why = "Sinks choose how much to draw by these ratings.",
        .undecided = "An EPR rating is given and the offer that has to fit it is not known.",
        .bench = "Let the sink ask for Source_Capabilities_Extended.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .extended = E(SOURCE_CAPABILITIES) }, .sets = 1 << SET_SOP,
        .silenced_by = WHOLE_BLOCK,
        .sentences = SENTENCES(
            [EXTENDED_SPR_PDP] = "SPR Source PDP Rating (byte 23) is {0} W; at most 100 W is allowed.",
            [EXTENDED_EPR_PDP] = "EPR Source PDP Rating is {0} W; 0 or 100 to 240 W is allowed.",
            [EXTENDED_EPR_UNFLAGGED] = "EPR Source PDP Rating is {0} W, but object 1 of the offer ({1:x}) has bit 23 (EPR Capable) clear.",
            [EXTENDED_RESERVED] = "Byte {0} ({1:xb}) has a reserved bit set.",
            [EXTENDED_TOUCH] = "Touch temperature is {0}; only 0 to 2 are defined.",
            [EXTENDED_PEAK] = "The overload of peak current {0} is {1}; at most 25 (250 %) is allowed.",
            [EXTENDED_OFFER_UNKNOWN] = "EPR Source PDP Rating is {0} W; the offer that has to carry the EPR Capable bit is not in the "
                                       "recording."),
        .check = ext_check_source_caps_ext_fields,
    },
    {
        .id = "ext.source-info-fields",
        .title = "Source_Info adds up",
        .requirement = "Bits 30:24 of Source_Info are 0; Port Present PDP and Port Reported PDP do not exceed Port Maximum PDP; on a port of "
                       "guaranteed capability Port Present PDP equals Port Maximum PDP. Of two objects the first is judged.",
        .source = "USB PD, Source Information Data Object: " FROM_CHROMIUM ", " FROM_INFINEON "; guaranteed means present equals maximum from "
                  "memory",
        .why = "It is what tells a user how much of the printed power is to be had just now.",
        .undecided = NOTHING_MORE, .bench = "Let the sink ask for Source_Info, with other ports empty and occupied.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .data = D(SOURCE_INFO) }, .sets = 1 << SET_SOP, .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [INFO_RESERVED] = "Source_Info {0:x} has reserved bits {1:x} set.",
            [INFO_PRESENT] = "Port Present PDP is {0:W}, more than Port Maximum PDP, {1:W}.",
            [INFO_REPORTED] = "Port Reported PDP is {0:W}, more than Port Maximum PDP, {1:W}.",
            [INFO_GUARANTEED] = "The port's power is guaranteed, so both have to be equal: Port Present PDP is {0:W}, Port Maximum PDP "
                                "{1:W}."),
        .check = ext_check_source_info_fields,
    },
    {
        .id = "ext.battery-fields",
        .title = "What is said of a battery fits the batteries there are",
        .requirement = "In an answer to Get_Battery_Status or Get_Battery_Cap the invalid-reference bit is 0 where the reference asked for "
                       "(fixed 0 to 3, slots 4 to 7) lies within the counts of the port's extended capabilities, else 1. Charging state 3 "
                       "is not used. The last full charge is at most {full_charge_share:most} of the design capacity, where both are "
                       "given.",
        .source = "USB PD, Battery_Status and Battery_Capabilities: " FROM_CHROMIUM "; counts and charging states from memory; 120 % common "
                  "practice, no source",
        .why = "A power bank shows its charge level and its wear by these numbers.",
        .undecided = "Where the counts are not known the reference is not judged.",
        .bench = "Let the partner ask for extended capabilities, then for status and capabilities of battery 0 and of one that is not there.",
        .basis = BASIS_FOUND | BASIS_MEMORY | BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = { .data = D(BATTERY_STATUS), .extended = E(BATTERY_CAPABILITIES) },
        .sets = 1 << SET_SOP, .parameters = NAMES("full_charge_share"), .silenced_by = WHOLE_BLOCK,
        .sentences = SENTENCES(
            [BATTERY_WRONGLY_VALID] = "The answer calls battery {0} valid, but the port has no battery of that number.",
            [BATTERY_WRONGLY_INVALID] = "The answer calls battery {0} an invalid reference, but the port has a battery of that number.",
            [BATTERY_STATE] = "The charging state is 3, which is reserved.",
            [BATTERY_FULL] = "The last full charge is {0:W}h, the design capacity {1:W}h."),
        .check = ext_check_battery_fields,
    },
    {
        .id = "ext.alert-fields",
        .title = "An Alert says what it is about",
        .requirement = "Bits 24 and 15:4 of an Alert are 0 and at least one of bits 31:25 is 1. Batteries (bits 23:16) are named only with bit 25. "
                       "The extended type is 1 to 4 where bit 31 is 1, else 0.",
        .source = "USB PD, Alert Data Object: " FROM_LINUX_ADO ", " FROM_CHROMIUM ", " FROM_INFINEON,
        .why = "The partner has to ask what happened, and finds nothing.",
        .undecided = NOTHING_MORE, .bench = "Provoke an Alert: overload the port, or take its input power away.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .data = D(ALERT) }, .sets = 1 << SET_SOP, .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [ALERT_RESERVED] = "Alert {0:x} has reserved bits {1:x} set.",
            [ALERT_NOTHING] = "Alert {0:x} reports no event.",
            [ALERT_BATTERIES] = "Alert {0:x} names batteries, but no battery status change (bit 25).",
            [ALERT_TYPE_MISSING] = "Alert {0:x} has extended alert type {1}; only 1 to 4 are defined.",
            [ALERT_TYPE_UNASKED] = "Alert {0:x} has extended alert type {1}, but no extended alert event (bit 31)."),
        .check = ext_check_alert_fields,
    },
    {
        .id = "ext.alert-answered",
        .title = "A sink asks what an Alert was about",
        .requirement = "After an Alert of the source with any of bits 30:26 (over-voltage, input change, operating condition, "
                       "over-temperature, over-current) the sink sends Get_Status within {alert_answer_s:most}. A sink that answers "
                       "Not_Supported owes nothing.",
        .source = "Common practice, no source; the bits as in " FROM_LINUX_ADO,
        .why = "An Alert that nobody follows up might as well not have been sent.",
        .undecided = "Records are missing within the second, or a bad packet may have been Get_Status.",
        .bench = "Provoke an Alert: overload the port, or take its input power away.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SINK, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) |
                 EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(WAKE_ATTACH_END),
        .messages = { .control = 1u << CONTROL_GET_STATUS | 1u << CONTROL_NOT_SUPPORTED, .data = D(ALERT) }, .sets = 1 << SET_SOP,
        .parameters = NAMES("alert_answer_s"), .silenced_by = WHOLE_FORM,
        .sentences = SENTENCES(
            [FOLLOW_UP_LATE] = "Get_Status came {4:ms} after the Alert; the limit is {5:ms}.",
            [FOLLOW_UP_NEVER] = "No Get_Status followed the Alert."),
        .state_size = sizeof(struct alert_state), .check = ext_check_alert_answered,
    },
    {
        .id = "ext.trip-announced",
        .title = "A source that switches off an overload says so",
        .requirement = "Where a contract ends because VBUS falls below 0.8 V, with a current {overload_share:most} above the contract in "
                       "the {trip_alert_s:most} before and no Hard Reset, detach or mark, an Alert with bit 30, 27 or 26 (over-voltage, "
                       "over-temperature, over-current) comes in the {trip_alert_s:most} before or after.",
        .source = "Common practice, no source; the bits as in " FROM_LINUX_ADO,
        .why = "A device that is told of its overload can draw less; one that is not goes dark without knowing why.",
        .undecided = "Records are missing, or could not be read, in that time.",
        .bench = "Load the port beyond its contract until it switches off, with VBUS and current recorded.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3,
        .occasion_evidence = EVIDENCE_VBUS | EVIDENCE_IBUS,
        .wakes = TRIP_WAKES, .messages = { .data = D(ALERT) }, .sets = 1 << SET_SOP,
        .parameters = TRIP_PARAMETERS, .sentences = TRIP_SENTENCES,
        .state_size = sizeof(struct trip_state), .check = ext_check_trip_announced,
    },
    {
        .id = "ext.manufacturer-fields",
        .title = "Manufacturer_Info can be read, and names the maker that other messages name",
        .requirement = "The text is printable ASCII and ends in one zero byte, at the end of the block. The VID of the port or plug itself is the one of its "
                       "Discover Identity and Source_Capabilities_Extended, where they were seen and none is 0xFFFF.",
        .source = "USB PD, Manufacturer_Info data block; from memory",
        .why = "It is the name under which the product shows up on the other side.",
        .undecided = NOTHING_MORE, .bench = "Let the partner ask for Manufacturer_Info, Discover Identity and Source_Capabilities_Extended.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = { .extended = E(MANUFACTURER_INFO) }, .silenced_by = WHOLE_BLOCK,
        .sentences = SENTENCES(
            [TEXT_NO_END] = "The text has no zero byte at its end.",
            [TEXT_TWO_ENDS] = "The text ends at byte {0}, but the block goes on after it.",
            [TEXT_LETTER] = "Byte {0} of the block ({1:xb}) is not printable ASCII.",
            [TEXT_VID_IDENTITY] = "The VID is {0:xh}; Discover Identity gave {1:xh}.",
            [TEXT_VID_EXTENDED] = "The VID is {0:xh}; Source_Capabilities_Extended gave {1:xh}."),
        .check = ext_check_manufacturer_fields,
    },
    {
        .id = "ext.revision-fields",
        .title = "Revision names a revision that there is",
        .requirement = "Revision says 3.0, 3.1 or 3.2, a version of two decimal digits, and 0 in bits 15:0; the header of the message says 3.x.",
        .source = "USB PD, Revision Message Data Object: " FROM_CHROMIUM,
        .why = "The partner chooses its timing and its messages by it.",
        .undecided = NOTHING_MORE, .bench = "Let the partner ask for Revision.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R31,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .data = D(REVISION) },
        .silenced_by = NAMES("message.object-count", "message.length", "message.header-revision"),
        .sentences = SENTENCES(
            [REVISION_NUMBER] = "The revision is {0}.{1}; only 3.0, 3.1 and 3.2 exist.",
            [REVISION_VERSION] = "The version is {0}.{1}; each has to be a decimal digit.",
            [REVISION_RESERVED] = "Revision {0:x} has reserved bits {1:x} set.",
            [REVISION_HEADER] = "The header of the Revision message says revision {0:r}."),
        .check = ext_check_revision_fields,
    },
    {
        .id = "ext.country-fields",
        .title = "Country messages hold country codes",
        .requirement = "Each code in Country_Codes and Country_Info is two letters A to Z, reserved bytes are 0, the number of codes is the one that fills "
                       "the block, and Country_Info is about the country asked for.",
        .source = "USB PD, Country_Codes and Country_Info data blocks; from memory",
        .why = "A code that is none finds no country's rules.",
        .undecided = NOTHING_MORE, .bench = "Let the partner ask for Country_Codes and then for Country_Info of one of them.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(WAKE_TALK), .messages = { .extended = E(COUNTRY_CODES) | E(COUNTRY_INFO) }, .sets = 1 << SET_SOP,
        .silenced_by = WHOLE_BLOCK,
        .sentences = SENTENCES(
            [COUNTRY_LETTERS] = "A country code has the bytes {0:xb} and {1:xb}; both have to be letters A to Z.",
            [COUNTRY_NUMBER] = "The block announces {0} country codes, but has {1} bytes.",
            [COUNTRY_RESERVED] = "Reserved byte {0} is {1:xb}.",
            [COUNTRY_OTHER] = "The answer is about country {0:c}{1:c}; {2:c}{3:c} was asked for."),
        .check = ext_check_country_fields,
    },
    { .id = NULL },
};
