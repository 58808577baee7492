/*
 * tests/cli/program.h - the built program, run as a person runs it, and small traces in the text form to run it on. What the
 * traces tell is INVENTED.
 */
#pragma once
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>

#include <cmocka.h>

struct cJSON;

struct run {
    int    status;      /* exit code; 128 + signal */
    char  *out, *err;   /* ended by a zero byte */
    size_t out_length;
};

/* Runs it with these arguments (ends with NULL); input: text on standard input, or NULL. Free with run_free. */
struct run program_run(const char *input, const char *const *arguments);
#define RUN(...) program_run(NULL, (const char *const[]){ __VA_ARGS__, NULL })
#define RUN_ON(input, ...) program_run(input, (const char *const[]){ __VA_ARGS__, NULL })
/* The same with standard output going there: "/dev/full", or "-": closed. */
struct run program_run_to(const char *output, const char *input, const char *const *arguments);
void run_free(struct run *r);

/* A path in a directory of this test's own; gone with files_remove. */
const char *file_path(const char *name);
void file_write(const char *name, const void *bytes, size_t length);
int files_remove(void **state);

/* Line n (from 0) of JSON lines as a tree, NULL if there is none or it is no JSON. */
struct cJSON *json_line_of(const char *text, unsigned n);
int64_t number_of(const struct cJSON *object, const char *key); /* fails the test if it is no number */
const char *text_of(const struct cJSON *object, const char *key);
bool flag_of(const struct cJSON *object, const char *key);
bool is_null(const struct cJSON *object, const char *key);
const struct cJSON *member(const struct cJSON *object, const char *key);

/* A line of the text form. */
struct lines { char text[65536]; size_t used; };
void line_add(struct lines *l, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* A packet: header, words, and its CRC-32 by zlib. spoil: one bit of the CRC is turned round. */
void packet_add(struct lines *l, const char *time, unsigned port, const char *set, uint16_t header, const uint32_t *words,
                unsigned count, bool spoil);
/* An extended message: extended header, bytes of the chunk, filled up to four. */
void extended_add(struct lines *l, const char *time, unsigned port, const char *set, uint16_t header, uint16_t extended_header,
                  const uint8_t *bytes, size_t length);
/* Message header of revision 3.x on SOP: source is also DFP, a sink UFP. */
uint16_t header_of(unsigned type, unsigned objects, unsigned id, bool source);
enum { HEADER_EXTENDED = 0x8000 };
