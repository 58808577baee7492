#define _GNU_SOURCE /* pcap.h names u_char and its like; F_DUPFD_CLOEXEC, "e" */
#include "capture/writer.h"

#include <errno.h>
#include <fcntl.h>
#include <pcap/pcap.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LINKTYPE_USER0 = 147, SNAPSHOT_BYTES = 262144, BUFFER_BYTES = 64 * 1024 };
#define SECOND_NS INT64_C(1000000000)

struct trace_writer {
    pcap_t        *pcap;
    pcap_dumper_t *dumper;
    char           buffer[BUFFER_BYTES];
};

/* Standard output through a descriptor of our own, for libpcap closes what it is given. */
static FILE *file_open(const char *path)
{
    if (strcmp(path, "-") != 0)
        return fopen(path, "wbe");
    int fd = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 0);

    return fd < 0 ? NULL : fdopen(fd, "wb");
}

static bool dumper_open(struct trace_writer *w, const char *path, struct fault *f)
{
    FILE *file = file_open(path);

    if (!file)
        return fault_set(f, FAULT_OPEN, errno, 0, NULL);
    setvbuf(file, w->buffer, _IOFBF, sizeof w->buffer);
    w->dumper = pcap_dump_fopen(w->pcap, file);
    if (w->dumper)
        return trace_writer_flush(w, f); /* so that a reader at the other end of a pipe can begin */
    fclose(file);
    return fault_set(f, FAULT_OPEN, 0, 0, pcap_geterr(w->pcap));
}

struct trace_writer *trace_writer_open(const char *path, struct fault *f)
{
    struct trace_writer *w = calloc(1, sizeof *w);

    fault_set(f, FAULT_NONE, 0, 0, NULL);
    if (w)
        w->pcap = pcap_open_dead_with_tstamp_precision(LINKTYPE_USER0, SNAPSHOT_BYTES, PCAP_TSTAMP_PRECISION_NANO);
    if (!w || !w->pcap) {
        free(w);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    if (!dumper_open(w, path, f)) {
        trace_writer_close(w, NULL);
        return NULL;
    }
    return w;
}

bool trace_writer_put(struct trace_writer *w, int64_t stamp_ns, const uint8_t *bytes, size_t length, struct fault *f)
{
    /* The seconds of a classic capture are 32 bits without a sign. */
    if (stamp_ns < 0 || stamp_ns / SECOND_NS > (int64_t)UINT32_MAX)
        return fault_set(f, FAULT_WRITE, EOVERFLOW, stamp_ns, NULL);
    if (length > SNAPSHOT_BYTES)
        return fault_set(f, FAULT_WRITE, EMSGSIZE, 0, NULL);
    struct pcap_pkthdr header = { .caplen = (bpf_u_int32)length, .len = (bpf_u_int32)length };

    header.ts.tv_sec = (time_t)(stamp_ns / SECOND_NS);
    header.ts.tv_usec = (suseconds_t)(stamp_ns % SECOND_NS); /* nanoseconds, as the file was opened for */
    errno = 0;
    pcap_dump((u_char *)w->dumper, &header, bytes);
    if (ferror(pcap_dump_file(w->dumper)))
        return fault_set(f, FAULT_WRITE, errno, 0, NULL);
    return true;
}

bool trace_writer_flush(struct trace_writer *w, struct fault *f)
{
    errno = 0;
    if (pcap_dump_flush(w->dumper) != 0 || ferror(pcap_dump_file(w->dumper)))
        return fault_set(f, FAULT_WRITE, errno, 0, NULL);
    return true;
}

bool trace_writer_close(struct trace_writer *w, struct fault *f)
{
    bool written = true;

    if (!w)
        return true;
    if (w->dumper) {
        written = trace_writer_flush(w, f);
        pcap_dump_close(w->dumper);
    }
    pcap_close(w->pcap);
    free(w);
    return written;
}
