/* Partners, cables, instruments: what a profile leaves open, and legal ones at random. */
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

#include <stdio.h>
#include <string.h>

/* vSrcSlewPos and vSrcSlewNeg show in readings every 20 us or closer. */
enum { CLOSE_ONE_IN = 12, CLOSE_US = 20, CLOSE_ROWS = 400, CLOSE_STEPS = 4 };

static void add(uint32_t *words, unsigned *count, unsigned most, uint32_t word)
{
    if (*count < most)
        words[(*count)++] = word;
}

/* The power rules of a source: the row of its rating, x / V rounded down, at most 5 A. */
void partner_by_watts(struct partner *q, unsigned watts, struct chance *c)
{
    static const struct { unsigned above; int32_t mv, next_above; } row[] = { { 0, 5000, 15 }, { 15, 9000, 27 }, { 27, 15000, 45 }, { 45, 20000, 1000 } };
    int32_t x = (int32_t)watts, nominal = 5000, top = 0;

    q->source_count = 0;
    for (unsigned k = 0; k < 4; k++)
        if (watts > row[k].above) {
            int32_t ma = x <= row[k].next_above ? x * 1000000 / row[k].mv : 3000;

            add(q->source, &q->source_count, SPR_MAX, pdo_fixed(row[k].mv, ma < 5000 ? ma : 5000));
            nominal = row[k].mv;
        }
    if (c && chance_in(c, 1, 4) && q->source_count < 5)
        add(q->source, &q->source_count, SPR_MAX, pdo_battery(nominal / 2, nominal, x * 900));
    if (c && chance_in(c, 1, 4) && q->source_count < 6)
        add(q->source, &q->source_count, SPR_MAX, pdo_variable(nominal / 2, nominal, x * 900000 / nominal < 5000 ? x * 900000 / nominal : 5000));
    if (q->edition == EDITION_3_2 && watts > 27) {
        int32_t low = x * 1000 / 15 < 5000 ? x * 1000 / 15 : 5000, high = x * 1000 / 20 < 5000 ? x * 1000 / 20 : 5000;

        add(q->source, &q->source_count, SPR_MAX, pdo_spr_avs(low, watts > 45 ? high : 0));
    }
    if (q->edition && c && chance_in(c, 2, 3) && watts > 15) {
        top = nominal == 9000 ? 11000 : nominal == 15000 ? 16000 : 21000;
        int32_t ma = x * 1000000 / nominal < 5000 ? x * 1000000 / nominal : 5000;

        add(q->source, &q->source_count, SPR_MAX,
            pdo_pps(chance_in(c, 1, 2) ? 3300 : 5000, top, ma) | (top / 100 * (ma / 50 * 50) > x * 10000 ? PDO_PPS_LIMITED : 0));
    }
}

void partner_sink_default(struct partner *q, unsigned watts)
{
    q->sink_count = 0;
    add(q->sink, &q->sink_count, SPR_MAX, pdo_fixed(5000, 3000));
    if (watts > 15)
        add(q->sink, &q->sink_count, SPR_MAX, pdo_fixed(9000, 3000));
    if (watts > 45)
        add(q->sink, &q->sink_count, SPR_MAX, pdo_fixed(20000, 3000));
}

static void epr_objects(struct partner *q)
{
    static const struct { unsigned watts; int32_t mv; } tops[] = { { 140, 28000 }, { 180, 36000 }, { 240, 48000 } };
    int32_t  top = 28000;
    unsigned below = 100;

    q->epr_count = 0;
    for (unsigned k = 0; k < 3 && q->epr_w > below; below = tops[k++].watts) {
        int32_t ma = (int32_t)q->epr_w * 1000000 / tops[k].mv;

        top = tops[k].mv;
        add(q->epr, &q->epr_count, EPR_MAX, pdo_fixed(top, ma < 5000 ? ma : 5000));
    }
    add(q->epr, &q->epr_count, EPR_MAX, pdo_epr_avs(15000, top, (int32_t)q->epr_w));
}

void partner_complete(struct partner *q, bool source)
{
    if (q->source_count == 0 && (source || q->dual_power))
        partner_by_watts(q, q->pdp_w, NULL);
    if (q->sink_count == 0)
        partner_sink_default(q, q->pdp_w);
    if (q->epr_w && q->epr_count == 0 && source)
        epr_objects(q);
    if (q->source_count) {
        q->source[0] |= (q->dual_power ? PDO_DUAL_POWER : 0) | (q->usb_comm ? PDO_USB_COMM : 0) | (q->dual_data ? PDO_DUAL_DATA : 0);
        if (q->edition)
            q->source[0] |= q->unchunked ? PDO_UNCHUNKED : 0;
        if (q->edition >= EDITION_3_1 && q->epr_w)
            q->source[0] |= PDO_EPR;
    }
    q->sink[0] |= (q->dual_power ? PDO_DUAL_POWER : 0) | (q->usb_comm ? PDO_USB_COMM : 0) | (q->dual_data ? PDO_DUAL_DATA : 0) |
                  (q->pdp_w > 15 ? PDO_HIGHER : 0) | (q->fast_swap && q->edition ? PDO_FAST_3A : 0);
    if (q->vid == 0)
        q->vid = source ? 0x1d5a : 0x1d5b;
    if (q->svid == 0)
        q->svid = 0x1d5a;
    if (q->maker[0] == '\0')
        snprintf(q->maker, sizeof q->maker, "%s", source ? "Bench Source" : "Bench Sink");
}

