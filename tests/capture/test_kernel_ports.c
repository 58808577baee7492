/*
 * The kernel's own ports, read from trees of files with the names that Linux gives them (Documentation/ABI/testing/sysfs-class-typec,
 * sysfs-class-usb_power_delivery), and from trees of a running kernel where ../shared/peer is at hand.
 */
#include "tests/capture/made.h"
#include "tests/capture/tree.h"

#include "capture/kernel_ports.h"

#include <stdio.h>
#include <string.h>

#define PORT "/sys/devices/platform/one/typec/port0"
#define PD "/sys/devices/virtual/usb_power_delivery/pd2"
#define SOURCE PD "/source-capabilities"

/* A laptop's port on a charger that offers one object of each kind. */
static const char *const lines[] = {
    PORT "/power_role: source [sink]",
    PORT "/data_role: [host] device",
    PORT "/port_type: [dual] source sink",
    PORT "/power_operation_mode: usb_power_delivery",
    PORT "/orientation: reverse",
    PORT "/port0-partner/supports_usb_power_delivery: yes",
    PORT "/port0-partner/usb_power_delivery_revision: 3.1",
    PORT "/port0-partner/identity/id_header: 0x6c001209",
    PORT "/port0-partner/identity/cert_stat: 0x00000001",
    PORT "/port0-partner/usb_power_delivery -> ../../../../../virtual/usb_power_delivery/pd2",
    PD "/revision: 3.1",
    SOURCE "/1:fixed_supply/voltage: 5000mV",
    SOURCE "/1:fixed_supply/maximum_current: 3000mA",
    SOURCE "/1:fixed_supply/unconstrained_power: 1",
    SOURCE "/1:fixed_supply/dual_role_power: 0",
    SOURCE "/1:fixed_supply/peak_current: 2",
    SOURCE "/2:variable_supply/minimum_voltage: 5000mV",
    SOURCE "/2:variable_supply/maximum_voltage: 12000mV",
    SOURCE "/2:variable_supply/maximum_current: 1500mA",
    SOURCE "/3:battery/minimum_voltage: 9000mV",
    SOURCE "/3:battery/maximum_voltage: 12000mV",
    SOURCE "/3:battery/maximum_power: 30000mW",
    SOURCE "/5:programmable_supply/minimum_voltage: 3300mV",
    SOURCE "/5:programmable_supply/maximum_voltage: 21000mV",
    SOURCE "/5:programmable_supply/maximum_current: 5000mA",
    SOURCE "/5:programmable_supply/pps_power_limited: 1",
    SOURCE "/6:spr_adjustable_voltage_supply/maximum_current_9V_to_15V: 4000mA",
    SOURCE "/6:spr_adjustable_voltage_supply/maximum_current_15V_to_20V: 3350mA",
    SOURCE "/7:supply_of_later_days/voltage: 1mV",
    SOURCE "/uevent: ",
    "/sys/class/typec/port0 -> ../../devices/platform/one/typec/port0",
    "/sys/class/typec/port0-partner -> ../../devices/platform/one/typec/port0/port0-partner",
    "/sys/devices/platform/one/typec/port10/power_role: [source]",
    "/sys/class/typec/port10 -> ../../devices/platform/one/typec/port10",
    "/sys/class/typec/port0-plug0/x: 1",
};

static char *tree(void)
{
    char *root = tree_new();

    for (unsigned k = 0; k < sizeof lines / sizeof *lines; k++)
        tree_line(root, lines[k]);
    return root;
}

static void ports_are_listed_by_number_and_nothing_else_is(void **state)
{
    (void)state;
    char *root = tree(), names[KERNEL_PORTS][KERNEL_NAME];

    assert_int_equal(kernel_ports_list(root, names), 2);
    assert_string_equal(names[0], "port0");
    assert_string_equal(names[1], "port10");
    assert_int_equal(kernel_ports_list("/nowhere", names), 0);
    tree_remove(root);
}

