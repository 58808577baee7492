#include "capture/pcap_head_inside.h"

#include "capture/base/cursor.h"

enum { MICROSECOND_NS = 1000, SECOND_NS = 1000000000 };
enum { BLOCK_SECTION = 0x0A0D0D0A, BLOCK_INTERFACE = 1, BLOCK_LEAST = 12, OPTION_END = 0, OPTION_TSRESOL = 9 };
#define BYTE_ORDER_MAGIC UINT32_C(0x1A2B3C4D)

/* Magic numbers of classic files; all but the nanosecond one have microseconds. */
static const struct { uint32_t magic; int64_t unit_ns; } magics_all[] = {
    { 0xA1B2C3D4, MICROSECOND_NS },
    { 0xA1B23C4D, 0 },
    { 0xA1B2CD34, MICROSECOND_NS }, /* variants that libpcap reads too, from memory */
    { 0xA1B234CD, MICROSECOND_NS },
};

enum { MAGICS_COMMON = 2, VERSION_2_4 = 4 << 16 | 2 };

struct reader {
    struct cursor c;
    bool          big_endian;
};

static uint32_t swap32(uint32_t v)
{
    return v >> 24 | (v >> 8 & 0xFF00) | (v << 8 & 0xFF0000) | v << 24;
}

static uint32_t u32(struct reader *r)
{
    uint32_t v = cursor_u32le(&r->c);

    return r->big_endian ? swap32(v) : v;
}

static uint16_t u16(struct reader *r)
{
    uint16_t v = cursor_u16le(&r->c);

    if (!r->big_endian)
        return v;
    return (uint16_t)((unsigned)v >> 8 | (unsigned)v << 8);
}

static bool classic_read(const uint8_t *bytes, size_t length, struct pcap_head *head)
{
    struct cursor c = cursor_over(bytes, length);
    uint32_t      magic = cursor_u32le(&c);

    for (size_t i = 0; i < sizeof magics_all / sizeof magics_all[0]; i++) {
        if (c.short_read || (magic != magics_all[i].magic && swap32(magic) != magics_all[i].magic))
            continue;
        struct reader r = { .c = c, .big_endian = magic != magics_all[i].magic };

        uint32_t version = u32(&r);

        cursor_take(&r.c, 12); /* two words of zero, snapshot length */
        head->link_type = u32(&r) & 0x0FFFFFFF;
        head->time_unit_ns = magics_all[i].unit_ns;
        head->complete = !r.c.short_read;
        head->simple = head->complete && !r.big_endian && i < MAGICS_COMMON && version == VERSION_2_4;
        return true;
    }
    return false;
}

/* if_tsresol: a negative power of ten, or of two with the highest bit set. */
static int64_t resolution_ns(uint8_t value)
{
    int64_t unit = SECOND_NS;

    for (unsigned i = 0; i < (value & 0x7Fu) && unit > 0; i++)
        unit = value & 0x80 ? unit / 2 : unit / 10;
    return unit <= 1 ? 0 : unit;
}

static int64_t interface_resolution(struct reader r)
{
    while (r.c.left > 0) {
        uint16_t code = u16(&r), size = u16(&r);

        if (r.c.short_read || code == OPTION_END)
            break;
        if (code == OPTION_TSRESOL && size == 1) {
            uint8_t value = cursor_u8(&r.c);

            return r.c.short_read ? MICROSECOND_NS : resolution_ns(value);
        }
        cursor_take(&r.c, (size + 3u) & ~3u);
    }
    return MICROSECOND_NS;
}

static void interface_read(struct reader r, struct pcap_head *head)
{
    head->link_type = u16(&r);
    cursor_take(&r.c, 6); /* reserved, snapshot length */
    head->complete = !r.c.short_read;
    head->time_unit_ns = interface_resolution(r);
}

/* From the start of a section to its first interface. */
static void section_read(const uint8_t *bytes, size_t length, struct pcap_head *head)
{
    struct reader r = { .c = cursor_over(bytes, length) };
    struct cursor ahead = r.c;

    cursor_take(&ahead, 8);
    r.big_endian = cursor_u32le(&ahead) != BYTE_ORDER_MAGIC;
    for (;;) {
        uint32_t type = u32(&r), total = u32(&r);

        if (r.c.short_read || total < BLOCK_LEAST)
            return;
        uint32_t       body = total - BLOCK_LEAST;
        const uint8_t *from = cursor_take(&r.c, body);

        cursor_take(&r.c, 4); /* the length again */
        if (!from)
            return;
        if (type == BLOCK_INTERFACE) {
            interface_read((struct reader){ .c = cursor_over(from, body), .big_endian = r.big_endian }, head);
            return;
        }
    }
}

bool pcap_head_read(const uint8_t *bytes, size_t length, struct pcap_head *head)
{
    struct cursor c = cursor_over(bytes, length);
    uint32_t      first = cursor_u32le(&c);

    *head = (struct pcap_head){ .time_unit_ns = MICROSECOND_NS };
    if (c.short_read)
        return false;
    if (first != BLOCK_SECTION)
        return classic_read(bytes, length, head);
    head->pcapng = true;
    section_read(bytes, length, head);
    return true;
}
