/* The kinds of input, and which of them a file is where nobody says it. */
#include "cli/fault_text.h"
#include "cli/import.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

const struct import_kind *const import_kinds[] = { &import_samples_kind, &import_text_kind, &import_trace_kind, NULL };

const struct import_kind *import_kind_find(const char *word, size_t length)
{
    for (unsigned k = 0; import_kinds[k]; k++)
        if (strlen(import_kinds[k]->word) == length && memcmp(import_kinds[k]->word, word, length) == 0)
            return import_kinds[k];
    return NULL;
}

const struct import_kind *import_kind_guess(const char *path)
{
    (void)path;
    return &import_trace_kind;
}
