/* Layouts of objects: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h; AVS: Infineon cy_pdstack_common.h, linux-usb patches of 2025-10 to 2026-03. */
#include "cli/synth/synth_words.h"

static uint32_t field(int32_t value, int32_t step, unsigned shift, uint32_t mask)
{
    return ((uint32_t)(value / step) & mask) << shift;
}

static int32_t part(uint32_t word, unsigned shift, uint32_t mask, int32_t step)
{
    return (int32_t)(word >> shift & mask) * step;
}

uint32_t pdo_fixed(int32_t mv, int32_t ma)
{
    return field(mv, 50, 10, 0x3ff) | field(ma, 10, 0, 0x3ff);
}

uint32_t pdo_battery(int32_t min_mv, int32_t max_mv, int32_t mw)
{
    return UINT32_C(1) << 30 | field(max_mv, 50, 20, 0x3ff) | field(min_mv, 50, 10, 0x3ff) | field(mw, 250, 0, 0x3ff);
}

uint32_t pdo_variable(int32_t min_mv, int32_t max_mv, int32_t ma)
{
    return UINT32_C(2) << 30 | field(max_mv, 50, 20, 0x3ff) | field(min_mv, 50, 10, 0x3ff) | field(ma, 10, 0, 0x3ff);
}

uint32_t pdo_pps(int32_t min_mv, int32_t max_mv, int32_t ma)
{
    return UINT32_C(12) << 28 | field(max_mv, 100, 17, 0xff) | field(min_mv, 100, 8, 0xff) | field(ma, 50, 0, 0x7f);
}

uint32_t pdo_epr_avs(int32_t min_mv, int32_t max_mv, int32_t watts)
{
    return UINT32_C(13) << 28 | field(max_mv, 100, 17, 0x1ff) | field(min_mv, 100, 8, 0xff) | field(watts, 1, 0, 0xff);
}

uint32_t pdo_spr_avs(int32_t ma_15v, int32_t ma_20v)
{
    return UINT32_C(14) << 28 | field(ma_15v, 10, 10, 0x3ff) | field(ma_20v, 10, 0, 0x3ff);
}

enum supply pdo_supply(uint32_t word)
{
    static const enum supply plain[] = { SUPPLY_FIXED, SUPPLY_BATTERY, SUPPLY_VARIABLE };
    static const enum supply augmented[] = { SUPPLY_PPS, SUPPLY_EPR_AVS, SUPPLY_SPR_AVS, SUPPLY_RESERVED };

    return word >> 30 < 3 ? plain[word >> 30] : augmented[word >> 28 & 3];
}

int32_t pdo_min_mv(uint32_t word)
{
    switch (pdo_supply(word)) {
    case SUPPLY_FIXED: case SUPPLY_BATTERY: case SUPPLY_VARIABLE: return part(word, 10, 0x3ff, 50);
    case SUPPLY_PPS: case SUPPLY_EPR_AVS: return part(word, 8, 0xff, 100);
    case SUPPLY_SPR_AVS: return 9000;
    case SUPPLY_RESERVED: break;
    }
    return 0;
}

int32_t pdo_max_mv(uint32_t word)
{
    switch (pdo_supply(word)) {
    case SUPPLY_FIXED: return part(word, 10, 0x3ff, 50);
    case SUPPLY_BATTERY: case SUPPLY_VARIABLE: return part(word, 20, 0x3ff, 50);
    case SUPPLY_PPS: return part(word, 17, 0xff, 100);
    case SUPPLY_EPR_AVS: return part(word, 17, 0x1ff, 100);
    case SUPPLY_SPR_AVS: return word & 0x3ff ? 20000 : 15000;
    case SUPPLY_RESERVED: break;
    }
    return 0;
}

int32_t pdo_max_mw(uint32_t word)
{
    return part(word, 0, 0x3ff, 250);
}

