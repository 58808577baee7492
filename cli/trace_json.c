#include "cli/trace_json.h"

#include "cli/command.h"
#include "cli/object_json.h"
#include "cli/who.h"

void schema_json(struct json *j)
{
    json_i64(j, "schema", 1);
    json_text(j, "tool", PORTASSAY_NAME " " PORTASSAY_VERSION);
}

void trace_json(struct json *j, const char *path, const struct trace_facts *f, const struct about *a)
{
    trace_json_named(j, "trace", path, f, a);
}

void trace_json_named(struct json *j, const char *key, const char *path, const struct trace_facts *f, const struct about *a)
{
    json_object(j, key);
    json_text(j, "file", path);
    if (f->has_zero)
        json_time(j, "start", f->zero_ns);
    else
        json_null(j, "start");
    json_i64(j, "duration_ns", f->has_zero && f->last_ns > f->zero_ns ? f->last_ns - f->zero_ns : 0);
    json_u64(j, "records", f->records);
    json_u64(j, "unknown", f->unknown);
    json_u64(j, "damaged", f->damaged);
    json_u64(j, "unreadable", f->unreadable);
    json_u64(j, "lost", f->lost);
    if (f->lost_unknown)
        json_bool(j, "lost_unknown", true);
    json_u64(j, "time_steps", f->time_steps);
    json_bool(j, "cut_off", f->cut_off);
    json_bool(j, "invented", f->invented);
    json_tree(j, "about", about_json(a));
    json_object_end(j);
}

void port_head_json(struct json *j, unsigned port, const struct about_port *about)
{
    json_u64(j, "port", port);
    json_text(j, "name", about->name[0] ? about->name : NULL);
}

static void positions_json(struct json *j, const char *key, unsigned mask)
{
    json_array(j, key);
    for (unsigned k = 0; k < PDO_MAX; k++)
        if (mask >> k & 1)
            json_u64(j, NULL, k + 1);
    json_array_end(j);
}

static const char *announcement_name(const struct announcement *a)
{
    if (a->sink)
        return a->epr ? "EPR_Sink_Capabilities" : "Sink_Capabilities";
    return a->epr ? "EPR_Source_Capabilities" : "Source_Capabilities";
}

static void announcement_json(struct json *j, const struct announcement *a, bool first, const struct about_port *about,
                              int64_t zero_ns)
{
    struct pdo most = announcement_most(a);

    json_object(j, NULL);
    json_u64(j, "frame", a->frame);
    json_i64(j, "t_ns", a->t_ns - zero_ns);
    json_text(j, "message", announcement_name(a));
    json_text(j, "party", player_party_name(about, a->player));
    json_bool(j, "delivered", a->delivered);
    json_u64(j, "repeated", a->repeated);
    if (!a->sink)
        json_i64(j, "most_mw", most.word ? pdo_most_mw(&most) : 0);
    json_array(j, "pdos");
    for (unsigned k = 0; k < a->count; k++) {
        struct pdo p = announcement_pdo(a, k);

        if (p.word != 0 || !a->epr) /* zero fillers of an EPR announcement are no objects */
            pdo_json(j, NULL, &p, a->sink);
    }
    json_array_end(j);
    if (!first) {
        json_object(j, "changed");
        positions_json(j, "added", a->added);
        positions_json(j, "removed", a->removed);
        json_object_end(j);
    }
    json_object_end(j);
}

static void announcements_json(struct json *j, const char *key, const char *left_out_key, const struct announcements *list,
                               const struct about_port *about, int64_t zero_ns)
{
    json_array(j, key);
    for (size_t k = 0; list && k < list->count; k++)
        announcement_json(j, &list->items[k], k == 0, about, zero_ns);
    json_array_end(j);
    if (list && list->left_out)
        json_u64(j, left_out_key, list->left_out);
}

void offers_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns)
{
    announcements_json(j, "offers", "offers_left_out", r ? &r->offers : NULL, about, zero_ns);
    announcements_json(j, "sink_offers", "sink_offers_left_out", r ? &r->sink_offers : NULL, about, zero_ns);
}

static void contract_json(struct json *j, const struct contract *c, int64_t zero_ns)
{
    json_object(j, NULL);
    json_u64(j, "frame", c->frame);
    json_i64(j, "t_ns", c->t_ns - zero_ns);
    json_u64(j, "position", c->position);
    json_text(j, "supply", supply_name(c->supply));
    json_i64(j, "mv", c->mv);
    if (c->supply == SUPPLY_BATTERY)
        json_i64(j, "mw", c->mw);
    else
        json_i64(j, "ma", c->ma);
    json_u64(j, "renewed", c->renewed);
    json_i64(j, "until_ns", c->until_ns - zero_ns);
    json_text(j, "ended_by", contract_end_name(c->ended_by));
    json_object_end(j);
}

void contracts_json(struct json *j, const struct port_record *r, int64_t zero_ns)
{
    json_array(j, "contracts");
    for (size_t k = 0; r && k < r->contracts.count; k++)
        contract_json(j, &r->contracts.items[k], zero_ns);
    json_array_end(j);
    if (r && r->contracts.left_out)
        json_u64(j, "contracts_left_out", r->contracts.left_out);
}

void who_or_null_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns)
{
    static const struct port_record nobody;

    who_json(j, r ? r : &nobody, about, zero_ns);
}
