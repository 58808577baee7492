/*
 * Listens to whatever sniffers there are until --for MS have gone, N records have come, or SIGINT; prints what came, a line each, and
 * a line of counts a sniffer at the end. Values of marks are looked at: they count from 0 on.
 *   listen [--for MS] [--count N] [--every] [SERIAL...]
 */
#define _POSIX_C_SOURCE 200809L
#include "capture/record.h"
#include "capture/usb_bus.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static volatile sig_atomic_t stopped;

static void stop(int signal)
{
    (void)signal;
    stopped = 1;
}

struct heard {
    uint64_t records, lost, out_of_order, backwards;
    int64_t  next[USB_SNIFFERS], last_ns[USB_SNIFFERS], worst_ns, off_ns[USB_SNIFFERS];
    bool     every;
};

static int64_t now_ns(void *context)
{
    struct timespec t;

    (void)context;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static void record(void *context, unsigned sniffer, uint8_t port, int64_t t_ns, const uint8_t *bytes, size_t length)
{
    struct heard *h = context;
    struct record r;

    record_read(bytes, length, false, t_ns, 1, &r);
    h->records++;
    h->out_of_order += r.soundness != RECORD_SOUND || r.kind != RECORD_MARK || r.mark.value != h->next[sniffer];
    h->next[sniffer] = r.soundness == RECORD_SOUND ? r.mark.value + 1 : h->next[sniffer];
    h->backwards += t_ns < h->last_ns[sniffer];
    h->last_ns[sniffer] = t_ns;
    if (h->every)
        printf("record sniffer %u port %u t %" PRId64 " value %d now %" PRId64 "\n", sniffer, port, t_ns, r.mark.value, now_ns(NULL));
}

static void missing(void *context, unsigned sniffer, int64_t t_ns, uint32_t count)
{
    struct heard *h = context;

    (void)t_ns;
    h->lost += count;
    h->next[sniffer] += count;
}

static void news(void *context, const struct usb_news *n)
{
    static const char *const words[] = { "found", "back", "gone", "refused", "lies", "restarted", "no clock", "too many" };

    (void)context;
    printf("%s: serial %s model %s place %s ports %u from %u%s%s%s\n", words[n->kind], n->who->serial, n->who->model, n->who->place,
           n->who->is.ports, n->who->first_port, n->words[0] ? ": " : "", n->words, n->no_rights ? " (no rights)" : "");
    fflush(stdout);
}

int main(int argc, char **argv)
{
    const struct usb_bus_calls calls = { now_ns, record, missing, news };
    static struct heard        h;
    int64_t                    until = INT64_MAX;
    uint64_t                   most = UINT64_MAX;
    struct usb_bus_wish        wish = { .wanted = USB_PACKETS | USB_CC | USB_POWER };
    struct fault               f;
    int                        k = 1;

    for (; k < argc && argv[k][0] == '-'; k++) {
        if (strcmp(argv[k], "--every") == 0)
            h.every = true;
        else if (strcmp(argv[k], "--for") == 0 && k + 1 < argc)
            until = now_ns(NULL) + atol(argv[++k]) * 1000000;
        else if (strcmp(argv[k], "--count") == 0 && k + 1 < argc)
            most = strtoull(argv[++k], NULL, 10);
    }
    wish.serials = (const char *const *)argv + k;
    wish.serials_count = (unsigned)(argc - k);
    signal(SIGINT, stop);
    struct usb_bus *b = usb_bus_open(&wish, &calls, &h, &f);

    if (!b)
        return 2;
    while (!stopped && now_ns(NULL) < until && h.records < most) {
        struct pollfd fds[64];
        int64_t       now = now_ns(NULL), wake = usb_bus_wake_ns(b), wait = wake <= now ? 0 : wake - now;

        poll(fds, usb_bus_fds(b, fds, 64), (int)(wait / 1000000 < 20 ? wait / 1000000 : 20));
        usb_bus_work(b);
    }
    usb_bus_stop(b);
    for (unsigned n = 0; usb_bus_sniffer(b, n); n++) {
        const struct usb_sniffer *s = usb_bus_sniffer(b, n);

        printf("sniffer %s: %" PRIu64 " frames, %" PRIu64 " missing, %" PRIu64 " bytes skipped, next value %" PRId64 ", clock %.1f ppm (+- %.1f)%s\n",
               s->serial, s->frames, s->missing, s->skipped_bytes, h.next[n], s->clock.ppm, s->clock.ppm_u, s->by_arrivals ? ", by arrivals" : "");
    }
    printf("in all %" PRIu64 " records, %" PRIu64 " lost, %" PRIu64 " out of order, %" PRIu64 " back in time\n", h.records, h.lost,
           h.out_of_order, h.backwards);
    usb_bus_free(b);
    return 0;
}
