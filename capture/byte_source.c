#define _GNU_SOURCE /* fopencookie */
#include "capture/byte_source_inside.h"

#include "capture/unpack_inside.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio_ext.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { STREAM_BUFFER_BYTES = 64 * 1024, AHEAD_BUFFER_BYTES = 64 * 1024 };

struct byte_source {
    struct unpack *unpack;
    int            fd; /* -1: memory */
    bool           fd_is_ours;
    off_t          start; /* where the file stood when it was opened; -1: it cannot be gone back in */
    size_t         memory_bytes;
    FILE          *direct; /* stream over the file itself */
    struct cursor  memory;
    int            sys; /* of a failed read */
    char           sys_words[100];

    uint8_t front[BYTE_PEEK_MAX]; /* peeked at, not taken */
    size_t  front_at, front_end;

    uint8_t      *ahead_buffer; /* read ahead of the stream: what stands in it comes next */
    struct cursor ahead;

    char    *stream_buffer;
    uint8_t *kept;
    size_t   kept_length;
    bool     keeping;
};

static size_t memory_read(struct byte_source *s, uint8_t *out, size_t cap)
{
    size_t         n = cap < s->memory.left ? cap : s->memory.left;
    const uint8_t *from = cursor_take(&s->memory, n);

    if (n > 0)
        memcpy(out, from, n);
    return n;
}

/* The bytes as they stand in the file. */
static size_t raw_read(void *context, uint8_t *out, size_t cap)
{
    struct byte_source *s = context;
    ssize_t             n;

    if (s->fd < 0)
        return memory_read(s, out, cap);
    do {
        n = read(s->fd, out, cap);
    } while (n < 0 && errno == EINTR);
    if (n < 0) {
        s->sys = errno;
        snprintf(s->sys_words, sizeof s->sys_words, "%s", strerror(s->sys));
        return 0;
    }
    return (size_t)n;
}

static off_t file_start(int fd)
{
    struct stat about;

    if (fd < 0 || fstat(fd, &about) != 0 || !S_ISREG(about.st_mode))
        return -1;
    return lseek(fd, 0, SEEK_CUR);
}

static struct byte_source *source_new(int fd, bool fd_is_ours, struct cursor memory, struct fault *f)
{
    struct byte_source *s = calloc(1, sizeof *s);

    if (s) {
        s->fd = fd;
        s->fd_is_ours = fd_is_ours;
        s->start = file_start(fd);
        s->memory = memory;
        s->memory_bytes = memory.left;
        s->unpack = unpack_new(raw_read, s);
    }
    if (!s || !s->unpack) {
        if (fd_is_ours)
            close(fd);
        free(s);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    return s;
}

struct byte_source *byte_source_open(const char *path, struct fault *f)
{
    bool from_stdin = strcmp(path, "-") == 0;
    int  fd = from_stdin ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);

    if (fd < 0) {
        fault_set(f, FAULT_OPEN, errno, 0, NULL);
        return NULL;
    }
    struct byte_source *s = source_new(fd, !from_stdin, cursor_over(NULL, 0), f);

    if (s && unpack_begin(s->unpack) == 0 && s->sys != 0) {
        fault_set(f, FAULT_READ, s->sys, 0, NULL);
        byte_source_close(s);
        return NULL;
    }
    return s;
}

struct byte_source *byte_source_over(const uint8_t *bytes, size_t length, struct fault *f)
{
    struct byte_source *s = source_new(-1, false, cursor_over(bytes, length), f);

    if (s)
        unpack_begin(s->unpack);
    return s;
}

void byte_source_close(struct byte_source *s)
{
    if (!s)
        return;
    if (s->fd_is_ours)
        close(s->fd);
    unpack_free(s->unpack);
    free(s->stream_buffer);
    free(s->ahead_buffer);
    free(s->kept);
    free(s);
}

size_t byte_source_peek(struct byte_source *s, size_t n, const uint8_t **bytes)
{
    if (s->front_at > 0) {
        memmove(s->front, s->front + s->front_at, s->front_end - s->front_at);
        s->front_end -= s->front_at;
        s->front_at = 0;
    }
    while (s->front_end < n) {
        size_t more = unpack_read(s->unpack, s->front + s->front_end, n - s->front_end);

        if (more == 0)
            break;
        s->front_end += more;
    }
    *bytes = s->front;
    return s->front_end < n ? s->front_end : n;
}

bool byte_source_ready(const struct byte_source *s, int timeout_ms)
{
    struct pollfd one = { .fd = s->fd, .events = POLLIN };

    if (s->fd < 0 || !unpack_plain(s->unpack) || unpack_waiting(s->unpack) || s->ahead.left > 0 || s->front_end > s->front_at)
        return true;
    return poll(&one, 1, timeout_ms) != 0;
}

size_t byte_source_read(struct byte_source *s, uint8_t *out, size_t cap)
{
    size_t waiting = s->front_end - s->front_at;

    if (waiting == 0)
        return unpack_read(s->unpack, out, cap);
    if (waiting > cap)
        waiting = cap;
    memcpy(out, s->front + s->front_at, waiting);
    s->front_at += waiting;
    return waiting;
}

