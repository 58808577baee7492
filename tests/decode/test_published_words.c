/*
 * Words that others have published, with what they say. Every expectation is typed from the named text, or reckoned by hand from
 * the layout where the text gives only the word (then the source says so).
 */
#include "decode/field.h"
#include "decode/message.h"
#include "decode/objects.h"
#include "capture/record.h"
#include "tests/decode/testing.h"

#include <string.h>

#define KERNEL_RFC "linux-usb mailing list, RFC \"Character device for USB Power Delivery devices\" (2021)"
#define ZEPHYR_LOG "Zephyr sample documentation usb-c-drp, console log"
#define VENDOR_TABLE "a vendor's source firmware table"
#define REVERSED_NOTE "a public reverse-engineering note on a 65 W source"
#define DRIVER_QUIRKS "a phone vendor's kernel driver, list of quirks"
#define AVS_PATCH "linux-usb mailing list, SPR AVS patches of 2025-10-15 and 2026-03-16"
#define RECKONED "; hex reckoned from the layout"

enum flag {
    DUAL_ROLE_POWER = 1, USB_SUSPEND = 2, UNCONSTRAINED = 4, USB_COMM = 8, DUAL_ROLE_DATA = 16, UNCHUNKED = 32,
    EPR_CAPABLE = 64, HIGHER_CAPABILITY = 128, LIMITED = 256,
};

static const struct published_pdo {
    const char *source;
    uint32_t    word;
    bool        sink;
    uint8_t     position, supply;
    int32_t     min_mv, max_mv, max_ma, max_ma_20v, max_mw;
    unsigned    flags; /* enum flag */
} published_pdos[] = {
    { KERNEL_RFC, 0x0801912C, false, 1, SUPPLY_FIXED, 5000, 5000, 3000, 0, 0, UNCONSTRAINED },
    { KERNEL_RFC, 0x0003C12C, false, 2, SUPPLY_FIXED, 12000, 12000, 3000, 0, 0, 0 },
    { KERNEL_RFC, 0x3601912C, true, 1, SUPPLY_FIXED, 5000, 5000, 3000, 0, 0,
      DUAL_ROLE_POWER | HIGHER_CAPABILITY | USB_COMM | DUAL_ROLE_DATA },
    { KERNEL_RFC, 0x000640E1, true, 2, SUPPLY_FIXED, 20000, 20000, 2250, 0, 0, 0 },
    { KERNEL_RFC, 0x9901912C, true, 3, SUPPLY_VARIABLE, 5000, 20000, 3000, 0, 0, 0 },
    { ZEPHYR_LOG, 0x0A01912C, false, 1, SUPPLY_FIXED, 5000, 5000, 3000, 0, 0, DUAL_ROLE_DATA | UNCONSTRAINED },
    { ZEPHYR_LOG, 0x0002D12C, false, 2, SUPPLY_FIXED, 9000, 9000, 3000, 0, 0, 0 },
    { ZEPHYR_LOG, 0x0003C12C, false, 3, SUPPLY_FIXED, 12000, 12000, 3000, 0, 0, 0 },
    { ZEPHYR_LOG, 0x0004B12C, false, 4, SUPPLY_FIXED, 15000, 15000, 3000, 0, 0, 0 },
    { ZEPHYR_LOG, 0x000641F4, false, 5, SUPPLY_FIXED, 20000, 20000, 5000, 0, 0, 0 },
    { ZEPHYR_LOG, 0xC1A42164, false, 6, SUPPLY_PPS, 3300, 21000, 5000, 0, 0, 0 },
    { REVERSED_NOTE, 0x00064145, false, 5, SUPPLY_FIXED, 20000, 20000, 3250, 0, 0, 0 },
    { REVERSED_NOTE, 0x0004B1B1, false, 4, SUPPLY_FIXED, 15000, 15000, 4330, 0, 0, 0 },
    { REVERSED_NOTE, 0x0003C1F4, false, 3, SUPPLY_FIXED, 12000, 12000, 5000, 0, 0, 0 },
    { VENDOR_TABLE " (18 W)", 0x0801912C, false, 1, SUPPLY_FIXED, 5000, 5000, 3000, 0, 0, UNCONSTRAINED },
    /* Bit 27 is set in objects 2 and 3 of that table, where it does not speak. */
    { VENDOR_TABLE " (18 W)", 0x0802D0C8, false, 2, SUPPLY_FIXED, 9000, 9000, 2000, 0, 0, 0 },
    { VENDOR_TABLE " (18 W)", 0x0803C096, false, 3, SUPPLY_FIXED, 12000, 12000, 1500, 0, 0, 0 },
    { VENDOR_TABLE " (18 W)", 0xC8DC2128, false, 4, SUPPLY_PPS, 3300, 11000, 2000, 0, 0, LIMITED },
    { VENDOR_TABLE " (30 W)", 0xC8DC213C, false, 5, SUPPLY_PPS, 3300, 11000, 3000, 0, 0, LIMITED },
    { DRIVER_QUIRKS, 0xC9A43741, false, 6, SUPPLY_PPS, 5500, 21000, 3250, 0, 0, LIMITED },
    { DRIVER_QUIRKS, 0xC92C2264, false, 6, SUPPLY_PPS, 3400, 15000, 5000, 0, 0, LIMITED },
    { DRIVER_QUIRKS, 0xC9A4225A, false, 7, SUPPLY_PPS, 3400, 21000, 4500, 0, 0, LIMITED },
    { "comment in a public port controller driver (20 W)", 0x0002D0DE, false, 2, SUPPLY_FIXED, 9000, 9000, 2220, 0, 0, 0 },
    { "Linux devicetree example usb-connector.yaml" RECKONED, 0x040190C8, true, 1, SUPPLY_FIXED,
      5000, 5000, 2000, 0, 0, USB_COMM },
    { "Linux devicetree example usb-connector.yaml" RECKONED, 0x8F0190C8, true, 2, SUPPLY_VARIABLE,
      5000, 12000, 2000, 0, 0, 0 },
    { AVS_PATCH RECKONED, 0xE006414F, false, 5, SUPPLY_SPR_AVS, 9000, 20000, 4000, 3350, 0, 0 },
    { "no publication" RECKONED, 0xD230968C, false, 9, SUPPLY_EPR_AVS, 15000, 28000, 0, 0, 140000, 0 },
    { "no publication" RECKONED, 0x0008C1F4, false, 8, SUPPLY_FIXED, 28000, 28000, 5000, 0, 0, 0 },
};

