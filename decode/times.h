/*
 * decode/times.h - limits of the standard that the port model and the rules both go by: here once, with their source.
 */
#pragma once
#include <stdint.h>

/* tReceive, longest wait for a GoodCRC: a published PD timer table that names USB PD R3.2 (secondary). */
#define PD_RECEIVE_LEAST_NS INT64_C(900000)
#define PD_RECEIVE_MOST_NS INT64_C(1100000)
/* fBitRate, bit/s: from memory; lengths that nobody measured are given at the nominal rate. */
#define PD_BIT_RATE_NOMINAL INT64_C(300000)
#define PD_BIT_RATE_LEAST INT64_C(270000)
#define PD_BIT_RATE_MOST INT64_C(330000)
/* Standard uncertainty of a time stamped by the host, where ABOUT gives none: common practice, no source. */
#define HOST_STAMP_NS INT64_C(1000000)
