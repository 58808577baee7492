#define _DEFAULT_SOURCE /* pthread.h, signal.h: sigset_t */
#include "capture/ahead_inside.h"

#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

enum { BATCHES = 4, BATCH_BYTES = 64 * 1024 };

/* In front of the bytes of each record of a batch. */
struct parcel {
    int64_t  stamp_ns;
    uint64_t frame;
    uint32_t length;
    bool     cut;
};

struct batch {
    uint8_t         *bytes;
    size_t           used, room;
    enum arrival_end end; /* ARRIVAL_MORE: other batches follow */
};

struct ahead {
    struct pcap_source *source;
    pthread_t           thread;
    pthread_mutex_t     lock;
    pthread_cond_t      changed;
    struct batch        batches[BATCHES];
    /* Under the lock: batches filled and emptied so far; the ring's place is the count modulo BATCHES. */
    unsigned long filled, emptied;
    bool          stop;
    /* Of the taker alone. */
    bool   holding; /* batches[emptied] is being taken from */
    size_t at;
    bool   ended;
    enum arrival_end end;
};

static size_t parcel_size(size_t length)
{
    return (sizeof(struct parcel) + length + 7) & ~(size_t)7;
}

static bool batch_make_room(struct batch *b, size_t size)
{
    if (b->room - b->used >= size)
        return true;
    size_t   room = b->used + size > BATCH_BYTES ? b->used + size : BATCH_BYTES;
    uint8_t *bytes = realloc(b->bytes, room);

    if (!bytes)
        return false;
    b->bytes = bytes;
    b->room = room;
    return true;
}

static bool batch_add(struct batch *b, const struct arrival *a)
{
    struct parcel p = { .stamp_ns = a->stamp_ns, .frame = a->frame, .length = a->length, .cut = a->cut };

    if (!batch_make_room(b, parcel_size(a->length)))
        return false;
    memcpy(b->bytes + b->used, &p, sizeof p);
    if (a->length > 0)
        memcpy(b->bytes + b->used + sizeof p, a->bytes, a->length);
    b->used += parcel_size(a->length);
    return true;
}

/* Reads on until the batch is full or the file ends. */
static void batch_fill(struct ahead *a, struct batch *b)
{
    struct arrival arrival;

    b->used = 0;
    b->end = ARRIVAL_MORE;
    while (b->end == ARRIVAL_MORE && b->used < BATCH_BYTES) {
        b->end = pcap_source_next(a->source, &arrival);
        if (b->end == ARRIVAL_MORE && !batch_add(b, &arrival))
            b->end = ARRIVAL_NO_MEMORY;
    }
}

static void *read_ahead(void *context)
{
    struct ahead *a = context;
    bool          more = true;

    while (more) {
        pthread_mutex_lock(&a->lock);
        while (a->filled - a->emptied == BATCHES && !a->stop)
            pthread_cond_wait(&a->changed, &a->lock);
        struct batch *b = &a->batches[a->filled % BATCHES];
        bool          stop = a->stop;

        pthread_mutex_unlock(&a->lock);
        if (stop)
            break;
        batch_fill(a, b);
        more = b->end == ARRIVAL_MORE;
        pthread_mutex_lock(&a->lock);
        a->filled++;
        pthread_cond_signal(&a->changed);
        pthread_mutex_unlock(&a->lock);
    }
    return NULL;
}

/* Signals are for the thread that does the program's work. */
static int start_thread(struct ahead *a)
{
    sigset_t all, before;

    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    int failed = pthread_create(&a->thread, NULL, read_ahead, a);

    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return failed;
}

struct ahead *ahead_new(struct pcap_source *source)
{
    struct ahead *a = calloc(1, sizeof *a);

    if (!a)
        return NULL;
    a->source = source;
    pthread_mutex_init(&a->lock, NULL);
    pthread_cond_init(&a->changed, NULL);
    if (start_thread(a) == 0)
        return a;
    pthread_cond_destroy(&a->changed);
    pthread_mutex_destroy(&a->lock);
    free(a);
    return NULL;
}

/* Gives back the batch in hand, if there is one, and waits for the next. */
static void batch_turn(struct ahead *a)
{
    pthread_mutex_lock(&a->lock);
    if (a->holding) {
        a->emptied++;
        pthread_cond_signal(&a->changed);
    }
    while (a->filled == a->emptied)
        pthread_cond_wait(&a->changed, &a->lock);
    pthread_mutex_unlock(&a->lock);
    a->holding = true;
    a->at = 0;
}

enum arrival_end ahead_next(struct ahead *a, struct arrival *arrival)
{
    if (a->ended)
        return a->end;
    while (!a->holding || a->at == a->batches[a->emptied % BATCHES].used) {
        const struct batch *b = &a->batches[a->emptied % BATCHES];

        if (a->holding && b->end != ARRIVAL_MORE) {
            a->ended = true;
            a->end = b->end;
            return a->end;
        }
        batch_turn(a);
    }
    const uint8_t *at = a->batches[a->emptied % BATCHES].bytes + a->at;
    struct parcel  p;

    memcpy(&p, at, sizeof p);
    *arrival = (struct arrival){ .bytes = at + sizeof p, .length = p.length, .stamp_ns = p.stamp_ns, .frame = p.frame,
                                 .cut = p.cut };
    a->at += parcel_size(p.length);
    return ARRIVAL_MORE;
}

void ahead_free(struct ahead *a)
{
    if (!a)
        return;
    pthread_mutex_lock(&a->lock);
    a->stop = true;
    pthread_cond_signal(&a->changed);
    pthread_mutex_unlock(&a->lock);
    pthread_join(a->thread, NULL);
    for (unsigned k = 0; k < BATCHES; k++)
        free(a->batches[k].bytes);
    pthread_cond_destroy(&a->changed);
    pthread_mutex_destroy(&a->lock);
    free(a);
}
