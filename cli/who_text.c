/* Who is at a port, for people. */
#include "cli/object_text.h"
#include "cli/who.h"

#include "capture/base/cursor.h"

enum { FIRST_OBJECT = 1, LABEL_COLUMN = 4, TEXT_COLUMN = 18, DETAIL_COLUMN = 18 };

/* What of an identity is worth a word, in this order. Only the first object that has the key is asked. */
struct identity_word {
    const char *key, *lead;
    const char *otherwise; /* a flag that is 0: said so; NULL: nothing */
    bool        skip_zero; /* a value that means "none" */
};
static const struct identity_word identity_words[] = {
    { "cable_type", "", NULL, true },
    { "dfp_type", "", NULL, true },
    { "ufp_type", "", NULL, true },
    { "current", "carries ", NULL, false },
    { "max_vbus", "up to ", NULL, false },
    { "epr_capable", "EPR capable", "not EPR capable", false },
    { "speed", "", NULL, false },
    { "latency", "", NULL, true },
    { "plug", "plug ", NULL, false },
    { "connector", "", NULL, true },
    { "termination", "", NULL, false },
    { "usb_host", "USB host", NULL, true },
    { "usb_device", "USB device", NULL, true },
    { "modal", "has alternate modes", NULL, true },
    { "charge_through", "charge-through", NULL, true },
    { "vid", "VID ", NULL, false },
    { "pid", "PID ", NULL, false },
    { "bcd_device", "bcdDevice ", NULL, false },
    { "xid", "XID ", NULL, true },
    { "hardware", "hardware version ", NULL, true },
    { "firmware", "firmware version ", NULL, true },
};

static void comma(struct phrase *p)
{
    if (p->used > 0)
        phrase_add(p, ", ");
}

/* A number with its unit. */
static void quantity(struct phrase *p, unsigned unit, unsigned bits, uint64_t value)
{
    static const struct { const char *name; unsigned scale; } units[] = {
        [UNIT_MV] = { " V", 3 }, [UNIT_MA] = { " A", 3 }, [UNIT_MW] = { " W", 3 }, [UNIT_MWH] = { " Wh", 3 },
        [UNIT_CELSIUS] = { " degrees C", 0 }, [UNIT_MS] = { " ms", 0 }, [UNIT_PERCENT] = { " %", 0 },
        [UNIT_MOHM] = { " mohm", 0 }, [UNIT_W] = { " W", 0 }, [UNIT_LETTER] = { "", 0 },
    };

    if (unit == UNIT_HEX) {
        phrase_format(p, "0x%0*llx", (int)((bits + 3) / 4), (unsigned long long)value);
        return;
    }
    phrase_short(p, (int64_t)value, unit < sizeof units / sizeof units[0] ? units[unit].scale : 0);
    if (unit < sizeof units / sizeof units[0] && units[unit].name)
        phrase_add(p, units[unit].name);
}

static enum object_kind identity_kind(const struct identity *i, unsigned k)
{
    return object_kind_of_vdm(i->words, i->count + 1u, k, i->set, i->revision);
}

static void identity_word_add(struct phrase *p, const struct identity_word *w, const struct field *f, uint32_t raw)
{
    const char *name = field_name_of(f, raw);

    if ((raw == 0 && w->skip_zero) || (raw == 0 && f->unit == UNIT_FLAG && !w->otherwise))
        return;
    comma(p);
    if (f->unit == UNIT_FLAG) {
        phrase_add(p, raw ? w->lead : w->otherwise);
        return;
    }
    phrase_add(p, w->lead);
    if (name)
        phrase_add(p, name);
    else if (f->names)
        phrase_format(p, "%s %u (reserved)", f->name, (unsigned)raw);
    else
        quantity(p, f->unit, f->bits, (uint64_t)raw * f->step);
}

static void identity_phrase(struct phrase *p, const struct identity *i)
{
    for (size_t w = 0; w < sizeof identity_words / sizeof identity_words[0]; w++)
        for (unsigned k = FIRST_OBJECT; k <= i->count; k++) {
            uint32_t            raw;
            const struct field *f = word_field(identity_kind(i, k), i->words[k], identity_words[w].key, &raw);

            if (!f)
                continue;
            identity_word_add(p, &identity_words[w], f, raw);
            break;
        }
}

