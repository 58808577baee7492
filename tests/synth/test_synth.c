/* The model: same seed, same bytes; bad scenarios; its numbers against those of the rules; every name it knows. All INVENTED. */
#include "cli/synth/synth.h"

#include "capture/record.h"
#include "rules/parameter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cjson/cJSON.h>
#include <cmocka.h>
#include <zlib.h>

static struct synth *opened(const char *text, int64_t seed, struct synth_trouble *t)
{
    cJSON        *scenario = cJSON_Parse(text);
    struct synth *s;

    assert_non_null(scenario);
    s = synth_open(scenario, seed, t);
    cJSON_Delete(scenario);
    return s;
}

/* One number for all the records, and their count. */
static uint32_t sum_of(const char *text, int64_t seed, unsigned *count)
{
    struct synth_trouble t;
    struct synth        *s = opened(text, seed, &t);
    struct synth_record  r;
    struct record        read;
    uint32_t             sum = 0;
    int64_t              last = 0;

    if (!s)
        fail_msg("%s: %s", t.path, t.text);
    for (*count = 0; synth_next(s, &r); ++*count) {
        record_read(r.bytes, r.length, false, r.stamp_ns, *count + 1, &read);
        assert_int_equal(read.soundness, RECORD_SOUND);
        assert_true(read.flags & RECORD_INVENTED);
        assert_true(r.stamp_ns >= last - 2000000); /* marks and CC bear their own errors of stamp */
        last = r.stamp_ns;
        sum = (uint32_t)crc32(sum ^ (uint32_t)r.stamp_ns, r.bytes, (uInt)r.length);
    }
    assert_false(synth_failed(s));
    synth_close(s);
    return sum;
}

static void the_same_seed_gives_the_same_bytes_and_another_seed_others(void **state)
{
    static const char text[] = "{\"schema\":1,\"random\":true,\"count\":15}";
    unsigned          a, b, c;

    (void)state;
    for (int64_t seed = 1; seed <= 20; seed++) {
        uint32_t sum = sum_of(text, seed, &a);

        assert_int_equal(sum, sum_of(text, seed, &b));
        assert_int_equal(a, b);
        assert_int_not_equal(sum, sum_of(text, seed + 1000, &c));
        assert_true(a > 20);
    }
}

static void refused(const char *text, const char *path)
{
    struct synth_trouble t;
    struct synth        *s = opened(text, -1, &t);

    assert_null(s);
    assert_string_equal(t.path, path);
    assert_non_null(strstr(t.text, "expected"));
}

static void a_bad_scenario_is_refused_with_the_path_of_the_key(void **state)
{
    (void)state;
    refused("{}", "schema");
    refused("{\"schema\":1}", "ports");
    refused("{\"schema\":1,\"portz\":[]}", "portz");
    refused("{\"schema\":1,\"ports\":[{\"steps\":[{\"do\":\"dance\"}]}]}", "ports[0].steps[0].do");
    refused("{\"schema\":1,\"ports\":[{\"source\":{\"pdp_w\":0},\"steps\":[]}]}", "ports[0].source.pdp_w");
    refused("{\"schema\":1,\"ports\":[{\"source\":{\"pdos\":[{\"supply\":\"fixed\",\"mv\":5000}]},\"steps\":[]}]}", "ports[0].source.pdos[0]");
    refused("{\"schema\":1,\"ports\":[{\"source\":{\"lacks\":[\"Get_Sink_Cap\"]},\"steps\":[]}]}", "ports[0].source.lacks");
    refused("{\"schema\":1,\"ports\":[{\"sink\":{\"policy\":\"all\"},\"steps\":[]}]}", "ports[0].sink.policy");
    refused("{\"schema\":1,\"ports\":[{\"steps\":[]}],\"faults\":[{\"fault\":\"none.such\"}]}", "faults[0].fault");
    refused("{\"schema\":1,\"ports\":[{\"steps\":[]}],\"faults\":[{\"fault\":\"time.retry\",\"port\":3}]}", "faults[0].port");
}

