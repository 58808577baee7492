/*
 * ext.*: contents of status and identity messages. Expectations typed from the catalogue of rules. The bench: the power bank
 * "Harbor 96" and a load that asks it everything.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static const uint32_t caps[] = { 0x0001912c, 0x0002d12c };
static const uint32_t epr_caps[] = { 0x0081912c, 0x0002d12c }; /* bit 23: EPR capable */
static const uint32_t ask_9v = 0x2004b12c;

static struct lines *negotiated(struct lines *l)
{
    lines_attach(l);
    lines_negotiate(l, 2, caps, ask_9v);
    return l;
}

/* One message of the source with this in it; what fails of ext.*. Rows with asks: the sink asks first. */
struct block_row {
    const char *name;
    uint8_t     type;         /* extended; 0: data */
    uint8_t     data_type;
    uint8_t     block[26];
    uint8_t     size;
    uint32_t    word;
    uint8_t     ask_control;  /* control message that asks; 0: none */
    uint8_t     ask_extended, ask_block[2], ask_size;
    uint8_t     ask_data;
    uint32_t    ask_word;
    uint8_t     batteries;    /* byte 22 of Source_Capabilities_Extended before; 0xFF: not said */
    bool        epr_flag, r2;
    const char *rule;         /* fails or, with passes, passes */
    bool        passes, not_seen;
};

#define STATUS(...) .type = EXTENDED_STATUS, .rule = "ext.status-fields", .batteries = 0xFF, .block = { __VA_ARGS__ }
#define PPS_STATUS(flags) .type = EXTENDED_PPS_STATUS, .rule = "ext.status-fields", .batteries = 0xFF, .block = { 0xc2, 1, 60, flags }, .size = 4
/* Source_Capabilities_Extended of 25 bytes: [n] = value. */
#define SCEDB(...) .type = EXTENDED_SOURCE_CAPABILITIES, .rule = "ext.source-caps-ext-fields", .batteries = 0xFF, .size = 25, \
    .block = { __VA_ARGS__ }
#define SIDO(w) .data_type = DATA_SOURCE_INFO, .rule = "ext.source-info-fields", .batteries = 0xFF, .word = w
#define BSDO(ref, w, counts) .data_type = DATA_BATTERY_STATUS, .rule = "ext.battery-fields", .ask_extended = EXTENDED_GET_BATTERY_STATUS, \
    .ask_block = { ref }, .ask_size = 1, .word = w, .batteries = counts
#define BCDB(ref, design, full, invalid, counts) .type = EXTENDED_BATTERY_CAPABILITIES, .rule = "ext.battery-fields", \
    .ask_extended = EXTENDED_GET_BATTERY_CAP, .ask_block = { ref }, .ask_size = 1, .batteries = counts, .size = 9, \
    .block = { 0xff, 0xff, 0, 0, (design) & 0xff, (design) >> 8, (full) & 0xff, (full) >> 8, invalid }
#define ADO(w) .data_type = DATA_ALERT, .rule = "ext.alert-fields", .batteries = 0xFF, .word = w
#define RMDO(w) .data_type = DATA_REVISION, .rule = "ext.revision-fields", .batteries = 0xFF, .word = w
#define MAKER(vid, n, ...) .type = EXTENDED_MANUFACTURER_INFO, .rule = "ext.manufacturer-fields", .batteries = 0xFF, .size = 4 + (n), \
    .block = { (vid) & 0xff, (vid) >> 8, 1, 0, __VA_ARGS__ }
#define CODES(n, ...) .type = EXTENDED_COUNTRY_CODES, .rule = "ext.country-fields", .batteries = 0xFF, .size = n, .block = { __VA_ARGS__ }
#define COUNTRY(n, ...) .type = EXTENDED_COUNTRY_INFO, .rule = "ext.country-fields", .batteries = 0xFF, .size = n, .block = { __VA_ARGS__ }, \
    .ask_data = DATA_GET_COUNTRY_INFO, .ask_word = 0x44450000 /* DE */

