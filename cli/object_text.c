#include "cli/object_text.h"

#include "capture/base/cursor.h"

enum { VALUE_COLUMN = 44, DETAIL_STEP = 2, THOUSANDS = 3 };

/* One value of a row, whichever table the row is of. */
struct value {
    const char *name;
    unsigned    unit, step, bits;
    uint64_t    raw;
    const char *named;  /* the name of this value, or NULL */
};

static void unit_out(struct out *o, const struct value *v, unsigned scale, const char *unit)
{
    out_short(o, (int64_t)(v->raw * v->step), scale);
    out_char(o, ' ');
    out_text(o, unit);
}

static void quantity_out(struct out *o, const struct value *v)
{
    switch ((enum unit)v->unit) {
    case UNIT_NONE:    out_u64(o, v->raw * v->step); return;
    case UNIT_MV:      unit_out(o, v, THOUSANDS, "V"); return;
    case UNIT_MA:      unit_out(o, v, THOUSANDS, "A"); return;
    case UNIT_MW:      unit_out(o, v, THOUSANDS, "W"); return;
    case UNIT_MWH:     unit_out(o, v, THOUSANDS, "Wh"); return;
    case UNIT_CELSIUS: unit_out(o, v, 0, "degrees C"); return;
    case UNIT_MS:      unit_out(o, v, 0, "ms"); return;
    case UNIT_PERCENT: unit_out(o, v, 0, "%"); return;
    case UNIT_MOHM:    unit_out(o, v, 0, "mohm"); return;
    case UNIT_W:       unit_out(o, v, 0, "W"); return;
    case UNIT_FLAG:    out_text(o, v->raw ? "yes" : "no"); return;
    case UNIT_HEX:
        out_text(o, "0x");
        out_hex(o, v->raw, (v->bits + 3) / 4);
        return;
    case UNIT_LETTER:
        if (v->raw > 0x20 && v->raw < 0x7f)
            out_char(o, (char)v->raw);
        else
            out_u64(o, v->raw);
        return;
    }
}

static void value_out(struct out *o, const struct value *v)
{
    if (!v->named) {
        quantity_out(o, v);
        return;
    }
    out_words(o, v->named, strlen(v->named), out_place(o));
    if (v->unit == UNIT_HEX) {
        out_text(o, " (");
        quantity_out(o, v);
        out_char(o, ')');
    } else {
        out_text(o, " (");
        out_u64(o, v->raw);
        out_char(o, ')');
    }
}

static void row_detail(struct out *o, size_t indent, const struct value *v)
{
    out_spaces(o, indent);
    out_text(o, v->name);
    out_column(o, indent + VALUE_COLUMN);
    value_out(o, v);
    out_line(o);
}

/* In few words: a flag by its name, a named value by its name, a number behind what it counts. */
static void row_brief(struct out *o, size_t indent, const struct value *v, bool *first)
{
    if (v->raw == 0 && (v->unit == UNIT_FLAG || !v->named))
        return;
    size_t item = out_item(o);

    if (v->unit == UNIT_LETTER) { /* of a word: they stand together */
        quantity_out(o, v);
        *first = false;
        return;
    }
    if (!*first)
        out_text(o, ", ");
    if (v->named && v->unit != UNIT_HEX) {
        out_text(o, v->named);
    } else {
        out_text(o, v->name);
        if (v->unit != UNIT_FLAG) {
            out_char(o, ' ');
            quantity_out(o, v);
        }
    }
    if (!*first)
        out_item_end(o, item, indent);
    *first = false;
}

static struct value word_value(const struct field *f, uint32_t word)
{
    uint32_t raw = field_raw(f, word);

    return (struct value){ f->name, f->unit, f->step, f->bits, raw, field_name_of(f, raw) };
}

void word_brief(struct out *o, size_t indent, enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);
    bool                        first = true;

    for (unsigned i = 0; i < layout->count; i++) {
        struct value v = word_value(&layout->fields[i], word);

        if (layout->fields[i].key)
            row_brief(o, indent, &v, &first);
    }
}

