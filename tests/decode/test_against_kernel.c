/*
 * Our rows against the Linux kernel's own headers (include/linux/usb/pd.h, pd_vdo.h and their neighbours), word by word.
 *
 * Both ways: what the kernel takes out of a random word is what our row takes out of it; and a word that the kernel makes of random
 * values has those values in our rows, and zero in every bit that we call reserved. Which headers: the build says (KERNEL_HEADERS).
 */
#include "tests/decode/testing.h"

#ifdef NO_KERNEL_HEADERS
#include <stdio.h>

enum { TEST_SKIPPED = 77 };

int main(void)
{
    puts("skipped: " NO_KERNEL_HEADERS);
    return TEST_SKIPPED;
}
#else
#include "capture/record.h"
#include "decode/message.h"
#include "decode/objects.h"
#include "tests/decode/kernel_words.h"

#include <stdio.h>
#include <string.h>

static const struct field *field_with_key(unsigned kind, const char *key)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (layout->fields[i].key && strcmp(layout->fields[i].key, key) == 0)
            return &layout->fields[i];
    fail_msg("%s has no %s", layout->title, key);
    return NULL;
}

static void every_field_the_kernel_takes_out_of_a_word_is_our_row(void **state)
{
    (void)state;
    for (unsigned i = 0; i < kernel_fields_count; i++) {
        const struct kernel_field *theirs = &kernel_fields[i];
        const struct field        *ours = field_with_key(theirs->kind, theirs->key);
        uint64_t                   seed = 100 + i;

        for (unsigned n = 0; n < RANDOM_WORDS; n++) {
            uint32_t word = random_word(&seed);
            int64_t  value = field_scaled(ours, word);

            if (theirs->modulo)
                value %= theirs->modulo;
            if (value != theirs->get(word))
                fail_msg("%s, %s of %08x: %lld here, %u there", object_layout(theirs->kind)->title, theirs->key, word,
                         (long long)value, theirs->get(word));
        }
    }
}

static unsigned keys_count(const struct kernel_word *w)
{
    unsigned count = 0;

    while (count < KERNEL_KEYS_MAX && w->keys[count])
        count++;
    return count;
}

/* Random values for the kernel to make a word of, each a whole number of our steps. */
static void values_choose(const struct kernel_word *w, const struct field **fields, uint64_t *seed, uint32_t *v)
{
    for (unsigned k = 0; k < keys_count(w); k++) {
        unsigned bits = w->bits[k] ? w->bits[k] : fields[k]->bits;

        v[k] = random_word(seed) & (uint32_t)((UINT64_C(1) << bits) - 1);
        v[k] *= fields[k]->step;
    }
}

static void check_reserved_bits_zero(unsigned kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (!layout->fields[i].key && field_raw(&layout->fields[i], word) != 0)
            fail_msg("%s: the kernel uses bits from %u on, which are reserved here: %08x", layout->title,
                     layout->fields[i].low, word);
}

static void every_word_the_kernel_makes_has_its_values_in_our_rows(void **state)
{
    (void)state;
    for (unsigned i = 0; i < kernel_words_count; i++) {
        const struct kernel_word *w = &kernel_words[i];
        const struct field       *fields[KERNEL_KEYS_MAX] = { NULL };
        uint32_t                  v[KERNEL_KEYS_MAX] = { 0 };
        uint64_t                  seed = 300 + i;

        for (unsigned k = 0; k < keys_count(w); k++)
            fields[k] = field_with_key(w->kind, w->keys[k]);
        for (unsigned n = 0; n < RANDOM_WORDS; n++) {
            values_choose(w, fields, &seed, v);
            uint32_t word = w->make(v);

            for (unsigned k = 0; k < keys_count(w); k++)
                if (field_scaled(fields[k], word) != v[k])
                    fail_msg("%s, %s: the kernel put %u into %08x", object_layout(w->kind)->title, w->keys[k], v[k], word);
            check_reserved_bits_zero(w->kind, word);
        }
    }
}

static uint32_t kernel_value(unsigned kind, const char *key, uint32_t word)
{
    for (unsigned i = 0; i < kernel_fields_count; i++)
        if (kernel_fields[i].kind == kind && strcmp(kernel_fields[i].key, key) == 0)
            return kernel_fields[i].get(word);
    fail_msg("the kernel has no %s of %s", key, object_layout(kind)->title);
    return 0;
}

