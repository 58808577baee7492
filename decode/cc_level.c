#include "decode/cc_level.h"

#include <string.h>

#define FROM_TI "TI TPS65987DDK, TPS65988, TPS25740B data sheets"

/*
 * Borders of the voltages on CC with Rd (vRa, vRd-USB, vRd-1.5, vRd-3.0) as a sink tells them; an open pin as a source does. Ra with the
 * weakest current makes 51 mV (64 uA x 800 ohm, from memory).
 */
const struct cc_border cc_borders[] = {
    { CC_PIN_GROUND, CC_PIN_RA, 25, 40, 51, "calculated from Rp and Ra, from memory" },
    { CC_PIN_RA, CC_PIN_USB, 150, 200, 250, FROM_TI },
    { CC_PIN_USB, CC_PIN_1A5, 610, 660, 700, FROM_TI "; Chromium EC (660 mV); limits from memory" },
    { CC_PIN_1A5, CC_PIN_3A0, 1160, 1230, 1310, FROM_TI "; Chromium EC (1230 mV)" },
    { CC_PIN_3A0, CC_PIN_OPEN, 2040, 2600, 2600, "Chromium EC (open above 2600 mV at 3 A); 2040 from memory" },
};
const unsigned cc_borders_count = sizeof cc_borders / sizeof cc_borders[0];

/* Ra pulls a pin down to less than this, by the Rp on both: Chromium EC. */
static const uint16_t ra_below_mv[] = { [CC_PIN_USB] = 200, [CC_PIN_1A5] = 400, [CC_PIN_3A0] = 800 };

enum cc_pin_level cc_pin_level_of(int32_t mv, enum cc_pin_level before)
{
    enum cc_pin_level level = CC_PIN_GROUND;

    for (unsigned k = 0; k < cc_borders_count; k++) {
        const struct cc_border *b = &cc_borders[k];
        int32_t                 border = b->border_mv;

        if (before == b->above)
            border = b->least_mv + 1;
        else if (before == b->under)
            border = b->most_mv;
        if (mv >= border)
            level = b->above;
    }
    return level;
}

static bool level_is_rd(enum cc_pin_level level)
{
    return level == CC_PIN_USB || level == CC_PIN_1A5 || level == CC_PIN_3A0;
}

enum { ATTACH_NOTHING, ATTACH_DEBUG = 3, ATTACH_AUDIO = 4 };

static uint8_t rp_of(enum cc_pin_level level)
{
    return (uint8_t)(level - CC_PIN_USB + 1);
}

/* Both pins lie amid the windows of Rd: one of them may be Ra under a strong Rp. */
static void both_settle(const enum cc_pin_level pins[2], const uint16_t mv[2], struct cc_state *s)
{
    unsigned high = mv[1] > mv[0];

    if (mv[!high] < ra_below_mv[pins[high]])
        s->attach = (uint8_t)(high + 1);
    else
        s->attach = ATTACH_DEBUG;
    s->rp = rp_of(pins[high]);
}

struct cc_state cc_state_of(const enum cc_pin_level pins[2], const uint16_t mv[2])
{
    struct cc_state s = { .attach = ATTACH_NOTHING, .cc1_mv = mv[0], .cc2_mv = mv[1] };

    if (level_is_rd(pins[0]) && level_is_rd(pins[1])) {
        both_settle(pins, mv, &s);
    } else if (level_is_rd(pins[0]) || level_is_rd(pins[1])) {
        unsigned pin = level_is_rd(pins[1]);

        s.attach = (uint8_t)(pin + 1);
        s.rp = rp_of(pins[pin]);
    } else if (pins[0] == CC_PIN_RA && pins[1] == CC_PIN_RA) {
        s.attach = ATTACH_AUDIO;
    }
    return s;
}

void cc_pins_begin(struct cc_pins *p, const bool measured[2], void (*changed)(void *context, int64_t at_ns, const struct cc_state *state), void *context)
{
    memset(p, 0, sizeof *p);
    p->changed = changed;
    p->context = context;
    for (unsigned k = 0; k < 2; k++) {
        p->pin[k].measured = measured[k];
        p->pin[k].now_mv = CC_PIN_MV_NONE;
        p->pin[k].reached_ns = measured[k] ? INT64_MIN : INT64_MAX;
    }
}

/* What differs for whoever reads the trace: while nobody is attached, which pin is open and which at ground does not. */
static bool states_differ(const struct cc_pins *p, const struct cc_state *next, const enum cc_pin_level levels[2])
{
    const struct cc_state *now = &p->state;

    if (!p->told || now->attach != next->attach || now->rp != next->rp)
        return true;
    return next->attach != ATTACH_NOTHING && (p->levels[0] != levels[0] || p->levels[1] != levels[1]);
}

