/* What extended messages say: status, ratings, batteries, maker, countries. */
#include "rules/ext_checks.h"

#include "capture/base/cursor.h"
#include "rules/message_checks.h"
#include "rules/vdm_words.h"

#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define BYTE(n) (UINT32_C(1) << (n))

/* The data block of a message that is whole; false: there is no occasion. */
static bool block_whole(const struct judge *j, const struct event *e)
{
    return e->speech->news == CHUNK_COMPLETE && e->speech->data && message_applies(j, e);
}

static unsigned block_byte(const struct speech *s, unsigned n)
{
    struct cursor c = cursor_over(s->data, s->size);

    cursor_take(&c, n);
    return c.left > 0 ? cursor_u8(&c) : 0; /* what was not sent is 0 */
}

static unsigned block_u16(const struct speech *s, unsigned n)
{
    return block_byte(s, n) | block_byte(s, n + 1) << 8;
}

/* The first of these bytes in which a reserved bit is 1; -1: none. */
static int byte_reserved_set(const struct speech *s, uint32_t bytes)
{
    const struct block_layout *layout = block_layout(s->m.type, s->m.set != SET_SOP);

    for (unsigned k = 0; layout && k < layout->count; k++) {
        const struct block_field *f = &layout->fields[k];
        uint64_t                  value = 0;

        if (!f->key && f->byte < 32 && (bytes & BYTE(f->byte)) && block_value(f, s->data, s->size, &value) && value)
            return f->byte;
    }
    return -1;
}

static void block_judge(struct judge *j, const struct event *e, struct outcome *o, int fault)
{
    if (fault < 0) {
        judge_pass(j);
        return;
    }
    o->sentence = (uint8_t)fault;
    outcome_evidence(o, e->frame);
    judge_fail(j, o);
}

static int reserved_fault(const struct speech *s, uint32_t bytes, unsigned sentence, struct outcome *o)
{
    int byte = byte_reserved_set(s, bytes);

    if (byte < 0)
        return -1;
    o->values[0] = byte;
    o->values[1] = block_byte(s, (unsigned)byte);
    return (int)sentence;
}

/* ext.status-fields. Status and PPS_Status: byte 1 says what feeds the port, byte 2 which batteries do: decode/blocks.c. */
enum { INPUT_BYTE = 1, INPUT_BATTERY = 1 << 3, BATTERY_INPUT_BYTE = 2 };

void ext_check_status_fields(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    struct outcome       o;
    int                  fault;

    if (!block_whole(j, e))
        return;
    o = judge_outcome(j, e);
    if (s->m.index == EXTENDED(PPS_STATUS)) {
        block_judge(j, e, &o, reserved_fault(s, BYTE(3), STATUS_RESERVED, &o));
        return;
    }
    fault = reserved_fault(s, BYTE(1) | BYTE(3) | BYTE(4) | BYTE(5), STATUS_RESERVED, &o);
    if (fault < 0 && block_byte(s, BATTERY_INPUT_BYTE) && !(block_byte(s, INPUT_BYTE) & INPUT_BATTERY)) {
        o.values[0] = block_byte(s, BATTERY_INPUT_BYTE);
        fault = STATUS_NO_BATTERY;
    }
    block_judge(j, e, &o, fault);
}

/* ext.source-caps-ext-fields. Places and bits: decode/blocks.c; the ratings' ends: USB PD, EPR, from memory. */
enum {
    PEAK_FIRST_BYTE = 14, PEAKS = 3, PEAK_OVERLOAD_MASK = 31, PEAK_OVERLOAD_MOST = 25, TOUCH_BYTE = 20, TOUCH_MOST = 2,
    SPR_PDP_BYTE = 23, SPR_PDP_MOST = 100, EPR_PDP_BYTE = 24, EPR_PDP_LEAST = 100, EPR_PDP_MOST = 240,
};

