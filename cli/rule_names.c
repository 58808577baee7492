#include "cli/rule_names.h"

#include "cli/fault_text.h"

#include <string.h>

enum { NAME_BYTES = 64, NEAR_MOST = 100 };

const struct rule *rule_find(const char *id)
{
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            if (strcmp(r->id, id) == 0)
                return r;
    return NULL;
}

bool rule_is_meant(const char *id, const char *name, size_t length)
{
    if (strlen(id) == length && memcmp(id, name, length) == 0)
        return true;
    if (length > 2 && memcmp(name + length - 2, ".*", 2) == 0)
        length -= 2;
    return length > 0 && strncmp(id, name, length) == 0 && id[length] == '.';
}

void rule_group(const char *id, char *group, size_t cap)
{
    size_t length = strcspn(id, ".");

    if (length >= cap)
        length = cap - 1;
    memcpy(group, id, length);
    group[length] = '\0';
}

unsigned word_distance(const char *a, size_t a_length, const char *b, size_t b_length)
{
    unsigned row[NAME_BYTES + 1];

    if (a_length > NAME_BYTES || b_length > NAME_BYTES)
        return NEAR_MOST;
    for (size_t k = 0; k <= b_length; k++)
        row[k] = (unsigned)k;
    for (size_t i = 1; i <= a_length; i++) {
        unsigned corner = row[0];

        row[0] = (unsigned)i;
        for (size_t k = 1; k <= b_length; k++) {
            unsigned change = corner + (a[i - 1] != b[k - 1]);
            unsigned less = row[k] < row[k - 1] ? row[k] + 1 : row[k - 1] + 1;

            corner = row[k];
            row[k] = change < less ? change : less;
        }
    }
    return row[b_length];
}

/* The best so far: how far it is, and the id or group (length bytes of text). */
struct nearest { unsigned distance; const char *text; size_t length; };

static void nearer(struct nearest *n, const char *word, size_t word_length, const char *text, size_t text_length, const char *name,
                   size_t length)
{
    unsigned d = word_distance(word, word_length, name, length);

    if (d < n->distance)
        *n = (struct nearest){ d, text, text_length };
}

bool rule_nearest(const char *name, size_t length, char near[RULE_NAME_BYTES])
{
    struct nearest n = { .distance = NEAR_MOST };

    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++) {
            size_t whole = strlen(r->id), lead = strcspn(r->id, ".");

            nearer(&n, r->id, lead, r->id, lead, name, length);
            nearer(&n, r->id, whole, r->id, whole, name, length);
            if (lead < whole)
                nearer(&n, r->id + lead + 1, whole - lead - 1, r->id, whole, name, length);
        }
    /* Half of the letters may be wrong; more is a guess. */
    if (n.distance * 2 > length || n.length >= RULE_NAME_BYTES)
        return false;
    memcpy(near, n.text, n.length);
    near[n.length] = '\0';
    return true;
}

void rule_name_complain(const char *option, const char *name, size_t length)
{
    char near[RULE_NAME_BYTES];
    int  shown = length < NAME_BYTES ? (int)length : NAME_BYTES;

    if (rule_nearest(name, length, near))
        complain("%s%sthis build judges no rule %.*s; did you mean %s?", option ? option : "", option ? ": " : "", shown, name, near);
    else
        complain("%s%sthis build judges no rule %.*s; portassay rules lists them", option ? option : "", option ? ": " : "", shown,
                 name);
}
