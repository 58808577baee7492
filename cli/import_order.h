/*
 * cli/import_order.h - records of several inputs wait here for each other, and come out in order of their start times; equal times in
 * the order of the inputs, and of each as it gave them.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct import_order;
struct import_held {
    int64_t  t_ns, stamp_ns; /* start, and as it is to be stored */
    uint64_t sequence;
    uint8_t *bytes;
    uint32_t length;
    unsigned input;
};

struct import_order *import_order_new(void); /* NULL: no memory */
void import_order_free(struct import_order *o);
/* The bytes are copied. False: no memory. */
bool import_order_put(struct import_order *o, int64_t t_ns, int64_t stamp_ns, unsigned input, const uint8_t *bytes, size_t length);
/* The earliest that starts at until_ns or before; it lasts until the next call. NULL: there is none. */
const struct import_held *import_order_take(struct import_order *o, int64_t until_ns);
