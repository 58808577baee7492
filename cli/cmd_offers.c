/* portassay offers: what each port advertises, and who is there. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/offers_text.h"
#include "cli/time_text.h"
#include "cli/trace_head.h"
#include "cli/trace_json.h"
#include "cli/trace_loop.h"
#include "cli/who.h"

#include <inttypes.h>

/* One trace as it is told. */
struct offers {
    const char           *path;
    const struct options *options;
    struct trace_facts    facts;
    int64_t               zero_ns;
    struct bench         *bench;
    struct collector      collector;
};

static bool out_of_memory(const char *path)
{
    complain("%s: out of memory; close something and try again", subject_of(path));
    return false;
}

static bool offers_feed(struct offers *a, struct trace_loop *l)
{
    const struct record *r;

    while (trace_loop_next(l, &r))
        if (!bench_feed(a->bench, r, trace_loop_stepped_back(l)))
            return out_of_memory(a->path);
    bench_end(a->bench, trace_loop_end_ns(l));
    return a->collector.failed ? out_of_memory(a->path) : true;
}

static void offers_free(struct offers *a)
{
    collector_free(&a->collector);
    bench_free(a->bench);
}

static bool offers_read(struct offers *a, const char *path, const struct options *options)
{
    struct trace_loop l;

    *a = (struct offers){ .path = path, .options = options };
    if (!trace_loop_open(&l, path, options, TRACE_LOOP_NAME_UNSOUND | TRACE_LOOP_PROGRESS))
        return false;
    a->bench = bench_new();
    bool done = a->bench ? trace_loop_about(&l, bench_about(a->bench)) : out_of_memory(path);

    if (done) {
        bench_default_time(a->bench, l.facts->default_time_ns);
        collector_watch(&a->collector, a->bench, options->ports.given ? options->ports.wanted : NULL, l.since_ns, l.until_ns, true);
        done = offers_feed(a, &l);
        a->facts = *l.facts;
        a->zero_ns = l.zero_ns;
    }
    done = trace_loop_close(&l) && done;
    if (!done)
        offers_free(a);
    return done;
}

static bool port_wanted(const struct offers *a, unsigned port)
{
    return bench_port(a->bench, port) && (!a->options->ports.given || a->options->ports.wanted[port]);
}

static const struct about_port *about_of(const struct offers *a, unsigned port)
{
    return about_port(bench_about(a->bench), (uint8_t)port);
}

static void trace_to_json(struct out *o, const struct offers *a)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    schema_json(&j);
    trace_json(&j, a->path, &a->facts, bench_about(a->bench));
    json_array(&j, "ports");
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct port_record *r = collector_port(&a->collector, port);

        if (!port_wanted(a, port))
            continue;
        json_object(&j, NULL);
        port_head_json(&j, port, about_of(a, port));
        offers_json(&j, r, about_of(a, port), a->zero_ns);
        who_or_null_json(&j, r, about_of(a, port), a->zero_ns);
        json_object_end(&j);
    }
    json_array_end(&j);
    if (a->collector.together_ports > 0) {
        json_object(&j, "together");
        json_u64(&j, "ports", a->collector.together_ports);
        json_i64(&j, "most_mw", a->collector.together_mw);
        json_i64(&j, "t_ns", a->collector.together_ns - a->zero_ns);
        json_object_end(&j);
    }
    if (a->options->about_path)
        json_text(&j, "about", a->options->about_path);
    json_object_end(&j);
    json_line(&j);
}

static void together_text(struct out *o, const struct offers *a)
{
    struct phrase p = phrase_empty();

    if (a->collector.together_ports == 0)
        return;
    phrase_format(&p, "%u ports at once offered ", a->collector.together_ports);
    phrase_short(&p, a->collector.together_mw, 3);
    phrase_add(&p, " W together at the most, from ");
    time_text(&p, a->collector.together_ns - a->zero_ns);
    phrase_add(&p, " on.");
    phrase_wrap(o, 0, p.text);
    out_line(o);
}

static void trace_to_text(struct out *o, const struct offers *a)
{
    bool any = false;

    trace_head_text(o, a->path, &a->facts, bench_about(a->bench), a->options->about_path);
    out_line(o);
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        const struct port_record *r = collector_port(&a->collector, port);

        if (!r || !port_wanted(a, port))
            continue;
        offers_text(o, r, about_of(a, port), port, a->zero_ns, a->options->verbose);
        any = any || r->offers.count > 0 || r->sink_offers.count > 0;
    }
    together_text(o, a);
    if (!any) {
        out_text(o, "No announcement was found: no port said what it offers or needs.");
        out_line(o);
    }
}

static int offers_run(const struct command *self, int argc, char **argv)
{
    struct options options;
    int            status;

    if (!options_read(self, argc, argv, &options, NULL, &status))
        return status;
    struct out *o = out_open(&options);

    if (!o)
        return STATUS_NOT_DONE;
    status = STATUS_DONE;
    for (unsigned k = 0; k < options.operand_count && !out_gone(o); k++) {
        struct offers a;

        if (!offers_read(&a, options.operands[k], &options)) {
            status = STATUS_NOT_DONE;
            continue;
        }
        if (k > 0 && !options.json)
            out_line(o);
        if (options.json)
            trace_to_json(o, &a);
        else
            trace_to_text(o, &a);
        offers_free(&a);
    }
    return out_close(o) ? status : STATUS_NOT_DONE;
}

const struct command command_offers = {
    .name = "offers",
    .arguments = "TRACE...",
    .summary = "what each port offers and needs, what changed when, and who is there",
    .details = "Every announcement is a table of its objects: volts, amperes and watts at the most; + is new and - is gone since the "
               "announcement before. Below it the set as a whole: the most power, the fixed voltages, what programmable objects (PPS) "
               "cover together, and what the flags say. An announcement sent again unchanged is counted, not shown again.\n",
    .common = COMMON_JSON | COMMON_PORT | COMMON_TIME | COMMON_ABOUT | COMMON_OUTPUT | COMMON_QUIET | COMMON_VERBOSE | COMMON_COLOR,
    .options = NULL,
    .operands_min = 1,
    .operands_max = 1u << 16,
    .run = offers_run,
};
