/* Questions and their answers; alerts; long messages. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

#include <string.h>

enum ask_form { ASK_CONTROL, ASK_DATA, ASK_EXTENDED };
enum asked { ASKED_ANY, ASKED_SOURCE, ASKED_SINK }; /* which role is asked */
struct answer_block { bool extended; unsigned type, size; uint8_t bytes[64]; };

static const struct question {
    const char   *name;
    enum ask_form form;
    unsigned      type;
    unsigned      edition;  /* both must be of it or later */
    enum asked    asked;
    uint32_t      support;  /* enum support; 0: must answer */
} questions[] = {
    { "Get_Source_Cap", ASK_CONTROL, C_GET_SOURCE_CAP, EDITION_2_0, ASKED_SOURCE, 0 },
    { "Get_Sink_Cap", ASK_CONTROL, C_GET_SINK_CAP, EDITION_2_0, ASKED_SINK, 0 },
    { "Get_Source_Cap_Extended", ASK_CONTROL, C_GET_SOURCE_CAP_EXTENDED, EDITION_3_0, ASKED_SOURCE, SUPPORT_SOURCE_EXTENDED },
    { "Get_Sink_Cap_Extended", ASK_CONTROL, C_GET_SINK_CAP_EXTENDED, EDITION_3_0, ASKED_SINK, SUPPORT_SINK_EXTENDED },
    { "Get_Status", ASK_CONTROL, C_GET_STATUS, EDITION_3_0, ASKED_ANY, SUPPORT_STATUS },
    { "Get_PPS_Status", ASK_CONTROL, C_GET_PPS_STATUS, EDITION_3_0, ASKED_SOURCE, SUPPORT_PPS_STATUS },
    { "Get_Country_Codes", ASK_CONTROL, C_GET_COUNTRY_CODES, EDITION_3_0, ASKED_ANY, SUPPORT_COUNTRY },
    { "Get_Country_Info", ASK_DATA, D_GET_COUNTRY_INFO, EDITION_3_0, ASKED_ANY, SUPPORT_COUNTRY },
    { "Get_Source_Info", ASK_CONTROL, C_GET_SOURCE_INFO, EDITION_3_1, ASKED_SOURCE, SUPPORT_SOURCE_INFO },
    { "Get_Revision", ASK_CONTROL, C_GET_REVISION, EDITION_3_1, ASKED_ANY, SUPPORT_REVISION },
    { "Get_Battery_Cap", ASK_EXTENDED, E_GET_BATTERY_CAP, EDITION_3_0, ASKED_ANY, SUPPORT_BATTERY },
    { "Get_Battery_Status", ASK_EXTENDED, E_GET_BATTERY_STATUS, EDITION_3_0, ASKED_ANY, SUPPORT_BATTERY },
    { "Get_Manufacturer_Info", ASK_EXTENDED, E_GET_MANUFACTURER_INFO, EDITION_3_0, ASKED_ANY, SUPPORT_MAKER },
};
enum { QUESTIONS = sizeof questions / sizeof questions[0] };

unsigned synth_questions(void)
{
    return QUESTIONS;
}

bool synth_question_find(const char *name, unsigned *index)
{
    for (unsigned k = 0; k < QUESTIONS; k++)
        if (strcmp(questions[k].name, name) == 0) {
            *index = k;
            return true;
        }
    return false;
}

static void le(uint8_t *at, uint32_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        at[k] = (uint8_t)(value >> 8 * k);
}

static void identity_block(const struct partner *q, uint8_t *b)
{
    le(b, q->vid, 2);
    le(b + 2, q->pid, 2);
    b[8] = 1;
    b[9] = 1;
}

static void source_extended(const struct partner *q, struct answer_block *a)
{
    a->size = q->edition == EDITION_3_0 ? 24 : 25;
    identity_block(q, a->bytes);
    a->bytes[21] = 1;
    a->bytes[22] = (uint8_t)q->batteries;
    a->bytes[23] = (uint8_t)q->pdp_w;
    /* What it takes in EPR mode as a sink is no rating of what it gives. */
    a->bytes[24] = (uint8_t)(q->edition >= EDITION_3_1 && q->epr_count ? q->epr_w : 0);
}