static const struct block_row rows[] = {
    { .name = "a status of zeros is sound", STATUS(0), .size = 7, .passes = true },
    { .name = "a status with all that is defined is sound", STATUS(30, 0x1e, 0x11, 0x1e, 0x06, 0x3e, 0), .size = 7, .passes = true },
    { .name = "byte 1 bit 0 is reserved", STATUS(0, 0x01), .size = 7 },
    { .name = "byte 1 bit 5 is reserved", STATUS(0, 0x20), .size = 7 },
    { .name = "byte 3 bit 0 is reserved", STATUS(0, 0, 0, 0x01), .size = 7 },
    { .name = "byte 3 bit 7 is reserved", STATUS(0, 0, 0, 0x80), .size = 7 },
    { .name = "byte 4 bit 0 is reserved", STATUS(0, 0, 0, 0, 0x01), .size = 7 },
    { .name = "byte 4 bit 3 is reserved", STATUS(0, 0, 0, 0, 0x08), .size = 7 },
    { .name = "byte 5 bit 0 is reserved", STATUS(0, 0, 0, 0, 0, 0x01), .size = 7 },
    { .name = "byte 5 bit 6 is reserved", STATUS(0, 0, 0, 0, 0, 0x40), .size = 6 },
    { .name = "what was not sent is not judged", STATUS(0, 0, 0, 0, 0), .size = 5, .passes = true },
    { .name = "batteries without battery power", STATUS(0, 0x02, 0x01), .size = 7 },
    { .name = "under 2.0 there is no status", STATUS(0, 0x01), .size = 7, .r2 = true, .not_seen = true },
    { .name = "PPS_Status with its flags is sound", PPS_STATUS(0x0e), .passes = true },
    { .name = "PPS_Status bit 0 is reserved", PPS_STATUS(0x01) },
    { .name = "PPS_Status bit 4 is reserved", PPS_STATUS(0x10) },

    { .name = "extended capabilities with all that is defined", SCEDB([10] = 7, [12] = 7, [13] = 7, [14] = 25, [15] = 0x80, [20] = 2), .passes = true },
    { .name = "an SPR rating of 100 W", SCEDB([23] = 100), .passes = true },
    { .name = "an SPR rating of 101 W", SCEDB([23] = 101) },
    { .name = "bit 7 of the SPR rating", SCEDB([23] = 0x80 | 65) },
    { .name = "an EPR rating of 140 W with the flag", SCEDB([24] = 140), .epr_flag = true, .passes = true },
    { .name = "an EPR rating of 100 W with the flag", SCEDB([24] = 100), .epr_flag = true, .passes = true },
    { .name = "an EPR rating of 240 W with the flag", SCEDB([24] = 240), .epr_flag = true, .passes = true },
    { .name = "an EPR rating of 99 W", SCEDB([24] = 99), .epr_flag = true },
    { .name = "an EPR rating of 241 W", SCEDB([24] = 241), .epr_flag = true },
    { .name = "an EPR rating of 140 W without the flag", SCEDB([24] = 140) },
    { .name = "byte 10 bit 3 is reserved", SCEDB([10] = 8) },
    { .name = "byte 12 bit 3 is reserved", SCEDB([12] = 8) },
    { .name = "byte 13 bit 7 is reserved", SCEDB([13] = 0x80) },
    { .name = "touch temperature 3", SCEDB([20] = 3) },
    { .name = "peak current 1 of 260 %", SCEDB([14] = 26) },
    { .name = "peak current 3 of 260 %", SCEDB([18] = 26) },

    { .name = "Source_Info that adds up", SIDO(0x00412d2d), .passes = true },
    { .name = "a guaranteed port at its maximum", SIDO(0x80414141), .passes = true },
    { .name = "bit 24 of Source_Info", SIDO(0x01412d2d) },
    { .name = "bit 30 of Source_Info", SIDO(0x40412d2d) },
    { .name = "more present than maximum", SIDO(0x002d2e2d) },
    { .name = "more reported than maximum", SIDO(0x002d2d2e) },
    { .name = "a guaranteed port below its maximum", SIDO(0x80412d2d) },

    { .name = "battery 0 of one", BSDO(0, 0x00640200, 0x01), .passes = true },
    { .name = "battery 1 of one is invalid", BSDO(1, 0xffff0100, 0x01), .passes = true },
    { .name = "battery 1 of one is called valid", BSDO(1, 0x00640200, 0x01) },
    { .name = "battery 0 of one is called invalid", BSDO(0, 0xffff0100, 0x01) },
    { .name = "slot 4 of one", BSDO(4, 0x00640200, 0x10), .passes = true },
    { .name = "slot 5 of one is called valid", BSDO(5, 0x00640200, 0x10) },
    { .name = "reference 8 is none", BSDO(8, 0x00640200, 0xFF) },
    { .name = "battery 0 of an unknown number", BSDO(0, 0x00640200, 0xFF), .passes = true },
    { .name = "charging state 3", BSDO(0, 0x00640e00, 0x01) },
    { .name = "a status that nobody asked for", .data_type = DATA_BATTERY_STATUS, .rule = "ext.battery-fields", .word = 0x00640e00,
      .batteries = 0xFF, .not_seen = true },
    { .name = "a full charge of 120 % of the design", BCDB(0, 1000, 1200, 0, 0x01), .passes = true },
    { .name = "a full charge of 120.1 % of the design", BCDB(0, 1000, 1201, 0, 0x01) },
    { .name = "an unknown design capacity", BCDB(0, 0xffff, 1201, 0, 0x01), .passes = true },
    { .name = "no battery", BCDB(0, 0, 1201, 0, 0x01), .passes = true },
    { .name = "an unknown full charge", BCDB(0, 1000, 0xffff, 0, 0x01), .passes = true },
    { .name = "capabilities of battery 1 of one", BCDB(1, 1000, 1000, 0, 0x01) },
    { .name = "capabilities of battery 0 of one called invalid", BCDB(0, 0, 0, 1, 0x01) },

    { .name = "an alert of over-current", ADO(0x04000000), .passes = true },
    { .name = "an alert of a battery's change", ADO(0x02110000), .passes = true },
    { .name = "an extended alert of type 4", ADO(0x80000004), .passes = true },
    { .name = "bit 24 of an alert", ADO(0x05000000) },
    { .name = "bit 15 of an alert", ADO(0x04008000) },
    { .name = "bit 4 of an alert", ADO(0x04000010) },
    { .name = "an alert of nothing", ADO(0) },
    { .name = "batteries without their change", ADO(0x04010000) },
    { .name = "an extended alert of type 0", ADO(0x80000000) },
    { .name = "an extended alert of type 5", ADO(0x80000005) },
    { .name = "an extended type without the extended alert", ADO(0x04000001) },

    { .name = "revision 3.0", RMDO(0x30110000), .passes = true },
    { .name = "revision 3.2 version 1.1", RMDO(0x32110000), .passes = true },
    { .name = "revision 3.3", RMDO(0x33100000) },
    { .name = "revision 2.0", RMDO(0x20100000) },
    { .name = "version 9.9", RMDO(0x31990000), .passes = true },
    { .name = "version a.0", RMDO(0x31a00000) },
    { .name = "version 1.a", RMDO(0x311a0000) },
    { .name = "bit 0 of Revision", RMDO(0x31100001) },

    { .name = "a maker's name", MAKER(0x1209, 7, 'H', 'a', 'r', 'b', 'o', 'r', 0), .passes = true },
    { .name = "no name at all", MAKER(0x1209, 1, 0), .passes = true },
    { .name = "a name without its end", MAKER(0x1209, 3, 'H', 'a', 'r') },
    { .name = "a name that ends twice", MAKER(0x1209, 4, 'H', 'a', 0, 0) },
    { .name = "a name with a letter that is none", MAKER(0x1209, 4, 'H', 0x1f, 'a', 0) },
    { .name = "a name with an eighth bit", MAKER(0x1209, 4, 'H', 0x7f, 'a', 0) },
    { .name = "a name from blank to tilde", MAKER(0x1209, 3, 0x20, 0x7e, 0), .passes = true },

    { .name = "two country codes", CODES(6, 2, 0, 'D', 'E', 'F', 'R'), .passes = true },
    { .name = "a code too few", CODES(6, 3, 0, 'D', 'E', 'F', 'R') },
    { .name = "half a code", CODES(5, 1, 0, 'D', 'E', 'F') },
    { .name = "a small letter", CODES(6, 2, 0, 'D', 'E', 'f', 'R') },
    { .name = "a character behind Z", CODES(4, 1, 0, 'D', '[') },
    { .name = "the reserved byte of the codes", CODES(4, 1, 1, 'D', 'E') },
    { .name = "the country asked for", COUNTRY(5, 'D', 'E', 0, 0, 1), .passes = true },
    { .name = "another country than asked for", COUNTRY(5, 'D', 'K', 0, 0, 1) },
    { .name = "a country of digits", COUNTRY(4, '1', 'E', 0, 0) },
    { .name = "a reserved byte of the country", COUNTRY(4, 'D', 'E', 0, 1) },
};

