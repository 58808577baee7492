#include "capture/record_move.h"

#include "capture/json.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

/* Room for an ABOUT whose numbers have grown. */
enum { GROWTH_BYTES = 1024, SUBJECT_AT = RECORD_HEADER_BYTES + 1 };

void record_move_done(struct record_moved *m)
{
    free(m->own);
    m->own = NULL;
}

/* A port number moved; 255 (the bench, none) stays. False: there is no such port. */
static bool port_move(uint8_t port, unsigned shift, uint8_t *moved)
{
    *moved = port == RECORD_PORT_BENCH ? port : (uint8_t)(port + shift);
    return port == RECORD_PORT_BENCH || port + shift < RECORD_PORT_BENCH;
}

struct text_room { char *at; size_t used, room; bool full; };

static void text_put(void *context, const char *text, size_t length)
{
    struct text_room *t = context;

    if (t->full || length > t->room - t->used) {
        t->full = true;
        return;
    }
    memcpy(t->at + t->used, text, length);
    t->used += length;
}

static bool list_move(cJSON *about, unsigned shift)
{
    cJSON *list = cJSON_GetObjectItemCaseSensitive(about, "ports");

    for (cJSON *entry = cJSON_IsArray(list) ? list->child : NULL; entry; entry = entry->next) {
        cJSON  *port = cJSON_GetObjectItemCaseSensitive(entry, "port");
        uint8_t moved;

        if (!cJSON_IsNumber(port) || port->valuedouble < 0 || port->valuedouble > 254)
            continue;
        if (!port_move((uint8_t)port->valuedouble, shift, &moved))
            return false;
        cJSON_SetNumberValue(port, moved);
    }
    return true;
}

static bool about_move(struct record_moved *m, const struct record *r, uint8_t port, unsigned shift)
{
    cJSON           *about = json_object_parse(r->about.text, r->about.length, NULL);
    struct text_room text = { .room = r->about.length + GROWTH_BYTES };

    m->own = about ? malloc(RECORD_HEADER_BYTES + text.room) : NULL;
    bool moved = m->own && list_move(about, shift);

    if (moved) {
        text.at = (char *)m->own + RECORD_HEADER_BYTES;
        json_print(about, text_put, &text);
        record_put(m->own, RECORD_HEADER_BYTES, r->kind, port, r->flags, r->duration_ns, NULL, 0);
        m->bytes = m->own;
        m->length = RECORD_HEADER_BYTES + text.used;
    }
    cJSON_Delete(about);
    if (moved && !text.full && m->length <= RECORD_BYTES_MAX)
        return true;
    record_move_done(m);
    return false;
}

/* Header and, of a mark, whom it was done to. */
static bool plain_move(struct record_moved *m, const struct record *r, uint8_t port, unsigned shift)
{
    uint8_t subject = 0;

    if (r->kind == RECORD_MARK && r->soundness == RECORD_SOUND && !port_move(r->mark.subject, shift, &subject))
        return false;
    m->own = malloc(m->length);
    if (!m->own)
        return false;
    memcpy(m->own, m->bytes, m->length);
    record_put(m->own, RECORD_HEADER_BYTES, r->kind, port, r->flags, r->duration_ns, NULL, 0);
    if (r->kind == RECORD_MARK && r->soundness == RECORD_SOUND)
        m->own[SUBJECT_AT] = subject;
    m->bytes = m->own;
    return true;
}

bool record_move(struct record_moved *m, const uint8_t *bytes, size_t length, unsigned shift)
{
    struct record r;
    uint8_t       port;

    *m = (struct record_moved){ .bytes = bytes, .length = length };
    if (shift == 0)
        return true;
    record_read(bytes, length, false, 0, 0, &r);
    if (r.soundness == RECORD_UNREADABLE)
        return true; /* no one knows what it says */
    if (!port_move(r.port, shift, &port))
        return false;
    if (r.kind == RECORD_ABOUT && r.soundness == RECORD_SOUND)
        return about_move(m, &r, port, shift);
    return plain_move(m, &r, port, shift);
}
