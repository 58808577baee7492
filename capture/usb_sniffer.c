/* One sniffer: opened, asked, started, its transfers kept in flight, its clock tied, stopped. */
#include "capture/usb_inside.h"

#include "capture/base/cursor.h"
#include "capture/record.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { REQUEST_DESCRIBE = 1, REQUEST_START, REQUEST_STOP, REQUEST_CLOCK };
enum { TO_INTERFACE = LIBUSB_REQUEST_TYPE_VENDOR | LIBUSB_RECIPIENT_INTERFACE, PATIENCE_MS = 1000, DESCRIBE_ROOM = 256, CLOCK_BYTES = 16,
       ERRORS_MOST = 8, UNANSWERED_MOST = 3 };
#define TAIL_NS INT64_C(100000000) /* what a sniffer has when it is stopped is there by then, or never: common practice, no source */

static int64_t now(const struct device *d)
{
    return d->bus->calls.now_ns(d->bus->context);
}

bool usb_description_read(const uint8_t *bytes, size_t length, struct usb_description *d)
{
    struct cursor c = cursor_over(bytes, length);

    *d = (struct usb_description){ .version = cursor_u8(&c), .ports = cursor_u8(&c) };
    cursor_u16le(&c);
    d->clock_ppm = cursor_u32le(&c);
    d->volt_gain_ppm = cursor_u32le(&c);
    d->volt_offset_uv = cursor_u32le(&c);
    d->amp_gain_ppm = cursor_u32le(&c);
    d->amp_offset_ua = cursor_u32le(&c);
    d->interval_ns = cursor_u32le(&c);
    if (c.short_read || d->version != 1 || d->ports == 0 || d->ports >= RECORD_PORT_BENCH)
        return false;
    d->volt_noise_uv = cursor_u32le(&c);
    d->amp_noise_ua = cursor_u32le(&c);
    d->time_ns = cursor_u32le(&c);
    d->noise_known = !c.short_read;
    return true;
}

static int ask_in(struct device *d, uint8_t request, uint8_t *bytes, uint16_t room)
{
    return libusb_control_transfer(d->handle, LIBUSB_ENDPOINT_IN | TO_INTERFACE, request, 0, d->interface, bytes, room, PATIENCE_MS);
}

static int tell(struct device *d, uint8_t request, uint8_t *bytes, uint16_t length)
{
    return libusb_control_transfer(d->handle, LIBUSB_ENDPOINT_OUT | TO_INTERFACE, request, 0, d->interface, bytes, length, PATIENCE_MS);
}

/* Text of a descriptor; what is no printable ASCII is left out. */
static void text_of(struct device *d, uint8_t index, char out[USB_TEXT])
{
    unsigned char text[USB_TEXT];
    unsigned      n = 0;
    int           got = index ? libusb_get_string_descriptor_ascii(d->handle, index, text, sizeof text) : 0;

    for (int k = 0; k < got && n + 1 < USB_TEXT; k++)
        if (text[k] >= ' ' && text[k] < 127)
            out[n++] = (char)text[k];
    out[n] = '\0';
}

static void place_of(libusb_device *dev, char out[USB_TEXT])
{
    uint8_t ports[8];
    int     depth = libusb_get_port_numbers(dev, ports, sizeof ports), n = snprintf(out, USB_TEXT, "%u", libusb_get_bus_number(dev));

    for (int k = 0; k < depth && n < USB_TEXT - 5; k++)
        n += snprintf(out + n, (size_t)(USB_TEXT - n), "%c%u", k ? '.' : '-', ports[k]);
}

static bool refuse(struct usb_news *news, enum usb_news_kind kind, int error)
{
    news->kind = kind;
    news->no_rights = error == LIBUSB_ERROR_ACCESS;
    news->words = error < 0 ? libusb_strerror(error) : "";
    return false;
}

bool device_ask(struct device *d, libusb_device *dev, struct usb_news *news)
{
    struct libusb_device_descriptor about;
    uint8_t                         answer[DESCRIBE_ROOM];
    int                             error;

    news->who = &d->is;
    place_of(dev, d->is.place);
    error = libusb_open(dev, &d->handle);
    if (error)
        return refuse(news, USB_REFUSED, error);
    if (libusb_get_device_descriptor(dev, &about) == 0) {
        text_of(d, about.iSerialNumber, d->is.serial);
        text_of(d, about.iProduct, d->is.model);
    }
    error = libusb_claim_interface(d->handle, d->interface);
    if (error)
        return refuse(news, USB_REFUSED, error);
    int length = ask_in(d, REQUEST_DESCRIBE, answer, sizeof answer);

    if (length < 0)
        return refuse(news, USB_REFUSED, length);
    if (!usb_description_read(answer, (size_t)length, &d->is.is))
        return refuse(news, USB_LIES, 0);
    news->kind = USB_FOUND;
    return true;
}