static void every_kind_of_object_is_read(void **state)
{
    (void)state;
    char              *root = tree();
    struct kernel_port p;

    assert_true(kernel_port_read(root, "port0", &p));
    const struct kernel_caps *c = &p.partner_source;

    assert_int_equal(c->count, 5);
    assert_int_equal(c->left_out, 1); /* the one of later days */
    assert_int_equal(c->list[0].position, 1);
    assert_int_equal(c->list[0].kind, KERNEL_FIXED);
    assert_int_equal(c->list[0].mv, 5000);
    assert_int_equal(c->list[0].ma, 3000);
    assert_int_equal(c->list[0].unconstrained, 1);
    assert_int_equal(c->list[0].dual_role_power, 0);
    assert_int_equal(c->list[0].usb_comm, KERNEL_UNKNOWN); /* not there */
    assert_int_equal(c->list[0].peak, 2);
    assert_int_equal(c->list[1].kind, KERNEL_VARIABLE);
    assert_int_equal(c->list[1].min_mv, 5000);
    assert_int_equal(c->list[1].max_mv, 12000);
    assert_int_equal(c->list[1].ma, 1500);
    assert_int_equal(c->list[2].kind, KERNEL_BATTERY);
    assert_int_equal(c->list[2].mw, 30000);
    assert_int_equal(c->list[3].position, 5); /* positions may have holes */
    assert_int_equal(c->list[3].kind, KERNEL_PROGRAMMABLE);
    assert_int_equal(c->list[3].limited, 1);
    assert_int_equal(c->list[3].max_mv, 21000);
    assert_int_equal(c->list[4].kind, KERNEL_SPR_ADJUSTABLE);
    assert_int_equal(c->list[4].ma_9_15v, 4000);
    assert_int_equal(c->list[4].ma_15_20v, 3350);
    tree_remove(root);
}

static void who_is_there_and_what_is_unknown(void **state)
{
    (void)state;
    char              *root = tree();
    struct kernel_port p;

    assert_true(kernel_port_read(root, "port0", &p));
    assert_string_equal(p.power_role, "sink");
    assert_string_equal(p.data_role, "host");
    assert_string_equal(p.port_type, "dual");
    assert_string_equal(p.operation, "usb_power_delivery");
    assert_string_equal(p.partner_revision, "3.1");
    assert_int_equal(p.attach, KERNEL_ON_CC2);
    assert_int_equal(p.partner_pd, 1);
    assert_true(p.identity[0] == 0x6c001209 && p.identity[1] == 1 && p.identity[2] == 0);
    assert_int_equal(p.partner_sink.count, 0);
    assert_true(kernel_port_read(root, "port10", &p));
    assert_int_equal(p.number, 10);
    assert_int_equal(p.attach, KERNEL_NOTHING);
    assert_int_equal(p.partner_pd, KERNEL_UNKNOWN);
    assert_string_equal(p.operation, "");
    assert_false(kernel_port_read(root, "port1", &p));
    tree_remove(root);
}

/* A power supply belongs to the port of the same device; where a device has several ports, in the order of their numbers. */
static void what_a_port_draws_stands_in_the_power_supply_of_its_device(void **state)
{
    (void)state;
    static const char *const more[] = {
        PORT "/device -> ../../../one",
        "/sys/devices/platform/one/power_supply/tcpm-source-psy-one/device -> ../../../one",
        "/sys/devices/platform/one/power_supply/tcpm-source-psy-one/online: 2",
        "/sys/devices/platform/one/power_supply/tcpm-source-psy-one/voltage_now: 8480000",
        "/sys/devices/platform/one/power_supply/tcpm-source-psy-one/current_max: 2200000",
        "/sys/class/power_supply/tcpm-source-psy-one -> ../../devices/platform/one/power_supply/tcpm-source-psy-one",
        "/sys/class/power_supply/battery/online: 1",
        "/sys/class/power_supply/battery/device -> ../../../two",
    };
    static const char *const second[] = {
        "/sys/devices/platform/one/typec/port10/device -> ../../../one",
        "/sys/class/power_supply/tcpm-source-psy-two/device -> ../../../one",
        "/sys/class/power_supply/tcpm-source-psy-two/online: 0",
    };
    char              *root = tree();
    struct kernel_port p;

    assert_true(kernel_port_read(root, "port0", &p));
    assert_false(p.contract.told);
    for (unsigned k = 0; k < sizeof more / sizeof *more; k++)
        tree_line(root, more[k]);
    assert_true(kernel_port_read(root, "port0", &p));
    assert_true(p.contract.told);
    assert_int_equal(p.contract.online, 2);
    assert_int_equal(p.contract.mv, 8480);
    assert_int_equal(p.contract.ma, 2200);
    for (unsigned k = 0; k < sizeof second / sizeof *second; k++)
        tree_line(root, second[k]);
    assert_true(kernel_port_read(root, "port0", &p));
    assert_int_equal(p.contract.online, 2);
    assert_true(kernel_port_read(root, "port10", &p));
    assert_int_equal(p.contract.online, 0);
    assert_int_equal(p.contract.mv, KERNEL_UNKNOWN);
    tree_remove(root);
}

