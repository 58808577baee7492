#include "capture/json.h"
#include "capture/text_form.h"
#include "capture/text_notes_inside.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { CC_NOT_MEASURED = 0xFFFF, DECIMALS_LEAST = 3 };

struct text_out {
    void (*put)(void *context, const char *text, size_t length);
    void *context;
    bool  noting; /* a "#=" line has begun */
};

static void put_text(struct text_out *o, const char *text)
{
    o->put(o->context, text, strlen(text));
}

static void put_format(struct text_out *o, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void put_format(struct text_out *o, const char *format, ...)
{
    char    text[100];
    va_list arguments;

    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    put_text(o, text);
}

static void put_hex(struct text_out *o, const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    char          text[128];

    while (c.left > 0) {
        size_t n = 0;

        for (; c.left > 0 && n < sizeof text; n += 2) {
            uint8_t byte = cursor_u8(&c);

            text[n] = "0123456789abcdef"[byte >> 4];
            text[n + 1] = "0123456789abcdef"[byte & 15];
        }
        o->put(o->context, text, n);
    }
}

/* value in units of 10^-decimals; zeros behind the first least decimals are left out. */
static void put_decimal(struct text_out *o, int64_t value, unsigned decimals, unsigned least)
{
    uint64_t size = value < 0 ? (uint64_t)-value : (uint64_t)value, one = 1;
    char     text[24];

    for (unsigned i = 0; i < decimals; i++)
        one *= 10;
    int n = snprintf(text, sizeof text, "%0*" PRIu64, (int)decimals, size % one);

    while (n > (int)least && text[n - 1] == '0')
        n--;
    put_format(o, "%s%" PRIu64 ".%.*s", value < 0 ? "-" : "", size / one, n, text);
}

static void put_time(struct text_out *o, int64_t t_ns)
{
    put_decimal(o, t_ns, 9, 9);
}

/* Notes: what the line after them cannot say. */

static void note_key(struct text_out *o, enum note note)
{
    put_format(o, "%s%s=", o->noting ? " " : "#= ", text_note_keys[note]);
    o->noting = true;
}

static void note_number(struct text_out *o, enum note note, int64_t value)
{
    note_key(o, note);
    put_format(o, "%" PRId64, value);
}

static void note_time(struct text_out *o, enum note note, int64_t t_ns)
{
    note_key(o, note);
    put_time(o, t_ns);
}

static void note_bits(struct text_out *o, enum note note, uint8_t bits, const char *const *list)
{
    const char *comma = "";

    if (bits == 0)
        return;
    note_key(o, note);
    for (unsigned i = 0; list[i]; i++) {
        if (bits >> i & 1) {
            put_format(o, "%s%s", comma, list[i]);
            comma = ",";
        }
        bits &= (uint8_t)~(1u << i);
    }
    if (bits)
        put_format(o, "%s0x%02x", comma, bits);
}

static void notes_end(struct text_out *o)
{
    if (o->noting)
        put_text(o, "\n");
    o->noting = false;
}

/* A record that no line can hold: its bytes. */
static void raw_write(struct text_out *o, const struct record *r)
{
    note_time(o, NOTE_TIME, r->stamp_ns);
    if (r->why == RECORD_WHY_CUT)
        put_format(o, " %s=yes", text_note_keys[NOTE_CUT]);
    note_key(o, NOTE_RAW);
    put_hex(o, r->bytes, r->length);
    notes_end(o);
}

/* Bytes that must be zero, and the length a kind must have (0: any), for a line to hold all of a record. */
struct shape { uint8_t zero_at, zeros, length; };
static const struct shape shapes_all[] = {
    [RECORD_PD_PACKET] = { 10, 2, 0 }, [RECORD_RESET_SIGNAL] = { 9, 3, 12 }, [RECORD_POWER] = { 15, 1, 0 },
    [RECORD_CC_STATE] = { 14, 2, 16 }, [RECORD_MARK] = { 10, 2, 0 },         [RECORD_LOST] = { 8, 0, 16 },
    [RECORD_TEMPERATURE] = { 9, 3, 0 }, [RECORD_ABOUT] = { 8, 0, 0 },
};

static bool line_holds(const struct record *r)
{
    if (r->soundness != RECORD_SOUND || r->kind >= sizeof shapes_all / sizeof shapes_all[0])
        return false; /* edges among them */
    const struct shape *shape = &shapes_all[r->kind];
    struct cursor       c = cursor_over(r->bytes, r->length);

    cursor_take(&c, shape->zero_at);
    for (unsigned i = 0; i < shape->zeros; i++) {
        if (cursor_u8(&c) != 0)
            return false;
    }
    if (r->kind == RECORD_PD_PACKET && r->packet.length == 0)
        return false;
    if (r->kind == RECORD_POWER)
        return c.left == (size_t)r->power.rows * r->power.width * 4;
    return shape->length == 0 || r->length == shape->length;
}

/* Controls, also the two-byte ones (C2 80 to C2 9F), would end a line or do harm on a terminal. Takes the character. */
static bool control_next(struct cursor *c)
{
    uint8_t       byte = cursor_u8(c);
    struct cursor ahead = *c;

    if (byte == 0xC2 && ahead.left > 0 && cursor_u8(&ahead) < 0xA0) {
        *c = ahead;
        return true;
    }
    return byte < 0x20 || byte == 0x7F;
}

/* Can text stand in a line as it is and come back the same? */
static bool text_plain(const char *text, size_t length)
{
    struct cursor c = cursor_over((const uint8_t *)text, length);

    while (c.left > 0) {
        if (control_next(&c))
            return false;
    }
    return length == 0 || (text[0] != ' ' && text[length - 1] != ' ');
}

/* Behind a blank; each control becomes one too. */
static void put_plain(struct text_out *o, const char *text, size_t length)
{
    struct cursor c = cursor_over((const uint8_t *)text, length);

    if (length > 0)
        put_text(o, " ");
    while (c.left > 0) {
        const char *from = (const char *)c.at;
        size_t      before = c.left;

        if (control_next(&c))
            put_text(o, " ");
        else
            o->put(o->context, from, before - c.left);
    }
}

static void note_text(struct text_out *o, const char *text, size_t length)
{
    if (text_plain(text, length))
        return;
    note_key(o, NOTE_TEXT);
    put_hex(o, (const uint8_t *)text, length);
}

static void kind_notes(struct text_out *o, const struct record *r)
{
    switch ((enum record_kind)r->kind) {
    case RECORD_PD_PACKET:
        note_bits(o, NOTE_STATE, r->packet.state & (uint8_t)~RECORD_NO_CRC, text_states);
        return;
    case RECORD_CC_STATE:
        if (r->cc.cc1_mv != CC_NOT_MEASURED)
            note_number(o, NOTE_CC1, r->cc.cc1_mv);
        if (r->cc.cc2_mv != CC_NOT_MEASURED)
            note_number(o, NOTE_CC2, r->cc.cc2_mv);
        return;
    case RECORD_MARK:
        if (r->mark.action != RECORD_LOAD_SET && r->mark.value != 0)
            note_number(o, NOTE_VALUE, r->mark.value);
        note_text(o, r->mark.text, r->mark.length);
        return;
    case RECORD_LOST:
        if (r->lost.where != 0) {
            note_key(o, NOTE_WHERE);
            put_text(o, text_places[r->lost.where]);
        }
        return;
    case RECORD_TEMPERATURE: note_text(o, r->temperature.label, r->temperature.length); return;
    case RECORD_ABOUT:       note_text(o, r->about.text, r->about.length); return;
    case RECORD_RESET_SIGNAL:
    case RECORD_POWER:
    case RECORD_CC_EDGES:    return;
    }
}

static void notes_write(struct text_out *o, const struct record *r)
{
    if (r->flags & RECORD_END_TIME)
        note_time(o, NOTE_END, r->stamp_ns);
    note_bits(o, NOTE_FLAGS, r->flags & (uint8_t)~RECORD_END_TIME, text_flags);
    if (r->duration_ns > 0 && r->kind != RECORD_PD_PACKET)
        note_number(o, NOTE_DURATION, r->duration_ns);
    kind_notes(o, r);
}

/* Lines. */

static void line_head(struct text_out *o, int64_t t_ns, uint8_t port, const char *word)
{
    put_time(o, t_ns);
    if (port == RECORD_PORT_BENCH)
        put_format(o, " * %s", word);
    else
        put_format(o, " %u %s", port, word);
}

static void packet_write(struct text_out *o, const struct record *r)
{
    line_head(o, r->t_ns, r->port, text_sets[r->packet.set]);
    put_text(o, " ");
    put_hex(o, r->packet.bytes, r->packet.length);
    if (r->packet.state & RECORD_NO_CRC)
        put_text(o, "!");
    if (r->duration_ns > 0) {
        put_text(o, " until ");
        put_time(o, r->t_ns + r->duration_ns);
    }
}

/* The readings of a row; false if it has none. */
static bool row_write(struct text_out *o, const struct record *r, unsigned row)
{
    int64_t t_ns = r->t_ns + (int64_t)row * r->power.interval_ns;
    bool    any = false;

    for (unsigned column = 0, place = 0; text_columns[column]; column++) {
        if (!(r->power.columns >> column & 1))
            continue;
        int32_t cell = record_cell(r, row, place++);

        if (cell == RECORD_NO_READING)
            continue;
        if (any)
            put_format(o, " %s", text_columns[column]);
        else
            line_head(o, t_ns, r->port, text_columns[column]);
        any = true;
        put_text(o, " ");
        put_decimal(o, cell, 6, DECIMALS_LEAST);
    }
    return any;
}

static bool row_complete(const struct record *r)
{
    for (unsigned c = 0; c < r->power.width; c++) {
        if (record_cell(r, 0, c) == RECORD_NO_READING)
            return false;
    }
    return true;
}

static void power_write(struct text_out *o, const struct record *r)
{
    if (r->power.rows > 1 || r->power.interval_ns > 0 || !row_complete(r)) {
        note_number(o, NOTE_ROWS, r->power.rows);
        note_number(o, NOTE_INTERVAL, r->power.interval_ns);
        note_bits(o, NOTE_COLUMNS, r->power.columns, text_columns);
    }
    notes_end(o);
    for (unsigned row = 0; row < r->power.rows; row++) {
        if (!row_write(o, r, row)) {
            put_format(o, "#= %s=none", text_note_keys[NOTE_ROW]);
            put_format(o, " %s=", text_note_keys[NOTE_TIME]);
            put_time(o, r->t_ns + (int64_t)row * r->power.interval_ns);
            put_format(o, " %s=%u", text_note_keys[NOTE_PORT], r->port);
        }
        put_text(o, "\n");
    }
}

static void mark_write(struct text_out *o, const struct record *r)
{
    line_head(o, r->t_ns, r->port, "MARK");
    put_format(o, " %s", text_actions[r->mark.action]);
    if (r->mark.subject == RECORD_PORT_NONE)
        put_text(o, " *");
    else
        put_format(o, " %u", r->mark.subject);
    if (r->mark.action == RECORD_LOAD_SET)
        put_format(o, " %" PRId32, r->mark.value);
    put_plain(o, r->mark.text, r->mark.length);
}

static void about_write(struct text_out *o, const struct record *r)
{
    line_head(o, r->t_ns, r->port, "ABOUT");
    if (text_plain(r->about.text, r->about.length)) {
        put_plain(o, r->about.text, r->about.length);
        return;
    }
    cJSON *json = json_object_parse(r->about.text, r->about.length, NULL);

    put_text(o, " ");
    if (json)
        json_print(json, o->put, o->context);
    else
        put_text(o, "{}"); /* no memory: the note above has it all */
    cJSON_Delete(json);
}

static void line_write(struct text_out *o, const struct record *r)
{
    switch ((enum record_kind)r->kind) {
    case RECORD_PD_PACKET:    packet_write(o, r); break;
    case RECORD_RESET_SIGNAL: line_head(o, r->t_ns, r->port, text_resets[r->reset.which]); break;
    case RECORD_POWER:        return; /* has rows, each a line: power_write */
    case RECORD_CC_STATE:
        line_head(o, r->t_ns, r->port, "CC");
        put_format(o, " %u %s", r->cc.attach, text_rp[r->cc.rp]);
        break;
    case RECORD_MARK:         mark_write(o, r); break;
    case RECORD_LOST:
        line_head(o, r->t_ns, r->port, "LOST");
        if (r->lost.count == RECORD_LOST_UNKNOWN)
            put_text(o, " unknown");
        else
            put_format(o, " %" PRIu32, r->lost.count);
        break;
    case RECORD_TEMPERATURE:
        line_head(o, r->t_ns, r->port, "T");
        put_format(o, " %u ", r->temperature.probe);
        put_decimal(o, r->temperature.mc, 3, DECIMALS_LEAST);
        put_plain(o, r->temperature.label, r->temperature.length);
        break;
    case RECORD_ABOUT:        about_write(o, r); break;
    case RECORD_CC_EDGES:     return; /* has no line: raw_write */
    }
    put_text(o, "\n");
}

void text_write(const struct record *r, void (*put)(void *context, const char *text, size_t length), void *context)
{
    struct text_out o = { .put = put, .context = context };

    if (!line_holds(r)) {
        raw_write(&o, r);
        return;
    }
    notes_write(&o, r);
    if (r->kind == RECORD_POWER) {
        power_write(&o, r);
        return;
    }
    notes_end(&o);
    line_write(&o, r);
}
