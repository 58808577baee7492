/*
 * A port manager's log, put together again. Lines typed in the forms of Linux drivers/usb/typec/tcpm/tcpm.c (the invented ones play on the
 * bench of the Lumenbrick 65); words typed from the layouts of USB PD, or from what went over the wire between two such port managers
 * (../shared/peer, scenarios fixed4 and caps7), whose logs are held against their own traffic at the end, where they are at hand.
 */
#include "tests/decode/testing.h"

#include "capture/record.h"
#include "capture/trace.h"
#include "decode/kernel_log.h"
#include "decode/message.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_BYTES = 32 * 1024 };

/* Records and notices, a line each. */
struct told {
    char    text[TEXT_BYTES], news[TEXT_BYTES];
    int64_t last_ns;
};

__attribute__((format(printf, 2, 3))) static void add(char *text, const char *format, ...)
{
    size_t  used = strlen(text);
    va_list arguments;

    va_start(arguments, format);
    vsnprintf(text + used, TEXT_BYTES - used, format, arguments);
    va_end(arguments);
}

static void add_packet(char *text, const struct record *r)
{
    add(text, "%s%s ", ordered_set_name(r->packet.set), r->packet.state == RECORD_NO_CRC ? "" : " with CRC or cut");
    for (size_t k = 0; k < r->packet.length; k++)
        add(text, "%02x", r->packet.bytes[k]);
}

static void see(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct told  *t = context;
    struct record r;

    record_read(bytes, length, false, stamp_ns, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_true(r.flags & RECORD_HOST_TIME);
    assert_true(r.t_ns >= t->last_ns);
    t->last_ns = r.t_ns;
    add(t->text, "%" PRId64 ".%06" PRId64 " ", stamp_ns / 1000000000, stamp_ns % 1000000000 / 1000);
    if (r.kind == RECORD_PD_PACKET)
        add_packet(t->text, &r);
    else if (r.kind == RECORD_CC_STATE)
        add(t->text, "CC %u %u", r.cc.attach, r.cc.rp);
    else if (r.kind == RECORD_RESET_SIGNAL)
        add(t->text, "%s", r.reset.which == RECORD_HARD_RESET ? "HARD_RESET" : "CABLE_RESET");
    else if (r.kind == RECORD_MARK)
        add(t->text, "%u: %.*s", r.mark.subject, (int)r.mark.length, r.mark.text);
    else if (r.kind == RECORD_LOST)
        add(t->text, "LOST %s", r.lost.count == RECORD_LOST_UNKNOWN ? "unknown" : "?");
    else if (r.kind == RECORD_ABOUT)
        add(t->text, "ABOUT %.*s", (int)r.about.length, r.about.text);
    add(t->text, "\n");
}

static void hear(void *context, const struct kernel_log_notice *n)
{
    static const char *const words[] = { "unreadable", "unknown", "full", "repeated", "anew", "cut off" };
    struct told             *t = context;

    add(t->news, "%" PRIu64 " %s\n", n->number, words[n->news]);
}

/* Read in pieces of so many bytes. */
static struct kernel_log_facts read_in(struct told *t, const char *log, size_t piece)
{
    const struct kernel_log_options options = { .port = 3, .found = see, .notice = hear, .context = t };
    struct kernel_log              *k = kernel_log_new(&options);
    size_t                          length = strlen(log);

    *t = (struct told){ .last_ns = INT64_MIN };
    assert_non_null(k);
    for (size_t at = 0; at < length; at += piece)
        kernel_log_take(k, (const uint8_t *)log + at, length - at < piece ? length - at : piece);
    kernel_log_finish(k);
    struct kernel_log_facts facts = kernel_log_facts(k);

    kernel_log_free(k);
    return facts;
}

/* What came out but for the ABOUT record that comes first of all. */
static const char *records(struct told *t, const char *log)
{
    const char *first;

    read_in(t, log, SIZE_MAX / 2);
    first = strstr(t->text, "ABOUT {\"rebuilt\":[\"kernel_log\"]");
    assert_non_null(first);
    return strchr(first, '\n') + 1;
}

#define EXPECT(log, expected) \
    do { \
        struct told t; \
        assert_string_equal(records(&t, log), expected); \
        assert_string_equal(t.news, ""); \
    } while (0)

/* fixed4: what went over the wire was a1 41 and 0c01912c 0002d12c 0004b12c 00064145; 84 + 10 x 22 + 5 bits last 1.03 ms at 300 kbit/s. */
static void an_offer_is_put_together_from_its_lines(void **state)
{
    (void)state;
    EXPECT("[    6.445403] PD RX, header: 0x41a1 [1]\n"
           "[    6.445413]  PDO 0: type 0, 5000 mV, 3000 mA [UE]\n"
           "[    6.445423]  PDO 1: type 0, 9000 mV, 3000 mA []\n"
           "[    6.445433]  PDO 2: type 0, 15000 mV, 3000 mA []\n"
           "[    6.445443]  PDO 3: type 0, 20000 mV, 3250 mA []\n",
           "6.445403 SOP a1412c91010c2cd102002cb1040045410600\n");
}

/* Behind a record of its own, so that nothing holds its beginning back. */
static void a_received_message_begins_its_nominal_length_before_its_line(void **state)
{
    (void)state;
    EXPECT("[    6.000000] VBUS on\n"
           "[    6.448743] PD RX, header: 0x3a3 [1]\n"   /* 84 + 10 x 6 + 5 = 149 bits: 497 us */
           "[    6.485161] PD RX, header: 0x5a6 [1]\n",
           "6.000000 3: kernel: VBUS is there\n6.448246 SOP a303\n6.484664 SOP a605\n");
}

/* caps7: 0801912c 0002d12c 0003c12c 0004b12c 000641f4 5401e078 c1a4213c. */
static void ranges_batteries_and_programmable_supplies_have_their_own_forms(void **state)
{
    (void)state;
    EXPECT("[    6.469985] PD RX, header: 0x71a1 [1]\n"
           "[    6.469995]  PDO 0: type 0, 5000 mV, 3000 mA [E]\n"
           "[    6.470006]  PDO 1: type 0, 9000 mV, 3000 mA []\n"
           "[    6.470016]  PDO 2: type 0, 12000 mV, 3000 mA []\n"
           "[    6.470026]  PDO 3: type 0, 15000 mV, 3000 mA []\n"
           "[    6.470036]  PDO 4: type 0, 20000 mV, 5000 mA []\n"
           "[    6.470045]  PDO 5: type 1, 6000-16000 mV, 30000 mW\n"
           "[    6.470055]  PDO 6: type 3, 3300-21000 mV, 3000 mA\n",
           "6.469985 SOP a1712c9101082cd102002cc103002cb10400f441060078e001543c21a4c1\n");
    /* Variable supply 3.3 to 21 V, 3 A: Linux include/linux/usb/pd.h, PDO_VAR: 10b, 420, 66, 300. */
    EXPECT("[    1.000000] PD RX, header: 0x21a1 [1]\n"
           "[    1.000001]  PDO 0: type 0, 5000 mV, 500 mA [RSHUDE]\n"
           "[    1.000002]  PDO 1: type 2, 3300-21000 mV, 3000 mA\n",
           "1.000000 SOP a12132" "90013e2c09419a\n");
}

static void an_object_whose_numbers_are_not_told_is_a_hole(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD RX, header: 0x31a1 [1]\n"
           "[    1.000001]  PDO 0: type 0, 5000 mV, 3000 mA []\n"
           "[    1.000002]  PDO 1: type 3, undefined\n"
           "[    1.000003]  PDO 2: type 3, 3300-11000 mV, 3000 mA\n",
           "1.000000 SOP a1312c910100000000f03c21dcc0\n");
    EXPECT("[    1.000000] PD RX, header: 0x31a1 [1]\n"
           "[    1.000001]  PDO 1: type 0, 9000 mV, 3000 mA []\n"
           "[    1.000400] state change SNK_WAIT_CAPABILITIES -> SNK_NEGOTIATE_CAPABILITIES [rev3 POWER_NEGOTIATION]\n",
           "1.000000 SOP a131000000f02cd10200000000f0\n"
           "1.000400 3: kernel: SNK_WAIT_CAPABILITIES -> SNK_NEGOTIATE_CAPABILITIES\n");
}