static void draw_partner(struct partner *q, struct chance *c, bool source)
{
    static const unsigned watts[] = { 12, 15, 18, 20, 27, 30, 45, 60, 65, 96, 100 };
    unsigned              drawn = chance_below(c, 8);

    *q = (struct partner){ .edition = drawn < 2 ? EDITION_2_0 : drawn < 4 ? EDITION_3_0 : drawn < 6 ? EDITION_3_1 : EDITION_3_2, .version = 0x10,
                           .pdp_w = watts[chance_below(c, 11)], .supports = (uint32_t)chance_bits(c) & SUPPORT_ALL };
    q->dual_power = chance_in(c, 1, 2);
    q->fast_swap = q->dual_power;
    q->dual_data = chance_in(c, 1, 2);
    q->usb_comm = chance_in(c, 1, 2);
    q->unchunked = chance_in(c, 1, 3);
    q->batteries = chance_below(c, 2);
    q->product = chance_below(c, PRODUCT_DRD + (q->dual_data ? 1 : 0));
    if (q->edition >= EDITION_3_1 && chance_in(c, 1, 2)) {
        q->epr_w = chance_in(c, 1, 2) ? 140 : 240;
        q->pdp_w = 100;
    }
    if (source || q->dual_power)
        partner_by_watts(q, q->pdp_w, c);
    partner_complete(q, source);
}

void partner_draw_source(struct partner *q, struct chance *c)
{
    draw_partner(q, c, true);
}

void partner_draw_sink(struct partner *q, struct chance *c)
{
    draw_partner(q, c, false);
}

static void draw_instrument(struct instrument *i, struct chance *c)
{
    bool coarse = chance_in(c, 1, 4);

    i->time_ns = coarse ? 1000 : chance_in(c, 1, 2) ? 20 : 100;
    i->step_ns = coarse ? 1000 : 1;
    i->clock_ppm = chance_below(c, 6);
    i->durations = !coarse || chance_in(c, 1, 2);
    i->cc = chance_in(c, 3, 4);
    i->power = chance_in(c, 1, 4);
}

/* A few lives are read so closely that slopes show, and are short; by a stream of chance of their own. */
static int64_t draw_closeness(struct plan *p, int64_t steps)
{
    struct chance own = chance_of(p->seed, UINT64_C(5) << 32);

    if (!p->instrument.power || !chance_in(&own, 1, CLOSE_ONE_IN))
        return steps;
    p->instrument.power_interval_us = CLOSE_US;
    p->instrument.power_rows = CLOSE_ROWS;
    return steps < CLOSE_STEPS ? steps : CLOSE_STEPS;
}

void plan_draw(struct plan *p, unsigned ports, int64_t steps, struct chance *c)
{
    draw_instrument(&p->instrument, c);
    steps = draw_closeness(p, steps);
    for (p->port_count = 0; p->port_count < ports; p->port_count++) {
        struct port_plan *port = &p->ports[p->port_count];
        bool              epr = chance_in(c, 1, 2);

        *port = (struct port_plan){ .port = p->port_count, .kind = chance_below(c, 3), .random_steps = true, .random_count = steps };
        snprintf(port->name, sizeof port->name, "C%u", p->port_count + 1);
        partner_draw_source(&port->partner[0], c);
        partner_draw_sink(&port->partner[1], c);
        if (epr && port->partner[0].epr_w && port->partner[1].edition >= EDITION_3_1)
            port->partner[1].epr_w = 100;
        port->plug = (struct plug){ .kind = 1 + chance_below(c, 3), .edition = chance_in(c, 1, 4) ? EDITION_2_0 : EDITION_3_0,
                                    .max_ma = chance_in(c, 1, 3) ? 3000 : 5000, .vid = 0x1d5c };
        port->plug.far = port->plug.kind == CABLE_ACTIVE && chance_in(c, 1, 2);
        if (port->plug.kind >= CABLE_PASSIVE && port->plug.edition && epr) {
            port->plug.epr = true;
            port->plug.max_ma = 5000;
            port->plug.max_volt = 3;
        }
    }
}
