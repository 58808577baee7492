/*
 * capture/json.h - strict JSON (RFC 8259) over cJSON, which by itself takes too much and rounds long integers.
 *
 * A number that a double would change (an integer beyond 2^53, one out of range) keeps its text in valuestring of its
 * cJSON item; cJSON_Duplicate and cJSON_Delete take care of it, json_print prints it.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>

struct cJSON;

enum {
    JSON_DEPTH_MAX = 64,
    JSON_NUMBER_MAX = 60, /* characters; cJSON reads no longer ones */
};

bool utf8_valid(const char *text, size_t length);

/* One object, UTF-8, nothing but blanks around it, no \u0000, at most JSON_DEPTH_MAX deep. False: *at (if not NULL) is where it went wrong. */
bool json_object_check(const char *text, size_t length, size_t *at);
/* Any JSON value, same strictness: for files of ours that hold something else than an object. */
bool json_value_check(const char *text, size_t length, size_t *at);
/* The same as a tree. NULL if it is none (or no memory: *at = length). Free with cJSON_Delete. */
struct cJSON *json_object_parse(const char *text, size_t length, size_t *at);
struct cJSON *json_value_parse(const char *text, size_t length, size_t *at);

/* Compact JSON in pieces: integers as integers, other numbers the shortest that reads back the same, UTF-8 as it is. */
void json_print(const struct cJSON *json, void (*put)(void *context, const char *text, size_t length), void *context);

/* RFC 7396: patch over target, both objects; patch is left as it is. False: no memory, and target may be half merged. */
bool json_merge(struct cJSON *target, const struct cJSON *patch);