/* Bulk transfers. */

static void data_came(struct libusb_transfer *t)
{
    struct transfer *x = t->user_data;

    x->in_flight = false;
    x->done = true;
    x->arrived_ns = now(x->device);
}

static bool submit(struct device *d, unsigned k)
{
    struct transfer *x = &d->transfers[k];
    int              error = libusb_submit_transfer(x->usb);

    if (error) {
        d->gone = d->gone || error == LIBUSB_ERROR_NO_DEVICE;
        d->errors++;
        return false;
    }
    x->in_flight = true;
    x->done = false;
    d->order[(d->order_from + d->order_count++) % USB_TRANSFERS] = k;
    return true;
}

static bool transfers_begin(struct device *d)
{
    d->order_from = d->order_count = 0;
    d->transfers = calloc(USB_TRANSFERS, sizeof *d->transfers);
    for (unsigned k = 0; d->transfers && k < USB_TRANSFERS; k++) {
        struct transfer *x = &d->transfers[k];

        x->device = d;
        x->usb = libusb_alloc_transfer(0);
        if (!x->usb)
            return false;
        libusb_fill_bulk_transfer(x->usb, d->handle, d->endpoint, x->bytes, sizeof x->bytes, data_came, x, 0);
        if (!submit(d, k) && k == 0)
            return false;
    }
    return d->transfers != NULL;
}

/* The clock. */

static void clock_take(struct device *d, const uint8_t *bytes, size_t length, int64_t asked_ns, int64_t heard_ns)
{
    struct cursor c = cursor_over(bytes, length);
    uint64_t      time_ns = cursor_u64le(&c);

    if (c.short_read || time_ns > INT64_MAX / 2)
        return;
    d->unanswered = 0;
    clock_tie_answer(&d->tie, (int64_t)time_ns, asked_ns, heard_ns);
}

static void clock_begin(struct device *d)
{
    uint8_t answer[CLOCK_BYTES];

    clock_tie_start(&d->tie);
    for (unsigned k = 0; k < USB_ASKS_FIRST && d->unanswered < UNANSWERED_MOST; k++) {
        int64_t asked = now(d);
        int     length = ask_in(d, REQUEST_CLOCK, answer, sizeof answer);

        if (length < 0)
            d->unanswered++;
        else
            clock_take(d, answer, (size_t)length, asked, now(d));
    }
    d->is.by_arrivals = !clock_tie_tied(&d->tie);
    d->is.clock = clock_tie_result(&d->tie);
    clock_tie_go(&d->tie);
    d->ask_at_ns = now(d) + USB_ASK_EVERY_NS;
}

static void clock_answered(struct libusb_transfer *t)
{
    struct device *d = t->user_data;

    d->asking = false;
    d->asked_done = true;
    d->heard_ns = now(d);
}

static void clock_ask(struct device *d)
{
    if (!d->ask)
        d->ask = libusb_alloc_transfer(0);
    if (!d->ask)
        return;
    libusb_fill_control_setup(d->ask_bytes, LIBUSB_ENDPOINT_IN | TO_INTERFACE, REQUEST_CLOCK, 0, d->interface, CLOCK_BYTES);
    libusb_fill_control_transfer(d->ask, d->handle, d->ask_bytes, clock_answered, d, PATIENCE_MS);
    d->asked_ns = now(d);
    d->ask_at_ns = d->asked_ns + USB_ASK_EVERY_NS;
    d->asking = libusb_submit_transfer(d->ask) == 0;
}

static void clock_heard(struct device *d)
{
    d->asked_done = false;
    if (d->ask->status == LIBUSB_TRANSFER_COMPLETED && d->ask->actual_length >= 8) {
        clock_take(d, d->ask_bytes + LIBUSB_CONTROL_SETUP_SIZE, (size_t)d->ask->actual_length, d->asked_ns, d->heard_ns);
    } else if (d->ask->status == LIBUSB_TRANSFER_NO_DEVICE) {
        d->gone = true;
    } else {
        d->unanswered++;
    }
    d->is.clock = clock_tie_result(&d->tie);
}

/* Start. */

