/*
 * tests/synth/trace_of.h - a scenario played, its readings in one list, and the truth beside them.
 *
 *   t_ns nanoseconds since the trace's first record · _uv _ua as in the records
 */
#pragma once
#include "capture/record.h"

#include <stdbool.h>
#include <stdint.h>

struct cJSON;

enum { ROWS_MAX = 400000, MARKS_MAX = 64 };
struct row { int64_t t_ns; int32_t uv, ua; };
struct mark { int64_t t_ns; unsigned action; };

struct trace_of {
    struct row  *rows;
    unsigned     row_count, mark_count;
    struct mark  marks[MARKS_MAX];
    char         about[4096];
    uint64_t     frames, ready_frame; /* ready_frame: of the last PS_RDY */
    int64_t      ready_ns;
    struct cJSON *truth;
};

/* Fails the test where the scenario is refused. Free with trace_free. */
void trace_play(struct trace_of *t, const char *scenario, int64_t seed);
void trace_free(struct trace_of *t);
/* The first reading at this time or later; fails the test where there is none. */
const struct row *trace_row(const struct trace_of *t, int64_t t_ns);
/* A number of the truth by its path, such as contracts.1.change.begin_ns; fails the test where there is none. */
double truth_number(const struct trace_of *t, const char *path);
bool truth_has(const struct trace_of *t, const char *path);
/* Fails the test where value is further from due than within. */
#define assert_near(value, due, within) near_at((value), (due), (within), __FILE__, __LINE__)
void near_at(double value, double due, double within, const char *file, int line);
/* Mean, and standard deviation of one value, of n numbers. */
struct spread { double mean, deviation; };
struct spread spread_of(const double *x, unsigned n);
