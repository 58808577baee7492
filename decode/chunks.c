#include "decode/chunks.h"

#include <string.h>

void chunks_drop(struct chunks *c)
{
    c->next = 0;
    c->have = 0;
}

static enum chunk_news give_up(struct chunks *c, enum chunk_news why)
{
    chunks_drop(c);
    return why;
}

static enum chunk_news take_unchunked(struct chunks *c, const struct message *m, const uint8_t **data, uint16_t *size)
{
    chunks_drop(c);
    if (m->data_size > EXTENDED_BYTES_MAX || m->body_length < m->data_size)
        return CHUNK_BAD_SIZE;
    *data = m->body;
    *size = m->data_size;
    return CHUNK_COMPLETE;
}

enum chunk_news chunks_take(struct chunks *c, const struct message *m, uint64_t frame, const uint8_t **data, uint16_t *size)
{
    if (m->message_class != CLASS_EXTENDED)
        return CHUNK_NONE;
    if (!m->has_extended_header)
        return give_up(c, CHUNK_BAD_SIZE);
    if (!m->chunked)
        return take_unchunked(c, m, data, size);
    if (m->request_chunk)
        return CHUNK_REQUEST;
    if (m->chunk == 0) {
        *c = (struct chunks){ .type = m->type, .size = m->data_size, .first_frame = frame };
    } else {
        if (c->next == 0 || c->type != m->type)
            return give_up(c, CHUNK_MISSING);
        if (m->chunk + 1 == c->next)
            return CHUNK_REPEATED;
        if (m->chunk != c->next)
            return give_up(c, CHUNK_MISSING);
    }
    unsigned want = (unsigned)(c->size - c->have);

    if (want > CHUNK_BYTES)
        want = CHUNK_BYTES;
    if (c->size > EXTENDED_BYTES_MAX || m->data_size != c->size || m->body_length < want)
        return give_up(c, CHUNK_BAD_SIZE);
    if (want)
        memcpy(c->data + c->have, m->body, want);
    c->have = (uint16_t)(c->have + want);
    *data = c->data;
    *size = c->have;
    if (c->have < c->size) {
        c->next = (uint8_t)(m->chunk + 1);
        return CHUNK_OPEN;
    }
    chunks_drop(c);
    return CHUNK_COMPLETE;
}
