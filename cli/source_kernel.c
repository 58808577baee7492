/*
 * The kernel's own Type-C ports as a source: kernel, kernel:portN, with =PORT behind it. What /sys/class/typec and
 * /sys/class/usb_power_delivery tell is read at the start, at every event of udev for them, and now and then anyway; what has changed is
 * handed over: CC state, and the partner's capabilities as the message that they came in, both stamped by the host.
 */
#define _POSIX_C_SOURCE 200809L
#include "cli/sources.h"

#include "capture/kernel_ports.h"
#include "decode/kernel_caps.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <libudev.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CC_BODY_BYTES = 8, MARK_BODY_BYTES = 8, PACKET_BYTES = 64, NOTE_BYTES = 300 };
/* The kernel announces a plug in several events, not all at once: read when it has been quiet for so long. */
static const int64_t quiet_ns = INT64_C(30000000), quiet_most_ns = INT64_C(300000000);
static const int64_t again_ns = INT64_C(2000000000); /* without any event */

/* One port, as it was told last. */
struct told {
    bool                  there, seen; /* seen: something was told of it */
    struct kernel_port    port;
    struct kernel_message offers, needs;
};

struct source_kernel {
    struct live_source   base;
    char                 wanted[KERNEL_NAME]; /* "": all */
    unsigned             first_port;
    struct udev         *udev;
    struct udev_monitor *monitor;
    struct told          told[KERNEL_PORTS];
    int64_t              read_at_ns, event_ns; /* event_ns: of the first event that has not been read for; 0: none */
};

static struct source_kernel *kernel_of(struct live_source *s)
{
    return (struct source_kernel *)(void *)s;
}

static int64_t now_of(const struct source_kernel *s)
{
    return s->base.hands.now_ns(s->base.hands.context);
}

static void put(const struct source_kernel *s, uint8_t kind, uint8_t port, const uint8_t *body, size_t length)
{
    uint8_t record[RECORD_HEADER_BYTES + NOTE_BYTES + MARK_BODY_BYTES];
    size_t  size = record_put(record, sizeof record, kind, port, RECORD_HOST_TIME, 0, body, length);

    if (size > 0)
        s->base.hands.put(s->base.hands.context, now_of(s), record, size);
}

static void note_put(const struct source_kernel *s, const char *text)
{
    uint8_t body[MARK_BODY_BYTES + NOTE_BYTES] = { RECORD_NOTE, RECORD_PORT_NONE };
    size_t  length = strlen(text) < NOTE_BYTES ? strlen(text) : NOTE_BYTES;

    memcpy(body + MARK_BODY_BYTES, text, length);
    put(s, RECORD_MARK, RECORD_PORT_BENCH, body, MARK_BODY_BYTES + length);
}

/* Which CC the partner is on is not always told; then CC1 stands for either, and a note says so. */
static void cc_put(const struct source_kernel *s, uint8_t number, const struct kernel_port *p)
{
    static const char *const rp[] = { "", "default", "1.5A", "3.0A" }; /* by CC_STATE rp; in a PD contract it is not told */
    uint8_t                  body[CC_BODY_BYTES] = { 0, 0, 0xff, 0xff, 0xff, 0xff, 0, 0 };

    body[0] = p->attach == KERNEL_NOTHING ? 0 : p->attach == KERNEL_ON_CC2 ? 2 : 1;
    for (uint8_t k = 1; k < 4; k++)
        if (p->attach != KERNEL_NOTHING && strcmp(p->operation, rp[k]) == 0)
            body[1] = k;
    put(s, RECORD_CC_STATE, number, body, sizeof body);
}

static void message_put(const struct source_kernel *s, uint8_t number, const struct kernel_message *m, const char *what, const char *port)
{
    uint8_t body[PACKET_BYTES] = { 0, RECORD_NO_CRC };
    char    note[NOTE_BYTES];

    if (m->length > 0) {
        memcpy(body + 4, m->bytes, m->length);
        put(s, RECORD_PD_PACKET, number, body, 4 + m->length);
    }
    if (m->left_out > 0) {
        snprintf(note, sizeof note, "recorder: %s: %u objects of the partner's %s are not told by the kernel, or stand behind one that is not", port,
                 m->left_out, what);
        note_put(s, note);
    }
}

static bool same(const struct kernel_message *a, const struct kernel_message *b)
{
    return a->length == b->length && a->left_out == b->left_out && memcmp(a->bytes, b->bytes, a->length) == 0;
}

