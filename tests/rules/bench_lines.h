/*
 * tests/rules/bench_lines.h - a bench in a few lines: builds a trace in memory, plays it through the engine, keeps what was found.
 *
 * A trace begins empty at START_NS. Each call adds one record, or a message with its GoodCRC, at `now` and moves `now` on;
 * it returns the frame number of the record (of the message, not of its GoodCRC). Messages have measured durations, CRCs by
 * zlib, MessageIDs counted as the standard wants, and a GoodCRC 0.1 ms after their end, all unless `struct say` tells otherwise.
 * Durations are the nominal ones at 300 kbit/s.
 */
#pragma once
#include "rules/engine.h"

#define START_NS INT64_C(1770000000000000000)
#define MS(n) (INT64_C(1000000) * (n))
#define US(n) (INT64_C(1000) * (n))

enum { LINES_MAX = 16384, LINES_BYTES = 1 << 22, LINES_FINDINGS = 256, LINES_ROWS = 256 };

struct lines {
    int64_t  now_ns;
    int64_t  pause_ns;        /* after a message and its GoodCRC; 2 ms at first */
    uint8_t  port;
    uint8_t  revision;        /* header bits 7:6, HEADER_R3 at first */
    bool     source_is_ufp;   /* after a DR_Swap: data role bits the other way round */
    int64_t  length_off_ns;   /* added to the length of every packet and reset signal */
    bool     unmeasured;      /* lengths are not in the records of packets */
    bool     resets_measured; /* ... are in those of reset signals */
    uint8_t  power_flags;     /* of rows, beside RECORD_INVENTED */
    uint8_t  next_id[5][3];   /* by ordered set and SIDE_SOURCE, SIDE_SINK, SIDE_CABLE */
    unsigned count;
    size_t   used;
    struct { int64_t t_ns; size_t at, length; } line[LINES_MAX];
    uint8_t  bytes[LINES_BYTES];

    void    *timing_context;  /* for the caller's options.timing, which gets the lines themselves as its context */

    /* After lines_run */
    struct engine *engine;
    unsigned       findings;
    struct finding finding[LINES_FINDINGS];
};

/* A message with everything that can be said, or done wrong. What is 0 or NULL is as it should be. */
struct say {
    uint8_t     side, set, message_class, type;
    uint8_t     count;           /* data objects */
    uint32_t    words[7];
    const void *block;           /* extended: the bytes after the extended header; padding to a multiple of 4 is added */
    uint16_t    size;            /* ... and how many */
    uint16_t    extended_header; /* extended: as it is; 0: Chunked, chunk 0, Data Size = size */
    bool        unchunked;       /* extended_header 0: Chunked 0, and no data objects are counted */
    uint16_t    flip;            /* header bits to turn over */
    int         objects_off;     /* added to the Number of Data Objects, modulo 8; the bytes stay */
    int         bytes_off;       /* bytes added after the data (zero) or left out */
    bool        id_given;        /* MessageID id instead of the next one; counting goes on from it */
    uint8_t     id;
    bool        revision_given;
    uint8_t     revision;
    bool        quiet;           /* nobody acknowledges it */
    bool        spoilt;          /* CRC wrong, nobody acknowledges it, and its MessageID is not used up */
    bool        again;           /* the last MessageID once more */
    uint8_t     state;           /* record's packet state: RECORD_NO_CRC (no CRC bytes), RECORD_CRC_BAD, RECORD_TRUNCATED */
    uint16_t    goodcrc_flip;    /* header bits of the GoodCRC to turn over */
    bool        host_time;
};

struct lines *lines_new(void); /* asserts memory */
void lines_free(struct lines *l);
void lines_clear(struct lines *l); /* as new, in the same memory */
/* cmocka fixtures: *state is a struct lines */
int lines_setup(void **state);
int lines_teardown(void **state);
void lines_again(void **state); /* both: the next trace of the same test */

void lines_wait(struct lines *l, int64_t ns);

uint64_t lines_say(struct lines *l, const struct say *s);
/* The usual ones, on SOP. */
uint64_t lines_control(struct lines *l, unsigned side, unsigned type);
uint64_t lines_data(struct lines *l, unsigned side, unsigned type, unsigned count, const uint32_t *words);
uint64_t lines_extended(struct lines *l, unsigned side, unsigned type, const void *block, unsigned size); /* one chunk */
/* An extended message of any size up to 260 bytes in chunks, with request chunks between; frame of the last chunk. */
uint64_t lines_chunks(struct lines *l, unsigned side, unsigned type, const void *block, unsigned size);
uint64_t lines_caps(struct lines *l, unsigned count, const uint32_t *words);  /* Source_Capabilities */
uint64_t lines_request(struct lines *l, uint32_t word);
uint64_t lines_epr_request(struct lines *l, uint32_t word, uint32_t copy);
void     lines_accept_and_ready(struct lines *l);
/* Source_Capabilities, Request, Accept, PS_RDY. Frame of the Request. */
uint64_t lines_negotiate(struct lines *l, unsigned count, const uint32_t *words, uint32_t request);
/* Discover Identity on SOP' and its answer by a passive cable: current field (1: 3 A, 2: 5 A), volts field (0: 20 V, 3: 50 V), EPR. Frame of the ACK. */
uint64_t lines_cable_identity(struct lines *l, unsigned current, unsigned volts, bool epr);
/* EPR_Mode Enter .. Enter Succeeded, and then EPR_Source_Capabilities in chunks; frame of its last chunk. */
uint64_t lines_enter_epr(struct lines *l);
uint64_t lines_epr_caps(struct lines *l, unsigned count, const uint32_t *words);

