#include "capture/record.h"

#include "capture/base/cursor.h"
#include "capture/base/leb128.h"
#include "capture/json.h"

#include <string.h>

enum { NOMINAL_BIT_RATE = 300000, PREAMBLE_BITS = 64, ORDERED_SET_BITS = 20, BITS_PER_BYTE = 10, EOP_BITS = 5 };
/* Places in the header. */
enum { HEADER_VERSION, HEADER_KIND, HEADER_PORT, HEADER_FLAGS, HEADER_DURATION_WORD = 1 };
enum { MESSAGE_HEADER_BYTES = 2, CRC_BYTES = 4, PACKET_HEAD_BYTES = 4 };

#define BODY_FITS_MARK(body) _Static_assert(sizeof((struct record *)0)->body <= sizeof((struct record *)0)->mark, #body)
/* record_read clears the union through its largest member. */
BODY_FITS_MARK(packet);
BODY_FITS_MARK(power);
BODY_FITS_MARK(edges);
BODY_FITS_MARK(temperature);

static int64_t time_clamp(int64_t t_ns)
{
    return t_ns > RECORD_TIME_LIMIT ? RECORD_TIME_LIMIT : t_ns < -RECORD_TIME_LIMIT ? -RECORD_TIME_LIMIT : t_ns;
}

int64_t record_nominal_ns(size_t bytes_with_crc)
{
    int64_t bits = PREAMBLE_BITS + ORDERED_SET_BITS;

    if (bytes_with_crc > 0)
        bits += (int64_t)bytes_with_crc * BITS_PER_BYTE + EOP_BITS;
    return (bits * 1000000000 + NOMINAL_BIT_RATE / 2) / NOMINAL_BIT_RATE;
}

/* Where the last edge stands after the start. */
static int64_t edges_span(struct cursor c, uint32_t tick_ps)
{
    const uint64_t most = (uint64_t)RECORD_TIME_LIMIT;
    uint64_t       ticks = 0, step;

    while (c.left > 0 && leb128_read(&c, &step)) {
        if (step > most - ticks)
            return RECORD_TIME_LIMIT;
        ticks += step;
    }
    uint64_t whole = ticks / 1000, rest = ticks % 1000;

    if (tick_ps > 0 && whole > (most - tick_ps) / tick_ps)
        return RECORD_TIME_LIMIT;
    return (int64_t)(whole * tick_ps + rest * tick_ps / 1000);
}

/* Length of a record whose duration was not measured, from its body as far as that goes. */
static int64_t body_span(uint8_t kind, struct cursor body)
{
    struct cursor c = body;

    if (kind == RECORD_PD_PACKET) {
        uint8_t state = (cursor_u8(&c), cursor_u8(&c));

        cursor_u16le(&c);
        return c.short_read ? 0 : record_nominal_ns(c.left + (state & RECORD_NO_CRC ? CRC_BYTES : 0));
    }
    if (kind == RECORD_RESET_SIGNAL)
        return record_nominal_ns(0);
    if (kind == RECORD_POWER) {
        uint32_t interval_ns = cursor_u32le(&c);
        uint16_t rows = cursor_u16le(&c);

        return c.short_read ? 0 : (int64_t)interval_ns * rows;
    }
    if (kind == RECORD_CC_EDGES) {
        uint32_t tick_ps = cursor_u32le(&c);

        cursor_u32le(&c);
        return c.short_read ? 0 : edges_span(c, tick_ps);
    }
    return 0;
}

int64_t record_start_ns(const uint8_t *bytes, size_t length, int64_t stamp_ns)
{
    struct cursor  c = cursor_over(bytes, length);
    const uint8_t *header = cursor_take(&c, RECORD_HEADER_BYTES);

    stamp_ns = time_clamp(stamp_ns);
    if (!header || !(header[HEADER_FLAGS] & RECORD_END_TIME) || header[HEADER_VERSION] != RECORD_VERSION)
        return stamp_ns;
    int64_t duration_ns = (uint32_t)cursor_block_i32le(header, HEADER_DURATION_WORD);

    return time_clamp(stamp_ns - (duration_ns > 0 ? duration_ns : body_span(header[HEADER_KIND], c)));
}

int64_t record_span_unmeasured_ns(const struct record *r)
{
    if (r->soundness != RECORD_SOUND)
        return 0;
    if (r->kind == RECORD_PD_PACKET)
        return record_nominal_ns(r->packet.length + (r->packet.state & RECORD_NO_CRC ? CRC_BYTES : 0));
    if (r->kind == RECORD_POWER)
        return (int64_t)r->power.interval_ns * r->power.rows;
    if (r->kind == RECORD_RESET_SIGNAL)
        return record_nominal_ns(0);
    if (r->kind == RECORD_CC_EDGES)
        return edges_span(cursor_over(r->edges.leb, r->edges.length), r->edges.tick_ps);
    return 0;
}

