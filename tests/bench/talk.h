/*
 * tests/bench/talk.h - one port and its partner talking without a fault, written down as records of a trace.
 *
 *   _ns  int64_t  nanoseconds since 1970
 *
 * A talk keeps its own clock, the MessageIDs and the roles of both sides and of the cable's plug. Every call adds records to its
 * queue in order of time; whoever merges several talks takes them from the front. All records are flagged INVENTED.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { TALK_RECORDS = 512, TALK_BYTES = 1 << 17 };
enum talker { FROM_SOURCE, FROM_SINK, FROM_PLUG };

struct talk {
    int64_t  now_ns;
    uint8_t  port;
    bool     source_is_ufp;    /* after a DR_Swap */
    uint8_t  next_id[2][3];    /* by SOP and SOP', by talker */
    uint32_t chance;           /* state of talk_chance */
    unsigned head, count;
    size_t   used;
    struct { int64_t t_ns; size_t at, length; } queue[TALK_RECORDS];
    uint8_t  bytes[TALK_BYTES];
};

/* Empties the queue; the clock and everything else go on. */
void talk_clear(struct talk *t);
void talk_wait_us(struct talk *t, int64_t us);
/* The same number at every run: 0 .. below - 1. */
unsigned talk_chance(struct talk *t, unsigned below);

/* A message and its GoodCRC. */
void talk_control(struct talk *t, enum talker from, unsigned type);
void talk_data(struct talk *t, enum talker from, unsigned type, unsigned count, const uint32_t *words);
/* The same on SOP': from the source to the plug, or back. */
void talk_cable(struct talk *t, enum talker from, unsigned type, unsigned count, const uint32_t *words);
/* An extended message in as many chunks as it takes, with the partner's requests between. */
void talk_extended(struct talk *t, enum talker from, unsigned type, const uint8_t *block, unsigned size);
/* The same in one packet, for two that agreed on unchunked messages. */
void talk_unchunked(struct talk *t, enum talker from, unsigned type, const uint8_t *block, unsigned size);
void talk_retried(struct talk *t, enum talker from, unsigned type); /* a control message whose first copy was not heard */

void talk_attach(struct talk *t);  /* CC_STATE: nothing, 20 ms later a partner on CC1 with Rp 3.0 A; then 170 ms of quiet */
void talk_detach(struct talk *t);
void talk_hard_reset(struct talk *t);
void talk_ids_reset(struct talk *t);
/* A POWER record of 100 rows, 100 us apart, VBUS and IBUS around these. */
void talk_power(struct talk *t, int32_t mv, int32_t ma);