static void a_line_of_another_thread_may_stand_within_an_offer(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD RX, header: 0x21a1 [1]\n"
           "[    1.000001]  PDO 0: type 0, 5000 mV, 3000 mA []\n"
           "[    1.000002] CC1: 0 -> 5, CC2: 0 -> 0 [state SNK_WAIT_CAPABILITIES, polarity 0, connected]\n"
           "[    1.000003]  PDO 1: type 0, 9000 mV, 3000 mA []\n",
           "1.000000 SOP a1212c9101002cd10200\n1.000002 CC 1 3\n");
}

/* Position, what is asked for, and no flag but a mismatch (USB PD, Request Data Objects). */
static void a_request_has_what_the_port_said_that_it_asks_for(void **state)
{
    (void)state;
    EXPECT("[    1.000000] Requesting PDO 3: 20000 mV, 3000 mA\n"
           "[    1.000010] PD TX, header: 0x1082\n"
           "[    1.001400] PD TX complete, status: 0\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000010 SOP 82102cb10440\n"); /* position 4, 300 and 300 tens of mA */
    EXPECT("[    1.000000] Requesting APDO 3: 9000 mV, 2950 mA\n"
           "[    1.000010] PD TX, header: 0x1082\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000010 SOP 82103b840340\n"); /* position 4, 450 times 20 mV, 59 times 50 mA */
    EXPECT("[    1.000000] Requesting PDO 5: 16000 mV, 30000 mW\n"
           "[    1.000010] PD TX, header: 0x1082\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000010 SOP 821078e00160\n"); /* position 6, 120 and 120 times 250 mW */
    EXPECT("[    1.000000] Requesting PDO 1: 9000 mV, 2000 mA [mismatch]\n"
           "[    1.000010] PD TX, header: 0x1082\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000010 SOP 821000200324\n" /* position 2, mismatch, 200 tens of mA; at the most is not told */
           "1.000010 3: kernel: how much was asked for at the most is not told\n");
}

