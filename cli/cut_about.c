/* ABOUT at the place of a cut: what held there is written at its start, with the correction of --about over it. */
#include "cli/cut.h"

#include "capture/json.h"
#include "cli/fault_text.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

static bool no_memory(void)
{
    complain("cut: out of memory; close something and try again");
    return false;
}

bool cut_about_start(struct cut_about *a, const char *over_path, bool anonymous)
{
    memset(a, 0, sizeof *a);
    a->over_path = over_path;
    a->anonymous = anonymous;
    if (!over_path)
        return true;
    size_t length, at = 0;
    char  *text = file_text(over_path, &length);

    if (!text)
        return false;
    a->over = json_object_parse(text, length, &at);
    free(text);
    if (!a->over) {
        struct fault f = { .code = FAULT_JSON, .number = (int64_t)at };

        complain_fault(&f, over_path);
    }
    return a->over != NULL;
}

void cut_about_free(struct cut_about *a)
{
    for (unsigned port = 0; port < 256; port++)
        cJSON_Delete(a->merged[port]);
    cJSON_Delete(a->over);
}

bool cut_about_take(struct cut_about *a, const struct record *r)
{
    struct cJSON *patch = json_object_parse(r->about.text, r->about.length, NULL);

    if (!patch)
        return no_memory();
    if (!a->merged[r->port])
        a->merged[r->port] = cJSON_CreateObject();
    bool done = a->merged[r->port] && json_merge(a->merged[r->port], patch);

    cJSON_Delete(patch);
    a->flags[r->port] |= r->flags & RECORD_INVENTED;
    return done || no_memory();
}

bool cut_about_stands(const struct cut_about *a, unsigned port)
{
    return a->merged[port] != NULL || (port == RECORD_PORT_BENCH && a->over != NULL);
}

/* The text of a record, as json_print hands it over; left: room. */
struct text_end {
    uint8_t *at;
    size_t   left;
    bool     full;
};

static void text_put(void *context, const char *text, size_t length)
{
    struct text_end *end = context;

    if (length > end->left) {
        end->full = true;
        return;
    }
    memcpy(end->at, text, length);
    end->at += length;
    end->left -= length;
}

static size_t record_of_tree(struct cut_about *a, const struct cJSON *tree, unsigned port, uint8_t flags)
{
    uint8_t        *text = malloc(RECORD_BYTES_MAX);
    struct text_end end = { .at = text, .left = RECORD_BYTES_MAX - RECORD_HEADER_BYTES };

    if (!text) {
        no_memory();
        return 0;
    }
    json_print(tree, text_put, &end);
    size_t length = end.full ? 0 : record_put(a->bytes, sizeof a->bytes, RECORD_ABOUT, (uint8_t)port, flags, 0, text,
                                              (size_t)(end.at - text));

    free(text);
    if (length == 0)
        complain("cut: what ABOUT says at the cut is longer than a record may be; shorten it with --about (null takes a key out)");
    return length;
}

/* The correction speaks of the bench; of a port's own ABOUT it corrects the instrument, which would outrank it otherwise. */
static bool correction_lay(const struct cut_about *a, struct cJSON *tree, unsigned port)
{
    if (!a->over)
        return true;
    if (port == RECORD_PORT_BENCH)
        return json_merge(tree, a->over);
    const struct cJSON *instrument = cJSON_GetObjectItemCaseSensitive(a->over, "instrument");

    if (!instrument)
        return true;
    struct cJSON *patch = cJSON_CreateObject();
    struct cJSON *copy = cJSON_Duplicate(instrument, true);
    bool          done = patch && copy && cJSON_AddItemToObject(patch, "instrument", copy);

    if (!done)
        cJSON_Delete(copy);
    done = done && json_merge(tree, patch);
    cJSON_Delete(patch);
    return done;
}

static size_t tree_finish(struct cut_about *a, struct cJSON *tree, unsigned port, uint8_t flags)
{
    if (!correction_lay(a, tree, port)) {
        no_memory();
        return 0;
    }
    if (a->anonymous)
        anonymous_about(tree);
    return record_of_tree(a, tree, port, flags);
}

size_t cut_about_record(struct cut_about *a, unsigned port)
{
    struct cJSON *tree = a->merged[port] ? a->merged[port] : cJSON_CreateObject();

    a->merged[port] = tree;
    if (!tree) {
        no_memory();
        return 0;
    }
    return tree_finish(a, tree, port, a->flags[port]);
}

size_t cut_about_correct(struct cut_about *a, const struct record *r)
{
    struct cJSON *tree = json_object_parse(r->about.text, r->about.length, NULL);

    if (!tree) {
        no_memory();
        return 0;
    }
    size_t length = tree_finish(a, tree, r->port, r->flags);

    cJSON_Delete(tree);
    return length;
}
