/* The message types of USB PD R3.2 with those of R2.0 and R3.0/3.1: three tables of 32 rows, the number is the place. */
#include "decode/message.h"
#include "decode/sources.h"

#include <string.h>

enum { CLASS_TYPES = 32 };

#define LINUX_ZEPHYR_CHROMIUM FROM_LINUX "; " FROM_ZEPHYR "; " FROM_CHROMIUM
#define ZEPHYR_CHROMIUM_INFINEON FROM_ZEPHYR "; " FROM_CHROMIUM "; " FROM_INFINEON
#define RESERVED_ROW(where) { .source = "reserved: " where, .senders_source = "nobody sends it: the number is reserved" }

enum { BOTH = SENDER_SOURCE | SENDER_SINK };

/* Control messages: no data objects. */
static const struct message_kind control_kinds[CLASS_TYPES] = {
    [0] = RESERVED_ROW(FROM_LINUX),
    [CONTROL_GOODCRC] = { "GoodCRC", .senders = BOTH | SENDER_CABLE, .since = SINCE_R1, .on_cable = true,
        .source = LINUX_ZEPHYR_CHROMIUM "; " FROM_INFINEON, .senders_source = FROM_MEMORY },
    [CONTROL_GOTOMIN] = { "GotoMin", .senders = SENDER_SOURCE, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM "; " FROM_FUCHSIA, .senders_source = FROM_MEMORY },
    [CONTROL_ACCEPT] = { "Accept", .senders = BOTH | SENDER_CABLE, .since = SINCE_R1, .on_cable = true,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_REJECT] = { "Reject", .senders = BOTH, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_PING] = { "Ping", .senders = SENDER_SOURCE, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_PS_RDY] = { "PS_RDY", .senders = BOTH, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_SOURCE_CAP] = { "Get_Source_Cap", .senders = SENDER_SINK | SENDER_SOURCE_DRP, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_SINK_CAP] = { "Get_Sink_Cap", .senders = SENDER_SOURCE | SENDER_SINK_DRP, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_DR_SWAP] = { "DR_Swap", .senders = BOTH, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_PR_SWAP] = { "PR_Swap", .senders = BOTH, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_VCONN_SWAP] = { "VCONN_Swap", .senders = BOTH, .since = SINCE_R2,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_WAIT] = { "Wait", .senders = BOTH, .since = SINCE_R1,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_SOFT_RESET] = { "Soft_Reset", .senders = BOTH, .since = SINCE_R1, .on_cable = true,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_DATA_RESET] = { "Data_Reset", .senders = BOTH, .since = SINCE_R30, .on_cable = true,
        .source = ZEPHYR_CHROMIUM_INFINEON " (Linux up to 6.12: reserved)", .senders_source = FROM_MEMORY },
    [CONTROL_DATA_RESET_COMPLETE] = { "Data_Reset_Complete", .senders = SENDER_DFP, .since = SINCE_R30,
        .source = ZEPHYR_CHROMIUM_INFINEON " (Linux up to 6.12: reserved)", .senders_source = FROM_MEMORY },
    [CONTROL_NOT_SUPPORTED] = { "Not_Supported", .senders = BOTH | SENDER_CABLE, .since = SINCE_R30, .on_cable = true,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_SOURCE_CAP_EXTENDED] = { "Get_Source_Cap_Extended", .senders = SENDER_SINK | SENDER_SOURCE_DRP,
        .since = SINCE_R30, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_STATUS] = { "Get_Status", .senders = BOTH, .since = SINCE_R30, .on_cable = true,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_FR_SWAP] = { "FR_Swap", .senders = SENDER_SINK, .since = SINCE_R30,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_PPS_STATUS] = { "Get_PPS_Status", .senders = SENDER_SINK, .since = SINCE_R30,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_COUNTRY_CODES] = { "Get_Country_Codes", .senders = BOTH, .since = SINCE_R30,
        .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [CONTROL_GET_SINK_CAP_EXTENDED] = { "Get_Sink_Cap_Extended", .senders = SENDER_SOURCE | SENDER_SINK_DRP,
        .since = SINCE_R30, .source = FROM_LINUX_LIST "; " ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [CONTROL_GET_SOURCE_INFO] = { "Get_Source_Info", .senders = SENDER_SINK | SENDER_SOURCE_DRP, .since = SINCE_R31,
        .source = ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [CONTROL_GET_REVISION] = { "Get_Revision", .senders = BOTH, .since = SINCE_R31, .on_cable = true,
        .source = FROM_LINUX_LIST "; " ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [25] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY), [26] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY),
    [27] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY), [28] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY),
    [29] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY), [30] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY),
    [31] = RESERVED_ROW(FROM_ZEPHYR "; " SECONDARY),
};

