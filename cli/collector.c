#include "cli/collector.h"

#include <stdlib.h>
#include <string.h>

#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

int64_t pdo_most_mw(const struct pdo *p)
{
    int64_t low, high;

    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
        return (int64_t)p->max_mv * p->max_ma / 1000;
    case SUPPLY_PPS:
        return p->limited ? 0 : (int64_t)p->max_mv * p->max_ma / 1000;
    case SUPPLY_BATTERY:
    case SUPPLY_EPR_AVS:
        return p->max_mw;
    case SUPPLY_SPR_AVS: /* two steps of current, the first up to 15 V */
        low = INT64_C(15) * p->max_ma;
        high = INT64_C(20) * p->max_ma_20v;
        return low > high ? low : high;
    case SUPPLY_RESERVED:
        return 0;
    }
    return 0;
}

struct pdo announcement_pdo(const struct announcement *a, unsigned k)
{
    return a->sink ? pdo_read_sink(a->words[k], k + 1) : pdo_read_source(a->words[k], k + 1);
}

struct pdo announcement_most(const struct announcement *a)
{
    struct pdo most = { .word = 0 };
    int64_t    most_mw = 0;

    for (unsigned k = 0; k < a->count; k++) {
        struct pdo p = announcement_pdo(a, k);
        int64_t    mw = a->words[k] ? pdo_most_mw(&p) : 0;

        if (mw > most_mw) {
            most_mw = mw;
            most = p;
        }
    }
    return most;
}

uint16_t announcement_without(const struct announcement *a, const struct announcement *b)
{
    uint16_t only = 0, used = 0;

    for (unsigned i = 0; i < a->count; i++) {
        bool found = a->words[i] == 0; /* a zero filler is no object */

        if (!found && i < b->count && a->words[i] == b->words[i] && !(used >> i & 1)) { /* mostly it stands where it stood */
            used |= (uint16_t)(1u << i);
            found = true;
        }
        for (unsigned k = 0; k < b->count && !found; k++)
            if (a->words[i] == b->words[k] && !(used >> k & 1)) {
                used |= (uint16_t)(1u << k);
                found = true;
            }
        if (!found)
            only |= (uint16_t)(1u << i);
    }
    return only;
}

static struct port_record *record_of(struct collector *c, const struct port *p)
{
    struct port_record **r = &c->records[p->number];

    if (!*r) {
        *r = calloc(1, sizeof **r);
        if (!*r) {
            c->failed = true;
            return NULL;
        }
        for (unsigned k = 0; k < 2; k++)
            (*r)->offers.last[k] = (*r)->sink_offers.last[k] = SIZE_MAX;
    }
    return *r;
}

static bool inside(const struct collector *c, const struct port *p, int64_t from_ns, int64_t to_ns)
{
    return (!c->ports || c->ports[p->number]) && to_ns >= c->since_ns && from_ns <= c->until_ns;
}

/* Room for one more item; false: the list is full, or there is no memory. */
static bool list_grow(void **items, size_t size, size_t count, size_t *room, bool *failed)
{
    if (count < *room)
        return true;
    if (*room >= COLLECTOR_MAX)
        return false;
    size_t wanted = *room ? *room * 2 : 16;

    if (wanted > COLLECTOR_MAX)
        wanted = COLLECTOR_MAX;
    void *grown = realloc(*items, wanted * size);

    if (!grown) {
        *failed = true;
        return false;
    }
    *items = grown;
    *room = wanted;
    return true;
}

static void announcement_add(struct collector *c, struct announcements *list, const struct offer *o, bool rebuilt)
{
    if (list->count >= COLLECTOR_MAX) { /* no more are kept: nothing of it will be told but the count */
        list->open[o->epr] = o->frame;
        list->last[o->epr] = SIZE_MAX;
        list->left_out++;
        return;
    }
    struct announcement a = {
        .frame = o->frame, .t_ns = o->t_ns, .count = o->count, .player = o->player, .epr = o->epr,
        .sink = o->side == SIDE_SINK, .delivered = o->delivered, .rebuilt = rebuilt,
    };

    memcpy(a.words, o->words, o->count * sizeof a.words[0]);
    if (list->count > 0) {
        a.added = announcement_without(&a, &list->before);
        a.removed = announcement_without(&list->before, &a);
    }
    list->before = a;
    list->open[o->epr] = o->frame;
    list->last[o->epr] = SIZE_MAX;
    if (!list_grow((void **)&list->items, sizeof a, list->count, &list->room, &c->failed)) {
        list->left_out++;
        return;
    }
    list->last[o->epr] = list->count;
    list->items[list->count++] = a;
}

