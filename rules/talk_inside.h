/*
 * rules/talk_inside.h - who keeps track of questions: for the engine alone.
 */
#pragma once
#include "rules/talk.h"

struct engine;
struct port_book;

struct talk {
    struct ask asks[STREAMS][2];     /* the open one and the last that was settled take turns: copying them took a twentieth of check */
    uint8_t    turn[STREAMS];        /* which of the two is the open one */
    bool       is_open[STREAMS], frozen[STREAMS]; /* frozen: its sender has said something else since, sent is kept */
    int64_t    last_ns[STREAMS];     /* when it was settled; INT64_MIN: none */
    int64_t    due_ns;               /* the soonest end of patience; INT64_MAX: none */
    int64_t    unanswered_ns;        /* when a question on SOP last came to nothing; INT64_MIN: never */
    int64_t    reset_ns;             /* when everything began anew: attach, Hard Reset, Soft_Reset on SOP; INT64_MIN: not seen */
    struct sent accept;              /* the last Accept on SOP whose sender has said something else since; frame 0: none */
    int        settled;              /* stream whose question the message in hand settled, -1: none */
    uint8_t    origin;               /* enum reset_origin of the Hard Reset in hand */
};

static inline struct ask *talk_open(struct talk *t, unsigned stream)
{
    return &t->asks[stream][t->turn[stream]];
}
static inline struct ask *talk_last(struct talk *t, unsigned stream)
{
    return &t->asks[stream][t->turn[stream] ^ 1];
}
void talk_start(struct talk *t);
/* EVENT_MESSAGE, after its own checks. */
void talk_take_message(struct engine *e, struct port_book *b, const struct event *event);
void talk_take_hard_reset(struct engine *e, struct port_book *b, const struct event *event);
void talk_take_attach(struct port_book *b);
void talk_take_detach(struct engine *e, struct port_book *b, const struct event *event);
/* t_ns has passed: questions whose patience is over. record: the one in hand, or NULL. */
void talk_pass_time(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *record);
