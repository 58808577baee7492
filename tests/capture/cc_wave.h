/*
 * tests/capture/cc_wave.h - the voltage of a CC line as an instrument would read it, made from when its driver turns: edges through a
 * resistance and a capacitance, levels of its own in packets and at rest, noise. By itself: it knows nothing of the code under test.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct cc_turn { double at_ns, mv, tau_ns; }; /* from here on towards mv, with this time constant */
struct cc_wave {
    struct cc_turn *turns;
    size_t          count, room;
    double          start_mv;
    double         *edges; /* when the driver turned between low and high, and whether up */
    size_t          edge_count, edge_room;
};

void cc_wave_free(struct cc_wave *w);
void cc_wave_turn(struct cc_wave *w, double at_ns, double mv, double tau_ns);
/*
 * Bits in BMC (a change at the beginning of each cell, another amid a 1) between low and high, after the line has been pulled low; then
 * low for 1.5 us, then back to rest. Returns the end of the last cell.
 */
struct cc_drive { double low_mv, high_mv, rest_mv, tau_ns, release_ns, cell_ns; };
double cc_wave_bits(struct cc_wave *w, double at_ns, const struct cc_drive *d, const uint8_t *bits, size_t count);
/* Preamble (64 bits, 0 first) and count bits drawn. */
double cc_wave_drawn(struct cc_wave *w, double at_ns, const struct cc_drive *d, size_t count, uint64_t *seed);

/* Readings every sample_ns from time 0 on, each in millivolts, with noise of that standard deviation. */
void cc_wave_read(const struct cc_wave *w, double sample_ns, double noise_mv, uint64_t *seed, double *mv, size_t count);

uint64_t cc_wave_word(uint64_t *seed);
double   cc_wave_normal(uint64_t *seed); /* mean 0, standard deviation 1 */
