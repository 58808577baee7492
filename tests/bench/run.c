#include "tests/bench/run.h"

#include <fcntl.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static double seconds_of(struct timeval t)
{
    return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

struct cost run_once(char *const argv[])
{
    struct rusage usage;
    struct cost   cost = { .seconds = now_s(), .status = -1 };
    int           status = 0;
    pid_t         child = fork();

    if (child == 0) {
        int nowhere = open("/dev/null", O_WRONLY);

        if (nowhere < 0 || dup2(nowhere, STDOUT_FILENO) < 0)
            _exit(126);
        execvp(argv[0], argv);
        _exit(127);
    }
    if (child < 0 || wait4(child, &status, 0, &usage) != child)
        return cost;
    cost.seconds = now_s() - cost.seconds;
    cost.cpu_s = seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime);
    cost.peak_kib = usage.ru_maxrss;
    if (WIFEXITED(status))
        cost.status = WEXITSTATUS(status);
    return cost;
}

bool run_best(const char *name, char *const argv[], struct cost *best)
{
    for (unsigned k = 0; k < BENCH_RUNS; k++) {
        struct cost one = run_once(argv);

        if (one.status < 0 || one.status > 1) {
            fprintf(stderr, "%s: ended with %d\n", name, one.status);
            return false;
        }
        if (k == 0 || one.seconds < best->seconds)
            best->seconds = one.seconds;
        if (k == 0 || one.cpu_s < best->cpu_s)
            best->cpu_s = one.cpu_s;
        best->peak_kib = k == 0 || one.peak_kib > best->peak_kib ? one.peak_kib : best->peak_kib;
        best->status = one.status;
    }
    return true;
}
