/*
 * The kernel's own Type-C ports as a source: kernel, kernel:portN, with =PORT behind it.
 *
 * The kernel sends an event for everything that comes and goes (subsystems typec, usb_power_delivery, power_supply), but in an order of
 * its own: a partner's list of capabilities appears before the partner itself, and is linked to it later. So what has happened is not
 * taken from the events: after each the ports are read anew, once they have been quiet for a moment, and what has changed is handed
 * over. Only that a partner went is kept from the event, or one that is back at once would not be noticed. Some drivers send no event
 * when a contract changes; so ports are read every second besides.
 */
#define _POSIX_C_SOURCE 200809L
#include "cli/sources.h"

#include "capture/kernel_ports.h"
#include "decode/kernel_identity.h"
#include "decode/message.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <libudev.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/utsname.h>

enum { NOTE_BYTES = 240, CC_BODY_BYTES = 8, RECORD_BYTES = RECORD_HEADER_BYTES + 8 + NOTE_BYTES, ABOUT_BYTES = 400 };
enum { CC_NOT_MEASURED = 0xFF };
/* Common practice, no source. */
static const int64_t quiet_ns = INT64_C(20000000), quiet_most_ns = INT64_C(200000000), again_ns = INT64_C(1000000000);

/* What was written of a port last. */
struct watched {
    struct kernel_port     port;
    uint8_t                number;    /* of the trace */
    bool                   there, told;
    int64_t                left_ns;   /* an event said that its partner went; 0: none did */
    uint8_t                attach, rp;
    unsigned               id, cable_id; /* of the next packet; of the cable's */
    struct kernel_message  lists[2];  /* source's, sink's, as written last */
    uint32_t               identity[6], cable[6];
    struct kernel_contract contract;
    int64_t                contract_ns; /* a note of it was written */
};

struct source_kernel {
    struct live_source   base;
    struct udev         *udev;
    struct udev_monitor *monitor;
    bool                 one;        /* only the port that is named */
    char                 name[KERNEL_NAME];
    unsigned             first_port; /* the number of port0 in the trace */
    struct watched       ports[KERNEL_PORTS];
    unsigned             count;
    int64_t              read_ns;    /* when to read again */
    int64_t              event_ns;   /* first event that has not been read after; 0: none */
};

static struct source_kernel *kernel_of(struct live_source *s)
{
    return (struct source_kernel *)(void *)s;
}

static int64_t now_of(const struct source_kernel *s)
{
    return s->base.hands.now_ns(s->base.hands.context);
}

static void put(const struct source_kernel *s, int64_t now_ns, const uint8_t *record, size_t length)
{
    if (length > 0)
        s->base.hands.put(s->base.hands.context, now_ns, record, length);
}

/* A mark "note" on the port. */
__attribute__((format(printf, 4, 5)))
static void note(const struct source_kernel *s, const struct watched *w, int64_t now_ns, const char *format, ...)
{
    uint8_t body[8 + NOTE_BYTES] = { RECORD_NOTE, w->number }, record[RECORD_BYTES];
    va_list arguments;

    va_start(arguments, format);
    int n = vsnprintf((char *)body + 8, NOTE_BYTES, format, arguments);
    va_end(arguments);
    if (n < 0)
        return;
    size_t length = 8 + (n < NOTE_BYTES ? (size_t)n : (size_t)NOTE_BYTES - 1);

    put(s, now_ns, record, record_put(record, sizeof record, RECORD_MARK, RECORD_PORT_BENCH, RECORD_HOST_TIME, 0, body, length));
}

static void cc_put(const struct source_kernel *s, const struct watched *w, int64_t now_ns, uint8_t attach, uint8_t rp)
{
    const uint8_t body[CC_BODY_BYTES] = { attach, rp, CC_NOT_MEASURED, CC_NOT_MEASURED, CC_NOT_MEASURED, CC_NOT_MEASURED };
    uint8_t       record[RECORD_BYTES];

    put(s, now_ns, record, record_put(record, sizeof record, RECORD_CC_STATE, w->number, RECORD_HOST_TIME, 0, body, sizeof body));
}

