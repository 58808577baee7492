#include "cli/behaviour.h"

#include <stdlib.h>
#include <string.h>

/* A structured VDM header: SVID, structured, command type, command. Version and object position are left out. */
#define VDM_STRUCTURED UINT32_C(0x00008000)
#define VDM_KEPT       UINT32_C(0xFFFF80DF)
#define VDM_SVID       UINT32_C(0xFFFF0000)

/* EPR_Mode: its action; Extended_Control: its type, put there. */
#define ACTION         UINT32_C(0xFF000000)

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

enum { LOOK_BACK = 8 }; /* so far before a renewal its Request may stand, other messages between */

struct behaviour {
    const bool            *ports;
    int64_t                since_ns, until_ns;
    bool                   failed;
    struct behaviour_port *of[BEHAVIOUR_PORTS];
};

/* Every field that is not part of what was done comes after the words, and offers alone have words. */
bool deed_same(const struct deed *a, const struct deed *b)
{
    return deed_alike(a, b) && a->position == b->position && a->supply == b->supply && a->mismatch == b->mismatch && a->mv == b->mv &&
           a->ma == b->ma && a->mw == b->mw && a->count == b->count && memcmp(a->words, b->words, sizeof a->words) == 0;
}

bool deed_alike(const struct deed *a, const struct deed *b)
{
    return a->kind == b->kind && a->side == b->side && a->index == b->index && a->set == b->set && a->epr == b->epr &&
           a->detail == b->detail;
}

static struct behaviour_port *port_of(struct behaviour *b, unsigned number)
{
    if (number >= BEHAVIOUR_PORTS || (b->ports && !b->ports[number]))
        return NULL;
    if (!b->of[number]) {
        b->of[number] = calloc(1, sizeof *b->of[number]);
        b->failed = b->failed || !b->of[number];
    }
    return b->of[number];
}

static bool list_grow(struct behaviour *b, struct behaviour_port *p)
{
    size_t       wanted = p->room ? p->room * 2 : 32;
    struct deed *grown = realloc(p->deeds, wanted * sizeof *grown);

    if (!grown) {
        b->failed = true;
        return false;
    }
    p->deeds = grown;
    p->room = wanted;
    return true;
}

/* So many deeds at the end are messages, and the same as those before them. */
static bool cycle_at_end(const struct behaviour_port *p, size_t length)
{
    const struct deed *last = p->deeds + p->count - length, *before = last - length;

    for (size_t k = 0; k < length; k++)
        if (last[k].kind != DEED_SAID || before[k].kind != DEED_SAID || !deed_same(&last[k], &before[k]))
            return false;
    return before[length - 1].cycle == 1 || before[length - 1].cycle == length;
}

static void fold_cycle(struct behaviour_port *p)
{
    for (size_t length = 1; length <= BEHAVIOUR_CYCLE && 2 * length <= p->count; length++)
        if (cycle_at_end(p, length)) {
            p->count -= length;
            p->deeds[p->count - 1].times++;
            p->deeds[p->count - 1].cycle = (uint32_t)length;
            return;
        }
}

static void deed_add(struct behaviour *b, struct behaviour_port *p, const struct event *e, struct deed d)
{
    d.times = 1;
    d.cycle = 1;
    d.frame = e->frame;
    d.t_ns = e->t_ns;
    if (p->count >= BEHAVIOUR_DEEDS || (p->count == p->room && !list_grow(b, p))) {
        p->left_out++;
        return;
    }
    p->deeds[p->count++] = d;
    if (d.kind == DEED_SAID)
        fold_cycle(p);
}

static void take_offer(struct behaviour *b, struct behaviour_port *p, const struct event *e)
{
    const struct offer *o = e->offer;
    struct deed         d = { .kind = o->side == SIDE_SINK ? DEED_SINK_OFFER : DEED_OFFER, .side = o->side, .epr = o->epr, .count = o->count };

    memcpy(d.words, o->words, o->count * sizeof d.words[0]);
    if (p->count > 0 && p->left_out == 0 && deed_same(&p->deeds[p->count - 1], &d))
        p->deeds[p->count - 1].times++; /* nobody answered */
    else
        deed_add(b, p, e, d);
}