static void check_first_fixed(uint32_t word)
{
    struct pdo source = pdo_read_source(word, 1), sink = pdo_read_sink(word, 1);
    enum { SOURCE = OBJECT_SOURCE_FIXED_FIRST, SINK = OBJECT_SINK_FIXED_FIRST };

    assert_int_equal(source.supply, SUPPLY_FIXED);
    assert_int_equal(source.min_mv, kernel_value(SOURCE, "mv", word));
    assert_int_equal(source.max_mv, kernel_value(SOURCE, "mv", word));
    assert_int_equal(source.max_ma, kernel_value(SOURCE, "ma", word));
    assert_int_equal(source.dual_role_power, kernel_value(SOURCE, "dual_role_power", word));
    assert_int_equal(source.usb_suspend, kernel_value(SOURCE, "usb_suspend", word));
    assert_int_equal(source.unconstrained, kernel_value(SOURCE, "unconstrained", word));
    assert_int_equal(source.usb_comm, kernel_value(SOURCE, "usb_comm", word));
    assert_int_equal(source.dual_role_data, kernel_value(SOURCE, "dual_role_data", word));
    assert_int_equal(source.unchunked, kernel_value(SOURCE, "unchunked", word));
    assert_int_equal(sink.max_ma, kernel_value(SINK, "ma", word));
    assert_int_equal(sink.higher_capability, kernel_value(SINK, "higher_capability", word));
    assert_int_equal(sink.fr_swap, kernel_value(SINK, "fr_swap", word));
    assert_int_equal(sink.dual_role_data, kernel_value(SINK, "dual_role_data", word));
}

/* A range, as a source or a sink gives it. */
static void check_range(const struct pdo *p, unsigned kind, uint32_t word)
{
    assert_int_equal(p->min_mv, kernel_value(kind, "min_mv", word));
    assert_int_equal(p->max_mv, kernel_value(kind, "max_mv", word));
    if (p->supply == SUPPLY_BATTERY)
        assert_int_equal(p->max_mw, kernel_value(kind, "mw", word));
    else
        assert_int_equal(p->max_ma, kernel_value(kind, "ma", word));
}

static void power_objects_have_the_kernels_volts_and_amperes(void **state)
{
    static const struct { uint32_t type; unsigned source, sink; } ranges[] = {
        { 0x40000000, OBJECT_SOURCE_BATTERY, OBJECT_SINK_BATTERY },
        { 0x80000000, OBJECT_SOURCE_VARIABLE, OBJECT_SINK_VARIABLE },
        { 0xC0000000, OBJECT_SOURCE_PPS, OBJECT_SINK_PPS },
    };
    uint64_t seed = 500;

    (void)state;
    for (unsigned n = 0; n < RANDOM_WORDS; n++) {
        uint32_t bits = random_word(&seed);

        check_first_fixed(bits & 0x3FFFFFFF);
        for (unsigned i = 0; i < LENGTH(ranges); i++) {
            uint32_t   word = (bits & 0x0FFFFFFF) | ranges[i].type;
            struct pdo source = pdo_read_source(word, 2), sink = pdo_read_sink(word, 2);

            check_range(&source, ranges[i].source, word);
            check_range(&sink, ranges[i].sink, word);
        }
    }
}

static void requests_have_the_kernels_volts_amperes_and_flags(void **state)
{
    struct pdo fixed = pdo_read_source(0x0002D12C, 2), battery = pdo_read_source(0x4F0190C8, 3);
    struct pdo pps = pdo_read_source(0xC1A42164, 6);
    uint64_t   seed = 600;

    (void)state;
    for (unsigned n = 0; n < RANDOM_WORDS; n++) {
        uint32_t   word = random_word(&seed);
        struct rdo r = rdo_read(word, &fixed), b = rdo_read(word, &battery), p = rdo_read(word, &pps);

        assert_int_equal(r.position % 8, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "position", word));
        assert_int_equal(r.give_back, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "give_back", word));
        assert_int_equal(r.mismatch, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "mismatch", word));
        assert_int_equal(r.usb_comm, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "usb_comm", word));
        assert_int_equal(r.no_usb_suspend, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "no_usb_suspend", word));
        assert_int_equal(r.op_ma, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "op_ma", word));
        assert_int_equal(r.max_ma, kernel_value(OBJECT_REQUEST_FIXED_VARIABLE, "max_ma", word));
        assert_int_equal(b.op_mw, kernel_value(OBJECT_REQUEST_BATTERY, "op_mw", word));
        assert_int_equal(b.max_mw, kernel_value(OBJECT_REQUEST_BATTERY, "max_mw", word));
        assert_int_equal(p.mv % (2048 * 20), kernel_value(OBJECT_REQUEST_PPS, "mv", word));
        assert_int_equal(p.op_ma, kernel_value(OBJECT_REQUEST_PPS, "op_ma", word));
    }
}

