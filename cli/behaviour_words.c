/* Deeds in words that stay the same from one version to the next: they stand in files. */
#include "cli/behaviour.h"
#include "cli/who.h"
#include "decode/field.h"

#include <inttypes.h>

enum { SVID_PD = 0xFF00 };

static void volts_amps(struct phrase *p, int32_t low_mv, int32_t high_mv, int32_t amount, const char *unit)
{
    if (low_mv != high_mv) {
        phrase_short(p, low_mv, 3);
        phrase_add(p, "-");
    }
    phrase_short(p, high_mv, 3);
    phrase_add(p, " V ");
    phrase_short(p, amount, 3);
    phrase_add(p, unit);
}

static void flags_phrase(struct phrase *p, const struct pdo *o)
{
    const struct { bool set; const char *name; } flags[] = {
        { o->dual_role_power, "dual-role power" }, { o->usb_suspend, "USB suspend" }, { o->unconstrained, "unconstrained" },
        { o->usb_comm, "USB" }, { o->dual_role_data, "dual-role data" }, { o->unchunked, "unchunked" }, { o->epr_capable, "EPR" },
        { o->higher_capability, "higher capability" },
    };
    bool first = true;

    for (size_t k = 0; k < sizeof flags / sizeof flags[0]; k++)
        if (flags[k].set) {
            phrase_add(p, first ? " (" : ", ");
            phrase_add(p, flags[k].name);
            first = false;
        }
    if (!first)
        phrase_add(p, ")");
}

void pdo_phrase(struct phrase *p, uint32_t word, bool sink, unsigned position)
{
    struct pdo o = sink ? pdo_read_sink(word, position) : pdo_read_source(word, position);

    switch ((enum supply)o.supply) {
    case SUPPLY_FIXED:    volts_amps(p, o.max_mv, o.max_mv, o.max_ma, " A"); break;
    case SUPPLY_BATTERY:  volts_amps(p, o.min_mv, o.max_mv, o.max_mw, " W batt"); break;
    case SUPPLY_VARIABLE: volts_amps(p, o.min_mv, o.max_mv, o.max_ma, " A var"); break;
    case SUPPLY_PPS:      volts_amps(p, o.min_mv, o.max_mv, o.max_ma, o.limited ? " A prog, power limited" : " A prog"); break;
    case SUPPLY_EPR_AVS:  volts_amps(p, o.min_mv, o.max_mv, o.max_mw, " W adj"); break;
    case SUPPLY_SPR_AVS:
        volts_amps(p, o.min_mv, o.max_mv, o.max_ma, "");
        if (o.max_ma_20v) {
            phrase_add(p, "/");
            phrase_short(p, o.max_ma_20v, 3);
        }
        phrase_add(p, " A adj");
        break;
    case SUPPLY_RESERVED: phrase_format(p, "reserved 0x%08" PRIx32, word); break;
    }
    if (o.peak)
        phrase_format(p, " peak %u", o.peak);
    flags_phrase(p, &o);
}

static void offer_phrase(struct phrase *p, const struct deed *d)
{
    bool first = true;

    phrase_format(p, "%s %s%s", side_name(d->side), d->kind == DEED_SINK_OFFER ? "can take" : "offers", d->epr ? " (EPR)" : "");
    for (unsigned k = 0; k < d->count && k < PDO_MAX; k++)
        if (d->words[k]) {
            phrase_add(p, first ? " " : ", ");
            pdo_phrase(p, d->words[k], d->kind == DEED_SINK_OFFER, k + 1);
            first = false;
        }
}

static void point_phrase(struct phrase *p, const struct deed *d)
{
    phrase_short(p, d->mv, 3);
    phrase_add(p, " V ");
    phrase_short(p, d->mw ? d->mw : d->ma, 3);
    phrase_add(p, d->mw ? " W" : " A");
    phrase_format(p, ", object %u, %s", d->position, d->supply == SUPPLY_RESERVED ? "unknown" : supply_name(d->supply));
    if (d->mismatch)
        phrase_add(p, ", mismatch");
}

