#define _DEFAULT_SOURCE /* pcap.h names u_char and its like */
#include "capture/pcap_head_inside.h"
#include "capture/trace_source_inside.h"

#include <pcap/pcap.h>
#include <stdio.h>
#include <stdlib.h>

enum { LINKTYPE_USER0 = 147, LONGEST = 262144 };
#define SECONDS_LIMIT (RECORD_TIME_LIMIT / 1000000000)

struct pcap_source {
    pcap_t             *pcap;
    struct byte_source *bytes;
    uint64_t            frames;
    bool                classic;
    /* Packets of a simple file are taken past libpcap, as long as nothing is odd about them. */
    bool                simple;
    uint32_t            longest;     /* snapshot length of the file */
    uint32_t            fraction_ns, fractions; /* of a second in a time stamp */
};

static bool link_type_fault(pcap_t *pcap, const struct pcap_head *head, struct fault *f)
{
    return fault_set(f, FAULT_LINK_TYPE, 0, head->complete ? (int64_t)head->link_type : pcap_datalink(pcap),
                     pcap_datalink_val_to_name(pcap_datalink(pcap)));
}

/* libpcap reads the file's head here, and we read it again in what the source kept. */
static bool head_open(struct pcap_source *s, struct byte_source *bytes, FILE *stream, struct trace_facts *facts,
                      struct fault *f)
{
    struct pcap_head head;
    const uint8_t   *kept;
    char             words[PCAP_ERRBUF_SIZE] = "";
    int              sys;

    s->pcap = pcap_fopen_offline_with_tstamp_precision(stream, PCAP_TSTAMP_PRECISION_NANO, words);
    if (!s->pcap) {
        const char *broken = byte_source_broken(bytes, &sys);

        fclose(stream);
        if (broken)
            return fault_set(f, sys != 0 ? FAULT_READ : FAULT_COMPRESSION, sys, 0, sys != 0 ? NULL : broken);
        return fault_set(f, FAULT_CAPTURE, 0, 0, words);
    }
    size_t length = byte_source_kept(bytes, &kept);

    pcap_head_read(kept, length, &head);
    byte_source_forget(bytes);
    s->classic = !head.pcapng;
    s->simple = head.simple;
    s->fraction_ns = head.time_unit_ns > 0 ? 1000 : 1;
    s->fractions = 1000000000 / s->fraction_ns;
    s->longest = pcap_snapshot(s->pcap) > 0 ? (uint32_t)pcap_snapshot(s->pcap) : 0;
    facts->form = head.pcapng ? TRACE_PCAPNG : TRACE_PCAP;
    facts->default_time_ns = head.time_unit_ns;
    return pcap_datalink(s->pcap) == LINKTYPE_USER0 || link_type_fault(s->pcap, &head, f);
}

struct pcap_source *pcap_source_new(struct byte_source *bytes, struct trace_facts *facts, struct fault *f)
{
    struct pcap_source *s = calloc(1, sizeof *s);
    const uint8_t      *first;
    size_t              length = byte_source_peek(bytes, sizeof(uint32_t), &first);
    struct pcap_head    head;
    bool                classic = pcap_head_read(first, length, &head) && !head.pcapng;
    FILE               *stream = s ? byte_source_stream(bytes, classic) : NULL;

    if (!stream) {
        free(s);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    s->bytes = bytes;
    if (!head_open(s, bytes, stream, facts, f)) {
        pcap_source_free(s);
        return NULL;
    }
    return s;
}

void pcap_source_free(struct pcap_source *s)
{
    if (!s)
        return;
    if (s->pcap)
        pcap_close(s->pcap); /* closes the stream too */
    free(s);
}

/* libpcap reads the seconds of a classic file as signed; the format says they are not. */
static int64_t stamp_of(const struct pcap_source *s, const struct timeval *ts)
{
    int64_t seconds = s->classic ? (int64_t)(uint32_t)ts->tv_sec : (int64_t)ts->tv_sec;

    if (seconds > SECONDS_LIMIT)
        return RECORD_TIME_LIMIT;
    if (seconds < -SECONDS_LIMIT)
        return -RECORD_TIME_LIMIT;
    return seconds * 1000000000 + ts->tv_usec; /* nanoseconds, as asked for */
}

enum { PACKET_HEADER_BYTES = 16 };

/* The next packet of a simple file, whole and with nothing odd in its header. False: nothing is taken, libpcap is to see to it. */
static bool simple_next(struct pcap_source *s, struct arrival *a)
{
    struct cursor *ahead = byte_source_ahead(s->bytes, PACKET_HEADER_BYTES);

    if (!ahead)
        return false;
    struct cursor  header = *ahead;
    const uint8_t *words = cursor_take(&header, PACKET_HEADER_BYTES);
    uint32_t       seconds = (uint32_t)cursor_block_i32le(words, 0), fraction = (uint32_t)cursor_block_i32le(words, 1);
    uint32_t       length = (uint32_t)cursor_block_i32le(words, 2), was = (uint32_t)cursor_block_i32le(words, 3);

    if (fraction >= s->fractions || length > s->longest || length > LONGEST)
        return false;
    ahead = byte_source_ahead(s->bytes, PACKET_HEADER_BYTES + length);
    if (!ahead)
        return false;
    cursor_take(ahead, PACKET_HEADER_BYTES);
    a->bytes = cursor_take(ahead, length);
    a->length = length;
    a->cut = length < was;
    a->text_damaged = false;
    a->stamp_ns = (int64_t)seconds * 1000000000 + (int64_t)fraction * s->fraction_ns;
    a->frame = ++s->frames;
    return true;
}

enum arrival_end pcap_source_next(struct pcap_source *s, struct arrival *a)
{
    if (s->simple && simple_next(s, a))
        return ARRIVAL_MORE;

    struct pcap_pkthdr *header;
    const u_char       *bytes;
    int                 result = pcap_next_ex(s->pcap, &header, &bytes);

    if (result != 1)
        return result == PCAP_ERROR_BREAK ? ARRIVAL_END : ARRIVAL_BROKEN;
    a->bytes = bytes;
    a->length = header->caplen < LONGEST ? header->caplen : LONGEST;
    a->cut = header->caplen < header->len;
    a->text_damaged = false;
    a->stamp_ns = stamp_of(s, &header->ts);
    a->frame = ++s->frames;
    return ARRIVAL_MORE;
}

bool pcap_source_direct(const struct pcap_source *s)
{
    return s->simple;
}

const char *pcap_source_words(const struct pcap_source *s)
{
    return pcap_geterr(s->pcap);
}
