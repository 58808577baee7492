#include "tests/synth/trace_of.h"

#include "cli/synth/synth.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cjson/cJSON.h>
#include <cmocka.h>

static int32_t cell_at(const uint8_t *b)
{
    return (int32_t)((uint32_t)b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24);
}

static void take_power(struct trace_of *t, const struct record *r, int64_t t_ns)
{
    for (unsigned k = 0; k < r->power.rows; k++) {
        const uint8_t *cells = r->power.cells + (size_t)8 * k;

        assert_true(t->row_count < ROWS_MAX);
        t->rows[t->row_count++] = (struct row){ t_ns + (int64_t)k * r->power.interval_ns, cell_at(cells), cell_at(cells + 4) };
    }
}

static void take(struct trace_of *t, const struct record *r, int64_t t_ns, const struct synth_record *raw)
{
    if (r->kind == RECORD_ABOUT) {
        assert_true(raw->length - 8 < sizeof t->about);
        memcpy(t->about, raw->bytes + 8, raw->length - 8);
    }
    if (r->kind == RECORD_POWER)
        take_power(t, r, t_ns);
    if (r->kind == RECORD_MARK && t->mark_count < MARKS_MAX)
        t->marks[t->mark_count++] = (struct mark){ t_ns, r->mark.action };
    /* PS_RDY: type 6, no objects. */
    if (r->kind == RECORD_PD_PACKET && r->packet.set == 0 && ((unsigned)r->packet.bytes[0] & 0x1f) == 6 && (r->packet.bytes[1] & 0xf0) == 0) {
        t->ready_frame = t->frames;
        t->ready_ns = t_ns;
    }
}

void trace_play(struct trace_of *t, const char *text, int64_t seed)
{
    struct synth_trouble trouble;
    cJSON               *scenario = cJSON_Parse(text);
    struct synth        *s = scenario ? synth_open(scenario, seed, &trouble) : NULL;
    struct synth_record  raw;
    struct record        r;
    int64_t              first_ns = 0;

    assert_non_null(scenario);
    if (!s)
        fail_msg("%s: %s", trouble.path, trouble.text);
    memset(t, 0, sizeof *t);
    t->rows = malloc(ROWS_MAX * sizeof *t->rows);
    assert_non_null(t->rows);
    while (synth_next(s, &raw)) {
        record_read(raw.bytes, raw.length, false, raw.stamp_ns, ++t->frames, &r);
        assert_int_equal(r.soundness, RECORD_SOUND);
        first_ns = t->frames == 1 ? raw.stamp_ns : first_ns;
        take(t, &r, raw.stamp_ns - first_ns, &raw);
    }
    t->truth = synth_truth(s);
    synth_close(s);
    cJSON_Delete(scenario);
}

void trace_free(struct trace_of *t)
{
    free(t->rows);
    cJSON_Delete(t->truth);
}

const struct row *trace_row(const struct trace_of *t, int64_t t_ns)
{
    for (unsigned k = 0; k < t->row_count; k++)
        if (t->rows[k].t_ns >= t_ns)
            return &t->rows[k];
    fail_msg("no reading at %lld ns", (long long)t_ns);
    return NULL;
}

static const cJSON *truth_at(const struct trace_of *t, const char *path)
{
    const cJSON *at = t->truth;
    char         part[64];

    for (const char *p = path; at && *p; p += strcspn(p, "."), p += *p == '.') {
        snprintf(part, sizeof part, "%.*s", (int)strcspn(p, "."), p);
        at = cJSON_IsArray(at) ? cJSON_GetArrayItem(at, atoi(part)) : cJSON_GetObjectItemCaseSensitive(at, part);
    }
    return at;
}

double truth_number(const struct trace_of *t, const char *path)
{
    const cJSON *at = truth_at(t, path);

    if (!cJSON_IsNumber(at))
        fail_msg("the truth has no %s", path);
    return at->valuedouble;
}

bool truth_has(const struct trace_of *t, const char *path)
{
    return truth_at(t, path) != NULL;
}

void near_at(double value, double due, double within, const char *file, int line)
{
    if (fabs(value - due) <= within)
        return;
    print_error("%.9g, where %.9g is due, within %.3g\n", value, due, within);
    _fail(file, line);
}

struct spread spread_of(const double *x, unsigned n)
{
    struct spread s = { 0, 0 };

    for (unsigned k = 0; k < n; k++)
        s.mean += x[k] / n;
    for (unsigned k = 0; k < n; k++)
        s.deviation += (x[k] - s.mean) * (x[k] - s.mean) / (n - 1);
    s.deviation = sqrt(s.deviation);
    return s;
}
