/*
 * Which object stands where in a Vendor_Defined message.
 *
 * Places and product types: Linux include/linux/usb/pd_vdo.h, Chromium EC include/usb_pd.h; the filler at place 5: from memory,
 * and the same in real answers of the Linux port manager (named beside the check).
 */
#include "decode/field.h"
#include "decode/message.h"
#include "tests/decode/testing.h"

enum { IDENTITY_ACK = 0xFF00A041, IDENTITY_REQ = 0xFF00A001, IDENTITY_NAK = 0xFF00A081, IDENTITY_ACK_1_0 = 0xFF008041 };

static void check(const uint32_t *words, unsigned count, unsigned set, unsigned revision, const enum object_kind *kinds)
{
    for (unsigned k = 0; k < count; k++) {
        enum object_kind kind = object_kind_of_vdm(words, count, k, set, revision);

        if (kind != kinds[k])
            fail_msg("word %u (%08x): %s, not %s", k, words[k], object_layout(kind)->title, object_layout(kinds[k])->title);
    }
}

#define CHECK(set, revision, words, ...) \
    check(words, LENGTH(words), set, revision, (const enum object_kind[LENGTH(words)]){ __VA_ARGS__ })

/* Real answers: two Linux 6.12 port managers, recorded as the identity traffic in ../shared/peer. */
static void real_answers_to_discover_identity_read_as_they_were_meant(void **state)
{
    static const uint32_t peripheral[] = { 0xFF00A041, 0x510018D1, 0, 0x50310100, 0x61000001 };
    static const uint32_t both_roles[] = { 0xFF00A041, 0xAD0018D1, 0, 0x12340100, 0x21800000, 0, 0x42000000 };
    static const uint32_t cable[] = { 0xFF00A041, 0x18001234, 0, 0x56780100, 0x00082042 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, peripheral, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_UFP);
    CHECK(SET_SOP, HEADER_R3, both_roles, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_UFP,
          OBJECT_RAW, OBJECT_DFP);
    CHECK(SET_SOP1, HEADER_R3, cable, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT,
          OBJECT_PASSIVE_CABLE);
}

static void a_hub_that_is_also_a_host_answers_with_ufp_filler_and_dfp(void **state)
{
    static const uint32_t words[] = { IDENTITY_ACK, 1u << 27 | 2u << 23, 0, 0, 0x60000000, 0, 0x40000000 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, words, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_UFP,
          OBJECT_RAW, OBJECT_DFP);
}

static void a_power_brick_answers_with_a_dfp_vdo_alone(void **state)
{
    static const uint32_t words[] = { IDENTITY_ACK, 3u << 23, 0, 0, 0x40000000, 0, 0x40000000 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, words, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_DFP,
          OBJECT_RAW, OBJECT_RAW);
}

static void a_power_bank_answers_with_what_it_sends(void **state)
{
    static const uint32_t one[] = { IDENTITY_ACK, 3u << 27 | 3u << 23, 0, 0, 0x40000000 };
    static const uint32_t two[] = { IDENTITY_ACK, 3u << 27 | 3u << 23, 0, 0, 0, 0, 0x40000000 };
    static const uint32_t sink[] = { IDENTITY_ACK, 3u << 27, 0, 0, 0x12345678 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, one, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_DFP);
    CHECK(SET_SOP, HEADER_R3, two, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_PSD,
          OBJECT_RAW, OBJECT_DFP);
    CHECK(SET_SOP, HEADER_R3, sink, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_PSD);
}

static void an_adapter_of_2_0_has_the_vdo_of_2_0(void **state)
{
    static const uint32_t words[] = { IDENTITY_ACK_1_0, 5u << 27 | 1u << 26, 0, 0, 0x11000000 };
    static const uint32_t hub[] = { IDENTITY_ACK_1_0, 1u << 27, 0, 0, 0x11000000 };

    (void)state;
    CHECK(SET_SOP, HEADER_R2, words, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_AMA);
    CHECK(SET_SOP, HEADER_R2, hub, OBJECT_VDM_HEADER, OBJECT_ID_HEADER, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_RAW);
}

