/* What a check says, counted and handed over. */
#include "decode/kernel_caps.h"
#include "rules/engine_inside.h"

#include <stdlib.h>
#include <string.h>

const char *verdict_name(unsigned verdict)
{
    static const char *const names[] = { "pass", "fail", "undecided", "not-seen" };

    return verdict < 4 ? names[verdict] : "not-seen";
}

const char *level_name(unsigned level)
{
    static const char *const names[] = { "must", "should", "claim", "note" };

    return level < 4 ? names[level] : "note";
}

const char *whom_name(unsigned whom)
{
    static const char *const names[] = { "source", "sink", "cable", "link", "link" };

    return whom < 5 ? names[whom] : "link";
}

const char *applies_name(unsigned applies)
{
    static const char *const names[] = { "all", "2.0", "3.x", "3.1+", "3.2" };

    return applies < 5 ? names[applies] : "all";
}

const char *party_name(unsigned party)
{
    static const char *const names[] = { "device", "partner", "cable", "link" };

    return party < 4 ? names[party] : "link";
}

struct outcome judge_outcome_at(const struct judge *j, uint64_t frame, int64_t t_ns)
{
    return (struct outcome){ .whom = j->rule->whom, .player = PLAYER_UNKNOWN, .frame = frame, .t_ns = t_ns };
}

struct outcome judge_outcome(const struct judge *j, const struct event *e)
{
    struct outcome o = judge_outcome_at(j, e->frame, e->t_ns);

    if (e->speech)
        outcome_by(&o, e->speech->side, e->speech->player);
    if (j->rule->whom != WHO_EACH)
        o.whom = j->rule->whom;
    return o;
}

void outcome_by(struct outcome *o, unsigned side, unsigned player)
{
    if (o->whom == WHO_EACH)
        o->whom = side == SIDE_SOURCE ? WHO_SOURCE : side == SIDE_SINK ? WHO_SINK : side == SIDE_CABLE ? WHO_CABLE : WHO_LINK;
    o->player = (uint8_t)player;
}

void outcome_evidence(struct outcome *o, uint64_t frame)
{
    unsigned k = o->evidence_count;

    if (frame == 0)
        return;
    for (unsigned i = 0; i < o->evidence_count; i++)
        if (o->evidence[i] == frame)
            return;
    if (k == FINDING_EVIDENCE)
        return;
    for (; k > 0 && o->evidence[k - 1] > frame; k--)
        o->evidence[k] = o->evidence[k - 1];
    o->evidence[k] = frame;
    o->evidence_count++;
}

static enum party player_party(const struct about_port *about, unsigned player)
{
    bool device = about->kind == ABOUT_DUAL || (player == PLAYER_A) == (about->kind == ABOUT_SOURCE);

    return device ? PARTY_DEVICE : PARTY_PARTNER;
}

/*
 * Roles may have been swapped: it is the player that is the device or not. Where the player is not known, the one
 * that has the role now.
 */
enum party engine_party(const struct engine *e, const struct port *p, unsigned whom, unsigned player)
{
    const struct about_port *about = about_port(bench_about(e->bench), p->number);

    if (whom == WHO_CABLE)
        return about->plug == ABOUT_CAPTIVE ? PARTY_DEVICE : PARTY_CABLE;
    if (whom != WHO_SOURCE && whom != WHO_SINK)
        return PARTY_LINK;
    if (player > PLAYER_B) {
        unsigned side = whom == WHO_SOURCE ? SIDE_SOURCE : SIDE_SINK;

        player = p->role[PLAYER_A] == side ? PLAYER_A : PLAYER_B;
    }
    return player_party(about, player);
}

static bool engine_decides(const struct engine *e, unsigned whom, enum party party)
{
    if (e->options.judged_whom)
        return e->options.judged_whom >> whom & 1;
    return (e->options.judged_parties ? e->options.judged_parties : 1u << PARTY_DEVICE) >> party & 1;
}

static bool level_binds(const struct rule *r)
{
    return r->level == LEVEL_MUST || r->level == LEVEL_CLAIM;
}

bool engine_inside_window(const struct engine *e, int64_t t_ns)
{
    return t_ns >= e->options.since_ns && t_ns <= e->options.until_ns;
}

