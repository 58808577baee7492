/* `show -v`: below the line, every field of the header and of every object, and the bytes. */
#include "cli/show.h"

#include "capture/base/cursor.h"
#include "cli/object_text.h"
#include "cli/speech_objects.h"
#include "cli/speech_text.h"

enum { INDENT = 8, COLUMNS = 3, WORD_BYTES = 4, LABEL_WIDTH = 10, MICRO = 6, ABOUT_PIECE = 50 };

static void label(struct out *o, const char *text)
{
    out_spaces(o, INDENT);
    out_text_wide(o, text, LABEL_WIDTH);
}

static void flags_detail(struct out *o, const struct record *r)
{
    static const struct { uint8_t flag; const char *words; } flags[] = {
        { RECORD_HOST_TIME, "stamped by the host" }, { RECORD_END_TIME, "stamped at its end" }, { RECORD_INVENTED, "INVENTED" },
    };
    bool first = true;

    if (!r->duration_ns && !(r->flags & (RECORD_HOST_TIME | RECORD_END_TIME | RECORD_INVENTED)))
        return;
    label(o, "record");
    if (r->duration_ns) {
        out_text(o, "took ");
        out_short(o, r->duration_ns, 3);
        out_text(o, " us");
        first = false;
    }
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++)
        if (r->flags & flags[i].flag) {
            out_text(o, first ? "" : ", ");
            out_text(o, flags[i].words);
            first = false;
        }
    out_line(o);
}

static void header_detail(struct out *o, const struct message *m)
{
    static const char *const crc[] = { [CRC_GOOD] = "good", [CRC_BAD] = "bad", [CRC_ABSENT] = "not in the record" };

    label(o, "header");
    out_text(o, "0x");
    out_hex(o, m->header, 4);
    out_text(o, "  ");
    out_text(o, class_text(m->message_class));
    out_text(o, " type ");
    out_u64(o, m->type);
    out_text(o, ", objects ");
    out_u64(o, m->objects);
    out_text(o, ", id ");
    out_u64(o, m->id);
    out_text(o, ", revision ");
    out_text(o, header_revision_name(m->revision));
    if (m->set == SET_SOP) {
        out_text(o, m->power_bit ? ", source" : ", sink");
        out_text(o, m->data_bit ? ", DFP" : ", UFP");
    } else {
        out_text(o, m->power_bit ? ", from the cable" : ", from a port");
    }
    out_text(o, "; CRC ");
    out_text(o, crc[m->crc % 3]);
    out_line(o);
    if (!m->has_extended_header)
        return;
    label(o, "extended");
    out_text(o, "0x");
    out_hex(o, m->extended_header, 4);
    out_text(o, m->chunked ? "  chunked, chunk " : "  not chunked, chunk ");
    out_u64(o, m->chunk);
    out_text(o, m->request_chunk ? ", a request for it" : "");
    out_text(o, ", data size ");
    out_u64(o, m->data_size);
    out_line(o);
}

/* In groups as they belong together: the header, the extended header, words of four. */
static void bytes_detail(struct out *o, const struct record *r, const struct speech *p)
{
    struct cursor c = cursor_over(r->packet.bytes, r->packet.length);
    size_t        group = 2, next = p && p->m.has_extended_header ? 2 : WORD_BYTES;

    label(o, "bytes");
    size_t indent = out_place(o);

    while (c.left > 0) {
        size_t         item = out_item(o);
        size_t         length = group < c.left ? group : c.left;
        const uint8_t *bytes = cursor_take(&c, length);

        out_hex_bytes(o, bytes, length);
        out_item_end(o, item, indent);
        if (c.left > 0)
            out_char(o, ' ');
        group = next;
        next = WORD_BYTES;
    }
    out_line(o);
}

static void objects_detail(struct out *o, const struct show *s)
{
    struct speech_object list[SPEECH_OBJECTS_MAX];
    unsigned             count = speech_objects(s->port, s->speech, list);

    for (unsigned k = 0; k < count; k++)
        word_detail(o, INDENT, list[k].kind == SPEECH_PDO && list[k].pdo.position ? list[k].pdo.position : k + 1, list[k].layout,
                    list[k].word);
}

static void packet_detail(struct out *o, const struct show *s)
{
    const struct speech *p = s->speech;

    if (p) {
        const struct block_layout *layout = block_layout(p->m.type, p->m.set != SET_SOP);

        header_detail(o, &p->m);
        objects_detail(o, s);
        if (p->m.message_class == CLASS_EXTENDED && p->news == CHUNK_COMPLETE && layout)
            block_detail(o, INDENT, layout, p->data, p->size);
    }
    bytes_detail(o, s->record, p);
}

static void cell_detail(struct out *o, int32_t value)
{
    if (value == RECORD_NO_READING)
        out_text(o, "         -");
    else
        out_fixed(o, value, MICRO, MICRO, LABEL_WIDTH);
}

static void power_detail(struct out *o, const struct record *r)
{
    static const char *const names[COLUMNS] = { "    VBUS V", "    IBUS A", "   VCONN V" };

    label(o, "row");
    for (unsigned bit = 0; bit < COLUMNS; bit++)
        if (r->power.columns >> bit & 1) {
            out_text(o, "  ");
            out_text(o, names[bit]);
        }
    out_line(o);
    for (unsigned row = 0; row < r->power.rows; row++) {
        out_spaces(o, INDENT);
        out_u64_wide(o, row, 5);
        out_spaces(o, LABEL_WIDTH - 5);
        for (unsigned c = 0; c < r->power.width; c++) {
            out_text(o, "  ");
            cell_detail(o, record_cell(r, row, c));
        }
        out_line(o);
    }
}

static void about_detail(struct out *o, const struct record *r)
{
    size_t from = 0;

    label(o, "text");
    size_t indent = out_place(o);

    while (from < r->about.length) {
        size_t item = out_item(o), end = from;

        while (end < r->about.length && end - from < ABOUT_PIECE && (end == from || r->about.text[end - 1] != ','))
            end++;
        out_clean(o, r->about.text + from, end - from);
        if (from > 0)
            out_item_end(o, item, indent);
        from = end;
    }
    out_line(o);
}

void show_detail(struct show *s)
{
    const struct record *r = s->record;
    struct out          *o = s->out;

    switch (show_kind_of(r)) {
    case SHOW_PACKET:
        flags_detail(o, r);
        packet_detail(o, s);
        return;
    case SHOW_POWER:
        flags_detail(o, r);
        power_detail(o, r);
        return;
    case SHOW_ABOUT:
        flags_detail(o, r);
        about_detail(o, r);
        return;
    case SHOW_RESET:
    case SHOW_CC:
    case SHOW_MARK:
    case SHOW_LOST:
    case SHOW_TEMPERATURE:
        flags_detail(o, r);
        return;
    case SHOW_EDGES:
        flags_detail(o, r);
        show_edges_detail(o, r);
        return;
    case SHOW_UNKNOWN:
    case SHOW_DAMAGED:
    case SHOW_UNREADABLE:
        label(o, "bytes");
        out_hex_bytes(o, r->bytes, r->length < 64 ? r->length : 64);
        out_text(o, r->length > 64 ? " ..." : "");
        out_line(o);
        return;
    case SHOW_KINDS:
        return;
    }
}