static void a_request_is_asked_for_once(void **state)
{
    (void)state;
    EXPECT("[    1.000000] Requesting PDO 0: 5000 mV, 500 mA\n"
           "[    1.000010] PD TX, header: 0x1082\n"
           "[    1.100000] PD TX, header: 0x1282\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000010 SOP 821032c80010\n"
           "1.100000 3: kernel: sent Request, header 0x1282; 1 objects, not told\n");
}

static void a_message_that_is_told_by_its_header_alone_is_a_note(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD TX, header: 0x41a1\n"
           "[    1.001800] PD TX complete, status: 0\n"
           "[    1.100000] PD RX, header: 0x1082 [1]\n"
           "[    1.100010] Requested 20000 mV, 3250 mA for 3000 / 3000 mA\n"
           "[    1.200000] PD RX, header: 0x9081 [1]\n",
           "1.000000 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"sink\"}]}\n"
           "1.000000 3: kernel: sent Source_Capabilities, header 0x41A1; 4 objects, not told\n"
           "1.099370 3: kernel: received Request, header 0x1082; 1 objects, not told\n"
           "1.100010 3: kernel: the partner asked. Requested 20000 mV, 3250 mA for 3000 / 3000 mA\n"
           "1.199370 3: kernel: received Source_Capabilities_Extended, header 0x9081; 1 objects, not told\n");
}

static void a_vendor_defined_message_of_one_object_is_whole(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD RX, header: 0x168f [1]\n"
           "[    1.000006] Rx VDM cmd 0xff00a001 type 0 cmd 1 len 1\n"
           "[    1.100000] PD RX, header: 0x528f [1]\n"
           "[    1.100005] Rx VDM cmd 0xff00a041 type 1 cmd 1 len 5\n"
           "[    1.100064] Identity: 18d1:5031.0100\n",
           "1.000000 SOP 8f1601a000ff\n"
           "1.098836 3: kernel: received Vendor_Defined, header 0x528F; 5 objects, not told, the first 0xFF00A041\n"
           "1.100064 3: kernel: identity: vendor 0x18D1, product 0x5031, release 0x0100\n");
}

/* Message header, SOP': bit 8 is the cable plug's, bit 5 is 0. */
static void what_only_the_plug_can_be_asked_stands_on_sop_prime(void **state)
{
    (void)state;
    EXPECT("[    1.000000] Requesting mux state 1, usb-role 1, orientation 1\n"
           "[    1.000010] PD TX, header: 0x1a3\n"
           "[    1.100000] PD TX, header: 0x10f\n"  /* no object: never Vendor_Defined, and reserved */
           "[    1.200000] PD TX, header: 0x8d\n"   /* Soft_Reset, no role shown */
           "[    1.300000] PD RX, header: 0x183 [1]\n" /* Accept, of a plug */
           "[    1.400000] PD TX, header: 0x1ad\n"  /* Soft_Reset of a source and host */
           "[    1.500000] PD RX, header: 0x83 [1]\n",
           "1.000010 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"sink\"}]}\n"
           "1.000010 SOP a301\n1.100000 SOP 0f01\n1.200000 SOP' 8d00\n1.299503 SOP' 8301\n1.400000 SOP ad01\n1.499503 SOP 8300\n");
}

/* Where VCONN has come over, the log says what the Soft_Reset is for. */
static void after_a_swap_of_vconn_the_plug_is_reset(void **state)
{
    (void)state;
    EXPECT("[    1.000000] state change VCONN_SWAP_TURN_ON_VCONN -> VCONN_SWAP_SEND_SOFT_RESET [delayed 50 ms]\n"
           "[    1.000010] state change VCONN_SWAP_SEND_SOFT_RESET -> SNK_READY [rev3 SOFT_RESET_AMS]\n"
           "[    1.000020] state change SNK_READY -> SOFT_RESET_SEND [rev3 NONE_AMS]\n"
           "[    1.000030] PD TX, header: 0x8d\n"
           "[    2.000000] PD TX, header: 0x8d\n",
           "1.000000 3: kernel: VCONN_SWAP_TURN_ON_VCONN -> VCONN_SWAP_SEND_SOFT_RESET\n"
           "1.000010 3: kernel: VCONN_SWAP_SEND_SOFT_RESET -> SNK_READY\n"
           "1.000020 3: kernel: SNK_READY -> SOFT_RESET_SEND\n"
           "1.000030 SOP' 8d00\n2.000000 SOP 8d00\n");
}

