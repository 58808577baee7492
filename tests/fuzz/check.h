/*
 * tests/fuzz/check.h - properties that must hold whatever the bytes: a target stops at the first that does not.
 */
#pragma once
#include "capture/record.h"

#include <stdio.h>
#include <stdlib.h>

#define NEVER(what)                                                                    \
    do {                                                                               \
        fprintf(stderr, "%s:%d: came about: %s\n", __FILE__, __LINE__, what);          \
        abort();                                                                       \
    } while (0)

#define MUST(what)                                                                     \
    do {                                                                               \
        if (!(what)) {                                                                 \
            fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #what);  \
            abort();                                                                   \
        }                                                                              \
    } while (0)

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

/* What a record says of itself fits its bytes; every pointer of a sound one goes into them. */
void check_record(const struct record *r);
/* What text_write writes of a sound record, text_reader reads back as the same bytes with the same time. */
void check_text_round_trip(const struct record *r);