static void label(struct out *o, const char *text)
{
    out_column(o, LABEL_COLUMN);
    out_style(o, OUT_STRONG);
    out_text(o, text);
    out_style(o, OUT_PLAIN);
    out_column(o, TEXT_COLUMN);
}

static void identity_text(struct out *o, const char *name, const struct identity *i, bool verbose)
{
    struct phrase p = phrase_empty();

    if (i->frame == 0)
        return;
    identity_phrase(&p, i);
    phrase_format(&p, " (frame %llu)", (unsigned long long)i->frame);
    label(o, name);
    phrase_wrap(o, TEXT_COLUMN, p.text);
    for (unsigned k = FIRST_OBJECT; verbose && k <= i->count; k++)
        word_detail(o, DETAIL_COLUMN, k, identity_kind(i, k), i->words[k]);
}

/* One value of a table's row in words: flags only where they are set, numbers that count nothing left out. */
static void value_add(struct phrase *p, const char *field_name, const char *value_name, unsigned unit, unsigned bits,
                      uint64_t scaled)
{
    bool tells = unit == UNIT_W || unit == UNIT_MW || unit == UNIT_MWH;

    if (scaled == 0 && !value_name && !tells)
        return;
    comma(p);
    phrase_add(p, field_name);
    if (unit == UNIT_FLAG)
        return;
    phrase_add(p, " ");
    if (value_name)
        phrase_add(p, value_name);
    else
        quantity(p, unit, bits, scaled);
}

static void word_phrase(struct phrase *p, enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned k = 0; k < layout->count; k++) {
        const struct field *f = &layout->fields[k];
        uint32_t            raw = field_raw(f, word);

        if (f->key)
            value_add(p, f->name, field_name_of(f, raw), f->unit, f->bits, (uint64_t)field_scaled(f, word));
    }
}

/* Text to the end of the block, or to its zero byte. */
static void rest_add(struct phrase *p, const struct block_field *f, const uint8_t *data, size_t size)
{
    struct cursor c = cursor_over(data, size);

    cursor_take(&c, f->byte);
    comma(p);
    phrase_add(p, f->name);
    phrase_add(p, " \"");
    while (c.left > 0) {
        char letter[2] = { (char)cursor_u8(&c), '\0' };

        if (letter[0] == '\0')
            break;
        phrase_add(p, letter);
    }
    phrase_add(p, "\"");
}

static void block_phrase(struct phrase *p, const struct block_layout *layout, const uint8_t *data, size_t size)
{
    for (unsigned k = 0; layout && k < layout->count; k++) {
        const struct block_field *f = &layout->fields[k];
        uint64_t                  raw;

        if (!f->key || !block_value(f, data, size, &raw))
            continue;
        if (f->size == 0)
            rest_add(p, f, data, size);
        else
            value_add(p, f->name, value_name_of(f->names, raw), f->unit, f->bits, raw * f->step);
    }
}

static void told(struct out *o, const char *name, struct phrase *p, uint64_t frame)
{
    phrase_format(p, " (frame %llu)", (unsigned long long)frame);
    label(o, name);
    phrase_wrap(o, TEXT_COLUMN, p->text);
}

static void block_text(struct out *o, const char *name, struct phrase p, unsigned type, uint64_t frame, const uint8_t *data, size_t size,
                       bool verbose)
{
    struct phrase what = phrase_empty();

    if (frame == 0)
        return;
    block_phrase(&what, block_layout(type, false), data, size);
    phrase_add(&p, what.text);
    told(o, name, &p, frame);
    if (verbose && block_layout(type, false))
        block_detail(o, DETAIL_COLUMN, block_layout(type, false), data, size);
}

static void of_player(struct phrase *p, const struct about_port *about, unsigned player)
{
    phrase_format(p, "%s: ", player_text(about, player));
}

static unsigned revision_part(uint32_t word, const char *key)
{
    uint32_t raw = 0;

    word_field(OBJECT_REVISION, word, key, &raw);
    return raw;
}