static void a_message_that_never_went_out_is_none(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD TX, header: 0x9\n" /* of a sink, to a source: DR_Swap */
           "[    1.000900] PD TX complete, status: 1\n"
           "[    1.100000] PD TX, header: 0x9\n"
           "[    1.104000] PD TX complete, status: 2\n",
           "1.000000 ABOUT {\"ports\":[{\"port\":3,\"kind\":\"source\"}]}\n"
           "1.000000 3: kernel: message 0x0009 was not sent, another one came in\n"
           "1.100000 SOP 0900\n"
           "1.104000 3: kernel: nobody acknowledged that message\n");
}

static void resets_are_signals(void **state)
{
    (void)state;
    EXPECT("[    1.000000] PD TX, type: 0x5\n[    1.001000] PD TX complete, status: 0\n[    2.000000] Received hard reset\n"
           "[    3.000000] PD TX, type: 0x6\n[    4.000000] PD TX, type: 0x7\n",
           "1.000000 HARD_RESET\n2.000000 HARD_RESET\n3.000000 CABLE_RESET\n4.000000 3: kernel: a signal of type 7 was sent\n");
}

/* Linux include/linux/usb/tcpm.h: 0 open, 1 Ra, 2 Rd, 3 to 5 Rp of default, 1.5 A, 3.0 A. */
static void cc_terminations_become_the_state_of_cc(void **state)
{
    (void)state;
    EXPECT("[    1.000000] CC1: 0 -> 0, CC2: 0 -> 0 [state SNK_UNATTACHED, polarity 0, disconnected]\n"
           "[    2.000000] CC1: 0 -> 3, CC2: 0 -> 0 [state SNK_UNATTACHED, polarity 0, connected]\n"
           "[    3.000000] CC1: 3 -> 0, CC2: 0 -> 4 [state SNK_UNATTACHED, polarity 0, connected]\n"
           "[    4.000000] CC1: 0 -> 0, CC2: 4 -> 4 [state SNK_READY, polarity 0, connected]\n"
           "[    5.000000] CC1: 0 -> 0, CC2: 4 -> 0 [state SNK_READY, polarity 0, disconnected]\n"
           "[    6.000000] CC1: 0 -> 5, CC2: 0 -> 5 [state SNK_UNATTACHED, polarity 0, connected]\n"
           "[    7.000000] CC1: 5 -> 1, CC2: 5 -> 1 [state SNK_UNATTACHED, polarity 0, connected]\n"
           "[    8.000000] CC1: 1 -> 1, CC2: 1 -> 0 [state SRC_UNATTACHED, polarity 0, disconnected]\n",
           "1.000000 CC 0 0\n2.000000 CC 1 1\n3.000000 CC 2 2\n5.000000 CC 0 0\n6.000000 CC 3 3\n7.000000 CC 4 0\n8.000000 CC 0 0\n");
}

static void a_source_shows_its_own_rp(void **state)
{
    (void)state;
    EXPECT("[    1.000000] cc:=5\n"
           "[    2.000000] CC1: 0 -> 1, CC2: 0 -> 2 [state SRC_UNATTACHED, polarity 0, connected]\n"
           "[    2.100000] cc:=4\n"
           "[    2.200000] cc:=5\n"
           "[    3.000000] CC1: 1 -> 0, CC2: 2 -> 0 [state SRC_READY, polarity 0, disconnected]\n"
           "[    3.100000] cc:=4\n",
           "2.000000 CC 2 3\n2.100000 CC 2 2\n2.200000 CC 2 3\n3.000000 CC 0 0\n");
}

static void nobody_is_pulled_out_while_the_power_roles_change_hands(void **state)
{
    (void)state;
    EXPECT("[    1.000000] CC1: 0 -> 2, CC2: 0 -> 0 [state SRC_UNATTACHED, polarity 0, connected]\n"
           "[    2.000000] CC1: 2 -> 0, CC2: 0 -> 0 [state PR_SWAP_SRC_SNK_SOURCE_OFF, polarity 0, disconnected]\n"
           "[    2.100000] CC1: 0 -> 4, CC2: 0 -> 0 [state PR_SWAP_SRC_SNK_SOURCE_OFF_CC_DEBOUNCED, polarity 0, connected]\n",
           "1.000000 CC 1 0\n2.100000 CC 1 2\n");
    EXPECT("[    1.000000] CC1: 0 -> 2, CC2: 0 -> 0 [state SRC_UNATTACHED, polarity 0, connected]\n"
           "[    2.000000] CC1: 2 -> 0, CC2: 0 -> 0 [state PR_SWAP_SRC_SNK_SOURCE_OFF, polarity 0, disconnected]\n"
           "[    2.500000] state change PR_SWAP_SRC_SNK_SOURCE_OFF -> SNK_UNATTACHED [rev3 POWER_ROLE_SWAP]\n",
           "1.000000 CC 1 0\n2.500000 3: kernel: PR_SWAP_SRC_SNK_SOURCE_OFF -> SNK_UNATTACHED\n2.500000 CC 0 0\n");
}

