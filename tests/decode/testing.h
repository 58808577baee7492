/* tests/decode/testing.h - cmocka with the headers that it wants before it, and random words that are the same every time. */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

enum { RANDOM_WORDS = 100000 };

/* SplitMix64 (Steele, Lea, Flood 2014): start it with any number. */
static inline uint32_t random_word(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);

    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint32_t)((z ^ z >> 31) >> 32);
}
