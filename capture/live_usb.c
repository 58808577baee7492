/* Sniffers on USB as a source: usb, usb:SERIAL[,SERIAL...][=PORT]. The work is capture/usb_bus.h's. */
#define _POSIX_C_SOURCE 200809L
#include "capture/live.h"
#include "capture/record_move.h"
#include "capture/usb_bus.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LOST_BODY_BYTES = 8, LOST_IN_INSTRUMENT = 1, ABOUT_BYTES = 1024, SERIALS_BYTES = 512 };
/* A POWER record starts up to 50 ms before it is whole (traces/FORMAT.md, "Order"); the rest is the way through USB. */
static const int64_t lag_ns = INT64_C(60000000);
/* What a stamp is worth that is tied by its arrival: common practice, no source. */
static const double arrival_time_ns = 1e6;

struct live_usb {
    struct live_source base;
    struct usb_bus    *bus;
    char               words[SERIALS_BYTES];   /* the serials, cut apart */
    const char        *serials[USB_SNIFFERS];
    struct usb_bus_wish wish;
    bool               stopped;
    int64_t            turn_ns; /* when its turn began: before anything that starts in it */
};

static struct live_usb *usb_of(struct live_source *s)
{
    return (struct live_usb *)(void *)s;
}

static int64_t now_of(void *context)
{
    const struct live_usb *s = context;

    return s->base.hands.now_ns(s->base.hands.context);
}

static void put(const struct live_usb *s, int64_t t_ns, const uint8_t *bytes, size_t length)
{
    s->base.hands.put(s->base.hands.context, t_ns, bytes, length);
}

static void take_record(void *context, unsigned sniffer, uint8_t port, int64_t t_ns, const uint8_t *bytes, size_t length)
{
    struct live_usb  *s = context;
    struct record_moved moved;

    (void)port;
    if (!record_move(&moved, bytes, length, usb_bus_sniffer(s->bus, sniffer)->first_port))
        return; /* no memory */
    put(s, t_ns, moved.bytes, moved.length);
    record_move_done(&moved);
}

/* Which of its ports lost how many, a sniffer of several cannot say. */
static void lost_put(const struct live_usb *s, const struct usb_sniffer *who, int64_t t_ns, uint32_t count, uint8_t flags)
{
    uint8_t  record[RECORD_HEADER_BYTES + LOST_BODY_BYTES], body[LOST_BODY_BYTES] = { 0 };
    uint32_t said = who->is.ports == 1 ? count : RECORD_LOST_UNKNOWN;

    for (unsigned k = 0; k < 4; k++)
        body[k] = (uint8_t)(said >> 8 * k);
    body[4] = LOST_IN_INSTRUMENT;
    for (unsigned k = 0; k < who->is.ports; k++) {
        size_t length = record_put(record, sizeof record, RECORD_LOST, (uint8_t)(who->first_port + k), flags, 0, body, sizeof body);

        put(s, t_ns, record, length);
    }
}

static void take_missing(void *context, unsigned sniffer, int64_t t_ns, uint32_t count)
{
    struct live_usb *s = context;

    lost_put(s, usb_bus_sniffer(s->bus, sniffer), t_ns, count, 0);
}

static void quantities_add(cJSON *instrument, const char *name, const char *offset_key, const char *noise_key, uint32_t gain, uint32_t offset,
                           uint32_t noise, bool noise_known)
{
    cJSON *quantity = cJSON_AddObjectToObject(instrument, name);

    cJSON_AddNumberToObject(quantity, "gain_ppm", gain);
    cJSON_AddNumberToObject(quantity, offset_key, offset);
    if (noise_known)
        cJSON_AddNumberToObject(quantity, noise_key, noise);
}

/* What DESCRIBE says, as ABOUT has it. */
static cJSON *instrument_of(const struct usb_sniffer *who)
{
    const struct usb_description *is = &who->is;
    cJSON                        *about = cJSON_CreateObject(), *instrument = cJSON_AddObjectToObject(about, "instrument");

    if (who->model[0])
        cJSON_AddStringToObject(instrument, "model", who->model);
    if (who->serial[0])
        cJSON_AddStringToObject(instrument, "serial", who->serial);
    cJSON_AddNumberToObject(instrument, "clock_ppm", is->clock_ppm);
    if (who->by_arrivals)
        cJSON_AddNumberToObject(instrument, "time_ns", is->noise_known && is->time_ns > arrival_time_ns ? is->time_ns : arrival_time_ns);
    else if (is->noise_known)
        cJSON_AddNumberToObject(instrument, "time_ns", is->time_ns);
    quantities_add(instrument, "volt", "offset_uv", "noise_uv", is->volt_gain_ppm, is->volt_offset_uv, is->volt_noise_uv, is->noise_known);
    quantities_add(instrument, "amp", "offset_ua", "noise_ua", is->amp_gain_ppm, is->amp_offset_ua, is->amp_noise_ua, is->noise_known);
    return about;
}

