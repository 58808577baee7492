/* What is missing, for people: how far each port is, what to do about it, and what no action would change. */
#include "cli/missing.h"

#include "cli/fault_text.h"
#include "cli/phrase.h"

#include <inttypes.h>
#include <string.h>

enum { HEAD_COLUMN = 11, NUMBER_COLUMN = 2, LABEL_COLUMN = 6, TEXT_COLUMN = 16, ANY = 255, EVIDENCE_BITS = 9, TRACES_NAMED = 6 };

/* Which rules of a port are meant. */
struct pick {
    uint32_t states;  /* bits 1 << enum missing_state */
    uint8_t  action;  /* enum action_id, or ANY */
    uint8_t  feature; /* enum feature, or ANY */
    uint16_t lacks;   /* this evidence exactly; 0: any */
};
#define STATE(name) (UINT32_C(1) << MISSING_##name)
#define TO_BE_SHOWN (STATE(TO_DO) | STATE(UNDECIDED))

static const char *const readings_words[EVIDENCE_BITS] = {
    "readings of VBUS", "readings of the current (IBUS)", "the state of CC (attach and Rp)",
    "the edges of the CC line (a logic recording)", "another port recorded beside it", "VBUS read more often",
    "the current (IBUS) read more often", "measured lengths of packets", "the instrument's own time stamps",
};

static bool picked(const struct missing *m, const struct missing_port *p, unsigned k, const struct pick *w)
{
    if (!(w->states >> p->state[k] & 1) || (w->action != ANY && p->action[k] != w->action))
        return false;
    if (w->lacks && missing_evidence(m, p, k) != w->lacks)
        return false;
    return w->feature == ANY || rule_actions_find(m->settings->rules.rows[k].id)->feature == w->feature;
}

static bool any_picked(const struct missing *m, const struct missing_port *p, const struct pick *w)
{
    for (unsigned k = 0; p && k < m->settings->rules.count; k++)
        if (picked(m, p, k, w))
            return true;
    return false;
}

static bool any_port(const struct missing *m, const struct pick *w)
{
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++)
        if (any_picked(m, m->ports[port], w))
            return true;
    return false;
}

static bool same_rules(const struct missing *m, const struct missing_port *p, const struct missing_port *q, const struct pick *w)
{
    for (unsigned k = 0; k < m->settings->rules.count; k++)
        if (picked(m, p, k, w) != picked(m, q, k, w) || (picked(m, p, k, w) && p->state[k] != q->state[k]))
            return false;
    return true;
}

/* Was this port named already beside an earlier one with the same rules? */
static bool named_before(const struct missing *m, unsigned port, const struct pick *w)
{
    for (unsigned q = 0; q < port; q++)
        if (m->ports[q] && same_rules(m, m->ports[q], m->ports[port], w))
            return true;
    return false;
}

static void port_names(struct out *o, const struct missing *m, unsigned port, const struct pick *w)
{
    bool more = false;

    for (unsigned q = port; q < COLLECTOR_PORTS; q++) {
        const struct missing_port *p = m->ports[q];

        if (!p || !same_rules(m, m->ports[port], p, w))
            continue;
        out_text(o, more ? ", " : "");
        out_clean(o, p->name, strlen(p->name));
        more = true;
    }
    out_text(o, m->options->verbose ? ":" : ": ");
}

static void rule_item(struct out *o, const struct missing *m, const struct missing_port *p, unsigned k, bool first)
{
    const struct rule *r = &m->settings->rules.rows[k];
    const char        *note = p->state[k] == MISSING_UNDECIDED ? " (undecided so far)" : "";

    if (m->options->verbose) {
        out_line(o);
        out_spaces(o, TEXT_COLUMN + 2);
        out_text(o, r->id);
        out_text(o, note);
        out_text(o, ": ");
        out_words(o, r->title, strlen(r->title), TEXT_COLUMN + 4);
        return;
    }
    if (!first)
        out_char(o, ',');
    /* A comma may follow. */
    if (!first && out_place(o) + 1 + strlen(r->id) + strlen(note) + 1 > PHRASE_COLUMNS) {
        out_line(o);
        out_spaces(o, TEXT_COLUMN);
    } else if (!first) {
        out_char(o, ' ');
    }
    out_text(o, r->id);
    out_text(o, note);
}

static void rules_of_port(struct out *o, const struct missing *m, unsigned port, const struct pick *w)
{
    const struct missing_port *p = m->ports[port];
    bool                       first = true;

    for (unsigned k = 0; k < m->settings->rules.count; k++)
        if (picked(m, p, k, w)) {
            rule_item(o, m, p, k, first);
            first = false;
        }
}