static int rating_fault(const struct speech *s, struct outcome *o)
{
    unsigned epr = block_byte(s, EPR_PDP_BYTE);

    o->values[0] = block_byte(s, SPR_PDP_BYTE);
    if (o->values[0] > SPR_PDP_MOST)
        return EXTENDED_SPR_PDP;
    o->values[0] = epr;
    return epr && (epr < EPR_PDP_LEAST || epr > EPR_PDP_MOST) ? EXTENDED_EPR_PDP : -1;
}

static int peak_fault(const struct speech *s, struct outcome *o)
{
    for (unsigned k = 0; k < PEAKS; k++) {
        unsigned overload = block_byte(s, PEAK_FIRST_BYTE + 2 * k) & PEAK_OVERLOAD_MASK;

        o->values[0] = k + 1;
        o->values[1] = overload;
        if (overload > PEAK_OVERLOAD_MOST)
            return EXTENDED_PEAK;
    }
    return -1;
}

static int source_extended_fault(const struct speech *s, struct outcome *o)
{
    int fault = rating_fault(s, o);

    if (fault < 0)
        fault = reserved_fault(s, BYTE(10) | BYTE(12) | BYTE(13), EXTENDED_RESERVED, o);
    if (fault >= 0)
        return fault;
    o->values[0] = block_byte(s, TOUCH_BYTE);
    return o->values[0] > TOUCH_MOST ? EXTENDED_TOUCH : peak_fault(s, o);
}

void ext_check_source_caps_ext_fields(struct judge *j, const struct event *e)
{
    const struct offer *offer = &e->port->offer;
    struct outcome      o;
    int                 fault;

    if (!block_whole(j, e))
        return;
    o = judge_outcome(j, e);
    fault = source_extended_fault(e->speech, &o);
    if (fault < 0 && block_byte(e->speech, EPR_PDP_BYTE)) {
        o.values[0] = block_byte(e->speech, EPR_PDP_BYTE);
        if (!offer->known || e->port->offer_uncertain || offer->player != e->speech->player) {
            o.sentence = EXTENDED_OFFER_UNKNOWN;
            outcome_evidence(&o, e->frame);
            judge_undecided(j, &o, offer->known ? judge_gap_cause(e->port, CAUSE_UNKNOWN_OFFER) : CAUSE_UNKNOWN_OFFER);
            return;
        }
        if (!offer->pdos[0].epr_capable) {
            o.values[1] = offer->words[0];
            outcome_evidence(&o, offer->frame);
            fault = EXTENDED_EPR_UNFLAGGED;
        }
    }
    block_judge(j, e, &o, fault);
}

/* ext.battery-fields. Battery counts: byte 22 of a source's block, 16 of a sink's; low half fixed ones, high half slots: decode/blocks.c. */
enum { SOURCE_BATTERIES_BYTE = 22, SINK_BATTERIES_BYTE = 16, FIXED_BATTERIES = 4, BATTERY_REFERENCES = 8 };

/* How many batteries this player has, by the extended capabilities that it told last, in whichever role; -1: it told none. */
static int battery_counts(const struct ratings *r, unsigned player, uint64_t *frame)
{
    bool source = player <= PLAYER_B && r->source_ext_frame[player] && r->source_ext_size[player] > SOURCE_BATTERIES_BYTE;
    bool sink = player <= PLAYER_B && r->sink_ext_frame[player] && r->sink_ext_size[player] > SINK_BATTERIES_BYTE;

    *frame = 0;
    if (!source && !sink)
        return -1;
    if (source && sink)
        source = r->source_ext_frame[player] > r->sink_ext_frame[player];
    *frame = source ? r->source_ext_frame[player] : r->sink_ext_frame[player];
    return source ? r->source_ext[player][SOURCE_BATTERIES_BYTE] : r->sink_ext[player][SINK_BATTERIES_BYTE];
}

/* Whether that player has a battery of this reference; frame: where it tells. */
static enum answer battery_exists(const struct ratings *r, unsigned player, unsigned reference, uint64_t *frame)
{
    int told = battery_counts(r, player, frame);

    if (reference >= BATTERY_REFERENCES)
        return ANSWER_NO;
    if (told < 0)
        return ANSWER_UNKNOWN;
    unsigned counts = (unsigned)told;

