/*
 * How fast readings are judged: bench_power PORTASSAY GENERATE_POWER [MEGABYTES [FOLDER]]
 *
 * Makes traces of POWER records with a contract in force (4000 MB each unless told otherwise or the disk has no room), and times `check`
 * over each beside `cat`, as processes of their own, best of three: gigabytes of the file a second of the processor's time, and greatest
 * resident memory. The first trace is an eighth as long as the second and otherwise the same: memory does not depend on it. Nothing is
 * asserted but that the runs ended well and nothing failed: time is for reading, not for passing or failing.
 */
#include "tests/bench/run.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

/* share: of the size asked for. */
static const struct { const char *what, *rows, *spacing_ns; unsigned share; } cases[] = {
    { "1000 rows a record, 1 us apart, an eighth", "1000", "1000", 8 },
    { "1000 rows a record, 1 us apart", "1000", "1000", 1 },
    { "1000 rows a record, 1 ms apart", "1000", "1000000", 1 },
    { "100 rows a record, 1 us apart", "100", "1000", 1 },
    { "100 rows a record, 1 ms apart", "100", "1000000", 1 },
    { "single rows, 1 ms apart", "1", "1000000", 4 },
};

static void print_cost(const char *name, const struct cost *c, double bytes)
{
    printf("  %-16s %8.2f GB/s %8.2f s of the processor %8.2f s %8.1f MiB\n", name, bytes / 1e9 / c->cpu_s, c->cpu_s, c->seconds,
           (double)c->peak_kib / 1024);
}

static bool measure(unsigned k, char *portassay, char *path)
{
    char       *cat_argv[] = { "cat", path, NULL }, *check_argv[] = { portassay, "check", path, NULL };
    struct cost cat, check;
    struct stat file;

    if (stat(path, &file) != 0 || !run_best("cat", cat_argv, &cat) || !run_best("check", check_argv, &check))
        return false;
    printf("%s: %.0f MB\n", cases[k].what, (double)file.st_size / 1e6);
    print_cost("cat", &cat, (double)file.st_size);
    print_cost("portassay check", &check, (double)file.st_size);
    fflush(stdout);
    if (check.status == 1)
        fprintf(stderr, "check: something failed that should not\n");
    return check.status == 0;
}

static bool make_and_measure(unsigned k, char *portassay, char *generate, unsigned long megabytes, const char *folder)
{
    char path[4096], size[24];
    int  file;
    bool good;

    snprintf(path, sizeof path, "%s/portassay-power-XXXXXX", folder);
    snprintf(size, sizeof size, "%lu", (megabytes + cases[k].share - 1) / cases[k].share);
    file = mkstemp(path);
    if (file < 0) {
        perror(path);
        return false;
    }
    close(file);
    char *argv[] = { generate, size, (char *)cases[k].rows, (char *)cases[k].spacing_ns, path, NULL };

    good = run_once(argv).status == 0;
    if (!good)
        fprintf(stderr, "%s: did not make %s MB in %s\n", generate, size, path);
    good = good && measure(k, portassay, path);
    unlink(path);
    return good;
}

/* As much of it as the disk has room for, and something left. */
static unsigned long that_fits(unsigned long megabytes, const char *folder)
{
    struct statvfs disk;
    unsigned long  room;

    if (statvfs(folder, &disk) != 0)
        return megabytes;
    room = (unsigned long)((double)disk.f_bavail * (double)disk.f_frsize / 1e6 * 0.9);
    if (room >= megabytes || room == 0)
        return megabytes;
    printf("%s has room for %lu MB only\n", folder, room);
    return room;
}

int main(int argc, char **argv)
{
    unsigned long megabytes = argc > 3 ? strtoul(argv[3], NULL, 10) : 4000;
    const char   *folder = argc > 4 ? argv[4] : "/var/tmp";

    if (argc < 3 || argc > 5 || megabytes == 0) {
        fputs("usage: bench_power PORTASSAY GENERATE_POWER [MEGABYTES [FOLDER]]\n", stderr);
        return 2;
    }
    megabytes = that_fits(megabytes, folder);
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++)
        if (!make_and_measure(k, argv[1], argv[2], megabytes, folder))
            return 1;
    return 0;
}