/* The port was told of, and the rule takes more than that. */
static bool beyond_told(const struct judge *j)
{
    return j->book->told && !j->rule->as_told;
}

bool judge_hole(const struct judge *j, const struct pdo *p)
{
    return j->book->told && p->word == KERNEL_CAPS_HOLE;
}

/* Once one binding rule passed about a judged party there is nothing more to note. */
static void note_passed(struct judge *j)
{
    const struct event *event = j->event;
    unsigned            whom = j->rule->whom;
    unsigned            player = event->speech ? event->speech->player : PLAYER_UNKNOWN;

    if (!level_binds(j->rule))
        return;
    if (whom == WHO_EACH) {
        struct outcome o = judge_outcome(j, event);

        whom = o.whom;
    } else if (event->offer) {
        player = event->offer->player;
    }
    if (engine_decides(j->engine, whom, engine_party(j->engine, j->book->port, whom, player)))
        j->engine->must_passed = true;
}

#ifdef PORTASSAY_MUTANTS
/* In a test build: this rule says the opposite of what it found, once. */
static bool turns(struct judge *j)
{
    bool turned = mutant_is(&j->engine->mutant, MUTANT_TURNED, j->rule->id);

    return turned && !j->turning;
}

static void turn(struct judge *j, const struct outcome *o)
{
    j->turning = true;
    if (o)
        judge_fail(j, o);
    else
        judge_pass(j);
    j->turning = false;
}
#endif

void judge_pass_at(struct judge *j, int64_t t_ns)
{
#ifdef PORTASSAY_MUTANTS
    if (turns(j)) {
        struct outcome o = judge_outcome(j, j->event);

        o.t_ns = t_ns;
        turn(j, &o);
        return;
    }
#endif
    if (!engine_inside_window(j->engine, t_ns) || beyond_told(j))
        return;
    j->book->passed[j->number]++;
    if (!j->engine->must_passed)
        note_passed(j);
}

/* The path that nearly every call takes. */
void judge_pass(struct judge *j)
{
#ifdef PORTASSAY_MUTANTS
    if (turns(j)) {
        struct outcome o = judge_outcome(j, j->event);

        turn(j, &o);
        return;
    }
#endif
    if (!j->inside || beyond_told(j))
        return;
    j->book->passed[j->number]++;
    if (!j->engine->must_passed)
        note_passed(j);
}

static struct finding make_finding(const struct judge *j, const struct outcome *o, enum verdict verdict, enum cause cause)
{
    struct finding f = {
        .rule = j->rule, .verdict = (uint8_t)verdict, .cause = (uint8_t)cause, .whom = o->whom,
        .party = (uint8_t)engine_party(j->engine, j->book->port, o->whom, o->player), .port = j->book->port->number,
        .frame = o->frame, .t_ns = o->t_ns, .sentence = o->sentence, .has_measured = o->has_measured,
        .has_low = o->has_low, .has_high = o->has_high, .measured = o->measured, .low = o->low, .high = o->high,
        .unit = o->unit, .evidence_count = o->evidence_count, .per_unit = o->per_unit ? o->per_unit : 1000,
        .has_uncertainty = o->has_uncertainty, .has_probability = o->has_probability, .probability = o->probability, .uncertainty = o->uncertainty, .parameter = o->parameter,
        .has_span = o->has_span, .span = o->span, .bits = o->bits,
    };

    memcpy(f.values, o->values, sizeof f.values);
    memcpy(f.evidence, o->evidence, sizeof f.evidence);
    return f;
}

static void hand_over(struct engine *e, unsigned rule, const struct finding *f)
{
    e->found_whom[rule] |= (uint8_t)(1u << f->whom);
    if (level_binds(f->rule) && engine_decides(e, f->whom, f->party)) {
        if (f->verdict == VERDICT_FAIL)
            e->must_failed = true;
        else
            e->must_undecided = true;
    }
    if (e->options.finding)
        e->options.finding(e->options.context, f);
}

