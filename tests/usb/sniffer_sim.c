/*
 * Sniffers behind the kernel interface that libusb talks to: umockdev hands every ioctl on their device nodes to this program, which
 * answers as usbfs and a sniffer would. The client is started as a child and knows nothing of it.
 *
 *   umockdev-wrapper sniffer_sim [options] -- client ...
 *
 *   -d N        devices (1)                -p N    ports each (1)             -n N     frames each (1000)
 *   -r N        frames a second (0: as fast as they are fetched)              -c PPM   clock of device k is k x PPM off, from -PPM/2 on
 *   -s BYTES    at most so many bytes a transfer                              -g N     garbage (13 bytes) before every N-th frame
 *   -m N        every N-th frame is not sent: a gap                           -u N     pulled after N frames
 *   -b MS       and back after MS          -l MS   plugged in after MS        -e       a pull ends transfers as an error, not as gone
 *   -x FAULT    short-describe, version, no-ports, no-start, no-clock, no-rights, owner (only root may), restart (after a third), stall (after a third)
 *   -a N        after N frames nothing more, and the client gets SIGINT       -w MS    an answer of CLOCK takes up to MS more
 *   -k N        every N-th frame is a CC_EDGES record, if START asked for them
 *   -y N        the last N frames are never sent
 *   -t          a busy bench: 2,000 packets a second and port, POWER at 10 kS/s of volts and amperes, in transfers of 16 KiB
 *
 * Frames hold MARK records "load set" whose value counts from 0, so that what is missing, doubled or out of order shows.
 */
#include "tests/usb/sim_bytes.h"

#include <umockdev.h>

#include <errno.h>
#include <linux/usbdevice_fs.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { DEVICES = 4, TRANSFER_MAX = 65536, FRAME_MAX = 8192, DESCRIBE = 1, START, STOP, CLOCK };

struct urb { UMockdevIoctlData *urb, *buffer; };

struct sniffer {
    unsigned             number;
    UMockdevIoctlBase   *ioctl;
    char                 node[64], path[96];
    GQueue               waiting, finished;
    UMockdevIoctlClient *held; /* a question for finished transfers that is answered later */
    bool                 plugged, streaming, stalled_once, restarted, stalled;
    uint32_t             sequence;
    int64_t              started_us;
    uint32_t             wanted;     /* of START */
    long                 sent, made;   /* made: frames that exist, sent or not */
    int64_t              filled_ns;    /* -t: up to when transfers were filled */
    uint8_t              rest[FRAME_MAX]; /* of a frame that did not fit */
    size_t               rest_length;
};

static struct settings {
    unsigned    devices, ports;
    long        frames, rate, transfer, garbage, gap, pull, back_ms, late_ms, stop_after, slow_ms, edges, tail;
    double      ppm;
    bool        error, talk;
    const char *fault;
} set = { .devices = 1, .ports = 1, .frames = 1000, .transfer = TRANSFER_MAX, .pull = -1, .back_ms = -1, .late_ms = -1, .stop_after = -1, .fault = "" };

static UMockdevTestbed *bed;
static GMainLoop       *loop;
static struct sniffer   sniffers[DEVICES];
static GPid             client;
static int              client_status = 2;
static long             asked_clock, ioctls;

static bool fault_is(const char *name)
{
    return strcmp(set.fault, name) == 0;
}

/* Descriptors as the kernel shows them: one interface FF/50/01 with a bulk IN endpoint 0x81. */
static const uint8_t descriptors[] = {
    18, 1, 0x00, 0x02, 0, 0, 0, 64, 0x09, 0x12, 0x42, 0x00, 0x00, 0x01, 0, 2, 3, 1,
    9, 2, 25, 0, 1, 1, 0, 0x80, 50,
    9, 4, 0, 0, 1, 0xFF, 0x50, 0x01, 0,
    7, 5, 0x81, 2, 0x00, 0x02, 0,
};

