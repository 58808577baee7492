#define _POSIX_C_SOURCE 200809L
#include "capture/kernel_ports.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PATH = 512, VALUE = 256 };

/* The first line of an attribute, without its end. False: not there, or not to be read. */
static bool attribute(const char *folder, const char *name, char *out, size_t room)
{
    char path[PATH];

    out[0] = '\0';
    if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path)
        return false;
    int fd = open(path, O_RDONLY | O_CLOEXEC);

    if (fd < 0)
        return false;
    ssize_t n = read(fd, out, room - 1);

    close(fd);
    out[n > 0 ? n : 0] = '\0';
    out[strcspn(out, "\n")] = '\0';
    return n > 0;
}

/* "9000mV", "1": the number before its unit; KERNEL_UNKNOWN where there is none. */
static int32_t number(const char *folder, const char *name, const char *unit)
{
    char  value[VALUE], *end;

    if (!attribute(folder, name, value, sizeof value))
        return KERNEL_UNKNOWN;
    errno = 0;
    long n = strtol(value, &end, 10);

    if (errno || end == value || n < 0 || n > INT32_MAX || strcmp(end, unit) != 0)
        return KERNEL_UNKNOWN;
    return (int32_t)n;
}

/* "[source] sink": the one in brackets; without brackets the whole. */
static void chosen(const char *folder, const char *name, char out[KERNEL_NAME])
{
    char value[VALUE], *from, *to;

    attribute(folder, name, value, sizeof value);
    from = strchr(value, '[');
    to = from ? strchr(from, ']') : NULL;
    if (to) {
        *to = '\0';
        from++;
    } else {
        from = value;
    }
    snprintf(out, KERNEL_NAME, "%.*s", KERNEL_NAME - 1, from);
}

static int32_t either(int32_t a, int32_t b)
{
    return a != KERNEL_UNKNOWN ? a : b;
}

static void read_flags(const char *folder, struct kernel_supply *s)
{
    s->dual_role_power = number(folder, "dual_role_power", "");
    s->usb_suspend = number(folder, "usb_suspend_supported", "");
    s->unconstrained = number(folder, "unconstrained_power", "");
    s->usb_comm = number(folder, "usb_communication_capable", "");
    s->dual_role_data = number(folder, "dual_role_data", "");
    s->unchunked = number(folder, "unchunked_extended_messages_supported", "");
    s->higher_capability = number(folder, "higher_capability", "");
    s->fr_swap = number(folder, "fast_role_swap_current", "");
    s->peak = number(folder, "peak_current", "");
    s->limited = number(folder, "pps_power_limited", "");
}

/* A source names a maximum, a sink what it runs at. */
static void read_numbers(const char *folder, struct kernel_supply *s)
{
    s->mv = number(folder, "voltage", "mV");
    s->min_mv = number(folder, "minimum_voltage", "mV");
    s->max_mv = number(folder, "maximum_voltage", "mV");
    s->ma = either(number(folder, "maximum_current", "mA"), number(folder, "operational_current", "mA"));
    s->mw = either(number(folder, "maximum_power", "mW"), number(folder, "operational_power", "mW"));
    s->ma_9_15v = number(folder, "maximum_current_9V_to_15V", "mA");
    s->ma_15_20v = number(folder, "maximum_current_15V_to_20V", "mA");
}

static const char *const kind_names[] = {
    [KERNEL_FIXED] = "fixed_supply",
    [KERNEL_VARIABLE] = "variable_supply",
    [KERNEL_BATTERY] = "battery",
    [KERNEL_PROGRAMMABLE] = "programmable_supply",
    [KERNEL_SPR_ADJUSTABLE] = "spr_adjustable_voltage_supply",
};

/* "4:programmable_supply". False: no name of an object that is known here. */
static bool object_name(const char *name, struct kernel_supply *s)
{
    char          *end;
    unsigned long position = strtoul(name, &end, 10);

    if (end == name || *end != ':' || position == 0 || position > KERNEL_SUPPLIES)
        return false;
    for (unsigned k = 0; k < sizeof kind_names / sizeof *kind_names; k++) {
        if (strcmp(end + 1, kind_names[k]) == 0) {
            *s = (struct kernel_supply){ .position = (uint8_t)position, .kind = (uint8_t)k };
            return true;
        }
    }
    return false;
}

static void insert(struct kernel_caps *caps, const struct kernel_supply *s)
{
    unsigned at = caps->count;

    if (caps->count == KERNEL_SUPPLIES) {
        caps->left_out++;
        return;
    }
    while (at > 0 && caps->list[at - 1].position > s->position) {
        caps->list[at] = caps->list[at - 1];
        at--;
    }
    caps->list[at] = *s;
    caps->count++;
}