static void ask_first(struct lines *l, const struct block_row *r)
{
    static const uint8_t scedb[25] = { [23] = 65 };
    uint8_t              block[25];

    if (r->batteries != 0xFF) {
        memcpy(block, scedb, sizeof block);
        block[22] = r->batteries;
        lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
        lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, block, sizeof block);
    }
    if (r->ask_extended)
        lines_extended(l, SIDE_SINK, r->ask_extended, r->ask_block, r->ask_size);
    if (r->ask_data)
        lines_data(l, SIDE_SINK, r->ask_data, 1, &r->ask_word);
}

enum form { FORM_WHOLE, FORM_LENGTH, FORM_COUNT };

/* One object more, and room for it where the header can count it: else the length is wrong as well. */
static bool counts_one_more(const struct block_row *r)
{
    return r->type && r->size < 23;
}

static uint64_t say_row(struct lines *l, const struct block_row *r, enum form form)
{
    struct say say = { .side = SIDE_SOURCE, .message_class = r->type ? CLASS_EXTENDED : CLASS_DATA, .type = r->type ? r->type : r->data_type,
                       .words = { r->word }, .count = r->type ? 0 : form == FORM_COUNT ? 3 : 1, .block = r->block, .size = r->size,
                       .bytes_off = form == FORM_LENGTH || (form == FORM_COUNT && counts_one_more(r)) ? 4 : 0, .objects_off = r->type && form == FORM_COUNT ? 1 : 0 };

    return lines_say(l, &say);
}

