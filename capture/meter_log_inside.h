/*
 * capture/meter_log_inside.h - parts of the reader of meters' logs: units, headings, times, rows. Within capture only.
 */
#pragma once
#include "capture/csv_number_inside.h"
#include "capture/csv_table_inside.h"
#include "capture/meter_log.h"

enum meter_dimension {
    METER_NO_DIMENSION, METER_SECONDS, METER_VOLTS, METER_AMPERES, METER_WATTS, METER_WATT_HOURS, METER_AMPERE_HOURS, METER_CELSIUS,
};
/* How a time is written, where it is no number with a unit. */
enum meter_form {
    METER_NUMBER,
    METER_UNIX,         /* seconds, ms, us or ns since 1970, by their size */
    METER_CALENDAR,     /* date and time of day, either or both */
    METER_HOURS_MINUTES, METER_MINUTES_SECONDS, /* two numbers: which */
    METER_DAY_FIRST, METER_MONTH_FIRST,         /* dates with slashes: which */
};
struct meter_unit {
    const char          *word;    /* as it is printed */
    enum meter_dimension dimension;
    int8_t               power;   /* one unit is factor x 10^power of what is kept: ns, uV, uA, uW, uWh, uAh, thousandths of a degree */
    int16_t              factor;
    enum meter_form      form;
};

/* The unit of that spelling, whatever the case (UTF-8 or Latin-1), or NULL. */
const struct meter_unit *meter_unit_find(const char *text, size_t length);
/* What a reading without a unit is taken for: s, V, A, W, Wh, Ah, degrees Celsius. */
const struct meter_unit *meter_unit_plain(enum meter_dimension dimension);
/* The unit of times since 1970 by the size of one, or NULL if it is too small for that. */
const struct meter_unit *meter_unit_since_1970(int64_t v);
/* Times that are written as dates, times of day, or both. */
const struct meter_unit *meter_unit_calendar(void);
enum meter_dimension meter_dimension_of(enum meter_quantity quantity);

/* What a cell of a heading says. */
struct meter_heading {
    enum meter_quantity      quantity; /* METER_NOTHING: nobody knows */
    const struct meter_unit *unit;     /* NULL: not told */
    bool                     by_name;  /* an English name fits, not the unit alone */
    bool                     exact;    /* "vbus", "ibus" */
    bool                     mean;     /* an average */
    bool                     aside;    /* of its kind, but not the one that is looked for: a peak, a limit, a data line */
    int                      number;   /* the first in the name, -1: none */
    size_t                   name_length; /* of the cell without its unit */
};
void meter_heading_read(const char *text, size_t length, struct meter_heading *h);
bool meter_same_words(const char *a, size_t a_length, const char *b, size_t b_length); /* but for case (ASCII) */

/* One time: of the kinds that a cell may hold. */
struct meter_moment {
    bool    has_date, has_clock, zone_told, wide; /* wide: hours beyond 23 */
    int64_t date_ns, clock_ns; /* the zone taken off the clock */
    int64_t step_ns;           /* of the last digit */
};
/* form: METER_CALENDAR and what follows it. False: it is no such time. */
bool meter_moment_read(struct cursor cell, enum meter_form form, struct meter_moment *m);

/* Which columns a file has, and how they are written. */
struct meter_layout {
    struct meter_column column[METER_COLUMNS_MAX];
    unsigned            columns;
    int                 time, date; /* indexes, -1: none */
    char                separator, decimal;
    uint64_t            heading_line, data_line;
    unsigned            cells; /* of a row at the least */
    struct meter_moment first;                       /* of the first row */
    int64_t             time_step_ns;                /* finest of the rows at the beginning; 0: none */
    int                 exponent[METER_COLUMNS_MAX]; /* of the last digit, likewise, in units of what is kept; METER_NO_DIGIT: none */
};
enum { METER_NO_DIGIT = 1000 };

/* A line of cells, kept. */
struct meter_names {
    struct cursor cell[CSV_CELLS_MAX];
    size_t        count, used;
    uint64_t      line;
    uint8_t      *text; /* METER_NAMES_BYTES */
};
enum { METER_NAMES_BYTES = 2 * CSV_LINE_MAX };

/*
 * The columns that a heading (NULL: none) and a map (NULL: none) give. False: FAULT_TABLE. Every column has a unit afterwards, but for a
 * time whose heading tells none.
 */
bool meter_columns_find(const struct meter_names *heading, const struct meter_map *map, struct meter_layout *l, struct fault *f);

/* A row's values, value[i] of column i: METER_NO_VALUE where the cell says that there is none (and for times). */
struct meter_values { int64_t value[METER_COLUMNS_MAX]; int exponent[METER_COLUMNS_MAX]; };
#define METER_NO_VALUE INT64_MIN
/* False: *bad is the number of the column that cannot be read, 0 if there are too few cells. */
bool meter_values_read(struct meter_layout *l, const struct csv_row *row, struct meter_values *v, unsigned *bad);
/* When a row was taken, the date's column put to it. False: *bad as above. */
bool meter_time_read(struct meter_layout *l, const struct csv_row *row, struct meter_moment *m, unsigned *bad);

/*
 * Finds separator, heading, columns and decimal mark, and then stands before the first row of data. *heading: kept for notices (text
 * is the caller's to free). False: FAULT_TABLE, FAULT_NO_MEMORY.
 */
bool meter_layout_find(struct csv_table *t, const struct meter_options *o, struct meter_layout *l, struct meter_names *heading, struct fault *f);

/* What else the log tells, against volts and amperes. Doubles: nothing is judged by it. */
enum { METER_COUNT_ENERGY, METER_COUNT_CHARGE, METER_COUNTS };
struct meter_count {
    int      column; /* of the layout, -1: none */
    bool     has_last, used;
    int64_t  last;
    double   told, either_way, balance, step; /* uWh, uAh */
    unsigned pieces;
};
struct meter_check {
    int                volt, amp, power; /* columns of the layout, -1: none, or several */
    bool               counts, has_last;
    uint64_t           power_line;
    int64_t            last_ns;
    double             volt_uv, amp_ua;
    struct meter_count count[METER_COUNTS];
};
void meter_check_begin(struct meter_check *c, const struct meter_layout *l);
/* Where there is a column of watts: a row as the log has it. */
void meter_check_power(struct meter_check *c, const struct meter_values *v, uint64_t line, struct meter_facts *facts);
/* Where there are counters: a row with its time. whole: nothing is missing since the row before. */
void meter_check_counters(struct meter_check *c, const struct meter_values *v, int64_t at_ns, bool whole);
void meter_check_tell(const struct meter_check *c, const struct meter_layout *l, const struct meter_facts *facts, const struct meter_options *o);

/* Rows on their way to records. */
struct meter_rows;
/* step_ns: by how much a row's time may differ from its stamp. */
struct meter_rows *meter_rows_new(const struct meter_layout *l, const struct meter_options *o, int64_t step_ns, struct meter_facts *facts);
void meter_rows_free(struct meter_rows *r);
/* False: not taken; what is there has to come out first (meter_rows_take until it gives nothing), then again. */
bool meter_rows_add(struct meter_rows *r, int64_t stamp_ns, const struct meter_values *v);
/* No more rows: what is there comes out. */
void meter_rows_end(struct meter_rows *r);
/* The next record, or false. */
bool meter_rows_take(struct meter_rows *r, const uint8_t **bytes, size_t *length, int64_t *stamp_ns);