static void read_caps(const char *pd, const char *which, struct kernel_caps *caps)
{
    char           folder[PATH];
    struct dirent *d;

    *caps = (struct kernel_caps){ .count = 0 };
    snprintf(folder, sizeof folder, "%s/%s", pd, which);
    DIR *dir = opendir(folder);

    while (dir && (d = readdir(dir)) != NULL) {
        struct kernel_supply s;
        char                 object[PATH + VALUE];

        if (!strchr(d->d_name, ':'))
            continue;
        if (!object_name(d->d_name, &s)) {
            caps->left_out++;
            continue;
        }
        snprintf(object, sizeof object, "%s/%s", folder, d->d_name);
        read_numbers(object, &s);
        read_flags(object, &s);
        insert(caps, &s);
    }
    if (dir)
        closedir(dir);
}

static void read_identity(const char *folder, uint32_t words[6])
{
    static const char *const names[6] = { "id_header", "cert_stat", "product", "product_type_vdo1", "product_type_vdo2", "product_type_vdo3" };

    for (unsigned k = 0; k < 6; k++) {
        char value[VALUE], name[VALUE];

        snprintf(name, sizeof name, "identity/%s", names[k]);
        words[k] = attribute(folder, name, value, sizeof value) ? (uint32_t)strtoul(value, NULL, 16) : 0;
    }
}

static bool folder_is_there(const char *path)
{
    DIR *dir = opendir(path);

    if (dir)
        closedir(dir);
    return dir != NULL;
}

static void read_partner(const char *root, const char *name, struct kernel_port *port)
{
    char partner[PATH], cable[PATH], pd[PATH + VALUE], value[VALUE];

    snprintf(partner, sizeof partner, "%s/sys/class/typec/%s-partner", root, name);
    if (!folder_is_there(partner))
        return;
    port->attach = port->attach == KERNEL_NOTHING ? KERNEL_ATTACHED : port->attach;
    if (attribute(partner, "supports_usb_power_delivery", value, sizeof value))
        port->partner_pd = strcmp(value, "yes") == 0;
    chosen(partner, "usb_power_delivery_revision", port->partner_revision);
    read_identity(partner, port->identity);
    snprintf(pd, sizeof pd, "%s/usb_power_delivery", partner);
    chosen(pd, "revision", port->pd_revision);
    read_caps(pd, "source-capabilities", &port->partner_source);
    read_caps(pd, "sink-capabilities", &port->partner_sink);
    snprintf(cable, sizeof cable, "%s/sys/class/typec/%s-cable", root, name);
    read_identity(cable, port->cable_identity);
    chosen(cable, "usb_power_delivery_revision", port->cable_revision);
}

/* Where a link leads, by its last name: the device that a port or a power supply is of. */
static bool device_of(const char *folder, char out[KERNEL_NAME])
{
    char path[PATH], to[PATH];

    out[0] = '\0';
    if (snprintf(path, sizeof path, "%s/device", folder) >= (int)sizeof path)
        return false;
    ssize_t n = readlink(path, to, sizeof to - 1);

    if (n <= 0)
        return false;
    to[n] = '\0';
    const char *last = strrchr(to, '/');

    snprintf(out, KERNEL_NAME, "%.*s", KERNEL_NAME - 1, last ? last + 1 : to);
    return out[0] != '\0';
}

