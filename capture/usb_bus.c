/* Sniffers on USB: what is plugged in and pulled, and who among them speaks. */
#include "capture/usb_inside.h"

#include "capture/record.h"

#include <stdlib.h>
#include <string.h>

enum { CLASS = 0xFF, SUBCLASS = 0x50, PROTOCOL = 0x01, CAME_MAX = 64 };
#define LOOK_EVERY_NS INT64_C(1000000000)

/* The first bulk IN endpoint; 0: none. */
static uint8_t bulk_in(const struct libusb_interface_descriptor *i)
{
    for (unsigned k = 0; k < i->bNumEndpoints; k++) {
        const struct libusb_endpoint_descriptor *e = &i->endpoint[k];

        if ((e->bmAttributes & 3) == LIBUSB_TRANSFER_TYPE_BULK && e->bEndpointAddress & LIBUSB_ENDPOINT_IN)
            return e->bEndpointAddress;
    }
    return 0;
}

bool usb_is_sniffer(libusb_device *dev, uint8_t *interface, uint8_t *endpoint)
{
    struct libusb_config_descriptor *config;
    bool                             found = false;

    if (libusb_get_active_config_descriptor(dev, &config) != 0 && libusb_get_config_descriptor(dev, 0, &config) != 0)
        return false;
    for (unsigned k = 0; k < config->bNumInterfaces && !found; k++) {
        const struct libusb_interface *i = &config->interface[k];

        if (i->num_altsetting < 1 || i->altsetting->bInterfaceClass != CLASS || i->altsetting->bInterfaceSubClass != SUBCLASS ||
            i->altsetting->bInterfaceProtocol != PROTOCOL)
            continue;
        *interface = i->altsetting->bInterfaceNumber;
        *endpoint = bulk_in(i->altsetting);
        found = *endpoint != 0;
    }
    libusb_free_config_descriptor(config);
    return found;
}

/* Called within libusb: only remembers; what is more than there is room for is found by looking again. */
static int LIBUSB_CALL plugged(libusb_context *usb, libusb_device *dev, libusb_hotplug_event event, void *context)
{
    struct usb_bus *b = context;

    (void)usb;
    if (event == LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED && b->came_count < CAME_MAX)
        b->came[b->came_count++] = libusb_ref_device(dev);
    else if (event == LIBUSB_HOTPLUG_EVENT_DEVICE_LEFT && b->went_count < CAME_MAX)
        b->went[b->went_count++] = libusb_ref_device(dev);
    else
        b->look_at_ns = INT64_MIN;
    return 0;
}

struct usb_bus *usb_bus_open(const struct usb_bus_wish *wish, const struct usb_bus_calls *calls, void *context, struct fault *f)
{
    struct usb_bus *b = calloc(1, sizeof *b);
    int             error = LIBUSB_ERROR_NO_MEM;

    if (b)
        error = libusb_init(&b->usb);
    if (error) {
        fault_set(f, error == LIBUSB_ERROR_NO_MEM ? FAULT_NO_MEMORY : FAULT_USB, 0, error, libusb_strerror(error));
        free(b);
        return NULL;
    }
    b->wish = *wish;
    b->calls = *calls;
    b->context = context;
    b->ports = wish->first_port;
    b->has_hotplug = libusb_has_capability(LIBUSB_CAP_HAS_HOTPLUG) != 0 &&
                     libusb_hotplug_register_callback(b->usb, LIBUSB_HOTPLUG_EVENT_DEVICE_ARRIVED | LIBUSB_HOTPLUG_EVENT_DEVICE_LEFT, 0,
                                                      LIBUSB_HOTPLUG_MATCH_ANY, LIBUSB_HOTPLUG_MATCH_ANY, LIBUSB_HOTPLUG_MATCH_ANY,
                                                      plugged, b, &b->hotplug) == 0;
    b->look_at_ns = INT64_MIN;
    return b;
}

unsigned usb_bus_fds(const struct usb_bus *b, struct pollfd *fds, unsigned room)
{
    const struct libusb_pollfd **list = libusb_get_pollfds(b->usb);
    unsigned                     n = 0;

    for (unsigned k = 0; list && list[k] && n < room; k++)
        fds[n++] = (struct pollfd){ .fd = list[k]->fd, .events = list[k]->events };
    libusb_free_pollfds(list);
    return n;
}