int32_t record_cell(const struct record *r, unsigned row, unsigned column)
{
    size_t        cells = (size_t)r->power.rows * r->power.width;
    struct cursor c = cursor_over(r->power.cells, cells * 4);

    cursor_take(&c, ((size_t)row * r->power.width + column) * 4);
    return cursor_i32le(&c);
}

/* What each kind's body must be. The reason it is not, else RECORD_WHY_NONE. */

static enum record_why packet_read(struct cursor *c, struct record *r)
{
    const uint8_t *head = cursor_take(c, PACKET_HEAD_BYTES);

    if (!head)
        return RECORD_WHY_SHORT_BODY;
    r->packet.bytes = c->at;
    r->packet.length = c->left;
    r->packet.set = head[0];
    r->packet.state = head[1];
    if (r->port == RECORD_PORT_BENCH)
        return RECORD_WHY_PORT;
    if (r->packet.set > 4)
        return RECORD_WHY_ORDERED_SET;
    size_t least = MESSAGE_HEADER_BYTES + (r->packet.state & RECORD_NO_CRC ? 0 : CRC_BYTES);

    if (c->left < least && !(r->packet.state & RECORD_TRUNCATED))
        return RECORD_WHY_SHORT_PACKET;
    return RECORD_WHY_NONE;
}

static enum record_why reset_read(struct cursor *c, struct record *r)
{
    r->reset.which = cursor_u8(c);
    cursor_take(c, 3);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    if (r->port == RECORD_PORT_BENCH)
        return RECORD_WHY_PORT;
    return r->reset.which > RECORD_CABLE_RESET ? RECORD_WHY_RESET : RECORD_WHY_NONE;
}

static enum record_why power_read(struct cursor *c, struct record *r)
{
    r->power.interval_ns = cursor_u32le(c);
    r->power.rows = cursor_u16le(c);
    r->power.columns = cursor_u8(c);
    cursor_u8(c);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    if (r->power.rows == 0)
        return RECORD_WHY_ROWS;
    if (r->power.columns == 0 || r->power.columns > (RECORD_VBUS | RECORD_IBUS | RECORD_VCONN))
        return RECORD_WHY_COLUMNS;
    if (r->power.interval_ns == 0 && r->power.rows > 1)
        return RECORD_WHY_INTERVAL;
    r->power.width = (uint8_t)((r->power.columns & 1) + (r->power.columns >> 1 & 1) + (r->power.columns >> 2));
    r->power.cells = cursor_take(c, (size_t)r->power.rows * r->power.width * 4);
    return c->short_read ? RECORD_WHY_SHORT_BODY : RECORD_WHY_NONE;
}

static enum record_why cc_read(struct cursor *c, struct record *r)
{
    r->cc.attach = cursor_u8(c);
    r->cc.rp = cursor_u8(c);
    r->cc.cc1_mv = cursor_u16le(c);
    r->cc.cc2_mv = cursor_u16le(c);
    cursor_u16le(c);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    if (r->port == RECORD_PORT_BENCH)
        return RECORD_WHY_PORT;
    if (r->cc.attach > 4)
        return RECORD_WHY_ATTACH;
    return r->cc.rp > 3 ? RECORD_WHY_RP : RECORD_WHY_NONE;
}

static enum record_why text_check(struct cursor *c, const char **text, size_t *length)
{
    *text = (const char *)c->at;
    *length = c->left;
    return utf8_valid(*text, *length) ? RECORD_WHY_NONE : RECORD_WHY_UTF8;
}

static enum record_why mark_read(struct cursor *c, struct record *r)
{
    r->mark.action = cursor_u8(c);
    r->mark.subject = cursor_u8(c);
    cursor_u16le(c);
    r->mark.value = cursor_i32le(c);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    if (r->mark.action > RECORD_BUTTON)
        return RECORD_WHY_ACTION;
    return text_check(c, &r->mark.text, &r->mark.length);
}

static enum record_why lost_read(struct cursor *c, struct record *r)
{
    r->lost.count = cursor_u32le(c);
    r->lost.where = cursor_u32le(c);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    return r->lost.where > 3 ? RECORD_WHY_WHERE : RECORD_WHY_NONE;
}

