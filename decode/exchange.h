/*
 * decode/exchange.h - which answer belongs to which message: the standard's message sequences as rows.
 */
#pragma once
#include "decode/message.h"

struct exchange_kind {
    uint8_t  ask;                       /* index of the message that asks */
    uint32_t control, data, extended;   /* messages that answer it, bit = type */
    const char *source;
};
/* The row of an asking message, or NULL if nothing needs to answer it. */
const struct exchange_kind *exchange_kind(unsigned index);
/* True if a message of index answer is an answer to it (Not_Supported included where it is one). */
bool exchange_answers(const struct exchange_kind *k, unsigned answer);