static void plug(struct sniffer *s)
{
    GError  *error = NULL;
    GString *t = g_string_new(NULL);
    unsigned n = s->number + 2;

    g_string_printf(t, "P: /devices/pci0000:00/usb1/1-%u\nN: bus/usb/001/%03u\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_device\n"
                       "E: DEVNAME=/dev/bus/usb/001/%03u\nE: BUSNUM=001\nE: DEVNUM=%03u\nE: MAJOR=189\nE: MINOR=%u\nA: busnum=1\\n\n"
                       "A: devnum=%u\\n\nA: devpath=%u\\n\nA: speed=480\\n\nA: bConfigurationValue=1\\n\nA: bNumConfigurations=1\\n\n"
                       "A: idVendor=1209\\n\nA: idProduct=0042\\n\nH: descriptors=", s->number + 1, n, n, n, n - 1, n, s->number + 1);
    for (size_t k = 0; k < sizeof descriptors; k++)
        g_string_append_printf(t, "%02X", descriptors[k]);
    g_string_append(t, "\n\n");
    snprintf(s->node, sizeof s->node, "/dev/bus/usb/001/%03u", n);
    snprintf(s->path, sizeof s->path, "/sys/devices/pci0000:00/usb1/1-%u", s->number + 1);
    s->plugged = true;
    s->streaming = s->stalled = false;
    /* The answering side first: the new device is announced at once. */
    if (!umockdev_testbed_attach_ioctl(bed, s->node, s->ioctl, &error) || !umockdev_testbed_add_from_string(bed, t->str, &error))
        g_error("%s", error->message);
    g_string_free(t, TRUE);
    if (fault_is("no-rights")) {
        char *real = g_strdup_printf("%s%s", umockdev_testbed_get_root_dir(bed), s->node);

        unlink(real);
        if (mkdir(real, 0700)) /* a folder: it cannot be opened to write, whoever asks */
            perror(real);
        g_free(real);
    }
    if (fault_is("owner")) { /* a node as the kernel makes it, before any rule of udev: its owner's alone */
        char *command = g_strdup_printf("cd '%s' && chmod -R a+rwX . && chmod 0600 '.%s'", umockdev_testbed_get_root_dir(bed), s->node);

        fputs(system(command) ? "the rights were not taken\n" : "", stderr);
        g_free(command);
    }
}

static void finish(struct sniffer *s, struct urb *u, int status, int length)
{
    struct usbdevfs_urb head;

    memcpy(&head, u->urb->data, sizeof head);
    head.status = status;
    head.actual_length = length;
    umockdev_ioctl_data_update(u->urb, G_STRUCT_OFFSET(struct usbdevfs_urb, status), (guint8 *)&head.status, sizeof head.status);
    umockdev_ioctl_data_update(u->urb, G_STRUCT_OFFSET(struct usbdevfs_urb, actual_length), (guint8 *)&head.actual_length,
                               sizeof head.actual_length);
    g_queue_push_tail(&s->finished, u);
}

static gboolean plug_later(gpointer data)
{
    plug(data);
    return G_SOURCE_REMOVE;
}

static void pull(struct sniffer *s)
{
    struct urb *u;

    s->plugged = false;
    while ((u = g_queue_pop_head(&s->waiting)) != NULL)
        finish(s, u, set.error ? -EPROTO : -ESHUTDOWN, 0);
    umockdev_testbed_uevent(bed, s->path, "remove");
    umockdev_testbed_detach_ioctl(bed, s->node, NULL);
    umockdev_testbed_remove_device(bed, s->path);
    if (set.back_ms >= 0)
        g_timeout_add((guint)set.back_ms, plug_later, s);
}

/* Frames. */

static double device_ppm(const struct sniffer *s)
{
    return set.ppm * (s->number - 0.5 * (set.devices > 1));
}

static int64_t device_ns(const struct sniffer *s)
{
    return (int64_t)((double)(g_get_monotonic_time() - s->started_us) * 1000 * (1 + device_ppm(s) * 1e-6));
}

enum { EDGES_WANTED = 8 };