/* Section 6: length and object count speak for the contents of that message. */
static void expect_form_speaks(const struct block_row *r, enum form form)
{
    struct lines *l = lines_new();

    lines_attach(l);
    lines_negotiate(l, 2, r->epr_flag ? epr_caps : caps, ask_9v);
    ask_first(l, r);
    say_row(l, r, form);
    lines_run(l, NULL);
    expect_only(l, "message.", form == FORM_LENGTH                       ? "message.length"
                               : !r->type || counts_one_more(r) ? "message.object-count"
                                                                          : "message.length message.object-count");
    if (lines_finding(l, r->rule, VERDICT_FAIL, 0))
        fail_msg("%s fails beside the fault of form", r->rule);
    lines_free(l);
}

static void block_row_holds(void **state)
{
    const struct block_row *r = *state;
    struct lines *l = lines_new();
    uint64_t frame;

    if (!r->passes && !r->not_seen) {
        expect_form_speaks(r, FORM_LENGTH);
        expect_form_speaks(r, FORM_COUNT);
    }
    if (r->r2)
        l->revision = HEADER_R2;
    lines_attach(l);
    lines_negotiate(l, 2, r->epr_flag ? epr_caps : caps, ask_9v);
    ask_first(l, r);
    frame = say_row(l, r, FORM_WHOLE);
    lines_run(l, NULL);
    expect_only(l, "ext.", r->passes || r->not_seen ? NULL : r->rule);
    if (r->not_seen)
        expect_verdict(l, r->rule, VERDICT_NOT_SEEN);
    else if (r->passes)
        expect_counts(l, r->rule, 1, 0, 0);
    else
        expect_fail(l, r->rule, frame, WHO_SOURCE);
    lines_free(l);
}

static void where_nobody_tells_nothing_is_judged(void **state)
{
    struct lines *l = negotiated(*state);

    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++)
        if (strncmp(engine_result(l->engine, i).rule->id, "ext.", 4) == 0)
            expect_verdict(l, engine_result(l->engine, i).rule->id, VERDICT_NOT_SEEN);
}

