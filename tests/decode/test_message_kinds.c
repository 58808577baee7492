/*
 * The three tables of message types. Numbers and names typed from Linux include/linux/usb/pd.h, Zephyr usbc_pd.h and
 * Chromium EC include/usb_pd.h; editions, counts and sizes from the same and, where those are silent, from memory.
 */
#include "decode/message.h"
#include "tests/decode/testing.h"

static const struct expected {
    const char *name;
    uint8_t     message_class, number, since;
} expected[] = {
    { "GoodCRC", CLASS_CONTROL, 1, SINCE_R1 },
    { "GotoMin", CLASS_CONTROL, 2, SINCE_R1 },
    { "Accept", CLASS_CONTROL, 3, SINCE_R1 },
    { "Reject", CLASS_CONTROL, 4, SINCE_R1 },
    { "Ping", CLASS_CONTROL, 5, SINCE_R1 },
    { "PS_RDY", CLASS_CONTROL, 6, SINCE_R1 },
    { "Get_Source_Cap", CLASS_CONTROL, 7, SINCE_R1 },
    { "Get_Sink_Cap", CLASS_CONTROL, 8, SINCE_R1 },
    { "DR_Swap", CLASS_CONTROL, 9, SINCE_R1 },
    { "PR_Swap", CLASS_CONTROL, 10, SINCE_R1 },
    { "VCONN_Swap", CLASS_CONTROL, 11, SINCE_R2 },
    { "Wait", CLASS_CONTROL, 12, SINCE_R1 },
    { "Soft_Reset", CLASS_CONTROL, 13, SINCE_R1 },
    { "Data_Reset", CLASS_CONTROL, 14, SINCE_R30 },
    { "Data_Reset_Complete", CLASS_CONTROL, 15, SINCE_R30 },
    { "Not_Supported", CLASS_CONTROL, 16, SINCE_R30 },
    { "Get_Source_Cap_Extended", CLASS_CONTROL, 17, SINCE_R30 },
    { "Get_Status", CLASS_CONTROL, 18, SINCE_R30 },
    { "FR_Swap", CLASS_CONTROL, 19, SINCE_R30 },
    { "Get_PPS_Status", CLASS_CONTROL, 20, SINCE_R30 },
    { "Get_Country_Codes", CLASS_CONTROL, 21, SINCE_R30 },
    { "Get_Sink_Cap_Extended", CLASS_CONTROL, 22, SINCE_R30 },
    { "Get_Source_Info", CLASS_CONTROL, 23, SINCE_R31 },
    { "Get_Revision", CLASS_CONTROL, 24, SINCE_R31 },
    { "Source_Capabilities", CLASS_DATA, 1, SINCE_R1 },
    { "Request", CLASS_DATA, 2, SINCE_R1 },
    { "BIST", CLASS_DATA, 3, SINCE_R1 },
    { "Sink_Capabilities", CLASS_DATA, 4, SINCE_R1 },
    { "Battery_Status", CLASS_DATA, 5, SINCE_R30 },
    { "Alert", CLASS_DATA, 6, SINCE_R30 },
    { "Get_Country_Info", CLASS_DATA, 7, SINCE_R30 },
    { "Enter_USB", CLASS_DATA, 8, SINCE_R30 },
    { "EPR_Request", CLASS_DATA, 9, SINCE_R31 },
    { "EPR_Mode", CLASS_DATA, 10, SINCE_R31 },
    { "Source_Info", CLASS_DATA, 11, SINCE_R31 },
    { "Revision", CLASS_DATA, 12, SINCE_R31 },
    { "Vendor_Defined", CLASS_DATA, 15, SINCE_R1 },
    { "Source_Capabilities_Extended", CLASS_EXTENDED, 1, SINCE_R30 },
    { "Status", CLASS_EXTENDED, 2, SINCE_R30 },
    { "Get_Battery_Cap", CLASS_EXTENDED, 3, SINCE_R30 },
    { "Get_Battery_Status", CLASS_EXTENDED, 4, SINCE_R30 },
    { "Battery_Capabilities", CLASS_EXTENDED, 5, SINCE_R30 },
    { "Get_Manufacturer_Info", CLASS_EXTENDED, 6, SINCE_R30 },
    { "Manufacturer_Info", CLASS_EXTENDED, 7, SINCE_R30 },
    { "Security_Request", CLASS_EXTENDED, 8, SINCE_R30 },
    { "Security_Response", CLASS_EXTENDED, 9, SINCE_R30 },
    { "Firmware_Update_Request", CLASS_EXTENDED, 10, SINCE_R30 },
    { "Firmware_Update_Response", CLASS_EXTENDED, 11, SINCE_R30 },
    { "PPS_Status", CLASS_EXTENDED, 12, SINCE_R30 },
    { "Country_Info", CLASS_EXTENDED, 13, SINCE_R30 },
    { "Country_Codes", CLASS_EXTENDED, 14, SINCE_R30 },
    { "Sink_Capabilities_Extended", CLASS_EXTENDED, 15, SINCE_R30 },
    { "Extended_Control", CLASS_EXTENDED, 16, SINCE_R31 },
    { "EPR_Source_Capabilities", CLASS_EXTENDED, 17, SINCE_R31 },
    { "EPR_Sink_Capabilities", CLASS_EXTENDED, 18, SINCE_R31 },
    { "Vendor_Defined_Extended", CLASS_EXTENDED, 30, SINCE_R31 },
};

