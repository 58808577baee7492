#include "capture/about.h"

#include "capture/about_read_inside.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

/*
 * A trace can hold any number of ABOUT records, so what is kept of them has an end: a text that would go beyond it
 * is not merged.
 */
enum { MEMBERS_MAX = 512, ITEMS_MAX = 4096, STRINGS_MAX = 256 * 1024 };

struct extent { size_t items, strings; };

struct about {
    cJSON                  *bench;         /* merged, overrides included */
    cJSON                  *ports[255];    /* what a port's own ABOUT records said; NULL: nothing */
    cJSON                  *overrides;     /* an array of what about_override was given, in order */
    struct about_instrument bench_instrument;
    struct about_instrument *instruments[255]; /* NULL: the port has none of its own */
    struct about_port       port_facts[255];
    bool                    told[256];     /* about_port_told: asked for often */
    struct extent           held;          /* at most, of all trees */
    unsigned                generation;
};

struct about *about_new(void)
{
    struct about *a = calloc(1, sizeof *a);

    if (!a)
        return NULL;
    a->bench = cJSON_CreateObject();
    a->overrides = cJSON_CreateArray();
    if (!a->bench || !a->overrides) {
        about_free(a);
        return NULL;
    }
    for (unsigned port = 0; port < 255; port++)
        about_port_clear(&a->port_facts[port]);
    return a;
}

void about_free(struct about *a)
{
    if (!a)
        return;
    for (unsigned port = 0; port < 255; port++) {
        cJSON_Delete(a->ports[port]);
        free(a->instruments[port]);
    }
    cJSON_Delete(a->bench);
    cJSON_Delete(a->overrides);
    free(a);
}

/* Counts a tree; false if one of its objects has too many members for look-ups by walking. */
static bool extent_add(const cJSON *json, struct extent *e)
{
    size_t members = 0;

    for (const cJSON *m = json->child; m; m = m->next) {
        e->items++;
        e->strings += (m->string ? strlen(m->string) : 0) + (m->valuestring ? strlen(m->valuestring) : 0);
        if (++members > MEMBERS_MAX || !extent_add(m, e))
            return false;
    }
    return true;
}

/* Only when the running count, which takes replaced values for added ones, says that the end may be reached. */
static struct extent extent_recount(const struct about *a)
{
    struct extent e = { 0 };

    extent_add(a->bench, &e);
    for (unsigned port = 0; port < 255; port++) {
        if (a->ports[port])
            extent_add(a->ports[port], &e);
    }
    return e;
}

static bool fits(struct extent have, struct extent more)
{
    return have.items + more.items <= ITEMS_MAX && have.strings + more.strings <= STRINGS_MAX;
}

static bool room_for(struct about *a, const cJSON *target, const cJSON *patch)
{
    struct extent more = { 0 }, top = { 0 };

    if (!extent_add(patch, &more))
        return false;
    for (const cJSON *m = target ? target->child : NULL; m; m = m->next)
        top.items++;
    for (const cJSON *m = patch->child; m; m = m->next)
        top.items++;
    if (top.items > 2 * MEMBERS_MAX)
        return false;
    if (!fits(a->held, more))
        a->held = extent_recount(a);
    if (!fits(a->held, more))
        return false;
    a->held.items += more.items;
    a->held.strings += more.strings;
    return true;
}

static const cJSON *member(const cJSON *json, const char *key)
{
    return json ? cJSON_GetObjectItemCaseSensitive(json, key) : NULL;
}

/* Of one port: the bench's readings, the port's own over them, the user's over both. */
static void instrument_refresh(struct about *a, unsigned port)
{
    const cJSON *own = member(a->ports[port], "instrument");

    if (!cJSON_IsObject(own)) {
        free(a->instruments[port]);
        a->instruments[port] = NULL;
        return;
    }
    if (!a->instruments[port])
        a->instruments[port] = malloc(sizeof *a->instruments[port]);
    if (!a->instruments[port])
        return; /* the bench's stand in for it */
    *a->instruments[port] = a->bench_instrument;
    about_instrument_read(own, a->instruments[port]);
    for (const cJSON *o = a->overrides->child; o; o = o->next)
        about_instrument_read(member(o, "instrument"), a->instruments[port]);
}

static void instruments_refresh(struct about *a)
{
    a->bench_instrument = (struct about_instrument){ 0 };
    about_instrument_read(member(a->bench, "instrument"), &a->bench_instrument);
    for (unsigned port = 0; port < 255; port++)
        instrument_refresh(a, port);
}