/* The next frame, garbage before it included; 0: none to be had now. */
static size_t frame_make(struct sniffer *s, uint8_t *at)
{
    size_t n = 0;

    if (s->made == set.frames - set.tail && set.tail > 0) {
        s->sequence += (uint32_t)set.tail;
        s->made = set.frames;
    }
    if (s->made >= set.frames || (set.rate > 0 && s->made >= device_ns(s) / 1000 * set.rate / 1000000))
        return 0;
    if (set.gap > 0 && s->made % set.gap == set.gap - 1) {
        s->made++;
        s->sequence++;
    }
    if (set.garbage > 0 && s->made % set.garbage == 0) {
        memset(at, 0x44, 13); /* the first byte of a magic, over and over */
        n = 13;
    }
    if (fault_is("restart") && !s->restarted && s->made >= set.frames / 3) {
        s->restarted = true;
        s->sequence = 0;
        s->started_us = g_get_monotonic_time();
    }
    int64_t time_ns = set.rate > 0 ? s->made * 1000000000 / set.rate : device_ns(s);

    bool    edges = set.edges > 0 && s->made % set.edges == 0 && s->wanted & EDGES_WANTED;
    uint8_t body[64];
    size_t  length = edges ? edges_put(body) : mark_put(body, s->made);

    n += put(at + n, 0x5044, 2) + put(at + n + 2, 8 + length, 2) + put(at + n + 4, s->sequence, 4) + put(at + n + 8, (uint64_t)time_ns, 8);
    n += put(at + n, 1, 1) + put(at + n + 1, edges ? 9 : 5, 1) + put(at + n + 2, (uint64_t)s->made % set.ports, 1) + put(at + n + 3, 0, 1);
    n += put(at + n, 0, 4);
    memcpy(at + n, body, length);
    n += length;
    s->sequence++;
    s->made++;
    s->sent++;
    return n;
}

/* Of each 50 ms: a hundred packets a port, one each half millisecond, then a POWER record of each that tells of all of it. */
enum { TALK_PACKETS = 100 };
static const int64_t talk_unit_ns = 50000000, talk_step_ns = 500000, talk_fill_ns = 13500000;

static size_t talk_make(struct sniffer *s, uint8_t *at)
{
    long    each = (TALK_PACKETS + 1) * (long)set.ports, unit = s->made / each, k = s->made % each;
    bool    packet = k < TALK_PACKETS * (long)set.ports;
    int64_t begins = unit * talk_unit_ns, time_ns = packet ? begins + k / (long)set.ports * talk_step_ns : begins;
    size_t  n = 16;

    if (device_ns(s) < (packet ? time_ns + talk_step_ns : begins + talk_unit_ns))
        return 0;
    n += put(at + n, 1, 1) + put(at + n + 1, packet ? 1 : 3, 1) + put(at + n + 2, (uint64_t)k % set.ports, 1) + put(at + n + 3, 0, 1);
    n += put(at + n, packet ? 496667 : 0, 4);
    n += packet ? talk_packet(at + n) : talk_power(at + n, s->made);
    put(at, 0x5044, 2);
    put(at + 2, n - 16, 2);
    put(at + 4, s->sequence++, 4);
    put(at + 8, (uint64_t)time_ns, 8);
    s->made++;
    s->sent++;
    return n;
}

static int fill(struct sniffer *s, uint8_t *out, size_t room)
{
    size_t n = s->rest_length;

    memcpy(out, s->rest, n);
    s->rest_length = 0;
    while (n < room && s->streaming) { /* what is left of a frame comes after STOP too */
        uint8_t frame[FRAME_MAX];
        size_t  length = set.talk ? talk_make(s, frame) : frame_make(s, frame), fits = length < room - n ? length : room - n;

        if (length == 0)
            break;
        memcpy(out + n, frame, fits);
        n += fits;
        memcpy(s->rest, frame + fits, length - fits); /* frames cross the borders of transfers */
        s->rest_length = length - fits;
    }
    return (int)n;
}

static void stop_client(void)
{
    kill(client, SIGINT);
}

/* One transfer is filled at a time, so that others are in flight when the plug is pulled. */
static void produce(struct sniffer *s)
{
    struct usbdevfs_urb head;
    uint8_t             bytes[TRANSFER_MAX];
    struct urb         *u = g_queue_peek_head(&s->waiting);

    if (!u || (!s->streaming && s->rest_length == 0) || !s->plugged)
        return;
    if (fault_is("stall") && !s->stalled_once && s->made >= set.frames / 3) {
        s->stalled_once = s->stalled = true;
        while ((u = g_queue_pop_head(&s->waiting)) != NULL)
            finish(s, u, -EPIPE, 0);
        return;
    }
    if (s->stalled)
        return;
    if (set.talk && device_ns(s) < s->filled_ns + talk_fill_ns)
        return;
    s->filled_ns = device_ns(s);
    memcpy(&head, u->urb->data, sizeof head);
    size_t room = (size_t)(head.buffer_length < set.transfer ? head.buffer_length : set.transfer);
    int    length = fill(s, bytes, room);

    if (length == 0)
        return;
    g_queue_pop_head(&s->waiting);
    umockdev_ioctl_data_update(u->buffer, 0, bytes, length);
    finish(s, u, 0, length);
    if (set.pull >= 0 && s->number == 0 && s->made >= set.pull) {
        set.pull = -1;
        pull(s);
    }
    if (set.stop_after >= 0 && s->made >= set.stop_after) {
        set.stop_after = -1;
        stop_client();
    }
}

