/* The ABOUT records that a recorder writes: what it records from and what the user said of the bench; at the end how it went. */
#include "cli/record_run.h"

#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/trace_loop.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

enum { ABOUT_TEXT_MAX = RECORD_BYTES_MAX - RECORD_HEADER_BYTES };

static const char *const end_words[] = {
    [RECORD_RUNS] = "running",         [RECORD_STOPPED] = "stopped by hand",    [RECORD_TIME_UP] = "time was up",
    [RECORD_DETACHED] = "detached",    [RECORD_SOURCES_ENDED] = "sources ended", [RECORD_NOT_WRITTEN] = "not written any more",
    [RECORD_READER_GONE] = "reader gone", [RECORD_NO_MEMORY] = "out of memory",
};

bool record_about_put(struct recorder *r, const char *text, size_t length)
{
    uint8_t *bytes = length <= ABOUT_TEXT_MAX ? malloc(RECORD_HEADER_BYTES + length) : NULL;
    int64_t  now_ns = record_now(r);

    if (!bytes)
        return false;
    record_put(bytes, RECORD_HEADER_BYTES, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_HOST_TIME, 0, NULL, 0);
    memcpy(bytes + RECORD_HEADER_BYTES, text, length);
    bool put = recording_put(r->recording, now_ns, bytes, RECORD_HEADER_BYTES + length, now_ns);

    free(bytes);
    return put;
}

static bool json_put(struct recorder *r, const cJSON *json)
{
    char *text = cJSON_PrintUnformatted(json);
    bool  put = text && record_about_put(r, text, strlen(text));

    cJSON_free(text);
    return put;
}

static cJSON *about_of_recorder(const struct recorder *r)
{
    cJSON *about = cJSON_CreateObject(), *recorded = cJSON_AddObjectToObject(about, "recorded"), *from;

    cJSON_AddStringToObject(recorded, "with", PORTASSAY_NAME " " PORTASSAY_VERSION);
    from = cJSON_AddArrayToObject(recorded, "from");
    for (unsigned k = 0; k < r->count; k++) {
        cJSON_AddItemToArray(from, cJSON_CreateString(r->sources[k]->name));
        live_about(r->sources[k], about, false);
    }
    return about;
}

/* Lays --about over it. */
static bool about_of_user(struct recorder *r, cJSON *about)
{
    const char *path = r->options->about_path;
    size_t      length, at = 0;
    char       *text = path ? file_text(path, &length) : NULL;

    if (!path)
        return true;
    if (!text)
        return false;
    cJSON *user = json_object_parse(text, length, &at);
    bool   merged = user && json_merge(about, user);

    free(text);
    if (!merged)
        complain("%s: no JSON object: at byte %zu; correct the file", path, at);
    r->align_given = cJSON_GetObjectItemCaseSensitive(cJSON_GetObjectItemCaseSensitive(user, "instrument"), "align_ns") != NULL;
    cJSON_Delete(user);
    return merged;
}

cJSON *record_about_make(struct recorder *r)
{
    cJSON *about = about_of_recorder(r);

    if (about && about_of_user(r, about))
        return about;
    cJSON_Delete(about);
    return NULL;
}

bool record_about_put_json(struct recorder *r, const cJSON *about)
{
    if (json_put(r, about))
        return true;
    complain("%s: too much for one ABOUT record (65,527 bytes); say less", r->options->about_path ? r->options->about_path : "ABOUT");
    return false;
}

void record_about_close(struct recorder *r)
{
    cJSON                  *about = cJSON_CreateObject(), *recorded = cJSON_AddObjectToObject(about, "recorded");
    struct recording_counts counts = recording_counts(r->recording);

    cJSON_AddStringToObject(recorded, "ended", end_words[r->end]);
    cJSON_AddNumberToObject(recorded, "lost", (double)counts.lost);
    if (counts.restamped > 0)
        cJSON_AddNumberToObject(recorded, "stamped_on_arrival", (double)counts.restamped);
    for (unsigned k = 0; k < r->count; k++)
        live_about(r->sources[k], about, true);
    json_put(r, about);
    cJSON_Delete(about);
}