static unsigned pdo_flags(const struct pdo *p)
{
    return (p->dual_role_power ? DUAL_ROLE_POWER : 0u) | (p->usb_suspend ? USB_SUSPEND : 0u) |
           (p->unconstrained ? UNCONSTRAINED : 0u) | (p->usb_comm ? USB_COMM : 0u) |
           (p->dual_role_data ? DUAL_ROLE_DATA : 0u) | (p->unchunked ? UNCHUNKED : 0u) |
           (p->epr_capable ? EPR_CAPABLE : 0u) | (p->higher_capability ? HIGHER_CAPABILITY : 0u) |
           (p->limited ? LIMITED : 0u);
}

static void published_power_objects_read_as_published(void **state)
{
    (void)state;
    for (unsigned i = 0; i < LENGTH(published_pdos); i++) {
        const struct published_pdo *e = &published_pdos[i];
        struct pdo p = e->sink ? pdo_read_sink(e->word, e->position) : pdo_read_source(e->word, e->position);

        if (p.supply != e->supply || p.min_mv != e->min_mv || p.max_mv != e->max_mv || p.max_ma != e->max_ma ||
            p.max_ma_20v != e->max_ma_20v || p.max_mw != e->max_mw || pdo_flags(&p) != e->flags || p.peak != 0 ||
            p.fr_swap != 0)
            fail_msg("%08x of %s: %s %d..%d mV %d mA %d mA %d mW flags %x", e->word, e->source, supply_name(p.supply),
                     p.min_mv, p.max_mv, p.max_ma, p.max_ma_20v, p.max_mw, pdo_flags(&p));
    }
}

