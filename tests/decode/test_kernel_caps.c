/*
 * Objects put together from what a kernel tells of them. Words: those that Linux' own mailing list and firmware tables print with their
 * meaning beside them; else typed from the macros of Linux include/linux/usb/pd.h (PDO_FIXED, PDO_VAR, PDO_BATT, PDO_PPS_APDO).
 */
#include "tests/decode/testing.h"

#include "decode/kernel_identity.h"

#include <stdio.h>
#include <string.h>

/* Everything unknown, as capture/kernel_ports.c leaves it where attributes are missing. */
static struct kernel_supply supply(uint8_t position, enum kernel_supply_kind kind)
{
    struct kernel_supply s;

    memset(&s, 0xff, sizeof s); /* KERNEL_UNKNOWN in every number */
    s.position = position;
    s.kind = (uint8_t)kind;
    return s;
}

static struct kernel_supply fixed(uint8_t position, int32_t mv, int32_t ma)
{
    struct kernel_supply s = supply(position, KERNEL_FIXED);

    s.mv = mv;
    s.ma = ma;
    return s;
}

static struct kernel_supply range(uint8_t position, enum kernel_supply_kind kind, int32_t min_mv, int32_t max_mv, int32_t ma)
{
    struct kernel_supply s = supply(position, kind);

    s.min_mv = min_mv;
    s.max_mv = max_mv;
    s.ma = ma;
    return s;
}

static uint32_t word(const struct kernel_message *m, unsigned k)
{
    const uint8_t *b = m->bytes + 2 + 4 * k;

    return b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
}

static unsigned header(const struct kernel_message *m)
{
    return m->bytes[0] | (unsigned)m->bytes[1] << 8;
}

static void add(struct kernel_caps *caps, struct kernel_supply s)
{
    caps->list[caps->count++] = s;
}

static struct kernel_port laptop(void)
{
    return (struct kernel_port){ .power_role = "sink", .data_role = "host", .pd_revision = "3.0" };
}

static void words_are_those_that_were_published(void **state)
{
    (void)state;
    struct kernel_port   p = laptop();
    struct kernel_supply s = fixed(1, 5000, 3000);

    s.unconstrained = 1;
    add(&p.partner_source, s);
    add(&p.partner_source, fixed(2, 9000, 2000));
    s = range(3, KERNEL_PROGRAMMABLE, 3300, 11000, 2000);
    s.limited = 1;
    add(&p.partner_source, s);
    add(&p.partner_source, range(4, KERNEL_PROGRAMMABLE, 3300, 21000, 5000));
    s = supply(5, KERNEL_SPR_ADJUSTABLE);
    s.ma_9_15v = 4000;
    s.ma_15_20v = 3350;
    s.peak = 0;
    add(&p.partner_source, s);
    struct kernel_message m = kernel_caps_message(&p, false, 0);

    assert_int_equal(m.length, 2 + 5 * 4);
    assert_int_equal(m.unknown, 0);
    assert_int_equal(word(&m, 0), 0x0801912C); /* 5 V 3 A, unconstrained: linux-usb, "Character device for USB Power Delivery devices" */
    assert_int_equal(word(&m, 1), 0x0002D0C8); /* 9 V 2 A: vendor firmware table, without the flag that it sets beyond object 1 */
    assert_int_equal(word(&m, 2), 0xC8DC2128); /* PPS 3.3 to 11 V 2 A, limited: the same table */
    assert_int_equal(word(&m, 3), 0xC1A42164); /* PPS 3.3 to 21 V 5 A: Zephyr's log */
    assert_int_equal(word(&m, 4), 0xE006414F); /* SPR AVS 4 A, 3.35 A: linux-usb, 2025-10-15, its example of these attributes */
}

static void battery_and_variable_objects_of_a_sink(void **state)
{
    (void)state;
    struct kernel_port   p = { .power_role = "source", .data_role = "device", .pd_revision = "2.0" };
    struct kernel_supply s = fixed(1, 5000, 2000);

    s.usb_comm = 1;
    s.higher_capability = 1;
    s.fr_swap = 2;
    add(&p.partner_sink, s);
    add(&p.partner_sink, range(2, KERNEL_VARIABLE, 5000, 12000, 2000));
    s = range(3, KERNEL_BATTERY, 9000, 12000, 0);
    s.mw = 30000;
    add(&p.partner_sink, s);
    struct kernel_message m = kernel_caps_message(&p, true, 3);

    assert_int_equal(word(&m, 0), 0x150190C8); /* PDO_FIXED(5000, 2000, USB_COMM) = 0x040190C8 (usb-connector.yaml), bit 28, bits 24:23 = 2 */
    assert_int_equal(word(&m, 1), 0x8F0190C8); /* PDO_VAR(5000, 12000, 2000): usb-connector.yaml */
    assert_int_equal(word(&m, 2), 0x4F02D078); /* PDO_BATT(9000, 12000, 30000) */
    /* Sink_Capabilities, DFP, revision 2.0, sink, MessageID 3, 3 objects */
    assert_int_equal(header(&m), 4 | 1 << 5 | 1 << 6 | 0 << 8 | 3 << 9 | 3 << 12);
}