/* "shows     C1, C2: these; C3: those"; ports with the same rules together. */
static void rules_text(struct out *o, const struct missing *m, const char *label, const struct pick *w)
{
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++) {
        if (!any_picked(m, m->ports[port], w) || named_before(m, port, w))
            continue;
        out_spaces(o, LABEL_COLUMN);
        out_text(o, label);
        out_column(o, TEXT_COLUMN);
        port_names(o, m, port, w);
        rules_of_port(o, m, port, w);
        out_line(o);
        label = "";
    }
}

static void readings_phrase(struct phrase *p, uint16_t lacks)
{
    unsigned count = (unsigned)__builtin_popcount(lacks), k = 0;

    for (unsigned bit = 0; bit < EVIDENCE_BITS; bit++)
        if (lacks >> bit & 1) {
            phrase_between(p, k++, count, "and");
            phrase_add(p, readings_words[bit]);
        }
}

/* What an action would show if there were other readings: by what is lacking. */
static void with_readings(struct out *o, const struct missing *m, unsigned action)
{
    for (uint16_t lacks = 1; lacks < 1u << EVIDENCE_BITS; lacks++) {
        struct pick   w = { STATE(READINGS), (uint8_t)action, ANY, lacks };
        struct phrase p = phrase_empty();

        if (!any_port(m, &w))
            continue;
        phrase_add(&p, "with ");
        readings_phrase(&p, lacks);
        phrase_add(&p, ":");
        phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "", p.text);
        rules_text(o, m, "", &w);
    }
}

static void action_text(struct out *o, const struct missing *m, unsigned action, unsigned number)
{
    const struct action *a = &actions_all[action];
    struct pick          w = { TO_BE_SHOWN, (uint8_t)action, ANY, 0 };
    struct phrase        p = phrase_empty();

    phrase_format(&p, "%u.", number);
    out_spaces(o, NUMBER_COLUMN);
    out_text(o, p.text);
    out_column(o, LABEL_COLUMN);
    out_style(o, OUT_STRONG);
    out_text(o, a->id);
    out_style(o, OUT_PLAIN);
    out_line(o);
    phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "do", a->sentence);
    phrase_entry(o, LABEL_COLUMN, TEXT_COLUMN, "needs", a->needs);
    if (a->caution) {
        out_spaces(o, LABEL_COLUMN);
        out_style(o, OUT_BAD);
        out_text(o, "careful");
        out_style(o, OUT_PLAIN);
        out_column(o, TEXT_COLUMN);
        phrase_wrap(o, TEXT_COLUMN, a->caution);
    }
    rules_text(o, m, "shows", &w);
    with_readings(o, m, action);
    out_line(o);
}

static void heading(struct out *o, const char *title, const char *more)
{
    out_style(o, OUT_STRONG);
    out_text(o, title);
    out_style(o, OUT_PLAIN);
    out_text(o, more);
    out_line(o);
}

static unsigned actions_text(struct out *o, const struct missing *m, uint64_t actions, unsigned number)
{
    for (unsigned a = 0; a < ACTIONS; a++) {
        struct pick w = { TO_BE_SHOWN | STATE(READINGS), (uint8_t)a, ANY, 0 };

        if (actions >> a & 1 && any_port(m, &w))
            action_text(o, m, a, ++number);
    }
    return number;
}

static void features_text(struct out *o, const struct missing *m)
{
    for (unsigned f = FEATURE_NONE + 1; f < FEATURES; f++) {
        struct pick   w = { STATE(FEATURE), ANY, (uint8_t)f, 0 };
        struct phrase p = phrase_empty();

        if (!any_port(m, &w))
            continue;
        phrase_format(&p, "Does not offer %s:", features_all[f].words);
        phrase_wrap(o, LABEL_COLUMN, p.text);
        rules_text(o, m, "", &w);
    }
}

static void rest_text(struct out *o, const struct missing *m)
{
    struct pick feature = { STATE(FEATURE), ANY, ANY, 0 }, broken = { STATE(BROKEN), ANY, ANY, 0 },
                no_action = { STATE(NO_ACTION), ANY, ANY, 0 };

    if (any_port(m, &feature)) {
        heading(o, "Not on this device", ", as far as these traces show its offers");
        features_text(o, m);
        out_line(o);
    }
    if (any_port(m, &broken)) {
        heading(o, "Shown by nothing but a fault", ": whoever keeps the rule never puts it to the test");
        rules_text(o, m, "", &broken);
        out_line(o);
    }
    if (any_port(m, &no_action)) {
        heading(o, "No action is known", " that shows these in this role");
        rules_text(o, m, "", &no_action);
        out_line(o);
    }
}

