/*
 * cli/json_out.h - JSON as a stream: integers are written exactly, never as doubles; text is UTF-8 and escaped.
 *
 * key NULL: an element of an array, or the outermost value. Commas come by themselves.
 */
#pragma once
#include "cli/out.h"

struct cJSON;

struct json {
    struct out *out;
    uint64_t    filled; /* one bit a level: something stands there already */
    unsigned    depth;
};

static inline struct json json_over(struct out *o)
{
    return (struct json){ .out = o, .filled = 0, .depth = 0 };
}

void json_object(struct json *j, const char *key);
void json_object_end(struct json *j);
void json_array(struct json *j, const char *key);
void json_array_end(struct json *j);
/* Ends the line of an outermost object. */
void json_line(struct json *j);

void json_i64(struct json *j, const char *key, int64_t value);
void json_u64(struct json *j, const char *key, uint64_t value);
/* value x 10^-scale, exact, zeros at the end left out: 1234 with scale 3 is 1.234. */
void json_decimal(struct json *j, const char *key, int64_t value, unsigned scale);
void json_bool(struct json *j, const char *key, bool value);
void json_null(struct json *j, const char *key);
void json_text(struct json *j, const char *key, const char *text); /* NULL: null */
/* Bytes that are no UTF-8 become U+FFFD. */
void json_text_n(struct json *j, const char *key, const char *text, size_t length);
/* "0x0801912c" */
void json_word(struct json *j, const char *key, uint32_t word);
/* "a161..." */
void json_hex(struct json *j, const char *key, const uint8_t *bytes, size_t length);
/* "2026-01-31T10:00:00.000000000Z" */
void json_time(struct json *j, const char *key, int64_t ns_since_1970);
/* Text that is strict JSON already, put on one line; its numbers stay as they were written. */
void json_compact(struct json *j, const char *key, const char *text, size_t length);
/* A parsed tree; numbers as capture/about.h prints them. */
void json_tree(struct json *j, const char *key, const struct cJSON *tree);