static void what_the_port_is_says_what_its_partner_is(void **state)
{
    (void)state;
    struct kernel_log_facts facts;
    struct told             t;

    facts = read_in(&t, "[    1.000000] pdwire-b: registered\n[    2.000000] state change SNK_DEBOUNCED -> SNK_ATTACHED [rev1 NONE_AMS]\n"
                        "[    3.000000] state change A -> SRC_ATTACHED\n", SIZE_MAX / 2);
    assert_non_null(strstr(t.text, "2.000000 ABOUT {\"ports\":[{\"port\":3,\"name\":\"pdwire-b\",\"kind\":\"source\"}]}\n"));
    assert_non_null(strstr(t.text, "3.000000 ABOUT {\"ports\":[{\"port\":3,\"name\":\"pdwire-b\",\"kind\":\"dual\"}]}\n"));
    assert_string_equal(facts.name, "pdwire-b");
    assert_int_equal(facts.roles, KERNEL_LOG_SOURCE | KERNEL_LOG_SINK);
}

static void what_the_port_does_with_vbus_is_noted(void **state)
{
    (void)state;
    EXPECT("[    1.000000] vbus:=1 charge=0\n[    1.100000] vbus=0 charge:=1\n[    1.200000] vconn:=0\n[    1.300000] VBUS off\n"
           "[    1.400000] VBUS VSAFE0V\n[    1.500000] Setting voltage/current limit 20000 mV 3250 mA\n"
           "[    1.600000] Setting voltage/current limit 0 mV 0 mA\n[    1.700000] SVID 1: 0xff01\n",
           "1.000000 3: kernel: supplying VBUS switched on\n1.100000 3: kernel: drawing from VBUS switched on\n"
           "1.200000 3: kernel: VCONN switched off\n1.300000 3: kernel: VBUS is gone\n1.400000 3: kernel: VBUS is at safe 0 V\n"
           "1.500000 3: kernel: 20.000 V, 3.250 A at the most may be drawn\n1.600000 3: kernel: nothing may be drawn\n"
           "1.700000 3: kernel: SVID 1: 0xff01\n");
}

static void an_intention_is_not_told_as_done(void **state)
{
    (void)state;
    EXPECT("[    1.000000] pending state change SRC_ATTACH_WAIT -> SRC_ATTACHED @ 200 ms [rev1 NONE_AMS]\n"
           "[    1.200000] state change SRC_ATTACH_WAIT -> SRC_ATTACH_WAIT [delayed 200 ms]\n"
           "[    1.300000] pending state change PR_SWAP_SRC_SNK_SOURCE_OFF -> PR_SWAP_SRC_SNK_SOURCE_OFF_CC_DEBOUNCED @ 650 ms [rev3 POWER_\n",
           "1.200000 3: kernel: SRC_ATTACH_WAIT -> SRC_ATTACH_WAIT\n");
}

static void unknown_lines_are_kept_as_notes_and_the_first_is_told(void **state)
{
    (void)state;
    struct told             t;
    struct kernel_log_facts facts = read_in(&t, "[    1.000000] VBUS on\n[    1.100000] Lumenbrick says \"hello\"\xff\n[    1.200000] hello again\n", 5);

    assert_non_null(strstr(t.text, "1.100000 3: kernel: Lumenbrick says \"hello\"?\n1.200000 3: kernel: hello again\n"));
    assert_string_equal(t.news, "2 unknown\n");
    assert_int_equal(facts.unknown, 2);
    assert_int_equal(facts.lines, 3);
}

static void a_line_without_a_time_costs_itself(void **state)
{
    (void)state;
    struct told             t;
    struct kernel_log_facts facts;
    static const char       log[] = "[    1.000000] VBUS on\r\nPD RX, header: 0x3a3 [1]\n\n[    1.1] VBUS off\n[9999999999.000000] VBUS off\n"
                                    "[    2.000000] VBUS off\r\n";

    facts = read_in(&t, log, 7);
    assert_non_null(strstr(t.text, "1.000000 3: kernel: VBUS is there\n2.000000 3: kernel: VBUS is gone\n"));
    assert_string_equal(t.news, "2 unreadable\n4 unreadable\n5 unreadable\n");
    assert_int_equal(facts.unreadable, 3);
}

static void remarks_and_blank_lines_are_passed_over(void **state)
{
    (void)state;
    EXPECT("# the left port of the bench\n\n[    1.000000] VBUS on\n  \n#\n", "1.000000 3: kernel: VBUS is there\n");
}

static void a_line_of_any_length_costs_itself(void **state)
{
    (void)state;
    struct told t;
    size_t      length = 100000;
    char       *log = malloc(length + 64);

    assert_non_null(log);
    memset(log, 'x', length);
    strcpy(log + length, "\n[    2.000000] VBUS off\n");
    read_in(&t, log, 1000);
    free(log);
    assert_non_null(strstr(t.text, "2.000000 3: kernel: VBUS is gone\n"));
    assert_string_equal(t.news, "1 unreadable\n");
}

