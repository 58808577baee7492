/*
 * cli/synth/synth_signal.h - a packet or reset as it goes over the CC line, bit by bit, and what may be wrong with that.
 *
 *   _ps int64_t picoseconds
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct life;

enum signal_end { SIGNAL_EOP, SIGNAL_OTHER_KCODE, SIGNAL_NO_EOP };

struct signal {
    int64_t  bit_ps, later_bit_ps;  /* of the preamble; of what follows */
    unsigned preamble_bits;
    bool     begins_1;              /* the first bit of the preamble, which alternates */
    unsigned wrong_code;            /* which of the four K-codes is another one, from 1 on; 0: none */
    bool     blurred;               /* ... and a change of level in it lies between half a bit and a whole one */
    bool     reserved;              /* a reserved symbol stands where the first of the header should */
    enum signal_end end;
};

/* As it should be, with bits of this length. */
struct signal signal_usual(int64_t bit_ps);
/* From the first change of level to the end of the last bit. bytes: with the CRC; 0 of a reset. */
int64_t signal_span_ps(const struct signal *g, size_t bytes);
/* Its changes of level as a record CC_EDGES, where the instrument records them. stamp_ns: of the start of the packet, as shown. */
struct sent_bytes { uint8_t set; bool reset; const uint8_t *bytes; size_t length; };
void synth_put_edges(struct life *l, int64_t start_ns, int64_t stamp_ns, const struct signal *g, const struct sent_bytes *what);
