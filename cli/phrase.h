/*
 * cli/phrase.h - a sentence put together in memory, piece by piece, before it is wrapped on the screen or written as JSON.
 *
 * What does not fit is cut off at the end; PHRASE_BYTES is several times the longest sentence of the catalogue.
 */
#pragma once
#include "cli/out.h"

enum { PHRASE_BYTES = 3072, PHRASE_COLUMNS = 100 };

struct phrase {
    char   text[PHRASE_BYTES];
    size_t used;
};

static inline struct phrase phrase_empty(void)
{
    struct phrase p;

    p.used = 0;
    p.text[0] = '\0';
    return p;
}

void phrase_add(struct phrase *p, const char *text);
void phrase_format(struct phrase *p, const char *format, ...) __attribute__((format(printf, 2, 3)));
void phrase_u64(struct phrase *p, uint64_t value);
void phrase_i64(struct phrase *p, int64_t value);
/* value x 10^-scale, exact, zeros at the end left out. */
void phrase_short(struct phrase *p, int64_t value, unsigned scale);
/* "and", "or" between pieces: first, second and third. k of n, from 0; call before each piece. */
void phrase_between(struct phrase *p, unsigned k, unsigned n, const char *last);
/* "1 rule", "2 rules" */
void phrase_count(struct phrase *p, uint64_t n, const char *one, const char *many);

/*
 * Writes text in lines of at most PHRASE_COLUMNS places: the first goes on from where the line in hand stands, the others
 * begin at indent. Ends the last line. Control characters are made harmless.
 */
void phrase_wrap(struct out *o, size_t indent, const char *text);
/* A label at `at`, the text wrapped from `indent` on. */
void phrase_entry(struct out *o, size_t at, size_t indent, const char *label, const char *text);
