#include "decode/message.h"

#include "capture/base/cursor.h"
#include "capture/record.h"

#include <zlib.h>

enum {
    HEADER_BYTES = 2,
    CRC_BYTES = 4,
    WORDS_MAX = 7,            /* data objects of a packet; a chunk has fewer */
    WORDS_UNCHUNKED_MAX = 65, /* 260 bytes, MaxExtendedMsgLen */
};

static void header_unpack(struct message *m, uint16_t header)
{
    bool extended = header >> 15 & 1;

    m->header = header;
    m->objects = header >> 12 & 7;
    m->id = header >> 9 & 7;
    m->power_bit = header >> 8 & 1;
    m->revision = header >> 6 & 3;
    m->data_bit = header >> 5 & 1;
    m->type = header & 0x1f;
    m->message_class = extended ? CLASS_EXTENDED : m->objects ? CLASS_DATA : CLASS_CONTROL;
    m->index = (uint8_t)MESSAGE_INDEX(m->message_class, m->type);
}

static void extended_header_unpack(struct message *m, uint16_t header)
{
    m->has_extended_header = true;
    m->extended_header = header;
    m->chunked = header >> 15 & 1;
    m->chunk = header >> 11 & 0xf;
    m->request_chunk = header >> 10 & 1;
    m->data_size = header & 0x1ff;
}

/* Bytes after the message header that the headers promise, for telling a cut CRC from data. */
static size_t promised_length(const struct message *m, struct cursor after_header)
{
    if (m->message_class != CLASS_EXTENDED || m->objects)
        return 4u * m->objects;
    return 2u + (cursor_u16le(&after_header) & 0x1ffu);
}

/* How many of the left bytes after the message header belong to the CRC. */
static size_t crc_length(const struct message *m, struct cursor after_header, uint8_t state)
{
    size_t left = after_header.left;

    if (state & RECORD_NO_CRC)
        return 0;
    if (state & RECORD_TRUNCATED) {
        size_t promised = promised_length(m, after_header);
        size_t beyond = left > promised ? left - promised : 0;

        return beyond < CRC_BYTES ? beyond : CRC_BYTES;
    }
    return left < CRC_BYTES ? left : CRC_BYTES;
}

/*
 * Most messages are a header and nothing else: for few bytes zlib's own table, gone through here, spares its start-up.
 */
enum { CRC_FEW_BYTES = 8 };

static uint32_t crc_of(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    uint32_t      crc = UINT32_MAX;

    if (length > CRC_FEW_BYTES)
        return (uint32_t)crc32_z(0, bytes, length);
    const z_crc_t *table = get_crc_table();

    for (; length > 0; length--)
        crc = table[(crc ^ cursor_u8(&c)) & 0xFF] ^ crc >> 8;
    return ~crc;
}

/* The instrument's word that a CRC was bad counts even where it did not keep the CRC itself. */
static enum crc_state crc_judge(const struct message *m, struct cursor crc, uint8_t state)
{
    if (state & RECORD_CRC_BAD)
        return CRC_BAD;
    if (state & (RECORD_NO_CRC | RECORD_TRUNCATED))
        return CRC_ABSENT;
    uint32_t received = cursor_u32le(&crc);

    if (crc.short_read)
        return CRC_BAD;
    return crc_of(m->raw, m->raw_length) == received ? CRC_GOOD : CRC_BAD;
}

bool message_read(const uint8_t *bytes, size_t length, uint8_t set, uint8_t state, struct message *m)
{
    /* A record holds at most 65,535 bytes: what lengths of 16 bits can say. */
    struct cursor c = cursor_over(bytes, length > UINT16_MAX ? UINT16_MAX : length);
    uint16_t      header = cursor_u16le(&c);

    if (c.short_read)
        return false;
    /* Field by field, the rest below: clearing all of it shows in the time of a long trace. */
    m->set = set;
    m->truncated = (state & RECORD_TRUNCATED) != 0;
    m->crc_flag = (state & RECORD_CRC_BAD) != 0;
    m->raw = bytes;
    m->has_extended_header = m->chunked = m->request_chunk = false;
    m->extended_header = m->data_size = 0;
    m->chunk = 0;
    header_unpack(m, header);
    m->length = (uint16_t)(c.left - crc_length(m, c, state));
    m->raw_length = (uint16_t)(HEADER_BYTES + m->length);

    struct cursor body = cursor_over(cursor_take(&c, m->length), m->length);

    m->crc = (uint8_t)crc_judge(m, c, state);
    if (m->message_class == CLASS_EXTENDED && body.left >= 2)
        extended_header_unpack(m, cursor_u16le(&body));
    m->body = body.at;
    m->body_length = (uint16_t)body.left;
    return true;
}

uint32_t message_word(const struct message *m, unsigned k)
{
    struct cursor c = cursor_over(m->body, m->body_length);

    cursor_take(&c, (size_t)k * 4);
    return cursor_u32le(&c);
}

unsigned message_words(const struct message *m)
{
    unsigned words = m->body_length / 4u;
    unsigned most = m->has_extended_header && !m->chunked ? WORDS_UNCHUNKED_MAX : WORDS_MAX;

    return words < most ? words : most;
}
