#include "rules/engine_inside.h"

#include "rules/groups.h"
#include "rules/limits.h"

#include <stdlib.h>

static void engine_event(void *context, const struct event *event);

/* Rules that the line watcher wakes. */
static void engine_take_line(struct engine *e)
{
    for (unsigned k = 0; k < LINE_RULES; k++)
        e->line_rule[k] = RULES_MAX;
    for (unsigned r = 0; r < e->count; r++) {
        if (e->rules[r]->line == LINE_NONE)
            continue;
#ifdef PORTASSAY_MUTANTS
        if (mutant_is(&e->mutant, MUTANT_SKIPPED, e->rules[r]->id))
            continue;
#endif
        e->line_rule[e->rules[r]->line] = (uint16_t)r;
        e->line_watched = true;
    }
    e->line_careful = e->options.timing != NULL;
#ifdef PORTASSAY_MUTANTS
    e->line_careful = true;
#endif
}

static bool engine_take_rules(struct engine *e)
{
    const struct rule *const *groups = e->options.groups ? e->options.groups : rules_groups;

    for (; *groups; groups++)
        for (const struct rule *r = *groups; r->id; r++) {
            if (e->count == RULES_MAX)
                return false;
            e->rules[e->count] = r;
            e->state_at[e->count] = e->state_bytes;
            e->state_bytes += (r->state_size + 15u) & ~(size_t)15;
            e->count++;
        }
    engine_take_line(e);
    return engine_sort_rules(e) && engine_take_parameters(e);
}

struct engine *engine_new(const struct engine_options *options)
{
    struct engine *e = calloc(1, sizeof *e);

    if (!e)
        return NULL;
    if (options)
        e->options = *options;
    else
        e->options = (struct engine_options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX };
#ifdef PORTASSAY_MUTANTS
    e->mutant = mutant_named(e->options.mutant);
#endif
    e->bench = bench_new();
    if (!e->bench || !engine_take_rules(e)) {
        engine_free(e);
        return NULL;
    }
    if (e->any_section && !rail_take_limits(e, &e->rail_limits)) {
        engine_free(e);
        return NULL;
    }
    struct bench_limits limits = limits_of_bench(e->parameters);

    bench_set_limits(e->bench, &limits);
    e->last_mark_ns = INT64_MIN;
    e->now_ns = e->reach_ns = INT64_MIN;
    bench_observe(e->bench, engine_wants(e), engine_event, e);
    bench_count_between(e->bench, e->options.since_ns, e->options.until_ns);
    return e;
}

void engine_free(struct engine *e)
{
    if (!e)
        return;
    for (unsigned k = 0; k < ENGINE_PORTS; k++)
        if (e->books[k]) {
            free(e->books[k]->held);
            free(e->books[k]->late.list);
            free(e->books[k]->readings.cells);
            volt_table_free(e->books[k]->volts);
            free(e->books[k]->state);
            free(e->books[k]);
        }
    bench_free(e->bench);
    free(e->order);
    free(e->values);
    free(e->windows);
    free(e);
}

struct bench *engine_bench(struct engine *e)
{
    return e->bench;
}

static void book_learn(const struct engine *e, struct port_book *b)
{
    b->told = about_port_told(bench_about(e->bench), b->port->number);
}

struct port_book *engine_book(struct engine *e, const struct port *p)
{
    struct port_book *b = e->books[p->number];

    if (b)
        return b;
    b = calloc(1, sizeof *b);
    if (b)
        b->state = calloc(1, e->state_bytes + 1);
    if (!b || !b->state) {
        free(b);
        e->no_memory = true;
        return NULL;
    }
    b->port = p;
    book_learn(e, b);
    b->parameters = e->parameters;
    if (e->options.volts && (!e->options.ports_given || e->options.ports[p->number])) {
        b->volts = volt_table_new(&e->volt_pieces);
        e->no_memory = e->no_memory || !b->volts;
    }
    for (unsigned k = 0; k < RULES_MAX; k++)
        b->wake_at[k] = INT64_MAX;
    for (unsigned k = 0; k < RULES_MAX; k++)
        b->failed_ns[k] = INT64_MIN;
    b->last_failed_ns = INT64_MIN;
    b->next_wake = INT64_MAX;
    talk_start(&b->talk);
    line_start(&b->line);
    rail_start(&b->rail);
    e->books[p->number] = b;
    return b;
}