static void a_log_that_ends_within_a_line_says_so(void **state)
{
    (void)state;
    struct told t;

    read_in(&t, "[    1.000000] VBUS on\n[    2.000000] VBUS o", 5);
    assert_string_equal(t.news, "2 cut off\n");
    read_in(&t, "[    1.000000] VBUS on\n[    2.000", 5);
    assert_string_equal(t.news, "2 cut off\n");
    read_in(&t, "[    1.000000] VBUS on\n[    2.000000] VBUS off", 5);
    assert_string_equal(t.news, "");
    assert_non_null(strstr(t.text, "2.000000 3: kernel: VBUS is gone\n"));
}

static void lines_a_little_out_of_order_are_put_in_order(void **state)
{
    (void)state;
    EXPECT("[    4.822162] VBUS on\n[    4.822085] VBUS off\n[    4.822170] VBUS on\n",
           "4.822162 3: kernel: VBUS is there\n4.822162 3: kernel: VBUS is gone\n4.822170 3: kernel: VBUS is there\n");
}

static void lines_that_were_read_twice_count_once(void **state)
{
    (void)state;
    struct told             t;
    struct kernel_log_facts facts;

    facts = read_in(&t, "[    1.000000] VBUS on\n[    9.000000] VBUS off\n[    1.000000] VBUS on\n[    9.000000] VBUS off\n[   10.000000] VBUS on\n", 11);
    assert_non_null(strstr(t.text, "9.000000 3: kernel: VBUS is gone\n10.000000 3: kernel: VBUS is there\n"));
    assert_string_equal(t.news, "3 repeated\n");
    assert_int_equal(facts.repeated, 2);
}

static void a_clock_that_begins_anew_is_told_and_what_was_plugged_in_is_unknown(void **state)
{
    (void)state;
    struct told t;

    read_in(&t, "[   50.000000] CC1: 0 -> 5, CC2: 0 -> 0 [state SNK_UNATTACHED, polarity 0, connected]\n[    4.000000] VBUS on\n"
                "[    4.500000] VBUS off\n", 11);
    assert_string_equal(t.news, "2 anew\n");
    assert_non_null(strstr(t.text, "50.000000 CC 1 3\n51.000000 LOST unknown\n51.000000 CC 0 0\n"
                                   "51.000000 3: kernel: the clock of the log began anew\n51.000000 3: kernel: VBUS is there\n"
                                   "51.500000 3: kernel: VBUS is gone\n"));
}

static void a_log_that_was_full_has_a_loss_there(void **state)
{
    (void)state;
    struct told t;

    read_in(&t, "[    1.000000] VBUS on\n[    2.000000] overflow\n[    3.000000] VBUS off\n", 11);
    assert_string_equal(t.news, "2 full\n");
    assert_non_null(strstr(t.text, "2.000000 LOST unknown\n2.000000 3: kernel: the log was full here, lines are missing\n"));
}

static void pieces_of_any_size_give_the_same(void **state)
{
    (void)state;
    static const char log[] = "[    6.445403] PD RX, header: 0x21a1 [1]\n"
                              "[    6.445413]  PDO 0: type 0, 5000 mV, 3000 mA [UE]\n"
                              "[    6.445423]  PDO 1: type 0, 9000 mV, 3000 mA []\r\n\n"
                              "nonsense\n"
                              "[    6.445857] PD TX, header: 0x1082";
    struct told       whole, parts;

    read_in(&whole, log, SIZE_MAX / 2);
    for (size_t piece = 1; piece < sizeof log; piece++) {
        read_in(&parts, log, piece);
        assert_string_equal(parts.text, whole.text);
        assert_string_equal(parts.news, whole.news);
    }
}

static void a_log_is_known_by_its_first_lines(void **state)
{
    (void)state;
    static const struct { const char *bytes; bool right; } cases[] = {
        { "[    4.821758] Setting usb_comm capable false\n", true },
        { "\n[12345.000001] state change SRC_TRY -> SRC_TRYWAIT [rev1 NONE_AMS]", true },
        { "[    0.000000] Linux version 6.12\n[    0.000000] Command line: x\n", false },
        { "[    4.000000] usb 1-1: registered new device\n", false },
        { "1.000 0 CC 1 3.0A\n", false }, { "", false }, { "[", false },
    };

    for (size_t k = 0; k < LENGTH(cases); k++)
        assert_int_equal(kernel_log_looks_right((const uint8_t *)cases[k].bytes, strlen(cases[k].bytes)), cases[k].right);
}

/* Logs of two port managers, against what went over the wire between them. */

#define PEER TRACES "/../../shared/peer/"

enum { PACKETS = 1024, WORDS = 7 };
struct seen {
    int64_t  t_ns;
    uint16_t header;
    uint8_t  set, words;
    uint32_t word[WORDS];
    bool     used;
};
struct traffic {
    struct seen packets[PACKETS];
    unsigned    count;
    int64_t     attach_ns; /* first CC state with a partner */
};