/* What is plugged in is unknown from here. */
static void detached(const struct source_kernel *s, struct watched *w, int64_t now_ns)
{
    cc_put(s, w, now_ns, 0, 0);
    w->attach = w->rp = 0;
    w->id = w->cable_id = 0;
    memset(w->lists, 0, sizeof w->lists);
    memset(w->identity, 0, sizeof w->identity);
    memset(w->cable, 0, sizeof w->cable);
}

static uint8_t attach_value(unsigned attach)
{
    switch ((enum kernel_attach)attach) {
    case KERNEL_NOTHING:         return 0;
    case KERNEL_ON_CC1:
    case KERNEL_ATTACHED:        return 1; /* a note says that the side is not told */
    case KERNEL_ON_CC2:          return 2;
    case KERNEL_DEBUG_ACCESSORY: return 3;
    case KERNEL_AUDIO_ACCESSORY: return 4;
    }
    return 0;
}

/* "default", "1.5A", "3.0A"; while PD is spoken the kernel does not tell which Rp stands. */
static uint8_t rp_value(const char *operation)
{
    static const char *const words[] = { "default", "1.5A", "3.0A" };

    for (unsigned k = 0; k < sizeof words / sizeof *words; k++)
        if (strcmp(operation, words[k]) == 0)
            return (uint8_t)(k + 1);
    return 0;
}

/* Roles swapped while the plug stays in: no record says so. */
static void roles_tell(const struct source_kernel *s, const struct watched *w, const struct kernel_port *p, int64_t now_ns)
{
    if (w->told && w->attach > 0 && p->attach != KERNEL_NOTHING && w->left_ns == 0 &&
        (strcmp(w->port.power_role, p->power_role) != 0 || strcmp(w->port.data_role, p->data_role) != 0))
        note(s, w, now_ns, "kernel: the partner is %s and %s now", strcmp(p->power_role, "source") == 0 ? "sink" : "source",
             strcmp(p->data_role, "host") == 0 ? "device" : "host");
}

static void attach_tell(const struct source_kernel *s, struct watched *w, const struct kernel_port *p, int64_t now_ns)
{
    uint8_t attach = attach_value(p->attach), rp = attach ? rp_value(p->operation) : 0;

    if (w->told && w->attach > 0 && (attach == 0 || w->left_ns > 0))
        detached(s, w, w->left_ns > 0 ? w->left_ns : now_ns);
    w->left_ns = 0;
    if (w->told && attach == w->attach && (rp == w->rp || attach == 0))
        return;
    if (w->told && attach > 0 && attach == w->attach && rp == 0)
        return; /* PD is spoken now: the Rp is no more than not told */
    cc_put(s, w, now_ns, attach, rp);
    if (p->attach == KERNEL_ATTACHED && w->attach == 0)
        note(s, w, now_ns, "kernel: which way round the plug is in is not told; CC1 stands for it");
    w->attach = attach;
    w->rp = rp;
}

static bool same_objects(const struct kernel_message *a, const struct kernel_message *b)
{
    return a->length == b->length && a->unknown == b->unknown && (a->length < 2 || memcmp(a->bytes + 2, b->bytes + 2, a->length - 2) == 0);
}

static void list_tell(const struct source_kernel *s, struct watched *w, const struct kernel_port *p, bool sink, int64_t now_ns)
{
    struct kernel_message m = kernel_caps_message(p, sink, w->id);
    unsigned              unknown = m.unknown + (sink ? p->partner_sink.left_out : p->partner_source.left_out);
    uint8_t               record[RECORD_BYTES];
    bool                  same = same_objects(&m, &w->lists[sink]);

    w->lists[sink] = m;
    if (same || m.length == 0)
        return;
    w->id = (w->id + 1) & 7;
    put(s, now_ns, record, record_put_packet(record, sizeof record, w->number, RECORD_HOST_TIME, 0, 0, RECORD_NO_CRC, m.bytes, m.length));
    if (unknown > 0)
        note(s, w, now_ns, "kernel: %u objects of the partner's %s capabilities are not told", unknown, sink ? "sink" : "source");
}