static void value_phrase(struct phrase *p, const char *name, uint32_t raw)
{
    if (name)
        phrase_format(p, " %s", name);
    else
        phrase_format(p, " %" PRIu32, raw);
}

static void field_phrase(struct phrase *p, enum object_kind kind, uint32_t word, const char *key)
{
    uint32_t            raw = 0;
    const struct field *f = word_field(kind, word, key, &raw);

    if (f)
        value_phrase(p, field_name_of(f, raw), raw);
}

static void detail_phrase(struct phrase *p, const struct deed *d)
{
    if (d->index == MESSAGE_INDEX(CLASS_DATA, DATA_VENDOR_DEFINED) && d->detail >> 15 & 1) {
        field_phrase(p, OBJECT_VDM_HEADER, d->detail, "command");
        field_phrase(p, OBJECT_VDM_HEADER, d->detail, "command_type");
        if (d->detail >> 16 != SVID_PD)
            phrase_format(p, " of 0x%04" PRIx32, d->detail >> 16);
    } else if (d->index == MESSAGE_INDEX(CLASS_DATA, DATA_VENDOR_DEFINED)) {
        phrase_format(p, " of 0x%04" PRIx32, d->detail >> 16);
    } else if (d->index == MESSAGE_INDEX(CLASS_DATA, DATA_EPR_MODE)) {
        field_phrase(p, OBJECT_EPR_MODE, d->detail, "action");
    } else if (d->index == MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_CONTROL)) {
        const struct block_layout *l = block_layout(EXTENDED_CONTROL, false);

        value_phrase(p, l && l->count ? value_name_of(l->fields[0].names, d->detail >> 24) : NULL, d->detail >> 24);
    }
}

static void said_phrase(struct phrase *p, const struct deed *d)
{
    const char *name = message_kind(d->index)->name;

    phrase_format(p, "%s: ", side_name(d->side));
    if (name)
        phrase_add(p, name);
    else
        phrase_format(p, "reserved message %u", d->index);
    detail_phrase(p, d);
    if (d->set != SET_SOP)
        phrase_format(p, " on %s", ordered_set_name(d->set));
}

void deed_phrase(struct phrase *p, const struct deed *d)
{
    static const char *const swaps[] = { "swap", "power roles swapped", "fast role swap", "data roles swapped", "VCONN swapped" };

    switch ((enum deed_kind)d->kind) {
    case DEED_ATTACH:      phrase_add(p, "attached"); return;
    case DEED_DETACH:      phrase_add(p, "detached"); return;
    case DEED_OFFER:
    case DEED_SINK_OFFER:  offer_phrase(p, d); return;
    case DEED_REQUEST:     phrase_add(p, d->epr ? "sink requests (EPR) " : "sink requests "); point_phrase(p, d); return;
    case DEED_CONTRACT:    phrase_add(p, "contract "); point_phrase(p, d); return;
    case DEED_SUPPLY_LOST: phrase_add(p, "VBUS lost"); return;
    case DEED_HARD_RESET:  phrase_add(p, "Hard Reset"); return;
    case DEED_SOFT_RESET:  phrase_format(p, "%s: Soft_Reset", side_name(d->side)); return;
    case DEED_CABLE_RESET: phrase_add(p, "Cable Reset"); return;
    case DEED_SWAPPED:     phrase_add(p, swaps[d->detail < 5 ? d->detail : 0]); return;
    case DEED_EPR_ENTERED: phrase_add(p, "EPR mode entered"); return;
    case DEED_EPR_LEFT:    phrase_add(p, "EPR mode left"); return;
    case DEED_SAID:        said_phrase(p, d); return;
    case DEED_KINDS:       return;
    }
}

void behaviour_json(struct json *j, const struct behaviour_port *p)
{
    json_array(j, "sequence");
    for (size_t k = 0; p && k < p->count; k++) {
        struct phrase words = phrase_empty();

        deed_phrase(&words, &p->deeds[k]);
        json_text(j, NULL, words.text);
    }
    json_array_end(j);
    if (p && p->left_out)
        json_u64(j, "sequence_left_out", p->left_out);
}