static enum record_why temperature_read(struct cursor *c, struct record *r)
{
    r->temperature.probe = cursor_u8(c);
    cursor_take(c, 3);
    r->temperature.mc = cursor_i32le(c);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    return text_check(c, &r->temperature.label, &r->temperature.length);
}

static enum record_why about_read(struct cursor *c, struct record *r)
{
    r->about.text = (const char *)c->at;
    r->about.length = c->left;
    if (!utf8_valid(r->about.text, r->about.length))
        return RECORD_WHY_UTF8;
    return json_object_check(r->about.text, r->about.length, NULL) ? RECORD_WHY_NONE : RECORD_WHY_JSON;
}

static enum record_why edges_read(struct cursor *c, struct record *r)
{
    r->edges.tick_ps = cursor_u32le(c);
    r->edges.level = cursor_u8(c);
    cursor_take(c, 3);
    if (c->short_read)
        return RECORD_WHY_SHORT_BODY;
    if (r->edges.level > 1)
        return RECORD_WHY_LEVEL;
    if (r->edges.tick_ps == 0)
        return RECORD_WHY_TICK;
    r->edges.leb = c->at;
    r->edges.length = c->left;
    for (uint64_t ticks; c->left > 0;) {
        if (!leb128_read(c, &ticks))
            return RECORD_WHY_LEB128;
    }
    return RECORD_WHY_NONE;
}

static bool kind_read(struct cursor *c, struct record *r)
{
    switch (r->kind) {
    case RECORD_PD_PACKET:    r->why = packet_read(c, r); return true;
    case RECORD_RESET_SIGNAL: r->why = reset_read(c, r); return true;
    case RECORD_POWER:        r->why = power_read(c, r); return true;
    case RECORD_CC_STATE:     r->why = cc_read(c, r); return true;
    case RECORD_MARK:         r->why = mark_read(c, r); return true;
    case RECORD_LOST:         r->why = lost_read(c, r); return true;
    case RECORD_TEMPERATURE:  r->why = temperature_read(c, r); return true;
    case RECORD_ABOUT:        r->why = about_read(c, r); return true;
    case RECORD_CC_EDGES:     r->why = edges_read(c, r); return true;
    default:                  return false; /* not an enum here: any byte may stand in the header */
    }
}

static void soundness_set(struct record *r, enum record_soundness soundness, enum record_why why)
{
    r->soundness = soundness;
    r->why = why;
}

/* As much of a header as there is. */
static void short_header_read(const uint8_t *bytes, size_t length, struct record *r)
{
    struct cursor c = cursor_over(bytes, length);

    r->version = cursor_u8(&c);
    r->kind = cursor_u8(&c);
    r->port = cursor_u8(&c);
    r->flags = cursor_u8(&c);
    r->duration_ns = cursor_u32le(&c);
}

void record_read(const uint8_t *bytes, size_t length, bool cut, int64_t stamp_ns, uint64_t frame, struct record *r)
{
    struct cursor  c = cursor_over(bytes, length);
    const uint8_t *header = cursor_take(&c, RECORD_HEADER_BYTES);

    r->frame = frame;
    r->stamp_ns = r->t_ns = time_clamp(stamp_ns);
    r->bytes = bytes;
    r->length = length;
    memset(&r->mark, 0, sizeof r->mark);
    if (!header) {
        short_header_read(bytes, length, r);
        soundness_set(r, RECORD_UNREADABLE, RECORD_WHY_SHORT_HEADER);
        return;
    }
    r->version = header[HEADER_VERSION];
    r->kind = header[HEADER_KIND];
    r->port = header[HEADER_PORT];
    r->flags = header[HEADER_FLAGS];
    r->duration_ns = (uint32_t)cursor_block_i32le(header, HEADER_DURATION_WORD);
    if (r->version != RECORD_VERSION) {
        soundness_set(r, RECORD_UNREADABLE, RECORD_WHY_VERSION);
        return;
    }
    if (r->flags & RECORD_END_TIME)
        r->t_ns = record_start_ns(bytes, length, stamp_ns);
    r->soundness = RECORD_SOUND;
    if (!kind_read(&c, r))
        soundness_set(r, RECORD_UNKNOWN, r->kind >= 0x80 ? RECORD_WHY_PRIVATE : RECORD_WHY_KIND);
    else if (cut)
        soundness_set(r, RECORD_DAMAGED, RECORD_WHY_CUT);
    else if (length > RECORD_BYTES_MAX)
        soundness_set(r, RECORD_DAMAGED, RECORD_WHY_LONG);
    else if (r->why != RECORD_WHY_NONE)
        r->soundness = RECORD_DAMAGED;
}