/* The scaled value of the field with that key, -1 if the layout has none. */
static int64_t value_of(unsigned kind, const char *key, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (layout->fields[i].key && strcmp(layout->fields[i].key, key) == 0)
            return field_scaled(&layout->fields[i], word);
    return -1;
}

static void check_rows(const struct published_pdo *e, unsigned kind)
{
    switch ((enum supply)e->supply) {
    case SUPPLY_FIXED:
        assert_int_equal(value_of(kind, "mv", e->word), e->max_mv);
        assert_int_equal(value_of(kind, "ma", e->word), e->max_ma);
        break;
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        assert_int_equal(value_of(kind, "min_mv", e->word), e->min_mv);
        assert_int_equal(value_of(kind, "max_mv", e->word), e->max_mv);
        assert_int_equal(value_of(kind, "ma", e->word), e->max_ma);
        break;
    case SUPPLY_SPR_AVS:
        assert_int_equal(value_of(kind, "ma_9_15v", e->word), e->max_ma);
        assert_int_equal(value_of(kind, "ma_15_20v", e->word), e->max_ma_20v);
        break;
    case SUPPLY_EPR_AVS:
        assert_int_equal(value_of(kind, "min_mv", e->word), e->min_mv);
        assert_int_equal(value_of(kind, "max_mv", e->word), e->max_mv);
        assert_int_equal(value_of(kind, "pdp_w", e->word) * 1000, e->max_mw);
        break;
    case SUPPLY_BATTERY:
    case SUPPLY_RESERVED:
        fail_msg("%08x: nothing like it is published", e->word);
    }
}

static void the_rows_say_the_same_of_published_power_objects(void **state)
{
    (void)state;
    for (unsigned i = 0; i < LENGTH(published_pdos); i++) {
        const struct published_pdo *e = &published_pdos[i];
        unsigned                    kind = object_kind_of_pdo(e->word, e->sink, e->position == 1);

        check_rows(e, kind);
        if (e->position == 1)
            assert_int_equal(value_of(kind, "unconstrained", e->word), (e->flags & UNCONSTRAINED) != 0);
    }
}

/* Bit 27 in an object that is not the first lands in reserved bits, for a rule to find. */
static void a_flag_out_of_place_shows_in_reserved_bits(void **state)
{
    const struct object_layout *layout = object_layout(object_kind_of_pdo(0x0802D0C8, false, false));
    uint32_t                    reserved = 0;

    (void)state;
    for (unsigned i = 0; i < layout->count; i++)
        if (!layout->fields[i].key)
            reserved |= field_raw(&layout->fields[i], 0x0802D0C8) << layout->fields[i].low;
    assert_int_equal(reserved, UINT32_C(1) << 27);
}

static const struct published_header {
    const char *source;
    uint16_t    header;
    uint8_t     index, objects, id;
    bool        is_source, is_dfp;
    uint8_t     revision;
} published_headers[] = {
    { ZEPHYR_LOG, 0x61A1, MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES), 6, 0, true, true, HEADER_R3 },
    { ZEPHYR_LOG, 0x0161, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC), 0, 0, true, true, HEADER_R2 },
    { ZEPHYR_LOG, 0x03A3, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_ACCEPT), 0, 1, true, true, HEADER_R3 },
    { ZEPHYR_LOG, 0x05A6, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_PS_RDY), 0, 2, true, true, HEADER_R3 },
    { ZEPHYR_LOG, 0x1082, MESSAGE_INDEX(CLASS_DATA, DATA_REQUEST), 1, 0, false, false, HEADER_R3 },
    { AVS_PATCH, 0x1A82, MESSAGE_INDEX(CLASS_DATA, DATA_REQUEST), 1, 5, false, false, HEADER_R3 },
    { AVS_PATCH, 0x01A3, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_ACCEPT), 0, 0, true, true, HEADER_R3 },
    { AVS_PATCH, 0x03A6, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_PS_RDY), 0, 1, true, true, HEADER_R3 },
    /* 0x2161: bit 5 and bit 8 are set, so a source that is DFP. */
    { "comment in a public port controller driver (20 W)", 0x2161,
      MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES), 2, 0, true, true, HEADER_R2 },
    { "USB PD CRC annex as re-typed in public code", 0x0101,
      MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC), 0, 0, true, false, HEADER_R1 },
};