static void cables_have_the_layout_of_their_edition(void **state)
{
    static const uint32_t passive[] = { IDENTITY_ACK_1_0, 3u << 27, 0, 0, 0x11000000, 0 };
    static const uint32_t active[] = { IDENTITY_ACK, 4u << 27, 0, 0, 0x11600000, 0 };
    static const uint32_t active_old[] = { IDENTITY_ACK_1_0, 4u << 27, 0, 0, 0x11600000, 0 };
    static const uint32_t vpd[] = { IDENTITY_ACK, 6u << 27, 0, 0, 0x11000000, 0 };
    static const uint32_t none[] = { IDENTITY_ACK, 0, 0, 0, 0x11000000 };

    (void)state;
    CHECK(SET_SOP1, HEADER_R2, passive, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT,
          OBJECT_CABLE_R2, OBJECT_RAW);
    CHECK(SET_SOP1, HEADER_R3, active, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT,
          OBJECT_ACTIVE_CABLE_1, OBJECT_ACTIVE_CABLE_2);
    CHECK(SET_SOP2, HEADER_R2, active_old, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT,
          OBJECT_CABLE_R2, OBJECT_RAW);
    CHECK(SET_SOP1, HEADER_R3, vpd, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT,
          OBJECT_VPD, OBJECT_RAW);
    CHECK(SET_SOP1, HEADER_R3, none, OBJECT_VDM_HEADER, OBJECT_ID_HEADER_CABLE, OBJECT_CERT_STAT, OBJECT_PRODUCT, OBJECT_RAW);
}

/* Structured VDM version 2.x and header revision 3.x belong together; one of them is enough to tell the edition. */
static void either_sign_of_3_x_gives_the_layouts_of_3_x(void **state)
{
    static const uint32_t header_says[] = { IDENTITY_ACK_1_0, 3u << 27, 0, 0, 0x11000000 };
    static const uint32_t version_says[] = { IDENTITY_ACK, 3u << 27, 0, 0, 0x11000000 };

    (void)state;
    assert_int_equal(object_kind_of_vdm(header_says, 5, 4, SET_SOP1, HEADER_R3), OBJECT_PASSIVE_CABLE);
    assert_int_equal(object_kind_of_vdm(version_says, 5, 4, SET_SOP1, HEADER_R2), OBJECT_PASSIVE_CABLE);
}

static void only_an_ack_carries_an_identity(void **state)
{
    static const uint32_t asked[] = { IDENTITY_REQ, 3u << 27 };
    static const uint32_t refused[] = { IDENTITY_NAK, 3u << 27 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, asked, OBJECT_VDM_HEADER, OBJECT_RAW);
    CHECK(SET_SOP, HEADER_R3, refused, OBJECT_VDM_HEADER, OBJECT_RAW);
}

static void svids_come_two_to_a_word_and_modes_one(void **state)
{
    static const uint32_t svids[] = { 0xFF00A042, 0xFF018087, 0x00000000 };
    static const uint32_t modes[] = { 0xFF01A043, 0x00000405 };
    static const uint32_t entered[] = { 0xFF01A144, 0x00000001 };
    static const uint32_t attention[] = { 0xFF01A106, 0x0000001A };
    const struct field   *svid = object_layout(OBJECT_SVIDS)->fields;

    (void)state;
    CHECK(SET_SOP, HEADER_R3, svids, OBJECT_VDM_HEADER, OBJECT_SVIDS, OBJECT_SVIDS);
    assert_int_equal(field_raw(&svid[0], svids[1]), 0xFF01);
    assert_int_equal(field_raw(&svid[1], svids[1]), 0x8087);
    CHECK(SET_SOP, HEADER_R3, modes, OBJECT_VDM_HEADER, OBJECT_MODE);
    CHECK(SET_SOP, HEADER_R3, entered, OBJECT_VDM_HEADER, OBJECT_RAW);
    CHECK(SET_SOP, HEADER_R3, attention, OBJECT_VDM_HEADER, OBJECT_RAW);
}

static void unstructured_messages_are_the_vendors_own(void **state)
{
    static const uint32_t words[] = { 0x12340041, 0xFFFFFFFF };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, words, OBJECT_VDM_UNSTRUCTURED, OBJECT_RAW);
    assert_int_equal(object_kind_of_vdm(words, 2, 2, SET_SOP, HEADER_R3), OBJECT_RAW);
    assert_int_equal(object_kind_of_vdm(NULL, 0, 0, SET_SOP, HEADER_R3), OBJECT_RAW);
}

static void an_identity_of_another_svid_is_no_identity(void **state)
{
    static const uint32_t words[] = { 0xFF01A041, 3u << 27 };

    (void)state;
    CHECK(SET_SOP, HEADER_R3, words, OBJECT_VDM_HEADER, OBJECT_RAW);
}

