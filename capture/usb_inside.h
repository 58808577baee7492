/* capture/usb_inside.h - one sniffer as the bus holds it. Within capture only. */
#pragma once
#include "capture/usb_bus.h"
#include "capture/usb_frames.h"

#include <libusb.h>

/* In flight: 2 MiB a sniffer, at 200 kB/s the data of ten seconds. */
enum { USB_TRANSFERS = 32, USB_TRANSFER_BYTES = 16384, USB_ASKS_FIRST = 32 };
#define USB_ASK_EVERY_NS INT64_C(1000000000)

struct device;

struct transfer {
    struct device          *device;
    struct libusb_transfer *usb;
    int64_t                 arrived_ns;
    bool                    in_flight, done;
    uint8_t                 bytes[USB_TRANSFER_BYTES];
};

enum device_state { DEVICE_ABSENT, DEVICE_RUNS, DEVICE_DYING };

struct device {
    struct usb_bus       *bus;
    unsigned              number;
    enum device_state     state;
    struct usb_sniffer    is;
    libusb_device_handle *handle;
    uint8_t               address, bus_number;
    uint8_t               interface, endpoint;
    struct usb_frames    *frames;
    struct clock_tie      tie;
    struct transfer      *transfers; /* USB_TRANSFERS */
    unsigned              order[USB_TRANSFERS], order_from, order_count; /* as they were submitted: data come in that order */
    unsigned              errors;    /* in a row, without data between */
    bool                  gone;      /* the host said so */
    struct libusb_transfer *ask;     /* CLOCK; NULL: none */
    uint8_t               ask_bytes[LIBUSB_CONTROL_SETUP_SIZE + 16];
    bool                  asking, asked_done;
    int64_t               asked_ns, heard_ns, ask_at_ns;
    unsigned              unanswered;
};

struct usb_bus {
    libusb_context       *usb;
    struct usb_bus_wish   wish;
    struct usb_bus_calls  calls;
    void                 *context;
    struct device         devices[USB_SNIFFERS];
    unsigned              count, ports; /* ports: given out */
    libusb_hotplug_callback_handle hotplug;
    libusb_device        *came[64]; /* plugged in, to be looked at; referenced */
    unsigned              came_count;
    libusb_device        *went[64];
    unsigned              went_count;
    int64_t               look_at_ns; /* once a second where there is no hotplug */
    bool                  has_hotplug, stopping;
};

/* Is it a sniffer? Fills interface and endpoint. */
bool usb_is_sniffer(libusb_device *dev, uint8_t *interface, uint8_t *endpoint);
/* Opens, asks and starts it; d->is filled as far as it got. False: news says why. */
bool device_open(struct device *d, libusb_device *dev, struct usb_news *news);
/* Names and DESCRIBE alone. */
bool device_ask(struct device *d, libusb_device *dev, struct usb_news *news);
void device_close(struct device *d);
void device_work(struct device *d);
int64_t device_wake_ns(const struct device *d);
void device_stop(struct device *d);
