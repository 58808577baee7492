/*
 * tests/bench/run.h - running a program for its time: output thrown away, best of BENCH_RUNS.
 */
#pragma once
#include <stdbool.h>

enum { BENCH_RUNS = 3 };

/* seconds: on the clock; cpu_s: of the processor, for the program and for the system on its behalf. status: exit code, -1 if it came
 * to another end. */
struct cost { double seconds, cpu_s; long peak_kib; int status; };

struct cost run_once(char *const argv[]);
/* The least of either time. False: a run ended with neither 0 nor 1, said on standard error. */
bool run_best(const char *name, char *const argv[], struct cost *best);
