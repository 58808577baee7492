/* tests/decode/bmc_heard.h - what the BMC decoder makes of a wave, and the packets that the tests send most. */
#pragma once
#include "tests/decode/bmc_line.h"
#include "tests/decode/testing.h"

#include "decode/bmc.h"

enum { HEARD_MOST = 64 };

struct heard {
    struct bmc_frame frames[HEARD_MOST];
    uint8_t          bytes[HEARD_MOST][BMC_BYTES_MAX];
    size_t           count;
};

static const double us = 1e6, ns = 1e3; /* picoseconds */
static const double cell_ps = 1e12 / 300e3;

/* An analyser of 24 MS/s that sees everything right. */
static const struct wave_instrument plain = { .tick_ps = 1e12 / 24e6, .seed = 1 };

/* For bmc_new; context: struct heard. */
void heard_take(void *context, const struct bmc_frame *f);
void listen_to(struct heard *h, const struct wave *w, const struct wave_instrument *i);
/* After 100 us of silence; the wave is freed. */
void listen_plainly(struct heard *h, struct wave *w);

/* The message of the worked example, and a longer one. */
static const uint8_t goodcrc[6] = { 0x01, 0x01, 0x28, 0x13, 0xC5, 0x2F };
size_t request(uint8_t *bytes);
void one_packet(struct wave *w, enum wave_set set);

void assert_is(const struct heard *h, size_t k, enum wave_set set, const uint8_t *bytes, size_t length);
void assert_near(double value, double expected, double by);
