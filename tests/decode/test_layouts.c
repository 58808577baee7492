/* The tables of fields, tested as data. */
#include "decode/field.h"
#include "decode/message.h"
#include "tests/decode/testing.h"

#include <string.h>

static void every_bit_of_every_object_belongs_to_exactly_one_field(void **state)
{
    (void)state;
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *layout = object_layout(kind);
        uint32_t                    seen = 0;

        assert_non_null(layout);
        for (unsigned i = 0; i < layout->count; i++) {
            const struct field *f = &layout->fields[i];
            uint32_t            mask = (uint32_t)(((UINT64_C(1) << f->bits) - 1) << f->low);

            assert_true(f->bits > 0 && f->low + f->bits <= 32);
            if (seen & mask)
                fail_msg("%s: %s overlaps", layout->title, f->name);
            seen |= mask;
        }
        if (seen != UINT32_MAX)
            fail_msg("%s: bits %08x are in no field", layout->title, ~seen);
    }
}

static void every_layout_has_a_title_a_key_and_a_source(void **state)
{
    (void)state;
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *layout = object_layout(kind);

        assert_true(layout->title && layout->title[0]);
        assert_true(layout->key && layout->key[0]);
        assert_true(layout->source && layout->source[0]);
    }
}

static bool key_is_snake_case(const char *key)
{
    return key[0] && strspn(key, "abcdefghijklmnopqrstuvwxyz0123456789_") == strlen(key);
}

static void keys_are_snake_case_and_unique_within_an_object(void **state)
{
    (void)state;
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *layout = object_layout(kind);

        for (unsigned i = 0; i < layout->count; i++) {
            const char *key = layout->fields[i].key;

            if (!key)
                continue;
            if (!key_is_snake_case(key))
                fail_msg("%s: key %s", layout->title, key);
            for (unsigned j = 0; j < i; j++)
                if (layout->fields[j].key && strcmp(layout->fields[j].key, key) == 0)
                    fail_msg("%s: key %s twice", layout->title, key);
        }
    }
}

static void only_reserved_bits_have_no_key(void **state)
{
    (void)state;
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *layout = object_layout(kind);

        for (unsigned i = 0; i < layout->count; i++) {
            const struct field *f = &layout->fields[i];

            assert_int_equal(f->key == NULL, strcmp(f->name, "Reserved") == 0);
            assert_true(f->step >= 1);
        }
    }
}

static void check_names(const char *where, const struct field_value_name *names, unsigned bits)
{
    for (const struct field_value_name *v = names; v && v->name; v++) {
        if (v->value > (UINT64_C(1) << bits) - 1)
            fail_msg("%s: value %u does not fit its %u bits", where, v->value, bits);
        for (const struct field_value_name *w = names; w != v; w++)
            if (w->value == v->value || strcmp(w->name, v->name) == 0)
                fail_msg("%s: %s (%u) stands twice", where, v->name, v->value);
    }
}

static void named_values_fit_their_field_and_stand_once(void **state)
{
    (void)state;
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *layout = object_layout(kind);

        for (unsigned i = 0; i < layout->count; i++)
            check_names(layout->title, layout->fields[i].names, layout->fields[i].bits);
    }
    for (unsigned type = 0; type < 32; type++) {
        const struct block_layout *block = block_layout(type, false);

        for (unsigned i = 0; block && i < block->count; i++)
            check_names(block->title, block->fields[i].names, block->fields[i].bits);
    }
}

/* Marks the bits of a row in seen, one byte of flags a byte of the block; false if one was marked before. */
static bool block_bits_mark(const struct block_field *f, uint8_t *seen)
{
    bool once = true;

    for (unsigned bit = f->low; bit < (unsigned)f->low + f->bits; bit++) {
        uint8_t flag = (uint8_t)(1u << bit % 8);

        once = once && !(seen[f->byte + bit / 8] & flag);
        seen[f->byte + bit / 8] |= flag;
    }
    return once;
}

static void check_block(const struct block_layout *block, unsigned size)
{
    uint8_t seen[64] = { 0 };

    for (unsigned i = 0; i < block->count; i++) {
        const struct block_field *f = &block->fields[i];

        if (f->size == 0) {
            assert_int_equal(f->byte, size); /* the rest begins where the rows end */
            continue;
        }
        assert_true(f->byte + f->size <= (int)size && f->low + f->bits <= 8 * f->size && f->bits <= 32);
        if (!block_bits_mark(f, seen))
            fail_msg("%s: %s overlaps", block->title, f->name);
    }
    for (unsigned i = 0; i < size; i++)
        if (seen[i] != 0xFF)
            fail_msg("%s: byte %u is not covered", block->title, i);
}

/* Sizes in bytes: USB PD extended messages of R3.2; the fixed part where text or data follows. */
static void every_bit_of_every_data_block_belongs_to_exactly_one_field(void **state)
{
    static const struct { uint8_t type, size; } blocks[] = {
        { EXTENDED_SOURCE_CAPABILITIES, 25 }, { EXTENDED_STATUS, 7 },           { EXTENDED_GET_BATTERY_CAP, 1 },
        { EXTENDED_GET_BATTERY_STATUS, 1 },   { EXTENDED_BATTERY_CAPABILITIES, 9 }, { EXTENDED_GET_MANUFACTURER_INFO, 2 },
        { EXTENDED_MANUFACTURER_INFO, 4 },    { EXTENDED_PPS_STATUS, 4 },       { EXTENDED_COUNTRY_INFO, 4 },
        { EXTENDED_COUNTRY_CODES, 2 },        { EXTENDED_SINK_CAPABILITIES, 24 }, { EXTENDED_CONTROL, 2 },
        { EXTENDED_VENDOR_DEFINED, 4 },
    };

    (void)state;
    for (unsigned i = 0; i < LENGTH(blocks); i++)
        check_block(block_layout(blocks[i].type, false), blocks[i].size);
    check_block(block_layout(EXTENDED_STATUS, true), 2);
}

