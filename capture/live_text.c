/*
 * A source that speaks the text form of a trace, line by line: text:PATH[@BAUD][=PORT].
 *
 * Times: "-" is the moment of arrival (HOST_TIME). A source whose first written time lies within a second of the host's clock is taken to
 * go by it; any other has a clock of its own, which is tied to the host's by its earliest arrivals (capture/clock_tie.h).
 */
#define _POSIX_C_SOURCE 200809L
#include "capture/clock_tie.h"
#include "capture/live_input_inside.h"
#include "capture/live.h"
#include "capture/live_serial_inside.h"
#include "capture/record_move.h"
#include "capture/text_form.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum {
    LINE_BYTES_MAX = 160 * 1024, /* the longest record in hex, and room for its words */
    READ_BYTES = 4096,
    TURN_BYTES = 64 * 1024,      /* then the others have their turn */
    WORDS_BYTES = 60,
    LOST_BODY_BYTES = 8,
};
static const int64_t near_ns = INT64_C(1000000000), ahead_ns = INT64_C(50000000); /* of the host's clock: then it goes by that */
static const int64_t back_ns = INT64_C(1000000000);                              /* a clock that goes back so far has begun anew */
static const int64_t lag_ns = INT64_C(30000000);                                 /* how old a written time may be when it arrives */
static const int64_t retry_ns = INT64_C(500000000);

enum clock { CLOCK_UNKNOWN, CLOCK_HOST, CLOCK_OWN };

struct live_text {
    struct live_source  base;
    char                path[512];
    unsigned            shift;       /* its port 0 is that one of the trace */
    struct live_input   input;
    struct text_reader *reader;
    char                line[LINE_BYTES_MAX];
    size_t              used;
    bool                skipping;    /* the rest of a line that is too long */
    bool                ended;
    uint64_t            number;
    int64_t             again_ns;    /* gone: when to look for it */
    bool                asked_now;   /* the line in hand has "-" */
    bool                by_arrival;  /* a line had, and none had a time yet: nothing comes that is older than now */
    enum clock          clock;
    struct clock_tie    tie;
    int64_t             last_ns;     /* latest time of its own clock */
    bool                talks[255];  /* ports of the trace that packets, resets or CC states came for */
};

static struct live_text *text_of(struct live_source *s)
{
    return (struct live_text *)(void *)s;
}

static int64_t now_of(const struct live_text *s)
{
    return s->base.hands.now_ns(s->base.hands.context);
}

/* The reader's clock for "-". */
static int64_t arrival_now(void *context)
{
    struct live_text *s = context;

    s->asked_now = s->by_arrival = true;
    return now_of(s);
}

static void notice(const struct live_text *s, struct live_notice n)
{
    s->base.hands.notice(s->base.hands.context, &s->base, &n);
}

/* A packet may be missing here, on every port that it could be of. */
static void lost_put(const struct live_text *s, int64_t now_ns)
{
    uint8_t record[RECORD_HEADER_BYTES + LOST_BODY_BYTES], body[LOST_BODY_BYTES] = { 1 };

    for (unsigned port = 0; port < 255; port++) {
        if (!s->talks[port])
            continue;
        size_t length = record_put(record, sizeof record, RECORD_LOST, (uint8_t)port, RECORD_HOST_TIME, 0, body, sizeof body);

        s->base.hands.put(s->base.hands.context, now_ns, record, length);
    }
}

static void unreadable(struct live_text *s, const char *words, size_t length)
{
    notice(s, (struct live_notice){ .news = LIVE_UNREADABLE, .number = s->number, .words = words,
                                    .words_length = length < WORDS_BYTES ? length : WORDS_BYTES });
}

/* Whose clock does it go by? */
static void clock_learn(struct live_text *s, int64_t stamp_ns, int64_t now_ns)
{
    if (stamp_ns > now_ns - near_ns && stamp_ns < now_ns + ahead_ns) {
        s->clock = CLOCK_HOST;
        return;
    }
    s->clock = CLOCK_OWN;
    s->last_ns = stamp_ns;
    clock_tie_start(&s->tie);
    notice(s, (struct live_notice){ .news = LIVE_OWN_CLOCK, .ns = stamp_ns - now_ns });
}

/* A written time in time of the host. */
static int64_t host_time(struct live_text *s, int64_t stamp_ns, int64_t now_ns)
{
    if (s->clock == CLOCK_UNKNOWN)
        clock_learn(s, stamp_ns, now_ns);
    if (s->clock == CLOCK_HOST)
        return stamp_ns;
    if (stamp_ns < s->last_ns - back_ns) {
        notice(s, (struct live_notice){ .news = LIVE_CLOCK_BACK, .ns = s->last_ns - stamp_ns });
        lost_put(s, now_ns);
        clock_tie_start(&s->tie);
        s->last_ns = stamp_ns;
    }
    if (stamp_ns > s->last_ns)
        s->last_ns = stamp_ns;
    clock_tie_arrival(&s->tie, stamp_ns, now_ns);
    clock_tie_go(&s->tie);
    return clock_tie_host_ns(&s->tie, stamp_ns);
}

