#include "capture/json.h"

#include "capture/base/cursor.h"

/* Lead bytes of RFC 3629, table 3-7 of Unicode: how many bytes follow, and what the first of them may be. */
struct lead { uint8_t low, high, follow, first_low, first_high; };
static const struct lead leads_all[] = {
    { 0xC2, 0xDF, 1, 0x80, 0xBF }, { 0xE0, 0xE0, 2, 0xA0, 0xBF }, { 0xE1, 0xEC, 2, 0x80, 0xBF },
    { 0xED, 0xED, 2, 0x80, 0x9F }, { 0xEE, 0xEF, 2, 0x80, 0xBF }, { 0xF0, 0xF0, 3, 0x90, 0xBF },
    { 0xF1, 0xF3, 3, 0x80, 0xBF }, { 0xF4, 0xF4, 3, 0x80, 0x8F },
};

static bool tail_valid(struct cursor *c, uint8_t lead)
{
    for (size_t i = 0; i < sizeof leads_all / sizeof leads_all[0]; i++) {
        const struct lead *l = &leads_all[i];

        if (lead < l->low || lead > l->high)
            continue;
        uint8_t first = cursor_u8(c);
        bool    good = first >= l->first_low && first <= l->first_high;

        for (unsigned k = 1; k < l->follow; k++)
            good = (cursor_u8(c) & 0xC0) == 0x80 && good;
        return good && !c->short_read;
    }
    return false;
}

bool utf8_valid(const char *text, size_t length)
{
    struct cursor c = cursor_over((const uint8_t *)text, length);

    while (c.left > 0) {
        uint8_t byte = cursor_u8(&c);

        if (byte >= 0x80 && !tail_valid(&c, byte))
            return false;
    }
    return true;
}