/* Both lists were typed by themselves; where they name the same parameter they must say the same. */
static void the_numbers_of_the_model_are_those_of_the_rules(void **state)
{
    const struct synth_number *n;
    unsigned                   compared = 0;

    (void)state;
    for (unsigned k = 0; (n = synth_number_row(k)); k++) {
        const struct parameter *p = n->parameter ? parameter_find(n->parameter) : NULL;
        int64_t                 scale = p && strcmp(p->unit, "s") == 0 ? 1000 : 1;

        assert_non_null(n->from);
        if (!n->parameter)
            continue;
        if (!p)
            fail_msg("%s: the rules have no %s", n->timer, n->parameter);
        if (n->min_us != SYNTH_OPEN && p->min != PARAMETER_NONE && n->min_us != p->min * scale)
            fail_msg("%s: least %lld us here, %lld there", n->parameter, (long long)n->min_us, (long long)(p->min * scale));
        if (n->max_us != SYNTH_OPEN && p->max != PARAMETER_NONE && n->max_us != p->max * scale)
            fail_msg("%s: most %lld us here, %lld there", n->parameter, (long long)n->max_us, (long long)(p->max * scale));
        compared++;
    }
    assert_true(compared >= 35);
}

static void every_fault_has_a_sentence_and_what_it_makes_fail(void **state)
{
    const struct synth_fault *f;
    unsigned                  k = 0;

    (void)state;
    for (; (f = synth_fault_row(k)); k++) {
        assert_true(strlen(f->what) > 10);
        /* What is no fault says so. */
        assert_true(f->expect[0] ? strlen(f->expect) > 3 : strstr(f->what, "to be held against it") != NULL);
    }
    assert_true(k > 15);
}

static void a_fault_that_was_made_tells_its_frame(void **state)
{
    static const char text[] = "{\"schema\":1,\"ports\":[{\"steps\":[{\"do\":\"attach\"},{\"do\":\"wait\",\"ms\":300},{\"do\":\"request\",\"position\":2}]}],"
                               "\"faults\":[{\"fault\":\"time.source-response\",\"at\":2,\"amount_ms\":16},{\"fault\":\"wire.crc\",\"at\":\"random\"}]}";
    struct synth_trouble t;
    struct synth        *s = opened(text, 5, &t);
    struct synth_record  r;

    (void)state;
    assert_non_null(s);
    while (synth_next(s, &r))
        continue;
    for (unsigned k = 0; k < 2; k++) {
        assert_true(synth_made(s, k).made);
        assert_true(synth_made(s, k).frame > 1);
    }
    assert_string_equal(synth_made(s, 0).who, "source");
    assert_string_equal(synth_made(s, 0).party, "device");
    synth_close(s);
}

/* The first packet on SOP with this message type and number of objects; its first word, 0 if it has none. False: there is none. */
static bool first_packet(const char *text, unsigned type, unsigned objects, uint32_t *word)
{
    struct synth_trouble t;
    struct synth        *s = opened(text, 3, &t);
    struct synth_record  r;
    struct record        read;
    bool                 found = false;

    if (!s)
        fail_msg("%s: %s", t.path, t.text);
    while (!found && synth_next(s, &r)) {
        record_read(r.bytes, r.length, false, r.stamp_ns, 1, &read);
        if (read.kind != RECORD_PD_PACKET || read.packet.set != 0)
            continue;
        const uint8_t *b = read.packet.bytes;
        unsigned       header = b[0] | (unsigned)b[1] << 8;

        found = (header & 0x801fu) == type && (header >> 12 & 7) == objects;
        *word = found && objects ? (uint32_t)b[2] | (uint32_t)b[3] << 8 | (uint32_t)b[4] << 16 | (uint32_t)b[5] << 24 : 0;
    }
    synth_close(s);
    return found;
}

