/* `cut --anonymous`: what could tell who, where and when is left out. What stays is listed, not what goes: an unknown key goes. */
#include "cli/cut.h"

#include "capture/base/cursor.h"

#include <cjson/cJSON.h>
#include <string.h>

static const char *const kept_about[] = { "device", "sample", "firmware", "ports", "instrument", "drift", "rebuilt", NULL };
static const char *const dropped_inside[] = { "serial", "operator", "note", "path", "file", NULL };

static bool word_in(const char *const *list, const char *word)
{
    for (; *list; list++)
        if (strcmp(*list, word) == 0)
            return true;
    return false;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Digits, a mark, digits: a time of day (10:15) or a date (2026-01-31). */
static bool looks_like_time(const char *word, size_t length)
{
    for (size_t i = 1; i + 1 < length; i++)
        if (word[i] == ':' && is_digit(word[i - 1]) && is_digit(word[i + 1]))
            return true;
    for (size_t i = 4; i + 3 < length; i++)
        if ((word[i] == '-' || word[i] == '/' || word[i] == '.') && is_digit(word[i - 4]) && is_digit(word[i - 3]) &&
            is_digit(word[i - 2]) && is_digit(word[i - 1]) && is_digit(word[i + 1]))
            return true;
    return false;
}

/* A path has a slash that is no division ("3/4", "V/A"): at its beginning, after "~", ".", or more than one; or a backslash. */
static bool looks_like_path(const char *word, size_t length)
{
    unsigned slashes = 0;

    for (size_t i = 0; i < length; i++) {
        if (word[i] == '\\' || word[i] == '@')
            return true;
        slashes += word[i] == '/' ? 1 : 0;
    }
    return slashes > 1 || (slashes == 1 && (word[0] == '/' || word[0] == '~' || word[0] == '.'));
}

/* Puts "-" for every word that tells too much. The text only becomes shorter. Its new length. */
static size_t text_scrub(char *text, size_t length)
{
    size_t to = 0;

    for (size_t at = 0; at < length;) {
        size_t end = at;

        while (end < length && text[end] != ' ' && text[end] != '\t' && text[end] != '\n')
            end++;
        if (looks_like_path(text + at, end - at) || looks_like_time(text + at, end - at)) {
            text[to++] = '-';
        } else {
            memmove(text + to, text + at, end - at);
            to += end - at;
        }
        if (end < length)
            text[to++] = text[end++];
        at = end;
    }
    return to;
}

static void tree_scrub(struct cJSON *tree)
{
    struct cJSON *next;

    for (struct cJSON *item = tree->child; item; item = next) {
        next = item->next;
        if (item->string && word_in(dropped_inside, item->string)) {
            cJSON_Delete(cJSON_DetachItemViaPointer(tree, item));
            continue;
        }
        if (cJSON_IsString(item) && item->valuestring)
            item->valuestring[text_scrub(item->valuestring, strlen(item->valuestring))] = '\0';
        tree_scrub(item);
    }
}

void anonymous_about(struct cJSON *about)
{
    struct cJSON *next;

    for (struct cJSON *item = about->child; item; item = next) {
        next = item->next;
        if (!item->string || !word_in(kept_about, item->string))
            cJSON_Delete(cJSON_DetachItemViaPointer(about, item));
    }
    tree_scrub(about);
}

/* Where the text of a record begins in its bytes, or its whole length if it has none. */
static size_t text_offset(const struct record *r)
{
    if (r->kind == RECORD_MARK)
        return r->length - r->mark.length;
    return r->kind == RECORD_TEMPERATURE ? r->length - r->temperature.length : r->length;
}

/* Only these may be kept as they are when they are damaged: the bytes of the others may be words. */
static bool damaged_is_safe(uint8_t kind)
{
    return kind == RECORD_PD_PACKET || kind == RECORD_RESET_SIGNAL || kind == RECORD_POWER || kind == RECORD_CC_STATE ||
           kind == RECORD_LOST || kind == RECORD_CC_EDGES;
}

size_t anonymous_record(const struct record *r, uint8_t bytes[RECORD_BYTES_MAX])
{
    struct cursor  c = cursor_over(r->bytes, r->length);
    size_t         length = r->length < RECORD_BYTES_MAX ? r->length : RECORD_BYTES_MAX;
    bool           whole = r->soundness == RECORD_SOUND || (r->soundness == RECORD_DAMAGED && damaged_is_safe(r->kind));
    const uint8_t *from = cursor_take(&c, length);

    if (!from)
        return 0;
    memcpy(bytes, from, length);
    if (!whole)
        return length < RECORD_HEADER_BYTES ? length : RECORD_HEADER_BYTES;
    size_t text = r->soundness == RECORD_SOUND ? text_offset(r) : length;

    if (text >= length)
        return length;
    return text + text_scrub((char *)bytes + text, length - text);
}