    if (reference < FIXED_BATTERIES)
        return reference < (counts & 15) ? ANSWER_YES : ANSWER_NO;
    return reference - FIXED_BATTERIES < counts >> 4 ? ANSWER_YES : ANSWER_NO;
}

static int reference_fault(const struct event *e, unsigned reference, bool invalid, struct outcome *o)
{
    uint64_t    frame;
    enum answer exists = battery_exists(&e->port->ratings, e->speech->player, reference, &frame);

    o->values[0] = reference;
    if (exists == ANSWER_UNKNOWN || (exists == ANSWER_NO) == invalid)
        return -1;
    outcome_evidence(o, frame);
    return exists == ANSWER_NO ? BATTERY_WRONGLY_VALID : BATTERY_WRONGLY_INVALID;
}

/* Battery_Status: charging state in bits 11:10, invalid reference in bit 8: decode/fields_data.c. */
static int battery_status_fault(const struct event *e, unsigned reference, struct outcome *o)
{
    uint32_t word = message_word(&e->speech->m, 0);
    int      fault = reference_fault(e, reference, word >> 8 & 1, o);

    return fault < 0 && (word >> 10 & 3) == 3 ? BATTERY_STATE : fault;
}

/* Battery_Capabilities: 0.1 Wh at bytes 4 and 6, 0 no battery, 0xFFFF unknown; invalid reference in byte 8 bit 0: decode/blocks.c. */
enum { DESIGN_BYTE = 4, FULL_BYTE = 6, INVALID_BYTE = 8, NO_BATTERY = 0, CAPACITY_UNKNOWN = 0xFFFF, MW_OF_TENTH_WH = 100 };

static bool capacity_said(unsigned capacity)
{
    return capacity != NO_BATTERY && capacity != CAPACITY_UNKNOWN;
}

static int battery_block_fault(const struct judge *j, const struct event *e, unsigned reference, struct outcome *o)
{
    const struct parameter *most = judge_parameter(j, 0); /* thousandths of a percent */
    unsigned design = block_u16(e->speech, DESIGN_BYTE), full = block_u16(e->speech, FULL_BYTE);
    int      fault = reference_fault(e, reference, block_byte(e->speech, INVALID_BYTE) & 1, o);

    if (fault >= 0 || !capacity_said(design) || !capacity_said(full) || full * INT64_C(100000) <= design * most->max)
        return fault;
    o->values[0] = (int64_t)full * MW_OF_TENTH_WH;
    o->values[1] = (int64_t)design * MW_OF_TENTH_WH;
    o->parameter = most;
    return BATTERY_FULL;
}

void ext_check_battery_fields(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    bool              status = e->speech->m.index == DATA(BATTERY_STATUS);
    unsigned          reference = a ? a->word & 0xFF : 0;
    struct outcome    o;

    if (!a || a->index != (status ? EXTENDED(GET_BATTERY_STATUS) : EXTENDED(GET_BATTERY_CAP)) ||
        !(status ? message_applies(j, e) : block_whole(j, e)))
        return;
    o = judge_outcome(j, e);
    outcome_evidence(&o, a->sent.frame);
    block_judge(j, e, &o, status ? battery_status_fault(e, reference, &o) : battery_block_fault(j, e, reference, &o));
}

/* ext.manufacturer-fields. VID at byte 0, text from byte 4, ended by a zero: decode/blocks.c. */
enum { TEXT_BYTE = 4, VID_NONE = 0xFFFF, LETTER_FIRST = 0x20, LETTER_LAST = 0x7E, TARGET_BATTERY = 1 };

static int text_fault(const struct speech *s, struct outcome *o)
{
    for (unsigned k = TEXT_BYTE; k < s->size; k++) {
        unsigned letter = block_byte(s, k);

        o->values[0] = k;
        o->values[1] = letter;
        if (letter == 0)
            return k + 1u == s->size ? -1 : TEXT_TWO_ENDS;
        if (letter < LETTER_FIRST || letter > LETTER_LAST)
            return TEXT_LETTER;
    }
    return TEXT_NO_END;
}

static bool vids_differ(unsigned vid, unsigned other)
{
    return vid != VID_NONE && other != VID_NONE && vid != other;
}