/* PR_Swap asked by the sink, accepted and carried through in 100 ms; SIDE_SOURCE is the other partner from here on. */
void     lines_power_swap(struct lines *l);

/* Records that are no messages. */
uint64_t lines_cc(struct lines *l, unsigned attach, unsigned rp);
uint64_t lines_attach(struct lines *l);  /* CC_STATE 0, 10 ms later 1 with Rp 3.0 A, then 150 ms of quiet */
uint64_t lines_detach(struct lines *l);  /* CC_STATE 0; MessageIDs start anew */
uint64_t lines_reset(struct lines *l, unsigned which); /* RECORD_HARD_RESET, RECORD_CABLE_RESET; MessageIDs start anew; no pause */
uint64_t lines_lost(struct lines *l, uint32_t count);
uint64_t lines_power(struct lines *l, int32_t vbus_uv, int32_t ibus_ua);
/* Rows at even distances; columns: RECORD_VBUS, RECORD_IBUS. */
uint64_t lines_power_rows(struct lines *l, int64_t interval_ns, unsigned rows, unsigned columns, const int32_t *cells);
/* VBUS alone, a reading every ms; now stays where the block begins. */
uint64_t lines_power_block(struct lines *l, int32_t vbus_uv, uint16_t rows);
uint64_t lines_about(struct lines *l, unsigned port, const char *json);
uint64_t lines_mark(struct lines *l, unsigned action, unsigned subject);
uint64_t lines_mark_by_hand(struct lines *l, unsigned action, unsigned subject); /* stamped by the host */
uint64_t lines_raw(struct lines *l, unsigned set, unsigned state, const void *bytes, size_t length); /* as they are, CRC included */
/* CC_EDGES of the line from start_ns on (now stays): level before the first change, the ticks of the changes from there. duration_ns 0: not given. */
struct edges { int64_t start_ns; uint32_t tick_ps, duration_ns; bool level; const int64_t *at; size_t count; };
uint64_t lines_edges(struct lines *l, const struct edges *e);
void lines_ids_reset(struct lines *l); /* both port partners count from 0 again (all ordered sets) */

/* Objects. */
uint32_t word_fixed(unsigned mv, unsigned ma);
uint32_t word_variable(unsigned min_mv, unsigned max_mv, unsigned ma);
uint32_t word_battery(unsigned min_mv, unsigned max_mv, unsigned mw);
uint32_t word_pps(unsigned min_mv, unsigned max_mv, unsigned ma);
uint32_t word_epr_avs(unsigned min_mv, unsigned max_mv, unsigned watts);
uint32_t word_spr_avs(unsigned ma_15v, unsigned ma_20v);
uint32_t word_ask_fixed(unsigned position, unsigned op_ma, unsigned max_ma);
uint32_t word_ask_battery(unsigned position, unsigned op_mw, unsigned max_mw);
uint32_t word_ask_pps(unsigned position, unsigned mv, unsigned ma);
uint32_t word_ask_avs(unsigned position, unsigned mv, unsigned ma);

/*
 * Plays the trace (records in order of time, equal times as added). options: NULL, or options whose finding and context are
 * overwritten. The trace ends at `now`. Results: below, until the next run.
 */
void lines_run(struct lines *l, const struct engine_options *options);
void lines_play(struct lines *l, const struct engine_options *options); /* the same without the end: more can be fed to l->engine */
struct result lines_result(const struct lines *l, const char *id); /* asserts that the rule is there */
/* Finding k (from 0) of a rule with that verdict, or NULL. */
const struct finding *lines_finding(const struct lines *l, const char *id, unsigned verdict, unsigned k);

/* Assertions, with the rule's id in what they print. */
void expect_verdict(const struct lines *l, const char *id, unsigned verdict);
void expect_counts(const struct lines *l, const char *id, unsigned passed, unsigned failed, unsigned undecided);
/* One fail, there, about that one (enum about_whom). */
void expect_fail(const struct lines *l, const char *id, uint64_t frame, unsigned whom);
void expect_undecided(const struct lines *l, const char *id, uint64_t frame, unsigned cause);
/* No rule of this id's group ("message.") fails or is undecided but those named (blanks between; NULL: none). */
void expect_only(const struct lines *l, const char *group, const char *ids);
