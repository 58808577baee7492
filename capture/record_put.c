#include "capture/record.h"

#include <string.h>

/* Bytes written so far into a room of known size; nothing is written beyond it. */
struct room {
    uint8_t *out;
    size_t   cap, used;
    bool     full;
};

static void room_put(struct room *m, const void *bytes, size_t n)
{
    if (m->full || n > m->cap - m->used) {
        m->full = true;
        return;
    }
    if (n > 0)
        memcpy(m->out + m->used, bytes, n);
    m->used += n;
}

static void room_u8(struct room *m, uint8_t value)
{
    room_put(m, &value, 1);
}

static void room_u32le(struct room *m, uint32_t value)
{
    uint8_t bytes[4] = { (uint8_t)value, (uint8_t)(value >> 8), (uint8_t)(value >> 16), (uint8_t)(value >> 24) };

    room_put(m, bytes, sizeof bytes);
}

static struct room room_with_header(uint8_t *out, size_t cap, uint8_t kind, uint8_t port, uint8_t flags,
                                    uint32_t duration_ns)
{
    struct room m = { .out = out, .cap = cap < RECORD_BYTES_MAX ? cap : RECORD_BYTES_MAX };

    room_u8(&m, RECORD_VERSION);
    room_u8(&m, kind);
    room_u8(&m, port);
    room_u8(&m, flags);
    room_u32le(&m, duration_ns);
    return m;
}

static size_t room_length(const struct room *m)
{
    return m->full ? 0 : m->used;
}

size_t record_put(uint8_t *out, size_t cap, uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns,
                  const uint8_t *body, size_t length)
{
    struct room m = room_with_header(out, cap, kind, port, flags, duration_ns);

    room_put(&m, body, length);
    return room_length(&m);
}

size_t record_put_packet(uint8_t *out, size_t cap, uint8_t port, uint8_t flags, uint32_t duration_ns,
                         uint8_t set, uint8_t state, const uint8_t *bytes, size_t length)
{
    struct room m = room_with_header(out, cap, RECORD_PD_PACKET, port, flags, duration_ns);

    room_u32le(&m, (uint32_t)set | (uint32_t)state << 8);
    room_put(&m, bytes, length);
    return room_length(&m);
}

size_t record_put_power(uint8_t *out, size_t cap, uint8_t port, uint8_t flags, uint32_t duration_ns,
                        uint32_t interval_ns, uint16_t rows, uint8_t columns, const int32_t *cells)
{
    struct room m = room_with_header(out, cap, RECORD_POWER, port, flags, duration_ns);
    size_t      width = (columns & 1u) + (columns >> 1 & 1u) + (columns >> 2 & 1u);

    room_u32le(&m, interval_ns);
    room_u32le(&m, rows | (uint32_t)columns << 16);
    for (size_t i = 0; i < rows * width && !m.full; i++)
        room_u32le(&m, (uint32_t)cells[i]);
    return room_length(&m);
}
