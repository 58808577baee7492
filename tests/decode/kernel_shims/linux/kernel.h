/* What the kernel's USB PD headers want of its general helpers, for a program. */
#pragma once
#include <linux/types.h>

#define BIT(bit) (UINT32_C(1) << (bit))
#define GENMASK(high, low) ((UINT32_MAX >> (31 - (high))) & (UINT32_MAX << (low)))
#define IS_ENABLED(option) 0
#define __packed __attribute__((packed))

/* Little-endian to the machine's order and back: each is its own reverse. */
static inline u16 le16_to_cpu(__le16 word)
{
    const u8 *bytes = (const u8 *)&word;

    return (u16)(bytes[0] | bytes[1] << 8);
}
#define cpu_to_le16(word) le16_to_cpu(word)
