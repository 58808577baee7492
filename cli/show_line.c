/*
 * The listing: a line a record. Frame, seconds since the start, time since the port's record before it, port, who speaks,
 * MessageID, then what it is and the numbers that matter. What needs no attention (acknowledgements, copies) stands indented.
 */
#include "cli/show.h"

#include "capture/base/cursor.h"
#include "capture/json.h"
#include "cli/fault_text.h"
#include "cli/speech_text.h"

#include <cjson/cJSON.h>

enum {
    FRAME_WIDTH = 5, TIME_WIDTH = 10, SPAN_WIDTH = 7, SIDE_WIDTH = 7, DETAIL_AFTER = 9, QUIET_INDENT = 2,
    STEADY_UV = 50000, STEADY_UA = 20000, STEADY_PART = 100,
    LABEL_PLACES_LEAST = 4, MICRO = 6, THOUSANDS = 3, NOT_MEASURED_MV = 0xffff, COLUMNS = 3, TEXT_BYTES = 40, ABOUT_PLACES = 45,
};

/* Bytes of the UTF-8 text that fill at most so many places; *places how many they fill. */
static size_t text_cut(const char *text, unsigned most, unsigned *places)
{
    size_t at = 0;

    for (*places = 0; text[at]; at++) {
        bool begins = ((unsigned char)text[at] & 0xc0) != 0x80;

        if (begins && *places == most)
            break;
        *places += begins ? 1 : 0;
    }
    return at;
}

static void label_number(struct show_label *l, unsigned number)
{
    unsigned divisor = number >= 100 ? 100 : number >= 10 ? 10 : 1;

    for (l->bytes = 0; divisor > 0; divisor /= 10)
        l->text[l->bytes++] = (char)('0' + number / divisor % 10);
    l->places = l->bytes;
}

static void label_make(struct show_label *l, const struct about_port *a, unsigned number)
{
    unsigned places = 0;
    size_t   bytes = a ? text_cut(a->name, SHOW_LABEL_PLACES, &places) : 0;

    label_number(l, number);
    if (bytes == 0 || bytes > SHOW_LABEL_BYTES)
        return;
    for (size_t i = 0; i < bytes; i++)
        l->text[i] = (unsigned char)a->name[i] < 0x20 || a->name[i] == 0x7f ? '?' : a->name[i];
    l->bytes = (uint8_t)bytes;
    l->places = (uint8_t)places;
}

/* Made anew when ABOUT changes; the column never becomes narrower. */
static void labels_make(struct show *s)
{
    const struct about *about = bench_about(s->bench);

    if (s->labels_of == about_generation(about) + 1)
        return;
    s->labels_of = about_generation(about) + 1;
    if (s->label_places < LABEL_PLACES_LEAST)
        s->label_places = LABEL_PLACES_LEAST;
    for (unsigned n = 0; n < RECORD_PORT_BENCH; n++) {
        label_make(&s->labels[n], about_port(about, (uint8_t)n), n);
        if (s->labels[n].places > s->label_places)
            s->label_places = s->labels[n].places;
    }
    s->labels[RECORD_PORT_BENCH] = (struct show_label){ .text = "*", .bytes = 1, .places = 1 };
}

static void label_out(struct show *s, unsigned number)
{
    const struct show_label *l = &s->labels[number];

    out_bytes(s->out, l->text, l->bytes);
    s->out->escapes += (size_t)(l->bytes - l->places);
}

void show_heading(struct show *s)
{
    struct out *o = s->out;

    if (s->headed || s->options->quiet)
        return;
    s->headed = true;
    labels_make(s);
    if (s->options->about_path) {
        out_text(o, "ABOUT corrected by ");
        out_clean(o, s->options->about_path, strlen(s->options->about_path));
        out_line(o);
    }
    out_style(o, OUT_QUIET);
    size_t port = FRAME_WIDTH + 1 + TIME_WIDTH + 2 + SPAN_WIDTH + 1, side = port + s->label_places + 1;

    out_text(o, "frame     time s");
    out_column(o, port - SPAN_WIDTH - 1);
    out_text(o, "since");
    out_column(o, port);
    out_text(o, "port");
    out_column(o, side);
    out_text(o, "who");
    out_column(o, side + SIDE_WIDTH);
    out_text(o, "id what");
    out_style(o, OUT_PLAIN);
    out_line(o);
}