/* An ABOUT record for each of its ports; about is taken over. */
static void about_put(const struct live_usb *s, const struct usb_sniffer *who, cJSON *about)
{
    char   *text = about ? cJSON_PrintUnformatted(about) : NULL;
    uint8_t record[ABOUT_BYTES];

    for (unsigned k = 0; text && k < who->is.ports; k++) {
        size_t length = record_put(record, sizeof record, RECORD_ABOUT, (uint8_t)(who->first_port + k), RECORD_HOST_TIME, 0,
                                   (const uint8_t *)text, strlen(text));

        if (length > 0)
            put(s, s->turn_ns, record, length); /* before its first record */
    }
    cJSON_free(text);
    cJSON_Delete(about);
}

/* Several sniffers have several clocks: how well each is tied. One alone is one clock. */
static void align_put(const struct live_usb *s)
{
    const struct usb_sniffer *who;

    for (unsigned k = 0; usb_bus_sniffer(s->bus, 1) && (who = usb_bus_sniffer(s->bus, k)) != NULL; k++) {
        cJSON *about = cJSON_CreateObject();
        double align_ns = who->clock.offset_ns_u > 0 && !who->by_arrivals ? (double)who->clock.offset_ns_u : arrival_time_ns;

        cJSON_AddNumberToObject(cJSON_AddObjectToObject(about, "instrument"), "align_ns", align_ns);
        about_put(s, who, about);
    }
}

/* The bus's news in the words of a source. */
static const enum live_news news_words[] = {
    [USB_FOUND] = LIVE_FOUND,       [USB_BACK] = LIVE_RETURNED, [USB_GONE] = LIVE_GONE,       [USB_REFUSED] = LIVE_REFUSED,
    [USB_LIES] = LIVE_UNSOUND_SELF, [USB_RESTARTED] = LIVE_RESTARTED, [USB_NO_CLOCK] = LIVE_NO_CLOCK, [USB_TOO_MANY] = LIVE_TOO_MANY,
};

static void take_news(void *context, const struct usb_news *news)
{
    struct live_usb   *s = context;
    struct live_notice n = { .news = news_words[news->kind], .sys = news->no_rights ? EACCES : 0, .words = news->words,
                             .words_length = strlen(news->words), .ns = news->who->first_port, .number = news->who->is.ports };

    snprintf(n.who, sizeof n.who, "%s", news->who->serial[0] ? news->who->serial : news->who->place);
    if (news->kind == USB_FOUND || news->kind == USB_BACK) {
        about_put(s, news->who, instrument_of(news->who));
        align_put(s);
    }
    if (news->kind == USB_BACK || news->kind == USB_RESTARTED)
        lost_put(s, news->who, now_of(s), RECORD_LOST_UNKNOWN, RECORD_HOST_TIME);
    s->base.hands.notice(s->base.hands.context, &s->base, &n);
}

static unsigned usb_watch(struct live_source *source, struct pollfd *fds, unsigned room, int64_t *wake_ns)
{
    struct live_usb *s = usb_of(source);
    int64_t          wake = usb_bus_wake_ns(s->bus);

    if (wake < *wake_ns)
        *wake_ns = wake;
    return usb_bus_fds(s->bus, fds, room);
}

static void usb_work(struct live_source *source, const struct pollfd *fds, unsigned count)
{
    struct live_usb *s = usb_of(source);

    (void)fds;
    (void)count;
    s->turn_ns = now_of(s);
    usb_bus_work(s->bus);
}

static int64_t usb_reached(const struct live_source *source)
{
    const struct live_usb *s = (const struct live_usb *)(const void *)source;

    return s->stopped ? INT64_MAX : now_of((void *)(uintptr_t)s) - lag_ns;
}

static bool usb_over(const struct live_source *source)
{
    (void)source;
    return false; /* one that is pulled may come back */
}

static void usb_stop(struct live_source *source)
{
    struct live_usb *s = usb_of(source);

    if (!s->stopped)
        usb_bus_stop(s->bus);
    s->stopped = true;
}

static void usb_about(const struct live_source *source, cJSON *about, bool closing)
{
    const struct live_usb    *s = (const struct live_usb *)(const void *)source;
    const struct usb_sniffer *who;
    cJSON                    *list = cJSON_GetObjectItemCaseSensitive(about, "drift");

    for (unsigned k = 0; closing && (who = usb_bus_sniffer(s->bus, k)) != NULL; k++) {
        cJSON *one = cJSON_CreateObject();

        if (!list)
            list = cJSON_AddArrayToObject(about, "drift");
        cJSON_AddStringToObject(one, "serial", who->serial);
        cJSON_AddNumberToObject(one, "ppm", who->clock.ppm);
        cJSON_AddNumberToObject(one, "ppm_u", who->clock.ppm_u);
        cJSON_AddNumberToObject(one, "offset_ns_u", (double)who->clock.offset_ns_u);
        cJSON_AddNumberToObject(one, "frames", (double)who->frames);
        cJSON_AddNumberToObject(one, "missing", (double)who->missing);
        cJSON_AddNumberToObject(one, "skipped_bytes", (double)who->skipped_bytes);
        cJSON_AddItemToArray(list, one);
    }
}

static void usb_close(struct live_source *source)
{
    struct live_usb *s = usb_of(source);

    usb_bus_free(s->bus);
    free(s);
}