/* A block of a size that its message does not have, and with contents that fail as well; ask: what is asked before, if anything. */
static const struct { uint8_t ask, ask_size, type, size; uint8_t block[28]; const char *rule; } sizes[] = {
    { 0, 0, EXTENDED_STATUS, 4, { 0, 0xff }, "ext.status-fields" },
    { 0, 0, EXTENDED_SOURCE_CAPABILITIES, 26, { [23] = 101 }, "ext.source-caps-ext-fields" },
    { EXTENDED_GET_BATTERY_CAP, 1, EXTENDED_BATTERY_CAPABILITIES, 10, { [4] = 10, [6] = 100 }, "ext.battery-fields" },
    { EXTENDED_GET_MANUFACTURER_INFO, 2, EXTENDED_MANUFACTURER_INFO, 4, { 0x09, 0x12 }, "ext.manufacturer-fields" },
    { 0, 0, EXTENDED_COUNTRY_CODES, 2, { 1 }, "ext.country-fields" },
    /* In two chunks: the first says the size, the contents are whole with the second. */
    { EXTENDED_GET_MANUFACTURER_INFO, 2, EXTENDED_MANUFACTURER_INFO, 28, { 0x09, 0x12, 1, 0, 'H' }, "ext.manufacturer-fields" },
};

static void a_block_of_the_wrong_size_is_judged_by_its_size_alone(void **state)
{
    static const uint8_t port[2];

    (void)state;
    for (unsigned k = 0; k < sizeof sizes / sizeof sizes[0]; k++) {
        struct lines *l = negotiated(lines_new());

        if (sizes[k].ask)
            lines_extended(l, SIDE_SINK, sizes[k].ask, port, sizes[k].ask_size);
        lines_chunks(l, SIDE_SOURCE, sizes[k].type, sizes[k].block, sizes[k].size);
        lines_run(l, NULL);
        expect_only(l, "message.", "message.extended-size");
        expect_verdict(l, sizes[k].rule, VERDICT_NOT_SEEN);
        lines_free(l);
    }
}

static void an_epr_rating_with_an_unknown_offer_is_undecided(void **state)
{
    static const uint8_t block[25] = { [23] = 100, [24] = 140 };
    struct lines *l = negotiated(*state);
    uint64_t frame;

    lines_lost(l, 1);
    lines_wait(l, MS(5));
    lines_request(l, ask_9v); /* shows the revision, but no offer */
    lines_accept_and_ready(l);
    frame = lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, block, sizeof block);
    lines_run(l, NULL);
    expect_undecided(l, "ext.source-caps-ext-fields", frame, CAUSE_LOST);
}

static void the_sink_has_batteries_as_well(void **state)
{
    static const uint8_t skedb[24] = { [10] = 1, [16] = 0x01 };
    static const uint8_t reference = 1;
    struct lines *l = negotiated(*state);
    uint64_t frame;

    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP_EXTENDED);
    lines_extended(l, SIDE_SINK, EXTENDED_SINK_CAPABILITIES, skedb, sizeof skedb);
    lines_extended(l, SIDE_SOURCE, EXTENDED_GET_BATTERY_STATUS, &reference, 1);
    frame = lines_data(l, SIDE_SINK, DATA_BATTERY_STATUS, 1, (const uint32_t[]){ 0x00640200 });
    lines_run(l, NULL);
    expect_fail(l, "ext.battery-fields", frame, WHO_SINK);
}

