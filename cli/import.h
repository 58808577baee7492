/*
 * cli/import.h - recordings of other instruments, and traces, on their way into one trace: what the files of `import` share.
 *
 * An input hands over records with import_put, stamped by its own clock, each at the earliest when none that starts before reached_ns can
 * come any more. Whatever its kind, it is read in one pass; --align makes a pass before, with the inputs opened anew.
 *
 *   own time    nanoseconds of the input's clock: since 1970, or (relative) since its beginning
 *   trace time  own time x (1 + rate_ppm / 1e6) + zero_ns
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/cc_line.h"
#include "cli/options.h"

struct cJSON;
struct import;
struct import_tie;
struct import_input;

enum { IMPORT_INPUTS = 32, IMPORT_WORDS_BYTES = 4096 };
/* What an instrument's quartz may be off (k = 1), where nobody says: common practice, no source. */
enum { IMPORT_CLOCK_PPM = 50 };

/* The keys that an input may be given. */
enum import_key {
    IMPORT_PORT = 1, IMPORT_SHIFT = 2, IMPORT_START = 4, IMPORT_WIRES = 8, IMPORT_RATE = 16, IMPORT_GLITCH = 32, IMPORT_SCALE = 64,
    IMPORT_LEVELS = 128, IMPORT_COLUMNS = 256, IMPORT_SIGN = 512, IMPORT_FIRST = 1024,
    IMPORT_ALL = IMPORT_PORT | IMPORT_SHIFT | IMPORT_START, /* what every kind takes */
};

/* A CC line of the input: which pin of which port it is. */
struct import_wire {
    const char *name; /* in the file; NULL: the only one */
    uint8_t     port; /* of the file, before words.port is added */
    uint8_t     pin;  /* 1, 2, or 0: not said */
};

/* An input as the command line has it, taken apart. */
struct import_words {
    const struct import_kind *kind; /* NULL: not said */
    const char        *path;        /* "-": standard input */
    unsigned           port;        /* of the trace, for port 0 of the file */
    int64_t            shift_ns, start_ns;
    bool               start_given;
    double             rate_hz, scale_uv, offset_mv;
    int64_t            glitch_ps;   /* 0: the usual */
    int32_t            low_mv, high_mv;
    bool               most_first;  /* first=msb: the first sample is the most significant bit of its byte */
    bool               turned;      /* sign=-1: current counts the other way */
    const char        *columns;     /* as --columns, or NULL */
    struct import_wire wires[CC_LINES_MAX];
    unsigned           wire_count;
    uint32_t           given;       /* enum import_key: which keys stand there */
    char               text[IMPORT_WORDS_BYTES]; /* what the pointers go into */
};

struct import_progress { uint64_t done; int64_t total; /* bytes; -1: not known */ };

/* One row for each kind of input (import_kinds.c has the list). */
struct import_kind {
    const char *word;
    uint32_t    keys;   /* enum import_key */
    bool        same_clock; /* several such inputs go by one clock: they have one beginning, the earliest */
    bool        readings; /* POWER by a clock of its own, and nothing else */
    bool        own;    /* a trace in another form: it may bring ABOUT records of its own */
    /* Fills in->state; relative, first_ns, reached_ns where they are not as import_open set them. False: it was said why not. */
    bool (*open)(struct import_input *in);
    /* Reads on, a block or a record. False at the end, or with in->failed set and said. */
    bool (*work)(struct import_input *in);
    /* What the input itself tells for ABOUT "instrument" (standard uncertainties, k = 1); may be NULL. */
    void (*instrument)(const struct import_input *in, struct cJSON *instrument);
    /* Bit n set: port n of the trace has records of it that `instrument` speaks of. NULL with `instrument` NULL. */
    void (*ports)(const struct import_input *in, bool ports[256]);
    struct import_progress (*progress)(const struct import_input *in);
    /* What was found, a line or more with complain(). */
    void (*summary)(const struct import_input *in);
    void (*close)(struct import_input *in);
};
extern const struct import_kind *const import_kinds[]; /* ends with NULL */
extern const struct import_kind import_vcd_kind, import_bits_kind, import_bytes_kind, import_volts_kind, import_samples_kind; /* import_line.c */
extern const struct import_kind import_meter_kind, import_klog_kind;                  /* import_meter.c, import_klog.c */
extern const struct import_kind import_trace_kind, import_text_kind;                  /* import_trace.c */

struct import_input {
    const struct import_kind *kind;
    const struct import_words *words;
    struct import *all;
    unsigned       number;       /* in the order of the command line */
    void          *state;        /* of the kind */
    bool           relative;     /* own time counts from the file's beginning; else since 1970 */
    int64_t        first_ns;     /* since 1970: when it begins, or its first record starts, as far as it tells itself; INT64_MAX: it does not */
    int64_t        begin_ns;     /* relative: own time of what counts as its beginning */
    int64_t        reached_ns;   /* own time: no record that starts earlier will come */
    int64_t        zero_ns;
    double         rate_ppm;
    const struct import_tie *tie; /* by --align (import_align.h), or NULL */
    bool           ended, failed;
    int64_t        end_ns;       /* own time up to which it was known what happens; INT64_MIN: not told beyond its records */
    uint64_t       records;      /* handed over */
};

/* Options of the command. */
struct import_options {
    const char *columns, *align;
    bool        edges, invented, overwrite;
};

/* Hands over a record of the input; its port is that of the trace already. False: it cannot go on (said, or in->failed set). */
bool import_put(struct import_input *in, int64_t stamp_ns, const uint8_t *bytes, size_t length);
/* The file's name without its folders: what ABOUT may say. */
const char *import_name(const struct import_input *in);
/* For messages: the path, or "standard input". */
const char *import_subject(const struct import_input *in);
/* A line on standard error about the input, the progress line taken off before. */
void import_say(const struct import_input *in, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* How long the file is, -1 if that cannot be told. */
int64_t import_file_bytes(const struct import_input *in);
bool import_no_memory(struct import_input *in);
const struct options *import_common(const struct import *i);
const struct import_options *import_own(const struct import *i);
/* --about says itself how sure the times of packets are (instrument.time_ns). */
bool import_times_said(const struct import *i);
/* Own time as time of the trace. */
/* It is the only input. */
bool import_alone(const struct import *i);
int64_t import_time(const struct import_input *in, int64_t own_ns);

/* import_words.c: takes apart what stands on the command line. False: said. */
bool import_words_read(struct import_words *w, const char *operand);
/* import_kinds.c: the kind of a path whose words name none. NULL: said. */
const struct import_kind *import_kind_guess(const char *path);
const struct import_kind *import_kind_find(const char *word, size_t length);

/* import_run.c: all of it. What the program exits with. */
int import_run(const struct options *options, const struct import_options *own, struct import_words *words, unsigned count);