static void the_header_says_what_the_kernel_tells_of_roles_and_revision(void **state)
{
    (void)state;
    struct kernel_port p = laptop();

    add(&p.partner_source, fixed(1, 5000, 3000));
    struct kernel_message m = kernel_caps_message(&p, false, 0);

    assert_int_equal(header(&m), 1 | 0 << 5 | 2 << 6 | 1 << 8 | 1 << 12); /* source, UFP, revision 3.x */
    snprintf(p.pd_revision, sizeof p.pd_revision, "0.0"); /* Linux 6.12 does not tell it of a partner */
    m = kernel_caps_message(&p, false, 0);
    assert_int_equal(header(&m) >> 6 & 3, 2);
    snprintf(p.partner_revision, sizeof p.partner_revision, "2.0");
    m = kernel_caps_message(&p, false, 0);
    assert_int_equal(header(&m) >> 6 & 3, 1);
}

/* An object keeps its position, so that a request for it in other traces names the same one. */
static void what_is_not_told_leaves_a_hole(void **state)
{
    (void)state;
    struct kernel_port   p = laptop();
    struct kernel_supply without = fixed(3, 15000, KERNEL_UNKNOWN), beyond = fixed(8, 28000, 5000), great = fixed(4, 60000, 3000);

    add(&p.partner_source, fixed(1, 5000, 3000));
    add(&p.partner_source, without);
    add(&p.partner_source, great); /* 60 V do not go into the field */
    add(&p.partner_source, range(5, KERNEL_PROGRAMMABLE, 3300, 11000, 3000));
    add(&p.partner_source, beyond);
    struct kernel_message m = kernel_caps_message(&p, false, 0);

    assert_int_equal(m.length, 2 + 5 * 4);
    assert_int_equal(m.unknown, 4);
    assert_int_equal(word(&m, 0), 0x0001912C);
    for (unsigned k = 1; k < 4; k++)
        assert_int_equal(word(&m, k), KERNEL_CAPS_HOLE);
    assert_int_equal(word(&m, 4), 0xC0DC213C); /* PPS 3.3 to 11 V 3 A: 0xC8DC213C of the firmware table without its limit flag */
}

static void no_list_no_message(void **state)
{
    (void)state;
    struct kernel_port p = laptop();

    assert_int_equal(kernel_caps_message(&p, false, 0).length, 0);
    add(&p.partner_source, fixed(9, 28000, 5000));
    struct kernel_message m = kernel_caps_message(&p, false, 0);

    assert_int_equal(m.length, 0);
    assert_int_equal(m.unknown, 1);
}

/* VDM header and words by the macros of Linux include/linux/usb/pd_vdo.h: VDO(0xFF00, 1, version, ACK << 6 | Discover Identity). */
static void an_identity_becomes_the_answer_that_told_it(void **state)
{
    (void)state;
    struct kernel_port p = laptop();

    p.identity[0] = 0x6C001209;
    p.identity[2] = 0x00010100;
    struct kernel_message m = kernel_identity_message(&p, false, 5);

    /* Vendor_Defined, UFP, revision 3.x, source, MessageID 5, 4 objects: VDM header, ID Header, Cert Stat, Product */
    assert_int_equal(header(&m), 15 | 0 << 5 | 2 << 6 | 1 << 8 | 5 << 9 | 4 << 12);
    assert_int_equal(m.length, 2 + 4 * 4);
    assert_int_equal(word(&m, 0), 0xFF00A041); /* version 2.0 */
    assert_int_equal(word(&m, 1), 0x6C001209);
    assert_int_equal(word(&m, 2), 0);
    assert_int_equal(word(&m, 3), 0x00010100);
}

static void a_cable_answers_as_a_plug_in_its_own_revision(void **state)
{
    (void)state;
    struct kernel_port p = laptop();

    p.cable_identity[0] = 0x18001234;
    p.cable_identity[2] = 0x56780100;
    p.cable_identity[3] = 0x00082042;
    snprintf(p.cable_revision, sizeof p.cable_revision, "2.0");
    struct kernel_message m = kernel_identity_message(&p, true, 0);

    /* Vendor_Defined, revision 2.0, cable plug, 5 objects */
    assert_int_equal(header(&m), 15 | 1 << 6 | 1 << 8 | 5 << 12);
    assert_int_equal(word(&m, 0), 0xFF008041); /* version 1.0 */
    assert_int_equal(word(&m, 4), 0x00082042);
    assert_int_equal(kernel_identity_message(&p, false, 0).length, 0); /* of the partner nothing is told */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_are_those_that_were_published),
        cmocka_unit_test(battery_and_variable_objects_of_a_sink),
        cmocka_unit_test(the_header_says_what_the_kernel_tells_of_roles_and_revision),
        cmocka_unit_test(what_is_not_told_leaves_a_hole),
        cmocka_unit_test(no_list_no_message),
        cmocka_unit_test(an_identity_becomes_the_answer_that_told_it),
        cmocka_unit_test(a_cable_answers_as_a_plug_in_its_own_revision),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