/* only: the one port that the list may speak of, or RECORD_PORT_BENCH for any. */
static void port_list_read(struct about *a, const cJSON *list, unsigned only)
{
    if (!cJSON_IsArray(list))
        return;
    for (const cJSON *entry = list->child; entry; entry = entry->next) {
        int port = about_port_number(entry);

        if (port >= 0 && (only == RECORD_PORT_BENCH || only == (unsigned)port))
            about_port_read(entry, &a->port_facts[port]);
    }
}

static void ports_refresh(struct about *a)
{
    for (unsigned port = 0; port < 255; port++)
        about_port_clear(&a->port_facts[port]);
    port_list_read(a, member(a->bench, "ports"), RECORD_PORT_BENCH);
    for (unsigned port = 0; port < 255; port++)
        port_list_read(a, member(a->ports[port], "ports"), port);
    for (const cJSON *o = a->overrides->child; o; o = o->next)
        port_list_read(a, member(o, "ports"), RECORD_PORT_BENCH);
}

static bool names(const cJSON *json, const char *from)
{
    const cJSON *list = member(json, "rebuilt");

    for (const cJSON *m = cJSON_IsArray(list) ? list->child : NULL; m; m = m->next) {
        if (cJSON_IsString(m) && strcmp(m->valuestring, from) == 0)
            return true;
    }
    return false;
}

static void told_refresh(struct about *a)
{
    bool bench = names(a->bench, "kernel") || names(a->bench, "kernel_log");

    for (unsigned port = 0; port < RECORD_PORT_BENCH; port++)
        a->told[port] = bench || names(a->ports[port], "kernel") || names(a->ports[port], "kernel_log");
    a->told[RECORD_PORT_BENCH] = bench;
}

static void refresh(struct about *a, uint8_t port, const cJSON *patch)
{
    bool instrument = member(patch, "instrument") != NULL;

    if (instrument && port == RECORD_PORT_BENCH)
        instruments_refresh(a);
    else if (instrument)
        instrument_refresh(a, port);
    if (member(patch, "ports"))
        ports_refresh(a);
    if (member(patch, "rebuilt"))
        told_refresh(a);
    a->generation++;
}

static bool patch_merge(struct about *a, uint8_t port, const cJSON *patch)
{
    cJSON **target = port == RECORD_PORT_BENCH ? &a->bench : &a->ports[port];

    if (!room_for(a, *target, patch))
        return false;
    if (!*target)
        *target = cJSON_CreateObject();
    if (!*target || !json_merge(*target, patch))
        return false;
    /* Merging the overrides again after each record comes to the same as merging them over all records. */
    for (const cJSON *o = a->overrides->child; o && port == RECORD_PORT_BENCH; o = o->next) {
        if (!json_merge(a->bench, o))
            return false;
    }
    refresh(a, port, patch);
    return true;
}

bool about_merge(struct about *a, uint8_t port, const char *text, size_t length)
{
    cJSON *patch = json_object_parse(text, length, NULL);
    bool   merged = patch && patch_merge(a, port, patch);

    cJSON_Delete(patch);
    return merged;
}

bool about_override(struct about *a, const char *text, size_t length, struct fault *f)
{
    size_t at = 0;
    cJSON *patch = json_object_parse(text, length, &at);

    if (!patch)
        return fault_set(f, FAULT_JSON, 0, (int64_t)at, "one JSON object");
    if (!cJSON_AddItemToArray(a->overrides, patch)) {
        cJSON_Delete(patch);
        return fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    }
    if (!patch_merge(a, RECORD_PORT_BENCH, patch))
        return fault_set(f, FAULT_JSON, 0, 0, "an object of fewer members");
    return true;
}

const struct about_instrument *about_instrument(const struct about *a, uint8_t port)
{
    if (port != RECORD_PORT_BENCH && a->instruments[port])
        return a->instruments[port];
    return &a->bench_instrument;
}

const struct about_port *about_port(const struct about *a, uint8_t port)
{
    static const struct about_port none = { .rated_mw = -1, .path_mohm = -1, .path_mohm_u = -1 };

    return port == RECORD_PORT_BENCH ? &none : &a->port_facts[port];
}

const cJSON *about_json(const struct about *a)
{
    return a->bench;
}

bool about_rebuilt(const struct about *a, const char *from)
{
    bool found = names(a->bench, from);

    for (unsigned port = 0; port < 255 && !found; port++)
        found = names(a->ports[port], from);
    return found;
}

bool about_port_rebuilt(const struct about *a, uint8_t port, const char *from)
{
    return names(a->bench, from) || (port != RECORD_PORT_BENCH && names(a->ports[port], from));
}

bool about_port_told(const struct about *a, uint8_t port)
{
    return a->told[port];
}

unsigned about_generation(const struct about *a)
{
    return a->generation;
}