int64_t usb_bus_wake_ns(const struct usb_bus *b)
{
    int64_t wake = b->look_at_ns;

    for (unsigned k = 0; k < b->count; k++) {
        int64_t at = device_wake_ns(&b->devices[k]);

        wake = at < wake ? at : wake;
    }
    return b->came_count + b->went_count ? INT64_MIN : wake;
}

static bool is_open(const struct usb_bus *b, libusb_device *dev)
{
    for (unsigned k = 0; k < b->count; k++) {
        const struct device *d = &b->devices[k];

        if (d->state != DEVICE_ABSENT && d->address == libusb_get_device_address(dev) && d->bus_number == libusb_get_bus_number(dev))
            return true;
    }
    return false;
}

static bool is_wished(const struct usb_bus *b, const char *serial)
{
    for (unsigned k = 0; k < b->wish.serials_count; k++)
        if (strcmp(b->wish.serials[k], serial) == 0)
            return true;
    return b->wish.serials_count == 0;
}

/* One that was here before, by serial number, or without one by its place. NULL: none. */
static struct device *known(struct usb_bus *b, const struct usb_sniffer *s)
{
    for (unsigned k = 0; k < b->count; k++) {
        struct device *d = &b->devices[k];

        if (d->state == DEVICE_ABSENT && d->is.is.ports == s->is.ports && strcmp(d->is.serial, s->serial) == 0 &&
            (s->serial[0] || strcmp(d->is.place, s->place) == 0))
            return d;
    }
    return NULL;
}

static void say(struct usb_bus *b, const struct usb_news *news)
{
    b->calls.news(b->context, news);
}

/* A place among the devices for what has just been asked. NULL: no more room. */
static struct device *place_for(struct usb_bus *b, const struct device *asked, struct usb_news *news)
{
    struct device *d = known(b, &asked->is);

    if (d) {
        news->kind = USB_BACK;
        return d;
    }
    if (b->count == USB_SNIFFERS || b->ports + asked->is.is.ports > RECORD_PORT_BENCH)
        return NULL;
    d = &b->devices[b->count];
    *d = (struct device){ .bus = b, .number = b->count, .is.first_port = b->ports };
    b->ports += asked->is.is.ports;
    b->count++;
    return d;
}

static void take_up(struct usb_bus *b, libusb_device *dev)
{
    struct device   asked = { .bus = b };
    struct usb_news news = { .words = "", .who = &asked.is };

    if (is_open(b, dev) || !usb_is_sniffer(dev, &asked.interface, &asked.endpoint))
        return;
    bool there = device_ask(&asked, dev, &news);

    if (asked.handle) { /* asked: its names are known */
        libusb_release_interface(asked.handle, asked.interface);
        libusb_close(asked.handle);
    }
    if (!is_wished(b, asked.is.serial) && (there || asked.is.serial[0]))
        return;
    if (!there) {
        say(b, &news);
        return;
    }
    struct device *d = place_for(b, &asked, &news);

    if (!d) {
        news.kind = USB_TOO_MANY;
        say(b, &news);
        return;
    }
    enum usb_news_kind kind = news.kind;

    d->interface = asked.interface;
    d->endpoint = asked.endpoint;
    news.sniffer = d->number;
    if (!device_open(d, dev, &news)) {
        say(b, &news);
        device_close(d);
        return;
    }
    news.kind = kind == USB_BACK ? USB_BACK : USB_FOUND;
    news.who = &d->is;
    say(b, &news);
    if (d->is.by_arrivals) {
        news.kind = USB_NO_CLOCK;
        say(b, &news);
    }
}

/* By place, so that the same sniffers on the same sockets have the same ports each time. */
static int by_place(const void *x, const void *y)
{
    libusb_device *const *a = x, *const *b = y;
    uint8_t               at_a[8] = { 0 }, at_b[8] = { 0 };

    libusb_get_port_numbers(*a, at_a, sizeof at_a);
    libusb_get_port_numbers(*b, at_b, sizeof at_b);
    int bus = (int)libusb_get_bus_number(*a) - (int)libusb_get_bus_number(*b);

    return bus ? bus : memcmp(at_a, at_b, sizeof at_a);
}

