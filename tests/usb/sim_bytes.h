/*
 * tests/usb/sim_bytes.h - bodies of the records that the simulated sniffers send. Each returns its length.
 */
#pragma once
#include <stddef.h>
#include <stdint.h>

enum { TALK_ROWS = 500 };

size_t put(uint8_t *at, uint64_t value, unsigned bytes);
size_t edges_put(uint8_t *at);             /* CC_EDGES */
size_t mark_put(uint8_t *at, long number); /* MARK: load set to that number */
size_t talk_packet(uint8_t *at);           /* PD_PACKET: a GoodCRC */
size_t talk_power(uint8_t *at, long seed); /* POWER: TALK_ROWS of volts and amperes */
