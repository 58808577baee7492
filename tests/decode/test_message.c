/* The packet reader: headers, extended header, CRC, and bytes that do not fit. */
#include "decode/message.h"
#include "capture/record.h"
#include "tests/decode/testing.h"

#include <string.h>
#include <zlib.h>

/*
 * GoodCRC with header 0x0101: message bytes 01 01, CRC 0x2FC51328, on the wire 28 13 C5 2F.
 * Source: the worked example of the USB PD CRC annex as re-typed in public code; CRC computed again with zlib.
 */
static const uint8_t goodcrc_packet[] = { 0x01, 0x01, 0x28, 0x13, 0xC5, 0x2F };

static void the_published_goodcrc_reads_as_goodcrc_with_a_good_crc(void **state)
{
    struct message m;

    (void)state;
    assert_true(message_read(goodcrc_packet, sizeof goodcrc_packet, SET_SOP, 0, &m));
    assert_int_equal(m.header, 0x0101);
    assert_int_equal(m.crc, CRC_GOOD);
    assert_int_equal(m.index, MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC));
    assert_int_equal(m.message_class, CLASS_CONTROL);
    assert_int_equal(m.type, CONTROL_GOODCRC);
    assert_int_equal(m.id, 0);
    assert_int_equal(m.objects, 0);
    assert_true(m.power_bit);
    assert_false(m.data_bit);
    assert_int_equal(m.revision, HEADER_R1);
    assert_int_equal(m.length, 0);
    assert_int_equal(m.raw_length, 2);
    assert_ptr_equal(m.raw, goodcrc_packet);
    assert_int_equal(message_words(&m), 0);
}

/* Check value: "123456789" -> 0xCBF43926, entry CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms (the zlib CRC). */
static void the_check_string_of_the_crc_catalogue_has_a_good_crc(void **state)
{
    static const uint8_t packet[] = { '1', '2', '3', '4', '5', '6', '7', '8', '9', 0x26, 0x39, 0xF4, 0xCB };
    struct message       m;

    (void)state;
    assert_true(message_read(packet, sizeof packet, SET_SOP, 0, &m));
    assert_int_equal(m.crc, CRC_GOOD);
    assert_int_equal(m.length, 7);
    assert_int_equal(crc32(0, packet, 9), 0xCBF43926);
}

/* The shift register of the USB PD annex: 0x04C11DB7, most significant bit first, fed bit 0 of each byte first. */
static uint32_t register_msb_first(const uint8_t *bytes, size_t length)
{
    uint32_t crc = UINT32_MAX;

    for (size_t i = 0; i < 8 * length; i++) {
        uint32_t bit = (uint32_t)bytes[i / 8] >> i % 8 & 1;

        crc = crc << 1 ^ ((crc >> 31 ^ bit) ? 0x04C11DB7u : 0u);
    }
    return crc;
}

static uint32_t register_reflected(const uint8_t *bytes, size_t length)
{
    uint32_t crc = UINT32_MAX;

    for (size_t i = 0; i < 8 * length; i++) {
        uint32_t bit = (uint32_t)bytes[i / 8] >> i % 8 & 1;

        crc = crc >> 1 ^ (((crc ^ bit) & 1) ? 0xEDB88320u : 0u);
    }
    return crc;
}

/* Residues: 0xC704DD7B (the annex code, register not complemented), 0xDEBB20E3 for a reflected register (CRC catalogue). */
static void a_message_with_its_crc_leaves_the_published_residue(void **state)
{
    uint64_t seed = 1;
    uint8_t  packet[34];

    (void)state;
    assert_int_equal(register_msb_first(goodcrc_packet, sizeof goodcrc_packet), 0xC704DD7B);
    assert_int_equal(register_reflected(goodcrc_packet, sizeof goodcrc_packet), 0xDEBB20E3);
    for (unsigned round = 0; round < 1000; round++) {
        size_t length = 2 + round % 29;

        for (size_t i = 0; i < length; i++)
            packet[i] = (uint8_t)random_word(&seed);
        uint32_t crc = ~register_reflected(packet, length);

        for (unsigned i = 0; i < 4; i++)
            packet[length + i] = (uint8_t)(crc >> 8 * i);
        assert_int_equal(register_msb_first(packet, length + 4), 0xC704DD7B);

        struct message m;

        assert_true(message_read(packet, length + 4, SET_SOP, 0, &m));
        assert_int_equal(m.crc, CRC_GOOD);
    }
}

static void every_single_flipped_bit_makes_the_crc_bad(void **state)
{
    (void)state;
    for (unsigned bit = 0; bit < 8 * sizeof goodcrc_packet; bit++) {
        uint8_t        packet[sizeof goodcrc_packet];
        struct message m;

        memcpy(packet, goodcrc_packet, sizeof packet);
        packet[bit / 8] ^= (uint8_t)(1u << bit % 8);
        assert_true(message_read(packet, sizeof packet, SET_SOP, 0, &m));
        assert_int_equal(m.crc, CRC_BAD);
    }
}

