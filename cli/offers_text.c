#include "cli/offers_text.h"

#include "cli/object_text.h"
#include "cli/time_text.h"
#include "cli/who.h"
#include "decode/kernel_caps.h"

#include <inttypes.h>

/* Columns of the table. */
enum {
    MARK_COLUMN = 4, POSITION_WIDTH = 2, SUPPLY_COLUMN = 10, VOLTS_COLUMN = 20, VOLTS_WIDTH = 14, NUMBER_WIDTH = 9, NOTE_COLUMN = 57,
    LABEL_COLUMN = 4, TEXT_COLUMN = 14,
};

/* Volts, amperes, watts from thousandths, with two decimals. */
static void number(struct out *o, int64_t thousandths, unsigned width)
{
    out_fixed(o, thousandths, 3, 2, width);
}

static void volts(struct out *o, int32_t min_mv, int32_t max_mv)
{
    out_column(o, VOLTS_COLUMN);
    if (min_mv == max_mv) {
        number(o, max_mv, VOLTS_WIDTH);
        return;
    }
    number(o, min_mv, 5);
    out_text(o, " to");
    number(o, max_mv, VOLTS_WIDTH - 8);
}

static void amounts(struct out *o, int64_t ma, int64_t mw)
{
    if (ma >= 0)
        number(o, ma, NUMBER_WIDTH);
    else
        out_text(o, "        -");
    number(o, mw, NUMBER_WIDTH + 1);
}

const char *supply_text(unsigned supply)
{
    switch ((enum supply)supply) {
    case SUPPLY_FIXED:    return "fixed";
    case SUPPLY_BATTERY:  return "battery";
    case SUPPLY_VARIABLE: return "variable";
    case SUPPLY_PPS:      return "PPS";
    case SUPPLY_EPR_AVS:  return "EPR AVS";
    case SUPPLY_SPR_AVS:  return "SPR AVS";
    case SUPPLY_RESERVED: return "reserved";
    }
    return "reserved";
}

static int64_t product_mw(int32_t mv, int32_t ma)
{
    return (int64_t)mv * ma / 1000;
}

static void row_numbers(struct out *o, const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        volts(o, p->min_mv, p->max_mv);
        amounts(o, p->max_ma, product_mw(p->max_mv, p->max_ma));
        return;
    case SUPPLY_BATTERY:
        volts(o, p->min_mv, p->max_mv);
        amounts(o, -1, p->max_mw);
        return;
    case SUPPLY_EPR_AVS:
        volts(o, p->min_mv, p->max_mv);
        amounts(o, pdo_current_at(p, p->min_mv), p->max_mw);
        return;
    case SUPPLY_SPR_AVS:
        volts(o, p->min_mv, p->max_ma_20v ? 15000 : p->max_mv);
        amounts(o, p->max_ma, product_mw(15000, p->max_ma));
        return;
    case SUPPLY_RESERVED:
        out_column(o, VOLTS_COLUMN);
        out_text(o, "0x");
        out_hex(o, p->word, 8);
        return;
    }
}

static void row_note(struct out *o, const struct pdo *p, bool gone)
{
    if (!gone && !(p->supply == SUPPLY_PPS && p->limited) && !p->peak)
        return;
    out_column(o, NOTE_COLUMN);
    if (gone) {
        out_text(o, "no longer offered");
    } else if (p->peak) {
        out_text(o, "peak current ");
        out_u64(o, p->peak);
    } else {
        out_text(o, "power limited");
    }
}