static void take_request(struct behaviour *b, struct behaviour_port *p, const struct event *e)
{
    const struct rdo *r = &e->request->rdo;

    deed_add(b, p, e, (struct deed){ .kind = DEED_REQUEST, .side = SIDE_SINK, .epr = e->request->epr, .position = r->position,
                                     .supply = e->request->asked.word ? e->request->asked.supply : SUPPLY_RESERVED,
                                     .mismatch = r->mismatch, .mv = r->mv, .ma = r->op_ma, .mw = r->op_mw });
}

static void take_contract(struct behaviour *b, struct behaviour_port *p, const struct event *e)
{
    const struct contract *k = e->contract;

    deed_add(b, p, e, (struct deed){ .kind = DEED_CONTRACT, .side = SIDE_SOURCE, .epr = k->epr, .position = k->position,
                                     .supply = k->supply, .mv = k->mv, .ma = k->ma, .mw = k->mw });
}

static void deed_drop(struct behaviour_port *p, size_t k)
{
    memmove(p->deeds + k, p->deeds + k + 1, (p->count - k - 1) * sizeof *p->deeds);
    p->count--;
}

/* The Request for the point in force, and its Accept, become a count of the contract. */
static void take_renewal(struct behaviour_port *p)
{
    size_t least = p->count > LOOK_BACK ? p->count - LOOK_BACK : 0, k = p->count;

    if (p->left_out > 0) { /* they were not kept */
        p->left_out -= p->left_out > 1 ? 2 : p->left_out;
        return;
    }
    while (k > least && p->deeds[k - 1].kind != DEED_REQUEST)
        k--;
    if (k > least) {
        for (size_t a = k; a < p->count; a++)
            if (p->deeds[a].kind == DEED_SAID && p->deeds[a].index == CONTROL(ACCEPT) && p->deeds[a].times == 1) {
                deed_drop(p, a);
                break;
            }
        deed_drop(p, k - 1);
    }
    for (k = p->count; k > 0 && p->deeds[k - 1].kind != DEED_CONTRACT; k--)
        ;
    if (k > 0)
        p->deeds[k - 1].times++;
}

/* What stands in a deed of its own kind, or is part of one. */
static bool told_otherwise(unsigned index)
{
    return index == CONTROL(GOODCRC) || index == CONTROL(PS_RDY) || index == CONTROL(SOFT_RESET) || index == DATA(SOURCE_CAPABILITIES) ||
           index == DATA(SINK_CAPABILITIES) || index == DATA(REQUEST) || index == DATA(EPR_REQUEST) ||
           index == EXTENDED(EPR_SOURCE_CAPABILITIES) || index == EXTENDED(EPR_SINK_CAPABILITIES);
}

/* What a message that is named after its carrier is about. */
static uint32_t detail_of(const struct speech *s)
{
    uint32_t word = message_word(&s->m, 0);

    if (s->m.index == DATA(VENDOR_DEFINED))
        return word & (word & VDM_STRUCTURED ? VDM_KEPT : VDM_SVID);
    if (s->m.index == DATA(EPR_MODE))
        return word & ACTION;
    if (s->m.index == EXTENDED(CONTROL) && s->size > 0)
        return (uint32_t)s->data[0] << 24;
    return 0;
}

static void take_message(struct behaviour *b, struct behaviour_port *p, const struct event *e)
{
    const struct speech *s = e->speech;
    struct deed          d = { .kind = DEED_SAID, .side = s->side, .index = s->m.index, .set = s->m.set };

    if (told_otherwise(s->m.index) || (s->m.message_class == CLASS_EXTENDED && s->news != CHUNK_COMPLETE))
        return;
    d.detail = detail_of(s);
    deed_add(b, p, e, d);
}

