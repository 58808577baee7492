#include "tests/rules/caps_words.h"

enum { SCEDB_BYTES = 25 };

void say_extended_caps(struct lines *l, uint8_t spr_w, uint8_t epr_w, uint8_t peak_byte)
{
    uint8_t block[SCEDB_BYTES] = { [14] = peak_byte, [23] = spr_w, [24] = epr_w };

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
    lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, block, sizeof block);
}

uint64_t say_info(struct lines *l, uint32_t word)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_INFO);
    return lines_data(l, SIDE_SOURCE, DATA_SOURCE_INFO, 1, &word);
}

void say_revision(struct lines *l, uint32_t word)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    lines_data(l, SIDE_SOURCE, DATA_REVISION, 1, &word);
}

void occupy_other(struct lines *l)
{
    l->port = 1;
    lines_cc(l, 0, 0);
    lines_wait(l, MS(1));
    lines_cc(l, 1, 3);
    lines_wait(l, MS(1));
    l->port = 0;
}

void contract_for_5v(struct lines *l)
{
    lines_request(l, FIXED(0, 0) | UINT32_C(1) << 28 | 100u << 10 | 100u);
    lines_accept_and_ready(l);
}

uint64_t offer_and_contract(struct lines *l, unsigned count, const uint32_t *words)
{
    uint64_t frame = lines_caps(l, count, words);

    contract_for_5v(l);
    return frame;
}