int32_t pdo_max_ma(uint32_t word, int32_t mv)
{
    int32_t ma;

    switch (pdo_supply(word)) {
    case SUPPLY_FIXED: case SUPPLY_VARIABLE: return part(word, 0, 0x3ff, 10);
    case SUPPLY_BATTERY: return pdo_max_mw(word) * 1000 / pdo_min_mv(word);
    case SUPPLY_PPS: return part(word, 0, 0x7f, 50);
    case SUPPLY_EPR_AVS:
        ma = (int32_t)((int64_t)part(word, 0, 0xff, 1) * 1000000 / mv) / 50 * 50;
        return ma < 5000 ? ma : 5000;
    case SUPPLY_SPR_AVS: return mv <= 15000 ? part(word, 10, 0x3ff, 10) : part(word, 0, 0x3ff, 10);
    case SUPPLY_RESERVED: break;
    }
    return 0;
}

static uint32_t least_of(uint32_t word, unsigned shift, uint32_t mask, uint32_t most)
{
    uint32_t now = word >> shift & mask;

    return now > most ? (word & ~(mask << shift)) | most << shift : word;
}

uint32_t pdo_capped(uint32_t word, int32_t ma)
{
    switch (pdo_supply(word)) {
    case SUPPLY_FIXED: case SUPPLY_VARIABLE: return least_of(word, 0, 0x3ff, (uint32_t)ma / 10);
    case SUPPLY_BATTERY: return least_of(word, 0, 0x3ff, (uint32_t)(pdo_min_mv(word) * (ma / 10) / 100 / 250));
    case SUPPLY_PPS: return least_of(word, 0, 0x7f, (uint32_t)ma / 50);
    case SUPPLY_SPR_AVS: return least_of(least_of(word, 0, 0x3ff, (uint32_t)ma / 10), 10, 0x3ff, (uint32_t)ma / 10);
    case SUPPLY_EPR_AVS: case SUPPLY_RESERVED: break;
    }
    return word;
}

uint32_t asking_fixed(unsigned position, int32_t ma, int32_t max_ma)
{
    return (uint32_t)position << 28 | field(ma, 10, 10, 0x3ff) | field(max_ma, 10, 0, 0x3ff);
}

uint32_t asking_battery(unsigned position, int32_t mw, int32_t max_mw)
{
    return (uint32_t)position << 28 | field(mw, 250, 10, 0x3ff) | field(max_mw, 250, 0, 0x3ff);
}

uint32_t asking_pps(unsigned position, int32_t mv, int32_t ma)
{
    return (uint32_t)position << 28 | field(mv, 20, 9, 0xfff) | field(ma, 50, 0, 0x7f);
}

uint32_t asking_avs(unsigned position, int32_t mv, int32_t ma)
{
    return (uint32_t)position << 28 | field(mv, 25, 9, 0xfff) | field(ma, 50, 0, 0x7f);
}

unsigned asking_position(uint32_t word)
{
    return word >> 28;
}

int32_t asking_mv(uint32_t word, uint32_t pdo)
{
    switch (pdo_supply(pdo)) {
    case SUPPLY_FIXED: return pdo_max_mv(pdo);
    case SUPPLY_BATTERY: case SUPPLY_VARIABLE: return (pdo_min_mv(pdo) + pdo_max_mv(pdo)) / 2;
    case SUPPLY_PPS: return part(word, 9, 0xfff, 20);
    case SUPPLY_EPR_AVS: case SUPPLY_SPR_AVS: return part(word, 9, 0xfff, 25);
    case SUPPLY_RESERVED: break;
    }
    return 0;
}

int32_t asking_ma(uint32_t word, uint32_t pdo)
{
    switch (pdo_supply(pdo)) {
    case SUPPLY_FIXED: case SUPPLY_VARIABLE: return part(word, 10, 0x3ff, 10);
    case SUPPLY_BATTERY: return part(word, 10, 0x3ff, 250) * 1000 / pdo_max_mv(pdo);
    case SUPPLY_PPS: case SUPPLY_EPR_AVS: case SUPPLY_SPR_AVS: return part(word, 0, 0x7f, 50);
    case SUPPLY_RESERVED: break;
    }
    return 0;
}

int32_t asking_most_ma(uint32_t word, uint32_t pdo)
{
    enum supply kind = pdo_supply(pdo);

    return kind == SUPPLY_FIXED || kind == SUPPLY_VARIABLE ? part(word, 0, 0x3ff, 10)
         : kind == SUPPLY_BATTERY ? part(word, 0, 0x3ff, 250) * 1000 / pdo_max_mv(pdo) : asking_ma(word, pdo);
}
