#define _POSIX_C_SOURCE 200809L /* pthread, clock_gettime */
#include "capture/disk.h"

#include "capture/disk_file_inside.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { CHUNK_BYTES = 64 * 1024 };
#define SECOND_NS INT64_C(1000000000)

/* Frames on their way to the file, written at once. */
struct chunk {
    struct chunk *next;
    size_t        used, room;
    bool          next_file; /* they begin a new one */
    uint8_t       bytes[];
};

struct disk {
    /* Of whoever puts. */
    struct chunk *open;         /* being filled */
    uint64_t      file_bytes;
    size_t        queue_bytes;
    int           told[2];      /* a pipe: written to when writing fails */

    /* Of both threads, under lock. */
    pthread_mutex_t lock;
    pthread_cond_t  work, tick;
    struct chunk   *first, **last, *spare;
    size_t          waiting;    /* bytes of chunks that wait or are being written */
    bool            ending, failed, dirty;
    struct fault    fault;

    /* Of the writing thread; the descriptor and the path under file_lock, for they change with the file. */
    pthread_mutex_t  file_lock;
    struct disk_file file;
    pthread_t        writer, syncer;
    bool             writer_runs, syncer_runs;
};

static void fail(struct disk *d, const struct fault *f)
{
    pthread_mutex_lock(&d->lock);
    bool first = !d->failed;

    if (first) {
        d->failed = true;
        d->fault = *f;
    }
    pthread_mutex_unlock(&d->lock);
    if (first && write(d->told[1], "!", 1) != 1)
        return; /* whoever puts sees it at the next put */
}

bool disk_failed(struct disk *d, struct fault *f)
{
    pthread_mutex_lock(&d->lock);
    bool failed = d->failed;

    if (failed && f)
        *f = d->fault;
    pthread_mutex_unlock(&d->lock);
    return failed;
}

/* The syncing thread. */

/* Through a descriptor of its own, so that the writing thread may go on to the next file meanwhile. */
static void sync_now(struct disk *d)
{
    struct fault f;

    pthread_mutex_lock(&d->file_lock);
    int fd = d->file.regular && d->file.fd >= 0 ? fcntl(d->file.fd, F_DUPFD_CLOEXEC, 0) : -1;

    pthread_mutex_unlock(&d->file_lock);
    if (fd < 0)
        return;
    if (fdatasync(fd) != 0 && errno != EINVAL && errno != EROFS) {
        fault_set(&f, FAULT_WRITE, errno, 0, NULL);
        fail(d, &f);
    }
    close(fd);
}

static struct timespec later(int64_t ns)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    ns += t.tv_nsec;
    t.tv_sec += (time_t)(ns / SECOND_NS);
    t.tv_nsec = (long)(ns % SECOND_NS);
    return t;
}

static void *sync_run(void *arg)
{
    struct disk *d = arg;

    pthread_mutex_lock(&d->lock);
    while (!d->ending) {
        struct timespec until = later(DISK_SYNC_NS);

        while (!d->ending && pthread_cond_timedwait(&d->tick, &d->lock, &until) != ETIMEDOUT)
            ;
        bool dirty = d->dirty && !d->failed;

        d->dirty = false;
        pthread_mutex_unlock(&d->lock);
        if (dirty)
            sync_now(d);
        pthread_mutex_lock(&d->lock);
    }
    pthread_mutex_unlock(&d->lock);
    return NULL;
}

/* The writing thread. */

static bool file_turn(struct disk *d, struct fault *f)
{
    if (d->file.regular && fdatasync(d->file.fd) != 0)
        return fault_set(f, FAULT_WRITE, errno, 0, NULL);
    pthread_mutex_lock(&d->file_lock);
    bool turned = disk_file_next(&d->file, f);

    pthread_mutex_unlock(&d->file_lock);
    return turned;
}

static void chunk_write(struct disk *d, const struct chunk *c)
{
    struct fault f;

    if (disk_failed(d, NULL))
        return;
    if ((c->next_file && !file_turn(d, &f)) || !disk_file_write(&d->file, c->bytes, c->used, &f))
        fail(d, &f);
}

/* The next chunk; NULL: there will be none. */
static struct chunk *chunk_await(struct disk *d)
{
    pthread_mutex_lock(&d->lock);
    while (!d->first && !d->ending)
        pthread_cond_wait(&d->work, &d->lock);
    struct chunk *c = d->first;

    if (c) {
        d->first = c->next;
        if (!d->first)
            d->last = &d->first;
    }
    pthread_mutex_unlock(&d->lock);
    return c;
}

static void chunk_done(struct disk *d, struct chunk *c)
{
    pthread_mutex_lock(&d->lock);
    d->waiting -= c->used;
    d->dirty = true;
    if (!d->spare && c->room == CHUNK_BYTES) {
        d->spare = c;
        c = NULL;
    }
    pthread_mutex_unlock(&d->lock);
    free(c);
}

static void *write_run(void *arg)
{
    struct disk  *d = arg;
    struct chunk *c;

    while ((c = chunk_await(d)) != NULL) {
        chunk_write(d, c);
        chunk_done(d, c);
    }
    return NULL;
}

/* Whoever puts. */

static struct chunk *chunk_new(struct disk *d, size_t least)
{
    struct chunk *c = NULL;
    size_t        room = least > CHUNK_BYTES ? least : CHUNK_BYTES;

