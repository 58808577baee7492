/*
 * capture/cc_volts_inside.h - what the beginning of a CSV file of volts over time says about the rest. Within capture only.
 */
#pragma once
#include "capture/cc_line.h"
#include "capture/csv_number_inside.h"
#include "capture/csv_table_inside.h"

enum { VOLTS_COLUMNS_MAX = 64, VOLTS_STEPS_MV = 4 }; /* readings are kept in quarters of a millivolt */

struct volts_column { unsigned index; int power; }; /* index from 0; a unit of the column is 10^power volts */

struct volts_layout {
    char     separator, mark; /* mark: of decimals; 0 as long as no number has had one */
    uint64_t data_line;       /* the first that holds readings */
    bool     timed;           /* by a column; else rows follow one another at sample_ps */
    unsigned time_index;
    int      time_power;      /* a unit of time is 10^time_power seconds */
    int      keep_power;      /* times are kept in units of 10^keep_power seconds: -12 or, where they are too great for that, -9 */
    double   sample_ps;       /* from one row to the next, as a rule */
    struct volts_column column[CC_LINES_MAX];
};

/* Cells of a row without those that are empty, where blanks part them. */
struct volts_cells { struct cursor cell[CSV_CELLS_MAX]; };
bool volts_row_next(struct csv_table *t, char separator, struct volts_cells *room, struct csv_row *row, struct fault *f);

/* Reads the beginning of t and goes back to its first line. False with FAULT_FORMAT, FAULT_NOT_THERE, FAULT_AMBIGUOUS, FAULT_RATE, or of reading. */
bool volts_layout_find(struct csv_table *t, const struct cc_options *o, struct volts_layout *l, struct fault *f);

/* The power of ten that a unit stands for, of seconds or of volts. False: it is neither. */
bool volts_unit_read(struct cursor word, bool *seconds, int *power);
/* "CC1 (mV)" is a name and a unit; name and unit may be empty. Quotes and blanks around both are taken off. */
void volts_heading_part(struct cursor heading, struct cursor *name, struct cursor *unit);
/* But for the case of letters. */
bool volts_words_same(struct cursor a, const char *b);
bool volts_words_begin(struct cursor a, const char *b);
bool volts_words_hold(struct cursor a, const char *b);
/* A cell that is a number, a unit of a few letters behind it allowed; the unit is put into *rest, which may be NULL. */
bool volts_cell_number(struct cursor cell, char *mark, struct csv_number *n, struct cursor *rest);
