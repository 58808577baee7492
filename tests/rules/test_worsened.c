/*
 * Traces that were worsened accuse nobody of what the whole trace would not show: records lost, packets that cannot be read, a beginning
 * or an end that is missing, no CC and no VBUS. Beside each the same trace unspoilt, where the fault is one. Typed from the catalogue's
 * section 5 (what makes an occasion undecided) and traces/FORMAT.md (how far back the gap of a LOST reaches). The bench: "Lumenbrick 65",
 * port C1, and a load that speaks USB PD; for swaps "Harbor 96" and another dual-role port.
 */
#include "tests/rules/line_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { POWER_BIT = 1 << 8 };

/* 5 V 3 A, 9 V 3 A, object 2 asked for; 5 V 3 A with Dual-Role Power, object 1 asked for. */
static const uint32_t caps[] = { 0x0001912c, 0x0002d12c };
static const uint32_t ask_9v = 0x2004b12c;
static const uint32_t dual[] = { 0x2001912c };
static const uint32_t ask_5v = 0x1004b12c;

static struct lines *contract(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(200));
    return l;
}

static struct lines *dual_contract(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 1, dual, ask_5v);
    lines_wait(l, MS(50));
    return l;
}

static void say_status(struct lines *l, unsigned side)
{
    lines_extended(l, side, EXTENDED_STATUS, "\0\0\0\0\0\0", 6);
}

static void ask_status(struct lines *l)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    say_status(l, SIDE_SOURCE);
}

/* One packet of so many bytes that cannot be read, in the place of one that was. */
static void bad_packet(struct lines *l, unsigned length)
{
    static const uint8_t bytes[34] = { 0x41 };

    lines_raw(l, SET_SOP, RECORD_CRC_BAD, bytes, length);
}

enum { BAD_CONTROL = 6, BAD_OFFER = 14 }; /* header and CRC; two objects more */

/* The gap of a LOST reaches back to the packet before it, whatever CC showed in between. */

enum behind { BEHIND_LOSS, BEHIND_PACKET, BEHIND_NOTHING };

static void then(struct lines *l, enum behind what)
{
    lines_wait(l, MS(300));
    lines_cc(l, 1, 2);
    lines_wait(l, MS(300));
    if (what == BEHIND_LOSS)
        lines_lost(l, 1);
    if (what != BEHIND_NOTHING) {
        lines_cc(l, 1, 3);
        lines_wait(l, MS(30));
        ask_status(l);
    }
    lines_wait(l, MS(300));
    lines_run(l, NULL);
}