/* Against what the same port or plug said of itself elsewhere. */
static int vid_fault(const struct event *e, struct outcome *o)
{
    const struct speech   *s = e->speech;
    const struct ratings  *r = &e->port->ratings;
    const struct identity *i = s->player <= PLAYER_CABLE ? &e->port->identity[s->m.set == SET_SOP2 ? PLAYER_CABLE + 1 : s->player] : NULL;
    unsigned               player = s->m.set == SET_SOP && s->player <= PLAYER_B ? s->player : PLAYER_UNKNOWN, vid = block_u16(s, 0);
    uint64_t               extended_frame = player <= PLAYER_B ? r->source_ext_frame[player] : 0;

    o->values[0] = vid;
    if (i && i->frame) {
        o->values[1] = identity_vid(i->words[IDENTITY_HEADER]);
        if (vids_differ(vid, (unsigned)o->values[1])) {
            outcome_evidence(o, i->frame);
            return TEXT_VID_IDENTITY;
        }
    }
    if (extended_frame == 0)
        return -1;
    o->values[1] = r->source_ext[player][0] | r->source_ext[player][1] << 8;
    if (!vids_differ(vid, (unsigned)o->values[1]))
        return -1;
    outcome_evidence(o, extended_frame);
    return TEXT_VID_EXTENDED;
}

void ext_check_manufacturer_fields(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    struct outcome    o;
    int               fault;

    if (!block_whole(j, e))
        return;
    o = judge_outcome(j, e);
    fault = text_fault(e->speech, &o);
    /* Whose it is, the port's or a battery's, only the question tells. */
    if (fault < 0 && a && a->index == EXTENDED(GET_MANUFACTURER_INFO) && (a->word & 0xFF) != TARGET_BATTERY)
        fault = vid_fault(e, &o);
    block_judge(j, e, &o, fault);
}

/* ext.country-fields: decode/blocks.c, decode/fields_data.c */
enum { CODES_BYTE = 2 };

static bool letters(unsigned first, unsigned second)
{
    return first >= 'A' && first <= 'Z' && second >= 'A' && second <= 'Z';
}

static int codes_fault(const struct speech *s, struct outcome *o)
{
    int fault = reserved_fault(s, BYTE(1), COUNTRY_RESERVED, o);

    if (fault >= 0)
        return fault;
    o->values[0] = block_byte(s, 0);
    o->values[1] = s->size;
    if (s->size != CODES_BYTE + 2 * block_byte(s, 0))
        return COUNTRY_NUMBER;
    for (unsigned k = CODES_BYTE; k < s->size; k += 2) {
        o->values[0] = block_byte(s, k);
        o->values[1] = block_byte(s, k + 1);
        if (!letters(block_byte(s, k), block_byte(s, k + 1)))
            return COUNTRY_LETTERS;
    }
    return -1;
}

static int info_fault(const struct speech *s, const struct ask *a, struct outcome *o)
{
    int fault = reserved_fault(s, BYTE(2) | BYTE(3), COUNTRY_RESERVED, o);

    if (fault >= 0)
        return fault;
    o->values[0] = block_byte(s, 0);
    o->values[1] = block_byte(s, 1);
    if (!letters(block_byte(s, 0), block_byte(s, 1)))
        return COUNTRY_LETTERS;
    if (!a || a->index != DATA(GET_COUNTRY_INFO))
        return -1;
    o->values[2] = a->word >> 24;
    o->values[3] = a->word >> 16 & 0xFF;
    outcome_evidence(o, a->sent.frame);
    return o->values[0] == o->values[2] && o->values[1] == o->values[3] ? -1 : COUNTRY_OTHER;
}

void ext_check_country_fields(struct judge *j, const struct event *e)
{
    struct outcome o;

    if (!block_whole(j, e))
        return;
    o = judge_outcome(j, e);
    block_judge(j, e, &o, e->speech->m.index == EXTENDED(COUNTRY_CODES) ? codes_fault(e->speech, &o) : info_fault(e->speech, judge_ask(j), &o));
}