/* Three peak currents, of which a source with a peak in an object has the first: 150 % for 20 ms, 5 % of the time. From memory. */
static void peak_currents(const struct life *l, const struct partner *q, struct answer_block *a)
{
    for (unsigned k = 0; k < q->source_count && !l->peak_untold; k++)
        if (pdo_supply(q->source[k]) == SUPPLY_FIXED && (q->source[k] & PDO_PEAK))
            le(a->bytes + 14, 15 | 1 << 5 | 1 << 11, 2);
}

static void sink_extended(const struct partner *q, struct answer_block *a)
{
    a->size = q->edition == EDITION_3_0 ? 21 : 24;
    identity_block(q, a->bytes);
    a->bytes[10] = 1;
    a->bytes[16] = (uint8_t)q->batteries;
    a->bytes[17] = 2;
    a->bytes[18] = a->bytes[19] = a->bytes[20] = (uint8_t)(q->pdp_w < 100 ? q->pdp_w : 100);
}

static void status_block(const struct partner *q, struct answer_block *a)
{
    a->size = q->edition == EDITION_3_0 ? 6 : 7;
    a->bytes[0] = 35;
    a->bytes[1] = q->batteries ? 8 : 2;
    a->bytes[2] = q->batteries ? 1 : 0;
    a->bytes[4] = 2;
}

/* Voltage in steps of 20 mV, current in steps of 50 mA (0xff: not told), flags: temperature normal, and bit 3 while it limits. From memory. */
static void pps_status(struct life *l, uint8_t *bytes)
{
    bool    told = l->plan->instrument.power && chance_in(&l->volts, 1, 2);
    int32_t mv   = l->modelled ? (int32_t)(volts_true(l, l->now_ns) * 1000) : wave_at(&l->vbus, l->now_ns) / 1000;

    le(bytes, (uint32_t)(told ? mv : l->contract_mv) / 20, 2);
    bytes[2] = (uint8_t)(told ? wave_at(&l->ibus, l->now_ns) / 50000 : 0xff);
    bytes[3] = l->limiting ? 2 | 8 : 2;
    if (l->limiting && !told)
        bytes[0] = bytes[1] = 0xff; /* not told either */
}

/* The extended answer to a question of this index. */
static void extended_answer(struct life *l, unsigned who, const struct question *k, struct answer_block *a)
{
    const struct partner *q = &l->partner[who];
    size_t                maker = strlen(q->maker);

    a->extended = true;
    if (k->form == ASK_CONTROL && k->type == C_GET_SOURCE_CAP_EXTENDED) {
        a->type = E_SOURCE_CAPABILITIES_EXTENDED;
        source_extended(q, a);
        peak_currents(l, q, a);
    } else if (k->form == ASK_CONTROL && k->type == C_GET_SINK_CAP_EXTENDED) {
        a->type = E_SINK_CAPABILITIES_EXTENDED;
        sink_extended(q, a);
    } else if (k->form == ASK_CONTROL && k->type == C_GET_STATUS) {
        a->type = E_STATUS;
        status_block(q, a);
        a->bytes[3] = who == l->source ? l->events : 0;
    } else if (k->form == ASK_CONTROL && k->type == C_GET_PPS_STATUS) {
        a->type = E_PPS_STATUS;
        a->size = 4;
        pps_status(l, a->bytes);
        faults_pps_status(l, a->bytes);
    } else if (k->form == ASK_CONTROL && k->type == C_GET_COUNTRY_CODES) {
        a->type = E_COUNTRY_CODES;
        a->size = 6;
        memcpy(a->bytes, (const uint8_t[]){ 2, 0, 'D', 'E', 'F', 'R' }, 6);
    } else if (k->form == ASK_DATA) {
        a->type = E_COUNTRY_INFO;
        a->size = 8;
        memcpy(a->bytes, (const uint8_t[]){ 'D', 'E', 0, 0, 1, 2, 3, 4 }, 8);
    } else if (k->type == E_GET_BATTERY_CAP) {
        a->type = E_BATTERY_CAPABILITIES;
        a->size = 9;
        le(a->bytes, q->vid, 2);
        le(a->bytes + 2, q->pid, 2);
        le(a->bytes + 4, q->batteries ? 740 : 0, 2);
        le(a->bytes + 6, q->batteries ? 720 : 0, 2);
        a->bytes[8] = q->batteries ? 0 : 1;
    } else {
        a->type = E_MANUFACTURER_INFO;
        a->size = 4 + (unsigned)maker + 1;
        le(a->bytes, q->vid, 2);
        le(a->bytes + 2, q->pid, 2);
        memcpy(a->bytes + 4, q->maker, maker);
    }
}