/* Who the partner is, or the cable: an answer to a question that nobody saw. */
static void identity_tell(const struct source_kernel *s, struct watched *w, const struct kernel_port *p, bool cable, int64_t now_ns)
{
    unsigned             *id = cable ? &w->cable_id : &w->id;
    uint32_t             *last = cable ? w->cable : w->identity;
    const uint32_t       *words = cable ? p->cable_identity : p->identity;
    struct kernel_message m = kernel_identity_message(p, cable, *id);
    uint8_t               record[RECORD_BYTES];

    if (memcmp(last, words, sizeof w->identity) == 0)
        return;
    memcpy(last, words, sizeof w->identity);
    if (m.length == 0)
        return;
    *id = (*id + 1) & 7;
    put(s, now_ns, record, record_put_packet(record, sizeof record, w->number, RECORD_HOST_TIME, 0, cable ? SET_SOP1 : SET_SOP, RECORD_NO_CRC,
                                             m.bytes, m.length));
}

/* At most one note a second: some supplies measure. */
static void contract_tell(const struct source_kernel *s, struct watched *w, const struct kernel_contract *c, int64_t now_ns)
{
    const struct kernel_contract *last = &w->contract;
    bool                          same = c->told == last->told && c->online == last->online && c->mv == last->mv && c->ma == last->ma;

    if (!c->told || same || (w->contract_ns > 0 && now_ns - w->contract_ns < again_ns && c->online == last->online))
        return;
    bool was = last->told && last->online > 0;

    w->contract = *c;
    w->contract_ns = now_ns;
    if (c->online <= 0) {
        if (was)
            note(s, w, now_ns, "kernel: power supply off");
        return;
    }
    note(s, w, now_ns, "kernel: power supply on%s: %d.%03d V, %d.%03d A at the most", c->online == 2 ? ", programmable" : "",
         c->mv > 0 ? c->mv / 1000 : 0, c->mv > 0 ? c->mv % 1000 : 0, c->ma > 0 ? c->ma / 1000 : 0, c->ma > 0 ? c->ma % 1000 : 0);
}

/* Whose word it is, and how late it may be stamped: an ABOUT record of the port, before its first. */
static void about_put(const struct source_kernel *s, const struct watched *w, int64_t now_ns)
{
    struct utsname system;
    char           text[ABOUT_BYTES];
    uint8_t        record[RECORD_HEADER_BYTES + ABOUT_BYTES];
    int n = snprintf(text, sizeof text, "{\"rebuilt\":[\"kernel\"],\"instrument\":{\"model\":\"Linux %.64s, %s\",\"host_time_ns\":%lld}}",
                     uname(&system) == 0 ? system.release : "", w->port.name, (long long)quiet_most_ns);

    if (n > 0 && n < (int)sizeof text)
        put(s, now_ns, record, record_put(record, sizeof record, RECORD_ABOUT, w->number, RECORD_HOST_TIME, 0, (const uint8_t *)text, (size_t)n));
}

static void presence_tell(const struct source_kernel *s, const struct watched *w, enum live_news news)
{
    struct live_notice n = { .news = news };

    snprintf(n.who, sizeof n.who, "%s", s->one ? "" : w->port.name);
    s->base.hands.notice(s->base.hands.context, &s->base, &n);
}

static void port_read(const struct source_kernel *s, struct watched *w, int64_t now_ns)
{
    struct kernel_port p;
    bool               there = kernel_port_read("", w->port.name, &p);

    if (!there && w->there) {
        if (w->attach > 0)
            detached(s, w, now_ns);
        w->contract = (struct kernel_contract){ .told = false };
        presence_tell(s, w, LIVE_GONE);
    }
    if (there && !w->there && w->told)
        presence_tell(s, w, LIVE_RETURNED);
    w->there = there;
    if (!there)
        return;
    if (!w->told)
        about_put(s, w, now_ns);
    roles_tell(s, w, &p, now_ns);
    attach_tell(s, w, &p, now_ns);
    w->port = p;
    w->told = true;
    if (w->attach > 0) {
        list_tell(s, w, &p, false, now_ns);
        list_tell(s, w, &p, true, now_ns);
        identity_tell(s, w, &p, false, now_ns);
        identity_tell(s, w, &p, true, now_ns);
    }
    contract_tell(s, w, &p.contract, now_ns);
}

