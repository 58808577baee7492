#include "decode/port_inside.h"

#include <stdlib.h>

const char *side_name(unsigned side)
{
    static const char *const names[] = { "source", "sink", "cable", "unknown" };

    return side < 4 ? names[side] : "unknown";
}

const char *contract_end_name(unsigned end)
{
    static const char *const names[] = {
        "renegotiated", "hard_reset", "swap", "epr_exit", "supply_lost", "detached", "trace_end",
    };

    return end < sizeof names / sizeof names[0] ? names[end] : "trace_end";
}

struct bench *bench_new(void)
{
    struct bench *b = calloc(1, sizeof *b);

    if (!b)
        return NULL;
    b->about = about_new();
    if (!b->about) {
        free(b);
        return NULL;
    }
    for (unsigned k = 0; k <= BENCH_PORTS; k++)
        b->previous_ns[k] = INT64_MIN;
    b->previous_given_ns = INT64_MIN;
    b->limits = (struct bench_limits){ PD_RECEIVE_LEAST_NS, PD_RECEIVE_MOST_NS, PD_BIT_RATE_LEAST, PD_BIT_RATE_MOST, HOST_STAMP_NS };
    bench_count_between(b, INT64_MIN, INT64_MAX);
    return b;
}

void bench_free(struct bench *b)
{
    if (!b)
        return;
    for (unsigned k = 0; k < BENCH_PORTS; k++) {
        if (b->ports[k])
            port_edges_free(b->ports[k]);
        free(b->ports[k]);
    }
    about_free(b->about);
    free(b);
}

struct about *bench_about(struct bench *b)
{
    return b->about;
}

void bench_count_between(struct bench *b, int64_t from_ns, int64_t to_ns)
{
    b->count_from_ns = from_ns;
    b->count_to_ns = to_ns;
}

void bench_default_time(struct bench *b, int64_t time_ns)
{
    b->default_time_ns = time_ns;
}

void bench_set_limits(struct bench *b, const struct bench_limits *limits)
{
    b->limits = *limits;
}

const struct bench_limits *bench_limits(const struct bench *b)
{
    return &b->limits;
}

int64_t bench_stamp_ns(const struct bench *b, unsigned port, unsigned flags)
{
    const struct about_instrument *i = about_instrument(b->about, (uint8_t)port);
    double                         one;

    if (flags & RECORD_HOST_TIME)
        one = i->given & ABOUT_HOST_TIME_NS ? i->host_time_ns : (double)b->limits.host_time_ns;
    else
        one = i->given & ABOUT_TIME_NS ? i->time_ns : (double)b->default_time_ns;
    return one < 1e15 ? (int64_t)(2 * one + 0.5) : INT64_C(2000000000000000);
}

static void note_delivered_wants(struct bench *b);

void bench_observe(struct bench *b, uint32_t wants, event_observer *observer, void *context)
{
    if (b->observer_count == BENCH_OBSERVERS)
        return;
    b->observers[b->observer_count].wants = wants;
    b->observers[b->observer_count].observer = observer;
    b->observers[b->observer_count].context = context;
    for (unsigned k = 0; k < MESSAGE_INDEXES / 32; k++)
        b->observers[b->observer_count].messages[k] = UINT32_MAX;
    b->observer_count++;
    b->wanted |= wants;
    note_delivered_wants(b);
}

/* Deliveries are many and mostly wanted by nobody: what is wanted is known beforehand. */
static void note_delivered_wants(struct bench *b)
{
    for (unsigned m = 0; m < MESSAGE_INDEXES / 32; m++) {
        b->delivered[m] = 0;
        for (unsigned k = 0; k < b->observer_count; k++)
            if (b->observers[k].wants & EVENT_BIT(EVENT_DELIVERED))
                b->delivered[m] |= b->observers[k].messages[m];
    }
}

void bench_observe_only(struct bench *b, uint32_t control, uint32_t data, uint32_t extended)
{
    if (b->observer_count == 0)
        return;
    uint32_t *messages = b->observers[b->observer_count - 1].messages;

    messages[CLASS_CONTROL] = control;
    messages[CLASS_DATA] = data;
    messages[CLASS_EXTENDED] = extended;
    note_delivered_wants(b);
}

void port_tell(const struct event *e)
{
    const struct bench *b = e->port->bench;
    uint32_t            bit = EVENT_BIT(e->kind);

    for (unsigned k = 0; k < b->observer_count; k++)
        if (b->observers[k].wants & bit)
            b->observers[k].observer(b->observers[k].context, e);
}

void port_tell_message(const struct event *e, unsigned index)
{
    const struct bench *b = e->port->bench;
    uint32_t            bit = EVENT_BIT(e->kind);

    for (unsigned k = 0; k < b->observer_count; k++)
        if ((b->observers[k].wants & bit) && (b->observers[k].messages[index / 32] >> index % 32 & 1))
            b->observers[k].observer(b->observers[k].context, e);
}

void port_tell_plain(const struct port *p, enum event_kind kind)
{
    if (!port_heard(p, kind))
        return;
    struct event e = port_event(p, kind);

    port_tell(&e);
}

static struct port *bench_make_port(struct bench *b, unsigned number, int64_t t_ns)
{
    struct port *p = calloc(1, sizeof *p);