static void the_instrument_can_call_a_fitting_crc_bad(void **state)
{
    struct message m;

    (void)state;
    assert_true(message_read(goodcrc_packet, sizeof goodcrc_packet, SET_SOP, RECORD_CRC_BAD, &m));
    assert_int_equal(m.crc, CRC_BAD);
    assert_true(m.crc_flag);
    assert_int_equal(m.type, CONTROL_GOODCRC);

    /* Also where it did not keep the four bytes. */
    assert_true(message_read(goodcrc_packet, 2, SET_SOP, RECORD_CRC_BAD | RECORD_NO_CRC, &m));
    assert_int_equal(m.crc, CRC_BAD);
    assert_int_equal(m.raw_length, 2);
}

static void without_crc_bytes_all_bytes_are_message(void **state)
{
    /* Request, one object, R3, sink, UFP, id 0: header 0x1082 (Zephyr sample documentation usb-c-drp, console log). */
    static const uint8_t bytes[] = { 0x82, 0x10, 0x2C, 0x29, 0x80, 0x16 };
    struct message       m;

    (void)state;
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
    assert_int_equal(m.crc, CRC_ABSENT);
    assert_int_equal(m.length, 4);
    assert_int_equal(message_words(&m), 1);
    assert_int_equal(message_word(&m, 0), 0x1680292C);
    assert_int_equal(message_word(&m, 1), 0);
    assert_int_equal(message_word(&m, UINT32_MAX), 0);
}

static void a_truncated_packet_has_no_crc_and_keeps_what_is_there(void **state)
{
    /* The same header, 0x2082: two objects promised; cut in the second one, and cut in the CRC behind them. */
    static const uint8_t bytes[] = { 0x82, 0x20, 1, 2, 3, 4, 5, 6, 7, 8, 0xAA, 0xBB };
    struct message       m;

    (void)state;
    assert_true(message_read(bytes, 8, SET_SOP, RECORD_TRUNCATED, &m));
    assert_int_equal(m.crc, CRC_ABSENT);
    assert_true(m.truncated);
    assert_int_equal(m.length, 6);
    assert_int_equal(message_words(&m), 1);

    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_TRUNCATED, &m));
    assert_int_equal(m.length, 8);
    assert_int_equal(message_word(&m, 1), 0x08070605);
}

static void fewer_than_two_bytes_are_no_message(void **state)
{
    struct message m;

    (void)state;
    assert_false(message_read(goodcrc_packet, 1, SET_SOP, RECORD_TRUNCATED, &m));
    assert_false(message_read(goodcrc_packet, 0, SET_SOP, 0, &m));
    assert_false(message_read(NULL, 0, SET_SOP, 0, &m));
}

static void a_packet_too_short_for_its_crc_has_a_bad_one(void **state)
{
    (void)state;
    for (size_t length = 2; length < sizeof goodcrc_packet; length++) {
        struct message m;

        assert_true(message_read(goodcrc_packet, length, SET_SOP, 0, &m));
        assert_int_equal(m.crc, CRC_BAD);
        assert_int_equal(m.length, 0);
    }
}

/*
 * Chunk 0 of a 44-byte message: Chunked (bit 15), number 0, Data Size 44: 0x802C. Seven objects, type 17: header 0xF1B1 from a
 * source that is DFP, R3. Layout: extended header of Linux include/linux/usb/pd.h and Zephyr usbc_pd.h.
 */
static void a_chunk_shows_its_extended_header_and_its_words(void **state)
{
    uint8_t        bytes[2 + 28] = { 0xB1, 0xF1, 0x2C, 0x80, 0x2C, 0x91, 0x01, 0x08 };
    struct message m;

    (void)state;
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
    assert_int_equal(m.index, MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_EPR_SOURCE_CAPABILITIES));
    assert_int_equal(m.objects, 7);
    assert_true(m.has_extended_header);
    assert_int_equal(m.extended_header, 0x802C);
    assert_true(m.chunked);
    assert_false(m.request_chunk);
    assert_int_equal(m.chunk, 0);
    assert_int_equal(m.data_size, 44);
    assert_int_equal(m.length, 28);
    assert_int_equal(m.body_length, 26);
    assert_int_equal(message_words(&m), 6);
    assert_int_equal(message_word(&m, 0), 0x0801912C);
}

/* Chunked, number 1, Request Chunk, Data Size 0: 0x8C00; one object, two bytes of padding. */
static void a_chunk_request_shows_the_number_it_asks_for(void **state)
{
    static const uint8_t bytes[] = { 0x91, 0x90, 0x00, 0x8C, 0, 0 };
    struct message       m;

    (void)state;
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
    assert_true(m.chunked);
    assert_true(m.request_chunk);
    assert_int_equal(m.chunk, 1);
    assert_int_equal(m.data_size, 0);
    assert_int_equal(m.body_length, 2);
}