void engine_new_subject(struct engine *e)
{
    if (!e->any_failed)
        return;
    e->any_failed = false;
    e->failed = (struct rule_set){ 0 };
}

static bool engine_silenced(const struct engine *e, unsigned rule)
{
    for (unsigned w = 0; w < RULE_WORDS; w++) {
        uint64_t hit = e->silenced_by[rule].word[w] & e->failed.word[w];

        while (hit) {
            unsigned k = w * 64 + (unsigned)__builtin_ctzll(hit);

            hit &= hit - 1;
            if (e->failed_at[k] & 1)
                return true;
        }
    }
    return false;
}

void engine_wake(struct engine *e, struct port_book *b, const struct event *event, struct wake_list list,
                 const struct held_offer *held)
{
    struct judge             j; /* field by field: it is made for every event */
    const struct wake_entry *entry = e->order + list.from, *end = entry + list.count;

    j.engine = e;
    j.book = b;
    j.event = event;
    j.held = held;
    j.ask = NULL;
    j.inside = engine_inside_window(e, event->t_ns);
#ifdef PORTASSAY_MUTANTS
    j.turning = false;
#endif
    for (; entry < end; entry++) {
        if (e->any_failed && engine_silenced(e, entry->number))
            continue;
        j.number = entry->number;
        j.rule = entry->rule;
        entry->check(&j, event);
    }
}

/* Of the object asked for last and of the contract, a bit each; all where it is not known what was asked for. */
static uint8_t supplies_of(const struct port *p)
{
    unsigned supply = p->request.offer_known && p->request.position_valid ? p->request.asked.supply : SUPPLY_RESERVED;

    if (supply >= SUPPLY_RESERVED)
        return UINT8_MAX;
    return (uint8_t)(1u << supply | (p->contract.held && p->contract.supply < SUPPLIES ? 1u << p->contract.supply : 0));
}

/*
 * Checks about something that earlier failures may have settled: frames are what they would have been about; 0: no second one. end: how
 * the question ended (WAKE_ASK), else any.
 */
static void wake_unless_failed(struct engine *e, struct port_book *b, const struct event *event, struct wake_list list,
                               const struct ask *ask, const uint64_t frames[2], unsigned end)
{
    struct judge             j = { .engine = e, .book = b, .event = event, .ask = ask,
                                   .inside = engine_inside_window(e, event->t_ns) };
    const struct wake_entry *entry = e->order + list.from, *last = entry + list.count;
    const uint8_t            supplies = supplies_of(b->port);

    for (; entry < last; entry++) {
        if (!(entry->supplies & supplies) || !(entry->ends >> end & 1))
            continue;
        j.number = entry->number;
        j.rule = entry->rule;
        if (b->failure_count && (judge_silenced_on(&j, frames[0]) || judge_silenced_on(&j, frames[1])))
            continue;
        entry->check(&j, event);
    }
}

void engine_wake_ask(struct engine *e, struct port_book *b, const struct event *event, const struct ask *ask)
{
    struct event told = *event;

    told.kind = (enum event_kind)WAKE_ASK;
    wake_unless_failed(e, b, &told, e->by_ask[ask->set != SET_SOP][ask->index], ask, (const uint64_t[]){ ask->sent.frame, 0 },
                       ask->end);
}

