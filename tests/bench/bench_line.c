/*
 * How fast CC lines are read: bench_line PORTASSAY GENERATE_LINE READ_LINE [MEGABYTES [FOLDER]]
 *
 * Makes files of packed samples at 24 MS/s and value change dumps (1000 MB each unless told otherwise), and times over each, as processes
 * of their own, best of three: a plain program that goes through the same bytes (`cat`, `wc -l`), the reader alone, and `import`, which
 * decodes and writes a trace, without and with the changes kept (--edges). Gigabytes of the file a second of the processor's time, how many
 * times as fast as the line was, and greatest resident memory. At the end a dump with one line spoilt: import has to name it, lose the packet
 * that it is in, and nothing else. Nothing else is asserted but that the runs ended well: time is for reading.
 */
#include "tests/bench/run.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_BYTES = 4096, TAIL_BYTES = 200 };

static const struct { const char *what, *made, *kind, *lines, *input; bool dump; } cases[] = {
    { "packed samples, nobody talks", "idle", "bits", "1", "bits,rate=24M", false },
    { "packed samples, 90 % busy", "busy", "bits", "1", "bits,rate=24M", false },
    { "value change dump, one signal", "one", "vcd", "1", "vcd,cc1=cc1", true },
    { "value change dump, four signals", "four", "vcd", "4", "vcd,cc1@0=cc1,cc1@1=cc2,cc1@2=cc3,cc1@3=cc4", true },
};

struct paths { char *portassay, *generate, *read; char made[PATH_BYTES], trace[PATH_BYTES], input[PATH_BYTES + 100]; };

static void print_cost(const char *name, const struct cost *c, double bytes, double line_s)
{
    printf("  %-24s %8.2f GB/s %8.0f x real time %8.2f s of the processor %8.1f MiB\n", name, bytes / 1e9 / c->cpu_s, line_s / c->cpu_s, c->cpu_s,
           (double)c->peak_kib / 1024);
    fflush(stdout);
}

/* How long the line was recorded: by its samples, or the last time of the dump, in nanoseconds. */
static double line_seconds(const char *path, bool dump, double bytes)
{
    char   tail[TAIL_BYTES + 1] = "", *mark;
    FILE  *f = dump ? fopen(path, "rb") : NULL;
    size_t n = 0;

    if (f && fseek(f, -TAIL_BYTES, SEEK_END) == 0)
        n = fread(tail, 1, TAIL_BYTES, f);
    if (f)
        fclose(f);
    tail[n] = '\0';
    mark = strrchr(tail, '#');
    return mark ? (double)strtoull(mark + 1, NULL, 10) / 1e9 : bytes * 8 / 24e6;
}

static bool time_it(const char *name, char *const argv[], double bytes, double line_s)
{
    struct cost cost;

    if (!run_best(name, argv, &cost))
        return false;
    print_cost(name, &cost, bytes, line_s);
    if (cost.status != 0)
        fprintf(stderr, "%s: ended with %d\n", name, cost.status);
    return cost.status == 0;
}

static bool measure(unsigned k, struct paths *p)
{
    char *plain_argv[] = { cases[k].dump ? "wc" : "cat", cases[k].dump ? "-l" : p->made, cases[k].dump ? p->made : NULL, NULL };
    char *read_argv[] = { p->read, (char *)cases[k].kind, (char *)cases[k].lines, p->made, NULL };
    char *import_argv[] = { p->portassay, "import", "-q", "--overwrite", "-o", p->trace, p->input, NULL };
    char *edges_argv[] = { p->portassay, "import", "-q", "--overwrite", "--edges", "-o", p->trace, p->input, NULL };
    struct stat file;

    if (stat(p->made, &file) != 0)
        return false;
    double bytes = (double)file.st_size, line_s = line_seconds(p->made, cases[k].dump, bytes);

    printf("%s: %.0f MB, %.0f s of the line\n", cases[k].what, bytes / 1e6, line_s);
    snprintf(p->input, sizeof p->input, "%s:%s", cases[k].input, p->made);
    return time_it(cases[k].dump ? "wc -l" : "cat", plain_argv, bytes, line_s) && time_it("the reader", read_argv, bytes, line_s) &&
           time_it("portassay import", import_argv, bytes, line_s) && time_it("portassay import --edges", edges_argv, bytes, line_s);
}

