#include "cli/synth/synth_inside.h"

#include <stdio.h>
#include <string.h>

static const struct synth_fault *const families[] = {
    synth_faults_packet, synth_faults_message, synth_faults_time, synth_faults_exchange, synth_faults_caps, synth_faults_request, synth_faults_reset, synth_faults_epr,
    synth_faults_swap, synth_faults_cable, synth_faults_vdm, synth_faults_ext, synth_faults_alive, synth_faults_volt, synth_faults_pps,
};
enum { FAMILIES = sizeof families / sizeof families[0] };

const struct synth_fault *synth_fault_row(unsigned k)
{
    for (unsigned i = 0; i < FAMILIES; i++)
        for (const struct synth_fault *row = families[i]; row->name; row++)
            if (k-- == 0)
                return row;
    return NULL;
}

/* The row of this variant, else the one that takes any. */
const struct synth_fault *fault_row_of(const char *name, const char *variant)
{
    const struct synth_fault *row, *any = NULL;

    for (unsigned k = 0; (row = synth_fault_row(k)); k++) {
        if (strcmp(row->name, name) != 0)
            continue;
        if (row->variant && strcmp(row->variant, variant) == 0)
            return row;
        if (!any && (!row->variant || variant[0] == '\0'))
            any = row;
    }
    return any;
}

const struct synth_number *timer_of(const char *name)
{
    const struct synth_number *n;

    for (unsigned k = 0; (n = synth_number_row(k)); k++)
        if (strcmp(n->timer, name) == 0)
            return n;
    return NULL;
}

static bool no(struct synth_trouble *t, unsigned k, const char *key, const char *text)
{
    snprintf(t->path, sizeof t->path, "faults[%u].%s", k, key);
    snprintf(t->text, sizeof t->text, "%s", text);
    return false;
}

static bool port_there(const struct plan *p, unsigned port)
{
    for (unsigned k = 0; k < p->port_count; k++)
        if (p->ports[k].port == port)
            return true;
    return false;
}

bool injections_begin(struct synth *s, struct synth_trouble *t)
{
    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        const struct injection *plan = &s->plan.injections[k];
        struct injected        *f = &s->injected[k];

        *f = (struct injected){ .plan = plan, .used = &s->used[k], .at = plan->at };
        s->used[k] = (struct amount){ plan->has_amount, plan->has_mv, plan->has_ma, plan->amount_ns, plan->amount_mv * 1000, plan->amount_ma };
        if (!port_there(&s->plan, plan->port))
            return no(t, k, "port", "a port of the scenario is expected");
        if (plan->blind)
            continue;
        f->row = fault_row_of(plan->fault, plan->variant);
        f->timer = timer_of(plan->fault);
        if (!f->row && !(f->timer && plan->has_amount))
            return no(t, k, "fault", f->timer ? "a time needs an amount_ms" : "a name is expected that synth --list-faults prints, and a variant that it has");
    }
    return true;
}

static const struct injected *ask(struct life *l, const char *name, const char *variant, bool just)
{
    struct synth *s = l->s;

    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        struct injected *f = &s->injected[k];

        if (f->plan->blind || f->fired || f->plan->port != l->port || l->muted || strcmp(f->plan->fault, name) != 0)
            continue;
        if (variant && (just || f->plan->variant[0]) && strcmp(f->plan->variant, variant) != 0)
            continue;
        f->seen++;
        if (s->counting || f->seen != f->at)
            continue;
        f->fired = true;
        return f;
    }
    return NULL;
}

const struct injected *synth_fault(struct life *l, const char *name)
{
    return l->s->plan.injection_count ? ask(l, name, NULL, false) : NULL;
}

const struct injected *synth_fault_as(struct life *l, const char *name, const char *variant)
{
    return l->s->plan.injection_count ? ask(l, name, variant, false) : NULL;
}

const struct injected *synth_fault_just(struct life *l, const char *name, const char *variant)
{
    return l->s->plan.injection_count ? ask(l, name, variant, true) : NULL;
}

bool synth_variant(const struct injected *f, const char *variant)
{
    return strcmp(f->plan->variant, variant) == 0;
}

int64_t synth_amount_ns(const struct injected *f, int64_t usual_ns)
{
    if (!f->used->has_ns)
        *f->used = (struct amount){ true, f->used->has_uv, f->used->has_ma, usual_ns, f->used->uv, f->used->ma };
    return f->used->ns;
}

int32_t synth_amount_uv(const struct injected *f, int32_t usual_uv)
{
    if (!f->used->has_uv)
        *f->used = (struct amount){ f->used->has_ns, true, f->used->has_ma, f->used->ns, usual_uv, f->used->ma };
    return f->used->uv;
}

int32_t synth_amount_ma(const struct injected *f, int32_t usual_ma)
{
    if (!f->used->has_ma)
        *f->used = (struct amount){ f->used->has_ns, f->used->has_uv, true, f->used->ns, f->used->uv, usual_ma };
    return f->used->ma;
}

const char *synth_who(const struct life *l, unsigned player)
{
    if (player == l->source)
        return "source";
    if (player == PLAYER_PLUG)
        return "cable";
    return player < PLAYERS ? "sink" : "link";
}

static void blame(struct life *l, const struct injected *f, unsigned player, uint64_t serial)
{
    struct injected *own = &l->s->injected[f - l->s->injected];

    own->who = synth_who(l, player);
    own->serial = serial;
    own->pending = true;
    if (serial && serial == l->last_written_serial) {
        own->frame = l->last_written_frame;
        own->t_ns = l->last_written_ns;
        own->pending = false;
    }
}