static void a_loss_reaches_back_over_what_cc_showed(void **state)
{
    for (int what = BEHIND_LOSS; what <= BEHIND_NOTHING; what++) {
        struct lines *l = contract(state);
        uint64_t      frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

        then(l, (enum behind)what);
        if (what == BEHIND_LOSS)
            expect_undecided(l, "exchange.answer", frame, CAUSE_LOST);
        else
            expect_fail(l, "exchange.answer", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void a_goodcrc_may_be_lost_behind_what_cc_showed(void **state)
{
    for (int what = BEHIND_LOSS; what <= BEHIND_NOTHING; what++) {
        struct lines *l = contract(state);
        uint64_t      frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_NOT_SUPPORTED, .quiet = true });

        then(l, (enum behind)what);
        if (what == BEHIND_LOSS)
            expect_undecided(l, "exchange.goodcrc", frame, CAUSE_LOST);
        else
            expect_fail(l, "exchange.goodcrc", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void ps_rdy_may_be_lost_behind_what_cc_showed(void **state)
{
    for (int what = BEHIND_LOSS; what <= BEHIND_NOTHING; what++) {
        struct lines *l = contract(state);

        lines_request(l, ask_9v);
        uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);

        lines_wait(l, MS(700));
        then(l, (enum behind)what);
        if (what == BEHIND_LOSS)
            expect_undecided(l, "exchange.ready-after-accept", frame, CAUSE_LOST);
        else
            expect_fail(l, "exchange.ready-after-accept", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void what_was_said_before_the_last_packet_is_not_in_the_gap(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

    lines_wait(l, MS(300));
    ask_status(l);
    lines_wait(l, MS(300));
    lines_cc(l, 1, 2);
    lines_lost(l, 1);
    lines_wait(l, MS(300));
    lines_run(l, NULL);
    expect_fail(l, "exchange.answer", frame, WHO_SOURCE);
}

static void a_loss_after_a_detach_reaches_back_too(void **state)
{
    for (int lost = 0; lost < 2; lost++) {
        struct lines *l = contract(state);
        uint64_t      frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

        lines_wait(l, MS(500));
        lines_detach(l);
        if (lost)
            lines_lost(l, 1);
        lines_wait(l, MS(500));
        lines_run(l, NULL);
        if (lost)
            expect_undecided(l, "exchange.answer", frame, CAUSE_LOST);
        else
            expect_fail(l, "exchange.answer", frame, WHO_SOURCE);
        lines_again(state);
    }
}

/* The end of the trace: how far a block of readings reaches says nothing of packets. */
static void readings_do_not_show_that_nobody_spoke(void **state)
{
    for (int goes_on = 0; goes_on < 2; goes_on++) {
        struct lines *l = contract(state);
        uint64_t      frame = lines_request(l, ask_9v);

        lines_power_block(l, 9000000, 250);
        if (goes_on) {
            lines_wait(l, MS(250));
            lines_power_block(l, 9000000, 250);
        }
        lines_wait(l, MS(249));
        lines_run(l, NULL);
        if (goes_on)
            expect_fail(l, "exchange.request-answered", frame, WHO_SOURCE);
        else
            expect_counts(l, "exchange.request-answered", 1, 0, 0);
        lines_again(state);
    }
}

/* The beginning is missing: CC without a partner is a detach, or the port is the sink by a swap that was not seen. */

static struct lines *talk_without_beginning(void **state)
{
    struct lines *l = *state;

    ask_status(l);
    lines_wait(l, MS(50));
    lines_cc(l, 1, 3);
    lines_wait(l, MS(50));
    ask_status(l);
    lines_wait(l, MS(50));
    lines_cc(l, 0, 0);
    lines_wait(l, MS(2));
    return l;
}

static void nobody_is_accused_of_silence_at_an_open_cc(void **state)
{
    for (int there = 0; there < 2; there++) {
        struct lines *l = talk_without_beginning(state);
        uint64_t      frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .quiet = true });

        lines_wait(l, MS(300));
        if (there) {
            ask_status(l);
            lines_wait(l, MS(200));
        } else {
            lines_cc(l, 1, 3);
            lines_wait(l, MS(150));
            lines_ids_reset(l);
            lines_negotiate(l, 2, caps, ask_9v);
        }
        lines_run(l, NULL);
        if (there)
            expect_fail(l, "exchange.goodcrc", frame, WHO_SINK);
        else
            expect_only(l, "exchange.goodcrc", NULL);
        lines_again(state);
    }
}

/* Neither CC nor VBUS: a plug that is pulled shows in nothing but silence. */

static struct lines *packets_only(void **state)
{
    struct lines *l = *state;

    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(500));
    return l;
}

static void where_nobody_sees_the_plug_silence_before_a_new_beginning_is_no_fault(void **state)
{
    for (int anew = 0; anew < 2; anew++) {
        struct lines *l = packets_only(state);
        uint64_t      frame = lines_request(l, ask_9v);

        lines_wait(l, MS(1200));
        if (anew) {
            lines_ids_reset(l);
            lines_negotiate(l, 2, caps, ask_9v);
        } else {
            ask_status(l);
        }
        lines_wait(l, MS(200));
        lines_run(l, NULL);
        if (anew)
            expect_only(l, "exchange.", NULL);
        else
            expect_fail(l, "exchange.request-answered", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void to_the_end_of_the_trace_silence_stays_a_fault(void **state)
{
    struct lines *l = packets_only(state);
    uint64_t      frame = lines_request(l, ask_9v);

    lines_wait(l, MS(1200));
    lines_run(l, NULL);
    expect_fail(l, "exchange.request-answered", frame, WHO_SOURCE);
    lines_again(state);
    l = packets_only(state);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PING, .quiet = true });
    lines_wait(l, MS(1200));
    lines_run(l, NULL);
    expect_fail(l, "exchange.goodcrc", frame, WHO_SINK);
}

/* Packets that cannot be read. */

static void an_accept_that_could_not_be_read_leaves_the_request_undecided(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame = lines_request(l, ask_9v);

    bad_packet(l, BAD_CONTROL);
    lines_wait(l, MS(30));
    l->next_id[SET_SOP][SIDE_SOURCE]++;
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY); /* nobody who waits for an answer minds it */
    lines_wait(l, MS(300));
    ask_status(l);
    lines_run(l, NULL);
    expect_undecided(l, "exchange.request-answered", frame, CAUSE_BAD_PACKET);
    expect_only(l, "exchange.request-answered", "exchange.request-answered");
}

static void a_request_after_an_offer_that_could_not_be_read_may_be_its_answer(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state);

        lines_cc(l, 1, 2);
        lines_wait(l, MS(20));
        if (bad)
            bad_packet(l, BAD_OFFER);
        uint64_t frame = lines_request(l, ask_9v);

        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (bad)
            expect_undecided(l, "exchange.sink-tx", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "exchange.sink-tx", frame, WHO_SINK);
        lines_again(state);
    }
}

/* Soft_Reset and Accept have MessageID 0, both: a GoodCRC between them that could not be read was one all the same. */
static void a_message_after_a_bad_goodcrc_is_no_copy(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = *state;

        line_begin(l);
        line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_SOFT_RESET });
        lines_wait(l, US(60));
        if (bad)
            line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .bad = true });
        lines_wait(l, US(200));
        line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_ACCEPT });
        lines_wait(l, US(60));
        line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC });
        lines_wait(l, MS(5));
        line_play(l);
        expect_verdict(l, "exchange.retry-same", bad ? VERDICT_NOT_SEEN : VERDICT_FAIL);
        expect_verdict(l, "time.retry", bad ? VERDICT_NOT_SEEN : VERDICT_FAIL);
        lines_again(state);
    }
}