static bool start(struct device *d)
{
    uint8_t  wanted[8];
    uint32_t interval = d->bus->wish.interval_ns > d->is.is.interval_ns ? d->bus->wish.interval_ns : d->is.is.interval_ns;

    for (unsigned k = 0; k < 4; k++) {
        wanted[k] = (uint8_t)(d->bus->wish.wanted >> 8 * k);
        wanted[4 + k] = (uint8_t)(interval >> 8 * k);
    }
    return tell(d, REQUEST_START, wanted, sizeof wanted) == sizeof wanted;
}

bool device_open(struct device *d, libusb_device *dev, struct usb_news *news)
{
    if (!device_ask(d, dev, news))
        return false;
    d->address = libusb_get_device_address(dev);
    d->bus_number = libusb_get_bus_number(dev);
    d->errors = d->unanswered = 0;
    d->gone = false;
    d->frames = usb_frames_new(d->is.is.ports);
    if (!d->frames || !start(d) || !transfers_begin(d))
        return refuse(news, USB_REFUSED, LIBUSB_ERROR_IO);
    clock_begin(d);
    d->is.open = true;
    d->state = DEVICE_RUNS;
    return true;
}

static bool any_in_flight(const struct device *d)
{
    for (unsigned k = 0; d->transfers && k < USB_TRANSFERS; k++)
        if (d->transfers[k].in_flight)
            return true;
    return d->asking;
}

static void cancel(struct device *d)
{
    for (unsigned k = 0; d->transfers && k < USB_TRANSFERS; k++)
        if (d->transfers[k].in_flight)
            libusb_cancel_transfer(d->transfers[k].usb);
    if (d->asking)
        libusb_cancel_transfer(d->ask);
    for (unsigned k = 0; k < 100 && any_in_flight(d); k++) {
        struct timeval wait = { .tv_usec = 10000 };

        libusb_handle_events_timeout_completed(d->bus->usb, &wait, NULL);
    }
}

void device_close(struct device *d)
{
    bool stuck;

    if (d->handle)
        cancel(d);
    stuck = any_in_flight(d); /* libusb still has hold of them */
    for (unsigned k = 0; d->transfers && k < USB_TRANSFERS && !stuck; k++)
        libusb_free_transfer(d->transfers[k].usb);
    if (!stuck) {
        free(d->transfers);
        libusb_free_transfer(d->ask);
    }
    d->transfers = NULL;
    d->ask = NULL;
    d->asking = d->asked_done = false;
    if (d->handle) {
        libusb_release_interface(d->handle, d->interface);
        libusb_close(d->handle);
    }
    d->handle = NULL;
    usb_frames_free(d->frames);
    d->frames = NULL;
    d->is.open = false;
    d->state = DEVICE_ABSENT;
}

/* Data. */

static void hand_on(struct device *d, const struct usb_frame *f)
{
    const struct usb_bus *b = d->bus;
    int64_t               device_ns = f->time_ns > INT64_MAX / 2 ? INT64_MAX / 2 : (int64_t)f->time_ns;

    if (d->is.by_arrivals)
        clock_tie_arrival(&d->tie, device_ns, f->arrived_ns);
    int64_t t = clock_tie_host_ns(&d->tie, device_ns);

    if (f->missing)
        b->calls.missing(b->context, d->number, t, f->missing);
    uint8_t port = f->record[2];

    b->calls.record(b->context, d->number, port == RECORD_PORT_BENCH ? port : (uint8_t)(d->is.first_port + port), t, f->record, f->length);
}

static void counts_take(struct device *d)
{
    const struct usb_frame_counts *c = usb_frames_counts(d->frames);

    d->is.frames = c->frames;
    d->is.missing = c->missing;
    d->is.skipped_bytes = c->skipped_bytes;
}

static void drain(struct device *d, int64_t now_ns)
{
    struct usb_frame frame;

    while (usb_frames_next(d->frames, now_ns, &frame))
        hand_on(d, &frame);
}

static void take_bytes(struct device *d, const struct transfer *x)
{
    const uint8_t *bytes = x->bytes;
    size_t         left = x->usb->actual_length > 0 ? (size_t)x->usb->actual_length : 0;

    if (left > 0)
        d->errors = 0;
    while (left > 0) {
        size_t taken = usb_frames_feed(d->frames, bytes, left, x->arrived_ns);

        drain(d, x->arrived_ns);
        bytes += taken;
        left -= taken;
    }
}