/* Ports that have come since. */
static void ports_find(struct source_kernel *s)
{
    char     names[KERNEL_PORTS][KERNEL_NAME];
    unsigned count = kernel_ports_list("", names);

    for (unsigned k = 0; k < count; k++) {
        unsigned long number = strtoul(names[k] + 4, NULL, 10);
        bool          known = s->one && strcmp(names[k], s->name) != 0;

        for (unsigned i = 0; i < s->count; i++)
            known = known || strcmp(s->ports[i].port.name, names[k]) == 0;
        if (known || s->count == KERNEL_PORTS || number + s->first_port >= RECORD_PORT_BENCH)
            continue;
        struct watched *w = &s->ports[s->count++];

        *w = (struct watched){ .number = (uint8_t)(number + s->first_port), .there = true };
        kernel_port_read("", names[k], &w->port);
    }
}

/* An event says that a port's partner went. */
static void event_take(struct source_kernel *s, struct udev_device *device, int64_t now_ns)
{
    const char *action = udev_device_get_action(device), *name = udev_device_get_sysname(device);

    if (!action || !name || strcmp(action, "remove") != 0)
        return;
    for (unsigned k = 0; k < s->count; k++) {
        size_t length = strlen(s->ports[k].port.name);

        if (strncmp(name, s->ports[k].port.name, length) == 0 && strcmp(name + length, "-partner") == 0)
            s->ports[k].left_ns = now_ns;
    }
}

static void events_take(struct source_kernel *s, int64_t now_ns)
{
    struct udev_device *device;

    while ((device = udev_monitor_receive_device(s->monitor)) != NULL) {
        event_take(s, device, now_ns);
        udev_device_unref(device);
        if (s->event_ns == 0)
            s->event_ns = now_ns;
        s->read_ns = now_ns + quiet_ns;
    }
    if (s->event_ns > 0 && s->read_ns > s->event_ns + quiet_most_ns)
        s->read_ns = s->event_ns + quiet_most_ns; /* there is no quiet */
}

static unsigned kernel_watch(struct live_source *source, struct pollfd *fds, unsigned room, int64_t *wake_ns)
{
    struct source_kernel *s = kernel_of(source);

    if (s->read_ns < *wake_ns)
        *wake_ns = s->read_ns;
    if (room == 0 || !s->monitor)
        return 0;
    fds[0] = (struct pollfd){ .fd = udev_monitor_get_fd(s->monitor), .events = POLLIN };
    return 1;
}

static void kernel_work(struct live_source *source, const struct pollfd *fds, unsigned count)
{
    struct source_kernel *s = kernel_of(source);

    if (count > 0 && fds[0].revents)
        events_take(s, now_of(s));
    if (now_of(s) < s->read_ns)
        return;
    s->event_ns = 0;
    ports_find(s);
    for (unsigned k = 0; k < s->count; k++)
        port_read(s, &s->ports[k], now_of(s));
    s->read_ns = now_of(s) + again_ns;
}

static int64_t kernel_reached(const struct live_source *source)
{
    const struct source_kernel *s = (const struct source_kernel *)(const void *)source;

    return s->event_ns > 0 ? s->event_ns : now_of(s); /* what was pulled is stamped with its event */
}

static bool kernel_over(const struct live_source *source)
{
    (void)source;
    return false;
}

/* The device under test is what is plugged in: a source where the port is a sink. */
static const char *kind_of(const struct kernel_port *p)
{
    if (strcmp(p->port_type, "sink") == 0)
        return "source";
    if (strcmp(p->port_type, "source") == 0)
        return "sink";
    if (p->attach == KERNEL_NOTHING)
        return "dual";
    return strcmp(p->power_role, "source") == 0 ? "sink" : "source";
}

