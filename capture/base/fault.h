/*
 * capture/base/fault.h - what stopped the work. No sentence in it: cli/fault_text.c makes those.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum fault_code {
    FAULT_NONE,
    FAULT_OPEN,          /* sys = errno */
    FAULT_READ,          /* sys = errno */
    FAULT_WRITE,         /* sys = errno */
    FAULT_EMPTY,         /* a file of 0 bytes is no capture */
    FAULT_NOT_A_CAPTURE, /* neither pcap, pcapng, gzip, zstd nor the text form of a trace */
    FAULT_CAPTURE,       /* looks like pcap or pcapng, but libpcap refuses it; detail = its words */
    FAULT_LINK_TYPE,     /* number = the link type, detail = its name */
    FAULT_COMPRESSION,   /* the compressed stream is broken at its very start; detail = why */
    FAULT_JSON,          /* number = byte offset; detail = what was expected */
    FAULT_USB,           /* libusb cannot begin; number = its error, detail = its words */
    FAULT_FORMAT,        /* not a file of the kind that it was said to be; number = the line (0: none); detail = what is wrong */
    FAULT_NOT_THERE,     /* a signal, column or bit that was asked for; number = which of those asked for, from 0; detail = what there is */
    FAULT_AMBIGUOUS,     /* several would do for one that was asked for, or none was named; number, detail as above */
    FAULT_RATE,          /* the file does not tell how long a sample lasts, and nobody said */
    FAULT_TABLE,         /* a table (CSV) that cannot be used; number = enum table_trouble; detail = the column, key or unit, else "" */
    FAULT_NO_MEMORY,
};

enum table_trouble {
    TABLE_UTF16,         /* text of 16 bits a character */
    TABLE_NO_HEADING,    /* nothing near its beginning heads columns that make sense, with numbers below */
    TABLE_NO_TIME,       /* no column of times, and no rate was given; detail may name a column of another kind */
    TABLE_NO_COLUMN,     /* the column that was asked for is not there */
    TABLE_TWICE,         /* several columns answer to this */
    TABLE_UNIT,          /* the unit of this column is not told, and cannot be taken for granted */
    TABLE_MAP,           /* the map of columns cannot be read from here on */
};

struct fault {
    enum fault_code code;
    int             sys;         /* errno, else 0 */
    int64_t         number;      /* meaning by code, else 0 */
    char            detail[200]; /* words of a library, printable ASCII or UTF-8, else "" */
};

/* Always false, so that a caller can write: return fault_set(f, ...); detail may be NULL. f may be NULL. */
bool fault_set(struct fault *f, enum fault_code code, int sys, int64_t number, const char *detail);
