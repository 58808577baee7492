#include "capture/json.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define EXACT_INTEGER_MAX 9007199254740992.0 /* 2^53: from here on a double skips integers */

struct text { const char *at; size_t left; };

static bool number_byte(char c)
{
    return (c >= '0' && c <= '9') || c == '-' || c == '+' || c == '.' || c == 'e' || c == 'E';
}

/* The next number of checked JSON, past strings and words. False at the end. */
static bool number_next(struct text *t, struct text *number)
{
    for (bool in_string = false; t->left > 0; t->at++, t->left--) {
        char c = *t->at;

        if (in_string && c == '\\') {
            t->at++;
            t->left--;
        } else if (c == '"') {
            in_string = !in_string;
        } else if (!in_string && ((c >= '0' && c <= '9') || c == '-')) {
            *number = (struct text){ .at = t->at };
            while (t->left > 0 && number_byte(*t->at)) {
                t->at++;
                t->left--;
            }
            number->left = (size_t)(t->at - number->at);
            return true;
        }
    }
    return false;
}

static bool number_changed(const cJSON *item, const struct text *number)
{
    if (isinf(item->valuedouble))
        return true;
    return (item->valuedouble >= EXACT_INTEGER_MAX || item->valuedouble <= -EXACT_INTEGER_MAX) && !memchr(number->at, '.', number->left) &&
           !memchr(number->at, 'e', number->left) && !memchr(number->at, 'E', number->left);
}

/* Tree and text hold their numbers in the same order: gives those that a double would change their text. */
static bool numbers_keep(cJSON *item, struct text *t)
{
    struct text number;

    for (; item; item = item->next) {
        if (item->child && !numbers_keep(item->child, t))
            return false;
        if (!cJSON_IsNumber(item) || !number_next(t, &number) || !number_changed(item, &number))
            continue;
        item->valuestring = cJSON_malloc(number.left + 1);
        if (!item->valuestring)
            return false;
        memcpy(item->valuestring, number.at, number.left);
        item->valuestring[number.left] = '\0';
    }
    return true;
}

static cJSON *checked_parse(const char *text, size_t length, size_t *at)
{
    struct text t = { text, length };
    cJSON      *json = cJSON_ParseWithLength(text, length);

    if (json && !numbers_keep(json, &t)) {
        cJSON_Delete(json);
        json = NULL;
    }
    if (!json && at)
        *at = length;
    return json;
}

cJSON *json_object_parse(const char *text, size_t length, size_t *at)
{
    return json_object_check(text, length, at) ? checked_parse(text, length, at) : NULL;
}

cJSON *json_value_parse(const char *text, size_t length, size_t *at)
{
    return json_value_check(text, length, at) ? checked_parse(text, length, at) : NULL;
}

bool json_merge(cJSON *target, const cJSON *patch)
{
    for (const cJSON *p = patch->child; p; p = p->next) {
        cJSON *old = cJSON_GetObjectItemCaseSensitive(target, p->string);

        if (cJSON_IsNull(p)) {
            cJSON_Delete(cJSON_DetachItemViaPointer(target, old));
            continue;
        }
        if (cJSON_IsObject(p) && cJSON_IsObject(old)) {
            if (!json_merge(old, p))
                return false;
            continue;
        }
        cJSON *fresh = cJSON_IsObject(p) ? cJSON_CreateObject() : cJSON_Duplicate(p, true);

        /* An object from the patch goes through a merge too: its nulls are no members. */
        if (!fresh || (cJSON_IsObject(p) && !json_merge(fresh, p))) {
            cJSON_Delete(fresh);
            return false;
        }
        if (old ? !cJSON_ReplaceItemInObjectCaseSensitive(target, p->string, fresh)
                : !cJSON_AddItemToObject(target, p->string, fresh)) {
            cJSON_Delete(fresh);
            return false;
        }
    }
    return true;
}
