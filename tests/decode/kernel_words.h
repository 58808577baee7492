/*
 * tests/decode/kernel_words.h - the kernel's own reading and making of USB PD words, as tables.
 *
 * Made of include/linux/usb/pd.h, pd_vdo.h, pd_ado.h, pd_bdo.h and pd_ext_sdb.h as Debian's linux-headers packages have them; they are
 * included where they lie, nothing of them is kept here.
 */
#pragma once
#include "decode/field.h"

/* A field that the kernel can take out of a word: in the unit of our row. */
struct kernel_field {
    enum object_kind kind;
    const char      *key;
    /* The kernel's field is narrower than ours (it knows an older edition): ours is compared modulo this. 0: the same width. */
    uint32_t         modulo;
    uint32_t       (*get)(uint32_t word);
};
extern const struct kernel_field kernel_fields[];
extern const unsigned            kernel_fields_count;

/* A word that the kernel makes of values: v[i] belongs to keys[i], in the unit of our row, and is below 2^bits[i] steps (0: our width). */
enum { KERNEL_KEYS_MAX = 16 };
struct kernel_word {
    enum object_kind kind;
    const char      *keys[KERNEL_KEYS_MAX];
    uint8_t          bits[KERNEL_KEYS_MAX];
    uint32_t       (*make)(const uint32_t *v);
};
extern const struct kernel_word kernel_words[];
extern const unsigned           kernel_words_count;

/* Message types by the standard's name. */
struct kernel_type { const char *name; uint8_t message_class, number; };
extern const struct kernel_type kernel_types[];
extern const unsigned           kernel_types_count;

/* The two headers of a packet. */
struct kernel_header { uint32_t objects, type, id, revision, source, dfp, extended; };
struct kernel_header kernel_header(uint16_t header);
uint16_t             kernel_header_make(const struct kernel_header *h);
struct kernel_extended { uint32_t chunked, chunk, request, size; };
struct kernel_extended kernel_extended(uint16_t header);
uint16_t               kernel_extended_make(const struct kernel_extended *h);

/* Status data block: key of a row, its byte, and its bit (255: the whole byte). */
struct kernel_status { const char *key; uint8_t byte, bit; };
extern const struct kernel_status kernel_status[];
extern const unsigned             kernel_status_count;