/* The state that waits has lasted, if nothing else came until then. */
static void pending_settle(struct cc_pins *p, int64_t until_ns)
{
    if (!p->pending || until_ns - p->hold_ns < p->next_ns)
        return;
    p->pending = false;
    p->told = true;
    p->state = p->next;
    memcpy(p->levels, p->next_levels, sizeof p->levels);
    p->changed(p->context, p->next_ns, &p->state);
}

static bool pin_missing(const struct cc_pins *p)
{
    for (unsigned k = 0; k < 2; k++) {
        if (p->pin[k].measured && p->pin[k].now == CC_PIN_UNKNOWN)
            return true;
    }
    return false;
}

static void change_take(struct cc_pins *p, unsigned pin, const struct cc_pin_change *c)
{
    struct cc_pin *at = &p->pin[pin];

    pending_settle(p, c->at_ns);
    at->now = c->level;
    at->now_mv = (uint16_t)(c->mv < 0 ? 0 : c->mv < CC_PIN_MV_NONE ? c->mv : CC_PIN_MV_NONE - 1);
    const enum cc_pin_level levels[2] = { p->pin[0].now, p->pin[1].now };
    const uint16_t          mv[2] = { p->pin[0].now_mv, p->pin[1].now_mv };
    struct cc_state         next = cc_state_of(levels, mv);

    p->hold_ns = pin_missing(p) ? CC_HOLD_ONE_NS : CC_HOLD_NS;
    if (p->pending && p->next.attach == next.attach && p->next.rp == next.rp) {
        p->next = next; /* the same, better known */
        memcpy(p->next_levels, levels, sizeof levels);
        return;
    }
    p->pending = states_differ(p, &next, levels);
    p->next = next;
    p->next_ns = c->at_ns;
    memcpy(p->next_levels, levels, sizeof levels);
}

static const struct cc_pin_change *pin_first(const struct cc_pin *pin)
{
    return pin->count > 0 ? &pin->waits[pin->first] : NULL;
}

/* The pin of which the earliest change waits; -1: none does, or an earlier one of the other pin may still come. all: do not wait for that. */
static int pin_next(const struct cc_pins *p, bool all)
{
    const struct cc_pin_change *a = pin_first(&p->pin[0]), *b = pin_first(&p->pin[1]);
    int                         pin = !b || (a && a->at_ns <= b->at_ns) ? 0 : 1;
    const struct cc_pin_change *first = pin ? b : a;

    if (!first)
        return -1;
    return all || p->pin[!pin].count > 0 || p->pin[!pin].reached_ns > first->at_ns ? pin : -1;
}

static void changes_pass(struct cc_pins *p, bool all)
{
    int next;

    while ((next = pin_next(p, all)) >= 0) {
        struct cc_pin       *pin = &p->pin[next];
        struct cc_pin_change c = pin->waits[pin->first];

        pin->first = (pin->first + 1) % CC_CHANGES_MAX;
        pin->count--;
        change_take(p, (unsigned)next, &c);
    }
}

void cc_pins_level(struct cc_pins *p, unsigned pin, int64_t from_ns, int64_t until_ns, int32_t mv)
{
    struct cc_pin    *at = &p->pin[pin];
    enum cc_pin_level level = cc_pin_level_of(mv, at->level);

    if (from_ns > at->reached_ns)
        at->reached_ns = from_ns;
    if (level != at->level) {
        if (at->count == CC_CHANGES_MAX) /* the other pin says nothing for too long */
            changes_pass(p, true);
        at->waits[(at->first + at->count++) % CC_CHANGES_MAX] = (struct cc_pin_change){ from_ns, level, mv };
    }
    at->level = level;
    cc_pins_reached(p, pin, until_ns);
}

static int64_t least_reached(const struct cc_pins *p)
{
    return p->pin[0].reached_ns < p->pin[1].reached_ns ? p->pin[0].reached_ns : p->pin[1].reached_ns;
}

void cc_pins_reached(struct cc_pins *p, unsigned pin, int64_t ns)
{
    if (ns > p->pin[pin].reached_ns)
        p->pin[pin].reached_ns = ns;
    changes_pass(p, false);
    int64_t least = least_reached(p);

    if (least != INT64_MIN && least != INT64_MAX)
        pending_settle(p, least);
}

int64_t cc_pins_settled(const struct cc_pins *p)
{
    int64_t least = least_reached(p);

    for (unsigned k = 0; k < 2; k++) {
        const struct cc_pin_change *first = pin_first(&p->pin[k]);

        if (first && first->at_ns < least)
            least = first->at_ns;
    }
    return p->pending && p->next_ns < least ? p->next_ns : least;
}

/* Until the end a state must have lasted as well, but one is better than none. */
void cc_pins_finish(struct cc_pins *p)
{
    int64_t end = least_reached(p);

    changes_pass(p, true);
    pending_settle(p, p->told && end != INT64_MIN ? end : INT64_MAX);
    for (unsigned k = 0; k < 2; k++)
        p->pin[k].reached_ns = INT64_MAX;
    p->pending = false;
}
