/*
 * tests/fuzz/check_message.h - properties of one packet, and of its words read as every kind of object.
 */
#pragma once
#include <stddef.h>
#include <stdint.h>

/* bytes as they stand in a PD_PACKET record with this state. */
void check_message(const uint8_t *bytes, size_t length, uint8_t set, uint8_t state);