static bool speaks(const struct record *r)
{
    return r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL || r->kind == RECORD_CC_STATE;
}

/* A record that came out of the reader. words: its line, for a complaint. */
static void record_take(struct live_text *s, const uint8_t *bytes, size_t length, int64_t stamp_ns, const char *words, size_t words_length)
{
    struct record      r;
    int64_t            now_ns = now_of(s), at_ns = s->asked_now ? stamp_ns : host_time(s, stamp_ns, now_ns);
    struct record_moved  moved;

    if (!record_move(&moved, bytes, length, s->shift)) {
        unreadable(s, words, words_length);
        lost_put(s, now_ns);
        return;
    }
    record_read(moved.bytes, moved.length, false, at_ns, s->number, &r);
    if (r.soundness == RECORD_SOUND && speaks(&r))
        s->talks[r.port] = true;
    if (r.soundness == RECORD_DAMAGED)
        unreadable(s, words, words_length);
    s->base.hands.put(s->base.hands.context, at_ns, moved.bytes, moved.length);
    record_move_done(&moved);
}

static void reading_take(struct live_text *s, enum text_line got, const uint8_t *bytes, size_t length, int64_t stamp_ns, const char *words,
                         size_t words_length)
{
    struct record r;

    if (got == TEXT_RECORD)
        record_take(s, bytes, length, stamp_ns, words, words_length);
    if (got != TEXT_DAMAGED)
        return;
    unreadable(s, words, words_length);
    record_read(bytes, length, false, 0, 0, &r);
    if (r.kind == RECORD_PD_PACKET || r.kind == RECORD_RESET_SIGNAL || r.kind == RECORD_LOST)
        lost_put(s, now_of(s));
}

static void line_take(struct live_text *s, const char *line, size_t length)
{
    const uint8_t *bytes;
    size_t         record_length = 0;
    int64_t        stamp_ns = 0;
    uint64_t       first;

    s->number++;
    if (length > 0 && line[length - 1] == '\r')
        length--;
    do {
        s->asked_now = false;
        enum text_line got = text_reader_take(s->reader, line, length, s->number, &bytes, &record_length, &stamp_ns, &first);

        reading_take(s, got, bytes, record_length, stamp_ns, line, length);
    } while (text_reader_again(s->reader));
}

/* No line is that long. */
static void long_line_skip(struct live_text *s)
{
    if (!s->skipping) {
        s->number++;
        unreadable(s, s->line, s->used);
        lost_put(s, now_of(s));
    }
    s->skipping = true;
    s->used = 0;
}

/* All lines that are whole. */
static void lines_take(struct live_text *s)
{
    size_t at = 0;

    for (;;) {
        const char *newline = memchr(s->line + at, '\n', s->used - at);

        if (!newline)
            break;
        size_t length = (size_t)(newline - s->line) - at;

        if (!s->skipping)
            line_take(s, s->line + at, length);
        s->skipping = false;
        at += length + 1;
    }
    s->used -= at;
    memmove(s->line, s->line + at, s->used);
    if (s->used == sizeof s->line)
        long_line_skip(s);
}

/* Nothing more comes of the line in hand, nor of a record of several lines. */
static void line_end(struct live_text *s)
{
    const uint8_t *bytes;
    size_t         length = 0;
    int64_t        stamp_ns = 0;
    uint64_t       first;

    if (s->used > 0 && !s->skipping)
        line_take(s, s->line, s->used);
    s->used = 0;
    s->skipping = false;
    s->asked_now = false;
    enum text_line got = text_reader_end(s->reader, &bytes, &length, &stamp_ns, &first);

    if (got != TEXT_NOTHING)
        reading_take(s, got, bytes, length, stamp_ns, "", 0);
}

static void look_again(struct live_text *s)
{
    int64_t now_ns = now_of(s);

    if (now_ns < s->again_ns)
        return;
    s->again_ns = now_ns + retry_ns;
    if (live_input_again(&s->input))
        notice(s, (struct live_notice){ .news = LIVE_RETURNED });
}

static void gone(struct live_text *s, int sys)
{
    line_end(s);
    lost_put(s, now_of(s));
    s->again_ns = now_of(s) + retry_ns;
    notice(s, (struct live_notice){ .news = LIVE_GONE, .sys = sys });
}

/* False: that was all for now. */
static bool bytes_take(struct live_text *s)
{
    size_t room = sizeof s->line - s->used, length;

    switch (live_input_read(&s->input, s->line + s->used, room < READ_BYTES ? room : READ_BYTES, &length)) {
    case LIVE_INPUT_BYTES:
        s->used += length;
        lines_take(s);
        return length == READ_BYTES && s->input.ours;
    case LIVE_INPUT_NOTHING:
        return false;
    case LIVE_INPUT_WRITER_LEFT:
        line_end(s);
        return false;
    case LIVE_INPUT_END:
        line_end(s);
        s->ended = true;
        notice(s, (struct live_notice){ .news = LIVE_ENDED });
        return false;
    case LIVE_INPUT_GONE:
        gone(s, errno);
        return false;
    }
    return false;
}