/* Rules that follow a sequence: those that listened before the message came. */
static void wake_listeners(struct engine *e, struct port_book *b, const struct event *event, const struct ask *ask, struct rule_set now)
{
    struct event          told = *event;
    struct judge          j = { .engine = e, .book = b, .event = &told, .ask = ask, .inside = engine_inside_window(e, event->t_ns) };

    told.kind = (enum event_kind)WAKE_HEARD;
    for (unsigned w = 0; w < RULE_WORDS; w++)
        for (uint64_t bits = now.word[w]; bits; bits &= bits - 1) {
            j.number = w * 64 + (unsigned)__builtin_ctzll(bits);
            j.rule = e->rules[j.number];
            j.rule->check(&j, &told);
        }
}

/* A message: its own checks, then the question that it may answer, then what both together say. */
static void engine_message(struct engine *e, struct port_book *b, const struct event *event)
{
    unsigned         group = event->speech->m.set != SET_SOP;
    struct wake_list list = e->by_message[group][event->speech->m.index];
    bool             inside = engine_inside_window(e, event->t_ns);

    if (b->line.open)
        line_before_message(e, b, event);
    if (b->rail.steady_on || b->rail.change_on)
        rail_take_message(e, b, event);
    engine_new_subject(e);
    if (e->any_settled && inside)
        b->messages[group][event->speech->m.index]++;
    if (e->any_plain && e->must_passed && message_plain(e, event->port, event->speech)) {
        list = e->by_plain[event->speech->m.index];
        b->plain[event->speech->m.index] += inside;
    }
    if (list.count)
        engine_wake(e, b, event, list, NULL);
    if (event->speech->m.index == MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_INFO))
        offers_present(b, event);

    const struct rule_set listeners = b->listening;
    const bool            listening = b->any_listening;

    talk_take_message(e, b, event);

    struct talk      *t = &b->talk;
    const struct ask *ask = t->settled < 0 ? NULL : talk_last(t, (unsigned)t->settled);

    if (listening)
        wake_listeners(e, b, event, ask, listeners);
    list = e->by_talk[group][event->speech->m.index];
    if (!list.count)
        return;
    struct event told = *event;

    told.kind = (enum event_kind)WAKE_TALK;
    /* Of a message in chunks, what failed of the first one is about the whole. */
    wake_unless_failed(e, b, &told, list, ask,
                       (const uint64_t[]){ event->frame, event->speech->news == CHUNK_COMPLETE ? event->speech->first_frame : 0 },
                       ASK_OPEN);
}

/* What the engine itself does before the rules hear of it: questions end. */
static void engine_work_before(struct engine *e, struct port_book *b, const struct event *event)
{
    if (e->any_section && EVENT_BIT(event->kind) & RAIL_EVENTS)
        rail_take_event(e, b, event);
    switch ((int)event->kind) {
    case EVENT_HARD_RESET:
        line_take_event(e, b, event);
        talk_take_hard_reset(e, b, event);
        break;
    case EVENT_ATTACH:
        line_take_event(e, b, event);
        talk_take_attach(b);
        b->swapped = false;
        break;
    case EVENT_DETACH:
        line_take_event(e, b, event);
        talk_take_detach(e, b, event);
        break;
    case EVENT_POWER:
        readings_take(e, b, event->record);
        break;
    case EVENT_LOSS:
        silence_lose(e, b);
        line_take_event(e, b, event);
        break;
    case EVENT_CABLE_RESET:
        line_take_event(e, b, event);
        break;
    default:
        break;
    }
}

static void attach_ends(struct engine *e, struct port_book *b, const struct event *event)
{
    struct event told = *event;

    offers_settle(e, b, event);
    told.kind = (enum event_kind)WAKE_ATTACH_END;
    engine_wake(e, b, &told, e->by_kind[WAKE_ATTACH_END], NULL);
}

/* ... and after: offers are kept until their attach ends. */
static void engine_work_after(struct engine *e, struct port_book *b, const struct event *event)
{
    switch ((int)event->kind) {
    case EVENT_OFFER:
        offers_hold(e, b, event);
        break;
    case EVENT_REQUEST:
        if (b->any_held)
            offers_agree(b);
        break;
    case EVENT_HARD_RESET:
        offers_reset(b);
        break;
    case EVENT_SWAPPED:
        if (event->swap == SWAP_PR || event->swap == SWAP_FR) {
            attach_ends(e, b, event);
            b->swapped = true;
        }
        break;
    case EVENT_DETACH:
        attach_ends(e, b, event);
        silence_detach(b);
        break;
    case EVENT_END:
        attach_ends(e, b, event);
        engine_tell_late(e, b);
        break;
    default:
        break;
    }
}

