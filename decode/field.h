/*
 * decode/field.h - every bit of every object of USB PD, as rows.
 *
 * An object is a list of fields; together they cover all its bits once (a test holds that). Facts carry their source.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct message;

enum unit { UNIT_NONE, UNIT_MV, UNIT_MA, UNIT_MW, UNIT_MWH, UNIT_CELSIUS, UNIT_MS, UNIT_PERCENT, UNIT_MOHM, UNIT_HEX, UNIT_FLAG,
            UNIT_W, UNIT_LETTER /* one ASCII letter */ };
struct field_value_name { uint32_t value; const char *name; };
struct field {
    const char *name;  /* the standard's own term, as printed */
    const char *key;   /* in JSON; NULL for reserved bits */
    uint8_t     low, bits;
    uint8_t     unit;  /* enum unit */
    uint16_t    step;  /* one count is this many units; 1 for plain numbers */
    const struct field_value_name *names; /* ends with name NULL; NULL if numbers speak for themselves */
};
/* What an object's words are. */
enum object_kind {
    OBJECT_SOURCE_FIXED_FIRST, OBJECT_SOURCE_FIXED, OBJECT_SOURCE_BATTERY, OBJECT_SOURCE_VARIABLE, OBJECT_SOURCE_PPS,
    OBJECT_SOURCE_EPR_AVS, OBJECT_SOURCE_SPR_AVS,
    OBJECT_SINK_FIXED_FIRST, OBJECT_SINK_FIXED, OBJECT_SINK_BATTERY, OBJECT_SINK_VARIABLE, OBJECT_SINK_PPS,
    OBJECT_SINK_EPR_AVS, OBJECT_SINK_SPR_AVS, OBJECT_PDO_RESERVED,
    OBJECT_REQUEST_FIXED_VARIABLE, OBJECT_REQUEST_BATTERY, OBJECT_REQUEST_PPS, OBJECT_REQUEST_AVS, OBJECT_REQUEST_UNKNOWN,
    OBJECT_EPR_MODE, OBJECT_SOURCE_INFO, OBJECT_SOURCE_INFO_SECOND, OBJECT_REVISION, OBJECT_BATTERY_STATUS, OBJECT_ALERT,
    OBJECT_COUNTRY_CODE, OBJECT_BIST, OBJECT_ENTER_USB,
    OBJECT_VDM_HEADER, OBJECT_VDM_UNSTRUCTURED, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_UFP, OBJECT_DFP,
    OBJECT_PASSIVE_CABLE, OBJECT_ACTIVE_CABLE_1, OBJECT_ACTIVE_CABLE_2, OBJECT_CABLE_R2, OBJECT_VPD, OBJECT_AMA, OBJECT_PSD,
    OBJECT_SVIDS, OBJECT_MODE, OBJECT_RAW,
    OBJECT_ID_HEADER_CABLE, /* ID header on SOP' and SOP'': other product types than OBJECT_ID_HEADER */
    OBJECT_EPR_MODE_ENTER, OBJECT_EPR_MODE_FAILED, /* OBJECT_EPR_MODE where the action gives Data a meaning */
    OBJECT_KINDS
};
struct object_layout {
    const char         *title;
    const char         *key;     /* short word for JSON "object" */
    const struct field *fields;
    unsigned            count;
    const char         *source;
};
const struct object_layout *object_layout(unsigned kind);
/* Raw bits of a field, and the same times its step. */
uint32_t field_raw(const struct field *f, uint32_t word);
int64_t  field_scaled(const struct field *f, uint32_t word);
/* The other way: puts value, in the unit of the field with that key, into *word, down to a whole step. False: there is no such field, or it
 * does not go in; *word stays as it was. */
bool     field_put(const struct object_layout *l, const char *key, int64_t value, uint32_t *word);
const char *field_name_of(const struct field *f, uint32_t raw); /* named value, or NULL */
const char *value_name_of(const struct field_value_name *names, uint64_t raw); /* the same for any list; names may be NULL */

/* Layout of a PDO word: by its type bits; first: object 1 of the message. */
enum object_kind object_kind_of_pdo(uint32_t word, bool sink, bool first);
/* Layout of word k of a data message that is no capability, request or VDM. OBJECT_RAW if it has none. */
enum object_kind object_kind_of_data(unsigned data_type, unsigned k);
/* The finer kind of an EPR_Mode word, by its action. */
enum object_kind object_kind_of_epr_mode(uint32_t word);
/* Layout of word k of a Vendor_Defined message, from its header (word 0), the words before, and the header revision of the message. */
enum object_kind object_kind_of_vdm(const uint32_t *words, unsigned count, unsigned k, unsigned set, unsigned header_revision);

/* Data blocks of extended messages: byte fields. */
struct block_field {
    const char *name, *key;
    uint8_t     byte, size;      /* little endian; size 0: the rest, as text or bytes */
    uint8_t     low, bits;       /* inside the number of size bytes */
    uint8_t     unit;
    uint16_t    step;
    const struct field_value_name *names;
    bool        text;            /* print the rest as text */
};
struct block_layout {
    const char               *title;
    const struct block_field *fields;
    unsigned                  count;
    const char               *source;
};
/* Layout of an extended message's data block (on SOP' and SOP'' Status differs), NULL if it has none (security, firmware, EPR capabilities). */
const struct block_layout *block_layout(unsigned extended_type, bool on_cable);
/* Raw value (size 0: how many bytes the rest has); false if the block is too short for it. Bits are at most 32. */
bool block_value(const struct block_field *f, const uint8_t *data, size_t size, uint64_t *value);