static void a_soft_reset_again_after_a_bad_goodcrc_may_be_another_one(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = *state;
        uint64_t      frame;

        line_begin(l);
        line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_SOFT_RESET });
        lines_wait(l, US(60));
        if (bad)
            line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC, .bad = true });
        lines_wait(l, US(200)); /* sooner than tReceive, 0.9 ms at the least, after the end of the first */
        frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_SOFT_RESET });
        lines_wait(l, US(60));
        line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC });
        lines_wait(l, MS(5));
        line_play(l);
        if (bad)
            expect_undecided(l, "time.retry", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "time.retry", frame, WHO_SINK);
        lines_again(state);
    }
}

/* Swaps. */

static uint64_t turned(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .flip = POWER_BIT,
                                       .goodcrc_flip = side == SIDE_SINK ? POWER_BIT : 0 });
}

static void a_power_swap_with_a_gap_before_its_accept_is_not_judged(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = dual_contract(state);

        lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
        if (bad)
            bad_packet(l, BAD_CONTROL);
        else
            lines_lost(l, 1);
        lines_wait(l, MS(2));
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(50));
        turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        lines_wait(l, MS(50));
        turned(l, SIDE_SINK, CONTROL_PS_RDY);
        lines_ids_reset(l);
        lines_wait(l, MS(30));
        lines_run(l, NULL);
        expect_counts(l, "swap.pr-order", 0, 0, 1);
        lines_again(state);
    }
}

static void an_accept_behind_a_gap_may_not_be_that_of_the_swap(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state); /* object 1 without Dual-Role Power */

        lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
        if (bad)
            bad_packet(l, BAD_CONTROL);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(20));
        lines_run(l, NULL);
        expect_verdict(l, "swap.dual-role-flag", bad ? VERDICT_UNDECIDED : VERDICT_FAIL);
        lines_again(state);
        l = contract(state);
        lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
        if (bad)
            bad_packet(l, BAD_CONTROL);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(20));
        ask_status(l); /* both in the data roles that they had */
        lines_run(l, NULL);
        expect_verdict(l, "swap.dr-order", bad ? VERDICT_UNDECIDED : VERDICT_FAIL);
        lines_again(state);
    }
}

static void vconn_may_have_been_swapped_in_a_gap(void **state)
{
    for (int lost = 0; lost < 2; lost++) {
        struct lines *l = *state;

        lines_attach(l);
        lines_cable_identity(l, 2, 0, false);
        lines_negotiate(l, 1, dual, ask_5v);
        lines_wait(l, MS(50));
        if (lost)
            lines_lost(l, 8);
        lines_wait(l, MS(50));
        lines_control(l, SIDE_SINK, CONTROL_VCONN_SWAP);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(20));
        uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

        lines_wait(l, MS(50));
        lines_run(l, NULL);
        if (lost)
            expect_counts(l, "swap.vconn-order", 1, 0, 0);
        else
            expect_fail(l, "swap.vconn-order", frame, WHO_SOURCE);
        lines_again(state);
    }
}

enum fast { FAST_WHOLE, FAST_REFUSED, FAST_LOST };

