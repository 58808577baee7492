/*
 * tests/rules/time_words.h - a contract in a line, and a message that begins so long after the GoodCRC before it: for test_time_*.c.
 * Times are measured by an instrument without uncertainty: what is asked for here is what the rules see, to the nanosecond.
 */
#pragma once
#include "rules/groups.h"
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define NS_MORE 1 /* just outside */

/* The next message begins `ns` after the last GoodCRC. */
static inline void time_after(struct lines *l, int64_t ns)
{
    lines_wait(l, ns - l->pause_ns);
}

/* "Lumenbrick 65" offers 5 V and 9 V, and a PPS object; the load asks for an object. */
static inline const uint32_t *time_offer(void)
{
    static uint32_t words[3];

    words[0] = word_fixed(5000, 3000);
    words[1] = word_fixed(9000, 3000);
    words[2] = word_pps(3300, 11000, 3000);
    return words;
}

static inline struct lines *time_contract(void **state, unsigned position)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 3, time_offer(), position == 3 ? word_ask_pps(3, 9000, 3000) : word_ask_fixed(position, 3000, 3000));
    lines_wait(l, MS(50));
    return l;
}

/* A trace of its own for the next case of the same test. */
static inline struct lines *time_again(void **state)
{
    lines_teardown(state);
    lines_setup(state);
    return *state;
}

static inline uint64_t time_data(struct lines *l, unsigned side, unsigned type, uint32_t word)
{
    return lines_data(l, side, type, 1, &word);
}

enum { TIME_REFUSED = 13 }; /* no object of these offers */
/* A stand-in for the rule that silences: it fails about every Request for that object, Get_Status and Discover Identity as it comes. */
#define STAND_IN(name) { .id = name, .title = name, .wakes = EVENT_BIT(EVENT_MESSAGE), \
    .messages = { .control = UINT32_C(1) << CONTROL_GET_STATUS, .data = UINT32_C(1) << DATA_REQUEST | UINT32_C(1) << DATA_VENDOR_DEFINED }, \
    .check = time_stand_in_check, .sentences = time_stand_in_says }
static const char *const time_stand_in_says[] = { "stands in", NULL };
void time_stand_in_check(struct judge *j, const struct event *e);

/* With the rules of time, and one more that stands in for that one. */
static inline void time_run_beside(struct lines *l, const char *silencer)
{
    static struct rule              stand_in[2]; /* results are asked for after the run */
    static const struct rule *const groups[] = { stand_in, time_rules, NULL };

    stand_in[0] = (struct rule)STAND_IN(silencer);

    lines_run(l, &(struct engine_options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX, .groups = groups });
}

static inline void time_run_as(struct lines *l, unsigned standard)
{
    lines_run(l, &(struct engine_options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = (uint8_t)standard });
}

/* None of the rules that section 6 silences by these three until the next reset. */
static const char *const time_power_silencers[] = {
    "exchange.request-answered", "exchange.request-after-caps", "exchange.ready-after-accept",
};