/* What is left to be asked about it. */
static struct wake_list count_plain_request(struct engine *e, struct port_book *b, const struct event *event)
{
    unsigned supply = event->request->asked.supply;

    b->plain_requests[supply] += engine_inside_window(e, event->t_ns);
    b->noted = (struct open_request){ .frame = event->request->frame, .known = true };
    return e->by_plain_supply[supply];
}

static void engine_event(void *context, const struct event *event)
{
    struct engine    *e = context;
    struct port_book *b;

    if (e->options.ports_given && !e->options.ports[event->port->number])
        return;
    b = e->books[event->port->number];
    if (!b && !(b = engine_book(e, event->port)))
        return;
    if (event->kind == EVENT_MESSAGE) {
        engine_message(e, b, event);
        return;
    }
    if (event->kind == EVENT_GOODCRC || event->kind == EVENT_GOODCRC_ODD)
        engine_new_subject(e);
    bool own = EVENT_BIT(event->kind) & ENGINE_OWN_EVENTS;

    if (own)
        engine_work_before(e, b, event);
    /* What failed on another record, or on the questions that a reset ended, is not about this one. */
    if (e->any_failed && (event->frame != e->failed_frame || event->kind == EVENT_HARD_RESET))
        engine_new_subject(e);
    struct wake_list list = engine_list(e, event);

    if (event->kind == EVENT_REQUEST && e->any_plain && e->must_passed && request_plain(e, event->port, event->request))
        list = count_plain_request(e, b, event);
    if (list.count)
        engine_wake(e, b, event, list, NULL);
    if (own)
        engine_work_after(e, b, event);
}

/* Rules that asked to be woken by time: rare. */
static void book_ring_one(struct engine *e, struct port_book *b, unsigned k, int64_t t_ns, const struct record *r)
{
    int64_t before = INT64_MIN;

    /* Once more where it asks for a later time that has passed as well. */
    while (b->wake_at[k] <= t_ns && b->wake_at[k] > before) {
        before = b->wake_at[k];

        struct event event = { .kind = (enum event_kind)WAKE_TIME, .port = b->port, .record = r, .t_ns = before,
                               .frame = r ? r->frame : 0 };
        struct judge j = { .engine = e, .book = b, .event = &event, .number = k, .rule = e->rules[k],
                           .inside = engine_inside_window(e, before) };

        b->wake_at[k] = INT64_MAX;
        engine_new_subject(e);
        j.rule->check(&j, &event);
    }
}

static void book_ring(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *r)
{
    b->next_wake = INT64_MAX;
    for (unsigned w = 0; w < RULE_WORDS; w++)
        for (uint64_t those = b->waiting.word[w]; those; those &= those - 1) {
            unsigned k = w * 64 + (unsigned)__builtin_ctzll(those);

            book_ring_one(e, b, k, t_ns, r);
            if (b->wake_at[k] < b->next_wake)
                b->next_wake = b->wake_at[k];
            else if (b->wake_at[k] == INT64_MAX)
                b->waiting.word[w] &= ~(UINT64_C(1) << k % 64);
        }
}

static void book_pass_time(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *r)
{
    if (t_ns >= b->line.due_ns)
        line_pass_time(e, b, t_ns, r);
    if (t_ns >= b->talk.due_ns)
        talk_pass_time(e, b, t_ns, r);
    while (t_ns >= b->next_wake) {
        int64_t at = b->next_wake;

        if (b->any_reading)
            readings_pass(e, b, at);
        book_ring(e, b, at, r);
        if (b->next_wake <= at)
            break;
    }
    if (b->any_reading)
        readings_pass(e, b, t_ns);
}