static void every_message_has_the_published_number(void **state)
{
    (void)state;
    for (unsigned i = 0; i < LENGTH(expected); i++) {
        int index = message_index_of(expected[i].name);

        if (index != expected[i].message_class * 32 + expected[i].number)
            fail_msg("%s has index %d", expected[i].name, index);
        assert_string_equal(message_kind((unsigned)index)->name, expected[i].name);
        assert_int_equal(message_kind((unsigned)index)->since, expected[i].since);
    }
}

static void all_other_numbers_are_reserved(void **state)
{
    unsigned named = 0;

    (void)state;
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++) {
        const struct message_kind *kind = message_kind(index);

        if (kind->name)
            named++;
        else
            assert_true(kind->senders == 0 && !kind->on_cable && kind->objects_max == 0 && kind->size_max == 0);
    }
    assert_int_equal(named, LENGTH(expected));
    assert_null(message_kind(MESSAGE_INDEXES)->name);
    assert_null(message_kind(UINT32_MAX)->name);
}

static void a_name_that_is_none_has_no_index(void **state)
{
    (void)state;
    assert_int_equal(message_index_of("goodcrc"), -1);
    assert_int_equal(message_index_of(""), -1);
    assert_int_equal(message_index_of("Source Capabilities"), -1);
}

/* The wide list (from memory): what may appear on SOP' and SOP''. */
static void only_the_known_messages_appear_on_a_cable(void **state)
{
    static const char *const on_cable[] = {
        "GoodCRC", "Accept", "Soft_Reset", "Not_Supported", "Get_Status", "Status", "Get_Revision", "Revision",
        "Get_Manufacturer_Info", "Manufacturer_Info", "Security_Request", "Security_Response",
        "Firmware_Update_Request", "Firmware_Update_Response", "Vendor_Defined", "Vendor_Defined_Extended",
        "Enter_USB", "Data_Reset", "BIST",
    };
    unsigned marked = 0;

    (void)state;
    for (unsigned i = 0; i < LENGTH(on_cable); i++)
        assert_true(message_kind((unsigned)message_index_of(on_cable[i]))->on_cable);
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++)
        marked += message_kind(index)->on_cable;
    assert_int_equal(marked, LENGTH(on_cable));
}

static void what_a_plug_sends_may_stand_on_a_cable(void **state)
{
    (void)state;
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++)
        if (message_kind(index)->senders & SENDER_CABLE)
            assert_true(message_kind(index)->on_cable);
}