static void note_failure(struct judge *j, const struct outcome *o)
{
    struct port_book *b = j->book;
    struct failure   *f = &b->failures[b->failure_count++ % FAILURES];

    b->failed_ever.word[j->number / 64] |= UINT64_C(1) << j->number % 64;
    f->rule = (uint16_t)j->number;
    f->t_ns = o->t_ns;
    f->frames[0] = o->frame;
    f->frames[1] = o->subjects[0];
    f->frames[2] = o->subjects[1];
    for (unsigned k = 0; k < sizeof f->frames / sizeof f->frames[0]; k++)
        b->failed_frame = f->frames[k] > b->failed_frame ? f->frames[k] : b->failed_frame;
    if (o->t_ns > b->failed_ns[j->number])
        b->failed_ns[j->number] = o->t_ns;
    if (o->t_ns > b->last_failed_ns)
        b->last_failed_ns = o->t_ns;
}

void engine_count_failure(struct engine *e, struct port_book *b, unsigned rule, const struct finding *f)
{
    b->failed[rule]++;
    hand_over(e, rule, f);
}

void judge_fail(struct judge *j, const struct outcome *o)
{
    struct engine *e = j->engine;

    if (beyond_told(j))
        return;
#ifdef PORTASSAY_MUTANTS
    if (turns(j)) {
        turn(j, NULL);
        return;
    }
#endif
    note_failure(j, o);
    if (!(e->failed.word[j->number / 64] >> j->number % 64 & 1)) {
        e->failed.word[j->number / 64] |= UINT64_C(1) << j->number % 64;
        e->failed_at[j->number] = 0;
    }
    e->failed_at[j->number] |= (uint16_t)(1u << (o->position < 16 ? o->position : 0));
    e->any_failed = true;
    e->failed_frame = j->event->frame;
    if (!engine_inside_window(e, o->t_ns))
        return;
    struct finding f = make_finding(j, o, VERDICT_FAIL, CAUSE_NONE);

    if (!silence_hold(j, &f, o->player))
        engine_count_failure(e, j->book, j->number, &f);
}

/* Held to the end of the trace: only then is it known whether the port has such readings at all. */
static void keep_late(struct engine *e, struct late *l, unsigned rule, const struct finding *f)
{
    if (l->kept[rule] == LATE_PER_RULE)
        return;
    if (l->count == l->room) {
        size_t          room = l->room ? l->room * 2 : 8;
        struct finding *list = realloc(l->list, room * sizeof *list);

        if (!list) {
            e->no_memory = true;
            return;
        }
        l->list = list;
        l->room = room;
    }
    l->list[l->count++] = *f;
    l->kept[rule]++;
}

void engine_count_undecided(struct engine *e, struct port_book *b, unsigned rule, const struct finding *f)
{
    b->undecided[rule]++;
    if (f->rule->decision_evidence)
        keep_late(e, &b->late, rule, f);
    else
        hand_over(e, rule, f);
}

static void note_sparse(struct judge *j, int64_t spacing_ns)
{
    struct sparse *s = &j->book->sparse[j->number];

    s->least_ns = s->count++ == 0 || spacing_ns < s->least_ns ? spacing_ns : s->least_ns;
}

bool judge_unheard(struct judge *j, int64_t t_ns, enum cause cause, int64_t spacing_ns)
{
    struct port_book *b = j->book;

    if (!engine_inside_window(j->engine, t_ns) || beyond_told(j))
        return true;
    if (!j->rule->decision_evidence || b->late.kept[j->number] < LATE_PER_RULE)
        return false;
    if (cause == CAUSE_RATE)
        note_sparse(j, spacing_ns);
    b->undecided[j->number]++;
    return true;
}

void judge_undecided(struct judge *j, const struct outcome *o, enum cause cause)
{
    if (judge_unheard(j, o->t_ns, cause, o->spacing_ns))
        return;
    if (cause == CAUSE_RATE)
        note_sparse(j, o->spacing_ns);
    struct finding f = make_finding(j, o, VERDICT_UNDECIDED, cause);

    engine_count_undecided(j->engine, j->book, j->number, &f);
}

