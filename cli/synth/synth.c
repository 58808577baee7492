/* A scenario being played: lives side by side, their records in order of time. */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void begin(struct synth *s)
{
    s->frame = 0;
    s->first_ns = 0;
    s->cut = false;
    s->last = NULL;
    s->end_ns = 0;
    truth_forget(s);
    for (unsigned k = 0; k < s->plan.port_count; k++)
        life_begin(&s->lives[k], s, k);
}

/* Occasions that are to be drawn: everything is played once to count them. */
static void draw_occasions(struct synth *s)
{
    struct synth_record r;
    struct chance       c = chance_of(s->plan.seed, 99);
    bool                any = false;

    for (unsigned k = 0; k < s->plan.injection_count; k++)
        any = any || s->injected[k].at == 0;
    if (!any)
        return;
    s->counting = true;
    begin(s);
    while (synth_next(s, &r))
        continue;
    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        struct injected *f = &s->injected[k];

        if (f->at == 0 && f->seen > 0)
            f->at = chance_between(&c, 1, f->seen);
        f->seen = 0;
    }
    s->counting = false;
}

struct synth *synth_open(const struct cJSON *scenario, int64_t seed, struct synth_trouble *t)
{
    struct synth *s = calloc(1, sizeof *s);

    *t = (struct synth_trouble){ .text = "out of memory" };
    if (!s)
        return NULL;
    if (!plan_read(&s->plan, scenario, seed, t) || !injections_begin(s, t) ||
        !(s->lives = calloc(s->plan.port_count, sizeof *s->lives))) {
        synth_close(s);
        return NULL;
    }
    blinds_apply(&s->plan);
    synth_errors_draw(s);
    about_write(s);
    draw_occasions(s);
    begin(s);
    return s;
}

void synth_close(struct synth *s)
{
    if (!s)
        return;
    for (unsigned k = 0; s->lives && k < s->plan.port_count; k++)
        life_free(&s->lives[k]);
    free(s->lives);
    truth_free(s);
    plan_free(&s->plan);
    free(s);
}

bool synth_failed(const struct synth *s)
{
    return s->failed;
}

/* Is the next record of this life settled? Readings of a block in hand may still come before it. */
static bool settled(const struct life *l)
{
    return l->head < l->count && (l->over || !l->plan->instrument.power || l->queue[l->head].sort_ns < l->power_from_ns);
}

/* Lives that have no record in hand go on, but for those that wait for others. True: there is more to do. */
static bool go_on(struct synth *s)
{
    bool more = false;

    for (unsigned k = 0; k < s->plan.port_count; k++) {
        struct life *l = &s->lives[k];

        while (!settled(l) && !l->over && !l->failed && !life_waits(l)) {
            life_go_on(l);
            more = s->plan.port_count > 1;
        }
    }
    return more;
}

/* The life whose next record stands first. */
static struct life *earliest(struct synth *s)
{
    struct life *first = NULL;

    while (go_on(s))
        continue;
    for (unsigned k = 0; k < s->plan.port_count; k++) {
        struct life *l = &s->lives[k];

        s->failed = s->failed || l->failed;
        if (l->head < l->count && (!first || l->queue[l->head].sort_ns < first->queue[first->head].sort_ns))
            first = l;
    }
    return first;
}

bool synth_next(struct synth *s, struct synth_record *r)
{
    struct life *l;

    if (s->frame == 0) {
        s->frame = 1;
        s->first_ns = SYNTH_BEGIN_NS;
        *r = (struct synth_record){ SYNTH_BEGIN_NS, s->about_record, s->about_length };
        return true;
    }
    l = s->cut || s->failed ? NULL : earliest(s);
    if (!l || s->failed)
        return false;
    const struct record_entry *e = &l->queue[l->head++];

    s->frame++;
    injections_frame(s, l, e, s->frame);
    truth_frame(s, l, e, s->frame);
    if (e->serial == l->last_packet_serial) {
        l->last_written_serial = e->serial;
        l->last_written_frame = s->frame;
        l->last_written_ns = e->stamp_ns;
    }
    *r = (struct synth_record){ e->stamp_ns, l->bytes + e->at, e->length };
    return true;
}

/* A resolution adds to the noise what is even within one of its steps: a step through the root of 12 (GUM 4.3.7). */
static double noise_with(int64_t noise, int64_t resolution)
{
    return resolution > 1 ? round(sqrt((double)noise * (double)noise + (double)resolution * (double)resolution / 12)) : (double)noise;
}

static void about_quantity(cJSON *instrument, const char *key, const char *offset_key, const char *noise_key, int64_t gain, int64_t offset, double noise)
{
    cJSON *own = cJSON_AddObjectToObject(instrument, key);

    cJSON_AddNumberToObject(own, "gain_ppm", (double)gain);
    cJSON_AddNumberToObject(own, offset_key, (double)offset);
    cJSON_AddNumberToObject(own, noise_key, noise);
}

void about_write(struct synth *s)
{
    static const char *const kinds[] = { "source", "sink", "dual" };
    const struct instrument *i = &s->plan.instrument;
    cJSON                   *about = cJSON_CreateObject(), *ports = cJSON_AddArrayToObject(about, "ports"), *instrument;

    cJSON_AddStringToObject(about, "device", s->plan.device);
    cJSON_AddStringToObject(about, "note", s->plan.note);
    for (unsigned k = 0; k < s->plan.port_count; k++) {
        const struct port_plan *p = &s->plan.ports[k];
        cJSON                  *port = cJSON_CreateObject();

        cJSON_AddItemToArray(ports, port);
        cJSON_AddNumberToObject(port, "port", p->port);
        cJSON_AddStringToObject(port, "name", p->name);
        cJSON_AddStringToObject(port, "kind", kinds[p->kind]);
        if (p->captive)
            cJSON_AddStringToObject(port, "plug", "captive");
        if (p->rated_w)
            cJSON_AddNumberToObject(port, "rated_w", p->rated_w);
        if (p->path_mohm < 0)
            continue;
        cJSON_AddStringToObject(port, "volt_at", "sink");
        cJSON_AddNumberToObject(port, "path_mohm", (double)p->path_mohm);
        cJSON_AddNumberToObject(port, "path_mohm_u", (double)p->path_mohm_u);
    }
    instrument = cJSON_AddObjectToObject(about, "instrument");
    cJSON_AddStringToObject(instrument, "model", "made up");
    cJSON_AddNumberToObject(instrument, "clock_ppm", (double)i->clock_ppm);
    cJSON_AddNumberToObject(instrument, "time_ns", (double)i->time_ns);
    if (i->host_time)
        cJSON_AddNumberToObject(instrument, "host_time_ns", (double)i->host_time_ns);
    if (i->mean)
        cJSON_AddStringToObject(instrument, "sampling", "mean");
    if (i->jitter_ns)
        cJSON_AddNumberToObject(instrument, "power_time_ns", (double)i->jitter_ns);
    about_quantity(instrument, "volt", "offset_uv", "noise_uv", i->gain_ppm, i->offset_uv, noise_with(i->noise_uv, i->resolution_uv));
    if (i->amp_gain_ppm >= 0)
        about_quantity(instrument, "amp", "offset_ua", "noise_ua", i->amp_gain_ppm, i->amp_offset_ua, noise_with(i->amp_noise_ua, i->resolution_ua));
    if (!cJSON_PrintPreallocated(about, s->about, ABOUT_BYTES, false))
        strcpy(s->about, "{}");
    cJSON_Delete(about);
    s->about_length = record_put(s->about_record, sizeof s->about_record, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_INVENTED, 0,
                                 (const uint8_t *)s->about, strlen(s->about));
}