static void fast_swap(struct lines *l, enum fast how)
{
    lines_power_block(l, 5000000, 20);
    lines_control(l, SIDE_SINK, CONTROL_FR_SWAP);
    lines_control(l, SIDE_SOURCE, how == FAST_REFUSED ? CONTROL_NOT_SUPPORTED : CONTROL_ACCEPT);
    if (how == FAST_LOST)
        lines_lost(l, 4);
    lines_wait(l, MS(50));
    lines_power_block(l, 3000000, 20);
    lines_wait(l, MS(40));
    lines_power(l, 5000000, 0);
    lines_run(l, NULL);
}

static void a_fast_swap_that_did_not_come_about_does_not_keep_vbus_up(void **state)
{
    for (int how = FAST_WHOLE; how <= FAST_LOST; how++) {
        struct lines *l = dual_contract(state);

        fast_swap(l, (enum fast)how);
        expect_verdict(l, "swap.fr-vbus",
                       how == FAST_WHOLE ? VERDICT_FAIL : how == FAST_REFUSED ? VERDICT_NOT_SEEN : VERDICT_UNDECIDED);
        lines_again(state);
    }
}

/* What a message is about may have been missed: what it answers, what it ends, what it repeats. */

static void an_accept_after_a_gap_need_not_belong_to_the_request_before_it(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state);

        lines_request(l, ask_9v);
        if (bad)
            bad_packet(l, BAD_CONTROL);
        lines_wait(l, MS(20));
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(16));
        uint64_t frame = lines_caps(l, 2, caps);

        lines_request(l, ask_9v);
        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (bad)
            expect_undecided(l, "exchange.one-at-a-time", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "exchange.one-at-a-time", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void a_vdm_answer_behind_a_gap_may_answer_another_request(void **state)
{
    /* Discover Identity REQ, Discover SVIDs NAK (structured, SID 0xff00). */
    static const uint32_t identity = 0xff008001, svids_nak = 0xff008082;

    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state);

        lines_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 1, &identity);
        if (bad)
            bad_packet(l, 10);
        uint64_t frame = lines_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 1, &svids_nak);

        lines_wait(l, MS(200));
        lines_run(l, NULL);
        if (bad)
            expect_undecided(l, "vdm.answer-fields", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "vdm.answer-fields", frame, WHO_SINK);
        lines_again(state);
    }
}

static void an_accept_behind_a_gap_may_not_be_that_of_the_soft_reset(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state);

        lines_ids_reset(l);
        lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
        if (bad)
            bad_packet(l, BAD_CONTROL);
        lines_wait(l, MS(10));
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(30));
        uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

        lines_wait(l, MS(400));
        lines_run(l, NULL);
        if (bad)
            expect_undecided(l, "reset.soft-reset-renegotiates", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "reset.soft-reset-renegotiates", frame, WHO_SOURCE);
        lines_again(state);
    }
}

/* answer_none_ms: an answer comes within 100 ms. */
static void capabilities_behind_a_gap_may_have_been_asked_for(void **state)
{
    static const struct { bool bad; int64_t ago_ns; } cases[] = { { false, 0 }, { true, 0 }, { true, MS(90) }, { true, MS(110) } };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = contract(state);

        lines_cc(l, 1, 3);
        lines_wait(l, MS(50));
        if (cases[k].bad)
            bad_packet(l, BAD_CONTROL);
        lines_wait(l, cases[k].ago_ns);
        uint64_t frame = lines_caps(l, 2, caps);

        lines_request(l, ask_9v);
        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (cases[k].bad && cases[k].ago_ns < MS(100))
            expect_undecided(l, "time.sink-tx", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "time.sink-tx", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void a_request_behind_a_gap_may_repeat_one_that_was_accepted(void **state)
{
    for (int bad = 0; bad < 2; bad++) {
        struct lines *l = contract(state);

        l->pause_ns = US(100);
        if (bad)
            bad_packet(l, BAD_CONTROL + 4);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_request(l, ask_9v);
        lines_wait(l, MS(30));
        uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

        lines_wait(l, MS(200));
        lines_run(l, NULL);
        if (bad)
            expect_undecided(l, "exchange.no-ready-without-accept", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "exchange.no-ready-without-accept", frame, WHO_SOURCE);
        lines_again(state);
    }
}

static void capabilities_behind_a_gap_may_repeat_some_that_were_answered(void **state)
{
    for (int lost = 0; lost < 2; lost++) {
        struct lines *l = contract(state);

        if (lost)
            lines_lost(l, 3);
        uint64_t frame = lines_caps(l, 2, caps);

        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(60));
        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        lines_wait(l, MS(200));
        lines_run(l, NULL);
        if (lost)
            expect_undecided(l, "exchange.request-after-caps", frame, CAUSE_LOST);
        else
            expect_verdict(l, "exchange.request-after-caps", VERDICT_FAIL);
        lines_again(state);
    }
}

/* A record that is damaged lasted as long as its packet did, and nobody knows how long. */
static void a_goodcrc_behind_a_damaged_record_may_be_to_it(void **state)
{
    for (int damaged = 0; damaged < 2; damaged++) {
        struct lines *l = *state;

        line_begin(l);
        lines_wait(l, MS(200));
        if (damaged)
            lines_raw(l, SET_SOP, 0, "\x01", 1); /* too short for a header and a CRC */
        lines_wait(l, MS(2));
        uint64_t frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = 3 });

        lines_wait(l, MS(20));
        line_play(l);
        if (damaged)
            expect_undecided(l, "exchange.goodcrc-unprompted", frame, CAUSE_LOST);
        else
            expect_fail(l, "exchange.goodcrc-unprompted", frame, WHO_SINK);
        lines_again(state);
    }
}