static void the_maker_is_the_one_that_other_messages_name(void **state)
{
    /* VIDs of Manufacturer_Info, Discover Identity, Source_Capabilities_Extended (0: not sent); target 0 port, 1 battery. */
    static const struct { unsigned info, identity, extended; uint8_t target; bool fails; } cases[] = {
        { 0x1209, 0x1209, 0x1209, 0, false }, { 0x1209, 0x1208, 0, 0, true },      { 0x1209, 0, 0x1208, 0, true },
        { 0x1209, 0x1208, 0x1208, 1, false }, { 0xffff, 0x1208, 0x1208, 0, false }, { 0x1209, 0xffff, 0xffff, 0, false },
        { 0x1209, 0, 0, 0, false },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = negotiated(lines_new());
        uint8_t scedb[25] = { (uint8_t)cases[k].extended, (uint8_t)(cases[k].extended >> 8), [23] = 65 };
        uint8_t info[6] = { (uint8_t)cases[k].info, (uint8_t)(cases[k].info >> 8), 0, 0, 'H', 0 };
        uint64_t frame;

        if (cases[k].identity) {
            lines_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 1, (const uint32_t[]){ 0xff00a001 });
            lines_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 5, (const uint32_t[]){ 0xff00a041, 0x01800000 | cases[k].identity, 0, 0, 0 });
        }
        if (cases[k].extended) {
            lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
            lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, scedb, sizeof scedb);
        }
        lines_extended(l, SIDE_SINK, EXTENDED_GET_MANUFACTURER_INFO, (const uint8_t[]){ cases[k].target, 0 }, 2);
        frame = lines_extended(l, SIDE_SOURCE, EXTENDED_MANUFACTURER_INFO, info, sizeof info);
        lines_run(l, NULL);
        if (cases[k].fails)
            expect_fail(l, "ext.manufacturer-fields", frame, WHO_SOURCE);
        else
            expect_counts(l, "ext.manufacturer-fields", 1, 0, 0);
        lines_free(l);
    }
}

static void a_revision_message_has_a_header_of_3_x(void **state)
{
    struct lines *l = *state;
    struct say say = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_REVISION, .count = 1, .words = { 0x31100000 },
                       .revision_given = true, .revision = HEADER_R2 };
    uint64_t frame;

    lines_attach(l);
    frame = lines_say(l, &say); /* before anything is agreed on */
    lines_run(l, NULL);
    expect_fail(l, "ext.revision-fields", frame, WHO_SOURCE);

    struct lines *other = negotiated(lines_new());

    lines_say(other, &say); /* once 3.x is agreed on it is the header that is wrong */
    lines_run(other, NULL);
    expect_verdict(other, "message.header-revision", VERDICT_FAIL);
    expect_verdict(other, "ext.revision-fields", VERDICT_NOT_SEEN);
    lines_free(other);
}

/* ext.alert-answered */

static uint64_t alert(struct lines *l, uint32_t word)
{
    return lines_data(l, SIDE_SOURCE, DATA_ALERT, 1, &word);
}

static void get_status_within_a_second_passes_and_later_fails(void **state)
{
    /* 0.6 ms of GoodCRC and 2 ms of pause lie between the Alert's end and the wait. */
    static const struct { int64_t wait_ns; unsigned passed, failed; } cases[] = { { MS(990), 1, 0 }, { MS(999), 0, 1 }, { MS(1500), 0, 1 } };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = negotiated(lines_new());
        uint64_t frame = alert(l, 0x04000000);

        lines_wait(l, cases[k].wait_ns);
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        lines_run(l, NULL);
        expect_counts(l, "ext.alert-answered", cases[k].passed, cases[k].failed, 0);
        if (cases[k].failed)
            expect_fail(l, "ext.alert-answered", frame, WHO_SINK);
        lines_free(l);
    }
}

static void get_status_about_a_second_later_is_undecided_where_the_clock_is_coarse(void **state)
{
    struct lines *l = *state;
    struct say say = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1, .words = { 0x04000000 }, .host_time = true };
    uint64_t frame;

    negotiated(l);
    frame = lines_say(l, &say);
    lines_wait(l, MS(998));
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .host_time = true });
    lines_run(l, NULL);
    expect_undecided(l, "ext.alert-answered", frame, CAUSE_UNCERTAINTY);
}

static void an_alert_that_nobody_follows_up_fails_the_sink(void **state)
{
    struct lines *l = negotiated(*state);
    uint64_t frame = alert(l, 0x40000000);

    lines_wait(l, MS(900));
    lines_run(l, NULL);
    expect_verdict(l, "ext.alert-answered", VERDICT_NOT_SEEN); /* the trace ends within the time */
    lines_wait(l, MS(200));
    lines_run(l, NULL);
    expect_fail(l, "ext.alert-answered", frame, WHO_SINK);
    expect_only(l, "ext.", "ext.alert-answered");
}

