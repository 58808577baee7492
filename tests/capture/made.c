#include "tests/capture/made.h"

#include <stdlib.h>
#include <string.h>

enum { START_SECOND = 1000 };
#define SECOND_NS INT64_C(1000000000)

void made_bytes(struct made *m, const void *bytes, size_t length)
{
    if (m->length + length > m->room) {
        m->room = (m->length + length) * 2;
        m->bytes = realloc(m->bytes, m->room);
        assert_non_null(m->bytes);
    }
    if (length > 0)
        memcpy(m->bytes + m->length, bytes, length);
    m->length += length;
}

void made_u8(struct made *m, unsigned value)
{
    uint8_t byte = (uint8_t)value;

    made_bytes(m, &byte, 1);
}

void made_u16(struct made *m, unsigned value)
{
    made_u8(m, m->big_endian ? value >> 8 : value);
    made_u8(m, m->big_endian ? value : value >> 8);
}

void made_u32(struct made *m, uint32_t value)
{
    made_u16(m, m->big_endian ? value >> 16 : value & 0xFFFF);
    made_u16(m, m->big_endian ? value & 0xFFFF : value >> 16);
}

void made_i32(struct made *m, int32_t value)
{
    made_u32(m, (uint32_t)value);
}

void made_hex(struct made *m, const char *hex)
{
    for (; *hex; hex++) {
        char digits[3] = { hex[0], hex[0] == ' ' ? '\0' : hex[1], '\0' };

        if (hex[0] == ' ')
            continue;
        made_u8(m, (unsigned)strtoul(digits, NULL, 16));
        hex++;
    }
}

void made_free(struct made *m)
{
    free(m->bytes);
    *m = (struct made){ 0 };
}

void pcap_begin(struct made *m, uint32_t magic, uint32_t link_type)
{
    made_u32(m, magic);
    made_u16(m, 2); /* version 2.4 */
    made_u16(m, 4);
    made_u32(m, 0);
    made_u32(m, 0);
    made_u32(m, 262144);
    made_u32(m, link_type);
}

void pcap_packet(struct made *m, uint32_t seconds, uint32_t fraction, const struct made *record)
{
    made_u32(m, seconds);
    made_u32(m, fraction);
    made_u32(m, (uint32_t)record->length);
    made_u32(m, (uint32_t)record->length);
    made_bytes(m, record->bytes, record->length);
}

static void pad(struct made *m, size_t length)
{
    while (length++ % 4 != 0)
        made_u8(m, 0);
}

void ng_block(struct made *m, uint32_t type, const struct made *body)
{
    uint32_t total = (uint32_t)(12 + (body->length + 3) / 4 * 4);

    made_u32(m, type);
    made_u32(m, total);
    made_bytes(m, body->bytes, body->length);
    pad(m, body->length);
    made_u32(m, total);
}

void ng_option(struct made *m, unsigned code, const void *value, size_t length)
{
    made_u16(m, code);
    made_u16(m, (unsigned)length);
    made_bytes(m, value, length);
    pad(m, length);
}

static void add_options(struct made *body, const struct made *options)
{
    if (options)
        made_bytes(body, options->bytes, options->length);
}

void ng_section(struct made *m, const struct made *options)
{
    struct made body = { .big_endian = m->big_endian };

    made_u32(&body, 0x1A2B3C4D);
    made_u16(&body, 1); /* version 1.0 */
    made_u16(&body, 0);
    made_u32(&body, 0xFFFFFFFF); /* section length not given */
    made_u32(&body, 0xFFFFFFFF);
    add_options(&body, options);
    ng_block(m, 0x0A0D0D0A, &body);
    made_free(&body);
}

void ng_interface(struct made *m, unsigned link_type, const struct made *options)
{
    struct made body = { .big_endian = m->big_endian };

    made_u16(&body, link_type);
    made_u16(&body, 0);
    made_u32(&body, 262144);
    add_options(&body, options);
    ng_block(m, 1, &body);
    made_free(&body);
}

void ng_packet(struct made *m, uint32_t interface, uint64_t ticks, const struct made *record, const struct made *options)
{
    struct made body = { .big_endian = m->big_endian };

    made_u32(&body, interface);
    made_u32(&body, (uint32_t)(ticks >> 32));
    made_u32(&body, (uint32_t)ticks);
    made_u32(&body, (uint32_t)record->length);
    made_u32(&body, (uint32_t)record->length);
    made_bytes(&body, record->bytes, record->length);
    pad(&body, record->length);
    add_options(&body, options);
    ng_block(m, 6, &body);
    made_free(&body);
}

struct made made_record(uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns, const char *body_hex)
{
    struct made m = { 0 };

    made_u8(&m, 1);
    made_u8(&m, kind);
    made_u8(&m, port);
    made_u8(&m, flags);
    made_u32(&m, duration_ns);
    made_hex(&m, body_hex);
    return m;
}

void trace_add(struct made *m, int64_t after_ns, uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns, const char *body_hex)
{
    struct made record = made_record(kind, port, flags, duration_ns, body_hex);
    int64_t     t_ns = START_SECOND * SECOND_NS + after_ns;

    if (m->length == 0)
        pcap_begin(m, NANO_MAGIC, 147);
    pcap_packet(m, (uint32_t)(t_ns / SECOND_NS), (uint32_t)(t_ns % SECOND_NS), &record);
    made_free(&record);
}

void seen_notice(void *context, const struct trace_notice *notice)
{
    struct seen *s = context;

    assert_true(s->notices < SEEN_MAX);
    s->notice[s->notices++] = *notice;
    if (notice->words)
        strncpy(s->words, notice->words, sizeof s->words - 1);
}

void seen_of(const struct made *m, bool file_order, struct seen *s)
{
    struct trace_options options = { .notice = seen_notice, .context = s, .file_order = file_order };
    struct fault         f;
    struct trace        *t = trace_open_memory(m->bytes, m->length, &options, &f);
    const struct record *r;

    *s = (struct seen){ 0 };
    if (!t)
        fail_msg("fault %d: %s (%zu bytes)", f.code, f.detail, m->length);
    while (trace_next(t, &r, &f)) {
        assert_true(s->count < SEEN_MAX);
        s->frame[s->count] = r->frame;
        s->t_ns[s->count] = r->t_ns - START_SECOND * SECOND_NS;
        s->soundness[s->count] = r->soundness;
        s->why[s->count] = r->why;
        s->stepped_back[s->count] = trace_stepped_back(t);
        s->count++;
    }
    assert_int_equal(f.code, FAULT_NONE);
    s->facts = *trace_facts(t);
    trace_close(t);
}

struct fault fault_of(const void *bytes, size_t length)
{
    struct fault  f;
    struct trace *t = trace_open_memory(bytes, length, NULL, &f);

    if (t)
        fail_msg("%zu bytes can be opened", length);
    return f;
}
