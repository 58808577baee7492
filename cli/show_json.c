/* `show --json`: a line a record. */
#include "cli/show.h"

#include "capture/base/cursor.h"
#include "cli/fault_text.h"
#include "cli/object_json.h"
#include "cli/speech_objects.h"
#include "cli/speech_text.h"

enum { NOT_MEASURED_MV = 0xffff, COLUMNS = 3 };

static void flags_json(struct json *j, uint8_t flags)
{
    json_array(j, "flags");
    if (flags & RECORD_HOST_TIME)
        json_text(j, NULL, "host_time");
    if (flags & RECORD_END_TIME)
        json_text(j, NULL, "end_time");
    if (flags & RECORD_INVENTED)
        json_text(j, NULL, "invented");
    json_array_end(j);
}

static void objects_json(struct json *j, const struct show *s)
{
    struct speech_object list[SPEECH_OBJECTS_MAX];
    unsigned             count = speech_objects(s->port, s->speech, list);

    json_array(j, "objects");
    for (unsigned k = 0; k < count; k++)
        switch (list[k].kind) {
        case SPEECH_PDO:
            pdo_json(j, NULL, &list[k].pdo, list[k].sink);
            break;
        case SPEECH_RDO:
            rdo_json(j, NULL, &list[k].rdo);
            break;
        case SPEECH_WORD:
            word_json(j, NULL, list[k].layout, list[k].word);
            break;
        }
    json_array_end(j);
}

static void extended_json(struct json *j, const struct speech *s)
{
    const struct block_layout *layout = block_layout(s->m.type, s->m.set != SET_SOP);

    if (s->m.has_extended_header && s->m.chunked) {
        json_object(j, "chunk");
        json_u64(j, "number", s->m.chunk);
        json_bool(j, "request", s->m.request_chunk);
        json_u64(j, "size", s->m.data_size);
        json_object_end(j);
    }
    if (s->news != CHUNK_COMPLETE || speech_has_objects(s))
        return;
    if (layout)
        block_json(j, "data", layout, s->data, s->size);
    else
        json_hex(j, "data_bytes", s->data, s->size);
}

static void packet_json(struct json *j, const struct show *s)
{
    static const char *const crc[] = { [CRC_GOOD] = "good", [CRC_BAD] = "bad", [CRC_ABSENT] = "absent" };
    const struct record     *r = s->record;

    json_text(j, "set", ordered_set_name(r->packet.set));
    if (s->speech) {
        const struct message *m = &s->speech->m;
        const char           *name = message_kind(m->index)->name;

        json_text(j, "from", side_name(s->speech->side));
        json_text(j, "class", class_text(m->message_class));
        json_text(j, "type", name ? name : "reserved");
        if (!name)
            json_u64(j, "number", m->type);
        json_u64(j, "id", m->id);
        json_text(j, "rev", header_revision_name(m->revision));
        json_text(j, "crc", crc[m->crc % 3]);
        json_bool(j, "copy", s->speech->copy);
        if (m->truncated)
            json_bool(j, "truncated", true);
        if (m->message_class == CLASS_EXTENDED)
            extended_json(j, s->speech);
        if (speech_has_objects(s->speech))
            objects_json(j, s);
    }
    json_hex(j, "bytes", r->packet.bytes, r->packet.length);
}

static void cell_json(struct json *j, int32_t value)
{
    if (value == RECORD_NO_READING)
        json_null(j, NULL);
    else
        json_i64(j, NULL, value);
}

static void power_rows_json(struct json *j, const struct record *r)
{
    json_array(j, "values");
    for (unsigned row = 0; row < r->power.rows; row++) {
        json_array(j, NULL);
        for (unsigned c = 0; c < r->power.width; c++)
            cell_json(j, record_cell(r, row, c));
        json_array_end(j);
    }
    json_array_end(j);
}

static void power_json(struct json *j, const struct record *r, bool verbose)
{
    static const char *const names[COLUMNS] = { "vbus_uv", "ibus_ua", "vconn_uv" };
    int32_t                  least[COLUMNS], greatest[COLUMNS];
    unsigned                 width = r->power.width;

    json_u64(j, "interval_ns", r->power.interval_ns);
    json_u64(j, "rows", r->power.rows);
    json_array(j, "columns");
    for (unsigned bit = 0; bit < COLUMNS; bit++)
        if (r->power.columns >> bit & 1)
            json_text(j, NULL, names[bit]);
    json_array_end(j);
    json_array(j, "first");
    for (unsigned c = 0; c < width; c++)
        cell_json(j, record_cell(r, 0, c));
    json_array_end(j);
    for (unsigned c = 0; c < width; c++)
        if (!record_column_range(r, c, &least[c], &greatest[c]))
            least[c] = greatest[c] = RECORD_NO_READING;
    json_array(j, "min");
    for (unsigned c = 0; c < width; c++)
        cell_json(j, least[c]);
    json_array_end(j);
    json_array(j, "max");
    for (unsigned c = 0; c < width; c++)
        cell_json(j, greatest[c]);
    json_array_end(j);
    if (verbose)
        power_rows_json(j, r);
}