/* Section 6: an Alert whose form is wrong need not be followed up: what it says is not known. */
static void an_alert_of_the_wrong_form_need_not_be_followed_up(void **state)
{
    static const struct { uint8_t count; int bytes_off; const char *id; } wrong[] = {
        { 2, 0, "message.object-count" }, { 1, 4, "message.length" },
    };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = negotiated(lines_new());

        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .words = { 0x04000000 },
                                    .count = wrong[k].count, .bytes_off = wrong[k].bytes_off });
        lines_wait(l, MS(1200));
        lines_run(l, NULL);
        expect_only(l, "message.", wrong[k].id);
        expect_verdict(l, "ext.alert-answered", VERDICT_NOT_SEEN);
        lines_free(l);
    }
}

static void one_get_status_answers_several_alerts(void **state)
{
    struct lines *l = negotiated(*state);

    for (unsigned k = 0; k < 3; k++)
        alert(l, 0x10000000);
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_counts(l, "ext.alert-answered", 3, 0, 0);
}

static void what_ends_the_wait_for_get_status_is_no_occasion(void **state)
{
    (void)state;
    for (unsigned k = 0; k < 7; k++) {
        struct lines *l = negotiated(lines_new());
        struct say unheard = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1, .words = { 0x04000000 }, .quiet = true };

        switch (k) {
        case 0:
            alert(l, 0x02010000); /* a battery's change: nothing to follow up */
            break;
        case 1:
            lines_say(l, &unheard);
            break;
        case 2:
            alert(l, 0x04000000);
            lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
            break;
        case 3:
            alert(l, 0x04000000);
            lines_reset(l, RECORD_HARD_RESET);
            break;
        case 4:
            alert(l, 0x04000000);
            lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
            break;
        case 5:
            alert(l, 0x04000000);
            lines_detach(l);
            break;
        default:
            lines_data(l, SIDE_SINK, DATA_ALERT, 1, (const uint32_t[]){ 0x04000000 }); /* of the sink */
            break;
        }
        lines_wait(l, MS(1100));
        lines_run(l, NULL);
        expect_verdict(l, "ext.alert-answered", VERDICT_NOT_SEEN);
        lines_free(l);
    }
}

static void lost_records_and_bad_packets_may_be_get_status(void **state)
{
    struct lines *l = negotiated(*state);
    uint64_t frame = alert(l, 0x04000000);

    lines_wait(l, MS(100));
    lines_lost(l, 1);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_undecided(l, "ext.alert-answered", frame, CAUSE_LOST);

    struct lines *other = negotiated(lines_new());

    frame = alert(other, 0x04000000);
    lines_say(other, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .spoilt = true });
    lines_wait(other, MS(500));
    lines_control(other, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_wait(other, MS(600));
    lines_run(other, NULL);
    expect_undecided(other, "ext.alert-answered", frame, CAUSE_BAD_PACKET);
    lines_free(other);
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test_setup_teardown(where_nobody_tells_nothing_is_judged, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_block_of_the_wrong_size_is_judged_by_its_size_alone, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_epr_rating_with_an_unknown_offer_is_undecided, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_sink_has_batteries_as_well, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_maker_is_the_one_that_other_messages_name, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_revision_message_has_a_header_of_3_x, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(get_status_within_a_second_passes_and_later_fails, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(get_status_about_a_second_later_is_undecided_where_the_clock_is_coarse, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_alert_that_nobody_follows_up_fails_the_sink, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(one_get_status_answers_several_alerts, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(an_alert_of_the_wrong_form_need_not_be_followed_up, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(what_ends_the_wait_for_get_status_is_no_occasion, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(lost_records_and_bad_packets_may_be_get_status, lines_setup, lines_teardown),
};

#define ROWS (sizeof rows / sizeof rows[0])
#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union row_state { const struct block_row *row; void *state; };

int main(void)
{
    static struct CMUnitTest tests[ROWS + OTHERS];

    for (unsigned k = 0; k < ROWS; k++) {
        union row_state t = { .row = &rows[k] };

        tests[k] = (struct CMUnitTest){ .name = rows[k].name, .test_func = block_row_holds, .initial_state = t.state };
    }
    memcpy(tests + ROWS, others, sizeof others);
    return cmocka_run_group_tests_name("rules ext", tests, NULL, NULL);
}