static void no_combination_of_types_reads_beyond_the_words(void **state)
{
    uint64_t seed = 5;

    (void)state;
    for (unsigned i = 0; i < RANDOM_WORDS; i++) {
        unsigned count = i % 8;
        uint32_t words[8] = { IDENTITY_ACK };

        for (unsigned k = 1; k < count; k++)
            words[k] = random_word(&seed);
        for (unsigned k = 0; k < 9; k++)
            assert_in_range(object_kind_of_vdm(words, count, k, random_word(&seed) % 6, random_word(&seed) % 5), 0,
                            OBJECT_KINDS - 1);
    }
}

static void data_objects_have_the_layout_of_their_message(void **state)
{
    (void)state;
    assert_int_equal(object_kind_of_data(DATA_EPR_MODE, 0), OBJECT_EPR_MODE);
    assert_int_equal(object_kind_of_data(DATA_SOURCE_INFO, 0), OBJECT_SOURCE_INFO);
    assert_int_equal(object_kind_of_data(DATA_SOURCE_INFO, 1), OBJECT_SOURCE_INFO_SECOND);
    assert_int_equal(object_kind_of_data(DATA_SOURCE_INFO, 2), OBJECT_RAW);
    assert_int_equal(object_kind_of_data(DATA_REVISION, 0), OBJECT_REVISION);
    assert_int_equal(object_kind_of_data(DATA_BATTERY_STATUS, 0), OBJECT_BATTERY_STATUS);
    assert_int_equal(object_kind_of_data(DATA_ALERT, 0), OBJECT_ALERT);
    assert_int_equal(object_kind_of_data(DATA_GET_COUNTRY_INFO, 0), OBJECT_COUNTRY_CODE);
    assert_int_equal(object_kind_of_data(DATA_BIST, 0), OBJECT_BIST);
    assert_int_equal(object_kind_of_data(DATA_BIST, 6), OBJECT_RAW);
    assert_int_equal(object_kind_of_data(DATA_ENTER_USB, 0), OBJECT_ENTER_USB);
    assert_int_equal(object_kind_of_data(DATA_VENDOR_DEFINED, 0), OBJECT_RAW);
    assert_int_equal(object_kind_of_data(13, 0), OBJECT_RAW);
}

/* Actions: Chromium EC, Infineon cy_pdstack_common.h; causes: Chromium EC, onsemi. */
static void the_action_of_epr_mode_says_what_its_data_are(void **state)
{
    (void)state;
    assert_int_equal(object_kind_of_epr_mode(0x018C0000), OBJECT_EPR_MODE_ENTER);
    assert_int_equal(object_kind_of_epr_mode(0x02000000), OBJECT_EPR_MODE);
    assert_int_equal(object_kind_of_epr_mode(0x04010000), OBJECT_EPR_MODE_FAILED);
    assert_int_equal(field_raw(&object_layout(OBJECT_EPR_MODE_ENTER)->fields[1], 0x018C0000), 140);
    assert_string_equal(field_name_of(&object_layout(OBJECT_EPR_MODE_FAILED)->fields[1], 1), "cable not EPR capable");
    assert_null(field_name_of(&object_layout(OBJECT_EPR_MODE_FAILED)->fields[1], 6));
    assert_null(field_name_of(&object_layout(OBJECT_EPR_MODE)->fields[1], 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(real_answers_to_discover_identity_read_as_they_were_meant),
        cmocka_unit_test(a_hub_that_is_also_a_host_answers_with_ufp_filler_and_dfp),
        cmocka_unit_test(a_power_brick_answers_with_a_dfp_vdo_alone),
        cmocka_unit_test(a_power_bank_answers_with_what_it_sends),
        cmocka_unit_test(an_adapter_of_2_0_has_the_vdo_of_2_0),
        cmocka_unit_test(cables_have_the_layout_of_their_edition),
        cmocka_unit_test(either_sign_of_3_x_gives_the_layouts_of_3_x),
        cmocka_unit_test(only_an_ack_carries_an_identity),
        cmocka_unit_test(svids_come_two_to_a_word_and_modes_one),
        cmocka_unit_test(unstructured_messages_are_the_vendors_own),
        cmocka_unit_test(an_identity_of_another_svid_is_no_identity),
        cmocka_unit_test(no_combination_of_types_reads_beyond_the_words),
        cmocka_unit_test(data_objects_have_the_layout_of_their_message),
        cmocka_unit_test(the_action_of_epr_mode_says_what_its_data_are),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