static bool data_answer(const struct life *l, unsigned who, const struct question *k, struct answer_block *a)
{
    static const unsigned editions[] = { 0, 0x30, 0x31, 0x32 };
    const struct partner *q = &l->partner[who];
    uint32_t              word = 0, most = 0, present = l->present_w ? l->present_w : q->pdp_w;

    if (k->form == ASK_CONTROL && k->type == C_GET_SOURCE_INFO) {
        a->type = D_SOURCE_INFO;
        for (unsigned i = 0; i < l->offer_count && i < SPR_MAX; i++)
            if (pdo_supply(l->offer[i]) == SUPPLY_FIXED && (uint32_t)(pdo_max_mv(l->offer[i]) * pdo_max_ma(l->offer[i], 0) / 1000000) > most)
                most = (uint32_t)(pdo_max_mv(l->offer[i]) * pdo_max_ma(l->offer[i], 0) / 1000000);
        /* A port that guarantees its power has it at all times. */
        word = (present == q->pdp_w ? UINT32_C(1) << 31 : 0) | q->pdp_w << 16 | present << 8 | (most < q->pdp_w ? most : q->pdp_w);
    } else if (k->form == ASK_CONTROL && k->type == C_GET_REVISION) {
        a->type = D_REVISION;
        word = (uint32_t)editions[q->edition] << 24 | (uint32_t)q->version << 16;
    } else if (k->form == ASK_EXTENDED && k->type == E_GET_BATTERY_STATUS) {
        a->type = D_BATTERY_STATUS;
        word = q->batteries ? 500u << 16 | 1u << 9 | 2u << 10 : 0xffffu << 16 | 1u << 8;
    } else {
        return false;
    }
    a->extended = false;
    a->size = 4;
    le(a->bytes, word, 4);
    return true;
}

static bool ask(struct life *l, unsigned asker, const struct question *k)
{
    uint8_t block[2] = { 0, 0 };

    if (k->form == ASK_CONTROL)
        return synth_say_control(l, asker, k->type);
    if (k->form == ASK_DATA)
        return synth_say_data(l, asker, k->type, 1, (const uint32_t[]){ (uint32_t)'D' << 24 | (uint32_t)'E' << 16 });
    return synth_say_extended(l, asker, SET_SOP, k->type, block, k->type == E_GET_MANUFACTURER_INFO ? 2 : 1);
}

static bool capabilities_answer(struct life *l, unsigned who, const struct question *k)
{
    const struct partner *q = &l->partner[who];
    uint32_t              sink[SPR_MAX];
    bool                  heard;

    if (k->type == C_GET_SINK_CAP) {
        memcpy(sink, q->sink, sizeof sink);
        faults_caps_sink(l, who, sink, q->sink_count);
        return synth_say_data(l, who, D_SINK_CAPABILITIES, q->sink_count, sink);
    }
    l->asked = true;
    heard = synth_tell_offer(l);
    l->asked = false;
    if (!heard)
        return false;
    synth_wait(l, TIMER_FIRST_REQUEST, sink_of(l));
    return synth_request(l, l->request);
}

bool synth_offer_changed(struct life *l)
{
    uint32_t told[OFFER_ROOM];
    unsigned count = l->offer_count;
    bool     changed;

    memcpy(told, l->offer, sizeof told);
    synth_offer_make(l);
    changed = count != l->offer_count || memcmp(told, l->offer, sizeof told) != 0;
    memcpy(l->offer, told, sizeof told);
    l->offer_count = count;
    return changed;
}

