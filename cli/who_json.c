/* Who is at a port, as JSON. */
#include "cli/object_json.h"
#include "cli/who.h"

#include <stdlib.h>

enum { FIRST_OBJECT = 1, THOUSAND = 1000 };

static enum object_kind identity_kind(const struct identity *i, unsigned k)
{
    return object_kind_of_vdm(i->words, i->count + 1u, k, i->set, i->revision);
}

/* A rating that its table names ("5 A", "50 V") in thousandths of the unit; null where the value has no such name. */
static void rating_json(struct json *j, const char *key, const struct field *f, uint32_t raw)
{
    const char *name = field_name_of(f, raw);
    char       *end = NULL;
    long        value = name ? strtol(name, &end, 10) : 0;

    if (!name || end == name)
        json_null(j, key);
    else
        json_i64(j, key, value * THOUSAND);
}

/* The numbers of an identity that other programs want to find without looking through its objects. */
static void identity_numbers_json(struct json *j, const struct identity *i)
{
    static const struct { const char *key, *as; bool named; } keys[] = {
        { "vid", "vid", false },         { "pid", "pid", false },         { "bcd_device", "bcd_device", false },
        { "xid", "xid", false },         { "ufp_type", "ufp_type", true }, { "dfp_type", "dfp_type", true },
        { "cable_type", "type", true },  { "speed", "speed", true },
    };
    static const struct { const char *key, *as; } ratings[] = { { "current", "current_ma" }, { "max_vbus", "max_mv" } };
    uint32_t raw;

    for (unsigned k = FIRST_OBJECT; k <= i->count; k++) {
        enum object_kind    kind = identity_kind(i, k);
        const struct field *f;

        for (size_t n = 0; n < sizeof keys / sizeof keys[0]; n++)
            if ((f = word_field(kind, i->words[k], keys[n].key, &raw)) != NULL) {
                if (keys[n].named)
                    json_text(j, keys[n].as, field_name_of(f, raw));
                else
                    json_u64(j, keys[n].as, raw);
            }
        for (size_t n = 0; n < sizeof ratings / sizeof ratings[0]; n++)
            if ((f = word_field(kind, i->words[k], ratings[n].key, &raw)) != NULL)
                rating_json(j, ratings[n].as, f, raw);
        if ((f = word_field(kind, i->words[k], "epr_capable", &raw)) != NULL)
            json_bool(j, "epr_capable", raw != 0);
    }
}

static void identity_json(struct json *j, const char *key, const struct identity *i, const char *party, int64_t zero_ns)
{
    if (i->frame == 0) {
        json_null(j, key);
        return;
    }
    json_object(j, key);
    json_u64(j, "frame", i->frame);
    json_i64(j, "t_ns", i->t_ns - zero_ns);
    json_text(j, "set", ordered_set_name(i->set));
    json_text(j, "party", party);
    identity_numbers_json(j, i);
    json_array(j, "objects");
    for (unsigned k = FIRST_OBJECT; k <= i->count; k++)
        word_json(j, NULL, identity_kind(i, k), i->words[k]);
    json_array_end(j);
    json_object_end(j);
}

static void block_or_null_json(struct json *j, const char *key, unsigned type, uint64_t frame, const uint8_t *data, size_t size)
{
    const struct block_layout *layout = block_layout(type, false);

    if (frame == 0 || !layout) {
        json_null(j, key);
        return;
    }
    json_object(j, key);
    json_u64(j, "frame", frame);
    block_json(j, "data", layout, data, size);
    json_object_end(j);
}

static void word_or_null_json(struct json *j, const char *key, uint64_t frame, enum object_kind kind, uint32_t word)
{
    if (frame == 0) {
        json_null(j, key);
        return;
    }
    json_object(j, key);
    json_u64(j, "frame", frame);
    word_json(j, "data", kind, word);
    json_object_end(j);
}

static void element_json(struct json *j, uint64_t frame, const char *party)
{
    json_object(j, NULL);
    json_u64(j, "frame", frame);
    json_text(j, "party", party);
}

static void by_player_json(struct json *j, const struct ratings *r, const struct about_port *about)
{
    json_array(j, "revisions");
    for (unsigned k = 0; k < 3; k++)
        if (r->revision_frame[k]) {
            element_json(j, r->revision_frame[k], player_party_name(about, k));
            word_json(j, "data", OBJECT_REVISION, r->revision[k]);
            json_object_end(j);
        }
    json_array_end(j);
    json_array(j, "manufacturers");
    for (unsigned k = 0; k < 3; k++)
        if (r->manufacturer_frame[k]) {
            element_json(j, r->manufacturer_frame[k], player_party_name(about, k));
            block_json(j, "data", block_layout(EXTENDED_MANUFACTURER_INFO, false), r->manufacturer[k], r->manufacturer_size[k]);
            json_object_end(j);
        }
    json_array_end(j);
    json_array(j, "batteries");
    for (unsigned k = 0; k < 2; k++)
        if (r->battery_frame[k]) {
            element_json(j, r->battery_frame[k], player_party_name(about, k));
            block_json(j, "data", block_layout(EXTENDED_BATTERY_CAPABILITIES, false), r->battery[k], sizeof r->battery[k]);
            json_object_end(j);
        }
    json_array_end(j);
}

/* Where power roles were swapped both may have told such a thing: the last that was told. */
static void by_role_json(struct json *j, const struct ratings *r)
{
    unsigned info = r->source_info_frame[1] > r->source_info_frame[0], source = r->source_ext_frame[1] > r->source_ext_frame[0],
             sink = r->sink_ext_frame[1] > r->sink_ext_frame[0];

    word_or_null_json(j, "source_info", r->source_info_frame[info], OBJECT_SOURCE_INFO, r->source_info[info]);
    block_or_null_json(j, "source_extended", EXTENDED_SOURCE_CAPABILITIES, r->source_ext_frame[source], r->source_ext[source],
                       r->source_ext_size[source]);
    block_or_null_json(j, "sink_extended", EXTENDED_SINK_CAPABILITIES, r->sink_ext_frame[sink], r->sink_ext[sink], r->sink_ext_size[sink]);
}

void who_json(struct json *j, const struct port_record *r, const struct about_port *about, int64_t zero_ns)
{
    unsigned device = device_player(about);
    unsigned partner = device == PLAYER_A ? PLAYER_B : PLAYER_A;

    identity_json(j, "identity", &r->identity[device], player_party_name(about, device), zero_ns);
    identity_json(j, "partner_identity", &r->identity[partner], player_party_name(about, partner), zero_ns);
    identity_json(j, "cable", &r->identity[2], "cable", zero_ns);
    identity_json(j, "cable_far", &r->identity[3], "cable", zero_ns);
    by_role_json(j, &r->ratings);
    by_player_json(j, &r->ratings, about);
}
