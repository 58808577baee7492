#include "cli/object_json.h"

#include "capture/base/cursor.h"

static void source_flags_json(struct json *j, const struct pdo *p)
{
    if (p->supply == SUPPLY_PPS)
        json_bool(j, "limited", p->limited);
    if (p->supply == SUPPLY_FIXED && p->position == 1) {
        json_bool(j, "dual_role_power", p->dual_role_power);
        json_bool(j, "usb_suspend", p->usb_suspend);
        json_bool(j, "unconstrained", p->unconstrained);
        json_bool(j, "usb_comm", p->usb_comm);
        json_bool(j, "dual_role_data", p->dual_role_data);
        json_bool(j, "unchunked", p->unchunked);
        json_bool(j, "epr_capable", p->epr_capable);
    }
    if (p->supply == SUPPLY_FIXED || p->supply == SUPPLY_EPR_AVS || p->supply == SUPPLY_SPR_AVS)
        json_u64(j, "peak", p->peak);
}

static void sink_flags_json(struct json *j, const struct pdo *p)
{
    if (p->supply != SUPPLY_FIXED || p->position != 1)
        return;
    json_bool(j, "dual_role_power", p->dual_role_power);
    json_bool(j, "higher_capability", p->higher_capability);
    json_bool(j, "unconstrained", p->unconstrained);
    json_bool(j, "usb_comm", p->usb_comm);
    json_bool(j, "dual_role_data", p->dual_role_data);
    json_u64(j, "fr_swap", p->fr_swap);
}

static void range_json(struct json *j, const struct pdo *p)
{
    json_i64(j, "min_mv", p->min_mv);
    json_i64(j, "max_mv", p->max_mv);
}

static void pdo_values_json(struct json *j, const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
        json_i64(j, "mv", p->max_mv);
        json_i64(j, "ma", p->max_ma);
        return;
    case SUPPLY_BATTERY:
        range_json(j, p);
        json_i64(j, "mw", p->max_mw);
        return;
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        range_json(j, p);
        json_i64(j, "ma", p->max_ma);
        return;
    case SUPPLY_EPR_AVS:
        range_json(j, p);
        json_i64(j, "pdp_w", p->max_mw / 1000); /* whole watts in the object */
        return;
    case SUPPLY_SPR_AVS:
        json_i64(j, "ma_9_15v", p->max_ma);
        json_i64(j, "ma_15_20v", p->max_ma_20v);
        return;
    case SUPPLY_RESERVED:
        return;
    }
}

void pdo_json(struct json *j, const char *key, const struct pdo *p, bool sink)
{
    json_object(j, key);
    json_word(j, "word", p->word);
    json_u64(j, "position", p->position);
    json_text(j, "supply", supply_name(p->supply));
    pdo_values_json(j, p);
    if (sink)
        sink_flags_json(j, p);
    else
        source_flags_json(j, p);
    json_object_end(j);
}

static void rdo_values_json(struct json *j, const struct rdo *r)
{
    switch ((enum request_form)r->form) {
    case REQUEST_FIXED_VARIABLE:
        json_i64(j, "op_ma", r->op_ma);
        json_i64(j, "max_ma", r->max_ma);
        return;
    case REQUEST_BATTERY:
        json_i64(j, "op_mw", r->op_mw);
        json_i64(j, "max_mw", r->max_mw);
        return;
    case REQUEST_PPS:
    case REQUEST_AVS:
        json_i64(j, "mv", r->mv);
        json_i64(j, "op_ma", r->op_ma);
        return;
    case REQUEST_FORM_UNKNOWN:
        return;
    }
}

void rdo_json(struct json *j, const char *key, const struct rdo *r)
{
    json_object(j, key);
    json_word(j, "word", r->word);
    json_u64(j, "position", r->position);
    rdo_values_json(j, r);
    json_bool(j, "mismatch", r->mismatch);
    json_bool(j, "usb_comm", r->usb_comm);
    json_bool(j, "no_usb_suspend", r->no_usb_suspend);
    json_bool(j, "unchunked", r->unchunked);
    json_bool(j, "epr_capable", r->epr_capable);
    json_bool(j, "give_back", r->give_back);
    json_object_end(j);
}

/* One value by its unit. A code that stands for no quantity ("unknown", "not supported") in a scaled field is null. */
static void value_json(struct json *j, const char *key, unsigned unit, unsigned step, uint64_t raw, bool named)
{
    char letter = (char)raw;

    if (unit == UNIT_FLAG)
        json_bool(j, key, raw != 0);
    else if (unit == UNIT_LETTER && raw < 0x80)
        json_text_n(j, key, &letter, 1);
    else if (named && step > 1)
        json_null(j, key);
    else
        json_u64(j, key, raw * step);
}

void word_json(struct json *j, const char *key, enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);

    json_object(j, key);
    json_word(j, "word", word);
    json_text(j, "object", layout->key);
    for (unsigned i = 0; i < layout->count; i++) {
        const struct field *f = &layout->fields[i];
        uint32_t            raw = field_raw(f, word);

        if (f->key && kind != OBJECT_RAW)
            value_json(j, f->key, f->unit, f->step, raw, field_name_of(f, raw) != NULL);
    }
    json_object_end(j);
}

/* What is left of the block from the field's place on: text up to its zero byte, or bytes. */
static void rest_json(struct json *j, const struct block_field *f, const uint8_t *data, size_t size)
{
    struct cursor c = cursor_over(data, size);

    cursor_take(&c, f->byte);
    size_t         length = c.left;
    const uint8_t *rest = cursor_take(&c, length);

    if (!rest)
        return;
    const uint8_t *end = f->text ? memchr(rest, 0, length) : NULL;

    if (f->text)
        json_text_n(j, f->key, (const char *)rest, end ? (size_t)(end - rest) : length);
    else
        json_hex(j, f->key, rest, length);
}

void block_json(struct json *j, const char *key, const struct block_layout *layout, const uint8_t *data, size_t size)
{
    json_object(j, key);
    for (unsigned i = 0; i < layout->count; i++) {
        const struct block_field *f = &layout->fields[i];
        uint64_t                  raw;

        if (!f->key || !block_value(f, data, size, &raw))
            continue;
        if (f->size == 0)
            rest_json(j, f, data, size);
        else
            value_json(j, f->key, f->unit, f->step, raw, value_name_of(f->names, raw) != NULL);
    }
    json_object_end(j);
}
