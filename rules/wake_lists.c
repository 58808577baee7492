/* Which rules an event wakes, worked out once: a list for each event, message and kind of supply. */
#include "rules/engine_inside.h"

#include <stdlib.h>
#include <string.h>

static bool mask_has(const struct message_mask *m, unsigned index)
{
    uint32_t bit = UINT32_C(1) << (index % 32);

    switch (index / 32) {
    case CLASS_CONTROL:
        return m->control & bit;
    case CLASS_DATA:
        return m->data & bit;
    default:
        return m->extended & bit;
    }
}

bool wakes_on_index(const struct rule *r, unsigned index)
{
    return mask_has(&r->messages, index);
}

static bool mask_empty(const struct message_mask *m)
{
    return (m->control | m->data | m->extended) == 0;
}

/* Goes over all lists twice: first to count, then, with room made, to fill them. */
struct picker {
    struct engine *e;
    uint32_t       wakes; /* of all rules together */
    bool           filling;
    bool           plain; /* those with `plain` are left out */
    size_t         used;
    struct rule_set speak_for[RULES_MAX]; /* those that may silence it, and those that may silence them */
};

/* The ordered sets of a group of wake lists. */
static uint8_t group_sets(unsigned group)
{
    return group == 0 ? 1u << SET_SOP : (uint8_t)~(1u << SET_SOP);
}

/* In a test build a rule may be left out. */
static bool rule_is_skipped(const struct engine *e, unsigned rule)
{
#ifdef PORTASSAY_MUTANTS
    return mutant_is(&e->mutant, MUTANT_SKIPPED, e->rules[rule]->id);
#else
    (void)e;
    (void)rule;
    return false;
#endif
}

static bool wakes_on_message(const struct rule *rule, unsigned kind, unsigned group, unsigned index)
{
    if (rule->sets && !(rule->sets & group_sets(group)))
        return false;
    if (kind == EVENT_MESSAGE && rule->settled && rule->settled(index))
        return false;
    return mask_has(kind == WAKE_TALK && !mask_empty(&rule->talk) ? &rule->talk : &rule->messages, index);
}

/* Adds the rules that wake on kind and, with index < MESSAGE_INDEXES, on that message, with supply < SUPPLIES, on that supply. */
static struct wake_list pick(struct picker *k, unsigned kind, unsigned group, unsigned index, unsigned supply)
{
    struct wake_list list = { .from = (uint32_t)k->used };

    if (!(k->wakes & EVENT_BIT(kind)))
        return list;
    for (unsigned r = 0; r < k->e->count; r++) {
        const struct rule *rule = k->e->rules[r];

        if (!(rule->wakes & EVENT_BIT(kind)))
            continue;
        if (rule_is_skipped(k->e, r))
            continue;
        if (index < MESSAGE_INDEXES && !wakes_on_message(rule, kind, group, index))
            continue;
        if (k->plain && rule->plain != PLAIN_ASKED)
            continue;
        if (supply < SUPPLIES && rule->supplies && supply != SUPPLY_RESERVED && !(rule->supplies & 1u << supply))
            continue;
        if (k->filling)
            k->e->order[k->used] = (struct wake_entry){ .check = rule->check, .rule = rule, .number = (uint16_t)r,
                                                        .ends = kind == WAKE_ASK && rule->ends ? rule->ends : UINT16_MAX,
                                                        .supplies = rule->supplies ? rule->supplies : UINT8_MAX };
        k->used++;
        list.count++;
    }
    return list;
}

static bool set_has(const struct rule_set *s, unsigned rule)
{
    return s->word[rule / 64] >> rule % 64 & 1;
}

/*
 * Does this rule wait for another one of the list that is not in it yet? For those that may silence it; and what was seen in the change
 * before, and told at the contract's end alone, comes before what is said of the contract.
 */