static void books_pass_time(struct engine *e, int64_t t_ns, const struct record *r)
{
    for (unsigned p = 0; p < ENGINE_PORTS; p++)
        if (e->books[p])
            book_pass_time(e, e->books[p], t_ns, r);
}

/* A record of the stream that LOST speaks of: whatever this port was silent about until now, it was silent about. */
static bool ends_silence(const struct record *r)
{
    return r->soundness == RECORD_SOUND &&
           (r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL || r->kind == RECORD_CC_STATE);
}

static void engine_watch_line(struct engine *e, const struct record *r)
{
    struct port_book  *b = e->books[r->port];
    const struct port *p = bench_port(e->bench, r->port);

    if (!b && (!p || (e->options.ports_given && !e->options.ports[r->port]) || !(b = engine_book(e, p))))
        return;
    line_take_packet(e, b, r);
}

/* A packet or reset: nothing was lost between it and the one before. */
static bool ends_gap(const struct record *r)
{
    return r->kind == RECORD_PD_PACKET || r->kind == RECORD_RESET_SIGNAL;
}

/* Readings of the last block may lie behind the end of what else was recorded. */
static void note_time(struct engine *e, const struct record *r)
{
    e->now_ns = r->t_ns;
    if (r->kind == RECORD_POWER && r->soundness == RECORD_SOUND && r->t_ns + record_span_ns(r) > e->reach_ns)
        e->reach_ns = r->t_ns + record_span_ns(r);
}

static int64_t silent_until_ns(const struct engine *e, int64_t end_ns)
{
    return end_ns <= e->reach_ns && e->now_ns < end_ns ? e->now_ns : end_ns;
}

bool engine_feed(struct engine *e, const struct record *r, bool stepped_back)
{
    e->between_packets = !ends_gap(r);
    note_time(e, r);
    if (!stepped_back && ends_silence(r)) {
        struct port_book *b = e->books[r->port];

        if (b)
            book_pass_time(e, b, r->t_ns, r);
        bool fed = bench_feed(e->bench, r, stepped_back);

        if (r->kind == RECORD_PD_PACKET && e->line_watched)
            engine_watch_line(e, r);
        if (b && b->silence_count && ends_gap(r))
            silence_pass_packet(e, b, r);
        return fed && !e->no_memory;
    }
    if (r->soundness == RECORD_SOUND && r->port < ENGINE_PORTS && e->books[r->port] && e->books[r->port]->any_reading)
        readings_pass(e, e->books[r->port], r->t_ns);
    if (r->soundness == RECORD_SOUND && r->kind == RECORD_MARK)
        e->last_mark_ns = e->marks_ns[e->mark_count++ % MARKS_KEPT] = r->t_ns;
    bool done = bench_feed(e->bench, r, stepped_back);

    for (unsigned p = 0; p < ENGINE_PORTS && r->soundness == RECORD_SOUND && r->kind == RECORD_ABOUT; p++)
        if (e->books[p])
            book_learn(e, e->books[p]);
    e->between_packets = false;
    if (r->kind == RECORD_PD_PACKET && r->soundness == RECORD_SOUND && e->line_watched)
        engine_watch_line(e, r);

    /* The loss is known now. */
    if (stepped_back || r->soundness != RECORD_SOUND || r->kind == RECORD_LOST)
        books_pass_time(e, r->t_ns, r);
    return done && !e->no_memory;
}

void engine_end(struct engine *e, int64_t t_ns)
{
    int64_t silent_ns = silent_until_ns(e, t_ns);

    e->between_packets = false;
    books_pass_time(e, silent_ns, NULL);
    for (unsigned p = 0; p < ENGINE_PORTS; p++)
        if (e->books[p]) {
            readings_pass(e, e->books[p], INT64_MAX);
            line_end(e, e->books[p], silent_ns);
            silence_end(e, e->books[p], t_ns);
        }
    bench_end(e->bench, t_ns);
}
