#include "capture/json.h"

#include <cjson/cJSON.h>
#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define EXACT_INTEGER_MAX 9007199254740992.0 /* 2^53 */

struct printer {
    void (*put)(void *context, const char *text, size_t length);
    void *context;
};

static void put_text(const struct printer *p, const char *text)
{
    p->put(p->context, text, strlen(text));
}

static void number_print(const struct printer *p, const cJSON *item)
{
    char   text[40];
    double value = item->valuedouble;

    if (item->valuestring) { /* kept because a double would have changed it */
        put_text(p, item->valuestring);
        return;
    }
    if (!isfinite(value)) {
        put_text(p, "null");
        return;
    }
    if (value >= -EXACT_INTEGER_MAX && value <= EXACT_INTEGER_MAX && value == (double)(int64_t)value) {
        snprintf(text, sizeof text, "%.0f", value);
    } else {
        /* 15 digits say all of a short number, but for those so small that they have fewer. */
        for (int digits = fabs(value) < DBL_MIN ? 1 : 15; digits <= 17; digits++) {
            snprintf(text, sizeof text, "%.*g", digits, value);
            if (strtod(text, NULL) == value)
                break;
        }
    }
    put_text(p, text);
}

/* The escape of a byte that may not stand in a string as it is, else NULL. */
static const char *escape_of(unsigned char c, char room[8])
{
    switch (c) {
    case '"':  return "\\\"";
    case '\\': return "\\\\";
    case '\n': return "\\n";
    case '\r': return "\\r";
    case '\t': return "\\t";
    default:
        if (c >= 0x20 && c != 0x7F)
            return NULL;
        snprintf(room, 8, "\\u%04x", c);
        return room;
    }
}

static void string_print(const struct printer *p, const char *text)
{
    const char *from = text; /* what may go out as it is begins here */
    char        room[8];

    put_text(p, "\"");
    for (; *text; text++) {
        const char *escape = escape_of((unsigned char)*text, room);

        if (!escape)
            continue;
        p->put(p->context, from, (size_t)(text - from));
        put_text(p, escape);
        from = text + 1;
    }
    p->put(p->context, from, (size_t)(text - from));
    put_text(p, "\"");
}

static void value_print(const struct printer *p, const cJSON *item);

static void members_print(const struct printer *p, const cJSON *item)
{
    bool object = cJSON_IsObject(item);

    put_text(p, object ? "{" : "[");
    for (const cJSON *m = item->child; m; m = m->next) {
        if (object) {
            string_print(p, m->string ? m->string : "");
            put_text(p, ":");
        }
        value_print(p, m);
        if (m->next)
            put_text(p, ",");
    }
    put_text(p, object ? "}" : "]");
}

static void value_print(const struct printer *p, const cJSON *item)
{
    if (cJSON_IsObject(item) || cJSON_IsArray(item))
        members_print(p, item);
    else if (cJSON_IsString(item))
        string_print(p, item->valuestring);
    else if (cJSON_IsNumber(item))
        number_print(p, item);
    else if (cJSON_IsBool(item))
        put_text(p, cJSON_IsTrue(item) ? "true" : "false");
    else if (cJSON_IsRaw(item) && item->valuestring)
        put_text(p, item->valuestring);
    else
        put_text(p, "null");
}

void json_print(const cJSON *json, void (*put)(void *context, const char *text, size_t length), void *context)
{
    struct printer p = { put, context };

    value_print(&p, json);
}