static void take_announced(struct collector *c, const struct event *e)
{
    const struct offer *o = e->offer;
    struct port_record *r = inside(c, e->port, o->t_ns, o->t_ns) ? record_of(c, e->port) : NULL;

    if (!r)
        return;
    struct announcements *list = o->side == SIDE_SINK ? &r->sink_offers : &r->offers;
    size_t                last = list->last[o->epr];

    if (o->same_as_last && last != SIZE_MAX) {
        list->items[last].repeated++;
        list->open[o->epr] = o->frame;
    } else if (!o->same_as_last || list->left_out == 0) { /* else: one that was left out, again */
        announcement_add(c, list, o, about_port_told(bench_about(c->bench), e->port->number));
    }
}

static void announcements_deliver(struct announcements *list, uint64_t frame)
{
    for (unsigned k = 0; k < 2; k++)
        if (list->open[k] == frame && list->last[k] != SIZE_MAX)
            list->items[list->last[k]].delivered = true;
}

static void take_delivered(struct collector *c, const struct event *e)
{
    unsigned            index = e->sent->index;
    struct port_record *r = c->records[e->port->number];

    if (!r)
        return;
    if (index == DATA(SOURCE_CAPABILITIES) || index == EXTENDED(EPR_SOURCE_CAPABILITIES))
        announcements_deliver(&r->offers, e->sent->frame);
    else if (index == DATA(SINK_CAPABILITIES) || index == EXTENDED(EPR_SINK_CAPABILITIES))
        announcements_deliver(&r->sink_offers, e->sent->frame);
}

static void take_contract(struct collector *c, const struct event *e)
{
    struct port_record *r = inside(c, e->port, e->contract->t_ns, e->contract->until_ns) ? record_of(c, e->port) : NULL;

    if (!r)
        return;
    struct contracts *list = &r->contracts;

    if (list_grow((void **)&list->items, sizeof *list->items, list->count, &list->room, &c->failed))
        list->items[list->count++] = *e->contract;
    else
        list->left_out++;
}

/* What each partner says of itself as source and as sink. */
static void take_roles(struct ratings *to, const struct ratings *from)
{
    for (unsigned k = 0; k < 2; k++) {
        if (from->source_info_frame[k]) {
            to->source_info_frame[k] = from->source_info_frame[k];
            to->source_info[k] = from->source_info[k];
        }
        if (from->source_ext_frame[k]) {
            to->source_ext_frame[k] = from->source_ext_frame[k];
            to->source_ext_size[k] = from->source_ext_size[k];
            memcpy(to->source_ext[k], from->source_ext[k], sizeof to->source_ext[k]);
        }
        if (from->sink_ext_frame[k]) {
            to->sink_ext_frame[k] = from->sink_ext_frame[k];
            to->sink_ext_size[k] = from->sink_ext_size[k];
            memcpy(to->sink_ext[k], from->sink_ext[k], sizeof to->sink_ext[k]);
        }
    }
}

/* Copies what is known there and newer than what we have. */
static void take_who(struct port_record *r, const struct port *p)
{
    const struct ratings *from = &p->ratings;
    struct ratings       *to = &r->ratings;

    for (unsigned k = 0; k < 4; k++)
        if (p->identity[k].frame)
            r->identity[k] = p->identity[k];
    take_roles(to, from);
    for (unsigned k = 0; k < 3; k++) {
        if (from->revision_frame[k]) {
            to->revision_frame[k] = from->revision_frame[k];
            to->revision[k] = from->revision[k];
        }
        if (from->manufacturer_frame[k]) {
            to->manufacturer_frame[k] = from->manufacturer_frame[k];
            to->manufacturer_size[k] = from->manufacturer_size[k];
            memcpy(to->manufacturer[k], from->manufacturer[k], sizeof to->manufacturer[k]);
        }
    }
    for (unsigned k = 0; k < 2; k++) {
        if (from->battery_frame[k]) {
            to->battery_frame[k] = from->battery_frame[k];
            memcpy(to->battery[k], from->battery[k], sizeof to->battery[k]);
        }
        if (from->status_frame[k]) {
            to->status_frame[k] = from->status_frame[k];
            to->status_size[k] = from->status_size[k];
            memcpy(to->status[k], from->status[k], sizeof to->status[k]);
        }
    }
}

