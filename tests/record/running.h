/*
 * tests/record/running.h - the built program while it runs: started, written to, watched, stopped. What it records is INVENTED.
 */
#pragma once
#include "tests/cli/program.h"

#include <sys/types.h>

struct running {
    pid_t pid;
    int   in, out, err;    /* our ends of its standard streams; -1: /dev/null, or a file */
    int   terminal;        /* our end of its terminal, if it has one */
    char  heard[1 << 16];  /* what came from err, or from the terminal */
    size_t used;
};

enum running_how { RUNNING_PLAIN = 0, RUNNING_ON_TERMINAL = 1, RUNNING_OUT_PIPE = 2, RUNNING_IN_PIPE = 4 };

/* Starts it; ends with NULL. On a terminal: standard input and error are one, made for it. */
void running_start(struct running *r, unsigned how, const char *const *arguments);
#define START(r, how, ...) running_start(r, how, (const char *const[]){ __VA_ARGS__, NULL })
/* Waits until these words were heard. Fails the test when the program ends before, or after half a minute. */
void running_hear(struct running *r, const char *words);
/* Waits for its end, hearing on; its exit code, or 128 + signal. Fails the test after half a minute. */
int running_wait(struct running *r);
int running_stop(struct running *r, int signal);

/* file_path, kept for longer than its next calls; and the same as a source. */
struct place { char path[600], source[620]; };
struct place place_of(const char *name);
/* A new named pipe. */
struct place pipe_make(const char *name);
/* Our end of a named pipe that it reads from; waits until it does. */
int pipe_write(const char *path);
void say(int fd, const char *format, ...) __attribute__((format(printf, 2, 3)));
void pause_ms(long ms);
int64_t clock_ms(void);

/* Records of a trace as `show --json` tells them: how many lines hold these words. */
unsigned lines_with(const char *text, const char *words);