/* Tells what has changed since the last look. */
static void port_tell(const struct source_kernel *s, struct told *t, const struct kernel_port *p)
{
    uint8_t               number = (uint8_t)(s->first_port + p->number);
    struct kernel_message offers = kernel_caps_message(p, true), needs = kernel_caps_message(p, false);
    bool                  new_attach = !t->seen || t->port.attach != p->attach || strcmp(t->port.operation, p->operation) != 0;
    char                  note[NOTE_BYTES];

    if (new_attach)
        cc_put(s, number, p);
    if (new_attach && p->attach == KERNEL_ATTACHED) {
        snprintf(note, sizeof note, "recorder: %s: the kernel does not tell which CC the partner is on; CC1 stands for either", p->name);
        note_put(s, note);
    }
    if (p->attach != KERNEL_NOTHING && (!same(&offers, &t->offers) || (new_attach && t->port.attach == KERNEL_NOTHING)))
        message_put(s, number, &offers, "source capabilities", p->name);
    if (p->attach != KERNEL_NOTHING && (!same(&needs, &t->needs) || (new_attach && t->port.attach == KERNEL_NOTHING)))
        message_put(s, number, &needs, "sink capabilities", p->name);
    *t = (struct told){ .there = true, .seen = true, .port = *p, .offers = offers, .needs = needs };
}

static struct told *told_of(struct source_kernel *s, const char *name)
{
    for (unsigned k = 0; k < KERNEL_PORTS; k++)
        if (s->told[k].seen && strcmp(s->told[k].port.name, name) == 0)
            return &s->told[k];
    for (unsigned k = 0; k < KERNEL_PORTS; k++)
        if (!s->told[k].seen)
            return &s->told[k];
    return NULL;
}

static bool is_wanted(const struct source_kernel *s, const char *name)
{
    return !s->wanted[0] || strcmp(s->wanted, name) == 0;
}

/* A port that has gone (its driver was unloaded) has nobody attached. */
static void gone_tell(struct source_kernel *s)
{
    for (unsigned k = 0; k < KERNEL_PORTS; k++) {
        struct told *t = &s->told[k];

        if (!t->seen || t->there || t->port.attach == KERNEL_NOTHING)
            continue;
        t->port.attach = KERNEL_NOTHING;
        cc_put(s, (uint8_t)(s->first_port + t->port.number), &t->port);
    }
}

static void look(struct source_kernel *s)
{
    char               names[KERNEL_PORTS][KERNEL_NAME];
    unsigned           count = kernel_ports_list("", names);
    struct kernel_port p;

    for (unsigned k = 0; k < KERNEL_PORTS; k++)
        s->told[k].there = false;
    for (unsigned k = 0; k < count; k++) {
        struct told *t = is_wanted(s, names[k]) ? told_of(s, names[k]) : NULL;

        if (t && kernel_port_read("", names[k], &p) && s->first_port + p.number < RECORD_PORT_BENCH)
            port_tell(s, t, &p);
    }
    gone_tell(s);
    s->event_ns = 0;
    s->read_at_ns = now_of(s) + again_ns;
}

static void kernel_work(struct live_source *source, const struct pollfd *fds, unsigned count)
{
    struct source_kernel *s = kernel_of(source);
    struct udev_device   *event;

    while (count > 0 && fds[0].revents && (event = udev_monitor_receive_device(s->monitor)) != NULL) {
        int64_t now_ns = now_of(s);

        udev_device_unref(event);
        s->event_ns = s->event_ns ? s->event_ns : now_ns;
        s->read_at_ns = now_ns + quiet_ns < s->event_ns + quiet_most_ns ? now_ns + quiet_ns : s->event_ns + quiet_most_ns;
    }
    if (now_of(s) >= s->read_at_ns)
        look(s);
}

static unsigned kernel_watch(struct live_source *source, struct pollfd *fds, unsigned room, int64_t *wake_ns)
{
    struct source_kernel *s = kernel_of(source);

    if (s->read_at_ns < *wake_ns)
        *wake_ns = s->read_at_ns;
    if (room == 0 || !s->monitor)
        return 0;
    fds[0] = (struct pollfd){ .fd = udev_monitor_get_fd(s->monitor), .events = POLLIN };
    return 1;
}

static int64_t kernel_reached(const struct live_source *source)
{
    return now_of((const struct source_kernel *)(const void *)source); /* what it hands over is stamped then */
}

static bool kernel_over(const struct live_source *source)
{
    (void)source;
    return false;
}

/* An element of about's array key, unless a source before put it there. */
static cJSON *array_of(cJSON *about, const char *key)
{
    cJSON *list = cJSON_GetObjectItemCaseSensitive(about, key);

    return list ? list : cJSON_AddArrayToObject(about, key);
}

