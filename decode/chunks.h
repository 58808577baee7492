/*
 * decode/chunks.h - an extended message put together from its chunks (USB PD chunking: 26 bytes a chunk, at most
 * 260 in all; Zephyr usbc_pd.h MaxExtendedMsgChunkLen, MaxExtendedMsgLen), for one sender on one ordered set.
 */
#pragma once
#include "decode/message.h"

enum { CHUNK_BYTES = 26, EXTENDED_BYTES_MAX = 260 };

enum chunk_news {
    CHUNK_NONE,      /* not an extended message */
    CHUNK_REQUEST,   /* asks for a chunk */
    CHUNK_OPEN,      /* a chunk; more must follow */
    CHUNK_COMPLETE,  /* the message is whole: data, size */
    CHUNK_REPEATED,  /* this chunk was there already */
    CHUNK_MISSING,   /* a chunk before this one is missing: the message is given up */
    CHUNK_BAD_SIZE,  /* carries fewer bytes than it should, or more than 260 in all: given up */
};
struct chunks {
    uint8_t  type;       /* extended type under way */
    uint8_t  next;       /* number of the chunk that should come; 0: nothing under way */
    uint16_t size;       /* Data Size of chunk 0 */
    uint16_t have;
    uint64_t first_frame;
    uint8_t  data[EXTENDED_BYTES_MAX];
};
/* What one message means for the assembly. CHUNK_COMPLETE: the block is (*data, *size), in m itself (unchunked) or in c, until the next call. */
enum chunk_news chunks_take(struct chunks *c, const struct message *m, uint64_t frame, const uint8_t **data, uint16_t *size);
void chunks_drop(struct chunks *c);
