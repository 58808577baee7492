#include "cli/import_pins.h"

#include "capture/record.h"
#include "decode/cc_level.h"

#include <stdlib.h>

enum { BODY_BYTES = 8 };

struct import_pins {
    struct cc_pins pins;
    uint8_t        port;
    uint64_t       count;
    bool         (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length);
    void          *context;
};

static void changed_take(void *context, int64_t at_ns, const struct cc_state *s)
{
    struct import_pins *p = context;
    uint8_t             body[BODY_BYTES] = { s->attach, s->rp, (uint8_t)s->cc1_mv, (uint8_t)(s->cc1_mv >> 8), (uint8_t)s->cc2_mv, (uint8_t)(s->cc2_mv >> 8) };
    uint8_t             bytes[RECORD_HEADER_BYTES + BODY_BYTES];

    p->count++;
    p->put(p->context, at_ns, bytes, record_put(bytes, sizeof bytes, RECORD_CC_STATE, p->port, 0, 0, body, sizeof body));
}

struct import_pins *import_pins_new(uint8_t port, const bool measured[2], bool (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length),
                                    void *context)
{
    struct import_pins *p = calloc(1, sizeof *p);

    if (!p)
        return NULL;
    p->port = port;
    p->put = put;
    p->context = context;
    cc_pins_begin(&p->pins, measured, changed_take, p);
    return p;
}

void import_pins_free(struct import_pins *p)
{
    free(p);
}

void import_pins_take(struct import_pins *p, unsigned pin, struct cc_tick tick, const struct cc_block *block)
{
    for (size_t k = 0; k < block->level_count; k++) {
        const struct cc_level *level = &block->levels[k];

        cc_pins_level(&p->pins, pin, cc_ticks_ns(tick, level->from), cc_ticks_ns(tick, level->until), level->mv);
    }
    cc_pins_reached(&p->pins, pin, cc_ticks_ns(tick, block->until));
}

void import_pins_finish(struct import_pins *p)
{
    cc_pins_finish(&p->pins);
}

int64_t import_pins_settled_ns(const struct import_pins *p)
{
    return cc_pins_settled(&p->pins);
}

uint64_t import_pins_count(const struct import_pins *p)
{
    return p->count;
}