/* usbfs. */

static bool reap(struct sniffer *s, UMockdevIoctlClient *c)
{
    struct urb *u = g_queue_pop_head(&s->finished);

    if (!u)
        return false;
    UMockdevIoctlData *place = umockdev_ioctl_data_resolve(umockdev_ioctl_client_get_arg(c), 0, sizeof(void *), NULL);

    umockdev_ioctl_data_set_ptr(place, 0, u->urb);
    umockdev_ioctl_client_complete(c, 0, 0);
    umockdev_ioctl_data_unref(place);
    umockdev_ioctl_data_unref(u->urb);
    if (u->buffer)
        umockdev_ioctl_data_unref(u->buffer);
    g_free(u);
    return true;
}

static gboolean answer_held(gpointer data)
{
    struct sniffer      *s = data;
    UMockdevIoctlClient *c = s->held;

    s->held = NULL;
    produce(s);
    if (!reap(s, c))
        umockdev_ioctl_client_complete(c, -1, s->plugged ? EAGAIN : ENODEV);
    g_object_unref(c);
    return G_SOURCE_REMOVE;
}

struct slow { struct sniffer *s; struct urb *u; };

static gboolean clock_later(gpointer data)
{
    struct slow *w = data;

    if (w->s->plugged)
        finish(w->s, w->u, 0, 16);
    else
        finish(w->s, w->u, -ESHUTDOWN, 0);
    g_free(w);
    return G_SOURCE_REMOVE;
}

static void answer_clock(struct sniffer *s, struct urb *u)
{
    uint8_t answer[16] = { 0 };

    asked_clock++;
    put(answer, (uint64_t)device_ns(s), 8);
    put(answer + 8, s->sequence, 4);
    umockdev_ioctl_data_update(u->buffer, 8, answer, sizeof answer);
    long wait = set.slow_ms > 0 ? g_random_int_range(0, (gint32)set.slow_ms + 1) : 0;

    if (wait > 0) {
        struct slow *w = g_new(struct slow, 1);

        *w = (struct slow){ s, u };
        g_timeout_add((guint)wait, clock_later, w);
    } else {
        finish(s, u, 0, 16);
    }
}

static void answer_describe(struct sniffer *s, struct urb *u)
{
    uint8_t answer[40] = { 0 };
    int     length = fault_is("short-describe") ? 20 : 40;

    put(answer, fault_is("version") ? 2 : 1, 1);
    put(answer + 1, fault_is("no-ports") ? 0 : set.ports, 1);
    put(answer + 4, 50, 4);      /* clock_ppm */
    put(answer + 8, 500, 4);     /* volts: gain, offset */
    put(answer + 12, 1000, 4);
    put(answer + 16, 1000, 4);   /* amperes: gain, offset */
    put(answer + 20, 2000, 4);
    put(answer + 24, 100000, 4); /* shortest interval */
    put(answer + 28, 300, 4);    /* noise of volts, of amperes; time_ns */
    put(answer + 32, 400, 4);
    put(answer + 36, 84, 4);
    umockdev_ioctl_data_update(u->buffer, 8, answer, length);
    finish(s, u, 0, length);
}