static void every_extended_message_with_fields_has_a_block_with_a_source(void **state)
{
    (void)state;
    for (unsigned type = 0; type < 40; type++) {
        const struct block_layout *block = block_layout(type, false);
        bool opaque = type == EXTENDED_SECURITY_REQUEST || type == EXTENDED_SECURITY_RESPONSE ||
                      type == EXTENDED_FIRMWARE_UPDATE_REQUEST || type == EXTENDED_FIRMWARE_UPDATE_RESPONSE ||
                      type == EXTENDED_EPR_SOURCE_CAPABILITIES || type == EXTENDED_EPR_SINK_CAPABILITIES;
        bool defined = type < 32 && message_kind(MESSAGE_INDEX(CLASS_EXTENDED, type))->name;

        assert_int_equal(block != NULL, defined && !opaque);
        if (block)
            assert_true(block->title[0] && block->source && block->source[0]);
    }
}

static void block_keys_are_snake_case_and_unique(void **state)
{
    (void)state;
    for (unsigned type = 0; type < 32; type++) {
        const struct block_layout *block = block_layout(type, false);

        for (unsigned i = 0; block && i < block->count; i++) {
            const char *key = block->fields[i].key;

            assert_int_equal(key == NULL, strcmp(block->fields[i].name, "Reserved") == 0);
            if (key && !key_is_snake_case(key))
                fail_msg("%s: key %s", block->title, key);
            for (unsigned j = 0; key && j < i; j++)
                if (block->fields[j].key && strcmp(block->fields[j].key, key) == 0)
                    fail_msg("%s: key %s twice", block->title, key);
        }
    }
}

static void every_message_row_has_a_source_and_one_for_its_senders(void **state)
{
    (void)state;
    for (unsigned index = 0; index <= MESSAGE_INDEXES; index++) {
        const struct message_kind *kind = message_kind(index);

        assert_non_null(kind);
        assert_true(kind->source && kind->source[0]);
        assert_true(kind->senders_source && kind->senders_source[0]);
    }
}

/* What a field says, put into an empty word field by field, is the word again, but for reserved bits. */
static void an_object_put_together_reads_as_it_was(void **state)
{
    (void)state;
    uint64_t s = 88172645463325252; /* xorshift64 */

    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++) {
        const struct object_layout *l = object_layout(kind);

        for (unsigned round = 0; l && round < 50; round++) {
            s ^= s << 13, s ^= s >> 7, s ^= s << 17;
            uint32_t word = (uint32_t)s, built = 0, kept = 0;

            for (unsigned k = 0; k < l->count; k++) {
                const struct field *f = &l->fields[k];
                uint32_t            mask = (uint32_t)(((UINT64_C(1) << f->bits) - 1) << f->low);

                if (!f->key)
                    continue;
                assert_true(field_put(l, f->key, field_scaled(f, word), &built));
                kept |= mask;
                assert_false(field_put(l, f->key, ((INT64_C(1) << f->bits)) * f->step, &built)); /* one too many */
                assert_false(field_put(l, f->key, -1, &built));
            }
            assert_true(built == (word & kept));
        }
    }
}

/* 9 V 3 A and 3.3 to 11 V 5 A (words: Zephyr's sample usb-c-drp; a vendor's firmware table): typed as people say it. */
static void objects_are_put_together_from_their_numbers(void **state)
{
    (void)state;
    const struct object_layout *fixed = object_layout(OBJECT_SOURCE_FIXED), *pps = object_layout(OBJECT_SOURCE_PPS);
    uint32_t                    word = 0;

    assert_true(field_put(fixed, "mv", 9000, &word) && field_put(fixed, "ma", 3000, &word));
    assert_true(word == 0x0002D12C);
    word = 0;
    assert_true(field_put(pps, "supply", 12, &word) && field_put(pps, "limited", 1, &word) && field_put(pps, "min_mv", 3300, &word) &&
                field_put(pps, "max_mv", 11000, &word) && field_put(pps, "ma", 3000, &word));
    assert_true(word == 0xC8DC213C);
    assert_false(field_put(fixed, "min_mv", 5000, &word)); /* no such field */
    assert_false(field_put(fixed, "mv", 60000, &word));    /* ten bits of 50 mV end at 51.15 V */
    assert_true(word == 0xC8DC213C);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_bit_of_every_object_belongs_to_exactly_one_field),
        cmocka_unit_test(every_layout_has_a_title_a_key_and_a_source),
        cmocka_unit_test(keys_are_snake_case_and_unique_within_an_object),
        cmocka_unit_test(only_reserved_bits_have_no_key),
        cmocka_unit_test(named_values_fit_their_field_and_stand_once),
        cmocka_unit_test(every_bit_of_every_data_block_belongs_to_exactly_one_field),
        cmocka_unit_test(every_extended_message_with_fields_has_a_block_with_a_source),
        cmocka_unit_test(block_keys_are_snake_case_and_unique),
        cmocka_unit_test(every_message_row_has_a_source_and_one_for_its_senders),
        cmocka_unit_test(an_object_put_together_reads_as_it_was),
        cmocka_unit_test(objects_are_put_together_from_their_numbers),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
