/*
 * cli/missing.h - `check --missing`: what a device's traces, taken together, have not shown, and what to do at the bench so that
 * they do.
 *
 * On each port the rules about the device are counted (--judge names others): a rule is shown once it was judged pass or fail in
 * any of the traces.
 */
#pragma once
#include "cli/check_run.h"
#include "cli/out.h"
#include "cli/phrase.h"
#include "rules/actions.h"

enum missing_state {
    MISSING_NOT_COUNTED, /* about somebody else, or not asked for */
    MISSING_SHOWN,
    MISSING_UNDECIDED,   /* there were occasions, none was decided */
    MISSING_TO_DO,
    MISSING_READINGS,    /* needs readings that no recording of the port holds */
    MISSING_FEATURE,     /* needs what the device did not offer */
    MISSING_BROKEN,      /* shows only on a device that breaks it */
    MISSING_NO_ACTION,   /* nothing is known that shows it in this role */
    MISSING_STATES
};

struct missing_port {
    char     name[40];
    uint8_t  roles;      /* enum action_role bits: as what the port is judged */
    bool     captive;    /* the cable is the device's */
    uint16_t lacks;      /* enum evidence bits that every trace lacks there */
    bool     offered;    /* the device made an offer as a source */
    uint32_t features;   /* 1 << enum feature, of all its offers */
    uint64_t judged[RULES_MAX], undecided[RULES_MAX];
    uint8_t  state[RULES_MAX];  /* enum missing_state; after missing_settle */
    uint8_t  action[RULES_MAX]; /* enum action_id that is to show it */
    unsigned counts[MISSING_STATES];
};

struct missing {
    const struct check_settings *settings;
    const struct options        *options;
    struct missing_port         *ports[COLLECTOR_PORTS]; /* NULL: not seen */
    const char                 **traces;                 /* paths, those that could be judged */
    unsigned                     trace_count;
    struct phrase                device; /* of the first trace that names one; used 0: none */
    bool                         devices_differ, invented;
    uint64_t                     to_do;  /* actions for what can be shown as things are */
    uint64_t                     beside; /* actions for what needs other readings, beyond those */
};

/* False: no memory, said. */
bool missing_start(struct missing *m, const struct options *options, const struct check_settings *settings);
void missing_free(struct missing *m);
/* Takes a judged trace in. False: no memory, said. */
bool missing_take(struct missing *m, const struct check *c);
/* When all are in: what is missing, and what to do. */
void missing_settle(struct missing *m);
/* Evidence that rule k lacks on that port. */
uint16_t missing_evidence(const struct missing *m, const struct missing_port *p, unsigned k);

void missing_text(struct out *o, const struct missing *m);
void missing_json(struct out *o, const struct missing *m);