static void traffic_add(struct traffic *t, const struct record *r)
{
    struct message m;

    if (r->kind == RECORD_CC_STATE && r->cc.attach > 0 && t->attach_ns == 0)
        t->attach_ns = r->t_ns;
    if (r->kind != RECORD_PD_PACKET || !message_read(r->packet.bytes, r->packet.length, r->packet.set, r->packet.state, &m) || m.crc == CRC_BAD)
        return;
    if (m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC))
        return;
    assert_true(t->count < PACKETS);
    struct seen *s = &t->packets[t->count++];

    *s = (struct seen){ .t_ns = r->t_ns, .header = (uint16_t)(m.raw[0] | m.raw[1] << 8), .set = m.set, .words = m.objects };
    for (unsigned k = 0; k < m.objects && k < WORDS && m.message_class == CLASS_DATA; k++)
        s->word[k] = message_word(&m, k);
}

static void traffic_see(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct record r;

    record_read(bytes, length, false, stamp_ns, 1, &r);
    traffic_add(context, &r);
}

static struct traffic *traffic_of_log(const char *path)
{
    struct traffic                 *t = calloc(1, sizeof *t);
    const struct kernel_log_options options = { .found = traffic_see, .context = t };
    struct kernel_log              *k = kernel_log_new(&options);
    FILE                           *file = fopen(path, "rb");
    uint8_t                         bytes[4096];
    size_t                          n;

    assert_non_null(t);
    assert_non_null(k);
    assert_non_null(file);
    while ((n = fread(bytes, 1, sizeof bytes, file)) > 0)
        kernel_log_take(k, bytes, n);
    fclose(file);
    kernel_log_finish(k);
    struct kernel_log_facts facts = kernel_log_facts(k);

    assert_int_equal(facts.unreadable + facts.unknown + facts.repeated, 0);
    kernel_log_free(k);
    return t;
}

static struct traffic *traffic_of_trace(const char *path)
{
    struct traffic *t = calloc(1, sizeof *t);
    struct fault    f;
    struct trace   *trace = trace_open(path, NULL, &f);
    const struct record *r;

    assert_non_null(t);
    assert_non_null(trace);
    while (trace_next(trace, &r, &f))
        traffic_add(t, r);
    trace_close(trace);
    return t;
}

/* Bits that the log tells: of a fixed object not 24 to 20, of the first object's five flags all; of a Request no flag but the mismatch, and
 * with that not how much at the most. */
static uint32_t told_mask(const struct seen *s, unsigned k)
{
    bool fixed = s->word[k] >> 30 == 0;

    if ((s->header & 0x1F) == DATA_SOURCE_CAPABILITIES)
        return !fixed ? UINT32_MAX : k == 0 ? ~UINT32_C(0x01F00000) : ~UINT32_C(0x3FF00000);
    if ((s->header & 0x1F) == DATA_REQUEST)
        return s->word[k] >> 26 & 1 ? UINT32_C(0xF40FFC00) : UINT32_C(0xF40FFFFF);
    return UINT32_MAX;
}

static bool same_message(const struct seen *log, const struct seen *wire, int64_t shift_ns)
{
    int64_t apart_ns = log->t_ns - shift_ns - wire->t_ns;
    bool    same = log->header == wire->header && log->set == wire->set && apart_ns > -5000000 && apart_ns < 5000000;

    for (unsigned k = 0; same && k < log->words; k++)
        same = (log->word[k] & told_mask(wire, k)) == (wire->word[k] & told_mask(wire, k));
    return same;
}

/* Every packet of the log went over the wire, then, with these bits; how many of a type there are. */
static void compare(const char *scenario, const char *end)
{
    char path[300];

    snprintf(path, sizeof path, PEER "%s/kernel-log-%s.txt", scenario, end);
    struct traffic *log = traffic_of_log(path);

    snprintf(path, sizeof path, PEER "%s/trace.pcap", scenario);
    struct traffic *wire = traffic_of_trace(path);
    int64_t         shift_ns = log->attach_ns - wire->attach_ns;

    assert_true(log->count > 3);
    for (unsigned k = 0; k < log->count; k++) {
        unsigned n = 0;

        while (n < wire->count && (wire->packets[n].used || !same_message(&log->packets[k], &wire->packets[n], shift_ns)))
            n++;
        if (n == wire->count)
            fail_msg("%s, %s: packet %u of the log, header 0x%04x, %.6f s, did not go over the wire", scenario, end, k, log->packets[k].header,
                     (double)log->packets[k].t_ns / 1e9);
        wire->packets[n].used = true;
    }
    free(log);
    free(wire);
}