static void reserved_detail(struct out *o, size_t indent, const char *place, unsigned number, unsigned low, unsigned bits,
                            uint64_t raw)
{
    out_spaces(o, indent);
    out_text(o, "Reserved");
    out_text(o, place);
    if (*place)
        out_u64(o, number);
    out_text(o, bits > 1 ? ", bits " : ", bit ");
    if (bits > 1) {
        out_u64(o, low + bits - 1);
        out_text(o, " to ");
    }
    out_u64(o, low);
    out_column(o, indent + VALUE_COLUMN);
    out_u64(o, raw);
    out_text(o, ", should be 0");
    out_line(o);
}

void word_detail(struct out *o, size_t indent, unsigned number, enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);

    out_spaces(o, indent);
    out_u64(o, number);
    out_text(o, ". ");
    out_text(o, layout->title);
    out_column(o, indent + DETAIL_STEP + VALUE_COLUMN);
    out_text(o, "0x");
    out_hex(o, word, 8);
    out_line(o);
    for (unsigned i = 0; i < layout->count && kind != OBJECT_RAW; i++) {
        const struct field *f = &layout->fields[i];
        struct value        v = word_value(f, word);

        if (f->key)
            row_detail(o, indent + DETAIL_STEP, &v);
        else if (v.raw != 0)
            reserved_detail(o, indent + DETAIL_STEP, "", 0, f->low, f->bits, v.raw);
    }
}

/* What is left of the block from the field's place on. */
static void rest_out(struct out *o, const struct block_field *f, const uint8_t *data, size_t size)
{
    struct cursor c = cursor_over(data, size);

    cursor_take(&c, f->byte);
    size_t         length = c.left;
    const uint8_t *rest = cursor_take(&c, length);
    const uint8_t *end = rest && f->text ? memchr(rest, 0, length) : NULL;

    if (!rest)
        return;
    if (f->text)
        out_clean(o, (const char *)rest, end ? (size_t)(end - rest) : length);
    else
        out_hex_bytes(o, rest, length);
}

static struct value block_field_value(const struct block_field *f, uint64_t raw)
{
    return (struct value){ f->name, f->unit, f->step, f->bits, raw, value_name_of(f->names, raw) };
}

void block_brief(struct out *o, size_t indent, const struct block_layout *layout, const uint8_t *data, size_t size)
{
    bool first = true;

    for (unsigned i = 0; i < layout->count; i++) {
        const struct block_field *f = &layout->fields[i];
        uint64_t                  raw;

        if (!f->key || !block_value(f, data, size, &raw))
            continue;
        if (f->size == 0) {
            out_text(o, first ? "" : ", ");
            rest_out(o, f, data, size);
            first = false;
            continue;
        }
        struct value v = block_field_value(f, raw);

        row_brief(o, indent, &v, &first);
    }
}

void block_detail(struct out *o, size_t indent, const struct block_layout *layout, const uint8_t *data, size_t size)
{
    out_spaces(o, indent);
    out_text(o, layout->title);
    out_line(o);
    for (unsigned i = 0; i < layout->count; i++) {
        const struct block_field *f = &layout->fields[i];
        uint64_t                  raw;

        if (!block_value(f, data, size, &raw))
            continue;
        if (f->size == 0) {
            out_spaces(o, indent + DETAIL_STEP);
            out_text(o, f->name);
            out_column(o, indent + DETAIL_STEP + VALUE_COLUMN);
            rest_out(o, f, data, size);
            out_line(o);
            continue;
        }
        struct value v = block_field_value(f, raw);

        if (f->key)
            row_detail(o, indent + DETAIL_STEP, &v);
        else if (raw != 0)
            reserved_detail(o, indent + DETAIL_STEP, ", byte ", f->byte, f->low, f->bits, raw);
    }
}