uint16_t engine_missing(const struct engine *e, const struct port *p)
{
    unsigned missing = 0, ports = 0;

    if (e->books[p->number] && e->books[p->number]->told)
        return EVIDENCE_WIRE; /* that says it all */
    for (unsigned k = 0; k < ENGINE_PORTS; k++)
        ports += bench_port(e->bench, k) != NULL;
    missing |= p->vbus_seen ? 0 : EVIDENCE_VBUS;
    missing |= p->ibus_seen ? 0 : EVIDENCE_IBUS;
    missing |= p->cc_seen ? 0 : EVIDENCE_CC;
    missing |= p->edges_seen ? 0 : EVIDENCE_EDGES;
    missing |= ports > 1 ? 0 : EVIDENCE_PORTS;
    missing |= p->durations_seen || !p->any_packet ? 0 : EVIDENCE_DURATIONS;
    missing |= p->instrument_time_seen || !p->any_packet ? 0 : EVIDENCE_INSTRUMENT_TIME;
    return (uint16_t)missing;
}

/* Undecided for want of readings that the port never has: not judged, said once (engine_unjudged). */
void engine_tell_late(struct engine *e, struct port_book *b)
{
    uint16_t missing = engine_missing(e, b->port);

    for (unsigned k = 0; k < e->count; k++)
        if (e->rules[k]->decision_evidence & missing)
            b->undecided[k] = 0;
        else if (engine_too_coarse(e, b, k))
            b->undecided[k] -= b->sparse[k].count;
    for (size_t k = 0; k < b->late.count; k++) {
        const struct finding *f = &b->late.list[k];
        unsigned              number = 0;

        while (e->rules[number] != f->rule)
            number++;
        if (f->rule->decision_evidence & missing || (f->cause == CAUSE_RATE && engine_too_coarse(e, b, number)))
            continue;
        hand_over(e, number, f);
    }
    b->late.count = 0;
    memset(b->late.kept, 0, sizeof b->late.kept);
}

void *judge_state(struct judge *j, const struct port *p)
{
    struct port_book *b = j->engine->books[p->number];

    return (b ? b : j->book)->state + j->engine->state_at[j->number];
}

const struct rule *judge_rule(const struct judge *j)
{
    return j->rule;
}

const struct held_offer *judge_held(const struct judge *j)
{
    return j->held;
}

const struct about_port *judge_about(const struct judge *j, const struct port *p)
{
    return about_port(bench_about(j->engine->bench), p->number);
}

unsigned judge_standard(const struct judge *j)
{
    return j->engine->options.standard;
}

bool judge_silenced(const struct judge *j, unsigned position)
{
    const struct engine *e = j->engine;

    for (unsigned w = 0; e->any_failed && w < RULE_WORDS; w++) {
        uint64_t hit = e->silenced_by[j->number].word[w] & e->failed.word[w];

        while (hit) {
            unsigned k = w * 64 + (unsigned)__builtin_ctzll(hit);

            hit &= hit - 1;
            if (e->failed_at[k] & (1u | 1u << (position < 16 ? position : 0)))
                return true;
        }
    }
    return false;
}

static bool silences(const struct judge *j, unsigned rule)
{
    return j->engine->silenced_by[j->number].word[rule / 64] >> rule % 64 & 1;
}

/* Of the rules that may silence this one, has any failed on the port at all? */
static bool any_silencer_failed(const struct judge *j)
{
    const struct rule_set *by = &j->engine->silenced_by[j->number], *failed = &j->book->failed_ever;
    uint64_t               hit = 0;

    for (unsigned w = 0; w < RULE_WORDS; w++)
        hit |= by->word[w] & failed->word[w];
    return hit != 0;
}

bool judge_silenced_on(const struct judge *j, uint64_t frame)
{
    const struct port_book *b = j->book;
    unsigned                n = b->failure_count < FAILURES ? b->failure_count : FAILURES;

    if (frame > b->failed_frame || !any_silencer_failed(j))
        return false;
    for (unsigned k = 0; k < n && frame; k++) {
        const struct failure *f = &b->failures[k];

        if ((f->frames[0] == frame || f->frames[1] == frame || f->frames[2] == frame) && silences(j, f->rule))
            return true;
    }
    return false;
}

bool judge_silenced_since(const struct judge *j, int64_t since_ns)
{
    return judge_silenced_between(j, since_ns, INT64_MAX);
}