static void keep(struct byte_source *s, const uint8_t *bytes, size_t n)
{
    if (n > BYTE_KEPT_MAX - s->kept_length)
        n = BYTE_KEPT_MAX - s->kept_length;
    if (n == 0)
        return;
    uint8_t *room = realloc(s->kept, s->kept_length + n);

    if (!room) { /* no facts from the first bytes then; reading itself goes on */
        s->keeping = false;
        return;
    }
    s->kept = room;
    memcpy(s->kept + s->kept_length, bytes, n);
    s->kept_length += n;
}

/* What lies there already moves to the front; then as much as it takes. */
static bool ahead_fill(struct byte_source *s, size_t n)
{
    if (!s->ahead_buffer)
        s->ahead_buffer = malloc(AHEAD_BUFFER_BYTES);
    if (!s->ahead_buffer || n > AHEAD_BUFFER_BYTES)
        return false;
    size_t left = s->ahead.left;

    if (left > 0)
        memmove(s->ahead_buffer, s->ahead.at, left);
    while (left < n) {
        size_t more = byte_source_read(s, s->ahead_buffer + left, AHEAD_BUFFER_BYTES - left);

        if (more == 0)
            break;
        left += more;
    }
    s->ahead = cursor_over(s->ahead_buffer, left);
    return left >= n;
}

struct cursor *byte_source_ahead(struct byte_source *s, size_t n)
{
    return s->ahead.left >= n || ahead_fill(s, n) ? &s->ahead : NULL;
}

static ssize_t stream_read(void *cookie, char *out, size_t cap)
{
    struct byte_source *s = cookie;
    size_t              n = s->ahead.left < cap ? s->ahead.left : cap;

    if (n > 0)
        memcpy(out, cursor_take(&s->ahead, n), n);
    else
        n = byte_source_read(s, (uint8_t *)out, cap);

    if (s->keeping)
        keep(s, (const uint8_t *)out, n);
    return (ssize_t)n;
}

/* A file that is not packed needs nothing of us: the library's own stream over it is the fastest. NULL: it is none, or no more can be opened. */
static FILE *stream_direct(struct byte_source *s)
{
    int fd = s->start >= 0 && unpack_plain(s->unpack) ? dup(s->fd) : -1;

    if (fd < 0)
        return NULL;
    s->direct = lseek(fd, s->start, SEEK_SET) == s->start ? fdopen(fd, "r") : NULL;
    if (!s->direct)
        close(fd);
    return s->direct;
}

FILE *byte_source_stream(struct byte_source *s, bool exact)
{
    cookie_io_functions_t functions = { .read = stream_read };
    FILE                 *stream = exact ? NULL : stream_direct(s);

    if (!stream)
        stream = fopencookie(s, "r", functions);
    s->stream_buffer = exact ? NULL : malloc(STREAM_BUFFER_BYTES);
    if (!stream || (!exact && !s->stream_buffer)) {
        if (stream)
            fclose(stream);
        return NULL;
    }
    setvbuf(stream, s->stream_buffer, exact ? _IONBF : _IOFBF, exact ? 0 : STREAM_BUFFER_BYTES);
    __fsetlocking(stream, FSETLOCKING_BYCALLER);
    s->keeping = !s->direct;
    return stream;
}

/* What was read through the direct stream is read once more. */
static void keep_direct(struct byte_source *s)
{
    off_t   end = ftello(s->direct);
    size_t  n = end > s->start ? (size_t)(end - s->start) : 0;
    ssize_t got;

    if (n > BYTE_KEPT_MAX)
        n = BYTE_KEPT_MAX;
    s->kept = n > 0 ? malloc(n) : NULL;
    got = s->kept ? pread(s->fd, s->kept, n, s->start) : 0;
    s->kept_length = got > 0 ? (size_t)got : 0;
}

size_t byte_source_kept(struct byte_source *s, const uint8_t **bytes)
{
    if (s->direct && !s->kept)
        keep_direct(s);
    *bytes = s->kept;
    return s->kept_length;
}

void byte_source_forget(struct byte_source *s)
{
    s->keeping = false;
    free(s->kept);
    s->kept = NULL;
    s->kept_length = 0;
}

const char *byte_source_broken(const struct byte_source *s, int *sys)
{
    *sys = s->sys;
    return s->sys != 0 ? s->sys_words : unpack_broken(s->unpack);
}

int64_t byte_source_at(const struct byte_source *s)
{
    off_t at = s->fd >= 0 && s->start >= 0 ? lseek(s->fd, 0, SEEK_CUR) : -1; /* of the direct stream too: its descriptor is a copy */

    return at >= s->start ? (int64_t)(at - s->start) : -1;
}

int64_t byte_source_size(const struct byte_source *s)
{
    struct stat about;

    if (!unpack_plain(s->unpack))
        return -1;
    if (s->fd < 0)
        return (int64_t)s->memory_bytes;
    return s->start >= 0 && fstat(s->fd, &about) == 0 && about.st_size >= s->start ? about.st_size - s->start : -1;
}
