/* offers: keys and values as the interface page has them; expectations are typed from how the traces below are made. */
#include "tests/cli/cli_try.h"

#include <stdio.h>

/* A capture with one record of no port: nobody offered anything. */
static void a_trace_without_offers_is_said_and_no_failure(void **state)
{
    struct lines *l = *state;
    char          path[64];

    lines_about(l, 255, "{\"device\":\"Lumenbrick 65\"}");
    try_save(l, path);
    struct try t = try_run(&command_offers, path, NULL);

    assert_int_equal(t.status, 0);
    expect_text(&t, "Lumenbrick 65");
    expect_text(&t, "No announcement was found");
    try_free(&t);
    t = try_run(&command_offers, "--json", path, NULL);
    assert_int_equal(t.status, 0);
    assert_int_equal(size_at(t.json, "ports"), 0);
    assert_string_equal(text_at(t.json, "trace.about.device"), "Lumenbrick 65");
    try_free(&t);
    try_remove(path);
}

/* 65 W with a programmable range, negotiated; then, in the contract, without the 20 V object. */
static void lumenbrick(struct lines *l, uint64_t *first, uint64_t *second)
{
    const uint32_t full[] = { word_fixed(5000, 3000) | 1u << 26, word_fixed(9000, 3000), word_fixed(15000, 3000),
                              word_fixed(20000, 3250), word_pps(3300, 11000, 3000) };
    const uint32_t less[] = { full[0], full[1], full[2], full[4] };

    lines_about(l, 255, "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"source\"}]}");
    lines_attach(l);
    *first = lines_caps(l, 5, full);
    lines_request(l, word_ask_fixed(4, 3250, 3250));
    lines_accept_and_ready(l);
    lines_wait(l, MS(500));
    *second = lines_caps(l, 4, less);
    lines_request(l, word_ask_fixed(3, 3000, 3000));
    lines_accept_and_ready(l);
}

static void every_key_of_an_announcement_is_there(void **state)
{
    struct lines *l = *state;
    uint64_t      first, second;
    char          path[64];

    lumenbrick(l, &first, &second);
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    assert_int_equal(t.status, 0);
    assert_int_equal(number_at(t.json, "schema"), 1);
    assert_string_equal(text_at(t.json, "tool"), "portassay 0.1.0");
    assert_int_equal(number_at(t.json, "ports.0.port"), 0);
    assert_string_equal(text_at(t.json, "ports.0.name"), "C1");
    assert_int_equal(size_at(t.json, "ports.0.offers"), 2);
    const cJSON *a = at(t.json, "ports.0.offers.0");

    assert_int_equal(number_at(a, "frame"), first);
    assert_string_equal(text_at(a, "message"), "Source_Capabilities");
    assert_true(true_at(a, "delivered"));
    assert_int_equal(number_at(a, "repeated"), 0);
    assert_int_equal(size_at(a, "pdos"), 5);
    /* Fixed 5 V 3 A with USB Communications Capable (bit 26): USB PD fixed supply PDO, Linux include/linux/usb/pd.h. */
    assert_string_equal(text_at(a, "pdos.0.word"), "0x0401912c");
    assert_string_equal(text_at(a, "pdos.0.supply"), "fixed");
    assert_int_equal(number_at(a, "pdos.0.position"), 1);
    assert_int_equal(number_at(a, "pdos.0.mv"), 5000);
    assert_int_equal(number_at(a, "pdos.0.ma"), 3000);
    assert_true(true_at(a, "pdos.0.usb_comm"));
    assert_false(true_at(a, "pdos.0.dual_role_power"));
    assert_int_equal(number_at(a, "pdos.0.peak"), 0);
    assert_string_equal(text_at(a, "pdos.4.supply"), "pps");
    assert_int_equal(number_at(a, "pdos.4.min_mv"), 3300);
    assert_int_equal(number_at(a, "pdos.4.max_mv"), 11000);
    assert_int_equal(number_at(a, "pdos.4.ma"), 3000);
    assert_false(true_at(a, "pdos.4.limited"));
    assert_int_equal(number_at(a, "most_mw"), 65000); /* 20 V x 3.25 A */
    assert_false(cJSON_HasObjectItem(a, "changed"));
    assert_true(cJSON_IsNull(at(t.json, "ports.0.identity")));
    assert_true(cJSON_IsNull(at(t.json, "ports.0.cable")));
    assert_false(cJSON_HasObjectItem(t.json, "together"));
    assert_int_equal(size_at(t.json, "ports.0.sink_offers"), 0);
    try_free(&t);
    try_remove(path);
}