/* Data messages: one to seven data objects. */
static const struct message_kind data_kinds[CLASS_TYPES] = {
    [0] = RESERVED_ROW(FROM_LINUX),
    [DATA_SOURCE_CAPABILITIES] = { "Source_Capabilities", .senders = SENDER_SOURCE | SENDER_SINK_DRP, .since = SINCE_R1,
        .objects_min = 1, .objects_max = 7,
        .source = LINUX_ZEPHYR_CHROMIUM "; " FROM_INFINEON, .senders_source = FROM_MEMORY },
    [DATA_REQUEST] = { "Request", .senders = SENDER_SINK, .since = SINCE_R1, .objects_min = 1, .objects_max = 1,
        .source = LINUX_ZEPHYR_CHROMIUM "; " FROM_INFINEON, .senders_source = FROM_MEMORY },
    [DATA_BIST] = { "BIST", .senders = BOTH, .since = SINCE_R1, .on_cable = true,
        .objects_min = 1, .objects_max = 7, .objects_step = 6, /* seven in Test Data mode, else one */
        .source = LINUX_ZEPHYR_CHROMIUM "; counts " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [DATA_SINK_CAPABILITIES] = { "Sink_Capabilities", .senders = SENDER_SINK | SENDER_SOURCE_DRP, .since = SINCE_R1,
        .objects_min = 1, .objects_max = 7, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [DATA_BATTERY_STATUS] = { "Battery_Status", .senders = BOTH, .since = SINCE_R30,
        .objects_min = 1, .objects_max = 1, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [DATA_ALERT] = { "Alert", .senders = BOTH, .since = SINCE_R30,
        .objects_min = 1, .objects_max = 1, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [DATA_GET_COUNTRY_INFO] = { "Get_Country_Info", .senders = BOTH, .since = SINCE_R30,
        .objects_min = 1, .objects_max = 1, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [DATA_ENTER_USB] = { "Enter_USB", .senders = SENDER_DFP, .since = SINCE_R30, .on_cable = true,
        .objects_min = 1, .objects_max = 1, .source = LINUX_ZEPHYR_CHROMIUM "; " FROM_INFINEON,
        .senders_source = FROM_MEMORY "; plugs as receivers " SECONDARY },
    [DATA_EPR_REQUEST] = { "EPR_Request", .senders = SENDER_SINK, .since = SINCE_R31,
        .objects_min = 2, .objects_max = 2,
        .source = ZEPHYR_CHROMIUM_INFINEON "; two objects " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [DATA_EPR_MODE] = { "EPR_Mode", .senders = BOTH, .since = SINCE_R31,
        .objects_min = 1, .objects_max = 1, .source = ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [DATA_SOURCE_INFO] = { "Source_Info", .senders = SENDER_SOURCE, .since = SINCE_R31,
        .objects_min = 1, .objects_max = 2,
        .source = ZEPHYR_CHROMIUM_INFINEON "; second object " SECONDARY, .senders_source = FROM_MEMORY },
    [DATA_REVISION] = { "Revision", .senders = BOTH | SENDER_CABLE, .since = SINCE_R31, .on_cable = true,
        .objects_min = 1, .objects_max = 1, .source = ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [13] = RESERVED_ROW(FROM_CHROMIUM "; " FROM_ZEPHYR), [14] = RESERVED_ROW(FROM_CHROMIUM "; " FROM_ZEPHYR),
    [DATA_VENDOR_DEFINED] = { "Vendor_Defined", .senders = BOTH | SENDER_CABLE, .since = SINCE_R1, .on_cable = true,
        .objects_min = 1, .objects_max = 7, .source = LINUX_ZEPHYR_CHROMIUM, .senders_source = FROM_MEMORY },
    [16] = RESERVED_ROW(FROM_LINUX), [17] = RESERVED_ROW(FROM_LINUX), [18] = RESERVED_ROW(FROM_LINUX),
    [19] = RESERVED_ROW(FROM_LINUX), [20] = RESERVED_ROW(FROM_LINUX), [21] = RESERVED_ROW(FROM_LINUX),
    [22] = RESERVED_ROW(FROM_LINUX), [23] = RESERVED_ROW(FROM_LINUX), [24] = RESERVED_ROW(FROM_LINUX),
    [25] = RESERVED_ROW(FROM_LINUX), [26] = RESERVED_ROW(FROM_LINUX), [27] = RESERVED_ROW(FROM_LINUX),
    [28] = RESERVED_ROW(FROM_LINUX), [29] = RESERVED_ROW(FROM_LINUX), [30] = RESERVED_ROW(FROM_LINUX),
    [31] = RESERVED_ROW(FROM_LINUX),
};

/* Extended messages: data size in bytes, of the whole message. */
static const struct message_kind extended_kinds[CLASS_TYPES] = {
    [0] = RESERVED_ROW(FROM_LINUX),
    [EXTENDED_SOURCE_CAPABILITIES] = { "Source_Capabilities_Extended", .senders = SENDER_SOURCE | SENDER_SINK_DRP,
        .since = SINCE_R30, .size_min = 24, .size_max = 25, /* R3.0: 24 */
        .source = LINUX_ZEPHYR_CHROMIUM "; 25 bytes " FROM_INFINEON ", " FROM_ARTICLE, .senders_source = FROM_MEMORY },
    [EXTENDED_STATUS] = { "Status", .senders = BOTH | SENDER_CABLE, .since = SINCE_R30, .on_cable = true,
        .size_min = 5, .size_max = 7, .cable_size = 2, /* grew by a byte from R3.0 to R3.1, twice */
        .source = LINUX_ZEPHYR_CHROMIUM "; 5 bytes " FROM_LINUX_SDB ", 6 " FROM_MICROCHIP ", 7 " FROM_INFINEON
                  ", 2 on a cable " FROM_MEMORY,
        .senders_source = FROM_MEMORY },
    [EXTENDED_GET_BATTERY_CAP] = { "Get_Battery_Cap", .senders = BOTH, .since = SINCE_R30, .size_min = 1, .size_max = 1,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_GET_BATTERY_STATUS] = { "Get_Battery_Status", .senders = BOTH, .since = SINCE_R30,
        .size_min = 1, .size_max = 1,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_BATTERY_CAPABILITIES] = { "Battery_Capabilities", .senders = BOTH, .since = SINCE_R30,
        .size_min = 9, .size_max = 9,
        .source = LINUX_ZEPHYR_CHROMIUM " (a structure of 9 bytes)", .senders_source = FROM_MEMORY },
    [EXTENDED_GET_MANUFACTURER_INFO] = { "Get_Manufacturer_Info", .senders = BOTH, .since = SINCE_R30, .on_cable = true,
        .size_min = 2, .size_max = 2,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_MANUFACTURER_INFO] = { "Manufacturer_Info", .senders = BOTH | SENDER_CABLE, .since = SINCE_R30,
        .on_cable = true, .size_min = 5, .size_max = 26,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_SECURITY_REQUEST] = { "Security_Request", .senders = BOTH, .since = SINCE_R30, .on_cable = true,
        .size_min = 4, .size_max = 260,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_SECURITY_RESPONSE] = { "Security_Response", .senders = BOTH | SENDER_CABLE, .since = SINCE_R30,
        .on_cable = true, .size_min = 4, .size_max = 260,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_FIRMWARE_UPDATE_REQUEST] = { "Firmware_Update_Request", .senders = BOTH, .since = SINCE_R30,
        .on_cable = true, .size_min = 4, .size_max = 260,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_FIRMWARE_UPDATE_RESPONSE] = { "Firmware_Update_Response", .senders = BOTH | SENDER_CABLE,
        .since = SINCE_R30, .on_cable = true, .size_min = 4, .size_max = 260,
        .source = LINUX_ZEPHYR_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_PPS_STATUS] = { "PPS_Status", .senders = SENDER_SOURCE, .since = SINCE_R30, .size_min = 4, .size_max = 4,
        .source = LINUX_ZEPHYR_CHROMIUM "; 4 bytes " FROM_INFINEON ", " FROM_MICROCHIP, .senders_source = FROM_MEMORY },
    [EXTENDED_COUNTRY_INFO] = { "Country_Info", .senders = BOTH, .since = SINCE_R30, .size_min = 4, .size_max = 26,
        .source = FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_COUNTRY_CODES] = { "Country_Codes", .senders = BOTH, .since = SINCE_R30, .size_min = 4, .size_max = 26,
        .source = FROM_LINUX "; " FROM_ZEPHYR "; " FROM_INFINEON "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_SINK_CAPABILITIES] = { "Sink_Capabilities_Extended", .senders = SENDER_SINK | SENDER_SOURCE_DRP,
        .since = SINCE_R30, .size_min = 21, .size_max = 24, .size_step = 3, /* R3.0: 21; R3.1 adds three EPR ratings */
        .source = FROM_LINUX_LIST "; " ZEPHYR_CHROMIUM_INFINEON "; 21 bytes " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_CONTROL] = { "Extended_Control", .senders = BOTH, .since = SINCE_R31, .size_min = 2, .size_max = 2,
        .source = ZEPHYR_CHROMIUM_INFINEON, .senders_source = FROM_MEMORY },
    [EXTENDED_EPR_SOURCE_CAPABILITIES] = { "EPR_Source_Capabilities", .senders = SENDER_SOURCE | SENDER_SINK_DRP,
        .since = SINCE_R31, .size_min = 4, .size_max = 52, .size_step = 4, /* 13 positions can be named */
        .source = ZEPHYR_CHROMIUM_INFINEON "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [EXTENDED_EPR_SINK_CAPABILITIES] = { "EPR_Sink_Capabilities", .senders = SENDER_SINK | SENDER_SOURCE_DRP,
        .since = SINCE_R31, .size_min = 4, .size_max = 52, .size_step = 4,
        .source = FROM_ZEPHYR "; " FROM_CHROMIUM "; " FROM_ONSEMI "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [19] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM), [20] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [21] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM), [22] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [23] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM), [24] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [25] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM), [26] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [27] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM), [28] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [29] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
    [EXTENDED_VENDOR_DEFINED] = { "Vendor_Defined_Extended", .senders = BOTH | SENDER_CABLE, .since = SINCE_R31,
        .on_cable = true, .size_min = 4, .size_max = 260,
        .source = FROM_ZEPHYR "; " FROM_CHROMIUM "; size " FROM_MEMORY, .senders_source = FROM_MEMORY },
    [31] = RESERVED_ROW(FROM_ZEPHYR "; " FROM_CHROMIUM),
};

static const struct message_kind beyond_tables = RESERVED_ROW("no such class of message");

const struct message_kind *message_kind(unsigned index)
{
    static const struct message_kind *const classes[] = {
        [CLASS_CONTROL] = control_kinds, [CLASS_DATA] = data_kinds, [CLASS_EXTENDED] = extended_kinds,
    };

    return index < MESSAGE_INDEXES ? &classes[index / CLASS_TYPES][index % CLASS_TYPES] : &beyond_tables;
}

static bool step_allowed(unsigned n, unsigned least, unsigned most, unsigned step)
{
    return n >= least && n <= most && (step == 0 || (n - least) % step == 0);
}

bool message_objects_allowed(const struct message_kind *kind, unsigned n)
{
    return step_allowed(n, kind->objects_min, kind->objects_max, kind->objects_step);
}

bool message_size_allowed(const struct message_kind *kind, unsigned n, bool on_cable)
{
    if (on_cable && kind->cable_size)
        return n == kind->cable_size;
    return step_allowed(n, kind->size_min, kind->size_max, kind->size_step);
}

int message_index_of(const char *name)
{
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++) {
        const struct message_kind *kind = message_kind(index);

        if (kind->name && strcmp(kind->name, name) == 0)
            return (int)index;
    }
    return -1;
}

const char *ordered_set_name(unsigned set)
{
    static const char *const names[] = {
        [SET_SOP] = "SOP", [SET_SOP1] = "SOP'", [SET_SOP2] = "SOP''",
        [SET_SOP1_DEBUG] = "SOP'_Debug", [SET_SOP2_DEBUG] = "SOP''_Debug",
    };

    return set < sizeof names / sizeof names[0] ? names[set] : "unknown";
}

const char *header_revision_name(unsigned revision)
{
    static const char *const names[] = {
        [HEADER_R1] = "1.0", [HEADER_R2] = "2.0", [HEADER_R3] = "3.x", [HEADER_RESERVED] = "reserved",
    };

    return revision < sizeof names / sizeof names[0] ? names[revision] : "reserved";
}

const char *since_name(unsigned since)
{
    static const char *const names[] = {
        [SINCE_R1] = "1.0", [SINCE_R2] = "2.0", [SINCE_R30] = "3.0", [SINCE_R31] = "3.1", [SINCE_R32] = "3.2",
    };

    return since < sizeof names / sizeof names[0] ? names[since] : "unknown";
}
