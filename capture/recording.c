#include "capture/recording.h"

#include "capture/base/cursor.h"
#include "capture/carry.h"
#include "capture/hold_inside.h"

#include <stdlib.h>
#include <string.h>

enum { LOST_RECORD_BYTES = RECORD_HEADER_BYTES + 8, LOST_AT_DISK = 3 };
/* What the format allows between streams, less what a clock may be off. */
#define SLACK_NS INT64_C(900000000)

struct recording {
    struct recording_options options;
    struct disk   *disk;
    struct hold   *hold;
    struct carry  *carry;
    struct recording_counts counts;
    uint64_t       frame;      /* number of the last record, over all files */
    uint64_t       missing;    /* lost at the disk since the last record that was written */
    int64_t        written_ns; /* greatest start written; INT64_MIN: none */
    int64_t        began_ns;   /* of the file; INT64_MIN: it has no record yet */
};

struct recording *recording_open(const struct recording_options *options, struct fault *f)
{
    struct recording *r = calloc(1, sizeof *r);

    if (r) {
        r->options = *options;
        r->hold = hold_new();
        r->carry = carry_new();
        r->written_ns = r->began_ns = INT64_MIN;
        r->counts.files = 1;
    }
    if (!r || !r->hold || !r->carry) {
        recording_close(r, NULL);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    r->disk = disk_open(&options->disk, f);
    if (r->disk)
        return r;
    recording_close(r, NULL);
    return NULL;
}

struct disk *recording_disk(struct recording *r)
{
    return r->disk;
}

struct recording_counts recording_counts(const struct recording *r)
{
    return r->counts;
}

static void tell(struct recording *r, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct record record;

    r->counts.records++;
    r->frame++;
    if (!r->options.written)
        return;
    record_read(bytes, length, false, stamp_ns, r->frame, &record);
    r->options.written(r->options.context, &record);
}

static void put_u32(uint8_t *out, uint32_t value)
{
    for (unsigned k = 0; k < 4; k++)
        out[k] = (uint8_t)(value >> 8 * k);
}

/* Says what is missing before the record that begins at t_ns. False: there is still no room. */
static bool missing_say(struct recording *r, int64_t t_ns)
{
    uint8_t bytes[LOST_RECORD_BYTES], body[8];

    if (r->missing == 0)
        return true;
    put_u32(body, r->missing < UINT32_MAX ? (uint32_t)r->missing : UINT32_MAX - 1);
    put_u32(body + 4, LOST_AT_DISK);
    record_put(bytes, sizeof bytes, RECORD_LOST, RECORD_PORT_BENCH, RECORD_HOST_TIME, 0, body, sizeof body);
    if (!disk_put(r->disk, t_ns, bytes, sizeof bytes))
        return false;
    r->missing = 0;
    tell(r, t_ns, bytes, sizeof bytes);
    return true;
}

static void lost_count(struct recording *r, const uint8_t *bytes, size_t length)
{
    struct record lost;

    record_read(bytes, length, false, 0, 0, &lost);
    if (lost.soundness == RECORD_SOUND && lost.kind == RECORD_LOST)
        r->counts.lost += lost.lost.count == RECORD_LOST_UNKNOWN ? 1 : lost.lost.count;
}

/* The record, and before it what is missing. */
static void write_one(struct recording *r, int64_t t_ns, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    if (!missing_say(r, t_ns) || !disk_put(r->disk, stamp_ns, bytes, length)) {
        r->missing++;
        r->counts.lost++;
        r->counts.lost_at_disk++;
        return;
    }
    tell(r, stamp_ns, bytes, length);
}

static void carried_put(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    write_one(context, stamp_ns, stamp_ns, bytes, length);
}

static bool file_full(const struct recording *r, int64_t t_ns)
{
    const struct recording_options *o = &r->options;

    if (r->began_ns == INT64_MIN || r->missing > 0)
        return false;
    return (o->rotate_bytes > 0 && disk_file_bytes(r->disk) >= o->rotate_bytes) ||
           (o->rotate_ns > 0 && t_ns - r->began_ns >= o->rotate_ns);
}

static void file_begin(struct recording *r, int64_t t_ns)
{
    r->began_ns = t_ns;
    carry_give(r->carry, t_ns, carried_put, r);
}

static void record_write(struct recording *r, const struct held *h)
{
    if (file_full(r, h->t_ns) && disk_next(r->disk)) {
        r->counts.files++;
        file_begin(r, h->t_ns);
    }
    if (r->began_ns == INT64_MIN)
        file_begin(r, h->t_ns);
    if (h->kind == RECORD_ABOUT || h->kind == RECORD_CC_STATE)
        carry_take(r->carry, h->bytes, h->length);
    if (h->kind == RECORD_LOST)
        lost_count(r, h->bytes, h->length);
    if (h->t_ns > r->written_ns)
        r->written_ns = h->t_ns;
    write_one(r, h->t_ns, h->stamp_ns, h->bytes, h->length);
}

void recording_advance(struct recording *r, int64_t until_ns)
{
    const struct held *h;

    while ((h = hold_take(r->hold, until_ns)) != NULL)
        record_write(r, h);
}

int64_t recording_waits_ns(struct recording *r)
{
    return hold_first_ns(r->hold);
}

static bool out_of_order(const struct recording *r, int64_t t_ns, int64_t now_ns)
{
    return t_ns > now_ns + SLACK_NS || (r->written_ns != INT64_MIN && t_ns < r->written_ns - SLACK_NS);
}

/* The same record, stamped with the time of its arrival. */
static uint8_t *restamped(const uint8_t *bytes, size_t length)
{
    struct record was;
    uint8_t      *copy = malloc(length);

    if (!copy)
        return NULL;
    record_read(bytes, length, false, 0, 0, &was);
    memcpy(copy, bytes, length);
    record_put(copy, RECORD_HEADER_BYTES, was.kind, was.port, (uint8_t)((was.flags & ~RECORD_END_TIME) | RECORD_HOST_TIME), was.duration_ns,
               NULL, 0);
    return copy;
}

static uint8_t kind_of(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);

    cursor_u8(&c);
    return cursor_u8(&c);
}

bool recording_put(struct recording *r, int64_t stamp_ns, const uint8_t *bytes, size_t length, int64_t now_ns)
{
    struct held h = { .stamp_ns = stamp_ns, .bytes = bytes, .length = (uint32_t)length, .kind = kind_of(bytes, length) };
    uint8_t    *copy = NULL;

    h.t_ns = record_start_ns(bytes, length, stamp_ns);
    if (length >= RECORD_HEADER_BYTES && out_of_order(r, h.t_ns, now_ns)) {
        h.bytes = copy = restamped(bytes, length);
        h.stamp_ns = h.t_ns = now_ns > r->written_ns ? now_ns : r->written_ns;
        r->counts.restamped++;
        if (!copy)
            return false;
    }
    bool put = hold_put(r->hold, &h);

    free(copy);
    return put;
}

bool recording_close(struct recording *r, struct fault *f)
{
    if (!r)
        return true;
    if (r->disk)
        recording_advance(r, INT64_MAX);
    bool done = disk_close(r->disk, f);

    hold_free(r->hold);
    carry_free(r->carry);
    free(r);
    return done;
}
