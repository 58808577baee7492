/* caps.* - what is offered. The rows; the checks: caps_form.c, caps_power.c, caps_epr.c, caps_again.c. */
#include "rules/caps_checks.h"
#include "rules/groups.h"

#include <stddef.h>

#define NAMES(...) (const char *const[]){ __VA_ARGS__, NULL }
/* Listed in the order of their numbers; ends with NULL. */
#define SENTENCES(...) (const char *const[]){ __VA_ARGS__, NULL }
#define SETTLED EVENT_BIT(WAKE_OFFER_SETTLED)

/* Bench actions that serve many rows. */
#define BENCH_CAPS \
    "Plug in any sink that talks Power Delivery (or a sniffer that shows Rd): the source says what it " \
    "has within a second."
#define BENCH_PPS \
    "Plug in a sink that talks R3.x and let it make a contract with a source that offers a programmable range."
#define BENCH_EPR \
    "Plug an EPR source and an EPR sink together with a 5 A, 50 V, EPR-marked cable and let them enter EPR mode."
#define BENCH_RATED \
    "Give the port's rating as rated_w in ABOUT, or let the sink ask for Source_Capabilities_Extended; " \
    "plug it in alone."

const struct rule caps_rules[] = {
    { .id = "caps.first-5v",
      .title = "The first object of an offer is a fixed supply of 5 V",
      .requirement = "Object 1 of every Source_Capabilities and EPR_Source_Capabilities is a Fixed one whose "
                     "voltage field is 100 (5.00 V).",
      .source = "Power Data Objects, order: Chromium EC include/usb_pd.h (comment), Linux sysfs ABI text, public "
                "article CSDN 134414268",
      .why = "A sink that understands nothing else still takes object 1 and trusts it to be the 5 V that is on VBUS "
             "already.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [FIRST_OTHER_KIND] = "Object 1 is a {0:k} supply; it has to be a fixed one of {1:V}.",
          [FIRST_OTHER_VOLTAGE] = "Object 1 is a fixed supply of {0:V}; it has to be {1:V}."),
      .check = check_first_5v },
    { .id = "caps.count",
      .title = "An offer holds no more objects than its message may",
      .requirement = "Source_Capabilities has 1 to 7 objects, EPR_Source_Capabilities at most 13.",
      .source = "Number of Power Data Objects: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h, Infineon (7); 13 is "
                "lenient, the usual 11 is from memory",
      .why = "A sink keeps room for so many; what comes after is lost or overruns its memory.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_EPR,
      .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL,
      .wakes = SETTLED | EVENT_BIT(EVENT_MESSAGE), .messages = { .extended = 1u << EXTENDED_EPR_SOURCE_CAPABILITIES },
      .sentences = SENTENCES(
          [COUNT_EPR] = "EPR_Source_Capabilities has {0} objects; at most {1} are allowed."),
      .check = check_count },
    { .id = "caps.order",
      .title = "Objects stand in the order of their kinds, and of their voltages within a kind",
      .requirement = "In positions 1 to 7: Fixed, then Battery, then Variable, then augmented objects; Fixed ones "
                     "rise in voltage, Battery and Variable ones do not fall in minimum voltage. Equal Fixed "
                     "voltages are judged by caps.unique-voltage.",
      .source = "Power Data Objects, order: Chromium EC include/usb_pd.h (comment), public article CSDN 134414268",
      .why = "Sinks walk the list and stop at the first object that goes too far; one out of place is never found.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .silenced_by = NAMES("caps.first-5v") /* what fails caps.count is no offer */,
      .sentences = SENTENCES(
          [ORDER_KIND] = "Object {0} is a {1:k} supply and follows object {3}, a {4:k} supply; {1:k} supplies come first.",
          [ORDER_VOLTAGE] = "Object {0} ({1:k}, from {2:V}) follows object {3} (from {5:V}); voltages have to rise."),
      .check = check_order },
    { .id = "caps.apdo-order",
      .title = "Augmented objects stand in their order: SPR AVS, then PPS by rising maximum voltage",
      .requirement = "Where an offer has two or more SPR AVS and PPS objects, no SPR AVS stands behind a PPS, and "
                     "the PPS do not fall in maximum voltage.",
      .source = "Power Data Objects, order of augmented ones: one public article (CSDN 134414268), no second source",
      .why = "A sink that takes the first range that fits ends up in a worse one.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_PPS,
      .basis = BASIS_SECONDARY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .wakes = SETTLED,
      .silenced_by = NAMES("caps.order"),
      .sentences = SENTENCES(
          [APDO_ORDER_KIND] = "Object {0} is SPR AVS and follows object {2}, a PPS up to {3:V}.",
          [APDO_ORDER_VOLTAGE] = "Object {0}, a PPS up to {1:V}, follows object {2}, a PPS up to {3:V}."),
      .check = check_apdo_order },
    { .id = "caps.unique-voltage",
      .title = "No voltage is offered twice as a fixed supply",
      .requirement = "No two Fixed objects of an offer have the same voltage.",
      .source = "Power Data Objects: from memory",
      .why = "Which of the two a sink picks is chance, and so is the current it gets.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .silenced_by = NAMES("caps.order"),
      .sentences = SENTENCES([UNIQUE_TWICE] = "Objects {0} and {1} are both fixed supplies of {2:V}."),
      .check = check_unique_voltage },
    { .id = "caps.zero-object",
      .title = "Every object of Source_Capabilities offers something",
      .requirement = "No object of Source_Capabilities is 0x00000000, and none has a maximum current or power of 0, "
                     "or a voltage of 0. Of SPR AVS only the second current may be 0.",
      .source = "Power Data Objects: from memory (filling up with zeros belongs to EPR_Source_Capabilities alone)",
      .why = "An object without current or voltage is a promise of nothing, and some sinks divide by it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [ZERO_WORD] = "Object {0} is {1:x}: it offers nothing.",
          [ZERO_VOLTAGE] = "Object {0} ({1:x}) has a voltage of 0.",
          [ZERO_AMOUNT] = "Object {0} ({1:x}) has a maximum current or power of 0."),
      .check = check_zero_object },
    { .id = "caps.first-only-flags",
      .title = "Flags of the first object are not repeated in the others",
      .requirement = "Bits 29:23 of each Fixed object in positions 2 to 7 are 0.",
      .source = "Fixed Supply PDO of a source: linux-usb mailing list quoting R3.2 V1.1 6.4.1.3.1, notes on R3.2 "
                "V1.2. Some published tables break it",
      .why = "The bits mean nothing there now; an edition to come may give them a meaning.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES([FIRST_ONLY_SET] = "Object {0} ({1:x}) has flags set that only object 1 may have: {2:x}."),
      .check = check_first_only_flags },
    { .id = "caps.reserved-bits",
      .title = "Reserved bits of every object are 0",
      .requirement = "Bits that every edition of R3 reserves are 0: Fixed 22; PPS 26:25, 16, 7; EPR AVS 16; SPR AVS "
                     "25:20; and no augmented object is of type 11.",
      .source = "Power Data Objects: Zephyr usbc_pd.h, Infineon cy_pdstack_common.h",
      .why = "A reader of a later edition takes them for something the source never meant.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [RESERVED_SET] = "Object {0} ({1:x}) has reserved bits set: {2:x}.",
          [RESERVED_TYPE] = "Object {0} ({1:x}) is of the augmented type 11, which is reserved."),
      .check = check_reserved_bits },
    { .id = "caps.apdo-in-revision",
      .title = "An offer of revision 2.0 has no augmented objects",
      .requirement = "Where the header of the message says 2.0, no object has 11 in bits 31:30.",
      .source = "Power Data Objects, kinds: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h",
      .why = "A sink of revision 2.0 does not know the kind and may take it for a fixed voltage.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a sink that only talks revision 2.0.",
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [REVISION_AUGMENTED] = "Object {0} ({1:x}) is an augmented object (APDO), in a message of revision {2:r}."),
      .check = check_apdo_in_revision },
    { .id = "caps.spr-limits",
      .title = "Objects 1 to 7 stay within the standard power range",
      .requirement = "In positions 1 to 7: Fixed at most 20.00 V and 5.00 A; Variable at most 21 V and 5 A; Battery "
                     "at most 21 V and 100 W; PPS at most 5.00 A; each current of SPR AVS at most 5.00 A.",
      .source = "Limits of SPR: linux-usb mailing list, EE Times India, public note of a chip maker",
      .why = "More than 20 V or 5 A outside EPR mode reaches cables and sinks that were never asked whether they "
             "stand it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_CAPS,
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [SPR_OVER_VOLTAGE] = "Object {0} ({1:k}) goes to {2:V}; at most {3:V} is allowed there.",
          [SPR_OVER_CURRENT] = "Object {0} ({1:k}) offers {2:A}; at most {3:A} is allowed there.",
          [SPR_OVER_POWER] = "Object {0} ({1:k}) offers {2:W}; at most {3:W} is allowed there."),
      .check = check_spr_limits },
    { .id = "caps.variable-range",
      .title = "A variable supply has a sound voltage range",
      .requirement = "Each Variable object: 0 < minimum voltage <= maximum voltage.",
      .source = "Variable Supply PDO: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h, Infineon",
      .why = "The sink has to stand every voltage of the range; one that is turned round says nothing.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a source that has a variable supply, such as an unregulated one.",
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [RANGE_ZERO] = "Object {0}, a variable supply, begins at 0 V.",
          [RANGE_TURNED] = "Object {0}, a variable supply, has a minimum of {1:V} above its maximum of {2:V}."),
      .check = check_variable_range },
    { .id = "caps.battery-range",
      .title = "A battery supply has a sound voltage range",
      .requirement = "Each Battery object: 0 < minimum voltage <= maximum voltage.",
      .source = "Battery Supply PDO: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h, Infineon",
      .why = "The sink is put straight on the battery and has to stand every voltage of the range.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a source that offers its battery directly.",
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [RANGE_ZERO] = "Object {0}, a battery supply, begins at 0 V.",
          [RANGE_TURNED] = "Object {0}, a battery supply, has a minimum of {1:V} above its maximum of {2:V}."),
      .check = check_battery_range },
    { .id = "caps.pps-range",
      .title = "A programmable supply has a range that some edition knows",
      .requirement = "Each PPS object: 3.0 V <= minimum voltage < maximum voltage <= 21.0 V. Usual families end at "
                     "5.9, 11, 16 and 21 V and begin at 3.0, 3.3 or 5.0 V, by edition.",
      .source = "SPR PPS, ranges: from memory (21 V: Zephyr sample log; 3.3 V: published vendor tables); the widest "
                "of all editions",
      .why = "Below its minimum a charger folds, above 21 V a sink's input may not stand it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_PPS,
      .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R3, .wakes = SETTLED,
      .sentences = SENTENCES(
          [PPS_RANGE_LOW] = "Object {0} is programmable from {1:V} to {2:V}; no edition begins below {3:V}.",
          [PPS_RANGE_HIGH] = "Object {0} is programmable from {1:V} to {2:V}; no edition ends above {4:V}.",
          [PPS_RANGE_TURNED] = "Object {0} is programmable from {1:V} to {2:V}: an empty range.",
          [PPS_RANGE_LOW_FAMILY] = "Object {0}, of the family that ends at {2:V}, is programmable from {1:V}; no "
                                   "edition begins below {3:V}."),
      .check = check_pps_range },
    { .id = "caps.pps-current",
      .title = "A programmable supply offers the current that the port's rating owes",
      .requirement = "Each PPS object that ends at 11, 16 or 21 V has at least min(3 A, PDP / nominal voltage), "
                     "rounded down to 50 mA; nominal 9, 15, 20 V. PDP as for caps.power-rules-voltages.",
      .source = "Power rules, programmable supplies: from memory; the published tables of 18 W and 30 W sources fit",
      .why = "A phone that charges by PPS gets less power than the label promises.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_PPS,
      .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .wakes = SETTLED,
      .silenced_by = NAMES("caps.pps-range"),
      .sentences = SENTENCES(
          [PPS_CURRENT_DECLARED] = "Object {0}, programmable up to {1:V}, offers {2:A}; a port rated {4:W} owes "
                                   "{3:A}.",
          [PPS_CURRENT_INFERRED] = "Object {0}, programmable up to {1:V}, offers {2:A}; a port whose fixed objects "
                                   "reach {4:W} owes {3:A}."),
      .check = check_pps_current },
    { .id = "caps.pps-power-limited",
      .title = "A programmable supply that goes beyond the rating says that it holds its power",
      .requirement = "Each PPS object whose largest voltage times current is more than the declared PDP and one "
                     "coding step has bit 27 set.",
      .source = "SPR PPS, Power Limited: the bit in Linux include/linux/usb/pd.h and Zephyr usbc_pd.h, when to set "
                "it from memory",
      .why = "Without the flag a sink draws the full current at the top voltage and trips the source.",
      .undecided = "The bit is clear and no rating is declared: the largest fixed object may be less than the "
                   "rating.",
      .bench = BENCH_RATED,
      .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3,
      .wakes = SETTLED,
      .silenced_by = NAMES("caps.spr-limits", "caps.pps-range"),
      .sentences = SENTENCES(
          [PPS_LIMITED_CLEAR] = "Object {0} offers {2:A} up to {1:V}, {3:W}; the port is rated {4:W}, and bit 27 "
                                "(power limited) is clear.",
          [PPS_LIMITED_UNKNOWN] = "Object {0} offers {2:A} up to {1:V}, {3:W}, with bit 27 (power limited) clear; "
                                  "no rating is declared, and the fixed objects reach {4:W}."),
      .check = check_pps_power_limited },
    { .id = "caps.power-rules-voltages",
      .title = "A source offers every fixed voltage that its rating owes",
      .requirement = "Fixed objects: above 15 W at 5 and 9 V; above 27 W at 5, 9 and 15 V; above 45 W at 5, 9, 15 "
                     "and 20 V. Under revision 2.0 the first set of 5, 12 (and 20) V is as good. A PDP within one "
                     "coding step above a border counts below it. A rating from Source_Capabilities_Extended or "
                     "ABOUT holds for the first offer of an attach with no other port occupied, a Port Present PDP "
                     "for the offer that stood when it was said; elsewhere the PDP is the largest voltage times "
                     "current of the fixed objects.",
      .source = "Power rules: public encyclopedia's table, public note of a chip maker",
      .why = "A sink made for 15 V finds no 15 V on a charger that is strong enough for it, and charges at a "
             "fraction of the power.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a sink alone, with all other ports of the device empty.",
      .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .silenced_by = NAMES("caps.first-5v") /* what fails caps.count is no offer */,
      .sentences = SENTENCES(
          [VOLTAGES_ONE] = "A port of {0:W} owes a fixed supply of {1:V}; it offers none.",
          [VOLTAGES_TWO] = "A port of {0:W} owes fixed supplies of {1:V} and {2:V}; it offers neither.",
          [VOLTAGES_THREE] = "A port of {0:W} owes fixed supplies of {1:V}, {2:V} and {3:V}; it offers none of "
                             "them."),
      .check = check_power_rules_voltages },
    { .id = "caps.power-rules-currents",
      .title = "A source offers the current that its rating owes, at every voltage that it owes",
      .requirement = "At each voltage that the rating owes: at least 3 A below the top one; at the top one PDP / "
                     "voltage, rounded down to 10 mA, but no more than 3 A (5 A through a cable known to be marked "
                     "for it). Up to 15 W: 5 V with PDP / 5 V. At exactly 45 W the top voltage is 15 V. The object "
                     "from which a PDP was inferred passes by itself.",
      .source = "Power rules: public encyclopedia's table, public note of a chip maker; rounding from memory and "
                "published tables",
      .why = "Devices of the lower classes charge slower on a strong charger than on a weak one.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a sink alone, with all other ports of the device empty; above 60 W with a 5 A cable.",
      .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL,
      .wakes = SETTLED,
      .silenced_by = NAMES("caps.first-5v") /* what fails caps.count is no offer */,
      .sentences = SENTENCES(
          [CURRENTS_DECLARED] = "Object {0} offers {2:A} at {1:V}; a port rated {4:W} owes {3:A} there.",
          [CURRENTS_INFERRED] = "Object {0} offers {2:A} at {1:V}; a port whose fixed objects reach {4:W} owes "
                                "{3:A} there."),
      .check = check_power_rules_currents },
    { .id = "caps.over-rating",
      .title = "No object offers more power than the port is rated for",
      .requirement = "Each Fixed, Variable and Battery object: largest voltage times current (or its power) is at "
                     "most the declared PDP and one coding step; from position 8 on the EPR Source PDP Rating.",
      .source = "Power rules, other voltages: from memory",
      .why = "The source trips, or runs hotter than it was made for, when a sink takes what it was offered.",
      .undecided = "Nothing beyond what holds for all rules. Without a declared rating there is no occasion.",
      .bench = BENCH_RATED,
      .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .silenced_by = NAMES("caps.spr-limits"),
      .sentences = SENTENCES(
          [OVER_RATING_SPR] = "Object {0} ({1:V}) offers {2:W}; the port is rated {3:W}.",
          [OVER_RATING_EPR] = "Object {0} ({1:V}) offers {2:W}; the EPR rating is {3:W}."),
      .check = check_over_rating },
    { .id = "caps.agrees-with-extended-rating",
      .title = "The offer reaches the rating that Source_Capabilities_Extended gives",
      .requirement = "First offer of an attach in which Source_Capabilities_Extended is seen, no other port "
                     "occupied, and a cable known for 5 A (or a rating up to 60 W): the largest voltage times "
                     "current of its Fixed objects is at least the SPR Source PDP Rating less one coding step and "
                     "0.5 W.",
      .source = "Source_Capabilities_Extended, byte 23: Infineon cy_pdstack_common.h; when an offer may be less is "
                "ours",
      .why = "Two messages of one port contradict each other; one of them is wrong.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a sink that asks Get_Source_Cap_Extended, alone; above 60 W with a 5 A cable.",
      .basis = BASIS_SECONDARY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R3, .wakes = SETTLED,
      .silenced_by = NAMES("caps.power-rules-voltages"),
      .sentences = SENTENCES(
          [EXTENDED_RATING_MORE] = "Source_Capabilities_Extended rates the port {0:W}; its fixed objects reach "
                                   "{1:W}."),
      .check = check_agrees_with_extended_rating },
    { .id = "caps.agrees-with-source-info",
      .title = "Source_Info agrees with the offer that stands",
      .requirement = "Each Source_Info after an offer: Port Reported PDP is within 1 W of the largest voltage times "
                     "current of the Fixed objects on offer. How it agrees with itself is ext.source-info-fields' affair.",
      .source = "Source Info Data Object: Chromium EC include/usb_pd.h, Infineon; the meaning of Reported from "
                "memory",
      .why = "A sink that decides by Source_Info asks for power that is not on offer, or leaves some.",
      .undecided = "Records are missing since the offer: another may have taken its place.",
      .bench = "Plug in a sink that asks Get_Source_Info.",
      .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R31,
      .wakes = EVENT_BIT(WAKE_TALK), .messages = { .data = 1u << DATA_SOURCE_INFO },
      .silenced_by = NAMES("ext.source-info-fields"),
      .sentences = SENTENCES(
          [SOURCE_INFO_REPORTED] = "Source_Info reports a PDP of {0:W}; the fixed objects of the offer reach {1:W}.",
          [SOURCE_INFO_LOST] = "Records are missing or bad since the last offer; it may not be the one in force."),
      .check = check_agrees_with_source_info },
    { .id = "caps.over-3a-needs-cable",
      .title = "More than 3 A is offered only through a cable that is marked for 5 A",
      .requirement = "Each offer with a current above 3.00 A made after the plug's identity is known: the VBUS "
                     "current of the last identity on SOP' is 5 A (10).",
      .source = "Cable rule: public note of a chip maker, TI SLVUC05A",
      .why = "A cable for 3 A gets hot at 5 A, most of all in its plugs.",
      .undecided = "Records are missing since the identity, or could not be read: the plug may have said 5 A there. "
                   "Identity unknown is judged by cable.discovered-before-5a; a captive cable needs none.",
      .bench = "Plug in a sink with an electronically marked 3 A cable.",
      .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .silenced_by = NAMES("cable.discovered-before-5a"),
      .sentences = SENTENCES(
          [OVER_3A_CABLE] = "Object {0} offers {1:A}; the cable's VBUS current field is {2}, not 2 (5 A)."),
      .check = check_over_3a_needs_cable },
    { .id = "caps.epr-needs-cable",
      .title = "The extended power range is offered only through a cable that is marked for it",
      .requirement = "Each EPR_Source_Capabilities with an object from position 8 on: the last identity on SOP' "
                     "says EPR Capable, 50 V (11) and 5 A (10).",
      .source = "EPR cables: Infineon (50 V checked in EPR mode), from memory",
      .why = "Up to 48 V and 5 A go through a cable that was not built for it.",
      .undecided = "The plug's identity was not seen since attach, or records are missing since it was.",
      .bench = BENCH_EPR,
      .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R31,
      .wakes = SETTLED,
      .silenced_by = NAMES("epr.entry-needs-cable"),
      .sentences = SENTENCES(
          [EPR_CABLE_MARKS] = "The cable says EPR Capable {0}, VBUS voltage {1}, VBUS current {2}; it has to say 1, "
                              "3 (50 V), 2 (5 A).",
          [EPR_CABLE_UNKNOWN] = "EPR objects are offered; what the cable is marked for was not seen."),
      .check = check_epr_needs_cable },
    { .id = "caps.epr-positions",
      .title = "EPR_Source_Capabilities repeats the standard offer in positions 1 to 7 and has EPR objects from 8 "
               "on",
      .requirement = "Positions 1 to 7 hold no Fixed object above 20 V and no EPR AVS, and equal the last "
                     "Source_Capabilities of the attach word for word (unused: 0); from position 8 on there are "
                     "only Fixed objects above 20 V and EPR AVS.",
      .source = "EPR_Source_Capabilities, positions: Infineon (position 8 begins EPR); the rest from memory",
      .why = "The position is what a sink asks by: one that is shifted gets it another voltage.",
      .undecided = "Nothing beyond what holds for all rules. If the last Source_Capabilities is unknown only the "
                   "kinds are judged.",
      .bench = BENCH_EPR,
      .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
      .wakes = EVENT_BIT(EVENT_OFFER),
      .sentences = SENTENCES(
          [EPR_POSITION_LOW] = "Object {0} ({1:x}) is an EPR object; those begin at position 8.",
          [EPR_POSITION_CHANGED] = "Object {0} is {1:x}; in the last Source_Capabilities it was {2:x}.",
          [EPR_POSITION_HIGH] = "Object {0} ({1:x}) is no EPR object; from position 8 on there are no others."),
      .check = check_epr_positions },
    { .id = "caps.epr-padding",
      .title = "Zero objects fill up positions to 7, and nothing else",
      .requirement = "In EPR_Source_Capabilities with an object from position 8 on, unused positions up to 7 are "
                     "0x00000000 and all of them stand behind the last standard object; there are none between or "
                     "behind EPR objects.",
      .source = "EPR_Source_Capabilities, padding: from memory",
      .why = "A sink counts positions by it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_EPR,
      .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31, .wakes = SETTLED,
      .sentences = SENTENCES(
          [EPR_PADDING_BETWEEN] = "Object {0} is zero, but an SPR object follows it.",
          [EPR_PADDING_EPR] = "Object {0} is zero, among the EPR objects."),
      .check = check_epr_padding },
    { .id = "caps.avs-required",
      .title = "A source of R3.2 above 27 W offers an adjustable supply",
      .requirement = "Edition known to be 3.2 (from Revision) and a PDP above 27 W and one coding step: the offer "
                     "has an SPR AVS object. PDP as for caps.power-rules-voltages.",
      .source = "Power rules, SPR AVS: from memory alone",
      .why = "Sinks of that edition count on it to charge without a converter of their own.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug in a sink that asks Get_Revision.",
      .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R32, .wakes = SETTLED,
      .sentences = SENTENCES(
          [AVS_MISSING] = "A port of {0:W} offers no SPR AVS; above {1:W} edition 3.2 requires it."),
      .check = check_avs_required },
    { .id = "caps.avs-range",
      .title = "An adjustable supply has the range and currents that its rating calls for",
      .requirement = "EPR AVS: begins at 15.0 V, ends at the highest EPR Fixed voltage, and its PDP is the EPR "
                     "Source PDP Rating where that is known. SPR AVS: the current up to 15 V is not below the one "
                     "above where both are there, and the second is there if the PDP is above 45 W.",
      .source = "AVS, ranges: from memory",
      .why = "A sink plans its voltage by the range; one with a hole in it makes it fall back.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = BENCH_EPR,
      .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_R31, .wakes = SETTLED,
      .sentences = SENTENCES(
          [AVS_EPR_MIN] = "Object {0}, EPR AVS, begins at {1:V}; it has to begin at {2:V}.",
          [AVS_EPR_MAX] = "Object {0}, EPR AVS, ends at {1:V}; the highest fixed EPR voltage is {2:V}.",
          [AVS_EPR_PDP] = "Object {0}, EPR AVS, gives a PDP of {1:W}; Source_Capabilities_Extended rates it {2:W}.",
          [AVS_SPR_RISING] = "Object {0}, SPR AVS, offers {1:A} above 15 V, more than the {2:A} below.",
          [AVS_SPR_20V] = "Object {0}, SPR AVS, stops at 15 V; a port of {2:W} has to go to 20 V."),
      .check = check_avs_range },
    { .id = "caps.epr-flag",
      .title = "A source that enters EPR mode has said before that it can",
      .requirement = "At the first EPR_Source_Capabilities with an EPR object, or Enter Acknowledged, of an attach: "
                     "bit 23 (EPR Capable) of object 1 in the last Source_Capabilities is 1.",
      .source = "Fixed Supply PDO of a source, bit 23: Chromium EC, Infineon, onsemi, Fuchsia",
      .why = "Sinks look at the flag to see whether asking is worth while.",
      .undecided = "No Source_Capabilities was seen in this attach, or records are missing since.",
      .bench = BENCH_EPR,
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SOURCE, .applies = APPLIES_R31,
      .wakes = EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(WAKE_ATTACH_END),
      .messages = { .data = 1u << DATA_EPR_MODE },
      .silenced_by = NAMES("epr.entry-needs-capable"),
      .sentences = SENTENCES(
          [EPR_FLAG_OFFER] = "EPR objects are offered; object 1 of the last Source_Capabilities ({0:x}) has bit 23 "
                             "clear.",
          [EPR_FLAG_ENTRY] = "The entry into EPR mode is acknowledged; object 1 of the last Source_Capabilities "
                             "({0:x}) has bit 23 clear.",
          [EPR_FLAG_UNKNOWN] = "The last Source_Capabilities is not in the recording."),
      .state_size = sizeof(struct epr_flag_state),
      .check = check_epr_flag },
    { .id = "caps.peak-current",
      .title = "A source that allows peak currents says which in Source_Capabilities_Extended",
      .requirement = "For each object whose Peak Current is not 00: the peak current bytes (14 to 19) of "
                     "Source_Capabilities_Extended, if it was seen, are not all 0.",
      .source = "Peak Current: the field in Linux include/linux/usb/pd.h; the bytes from memory",
      .why = "Only there a sink finds how long and how often it may draw more.",
      .undecided = "Nothing beyond what holds for all rules. Source_Capabilities_Extended never seen: no occasion.",
      .bench = "Plug in a sink that asks Get_Source_Cap_Extended.",
      .basis = BASIS_MEMORY, .level = LEVEL_NOTE, .whom = WHO_SOURCE, .applies = APPLIES_ALL, .wakes = SETTLED,
      .sentences = SENTENCES(
          [PEAK_BLOCK_ZERO] = "Object {0} has Peak Current {1}; the peak currents in Source_Capabilities_Extended "
                              "are all zero."),
      .check = check_peak_current },
    { .id = "caps.changed-unannounced",
      .title = "A source that is asked for its offer gives the one that stands",
      .requirement = "Source_Capabilities that answers Get_Source_Cap in an explicit contract has the same words as "
                     "the last offer of the attach.",
      .source = "Get_Source_Cap: good practice, ours; no source",
      .why = "What changed in silence the sink learns only by asking; until then it relies on an offer that is gone.",
      .undecided = "Records are missing since the last offer, or no offer of this attach was seen before.",
      .bench = "Plug in a sink that asks Get_Source_Cap in a contract, while other ports are loaded and unloaded.",
      .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_SOURCE, .applies = APPLIES_ALL,
      .wakes = EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH),
      .sentences = SENTENCES(
          [CHANGED_WORDS] = "The offer sent on request differs from the last one, and nothing announced the "
                            "change.",
          [CHANGED_LOST] = "Records are missing since the last offer; a change may have been announced there.",
          [CHANGED_BEGINNING] = "No offer of this attach was seen before this one."),
      .state_size = sizeof(struct changed_state),
      .check = check_changed_unannounced },
    { .id = "caps.repeats-identical",
      .title = "An offer that stands is not announced over and over",
      .requirement = "Source_Capabilities that nobody asked for, in an explicit contract and with the same words as before, comes at most "
                     "{caps_same_max:most} times in {caps_same_s:most}.",
      .source = "Good practice, ours; no source",
      .why = "Every repeat makes the sink negotiate again; some interrupt charging for it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Leave a sink on the port for some minutes while other ports are used.",
      .basis = BASIS_OURS, .level = LEVEL_NOTE, .whom = WHO_SOURCE, .applies = APPLIES_ALL,
      .wakes = EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_HARD_RESET),
      .parameters = NAMES("caps_same_max", "caps_same_s"),
      .sentences = SENTENCES(
          [REPEATS_MANY] = "The same offer was sent unasked {0} times within {1:s} in a contract; {2} are tolerated."),
      .state_size = sizeof(struct repeats_state),
      .check = check_repeats_identical },
    { .id = "caps.sink-first-5v",
      .title = "The first object of Sink_Capabilities is a fixed supply of 5 V",
      .requirement = "Object 1 of every Sink_Capabilities is a Fixed one whose voltage field is 100 (5.00 V).",
      .source = "Power Data Objects, order: Chromium EC include/usb_pd.h (comment), Linux sysfs ABI text, public "
                "article CSDN 134414268",
      .why = "A source reads the sink's flags from it.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug the sink into a source that asks Get_Sink_Cap.",
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_ALL,
      .wakes = EVENT_BIT(EVENT_ANNOUNCED),
      .sentences = SENTENCES(
          [FIRST_OTHER_KIND] = "Object 1 is a {0:k} supply; it has to be a fixed one of {1:V}.",
          [FIRST_OTHER_VOLTAGE] = "Object 1 is a fixed supply of {0:V}; it has to be {1:V}."),
      .check = check_sink_first_5v },
    { .id = "caps.sink-order",
      .title = "Objects of Sink_Capabilities stand in the order of their kinds and voltages",
      .requirement = "Fixed, then Battery, then Variable, then augmented objects; Fixed ones rise in voltage, "
                     "Battery and Variable ones do not fall in minimum voltage.",
      .source = "Power Data Objects, order: Chromium EC include/usb_pd.h (comment), public article CSDN 134414268",
      .why = "A source that matches the two lists stops at the first that does not fit.",
      .undecided = "Nothing beyond what holds for all rules.",
      .bench = "Plug the sink into a source that asks Get_Sink_Cap.",
      .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_SINK, .applies = APPLIES_ALL,
      .wakes = EVENT_BIT(EVENT_ANNOUNCED),
      .silenced_by = NAMES("caps.sink-first-5v"),
      .sentences = SENTENCES(
          [ORDER_KIND] = "Object {0} is a {1:k} supply and follows object {3}, a {4:k} supply; {1:k} supplies come first.",
          [ORDER_VOLTAGE] = "Object {0} ({1:k}, from {2:V}) follows object {3} (from {5:V}); voltages have to rise."),
      .check = check_sink_order },
    { .id = NULL },
};
