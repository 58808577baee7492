/*
 * decode/line_code.h - what the bits on a CC line stand for (USB PD): 4b5b symbols and ordered sets.
 *
 * A symbol is written b4..b0 and sent b0 first. The number of an ordered set has the symbol that is sent first in its lowest five bits.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

enum {
    LINE_SYMBOL_BITS = 5,
    LINE_SYMBOLS = 1 << LINE_SYMBOL_BITS,
    LINE_SET_SYMBOLS = 4,
    LINE_SET_BITS = LINE_SET_SYMBOLS * LINE_SYMBOL_BITS,
    LINE_SET_RIGHT_LEAST = 3, /* K-codes that have to be right for a receiver to take the set; from memory */
    LINE_PREAMBLE_BITS = 64,  /* alternating, the first a 0, the last a 1 */
    LINE_SETS = 7,
};

enum line_k_code { K_SYNC_1 = 0x18, K_SYNC_2 = 0x11, K_SYNC_3 = 0x06, K_RST_1 = 0x07, K_RST_2 = 0x19, K_EOP = 0x0D };

enum line_symbol_kind { LINE_SYMBOL_RESERVED, LINE_SYMBOL_DATA, LINE_SYMBOL_K_CODE };

struct line_symbol {
    uint8_t     kind;   /* enum line_symbol_kind */
    uint8_t     nibble; /* of data */
    const char *name;   /* "Sync-1", "9"; "reserved" */
    const char *source;
};
extern const struct line_symbol line_symbols[LINE_SYMBOLS];

struct line_set {
    const char *name;
    bool        reset;
    uint8_t     number; /* as capture/record.h has it: ordered_set of a packet, or which of a reset */
    uint8_t     codes[LINE_SET_SYMBOLS]; /* in the order in which they are sent */
    const char *source;
};
extern const struct line_set line_sets[LINE_SETS];

/*
 * The set that 20 bits are (the first in bit 0). *right: how many of its K-codes are there, 3 at the least; NULL: no set has so many. Where
 * two sets have three right, it is the one with fewer wrong bits, then the earlier in the table.
 */
const struct line_set *line_set_find(uint32_t bits, unsigned *right);