    if (!p)
        return NULL;
    p->number = (uint8_t)number;
    p->bench = b;
    p->first_ns = t_ns;
    p->missed = p->sides_lost = true;
    p->cc_open_ns = INT64_MIN;
    p->missed_ns = p->vbus_high_ns = p->rise_untied_until_ns = INT64_MIN;
    p->hard_reset_ns = p->loss_from_ns = p->loss_to_ns = p->bad_ns = p->last_packet_ns = p->last_good_ns = p->copy_ns = INT64_MIN;
    p->role[PLAYER_A] = SIDE_SOURCE;
    p->role[PLAYER_B] = SIDE_SINK;
    b->ports[number] = p;
    return p;
}

static void bench_loss_everywhere(struct bench *b, const struct record *r)
{
    for (unsigned k = 0; k < BENCH_PORTS; k++)
        if (b->ports[k])
            port_take_loss(b->ports[k], r);
}

/* A record that cannot be used: may it have been a packet? */
static void bench_take_unsound(struct bench *b, struct port *p, const struct record *r)
{
    if (r->soundness == RECORD_UNREADABLE)
        bench_loss_everywhere(b, r);
    else if (r->soundness == RECORD_DAMAGED && (r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL)) {
        if (p)
            port_take_loss(p, r);
        else
            bench_loss_everywhere(b, r);
    }
}

static void bench_take_sound(struct bench *b, struct port *p, const struct record *r)
{
    switch (r->kind) {
    case RECORD_PD_PACKET:
        if (p)
            port_take_packet(p, r);
        return;
    case RECORD_RESET_SIGNAL:
        if (p)
            port_take_reset(p, r);
        return;
    case RECORD_POWER:
        if (p)
            port_take_power(p, r);
        return;
    case RECORD_CC_STATE:
        if (p)
            port_take_cc(p, r);
        return;
    case RECORD_MARK: {
        struct port *subject = r->mark.subject < BENCH_PORTS ? b->ports[r->mark.subject] : NULL;

        if (subject)
            port_take_mark(subject, r);
        return;
    }
    case RECORD_LOST:
        if (p)
            port_take_loss(p, r);
        else
            bench_loss_everywhere(b, r);
        return;
    case RECORD_ABOUT:
        about_merge(b->about, r->port, r->about.text, r->about.length);
        return;
    case RECORD_CC_EDGES:
        if (p)
            port_take_edges(p, r);
        return;
    default:
        return;
    }
}

/* The port that a record speaks of, made if it is the first to do so. NULL for the bench. */
static bool bench_find_port(struct bench *b, const struct record *r, struct port **p)
{
    unsigned number = r->kind == RECORD_MARK && r->soundness == RECORD_SOUND ? r->mark.subject : r->port;

    *p = NULL;
    if (number >= BENCH_PORTS || r->soundness == RECORD_UNREADABLE)
        return true;
    *p = b->ports[number];
    if (!*p)
        *p = bench_make_port(b, number, r->t_ns);
    return *p != NULL;
}

bool bench_feed(struct bench *b, const struct record *r, bool stepped_back)
{
    struct port *p;
    unsigned     slot = r->soundness == RECORD_UNREADABLE ? BENCH_PORTS : r->port;

    /* Nearly all records: a packet of a port that is known. */
    if (r->kind == RECORD_PD_PACKET && r->soundness == RECORD_SOUND && !stepped_back && (p = b->ports[r->port]) != NULL) {
        b->record = r;
        b->now_ns = r->t_ns;
        b->previous_given_ns = b->previous_ns[r->port];
        b->previous_ns[r->port] = r->t_ns;
        port_pass_time(p, r->t_ns);
        port_take_packet(p, r);
        return true;
    }
    if (!bench_find_port(b, r, &p))
        return false;
    b->record = r;
    b->now_ns = r->t_ns;
    b->speech = NULL;
    b->previous_given_ns = b->previous_ns[slot];
    b->previous_ns[slot] = r->t_ns;
    if (stepped_back)
        bench_loss_everywhere(b, r);
    if (p) {
        port_pass_time(p, r->t_ns);
        port_edges_pass_time(p, r->t_ns);
    }
    if (r->soundness == RECORD_SOUND)
        bench_take_sound(b, p, r);
    else
        bench_take_unsound(b, p, r);
    return !b->no_memory;
}

void bench_end(struct bench *b, int64_t t_ns)
{
    b->record = NULL;
    b->speech = NULL;
    b->now_ns = t_ns;
    for (unsigned k = 0; k < BENCH_PORTS; k++) {
        struct port *p = b->ports[k];

        if (!p)
            continue;
        port_cross_until(p, INT64_MAX);
        port_settle_offer(p, 0);
        port_settle_offer(p, 1);
        port_end_contract(p, CONTRACT_TRACE_END, t_ns);
        port_edges_end(p);
        port_tell_plain(p, EVENT_END);
    }
}

const struct speech *bench_speech(const struct bench *b)
{
    return b->speech;
}

const struct port *bench_port(const struct bench *b, unsigned number)
{
    return number < BENCH_PORTS ? b->ports[number] : NULL;
}

bool bench_other_occupied(const struct bench *b, unsigned number)
{
    for (unsigned k = 0; k < BENCH_PORTS; k++) {
        const struct port *p = b->ports[k];

        if (p && k != number && (p->attached || p->current_flows || p->plugged_mark))
            return true;
    }
    return false;
}

int64_t bench_previous_ns(const struct bench *b)
{
    return b->previous_given_ns;
}
