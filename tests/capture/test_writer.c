/* Traces as written: the bytes of the file are those of the IETF draft "PCAP Capture File Format"; faults of the disk are told. */
#define _GNU_SOURCE /* mkstemp, popen */
#include "tests/capture/made.h"

#include "capture/writer.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void file_read(const char *path, struct made *m)
{
    FILE   *file = fopen(path, "rb");
    uint8_t room[4096];
    size_t  n;

    assert_non_null(file);
    while ((n = fread(room, 1, sizeof room, file)) > 0)
        made_bytes(m, room, n);
    fclose(file);
}

static void temporary(char path[32])
{
    strcpy(path, "portassay-test-XXXXXX");
    int fd = mkstemp(path);

    assert_true(fd >= 0);
    close(fd);
}

static void a_trace_is_written_as_a_nanosecond_capture_of_user_link_type_0(void **state)
{
    (void)state;
    char        path[32];
    struct made record = made_record(0x02, 0, 0, 0, "00 000000"), wanted = { 0 }, got = { 0 };
    struct fault f;

    temporary(path);
    struct trace_writer *w = trace_writer_open(path, &f);

    assert_non_null(w);
    assert_true(trace_writer_put(w, INT64_C(1769853600000000001), record.bytes, record.length, &f));
    assert_true(trace_writer_put(w, INT64_C(4294967295999999999), record.bytes, 5, &f)); /* also what is no sound record */
    assert_true(trace_writer_close(w, &f));
    /* In the byte order of the machine; both that we build on are little-endian. */
    pcap_begin(&wanted, 0xA1B23C4D, 147);
    pcap_packet(&wanted, 1769853600, 1, &record);
    record.length = 5;
    pcap_packet(&wanted, 0xFFFFFFFF, 999999999, &record);
    file_read(path, &got);
    assert_int_equal(got.length, wanted.length);
    assert_memory_equal(got.bytes, wanted.bytes, wanted.length);
    unlink(path);
    made_free(&record);
    made_free(&wanted);
    made_free(&got);
}

static void what_was_written_is_read_back_the_same(void **state)
{
    (void)state;
    char        path[32];
    struct made record = { 0 };
    struct fault f;
    const struct record *r;

    temporary(path);
    made_hex(&record, "01 05 ff 04 00000000 00 ff 0000 00000000");
    while (record.length < 65535)
        made_u8(&record, 'x');
    struct trace_writer *w = trace_writer_open(path, &f);

    assert_true(trace_writer_put(w, 0, record.bytes, record.length, &f));
    assert_true(trace_writer_close(w, &f));
    struct trace *t = trace_open(path, NULL, &f);

    assert_non_null(t);
    assert_true(trace_next(t, &r, &f));
    assert_int_equal(r->soundness, RECORD_SOUND);
    assert_int_equal(r->stamp_ns, 0);
    assert_int_equal(r->length, record.length);
    assert_memory_equal(r->bytes, record.bytes, record.length);
    assert_int_equal(trace_facts(t)->default_time_ns, 0);
    trace_close(t);
    unlink(path);
    made_free(&record);
}

static void a_reader_can_follow_from_the_first_byte(void **state)
{
    (void)state;
    char        path[32];
    struct made got = { 0 }, record = made_record(0x02, 0, 0, 0, "00 000000");
    struct fault f;

    temporary(path);
    struct trace_writer *w = trace_writer_open(path, &f);

    file_read(path, &got);
    assert_int_equal(got.length, 24); /* the head is there already */
    assert_true(trace_writer_put(w, 0, record.bytes, record.length, &f));
    assert_true(trace_writer_flush(w, &f));
    got.length = 0;
    file_read(path, &got);
    assert_int_equal(got.length, 24 + 16 + 12);
    assert_true(trace_writer_close(w, &f));
    unlink(path);
    made_free(&got);
    made_free(&record);
}

