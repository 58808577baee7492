/* Differences for machines. */
#include "cli/diff.h"
#include "cli/trace_json.h"

static void frames_json(struct json *j, const char *key, const struct difference *x, unsigned side)
{
    json_array(j, key);
    for (unsigned k = 0; k < x->frame_count[side]; k++)
        json_u64(j, NULL, x->frames[side][k]);
    json_array_end(j);
}

static void difference_json(struct json *j, const struct difference *x)
{
    json_object(j, NULL);
    json_text(j, "kind", difference_kind_name(x->kind));
    json_u64(j, "port", x->port_a);
    if (x->port_b != x->port_a)
        json_u64(j, "port_b", x->port_b);
    json_text(j, "a", x->side[0][0] ? x->side[0] : NULL);
    json_text(j, "b", x->side[1][0] ? x->side[1] : NULL);
    frames_json(j, "frames_a", x, 0);
    frames_json(j, "frames_b", x, 1);
    json_u64(j, "occasions", x->occasions);
    json_u64(j, "weight", x->weight);
    json_text(j, "text", x->text);
    json_object_end(j);
}

static void ports_json(struct json *j, const struct diff *d)
{
    json_array(j, "ports");
    for (unsigned port = 0; port < DIFF_NO_PORT; port++)
        if (d->ports.b_of[port] != DIFF_NO_PORT) {
            json_object(j, NULL);
            json_u64(j, "a", port);
            json_u64(j, "b", d->ports.b_of[port]);
            json_object_end(j);
        }
    json_array_end(j);
    json_bool(j, "renumbered", d->ports.renumbered);
}

static void notes_json(struct json *j, const struct diff_notes *n)
{
    json_object(j, "compared");
    json_u64(j, "deeds", n->deeds);
    json_u64(j, "offers", n->offers);
    json_u64(j, "contracts", n->contracts);
    json_u64(j, "rules", n->rules);
    json_u64(j, "timers", n->timers);
    json_u64(j, "voltages", n->voltages);
    json_object_end(j);
    json_object(j, "not_compared");
    json_u64(j, "repeats", n->repeats);
    json_u64(j, "few_times", n->few);
    json_u64(j, "one_sided_rules", n->one_sided);
    json_u64(j, "ports_without_plugs", n->plugs);
    json_u64(j, "ports_cut", n->left_out);
    json_u64(j, "ports_with_losses", n->losses);
    json_object_end(j);
}

static void one_trace(struct json *j, const char *key, const struct check *c)
{
    trace_json_named(j, key, c->path, &c->facts, bench_about(engine_bench(c->engine)));
}

void diff_json(struct out *o, const struct diff *d)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    schema_json(&j);
    one_trace(&j, "a", d->a);
    one_trace(&j, "b", d->b);
    json_bool(&j, "same", d->count == 0);
    ports_json(&j, d);
    json_array(&j, "differences");
    for (size_t k = 0; k < d->count; k++)
        difference_json(&j, &d->items[k]);
    json_array_end(&j);
    if (d->left_out)
        json_u64(&j, "differences_left_out", d->left_out);
    notes_json(&j, &d->notes);
    json_object_end(&j);
    json_line(&j);
}
