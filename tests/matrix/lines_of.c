#include "tests/matrix/lines_of.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

FILE *table_open(const char *name)
{
    char  path[512];
    FILE *file;

    snprintf(path, sizeof path, "%s/%s", MATRIX_DIR, name);
    file = fopen(path, "r");
    if (!file) {
        fprintf(stderr, "%s cannot be read\n", path);
        exit(2);
    }
    return file;
}

static void take_field(struct fields *f, const char *from, size_t length)
{
    if (f->count == FIELDS)
        return;
    while (length && isspace((unsigned char)*from)) {
        from++;
        length--;
    }
    while (length && isspace((unsigned char)from[length - 1]))
        length--;
    length = length < FIELD_BYTES ? length : FIELD_BYTES - 1;
    memcpy(f->field[f->count], from, length);
    f->field[f->count++][length] = '\0';
}

bool table_next(FILE *file, struct fields *f)
{
    char line[2048];

    while (fgets(line, sizeof line, file)) {
        f->line++;
        if (line[0] == '#' || strspn(line, " \t\r\n") == strlen(line))
            continue;
        f->count = 0;
        for (char *at = line; at; ) {
            char *bar = strchr(at, '|');

            take_field(f, at, bar ? (size_t)(bar - at) : strlen(at));
            at = bar ? bar + 1 : NULL;
        }
        for (unsigned k = f->count; k < FIELDS; k++)
            f->field[k][0] = '\0';
        return true;
    }
    return false;
}

bool word_of(const char *field, unsigned k, char *out, size_t cap)
{
    const char *at = field + strspn(field, " ");

    for (; k > 0 && *at; k--) {
        at += strcspn(at, " ");
        at += strspn(at, " ");
    }
    size_t length = strcspn(at, " ");

    if (length == 0 || length >= cap)
        return false;
    memcpy(out, at, length);
    out[length] = '\0';
    return true;
}

bool has_word(const char *field, const char *word)
{
    char one[FIELD_BYTES];

    for (unsigned k = 0; word_of(field, k, one, sizeof one); k++)
        if (strcmp(one, word) == 0)
            return true;
    return false;
}
