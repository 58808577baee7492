/*
 * cli/object_text.h - data objects and data blocks for people: in a few words on the line, or every field on a line of its own.
 */
#pragma once
#include "cli/out.h"
#include "decode/field.h"

/*
 * What is set, named or not zero, with commas between; nothing if nothing is. What runs over the line goes on at indent
 * (0: it does not).
 */
void word_brief(struct out *o, size_t indent, enum object_kind kind, uint32_t word);
void block_brief(struct out *o, size_t indent, const struct block_layout *layout, const uint8_t *data, size_t size);

/* The object's title and word, then a line for each field: name, value, unit. Reserved bits only where they are not zero. */
void word_detail(struct out *o, size_t indent, unsigned number, enum object_kind kind, uint32_t word);
void block_detail(struct out *o, size_t indent, const struct block_layout *layout, const uint8_t *data, size_t size);
