/*
 * A Type-C port of a kernel, behind sysfs and udev as umockdev gives them: nobody there at first, then a charger, a contract, another list of
 * offers, the plug pulled and in again within milliseconds, and nobody again. The client is started as a child.
 *
 *   umockdev-wrapper kernel_sim client ...
 */
#include <umockdev.h>

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define PORT "/devices/platform/one/typec/port0"
#define SUPPLY "/devices/platform/one/power_supply/source-one"

static UMockdevTestbed *bed;
static GMainLoop       *loop;
static int              step, status = 2;

static const char port[] = "P: " PORT "\nE: SUBSYSTEM=typec\nE: DEVTYPE=typec_port\nA: power_role=source [sink]\\n\nA: data_role=[host] device\\n\n"
                           "A: power_operation_mode=default\\n\nA: orientation=normal\\n\nL: device=../../../one\n\n"
                           "P: " SUPPLY "\nE: SUBSYSTEM=power_supply\nA: online=0\\n\nA: voltage_now=0\\n\nA: current_max=0\\n\nL: device=../../../one\n\n";
static const char charger[] =
    "P: /devices/virtual/usb_power_delivery/pd2\nE: SUBSYSTEM=usb_power_delivery\nA: revision=3.0\\n\n"
    "A: source-capabilities/1:fixed_supply/voltage=5000mV\\n\nA: source-capabilities/1:fixed_supply/maximum_current=3000mA\\n\n"
    "A: source-capabilities/2:fixed_supply/voltage=9000mV\\n\nA: source-capabilities/2:fixed_supply/maximum_current=2000mA\\n\n\n"
    "P: " PORT "/port0-partner\nE: SUBSYSTEM=typec\nE: DEVTYPE=typec_partner\nA: supports_usb_power_delivery=yes\\n\n"
    "A: identity/id_header=0x6c001209\\n\nA: identity/cert_stat=0x00000000\\n\nA: identity/product=0x00010100\\n\n"
    "L: usb_power_delivery=../../../../../virtual/usb_power_delivery/pd2\n\n";

/* The kernel makes them in /sys/class/typec; umockdev takes typec for a bus. */
static void class_link(const char *name, const char *target, gboolean there)
{
    char *root = umockdev_testbed_get_root_dir(bed), path[1000];

    snprintf(path, sizeof path, "%s/sys/class/typec", root);
    g_mkdir_with_parents(path, 0755);
    snprintf(path, sizeof path, "%s/sys/class/typec/%s", root, name);
    if (!there)
        unlink(path);
    else if (symlink(target, path) != 0)
        g_error("symlink");
    g_free(root);
}

static void add(const char *devices)
{
    GError *error = NULL;

    if (!umockdev_testbed_add_from_string(bed, devices, &error))
        g_error("%s", error->message);
}

static void contract(const char *online, const char *uv, const char *ua)
{
    umockdev_testbed_set_attribute(bed, "/sys" SUPPLY, "online", online);
    umockdev_testbed_set_attribute(bed, "/sys" SUPPLY, "voltage_now", uv);
    umockdev_testbed_set_attribute(bed, "/sys" SUPPLY, "current_max", ua);
    umockdev_testbed_uevent(bed, "/sys" SUPPLY, "change");
}

static void partner_pulled(void)
{
    class_link("port0-partner", "", FALSE);
    umockdev_testbed_set_attribute(bed, "/sys" PORT, "power_operation_mode", "default\n");
    umockdev_testbed_uevent(bed, "/sys" PORT "/port0-partner", "remove");
    umockdev_testbed_remove_device(bed, "/sys" PORT "/port0-partner");
}

static void partner_plugged(const char *devices)
{
    umockdev_testbed_set_attribute(bed, "/sys" PORT, "power_operation_mode", "usb_power_delivery\n");
    class_link("port0-partner", "../../devices/platform/one/typec/port0/port0-partner", TRUE);
    add(devices);
}

static gboolean tick(gpointer unused)
{
    (void)unused;
    switch (step++) {
    case 0:
        partner_plugged(charger);
        break;
    case 1:
        contract("1\n", "9000000\n", "2000000\n");
        break;
    case 2:
        umockdev_testbed_set_attribute(bed, "/sys/devices/virtual/usb_power_delivery/pd2", "source-capabilities/2:fixed_supply/maximum_current",
                                       "3000mA\n");
        umockdev_testbed_uevent(bed, "/sys/devices/virtual/usb_power_delivery/pd2", "change");
        break;
    case 3:
        partner_pulled();
        partner_plugged(strstr(charger, "P: " PORT));
        break;
    case 4:
        contract("0\n", "0\n", "0\n");
        partner_pulled();
        break;
    default:
        return G_SOURCE_REMOVE;
    }
    return G_SOURCE_CONTINUE;
}

static void ended(GPid pid, gint how, gpointer unused)
{
    (void)pid;
    (void)unused;
    status = WIFEXITED(how) ? WEXITSTATUS(how) : 3;
    g_main_loop_quit(loop);
}

int main(int argc, char **argv)
{
    GError *error = NULL;
    GPid    client;

    (void)argc;
    bed = umockdev_testbed_new();
    loop = g_main_loop_new(NULL, FALSE);
    add(port);
    class_link("port0", "../../devices/platform/one/typec/port0", TRUE);
    if (!g_spawn_async(NULL, argv + 1, NULL, G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH, NULL, NULL, &client, &error))
        g_error("%s", error->message);
    g_child_watch_add(client, ended, NULL);
    g_timeout_add(500, tick, NULL);
    g_main_loop_run(loop);
    g_object_unref(bed);
    return status;
}