/* mark: '+' came new, '-' is gone, ' ' as before. told: as a kernel told it. */
static void row(struct out *o, const struct pdo *p, char mark, bool told)
{
    if (mark == '-')
        out_style(o, OUT_QUIET);
    out_spaces(o, MARK_COLUMN);
    out_char(o, mark);
    out_char(o, ' ');
    out_u64_wide(o, p->position, POSITION_WIDTH);
    out_column(o, SUPPLY_COLUMN);
    if (told && p->word == KERNEL_CAPS_HOLE) {
        out_text(o, "not told by the kernel");
        out_style(o, OUT_PLAIN);
        out_line(o);
        return;
    }
    out_text(o, supply_text(p->supply));
    row_numbers(o, p);
    row_note(o, p, mark == '-');
    out_style(o, OUT_PLAIN);
    out_line(o);
    if (p->supply != SUPPLY_SPR_AVS || p->max_ma_20v == 0)
        return;
    volts(o, 15000, p->max_mv);
    amounts(o, p->max_ma_20v, product_mw(p->max_mv, p->max_ma_20v));
    out_line(o);
}

static void table_head(struct out *o)
{
    out_style(o, OUT_QUIET);
    out_spaces(o, MARK_COLUMN + 3);
    out_text(o, "#");
    out_column(o, SUPPLY_COLUMN);
    out_text(o, "supply");
    out_column(o, VOLTS_COLUMN + VOLTS_WIDTH - 1);
    out_text(o, "V        A         W");
    out_style(o, OUT_PLAIN);
    out_line(o);
}

/* before: the last one of the same port partner, NULL: none. */
static void table(struct out *o, const struct announcement *a, const struct announcement *before)
{
    uint16_t added = before ? announcement_without(a, before) : 0;
    uint16_t removed = before ? announcement_without(before, a) : 0;

    table_head(o);
    for (unsigned k = 0; k < a->count; k++) {
        struct pdo p = announcement_pdo(a, k);

        if (p.word != 0 || !a->epr) /* zero fillers of an EPR announcement are no objects */
            row(o, &p, added >> k & 1 ? '+' : ' ', a->rebuilt);
    }
    for (unsigned k = 0; before && k < before->count; k++) {
        struct pdo p = announcement_pdo(before, k);

        if (removed >> k & 1)
            row(o, &p, '-', before->rebuilt);
    }
}

/* The most current that programmable objects give between two neighbouring limits. */
static int32_t current_between(const struct announcement *a, int32_t from_mv, int32_t to_mv)
{
    int32_t most = 0;

    for (unsigned k = 0; k < a->count; k++) {
        struct pdo p = announcement_pdo(a, k);

        if (p.supply == SUPPLY_PPS && p.min_mv <= from_mv && p.max_mv >= to_mv && p.max_ma > most)
            most = p.max_ma;
    }
    return most;
}

/* The limits of all programmable ranges, rising, each once. */
static unsigned range_limits(const struct announcement *a, int32_t limits[2 * PDO_MAX])
{
    unsigned count = 0;

    for (unsigned k = 0; k < 2u * a->count; k++) {
        struct pdo p = announcement_pdo(a, k / 2);
        int32_t    mv = k & 1 ? p.max_mv : p.min_mv;
        unsigned   at = 0;

        if (p.supply != SUPPLY_PPS)
            continue;
        while (at < count && limits[at] < mv)
            at++;
        if (at < count && limits[at] == mv)
            continue;
        memmove(limits + at + 1, limits + at, (count - at) * sizeof limits[0]);
        limits[at] = mv;
        count++;
    }
    return count;
}

static void range_add(struct phrase *p, int32_t from_mv, int32_t to_mv, int32_t ma)
{
    if (p->used > 0)
        phrase_add(p, ", ");
    phrase_short(p, from_mv, 3);
    phrase_add(p, " to ");
    phrase_short(p, to_mv, 3);
    phrase_add(p, " V at ");
    phrase_short(p, ma, 3);
    phrase_add(p, " A");
}

void ranges_phrase(struct phrase *p, const struct announcement *a)
{
    int32_t  limits[2 * PDO_MAX + 1];
    unsigned count = range_limits(a, limits);
    int32_t  from = 0, ma = 0;

    for (unsigned k = 0; k + 1 < count; k++) {
        int32_t here = current_between(a, limits[k], limits[k + 1]);

        if (here == ma)
            continue;
        if (ma > 0)
            range_add(p, from, limits[k], ma);
        from = limits[k];
        ma = here;
    }
    if (ma > 0)
        range_add(p, from, limits[count - 1], ma);
}

