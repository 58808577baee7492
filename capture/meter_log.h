/*
 * capture/meter_log.h - the CSV log of a meter as POWER and TEMPERATURE records.
 *
 * Which column is what is found from the heading: the first line whose columns make sense, with numbers below (lines before it are
 * passed over; units may stand in a line of their own below it). A column is known by its unit, in brackets, behind a slash or as the
 * last word ("Voltage (V)", "U/mV", "I [mA]", "VBUS_mv", "Spannung V"), or by an English name; what is doubtful is a fault that says so,
 * and a map of columns settles it. Separator (; tab | ,) and decimal mark are found from the file. Nothing is reckoned from other columns:
 * watts, watt-hours and ampere-hours are held against volts and amperes, and a difference is told, no more.
 *
 * Current is positive out of the port under test; options turn a log that counts the other way.
 *
 * Times. Rows whose stamps lie within one step of their last digit of an even spacing, METER_EVEN_ROWS or more in a row, become blocks
 * with that spacing (interval_ns), of METER_BLOCK_NS at most; no row's time differs from its stamp by more than that step. Slower rows
 * that their stamps tell apart keep them, and tell the spacing only where it is the same to the nanosecond. All other rows
 * are a record each, at their stamp, with interval_ns 0. A row whose time does not fit between its neighbours is passed over; where
 * the time has gone back for good (the clock was set), it goes on from the row before by the spacing seen last, and a notice says by
 * how much. Bad lines cost themselves alone; lines of data that begin with # are comments. One pass; memory does not grow with the file.
 *
 *   _ns since 1970, or since the log's own beginning (enum meter_clock)   _uv _ua microvolt, microampere   _mc thousandths of a degree
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/record.h"

enum { METER_COLUMNS_MAX = 48, METER_NAME_MAX = 80, METER_EVEN_ROWS = 8, METER_BLOCK_NS = 50000000 };

enum meter_quantity {
    METER_NOTHING, METER_TIME, METER_DATE, METER_VBUS, METER_IBUS, METER_VCONN, METER_TEMPERATURE, METER_POWER, METER_ENERGY, METER_CHARGE,
};

struct meter_unit; /* one of the table of units, or a way to write times */
/* As a maker of sentences would name it: "mV", "°C", "hh:mm:ss". */
const char *meter_unit_word(const struct meter_unit *unit);

/*
 * The map of columns: entries parted by commas, each
 *
 *     KEY[@PORT]=COLUMN[:UNIT]     KEY: time date vbus ibus vconn temp0..temp31 power energy charge
 *     KEY=-                        there is no such column, whatever the heading says
 *     port=N                       the entries that follow are of the log's port N (0 to 254), as @N says it for one
 *
 * COLUMN is a number from 1, or a name as in the heading, with or without its unit, whatever its case; in double quotes if it holds
 * commas, colons or begins with a digit. UNIT: one of V mV uV A mA uA W mW Wh mWh Ah mAh C s ms us ns min h; for times also unix, iso, hh:mm:ss,
 * hh:mm, mm:ss, dd/mm/yyyy, mm/dd/yyyy. Keys that the map leaves out are found from the heading, unless the map names several ports.
 */
struct meter_map_entry {
    enum meter_quantity      quantity;
    uint8_t                  port, probe;
    bool                     none, port_told;
    unsigned                 number; /* 0: by name */
    char                     name[METER_NAME_MAX];
    const struct meter_unit *unit;   /* NULL: the heading tells */
};
struct meter_map { struct meter_map_entry entry[METER_COLUMNS_MAX]; unsigned count; };
/* False: FAULT_TABLE, TABLE_MAP, detail = the entry. */
bool meter_map_read(const char *text, struct meter_map *map, struct fault *f);

enum meter_news {
    METER_UNREADABLE,    /* line, column (0: the line as a whole), words: its beginning; passed over */
    METER_TIME_BACK,     /* line; its time goes back by step_ns: passed over */
    METER_TIME_AHEAD,    /* line; its time stands step_ns ahead of those before and behind it: passed over */
    METER_CLOCK_SET,     /* line; times go back by step_ns from here on: moved so that they go on */
    METER_MIDNIGHT,      /* line; a time of day begins anew */
    METER_WRAPPED,       /* line; a counter of 32 bits begins anew */
    METER_UNIT_TAKEN,    /* column, words: its heading; no unit there, and this one is taken */
    METER_NOT_USED,      /* column, words: its heading */
    METER_ZONE_TAKEN,    /* line; times of day without a zone are taken as UTC */
    METER_POWER_DIFFERS, /* at the end: in count of `of` rows, from line on, watts are not volts times amperes (more than rounding and 5 %) */
    METER_COUNTER_DIFFERS, /* at the end: column counted told_u millionths of unit (Wh or Ah), its readings make reckoned_u; likewise */
};
struct meter_notice {
    enum meter_news news;
    uint64_t        line, count, of;
    int64_t         step_ns, told_u, reckoned_u;
    unsigned        column; /* from 1 */
    const struct meter_unit *unit;
    const char     *words;  /* bytes as they came, or NULL */
    size_t          words_length;
};

