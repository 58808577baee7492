/*
 * rules/actions.h - what is done at a bench so that a rule has its occasion: actions, from the gentlest to those that stress the
 * device, and for every rule those that show it.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* How far an action goes; the least comes first. */
enum action_rank {
    RANK_PLUG,   /* ordinary partners and cables are plugged and pulled */
    RANK_SPECIAL,/* partners or cables of a special kind */
    RANK_ASK,    /* messages that the standard provides for, chosen by the tester */
    RANK_ROLE,   /* resets of the talk, swaps of roles */
    RANK_ODD,    /* wrong messages, messages left unanswered */
    RANK_POWER,  /* VBUS goes off and on again */
    RANK_STRESS, /* more is taken than was agreed on */
};
/* What the device under test is while it is done; bits. */
enum action_role { ROLE_SOURCE = 1, ROLE_SINK = 2, ROLE_EITHER = 3 };

/* What a source has to offer for a rule to have an occasion at all. */
enum feature {
    FEATURE_NONE, FEATURE_VARIABLE, FEATURE_BATTERY, FEATURE_PPS, FEATURE_PPS_LIMITED, FEATURE_TWO_APDOS, FEATURE_AVS, FEATURE_EPR,
    FEATURE_OVER_3A, FEATURE_PEAK, FEATURE_DUAL_POWER, FEATURE_DUAL_DATA, FEATURE_UNCHUNKED, FEATURES
};
struct feature_words { const char *id, *words; }; /* "pps", "a programmable supply (PPS)" */
extern const struct feature_words features_all[FEATURES];

enum action_id {
    ACTION_PLUG, ACTION_MARKED_CABLE, ACTION_PLAIN_CABLE, ACTION_NO_PD, ACTION_PLUG_R2, ACTION_LONG_CABLE, ACTION_SECOND_PORT,
    ACTION_WEAK_SOURCE, ACTION_VARIABLE, ACTION_ASK_ALL, ACTION_PPS, ACTION_AVS, ACTION_EPR, ACTION_VDM, ACTION_VDM_BURST,
    ACTION_CHUNKS, ACTION_UNCHUNKED, ACTION_WAIT, ACTION_ALERT, ACTION_SOFT_RESET, ACTION_DR_SWAP, ACTION_VCONN_SWAP,
    ACTION_DATA_RESET, ACTION_PR_SWAP, ACTION_CABLE_RESET, ACTION_BAD_REQUEST, ACTION_ODD_MESSAGE, ACTION_NO_GOODCRC,
    ACTION_HARD_RESET, ACTION_NO_ANSWER, ACTION_NO_READY, ACTION_PPS_SILENCE, ACTION_EPR_SILENCE, ACTION_FR_SWAP, ACTION_OVERLOAD,
    ACTIONS
};
#define ACTION_BIT(id) (UINT64_C(1) << (id))

struct action {
    const char *id;       /* as printed and in JSON; never changes its meaning */
    const char *sentence; /* what to do */
    const char *needs;    /* with what */
    const char *caution;  /* where it can hurt somebody or something; NULL: nothing out of the ordinary */
    uint8_t     rank;     /* enum action_rank */
    uint8_t     roles;    /* enum action_role bits */
    uint8_t     feature;  /* enum feature that a device has to offer as a source, or it cannot be done; FEATURE_NONE: none */
};
extern const struct action actions_all[ACTIONS]; /* by enum action_id; ranks never fall */

struct rule_actions {
    const char *rule;        /* id */
    uint64_t    actions;     /* ACTION_BITs: any one of them shows it */
    uint8_t     feature;     /* enum feature that the device must offer as a source; FEATURE_NONE: none */
    bool        only_broken; /* a device that keeps the rule never gives it an occasion */
};
extern const struct rule_actions rule_actions_all[]; /* ends with rule NULL */
const struct rule_actions *rule_actions_find(const char *rule); /* NULL: no such rule */