static void entry(struct out *o, const char *label, const struct phrase *p)
{
    if (p->used > 0)
        phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, label, p->text);
}

static void most_text(struct out *o, const struct announcement *a)
{
    struct pdo    most = announcement_most(a);
    struct phrase p = phrase_empty();

    if (most.word == 0)
        return;
    phrase_short(&p, pdo_most_mw(&most), 3);
    phrase_format(&p, " W at most (object %u)", most.position);
    entry(o, "in all", &p);
}

static void fixed_text(struct out *o, const struct announcement *a)
{
    struct phrase p = phrase_empty();

    for (unsigned k = 0; k < a->count; k++) {
        struct pdo d = announcement_pdo(a, k);

        if (d.supply != SUPPLY_FIXED || d.word == 0)
            continue;
        phrase_add(&p, p.used ? ", " : "");
        phrase_short(&p, d.max_mv, 3);
    }
    if (p.used)
        phrase_add(&p, " V");
    entry(o, "fixed", &p);
}

static void adjustable_text(struct out *o, const struct announcement *a)
{
    struct phrase p = phrase_empty();

    for (unsigned k = 0; k < a->count; k++) {
        struct pdo d = announcement_pdo(a, k);

        if (d.supply != SUPPLY_SPR_AVS && d.supply != SUPPLY_EPR_AVS)
            continue;
        phrase_add(&p, p.used ? "; " : "");
        phrase_short(&p, d.min_mv, 3);
        phrase_add(&p, " to ");
        phrase_short(&p, d.max_mv, 3);
        phrase_add(&p, " V");
        if (d.supply == SUPPLY_EPR_AVS) {
            phrase_add(&p, ", ");
            phrase_short(&p, d.max_mw, 3);
            phrase_add(&p, " W");
        }
    }
    entry(o, "adjusts", &p);
}

static void flag(struct phrase *p, bool set, const char *text)
{
    if (!set)
        return;
    phrase_add(p, p->used ? ", " : "");
    phrase_add(p, text);
}

/* What the flags of the first object say, in words. */
static void flags_text(struct out *o, const struct announcement *a)
{
    static const char *const fast[] = { "", "fast role swap at default USB current", "fast role swap at 1.5 A", "fast role swap at 3 A" };
    struct pdo    first = announcement_pdo(a, 0);
    struct phrase p = phrase_empty();

    flag(&p, first.dual_role_power, "can be source and sink (dual-role power)");
    flag(&p, first.unconstrained, "unconstrained power");
    flag(&p, first.higher_capability, "needs more than 5 V to work in full");
    flag(&p, first.usb_suspend, "wants loads to obey USB suspend");
    flag(&p, first.usb_comm, "USB data");
    flag(&p, first.dual_role_data, "can be host and device (dual-role data)");
    flag(&p, first.unchunked, "unchunked extended messages");
    flag(&p, first.epr_capable, "EPR capable");
    flag(&p, first.fr_swap > 0, fast[first.fr_swap & 3]);
    entry(o, "says", &p);
}

static void whole_text(struct out *o, const struct announcement *a)
{
    struct phrase ranges = phrase_empty();

    most_text(o, a);
    fixed_text(o, a);
    ranges_phrase(&ranges, a);
    entry(o, "programs", &ranges);
    adjustable_text(o, a);
    flags_text(o, a);
}

static const char *announcement_name(const struct announcement *a)
{
    if (a->sink)
        return a->epr ? "EPR_Sink_Capabilities" : "Sink_Capabilities";
    return a->epr ? "EPR_Source_Capabilities" : "Source_Capabilities";
}