static void part(struct phrase *p, unsigned n, const char *words)
{
    if (n > 0)
        phrase_format(p, "%s%u %s", p->used ? ", " : "", n, words);
}

static void port_head(struct out *o, const struct missing_port *p)
{
    const unsigned *n = p->counts;
    struct phrase   line = phrase_empty(), rest = phrase_empty();
    unsigned        total = 0;

    for (unsigned s = MISSING_SHOWN; s < MISSING_STATES; s++)
        total += n[s];
    part(&rest, n[MISSING_UNDECIDED], "undecided");
    part(&rest, n[MISSING_TO_DO], "to be shown");
    part(&rest, n[MISSING_READINGS], "in want of other readings");
    part(&rest, n[MISSING_FEATURE], "for what it does not offer");
    part(&rest, n[MISSING_BROKEN], "shown by faults alone");
    part(&rest, n[MISSING_NO_ACTION], "without a known action");
    phrase_format(&line, "%s: %u of %u rules shown%s%s.", p->name, n[MISSING_SHOWN], total, rest.used ? "; " : "", rest.text);
    phrase_wrap(o, HEAD_COLUMN, line.text);
}

static void traces_line(struct out *o, const struct missing *m)
{
    struct phrase p = phrase_empty();

    phrase_count(&p, m->trace_count, "trace", "traces");
    for (unsigned k = 0; k < m->trace_count && k < TRACES_NAMED; k++)
        phrase_format(&p, "%s%s", k ? ", " : ": ", subject_of(m->traces[k]));
    if (m->trace_count > TRACES_NAMED)
        phrase_add(&p, " ...");
    phrase_wrap(o, HEAD_COLUMN, p.text);
    p = phrase_empty();
    if (m->invented)
        phrase_add(&p, "holds INVENTED records: made up for a test or a demonstration");
    if (m->devices_differ)
        phrase_format(&p, "%sthe traces name different devices; they are taken together all the same", p.used ? "; " : "");
    if (p.used)
        phrase_wrap(o, HEAD_COLUMN, p.text);
}

static void head(struct out *o, const struct missing *m, bool missing)
{
    out_style(o, missing ? OUT_DOUBT : OUT_GOOD);
    out_text(o, missing ? "MISSING" : "ALL SHOWN");
    out_style(o, OUT_PLAIN);
    out_column(o, HEAD_COLUMN);
    out_style(o, OUT_STRONG);
    phrase_wrap(o, HEAD_COLUMN, m->device.used ? m->device.text : "a device that the traces do not name");
    out_style(o, OUT_PLAIN);
    traces_line(o, m);
    if (m->settings->limits.path) {
        struct phrase p = phrase_empty();

        limits_phrase(&p, &m->settings->limits);
        phrase_wrap(o, HEAD_COLUMN, p.text);
    }
    for (unsigned port = 0; port < COLLECTOR_PORTS; port++)
        if (m->ports[port])
            port_head(o, m->ports[port]);
}

static void closing(struct out *o, const struct missing *m)
{
    unsigned      told = 0, all = m->settings->rules.count;
    struct phrase p = phrase_empty();

    for (unsigned k = 0; k < all; k++)
        told += m->settings->rules.told[k];
    phrase_format(&p, "Counted are the rules about %s and the link, of the %u that this build judges and that were asked for (its "
                      "catalogue has %u). portassay rules ID tells more of one.",
                  m->settings->judged_whom ? "those named by --judge" : "the device", told, (unsigned)RULE_CATALOGUE_SIZE);
    phrase_wrap(o, 0, p.text);
}

void missing_text(struct out *o, const struct missing *m)
{
    struct pick open = { TO_BE_SHOWN | STATE(READINGS) | STATE(NO_ACTION), ANY, ANY, 0 };
    unsigned    number = 0;

    head(o, m, any_port(m, &open));
    if (m->options->quiet)
        return;
    out_line(o);
    if (m->to_do) {
        heading(o, "To do", ", the gentlest first: the shortest list that shows the rest");
        number = actions_text(o, m, m->to_do, 0);
    }
    if (m->beside) {
        heading(o, "To do besides", ", once the recording holds other readings");
        actions_text(o, m, m->beside, number);
    }
    rest_text(o, m);
    closing(o, m);
}