/* Stamps of a host may bring packets out of order: a GoodCRC cannot begin while the message before it lasts. */
static void a_goodcrc_that_overlaps_by_the_hosts_clock_may_be_to_an_earlier_message(void **state)
{
    for (int host = 0; host < 2; host++) {
        struct lines *l = contract(state);

        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1,
                                    .words = { 0x01000000 }, .quiet = true, .host_time = host });
        l->now_ns += (host ? -US(100) : US(100)) - l->pause_ns;
        uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id_given = true, .id = 6, .quiet = true,
                                                     .host_time = host });

        lines_wait(l, MS(20));
        lines_run(l, NULL);
        if (host)
            expect_undecided(l, "exchange.goodcrc-id", frame, CAUSE_UNCERTAINTY);
        else
            expect_fail(l, "exchange.goodcrc-id", frame, WHO_SINK);
        lines_again(state);
    }
}

/* Without CC an attach shows in VBUS; readings that are late do not begin one after the first words. */
static void vbus_that_rises_behind_the_first_words_begins_no_other_attach(void **state)
{
    struct lines *l = *state;

    lines_power(l, 0, 0);
    lines_wait(l, MS(500));
    l->pause_ns = US(200);
    lines_caps(l, 2, caps);
    lines_power(l, 5000000, 0);
    lines_request(l, ask_9v);
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    expect_verdict(l, "exchange.request-after-caps", VERDICT_PASS);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
    const struct CMUnitTest tests[] = {
        TEST(a_loss_reaches_back_over_what_cc_showed),
        TEST(a_goodcrc_may_be_lost_behind_what_cc_showed),
        TEST(ps_rdy_may_be_lost_behind_what_cc_showed),
        TEST(what_was_said_before_the_last_packet_is_not_in_the_gap),
        TEST(a_loss_after_a_detach_reaches_back_too),
        TEST(readings_do_not_show_that_nobody_spoke),
        TEST(nobody_is_accused_of_silence_at_an_open_cc),
        TEST(where_nobody_sees_the_plug_silence_before_a_new_beginning_is_no_fault),
        TEST(to_the_end_of_the_trace_silence_stays_a_fault),
        TEST(an_accept_that_could_not_be_read_leaves_the_request_undecided),
        TEST(a_request_after_an_offer_that_could_not_be_read_may_be_its_answer),
        TEST(a_message_after_a_bad_goodcrc_is_no_copy),
        TEST(a_soft_reset_again_after_a_bad_goodcrc_may_be_another_one),
        TEST(a_power_swap_with_a_gap_before_its_accept_is_not_judged),
        TEST(an_accept_behind_a_gap_may_not_be_that_of_the_swap),
        TEST(vconn_may_have_been_swapped_in_a_gap),
        TEST(a_fast_swap_that_did_not_come_about_does_not_keep_vbus_up),
        TEST(an_accept_after_a_gap_need_not_belong_to_the_request_before_it),
        TEST(a_vdm_answer_behind_a_gap_may_answer_another_request),
        TEST(an_accept_behind_a_gap_may_not_be_that_of_the_soft_reset),
        TEST(capabilities_behind_a_gap_may_have_been_asked_for),
        TEST(a_request_behind_a_gap_may_repeat_one_that_was_accepted),
        TEST(capabilities_behind_a_gap_may_repeat_some_that_were_answered),
        TEST(a_goodcrc_behind_a_damaged_record_may_be_to_it),
        TEST(a_goodcrc_that_overlaps_by_the_hosts_clock_may_be_to_an_earlier_message),
        TEST(vbus_that_rises_behind_the_first_words_begins_no_other_attach),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