/* From the frame to the port. */
static void line_begin(struct show *s)
{
    struct out          *o = s->out;
    const struct record *r = s->record;

    out_u64_wide(o, r->frame, FRAME_WIDTH);
    out_char(o, ' ');
    out_seconds(o, r->t_ns - s->zero_ns, TIME_WIDTH);
    out_bytes(o, "  ", 2);
    if (s->previous_ns == INT64_MIN)
        out_bytes(o, "   -   ", SPAN_WIDTH);
    else
        out_span(o, r->t_ns - s->previous_ns);
    out_char(o, ' ');
    label_out(s, r->soundness == RECORD_UNREADABLE ? RECORD_PORT_BENCH : r->port);
    out_spaces(o, s->label_places + 1 - s->labels[r->soundness == RECORD_UNREADABLE ? RECORD_PORT_BENCH : r->port].places);
}

/* Who and id stay empty where nobody speaks. */
static void line_begin_unspoken(struct show *s)
{
    line_begin(s);
    out_spaces(s->out, SIDE_WIDTH + 3);
}

static void side_out(struct out *o, unsigned side)
{
    static const char names[][SIDE_WIDTH + 1] = {
        [SIDE_SOURCE] = "source ", [SIDE_SINK] = "sink   ", [SIDE_CABLE] = "cable  ", [SIDE_UNKNOWN] = "unknown",
    };

    out_bytes(o, names[side % 4], SIDE_WIDTH);
}

static void amount_out(struct out *o, int32_t micro)
{
    /* Millivolts and milliamperes are as fine as a reading line needs. */
    out_fixed(o, micro, MICRO, 3, 0);
}

static void contract_out(struct out *o, const struct contract *c)
{
    if (c->mv) {
        out_short(o, c->mv, THOUSANDS);
        out_text(o, " V ");
    }
    out_short(o, c->mw ? c->mw : c->ma, THOUSANDS);
    out_text(o, c->mw ? " W" : " A");
}

/* NULL where the record says so in another way: by the next contract, as detached. */
static const char *ended_text(unsigned why)
{
    static const char *const words[] = {
        [CONTRACT_RENEGOTIATED] = NULL,
        [CONTRACT_HARD_RESET] = "contract over",
        [CONTRACT_SWAP] = "contract over: roles swap",
        [CONTRACT_EPR_EXIT] = "contract over: EPR mode left",
        [CONTRACT_SUPPLY_LOST] = "contract over: VBUS gone",
        [CONTRACT_DETACHED] = NULL,
        [CONTRACT_TRACE_END] = NULL,
    };

    return why < sizeof words / sizeof words[0] ? words[why] : NULL;
}

static const char *swap_text(unsigned swap)
{
    static const char *const words[] = {
        [SWAP_NONE] = "swapped", [SWAP_PR] = "power roles swapped", [SWAP_FR] = "power roles swapped fast",
        [SWAP_DR] = "data roles swapped", [SWAP_VCONN] = "VCONN source swapped",
    };

    return swap < sizeof words / sizeof words[0] ? words[swap] : words[SWAP_NONE];
}

static void arrow_out(struct out *o, bool *apart, size_t indent, const char *words)
{
    if (!words)
        return;
    size_t item = out_item(o);

    out_text(o, *apart ? "=> " : "  => ");
    out_text(o, words);
    out_item_end(o, item, indent);
    *apart = false;
}

/* What the record changed, behind an arrow: the line's point, so it stands out. Without details it takes their place. */
static void news_out(struct show *s)
{
    static const struct { uint32_t event; const char *words; } plain[] = {
        { EVENT_BIT(EVENT_ATTACH), "attached" }, { EVENT_BIT(EVENT_DETACH), "detached" },
        { EVENT_BIT(EVENT_EPR_ENTERED), "EPR mode" }, { EVENT_BIT(EVENT_EPR_LEFT), "EPR mode left" },
    };
    struct out *o = s->out;
    uint32_t    events = s->news.events;

    if (!events)
        return;
    bool apart = o->used > 0 && o->buffer[o->used - 1] == ' ';

    out_style(o, OUT_STRONG);
    if (events & EVENT_BIT(EVENT_CONTRACT_END))
        arrow_out(o, &apart, s->detail, ended_text(s->news.ended_by));
    for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++)
        if (events & plain[i].event)
            arrow_out(o, &apart, s->detail, plain[i].words);
    if (events & EVENT_BIT(EVENT_SWAPPED))
        arrow_out(o, &apart, s->detail, swap_text(s->news.swap));
    if (events & (EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED))) {
        size_t item = out_item(o);

        out_text(o, apart ? "=> " : "  => ");
        out_text(o, events & EVENT_BIT(EVENT_CONTRACT) ? "contract " : "contract renewed ");
        contract_out(o, &s->news.begun);
        out_item_end(o, item, s->detail);
    }
    out_style(o, OUT_PLAIN);
}