static void millivolt_json(struct json *j, const char *key, uint16_t mv)
{
    if (mv == NOT_MEASURED_MV)
        json_null(j, key);
    else
        json_u64(j, key, mv);
}

static void cc_json(struct json *j, const struct record *r)
{
    json_u64(j, "attach", r->cc.attach);
    json_u64(j, "rp", r->cc.rp);
    json_text(j, "rp_name", show_rp_text(r->cc.rp));
    millivolt_json(j, "cc1_mv", r->cc.cc1_mv);
    millivolt_json(j, "cc2_mv", r->cc.cc2_mv);
}

static void mark_json(struct json *j, const struct record *r)
{
    json_u64(j, "action", r->mark.action);
    json_text(j, "action_name", show_action_text(r->mark.action));
    if (r->mark.subject == RECORD_PORT_NONE)
        json_null(j, "subject");
    else
        json_u64(j, "subject", r->mark.subject);
    json_i64(j, "value", r->mark.value);
    json_text_n(j, "text", r->mark.text, r->mark.length);
}

static void lost_json(struct json *j, const struct record *r)
{
    if (r->lost.count == RECORD_LOST_UNKNOWN)
        json_null(j, "count");
    else
        json_u64(j, "count", r->lost.count);
    json_u64(j, "where", r->lost.where);
    json_text(j, "where_name", show_where_text(r->lost.where));
}

static void about_record_json(struct json *j, const struct show *s)
{
    json_compact(j, "about", s->record->about.text, s->record->about.length);
    if (s->options->about_path)
        json_text(j, "corrected_by", s->options->about_path);
}

static void edges_json(struct json *j, const struct record *r)
{
    struct cursor c = cursor_over(r->edges.leb, r->edges.length);
    uint64_t      edges = 0;

    while (c.left > 0) /* a number ends with a byte below 0x80 */
        edges += cursor_u8(&c) < 0x80 ? 1 : 0;
    json_u64(j, "tick_ps", r->edges.tick_ps);
    json_u64(j, "level", r->edges.level);
    json_u64(j, "edges", edges);
}

static void body_json(struct json *j, const struct show *s, enum show_kind kind)
{
    const struct record *r = s->record;

    switch (kind) {
    case SHOW_PACKET:
        packet_json(j, s);
        return;
    case SHOW_RESET:
        json_text(j, "which", r->reset.which == RECORD_CABLE_RESET ? "cable" : "hard");
        return;
    case SHOW_POWER:
        power_json(j, r, s->options->verbose);
        return;
    case SHOW_CC:
        cc_json(j, r);
        return;
    case SHOW_MARK:
        mark_json(j, r);
        return;
    case SHOW_LOST:
        lost_json(j, r);
        return;
    case SHOW_TEMPERATURE:
        json_u64(j, "probe", r->temperature.probe);
        json_i64(j, "mc", r->temperature.mc);
        json_text_n(j, "label", r->temperature.label, r->temperature.length);
        return;
    case SHOW_ABOUT:
        about_record_json(j, s);
        return;
    case SHOW_EDGES:
        edges_json(j, r);
        return;
    case SHOW_UNKNOWN:
    case SHOW_DAMAGED:
    case SHOW_UNREADABLE:
        json_text(j, "why", record_why_text(r->why));
        if (kind != SHOW_UNREADABLE)
            json_u64(j, "record_kind", r->kind);
        return;
    case SHOW_KINDS:
        return;
    }
}

void show_json_keys(struct json *j, const struct show *s)
{
    const struct record *r = s->record;
    enum show_kind       kind = show_kind_of(r);

    json_u64(j, "frame", r->frame);
    json_i64(j, "t_ns", r->t_ns - s->zero_ns);
    if (kind == SHOW_UNREADABLE) /* its header says nothing that can be relied on */
        json_null(j, "port");
    else
        json_u64(j, "port", r->port);
    json_text(j, "kind", show_kind_names[kind]);
    body_json(j, s, kind);
    if (r->duration_ns && kind != SHOW_UNREADABLE)
        json_u64(j, "duration_ns", r->duration_ns);
    else
        json_null(j, "duration_ns");
    flags_json(j, kind == SHOW_UNREADABLE ? 0 : r->flags);
}

void show_json(struct show *s)
{
    struct json j = json_over(s->out);

    json_object(&j, NULL);
    show_json_keys(&j, s);
    json_object_end(&j);
    json_line(&j);
}