static void message_types_have_the_kernels_numbers(void **state)
{
    (void)state;
    for (unsigned i = 0; i < kernel_types_count; i++)
        if (message_index_of(kernel_types[i].name) != kernel_types[i].message_class * 32 + kernel_types[i].number)
            fail_msg("%s is %u in the kernel", kernel_types[i].name, kernel_types[i].number);
}

/* All 65,536 of them. */
static void every_message_header_reads_as_the_kernel_reads_it(void **state)
{
    (void)state;
    for (uint32_t header = 0; header <= UINT16_MAX; header++) {
        uint8_t              bytes[4] = { (uint8_t)header, (uint8_t)(header >> 8), 0, 0 };
        struct kernel_header k = kernel_header((uint16_t)header);
        struct message       m;

        assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
        assert_int_equal(m.header, header);
        assert_int_equal(m.objects, k.objects);
        assert_int_equal(m.type, k.type);
        assert_int_equal(m.id, k.id);
        assert_int_equal(m.revision, k.revision);
        assert_int_equal(m.power_bit, k.source);
        assert_int_equal(m.data_bit, k.dfp);
        assert_int_equal(m.message_class == CLASS_EXTENDED, k.extended);
        assert_int_equal(kernel_header_make(&k), header);
    }
}

static void every_extended_header_reads_as_the_kernel_reads_it(void **state)
{
    (void)state;
    for (uint32_t header = 0; header <= UINT16_MAX; header++) {
        uint8_t                bytes[4] = { 0x82, 0x90, (uint8_t)header, (uint8_t)(header >> 8) };
        struct kernel_extended k = kernel_extended((uint16_t)header);
        struct message         m;

        assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
        assert_int_equal(m.extended_header, header);
        assert_int_equal(m.chunked, k.chunked);
        assert_int_equal(m.chunk, k.chunk);
        assert_int_equal(m.request_chunk, k.request);
        assert_int_equal(m.data_size, k.size);
        assert_int_equal(kernel_extended_make(&k), header & ~UINT32_C(0x200)); /* bit 9 is reserved */
    }
}

static void status_bytes_and_events_stand_where_the_kernel_has_them(void **state)
{
    const struct block_layout *block = block_layout(EXTENDED_STATUS, false);

    (void)state;
    for (unsigned i = 0; i < kernel_status_count; i++) {
        const struct block_field *f = NULL;

        for (unsigned j = 0; j < block->count && !f; j++)
            if (block->fields[j].key && strcmp(block->fields[j].key, kernel_status[i].key) == 0)
                f = &block->fields[j];
        assert_non_null(f);
        assert_int_equal(f->byte, kernel_status[i].byte);
        if (kernel_status[i].bit == 255)
            assert_true(f->low == 0 && f->bits == 8);
        else
            assert_int_equal(f->low, kernel_status[i].bit);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_field_the_kernel_takes_out_of_a_word_is_our_row),
        cmocka_unit_test(every_word_the_kernel_makes_has_its_values_in_our_rows),
        cmocka_unit_test(power_objects_have_the_kernels_volts_and_amperes),
        cmocka_unit_test(requests_have_the_kernels_volts_amperes_and_flags),
        cmocka_unit_test(message_types_have_the_kernels_numbers),
        cmocka_unit_test(every_message_header_reads_as_the_kernel_reads_it),
        cmocka_unit_test(every_extended_header_reads_as_the_kernel_reads_it),
        cmocka_unit_test(status_bytes_and_events_stand_where_the_kernel_has_them),
    };

    printf("kernel headers: %s\n", KERNEL_HEADERS);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
#endif
