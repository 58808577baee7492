/*
 * capture/text_words_inside.h - the words and numbers of the text form, both directions. Within capture only.
 */
#pragma once
#include "capture/base/cursor.h"

struct word { const char *at; size_t length; };

/* The next run of characters that are no blanks. False at the end of the line. */
bool word_next(struct cursor *line, struct word *w);
/* All that is left, without blanks at either end; empty if there is nothing. */
struct word word_rest(struct cursor *line);
bool word_is(const struct word *w, const char *text);
/* Cuts w behind the first c; false if there is none, and then *head is all of w and w is empty. */
bool word_cut(struct word *w, char c, struct word *head);

/* Words by their number; a list ends with a NULL. */
extern const char *const text_sets[];    /* as in a packet's ordered_set */
extern const char *const text_resets[];
extern const char *const text_actions[];
extern const char *const text_rp[];
extern const char *const text_places[];  /* LOST where */
extern const char *const text_flags[];   /* by bit */
extern const char *const text_states[];  /* by bit */
extern const char *const text_columns[]; /* by bit */
/* Place of w in the list, -1 if it is not there. */
int word_find(const struct word *w, const char *const *list);

/* Digits with or without '-'; false if they are none or out of range. */
bool word_integer(const struct word *w, int64_t least, int64_t most, int64_t *value);
/* Seconds with at most 9 decimals. */
bool word_time(const struct word *w, int64_t *t_ns);
/* A decimal number, with an exponent or not, in units of 10^-decimals, rounded to the nearest. */
bool word_decimal(const struct word *w, unsigned decimals, int64_t *value);
/* Pairs of hexadecimal digits. False: they are none, or more than cap bytes. */
bool word_hex(const struct word *w, uint8_t *out, size_t cap, size_t *length);
/* Comma-separated words of a list, or 0x.. for bits that have none. */
bool word_bits(const struct word *w, const char *const *list, uint8_t *bits);