static void kernel_about(const struct live_source *source, cJSON *about, bool closing)
{
    const struct source_kernel *s = (const struct source_kernel *)(const void *)source;
    char                        names[KERNEL_PORTS][KERNEL_NAME];
    unsigned                    count = closing ? 0 : kernel_ports_list("", names);

    if (closing)
        return;
    if (!cJSON_GetObjectItemCaseSensitive(about, "rebuilt"))
        cJSON_AddItemToArray(array_of(about, "rebuilt"), cJSON_CreateString("kernel"));
    for (unsigned k = 0; k < count; k++) {
        cJSON *port = is_wanted(s, names[k]) ? cJSON_CreateObject() : NULL;

        if (!port)
            continue;
        cJSON_AddNumberToObject(port, "port", (double)(s->first_port + strtoul(names[k] + 4, NULL, 10)));
        cJSON_AddStringToObject(port, "name", names[k]);
        cJSON_AddItemToArray(array_of(about, "ports"), port);
    }
}

static void kernel_close(struct live_source *source)
{
    struct source_kernel *s = kernel_of(source);

    if (s->monitor)
        udev_monitor_unref(s->monitor);
    if (s->udev)
        udev_unref(s->udev);
    free(s);
}

/* Without udev the ports are read now and then all the same. */
static void events_open(struct source_kernel *s)
{
    s->udev = udev_new();
    s->monitor = s->udev ? udev_monitor_new_from_netlink(s->udev, "udev") : NULL;
    if (s->monitor && (udev_monitor_filter_add_match_subsystem_devtype(s->monitor, "typec", NULL) < 0 ||
                       udev_monitor_filter_add_match_subsystem_devtype(s->monitor, "usb_power_delivery", NULL) < 0 ||
                       udev_monitor_enable_receiving(s->monitor) < 0)) {
        udev_monitor_unref(s->monitor);
        s->monitor = NULL;
    }
}

/* "port1=4". False: no number of a port. */
static bool words_read(struct source_kernel *s, const char *rest)
{
    const char *equals = rest ? strchr(rest, '=') : NULL;
    char       *end;

    if (!rest)
        return true;
    if (equals) {
        unsigned long number = strtoul(equals + 1, &end, 10);

        if (equals[1] < '0' || equals[1] > '9' || *end != '\0' || number >= RECORD_PORT_BENCH)
            return false;
        s->first_port = (unsigned)number;
    }
    return snprintf(s->wanted, sizeof s->wanted, "%.*s", equals ? (int)(equals - rest) : (int)strlen(rest), rest) < (int)sizeof s->wanted;
}

static bool any_port(const struct source_kernel *s)
{
    char     names[KERNEL_PORTS][KERNEL_NAME];
    unsigned count = kernel_ports_list("", names);

    for (unsigned k = 0; k < count; k++)
        if (is_wanted(s, names[k]))
            return true;
    return false;
}

static struct live_source *kernel_open(const char *rest, const struct live_hands *hands, struct fault *f)
{
    struct source_kernel *s = calloc(1, sizeof *s);

    if (!s) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    s->base.hands = *hands;
    if (!words_read(s, rest) || !any_port(s)) {
        fault_set(f, FAULT_OPEN, ENXIO, 0, NULL);
        free(s);
        return NULL;
    }
    events_open(s);
    return &s->base;
}

static void kernel_find(void (*found)(void *context, const struct live_found *one), void *context)
{
    char               names[KERNEL_PORTS][KERNEL_NAME];
    unsigned           count = kernel_ports_list("", names);
    struct kernel_port p;

    for (unsigned k = 0; k < count; k++) {
        struct live_found one = { .ports = 1 };

        if (!kernel_port_read("", names[k], &p))
            continue;
        snprintf(one.from, sizeof one.from, "kernel:%.*s", KERNEL_NAME - 1, names[k]);
        snprintf(one.what, sizeof one.what, "Type-C port of this machine%s%s, %s", p.power_role[0] ? ", power role " : "", p.power_role,
                 p.attach == KERNEL_NOTHING ? "nothing attached" : p.partner_source.count > 0 ? "partner attached, its offers are told"
                                                                                              : "partner attached");
        found(context, &one);
    }
}

const struct live_kind source_kernel_kind = {
    .word = "kernel", .open = kernel_open, .find = kernel_find, .watch = kernel_watch, .work = kernel_work, .reached_ns = kernel_reached,
    .over = kernel_over, .about = kernel_about, .close = kernel_close,
};