static void published_headers_read_as_published(void **state)
{
    (void)state;
    for (unsigned i = 0; i < LENGTH(published_headers); i++) {
        const struct published_header *e = &published_headers[i];
        uint8_t        bytes[2] = { (uint8_t)e->header, (uint8_t)(e->header >> 8) }; /* least significant byte first */
        struct message m;

        assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
        assert_int_equal(m.header, e->header);
        assert_int_equal(m.index, e->index);
        assert_int_equal(m.objects, e->objects);
        assert_int_equal(m.id, e->id);
        assert_int_equal(m.power_bit, e->is_source);
        assert_int_equal(m.data_bit, e->is_dfp);
        assert_int_equal(m.revision, e->revision);
    }
}

/* 0x1680292C (Zephyr sample documentation usb-c-drp, console log): position 1, mismatch, 100 mA now, up to 3 A. */
static void the_published_request_asks_for_100_ma_and_up_to_3_a(void **state)
{
    struct pdo asked = pdo_read_source(0x0801912C, 1);
    struct rdo r = rdo_read(0x1680292C, &asked);

    (void)state;
    assert_int_equal(r.form, REQUEST_FIXED_VARIABLE);
    assert_int_equal(r.position, 1);
    assert_true(r.mismatch);
    assert_true(r.usb_comm);
    assert_true(r.unchunked);
    assert_false(r.give_back);
    assert_false(r.no_usb_suspend);
    assert_false(r.epr_capable);
    assert_int_equal(r.op_ma, 100);
    assert_int_equal(r.max_ma, 3000);
    assert_int_equal(r.mv, 5000);
}

/* 0x5002D02C: position 5, 9.0 V, 2.2 A, the values of the SPR AVS log on the linux-usb list; hex reckoned from its macros. */
static void the_avs_request_of_the_kernel_log_asks_for_9_v(void **state)
{
    struct pdo asked = pdo_read_source(0xE006414F, 5);
    struct rdo r = rdo_read(0x5002D02C, &asked);

    (void)state;
    assert_int_equal(r.form, REQUEST_AVS);
    assert_int_equal(r.position, 5);
    assert_int_equal(r.mv, 9000);
    assert_int_equal(r.op_ma, 2200);
    assert_int_equal(value_of(OBJECT_REQUEST_AVS, "mv", 0x5002D02C), 9000);
    assert_int_equal(value_of(OBJECT_REQUEST_AVS, "op_ma", 0x5002D02C), 2200);
}

/* RMDO words of the Chromium EC test usb_pd_rev3.c. */
static void published_revision_words_name_3_1_and_3_2(void **state)
{
    (void)state;
    assert_int_equal(value_of(OBJECT_REVISION, "revision_major", 0x31000000), 3);
    assert_int_equal(value_of(OBJECT_REVISION, "revision_minor", 0x31000000), 1);
    assert_int_equal(value_of(OBJECT_REVISION, "version_major", 0x31000000), 0);
    assert_int_equal(value_of(OBJECT_REVISION, "version_minor", 0x31000000), 0);
    assert_int_equal(value_of(OBJECT_REVISION, "revision_major", 0x32100000), 3);
    assert_int_equal(value_of(OBJECT_REVISION, "revision_minor", 0x32100000), 2);
    assert_int_equal(value_of(OBJECT_REVISION, "version_major", 0x32100000), 1);
    assert_int_equal(value_of(OBJECT_REVISION, "version_minor", 0x32100000), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_power_objects_read_as_published),
        cmocka_unit_test(the_rows_say_the_same_of_published_power_objects),
        cmocka_unit_test(a_flag_out_of_place_shows_in_reserved_bits),
        cmocka_unit_test(published_headers_read_as_published),
        cmocka_unit_test(the_published_request_asks_for_100_ma_and_up_to_3_a),
        cmocka_unit_test(the_avs_request_of_the_kernel_log_asks_for_9_v),
        cmocka_unit_test(published_revision_words_name_3_1_and_3_2),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