static void text_work(struct live_source *source, const struct pollfd *fds, unsigned count)
{
    struct live_text *s = text_of(source);

    if (s->ended)
        return;
    if (s->input.fd < 0) {
        look_again(s);
        return;
    }
    if (count == 0 || fds[0].revents == 0)
        return;
    for (size_t turn = 0; turn < TURN_BYTES && bytes_take(s); turn += READ_BYTES)
        ;
}

static unsigned text_watch(struct live_source *source, struct pollfd *fds, unsigned room, int64_t *wake_ns)
{
    struct live_text *s = text_of(source);

    if (s->ended || room == 0)
        return 0;
    if (s->input.fd < 0) {
        if (s->again_ns < *wake_ns)
            *wake_ns = s->again_ns;
        return 0;
    }
    fds[0] = (struct pollfd){ .fd = s->input.fd, .events = POLLIN };
    return 1;
}

static int64_t text_reached(const struct live_source *source)
{
    const struct live_text *s = (const struct live_text *)(const void *)source;

    if (s->ended)
        return INT64_MAX;
    return now_of(s) - (s->clock == CLOCK_UNKNOWN && s->by_arrival ? 0 : lag_ns);
}

static bool text_over(const struct live_source *source)
{
    return ((const struct live_text *)(const void *)source)->ended;
}

static void text_about(const struct live_source *source, cJSON *about, bool closing)
{
    const struct live_text *s = (const struct live_text *)(const void *)source;

    if (!closing || s->clock != CLOCK_OWN || !clock_tie_tied(&s->tie))
        return;
    struct clock_tie_result result = clock_tie_result(&s->tie);
    cJSON *list = cJSON_GetObjectItemCaseSensitive(about, "drift"), *one = cJSON_CreateObject();

    if (!list)
        list = cJSON_AddArrayToObject(about, "drift");
    cJSON_AddStringToObject(one, "serial", source->name);
    cJSON_AddNumberToObject(one, "ppm", result.ppm);
    cJSON_AddNumberToObject(one, "ppm_u", result.ppm_u);
    cJSON_AddNumberToObject(one, "offset_ns_u", (double)result.offset_ns_u);
    cJSON_AddItemToArray(list, one);
}

static void text_close(struct live_source *source)
{
    struct live_text *s = text_of(source);

    live_input_close(&s->input);
    text_reader_free(s->reader);
    free(s);
}

/* Takes c and the number behind it off the end. False: there is none; number stays. */
static bool suffix_take(char *path, char c, unsigned long most, unsigned long *number)
{
    char *at = strrchr(path, c);

    if (!at || at == path || at[1] == '\0' || strspn(at + 1, "0123456789") != strlen(at + 1) || strlen(at + 1) > 8 ||
        strtoul(at + 1, NULL, 10) > most)
        return false;
    *number = strtoul(at + 1, NULL, 10);
    *at = '\0';
    return true;
}

/* PATH[@BAUD][=PORT]; a file of the whole name goes first. */
static void name_read(struct live_text *s, const char *rest, unsigned long *baud)
{
    struct stat   about;
    unsigned long port = 0;

    snprintf(s->path, sizeof s->path, "%s", rest);
    if (stat(s->path, &about) == 0)
        return;
    suffix_take(s->path, '=', 254, &port);
    s->shift = (unsigned)port;
    if (stat(s->path, &about) != 0)
        suffix_take(s->path, '@', 99999999, baud);
}

static struct live_source *text_open(const char *rest, const struct live_hands *hands, struct fault *f)
{
    struct live_text *s = rest && *rest ? calloc(1, sizeof *s) : NULL;
    unsigned long     baud = 0;

    if (!rest || !*rest) {
        fault_set(f, FAULT_OPEN, ENOENT, 0, NULL);
        return NULL;
    }
    if (!s || !(s->reader = text_reader_new(arrival_now, s))) {
        free(s);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    s->base.hands = *hands;
    name_read(s, rest, &baud);
    if (live_input_open(&s->input, s->path, (uint32_t)baud, f))
        return &s->base;
    text_close(&s->base);
    return NULL;
}

/* Serial devices by their lasting names (udev); whether they speak the text form only their owner knows. */
static void text_find(void (*found)(void *context, const struct live_found *one), void *context)
{
    live_serial_find(found, context);
}

const struct live_kind live_text_kind = {
    .word = "text", .open = text_open, .find = text_find, .watch = text_watch, .work = text_work,
    .reached_ns = text_reached, .over = text_over, .about = text_about, .close = text_close,
};