static void kernel_about(const struct live_source *source, cJSON *about, bool closing)
{
    const struct source_kernel *s = (const struct source_kernel *)(const void *)source;
    cJSON                    *ports = cJSON_GetObjectItemCaseSensitive(about, "ports");

    if (closing)
        return;
    if (!ports)
        ports = cJSON_AddArrayToObject(about, "ports");
    for (unsigned k = 0; k < s->count; k++) {
        cJSON *one = cJSON_CreateObject();

        cJSON_AddNumberToObject(one, "port", s->ports[k].number);
        cJSON_AddStringToObject(one, "name", s->ports[k].port.name);
        cJSON_AddStringToObject(one, "kind", kind_of(&s->ports[k].port));
        cJSON_AddItemToArray(ports, one);
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

/* Without events the ports are read now and then all the same. */
static void events_open(struct source_kernel *s)
{
    static const char *const subsystems[] = { "typec", "usb_power_delivery", "power_supply" };

    s->udev = udev_new();
    /* The kernel's own events: they come whether or not anybody manages devices here. */
    s->monitor = s->udev ? udev_monitor_new_from_netlink(s->udev, "kernel") : NULL;
    for (unsigned k = 0; s->monitor && k < sizeof subsystems / sizeof *subsystems; k++)
        udev_monitor_filter_add_match_subsystem_devtype(s->monitor, subsystems[k], NULL);
    if (s->monitor && udev_monitor_enable_receiving(s->monitor) < 0) {
        udev_monitor_unref(s->monitor);
        s->monitor = NULL;
    }
}

/* "port1=4", "=4". False: it is neither. */
static bool rest_read(struct source_kernel *s, const char *rest)
{
    const char *equals = rest ? strchr(rest, '=') : NULL;
    size_t      length = equals ? (size_t)(equals - rest) : rest ? strlen(rest) : 0;
    char       *end;

    s->one = length > 0;
    if (length >= sizeof s->name)
        return false;
    snprintf(s->name, sizeof s->name, "%.*s", (int)length, rest ? rest : "");
    if (!equals)
        return true;
    unsigned long first = strtoul(equals + 1, &end, 10);

    s->first_port = (unsigned)first;
    return equals[1] >= '0' && equals[1] <= '9' && *end == '\0' && first < RECORD_PORT_BENCH;
}

static struct live_source *kernel_open(const char *rest, const struct live_hands *hands, struct fault *f)
{
    struct source_kernel *s = calloc(1, sizeof *s);

    if (!s) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    s->base.hands = *hands;
    if (rest_read(s, rest))
        ports_find(s);
    if (s->count == 0) {
        fault_set(f, FAULT_OPEN, ENXIO, 0, NULL);
        kernel_close(&s->base);
        return NULL;
    }
    events_open(s);
    return &s->base;
}

static void found_words(const struct kernel_port *p, char *out, size_t room)
{
    const char *type = strcmp(p->port_type, "dual") == 0 ? " (dual-role)" : strcmp(p->port_type, "sink") == 0 ? " (sink)" :
                       strcmp(p->port_type, "source") == 0 ? " (source)" : "";

    if (p->attach == KERNEL_NOTHING)
        snprintf(out, room, "Type-C port of this machine%s, nothing attached", type);
    else if (p->partner_source.count > 0)
        snprintf(out, room, "Type-C port of this machine%s, partner attached, its offers are told (%u objects)", type, p->partner_source.count);
    else
        snprintf(out, room, "Type-C port of this machine%s, partner attached, its offers are not told", type);
}

static void kernel_find(void (*found)(void *context, const struct live_found *one), void *context)
{
    char     names[KERNEL_PORTS][KERNEL_NAME];
    unsigned count = kernel_ports_list("", names);

    for (unsigned k = 0; k < count; k++) {
        struct live_found  one = { .ports = 1 };
        struct kernel_port p;

        if (!kernel_port_read("", names[k], &p))
            continue;
        snprintf(one.from, sizeof one.from, "kernel:%.*s", KERNEL_NAME - 1, names[k]);
        found_words(&p, one.what, sizeof one.what);
        found(context, &one);
    }
}

const struct live_kind source_kernel_kind = {
    .word = "kernel", .open = kernel_open, .find = kernel_find, .watch = kernel_watch, .work = kernel_work, .reached_ns = kernel_reached,
    .over = kernel_over, .stop = NULL, .about = kernel_about, .close = kernel_close,
};