static void announcement_head(struct out *o, const struct announcement *a, const struct about_port *about, size_t number,
                              uint64_t of, int64_t zero_ns)
{
    struct phrase p = phrase_empty();

    phrase_format(&p, "  %s %zu of %" PRIu64 ", by the %s, ", a->sink ? "Need" : "Offer", number, of, player_text(about, a->player));
    time_text(&p, a->t_ns - zero_ns);
    phrase_format(&p, " (frame %" PRIu64 "): ", a->frame);
    out_style(o, OUT_STRONG);
    out_text(o, p.text);
    out_style(o, OUT_PLAIN);
}

/* How it was sent, to the end of the line. */
static void announcement_tail(struct out *o, const struct announcement *a, const char *what)
{
    struct phrase p = phrase_empty();

    phrase_format(&p, "%s, %s", what, a->rebuilt ? "as the kernel tells it" : a->delivered ? "delivered" : "not acknowledged");
    if (a->repeated)
        phrase_format(&p, ", sent %" PRIu64 " times", (uint64_t)a->repeated + 1);
    phrase_wrap(o, 4, p.text);
}

/* Every field of every object. */
static void details(struct out *o, const struct announcement *a)
{
    for (unsigned k = 0; k < a->count; k++)
        if (a->words[k] != 0 || !a->epr)
            word_detail(o, LABEL_COLUMN, k + 1, object_kind_of_pdo(a->words[k], a->sink, k == 0), a->words[k]);
}

/* What is shown of one list: by player, the number of the announcement that stands there in full. Roles may have been swapped. */
struct shown { size_t full[PLAYER_UNKNOWN + 1]; };

/* True if it was shown in full, with an empty line behind it. */
static bool announcement_text(struct out *o, const struct announcements *list, size_t k, struct shown *shown,
                              const struct about_port *about, int64_t zero_ns, bool verbose)
{
    const struct announcement *a = &list->items[k];
    size_t                    *full = &shown->full[a->player < PLAYER_UNKNOWN ? a->player : PLAYER_UNKNOWN];
    const struct announcement *before = *full ? &list->items[*full - 1] : NULL;
    struct phrase              same = phrase_empty();

    announcement_head(o, a, about, k + 1, list->count + list->left_out, zero_ns);
    if (before && a->count == before->count && memcmp(a->words, before->words, a->count * sizeof a->words[0]) == 0) {
        phrase_format(&same, "the same as %s %zu", a->sink ? "need" : "offer", *full);
        announcement_tail(o, a, same.text);
        return false;
    }
    announcement_tail(o, a, announcement_name(a));
    table(o, a, before);
    whole_text(o, a);
    if (verbose)
        details(o, a);
    out_line(o);
    *full = k + 1;
    return true;
}

static void announcements_text(struct out *o, const struct announcements *list, const struct about_port *about, int64_t zero_ns,
                               bool verbose)
{
    uint64_t     all = list->count + list->left_out;
    size_t       most = verbose || list->count <= OFFERS_SHOWN ? list->count : OFFERS_SHOWN;
    struct shown shown = { { 0 } };
    bool         open = false; /* lines without an empty one behind them */

    for (size_t k = 0; k < most; k++)
        open = !announcement_text(o, list, k, &shown, about, zero_ns, verbose);
    if (most < all) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "  %" PRIu64 " more; %s", all - most, verbose ? "--since picks a part" : "-v shows them");
        out_text(o, p.text);
        out_line(o);
        open = true;
    }
    if (open)
        out_line(o);
}

void offers_text(struct out *o, const struct port_record *r, const struct about_port *about, unsigned port, int64_t zero_ns,
                 bool verbose)
{
    char name[40];

    port_name(about, port, name, sizeof name);
    out_style(o, OUT_STRONG);
    out_clean(o, name, strlen(name));
    out_style(o, OUT_PLAIN);
    if (about->name[0]) {
        out_text(o, " (port ");
        out_u64(o, port);
        out_char(o, ')');
    }
    if (r->offers.count == 0)
        out_text(o, ": no source announced anything here");
    out_line(o);
    announcements_text(o, &r->offers, about, zero_ns, verbose);
    announcements_text(o, &r->sink_offers, about, zero_ns, verbose);
    if (who_text(o, r, about, verbose))
        out_line(o);
}
