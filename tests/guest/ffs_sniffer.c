/*
 * A sniffer made of a FunctionFS gadget, so that a real kernel's USB stands between it and the recorder. It speaks the USB form of
 * traces/FORMAT.md with one port; its records are marks whose value counts from 0, INVENTED.
 *
 *   ffs_sniffer MOUNT UDC_FILE UDC RECORDS PULL_AFTER BACK_MS     pulled once after so many records (0: never), back after BACK_MS
 */
#define _GNU_SOURCE
#include <endian.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/usb/functionfs.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { DESCRIBE = 1, START, STOP, CLOCK, FRAME_BYTES = 36, FRAMES_A_WRITE = 400 };

struct one { struct usb_interface_descriptor i; struct usb_endpoint_descriptor_no_audio e; } __attribute__((packed));
struct descriptors {
    struct usb_functionfs_descs_head_v2 head;
    uint32_t full_count, high_count;
    struct one full, high;
} __attribute__((packed));
struct names { struct usb_functionfs_strings_head head; uint16_t language; char text[8]; } __attribute__((packed));

static struct {
    const char *mount, *udc_file, *udc;
    long        records, pull_after, back_ms, made;
    int64_t     started_ns;
    uint32_t    sequence;
    volatile int streaming;
} it;

static int64_t now_ns(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static struct one interface_of(uint16_t packet)
{
    struct one o = {
        .i = { .bLength = 9, .bDescriptorType = USB_DT_INTERFACE, .bNumEndpoints = 1, .bInterfaceClass = 0xFF, .bInterfaceSubClass = 0x50,
               .bInterfaceProtocol = 1, .iInterface = 1 },
        .e = { .bLength = 7, .bDescriptorType = USB_DT_ENDPOINT, .bEndpointAddress = 1 | USB_DIR_IN,
               .bmAttributes = USB_ENDPOINT_XFER_BULK, .wMaxPacketSize = htole16(packet) },
    };

    return o;
}

static void bind_to(const char *udc)
{
    int fd = open(it.udc_file, O_WRONLY);

    if (fd < 0 || write(fd, udc, strlen(udc)) < 0)
        perror(it.udc_file);
    if (fd >= 0)
        close(fd);
}

static void put(uint8_t *at, uint64_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        at[k] = (uint8_t)(value >> 8 * k);
}

static void frame_make(uint8_t *at)
{
    memset(at, 0, FRAME_BYTES);
    put(at, 0x5044, 2);
    put(at + 2, FRAME_BYTES - 16, 2);
    put(at + 4, it.sequence++, 4);
    put(at + 8, (uint64_t)(now_ns() - it.started_ns), 8);
    at[16] = 1;      /* version, MARK, port 0, INVENTED */
    at[17] = 5;
    at[19] = 4;
    at[24] = 3;      /* load set, of no port */
    at[25] = 255;
    put(at + 28, (uint64_t)it.made++, 4);
    memcpy(at + 32, "mark", 4);
}

static void *stream(void *unused)
{
    static uint8_t bytes[FRAME_BYTES * FRAMES_A_WRITE];
    char           path[300];
    long           pull = it.pull_after;

    (void)unused;
    snprintf(path, sizeof path, "%s/ep1", it.mount);
    int fd = open(path, O_RDWR);

    while (it.made < it.records) {
        while (!it.streaming)
            usleep(1000);
        for (unsigned k = 0; k < FRAMES_A_WRITE; k++)
            frame_make(bytes + k * FRAME_BYTES);
        if (write(fd, bytes, sizeof bytes) < 0) {
            it.streaming = 0;
            continue;
        }
        if (pull > 0 && it.made >= pull) {
            pull = 0;
            it.streaming = 0;
            bind_to("\n");
            usleep((useconds_t)it.back_ms * 1000);
            bind_to(it.udc);
        }
    }
    return NULL;
}

static void answer(int ep0, const struct usb_ctrlrequest *s)
{
    uint8_t  bytes[40] = { 0 };
    size_t   wanted = le16toh(s->wLength), length = 0;

    if (s->bRequest == DESCRIBE) {
        length = 40;
        bytes[0] = bytes[1] = 1;
        put(bytes + 4, 50, 4);
        put(bytes + 24, 100000, 4);
        put(bytes + 36, 100, 4);
    } else if (s->bRequest == CLOCK) {
        length = 16;
        put(bytes, (uint64_t)(now_ns() - it.started_ns), 8);
        put(bytes + 8, it.sequence, 4);
    }
    if (length == 0) {
        if (read(ep0, NULL, 0) < 0 && errno != EL2HLT) /* the wrong direction: it stalls */
            perror("stall");
        return;
    }
    if (write(ep0, bytes, length < wanted ? length : wanted) < 0)
        perror("answer");
}

static void take(int ep0, const struct usb_ctrlrequest *s)
{
    uint8_t bytes[64];
    size_t  length = le16toh(s->wLength);

    if (s->bRequest != START && s->bRequest != STOP) {
        if (write(ep0, NULL, 0) < 0 && errno != EL2HLT)
            perror("stall");
        return;
    }
    if (read(ep0, bytes, length < sizeof bytes ? length : sizeof bytes) < 0)
        perror("take");
    if (s->bRequest == START) {
        it.started_ns = now_ns();
        it.sequence = 0;
    }
    it.streaming = s->bRequest == START;
}

static void serve(int ep0)
{
    struct usb_functionfs_event events[4];

    for (;;) {
        ssize_t n = read(ep0, events, sizeof events);

        for (ssize_t k = 0; n > 0 && k < n / (ssize_t)sizeof *events; k++) {
            const struct usb_ctrlrequest *s = &events[k].u.setup;

            if (events[k].type == FUNCTIONFS_DISABLE || events[k].type == FUNCTIONFS_UNBIND)
                it.streaming = 0;
            if (events[k].type != FUNCTIONFS_SETUP)
                continue;
            if (s->bRequestType & USB_DIR_IN)
                answer(ep0, s);
            else
                take(ep0, s);
        }
    }
}

int main(int argc, char **argv)
{
    struct descriptors d = { .head = { htole32(FUNCTIONFS_DESCRIPTORS_MAGIC_V2), htole32(sizeof d),
                                       htole32(FUNCTIONFS_HAS_FS_DESC | FUNCTIONFS_HAS_HS_DESC) },
                             .full_count = htole32(2), .high_count = htole32(2), .full = interface_of(64), .high = interface_of(512) };
    struct names n = { { htole32(FUNCTIONFS_STRINGS_MAGIC), htole32(sizeof n), htole32(1), htole32(1) }, htole16(0x0409), "sniffer" };
    char      path[300];
    pthread_t streamer;

    if (argc != 7)
        return 2;
    it.mount = argv[1];
    it.udc_file = argv[2];
    it.udc = argv[3];
    it.records = atol(argv[4]);
    it.pull_after = atol(argv[5]);
    it.back_ms = atol(argv[6]);
    snprintf(path, sizeof path, "%s/ep0", it.mount);
    int ep0 = open(path, O_RDWR);

    if (ep0 < 0 || write(ep0, &d, sizeof d) < 0 || write(ep0, &n, sizeof n) < 0) {
        perror(path);
        return 1;
    }
    pthread_create(&streamer, NULL, stream, NULL);
    bind_to(it.udc);
    serve(ep0);
}