static void accessories_are_told_apart(void **state)
{
    (void)state;
    static const struct { const char *line; unsigned attach; } modes[] = {
        { PORT "/port0-partner/accessory_mode: none", KERNEL_ON_CC2 },
        { PORT "/port0-partner/accessory_mode: analog_audio", KERNEL_AUDIO_ACCESSORY },
        { PORT "/port0-partner/accessory_mode: debug", KERNEL_DEBUG_ACCESSORY },
    };
    struct kernel_port p;

    for (unsigned k = 0; k < sizeof modes / sizeof *modes; k++) {
        char *root = tree();

        tree_line(root, modes[k].line);
        assert_true(kernel_port_read(root, "port0", &p));
        assert_int_equal(p.attach, modes[k].attach);
        tree_remove(root);
    }
}

/* Values that are no numbers, of another unit, too long: unknown, and nothing else suffers. */
static void odd_values_are_unknown(void **state)
{
    (void)state;
    static const char *const odd[] = { "5000", "mV", "-5mV", "5000mA", "99999999999mV", "5000mV and more", "" };
    struct kernel_port       p;

    for (unsigned k = 0; k < sizeof odd / sizeof *odd; k++) {
        char *root = tree(), line[512];

        snprintf(line, sizeof line, SOURCE "/1:fixed_supply/voltage: %s", odd[k]);
        tree_line(root, line);
        assert_true(kernel_port_read(root, "port0", &p));
        assert_int_equal(p.partner_source.list[0].mv, KERNEL_UNKNOWN);
        assert_int_equal(p.partner_source.list[0].ma, 3000);
        tree_remove(root);
    }
}

/* A running kernel: two of its port managers joined (../shared/peer, pps): 5, 9, 15 V and two programmable supplies. */
static void the_tree_of_a_running_kernel(void **state)
{
    (void)state;
    char              *root = tree_new();
    struct kernel_port p;

    if (!tree_file(root, TRACES "/../../shared/peer/pps/sysfs-pps.txt")) {
        print_message("skipped: ../shared/peer is not there\n");
        tree_remove(root);
        skip();
    }
    assert_true(kernel_port_read(root, "port1", &p));
    assert_string_equal(p.power_role, "sink");
    assert_int_equal(p.partner_pd, 1);
    assert_int_equal(p.partner_source.count, 5);
    static const int32_t fixed_mv[] = { 5000, 9000, 15000 };

    for (unsigned k = 0; k < 3; k++) {
        assert_int_equal(p.partner_source.list[k].mv, fixed_mv[k]);
        assert_int_equal(p.partner_source.list[k].ma, 3000);
    }
    assert_int_equal(p.partner_source.list[3].max_mv, 11000);
    assert_int_equal(p.partner_source.list[3].ma, 5000);
    assert_int_equal(p.partner_source.list[4].max_mv, 16000);
    assert_int_equal(p.own_source.count, 0);
    assert_int_equal(p.contract.online, 2); /* programmable */
    tree_remove(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ports_are_listed_by_number_and_nothing_else_is),
        cmocka_unit_test(every_kind_of_object_is_read),
        cmocka_unit_test(who_is_there_and_what_is_unknown),
        cmocka_unit_test(what_a_port_draws_stands_in_the_power_supply_of_its_device),
        cmocka_unit_test(accessories_are_told_apart),
        cmocka_unit_test(odd_values_are_unknown),
        cmocka_unit_test(the_tree_of_a_running_kernel),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
