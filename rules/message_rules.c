/* The rules about one message by itself: its type, its header, its length, its sender, its place in the count. */
#include "rules/groups.h"
#include "rules/message_checks.h"

#include "decode/sources.h"

#include <stddef.h>

#define C(type) (UINT32_C(1) << CONTROL_##type)
#define D(type) (UINT32_C(1) << DATA_##type)
#define EXTENDED_ALL .messages = { .extended = UINT32_MAX }

static const char *const whole_form[] = { "message.object-count", "message.length", NULL };
static const char *const whole_length[] = { "message.length", NULL };
static const char *const own_revision[] = { "message.header-revision", NULL };
static const char *const role_parameters[] = { "role_quiet_ms", NULL };

static const char *const says_reserved_type[] = {
    [CLASS_CONTROL] = "Control message of reserved type {0} on {1:set}.",
    [CLASS_DATA] = "Data message of reserved type {0} on {1:set}.",
    [CLASS_EXTENDED] = "Extended message of reserved type {0} on {1:set}.",
};
static const char *const says_reserved_bits[] = {
    [RESERVED_CABLE_BIT] = "{0:m}: header bit 5 is 1; on SOP' and SOP'' it is reserved.",
    [RESERVED_TYPE_BIT] = "{0:m}: header bit 4 is 1; under the agreed revision 2.0 it is reserved.",
    [RESERVED_EXTENDED_BIT] = "{0:m}: header bit 15 is 1; under the agreed revision 2.0 it is reserved.",
    [RESERVED_EXTENDED_HEADER] = "{0:m}: bit 9 of the extended header is 1; it is reserved.",
    [RESERVED_PADDING] = "{0:m}: the padding after the last data byte is not 0.",
};
static const char *const says_object_count[] = {
    [SAYS_COUNT_ONE] = "{0:m} has Number of Data Objects {1}; it has to be {2}.",
    [SAYS_COUNT_TWO] = "{0:m} has Number of Data Objects {1}; it has to be {2} or {3}.",
    [SAYS_COUNT_RANGE] = "{0:m} has Number of Data Objects {1}; it has to be {2} to {3}.",
    [SAYS_COUNT_CHUNK] = "{0:m} has Number of Data Objects {1}; the bytes of this chunk fill {2}.",
};
static const char *const says_length[] = {
    [SAYS_LENGTH_OBJECTS] = "{0:m} has {1} bytes after the header; {3} data objects are {2} bytes.",
    [SAYS_LENGTH_UNCHUNKED] = "{0:m}, unchunked, has {1} bytes after the header; extended header and Data Size make {2}.",
    [SAYS_LENGTH_COUNTS] = "{0:m}, unchunked, has Number of Data Objects {3}; it has to be 0.",
    [SAYS_LENGTH_NO_HEADER] = "{0:m} has {1} bytes after the header: the extended header alone takes {2}.",
};
static const char *const says_power_role[] = {
    [SAYS_POWER_OWN] = "{0:m} from the {2:side} has Port Power Role {1}.",
    [SAYS_POWER_GOODCRC] = "GoodCRC has Port Power Role {1}, the same as the message that it acknowledges.",
};
static const char *const says_data_role[] = {
    [SAYS_IS_DFP] = "{0:m} from the {1:side} has Port Data Role UFP, but this port is the DFP.",
    [SAYS_IS_UFP] = "{0:m} from the {1:side} has Port Data Role DFP, but this port is the UFP.",
};
static const char *const says_header_revision[] = {
    [SAYS_REVISION_OTHER] = "{0:m} has revision {1:r} in its header; {2:r} was agreed.",
    [SAYS_REVISION_RESERVED] = "{0:m} has the reserved revision value 3 in its header.",
    [SAYS_REVISION_UNSEEN] = "{0:m} has revision {1:r} in its header; which one was agreed is not in the trace.",
};
static const char *const says_id_sequence[] = {
    [SAYS_ID_JUMPS] = "{0:m} has MessageID {1} after {2}; expected {3}.",
    [SAYS_ID_AGAIN] = "{0:m} repeats MessageID {1}, although the message before it was acknowledged; expected {3}.",
};
static const char *const says_id_after_reset[] = {
    [SAYS_ID_FIRST] = "{0:m} has MessageID {1}; as the first message of its sender since a reset it has to have 0.",
    [SAYS_ID_OF_SOFT_RESET] = "{0:m} has MessageID {1}; it has to have 0.",
};
static const char *const says_direction[] = {
    [SAYS_FOR_OTHER_ROLE] = "{0:m} must not be sent by a {1:side}.",
    [SAYS_FOR_DFP] = "{0:m} must only be sent by the DFP.",
};
static const char *const says_set_allowed[] = { "{0:m} is not allowed on {1:set}." };
static const char *const says_allowed_in_revision[] = {
    [SAYS_NOT_IN_2] = "{0:m} was introduced with revision 3.0; 2.0 was agreed.",
    [SAYS_NEWER] = "{0:m} is newer than the revision that its sender told in its Revision message.",
};
static const char *const says_deprecated[] = {
    [SAYS_PING] = "Ping is deprecated under revision 3.x.",
    [SAYS_GOTOMIN] = "GotoMin is deprecated in revision 3.2, which its sender has.",
};
static const char *const says_chunk_size[] = {
    [SAYS_CHUNK_SHORT] = "{0:m}, chunk {1}: {2} bytes, expected {3}.",
    [SAYS_CHUNK_DIFFERS] = "{0:m}, chunk {1}: Data Size {4}, chunk 0 had {5}.",
    [SAYS_CHUNK_TOO_LONG] = "{0:m}, chunk {1}: Data Size {4} is more than an extended message can have.",
    [SAYS_CHUNK_BEHIND] = "{0:m}, chunk {1}: Data Size {4} has no chunk of that number.",
};
static const char *const says_chunk_order[] = {
    [SAYS_ORDER_ASKED] = "{0:m}: chunk {1} was requested, expected {2}.",
    [SAYS_ORDER_REQUEST_FORM] = "{0:m}: the request for chunk {1} has Chunked 0 or a Data Size.",
    [SAYS_ORDER_SENT] = "{0:m}: chunk {1} was sent, {2} had been requested.",
    [SAYS_ORDER_UNASKED] = "{0:m}: chunk {1} was sent without a request.",
    [SAYS_ORDER_UNSEEN] = "{0:m}: what came before chunk {1} is not in the trace.",
    [SAYS_ORDER_REQUEST_BIT] = "{0:m}: chunk {1} was sent with Request Chunk 1.",
};
static const char *const says_unchunked[] = {
    [SAYS_UNCHUNKED_REFUSED] = "{0:m}: {1} bytes unchunked, but the two ports have not both announced that they support it.",
    [SAYS_UNCHUNKED_UNSEEN] = "{0:m}: {1} bytes unchunked; what the two ports announced is not in the trace.",
};
static const char *const says_extended_size[] = {
    [SAYS_SIZE_ONE] = "{0:m}: Data Size {1}, expected {2}.",
    [SAYS_SIZE_RANGE] = "{0:m}: Data Size {1}, expected {2} to {3}.",
    [SAYS_SIZE_STEPS] = "{0:m}: Data Size {1}, expected {2} to {3} in steps of {4}.",
};