static void answer_string(struct sniffer *s, struct urb *u, unsigned index)
{
    char    text[32];
    uint8_t answer[64] = { 4, 3, 0x09, 0x04 };
    size_t  n = 4;

    if (index > 0) {
        snprintf(text, sizeof text, index == 3 ? "PA-%04u" : "made-up sniffer", s->number + 1);
        n = 2;
        for (const char *c = text; *c; c++, n += 2)
            put(answer + n, (uint8_t)*c, 2);
        answer[0] = (uint8_t)n;
        answer[1] = 3;
    }
    struct usbdevfs_urb head;

    memcpy(&head, u->urb->data, sizeof head);
    size_t room = (size_t)head.buffer_length - 8;

    n = n < room ? n : room;
    umockdev_ioctl_data_update(u->buffer, 8, answer, (gint)n);
    finish(s, u, 0, (int)n);
}

static void answer_control(struct sniffer *s, struct urb *u)
{
    const uint8_t *setup = u->buffer->data;

    if (setup[0] == 0x80 && setup[1] == 6 && setup[3] == 3)
        answer_string(s, u, setup[2]);
    else if (setup[0] == 0xC1 && setup[1] == DESCRIBE)
        answer_describe(s, u);
    else if (setup[0] == 0x41 && setup[1] == START && !fault_is("no-start")) {
        s->streaming = true;
        s->sequence = 0;
        s->rest_length = 0;
        s->started_us = g_get_monotonic_time();
        memcpy(&s->wanted, u->buffer->data + 8, sizeof s->wanted);
        fprintf(stderr, "started: PA-%04u at %lld ns, %+.1f ppm\n", s->number + 1, (long long)s->started_us * 1000, device_ppm(s));
        finish(s, u, 0, 8);
    } else if (setup[0] == 0x41 && setup[1] == STOP) {
        s->streaming = false;
        finish(s, u, 0, 0);
    } else if (setup[0] == 0xC1 && setup[1] == CLOCK && !fault_is("no-clock"))
        answer_clock(s, u);
    else
        finish(s, u, -EPIPE, 0); /* a stall */
}

static void submit(struct sniffer *s, UMockdevIoctlClient *c, UMockdevIoctlData *arg)
{
    struct usbdevfs_urb head;

    if (!s->plugged) {
        umockdev_ioctl_client_complete(c, -1, ENODEV);
        return;
    }
    struct urb *u = g_new0(struct urb, 1);

    u->urb = umockdev_ioctl_data_resolve(arg, 0, sizeof head, NULL);
    memcpy(&head, u->urb->data, sizeof head);
    u->buffer = umockdev_ioctl_data_resolve(u->urb, G_STRUCT_OFFSET(struct usbdevfs_urb, buffer), (gsize)head.buffer_length, NULL);
    umockdev_ioctl_client_complete(c, 0, 0);
    if (head.type == USBDEVFS_URB_TYPE_CONTROL)
        answer_control(s, u);
    else
        g_queue_push_tail(&s->waiting, u);
}

static void discard(struct sniffer *s, UMockdevIoctlClient *c, UMockdevIoctlData *arg)
{
    gulong address;

    memcpy(&address, arg->data, sizeof address);
    for (GList *l = s->waiting.head; l; l = l->next) {
        struct urb *u = l->data;

        if (u->urb->client_addr == address) {
            g_queue_delete_link(&s->waiting, l);
            finish(s, u, -ENOENT, 0);
            umockdev_ioctl_client_complete(c, 0, 0);
            return;
        }
    }
    umockdev_ioctl_client_complete(c, -1, s->plugged ? EINVAL : ENODEV);
}

static void say_capabilities(UMockdevIoctlClient *c, UMockdevIoctlData *arg)
{
    guint32 can = USBDEVFS_CAP_ZERO_PACKET | USBDEVFS_CAP_BULK_CONTINUATION | USBDEVFS_CAP_NO_PACKET_SIZE_LIM |
                  USBDEVFS_CAP_BULK_SCATTER_GATHER | USBDEVFS_CAP_REAP_AFTER_DISCONNECT;
    UMockdevIoctlData *d = umockdev_ioctl_data_resolve(arg, 0, sizeof can, NULL);

    umockdev_ioctl_data_update(d, 0, (guint8 *)&can, sizeof can);
    umockdev_ioctl_data_unref(d);
    umockdev_ioctl_client_complete(c, 0, 0);
}