static void look(struct usb_bus *b)
{
    libusb_device **list;
    ssize_t         n = libusb_get_device_list(b->usb, &list);

    if (n > 0)
        qsort(list, (size_t)n, sizeof *list, by_place);
    for (ssize_t k = 0; k < n; k++)
        take_up(b, list[k]);
    if (n >= 0)
        libusb_free_device_list(list, 1);
    b->look_at_ns = b->has_hotplug ? INT64_MAX : b->calls.now_ns(b->context) + LOOK_EVERY_NS;
}

static void bury(struct usb_bus *b, struct device *d)
{
    struct usb_news news = { .kind = USB_GONE, .sniffer = d->number, .who = &d->is, .words = "" };

    d->state = DEVICE_DYING;
    device_stop(d);
    say(b, &news);
    b->look_at_ns = b->calls.now_ns(b->context) + LOOK_EVERY_NS; /* it may be there all the same */
}

static void come_and_go(struct usb_bus *b)
{
    for (unsigned k = 0; k < b->went_count; k++) {
        for (unsigned n = 0; n < b->count; n++) {
            struct device *d = &b->devices[n];

            if (d->state != DEVICE_ABSENT && libusb_get_device(d->handle) == b->went[k])
                bury(b, d);
        }
        libusb_unref_device(b->went[k]);
    }
    b->went_count = 0;
    for (unsigned k = 0; k < b->came_count; k++) {
        take_up(b, b->came[k]);
        libusb_unref_device(b->came[k]);
    }
    b->came_count = 0;
    if (b->look_at_ns <= b->calls.now_ns(b->context))
        look(b);
}

void usb_bus_work(struct usb_bus *b)
{
    struct timeval none = { 0 };

    libusb_handle_events_timeout_completed(b->usb, &none, NULL);
    for (unsigned k = 0; k < b->count; k++)
        device_work(&b->devices[k]);
    for (unsigned k = 0; k < b->count; k++)
        if (b->devices[k].state == DEVICE_DYING)
            bury(b, &b->devices[k]);
    come_and_go(b);
}

void usb_bus_stop(struct usb_bus *b)
{
    for (unsigned k = 0; k < b->count; k++)
        device_stop(&b->devices[k]);
}

void usb_bus_free(struct usb_bus *b)
{
    if (!b)
        return;
    for (unsigned k = 0; k < b->count; k++)
        if (b->devices[k].state != DEVICE_ABSENT)
            device_close(&b->devices[k]);
    if (b->has_hotplug)
        libusb_hotplug_deregister_callback(b->usb, b->hotplug);
    for (unsigned k = 0; k < b->came_count; k++)
        libusb_unref_device(b->came[k]);
    for (unsigned k = 0; k < b->went_count; k++)
        libusb_unref_device(b->went[k]);
    libusb_exit(b->usb);
    free(b);
}

const struct usb_sniffer *usb_bus_sniffer(const struct usb_bus *b, unsigned k)
{
    return k < b->count ? &b->devices[k].is : NULL;
}

bool usb_bus_look(void (*told)(void *context, const struct usb_news *news), void *context, struct fault *f)
{
    struct usb_bus_calls calls = { .news = told };
    struct usb_bus_wish  wish = { 0 };
    struct usb_bus      *b = usb_bus_open(&wish, &calls, context, f);
    libusb_device      **list;

    if (!b)
        return false;
    ssize_t n = libusb_get_device_list(b->usb, &list);

    for (ssize_t k = 0; k < n; k++) {
        struct device   d = { .bus = b };
        struct usb_news news = { .words = "", .who = &d.is };

        if (!usb_is_sniffer(list[k], &d.interface, &d.endpoint))
            continue;
        device_ask(&d, list[k], &news);
        told(context, &news);
        if (d.handle) {
            libusb_release_interface(d.handle, d.interface);
            libusb_close(d.handle);
        }
    }
    if (n >= 0)
        libusb_free_device_list(list, 1);
    usb_bus_free(b);
    return true;
}