static void what_changed_is_told_by_position(void **state)
{
    struct lines *l = *state;
    uint64_t      first, second;
    char          path[64];

    lumenbrick(l, &first, &second);
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    /* Object 4 (20 V) went; the programmable one moved from 5 to 4 and is the same object. */
    assert_int_equal(number_at(t.json, "ports.0.offers.1.frame"), second);
    assert_int_equal(size_at(t.json, "ports.0.offers.1.changed.added"), 0);
    assert_int_equal(size_at(t.json, "ports.0.offers.1.changed.removed"), 1);
    assert_int_equal(number_at(t.json, "ports.0.offers.1.changed.removed.0"), 4);
    try_free(&t);
    t = try_run(&command_offers, path, NULL);
    expect_text(&t, "C1 (port 0)");
    expect_text(&t, "no longer offered");
    expect_text(&t, "65 W at most (object 4)");
    expect_text(&t, "3.3 to 11 V at 3 A");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void the_same_set_again_is_counted_and_no_new_announcement(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000) };
    char           path[64];

    lines_attach(l);
    for (unsigned k = 0; k < 3; k++) {
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                                    .words = { words[0] }, .quiet = true, .again = k > 0 });
        lines_wait(l, MS(150));
    }
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    assert_int_equal(size_at(t.json, "ports.0.offers"), 1);
    assert_int_equal(number_at(t.json, "ports.0.offers.0.repeated"), 2);
    assert_false(true_at(t.json, "ports.0.offers.0.delivered"));
    try_free(&t);
    lines_detach(l);
    lines_attach(l);
    lines_caps(l, 1, words);
    try_remove(path);
    try_save(l, path);
    t = try_run(&command_offers, "--json", path, NULL);
    /* A new attach: the same words are an announcement of their own. */
    assert_int_equal(size_at(t.json, "ports.0.offers"), 2);
    assert_true(true_at(t.json, "ports.0.offers.1.delivered"));
    assert_int_equal(size_at(t.json, "ports.0.offers.1.changed.added"), 0);
    assert_int_equal(size_at(t.json, "ports.0.offers.1.changed.removed"), 0);
    try_free(&t);
    try_remove(path);
}

