/* The ABOUT records of an import: where the trace came from, how fine its times are, and what the user says of the bench. */
#include "cli/import_run.h"

#include "capture/json.h"
#include "capture/record.h"
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/trace_loop.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

static bool no_memory(struct import *i)
{
    import_progress_clear(i);
    complain("import: out of memory; close something and try again");
    i->failed = true;
    return false;
}

bool import_about_over(struct import *i)
{
    const char *path = i->options->about_path;
    size_t      length, at = 0;
    char       *text = path ? file_text(path, &length) : NULL;

    if (!path)
        return true;
    if (!text)
        return false;
    i->over = json_object_parse(text, length, &at);
    free(text);
    if (!i->over) {
        struct fault f = { .code = FAULT_JSON, .number = (int64_t)at };

        complain_fault(&f, path);
    }
    return i->over != NULL;
}

/* The text of a record, as json_print hands it over. */
struct text_room { uint8_t *at; size_t used, room; bool full; };

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

/* The record of a tree; flags as an input's record had them. */
static bool tree_write(struct import *i, int64_t stamp_ns, unsigned port, uint8_t flags, const cJSON *tree)
{
    uint8_t         *bytes = malloc(RECORD_BYTES_MAX);
    struct text_room text = { .room = RECORD_BYTES_MAX - RECORD_HEADER_BYTES };

    if (!bytes)
        return no_memory(i);
    text.at = bytes + RECORD_HEADER_BYTES;
    json_print(tree, text_put, &text);
    record_put(bytes, RECORD_HEADER_BYTES, RECORD_ABOUT, (uint8_t)port, flags, 0, NULL, 0);
    bool written = !text.full && import_write(i, stamp_ns, bytes, RECORD_HEADER_BYTES + text.used);

    free(bytes);
    if (text.full) {
        import_progress_clear(i);
        complain("%s: too much for one ABOUT record (65,527 bytes); say less",
                 i->options->about_path ? i->options->about_path : "import: ABOUT");
        i->failed = true;
    }
    return written;
}

bool import_times_said(const struct import *i)
{
    return cJSON_HasObjectItem(cJSON_GetObjectItemCaseSensitive(i->over, "instrument"), "time_ns");
}

bool import_about_end(struct import *i, int64_t end_ns)
{
    if (end_ns <= i->to_ns)
        return true;
    cJSON *about = cJSON_CreateObject(), *imported = cJSON_AddObjectToObject(about, "imported");
    bool   done = cJSON_AddNumberToObject(imported, "records", (double)i->written) && tree_write(i, end_ns, RECORD_PORT_BENCH, 0, about);

    i->to_ns = end_ns;
    cJSON_Delete(about);
    return done;
}

bool import_about_pass(struct import *i, const struct record *r)
{
    if (!i->over || r->kind != RECORD_ABOUT || r->port != RECORD_PORT_BENCH || r->soundness != RECORD_SOUND)
        return import_write(i, r->stamp_ns, r->bytes, r->length);
    cJSON *tree = json_object_parse(r->about.text, r->about.length, NULL);
    bool   laid = tree && json_merge(tree, i->over);
    bool   done = laid ? tree_write(i, r->stamp_ns, r->port, r->flags, tree) : no_memory(i);

    cJSON_Delete(tree);
    return done;
}

/* What an input's instrument is, as an object; NULL: it says nothing. */
static cJSON *instrument_of(const struct import_input *in)
{
    cJSON *instrument = cJSON_CreateObject();

    if (in->kind->instrument && instrument)
        in->kind->instrument(in, instrument);
    if (in->tie && in->tie->align_ns > 0)
        cJSON_AddNumberToObject(instrument, "align_ns", (double)(int64_t)(in->tie->align_ns + 0.5));
    if (in->tie && in->tie->clock_ppm > 0) { /* found: better than what is taken for granted */
        cJSON_DeleteItemFromObjectCaseSensitive(instrument, "power_clock_ppm");
        cJSON_AddNumberToObject(instrument, "power_clock_ppm", in->tie->clock_ppm);
    }
    if (instrument && !instrument->child) {
        cJSON_Delete(instrument);
        instrument = NULL;
    }
    return instrument;
}

/* Would merging them make one input's numbers another's? */
static bool differ(const cJSON *a, const cJSON *b)
{
    for (const cJSON *one = a->child; one; one = one->next) {
        const cJSON *other = cJSON_GetObjectItemCaseSensitive(b, one->string);

        if (other && !cJSON_Compare(one, other, true))
            return true;
    }
    return false;
}

/* All inputs can be spoken of at once: as the bench's instrument. A trace among them has an ABOUT of its own to come, of its own ports. */
static bool instruments_agree(const struct import *i, cJSON *const *instruments)
{
    for (unsigned k = 0; k < i->count; k++) {
        if (i->inputs[k].kind->own)
            return false;
        for (unsigned n = 0; n < k; n++)
            if (instruments[k] && instruments[n] && differ(instruments[k], instruments[n]))
                return false;
    }
    return true;
}