/* 5 V 3 A, 9 V 3 A, 12 V 1 A: most power at 9 V. The request is for all of the current: 3.00 A, 1.00 A, in steps of 10 mA. */
static void a_sink_asks_by_its_policy(void **state)
{
    static const struct { const char *policy; uint32_t position, units; } cases[] = {
        { "most_power", 2, 300 }, { "most_voltage", 3, 100 }, { "least_voltage", 1, 300 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        char     text[600];
        uint32_t word;

        snprintf(text, sizeof text,
                 "{\"schema\":1,\"ports\":[{\"source\":{\"pdos\":[{\"supply\":\"fixed\",\"mv\":5000,\"ma\":3000},"
                 "{\"supply\":\"fixed\",\"mv\":9000,\"ma\":3000},{\"supply\":\"fixed\",\"mv\":12000,\"ma\":1000}]},"
                 "\"sink\":{\"policy\":\"%s\"},\"steps\":[{\"do\":\"attach\"}]}]}", cases[k].policy);
        assert_true(first_packet(text, 2, 1, &word)); /* Request */
        assert_int_equal(word >> 28, cases[k].position);
        assert_int_equal(word >> 10 & 0x3ff, cases[k].units);
    }
}

static void what_a_partner_lacks_it_answers_with_not_supported(void **state)
{
    static const char text[] = "{\"schema\":1,\"ports\":[{\"source\":{\"lacks\":[\"%s\"]},\"steps\":[{\"do\":\"attach\"},{\"do\":\"get\","
                               "\"message\":\"Get_Status\",\"from\":\"sink\"}]}]}";
    char     own[400];
    uint32_t word;

    (void)state;
    snprintf(own, sizeof own, text, "Get_Status");
    assert_true(first_packet(own, 16, 0, &word)); /* Not_Supported */
    snprintf(own, sizeof own, text, "Get_Manufacturer_Info");
    assert_false(first_packet(own, 16, 0, &word));
}

/* How many packets of this ordered set, type, number of objects (0: any) and first word, as far as masked. */
struct sought { unsigned set, type, objects; uint32_t mask, word; };

static unsigned packets_like(const char *text, const struct sought *w)
{
    struct synth_trouble t;
    struct synth        *s = opened(text, 3, &t);
    struct synth_record  r;
    struct record        read;
    unsigned             n = 0;

    if (!s)
        fail_msg("%s: %s", t.path, t.text);
    while (synth_next(s, &r)) {
        record_read(r.bytes, r.length, false, r.stamp_ns, 1, &read);
        if (read.kind != RECORD_PD_PACKET || read.packet.set != w->set)
            continue;
        const uint8_t *b = read.packet.bytes;
        unsigned       header = b[0] | (unsigned)b[1] << 8;
        uint32_t       word = header >> 12 & 7 ? (uint32_t)b[2] | (uint32_t)b[3] << 8 | (uint32_t)b[4] << 16 | (uint32_t)b[5] << 24 : 0;

        n += (header & 0x801fu) == w->type && (!w->objects || (header >> 12 & 7) == w->objects) && (word & w->mask) == w->word;
    }
    synth_close(s);
    return n;
}

/* Objects behind the VDM header: ID Header, Cert Stat, Product, and a UFP's and a DFP's own, with a filler between the two. */
static void an_identity_has_the_objects_of_what_it_says_it_is(void **state)
{
    static const struct { const char *product; unsigned objects; } cases[] = {
        { "none", 4 }, { "hub", 5 }, { "peripheral", 5 }, { "host", 5 }, { "brick", 5 }, { "drd", 7 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        char          text[400];
        struct sought ack = { 0, 15, cases[k].objects, 0xffff00dfu, 0xff000041u };

        snprintf(text, sizeof text,
                 "{\"schema\":1,\"ports\":[{\"sink\":{\"product\":\"%s\"},\"steps\":[{\"do\":\"attach\"},{\"do\":\"vdm\","
                 "\"command\":\"Discover_Identity\",\"answer\":\"ACK\"}]}]}", cases[k].product);
        assert_int_equal(packets_like(text, &ack), 1);
    }
}

static void the_plug_at_the_other_end_of_an_active_cable_answers_on_its_own_ordered_set(void **state)
{
    static const char text[] = "{\"schema\":1,\"ports\":[{\"cable\":{\"kind\":\"%s\",\"far\":true},\"steps\":[{\"do\":\"attach\"},"
                               "{\"do\":\"discover_cable\",\"set\":\"SOP''\"},{\"do\":\"soft_reset\",\"set\":\"SOP''\"}]}]}";
    const struct sought ack = { 2, 15, 6, 0xffff00dfu, 0xff000041u }, accept = { 2, 3, 0, 0, 0 }, any = { 2, 1, 0, 0, 0 };
    char own[400];

    (void)state;
    snprintf(own, sizeof own, text, "active");
    assert_true(packets_like(own, &ack) >= 1);
    assert_int_equal(packets_like(own, &accept), 1); /* of Soft_Reset */
    snprintf(own, sizeof own, text, "passive");
    assert_int_equal(packets_like(own, &any), 0);
}

/* EPR_Mode actions, bits 31:24: 1 Enter, 3 Enter Succeeded, 4 Enter Failed (Chromium EC include/usb_pd.h). */
static void a_source_may_refuse_the_entry_into_epr_mode(void **state)
{
    static const char text[] = "{\"schema\":1,\"ports\":[{\"source\":{\"revision\":\"3.1\",\"pdp_w\":100,\"epr_w\":140},"
                               "\"sink\":{\"revision\":\"3.1\",\"pdp_w\":100,\"epr_w\":140},"
                               "\"cable\":{\"kind\":\"passive\",\"ma\":5000,\"epr\":true},"
                               "\"steps\":[{\"do\":\"attach\"},{\"do\":\"epr_enter\"%s}]}]}";
    const struct sought enter = { 0, 10, 1, 0xff000000u, 1u << 24 }, succeeded = { 0, 10, 1, 0xff000000u, 3u << 24 },
                        failed = { 0, 10, 1, 0xff000000u, 4u << 24 };
    char own[500];

    (void)state;
    for (unsigned refused_it = 0; refused_it < 2; refused_it++) {
        snprintf(own, sizeof own, text, refused_it ? ",\"answer\":\"Reject\"" : "");
        assert_int_equal(packets_like(own, &enter), 1);
        assert_int_equal(packets_like(own, &failed), refused_it ? 1 : 0);
        assert_int_equal(packets_like(own, &succeeded), refused_it ? 0 : 1);
    }
}

/* The port whose steps are over goes on while the other's are played: a PPS contract is asked for again and again, at least every 10 s. */
static void a_port_lives_as_long_as_the_others(void **state)
{
    static const char text[] = "{\"schema\":1,\"ports\":[{\"port\":0,\"source\":{\"pdos\":[{\"supply\":\"fixed\",\"mv\":5000,\"ma\":3000},"
                               "{\"supply\":\"pps\",\"min_mv\":3300,\"max_mv\":11000,\"ma\":3000}]},\"steps\":[{\"do\":\"attach\"},"
                               "{\"do\":\"request\",\"position\":2}]},{\"port\":1,\"steps\":[{\"do\":\"attach\"},{\"do\":\"wait\",\"ms\":60000}]}]}";
    const struct sought ask_pps = { 0, 2, 1, 0xf0000000u, 2u << 28 };

    (void)state;
    assert_true(packets_like(text, &ask_pps) >= 6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_seed_gives_the_same_bytes_and_another_seed_others),
        cmocka_unit_test(a_bad_scenario_is_refused_with_the_path_of_the_key),
        cmocka_unit_test(the_numbers_of_the_model_are_those_of_the_rules),
        cmocka_unit_test(every_fault_has_a_sentence_and_what_it_makes_fail),
        cmocka_unit_test(a_fault_that_was_made_tells_its_frame),
        cmocka_unit_test(a_sink_asks_by_its_policy),
        cmocka_unit_test(what_a_partner_lacks_it_answers_with_not_supported),
        cmocka_unit_test(an_identity_has_the_objects_of_what_it_says_it_is),
        cmocka_unit_test(the_plug_at_the_other_end_of_an_active_cable_answers_on_its_own_ordered_set),
        cmocka_unit_test(a_source_may_refuse_the_entry_into_epr_mode),
        cmocka_unit_test(a_port_lives_as_long_as_the_others),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