static void set_out(struct out *o, unsigned set)
{
    if (set == SET_SOP)
        return;
    out_text(o, ordered_set_name(set));
    out_char(o, ' ');
}

/* Where the details stand: a little behind a short name, two blanks behind a long one. */
static void detail_place(struct show *s, size_t began)
{
    size_t width = out_place(s->out) - began;

    out_spaces(s->out, width < DETAIL_AFTER ? DETAIL_AFTER - width : 2);
    s->detail = out_place(s->out);
}

/* A packet that needs no attention: an acknowledgement, or the same message again. */
static void quiet_packet(struct show *s, const char *name, const char *words)
{
    struct out *o = s->out;

    out_spaces(o, QUIET_INDENT);
    set_out(o, s->speech->m.set);
    out_text(o, name);
    out_text(o, words);
}

static void loud_packet(struct show *s, const char *name)
{
    const struct speech *p = s->speech;
    struct out          *o = s->out;
    size_t               began = out_place(o);

    if (p->m.crc == CRC_BAD || p->m.truncated) {
        out_style(o, OUT_BAD);
        out_text(o, p->m.crc == CRC_BAD ? "BAD CRC" : "CUT SHORT");
        out_style(o, OUT_PLAIN);
        out_text(o, "  as if ");
        set_out(o, p->m.set);
        out_text(o, name);
        return;
    }
    set_out(o, p->m.set);
    out_text(o, name);
    detail_place(s, began);
    speech_text(o, s->port, p, s->answered);
}

static void packet_line(struct show *s)
{
    const struct speech *p = s->speech;
    struct out          *o = s->out;
    char                 buffer[TEXT_BYTES];
    bool                 goodcrc = p && p->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC);
    bool                 quiet = p && p->good && (goodcrc || p->copy);

    if (quiet)
        out_style(o, OUT_QUIET);
    line_begin(s);
    side_out(o, p ? p->side : SIDE_UNKNOWN);
    out_char(o, ' ');
    if (!p) { /* not even two bytes for a header */
        out_style(o, OUT_BAD);
        out_text(o, "  CUT SHORT");
        out_style(o, OUT_PLAIN);
        return;
    }
    out_char(o, (char)('0' + (p->m.id & 7)));
    out_char(o, ' ');
    const char *name = message_text(&p->m, buffer, sizeof buffer);

    if (quiet) {
        quiet_packet(s, name, goodcrc ? (p->acknowledged ? "" : " for nothing seen") : " again");
        out_style(o, OUT_PLAIN);
    } else {
        loud_packet(s, name);
    }
}

/* The readings stay as the line before told them: within a few hundredths at both ends. */
static bool near_told(int32_t value, int32_t told, int32_t floor)
{
    int64_t far = (int64_t)value - told;
    int64_t room = floor + (told < 0 ? -(int64_t)told : told) / STEADY_PART;

    return far <= room && -far <= room;
}

bool show_power_steady(struct show *s)
{
    const struct record *r = s->record;
    struct show_told    *told = &s->told[r->port];
    struct show_told     now = { .columns = r->power.columns };
    bool                 steady = told->columns == now.columns;

    for (unsigned c = 0; c < r->power.width; c++) {
        if (!record_column_range(r, c, &now.least[c], &now.greatest[c]))
            now.least[c] = now.greatest[c] = RECORD_NO_READING;
        int32_t floor = r->power.columns == RECORD_IBUS || (c == 1 && (r->power.columns & RECORD_IBUS)) ? STEADY_UA : STEADY_UV;

        steady = steady && near_told(now.least[c], told->least[c], floor) && near_told(now.greatest[c], told->greatest[c], floor);
    }
    s->power = now;
    if (!steady)
        *told = now;
    return steady;
}

