#include "decode/line_code.h"

#include "capture/record.h"
#include "decode/sources.h"

#include <stddef.h>

#define RESERVED(source) { LINE_SYMBOL_RESERVED, 0, "reserved", source }
#define DATA(nibble, name) { LINE_SYMBOL_DATA, nibble, name, FROM_CHROMIUM_LINE }
#define K_CODE(name) { LINE_SYMBOL_K_CODE, 0, name, FROM_CHROMIUM_LINE }

/* clang-format off */
/* An old software decoder in the same tree takes 00110 for an error; two headers beside it have Sync-3 there, and use it. */
const struct line_symbol line_symbols[LINE_SYMBOLS] = {
    [0x00] = RESERVED(FROM_CHROMIUM_LINE), [0x01] = RESERVED(FROM_CHROMIUM_LINE), [0x02] = RESERVED(FROM_CHROMIUM_LINE),
    [0x03] = RESERVED(FROM_CHROMIUM_LINE), [0x04] = RESERVED(FROM_CHROMIUM_LINE), [0x05] = RESERVED(FROM_CHROMIUM_LINE),
    [K_SYNC_3] = K_CODE("Sync-3"),         [K_RST_1] = K_CODE("RST-1"),
    [0x08] = RESERVED(FROM_CHROMIUM_LINE), [0x09] = DATA(0x1, "1"),
    [0x0A] = DATA(0x4, "4"),               [0x0B] = DATA(0x5, "5"),
    [0x0C] = RESERVED(FROM_CHROMIUM_LINE), [K_EOP] = K_CODE("EOP"),
    [0x0E] = DATA(0x6, "6"),               [0x0F] = DATA(0x7, "7"),
    [0x10] = RESERVED(FROM_CHROMIUM_LINE), [K_SYNC_2] = K_CODE("Sync-2"),
    [0x12] = DATA(0x8, "8"),               [0x13] = DATA(0x9, "9"),
    [0x14] = DATA(0x2, "2"),               [0x15] = DATA(0x3, "3"),
    [0x16] = DATA(0xA, "A"),               [0x17] = DATA(0xB, "B"),
    [K_SYNC_1] = K_CODE("Sync-1"),         [K_RST_2] = K_CODE("RST-2"),
    [0x1A] = DATA(0xC, "C"),               [0x1B] = DATA(0xD, "D"),
    [0x1C] = DATA(0xE, "E"),               [0x1D] = DATA(0xF, "F"),
    [0x1E] = DATA(0x0, "0"),               [0x1F] = RESERVED(FROM_CHROMIUM_LINE),
};

const struct line_set line_sets[LINE_SETS] = {
    /* name          reset  number               K-codes, the first sent first                source */
    { "SOP",         false, 0,                   { K_SYNC_1, K_SYNC_1, K_SYNC_1, K_SYNC_2 }, FROM_CHROMIUM_LINE },
    { "SOP'",        false, 1,                   { K_SYNC_1, K_SYNC_1, K_SYNC_3, K_SYNC_3 }, FROM_CHROMIUM_LINE },
    { "SOP''",       false, 2,                   { K_SYNC_1, K_SYNC_3, K_SYNC_1, K_SYNC_3 }, FROM_CHROMIUM_LINE },
    { "SOP'_Debug",  false, 3,                   { K_SYNC_1, K_RST_2,  K_RST_2,  K_SYNC_3 }, FROM_CHROMIUM_LINE },
    { "SOP''_Debug", false, 4,                   { K_SYNC_1, K_RST_2,  K_SYNC_3, K_SYNC_2 }, FROM_CHROMIUM_LINE },
    { "Hard Reset",  true,  RECORD_HARD_RESET,   { K_RST_1,  K_RST_1,  K_RST_1,  K_RST_2 },  FROM_CHROMIUM_LINE },
    { "Cable Reset", true,  RECORD_CABLE_RESET,  { K_RST_1,  K_SYNC_1, K_RST_1,  K_SYNC_3 }, FROM_CHROMIUM_LINE },
};
/* clang-format on */

static unsigned ones(unsigned symbol)
{
    unsigned count = 0;

    for (; symbol; symbol &= symbol - 1)
        count++;
    return count;
}

/* How many of the set's K-codes stand in `bits`; how many bits of them are wrong. */
static unsigned set_compare(const struct line_set *set, uint32_t bits, unsigned *wrong)
{
    unsigned right = 0;

    *wrong = 0;
    for (unsigned k = 0; k < LINE_SET_SYMBOLS; k++) {
        unsigned differs = (bits >> k * LINE_SYMBOL_BITS ^ set->codes[k]) & (LINE_SYMBOLS - 1);

        right += differs == 0;
        *wrong += ones(differs);
    }
    return right;
}

const struct line_set *line_set_find(uint32_t bits, unsigned *right)
{
    const struct line_set *best = NULL;
    unsigned               best_wrong = 0;

    *right = 0;
    for (unsigned k = 0; k < LINE_SETS; k++) {
        unsigned wrong = 0, count = set_compare(&line_sets[k], bits, &wrong);

        if (count < LINE_SET_RIGHT_LEAST || (best && wrong >= best_wrong))
            continue;
        best = &line_sets[k];
        best_wrong = wrong;
        *right = count;
    }
    return best;
}
