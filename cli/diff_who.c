/* What each partner and the cable say of themselves, field by field, where both traces have it. */
#include "cli/diff.h"
#include "cli/who.h"
#include "decode/field.h"

#include <inttypes.h>

/* How the fields of one object differ. */
struct saying { struct phrase side[2]; };

static void unit_phrase(struct phrase *p, uint64_t raw, unsigned step, unsigned scale, const char *unit)
{
    phrase_short(p, (int64_t)(raw * step), scale);
    phrase_add(p, unit);
}

static void quantity_phrase(struct phrase *p, unsigned unit, unsigned step, uint64_t raw)
{
    switch ((enum unit)unit) {
    case UNIT_NONE:    unit_phrase(p, raw, step, 0, ""); return;
    case UNIT_MV:      unit_phrase(p, raw, step, 3, " V"); return;
    case UNIT_MA:      unit_phrase(p, raw, step, 3, " A"); return;
    case UNIT_MW:      unit_phrase(p, raw, step, 3, " W"); return;
    case UNIT_MWH:     unit_phrase(p, raw, step, 3, " Wh"); return;
    case UNIT_CELSIUS: unit_phrase(p, raw, step, 0, " degrees C"); return;
    case UNIT_MS:      unit_phrase(p, raw, step, 0, " ms"); return;
    case UNIT_PERCENT: unit_phrase(p, raw, step, 0, " %"); return;
    case UNIT_MOHM:    unit_phrase(p, raw, step, 0, " mohm"); return;
    case UNIT_W:       unit_phrase(p, raw, step, 0, " W"); return;
    case UNIT_FLAG:    phrase_add(p, raw ? "yes" : "no"); return;
    case UNIT_HEX:     phrase_format(p, "0x%" PRIx64, raw); return;
    case UNIT_LETTER:
        if (raw > 0x20 && raw < 0x7f)
            phrase_format(p, "%c", (int)raw);
        else
            phrase_u64(p, raw);
        return;
    }
}

static void value_say(struct phrase *p, const char *name, unsigned unit, unsigned step, const char *named, uint64_t raw)
{
    phrase_format(p, "%s%s ", p->used ? ", " : "", name);
    if (named)
        phrase_add(p, named);
    else
        quantity_phrase(p, unit, step, raw);
}

static void word_compare(struct saying *s, enum object_kind kind, uint32_t a, uint32_t b)
{
    const struct object_layout *l = object_layout(kind);

    for (unsigned k = 0; k < l->count; k++) {
        const struct field *f = &l->fields[k];
        const uint32_t      raw[2] = { field_raw(f, a), field_raw(f, b) };

        for (unsigned side = 0; side < 2 && raw[0] != raw[1] && f->key; side++)
            value_say(&s->side[side], f->name, f->unit, f->step, field_name_of(f, raw[side]), raw[side]);
    }
}

static void block_compare(struct saying *s, const struct block_layout *l, const uint8_t *a, size_t a_size, const uint8_t *b, size_t b_size)
{
    for (unsigned k = 0; l && k < l->count; k++) {
        const struct block_field *f = &l->fields[k];
        uint64_t                  raw[2];

        if (f->text || f->size == 0 || !f->key || !block_value(f, a, a_size, &raw[0]) || !block_value(f, b, b_size, &raw[1]))
            continue;
        for (unsigned side = 0; side < 2 && raw[0] != raw[1]; side++)
            value_say(&s->side[side], f->name, f->unit, f->step, value_name_of(f->names, raw[side]), raw[side]);
    }
}

static struct saying saying_none(void)
{
    return (struct saying){ .side = { phrase_empty(), phrase_empty() } };
}

/* who: "device", "partner", "cable"; what: the message. */
static void say(struct diff *d, unsigned port_a, unsigned port_b, const struct saying *s, const char *who, const char *what, uint8_t weight,
                uint64_t frame_a, uint64_t frame_b)
{
    struct difference x = { .kind = DIFF_OFFER, .port_a = (uint8_t)port_a, .port_b = (uint8_t)port_b, .weight = weight, .occasions = 1 };
    struct phrase     text = phrase_empty();

    if (s->side[0].used == 0)
        return;
    phrase_format(&text, "The %s says in %s: %s in A; %s in B.", who, what, s->side[0].text, s->side[1].text);
    for (unsigned side = 0; side < 2; side++)
        difference_side(&x, side, &s->side[side]);
    difference_frame(&x, 0, frame_a);
    difference_frame(&x, 1, frame_b);
    difference_text(&x, &text);
    diff_add(d, &x);
}

