/* The kernel's field helpers, for a program: a mask of adjoining bits, its lowest bit, a field in and out. */
#pragma once
#include <linux/kernel.h>

#define FIELD_LOWEST(mask) ((mask) & (~(mask) + 1))
#define FIELD_GET(mask, word) (((word) & (mask)) / FIELD_LOWEST(mask))
#define FIELD_PREP(mask, value) (((value) * FIELD_LOWEST(mask)) & (mask))
