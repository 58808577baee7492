/* A scenario from its JSON: every key is a row of a table, an unknown one is refused with its path. */
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

#include <cjson/cJSON.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { AMOUNT_MOST = 100000 };

static const char *const samplings[] = { [SAMPLING_POINT] = "point", [SAMPLING_MEAN] = "mean", NULL };
static const char *const editions[] = { "2.0", "3.0", "3.1", "3.2", NULL };
static const char *const kinds[] = { "source", "sink", "dual", NULL };
static const char *const cables[] = { "none", "unmarked", "passive", "active", NULL };
static const char *const products[] = { "none", "hub", "peripheral", "host", "brick", "drd", NULL };
static const char *const whos[] = { "drawn", "source", "sink", NULL };
static const char *const answers[] = { "drawn", "Accept", "Reject", "Wait", "Not_Supported", "ACK", "NAK", NULL };
static const char *const commands[] = { "drawn", "Discover_Identity", "Discover_SVIDs", "Discover_Modes", "Enter_Mode", "Exit_Mode",
                                        "Attention", "unstructured", NULL };
static const char *const sets[] = { "SOP", "SOP'", "SOP''", NULL };

static const char *const policies[] = { "drawn", "most_power", "most_voltage", "least_voltage", NULL };

#define P(member) offsetof(struct partner, member)
static const struct key_row partner_keys[] = {
    { "revision", KEY_CHOICE, P(edition), editions, 0, 0 },
    { "version", KEY_COUNT, P(version), NULL, 0, 0xff },
    { "pdp_w", KEY_COUNT, P(pdp_w), NULL, 1, 100 },
    { "epr_w", KEY_COUNT, P(epr_w), NULL, 0, 240 },
    { "dual_role_power", KEY_FLAG, P(dual_power), NULL, 0, 0 },
    { "dual_role_data", KEY_FLAG, P(dual_data), NULL, 0, 0 },
    { "usb_comm", KEY_FLAG, P(usb_comm), NULL, 0, 0 },
    { "unchunked", KEY_FLAG, P(unchunked), NULL, 0, 0 },
    { "fast_swap", KEY_FLAG, P(fast_swap), NULL, 0, 0 },
    { "batteries", KEY_COUNT, P(batteries), NULL, 0, 4 },
    { "product", KEY_CHOICE, P(product), products, 0, 0 },
    { "vid", KEY_COUNT, P(vid), NULL, 0, 0xffff },
    { "pid", KEY_COUNT, P(pid), NULL, 0, 0xffff },
    { "pdos", KEY_OTHER, 0, NULL, 0, 0 },
    { "sink_pdos", KEY_OTHER, 0, NULL, 0, 0 },
    { "policy", KEY_CHOICE, P(policy), policies, 0, 0 },
    { "lacks", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define C(member) offsetof(struct plug, member)
static const struct key_row cable_keys[] = {
    { "kind", KEY_CHOICE, C(kind), cables, 0, 0 },
    { "revision", KEY_CHOICE, C(edition), editions, 0, 0 },
    { "ma", KEY_COUNT, C(max_ma), NULL, 3000, 5000 },
    { "epr", KEY_FLAG, C(epr), NULL, 0, 0 },
    { "far", KEY_FLAG, C(far), NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define I(member) offsetof(struct instrument, member)
static const struct key_row instrument_keys[] = {
    { "time_ns", KEY_LONG, I(time_ns), NULL, 0, 1000000 },
    { "clock_ppm", KEY_LONG, I(clock_ppm), NULL, 0, 1000 },
    { "step_ns", KEY_LONG, I(step_ns), NULL, 1, 1000000 },
    { "host_time", KEY_FLAG, I(host_time), NULL, 0, 0 },
    { "host_time_ns", KEY_LONG, I(host_time_ns), NULL, 0, 100000000 },
    { "durations", KEY_FLAG, I(durations), NULL, 0, 0 },
    { "cc", KEY_FLAG, I(cc), NULL, 0, 0 },
    { "power", KEY_FLAG, I(power), NULL, 0, 0 },
    { "power_interval_us", KEY_LONG, I(power_interval_us), NULL, 1, 1000000 },
    { "power_rows", KEY_LONG, I(power_rows), NULL, 1, 400 },
    { "gain_ppm", KEY_LONG, I(gain_ppm), NULL, 0, 100000 },
    { "offset_uv", KEY_LONG, I(offset_uv), NULL, 0, 1000000 },
    { "noise_uv", KEY_LONG, I(noise_uv), NULL, 0, 1000000 },
    { "amp_gain_ppm", KEY_LONG, I(amp_gain_ppm), NULL, 0, 100000 },
    { "amp_offset_ua", KEY_LONG, I(amp_offset_ua), NULL, 0, 1000000 },
    { "amp_noise_ua", KEY_LONG, I(amp_noise_ua), NULL, 0, 1000000 },
    { "errors", KEY_FLAG, I(errors), NULL, 0, 0 },
    { "sampling", KEY_CHOICE, I(mean), samplings, 0, 0 },
    { "jitter_ns", KEY_LONG, I(jitter_ns), NULL, 0, 1000000 },
    { "resolution_uv", KEY_LONG, I(resolution_uv), NULL, 0, 1000000 },
    { "resolution_ua", KEY_LONG, I(resolution_ua), NULL, 0, 1000000 },
    { "edges", KEY_FLAG, I(edges), NULL, 0, 0 },
    { "edges_tick_ps", KEY_LONG, I(edges_tick_ps), NULL, 100, 1000000 },
    { "edges_jitter_ps", KEY_LONG, I(edges_jitter_ps), NULL, 0, 400000 },
    { "edges_lead_us", KEY_LONG, I(edges_lead_us), NULL, 0, 1000 },
    { "edges_tail_us", KEY_LONG, I(edges_tail_us), NULL, 0, 1000 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define S(member) offsetof(struct step, member)
static const struct key_row step_keys[] = {
    { "do", KEY_OTHER, 0, NULL, 0, 0 },
    { "from", KEY_CHOICE, S(from), whos, 0, 0 },
    { "answer", KEY_CHOICE, S(answer), answers, 0, 0 },
    { "message", KEY_OTHER, 0, NULL, 0, 0 },
    { "command", KEY_CHOICE, S(command), commands, 0, 0 },
    { "set", KEY_CHOICE, S(set), sets, 0, 0 },
    { "unexplained", KEY_FLAG, S(unexplained), NULL, 0, 0 },
    { "ms", KEY_LONG, S(ms), NULL, 0, 100000000 },
    { "position", KEY_LONG, S(position), NULL, 0, OFFER_MAX },
    { "ma", KEY_LONG, S(ma), NULL, 0, 6000 },
    { "max_ma", KEY_LONG, S(max_ma), NULL, 0, 6000 },
    { "mv", KEY_LONG, S(mv), NULL, 0, 50000 },
    { "mohm", KEY_LONG, S(mohm), NULL, 1, 1000000 },
    { "asks", KEY_FLAG, S(asks), NULL, 0, 0 },
    { "count", KEY_LONG, S(count), NULL, 0, 1000 },
    { "bytes", KEY_LONG, S(bytes), NULL, 0, 260 },
    { "busy", KEY_LONG, S(busy), NULL, 0, 10 },
    { "waits", KEY_LONG, S(waits), NULL, 0, 20 },
    { "text", KEY_TEXT, S(text), NULL, 0, TEXT_BYTES },
    { "pdos", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define T(member) offsetof(struct port_plan, member)
static const struct key_row port_keys[] = {
    { "port", KEY_COUNT, T(port), NULL, 0, 254 },
    { "name", KEY_TEXT, T(name), NULL, 0, NAME_BYTES },
    { "kind", KEY_CHOICE, T(kind), kinds, 0, 0 },
    { "captive", KEY_FLAG, T(captive), NULL, 0, 0 },
    { "in_contract", KEY_FLAG, T(in_contract), NULL, 0, 0 },
    { "rated_w", KEY_COUNT, T(rated_w), NULL, 0, 240 },
    { "count", KEY_LONG, T(random_count), NULL, 1, 1000000 },
    { "path_mohm", KEY_LONG, T(path_mohm), NULL, 0, 10000 },
    { "path_mohm_u", KEY_LONG, T(path_mohm_u), NULL, 0, 10000 },
    { "output", KEY_OTHER, 0, NULL, 0, 0 },
    { "source", KEY_OTHER, 0, NULL, 0, 0 },
    { "sink", KEY_OTHER, 0, NULL, 0, 0 },
    { "cable", KEY_OTHER, 0, NULL, 0, 0 },
    { "steps", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define J(member) offsetof(struct injection, member)
static const struct key_row fault_keys[] = {
    { "fault", KEY_TEXT, J(fault), NULL, 0, NAME_BYTES * 2 },
    { "variant", KEY_TEXT, J(variant), NULL, 0, NAME_BYTES },
    { "port", KEY_COUNT, J(port), NULL, 0, 254 },
    { "at", KEY_OTHER, 0, NULL, 0, 0 },
    { "amount_ms", KEY_OTHER, 0, NULL, 0, 0 }, { "amount_mv", KEY_OTHER, 0, NULL, 0, 0 }, { "amount_ma", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
static const struct key_row blind_keys[] = {
    { "blind", KEY_TEXT, J(fault), NULL, 0, NAME_BYTES * 2 },
    { "port", KEY_COUNT, J(port), NULL, 0, 254 },
    { "message", KEY_TEXT, J(message), NULL, 0, NAME_BYTES },
    { "count", KEY_LONG, J(count), NULL, 1, 100 },
    { "at", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};
#define A(member) offsetof(struct plan, member)
static const struct key_row plan_keys[] = {
    { "device", KEY_TEXT, A(device), NULL, 0, TEXT_BYTES },
    { "note", KEY_TEXT, A(note), NULL, 0, TEXT_BYTES },
    { "schema", KEY_OTHER, 0, NULL, 0, 0 }, { "seed", KEY_OTHER, 0, NULL, 0, 0 }, { "random", KEY_OTHER, 0, NULL, 0, 0 },
    { "count", KEY_OTHER, 0, NULL, 0, 0 }, { "instrument", KEY_OTHER, 0, NULL, 0, 0 }, { "ports", KEY_OTHER, 0, NULL, 0, 0 },
    { "faults", KEY_OTHER, 0, NULL, 0, 0 }, { "blinds", KEY_OTHER, 0, NULL, 0, 0 }, { "output", KEY_OTHER, 0, NULL, 0, 0 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};

const char *const synth_step_names[STEP_DOS + 1] = {
    "attach", "wait", "request", "renegotiate", "get", "hard_reset", "soft_reset", "cable_reset", "pr_swap", "dr_swap", "vconn_swap",
    "fr_swap", "data_reset", "enter_usb", "vdm", "security", "firmware", "discover_cable", "epr_enter", "epr_request", "epr_keepalive",
    "epr_exit", "pps_keepalive", "alert", "mark", "load", "detach", "caps_alone", "overload", "limit", "fold", "input_off", NULL,
};

static bool read_at(struct reading *r, const cJSON *from, struct injection *j)
{
    const cJSON *at = cJSON_GetObjectItemCaseSensitive(from, "at");

    j->at = 1;
    if (cJSON_IsString(at) && strcmp(at->valuestring, "random") == 0)
        j->at = 0;
    else if (cJSON_IsNumber(at) && at->valuedouble >= 1 && at->valuedouble < 1e9)
        j->at = (int64_t)at->valuedouble;
    else if (at)
        return reading_no(r, "at", "a number from 1, or \"random\"");
    return true;
}

/* A voltage or a current that a fault names. */
static bool read_amount(struct reading *r, const cJSON *from, const char *key, bool *has, int32_t *amount)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(from, key);

    if (!item)
        return true;
    if (!cJSON_IsNumber(item) || item->valuedouble < -AMOUNT_MOST || item->valuedouble > AMOUNT_MOST)
        return reading_no(r, key, "a number from -100000 to 100000");
    *has = true;
    *amount = (int32_t)item->valuedouble;
    return true;
}

static bool read_injection(struct reading *r, const cJSON *from, struct plan *p, bool blind)
{
    struct injection *j;
    const cJSON      *amount = cJSON_GetObjectItemCaseSensitive(from, "amount_ms");

    if (p->injection_count == SYNTH_INJECTIONS)
        return reading_no(r, "", "at most 16 faults and blinds");
    j = &p->injections[p->injection_count++];
    *j = (struct injection){ .port = p->port_count ? p->ports[0].port : 0, .blind = blind, .count = 1 };
    if (!reading_keys(r, from, blind ? blind_keys : fault_keys, j) || !read_at(r, from, j))
        return false;
    if (amount && !cJSON_IsNumber(amount))
        return reading_no(r, "amount_ms", "a number of milliseconds");
    if (amount) {
        j->has_amount = true;
        j->amount_ns = (int64_t)(amount->valuedouble * 1e6 + 0.5);
    }
    return read_amount(r, from, "amount_mv", &j->has_mv, &j->amount_mv) && read_amount(r, from, "amount_ma", &j->has_ma, &j->amount_ma);
}

static bool read_step(struct reading *r, const cJSON *from, struct step *s)
{
    const cJSON *act = cJSON_GetObjectItemCaseSensitive(from, "do"), *message = cJSON_GetObjectItemCaseSensitive(from, "message");
    const cJSON *pdos = cJSON_GetObjectItemCaseSensitive(from, "pdos");

    if (!cJSON_IsString(act) || !reading_choice(act->valuestring, synth_step_names, &s->act))
        return reading_no(r, "do", "the name of a step: attach, wait, request, ... (portassay-synth(1) lists them)");
    if (!reading_keys(r, from, step_keys, s))
        return false;
    if (message && (!cJSON_IsString(message) || !synth_question_find(message->valuestring, &s->message)))
        return reading_no(r, "message", "a message that asks, such as Get_Status");
    return !pdos || reading_pdos(r, pdos, s->pdos, &s->pdo_count, NULL, NULL);
}

static bool read_steps(struct reading *r, const cJSON *from, struct port_plan *p)
{
    int count = cJSON_GetArraySize(from);

    if (cJSON_IsString(from) && strcmp(from->valuestring, "random") == 0) {
        p->random_steps = true;
        return true;
    }
    if (!cJSON_IsArray(from))
        return reading_no(r, "steps", "a list of steps, or \"random\"");
    p->steps = calloc((size_t)count + 1, sizeof *p->steps);
    if (!p->steps)
        return reading_no(r, "steps", "more memory than there is");
    for (int k = 0; k < count; k++) {
        struct reading own = reading_into(r, "steps", k);

        if (!read_step(&own, cJSON_GetArrayItem(from, k), &p->steps[p->step_count++]))
            return false;
    }
    return true;
}

/* What a partner does not know, by the question that it would have to answer. */
static const struct { const char *name; uint32_t bit; } supports[] = {
    { "Get_Source_Cap_Extended", SUPPORT_SOURCE_EXTENDED }, { "Get_Sink_Cap_Extended", SUPPORT_SINK_EXTENDED }, { "Get_Status", SUPPORT_STATUS },
    { "Get_PPS_Status", SUPPORT_PPS_STATUS }, { "Get_Country_Codes", SUPPORT_COUNTRY }, { "Get_Source_Info", SUPPORT_SOURCE_INFO },
    { "Get_Revision", SUPPORT_REVISION }, { "Get_Battery_Cap", SUPPORT_BATTERY }, { "Get_Manufacturer_Info", SUPPORT_MAKER },
    { "Security_Request", SUPPORT_SECURITY }, { "Firmware_Update_Request", SUPPORT_FIRMWARE }, { "Discover_Identity", SUPPORT_IDENTITY },
    { "Discover_Modes", SUPPORT_MODES }, { "VCONN_Swap", SUPPORT_VCONN_SWAP }, { "Data_Reset", SUPPORT_DATA_RESET },
    { "Enter_USB", SUPPORT_ENTER_USB },
};

static bool read_lacks(struct reading *r, const cJSON *from, struct partner *q)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(from, "lacks");

    if (list && !cJSON_IsArray(list))
        return reading_no(r, "lacks", "a list of questions");
    for (int k = 0; k < cJSON_GetArraySize(list); k++) {
        const cJSON *item = cJSON_GetArrayItem(list, k);
        uint32_t     bit = 0;

        for (unsigned n = 0; cJSON_IsString(item) && n < sizeof supports / sizeof supports[0]; n++)
            bit |= strcmp(item->valuestring, supports[n].name) == 0 ? supports[n].bit : 0;
        if (!bit)
            return reading_no(r, "lacks", "names of questions that may stay without support, such as Get_Status or VCONN_Swap");
        q->supports &= ~bit;
    }
    return true;
}

static bool read_partner(struct reading *r, const cJSON *from, struct partner *q, bool source)
{
    const cJSON *pdos = cJSON_GetObjectItemCaseSensitive(from, "pdos"), *sink = cJSON_GetObjectItemCaseSensitive(from, "sink_pdos");

    if (!reading_keys(r, from, partner_keys, q) || !read_lacks(r, from, q))
        return false;
    if (!source)
        sink = pdos ? pdos : sink;
    if (sink && !reading_pdos(r, sink, q->sink, &q->sink_count, NULL, NULL))
        return false;
    if (source && pdos && !reading_pdos(r, pdos, q->source, &q->source_count, q->epr, &q->epr_count))
        return false;
    partner_complete(q, source);
    return true;
}

static bool read_partner_of(struct reading *r, const cJSON *from, const char *key, struct partner *q, bool source)
{
    const cJSON   *item = cJSON_GetObjectItemCaseSensitive(from, key);
    struct reading own = reading_into(r, key, -1);

    if (!item) {
        partner_complete(q, source);
        return true;
    }
    return cJSON_IsObject(item) ? read_partner(&own, item, q, source) : reading_no(r, key, "an object");
}

static bool read_port(struct reading *r, const cJSON *from, const struct plan *all, struct port_plan *p)
{
    const cJSON   *cable = cJSON_GetObjectItemCaseSensitive(from, "cable"), *steps = cJSON_GetObjectItemCaseSensitive(from, "steps");
    struct reading own = reading_into(r, "cable", -1);

    *p = (struct port_plan){ .random_count = 20, .output = all->output, .output_drawn = all->output_drawn, .path_mohm = -1, .plug = { .kind = CABLE_UNMARKED, .edition = EDITION_3_0, .max_ma = 3000, .vid = 0x1d5c } };
    snprintf(p->name, sizeof p->name, "C1");
    p->partner[0] = (struct partner){ .edition = EDITION_3_0, .version = 0x10, .pdp_w = 60, .supports = SUPPORT_ALL };
    p->partner[1] = (struct partner){ .edition = EDITION_3_0, .version = 0x10, .pdp_w = 60, .supports = SUPPORT_ALL };
    if (!reading_keys(r, from, port_keys, p) || !output_read(r, from, &p->output, &p->output_drawn) || !read_partner_of(r, from, "source", &p->partner[0], true) ||
        !read_partner_of(r, from, "sink", &p->partner[1], false))
        return false;
    if (cable && (!cJSON_IsObject(cable) || !reading_keys(&own, cable, cable_keys, &p->plug)))
        return cJSON_IsObject(cable) ? false : reading_no(r, "cable", "an object");
    p->plug.max_volt = p->plug.epr ? 3 : 0;
    return steps ? read_steps(r, steps, p) : reading_no(r, "steps", "a list of steps, or \"random\"");
}

static bool read_list(struct reading *r, const cJSON *from, const char *key, struct plan *p,
                      bool (*one)(struct reading *, const cJSON *, struct plan *))
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(from, key);

    if (list && !cJSON_IsArray(list))
        return reading_no(r, key, "a list");
    for (int k = 0; k < cJSON_GetArraySize(list); k++) {
        struct reading own = reading_into(r, key, k);
        const cJSON   *item = cJSON_GetArrayItem(list, k);

        if (!cJSON_IsObject(item))
            return reading_no(&own, "", "an object");
        if (!one(&own, item, p))
            return false;
    }
    return true;
}

static bool one_port(struct reading *r, const cJSON *from, struct plan *p)
{
    if (p->port_count == PORTS_MAX)
        return reading_no(r, "", "at most 8 ports");
    return read_port(r, from, p, &p->ports[p->port_count++]);
}

static bool one_fault(struct reading *r, const cJSON *from, struct plan *p)
{
    return read_injection(r, from, p, false);
}

static bool one_blind(struct reading *r, const cJSON *from, struct plan *p)
{
    return read_injection(r, from, p, true);
}

static bool read_head(struct reading *r, const cJSON *from, struct plan *p, int64_t seed)
{
    const cJSON   *schema = cJSON_GetObjectItemCaseSensitive(from, "schema"), *own = cJSON_GetObjectItemCaseSensitive(from, "seed");
    const cJSON   *instrument = cJSON_GetObjectItemCaseSensitive(from, "instrument");
    struct reading inner = reading_into(r, "instrument", -1);

    if (!cJSON_IsObject(from))
        return reading_no(r, "", "a JSON object");
    if (!cJSON_IsNumber(schema) || schema->valueint != 1)
        return reading_no(r, "schema", "1");
    if (own && (!cJSON_IsNumber(own) || own->valuedouble < 0))
        return reading_no(r, "seed", "a number from 0");
    p->seed = seed >= 0 ? (uint64_t)seed : own ? (uint64_t)own->valuedouble : 1;
    if (!reading_keys(r, from, plan_keys, p))
        return false;
    if (instrument && !cJSON_IsObject(instrument))
        return reading_no(r, "instrument", "an object");
    return (!instrument || reading_keys(&inner, instrument, instrument_keys, &p->instrument)) && output_read(r, from, &p->output, &p->output_drawn);
}

/* Ports, partners and instrument at random; what the scenario says of the instrument and the outputs holds. */
static bool read_random(struct reading *r, const cJSON *from, struct plan *p)
{
    const cJSON   *instrument = cJSON_GetObjectItemCaseSensitive(from, "instrument"), *count = cJSON_GetObjectItemCaseSensitive(from, "count");
    struct reading inner = reading_into(r, "instrument", -1);
    struct chance  c = chance_of(p->seed, 0);

    plan_draw(p, chance_in(&c, 1, 4) ? 2 : 1, cJSON_IsNumber(count) ? (int64_t)count->valuedouble : 20, &c);
    for (unsigned k = 0; k < p->port_count; k++) {
        p->ports[k].output = p->output;
        p->ports[k].output_drawn = p->output_drawn;
        p->ports[k].path_mohm = -1;
    }
    return !instrument || reading_keys(&inner, instrument, instrument_keys, &p->instrument);
}

/* Of the current nothing is stated, unless it is asked for. */
static void complete_amps(struct instrument *i)
{
    if (!i->errors && i->amp_gain_ppm < 0 && i->amp_offset_ua < 0 && i->amp_noise_ua < 0)
        return;
    i->amp_gain_ppm = i->amp_gain_ppm < 0 ? 500 : i->amp_gain_ppm;
    i->amp_offset_ua = i->amp_offset_ua < 0 ? 1000 : i->amp_offset_ua;
    i->amp_noise_ua = i->amp_noise_ua < 0 ? 300 : i->amp_noise_ua;
}

bool plan_read(struct plan *p, const struct cJSON *scenario, int64_t seed, struct synth_trouble *t)
{
    struct reading r = { .trouble = t };
    const cJSON   *random = cJSON_GetObjectItemCaseSensitive(scenario, "random");

    *p = (struct plan){ .output = output_none, .device = "Lumenbrick 65", .note = "made up: no device was measured",
                        .instrument = { .time_ns = 20, .clock_ppm = 2, .host_time_ns = 1000000, .step_ns = 1, .durations = true, .cc = true,
                                        .power_interval_us = 1000, .power_rows = 50, .gain_ppm = 200, .offset_uv = 500, .noise_uv = 800,
                                        .amp_gain_ppm = -1, .amp_offset_ua = -1, .amp_noise_ua = -1, .edges_tick_ps = 41667, .edges_lead_us = 30, .edges_tail_us = 22 } };
    if (!read_head(&r, scenario, p, seed))
        return false;
    if (cJSON_IsTrue(random)) {
        if (!read_random(&r, scenario, p))
            return false;
    } else if (!read_list(&r, scenario, "ports", p, one_port)) {
        return false;
    }
    if (p->port_count == 0)
        return reading_no(&r, "ports", "at least one port, or \"random\":true");
    complete_amps(&p->instrument);
    outputs_draw(p);
    return read_list(&r, scenario, "faults", p, one_fault) && read_list(&r, scenario, "blinds", p, one_blind);
}

void plan_free(struct plan *p)
{
    for (unsigned k = 0; k < p->port_count; k++) {
        free(p->ports[k].steps);
        p->ports[k].steps = NULL;
    }
}
