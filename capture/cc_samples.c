/* A CC line as signed 16-bit numbers, little-endian, one after another at a rate that the user tells. */
#include "capture/cc_bytes_inside.h"
#include "capture/cc_slicer_inside.h"

#include <stdlib.h>
#include <string.h>

struct cc_file {
    struct cc_bytes  *bytes;
    struct cc_slicer *slicer;
    struct cc_tick    tick;
    bool              ended, turned; /* turned: more steps are fewer volts */
    void (*notice)(void *context, const struct cc_notice *n);
    void             *context;
    uint64_t          count, unreadable;
};

/* The only line there is may be called 0. */
static bool options_sound(const struct cc_options *o, struct fault *f)
{
    struct cc_tick tick;

    if (o->lines > 1 || (o->lines == 1 && o->names[0] && strcmp(o->names[0], "0") != 0))
        return fault_set(f, FAULT_NOT_THERE, 0, o->lines > 1, "0");
    if (!cc_tick_of_rate(o->rate_hz, &tick))
        return fault_set(f, FAULT_RATE, 0, 0, NULL);
    return true;
}

static struct cc_slicer *slicer_new(const struct cc_options *o, uint64_t tick_ps)
{
    struct cc_slicer_options s = {
        .sample_ns = 1e9 / o->rate_hz,
        .sample_ticks = 1e12 / o->rate_hz / (double)tick_ps,
        .step_mv = (o->scale_uv < 0 ? -o->scale_uv : o->scale_uv) / 1000,
        .zero_mv = o->offset_mv,
        .low_mv = o->low_mv, .high_mv = o->high_mv,
        .notice = o->notice, .context = o->context,
    };

    return cc_slicer_new(&s);
}

static struct cc_file *samples_new(struct cc_bytes *bytes, const struct cc_options *o, struct fault *f)
{
    struct cc_file *c = bytes ? calloc(1, sizeof *c) : NULL;

    if (c) {
        c->tick = (struct cc_tick){ cc_slicer_tick_ps(1e9 / o->rate_hz), 1 };
        c->slicer = slicer_new(o, c->tick.ps);
        c->turned = o->scale_uv < 0;
        c->notice = o->notice;
        c->context = o->context;
    }
    if (!c || !c->slicer) {
        if (bytes)
            fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        cc_bytes_close(bytes);
        free(c);
        return NULL;
    }
    c->bytes = bytes;
    return c;
}

static struct cc_file *samples_open(const char *path, const struct cc_options *o, struct fault *f)
{
    return options_sound(o, f) ? samples_new(cc_bytes_open(path, o->read_bytes, f), o, f) : NULL;
}

static struct cc_file *samples_open_memory(const uint8_t *bytes, size_t length, const struct cc_options *o, struct fault *f)
{
    return options_sound(o, f) ? samples_new(cc_bytes_over(bytes, length, o->read_bytes, f), o, f) : NULL;
}

static void samples_close(struct cc_file *c)
{
    if (!c)
        return;
    cc_bytes_close(c->bytes);
    cc_slicer_free(c->slicer);
    free(c);
}

static void samples_copy(const struct cc_file *c, const uint8_t *block, int16_t *out, size_t count)
{
    for (size_t k = 0; k < count; k++)
        out[k] = (int16_t)(uint16_t)((unsigned)block[2 * k] | (unsigned)block[2 * k + 1] << 8);
    for (size_t k = 0; c->turned && k < count; k++)
        out[k] = out[k] == INT16_MIN ? INT16_MAX : (int16_t)-out[k];
}

static void half_tell(struct cc_file *c, struct cursor *window)
{
    size_t           left = window->left;
    struct cc_notice n = { .news = CC_CUT_OFF, .number = c->count + 1, .words_length = left };

    n.words = (const char *)cursor_take(window, left);
    c->unreadable++;
    if (c->notice)
        c->notice(c->context, &n);
}

/* One piece more into the slicer, or the end. */
static void samples_take(struct cc_file *c)
{
    struct cursor *window = cc_bytes_window(c->bytes);
    int16_t       *room;
    int64_t       *ticks;

    if (window->left < 2 && !cc_bytes_more(c->bytes)) {
        if (window->left > 0)
            half_tell(c, window);
        c->ended = true;
        cc_slicer_end(c->slicer);
        return;
    }
    size_t count = cc_slicer_room(c->slicer, &room, &ticks);

    count = window->left / 2 < count ? window->left / 2 : count;
    if (count > 0)
        samples_copy(c, cursor_take(window, 2 * count), room, count);
    c->count += count;
    cc_slicer_put(c->slicer, count);
}

static bool samples_next(struct cc_file *c, struct cc_block *block, struct fault *f)
{
    while (!cc_slicer_block(c->slicer, block)) {
        if (c->ended)
            return cc_bytes_end_fault(c->bytes, f);
        samples_take(c);
    }
    return true;
}

static struct cc_tick samples_tick(const struct cc_file *c)
{
    return c->tick;
}

static struct cc_facts samples_facts(const struct cc_file *c)
{
    return (struct cc_facts){
        .bytes = cc_bytes_read(c->bytes),
        .unreadable = c->unreadable,
        .bytes_total = cc_bytes_total(c->bytes),
        .edge_ns = cc_slicer_edge_ns(c->slicer),
    };
}

const struct cc_kind cc_samples_kind = {
    "samples", samples_open, samples_open_memory, samples_next, samples_tick, samples_facts, samples_close,
};