static void power_line(struct show *s)
{
    static const char *const names[COLUMNS] = { "VBUS ", "IBUS ", "VCONN " };
    static const char *const units[COLUMNS] = { " V", " A", " V" };
    const struct record     *r = s->record;
    struct out              *o = s->out;

    for (unsigned bit = 0, column = 0; bit < COLUMNS; bit++) {
        if (!(r->power.columns >> bit & 1))
            continue;
        int32_t least = s->power.least[column], greatest = s->power.greatest[column];

        out_text(o, column++ > 0 ? "  " : "");
        out_text(o, names[bit]);
        if (least != RECORD_NO_READING) {
            amount_out(o, least);
            if (greatest / 1000 != least / 1000) {
                out_bytes(o, "..", 2);
                amount_out(o, greatest);
            }
            out_bytes(o, units[bit], 2);
        } else {
            out_text(o, "no reading");
        }
    }
    if (r->power.rows > 1) {
        out_text(o, "  (");
        out_u64(o, r->power.rows);
        out_text(o, " rows, ");
        out_short(o, r->power.interval_ns, MICRO);
        out_text(o, " ms)");
    }
}

static void cc_line(struct show *s)
{
    static const char *const attach[] = {
        "nothing attached", "partner on CC1", "partner on CC2", "debug accessory", "audio accessory",
    };
    static const char *const rp[] = { "", ", Rp default", ", Rp 1.5 A", ", Rp 3.0 A" };
    const struct record     *r = s->record;
    struct out              *o = s->out;

    out_text(o, attach[r->cc.attach % 5]);
    out_text(o, rp[r->cc.rp % 4]);
    if (r->cc.cc1_mv != NOT_MEASURED_MV) {
        out_text(o, ", CC1 ");
        out_fixed(o, r->cc.cc1_mv, THOUSANDS, 2, 0);
        out_text(o, " V");
    }
    if (r->cc.cc2_mv != NOT_MEASURED_MV) {
        out_text(o, ", CC2 ");
        out_fixed(o, r->cc.cc2_mv, THOUSANDS, 2, 0);
        out_text(o, " V");
    }
}

static void mark_line(struct show *s)
{
    static const char *const words[] = {
        [RECORD_NOTE] = "note", [RECORD_PLUGGED] = "plugged", [RECORD_UNPLUGGED] = "unplugged", [RECORD_LOAD_SET] = "load set",
        [RECORD_INPUT_ON] = "input power on", [RECORD_INPUT_OFF] = "input power off", [RECORD_BUTTON] = "button pressed",
    };
    const struct record *r = s->record;
    struct out          *o = s->out;
    size_t               indent = out_place(o);

    out_text(o, words[r->mark.action % 7]);
    if (r->mark.subject != RECORD_PORT_NONE) {
        out_text(o, " at ");
        label_out(s, r->mark.subject);
    }
    if (r->mark.action == RECORD_LOAD_SET) {
        out_text(o, ", ");
        out_short(o, r->mark.value, THOUSANDS);
        out_text(o, " A");
    }
    if (r->mark.length > 0) {
        out_text(o, ": ");
        out_words(o, r->mark.text, r->mark.length, indent);
    }
}

static void lost_line(struct show *s)
{
    static const char *const where[] = { "", ", in the instrument", ", in the host", ", at the disk" };
    const struct record     *r = s->record;
    struct out              *o = s->out;

    if (r->lost.count == RECORD_LOST_UNKNOWN)
        out_text(o, "records, how many is not known");
    else {
        out_u64(o, r->lost.count);
        out_text(o, r->lost.count == 1 ? " record" : " records");
    }
    out_text(o, where[r->lost.where % 4]);
}

static void temperature_line(struct show *s)
{
    const struct record *r = s->record;
    struct out          *o = s->out;

    out_fixed(o, r->temperature.mc, THOUSANDS, 1, 0);
    out_text(o, " degrees C, probe ");
    out_u64(o, r->temperature.probe);
    if (r->temperature.length > 0) {
        out_text(o, " ");
        out_clean(o, r->temperature.label, r->temperature.length);
    }
}