void synth_blame_next(struct life *l, const struct injected *f, unsigned player)
{
    blame(l, f, player, 0);
    l->blame_next |= UINT64_C(1) << (f - l->s->injected);
}

void synth_blame_offer(struct life *l, const struct injected *f)
{
    l->offer_blame |= UINT64_C(1) << (f - l->s->injected);
}

void synth_offer_told(struct life *l)
{
    for (unsigned k = 0; l->offer_blame; k++, l->offer_blame >>= 1)
        if (l->offer_blame & 1)
            synth_blame_sent(l, &l->s->injected[k], l->source);
}

void synth_blame_last(struct life *l, const struct injected *f, unsigned player)
{
    blame(l, f, player, l->last_packet_serial);
}

void synth_blame_sent(struct life *l, const struct injected *f, unsigned player)
{
    blame(l, f, player, l->sent_serial);
}

void synth_blame_put(struct life *l, const struct injected *f, unsigned player)
{
    blame(l, f, player, l->serial);
}

void synth_blame_reading(struct life *l, const struct injected *f, unsigned player, int64_t from_ns, bool above, int32_t uv)
{
    struct injected *own = &l->s->injected[f - l->s->injected];

    blame(l, f, player, 0);
    own->reading_from_ns = from_ns;
    own->reading_above = above;
    own->reading_uv = uv;
}

void injections_reading(struct life *l, int64_t t_ns, int32_t uv)
{
    for (unsigned k = 0; k < l->plan->injection_count; k++) {
        struct injected *f = &l->s->injected[k];

        if (f->reading_from_ns == 0 || f->plan->port != l->port || t_ns < f->reading_from_ns ||
            (f->reading_above ? uv <= f->reading_uv : uv >= f->reading_uv))
            continue;
        f->serial = l->serial;
        f->reading_from_ns = 0;
    }
}

void synth_blame_sink_last(struct life *l, const struct injected *f, unsigned player)
{
    blame(l, f, player, l->sink_serial);
}

static uint32_t word_at(const struct say *m, unsigned at)
{
    uint32_t word = 0;

    for (unsigned k = 0; k < 4; k++)
        word |= (uint32_t)m->body[at + k] << 8 * k;
    return word;
}

/* Of a message in chunks the first one, and no request for one. */
static bool twist_fits(const struct life *l, const struct say *m, const struct twist *t)
{
    unsigned by = m->from == PLAYER_PLUG ? BY_PLUG : m->from == l->source ? BY_SOURCE : BY_SINK;

    return (t->by & by) && t->set == m->set && t->extended == m->extended && t->type == m->type && t->at < m->length &&
           !(m->extended && (m->body[1] & 0x7c)) && (word_at(m, t->if_at) & t->if_mask) == t->if_value;
}

void faults_twist(struct life *l, struct say *m, const struct twist *rows)
{
    const struct injected *f;

    for (const struct twist *t = rows; t->fault; t++) {
        if (!twist_fits(l, m, t) || !(f = synth_fault(l, t->fault)))
            continue;
        for (unsigned k = 0; k < 4; k++)
            m->body[t->at + k] ^= (uint8_t)(t->turn >> 8 * k);
        synth_blame_next(l, f, m->from);
    }
}

void injections_frame(struct synth *s, const struct life *l, const struct record_entry *e, uint64_t frame)
{
    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        struct injected *f = &s->injected[k];

        if (!f->pending || f->plan->port != l->port || f->serial != e->serial || e->serial == 0)
            continue;
        f->frame = frame;
        f->t_ns = e->stamp_ns;
        f->pending = false;
    }
}

unsigned synth_made_count(const struct synth *s)
{
    return s->plan.injection_count;
}

/* Whom the trace's ABOUT makes of this role on this port. */
static const char *party_of(const struct synth *s, unsigned port, const char *who)
{
    for (unsigned k = 0; who && k < s->plan.port_count; k++) {
        const struct port_plan *p = &s->plan.ports[k];

        if (p->port != port)
            continue;
        if (strcmp(who, "link") == 0)
            return "link";
        if (strcmp(who, "cable") == 0)
            return p->captive ? "device" : "cable";
        if (p->kind == KIND_DUAL || (strcmp(who, "source") == 0) == (p->kind == KIND_SOURCE))
            return "device";
        return "partner";
    }
    return "";
}

struct synth_made synth_made(const struct synth *s, unsigned k)
{
    const struct injected *f = &s->injected[k];
    const char            *who = f->who ? f->who : f->row && f->row->who ? f->row->who : "";
    const char            *expect = f->row ? f->row->expect : f->timer ? f->timer->timer : "";

    return (struct synth_made){
        .fault = f->plan->blind ? "" : f->plan->fault, .variant = f->plan->variant, .blind = f->plan->blind ? f->plan->fault : NULL,
        .who = who, .party = party_of(s, f->plan->port, who[0] ? who : NULL), .expect = expect, .port = f->plan->port,
        .made = f->fired, .has_ns = f->used->has_ns, .has_uv = f->used->has_uv, .has_ma = f->used->has_ma,
        .amount_ns = f->used->ns, .amount_uv = f->used->uv, .amount_ma = f->used->ma,
        .frame = f->pending ? 0 : f->frame, .t_ns = f->frame ? f->t_ns - s->first_ns : 0,
    };
}