bool synth_get(struct life *l, const struct step *s)
{
    const struct question *k = &questions[s->message];
    unsigned               asker = k->asked == ASKED_SOURCE ? sink_of(l) : k->asked == ASKED_SINK ? l->source : s->from == WHO_SOURCE ? l->source
                                 : s->from == WHO_SINK ? sink_of(l) : chance_below(&l->chance, 2);
    unsigned               who = other_of(asker);
    struct answer_block    a = { .extended = false };
    bool                   refuse = s->answer == ANSWER_NOT_SUPPORTED || (k->support && !(l->partner[who].supports & k->support));

    if (!l->contract || (k->edition && !revision_3(l)) || !synth_both(l, k->edition) || (l->epr_mode && (k->support == 0 || k->support == SUPPORT_SOURCE_INFO)))
        return true;
    /* An offer that would be another by now is announced, not told in answer. */
    if (k->form == ASK_CONTROL && k->type == C_GET_SOURCE_CAP && synth_offer_changed(l))
        return synth_renegotiate(l, s);
    synth_open_exchange(l, asker);
    if (!faults_get_asked(l, asker, k->form == ASK_CONTROL ? k->type : 0) || !ask(l, asker, k))
        return false;
    if (k->support ? faults_get_answer(l, asker) : k->type == C_GET_SOURCE_CAP && faults_source_cap_answer(l))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, who);
    if (refuse)
        return synth_say_control(l, who, revision_3(l) ? C_NOT_SUPPORTED : C_REJECT);
    if (k->support == 0)
        return capabilities_answer(l, who, k);
    if (data_answer(l, who, k, &a))
        return synth_say_data(l, who, a.type, 1, (const uint32_t[]){ (uint32_t)a.bytes[0] | (uint32_t)a.bytes[1] << 8 |
                                                                     (uint32_t)a.bytes[2] << 16 | (uint32_t)a.bytes[3] << 24 });
    extended_answer(l, who, k, &a);
    return synth_say_extended(l, who, SET_SOP, a.type, a.bytes, a.size);
}

bool synth_alert(struct life *l, const struct step *s)
{
    struct step status = { .from = WHO_SINK };
    uint32_t    word = UINT32_C(1) << 28;

    (void)s;
    if (!l->contract || !revision_3(l))
        return true;
    synth_open_exchange(l, l->source);
    if (!synth_say_data(l, l->source, D_ALERT, 1, &word))
        return false;
    synth_close_exchange(l);
    faults_alert_ignored(l);
    synth_question_find("Get_Status", &status.message);
    return synth_get(l, &status);
}

bool synth_long_message(struct life *l, const struct step *s)
{
    bool     firmware = s->act == DO_FIRMWARE;
    unsigned asker = s->from == WHO_SOURCE ? l->source : s->from == WHO_SINK ? sink_of(l) : chance_below(&l->chance, 2), who = other_of(asker);
    unsigned size = s->bytes >= 4 ? (unsigned)s->bytes : 4 + chance_below(&l->chance, 257);
    uint8_t  block[260];

    if (!l->contract || !revision_3(l))
        return true;
    for (unsigned k = 0; k < size; k++)
        block[k] = (uint8_t)chance_bits(&l->chance);
    synth_open_exchange(l, asker);
    if (!synth_say_extended(l, asker, SET_SOP, firmware ? E_FIRMWARE_REQUEST : E_SECURITY_REQUEST, block, size))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, who);
    if (s->answer == ANSWER_NOT_SUPPORTED || !(l->partner[who].supports & (firmware ? SUPPORT_FIRMWARE : SUPPORT_SECURITY)))
        return synth_say_control(l, who, C_NOT_SUPPORTED);
    return synth_say_extended(l, who, SET_SOP, firmware ? E_FIRMWARE_RESPONSE : E_SECURITY_RESPONSE, block, size);
}
