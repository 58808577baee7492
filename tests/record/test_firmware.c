/* The bytes that traces/FORMAT.md shows to writers of firmware mean what stands beside them. */
#include "capture/record.h"
#include "capture/usb_bus.h"
#include "capture/usb_frames.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* The bytes of the n-th indented block behind that heading. */
static size_t bytes_shown(unsigned n, uint8_t *out, size_t room)
{
    FILE    *f = fopen(TRACES "/FORMAT.md", "r");
    char     line[600];
    size_t   used = 0;
    unsigned block = 0;
    bool     behind = false, inside = false;

    assert_non_null(f);
    while (fgets(line, sizeof line, f)) {
        behind = behind || strstr(line, "### Firmware, byte by byte") == line;
        bool indented = behind && strncmp(line, "    ", 4) == 0;

        block += indented && !inside ? 1 : 0;
        inside = indented;
        if (!indented || block != n)
            continue;
        for (char *word = strtok(line, " \n"); word; word = strtok(NULL, " \n")) {
            assert_int_equal(strlen(word), 2);
            assert_true(used < room);
            out[used++] = (uint8_t)strtoul(word, NULL, 16);
        }
    }
    fclose(f);
    return used;
}

static void the_answer_to_describe_says_what_stands_beside_it(void **state)
{
    uint8_t                bytes[100];
    struct usb_description d;

    (void)state;
    assert_int_equal(bytes_shown(1, bytes, sizeof bytes), 40);
    assert_true(usb_description_read(bytes, 40, &d));
    assert_int_equal(d.ports, 1);
    assert_int_equal(d.clock_ppm, 50);
    assert_int_equal(d.volt_gain_ppm, 500);
    assert_int_equal(d.volt_offset_uv, 1000);
    assert_int_equal(d.amp_gain_ppm, 1000);
    assert_int_equal(d.amp_offset_ua, 2000);
    assert_int_equal(d.interval_ns, 100000);
    assert_int_equal(d.volt_noise_uv, 300);
    assert_int_equal(d.amp_noise_ua, 500);
    assert_int_equal(d.time_ns, 100);
}

static void the_frame_is_a_goodcrc_of_a_source(void **state)
{
    uint8_t            bytes[100];
    size_t             length = bytes_shown(2, bytes, sizeof bytes);
    struct usb_frames *f = usb_frames_new(1);
    struct usb_frame   frame;
    struct record      r;

    (void)state;
    assert_int_equal(length, 34);
    assert_int_equal(usb_frames_feed(f, bytes, length, 0), length);
    assert_true(usb_frames_next(f, USB_FRAME_QUIET_NS, &frame));
    assert_int_equal(frame.sequence, 0);
    assert_int_equal(frame.missing, 0);
    assert_int_equal(frame.time_ns, 1500000);
    record_read(frame.record, frame.length, false, (int64_t)frame.time_ns, 1, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_int_equal(r.kind, RECORD_PD_PACKET);
    assert_int_equal(r.duration_ns, 496667);
    assert_int_equal(r.packet.set, 0);
    assert_int_equal(r.packet.length, 6);
    assert_true(record_nominal_ns(6) >= 496666 && record_nominal_ns(6) <= 496667); /* 149 bits at 300 kbit/s */
    assert_memory_equal(r.packet.bytes, "\xa1\x01\xc1\xaf\xc2\x81", 6);
    usb_frames_free(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_answer_to_describe_says_what_stands_beside_it),
        cmocka_unit_test(the_frame_is_a_goodcrc_of_a_source),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