/* How a transfer ended. A pulled device ends its transfers as an error or as gone: only the host's word for it is certain. */
static void judge_end(struct device *d, const struct transfer *x)
{
    switch (x->usb->status) {
    case LIBUSB_TRANSFER_COMPLETED:
    case LIBUSB_TRANSFER_TIMED_OUT:
    case LIBUSB_TRANSFER_CANCELLED:
        break;
    case LIBUSB_TRANSFER_STALL:
        libusb_clear_halt(d->handle, d->endpoint);
        d->errors++;
        break;
    case LIBUSB_TRANSFER_NO_DEVICE:
        d->gone = true;
        break;
    case LIBUSB_TRANSFER_ERROR:
    case LIBUSB_TRANSFER_OVERFLOW:
        d->errors++;
        break;
    }
}

static void take_done(struct device *d, bool again)
{
    while (d->order_count > 0) {
        unsigned         k = d->order[d->order_from];
        struct transfer *x = &d->transfers[k];

        if (!x->done)
            return;
        d->order_from = (d->order_from + 1) % USB_TRANSFERS;
        d->order_count--;
        take_bytes(d, x);
        judge_end(d, x);
        x->done = false;
        if (again && !d->gone)
            submit(d, k);
    }
}

/* It began anew, and its times with it: START, and the clock from the beginning. */
static void begin_again(struct device *d)
{
    struct usb_news news = { .kind = USB_RESTARTED, .sniffer = d->number, .who = &d->is, .words = "" };

    if (!start(d)) {
        d->errors++;
        return;
    }
    usb_frames_reset(d->frames);
    d->unanswered = 0;
    clock_begin(d);
    d->bus->calls.news(d->bus->context, &news);
}

void device_work(struct device *d)
{
    if (d->state != DEVICE_RUNS)
        return;
    take_done(d, true);
    drain(d, now(d));
    if (d->asked_done)
        clock_heard(d);
    if (!d->asking && !d->is.by_arrivals && now(d) >= d->ask_at_ns)
        clock_ask(d);
    if (usb_frames_counts(d->frames)->restarted)
        begin_again(d);
    counts_take(d);
    if (d->gone || d->errors > ERRORS_MOST * USB_TRANSFERS || (d->errors > 0 && d->order_count == 0))
        d->state = DEVICE_DYING;
}

int64_t device_wake_ns(const struct device *d)
{
    int64_t wake = d->frames ? usb_frames_wake_ns(d->frames) : INT64_MAX;

    if (d->state == DEVICE_DYING)
        return INT64_MIN;
    if (d->state == DEVICE_RUNS && !d->asking && !d->is.by_arrivals && d->ask_at_ns < wake)
        wake = d->ask_at_ns;
    return wake;
}

/* How far it had come when it was told to stop. */
struct tail { bool known; int64_t device_ns; uint32_t sequence; };

/* What it still has comes in, until everything that it made is there. */
static void tail_wait(struct device *d, const struct tail *t)
{
    int64_t until_ns = now(d) + TAIL_NS;

    while (t->known && !d->gone && usb_frames_due(d->frames) != t->sequence && any_in_flight(d) && now(d) < until_ns) {
        struct timeval wait = { .tv_usec = 10000 };

        libusb_handle_events_timeout_completed(d->bus->usb, &wait, NULL);
        take_done(d, false);
        drain(d, now(d));
    }
}

static struct tail tail_ask(struct device *d)
{
    uint8_t     answer[CLOCK_BYTES];
    struct tail t = { .known = false };

    if (d->state != DEVICE_RUNS || tell(d, REQUEST_STOP, NULL, 0) < 0 || d->is.by_arrivals)
        return t;
    int           length = ask_in(d, REQUEST_CLOCK, answer, sizeof answer);
    struct cursor c = cursor_over(answer, length > 0 ? (size_t)length : 0);
    uint64_t      device_ns = cursor_u64le(&c);

    t.sequence = cursor_u32le(&c);
    t.known = !c.short_read && device_ns <= INT64_MAX / 2;
    t.device_ns = t.known ? (int64_t)device_ns : 0;
    return t;
}

/* A cancelled transfer may carry data: they count. */
void device_stop(struct device *d)
{
    if (d->state == DEVICE_ABSENT)
        return;
    take_done(d, false);
    struct tail tail = tail_ask(d);

    tail_wait(d, &tail);
    cancel(d);
    take_done(d, false);
    drain(d, INT64_MAX); /* nothing more will come: the last frame is whole */
    uint32_t missing = tail.known && !d->gone ? usb_frames_end(d->frames, tail.sequence) : 0;

    if (missing)
        d->bus->calls.missing(d->bus->context, d->number, clock_tie_host_ns(&d->tie, tail.device_ns), missing);
    counts_take(d);
    d->is.clock = clock_tie_result(&d->tie);
    device_close(d);
}
