/*
 * tests/rules/caps_words.h - words of offers, and what the tests of caps.* say on a bench again and again.
 */
#pragma once
#include "tests/rules/bench_lines.h"

#define FIXED(mv, ma) ((uint32_t)(mv) / 50 << 10 | (uint32_t)(ma) / 10)
#define BATTERY(min_mv, max_mv, mw) (UINT32_C(1) << 30 | (max_mv) / 50u << 20 | (min_mv) / 50u << 10 | (mw) / 250u)
#define VARIABLE(min_mv, max_mv, ma) (UINT32_C(2) << 30 | (max_mv) / 50u << 20 | (min_mv) / 50u << 10 | (ma) / 10u)
#define PPS(min_mv, max_mv, ma) (UINT32_C(12) << 28 | (max_mv) / 100u << 17 | (min_mv) / 100u << 8 | (ma) / 50u)
#define LIMITED (UINT32_C(1) << 27)
#define SPR_AVS(ma_15v, ma_20v) (UINT32_C(14) << 28 | (ma_15v) / 10u << 10 | (ma_20v) / 10u)
#define EPR_AVS(min_mv, max_mv, w) (UINT32_C(13) << 28 | (max_mv) / 100u << 17 | (min_mv) / 100u << 8 | (uint32_t)(w))
#define EPR_FLAG (UINT32_C(1) << 23)
#define PEAK_1 (UINT32_C(1) << 20)
#define INFO(max_w, present_w, reported_w) ((uint32_t)(max_w) << 16 | (uint32_t)(present_w) << 8 | (uint32_t)(reported_w))

#define F5 FIXED(5000, 3000)
#define F9 FIXED(9000, 3000)
#define F15 FIXED(15000, 3000)
#define F20_65W FIXED(20000, 3250)
#define SET_65W F5, F9, F15, F20_65W

#define RATED(w) "{\"ports\":[{\"port\":0,\"rated_w\":" #w "}]}"
#define CAPTIVE "{\"ports\":[{\"port\":0,\"plug\":\"captive\"}]}"

/* Revision Message Data Objects: Chromium EC test usb_pd_rev3.c. */
#define SAYS_3_1 UINT32_C(0x31000000)
#define SAYS_3_2 UINT32_C(0x32100000)

enum { CABLE_NONE, CABLE_3A, CABLE_5A };

/* An attach with one offer, a contract for object 1, and what else the row asks for. */
struct row {
    const char *name;
    uint32_t    words[7];
    uint8_t     count;           /* 0: up to the last word that is not 0 */
    const char *about;
    uint8_t     cable;           /* VBUS current of the identity, seen before the offer */
    bool        occupied;        /* another port of the device has a sink */
    bool        no_request;
    uint8_t     source_revision; /* 0: R3 */
    uint8_t     sink_revision;
    uint8_t     spr_w, epr_w;    /* Source_Capabilities_Extended after the contract */
    uint8_t     peak_byte;       /* its byte 14 */
    uint32_t    info;            /* Source_Info after the contract */
    uint32_t    rmdo;            /* Revision after the contract */
    uint8_t     standard;        /* as --standard says it; 0: as seen */
    const char *rule;
    uint8_t     passed, failed, undecided;
    const char *only;            /* all of caps.* that fails or is undecided; NULL: nothing */
};

/* Plays it and runs it; frame of the offer. */
uint64_t row_play(struct lines *l, const struct row *r);

/* Source_Capabilities_Extended (ratings, and its first peak current byte), Source_Info and Revision, each asked for by the sink. */
uint64_t say_extended_caps(struct lines *l, uint8_t spr_w, uint8_t epr_w, uint8_t peak_byte);
uint64_t say_info(struct lines *l, uint32_t word);
void say_revision(struct lines *l, uint32_t word);
/* Another port of the device gets a sink, which stays as long as the trace. */
void occupy_other(struct lines *l);
/* Request for 1 A of object 1, Accept, PS_RDY. */
void contract_for_5v(struct lines *l);
/* Source_Capabilities, and a contract for object 1; frame of the offer. */
uint64_t offer_and_contract(struct lines *l, unsigned count, const uint32_t *words);

#define OFFER(l, ...)                                                                                                              \
    offer_and_contract(l, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })
