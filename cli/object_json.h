/*
 * cli/object_json.h - data objects and data blocks as JSON objects: the keys of power and request objects, and every other
 * word by its rows in decode/field.h.
 */
#pragma once
#include "cli/json_out.h"
#include "decode/field.h"
#include "decode/objects.h"

/* {"word":"0x0801912c","position":1,"supply":"fixed","mv":5000,"ma":3000, flags}; sink: the flags of a sink's. */
void pdo_json(struct json *j, const char *key, const struct pdo *p, bool sink);
/* {"word":…,"position":2,"op_ma":3000,"max_ma":3000,"mismatch":false,…} */
void rdo_json(struct json *j, const char *key, const struct rdo *r);
/* {"word":…,"object":…, every named field} */
void word_json(struct json *j, const char *key, enum object_kind kind, uint32_t word);
/* {every named field that the block is long enough for} */
void block_json(struct json *j, const char *key, const struct block_layout *layout, const uint8_t *data, size_t size);
