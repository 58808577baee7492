/*
 * tests/decode/bmc_line.h - a CC line as transmitters make it, and as an instrument sees it. The tests' own: nothing of decode/ is in it.
 *
 * A wave is a list of moments at which the level changes, in picoseconds. What an instrument makes of it (jitter, unequal edges, glitches,
 * a clock of its own) comes after, in wave_see.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum wave_set { WAVE_SOP, WAVE_SOP1, WAVE_SOP2, WAVE_SOP1_DEBUG, WAVE_SOP2_DEBUG, WAVE_HARD_RESET, WAVE_CABLE_RESET, WAVE_SETS };

struct wave {
    double *at_ps;
    size_t  count, room;
    bool    begins_high; /* before the first change */
    double  now_ps;      /* up to here it is made */
};

/* What is sent; wave_packet_of gives what the standard wants, and a test changes of it what it likes. */
struct wave_packet {
    double         rate_hz;
    unsigned       preamble_bits; /* alternating; the last is a 1 */
    const char    *codes[4];      /* 5 characters each, b4 to b0 */
    const uint8_t *bytes;         /* with their CRC */
    size_t         length;
    bool           reset;         /* no EOP after the set */
    bool           no_eop;
    size_t         bad_symbol_at; /* number of the symbol after the set that is bad_symbol instead; SIZE_MAX: none */
    const char    *bad_symbol;
    double         drift;         /* by how much the rate is higher after the preamble: 0.01 is 1 % */
    bool           no_last_change;/* the line stays as it is at the end of the last cell */
    bool           hold_low;      /* a line that ends high is pulled low one cell later, as transmitters do */
};
struct wave_packet wave_packet_of(enum wave_set set, const uint8_t *bytes, size_t length);

/* Bytes with their CRC after them; there is room for 4 more. The new length. By the polynomial, bit by bit. */
size_t wave_crc_add(uint8_t *bytes, size_t length);

struct wave_truth { double start_ps, end_ps, preamble_end_ps; unsigned bits; };

void wave_begin(struct wave *w, bool high);
void wave_free(struct wave *w);
void wave_wait(struct wave *w, double ps);
void wave_change(struct wave *w);
bool wave_high(const struct wave *w);
struct wave_truth wave_send(struct wave *w, const struct wave_packet *p);
/* Takes off what comes after that moment. */
void wave_cut(struct wave *w, double at_ps);

/* The symbol of a nibble, b4 to b0. */
const char *wave_symbol(unsigned nibble);

struct wave_instrument {
    double   tick_ps;
    double   jitter_ps;     /* rms, of each change by itself, normally distributed */
    double   skew_ps;       /* rising changes come that much later than falling ones */
    double   glitch_share;  /* glitches for each change of the line */
    double   glitch_ps;     /* how long they last, at most */
    double   offset_ps;     /* where the first tick lies */
    uint64_t seed;
};
struct wave_ticks { int64_t *at; size_t count; bool level; };
struct wave_ticks wave_see(const struct wave *w, const struct wave_instrument *i);
