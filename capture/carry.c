#include "capture/carry.h"

#include "capture/json.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

enum { CC_BODY_BYTES = 8, CC_RECORD_BYTES = RECORD_HEADER_BYTES + CC_BODY_BYTES };

struct carry {
    cJSON  *about[256]; /* by the header's port; NULL: nothing said */
    bool    cc_known[255];
    uint8_t cc[255][CC_RECORD_BYTES];
};

struct carry *carry_new(void)
{
    return calloc(1, sizeof(struct carry));
}

void carry_free(struct carry *c)
{
    for (unsigned port = 0; c && port < 256; port++)
        cJSON_Delete(c->about[port]);
    free(c);
}

struct printed { char *text; size_t used; bool full; };

static void printed_put(void *context, const char *text, size_t length)
{
    struct printed *p = context;

    if (p->full || length > CARRY_ABOUT_BYTES - p->used) {
        p->full = true;
        return;
    }
    if (p->text)
        memcpy(p->text + p->used, text, length);
    p->used += length;
}

static void about_merge_text(cJSON **about, const char *text, size_t length)
{
    cJSON *patch = json_object_parse(text, length, NULL), *merged = NULL;

    if (!patch)
        return;
    merged = *about ? cJSON_Duplicate(*about, true) : cJSON_CreateObject();
    struct printed size = { .text = NULL };

    if (merged && json_merge(merged, patch)) {
        json_print(merged, printed_put, &size);
        if (!size.full) {
            cJSON_Delete(*about);
            *about = merged;
            merged = NULL;
        }
    }
    cJSON_Delete(merged);
    cJSON_Delete(patch);
}

void carry_take(struct carry *c, const uint8_t *bytes, size_t length)
{
    struct record r;

    record_read(bytes, length, false, 0, 0, &r);
    if (r.soundness != RECORD_SOUND)
        return;
    if (r.kind == RECORD_ABOUT) {
        about_merge_text(&c->about[r.port], r.about.text, r.about.length);
    } else if (r.kind == RECORD_CC_STATE) {
        memcpy(c->cc[r.port], bytes, CC_RECORD_BYTES);
        c->cc_known[r.port] = true;
    }
}



static void about_give(const struct carry *c, unsigned port, int64_t t_ns, void (*put)(void *, int64_t, const uint8_t *, size_t), void *context)
{
    uint8_t       *bytes = malloc(RECORD_BYTES_MAX);
    struct printed text = { .text = bytes ? (char *)bytes + RECORD_HEADER_BYTES : NULL };

    if (bytes) {
        json_print(c->about[port], printed_put, &text);
        record_put(bytes, RECORD_HEADER_BYTES, RECORD_ABOUT, (uint8_t)port, RECORD_HOST_TIME, 0, NULL, 0);
        put(context, t_ns, bytes, RECORD_HEADER_BYTES + text.used);
    }
    free(bytes);
}

void carry_give(const struct carry *c, int64_t t_ns, void (*put)(void *, int64_t, const uint8_t *, size_t), void *context)
{
    uint8_t cc[CC_RECORD_BYTES];

    if (c->about[RECORD_PORT_BENCH])
        about_give(c, RECORD_PORT_BENCH, t_ns, put, context);
    for (unsigned port = 0; port < 255; port++)
        if (c->about[port])
            about_give(c, port, t_ns, put, context);
    for (unsigned port = 0; port < 255; port++) {
        if (!c->cc_known[port])
            continue;
        record_put(cc, sizeof cc, RECORD_CC_STATE, (uint8_t)port, RECORD_HOST_TIME, 0, c->cc[port] + RECORD_HEADER_BYTES, CC_BODY_BYTES);
        put(context, t_ns, cc, sizeof cc);
    }
}
