/*
 * capture/record.h - one record of a trace: eight bytes of header and a body (traces/FORMAT.md).
 *
 *   _ns   int64_t   nanoseconds since 1970 (of the capture's clock), or uint32_t a length of time
 *   cells of POWER  microvolt, microampere; RECORD_NO_READING = no reading
 *
 * Reading a record copies nothing: every pointer goes into the bytes it was given.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    RECORD_VERSION = 1,
    RECORD_HEADER_BYTES = 8,
    RECORD_BYTES_MAX = 65535,
    RECORD_PORT_BENCH = 255, /* header port of the whole bench */
    RECORD_PORT_NONE = 255,  /* subject of a mark: none */
};
#define RECORD_NO_READING INT32_MIN
#define RECORD_LOST_UNKNOWN UINT32_MAX

enum record_kind {
    RECORD_PD_PACKET = 0x01,
    RECORD_RESET_SIGNAL = 0x02,
    RECORD_POWER = 0x03,
    RECORD_CC_STATE = 0x04,
    RECORD_MARK = 0x05,
    RECORD_LOST = 0x06,
    RECORD_TEMPERATURE = 0x07,
    RECORD_ABOUT = 0x08,
    RECORD_CC_EDGES = 0x09,
};

enum record_flag { RECORD_HOST_TIME = 1, RECORD_END_TIME = 2, RECORD_INVENTED = 4 };

/* Can it be used? Only RECORD_SOUND has a body to look at. */
enum record_soundness {
    RECORD_SOUND,
    RECORD_DAMAGED,    /* too short for its kind, or a field out of its range: why says which */
    RECORD_UNREADABLE, /* shorter than a header, or of another version */
    RECORD_UNKNOWN,    /* a kind that is not in the table, or a private one */
};

enum record_why {
    RECORD_WHY_NONE,
    RECORD_WHY_SHORT_HEADER,   /* fewer than 8 bytes */
    RECORD_WHY_VERSION,        /* version is not 1 */
    RECORD_WHY_KIND,           /* unknown kind */
    RECORD_WHY_PRIVATE,        /* kind 0x80..0xFF */
    RECORD_WHY_SHORT_BODY,     /* shorter than its kind needs */
    RECORD_WHY_CUT,            /* captured shorter than its original length */
    RECORD_WHY_LONG,           /* longer than 65,535 bytes */
    RECORD_WHY_SHORT_PACKET,   /* PD packet below its least size and not TRUNCATED */
    RECORD_WHY_ORDERED_SET,
    RECORD_WHY_RESET,          /* which > 1 */
    RECORD_WHY_PORT,           /* port 255 on a packet, reset or CC state */
    RECORD_WHY_ROWS,           /* rows = 0 */
    RECORD_WHY_COLUMNS,        /* columns = 0, or bits 3..7 set */
    RECORD_WHY_INTERVAL,       /* interval 0 with more than one row */
    RECORD_WHY_ATTACH,
    RECORD_WHY_RP,
    RECORD_WHY_ACTION,
    RECORD_WHY_WHERE,
    RECORD_WHY_LEVEL,
    RECORD_WHY_TICK,           /* tick_ps = 0 */
    RECORD_WHY_LEB128,         /* unfinished number, or one beyond 64 bits */
    RECORD_WHY_JSON,           /* ABOUT is no JSON object */
    RECORD_WHY_UTF8,
    RECORD_WHY_TEXT_LINE,      /* text form: the line cannot be read; kind and port as far as they could be, else a packet of port 255 */
};

enum record_packet_state { RECORD_CRC_BAD = 1, RECORD_TRUNCATED = 2, RECORD_NO_CRC = 4 };
enum record_reset { RECORD_HARD_RESET, RECORD_CABLE_RESET };
enum record_column { RECORD_VBUS = 1, RECORD_IBUS = 2, RECORD_VCONN = 4 };
enum record_action {
    RECORD_NOTE, RECORD_PLUGGED, RECORD_UNPLUGGED, RECORD_LOAD_SET,
    RECORD_INPUT_ON, RECORD_INPUT_OFF, RECORD_BUTTON,
};