struct pair { struct diff *d; unsigned port_a, port_b; const struct port_record *a, *b; const struct about_port *about; };

static void ratings_compare(const struct pair *p, unsigned player)
{
    const struct ratings *a = &p->a->ratings, *b = &p->b->ratings;
    const char           *who = player_text(p->about, player);
    struct saying         s = saying_none();

    if (a->source_info_frame[player] && b->source_info_frame[player]) {
        word_compare(&s, OBJECT_SOURCE_INFO, a->source_info[player], b->source_info[player]);
        say(p->d, p->port_a, p->port_b, &s, who, "Source_Info", 66, a->source_info_frame[player], b->source_info_frame[player]);
    }
    s = saying_none();
    if (a->source_ext_frame[player] && b->source_ext_frame[player]) {
        block_compare(&s, block_layout(EXTENDED_SOURCE_CAPABILITIES, false), a->source_ext[player], a->source_ext_size[player],
                      b->source_ext[player], b->source_ext_size[player]);
        say(p->d, p->port_a, p->port_b, &s, who, "Source_Capabilities_Extended", 54, a->source_ext_frame[player], b->source_ext_frame[player]);
    }
    s = saying_none();
    if (a->sink_ext_frame[player] && b->sink_ext_frame[player]) {
        block_compare(&s, block_layout(EXTENDED_SINK_CAPABILITIES, false), a->sink_ext[player], a->sink_ext_size[player], b->sink_ext[player],
                      b->sink_ext_size[player]);
        say(p->d, p->port_a, p->port_b, &s, who, "Sink_Capabilities_Extended", 36, a->sink_ext_frame[player], b->sink_ext_frame[player]);
    }
}

static void revisions_compare(const struct pair *p, unsigned player)
{
    const struct ratings *a = &p->a->ratings, *b = &p->b->ratings;
    struct saying         s = saying_none();

    if (!a->revision_frame[player] || !b->revision_frame[player])
        return;
    word_compare(&s, OBJECT_REVISION, a->revision[player], b->revision[player]);
    say(p->d, p->port_a, p->port_b, &s, player_text(p->about, player), "Revision", 52, a->revision_frame[player], b->revision_frame[player]);
}

/* Objects of the same layout in the same place. */
static void identities_compare(const struct pair *p, unsigned place)
{
    const struct identity *a = &p->a->identity[place], *b = &p->b->identity[place];
    struct saying          s = saying_none();

    if (!a->frame || !b->frame)
        return;
    for (unsigned k = 1; k <= a->count && k <= b->count && k < sizeof a->words / sizeof a->words[0]; k++) {
        enum object_kind kind = object_kind_of_vdm(a->words, a->count + 1u, k, a->set, a->revision);

        if (kind == object_kind_of_vdm(b->words, b->count + 1u, k, b->set, b->revision))
            word_compare(&s, kind, a->words[k], b->words[k]);
    }
    say(p->d, p->port_a, p->port_b, &s, player_text(p->about, place < PLAYER_CABLE ? place : PLAYER_CABLE), "Discover Identity", 44, a->frame,
        b->frame);
}

void diff_who(struct diff *d, unsigned port_a, unsigned port_b)
{
    struct pair p = { .d = d, .port_a = port_a, .port_b = port_b, .a = collector_port(&d->a->collector, port_a),
                      .b = collector_port(&d->b->collector, port_b),
                      .about = about_port(bench_about(engine_bench(d->a->engine)), (uint8_t)port_a) };

    if (!p.a || !p.b)
        return;
    for (unsigned player = PLAYER_A; player <= PLAYER_CABLE; player++) {
        if (player != PLAYER_CABLE)
            ratings_compare(&p, player);
        revisions_compare(&p, player);
    }
    for (unsigned place = 0; place < sizeof p.a->identity / sizeof p.a->identity[0]; place++)
        identities_compare(&p, place);
}