static bool make(const char *what, const char *megabytes, struct paths *p)
{
    char *argv[] = { p->generate, (char *)what, (char *)megabytes, p->made, NULL };

    if (run_once(argv).status == 0)
        return true;
    fprintf(stderr, "%s: did not make %s MB in %s\n", p->generate, megabytes, p->made);
    return false;
}

/* What the import says about lines, and how many packets the trace has: lines of its text form, counted by another program. */
static uint64_t records_of(struct paths *p, char *said, size_t cap)
{
    char     command[3 * PATH_BYTES], line[1000];
    uint64_t records = 0;

    said[0] = '\0';
    snprintf(command, sizeof command, "'%s' import --overwrite -o '%s' 'vcd:%s' 2>&1", p->portassay, p->trace, p->made);
    FILE *f = popen(command, "r");

    while (f && fgets(line, sizeof line, f))
        if (strstr(line, "line "))
            snprintf(said + strlen(said), cap - strlen(said), "%s", line);
    if (f)
        pclose(f);
    snprintf(command, sizeof command, "'%s' show --text '%s' | grep -c ' SOP '", p->portassay, p->trace);
    f = popen(command, "r");
    if (!f || fscanf(f, "%" SCNu64, &records) != 1)
        records = 0;
    if (f)
        pclose(f);
    return records;
}

/* Two thirds into the file, a change is made to say nothing. Which line that is, is counted by wc. */
static uint64_t spoil(const char *path)
{
    struct stat file;
    char        text[TAIL_BYTES + 1] = "", command[PATH_BYTES + 100];
    FILE       *f = stat(path, &file) == 0 ? fopen(path, "r+b") : NULL;
    long        at = f ? (long)(file.st_size / 3 * 2) : 0;
    uint64_t    lines = 0;

    if (!f || fseek(f, at, SEEK_SET) != 0 || fread(text, 1, TAIL_BYTES, f) != TAIL_BYTES)
        abort();
    char *spot = strstr(strchr(text, '#'), "\n"); /* behind a time: the change */

    at += spot + 1 - text;
    if (fseek(f, at, SEEK_SET) != 0 || fputc('?', f) == EOF || fclose(f) != 0)
        abort();
    snprintf(command, sizeof command, "head -c %ld '%s' | wc -l", at, path);
    f = popen(command, "r");
    if (!f || fscanf(f, "%" SCNu64, &lines) != 1)
        lines = 0;
    if (f)
        pclose(f);
    return lines + 1;
}

static bool one_bad_line(struct paths *p)
{
    char     said[2000], wanted[40];
    uint64_t before = records_of(p, said, sizeof said), line = spoil(p->made), after = records_of(p, said, sizeof said);
    bool     good;

    snprintf(wanted, sizeof wanted, "line %" PRIu64 " ", line);
    good = strstr(said, wanted) && before > 0 && after + 1 >= before && after <= before;
    printf("one line of a dump spoilt, line %" PRIu64 ": %" PRIu64 " packets before, %" PRIu64 " after\n%s", line, before, after, said);
    if (!good)
        fprintf(stderr, "one bad line lost more than itself, or was not named\n");
    return good;
}

int main(int argc, char **argv)
{
    const char  *megabytes = argc > 4 ? argv[4] : "1000", *folder = argc > 5 ? argv[5] : "/var/tmp";
    struct paths p = { 0 };
    bool         good = argc >= 4 && argc <= 6 && strtoul(megabytes, NULL, 10) > 0;
    int          file;

    if (!good) {
        fputs("usage: bench_line PORTASSAY GENERATE_LINE READ_LINE [MEGABYTES [FOLDER]]\n", stderr);
        return 2;
    }
    p.portassay = argv[1];
    p.generate = argv[2];
    p.read = argv[3];
    snprintf(p.made, sizeof p.made, "%s/portassay-line-XXXXXX", folder);
    file = mkstemp(p.made);
    if (file < 0) {
        perror(p.made);
        return 1;
    }
    close(file);
    snprintf(p.trace, sizeof p.trace, "%.4000s.pcap", p.made);
    for (unsigned k = 0; good && k < sizeof cases / sizeof cases[0]; k++)
        good = make(cases[k].made, megabytes, &p) && measure(k, &p);
    good = good && make("one", megabytes, &p) && one_bad_line(&p);
    unlink(p.made);
    unlink(p.trace);
    return good ? 0 : 1;
}
