/*
 * capture/csv_table_inside.h - the rows of a CSV file, split by libcsv. Within capture only.
 *
 * A line is a row: a quote that is left open ends with its line and costs no other. Blank lines are passed over, a byte order mark
 * and a carriage return at a line's end are taken off, blanks around a cell too. Memory does not grow with the file.
 */
#pragma once
#include "capture/byte_source_inside.h"

enum {
    CSV_LINE_MAX = 64 * 1024, /* bytes of a line; a longer one is passed over to its end */
    CSV_CELLS_MAX = 256,      /* cells beyond are left out */
    CSV_HEAD_BYTES = 64 * 1024,
};

enum csv_state {
    CSV_SOUND,
    CSV_QUOTE_OPEN, /* a quote that does not end in its line */
    CSV_TOO_LONG,
    CSV_SPLIT,      /* a carriage return amid the line */
};

struct csv_row {
    uint64_t             line;  /* from 1 */
    enum csv_state       state;
    struct cursor        whole; /* the line as it stands, its end left out; of one that is too long the beginning */
    const struct cursor *cells; /* count of them if sound */
    size_t               count;
};

struct csv_table;

/* bytes stays the caller's and must last as long as the table. NULL with FAULT_NO_MEMORY, FAULT_EMPTY or FAULT_TABLE (TABLE_UTF16). */
struct csv_table *csv_table_new(struct byte_source *bytes, struct fault *f);
void              csv_table_free(struct csv_table *t);

/* How cells are parted from now on; ',' to begin with. */
void csv_table_separator(struct csv_table *t, char separator);
/* The next row that is not blank; it lasts until the next call. False at the end. f->code: FAULT_NONE, FAULT_NO_MEMORY, or FAULT_READ or FAULT_COMPRESSION. */
bool csv_table_next(struct csv_table *t, struct csv_row *row, struct fault *f);
/*
 * Looking for the heading: true as long as the next line lies within the first CSV_HEAD_BYTES of the file, and while it does
 * csv_table_rewind goes back to the first line.
 */
bool csv_table_in_head(const struct csv_table *t);
void csv_table_rewind(struct csv_table *t);
/* Passes over lines, so that the next one has this number (or a later one). */
void csv_table_skip_to(struct csv_table *t, uint64_t line);
/* Bytes of the lines given so far. */
uint64_t csv_table_taken(const struct csv_table *t);
