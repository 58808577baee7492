/* cable.*: the cable and what the source learnt of it. The checks: cable_checks.c. */
#include "rules/cable_checks.h"
#include "rules/groups.h"

#include "decode/sources.h"

#include <stddef.h>

#define NAMES(...) (const char *const[]){ __VA_ARGS__, NULL }
#define SENTENCES(...) (const char *const[]){ __VA_ARGS__, NULL }
/* Vendor_Defined takes 1 to 7 objects, all that a header can count: message.object-count cannot fail. */
#define WHOLE_FORM NAMES("message.length")
/* Identities: answers to Discover Identity on SOP'. */
#define ON_IDENTITY                                                                                                          \
    .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .data = 1u << DATA_VENDOR_DEFINED }, .sets = 1 << SET_SOP1, \
    .silenced_by = WHOLE_FORM

#define NOTHING_MORE "Nothing beyond what holds for every rule."
#define BENCH_MARKED "Attach through an electronically marked cable."
#define CABLE_FIELDS FROM_LINUX_VDO " and " FROM_CHROMIUM_VDO

const struct rule cable_rules[] = {
    {
        .id = "cable.discovered-before-5a",
        .title = "More than 3 A is offered only after the plug was asked what the cable carries",
        .requirement = "Before the first offer of an attach with a current above 3.00 A a plug has answered Discover Identity on SOP'. A "
                       "captive cable (ABOUT) needs none.",
        .source = "Cable rule: TI SLVUC05A, public note of a chip maker",
        .why = "A cable whose wires nobody knows may be one for 3 A, and gets hot.",
        .undecided = "The attach was not seen, or records since are missing, or a bad packet on SOP' may have been the answer.",
        .bench = "Attach a sink through a 5 A cable, and through one without electronics, recording from before the plug goes in.",
        .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(WAKE_ATTACH_END),
        .sentences = SENTENCES(
            [DISCOVERED_NEVER] = "Object {0} offers {1:A}, and the cable plug had not been identified before.",
            [DISCOVERED_UNSEEN] = "Object {0} offers {1:A}; whether the cable plug had been identified before is not in the recording."),
        .state_size = sizeof(struct discovered_state), .check = cable_check_discovered,
    },
    {
        .id = "cable.identity-valid",
        .title = "A plug's identity names what it is, and has what belongs to that",
        .requirement = "In each answer to Discover Identity on SOP' the product type is 3 (passive cable), 4 (active cable) or 6 (VCONN-powered "
                       "device), followed by as many objects as it takes: 1, 2 (1 under 2.0), 1. Under 3.x a cable's plug type is 2 or 3, "
                       "its VBUS current 1 or 2, and reserved bits of ID Header and cable object are 0.",
        .source = "USB PD, Discover Identity, cable objects: " CABLE_FIELDS,
        .why = "A source that cannot read the identity treats the cable as one for 3 A, or worse, as one for more.",
        .undecided = NOTHING_MORE, .bench = BENCH_MARKED,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_CABLE,
        ON_IDENTITY,
        .sentences = SENTENCES(
            [IDENTITY_PRODUCT] = "The ID Header has product type {0}; a cable plug has 3 (passive), 4 (active) or 6 (VPD).",
            [IDENTITY_COUNT] = "The identity has {1} product type VDOs; product type {0} has {2}.",
            [IDENTITY_PLUG] = "The plug type is {0}; only 2 (Type-C) and 3 (captive) are defined.",
            [IDENTITY_CURRENT] = "The VBUS current field is {0}; only 1 (3 A) and 2 (5 A) are defined.",
            [IDENTITY_RESERVED_ID] = "The ID Header {0:x} has reserved bits {1:x} set.",
            [IDENTITY_RESERVED_CABLE] = "The cable's object {0:x} has reserved bits {1:x} set."),
        .check = cable_check_identity_valid,
    },
    {
        .id = "cable.rating-agrees",
        .title = "A plug says the same of its cable each time it is asked",
        .requirement = "VBUS current, maximum VBUS voltage and EPR Capable are those of the identity before, within one attach. An identity "
                       "of Structured VDM 1.0 says only the current; beside one of 2.x it is compared by 5 A or less.",
        .source = "Common practice, no source; fields as in " CABLE_FIELDS,
        .why = "One of the two answers is wrong, and the source may go by that one.",
        .undecided = "Records are missing between the two: the cable may have been changed.",
        .bench = "Attach through a marked cable and provoke a Hard Reset: most sources ask again.",
        .basis = BASIS_OURS, .level = LEVEL_SHOULD, .whom = WHO_CABLE,
        ON_IDENTITY,
        .sentences = SENTENCES(
            [RATING_CURRENT] = "The VBUS current field is {0}; in the identity before it was {1}.",
            [RATING_VOLTS] = "The maximum VBUS voltage field is {0}; in the identity before it was {1}.",
            [RATING_EPR] = "EPR Capable is {0}; in the identity before it was {1}."),
        .check = cable_check_rating_agrees,
    },
    {
        .id = "cable.epr-rating",
        .title = "A cable that calls itself EPR capable is marked for 50 V and 5 A",
        .requirement = "In each identity with EPR Capable 1 the maximum VBUS voltage is 3 (50 V) and the VBUS current 2 (5 A).",
        .source = "EPR cables: Infineon (50 V checked in EPR mode); EPR Capable one public field table; the rest from memory",
        .why = "A source that looks at the one bit alone puts up to 48 V and 5 A on a cable for less.",
        .undecided = NOTHING_MORE, .bench = "Attach through a cable marked for EPR.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_CABLE, .applies = APPLIES_R31,
        ON_IDENTITY,
        .sentences = SENTENCES(
            [EPR_RATING_LOW] = "EPR Capable is set, but maximum VBUS voltage is {0} and VBUS current {1}; an EPR cable has 3 (50 V) and 2 "
                               "(5 A)."),
        .check = cable_check_epr_rating,
    },
    {
        .id = "cable.current-over-rating",
        .title = "No contract is for more current than the cable carries",
        .requirement = "For each contract with an operating current above 3.00 A in an attach that was seen: the last identity on SOP' says "
                       "5 A (2). A captive cable (ABOUT) needs none.",
        .source = "Cable rule: TI SLVUC05A, public note of a chip maker",
        .why = "This is the current that heats the cable.",
        .undecided = "Records since the identity are missing: another one may have come.",
        .bench = "Attach a sink that asks for more than 3 A through a cable marked for 3 A.",
        .basis = BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(WAKE_ATTACH_END),
        .silenced_by = NAMES("cable.discovered-before-5a", "caps.over-3a-needs-cable"),
        .sentences = SENTENCES(
            [CURRENT_OVER] = "The contract is for {0:A}; the cable's VBUS current field is {1}, not 2 (5 A)."),
        .state_size = sizeof(struct current_over_state), .check = cable_check_current_over_rating,
    },
    { .id = NULL },
};