/* How many ports with a smaller number are of the same device. */
static unsigned ports_before(const char *root, const char *device, unsigned number)
{
    char     names[KERNEL_PORTS][KERNEL_NAME], folder[PATH], of[KERNEL_NAME];
    unsigned before = 0, count = kernel_ports_list(root, names);

    for (unsigned k = 0; k < count; k++) {
        if (strtoul(names[k] + 4, NULL, 10) >= number || snprintf(folder, sizeof folder, "%s/sys/class/typec/%s", root, names[k]) >= PATH)
            continue;
        before += device_of(folder, of) && strcmp(of, device) == 0 ? 1 : 0;
    }
    return before;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

/* The power supplies of a device, in the order of their names, which is that of the ports (ucsi-source-psy-...001, ...002). */
static unsigned supplies_of(const char *root, const char *device, char names[KERNEL_PORTS][KERNEL_NAME])
{
    char           class[PATH], folder[PATH + VALUE], of[KERNEL_NAME];
    struct dirent *d;
    unsigned       count = 0;

    snprintf(class, sizeof class, "%s/sys/class/power_supply", root);
    DIR *dir = opendir(class);

    while (dir && count < KERNEL_PORTS && (d = readdir(dir)) != NULL) {
        snprintf(folder, sizeof folder, "%s/%.*s", class, VALUE - 2, d->d_name);
        if (d->d_name[0] != '.' && strlen(d->d_name) < KERNEL_NAME && device_of(folder, of) && strcmp(of, device) == 0)
            snprintf(names[count++], KERNEL_NAME, "%.*s", KERNEL_NAME - 1, d->d_name);
    }
    if (dir)
        closedir(dir);
    qsort(names, count, KERNEL_NAME, by_name);
    return count;
}

static int32_t thousands(const char *folder, const char *name)
{
    int32_t millionths = number(folder, name, "");

    return millionths == KERNEL_UNKNOWN ? KERNEL_UNKNOWN : millionths / 1000;
}

static void read_contract(const char *root, const char *port_folder, struct kernel_port *port)
{
    char     device[KERNEL_NAME], names[KERNEL_PORTS][KERNEL_NAME], folder[PATH];
    unsigned count, mine;

    if (!device_of(port_folder, device))
        return;
    count = supplies_of(root, device, names);
    mine = count > 1 ? ports_before(root, device, port->number) : 0;
    if (mine >= count || snprintf(folder, sizeof folder, "%s/sys/class/power_supply/%s", root, names[mine]) >= PATH)
        return;
    port->contract = (struct kernel_contract){
        .told = true, .online = number(folder, "online", ""), .mv = thousands(folder, "voltage_now"), .ma = thousands(folder, "current_max"),
    };
}

static uint8_t attach_of(const char *root, const char *name, const char *orientation)
{
    char partner[PATH], mode[VALUE];

    snprintf(partner, sizeof partner, "%s/sys/class/typec/%s-partner", root, name);
    if (attribute(partner, "accessory_mode", mode, sizeof mode)) {
        if (strcmp(mode, "debug") == 0)
            return KERNEL_DEBUG_ACCESSORY;
        if (strcmp(mode, "analog_audio") == 0)
            return KERNEL_AUDIO_ACCESSORY;
    }
    return strcmp(orientation, "normal") == 0 ? KERNEL_ON_CC1 : strcmp(orientation, "reverse") == 0 ? KERNEL_ON_CC2 : KERNEL_ATTACHED;
}

bool kernel_port_read(const char *root, const char *name, struct kernel_port *port)
{
    char folder[PATH], pd[PATH + VALUE], value[VALUE];

    *port = (struct kernel_port){ .partner_pd = KERNEL_UNKNOWN };
    snprintf(port->name, sizeof port->name, "%.*s", KERNEL_NAME - 1, name);
    port->number = (unsigned)strtoul(name + strcspn(name, "0123456789"), NULL, 10);
    if (snprintf(folder, sizeof folder, "%s/sys/class/typec/%s", root, name) >= (int)sizeof folder || !folder_is_there(folder))
        return false;
    chosen(folder, "power_role", port->power_role);
    chosen(folder, "data_role", port->data_role);
    chosen(folder, "port_type", port->port_type);
    chosen(folder, "power_operation_mode", port->operation);
    attribute(folder, "orientation", value, sizeof value);
    snprintf(pd, sizeof pd, "%s/usb_power_delivery", folder);
    read_caps(pd, "source-capabilities", &port->own_source);
    read_caps(pd, "sink-capabilities", &port->own_sink);
    read_partner(root, name, port);
    if (port->attach != KERNEL_NOTHING) /* a port keeps its last orientation */
        port->attach = attach_of(root, name, value);
    read_contract(root, folder, port);
    return true;
}

/* "port" and digits: not port0-partner, port0-cable, port0-plug0. */
static bool is_port(const char *name)
{
    size_t n = strlen(name);

    return n > 4 && n < KERNEL_NAME && strncmp(name, "port", 4) == 0 && strspn(name + 4, "0123456789") == n - 4;
}

static int by_number(const void *a, const void *b)
{
    unsigned long x = strtoul((const char *)a + 4, NULL, 10), y = strtoul((const char *)b + 4, NULL, 10);

    return (x > y) - (x < y);
}

unsigned kernel_ports_list(const char *root, char names[KERNEL_PORTS][KERNEL_NAME])
{
    char           folder[PATH];
    struct dirent *d;
    unsigned       count = 0;

    snprintf(folder, sizeof folder, "%s/sys/class/typec", root);
    DIR *dir = opendir(folder);

    while (dir && count < KERNEL_PORTS && (d = readdir(dir)) != NULL)
        if (is_port(d->d_name))
            snprintf(names[count++], KERNEL_NAME, "%.*s", KERNEL_NAME - 1, d->d_name);
    if (dir)
        closedir(dir);
    qsort(names, count, KERNEL_NAME, by_number);
    return count;
}
