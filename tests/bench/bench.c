/*
 * How fast: bench PORTASSAY GENERATE [RECORDS [FILE]]
 *
 * Makes a trace (5 million records unless told otherwise; FILE keeps it), then times over it, each as a process of its own, best of
 * three: a bare loop of libpcap as it comes, the same reading 64 KiB at a time (as portassay does), `check`, `show`. Prints time a
 * record, ratio to the first, greatest resident memory, and how many rules passed. Nothing is asserted but that every run ended well: time is for reading, not for passing or failing.
 */
#include "tests/bench/run.h"

#include <errno.h>
#include <pcap/pcap.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LARGE_BYTES = 64 * 1024 };

/* libpcap opens the file by itself, and reads as much at a time as stdio thinks right; or it is given a stream with a larger buffer. */
static pcap_t *loop_open(const char *path, char *large, char *words)
{
    FILE *f = large ? fopen(path, "rb") : NULL;

    if (!large)
        return pcap_open_offline_with_tstamp_precision(path, PCAP_TSTAMP_PRECISION_NANO, words);
    if (!f) {
        snprintf(words, PCAP_ERRBUF_SIZE, "%s: %s", path, strerror(errno));
        return NULL;
    }
    setvbuf(f, large, _IOFBF, LARGE_BYTES);
    return pcap_fopen_offline_with_tstamp_precision(f, PCAP_TSTAMP_PRECISION_NANO, words);
}

/* The bare loop: every packet fetched, one byte of it looked at. */
static int loop(const char *path, bool large)
{
    char                      words[PCAP_ERRBUF_SIZE], buffer[LARGE_BYTES]; /* the stream is closed with p */
    pcap_t                   *p = loop_open(path, large ? buffer : NULL, words);
    struct pcap_pkthdr       *head;
    const u_char             *bytes;
    uint64_t                  records = 0, sum = 0;

    if (!p) {
        fprintf(stderr, "%s\n", words);
        return 2;
    }
    while (pcap_next_ex(p, &head, &bytes) == 1) {
        records++;
        sum += bytes[head->caplen - 1];
    }
    pcap_close(p);
    printf("%llu %llu\n", (unsigned long long)records, (unsigned long long)sum);
    return 0;
}

/* Rules with verdict pass, of how many, in the JSON of `check`. */
static bool count_rules(const char *portassay, const char *path, unsigned *passing, unsigned *all)
{
    char   command[4096], *line = NULL;
    size_t room = 0;
    FILE  *f;

    snprintf(command, sizeof command, "'%s' check --json '%s'", portassay, path);
    f = popen(command, "r");
    if (!f)
        return false;
    while (getline(&line, &room, f) > 0) {
        const char *list = strstr(line, "\"rules\":["), *findings = strstr(line, "\"findings\":[");

        for (const char *at = list; at && (at = strstr(at, "{\"rule\":\"")) && (!findings || at < findings); at++) {
            const char *verdict = strstr(at, "\"verdict\":\"");

            *passing += verdict && strncmp(verdict + 11, "pass\"", 5) == 0;
            (*all)++;
        }
    }
    free(line);
    return pclose(f) != -1 && *all > 0;
}

static void print_cost(const char *name, const struct cost *c, const struct cost *bare, unsigned long records)
{
    printf("%-18s %8.1f ns a record %8.2f x %10.1f MiB\n", name, c->seconds / (double)records * 1e9, c->seconds / bare->seconds,
           (double)c->peak_kib / 1024);
}

static int measure(char *self, char *portassay, char *path, unsigned long records)
{
    char       *bare_argv[] = { self, "--loop", path, NULL };
    char       *large_argv[] = { self, "--loop-large", path, NULL };
    char       *check_argv[] = { portassay, "check", path, NULL };
    char       *show_argv[] = { portassay, "show", path, NULL };
    struct cost bare = { 0 }, large = { 0 }, check = { 0 }, show = { 0 };
    unsigned    passing = 0, all = 0;

    if (!run_best("bare loop", bare_argv, &bare) || !run_best("bare loop, 64 KiB", large_argv, &large) ||
        !run_best("check", check_argv, &check) || !run_best("show", show_argv, &show))
        return 1;
    printf("%lu records, best of %d runs\n", records, (int)BENCH_RUNS);
    print_cost("bare pcap loop", &bare, &bare, records);
    print_cost("the same, 64 KiB", &large, &bare, records);
    print_cost("portassay check", &check, &bare, records);
    print_cost("portassay show", &show, &bare, records);
    if (!count_rules(portassay, path, &passing, &all)) {
        fputs("check --json: no list of rules\n", stderr);
        return 1;
    }
    printf("%u of %u rules pass\n", passing, all);
    return 0;
}

static int usage(void)
{
    fputs("usage: bench PORTASSAY GENERATE [RECORDS [FILE]]\n", stderr);
    return 2;
}

int main(int argc, char **argv)
{
    char          self[4096] = "", made[] = "/var/tmp/portassay-bench-XXXXXX", *path = argc > 4 ? argv[4] : made;
    unsigned long records = argc > 3 ? strtoul(argv[3], NULL, 10) : 5000000;
    char          number[24];
    int           status;

    if (argc == 3 && strcmp(argv[1], "--loop") == 0)
        return loop(argv[2], false);
    if (argc == 3 && strcmp(argv[1], "--loop-large") == 0)
        return loop(argv[2], true);
    if (argc < 3 || argc > 5 || records == 0)
        return usage();
    if (readlink("/proc/self/exe", self, sizeof self - 1) < 0) {
        perror("/proc/self/exe");
        return 2;
    }
    if (path == made) {
        int file = mkstemp(made);

        if (file < 0) {
            perror(made);
            return 2;
        }
        close(file);
    }
    snprintf(number, sizeof number, "%lu", records);
    status = run_once((char *[]){ argv[2], number, path, NULL }).status;
    if (status == 0)
        status = measure(self, argv[1], path, records);
    else
        fprintf(stderr, "%s: ended with %d\n", argv[2], status);
    if (path == made)
        unlink(made);
    return status;
}
