/*
 * Fuzz target: messages. One packet by itself first (header, objects, blocks), then the same bytes as a bench with two ports:
 * packets, resets, readings and marks through the port model and the rules.
 *
 * Steps, one after the other until the bytes run out:
 *   u8 what   bits 0..1: 0, 1 a packet with its right CRC; 2 a packet as it stands; 3 a record as it stands
 *             bit 2: port 1 instead of 0; bit 3: the packet is followed by its GoodCRC; bits 4..7: pause before it, 2^n x 100 us
 *   u8 set    packets only: ordered set in bits 0..2 (modulo 5), state of the record in bits 4..6
 *   u8 length, and so many bytes: a message from its header on, or header and body of a record
 */
#include "capture/base/cursor.h"
#include "decode/port.h"
#include "rules/engine.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/check_message.h"

#include <string.h>
#include <zlib.h>

enum { PACKET_BYTES_MAX = 255 + 4 };

struct play {
    struct engine *engine;
    int64_t        now_ns;
    uint64_t       frame;
    uint64_t       contracts, contract_ends;
    bool           in_contract[256];
    uint64_t       findings[4]; /* by verdict */
};

static void see_finding(void *context, const struct finding *f)
{
    struct play *p = context;

    MUST(f->rule && (f->verdict == VERDICT_FAIL || f->verdict == VERDICT_UNDECIDED));
    MUST((f->verdict == VERDICT_UNDECIDED) == (f->cause != CAUSE_NONE));
    MUST(f->party <= PARTY_LINK && f->whom <= WHO_LINK);
    MUST(f->frame > 0 && f->frame <= p->frame);
    MUST(f->evidence_count <= FINDING_EVIDENCE);
    for (unsigned k = 0; k < f->evidence_count; k++)
        MUST(f->evidence[k] > 0 && f->evidence[k] <= p->frame && (k == 0 || f->evidence[k - 1] < f->evidence[k]));
    MUST(f->rule->sentences && f->rule->sentences[f->sentence]);
    p->findings[f->verdict]++;
}

static void see_offer(const struct offer *o)
{
    MUST(o->count <= PDO_MAX && o->frame > 0);
    for (unsigned k = 0; k < o->count; k++)
        MUST(o->pdos[k].word == o->words[k] && o->pdos[k].position == k + 1);
}

static void see_contract(struct play *p, const struct event *e)
{
    const struct contract *c = e->contract;

    MUST(c->frame > 0 && c->position <= 15 && c->supply <= SUPPLY_RESERVED);
    MUST(e->kind != EVENT_CONTRACT || !p->in_contract[e->port->number]);
    MUST(e->kind == EVENT_CONTRACT || p->in_contract[e->port->number]);
    MUST(e->kind != EVENT_CONTRACT_END || c->until_ns >= c->t_ns);
    p->in_contract[e->port->number] = e->kind != EVENT_CONTRACT_END;
}

/* What the port model tells holds together, whatever came in. */
static void see_event(void *context, const struct event *e)
{
    struct play *p = context;

    MUST(e->port && e->port->number < RECORD_PORT_BENCH && e->frame <= p->frame);
    switch (e->kind) {
    case EVENT_PACKET:
    case EVENT_MESSAGE:
    case EVENT_GOODCRC:
    case EVENT_GOODCRC_ODD:
    case EVENT_SOFT_RESET:
        MUST(e->speech && e->speech->side <= SIDE_UNKNOWN && e->speech->player <= PLAYER_UNKNOWN);
        MUST(e->speech->frame > 0 && e->speech->first_frame <= e->speech->frame);
        MUST(e->speech->start_ns <= e->speech->end_ns);
        MUST(e->kind == EVENT_PACKET || e->speech->good);
        return;
    case EVENT_DELIVERED:
        MUST(e->sent && e->sent->held && e->sent->delivery != DELIVERY_OPEN && e->sent->frame <= e->sent->last_frame);
        return;
    case EVENT_ANNOUNCED:
    case EVENT_OFFER:
        MUST(e->offer);
        see_offer(e->offer);
        return;
    case EVENT_REQUEST:
    case EVENT_ANSWERED:
        MUST(e->request && e->request->frame > 0 && e->request->state <= REQUEST_READY);
        return;
    case EVENT_CONTRACT:
    case EVENT_RENEWED:
    case EVENT_CONTRACT_END:
        MUST(e->contract);
        see_contract(p, e);
        return;
    case EVENT_POWER:
    case EVENT_CC:
    case EVENT_MARK:
        MUST(e->record && e->record->soundness == RECORD_SOUND);
        return;
    case EVENT_FRAME:
        MUST(e->port->edge_frame && e->port->edge_frame->edges_frame > 0 && e->port->edge_frame->edges_frame <= p->frame);
        MUST(e->port->edge_frame->frame <= p->frame && e->port->edge_frame->start_ns <= e->port->edge_frame->end_ns);
        MUST(e->port->edge_frame->side <= SIDE_UNKNOWN && e->port->edge_frame->player <= PLAYER_UNKNOWN);
        return;
    case EVENT_ATTACH:
    case EVENT_DETACH:
    case EVENT_HARD_RESET:
    case EVENT_CABLE_RESET:
    case EVENT_SWAPPED:
    case EVENT_EPR_ENTERED:
    case EVENT_EPR_LEFT:
    case EVENT_LOSS:
    case EVENT_END:
        return;
    case EVENT_KINDS:
        break;
    }
    NEVER("an event of no kind");
}