/* The model learns from a message after it has told of it: what it learnt is taken over with the next event. */
static void take_message(struct collector *c, const struct event *e)
{
    const struct message *m = &e->speech->m;
    struct port_record   *r = c->records[e->port->number];
    bool                  tells = m->message_class == CLASS_EXTENDED || m->index == DATA(VENDOR_DEFINED) ||
                 m->index == DATA(REVISION) || m->index == DATA(SOURCE_INFO);

    if (r && r->fresh) {
        take_who(r, e->port);
        r->fresh = false;
    }
    if (tells && inside(c, e->port, e->t_ns, e->t_ns) && (r = record_of(c, e->port)) != NULL)
        r->fresh = true;
}

/* What all ports together offer, now that this one offers something else. */
static void take_power(struct collector *c, const struct event *e, int64_t mw)
{
    struct port_record *own = inside(c, e->port, e->t_ns, e->t_ns) ? record_of(c, e->port) : NULL;

    if (!own || own->offer_mw == mw)
        return;
    c->offered_mw += mw - own->offer_mw;
    c->offering_ports += (mw > 0) - (own->offer_mw > 0);
    own->offer_mw = mw;
    if (c->offering_ports > 1 && c->offered_mw > c->together_mw) {
        c->together_mw = c->offered_mw;
        c->together_ns = e->t_ns;
        c->together_ports = (unsigned)c->offering_ports;
    }
}

static int64_t offer_most_mw(const struct offer *o)
{
    int64_t most = 0;

    for (unsigned k = 0; k < o->count; k++) {
        int64_t mw = o->words[k] ? pdo_most_mw(&o->pdos[k]) : 0;

        if (mw > most)
            most = mw;
    }
    return most;
}

static void close_port(struct collector *c, const struct event *e)
{
    struct port_record *r = c->records[e->port->number];

    if (r && r->fresh) {
        take_who(r, e->port);
        r->fresh = false;
    }
    if (r && e->kind == EVENT_DETACH)
        take_power(c, e, 0);
}

static void collector_take(void *context, const struct event *e)
{
    struct collector *c = context;

    if (e->kind == EVENT_MESSAGE)
        take_message(c, e);
    else if (e->kind == EVENT_ANNOUNCED)
        take_announced(c, e);
    else if (e->kind == EVENT_DELIVERED)
        take_delivered(c, e);
    else if (e->kind == EVENT_OFFER)
        take_power(c, e, offer_most_mw(e->offer));
    else if (e->kind == EVENT_CONTRACT_END)
        take_contract(c, e);
    else
        close_port(c, e);
}

void collector_watch(struct collector *c, struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns,
                     bool together)
{
    *c = (struct collector){ .bench = bench, .ports = ports, .since_ns = since_ns, .until_ns = until_ns };
    bench_observe(bench,
                  EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_DELIVERED) |
                      (together ? EVENT_BIT(EVENT_OFFER) : 0) | EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_END),
                  collector_take, c);
    bench_observe_only(bench, 0,
                       UINT32_C(1) << DATA_SOURCE_CAPABILITIES | UINT32_C(1) << DATA_SINK_CAPABILITIES |
                           UINT32_C(1) << DATA_VENDOR_DEFINED | UINT32_C(1) << DATA_REVISION | UINT32_C(1) << DATA_SOURCE_INFO,
                       UINT32_MAX);
}

void collector_free(struct collector *c)
{
    for (unsigned k = 0; k < COLLECTOR_PORTS; k++) {
        struct port_record *r = c->records[k];

        if (!r)
            continue;
        free(r->offers.items);
        free(r->sink_offers.items);
        free(r->contracts.items);
        free(r);
        c->records[k] = NULL;
    }
}

const struct port_record *collector_port(const struct collector *c, unsigned number)
{
    return number < COLLECTOR_PORTS ? c->records[number] : NULL;
}