/* The other way round: every offer and every Request on the wire that was not a repeat is in the sink's log. */
static unsigned count_of(const struct traffic *t, unsigned type)
{
    unsigned count = 0;
    int      last_id = -1;

    for (unsigned k = 0; k < t->count; k++) {
        const struct seen *s = &t->packets[k];
        int                id = s->header >> 9 & 7;

        if (s->words == 0 || s->set != SET_SOP || (s->header & 0x1F) != type || s->header >> 15)
            continue;
        count += id != last_id || s->t_ns - t->packets[k - 1].t_ns > 10000000 ? 1 : 0;
        last_id = id;
    }
    return count;
}

static void every_packet_in_the_logs_of_a_kernel_went_over_the_wire(void **state)
{
    (void)state;
    static const char *const scenarios[] = { "fixed4", "caps7", "mismatch", "source5only", "pps", "swaps", "identity", "cycles", "retries",
                                             "softreset", "queries", "late_supply" };
    FILE *there = fopen(PEER "fixed4/kernel-log-b.txt", "rb");

    if (!there) {
        print_message("skipped: ../shared/peer is not there\n");
        skip();
    }
    fclose(there);
    for (size_t k = 0; k < LENGTH(scenarios); k++) {
        compare(scenarios[k], "a");
        compare(scenarios[k], "b");
    }
}

static void every_offer_and_request_on_the_wire_is_in_the_log_of_the_sink(void **state)
{
    (void)state;
    static const char *const scenarios[] = { "fixed4", "caps7", "mismatch", "source5only", "pps", "identity", "late_supply", "softreset" };
    FILE *there = fopen(PEER "fixed4/kernel-log-b.txt", "rb");

    if (!there) {
        print_message("skipped: ../shared/peer is not there\n");
        skip();
    }
    fclose(there);
    for (size_t k = 0; k < LENGTH(scenarios); k++) {
        char path[300];

        snprintf(path, sizeof path, PEER "%s/kernel-log-b.txt", scenarios[k]);
        struct traffic *log = traffic_of_log(path);

        snprintf(path, sizeof path, PEER "%s/trace.pcap", scenarios[k]);
        struct traffic *wire = traffic_of_trace(path);

        assert_int_equal(count_of(log, DATA_SOURCE_CAPABILITIES), count_of(wire, DATA_SOURCE_CAPABILITIES));
        assert_int_equal(count_of(log, DATA_REQUEST), count_of(wire, DATA_REQUEST));
        assert_true(count_of(log, DATA_REQUEST) > 0);
        free(log);
        free(wire);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_offer_is_put_together_from_its_lines),
        cmocka_unit_test(a_received_message_begins_its_nominal_length_before_its_line),
        cmocka_unit_test(ranges_batteries_and_programmable_supplies_have_their_own_forms),
        cmocka_unit_test(an_object_whose_numbers_are_not_told_is_a_hole),
        cmocka_unit_test(a_line_of_another_thread_may_stand_within_an_offer),
        cmocka_unit_test(a_request_has_what_the_port_said_that_it_asks_for),
        cmocka_unit_test(a_request_is_asked_for_once),
        cmocka_unit_test(a_message_that_is_told_by_its_header_alone_is_a_note),
        cmocka_unit_test(a_vendor_defined_message_of_one_object_is_whole),
        cmocka_unit_test(what_only_the_plug_can_be_asked_stands_on_sop_prime),
        cmocka_unit_test(after_a_swap_of_vconn_the_plug_is_reset),
        cmocka_unit_test(a_message_that_never_went_out_is_none),
        cmocka_unit_test(resets_are_signals),
        cmocka_unit_test(cc_terminations_become_the_state_of_cc),
        cmocka_unit_test(a_source_shows_its_own_rp),
        cmocka_unit_test(nobody_is_pulled_out_while_the_power_roles_change_hands),
        cmocka_unit_test(what_the_port_is_says_what_its_partner_is),
        cmocka_unit_test(what_the_port_does_with_vbus_is_noted),
        cmocka_unit_test(an_intention_is_not_told_as_done),
        cmocka_unit_test(unknown_lines_are_kept_as_notes_and_the_first_is_told),
        cmocka_unit_test(a_line_without_a_time_costs_itself),
        cmocka_unit_test(remarks_and_blank_lines_are_passed_over),
        cmocka_unit_test(a_line_of_any_length_costs_itself),
        cmocka_unit_test(a_log_that_ends_within_a_line_says_so),
        cmocka_unit_test(lines_a_little_out_of_order_are_put_in_order),
        cmocka_unit_test(lines_that_were_read_twice_count_once),
        cmocka_unit_test(a_clock_that_begins_anew_is_told_and_what_was_plugged_in_is_unknown),
        cmocka_unit_test(a_log_that_was_full_has_a_loss_there),
        cmocka_unit_test(pieces_of_any_size_give_the_same),
        cmocka_unit_test(a_log_is_known_by_its_first_lines),
        cmocka_unit_test(every_packet_in_the_logs_of_a_kernel_went_over_the_wire),
        cmocka_unit_test(every_offer_and_request_on_the_wire_is_in_the_log_of_the_sink),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