/* The strings that say what was tested; the raw text where there are none. */
static void about_line(struct show *s)
{
    static const char *const keys[] = { "device", "sample", "firmware", "bench" };
    struct out   *o = s->out;
    size_t        length = s->record->about.length, indent = out_place(o);
    const char   *text = s->record->about.text;
    struct cJSON *json = json_object_parse(text, length, NULL);
    bool          any = false;

    for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
        const struct cJSON *item = cJSON_GetObjectItemCaseSensitive(json, keys[k]);

        if (!cJSON_IsString(item))
            continue;
        size_t mark = out_item(o);

        out_text(o, any ? ", " : "");
        out_text(o, k > 0 ? keys[k] : "");
        out_text(o, k > 0 ? " " : "");
        out_clean(o, item->valuestring, text_cut(item->valuestring, ABOUT_PLACES, &(unsigned){ 0 }));
        if (any)
            out_item_end(o, mark, indent);
        any = true;
    }
    cJSON_Delete(json);
    if (!any) {
        out_clean_wide(o, text, length, length < ABOUT_PLACES ? length : ABOUT_PLACES);
        out_text(o, length > ABOUT_PLACES ? " ..." : "");
    }
}

static void edges_line(struct show *s)
{
    struct cursor c = cursor_over(s->record->edges.leb, s->record->edges.length);
    uint64_t      edges = 0;

    while (c.left > 0)
        edges += cursor_u8(&c) < 0x80 ? 1 : 0;
    out_u64(s->out, edges);
    out_text(s->out, " edges of the CC line over ");
    out_short(s->out, record_span_ns(s->record) / 1000, 3);
    out_text(s->out, " ms");
}

static void unsound_line(struct show *s)
{
    out_text(s->out, record_why_text(s->record->why));
}

static const struct {
    const char    *name;
    enum out_style style;
    void         (*rest)(struct show *s);
} line_kinds[SHOW_KINDS] = {
    [SHOW_PACKET] = { "packet", OUT_PLAIN, packet_line },
    [SHOW_RESET] = { "HARD RESET", OUT_BAD, NULL },
    [SHOW_POWER] = { "power", OUT_PLAIN, power_line },
    [SHOW_CC] = { "CC", OUT_PLAIN, cc_line },
    [SHOW_MARK] = { "mark", OUT_PLAIN, mark_line },
    [SHOW_LOST] = { "LOST", OUT_DOUBT, lost_line },
    [SHOW_TEMPERATURE] = { "temp", OUT_PLAIN, temperature_line },
    [SHOW_ABOUT] = { "about", OUT_PLAIN, about_line },
    [SHOW_EDGES] = { "edges", OUT_PLAIN, edges_line },
    [SHOW_UNKNOWN] = { "unknown", OUT_DOUBT, unsound_line },
    [SHOW_DAMAGED] = { "DAMAGED", OUT_DOUBT, unsound_line },
    [SHOW_UNREADABLE] = { "UNREADABLE", OUT_DOUBT, unsound_line },
};

/* Everything but packets: nobody speaks. */
static void plain_line(struct show *s, enum show_kind kind)
{
    struct out    *o = s->out;
    const char    *name = line_kinds[kind].name;
    enum out_style style = line_kinds[kind].style;
    bool           steady = kind == SHOW_POWER && s->power_steady;

    if (kind == SHOW_RESET && s->record->reset.which == RECORD_CABLE_RESET)
        name = "CABLE RESET";
    if (steady)
        out_style(o, OUT_QUIET);
    line_begin_unspoken(s);
    size_t began = out_place(o);

    out_spaces(o, steady ? QUIET_INDENT : 0);
    if (style != OUT_PLAIN)
        out_style(o, style);
    out_text(o, name);
    if (style != OUT_PLAIN)
        out_style(o, OUT_PLAIN);
    if (line_kinds[kind].rest) {
        detail_place(s, began);
        line_kinds[kind].rest(s);
    }
    if (steady)
        out_style(o, OUT_PLAIN);
}

void show_line(struct show *s)
{
    enum show_kind kind = show_kind_of(s->record);
    struct out    *o = s->out;

    labels_make(s);
    s->detail = 0;
    if (kind == SHOW_PACKET)
        packet_line(s);
    else
        plain_line(s, kind);
    out_room(o, 256);
    news_out(s);
    /* Where no detail came, the blanks before it go. */
    while (o->used > 0 && o->buffer[o->used - 1] == ' ')
        o->used--;
    out_line(o);
}
