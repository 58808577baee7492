#include "decode/kernel_caps.h"

#include "decode/field.h"
#include "decode/message.h"

#include <string.h>

/* Layout of an object by what the kernel calls it. */
static unsigned layout_kind(const struct kernel_supply *s, bool source)
{
    static const unsigned of_source[] = { OBJECT_SOURCE_FIXED, OBJECT_SOURCE_VARIABLE, OBJECT_SOURCE_BATTERY, OBJECT_SOURCE_PPS, OBJECT_SOURCE_SPR_AVS };
    static const unsigned of_sink[] = { OBJECT_SINK_FIXED, OBJECT_SINK_VARIABLE, OBJECT_SINK_BATTERY, OBJECT_SINK_PPS, OBJECT_SINK_SPR_AVS };

    if (s->kind == KERNEL_FIXED && s->position == 1)
        return source ? OBJECT_SOURCE_FIXED_FIRST : OBJECT_SINK_FIXED_FIRST;
    return source ? of_source[s->kind] : of_sink[s->kind];
}

/* Supply type, bits 31:30, of an augmented one bits 31:28 too (Linux include/linux/usb/pd.h, PDO_TYPE_*, PDO_APDO_TYPE). */
static uint32_t supply_code(const struct kernel_supply *s)
{
    static const uint32_t codes[] = { [KERNEL_FIXED] = 0, [KERNEL_BATTERY] = 1, [KERNEL_VARIABLE] = 2, [KERNEL_PROGRAMMABLE] = 0xC, [KERNEL_SPR_ADJUSTABLE] = 0xE };

    return codes[s->kind];
}

/* What must be known for the object to be one. */
static bool numbers_put(const struct object_layout *l, const struct kernel_supply *s, uint32_t *word)
{
    switch ((enum kernel_supply_kind)s->kind) {
    case KERNEL_FIXED:
        return field_put(l, "mv", s->mv, word) && (field_put(l, "ma", s->ma, word) || field_put(l, "op_ma", s->ma, word));
    case KERNEL_VARIABLE:
        return field_put(l, "min_mv", s->min_mv, word) && field_put(l, "max_mv", s->max_mv, word) &&
               (field_put(l, "ma", s->ma, word) || field_put(l, "op_ma", s->ma, word));
    case KERNEL_BATTERY:
        return field_put(l, "min_mv", s->min_mv, word) && field_put(l, "max_mv", s->max_mv, word) &&
               (field_put(l, "mw", s->mw, word) || field_put(l, "op_mw", s->mw, word));
    case KERNEL_PROGRAMMABLE:
        return field_put(l, "min_mv", s->min_mv, word) && field_put(l, "max_mv", s->max_mv, word) && field_put(l, "ma", s->ma, word);
    case KERNEL_SPR_ADJUSTABLE:
        return field_put(l, "ma_9_15v", s->ma_9_15v, word) && field_put(l, "ma_15_20v", s->ma_15_20v, word);
    }
    return false;
}

/* Flags that are not told stay 0. */
static void flags_put(const struct object_layout *l, const struct kernel_supply *s, uint32_t *word)
{
    field_put(l, "dual_role_power", s->dual_role_power, word);
    field_put(l, "usb_suspend", s->usb_suspend, word);
    field_put(l, "higher_capability", s->higher_capability, word);
    field_put(l, "unconstrained", s->unconstrained, word);
    field_put(l, "usb_comm", s->usb_comm, word);
    field_put(l, "dual_role_data", s->dual_role_data, word);
    field_put(l, "unchunked", s->unchunked, word);
    field_put(l, "fr_swap", s->fr_swap, word);
    field_put(l, "peak", s->peak, word);
    field_put(l, "limited", s->limited, word);
}

static bool object_put(const struct kernel_supply *s, bool source, uint32_t *word)
{
    const struct object_layout *l = object_layout(layout_kind(s, source));

    *word = 0;
    if (!l || !field_put(l, "supply", supply_code(s), word) || !numbers_put(l, s, word))
        return false;
    flags_put(l, s, word);
    return true;
}

/* Message header (Linux include/linux/usb/pd.h, PD_HEADER): type, data role, revision, power role, number of objects. */
static uint16_t header(const struct kernel_port *p, bool source, unsigned objects)
{
    const char *revision = p->pd_revision[0] ? p->pd_revision : p->partner_revision;
    unsigned    code = revision[0] == '2' ? 1 : revision[0] == '1' ? 0 : 2;
    bool        partner_is_host = strcmp(p->data_role, "device") == 0;

    return (uint16_t)((source ? DATA_SOURCE_CAPABILITIES : DATA_SINK_CAPABILITIES) | (partner_is_host ? 1u : 0u) << 5 | code << 6 |
                      (source ? 1u : 0u) << 8 | objects << 12);
}

struct kernel_message kernel_caps_message(const struct kernel_port *port, bool source)
{
    const struct kernel_caps *caps = source ? &port->partner_source : &port->partner_sink;
    struct kernel_message     m = { .length = 0 };
    unsigned                  n = 0;
    uint32_t                  word;

    while (n < caps->count && n < 7 && caps->list[n].position == n + 1 && object_put(&caps->list[n], source, &word)) {
        for (unsigned k = 0; k < 4; k++)
            m.bytes[2 + 4 * n + k] = (uint8_t)(word >> 8 * k);
        n++;
    }
    m.left_out = caps->count - n + caps->left_out;
    if (n == 0)
        return m;
    uint16_t h = header(port, source, n);

    m.bytes[0] = (uint8_t)h;
    m.bytes[1] = (uint8_t)(h >> 8);
    m.length = 2 + 4 * (size_t)n;
    return m;
}