static void objects_of_an_epr_offer_keep_their_true_position(void **state)
{
    struct lines  *l = *state;
    const uint32_t spr[] = { word_fixed(5000, 3000) | 1u << 23, word_fixed(9000, 3000), word_fixed(15000, 3000), word_fixed(20000, 5000) };
    const uint32_t epr[] = { spr[0], spr[1], spr[2], spr[3], 0, 0, 0, word_fixed(28000, 5000), word_epr_avs(15000, 28000, 140) };
    char           path[64];

    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    lines_negotiate(l, 4, spr, word_ask_fixed(4, 5000, 5000) | 1u << 22);
    lines_enter_epr(l);
    uint64_t frame = lines_epr_caps(l, 9, epr);

    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    assert_int_equal(size_at(t.json, "ports.0.offers"), 2);
    const cJSON *a = at(t.json, "ports.0.offers.1");

    assert_string_equal(text_at(a, "message"), "EPR_Source_Capabilities");
    assert_int_equal(number_at(a, "frame"), frame);
    assert_int_equal(size_at(a, "pdos"), 6); /* zero fillers are not listed */
    assert_int_equal(number_at(a, "pdos.4.position"), 8);
    assert_int_equal(number_at(a, "pdos.4.mv"), 28000);
    assert_int_equal(number_at(a, "pdos.5.position"), 9);
    assert_string_equal(text_at(a, "pdos.5.supply"), "epr_avs");
    assert_int_equal(number_at(a, "pdos.5.pdp_w"), 140);
    assert_int_equal(size_at(a, "changed.added"), 2);
    assert_int_equal(number_at(a, "changed.added.0"), 8);
    assert_int_equal(number_at(a, "most_mw"), 140000);
    /* Passive cable VDO: current field 2 is 5 A, maximum VBUS field 3 is 50 V (Linux include/linux/usb/pd_vdo.h). */
    assert_int_equal(number_at(t.json, "ports.0.cable.current_ma"), 5000);
    assert_int_equal(number_at(t.json, "ports.0.cable.max_mv"), 50000);
    assert_true(true_at(t.json, "ports.0.cable.epr_capable"));
    assert_string_equal(text_at(t.json, "ports.0.cable.set"), "SOP'");
    try_free(&t);
    t = try_run(&command_offers, path, NULL);
    expect_text(&t, "carries 5 A");
    expect_text(&t, "up to 50 V");
    expect_text(&t, "15 to 28 V, 140 W");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

/* Harbor 96 takes power as a sink, and says who it is: what it answers to every question there is. */
static void who_is_there_and_what_it_takes_as_a_sink(void **state)
{
    struct lines  *l = *state;
    const uint32_t source[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };
    const uint32_t sink[] = { word_fixed(5000, 900) | 1u << 28, word_variable(9000, 15000, 2000) };
    /* Revision 3.1, version 1.8: nibbles from the top (Chromium EC include/usb_pd.h). */
    const uint32_t revision = 0x31180000;
    /* Source_Info: guaranteed, 65 W at most, 45 W now, 45 W told: bytes from bit 16 down (Chromium EC include/usb_pd.h). */
    const uint32_t info = 1u << 31 | 65u << 16 | 45u << 8 | 45;
    /* VID 0x1234, PID 0x5678, "Harbor". */
    const uint8_t  maker[] = { 0x34, 0x12, 0x78, 0x56, 'H', 'a', 'r', 'b', 'o', 'r', 0 };
    /* VID, PID, design capacity 96.0 Wh, last full charge 90.5 Wh in tenths of Wh, reference sound. */
    const uint8_t  battery[] = { 0x34, 0x12, 0x78, 0x56, 0xc0, 0x03, 0x89, 0x03, 0 };
    char           path[64];

    lines_about(l, 255, "{\"device\":\"Harbor 96\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"sink\"}]}");
    lines_attach(l);
    lines_negotiate(l, 2, source, word_ask_fixed(2, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    uint64_t needs = lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 2, sink);

    lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION);
    lines_data(l, SIDE_SINK, DATA_REVISION, 1, &revision);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_INFO);
    uint64_t told = lines_data(l, SIDE_SOURCE, DATA_SOURCE_INFO, 1, &info);

    lines_extended(l, SIDE_SOURCE, EXTENDED_GET_MANUFACTURER_INFO, "\0", 2);
    lines_extended(l, SIDE_SINK, EXTENDED_MANUFACTURER_INFO, maker, sizeof maker);
    lines_extended(l, SIDE_SOURCE, EXTENDED_GET_BATTERY_CAP, "", 1);
    lines_extended(l, SIDE_SINK, EXTENDED_BATTERY_CAPABILITIES, battery, sizeof battery);
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    assert_int_equal(number_at(t.json, "ports.0.sink_offers.0.frame"), needs);
    assert_string_equal(text_at(t.json, "ports.0.sink_offers.0.message"), "Sink_Capabilities");
    assert_string_equal(text_at(t.json, "ports.0.sink_offers.0.party"), "device");
    assert_true(true_at(t.json, "ports.0.sink_offers.0.delivered"));
    assert_true(true_at(t.json, "ports.0.sink_offers.0.pdos.0.higher_capability"));
    assert_string_equal(text_at(t.json, "ports.0.sink_offers.0.pdos.1.supply"), "variable");
    assert_string_equal(text_at(t.json, "ports.0.offers.0.party"), "partner");
    assert_int_equal(number_at(t.json, "ports.0.source_info.frame"), told);
    assert_int_equal(number_at(t.json, "ports.0.source_info.data.present_pdp_w"), 45);
    assert_int_equal(number_at(t.json, "ports.0.source_info.data.maximum_pdp_w"), 65);
    assert_string_equal(text_at(t.json, "ports.0.revisions.0.party"), "device");
    assert_int_equal(number_at(t.json, "ports.0.revisions.0.data.revision_minor"), 1);
    assert_string_equal(text_at(t.json, "ports.0.manufacturers.0.data.text"), "Harbor");
    assert_int_equal(number_at(t.json, "ports.0.batteries.0.data.design_capacity_mwh"), 96000);
    assert_int_equal(number_at(t.json, "ports.0.batteries.0.data.full_capacity_mwh"), 90500);
    try_free(&t);
    t = try_run(&command_offers, path, NULL);
    expect_text(&t, "Need 1 of 1, by the device");
    expect_text(&t, "needs more than 5 V to work in full");
    expect_text(&t, "\"Harbor\"");
    expect_text(&t, "96 Wh");
    expect_text(&t, "USB PD 3.1, version 1.8");
    expect_text(&t, "Port Present PDP 45 W");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_offers, "-v", path, NULL);
    expect_text(&t, "Battery Design Capacity");
    try_free(&t);
    try_remove(path);
}

