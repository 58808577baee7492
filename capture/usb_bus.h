/*
 * capture/usb_bus.h - sniffers on USB: found, opened, listened to, on the host's time (traces/FORMAT.md, "over USB").
 *
 * A sniffer is told by its interface (class 0xFF, subclass 0x50, protocol 0x01, one bulk IN endpoint), told from others by its serial
 * number. One that is pulled and comes back is taken up again, with the ports it had. Nothing here blocks for longer than opening a
 * sniffer takes; data come in by transfers in flight, so a host that is busy for a quarter of a second loses nothing.
 *
 *     usb_bus_open, then in a loop: poll() on usb_bus_fds until usb_bus_wake_ns, then usb_bus_work, which calls back; at the end
 *     usb_bus_stop, usb_bus_free.
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/clock_tie.h"

#include <poll.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { USB_SNIFFERS = 16, USB_TEXT = 64, USB_DESCRIBE_BYTES = 40, USB_DESCRIBE_LEAST = 28 };

/* START, u32 wanted. */
enum usb_wanted { USB_PACKETS = 1, USB_CC = 2, USB_POWER = 4, USB_EDGES = 8, USB_TEMPERATURE = 16 };

/* What DESCRIBE says. */
struct usb_description {
    unsigned version, ports;
    uint32_t clock_ppm, volt_gain_ppm, volt_offset_uv, amp_gain_ppm, amp_offset_ua, interval_ns; /* interval_ns: the shortest of POWER */
    uint32_t volt_noise_uv, amp_noise_ua, time_ns;
    bool     noise_known; /* the last three are */
};
/* Reads an answer to DESCRIBE, as far as it goes. False: too short, another version, or a number of ports that cannot be. */
bool usb_description_read(const uint8_t *bytes, size_t length, struct usb_description *d);

struct usb_sniffer {
    char     serial[USB_TEXT], model[USB_TEXT]; /* as the device says, "" where it says nothing */
    char     place[USB_TEXT];                   /* where it is plugged in: bus and ports, "1-4.2" */
    unsigned first_port;                        /* its port 0 in the trace */
    struct usb_description is;
    uint64_t frames, missing, skipped_bytes;
    bool     open, by_arrivals; /* by_arrivals: it does not answer CLOCK */
    struct clock_tie_result clock;
};

enum usb_news_kind {
    USB_FOUND,     /* it is listened to from now on */
    USB_BACK,      /* the same, after it was gone */
    USB_GONE,      /* pulled, or dead */
    USB_REFUSED,   /* cannot be opened: words; no_rights: for want of rights */
    USB_LIES,      /* what it says of itself cannot be: it is left alone */
    USB_RESTARTED, /* it began anew by itself, and was started again */
    USB_NO_CLOCK,  /* does not answer CLOCK: tied by its earliest arrivals */
    USB_TOO_MANY,  /* more than USB_SNIFFERS, or more than 255 ports: left alone */
};
struct usb_news {
    enum usb_news_kind kind;
    unsigned           sniffer; /* of usb_bus_sniffer; not for one that is left alone */
    const struct usb_sniffer *who;
    const char        *words; /* of libusb, or "" */
    bool               no_rights;
};

struct usb_bus_calls {
    int64_t (*now_ns)(void *context); /* the clock of the trace: never goes back */
    /* A record, port moved to the trace's. bytes last until it returns. */
    void (*record)(void *context, unsigned sniffer, uint8_t port, int64_t t_ns, const uint8_t *bytes, size_t length);
    /* Frames that are not there just before the next record of that sniffer; t_ns is that record's, or that of its end. */
    void (*missing)(void *context, unsigned sniffer, int64_t t_ns, uint32_t count);
    void (*news)(void *context, const struct usb_news *news);
};

struct usb_bus_wish {
    const char *const *serials; /* these only; NULL: all */
    unsigned           serials_count;
    uint32_t           wanted;      /* enum usb_wanted */
    uint32_t           interval_ns; /* of POWER; 0: the shortest that it can */
    unsigned           first_port;  /* number of the first sniffer's port 0 */
};

struct usb_bus;

/* NULL with *f set when USB cannot be had at all. The strings of the wish must last. */
struct usb_bus *usb_bus_open(const struct usb_bus_wish *wish, const struct usb_bus_calls *calls, void *context, struct fault *f);
unsigned usb_bus_fds(const struct usb_bus *b, struct pollfd *fds, unsigned room);
int64_t  usb_bus_wake_ns(const struct usb_bus *b);
void     usb_bus_work(struct usb_bus *b);
/* The last data come in, and every sniffer is told to stop. */
void     usb_bus_stop(struct usb_bus *b);
void     usb_bus_free(struct usb_bus *b);

/* Sniffer k, also one that is gone; NULL past the last. */
const struct usb_sniffer *usb_bus_sniffer(const struct usb_bus *b, unsigned k);

/* Looks once at what is plugged in, without listening: calls told for each, with news as USB_FOUND, USB_REFUSED or USB_LIES. */
bool usb_bus_look(void (*told)(void *context, const struct usb_news *news), void *context, struct fault *f);