static bool waits_in(const struct picker *k, unsigned rule, const struct rule_set *wanted, const struct rule_set *taken)
{
    const struct engine *e = k->e;

    for (unsigned r = 0; r < e->count; r++) {
        if (r == rule || !set_has(wanted, r) || set_has(taken, r))
            continue;
        if (set_has(&e->silenced_by[rule], r))
            return true;
        if (e->rules[r]->sections & SECTION_BIT(SECTION_CHANGE) && !(e->rules[rule]->sections & SECTION_BIT(SECTION_CHANGE)) &&
            !set_has(&k->speak_for[r], rule))
            return true;
    }
    return false;
}

/* Rules about one kind of section: those that speak for others first. */
static void pick_section(struct picker *k, unsigned kind)
{
    struct engine   *e = k->e;
    struct rule_set  wanted = { 0 }, taken = { 0 };
    struct wake_list list = { .from = (uint32_t)k->used };
    unsigned         left = 0;

    for (unsigned r = 0; r < e->count; r++)
        if (e->rules[r]->sections & SECTION_BIT(kind) && !rule_is_skipped(e, r)) {
            wanted.word[r / 64] |= UINT64_C(1) << r % 64;
            left++;
        }
    for (bool waiting = true; left > 0;) {
        bool picked = false;

        for (unsigned r = 0; r < e->count; r++) {
            uint64_t bit = UINT64_C(1) << r % 64;

            if (!(wanted.word[r / 64] & ~taken.word[r / 64] & bit) || (waiting && waits_in(k, r, &wanted, &taken)))
                continue;
            if (k->filling)
                e->order[k->used] = (struct wake_entry){ .check = e->rules[r]->check, .rule = e->rules[r], .number = (uint16_t)r,
                                                        .ends = UINT16_MAX, .supplies = UINT8_MAX };
            k->used++;
            list.count++;
            left--;
            taken.word[r / 64] |= bit;
            picked = true;
        }
        waiting = picked; /* a ring of them: in the catalogue's order */
    }
    e->by_section[kind] = list;
    e->any_section = e->any_section || list.count;
}

/* Of those about one kind of section, who may have something to say of a contract of that supply, or a change without rows, with nothing held back. */
static struct wake_list pick_quiet(struct picker *k, enum section_kind kind, unsigned supply)
{
    const struct wake_list all = k->e->by_section[kind];
    struct wake_list       list = { .from = (uint32_t)k->used };

    if (!k->filling) {
        k->used += all.count; /* at most */
        return list;
    }
    for (unsigned n = 0; n < all.count; n++) {
        const struct wake_entry *entry = &k->e->order[all.from + n];
        const struct rule       *r = entry->rule;

        if (r->releases & SECTION_BIT(kind) || (kind == SECTION_CHANGE && r->needs_rows) ||
            (r->supplies && supply != SUPPLY_RESERVED && !(r->supplies & 1u << supply)))
            continue;
        k->e->order[k->used++] = *entry;
        list.count++;
    }
    return list;
}

static void pick_sections(struct picker *k)
{
    for (unsigned s = 0; s < SECTION_KINDS; s++)
        pick_section(k, s);
    k->e->by_unread_change = pick_quiet(k, SECTION_CHANGE, SUPPLY_RESERVED);
    for (unsigned s = 0; s < SUPPLIES; s++)
        k->e->by_contract[s] = pick_quiet(k, SECTION_CONTRACT, s);
}

/* EVENT_MESSAGE, EVENT_PACKET, EVENT_REQUEST have lists of their own; EVENT_GOODCRC wakes whatever the mask. */
static void pick_all(struct picker *k)
{
    struct engine *e = k->e;

    for (unsigned kind = 0; kind < WAKE_KINDS; kind++)
        if (kind != EVENT_MESSAGE && kind != EVENT_PACKET && kind != EVENT_REQUEST && kind != WAKE_ASK && kind != WAKE_TALK)
            e->by_kind[kind] = pick(k, kind, 0, MESSAGE_INDEXES, SUPPLIES);
    for (unsigned m = 0; m < SET_GROUPS * MESSAGE_INDEXES; m++) {
        unsigned group = m / MESSAGE_INDEXES, index = m % MESSAGE_INDEXES;

        e->by_message[group][index] = pick(k, EVENT_MESSAGE, group, index, SUPPLIES);
        e->by_packet[group][index] = pick(k, EVENT_PACKET, group, index, SUPPLIES);
        e->by_ask[group][index] = pick(k, WAKE_ASK, group, index, SUPPLIES);
        e->by_talk[group][index] = pick(k, WAKE_TALK, group, index, SUPPLIES);
    }
    k->plain = true;
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++)
        e->by_plain[index] = pick(k, EVENT_MESSAGE, 0, index, SUPPLIES);
    for (unsigned s = 0; s < SUPPLIES; s++)
        e->by_plain_supply[s] = pick(k, EVENT_REQUEST, 0, MESSAGE_INDEXES, s);
    k->plain = false;
    pick_sections(k);
    for (unsigned s = 0; s < SUPPLIES; s++)
        e->by_supply[s] = pick(k, EVENT_REQUEST, 0, MESSAGE_INDEXES, s);
}