static gboolean on_ioctl(UMockdevIoctlBase *base, UMockdevIoctlClient *c, gpointer data)
{
    struct sniffer    *s = data;
    UMockdevIoctlData *arg = umockdev_ioctl_client_get_arg(c);

    (void)base;
    ioctls++;
    switch (umockdev_ioctl_client_get_request(c)) {
    case USBDEVFS_GET_CAPABILITIES:
        say_capabilities(c, arg);
        return TRUE;
    case USBDEVFS_CLEAR_HALT:
        s->stalled = false;
        umockdev_ioctl_client_complete(c, s->plugged ? 0 : -1, s->plugged ? 0 : ENODEV);
        return TRUE;
    case USBDEVFS_CLAIMINTERFACE:
    case USBDEVFS_RELEASEINTERFACE:
    case USBDEVFS_SETINTERFACE:
    case USBDEVFS_RESET:
    case USBDEVFS_SETCONFIGURATION:
        umockdev_ioctl_client_complete(c, s->plugged ? 0 : -1, s->plugged ? 0 : ENODEV);
        return TRUE;
    case USBDEVFS_SUBMITURB:
        submit(s, c, arg);
        return TRUE;
    case USBDEVFS_REAPURB:
    case USBDEVFS_REAPURBNDELAY:
        produce(s);
        if (reap(s, c))
            return TRUE;
        if (!s->plugged) {
            umockdev_ioctl_client_complete(c, -1, ENODEV);
            return TRUE;
        }
        s->held = g_object_ref(c); /* the node is a plain file, always ready: without a wait the client would spin */
        g_timeout_add(1, answer_held, s);
        return TRUE;
    case USBDEVFS_DISCARDURB:
        discard(s, c, arg);
        return TRUE;
    default:
        umockdev_ioctl_client_complete(c, -1, ENOTTY);
        return TRUE;
    }
}

static void client_ended(GPid pid, gint status, gpointer data)
{
    (void)pid;
    (void)data;
    client_status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    g_main_loop_quit(loop);
}

static bool option(int o, const char *value)
{
    long *const numbers[128] = {
        ['n'] = &set.frames, ['r'] = &set.rate, ['s'] = &set.transfer, ['g'] = &set.garbage, ['m'] = &set.gap, ['u'] = &set.pull,
        ['b'] = &set.back_ms, ['l'] = &set.late_ms, ['a'] = &set.stop_after, ['w'] = &set.slow_ms,
        ['k'] = &set.edges, ['y'] = &set.tail,
    };

    if (o == 'd')
        set.devices = (unsigned)atoi(value);
    else if (o == 'p')
        set.ports = (unsigned)atoi(value);
    else if (o == 'c')
        set.ppm = atof(value);
    else if (o == 'x')
        set.fault = value;
    else if (o == 'e')
        set.error = true;
    else if (o == 't')
        set.talk = true;
    else if (o > 0 && o < 128 && numbers[o])
        *numbers[o] = atol(value);
    else
        return false;
    return set.devices <= DEVICES;
}

int main(int argc, char **argv)
{
    GError *error = NULL;
    int     o;

    while ((o = getopt(argc, argv, "+d:p:n:r:c:s:g:m:u:b:l:a:w:x:k:y:et")) != -1)
        if (!option(o, optarg))
            return 2;
    loop = g_main_loop_new(NULL, FALSE);
    bed = umockdev_testbed_new();
    if (!umockdev_in_mock_environment()) {
        fprintf(stderr, "%s: to be run by umockdev-wrapper\n", argv[0]);
        return 2;
    }
    for (unsigned k = 0; k < set.devices; k++) {
        struct sniffer *s = &sniffers[k];

        s->number = k;
        g_queue_init(&s->waiting);
        g_queue_init(&s->finished);
        s->ioctl = umockdev_ioctl_base_new();
        g_signal_connect(s->ioctl, "handle-ioctl", G_CALLBACK(on_ioctl), s);
        if (set.late_ms >= 0)
            g_timeout_add((guint)set.late_ms, plug_later, s);
        else
            plug(s);
    }
    if (!g_spawn_async(NULL, argv + optind, NULL, G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH, NULL, NULL, &client, &error)) {
        fprintf(stderr, "%s\n", error->message);
        return 2;
    }
    g_child_watch_add(client, client_ended, NULL);
    g_main_loop_run(loop);
    fprintf(stderr, "simulated: %ld frames sent, %ld ioctls, %ld times CLOCK\n", sniffers[0].sent, ioctls, asked_clock);
    return client_status;
}