static void feed(struct play *p, const uint8_t *bytes, size_t length)
{
    struct record r;

    p->frame++;
    record_read(bytes, length, false, p->now_ns, p->frame, &r);
    if (r.t_ns < p->now_ns)
        r.t_ns = p->now_ns; /* records come in order of their start; a shifted one would not */
    MUST(engine_feed(p->engine, &r, false));
    p->now_ns += record_span_ns(&r) < INT64_C(1000000000) ? record_span_ns(&r) : 0;
}

static void feed_packet(struct play *p, unsigned port, unsigned set, unsigned state, const uint8_t *bytes, size_t length)
{
    uint8_t record[RECORD_HEADER_BYTES + 4 + PACKET_BYTES_MAX];
    size_t  n = record_put_packet(record, sizeof record, (uint8_t)port, 0, (uint32_t)record_nominal_ns(length), (uint8_t)set,
                                  (uint8_t)state, bytes, length);

    MUST(n > 0);
    feed(p, record, n);
}

static size_t with_crc(uint8_t *bytes, size_t length)
{
    uint32_t crc = (uint32_t)crc32(0, bytes, (uInt)length);

    for (unsigned k = 0; k < 4; k++)
        bytes[length + k] = (uint8_t)(crc >> 8 * k);
    return length + 4;
}

static void acknowledge(struct play *p, unsigned port, unsigned set, const uint8_t *bytes)
{
    /* Type GoodCRC, the other role bit, the same revision and MessageID. */
    uint8_t answer[6] = { (uint8_t)((bytes[0] & 0xc0) | CONTROL_GOODCRC), (uint8_t)((bytes[1] & 0x0e) | (~bytes[1] & 1)) };

    p->now_ns += 60000;
    feed_packet(p, port, set, 0, answer, with_crc(answer, 2));
}

static void step_packet(struct play *p, struct cursor *c, uint8_t what)
{
    uint8_t        how = cursor_u8(c);
    size_t         length = cursor_u8(c);
    uint8_t        bytes[PACKET_BYTES_MAX];
    unsigned       port = what >> 2 & 1, set = (how & 7u) % 5, state = how >> 4 & 7u;
    const uint8_t *message = cursor_take(c, length);

    if (!message)
        return;
    if (length)
        memcpy(bytes, message, length);
    check_message(bytes, length, (uint8_t)set, (uint8_t)state);
    if ((what & 3) < 2 && length >= 2) {
        state = 0;
        feed_packet(p, port, set, state, bytes, with_crc(bytes, length));
    } else {
        feed_packet(p, port, set, state, bytes, length);
    }
    if ((what & 8) && length >= 2)
        acknowledge(p, port, set, bytes);
}

static void step(struct play *p, struct cursor *c)
{
    uint8_t what = cursor_u8(c);

    p->now_ns += INT64_C(100000) << (what >> 4);
    if ((what & 3) < 3) {
        step_packet(p, c, what);
        return;
    }
    size_t         length = cursor_u8(c);
    const uint8_t *record = cursor_take(c, length);

    if (record)
        feed(p, record, length);
}

/* Of one rule: its counts are those of its ports together. */
static struct counts check_rule(const struct play *p, unsigned rule, const uint8_t *ports, unsigned count, bool *must_failed)
{
    struct result r = engine_result(p->engine, rule);
    struct counts sum = { 0 };

    for (unsigned k = 0; k < count; k++) {
        struct counts one = engine_port_counts(p->engine, rule, ports[k]);

        sum.passed += one.passed;
        sum.failed += one.failed;
        sum.undecided += one.undecided;
    }
    MUST(sum.passed == r.counts.passed && sum.failed == r.counts.failed && sum.undecided == r.counts.undecided);
    *must_failed = *must_failed || (r.rule->level == LEVEL_MUST && sum.failed > 0);
    if (sum.failed)
        MUST(r.verdict == VERDICT_FAIL);
    else if (sum.undecided)
        MUST(r.verdict == VERDICT_UNDECIDED);
    else
        MUST(r.verdict == (sum.passed ? VERDICT_PASS : VERDICT_NOT_SEEN));
    return sum;
}

/* Counts of the rules, of their ports and of the findings tell the same story. */
static void check_counts(const struct play *p)
{
    uint64_t failed = 0, undecided = 0;
    bool     must_failed = false;
    uint8_t  ports[RECORD_PORT_BENCH];
    unsigned count = 0;

    for (unsigned port = 0; port < RECORD_PORT_BENCH; port++)
        if (bench_port(engine_bench(p->engine), port))
            ports[count++] = (uint8_t)port;
    for (unsigned k = 0; k < engine_rules(p->engine); k++) {
        struct counts sum = check_rule(p, k, ports, count, &must_failed);

        failed += sum.failed;
        undecided += sum.undecided;
    }
    MUST(failed == p->findings[VERDICT_FAIL]);
    MUST(undecided >= p->findings[VERDICT_UNDECIDED]);
    MUST(engine_verdict(p->engine) != VERDICT_FAIL || must_failed);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    struct play           p = { .now_ns = INT64_C(1770000000000000000) };
    struct engine_options options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .finding = see_finding, .context = &p };
    struct cursor         c = cursor_over(bytes, length);
    struct unjudged       unjudged;

    p.engine = engine_new(&options);
    MUST(p.engine);
    bench_observe(engine_bench(p.engine), UINT32_MAX, see_event, &p);
    while (c.left > 0 && !c.short_read)
        step(&p, &c);
    engine_end(p.engine, p.now_ns);
    check_counts(&p);
    for (unsigned k = 0; engine_unjudged(p.engine, NULL, k, &unjudged); k++)
        MUST(unjudged.rules > 0 && unjudged.missing != 0);
    engine_free(p.engine);
    return 0;
}