/*
 * What the tie of packets and readings is worth that come from different instruments, where nothing measured it: their clocks may have
 * been set by hand, a shift that a person gives was read from a screen. Common practice, no source.
 */
static const double untied_ns = 1e9, by_hand_ns = 1e7;

static void tie_add(const struct import *i, cJSON *about)
{
    bool         readings = false, others = false, by_hand = false;
    cJSON       *instrument = cJSON_GetObjectItemCaseSensitive(about, "instrument");
    const cJSON *said = cJSON_GetObjectItemCaseSensitive(cJSON_GetObjectItemCaseSensitive(i->over, "instrument"), "align_ns");

    for (unsigned k = 0; k < i->count; k++) {
        const struct import_input *in = &i->inputs[k];

        readings = readings || (in->kind->readings && !(in->tie && in->tie->align_ns > 0));
        others = others || !in->kind->readings;
        by_hand = by_hand || in->tie || (in->words->given & (IMPORT_SHIFT | IMPORT_START));
    }
    if (!readings || !others || said)
        return;
    instrument = instrument ? instrument : cJSON_AddObjectToObject(about, "instrument");
    cJSON_AddNumberToObject(instrument, "align_ns", by_hand ? by_hand_ns : untied_ns);
    if (!by_hand && !i->options->quiet)
        complain("import: nothing ties the clock of the readings to that of the packets: taken as up to 1 s apart; --align, shift= or --about (instrument.align_ns) says more");
}

static bool bench_write(struct import *i, int64_t stamp_ns, cJSON *const *instruments, bool agree)
{
    cJSON *about = cJSON_CreateObject(), *imported = cJSON_AddObjectToObject(about, "imported"), *from, *all = NULL;
    bool   done = imported != NULL;

    cJSON_AddStringToObject(imported, "with", PORTASSAY_NAME " " PORTASSAY_VERSION);
    from = cJSON_AddArrayToObject(imported, "from");
    for (unsigned k = 0; k < i->count; k++) {
        cJSON *one = cJSON_CreateObject();

        cJSON_AddStringToObject(one, "kind", i->inputs[k].kind->word);
        cJSON_AddStringToObject(one, "file", import_name(&i->inputs[k]));
        cJSON_AddItemToArray(from, one);
        if (!agree || !instruments[k])
            continue;
        all = all ? all : cJSON_AddObjectToObject(about, "instrument");
        done = done && all && json_merge(all, instruments[k]);
    }
    tie_add(i, about);
    done = done && (!i->over || json_merge(about, i->over));
    done = done ? tree_write(i, stamp_ns, RECORD_PORT_BENCH, 0, about) : no_memory(i);
    cJSON_Delete(about);
    return done;
}

/* What the inputs say of one port's instrument. NULL: nothing. */
static cJSON *port_tree(const struct import *i, cJSON *const *instruments, unsigned port)
{
    cJSON *tree = NULL, *all = NULL;

    for (unsigned k = 0; k < i->count; k++) {
        bool ports[256] = { false };

        if (!instruments[k])
            continue;
        if (i->inputs[k].kind->ports)
            i->inputs[k].kind->ports(&i->inputs[k], ports);
        for (unsigned p = 0; i->inputs[k].tie && p < 256; p++)
            ports[p] = ports[p] || i->inputs[k].tie->ports[p];
        if (!ports[port])
            continue;
        tree = tree ? tree : cJSON_CreateObject();
        all = all ? all : cJSON_AddObjectToObject(tree, "instrument");
        if (all && !json_merge(all, instruments[k]))
            break;
    }
    const cJSON *said = all && i->over ? cJSON_GetObjectItemCaseSensitive(i->over, "instrument") : NULL;

    if (cJSON_IsObject(said) && !json_merge(all, said)) { /* it would be outranked otherwise */
        cJSON_Delete(tree);
        tree = NULL;
    }
    return tree;
}

/* Traces say themselves what they have to say. */
static bool all_traces(const struct import *i)
{
    for (unsigned k = 0; k < i->count; k++)
        if (!i->inputs[k].kind->own)
            return false;
    return true;
}

bool import_about_begin(struct import *i, int64_t stamp_ns)
{
    cJSON *instruments[IMPORT_INPUTS];

    if (all_traces(i) && !i->over)
        return true;

    for (unsigned k = 0; k < i->count; k++)
        instruments[k] = instrument_of(&i->inputs[k]);
    bool agree = instruments_agree(i, instruments);
    bool done = bench_write(i, stamp_ns, instruments, agree);

    for (unsigned port = 0; port < RECORD_PORT_BENCH && done && !agree; port++) {
        cJSON *tree = port_tree(i, instruments, port);

        done = !tree || tree_write(i, stamp_ns, port, 0, tree);
        cJSON_Delete(tree);
    }
    for (unsigned k = 0; k < i->count; k++)
        cJSON_Delete(instruments[k]);
    return done;
}
