/*
 * tests/cli/cli_try.h - a command run inside the test, on a trace built in memory: what it printed, complained and returned.
 */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "cli/command.h"
#include "tests/rules/bench_lines.h"

#include <cjson/cJSON.h>

enum { TRY_ARGUMENTS = 16 };

struct try {
    int    status;
    char  *text;       /* what it printed; free with try_free */
    char  *complaints; /* what came on standard error */
    cJSON *json;       /* the text as JSON, its first line; NULL if it is none */
};

/* Writes the records of l as a classic nanosecond capture of link type 147 to a new temporary file; its name in path. */
void try_save(const struct lines *l, char path[64]);
void try_remove(const char *path);
/* Runs the command with these arguments (ends with NULL), output to a temporary file by -o. */
struct try try_run(const struct command *c, ...);
void try_free(struct try *t);

/* Ways through JSON; each asserts that what it looks for is there. Path: "ports.0.offers.1.pdos". */
const cJSON *at(const cJSON *root, const char *path);
double       number_at(const cJSON *root, const char *path);
const char  *text_at(const cJSON *root, const char *path);
bool         true_at(const cJSON *root, const char *path);
int          size_at(const cJSON *root, const char *path);
/* The element of an array (at path) whose key is this text, NULL if none. */
const cJSON *find_at(const cJSON *root, const char *path, const char *key, const char *value);
/* Does the printed text hold this? Prints it all where it does not. */
void expect_text(const struct try *t, const char *part);
void expect_no_text(const struct try *t, const char *part);
void expect_complaint(const struct try *t, const char *part);
/* No printed line is longer than this many characters. */
void expect_width(const struct try *t, size_t most);