/* From memory, as the senders columns are. */
static void requests_come_from_sinks_and_offers_from_sources(void **state)
{
    static const struct { const char *name; uint8_t senders; } senders[] = {
        { "Request", SENDER_SINK },
        { "EPR_Request", SENDER_SINK },
        { "FR_Swap", SENDER_SINK },
        { "Get_PPS_Status", SENDER_SINK },
        { "GotoMin", SENDER_SOURCE },
        { "Ping", SENDER_SOURCE },
        { "PPS_Status", SENDER_SOURCE },
        { "Source_Info", SENDER_SOURCE },
        { "Source_Capabilities", SENDER_SOURCE | SENDER_SINK_DRP },
        { "Sink_Capabilities", SENDER_SINK | SENDER_SOURCE_DRP },
        { "Get_Source_Cap", SENDER_SINK | SENDER_SOURCE_DRP },
        { "Get_Sink_Cap", SENDER_SOURCE | SENDER_SINK_DRP },
        { "Data_Reset_Complete", SENDER_DFP },
        { "Enter_USB", SENDER_DFP },
        { "PS_RDY", SENDER_SOURCE | SENDER_SINK },
        { "GoodCRC", SENDER_SOURCE | SENDER_SINK | SENDER_CABLE },
    };

    (void)state;
    for (unsigned i = 0; i < LENGTH(senders); i++)
        assert_int_equal(message_kind((unsigned)message_index_of(senders[i].name))->senders, senders[i].senders);
}

static bool objects_allowed(const char *name, unsigned n)
{
    return message_objects_allowed(message_kind((unsigned)message_index_of(name)), n);
}

static bool size_allowed(const char *name, unsigned n, bool on_cable)
{
    return message_size_allowed(message_kind((unsigned)message_index_of(name)), n, on_cable);
}

static void object_counts_are_those_of_the_tables(void **state)
{
    (void)state;
    assert_false(objects_allowed("Source_Capabilities", 0));
    assert_true(objects_allowed("Source_Capabilities", 1));
    assert_true(objects_allowed("Source_Capabilities", 7));
    assert_true(objects_allowed("Request", 1));
    assert_false(objects_allowed("Request", 2));
    assert_true(objects_allowed("EPR_Request", 2));
    assert_false(objects_allowed("EPR_Request", 1));
    assert_true(objects_allowed("BIST", 1));
    assert_false(objects_allowed("BIST", 2));
    assert_true(objects_allowed("BIST", 7));
    assert_true(objects_allowed("Source_Info", 2));
    assert_false(objects_allowed("Source_Info", 3));
    assert_true(objects_allowed("Accept", 0));
    assert_false(objects_allowed("Accept", 1));
}

static void data_sizes_are_those_of_the_tables(void **state)
{
    (void)state;
    assert_true(size_allowed("Source_Capabilities_Extended", 24, false));
    assert_true(size_allowed("Source_Capabilities_Extended", 25, false));
    assert_false(size_allowed("Source_Capabilities_Extended", 26, false));
    assert_true(size_allowed("Status", 5, false));
    assert_true(size_allowed("Status", 7, false));
    assert_false(size_allowed("Status", 2, false));
    assert_true(size_allowed("Status", 2, true));
    assert_false(size_allowed("Status", 7, true));
    assert_true(size_allowed("Sink_Capabilities_Extended", 21, false));
    assert_false(size_allowed("Sink_Capabilities_Extended", 22, false));
    assert_true(size_allowed("Sink_Capabilities_Extended", 24, false));
    assert_true(size_allowed("EPR_Source_Capabilities", 44, false));
    assert_false(size_allowed("EPR_Source_Capabilities", 42, false));
    assert_true(size_allowed("EPR_Sink_Capabilities", 52, false));
    assert_false(size_allowed("EPR_Sink_Capabilities", 56, false));
    assert_true(size_allowed("Battery_Capabilities", 9, false));
    assert_false(size_allowed("Manufacturer_Info", 4, true));
    assert_true(size_allowed("Manufacturer_Info", 26, true));
    assert_true(size_allowed("Security_Response", 260, false));
    assert_false(size_allowed("Security_Response", 261, false));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_message_has_the_published_number),
        cmocka_unit_test(all_other_numbers_are_reserved),
        cmocka_unit_test(a_name_that_is_none_has_no_index),
        cmocka_unit_test(only_the_known_messages_appear_on_a_cable),
        cmocka_unit_test(what_a_plug_sends_may_stand_on_a_cable),
        cmocka_unit_test(requests_come_from_sinks_and_offers_from_sources),
        cmocka_unit_test(object_counts_are_those_of_the_tables),
        cmocka_unit_test(data_sizes_are_those_of_the_tables),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