static void revision_phrase(struct phrase *p, uint32_t word)
{
    phrase_format(p, "USB PD %u.%u, version %u.%u", revision_part(word, "revision_major"), revision_part(word, "revision_minor"),
                  revision_part(word, "version_major"), revision_part(word, "version_minor"));
}

static void by_player_text(struct out *o, const struct ratings *r, const struct about_port *about)
{
    for (unsigned k = 0; k < 3; k++)
        if (r->revision_frame[k]) {
            struct phrase p = phrase_empty();

            of_player(&p, about, k);
            revision_phrase(&p, r->revision[k]);
            told(o, "revision", &p, r->revision_frame[k]);
        }
    for (unsigned k = 0; k < 3; k++)
        if (r->manufacturer_frame[k]) {
            struct phrase p = phrase_empty(), what = phrase_empty();

            of_player(&p, about, k);
            block_phrase(&what, block_layout(EXTENDED_MANUFACTURER_INFO, false), r->manufacturer[k], r->manufacturer_size[k]);
            phrase_add(&p, what.text);
            told(o, "manufacturer", &p, r->manufacturer_frame[k]);
        }
    for (unsigned k = 0; k < 2; k++)
        if (r->battery_frame[k]) {
            struct phrase p = phrase_empty(), what = phrase_empty();

            of_player(&p, about, k);
            block_phrase(&what, block_layout(EXTENDED_BATTERY_CAPABILITIES, false), r->battery[k], sizeof r->battery[k]);
            phrase_add(&p, what.text);
            told(o, "battery", &p, r->battery_frame[k]);
        }
}

/* Where power roles were swapped both may have told such a thing: then each says whose it is. */
static struct phrase of_role(const uint64_t frame[2], const struct about_port *about, unsigned player)
{
    struct phrase p = phrase_empty();

    if (frame[0] && frame[1])
        of_player(&p, about, player);
    return p;
}

static void by_role_text(struct out *o, const struct ratings *r, const struct about_port *about, bool verbose)
{
    for (unsigned k = 0; k < 2; k++)
        if (r->source_info_frame[k]) {
            struct phrase p = of_role(r->source_info_frame, about, k), what = phrase_empty();

            word_phrase(&what, OBJECT_SOURCE_INFO, r->source_info[k]);
            phrase_add(&p, what.text);
            told(o, "source info", &p, r->source_info_frame[k]);
        }
    for (unsigned k = 0; k < 2; k++)
        block_text(o, "source says", of_role(r->source_ext_frame, about, k), EXTENDED_SOURCE_CAPABILITIES, r->source_ext_frame[k],
                   r->source_ext[k], r->source_ext_size[k], verbose);
    for (unsigned k = 0; k < 2; k++)
        block_text(o, "sink says", of_role(r->sink_ext_frame, about, k), EXTENDED_SINK_CAPABILITIES, r->sink_ext_frame[k],
                   r->sink_ext[k], r->sink_ext_size[k], verbose);
}

static bool anybody(const struct port_record *r)
{
    const struct ratings *k = &r->ratings;
    uint64_t              frames = 0;

    for (unsigned n = 0; n < 4; n++)
        frames |= r->identity[n].frame;
    for (unsigned n = 0; n < 3; n++)
        frames |= k->revision_frame[n] | k->manufacturer_frame[n];
    for (unsigned n = 0; n < 2; n++)
        frames |= k->battery_frame[n] | k->source_info_frame[n] | k->source_ext_frame[n] | k->sink_ext_frame[n];
    return frames != 0;
}

bool who_text(struct out *o, const struct port_record *r, const struct about_port *about, bool verbose)
{
    unsigned device = device_player(about);

    if (!anybody(r))
        return false;
    out_text(o, "  Who is there");
    out_line(o);
    identity_text(o, player_text(about, device), &r->identity[device], verbose);
    identity_text(o, player_text(about, device ^ 1u), &r->identity[device ^ 1u], verbose);
    identity_text(o, "cable", &r->identity[2], verbose);
    identity_text(o, "cable, far end", &r->identity[3], verbose);
    by_role_text(o, &r->ratings, about, verbose);
    by_player_text(o, &r->ratings, about);
    return true;
}