#define NOTHING_MORE "Nothing beyond what holds for every rule."
#define NEGOTIATE "Attach any partner that speaks USB PD and let the two agree on a contract."
#define HEADER_LAYOUT "layout seen in " FROM_LINUX " and " FROM_ZEPHYR
#define TYPE_TABLES "types seen in " FROM_LINUX ", " FROM_ZEPHYR " and " FROM_CHROMIUM

/* Whoever takes no notice of a Hard Reset keeps the roles of before. */
static const char *const data_role_silenced[] = { "reset.restart-with-caps", NULL };

const struct rule message_rules[] = {
    {
        .id = "message.reserved-type",
        .title = "A message has a type that is defined",
        .requirement = "The message type in the header, read with its class (control, data, extended), is not reserved in the newest "
                       "table of message types.",
        .source = "USB PD, message types; " TYPE_TABLES,
        .why = "A receiver can only answer a number that nobody defined with a refusal, and some answer with a reset.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .settled = message_has_name, .sentences = says_reserved_type, .check = message_check_reserved_type,
    },
    {
        .id = "message.reserved-bits",
        .title = "Reserved bits and padding of a message are 0",
        .requirement = "On SOP' and SOP'' header bit 5 is 0. Where revision 2.0 was agreed on, header bits 15 and 4 are 0. Bit 9 of "
                       "an extended header is 0. The bytes from the end of the data to a multiple of 4 are 0.",
        .source = "USB PD, message header and extended message header; " HEADER_LAYOUT "; the four-bit type of 2.0 and the padding "
                  "from memory",
        .why = "A later revision gives such a bit a meaning, and then an old product says what it never meant.",
        .undecided = "The part about 2.0 is only judged where the agreed revision is known.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sentences = says_reserved_bits, .check = message_check_reserved_bits,
    },
    {
        .id = "message.object-count",
        .title = "The number of data objects fits the message type",
        .requirement = "A data message counts as many data objects as its type has (BIST 1 or 7, Source_Info 1 or 2, EPR_Request 2, "
                       "capabilities and Vendor_Defined 1 to 7, the others 1), a chunk as many as its extended header and its bytes fill, "
                       "a request chunk 1.",
        .source = "USB PD, data messages and chunking; " TYPE_TABLES "; the counts of BIST and EPR_Request from memory, the second "
                  "object of Source_Info secondary",
        .why = "A receiver that reads by the table misses objects, or takes what is not there for one.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_SECONDARY | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sentences = says_object_count, .check = message_check_object_count,
    },
    {
        .id = "message.length",
        .title = "A message is as long as its header says",
        .requirement = "Behind the header, CRC not counted, stand 4 bytes for each data object that it counts. An unchunked extended "
                       "message counts 0 objects and has 2 bytes of extended header and Data Size bytes, or those filled up to a "
                       "multiple of 4.",
        .source = "USB PD, message header and extended message header; " HEADER_LAYOUT,
        .why = "Receivers cut off or run over the end of a message whose length belies its header.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sentences = says_length, .check = message_check_length,
    },
    {
        .id = "message.power-role",
        .title = "The header shows the sender's power role",
        .requirement = "Port Power Role (header bit 8) is 1 in what only a source sends (Source_Capabilities, Accept of a Request, PS_RDY "
                       "that ends it), 0 in what only a sink sends (Request, EPR_Request), and in a GoodCRC the other value than in the "
                       "message that it acknowledges. Not judged from the Accept of a PR_Swap or FR_Swap to the end of that swap, nor for "
                       "{role_quiet_ms:most} after a Hard Reset.",
        .source = "USB PD, Port Power Role; " HEADER_LAYOUT "; notes on PD R3.2 V1.2 say that a receiver must not verify it, hence no must",
        .why = "Analysers and some controllers tell the two ports apart by this bit.",
        .undecided = "Not judged before it is known which port is the source.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_GOODCRC_ODD), .goodcrcs_pass = true,
        .messages = { .control = C(ACCEPT) | C(PS_RDY), .data = D(SOURCE_CAPABILITIES) | D(REQUEST) | D(EPR_REQUEST) },
        .parameters = role_parameters, .sets = 1 << SET_SOP, .plain = PLAIN_PASSES, .sentences = says_power_role,
        .state_size = sizeof(struct power_role_state), .check = message_check_power_role,
    },
    {
        .id = "message.data-role",
        .title = "The header shows the sender's data role",
        .requirement = "Port Data Role (header bit 5) of a message on SOP is 1 from the DFP and 0 from the UFP. The source begins as DFP, "
                       "the sink as UFP; only an accepted DR_Swap changes that, and a Hard Reset restores it. After a DR_Swap the next message "
                       "of each side is not judged.",
        .source = "USB PD, Port Data Role; " HEADER_LAYOUT "; the roles at attach and after Hard Reset as in notes on PD R3.2 V1.2",
        .why = "A port that sees its own data role in its partner's message starts Type-C error recovery, and power is cut.",
        .undecided = "Without the attach or a DR_Swap in the trace the first message of each side sets its role and only later ones are "
                     "judged.",
        .bench = "Attach, negotiate, and let the two ports swap data roles once if they can.",
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .plain = PLAIN_PASSES, .messages = MESSAGES_ALL, .sets = 1 << SET_SOP,
        .silenced_by = data_role_silenced, .sentences = says_data_role, .check = message_check_data_role,
    },
    {
        .id = "message.header-revision",
        .title = "After the first Request the header shows the revision agreed on",
        .requirement = "Specification Revision (header bits 7:6) is never 3. From the first Request to a detach or Hard Reset every "
                       "message on SOP shows the lower one of what Source_Capabilities and Request showed; before it a port may show "
                       "its highest. GoodCRC is not judged. 1.0 counts as 2.0.",
        .source = "USB PD, Specification Revision; " HEADER_LAYOUT "; the agreement as in notes on PD R3.2 V1.2",
        .why = "The partner goes by these two bits in its retries, its timing and in what it dares to send.",
        .undecided = "The trace begins in a contract: what was agreed on lies before it.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sentences = says_header_revision, .check = message_check_header_revision,
    },
    {
        .id = "message.id-sequence",
        .title = "MessageID counts up by one, message by message",
        .requirement = "MessageID is that of the same sender's last message on the same ordered set plus 1, modulo 8. Plus 2 passes where "
                       "a message of the partner came between (a message that waited was discarded). After a message that was never "
                       "acknowledged, or that was repeated although it was, the same number passes too.",
        .source = "USB PD, MessageID; " HEADER_LAYOUT "; the discarded message as in notes on PD R3.2 V1.2",
        .why = "A receiver takes a repeated number for a retry: it acknowledges the message and does nothing.",
        .undecided = "A bad packet since the last message may have been the one that is missing.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sentences = says_id_sequence, .check = message_check_id_sequence,
    },
    {
        .id = "message.id-after-reset",
        .title = "After a reset MessageID begins at 0",
        .requirement = "The first message of each sender on an ordered set has MessageID 0 after an attach, a Soft_Reset, a Hard Reset, a completed "
                       "PR_Swap or FR_Swap, and on SOP' and SOP'' after a Cable Reset. Soft_Reset and the Accept of it have 0 themselves.",
        .source = "USB PD, MessageID; notes on PD R3.2 V1.2; three bits as in " FROM_LINUX,
        .why = "A partner that counts from 0 drops the message as a repeat, or answers one that it never got.",
        .undecided = "Records are missing, or a packet is bad, between the reset and the message.",
        .bench = "Attach; provoke a Soft_Reset and a Hard Reset; negotiate after each.",
        .basis = BASIS_SECONDARY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_NOTHING,
        .sentences = says_id_after_reset, .check = message_check_id_after_reset,
    },
    {
        .id = "message.direction",
        .title = "A message comes from a port that may send it",
        .requirement = "On SOP a source sends only what the tables give to a source, a sink what they give to a sink; Data_Reset_Complete and "
                       "Enter_USB come from the DFP. A dual-role power port (bit 29 of its first object) may also send what its other role is "
                       "asked for. Request chunks are not judged.",
        .source = "USB PD, message types; the sender columns are from memory",
        .why = "The partner treats it as a protocol error, and mostly resets.",
        .undecided = "A message of the DFP while it is not known which port that is. Where a port never said whether it is dual-role, messages "
                     "of the other role are not judged.",
        .bench = NEGOTIATE,
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .sets = 1 << SET_SOP, .sentences = says_direction, .check = message_check_direction,
    },
    {
        .id = "message.set-allowed",
        .title = "On SOP' and SOP'' stand only messages for cable plugs",
        .requirement = "A message on SOP' or SOP'' is one of Accept, Soft_Reset, Not_Supported, Get_Status, Status, Get_Revision, Revision, "
                       "Get_Manufacturer_Info, Manufacturer_Info, Security and Firmware_Update messages, Vendor_Defined, "
                       "Vendor_Defined_Extended, Enter_USB, Data_Reset, BIST.",
        .source = "USB PD, SOP* communication; from memory, the list kept wide",
        .why = "A cable plug cannot make sense of power messages; one that tries may stop answering.",
        .undecided = NOTHING_MORE, .bench = "Attach with an electronically marked cable.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sets = 1 << SET_SOP1 | 1 << SET_SOP2, .sentences = says_set_allowed, .check = message_check_set_allowed,
    },
    {
        .id = "message.allowed-in-revision",
        .title = "A message exists in the revision agreed on",
        .requirement = "Under 2.0 only message types of 1.0 and 2.0 are sent. Under 3.x any defined type, but those that came with 3.1 (EPR, "
                       "Source_Info, Revision, Extended_Control, Get_Source_Info, Get_Revision) not from a port whose Revision message says "
                       "3.0. On SOP' and SOP'' the plug's revision counts, known from its identity.",
        .source = "USB PD, message types and the revision that brought each; " TYPE_TABLES,
        .why = "An older partner does not know the message: it ignores it, or resets.",
        .undecided = "Not judged before a revision was agreed on.",
        .bench = "Negotiate once with a partner of revision 2.0 and once with one of 3.x.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL, .plain = PLAIN_PASSES,
        .silenced_by = own_revision, .sentences = says_allowed_in_revision, .check = message_check_allowed_in_revision,
    },
    {
        .id = "message.deprecated",
        .title = "Ping and GotoMin are no longer sent",
        .requirement = "Under revision 3.x no Ping is sent, and no GotoMin by a port known to be of 3.2.",
        .source = "USB PD, deprecated control messages; from memory",
        .why = "Newer partners answer it with Not_Supported at best.",
        .undecided = "Not judged where revision or edition is unknown.",
        .bench = "Record a long contract under revision 3.x; the message shows by itself.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .control = C(PING) | C(GOTOMIN) },
        .sentences = says_deprecated, .check = message_check_deprecated,
    },
    {
        .id = "message.chunk-size",
        .title = "Chunks carry 26 bytes each, the last one what is left",
        .requirement = "Every chunk but the last carries 26 bytes, the last Data Size less 26 times its number. Data Size is at most 260 and the "
                       "same in all chunks of a message. Request chunks are not judged.",
        .source = "USB PD, chunking; 26 and 260 bytes seen in " FROM_ZEPHYR " and " FROM_ONSEMI,
        .why = "A receiver puts the pieces together by these numbers and loses or invents data where they are wrong.",
        .undecided = NOTHING_MORE, .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_form, .sentences = says_chunk_size, .check = message_check_chunk_size,
    },
    {
        .id = "message.chunk-order",
        .title = "Chunks are asked for one after the other, and the one asked for comes",
        .requirement = "After a chunk the receiver asks for the next number, with Request Chunk 1, Chunked 1 and Data Size 0. The chunk sent then "
                       "has that number and Request Chunk 0.",
        .source = "USB PD, chunking; the bits seen in " FROM_LINUX " and " FROM_ZEPHYR ", the order from memory",
        .why = "A transfer that loses step is given up, and the information never arrives.",
        .undecided = "The exchange is not in the trace from chunk 0 on, or a bad packet may have been the request.",
        .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) |
                 EVENT_BIT(EVENT_CABLE_RESET) | EVENT_BIT(EVENT_DETACH),
        EXTENDED_ALL, .silenced_by = whole_form, .sentences = says_chunk_order,
        .state_size = sizeof(struct chunk_order_state), .check = message_check_chunk_order,
    },
    {
        .id = "message.unchunked-agreed",
        .title = "Long messages go unchunked only if both ports support it",
        .requirement = "An extended message on SOP with Chunked 0 and a Data Size above 26 is sent only if bit 24 of the source's first object and "
                       "bit 23 of the sink's last Request are both 1.",
        .source = "USB PD, Unchunked Extended Messages Supported; the bits seen in " FROM_LINUX " and " FROM_ZEPHYR ", the rule from memory",
        .why = "A port without room for it loses the message and cannot say so.",
        .undecided = "One of the two words is not in the trace since the attach, and the other one agrees.",
        .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_length, .sentences = says_unchunked, .check = message_check_unchunked_agreed,
    },
    {
        .id = "message.extended-size",
        .title = "The Data Size of an extended message fits its type",
        .requirement = "Data Size is 24 or 25 in Source_Capabilities_Extended, 5 to 7 in Status (2 from a plug), 1 in Get_Battery_Cap and "
                       "Get_Battery_Status, 9 in Battery_Capabilities, 2 in Get_Manufacturer_Info, 5 to 26 in Manufacturer_Info, 4 to 260 in "
                       "Security, Firmware_Update and Vendor_Defined_Extended messages, 4 in PPS_Status, 4 to 26 in Country_Info and "
                       "Country_Codes, 21 or 24 in Sink_Capabilities_Extended, 2 in Extended_Control, a multiple of 4 from 4 to 52 in EPR "
                       "capabilities. All editions' sizes pass. Too many whole objects in EPR_Source_Capabilities are caps.count.",
        .source = "USB PD, extended messages; sizes seen in the headers named with each message type, those of request messages from memory",
        .why = "A block of another size is read wrongly, or refused as a whole.",
        .undecided = NOTHING_MORE, .bench = "Ask for Status, Source_Capabilities_Extended and Manufacturer_Info.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_form, .sentences = says_extended_size, .check = message_check_extended_size,
    },
    { .id = NULL },
};