bool judge_silenced_between(const struct judge *j, int64_t since_ns, int64_t until_ns)
{
    const struct port_book *b = j->book;

    if (b->last_failed_ns < since_ns)
        return false;
    for (unsigned w = 0; w < RULE_WORDS; w++) {
        uint64_t those = j->engine->silenced_by[j->number].word[w];

        for (; those; those &= those - 1) {
            int64_t failed_ns = b->failed_ns[w * 64 + (unsigned)__builtin_ctzll(those)];

            if (failed_ns != INT64_MIN && failed_ns >= since_ns && failed_ns <= until_ns)
                return true;
        }
    }
    return false;
}

bool judge_anything_failed_since(const struct judge *j, int64_t since_ns)
{
    return j->book->last_failed_ns != INT64_MIN && j->book->last_failed_ns >= since_ns;
}

bool judge_anything_failed_between(const struct judge *j, int64_t from_ns, int64_t to_ns)
{
    const struct port_book *b = j->book;
    unsigned                n = b->failure_count < FAILURES ? b->failure_count : FAILURES;

    for (unsigned k = 0; k < n; k++)
        if (b->failures[k].t_ns >= from_ns && b->failures[k].t_ns <= to_ns)
            return true;
    return false;
}

void judge_listen(struct judge *j, const struct port *p, bool on)
{
    struct port_book *b = j->engine->books[p->number];
    uint64_t          bit = UINT64_C(1) << j->number % 64;

    if (!b)
        return;
    if (on)
        b->listening.word[j->number / 64] |= bit;
    else
        b->listening.word[j->number / 64] &= ~bit;
    b->any_listening = false;
    for (unsigned w = 0; w < RULE_WORDS; w++)
        b->any_listening = b->any_listening || b->listening.word[w];
}

void judge_wake_at(struct judge *j, const struct port *p, int64_t t_ns)
{
    struct port_book *b = j->engine->books[p->number];

    if (!b)
        return;
    b->wake_at[j->number] = t_ns;
    b->waiting.word[j->number / 64] |= UINT64_C(1) << j->number % 64;
    if (t_ns < b->next_wake)
        b->next_wake = t_ns;
}

static enum answer revision_applies(unsigned wanted, unsigned agreed)
{
    return agreed == AGREED_UNKNOWN ? ANSWER_UNKNOWN : agreed == wanted ? ANSWER_YES : ANSWER_NO;
}

static enum answer edition_applies(unsigned agreed, const struct edition *edition, unsigned minor, unsigned since)
{
    if (agreed == AGREED_R2)
        return ANSWER_NO;
    if (edition->major == 3)
        return edition->minor < minor ? ANSWER_NO : agreed == AGREED_R3 ? ANSWER_YES : ANSWER_UNKNOWN;
    if (edition->at_least >= since)
        return agreed == AGREED_R3 ? ANSWER_YES : ANSWER_UNKNOWN;
    return ANSWER_UNKNOWN;
}

enum answer rule_applies(const struct rule *r, unsigned agreed, const struct edition *edition, unsigned standard)
{
    struct edition seen = *edition;

    if (standard) {
        agreed = standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
        seen = (struct edition){ .major = 3, .minor = (uint8_t)(standard > SINCE_R2 ? standard - SINCE_R30 : 0) };
    }
    switch (r->applies) {
    case APPLIES_R2:
        return revision_applies(AGREED_R2, agreed);
    case APPLIES_R3:
        return revision_applies(AGREED_R3, agreed);
    case APPLIES_R31:
        return edition_applies(agreed, &seen, 1, SINCE_R31);
    case APPLIES_R32:
        return edition_applies(agreed, &seen, 2, SINCE_R32);
    default:
        return ANSWER_YES;
    }
}

unsigned judge_gap_cause(const struct port *p, unsigned otherwise)
{
    if (!p->offer_uncertain)
        return otherwise;
    return p->bad_frame > p->loss_frame ? CAUSE_BAD_PACKET : CAUSE_LOST;
}

bool judge_failed_since(const struct judge *j, const char *id, int64_t since_ns)
{
    for (unsigned k = 0; k < j->engine->count; k++)
        if (strcmp(j->engine->rules[k]->id, id) == 0)
            return j->book->failed_ns[k] != INT64_MIN && j->book->failed_ns[k] >= since_ns;
    return false;
}