struct meter_options {
    void (*notice)(void *context, const struct meter_notice *n); /* may be NULL */
    void                   *context;
    const struct meter_map *map;     /* NULL: by the heading alone */
    double                  rate_hz; /* rows a second, above 0: taken where there is no column of times */
    bool                    turned;  /* current counts into the port under test */
    uint8_t                 port;    /* of the log's port 0; others follow */
    uint8_t                 flags;   /* of every record */
    char                    separator, decimal; /* 0: found */
};

enum meter_clock {
    METER_CLOCK_1970, /* date and time */
    METER_CLOCK_DAY,  /* time of day, or hours, minutes and seconds from the beginning */
    METER_CLOCK_LOG,  /* from a beginning of the log's own */
    METER_CLOCK_ROWS, /* counted by the rate */
};

struct meter_column {
    enum meter_quantity      quantity;
    unsigned                 number;      /* in the file, from 1 */
    uint8_t                  port, probe; /* port: of the log; RECORD_PORT_BENCH: of no port (temperatures) */
    bool                     unit_told;   /* by the heading or the map */
    const struct meter_unit *unit;
    char                     name[METER_NAME_MAX]; /* of the heading, cut if it is long; "" if there is none */
};

/* The columns, times and steps are known once the log is open; the counts grow. */
struct meter_facts {
    struct meter_column column[METER_COLUMNS_MAX]; /* used ones */
    unsigned            columns;
    uint64_t            heading_line; /* 0: none */
    char                separator, decimal; /* decimal 0: not seen yet */
    enum meter_clock    clock;
    bool                zone_told;
    int64_t             time_step_ns; /* what the last digit of a time is worth, as far as the beginning shows; 0: counted by the rate */
    int32_t             step_uv, step_ua; /* what the last digit of VBUS and IBUS is worth, 1 at the least, as far as the beginning shows; 0: none */
    uint64_t            rows, even_rows; /* given out; of them in blocks */
    uint64_t            unreadable, misplaced; /* lines passed over: that cannot be read, whose time does not fit */
    uint64_t            power_rows, power_off; /* rows in which watts could be held against volts times amperes, and differed */
    bool                started;
    int64_t             first_ns, last_ns; /* of the rows */
    uint64_t            bytes;
};

struct meter_log;
/*
 * path "-" is standard input; gzip and zstd are unpacked. NULL: FAULT_OPEN, FAULT_READ, FAULT_COMPRESSION, FAULT_EMPTY, FAULT_NO_MEMORY,
 * FAULT_TABLE. options and what they point to must last as long as the log.
 */
struct meter_log *meter_log_open(const char *path, const struct meter_options *options, struct fault *f);
/* The bytes must last as long as the log. */
struct meter_log *meter_log_open_memory(const uint8_t *bytes, size_t length, const struct meter_options *options, struct fault *f);
/*
 * The next record in order of start times; it lasts until the next call. False at the end: f->code is FAULT_NONE, or FAULT_READ,
 * FAULT_COMPRESSION (all rows up to there have been given), FAULT_NO_MEMORY.
 */
bool meter_log_next(struct meter_log *m, const uint8_t **bytes, size_t *length, int64_t *stamp_ns, struct fault *f);
const struct meter_facts *meter_log_facts(const struct meter_log *m);
void meter_log_close(struct meter_log *m);
/* Do these first bytes of a file look like a meter's log: a heading with VBUS and IBUS? */
bool meter_log_fits(const uint8_t *bytes, size_t length);

/*
 * Standard uncertainty of a row's time from its stamp's last digit: a true time lies within one step to either side, so step / sqrt 3
 * (rectangular, JCGM 100:2008 4.3.7). For ABOUT instrument.power_time_ns. 0 where rows are counted.
 */
double meter_log_time_u_ns(const struct meter_facts *facts);
/*
 * The same of a reading from its last digit: step / sqrt 12 (JCGM 100:2008 F.2.2.1). It is a part of noise_uv, noise_ua and no more: an
 * ABOUT that tells this alone would claim a gain and an offset without error, so it belongs there only beside those.
 */
double meter_log_volt_u_uv(const struct meter_facts *facts);
double meter_log_amp_u_ua(const struct meter_facts *facts);