static void two_ports_add_up_to_what_they_offer_at_one_time(void **state)
{
    struct lines  *l = *state;
    const uint32_t c1[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), word_fixed(15000, 3000) };
    const uint32_t c1_shared[] = { word_fixed(5000, 3000), word_fixed(9000, 2000) };
    const uint32_t c2[] = { word_fixed(5000, 3000) };
    char           path[64];

    lines_attach(l);
    lines_negotiate(l, 3, c1, word_ask_fixed(3, 3000, 3000)); /* 45 W */
    lines_caps(l, 2, c1_shared);                              /* 18 W */
    l->port = 1;
    lines_attach(l);
    lines_ids_reset(l);
    lines_caps(l, 1, c2); /* 15 W: 33 W together */
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", path, NULL);

    assert_int_equal(size_at(t.json, "ports"), 2);
    assert_int_equal(number_at(t.json, "together.most_mw"), 33000);
    assert_int_equal(number_at(t.json, "together.ports"), 2);
    try_free(&t);
    l->port = 0;
    lines_ids_reset(l);
    lines_caps(l, 3, c1); /* 45 + 15 W */
    try_remove(path);
    try_save(l, path);
    t = try_run(&command_offers, "--json", path, NULL);
    assert_int_equal(number_at(t.json, "together.most_mw"), 60000);
    try_free(&t);
    t = try_run(&command_offers, path, NULL);
    expect_text(&t, "2 ports at once offered 60 W together at the most");
    try_free(&t);
    t = try_run(&command_offers, "--port", "1", "--json", path, NULL);
    assert_int_equal(size_at(t.json, "ports"), 1);
    assert_int_equal(number_at(t.json, "ports.0.port"), 1);
    try_free(&t);
    try_remove(path);
}

static void a_file_that_is_not_there_is_one_line_and_status_2(void **state)
{
    (void)state;
    struct try t = try_run(&command_offers, "/nowhere/there-is-none.pcap", NULL);

    assert_int_equal(t.status, 2);
    expect_complaint(&t, "/nowhere/there-is-none.pcap");
    assert_string_equal(t.text, "");
    try_free(&t);
}

static void since_and_until_pick_the_announcements_in_between(void **state)
{
    struct lines *l = *state;
    uint64_t      first, second;
    char          path[64];

    lumenbrick(l, &first, &second);
    try_save(l, path);
    struct try t = try_run(&command_offers, "--json", "--since", "500ms", path, NULL);

    assert_int_equal(size_at(t.json, "ports.0.offers"), 1);
    assert_int_equal(number_at(t.json, "ports.0.offers.0.frame"), second);
    try_free(&t);
    t = try_run(&command_offers, "--json", "--until", "500ms", path, NULL);
    assert_int_equal(size_at(t.json, "ports.0.offers"), 1);
    assert_int_equal(number_at(t.json, "ports.0.offers.0.frame"), first);
    try_free(&t);
    try_remove(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_trace_without_offers_is_said_and_no_failure, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(every_key_of_an_announcement_is_there, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(what_changed_is_told_by_position, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_same_set_again_is_counted_and_no_new_announcement, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(objects_of_an_epr_offer_keep_their_true_position, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(who_is_there_and_what_it_takes_as_a_sink, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(two_ports_add_up_to_what_they_offer_at_one_time, lines_setup, lines_teardown),
        cmocka_unit_test(a_file_that_is_not_there_is_one_line_and_status_2),
        cmocka_unit_test_setup_teardown(since_and_until_pick_the_announcements_in_between, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