/* "A,B=4". False: too many, or too long. */
static bool words_read(struct live_usb *s, const char *rest)
{
    char *save = NULL, *port, *end;

    if (!rest)
        return true;
    if (snprintf(s->words, sizeof s->words, "%s", rest) >= (int)sizeof s->words)
        return false;
    port = strrchr(s->words, '=');
    if (port && port[1] != '\0') {
        unsigned long number = strtoul(port + 1, &end, 10);

        if (*end != '\0' || number >= RECORD_PORT_BENCH)
            return false;
        s->wish.first_port = (unsigned)number;
        *port = '\0';
    }
    for (char *one = strtok_r(s->words, ",", &save); one; one = strtok_r(NULL, ",", &save)) {
        if (s->wish.serials_count == USB_SNIFFERS)
            return false;
        s->serials[s->wish.serials_count++] = one;
    }
    return true;
}

/* Looking before recording: is anybody there? */
struct look { const struct live_usb *s; unsigned there, no_rights; char refusal[128]; };

static void look_take(void *context, const struct usb_news *news)
{
    struct look *l = context;
    bool         wished = l->s->wish.serials_count == 0;

    for (unsigned k = 0; k < l->s->wish.serials_count; k++)
        wished = wished || strcmp(l->s->serials[k], news->who->serial) == 0;
    l->no_rights += news->no_rights ? 1 : 0; /* its serial number is not told then */
    if (wished && news->kind != USB_FOUND)
        snprintf(l->refusal, sizeof l->refusal, "%s", news->words[0] ? news->words : "what it says of itself cannot be");
    l->there += wished && news->kind == USB_FOUND ? 1 : 0;
}

static bool anybody(const struct live_usb *s, struct fault *f)
{
    struct look l = { .s = s };

    if (!usb_bus_look(look_take, &l, f))
        return false;
    if (l.there == 0 && l.no_rights == 0 && l.refusal[0])
        return fault_set(f, FAULT_USB, 0, 0, l.refusal);
    return l.there > 0 || fault_set(f, FAULT_OPEN, l.no_rights ? EACCES : ENODEV, 0, "usb");
}

static struct live_source *usb_open(const char *rest, const struct live_hands *hands, struct fault *f)
{
    const struct usb_bus_calls calls = { now_of, take_record, take_missing, take_news };
    struct live_usb           *s = calloc(1, sizeof *s);

    if (!s) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    s->base.hands = *hands;
    s->wish.serials = s->serials;
    s->wish.wanted = USB_PACKETS | USB_CC | USB_POWER | USB_TEMPERATURE | (hands->edges ? USB_EDGES : 0u);
    if (!words_read(s, rest))
        fault_set(f, FAULT_OPEN, EINVAL, 0, NULL);
    else if (anybody(s, f))
        s->bus = usb_bus_open(&s->wish, &calls, s, f);
    if (s->bus)
        return &s->base;
    free(s);
    return NULL;
}

struct finding_usb { void (*found)(void *context, const struct live_found *one); void *context; };

static void uncertainty_words(const struct usb_description *is, char *out, size_t room)
{
    int n = snprintf(out, room, "volts %u ppm + %u uV, amperes %u ppm + %u uA, clock %u ppm (k = 1)", is->volt_gain_ppm, is->volt_offset_uv,
                     is->amp_gain_ppm, is->amp_offset_ua, is->clock_ppm);

    if (n < 0 || (size_t)n >= room)
        out[0] = '\0';
}

static void found_take(void *context, const struct usb_news *news)
{
    struct finding_usb      *to = context;
    const struct usb_sniffer *who = news->who;
    struct live_found        one = { .ports = -1 };

    snprintf(one.from, sizeof one.from, who->serial[0] ? "usb:%s" : "usb", who->serial);
    snprintf(one.serial, sizeof one.serial, "%s", who->serial);
    if (news->kind == USB_FOUND) {
        snprintf(one.what, sizeof one.what, "%s%ssniffer at USB %s", who->model, who->model[0] ? ", " : "", who->place);
        one.ports = (int)who->is.ports;
        uncertainty_words(&who->is, one.uncertainty, sizeof one.uncertainty);
    } else if (news->no_rights) {
        snprintf(one.what, sizeof one.what, "sniffer at USB %s; no right to open it: install the udev rules, and plug it in again", who->place);
    } else {
        snprintf(one.what, sizeof one.what, "sniffer at USB %s; cannot be used: %s", who->place,
                 news->words[0] ? news->words : "what it says of itself cannot be");
    }
    to->found(to->context, &one);
}

static void usb_find(void (*found)(void *context, const struct live_found *one), void *context)
{
    struct finding_usb to = { found, context };
    struct fault       f;

    usb_bus_look(found_take, &to, &f); /* without USB there is nothing to find */
}

const struct live_kind live_usb_kind = {
    .word = "usb", .open = usb_open, .find = usb_find, .watch = usb_watch, .work = usb_work, .reached_ns = usb_reached, .over = usb_over,
    .stop = usb_stop, .about = usb_about, .close = usb_close,
};