static void an_extended_message_without_its_extended_header_says_so(void **state)
{
    static const uint8_t bytes[] = { 0xB1, 0xF1, 0x2C };
    struct message       m;

    (void)state;
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_TRUNCATED, &m));
    assert_int_equal(m.message_class, CLASS_EXTENDED);
    assert_false(m.has_extended_header);
    assert_int_equal(m.body_length, 1);
    assert_int_equal(message_words(&m), 0);
}

static void words_stop_at_seven_and_unchunked_at_sixty_five(void **state)
{
    uint8_t        bytes[2 + 2 + 4 * 70] = { 0x82, 0x10 };
    struct message m;

    (void)state;
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
    assert_int_equal(message_words(&m), 7);
    bytes[0] = 0xB1;
    bytes[1] = 0x81; /* Extended, no objects; extended header 0: unchunked */
    assert_true(message_read(bytes, sizeof bytes, SET_SOP, RECORD_NO_CRC, &m));
    assert_int_equal(message_words(&m), 65);
}

static void whatever_the_bytes_the_parts_stay_inside_them(void **state)
{
    uint64_t seed = 7;
    uint8_t  bytes[80];

    (void)state;
    for (unsigned round = 0; round < RANDOM_WORDS; round++) {
        size_t         length = random_word(&seed) % sizeof bytes;
        uint8_t        flags = random_word(&seed) & 7;
        struct message m;

        for (size_t i = 0; i < length; i++)
            bytes[i] = (uint8_t)random_word(&seed);
        assert_int_equal(message_read(bytes, length, (uint8_t)(round % 5), flags, &m), length >= 2);
        if (length < 2)
            continue;
        assert_true(m.raw_length <= length && m.raw_length == m.length + 2);
        assert_true(length - m.raw_length <= 4);
        assert_ptr_equal(m.body + m.body_length, bytes + m.raw_length);
        assert_int_equal(m.length - m.body_length, m.has_extended_header ? 2 : 0);
        assert_int_equal(m.index, m.message_class * 32 + m.type);
    }
}

static void names_are_those_of_the_trade(void **state)
{
    (void)state;
    assert_string_equal(ordered_set_name(SET_SOP), "SOP");
    assert_string_equal(ordered_set_name(SET_SOP1), "SOP'");
    assert_string_equal(ordered_set_name(SET_SOP2), "SOP''");
    assert_string_equal(ordered_set_name(SET_SOP1_DEBUG), "SOP'_Debug");
    assert_string_equal(ordered_set_name(SET_SOP2_DEBUG), "SOP''_Debug");
    assert_string_equal(ordered_set_name(5), "unknown");
    assert_string_equal(header_revision_name(HEADER_R1), "1.0");
    assert_string_equal(header_revision_name(HEADER_R2), "2.0");
    assert_string_equal(header_revision_name(HEADER_R3), "3.x");
    assert_string_equal(header_revision_name(HEADER_RESERVED), "reserved");
    assert_string_equal(since_name(SINCE_R1), "1.0");
    assert_string_equal(since_name(SINCE_R2), "2.0");
    assert_string_equal(since_name(SINCE_R30), "3.0");
    assert_string_equal(since_name(SINCE_R31), "3.1");
    assert_string_equal(since_name(SINCE_R32), "3.2");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_goodcrc_reads_as_goodcrc_with_a_good_crc),
        cmocka_unit_test(the_check_string_of_the_crc_catalogue_has_a_good_crc),
        cmocka_unit_test(a_message_with_its_crc_leaves_the_published_residue),
        cmocka_unit_test(every_single_flipped_bit_makes_the_crc_bad),
        cmocka_unit_test(the_instrument_can_call_a_fitting_crc_bad),
        cmocka_unit_test(without_crc_bytes_all_bytes_are_message),
        cmocka_unit_test(a_truncated_packet_has_no_crc_and_keeps_what_is_there),
        cmocka_unit_test(fewer_than_two_bytes_are_no_message),
        cmocka_unit_test(a_packet_too_short_for_its_crc_has_a_bad_one),
        cmocka_unit_test(a_chunk_shows_its_extended_header_and_its_words),
        cmocka_unit_test(a_chunk_request_shows_the_number_it_asks_for),
        cmocka_unit_test(an_extended_message_without_its_extended_header_says_so),
        cmocka_unit_test(words_stop_at_seven_and_unchunked_at_sixty_five),
        cmocka_unit_test(whatever_the_bytes_the_parts_stay_inside_them),
        cmocka_unit_test(names_are_those_of_the_trade),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
