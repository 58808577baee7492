#define _GNU_SOURCE /* pty */
#include "tests/record/running.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { ARGUMENTS_MAX = 32, PATIENCE_MS = 30000 };

int64_t clock_ms(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

void pause_ms(long ms)
{
    struct timespec t = { ms / 1000, ms % 1000 * 1000000 };

    nanosleep(&t, NULL);
}

struct ends { int in[2], out[2], err[2], terminal[2]; };

static void child(const struct ends *e, unsigned how, const char *const *arguments)
{
    char *argv[ARGUMENTS_MAX] = { (char *)(uintptr_t)"portassay" };
    int   null = open("/dev/null", O_RDWR);

    if (how & RUNNING_ON_TERMINAL) {
        setsid();
        ioctl(e->terminal[1], TIOCSCTTY, 0);
        dup2(e->terminal[1], 0);
        dup2(e->terminal[1], 2);
    } else {
        dup2(how & RUNNING_IN_PIPE ? e->in[0] : null, 0);
        dup2(e->err[1], 2);
    }
    dup2(how & RUNNING_OUT_PIPE ? e->out[1] : null, 1);
    for (int fd = 3; fd < 64; fd++)
        close(fd);
    for (unsigned i = 0; arguments[i] && i + 2 < ARGUMENTS_MAX; i++)
        argv[i + 1] = (char *)(uintptr_t)arguments[i];
    execv(PORTASSAY_PROGRAM, argv);
    _exit(127);
}

static int keep(int mine, int other)
{
    close(other);
    fcntl(mine, F_SETFD, FD_CLOEXEC);
    return mine;
}

void running_start(struct running *r, unsigned how, const char *const *arguments)
{
    struct ends    e = { { -1, -1 }, { -1, -1 }, { -1, -1 }, { -1, -1 } };
    struct winsize size = { .ws_row = 25, .ws_col = 120 };

    memset(r, 0, sizeof *r);
    r->in = r->out = r->err = r->terminal = -1;
    assert_int_equal(pipe(e.in) | pipe(e.out) | pipe(e.err), 0);
    if (how & RUNNING_ON_TERMINAL)
        assert_int_equal(openpty(&e.terminal[0], &e.terminal[1], NULL, NULL, &size), 0);
    r->pid = fork();
    assert_true(r->pid >= 0);
    if (r->pid == 0)
        child(&e, how, arguments);
    r->in = keep(e.in[1], e.in[0]);
    r->out = keep(e.out[0], e.out[1]);
    r->err = keep(e.err[0], e.err[1]);
    if (how & RUNNING_ON_TERMINAL)
        r->terminal = keep(e.terminal[0], e.terminal[1]);
}

/* What there is to hear. False: nothing more will come. */
static bool listen_on(struct running *r, int patience_ms)
{
    int           fd = r->terminal >= 0 ? r->terminal : r->err;
    struct pollfd one = { .fd = fd, .events = POLLIN };
    size_t        room = sizeof r->heard - 1 - r->used;

    if (poll(&one, 1, patience_ms) <= 0)
        return true;
    if (room < 1000) { /* the line that is drawn over and over */
        memmove(r->heard, r->heard + r->used / 2, r->used - r->used / 2);
        r->used -= r->used / 2;
        room = sizeof r->heard - 1 - r->used;
    }
    ssize_t n = read(fd, r->heard + r->used, room);

    if (n > 0)
        r->used += (size_t)n;
    r->heard[r->used] = '\0';
    return n > 0;
}

void running_hear(struct running *r, const char *words)
{
    int64_t until = clock_ms() + PATIENCE_MS;

    while (!strstr(r->heard, words)) {
        if (!listen_on(r, 100) || clock_ms() > until)
            fail_msg("\"%s\" was not heard; heard was: %s", words, r->heard);
    }
}

int running_wait(struct running *r)
{
    int64_t until = clock_ms() + PATIENCE_MS;
    int     status = 0;

    while (waitpid(r->pid, &status, WNOHANG) == 0) {
        if (clock_ms() > until) {
            kill(r->pid, SIGKILL);
            fail_msg("it does not end; heard was: %s", r->heard);
        }
        if (!listen_on(r, 20))
            pause_ms(5);
    }
    while (listen_on(r, 0) && r->terminal < 0 && r->used < sizeof r->heard - 2) {
        struct pollfd one = { .fd = r->err, .events = POLLIN };

        if (poll(&one, 1, 0) <= 0)
            break;
    }
    int fds[] = { r->in, r->out, r->err, r->terminal };

    for (unsigned k = 0; k < 4; k++)
        if (fds[k] >= 0)
            close(fds[k]);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

int running_stop(struct running *r, int signal)
{
    assert_int_equal(kill(r->pid, signal), 0);
    return running_wait(r);
}

struct place place_of(const char *name)
{
    struct place p;

    snprintf(p.path, sizeof p.path, "%s", file_path(name));
    snprintf(p.source, sizeof p.source, "text:%s", p.path);
    return p;
}

struct place pipe_make(const char *name)
{
    struct place p = place_of(name);

    unlink(p.path);
    assert_int_equal(mkfifo(p.path, 0600), 0);
    return p;
}

int pipe_write(const char *path)
{
    int fd;

    for (unsigned k = 0; (fd = open(path, O_WRONLY | O_NONBLOCK | O_CLOEXEC)) < 0; k++) {
        assert_int_equal(errno, ENXIO);
        assert_true(k < PATIENCE_MS / 5);
        pause_ms(5);
    }
    fcntl(fd, F_SETFL, 0);
    return fd;
}

void say(int fd, const char *format, ...)
{
    char    text[1000];
    va_list arguments;

    va_start(arguments, format);
    int n = vsnprintf(text, sizeof text, format, arguments);

    va_end(arguments);
    assert_true(n > 0 && (size_t)n < sizeof text);
    assert_int_equal(write(fd, text, (size_t)n), n);
}

unsigned lines_with(const char *text, const char *words)
{
    unsigned count = 0;

    for (const char *at = text; (at = strstr(at, words)) != NULL;) {
        count++;
        at = strchr(at, '\n');
        if (!at)
            break;
    }
    return count;
}