struct record {
    uint64_t              frame;       /* from 1, every packet of the file; the line number in the text form */
    int64_t               t_ns;        /* start of the record (END_TIME applied) */
    int64_t               stamp_ns;    /* the time as it stands in the file */
    uint32_t              duration_ns; /* as written; 0 = not measured */
    uint8_t               version, kind, port, flags;
    enum record_soundness soundness;
    enum record_why       why;
    const uint8_t        *bytes;       /* the whole record as it was stored */
    size_t                length;
    union {
        struct { const uint8_t *bytes; size_t length; uint8_t set, state; } packet; /* from the message header on */
        struct { uint8_t which; } reset;
        struct { const uint8_t *cells; uint32_t interval_ns; uint16_t rows; uint8_t columns, width; } power; /* width: columns set */
        struct { uint16_t cc1_mv, cc2_mv; uint8_t attach, rp; } cc;
        struct { const char *text; size_t length; int32_t value; uint8_t action, subject; } mark;
        struct { uint32_t count, where; } lost;
        struct { const char *label; size_t length; int32_t mc; uint8_t probe; } temperature;
        struct { const char *text; size_t length; } about;
        struct { const uint8_t *leb; size_t length; uint32_t tick_ps; uint8_t level; } edges;
    };
};

/*
 * Reads the record in bytes[0..length). stamp_ns is its time as stored; frame its number. Fills all of *r
 * and says in r->soundness whether it can be used. Never fails: bad bytes are a result. cut: the capture kept
 * fewer bytes than the record had.
 */
void record_read(const uint8_t *bytes, size_t length, bool cut, int64_t stamp_ns, uint64_t frame, struct record *r);

/*
 * Its start from the stored bytes alone (END_TIME applied), the rest unchecked: what merging needs. A stamp more than
 * RECORD_TIME_LIMIT from 1970 is taken as that limit, here and in record_read, so differences of times never overflow.
 */
int64_t record_start_ns(const uint8_t *bytes, size_t length, int64_t stamp_ns);
#define RECORD_TIME_LIMIT ((INT64_C(1) << 62) - 1) /* 146 years */

/* The value of column c (0.. width-1, in bit order) of a row of a POWER record. */
int32_t record_cell(const struct record *r, unsigned row, unsigned column);

/* Least and greatest reading of a column of a POWER record. False if it has none. */
bool record_column_range(const struct record *r, unsigned column, int32_t *least, int32_t *greatest);
/* The same for VBUS and IBUS together. any: there is a reading at all; all: none is missing. */
struct record_range { int32_t least, greatest; bool any, all; };
void record_power_ranges(const struct record *r, struct record_range *volts, struct record_range *amps);

/* Many rows at once, each column (in bit order) by itself. least, greatest, sum: of count readings; missing ones are left out. */
enum { RECORD_COLUMNS_MAX = 3 };
struct column_sum { int32_t least, greatest; uint32_t count; int64_t sum; };
/* Rows from..to-1 of a POWER record; rows that it does not have are left out. Columns that it does not have: count 0. */
void record_columns(const struct record *r, unsigned from, unsigned to, struct column_sum out[RECORD_COLUMNS_MAX]);
/* The sums alone, of rows in which no reading is missing. */
void record_sums(const struct record *r, unsigned from, unsigned to, int64_t out[RECORD_COLUMNS_MAX]);

/* Nominal length on the wire at 300 kbit/s, of a packet of n bytes after the ordered set (CRC counted), or (n = 0) of a
 * reset signal: 64 preamble bits, 20 of the ordered set, 10 a byte, 5 of EOP. */
int64_t record_nominal_ns(size_t bytes_with_crc);

/*
 * From start to end: the measured duration; else POWER rows x interval, of edges the sum of their ticks, of packets and
 * resets the nominal length; 0 for moments and for what is not sound.
 */
int64_t record_span_unmeasured_ns(const struct record *r); /* where duration_ns is 0, or the record cannot be used */
static inline int64_t record_span_ns(const struct record *r)
{
    return r->duration_ns > 0 && r->soundness == RECORD_SOUND ? (int64_t)r->duration_ns : record_span_unmeasured_ns(r);
}

/* Puts a record header and body together; each returns its length, or 0 if it does not fit in cap. */
size_t record_put(uint8_t *out, size_t cap, uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns,
                  const uint8_t *body, size_t length);
size_t record_put_packet(uint8_t *out, size_t cap, uint8_t port, uint8_t flags, uint32_t duration_ns,
                         uint8_t set, uint8_t state, const uint8_t *bytes, size_t length);
size_t record_put_power(uint8_t *out, size_t cap, uint8_t port, uint8_t flags, uint32_t duration_ns,
                        uint32_t interval_ns, uint16_t rows, uint8_t columns, const int32_t *cells);
