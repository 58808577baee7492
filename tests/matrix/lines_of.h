/*
 * tests/matrix/lines_of.h - tables of expectations: lines of fields between bars, '#' begins a comment.
 */
#pragma once
#include <stdbool.h>
#include <stdio.h>

enum { FIELDS = 6, FIELD_BYTES = 512 };

struct fields { unsigned line, count; char field[FIELDS][FIELD_BYTES]; };

FILE *table_open(const char *name);                 /* of tests/matrix/; aborts with a message if it is not there */
bool  table_next(FILE *file, struct fields *f);     /* false at the end; line numbers count every line */
/* Word k of a field with blanks between, or false. */
bool  word_of(const char *field, unsigned k, char *out, size_t cap);
bool  has_word(const char *field, const char *word);