static void a_dash_is_standard_output_and_leaves_it_open(void **state)
{
    (void)state;
    char  path[32];
    int   saved = dup(STDOUT_FILENO);
    struct made got = { 0 };
    struct fault f;

    temporary(path);
    fflush(stdout);
    assert_non_null(freopen(path, "wb", stdout));
    struct trace_writer *w = trace_writer_open("-", &f);
    bool                 closed = w && trace_writer_close(w, &f);
    bool                 still_open = write(STDOUT_FILENO, "x", 1) == 1;

    dup2(saved, STDOUT_FILENO);
    close(saved);
    assert_true(closed);
    assert_true(still_open);
    file_read(path, &got);
    assert_int_equal(got.length, 25);
    unlink(path);
    made_free(&got);
}

static void a_place_that_cannot_be_written_is_told(void **state)
{
    (void)state;
    struct fault f;

    assert_null(trace_writer_open("no-such-folder/trace.pcap", &f));
    assert_int_equal(f.code, FAULT_OPEN);
    assert_int_equal(f.sys, ENOENT);
}

static void a_full_disk_is_told(void **state)
{
    (void)state;
    struct fault f;

    if (access("/dev/full", W_OK) != 0) {
        print_message("skipped: there is no /dev/full\n");
        skip();
    }
    assert_null(trace_writer_open("/dev/full", &f)); /* every write to it fails with ENOSPC */
    assert_int_equal(f.code, FAULT_WRITE);
    assert_int_equal(f.sys, ENOSPC);
}

static void a_time_the_format_cannot_say_is_refused(void **state)
{
    (void)state;
    char        path[32];
    struct made record = made_record(0x02, 0, 0, 0, "00 000000");
    struct fault f;

    temporary(path);
    struct trace_writer *w = trace_writer_open(path, &f);

    assert_false(trace_writer_put(w, -1, record.bytes, record.length, &f));
    assert_int_equal(f.code, FAULT_WRITE);
    assert_int_equal(f.sys, EOVERFLOW);
    assert_false(trace_writer_put(w, INT64_C(4294967296000000000), record.bytes, record.length, &f));
    assert_false(trace_writer_put(w, 0, record.bytes, 262145, &f));
    assert_int_equal(f.sys, EMSGSIZE);
    assert_true(trace_writer_put(w, 0, record.bytes, record.length, &f));
    assert_true(trace_writer_close(w, &f));
    unlink(path);
    made_free(&record);
}

/* Another reader than libpcap called by us: tcpdump prints time and bytes of each packet. */
static void tcpdump_reads_what_was_written(void **state)
{
    (void)state;
    char        path[32], command[128], line[256];
    struct made record = made_record(0x02, 3, 4, 0, "00 000000");
    struct fault f;
    bool        head = false, time = false, bytes = false;

    if (system("tcpdump --version >/dev/null 2>&1") != 0) {
        print_message("skipped: there is no tcpdump\n");
        skip();
    }
    temporary(path);
    struct trace_writer *w = trace_writer_open(path, &f);

    assert_true(trace_writer_put(w, INT64_C(1769853600000000001), record.bytes, record.length, &f));
    assert_true(trace_writer_close(w, &f));
    snprintf(command, sizeof command, "tcpdump -tt --nano -xx -r - <%s 2>&1", path);
    FILE *output = popen(command, "r");

    assert_non_null(output);
    while (fgets(line, sizeof line, output)) {
        head = head || strstr(line, "snapshot length 262144") || strstr(line, "USER0") || strstr(line, "147");
        time = time || strncmp(line, "1769853600.000000001", 20) == 0;
        bytes = bytes || strstr(line, "0102 0304 0000 0000 0000 0000");
    }
    assert_int_equal(pclose(output), 0);
    assert_true(head);
    assert_true(time);
    assert_true(bytes);
    unlink(path);
    made_free(&record);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_trace_is_written_as_a_nanosecond_capture_of_user_link_type_0),
        cmocka_unit_test(what_was_written_is_read_back_the_same),
        cmocka_unit_test(tcpdump_reads_what_was_written),
        cmocka_unit_test(a_reader_can_follow_from_the_first_byte),
        cmocka_unit_test(a_dash_is_standard_output_and_leaves_it_open),
        cmocka_unit_test(a_place_that_cannot_be_written_is_told),
        cmocka_unit_test(a_full_disk_is_told),
        cmocka_unit_test(a_time_the_format_cannot_say_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
