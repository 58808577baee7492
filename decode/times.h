/*
 * decode/times.h - limits of the standard that the port model and the rules both go by: here once, with their source.
 */
#pragma once
#include <stdint.h>

/* tReceive, longest wait for a GoodCRC: a published PD timer table that names USB PD R3.2 (secondary). */
#define PD_RECEIVE_LEAST_NS INT64_C(900000)
#define PD_RECEIVE_MOST_NS INT64_C(1100000)
