#include "tests/matrix/played.h"

#include "cli/synth/synth.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct cJSON *scenario_read(const char *path)
{
    static char text[1 << 16];
    FILE       *file = fopen(path, "r");
    size_t      n;

    if (!file)
        return NULL;
    n = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    text[n] = '\0';
    return cJSON_Parse(text);
}

static int64_t frame_end_ns(const struct played *p, uint64_t frame)
{
    return frame > 0 && frame <= p->records ? p->end_ns[frame - 1] : INT64_MIN;
}

/* When the last of what a finding rests on had been recorded: a record is written at its end. */
static int64_t shown_at(const struct played *p, const struct finding *f)
{
    int64_t last_ns = f->t_ns;

    if (frame_end_ns(p, f->frame) > last_ns)
        last_ns = frame_end_ns(p, f->frame);
    for (unsigned k = 0; k < f->evidence_count; k++)
        if (frame_end_ns(p, f->evidence[k]) > last_ns)
            last_ns = frame_end_ns(p, f->evidence[k]);
    return last_ns;
}

static void keep_finding(void *context, const struct finding *f)
{
    struct played *p = context;

    if (p->findings == PLAYED_FINDINGS)
        return;
    p->told_ns[p->findings] = p->now_ns;
    p->shown_ns[p->findings] = shown_at(p, f);
    p->finding[p->findings++] = *f;
}

static struct engine *engine_of(struct played *p)
{
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .finding = keep_finding, .context = p };

#ifdef PORTASSAY_MUTANTS
    o.mutant = getenv("PORTASSAY_MUTANT");
#endif
    return engine_new(&o);
}

/* Until when record number p->records went on. */
static bool keep_end(struct played *p, int64_t end_ns)
{
    if (p->records > p->room) {
        size_t   room = p->room ? p->room * 2 : 4096;
        int64_t *list = realloc(p->end_ns, room * sizeof *list);

        if (!list)
            return false;
        p->end_ns = list;
        p->room = room;
    }
    p->end_ns[p->records - 1] = p->now_ns = end_ns;
    return true;
}

/* The records in the order in which the model writes them: by start time. */
static bool feed_all(struct played *p, struct synth *s)
{
    struct synth_record made;
    struct record       r;
    int64_t             last_ns = 0;

    while (synth_next(s, &made)) {
        record_read(made.bytes, made.length, false, made.stamp_ns, ++p->records, &r);
        if (r.soundness != RECORD_SOUND) {
            snprintf(p->trouble, sizeof p->trouble, "record %llu is not sound", (unsigned long long)p->records);
            return false;
        }
        int64_t end_ns = r.t_ns + record_span_ns(&r);

        if (!keep_end(p, end_ns))
            return false;
        if (p->until_ns && r.t_ns > p->until_ns)
            break;
        if (p->until_ns && end_ns > p->until_ns)
            continue; /* it was not written yet */
        last_ns = end_ns > last_ns ? end_ns : last_ns;
        if (!engine_feed(p->engine, &r, false))
            return false;
    }
    engine_end(p->engine, p->until_ns > last_ns ? p->until_ns : last_ns);
    return !synth_failed(s);
}

/* Other blinds hold for the whole trace. */
static bool of_one_packet(const char *blind)
{
    return strcmp(blind, "lost-records") == 0 || strcmp(blind, "bad-crc-neighbour") == 0 || strcmp(blind, "trace-cut") == 0 ||
           strcmp(blind, "vbus-gap") == 0;
}

static void keep_faults(struct played *p, const struct synth *s)
{
    for (unsigned k = 0; k < synth_made_count(s) && p->faults < PLAYED_FAULTS; k++) {
        struct synth_made m = synth_made(s, k);

        if (m.blind) {
            if (!m.made && of_one_packet(m.blind))
                snprintf(p->trouble, sizeof p->trouble, "the model found no packet for %s", m.blind);
            continue;
        }
        if (!m.made) {
            snprintf(p->trouble, sizeof p->trouble, "the model found no place for %s", m.fault);
            continue;
        }
        struct made_fault *f = &p->fault[p->faults++];

        snprintf(f->name, sizeof f->name, "%s", m.fault);
        snprintf(f->who, sizeof f->who, "%s", m.who);
        f->frame = m.frame;
        f->port = (int)m.port;
    }
}

bool played_run(struct played *p, const struct cJSON *scenario, uint64_t seed)
{
    struct synth_trouble trouble;
    struct synth        *s = synth_open(scenario, (int64_t)seed, &trouble);
    bool                 done;

    p->findings = p->faults = 0;
    p->records = 0;
    p->trouble[0] = '\0';
    p->engine = NULL;
    if (!s) {
        snprintf(p->trouble, sizeof p->trouble, "scenario: %.90s: %.150s", trouble.path, trouble.text);
        return false;
    }
    p->engine = engine_of(p);
    done = p->engine && feed_all(p, s);
    if (done)
        keep_faults(p, s);
    synth_close(s);
    if (!done && !p->trouble[0])
        snprintf(p->trouble, sizeof p->trouble, "no memory");
    if (done && p->trouble[0] == '\0')
        return true;
    played_free(p);
    return false;
}

void played_free(struct played *p)
{
    engine_free(p->engine);
    p->engine = NULL;
    free(p->end_ns);
    p->end_ns = NULL;
    p->room = 0;
}

struct result played_result(const struct played *p, const char *id)
{
    for (unsigned k = 0; k < engine_rules(p->engine); k++) {
        struct result r = engine_result(p->engine, k);

        if (strcmp(r.rule->id, id) == 0)
            return r;
    }
    return (struct result){ .verdict = VERDICT_NOT_SEEN };
}

const struct finding *played_finding(const struct played *p, const char *id, unsigned verdict)
{
    for (unsigned k = 0; k < p->findings; k++)
        if (p->finding[k].verdict == verdict && strcmp(p->finding[k].rule->id, id) == 0)
            return &p->finding[k];
    return NULL;
}
