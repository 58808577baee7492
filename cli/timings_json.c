/* Times and health as JSON. */
#include "cli/timings_tell.h"
#include "decode/message.h"

static void limit_json(struct json *j, const char *key, bool has, int64_t ns)
{
    if (has)
        json_i64(j, key, ns);
    else
        json_null(j, key);
}

static void share_json(struct json *j, const char *key, const struct timings *t, const struct timer *m, unsigned percent)
{
    int64_t ns = 0;
    bool    known = timings_share(t, m, percent, &ns);

    limit_json(j, key, known, ns);
}

static void windows_json(struct json *j, const struct timer *m)
{
    json_array(j, "windows");
    for (unsigned k = 0; k < m->window_count; k++) {
        const struct window *w = &m->windows[k].window;

        json_object(j, NULL);
        json_text(j, "parameter", w->parameter ? w->parameter->name : NULL);
        limit_json(j, "low_ns", w->has_low, w->low_ns);
        limit_json(j, "high_ns", w->has_high, w->high_ns);
        json_u64(j, "count", m->windows[k].count);
        json_object_end(j);
    }
    json_array_end(j);
    if (m->windows_left_out)
        json_bool(j, "windows_left_out", true);
}

static void timer_json(struct json *j, const struct check *c, unsigned port, unsigned rule)
{
    const struct timer *m = timings_timer(c->timings, port, rule);

    if (!m || timer_is_bit_rate(m))
        return;
    json_object(j, NULL);
    json_u64(j, "port", port);
    json_text(j, "rule", c->settings->rules.rows[rule].id);
    json_u64(j, "count", m->count);
    json_i64(j, "min_ns", m->least_ns);
    share_json(j, "median_ns", c->timings, m, 50);
    share_json(j, "p95_ns", c->timings, m, 95);
    json_i64(j, "max_ns", m->greatest_ns);
    json_i64(j, "uncertainty_ns", m->unsure_ns);
    windows_json(j, m);
    json_object_end(j);
}

static void rate_json(struct json *j, const char *key, uint64_t n, uint64_t messages)
{
    if (messages)
        json_decimal(j, key, (int64_t)((n * 1000000 + messages / 2) / messages), 3);
    else
        json_null(j, key);
}

static void before_json(struct json *j, const struct before_row *b)
{
    const struct message_kind *kind = b->index ? message_kind(b->index) : NULL;
    bool                       timed = b->least_ns <= b->greatest_ns;

    json_object(j, NULL);
    json_text(j, "reset", reset_kind_name(b->reset));
    json_text(j, "before", before_name(b->before));
    json_text(j, "message", kind ? kind->name : NULL);
    json_u64(j, "count", b->count);
    json_u64(j, "frame", b->frame);
    limit_json(j, "least_ns", timed, b->least_ns);
    limit_json(j, "greatest_ns", timed, b->greatest_ns);
    json_object_end(j);
}

static void bit_rate_json(struct json *j, const struct check *c, unsigned port)
{
    for (unsigned k = 0; k < c->settings->rules.count; k++) {
        const struct timer *m = timings_timer(c->timings, port, k);
        int64_t             ns = 0;

        if (!m || !timer_is_bit_rate(m))
            continue;
        json_object(j, "bit_rate");
        json_u64(j, "count", m->count);
        json_i64(j, "min_bit_s", timer_bit_rate(m->greatest_ns));
        bool known = timings_share(c->timings, m, 50, &ns);

        limit_json(j, "median_bit_s", known, timer_bit_rate(ns));
        json_i64(j, "max_bit_s", timer_bit_rate(m->least_ns));
        json_object_end(j);
    }
}

static void health_json(struct json *j, const struct check *c, unsigned port, const struct health *h)
{
    json_object(j, NULL);
    json_u64(j, "port", port);
    json_u64(j, "messages", h->messages);
    json_u64(j, "repeats", h->repeats);
    json_u64(j, "crc_errors", h->crc_errors);
    rate_json(j, "repeats_per_1000", h->repeats, h->messages);
    rate_json(j, "crc_errors_per_1000", h->crc_errors, h->messages);
    json_u64(j, "unacknowledged", h->unacknowledged[0]);
    json_u64(j, "unacknowledged_by_plug", h->unacknowledged[1]);
    bit_rate_json(j, c, port);
    json_object(j, "resets");
    for (unsigned k = 0; k < RESET_KINDS; k++)
        json_u64(j, reset_kind_name(k), h->resets[k]);
    json_object_end(j);
    json_array(j, "before_resets");
    for (unsigned k = 0; k < h->before_count; k++)
        before_json(j, &h->befores[k]);
    json_array_end(j);
    if (h->befores_left_out)
        json_u64(j, "before_resets_left_out", h->befores_left_out);
    json_object_end(j);
}

void timings_json(struct json *j, const struct check *c)
{
    json_array(j, "timings");
    for (unsigned port = 0; port < TIMINGS_PORTS; port++)
        for (unsigned rule = 0; rule < c->settings->rules.count; rule++)
            timer_json(j, c, port, rule);
    json_array_end(j);
    json_array(j, "health");
    for (unsigned port = 0; port < TIMINGS_PORTS; port++) {
        const struct health *h = timings_health(c->timings, port);

        if (h)
            health_json(j, c, port, h);
    }
    json_array_end(j);
}
