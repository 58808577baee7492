/*
 * tests/capture/made.h - records, captures and text put together byte by byte, from the published layouts and not through the
 * code under test.
 */
#pragma once
#include "capture/trace.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h> /* cmocka.h needs the four before it */
#include <cmocka.h>

struct made {
    uint8_t *bytes;
    size_t   length, room;
    bool     big_endian; /* of what is added from now on */
};

void made_bytes(struct made *m, const void *bytes, size_t length);
void made_u8(struct made *m, unsigned value);
void made_u16(struct made *m, unsigned value);
void made_u32(struct made *m, uint32_t value);
void made_i32(struct made *m, int32_t value);
void made_hex(struct made *m, const char *hex); /* pairs of digits, blanks between them */
void made_free(struct made *m);

/* IETF draft "PCAP Capture File Format": file header and packet record. */
enum { MICRO_MAGIC = 0xA1B2C3D4, NANO_MAGIC = 0xA1B23C4D };
void pcap_begin(struct made *m, uint32_t magic, uint32_t link_type);
void pcap_packet(struct made *m, uint32_t seconds, uint32_t fraction, const struct made *record);

/* IETF draft "PCAP Next Generation Capture File Format": blocks. Options are made by the caller, end of options included. */
void ng_block(struct made *m, uint32_t type, const struct made *body);
void ng_section(struct made *m, const struct made *options);
void ng_interface(struct made *m, unsigned link_type, const struct made *options);
void ng_option(struct made *m, unsigned code, const void *value, size_t length);
void ng_packet(struct made *m, uint32_t interface, uint64_t ticks, const struct made *record, const struct made *options);

/* Records. */
struct made made_record(uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns, const char *body_hex);
/* A nanosecond capture of one packet a record at second 1000, in the order given: adds to m. */
void trace_add(struct made *m, int64_t after_ns, uint8_t kind, uint8_t port, uint8_t flags, uint32_t duration_ns, const char *body_hex);

/* Everything a trace gave, in the order it gave it. */
enum { SEEN_MAX = 64 };
struct seen {
    struct trace_facts facts;
    unsigned           count, notices;
    uint64_t           frame[SEEN_MAX];
    int64_t            t_ns[SEEN_MAX];
    enum record_soundness soundness[SEEN_MAX];
    enum record_why    why[SEEN_MAX];
    bool               stepped_back[SEEN_MAX];
    struct trace_notice notice[SEEN_MAX];
    char               words[200]; /* of the last cut-off notice */
};
void seen_notice(void *context, const struct trace_notice *notice);
/* Opens, reads to the end, closes. Fails the test if it cannot be opened. */
void seen_of(const struct made *m, bool file_order, struct seen *s);
/* The fault of a trace that cannot be opened; fails the test if it can. */
struct fault fault_of(const void *bytes, size_t length);