static void deed_of(struct behaviour *b, struct behaviour_port *p, const struct event *e, enum deed_kind kind, unsigned side)
{
    deed_add(b, p, e, (struct deed){ .kind = (uint8_t)kind, .side = (uint8_t)side, .detail = kind == DEED_SWAPPED ? e->swap : 0 });
}

static void behaviour_event(void *context, const struct event *e)
{
    struct behaviour      *b = context;
    struct behaviour_port *p = e->t_ns >= b->since_ns && e->t_ns <= b->until_ns ? port_of(b, e->port->number) : NULL;

    if (!p)
        return;
    switch ((int)e->kind) {
    case EVENT_MESSAGE:     take_message(b, p, e); break;
    case EVENT_ANNOUNCED:   take_offer(b, p, e); break;
    case EVENT_REQUEST:     take_request(b, p, e); break;
    case EVENT_CONTRACT:    take_contract(b, p, e); break;
    case EVENT_RENEWED:     take_renewal(p); break;
    case EVENT_CONTRACT_END:
        if (e->contract->ended_by == CONTRACT_SUPPLY_LOST)
            deed_of(b, p, e, DEED_SUPPLY_LOST, SIDE_UNKNOWN);
        break;
    case EVENT_ATTACH:      deed_of(b, p, e, DEED_ATTACH, SIDE_UNKNOWN); break;
    case EVENT_DETACH:      deed_of(b, p, e, DEED_DETACH, SIDE_UNKNOWN); break;
    case EVENT_HARD_RESET:  deed_of(b, p, e, DEED_HARD_RESET, SIDE_UNKNOWN); break;
    case EVENT_CABLE_RESET: deed_of(b, p, e, DEED_CABLE_RESET, SIDE_UNKNOWN); break;
    case EVENT_SOFT_RESET:  deed_of(b, p, e, DEED_SOFT_RESET, e->speech ? e->speech->side : SIDE_UNKNOWN); break;
    case EVENT_SWAPPED:     deed_of(b, p, e, DEED_SWAPPED, SIDE_UNKNOWN); break;
    case EVENT_EPR_ENTERED: deed_of(b, p, e, DEED_EPR_ENTERED, SIDE_UNKNOWN); break;
    case EVENT_EPR_LEFT:    deed_of(b, p, e, DEED_EPR_LEFT, SIDE_UNKNOWN); break;
    default:                p->losses++; break; /* EVENT_LOSS */
    }
}

struct behaviour *behaviour_new(struct bench *bench, const bool *ports, int64_t since_ns, int64_t until_ns)
{
    struct behaviour *b = calloc(1, sizeof *b);

    if (!b)
        return NULL;
    b->ports = ports;
    b->since_ns = since_ns;
    b->until_ns = until_ns;
    bench_observe(bench,
                  EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_CONTRACT) |
                      EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_CONTRACT_END) | EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) |
                      EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_CABLE_RESET) | EVENT_BIT(EVENT_SOFT_RESET) |
                      EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_EPR_ENTERED) | EVENT_BIT(EVENT_EPR_LEFT) | EVENT_BIT(EVENT_LOSS),
                  behaviour_event, b);
    return b;
}

void behaviour_free(struct behaviour *b)
{
    for (unsigned port = 0; b && port < BEHAVIOUR_PORTS; port++) {
        if (b->of[port])
            free(b->of[port]->deeds);
        free(b->of[port]);
    }
    free(b);
}

const struct behaviour_port *behaviour_port(const struct behaviour *b, unsigned number)
{
    const struct behaviour_port *p = number < BEHAVIOUR_PORTS ? b->of[number] : NULL;

    return p && p->count ? p : NULL;
}

bool behaviour_failed(const struct behaviour *b)
{
    return b->failed;
}
