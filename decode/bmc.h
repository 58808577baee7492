/*
 * decode/bmc.h - packets and resets out of the changes of level of one CC line (USB PD, Biphase Mark Coding, 4b5b, ordered sets).
 *
 * Streaming: changes go in, in order of time; what was found comes out through `found`. The bit clock is taken from each preamble and
 * followed through the packet. A packet of an illegal rate is found and measured too (BMC_RATE_LEAST..MOST); what is no packet costs its time
 * only. Times are ticks of the line's clock (capture/cc_line.h has the same). A packet starts with a change, that is at a tick; ends of
 * cells fall between ticks, so lengths are given in parts of one (BMC_PARTS a tick).
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { BMC_PARTS = 256, BMC_BYTES_MAX = 2 + 2 + 260 + 4, BMC_RATE_LEAST_HZ = 150000, BMC_RATE_MOST_HZ = 600000 };

/*
 * A driver that keeps to tRise and tFall (300 ns at least, 10 to 90 %, from memory) cannot cross the line and come back within 250 ns; a half
 * cell of the fastest rate looked for lasts 833 ns, so that a quarter of it may go to unequal edges before a sound change is taken for noise.
 */
enum { BMC_GLITCH_PS = 250000 };

struct bmc_options {
    double   tick_ps;       /* how long a tick is */
    uint64_t glitch_ps;     /* two changes closer than that are noise and are left out, both; BMC_GLITCH_PS if 0 */
    int64_t  known_from;    /* first tick of which the level is known */
};

/* Why a packet ends. */
enum bmc_end {
    BMC_EOP,        /* with EOP, or a reset after its four K-codes */
    BMC_NO_EOP,     /* the line fell silent, or a hole follows */
    BMC_BAD_SYMBOL, /* a reserved 5-bit symbol, or a K-code that has no place there */
    BMC_BAD_CELL,   /* a spacing that is neither half a cell nor a whole one */
    BMC_TOO_LONG,
};

struct bmc_frame {
    bool         reset;           /* else a packet */
    uint8_t      which;           /* ordered set of a packet, or 0 Hard Reset, 1 Cable Reset: numbers as capture/record.h */
    enum bmc_end end;
    int64_t      start_tick;      /* first change of the preamble */
    int64_t      span_parts;      /* from there to the end of the last bit cell that was read */
    const uint8_t *bytes;         /* from the message header to the CRC, whole bytes as far as read; last until `found` returns */
    size_t       length;
    bool         crc_good;
    uint8_t      symbols[4];      /* the four K-codes as received (5 bits each) */
    uint8_t      kcodes_right;    /* of `which`: 4, or 3 where one is wrong */
    bool         kcode_unsure;    /* a cell border within the ordered set could not be told */
    uint16_t     preamble_bits;   /* before the first K-code; where the line was not still before (preamble_whole), one or the other of what
                                     came there may have passed for a bit, or spoilt one */
    bool         preamble_begins_0; /* its first bit */
    bool         preamble_whole;  /* the line was known, and still, for 20 us before the first change */
    bool         reserved_symbol; /* between ordered set and EOP */
    uint32_t     bits;            /* preamble to EOP */
    double       cell_ticks;      /* mean bit cell over the whole frame */
    double       preamble_cell_ticks; /* mean over the last 32 preamble bits */
    double       drift_ppm_least, drift_ppm_most; /* mean rate of each run of 32 bits after the preamble against those 32, worst of them each way; 0, 0: no such run */
    unsigned     drift_runs;
    double       jitter_ticks;    /* root mean square of the changes around the followed clock */
    int64_t      gap_parts;       /* from the end of the frame before to this start; -1: none before, or a hole between, or that one ended badly */
};

struct bmc;
struct bmc *bmc_new(const struct bmc_options *options, void (*found)(void *context, const struct bmc_frame *frame), void *context); /* NULL: no memory */
/* Changes of level at these ticks, increasing; level: before the first of them. */
void bmc_take(struct bmc *b, const int64_t *at, size_t count, bool level);
/* The line is known up to here, without a further change: what ends by silence comes out. */
void bmc_reached(struct bmc *b, int64_t tick);
/* The line is not known up to this tick: what was under way ends. */
void bmc_broken(struct bmc *b, int64_t until_tick);
/* The end: what was under way comes out. */
void bmc_finish(struct bmc *b);
/* No frame that starts earlier will come. */
int64_t bmc_settled(const struct bmc *b);
void bmc_free(struct bmc *b);