    pthread_mutex_lock(&d->lock);
    if (room == CHUNK_BYTES) {
        c = d->spare;
        d->spare = NULL;
    }
    pthread_mutex_unlock(&d->lock);
    if (!c)
        c = malloc(sizeof *c + room);
    if (c) {
        c->next = NULL;
        c->used = 0;
        c->room = room;
        c->next_file = false;
    }
    return c;
}

void disk_push(struct disk *d)
{
    struct chunk *c = d->open;

    if (!c || (c->used == 0 && !c->next_file))
        return;
    d->open = NULL;
    pthread_mutex_lock(&d->lock);
    *d->last = c;
    d->last = &c->next;
    d->waiting += c->used;
    pthread_cond_signal(&d->work);
    pthread_mutex_unlock(&d->lock);
}

static bool room_for(struct disk *d, size_t more)
{
    pthread_mutex_lock(&d->lock);
    bool room = !d->failed && d->waiting + (d->open ? d->open->used : 0) + more <= d->queue_bytes;

    pthread_mutex_unlock(&d->lock);
    return room;
}

bool disk_put(struct disk *d, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    size_t size = PCAP_FRAME_BYTES + length;

    /* The seconds of a classic capture are 32 bits without a sign. */
    if (length > PCAP_RECORD_BYTES_MAX || stamp_ns < 0 || stamp_ns / SECOND_NS > (int64_t)UINT32_MAX || !room_for(d, size))
        return false;
    if (d->open && d->open->room - d->open->used < size)
        disk_push(d);
    if (!d->open)
        d->open = chunk_new(d, size);
    if (!d->open)
        return false;
    uint8_t *at = d->open->bytes + d->open->used;

    disk_frame_put(at, stamp_ns, (uint32_t)length);
    if (length > 0)
        memcpy(at + PCAP_FRAME_BYTES, bytes, length);
    d->open->used += size;
    d->file_bytes += size;
    return true;
}

bool disk_next(struct disk *d)
{
    disk_push(d);
    if (!d->open)
        d->open = chunk_new(d, CHUNK_BYTES);
    if (!d->open)
        return false;
    d->open->next_file = true;
    d->file_bytes = PCAP_HEAD_BYTES;
    return true;
}

uint64_t disk_file_bytes(const struct disk *d)
{
    return d->file_bytes;
}

int disk_fd(const struct disk *d)
{
    return d->told[0];
}

void disk_path(struct disk *d, char *path)
{
    pthread_mutex_lock(&d->file_lock);
    memcpy(path, d->file.path, DISK_PATH_BYTES);
    pthread_mutex_unlock(&d->file_lock);
}

/* Signals are for the thread that puts. */
static bool threads_start(struct disk *d)
{
    sigset_t all, before;

    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    d->writer_runs = pthread_create(&d->writer, NULL, write_run, d) == 0;
    d->syncer_runs = pthread_create(&d->syncer, NULL, sync_run, d) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return d->writer_runs && d->syncer_runs;
}

static bool locks_start(struct disk *d)
{
    pthread_condattr_t monotonic;

    if (pthread_condattr_init(&monotonic) != 0)
        return false;
    pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
    bool started = pthread_mutex_init(&d->lock, NULL) == 0 && pthread_mutex_init(&d->file_lock, NULL) == 0 &&
                   pthread_cond_init(&d->work, NULL) == 0 && pthread_cond_init(&d->tick, &monotonic) == 0;

    pthread_condattr_destroy(&monotonic);
    return started;
}

struct disk *disk_open(const struct disk_options *options, struct fault *f)
{
    struct disk *d = calloc(1, sizeof *d);

    fault_set(f, FAULT_NONE, 0, 0, NULL);
    if (!d || !locks_start(d)) {
        free(d);
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    d->told[0] = d->told[1] = -1;
    d->last = &d->first;
    d->file_bytes = PCAP_HEAD_BYTES;
    d->queue_bytes = options->queue_bytes ? options->queue_bytes : DISK_QUEUE_BYTES;
    bool opened = disk_file_open(&d->file, options, f);

    if (opened && (pipe(d->told) != 0 || !threads_start(d)))
        opened = fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    if (opened)
        return d;
    disk_close(d, NULL);
    return NULL;
}

static void threads_end(struct disk *d)
{
    pthread_mutex_lock(&d->lock);
    d->ending = true;
    pthread_cond_broadcast(&d->work);
    pthread_cond_broadcast(&d->tick);
    pthread_mutex_unlock(&d->lock);
    if (d->writer_runs)
        pthread_join(d->writer, NULL);
    if (d->syncer_runs)
        pthread_join(d->syncer, NULL);
}

bool disk_close(struct disk *d, struct fault *f)
{
    struct fault closing;

    if (!d)
        return true;
    if (d->writer_runs)
        disk_push(d);
    threads_end(d);
    sync_now(d);
    if (!disk_file_close(&d->file, &closing))
        fail(d, &closing);
    bool failed = disk_failed(d, f);

    for (unsigned k = 0; k < 2; k++)
        if (d->told[k] >= 0)
            close(d->told[k]);
    free(d->open);
    free(d->spare);
    pthread_cond_destroy(&d->work);
    pthread_cond_destroy(&d->tick);
    pthread_mutex_destroy(&d->lock);
    pthread_mutex_destroy(&d->file_lock);
    free(d);
    return !failed;
}