static void note_speakers(struct picker *k)
{
    const struct engine *e = k->e;

    for (unsigned r = 0; r < e->count; r++) {
        k->speak_for[r] = e->silenced_by[r];
        for (unsigned m = 0; m < e->count; m++)
            for (unsigned w = 0; set_has(&e->silenced_by[r], m) && w < RULE_WORDS; w++)
                k->speak_for[r].word[w] |= e->silenced_by[m].word[w];
    }
}

static unsigned rule_number(const struct engine *e, const char *id)
{
    for (unsigned r = 0; r < e->count; r++)
        if (strcmp(e->rules[r]->id, id) == 0)
            return r;
    return RULES_MAX; /* a rule of another build */
}

static void note_silencers(struct engine *e)
{
    for (unsigned r = 0; r < e->count; r++) {
        const char *const *id = e->rules[r]->silenced_by;

        for (; id && *id; id++) {
            unsigned k = rule_number(e, *id);

#ifdef PORTASSAY_MUTANTS
            if (mutant_is(&e->mutant, MUTANT_SUPPRESSION, e->rules[r]->id) &&
                e->mutant.index == (unsigned)(id - e->rules[r]->silenced_by))
                continue;
#endif
            if (k < RULES_MAX)
                e->silenced_by[r].word[k / 64] |= UINT64_C(1) << k % 64;
        }
    }
}

bool engine_sort_rules(struct engine *e)
{
    struct picker k = { .e = e };

    for (unsigned r = 0; r < e->count; r++)
        k.wakes |= e->rules[r]->wakes;
    note_silencers(e);
    note_speakers(&k);
    pick_all(&k);
    e->order = calloc(k.used + 1, sizeof *e->order);
    if (!e->order)
        return false;
    k.used = 0;
    k.filling = true;
    pick_all(&k);
    for (unsigned r = 0; r < e->count; r++) {
        e->any_settled = e->any_settled || e->rules[r]->settled;
        e->any_plain = e->any_plain || e->rules[r]->plain != PLAIN_ASKED;
    }
    e->any_plain = e->any_plain && !e->options.standard; /* what is plain goes by the revision that the two agreed on */
#ifdef PORTASSAY_MUTANTS
    e->any_plain = false;
#endif
    return true;
}

uint32_t engine_wants(const struct engine *e)
{
    uint32_t own = ENGINE_OWN_EVENTS;

    for (unsigned r = 0; r < e->count; r++)
        own |= e->rules[r]->wakes;
    return own;
}

struct wake_list engine_list(const struct engine *e, const struct event *event)
{
    unsigned supply;

    switch ((int)event->kind) {
    case EVENT_MESSAGE:
        return e->by_message[event->speech->m.set != SET_SOP][event->speech->m.index];
    case EVENT_PACKET:
        return e->by_packet[event->speech->m.set != SET_SOP][event->speech->m.index];
    case EVENT_REQUEST:
        supply = event->request->offer_known && event->request->position_valid ? event->request->asked.supply
                                                                                  : SUPPLY_RESERVED;
        return e->by_supply[supply < SUPPLIES ? supply : SUPPLY_RESERVED];
    default:
        return e->by_kind[event->kind];
    }
}
