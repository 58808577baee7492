#include "decode/kernel_caps.h"

#include "decode/field.h"
#include "decode/message.h"

#include <string.h>

enum { KINDS = KERNEL_SPR_ADJUSTABLE + 1 };

/* A number of the kernel and the field that it goes into. */
struct part {
    const char *key;    /* of decode/field.h; NULL: no more */
    size_t      from;   /* in struct kernel_supply */
    bool        needed; /* without it the object says nothing; else unknown is 0 */
};
#define NEEDED(key, member) { key, offsetof(struct kernel_supply, member), true }
#define FURTHER(key, member) { key, offsetof(struct kernel_supply, member), false }

/* Flags that object 1 alone has are dropped by the layout of the others, which has no such field. */
static const struct part fixed_parts[] = {
    NEEDED("mv", mv), NEEDED("ma", ma), FURTHER("peak", peak), FURTHER("dual_role_power", dual_role_power),
    FURTHER("usb_suspend", usb_suspend), FURTHER("unconstrained", unconstrained), FURTHER("usb_comm", usb_comm),
    FURTHER("dual_role_data", dual_role_data), FURTHER("unchunked", unchunked), FURTHER("higher_capability", higher_capability),
    FURTHER("fr_swap", fr_swap), { NULL, 0, false },
};
static const struct part variable_parts[] = {
    NEEDED("min_mv", min_mv), NEEDED("max_mv", max_mv), NEEDED("ma", ma), { NULL, 0, false },
};
static const struct part battery_parts[] = {
    NEEDED("min_mv", min_mv), NEEDED("max_mv", max_mv), NEEDED("mw", mw), { NULL, 0, false },
};
static const struct part pps_parts[] = {
    NEEDED("min_mv", min_mv), NEEDED("max_mv", max_mv), NEEDED("ma", ma), FURTHER("limited", limited), { NULL, 0, false },
};
static const struct part avs_parts[] = {
    NEEDED("ma_9_15v", ma_9_15v), NEEDED("ma_15_20v", ma_15_20v), FURTHER("peak", peak), { NULL, 0, false },
};

/* How each kind of the kernel's stands in a word; supply: the value of that field (decode/fields_pdo.c names it). */
static const struct way {
    const struct part *parts;
    enum object_kind   source, sink;
    const char        *supply;
} ways[KINDS] = {
    [KERNEL_FIXED] = { fixed_parts, OBJECT_SOURCE_FIXED, OBJECT_SINK_FIXED, "fixed" },
    [KERNEL_VARIABLE] = { variable_parts, OBJECT_SOURCE_VARIABLE, OBJECT_SINK_VARIABLE, "variable" },
    [KERNEL_BATTERY] = { battery_parts, OBJECT_SOURCE_BATTERY, OBJECT_SINK_BATTERY, "battery" },
    [KERNEL_PROGRAMMABLE] = { pps_parts, OBJECT_SOURCE_PPS, OBJECT_SINK_PPS, "pps" },
    [KERNEL_SPR_ADJUSTABLE] = { avs_parts, OBJECT_SOURCE_SPR_AVS, OBJECT_SINK_SPR_AVS, "spr_avs" },
};

static const struct object_layout *layout_of(const struct kernel_supply *s, bool sink)
{
    enum object_kind kind = sink ? ways[s->kind].sink : ways[s->kind].source;

    if (s->kind == KERNEL_FIXED && s->position == 1)
        kind = sink ? OBJECT_SINK_FIXED_FIRST : OBJECT_SOURCE_FIXED_FIRST;
    return object_layout(kind);
}

/* The type bits, by the name that the layout has for their value. */
static bool supply_put(const struct object_layout *l, const char *name, uint32_t *word)
{
    for (unsigned k = 0; k < l->count; k++) {
        const struct field *f = &l->fields[k];

        if (!f->key || strcmp(f->key, "supply") != 0)
            continue;
        for (const struct field_value_name *v = f->names; v && v->name; v++)
            if (strcmp(v->name, name) == 0)
                return field_put(l, "supply", v->value, word);
    }
    return false;
}

/* False: what it needs is not told, or does not go into its fields. */
static bool word_of(const struct kernel_supply *s, bool sink, uint32_t *word)
{
    const struct object_layout *l = layout_of(s, sink);
    uint32_t                    w = 0;

    if (!supply_put(l, ways[s->kind].supply, &w))
        return false;
    for (const struct part *p = ways[s->kind].parts; p->key; p++) {
        int32_t value;

        memcpy(&value, (const char *)s + p->from, sizeof value);
        if (value == KERNEL_UNKNOWN ? p->needed : !field_put(l, p->key, value, &w) && p->needed)
            return false;
    }
    *word = w;
    return true;
}

unsigned kernel_caps_words(const struct kernel_caps *caps, bool sink, uint32_t words[KERNEL_CAPS_OBJECTS], unsigned *unknown)
{
    unsigned count = 0, known = 0, beyond = 0;

    for (unsigned k = 0; k < KERNEL_CAPS_OBJECTS; k++)
        words[k] = KERNEL_CAPS_HOLE;
    for (unsigned k = 0; k < caps->count; k++) {
        const struct kernel_supply *s = &caps->list[k];

        if (s->position > KERNEL_CAPS_OBJECTS) {
            beyond++;
            continue;
        }
        known += word_of(s, sink, &words[s->position - 1]) ? 1 : 0;
        count = s->position > count ? s->position : count;
    }
    *unknown = count - known + beyond;
    return count;
}

static unsigned revision_of(const char *told)
{
    return told[0] == '2' ? HEADER_R2 : told[0] == '1' ? HEADER_R1 : HEADER_R3;
}

uint16_t kernel_message_header(const struct kernel_port *port, enum kernel_speaker speaker, unsigned type, unsigned id, unsigned objects)
{
    unsigned header = type | (id & 7) << 9 | objects << 12;
    bool     from_source = strcmp(port->power_role, "source") != 0, from_host = strcmp(port->data_role, "device") == 0;

    if (speaker == KERNEL_FROM_CABLE)
        return (uint16_t)(header | revision_of(port->cable_revision) << 6 | 1u << 8);
    return (uint16_t)(header | (from_host ? 1u : 0u) << 5 | (from_source ? 1u : 0u) << 8 |
                      revision_of(port->pd_revision[0] == '0' ? port->partner_revision : port->pd_revision) << 6);
}

struct kernel_message kernel_caps_message(const struct kernel_port *port, bool sink, unsigned id)
{
    uint32_t              words[KERNEL_CAPS_OBJECTS];
    struct kernel_message m = { .length = 0 };
    unsigned              count = kernel_caps_words(sink ? &port->partner_sink : &port->partner_source, sink, words, &m.unknown);
    uint16_t              header = kernel_message_header(port, KERNEL_FROM_PARTNER, sink ? DATA_SINK_CAPABILITIES : DATA_SOURCE_CAPABILITIES, id,
                                                         count);

    if (count == 0)
        return m;
    m.bytes[0] = (uint8_t)header;
    m.bytes[1] = (uint8_t)(header >> 8);
    for (unsigned k = 0; k < 4 * count; k++)
        m.bytes[2 + k] = (uint8_t)(words[k / 4] >> 8 * (k % 4));
    m.length = 2 + 4 * (size_t)count;
    return m;
}
